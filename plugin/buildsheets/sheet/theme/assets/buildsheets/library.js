/* The library's list: filter, order and choice, kept in the address. Without this file it is a plain table. */
(function () {
  "use strict";

  function text(tag, words) {
    var element = document.createElement(tag);
    element.textContent = words;
    return element;
  }

  var MOST_COMPARED = 4;
  var MOST_ROWS = 150; // more than a screen or two would only make every key stroke slow; the rest on request
  var letters = new Intl.Collator(); // many times faster than comparing word by word

  function value(cell) {
    if (cell.dataset.sort !== undefined) { return Number(cell.dataset.sort); }
    return cell.classList.contains("bs-n") ? null : cell.textContent.trim().toLowerCase();
  }

  /* Unknown values stay last whichever way the rest is ordered. */
  function compare(one, other, down) {
    if (one === null || other === null) { return (one === null) - (other === null); }
    var order = typeof one === "number" ? one - other : letters.compare(one, other);
    return down ? -order : order;
  }

  function prepare(table) {
    var body = table.tBodies[0];
    var heads = Array.from(table.tHead.rows[0].cells);
    var rows = Array.from(body.rows).map(function (row) {
      return {
        row: row,
        words: (row.textContent + " " + (row.dataset.bsKind || "")).toLowerCase(),
        kind: row.dataset.bsKind,
        cells: Array.from(row.cells),
        texts: Array.from(row.cells, function (cell) { return cell.textContent.trim(); })
      };
    });
    var order = rows;
    var all = false;
    var form = document.createElement("form");
    var count = text("p", "");
    var more = text("button", "");
    var controls = {};
    form.className = "bs-choose";
    form.setAttribute("role", "search");
    count.className = "bs-small";
    count.setAttribute("role", "status");

    function control(name, label, element) {
      var around = text("label", label + " ");
      element.name = name;
      around.appendChild(element);
      form.appendChild(around);
      controls[name] = element;
    }

    function choice(name, label, values) {
      var select = document.createElement("select");
      var seen = Array.from(new Set(values)).filter(Boolean).sort();
      if (seen.length < 2) { return; }
      select.appendChild(text("option", table.dataset.sayAny)).value = "";
      seen.forEach(function (word) { select.appendChild(text("option", word)).value = word; });
      control(name, label, select);
    }

    var input = document.createElement("input");
    input.type = "search";
    control("words", table.dataset.bsList, input);
    choice("kind", table.dataset.sayKind, rows.map(function (entry) { return entry.kind; }));
    heads.forEach(function (head, place) {
      if (!head.dataset.bsChoice) { return; }
      choice(head.dataset.bsChoice, head.textContent, rows.map(function (entry) { return entry.texts[place]; }));
    });
    form.appendChild(count);

    /* Only rows that are looked at stand in the page: laying out thousands is what takes time. */
    function show() {
      var words = controls.words.value.toLowerCase().split(/\s+/).filter(Boolean);
      var fitting = order.filter(function (entry) {
        return words.every(function (word) { return entry.words.includes(word); }) &&
          (!controls.kind || !controls.kind.value || controls.kind.value === entry.kind) &&
          heads.every(function (head, place) {
            var wanted = controls[head.dataset.bsChoice];
            return !wanted || !wanted.value || entry.texts[place] === wanted.value;
          });
      });
      var shown = fitting.slice(0, all ? rows.length : MOST_ROWS);
      body.replaceChildren.apply(body, shown.map(function (entry) { return entry.row; }));
      count.textContent = table.dataset.sayShown.replace("{count}", fitting.length).replace("{of}", rows.length);
      more.textContent = table.dataset.sayAll.replace("{count}", fitting.length);
      more.hidden = shown.length === fitting.length;
    }

    function arrange(place, down) {
      heads.forEach(function (head, other) {
        if (other === place) { head.setAttribute("aria-sort", down ? "descending" : "ascending"); }
        else { head.removeAttribute("aria-sort"); }
      });
      var keyed = rows.map(function (entry) { return { entry: entry, key: value(entry.cells[place]) }; });
      keyed.sort(function (one, other) { return compare(one.key, other.key, down); });
      order = keyed.map(function (pair) { return pair.entry; });
    }

    function remember() {
      var state = new URLSearchParams();
      Object.keys(controls).forEach(function (name) { if (controls[name].value) { state.set(name, controls[name].value); } });
      heads.forEach(function (head, place) {
        var way = head.getAttribute("aria-sort");
        if (way) { state.set("order", (way === "descending" ? "-" : "") + place); }
      });
      var query = [state.toString(), chosen.length ? "with=" + chosen.join(",") : ""].filter(Boolean).join("&");
      history.replaceState(history.state, "", location.pathname + (query ? "?" + query : "") + location.hash);
    }

    /* A box in each row; what is chosen can be compared, or bought for. */
    var chosen = [];
    var bar = text("p", "");
    function offer() {
      var address = "?with=" + chosen.join(",");
      bar.textContent = "";
      bar.appendChild(text("span", table.dataset.sayChosen.replace("{count}", chosen.length)));
      [["bsCompare", "sayCompare", chosen.length > 1 && chosen.length <= MOST_COMPARED], ["bsShopping", "sayShopping", true]].forEach(function (way) {
        var link = text(way[2] ? "a" : "span", way[2] ? table.dataset[way[1]] : table.dataset.sayFew);
        if (way[2]) { link.href = table.dataset[way[0]] + address; }
        bar.appendChild(link);
      });
      bar.hidden = !chosen.length;
    }

    function pick(slug, on) {
      chosen = chosen.filter(function (other) { return other !== slug; }).concat(on ? [slug] : []);
      offer();
    }

    function pickable() {
      var asked = (new URLSearchParams(location.search).get("with") || "").split(",");
      rows.forEach(function (entry) {
        var box = document.createElement("input");
        var around = text("label", "");
        box.type = "checkbox";
        box.checked = asked.includes(entry.row.dataset.bsSlug);
        box.setAttribute("aria-label", table.dataset.bsPick.replace("{title}", entry.row.querySelector("a").textContent));
        if (box.checked) { pick(entry.row.dataset.bsSlug, true); }
        box.addEventListener("change", function () { pick(entry.row.dataset.bsSlug, box.checked); remember(); });
        around.className = "bs-pick";
        around.appendChild(box);
        entry.cells[0].prepend(around);
      });
      table.classList.add("bs-picking");
      bar.className = "bs-picked";
      bar.setAttribute("aria-live", "polite");
      form.after(bar);
      offer();
    }

    heads.forEach(function (head, place) {
      var button = text("button", head.textContent);
      button.type = "button";
      button.className = "bs-order";
      head.textContent = "";
      head.appendChild(button);
      button.addEventListener("click", function () {
        arrange(place, head.getAttribute("aria-sort") === "ascending");
        show();
        remember();
      });
    });

    var given = new URLSearchParams(location.search);
    Object.keys(controls).forEach(function (name) { if (given.has(name)) { controls[name].value = given.get(name); } });
    var wanted = /^(-?)(\d+)$/.exec(given.get("order") || "");
    if (wanted && Number(wanted[2]) < heads.length) { arrange(Number(wanted[2]), wanted[1] === "-"); }
    form.addEventListener("submit", function (event) { event.preventDefault(); });
    form.addEventListener("input", function () { show(); remember(); });
    more.type = "button";
    more.className = "bs-more";
    more.addEventListener("click", function () {
      var next = body.rows.length;
      all = true;
      show();
      body.rows[next].querySelector("a").focus();
    });
    table.before(form);
    table.after(more);
    if (table.dataset.bsPick) { pickable(); }
    show();
  }

  function start() {
    document.querySelectorAll("table[data-bs-list]").forEach(function (table) {
      if (table.dataset.bsReady) { return; }
      table.dataset.bsReady = "yes";
      prepare(table);
    });
  }

  if (window.document$ && window.document$.subscribe) {
    window.document$.subscribe(start);
  } else if (document.readyState === "loading") {
    document.addEventListener("DOMContentLoaded", start);
  } else {
    start();
  }
}());
