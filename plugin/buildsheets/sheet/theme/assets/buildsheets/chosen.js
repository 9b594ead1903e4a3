/* Choosing builds on the pages that set them side by side. The chosen stand in the address; the data of each lie in a small
   script beside its sheet, loaded when it is wanted. All words of records are put in as text. */
(function () {
  "use strict";

  var MOST_MATCHES = 8;
  var waiting = Object.create(null);

  function make(tag, words, kind) {
    var element = document.createElement(tag);
    if (words !== undefined) { element.textContent = words; }
    if (kind) { element.className = kind; }
    return element;
  }

  /* What a script beside a sheet calls. */
  window.buildsheetsBeside = function (data) {
    if (waiting[data.slug]) { waiting[data.slug].data = data; }
  };

  /* Return a promise of one build's data, null if they cannot be read. */
  function load(build) {
    if (!waiting[build.slug]) {
      var entry = waiting[build.slug] = { data: null };
      entry.promise = new Promise(function (done) {
        var script = document.createElement("script");
        script.src = new URL("beside.js", build.href).href;
        script.onload = script.onerror = function () { done(entry.data); };
        document.head.appendChild(script);
      });
    }
    return waiting[build.slug].promise;
  }

  function slugs() {
    var given = new URLSearchParams(location.search).get("with") || "";
    return Array.from(new Set(given.split(",").map(function (slug) { return slug.trim(); }).filter(Boolean)));
  }

  function remember(chosen) {
    var state = new URLSearchParams(location.search);
    state.delete("with");
    var parts = state.toString() ? [state.toString()] : [];
    if (chosen.length) { parts.push("with=" + chosen.map(encodeURIComponent).join(",")); }
    history.replaceState(history.state, "", location.pathname + (parts.length ? "?" + parts.join("&") : "") + location.hash);
  }

  /* Put `{name}` and the like into words of the page. */
  function say(words, values) {
    return words.replace(/\{(\w+)\}/g, function (place, name) { return name in values ? values[name] : place; });
  }

  /* Set up choosing on a page.
     root: its element, with its words as data; most: how many may be chosen; show(builds, data): draws the choice. */
  function prepare(root, most, show) {
    var find = function (name) { return root.querySelector("[data-bs-" + name + "]"); };
    var table = find("builds");
    var known = Object.create(null); // what an address says may be any word
    var builds = Array.from(table.tBodies[0].rows).map(function (row) {
      var link = row.querySelector("a");
      var build = { slug: row.dataset.bsSlug, title: link.textContent, href: link.href, words: row.textContent.toLowerCase(),
        more: Array.from(row.cells).slice(1).map(function (cell) { return cell.textContent.trim(); }).filter(Boolean).join(", ") };
      known[build.slug] = build;
      return build;
    });
    var form = find("chooser");
    var input = form.querySelector("input");
    var status = form.querySelector("[role=status]");
    var matches = find("matches");
    var list = find("chosen-list");
    var unknown = find("unknown");
    var turn = 0;
    var asked = slugs();
    var chosen = asked.filter(function (slug) { return known[slug]; });
    var strangers = asked.filter(function (slug) { return !known[slug]; });
    var tooMany = chosen.slice(most);
    chosen = chosen.slice(0, most);

    function add(slug) {
      chosen.push(slug);
      input.value = "";
      change();
      input.focus();
    }

    function suggest() {
      var words = input.value.toLowerCase().split(/\s+/).filter(Boolean);
      var left = builds.filter(function (build) { return chosen.indexOf(build.slug) < 0; });
      var fitting = left.filter(function (build) { return words.every(function (word) { return build.words.includes(word); }); });
      var full = chosen.length >= most;
      matches.textContent = "";
      (full ? [] : fitting.slice(0, MOST_MATCHES)).forEach(function (build) {
        var item = make("li");
        var button = make("button", build.title, "bs-match");
        button.type = "button";
        if (build.more) { button.appendChild(make("span", build.more, "bs-small")); }
        button.addEventListener("click", function () { add(build.slug); });
        item.appendChild(button);
        matches.appendChild(item);
      });
      input.disabled = full;
      status.textContent = full ? root.dataset.sayFull : say(root.dataset.sayMatches, { count: fitting.length, of: left.length });
    }

    function listChosen() {
      list.textContent = "";
      chosen.forEach(function (slug, place) {
        var item = make("li");
        var link = make("a", known[slug].title);
        var button = make("button", "×", "bs-remove");
        link.href = known[slug].href;
        button.type = "button";
        button.setAttribute("aria-label", say(root.dataset.sayRemove, { title: known[slug].title }));
        button.addEventListener("click", function () {
          chosen.splice(place, 1);
          change();
          (list.querySelectorAll("button")[Math.min(place, chosen.length - 1)] || input).focus();
        });
        item.appendChild(link);
        item.appendChild(button);
        list.appendChild(item);
      });
    }

    function complain(unread) {
      var words = strangers.map(function (slug) { return say(root.dataset.sayUnknown, { name: slug }); });
      words = words.concat(tooMany.map(function (slug) { return say(root.dataset.sayTooMany, { title: known[slug].title }); }));
      words = words.concat(unread.map(function (build) { return say(root.dataset.sayUnread, { title: build.title }); }));
      unknown.textContent = "";
      words.forEach(function (line) { unknown.appendChild(make("p", line)); });
      unknown.hidden = !words.length;
    }

    function change(first) {
      if (!first) {
        strangers = [];
        tooMany = [];
        remember(chosen);
      }
      suggest();
      listChosen();
      complain([]);
      var wanted = chosen.map(function (slug) { return known[slug]; });
      var mine = turn += 1;
      root.setAttribute("aria-busy", "true");
      Promise.all(wanted.map(load)).then(function (data) {
        if (mine !== turn) { return; }
        root.removeAttribute("aria-busy");
        complain(wanted.filter(function (build, place) { return !data[place]; }));
        show(data.filter(Boolean), wanted.filter(function (build, place) { return data[place]; }));
      });
    }

    form.addEventListener("submit", function (event) {
      var first = matches.querySelector("button");
      event.preventDefault();
      if (first && input.value.trim()) { first.click(); }
    });
    input.addEventListener("input", suggest);
    form.addEventListener("keydown", function (event) {
      var buttons = [input].concat(Array.from(matches.querySelectorAll("button")));
      var place = buttons.indexOf(document.activeElement);
      var step = event.key === "ArrowDown" ? 1 : event.key === "ArrowUp" ? -1 : 0;
      if (step && place >= 0 && buttons[place + step]) {
        event.preventDefault();
        buttons[place + step].focus();
      }
    });
    root.querySelectorAll("[data-bs-scripted]").forEach(function (element) { element.hidden = false; });
    root.querySelectorAll("[data-bs-plain]").forEach(function (element) { element.hidden = true; });
    change(true);
  }

  function begin(name, most, makeShow) {
    function start() {
      document.querySelectorAll("[data-bs-page=" + name + "]").forEach(function (root) {
        if (root.dataset.bsReady) { return; }
        root.dataset.bsReady = "yes";
        prepare(root, most, makeShow(root));
      });
    }
    if (window.document$ && window.document$.subscribe) {
      window.document$.subscribe(start);
    } else if (document.readyState === "loading") {
      document.addEventListener("DOMContentLoaded", start);
    } else {
      start();
    }
  }

  window.buildsheetsChosen = { begin: begin, make: make, say: say };
}());
