// Only refreshes: every page is complete without it. The server says that something changed; the page is asked for again
// and put in place, unless somebody is typing in it. Where looking is recorded, it is offered and not done.
(function () {
  "use strict";
  var body = document.body;
  var seen = Number(body.dataset.seen || 0);
  var waiting = false;
  var source = new EventSource("/board/events");

  function busy() {
    var at = document.activeElement;
    return at && at.closest && at.closest("#main") && /^(INPUT|SELECT|TEXTAREA)$/.test(at.tagName);
  }

  function offer() {
    if (document.getElementById("changed")) return;
    var link = document.createElement("a");
    link.id = "changed";
    link.href = location.href;
    link.textContent = "Something changed. Show it";
    var line = document.createElement("p");
    line.setAttribute("role", "status");
    line.appendChild(link);
    document.getElementById("main").prepend(line);
  }

  function refresh() {
    if (busy()) { waiting = true; return; }
    waiting = false;
    var asked = seen;
    var address = new URL(location.href);
    address.searchParams.set("seen", String(asked));
    fetch(address, { credentials: "same-origin", redirect: "error" }).then(function (answer) {
      if (!answer.ok) throw new Error("no page");
      return answer.text();
    }).then(function (text) {
      var fresh = new DOMParser().parseFromString(text, "text/html").getElementById("main");
      if (!fresh || asked !== seen) return;
      document.getElementById("main").replaceChildren.apply(document.getElementById("main"), Array.from(fresh.childNodes));
    }).catch(offer);
  }

  source.addEventListener("changed", function (event) {
    var now = Number(event.data);
    if (!(now > seen)) return;
    seen = now;
    if (body.dataset.live === "offer") offer(); else refresh();
  });
  document.addEventListener("focusout", function () {
    if (waiting) setTimeout(function () { if (waiting) refresh(); }, 0);
  });
})();
