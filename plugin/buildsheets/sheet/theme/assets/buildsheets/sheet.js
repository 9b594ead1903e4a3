/* Extras over complete pages: nothing on a sheet depends on this file. */
(function () {
  "use strict";

  /* The theme opens every fold before printing; the working prints only if its reader opened it. */
  function watchWorking(details) {
    details.classList.add("bs-scripted");
    details.classList.toggle("bs-wanted", details.open);
    details.querySelector("summary").addEventListener("click", function () {
      details.classList.toggle("bs-wanted", !details.open);
    });
  }

  function addFilter(table) {
    var label = document.createElement("label");
    var input = document.createElement("input");
    label.className = "bs-filter";
    label.textContent = table.dataset.bsFilter + " ";
    input.type = "search";
    label.appendChild(input);
    table.before(label);
    input.addEventListener("input", function () {
      var words = input.value.toLowerCase().split(/\s+/);
      Array.from(table.tBodies[0].rows).forEach(function (row) {
        var text = row.textContent.toLowerCase();
        row.hidden = !words.every(function (word) { return text.includes(word); });
      });
    });
  }

  function once(selector, act) {
    document.querySelectorAll(selector).forEach(function (element) {
      if (element.dataset.bsReady) { return; }
      element.dataset.bsReady = "yes";
      act(element);
    });
  }

  function start() {
    once("details.bs-working", watchWorking);
    once("[data-bs-filter]", addFilter);
  }

  if (window.document$ && window.document$.subscribe) {
    window.document$.subscribe(start);
  } else if (document.readyState === "loading") {
    document.addEventListener("DOMContentLoaded", start);
  } else {
    start();
  }
}());
