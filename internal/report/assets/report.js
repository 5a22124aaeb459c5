// Charts answer to pointer, touch and keyboard: the nearest session's words stand below the chart. Without this script
// each point still has its title, and the table of sessions says the same.
(function () {
  "use strict";
  document.querySelectorAll("figure.chartbox").forEach(function (box) {
    var svg = box.querySelector("svg.chart"), out = box.querySelector(".readout");
    if (!svg || !out) { return; }
    var pts = Array.prototype.slice.call(svg.querySelectorAll(".pt")).map(function (el) {
      return { el: el, x: +el.getAttribute("cx"), y: +el.getAttribute("cy"), words: el.querySelector("title").textContent };
    });
    if (!pts.length) { return; }
    pts.sort(function (a, b) { return a.x - b.x || a.y - b.y; });
    var at = pts.length - 1, start = out.textContent;
    svg.setAttribute("tabindex", "0");
    svg.setAttribute("role", "slider");
    svg.setAttribute("aria-valuemin", "1");
    svg.setAttribute("aria-valuemax", String(pts.length));
    svg.setAttribute("aria-orientation", "horizontal");
    function say() {
      svg.setAttribute("aria-valuenow", String(at + 1));
      svg.setAttribute("aria-valuetext", pts[at].words);
    }
    function show(i) {
      pts[at].el.classList.remove("on");
      at = Math.max(0, Math.min(pts.length - 1, i));
      pts[at].el.classList.add("on");
      out.textContent = pts[at].words;
      picture();
      say();
    }
    function picture() {
      var view = box.closest(".view"), day = pts[at].words.split(":")[0];
      var img = view && Array.prototype.find.call(view.querySelectorAll("img.thumb"), function (m) {
        return m.alt.slice(-day.length - 3) === "on " + day;
      });
      if (img) {
        var c = document.createElement("img");
        c.src = img.src; c.alt = ""; c.className = "peek";
        out.appendChild(c);
      }
    }
    function leave() {
      pts[at].el.classList.remove("on");
      out.textContent = start;
    }
    svg.addEventListener("keydown", function (e) {
      var to = { ArrowLeft: at - 1, ArrowDown: at - 1, ArrowRight: at + 1, ArrowUp: at + 1, Home: 0, End: pts.length - 1 }[e.key];
      if (to === undefined) { return; }
      e.preventDefault();
      show(to);
    });
    svg.addEventListener("focus", function () { show(at); });
    svg.addEventListener("blur", leave);
    svg.addEventListener("pointermove", function (e) {
      var r = svg.getBoundingClientRect(), k = svg.viewBox.baseVal.width / r.width;
      var x = (e.clientX - r.left) * k, y = (e.clientY - r.top) * k, best = 0, d = Infinity;
      pts.forEach(function (p, i) {
        var v = Math.abs(p.x - x) * 4 + Math.abs(p.y - y);
        if (v < d) { d = v; best = i; }
      });
      show(best);
    });
    svg.addEventListener("pointerleave", function () { if (document.activeElement !== svg) { leave(); } });
    say();
  });
  // Paper cannot unfold: open what is folded before printing, and fold it again afterwards.
  var folded = [];
  window.addEventListener("beforeprint", function () {
    folded = Array.prototype.filter.call(document.querySelectorAll("details:not(.sessions)"), function (d) { return !d.open; });
    folded.forEach(function (d) { d.open = true; });
  });
  window.addEventListener("afterprint", function () { folded.forEach(function (d) { d.open = false; }); });
})();
