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

  function start() {
    once("details.bs-working", watchWorking);
  }

  if (window.document$ && window.document$.subscribe) {
    window.document$.subscribe(start);
  } else if (document.readyState === "loading") {
    document.addEventListener("DOMContentLoaded", start);
  } else {
    start();
  }
}());
