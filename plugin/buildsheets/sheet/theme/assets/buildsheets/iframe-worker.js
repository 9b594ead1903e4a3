/* Workers on pages that are opened from the disk, where browsers refuse them: a hidden frame with a scope of its own stands in.
   The theme's search runs in a worker. Nothing is written into the frame as text, so a content security policy can stand. */
(function () {
  "use strict";

  if (location.protocol !== "file:") { return; }

  /* One after the other, as a worker does; but who calls it has to wait for what it returns. */
  function fetchInto(frame, addresses) {
    return addresses.reduce(function (before, address) {
      return before.then(function () {
        return new Promise(function (done, failed) {
          var script = frame.contentDocument.createElement("script");
          script.src = address;
          script.onload = done;
          script.onerror = function () { failed(new Error("cannot load " + address)); };
          frame.contentDocument.body.appendChild(script);
        });
      });
    }, Promise.resolve());
  }

  class FrameWorker extends EventTarget {
    constructor(address) {
      super();
      var worker = this;
      var frame = document.createElement("iframe");
      var home = new URL(address, document.baseURI).href;
      frame.hidden = true;
      frame.setAttribute("aria-hidden", "true");
      document.body.appendChild(frame);
      this.frame = frame;
      this.onmessage = null;
      this.onerror = null;
      frame.contentWindow.postMessage = function (data) {
        var message = structuredClone(data);
        setTimeout(function () { worker.tell(new MessageEvent("message", { data: message })); });
      };
      frame.contentWindow.importScripts = function () {
        return fetchInto(frame, Array.from(arguments, function (other) { return new URL(other, home).href; }));
      };
      frame.contentWindow.addEventListener("error", function (event) {
        worker.tell(new ErrorEvent("error", { message: event.message, error: event.error }));
      });
      this.ready = fetchInto(frame, [home]);
      this.ready.catch(function (error) { worker.tell(new ErrorEvent("error", { message: error.message, error: error })); });
    }

    tell(event) {
      this.dispatchEvent(event);
      var handler = this["on" + event.type];
      if (handler) { handler.call(this, event); }
    }

    postMessage(data) {
      var frame = this.frame;
      var message = structuredClone(data);
      this.ready.then(function () {
        frame.contentWindow.dispatchEvent(new MessageEvent("message", { data: message }));
      }, function () { /* told as an error already */ });
    }

    terminate() { this.frame.remove(); }
  }

  window.Worker = FrameWorker;
}());
