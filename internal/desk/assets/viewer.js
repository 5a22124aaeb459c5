// The large photo: zoom and pan by wheel, pinch, drag and keys; outlines drawn as SVG over it, shown and hidden by kind;
// corrected colours and the photo as taken, also side by side. Positions are in px of the photo.
(function () {
  "use strict";
  var pane = document.getElementById("pane"), data = document.getElementById("drawing");
  if (!pane || !data) { return; }
  var NS = "http://www.w3.org/2000/svg", d = JSON.parse(data.textContent), W = d.width || 4, H = d.height || 3;
  var panes = document.getElementById("panes"), second = document.getElementById("second");
  var stages = Array.from(panes.querySelectorAll(".stage")), first = stages[0];
  var fit = 1, zoom = 1, tx = 0, ty = 0, MAX = 40;
  var view = window.deskView = { W: W, H: H, data: d, tool: null, layers: {}, hidden: {} };

  function make(name, attrs, parent) {
    var el = document.createElementNS(NS, name);
    Object.keys(attrs || {}).forEach(function (k) { el.setAttribute(k, attrs[k]); });
    if (parent) { parent.appendChild(el); }
    return el;
  }
  view.make = make;
  var svg = make("svg", { viewBox: "0 0 " + W + " " + H, "aria-hidden": "true" }, first);
  var drawn = make("g", { transform: "translate(.5 .5)" }, svg);
  view.marks = make("g", {}, svg);
  view.pen = make("g", {}, svg);

  view.outlines = function (list) {
    drawn.textContent = "";
    view.shown = list;
    list.forEach(function (o) {
      if (!o.points || !o.points.length) { return; }
      var g = make("g", { "data-kind": o.kind === "unsure_hole" ? "unsure" : o.kind }, drawn);
      if (view.hidden[g.dataset.kind]) { g.setAttribute("display", "none"); }
      ["under", "o " + o.kind].forEach(function (c) {
        if (o.points.length === 1) { make("circle", { "class": c, cx: o.points[0].x, cy: o.points[0].y, r: Math.max(W, H) / 160 }, g); return; }
        make(o.closed ? "polygon" : "polyline", { "class": c, points: o.points.map(function (p) { return p.x.toFixed(1) + "," + p.y.toFixed(1); }).join(" ") }, g);
      });
    });
  };
  view.outlines(d.outlines || []);

  function place(glide) {
    var w = pane.clientWidth, h = pane.clientHeight, k = fit * zoom, sw = W * k, sh = H * k;
    tx = sw <= w ? (w - sw) / 2 : Math.min(w * 0.5, Math.max(w * 0.5 - sw, tx));
    ty = sh <= h ? (h - sh) / 2 : Math.min(h * 0.5, Math.max(h * 0.5 - sh, ty));
    stages.forEach(function (s) {
      s.classList.toggle("glide", !!glide);
      s.style.transform = "translate(" + tx + "px," + ty + "px) scale(" + zoom + ")";
    });
    svg.style.setProperty("--u", String(1 / k));
  }
  function measure() {
    pane.style.aspectRatio = W + " / " + H;
    if (second) { second.style.aspectRatio = W + " / " + H; }
    fit = Math.min(pane.clientWidth / W, pane.clientHeight / H);
    stages.forEach(function (s) { s.style.width = W * fit + "px"; s.style.height = H * fit + "px"; });
    place();
  }
  view.unit = function () { return 1 / (fit * zoom); };
  view.at = function (e) {
    var r = pane.getBoundingClientRect(), k = fit * zoom;
    return { x: (e.clientX - r.left - tx) / k, y: (e.clientY - r.top - ty) / k };
  };
  function zoomTo(z, cx, cy, glide) {
    z = Math.max(1, Math.min(MAX, z));
    tx = cx - (cx - tx) * z / zoom;
    ty = cy - (cy - ty) * z / zoom;
    zoom = z;
    place(glide);
  }
  function mid() { return [pane.clientWidth / 2, pane.clientHeight / 2]; }
  view.zoomBy = function (f) { var m = mid(); zoomTo(zoom * f, m[0], m[1], true); };
  view.whole = function () { zoom = 1; tx = ty = 0; place(true); };
  // see brings a place of the photo into the pane where it is outside.
  view.see = function (p) {
    var k = fit * zoom, x = p.x * k + tx, y = p.y * k + ty, m = 30;
    if (x < m) { tx += m - x; }
    if (x > pane.clientWidth - m) { tx -= x - pane.clientWidth + m; }
    if (y < m) { ty += m - y; }
    if (y > pane.clientHeight - m) { ty -= y - pane.clientHeight + m; }
    place();
  };

  // Colours: which picture lies in the first pane. Zoomed in far, the photo as taken has more detail than the stored
  // picture with corrected colours; the choice stays the grower's.
  var img = first.querySelector("img"), colours = "plain";
  document.querySelectorAll("[data-colours]").forEach(function (b) {
    b.addEventListener("click", function () {
      colours = b.dataset.colours;
      document.querySelectorAll("[data-colours]").forEach(function (o) { o.setAttribute("aria-pressed", String(o === b)); });
      img.src = colours === "original" ? img.dataset.original : img.dataset.plain || img.dataset.original;
      img.alt = colours === "original" ? "The photo as taken" : "The photo, colours corrected";
      if (second) {
        second.hidden = colours !== "both";
        panes.classList.toggle("both", colours === "both");
        var o = second.querySelector("img");
        if (colours === "both" && !o.src) { o.src = o.dataset.src; }
      }
      measure();
    });
  });
  view.plain = function (src) {
    if (!img || !src) { return; }
    img.dataset.plain = src;
    if (colours !== "original") { img.src = src; }
  };

  document.getElementById("layers").addEventListener("change", function (e) {
    var kind = e.target.dataset.layer;
    view.hidden[kind] = !e.target.checked;
    if (kind === "marks") { view.marks.setAttribute("display", e.target.checked ? "inline" : "none"); return; }
    drawn.querySelectorAll('[data-kind="' + CSS.escape(kind) + '"]').forEach(function (g) {
      g.setAttribute("display", e.target.checked ? "inline" : "none");
    });
  });

  // Pointers: one moves the photo, or draws where a tool is chosen; two pinch.
  var down = new Map(), pinch = null, last = null, still = null;
  pane.addEventListener("pointerdown", function (e) {
    if (e.button > 0 && e.pointerType === "mouse") { return; }
    pane.setPointerCapture(e.pointerId);
    down.set(e.pointerId, e);
    last = e;
    still = down.size === 1 ? e : null;
    if (down.size === 2) {
      if (view.tool) { view.tool.cancelStroke(); }
      pinch = spread();
    } else if (view.tool && down.size === 1) {
      view.tool.down(view.at(e), e);
    }
  });
  pane.addEventListener("pointermove", function (e) {
    if (!down.has(e.pointerId)) { return; }
    down.set(e.pointerId, e);
    if (down.size === 2) {
      var s = spread();
      tx += s.x - pinch.x;
      ty += s.y - pinch.y;
      zoomTo(zoom * s.d / pinch.d, s.x, s.y);
      pinch = s;
    } else if (view.tool) {
      view.tool.move(view.at(e), e);
    } else {
      tx += e.clientX - last.clientX;
      ty += e.clientY - last.clientY;
      last = e;
      place();
    }
  });
  function up(e) {
    if (!down.delete(e.pointerId)) { return; }
    if (view.tool && down.size === 0 && !pinch) { view.tool.up(view.at(e), e); }
    if (!view.tool && view.tap && still && Math.hypot(e.clientX - still.clientX, e.clientY - still.clientY) < 6) { view.tap(view.at(e)); }
    still = null;
    if (down.size === 0) { pinch = null; } else { last = down.values().next().value; }
  }
  pane.addEventListener("pointerup", up);
  pane.addEventListener("pointercancel", function (e) { if (view.tool) { view.tool.cancelStroke(); } down.delete(e.pointerId); pinch = null; });
  function spread() {
    var p = Array.from(down.values()), r = pane.getBoundingClientRect();
    return { x: (p[0].clientX + p[1].clientX) / 2 - r.left, y: (p[0].clientY + p[1].clientY) / 2 - r.top,
      d: Math.max(10, Math.hypot(p[0].clientX - p[1].clientX, p[0].clientY - p[1].clientY)) };
  }
  pane.addEventListener("wheel", function (e) {
    e.preventDefault();
    var r = pane.getBoundingClientRect();
    zoomTo(zoom * Math.exp(-e.deltaY * (e.deltaMode ? 0.05 : 0.0015)), e.clientX - r.left, e.clientY - r.top);
  }, { passive: false });
  pane.addEventListener("dblclick", function (e) {
    if (view.tool) { return; }
    var r = pane.getBoundingClientRect();
    zoomTo(zoom * 2, e.clientX - r.left, e.clientY - r.top, true);
  });
  pane.addEventListener("keydown", function (e) {
    if (e.ctrlKey || e.metaKey || e.altKey) { return; }
    if (view.tool && view.tool.key(e)) { e.preventDefault(); return; }
    var step = 60, m = { ArrowLeft: [step, 0], ArrowRight: [-step, 0], ArrowUp: [0, step], ArrowDown: [0, -step] }[e.key];
    if (m) { tx += m[0]; ty += m[1]; place(); e.preventDefault(); }
    if (e.key === "+" || e.key === "=") { view.zoomBy(1.5); e.preventDefault(); }
    if (e.key === "-") { view.zoomBy(1 / 1.5); e.preventDefault(); }
    if (e.key === "0") { view.whole(); e.preventDefault(); }
  });
  document.getElementById("zoomin").addEventListener("click", function () { view.zoomBy(1.5); });
  document.getElementById("zoomout").addEventListener("click", function () { view.zoomBy(1 / 1.5); });
  document.getElementById("zoomfit").addEventListener("click", view.whole);
  document.getElementById("tools").hidden = false;
  new ResizeObserver(measure).observe(pane);
  measure();
})();
