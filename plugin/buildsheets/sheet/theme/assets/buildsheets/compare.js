/* Two to four builds side by side: a table of figures, and their speed curves in one chart. */
(function () {
  "use strict";

  var MOST = 4;
  var STEPS = 126; // of the 128-step mode, NMRA S-9.2.1
  var TICKS = [0, 16, 32, 48, 64, 80, 96, 112];
  var LETTERS = "ABCD";
  var SVG = "http://www.w3.org/2000/svg";
  var make = window.buildsheetsChosen.make;
  var say = window.buildsheetsChosen.say;

  /* Whether values differ: by more than their bands where all have one, else by their words. */
  function differ(cells) {
    if (cells.every(function (cell) { return cell.length === 3; })) {
      var low = Math.max.apply(null, cells.map(function (cell) { return cell[1]; }));
      var high = Math.min.apply(null, cells.map(function (cell) { return cell[2]; }));
      return low > high;
    }
    return cells.some(function (cell) { return cell[0] !== cells[0][0]; });
  }

  function fill(root, table, data, builds) {
    var head = table.tHead.rows[0];
    while (head.cells.length > 1) { head.deleteCell(1); }
    data.forEach(function (build, place) {
      var cell = make("th");
      var link = make("a", build.title);
      cell.scope = "col";
      cell.appendChild(make("span", LETTERS[place], "bs-letter bs-letter--" + place));
      link.href = builds[place].href;
      cell.appendChild(link);
      head.appendChild(cell);
    });
    table.className = "bs-table bs-compare bs-compare--" + data.length;
    Array.from(table.tBodies[0].rows).forEach(function (row) {
      var cells = data.map(function (build) { return build.rows[row.dataset.bsRow] || [""]; });
      var other = differ(cells);
      while (row.cells.length > 1) { row.deleteCell(1); }
      row.classList.toggle("bs-same", !other);
      row.querySelector(".bs-differs").hidden = !other;
      cells.forEach(function (cell, place) {
        var made = make("td", cell[0]);
        made.dataset.label = LETTERS[place];
        row.appendChild(made);
      });
    });
  }

  function draw(tag, attributes, parent, words) {
    var element = document.createElementNS(SVG, tag);
    Object.keys(attributes).forEach(function (name) { element.setAttribute(name, attributes[name]); });
    if (words !== undefined) { element.textContent = words; }
    parent.appendChild(element);
    return element;
  }

  /* A round distance between the numbers of the axis: 1, 2 or 5 times a power of ten. */
  function distance(top) {
    var power = Math.pow(10, Math.floor(Math.log10(top / 5)));
    return power * [1, 2, 5, 10].find(function (step) { return step * power * 6 >= top; });
  }

  /* Push labels apart so that none touches another; all stay between floor and ceiling where they fit. */
  function spread(labels, gap, floor, ceiling) {
    labels.sort(function (one, other) { return other.y - one.y; });
    var least = ceiling;
    labels.forEach(function (label) { label.place = Math.min(label.y, least); least = label.place - gap; });
    var most = floor;
    labels.slice().reverse().forEach(function (label) { label.place = Math.max(label.place, most); most = label.place + gap; });
  }

  function short(words, letters) {
    return words.length > letters ? words.slice(0, letters - 1).trim() + "…" : words;
  }

  function chart(root, holder, data) {
    var width = Math.max(300, Math.min(holder.clientWidth || 720, 760));
    var narrow = width < 560;
    var height = narrow ? 280 : 340;
    var left = 38, top = 30, bottom = height - 40, right = width - (narrow ? 30 : 210);
    var drawn = data.map(function (build, place) { return { build: build, place: place }; })
      .filter(function (entry) { return entry.build.curve.length; });
    var limits = Object.create(null);
    data.forEach(function (build, place) {
      if (!build.limit) { return; }
      limits[build.limit] = limits[build.limit] || { letters: [], words: build.rows.prototype[0] };
      limits[build.limit].letters.push(LETTERS[place]);
    });
    holder.textContent = "";
    if (!drawn.length) { holder.appendChild(make("p", root.dataset.sayNoCurve, "bs-lacks")); return; }
    var highest = Math.max.apply(null, drawn.map(function (entry) { return Math.max.apply(null, entry.build.curve); })
      .concat(Object.keys(limits).map(Number)));
    var step = distance(highest);
    var end = step * Math.ceil(highest / step);
    function x(place) { return left + (right - left) * place / STEPS; }
    function y(value) { return bottom - (bottom - top) * value / end; }

    var svg = draw("svg", { viewBox: "0 0 " + width + " " + height, role: "img", "class": "bs-overlay",
      "aria-label": say(root.dataset.sayChart, { builds: drawn.map(function (entry) {
        return LETTERS[entry.place] + " " + entry.build.title + " " + entry.build.rows.top[0];
      }).join("; ") }) }, holder);
    draw("text", { x: 0, y: 14, "class": "bs-overlay__title" }, svg, root.dataset.sayOrdinate);
    for (var value = 0; value <= end + step / 2; value += step) {
      draw("path", { d: "M" + left + " " + y(value) + "H" + right, "class": "bs-overlay__grid" }, svg);
      draw("text", { x: left - 6, y: y(value) + 4, "text-anchor": "end" }, svg,
        String(Number(value.toPrecision(3))).replace(".", root.dataset.decimal));
    }
    TICKS.filter(function (tick, place) { return !narrow || place % 2 === 0; }).forEach(function (tick) {
      draw("path", { d: "M" + x(tick) + " " + bottom + "v5", "class": "bs-overlay__axis" }, svg);
      draw("text", { x: x(tick), y: bottom + 18, "text-anchor": "middle" }, svg, tick);
    });
    draw("text", { x: left, y: height - 4 }, svg, root.dataset.sayAbscissa);
    draw("path", { d: "M" + left + " " + top + "V" + bottom + "H" + right, "class": "bs-overlay__axis" }, svg);

    Object.keys(limits).forEach(function (limit) {
      draw("path", { d: "M" + left + " " + y(Number(limit)) + "H" + right, "class": "bs-overlay__limit" }, svg);
      draw("text", { x: left + 5, y: y(Number(limit)) - 4, "class": "bs-overlay__word" }, svg,
        say(root.dataset.sayLimit, { builds: limits[limit].letters.join(", "), speed: limits[limit].words }));
    });
    var labels = drawn.map(function (entry) {
      var points = [];
      var last = 0;
      entry.build.curve.forEach(function (speed, place) {
        if (speed === null) { return; }
        points.push(x(place + 1).toFixed(1) + "," + y(speed).toFixed(1));
        last = speed;
      });
      draw("polyline", { points: points.join(" "), "class": "bs-overlay__line bs-overlay__line--" + entry.place }, svg);
      return { y: y(last), entry: entry };
    });
    spread(labels, 17, top, bottom);
    labels.forEach(function (label) {
      var letter = LETTERS[label.entry.place];
      draw("path", { d: "M" + (right + 1) + " " + label.y + "L" + (right + 10) + " " + label.place, "class": "bs-overlay__lead" }, svg);
      draw("text", { x: right + 13, y: label.place + 4, "class": "bs-overlay__label bs-overlay__label--" + label.entry.place }, svg,
        narrow ? letter : letter + "  " + short(label.entry.build.title, 26));
    });
  }

  window.buildsheetsChosen.begin("compare", MOST, function (root) {
    var result = root.querySelector("[data-bs-result]");
    var few = root.querySelector("[data-bs-few]");
    var table = root.querySelector("[data-bs-compare]");
    var holder = root.querySelector("[data-bs-chart]");
    var only = root.querySelector("[data-bs-only]");
    var latest = [];
    only.addEventListener("change", function () { table.classList.toggle("bs-compare--only", only.checked); });
    window.addEventListener("resize", function () { if (latest.length > 1) { chart(root, holder, latest); } });
    return function (data, builds) {
      latest = data;
      result.hidden = data.length < 2;
      few.hidden = data.length > 1;
      if (data.length < 2) { return; }
      fill(root, table, data, builds);
      table.classList.toggle("bs-compare--only", only.checked);
      chart(root, holder, data);
    };
  });
}());
