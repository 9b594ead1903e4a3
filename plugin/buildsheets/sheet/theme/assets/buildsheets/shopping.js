/* The shopping list of chosen builds: equal parts summed, totals by currency, resistors by value, and a table to take away. */
(function () {
  "use strict";

  var MOST = 200; // each is one small file to load
  var make = window.buildsheetsChosen.make;
  var say = window.buildsheetsChosen.say;
  var THIN = "\u202f"; // narrow no-break space, as in all numbers of the site

  function byText(one, other) { return one < other ? -1 : one > other ? 1 : 0; }

  /* Sum the parts of some builds. Prices are whole hundredths, so that sums are exact. */
  function summed(data) {
    var lines = Object.create(null);
    data.forEach(function (build) {
      build.parts.forEach(function (part) {
        var line = lines[part.key] = lines[part.key] || { part: part, quantity: 0, builds: [] };
        line.quantity += part.quantity;
        if (line.builds.indexOf(build.title) < 0) { line.builds.push(build.title); }
      });
    });
    return Object.keys(lines).map(function (key) {
      var line = lines[key];
      line.cents = line.part.price === null ? null : Math.round(line.part.price * line.quantity * 100);
      line.order = (line.part.stock || line.part.name).toLowerCase();
      return line;
    }).sort(function (one, other) {
      return (one.part.stock === null) - (other.part.stock === null) || byText(one.order, other.order) ||
        (one.part.price || 0) - (other.part.price || 0) || byText(one.part.currency || "", other.part.currency || "");
    });
  }

  function totals(lines) {
    var sums = Object.create(null);
    lines.forEach(function (line) {
      if (line.cents !== null) { sums[line.part.currency || ""] = (sums[line.part.currency || ""] || 0) + line.cents; }
    });
    return Object.keys(sums).sort().map(function (currency) { return [currency, sums[currency]]; });
  }

  /* Resistors by series and rating: [series, rating in words, [[value in words, how many], …]]. */
  function drawers(lines) {
    var groups = Object.create(null);
    lines.forEach(function (line) {
      var found = line.part.resistor;
      if (!found) { return; }
      var key = JSON.stringify([found[0], found[1]]);
      var group = groups[key] = groups[key] || { series: found[0], rating: found[1] || 0, words: found[3], values: {} };
      var value = group.values[found[2]] = group.values[found[2]] || { ohms: found[2], words: found[4], quantity: 0 };
      value.quantity += line.quantity;
    });
    function rank(group) { return group.series ? Number(group.series.slice(1)) : 999; }
    return Object.keys(groups).map(function (key) { return groups[key]; })
      .sort(function (one, other) { return rank(one) - rank(other) || one.rating - other.rating; });
  }

  /* A cell that no spreadsheet takes for a formula, quoted as RFC 4180 asks. */
  function cell(value) {
    var words = value === null || value === undefined ? "" : String(value);
    if (typeof value === "string" && /^\s*[=+\-@]/.test(words)) { words = "'" + words; }
    return /[",\r\n]/.test(words) ? '"' + words.replace(/"/g, '""') + '"' : words;
  }

  function table(lines, heads) {
    var rows = lines.map(function (line) {
      return [line.part.name, line.part.stock, line.quantity, line.part.price,
        line.cents === null ? null : line.cents / 100, line.part.currency, line.builds.join("; ")];
    });
    return [heads].concat(rows).map(function (row) { return row.map(cell).join(",") + "\n"; }).join("");
  }

  window.buildsheetsChosen.begin("shopping", MOST, function (root) {
    var body = root.querySelector("[data-bs-lines]").tBodies[0];
    var foot = root.querySelector("[data-bs-totals]");
    var values = root.querySelector("[data-bs-resistors]");
    var link = root.querySelector("[data-bs-csv]");
    var lead = root.querySelector("[data-bs-lead]");
    var kept = [body, foot, values].map(function (element) { return Array.from(element.childNodes); });
    var plain = { href: link.getAttribute("href"), lead: lead.textContent };
    var address = null;

    function money(cents, currency) {
      return (cents / 100).toFixed(2).replace(".", root.dataset.decimal) + (currency ? THIN + currency : "");
    }

    function row(line) {
      var made = make("tr");
      var head = make("th");
      head.appendChild(make("span", line.part.name));
      head.scope = "row";
      made.appendChild(head);
      [[line.quantity, "bs-n", root.dataset.sayQuantity],
        [line.part.price === null ? root.dataset.sayNoPrice : money(Math.round(line.part.price * 100), line.part.currency), "bs-n", root.dataset.sayEach],
        [line.cents === null ? root.dataset.sayNoPrice : money(line.cents, line.part.currency), "bs-n", root.dataset.sayPrice],
        [line.builds.join(", "), "", root.dataset.sayFor]].forEach(function (entry) {
        var td = make("td", undefined, entry[1]);
        td.dataset.label = entry[2];
        td.appendChild(make("span", entry[0]));
        made.appendChild(td);
      });
      return made;
    }

    function refill(element, children) {
      element.textContent = "";
      children.forEach(function (child) { element.appendChild(child); });
    }

    return function (data) {
      if (address) { URL.revokeObjectURL(address); address = null; }
      if (!data.length) {
        [body, foot, values].forEach(function (element, place) { refill(element, kept[place]); });
        link.href = plain.href;
        lead.textContent = plain.lead;
        return;
      }
      var lines = summed(data);
      refill(body, lines.map(row));
      refill(foot, totals(lines).map(function (total) { return make("li", money(total[1], total[0])); }));
      refill(values, drawers(lines).map(function (group) {
        var item = make("li");
        item.appendChild(make("strong", [group.series || root.dataset.sayNoSeries, group.words].filter(Boolean).join(", ") + ": "));
        item.appendChild(document.createTextNode(Object.keys(group.values).map(function (key) { return group.values[key]; })
          .sort(function (one, other) { return one.ohms - other.ohms; })
          .map(function (value) { return value.quantity + "\u00a0×\u00a0" + value.words; }).join(", ")));
        return item;
      }));
      lead.textContent = say(root.dataset.sayLead, { builds: data.map(function (build) { return build.title; }).join(", ") });
      address = URL.createObjectURL(new Blob([table(lines, JSON.parse(root.dataset.columns))], { type: "text/csv" }));
      link.href = address;
    };
  });
}());
