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

  function once(selector, act) {
    document.querySelectorAll(selector).forEach(function (element) {
      if (element.dataset.bsReady) { return; }
      element.dataset.bsReady = "yes";
      act(element);
    });
  }

  /* The theme puts wide tables into boxes that scroll; the keyboard must get there too. */
  function reachBoxes() {
    document.querySelectorAll(".md-typeset__scrollwrap").forEach(function (box) {
      if (box.scrollWidth > box.clientWidth) { box.tabIndex = 0; } else { box.removeAttribute("tabindex"); }
    });
  }

  /* The theme's search is a dialog without a name; its field has one. */
  function nameSearch(dialog) {
    var field = dialog.querySelector("input[aria-label]");
    if (field && !dialog.hasAttribute("aria-label")) { dialog.setAttribute("aria-label", field.getAttribute("aria-label")); }
  }

  function start() {
    once("details.bs-working", watchWorking);
    once(".md-search[role=dialog]", nameSearch);
    reachBoxes();
  }

  window.addEventListener("resize", reachBoxes);

  if (window.document$ && window.document$.subscribe) {
    window.document$.subscribe(start);
  } else if (document.readyState === "loading") {
    document.addEventListener("DOMContentLoaded", start);
  } else {
    start();
  }
}());
