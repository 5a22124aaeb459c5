// Charts answer to pointer, touch and keyboard: the words of the nearest session stand below the chart. Without this script
// every point still has its title. The box of the chart hears of each point that is shown by the event "chartpoint", whose
// detail is the point's words.
(function () {
  "use strict";
  document.querySelectorAll("figure.chartbox").forEach(function (box) {
    var svg = box.querySelector("svg.chart"), out = box.querySelector(".readout");
    if (!svg || !out) { return; }
    var points = Array.from(svg.querySelectorAll(".pt")).map(function (el) {
      return { el: el, x: +el.getAttribute("cx"), y: +el.getAttribute("cy"), words: el.querySelector("title").textContent };
    }).sort(function (a, b) { return a.x - b.x || a.y - b.y; });
    if (!points.length) { return; }
    var at = points.length - 1, rest = out.textContent;
    svg.setAttribute("tabindex", "0");
    svg.setAttribute("role", "slider");
    svg.setAttribute("aria-valuemin", "1");
    svg.setAttribute("aria-valuemax", String(points.length));
    svg.setAttribute("aria-orientation", "horizontal");
    function say() {
      svg.setAttribute("aria-valuenow", String(at + 1));
      svg.setAttribute("aria-valuetext", points[at].words);
    }
    function show(i) {
      points[at].el.classList.remove("on");
      at = Math.max(0, Math.min(points.length - 1, i));
      points[at].el.classList.add("on");
      out.textContent = points[at].words;
      box.dispatchEvent(new CustomEvent("chartpoint", { detail: points[at].words }));
      say();
    }
    function leave() {
      points[at].el.classList.remove("on");
      out.textContent = rest;
    }
    svg.addEventListener("keydown", function (e) {
      var to = { ArrowLeft: at - 1, ArrowDown: at - 1, ArrowRight: at + 1, ArrowUp: at + 1, Home: 0, End: points.length - 1 }[e.key];
      if (to !== undefined) { e.preventDefault(); show(to); }
    });
    svg.addEventListener("focus", function () { show(at); });
    svg.addEventListener("blur", leave);
    svg.addEventListener("pointermove", function (e) {
      var r = svg.getBoundingClientRect(), k = svg.viewBox.baseVal.width / r.width, best = 0, d = Infinity;
      points.forEach(function (p, i) {
        var v = Math.abs(p.x - (e.clientX - r.left) * k) * 4 + Math.abs(p.y - (e.clientY - r.top) * k);
        if (v < d) { d = v; best = i; }
      });
      show(best);
    });
    svg.addEventListener("pointerleave", function () { if (document.activeElement !== svg) { leave(); } });
    say();
  });
})();
