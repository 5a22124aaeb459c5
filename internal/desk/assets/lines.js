// Lines on parts: chosen part, points clicked along or across it, the value while drawing; proposals from the month before,
// each taken with one key; counts beside the photo. Points are kept relative to the photo, 0 to 1.
(function () {
  "use strict";
  var view = window.deskView, box = document.getElementById("parts");
  if (!view || !box) { return; }
  var W = view.W, H = view.H, pane = document.getElementById("pane"), token = document.body.dataset.token, sha = view.data.sha;
  var button = document.getElementById("linetool"), help = document.getElementById("linehelp"), status = document.getElementById("linestatus");
  var choose = document.getElementById("partchoice"), newName = document.getElementById("partname"), newKind = document.getElementById("partkind");
  var list = document.getElementById("linelist"), offers = document.getElementById("offers"), counts = document.getElementById("counts");
  var bar = document.getElementById("linebar");
  var layer = view.make("g", { "class": "lines" }, view.marks.parentNode), pen = view.make("g", { "class": "lines" }, view.marks.parentNode);
  var data = { parts: [], lines: [], proposals: [] }, history = [], now = -1;
  var active = false, points = [], hover = null, current = -1, drag = null, told = null, cross = { x: W / 2, y: H / 2 }, byKeys = false, moved = false;
  var usual = { spike: "length", growth: "length", root: "length", offset: "length", leaf: "length,bend", bulb: "width", bloom: "width", other: "length" };

  function post(path, body) {
    return fetch("/photo/" + sha + path, { method: "POST", headers: { "Content-Type": "application/json", "X-Desk-Token": token }, body: JSON.stringify(body) })
      .then(function (r) { return r.json().then(function (j) { if (!r.ok) { throw new Error(j.error + (j.hint ? ". " + j.hint : "")); } return j; }); });
  }
  function say(text, bad) { status.textContent = text || ""; status.classList.toggle("why", !!bad); }
  function el(name, cls, text) { return Object.assign(document.createElement(name), { className: cls || "", textContent: text || "" }); }
  function rel(p) { return [Math.max(0, Math.min(1, p.x / W)), Math.max(0, Math.min(1, p.y / H))]; }
  function abs(q) { return { x: q[0] * W, y: q[1] * H }; }
  function path(ps) { return ps.map(function (q) { return (q[0] * W).toFixed(1) + "," + (q[1] * H).toFixed(1); }).join(" "); }

  // What is drawn.
  function stroke(g, ps, cls) {
    view.make("polyline", { "class": "plunder", points: path(ps) }, g);
    view.make("polyline", { "class": "pl " + cls, points: path(ps) }, g);
  }
  function label(g, at, text, cls) {
    var t = view.make("text", { "class": "pltext " + (cls || ""), x: at[0] * W + 8 * view.unit(), y: at[1] * H - 6 * view.unit() }, g);
    t.textContent = text;
  }
  function value(l) { return (l.texts || []).join(", "); }
  function short(l) { return l.line.part + (l.texts && l.texts.length ? " " + l.texts[0].replace(/^\S+ /, "") : ""); }
  function draw() {
    layer.textContent = "";
    data.lines.forEach(function (l) {
      var c = l.curve && l.curve.length > 1 ? l.curve : l.line.points;
      if (!c || c.length < 2) { return; }
      stroke(layer, c, "kept");
      label(layer, c[c.length - 1], short(l));
    });
    data.proposals.forEach(function (p, i) {
      if (p.done || !p.sure) { return; }
      stroke(layer, p.curve && p.curve.length > 1 ? p.curve : p.line.points, i === current ? "offer now" : "offer");
      if (i === current) {
        p.line.points.forEach(function (q) { view.make("circle", { "class": "plpoint", cx: q[0] * W, cy: q[1] * H, r: 5 * view.unit() }, layer); });
        label(layer, p.line.points[p.line.points.length - 1], short(p), "now");
      }
    });
  }
  function drawPen() {
    pen.textContent = "";
    if (!active) { return; }
    var ps = points.slice();
    if (hover && ps.length && !byKeys) { ps.push(rel(hover)); }
    if (told && told.curve && told.curve.length > 1) { stroke(pen, told.curve, "draft"); }
    if (ps.length > 1) { view.make("polyline", { "class": "plraw", points: path(ps) }, pen); }
    points.forEach(function (q) { view.make("circle", { "class": "plpoint", cx: q[0] * W, cy: q[1] * H, r: 4 * view.unit() }, pen); });
    if (told && points.length) { label(pen, points[points.length - 1], told.error ? "" : value(told), "now"); }
    if (byKeys) {
      var u = 14 * view.unit(), d = "M" + (cross.x - u) + " " + cross.y + "h" + 2 * u + "M" + cross.x + " " + (cross.y - u) + "v" + 2 * u;
      view.make("path", { "class": "crossunder", d: d }, pen);
      view.make("path", { "class": "cross", d: d }, pen);
    }
  }

  // What a line is to measure.
  function measures() { return Array.from(bar.querySelectorAll("[data-measure]:checked")).map(function (c) { return c.dataset.measure; }); }
  function part() { return choose.value === "+" ? newName.value.trim() : choose.value; }
  function kind() {
    if (choose.value === "+") { return newKind.value; }
    var p = data.parts.find(function (q) { return q.part === choose.value; });
    return p ? p.kind : "other";
  }
  function usualFor() {
    var u = (usual[kind()] || "length").split(",");
    bar.querySelectorAll("[data-measure]").forEach(function (c) { c.checked = u.indexOf(c.dataset.measure) >= 0; });
  }
  function line(ps) {
    return { part: part(), measure: measures(), drawn: "hand", no_snap: !document.getElementById("snap").checked, zoom: +(1 / view.unit()).toFixed(3), points: ps };
  }

  // The value while drawing: one question at a time, the latest points.
  var asking = false, askAgain = false;
  function ask() {
    if (asking) { askAgain = true; return; }
    var ps = points.slice();
    if (hover && ps.length && !byKeys) { ps.push(rel(hover)); }
    if (ps.length < 2 || !measures().length) { told = null; drawPen(); return; }
    asking = true;
    var l = line(ps);
    l.part = l.part || "part";
    post("/line", l).then(function (j) { told = points.length ? j : null; say(told ? (j.error ? j.error : value(j) + (j.found < 0.5 && !l.no_snap ? " (no edges found: as drawn)" : "")) : "", j.error); drawPen(); })
      .catch(function (e) { say(e.message, true); })
      .finally(function () { asking = false; if (askAgain) { askAgain = false; ask(); } });
  }

  function finish() {
    if (points.length < 2) { say("A line needs two points or more.", true); return; }
    if (!part()) { say("Name the part first.", true); newName.focus(); return; }
    if (!measures().length) { say("Choose what to measure.", true); return; }
    var l = line(points.slice()), made = Promise.resolve();
    if (choose.value === "+") {
      var p = { part: l.part, kind: newKind.value };
      made = post("/part", { Part: p.part, Kind: p.kind, From: "" }).then(function () {
        data.parts.push(p);
        options();
        choose.value = p.part;
        newName.value = "";
        toggleNew();
      });
    }
    made.then(function () {
      points = [];
      hover = told = null;
      drawPen();
      keep(data.lines.filter(function (o) { return !(o.line.part === l.part && o.line.measure.join() === l.measure.join()); }).concat([{ line: l, texts: [], curve: l.points }]));
    }).catch(function (e) { say(e.message, true); });
  }

  // Saving: one at a time, undo and redo over whole states.
  var saving = false, again = false;
  function keep(next, quiet) {
    if (!quiet) {
      history = history.slice(0, now + 1).concat([next]);
      now = history.length - 1;
    }
    data.lines = next;
    show();
    save();
  }
  function save() {
    if (saving) { again = true; return; }
    saving = true;
    say("saving …");
    post("/lines", { lines: data.lines.map(function (l) { return l.line; }) }).then(function (j) {
      if (!again) { data.lines = j.lines || data.lines; history[now] = data.lines; show(); }
      say("");
    }).catch(function (e) { say("Not saved: " + e.message, true); })
      .finally(function () { saving = false; if (again) { again = false; save(); } });
  }
  window.addEventListener("beforeunload", function (e) { if (saving || points.length) { e.preventDefault(); } });
  function step(by) {
    if (now + by < 0 || now + by >= history.length) { return false; }
    now += by;
    keep(history[now], true);
    return true;
  }

  // Proposals.
  function next() {
    var had = current >= 0;
    current = data.proposals.findIndex(function (p) { return p.sure && !p.done; });
    show();
    // The month's round goes on with the next photo on which lines wait.
    var more = data.next, box = document.getElementById("nextparts");
    box.hidden = !more || current >= 0;
    if (!box.hidden) {
      var link = document.getElementById("nextlink");
      link.href = "/photo/" + more.sha + "#parts";
      link.textContent = "Next: " + more.title;
      document.getElementById("nextsays").textContent = more.left + (more.left === 1 ? " photo waits" : " photos wait") + " for lines";
      if (had) { link.focus(); }
    }
  }
  function accept() {
    var p = data.proposals[current];
    if (!p) { return; }
    p.done = true;
    var l = Object.assign({}, p.line, { drawn: moved ? "hand" : "accepted" });
    moved = false;
    keep(data.lines.concat([{ line: l, texts: p.texts, curve: p.curve }]));
    next();
  }
  function skip() { if (data.proposals[current]) { data.proposals[current].done = true; moved = false; next(); } }
  function gone() {
    var p = data.proposals[current];
    if (!p) { return; }
    post("/part-gone", { Part: p.line.part }).then(function (j) {
      data.proposals.forEach(function (o) { if (o.line.part === p.line.part) { o.done = true; } });
      data.parts = data.parts.filter(function (o) { return o.part !== p.line.part; });
      options();
      say(p.line.part + " is gone since " + j.until + ".");
      next();
    }).catch(function (e) { say(e.message, true); });
  }
  function again1(p) {
    post("/line", p.line).then(function (j) { p.texts = j.texts; p.curve = j.curve; p.found = j.found; if (j.error) { say(j.error, true); } show(); });
  }

  var tool = {
    down: function (p) {
      byKeys = false;
      var o = data.proposals[current];
      drag = null;
      if (o && !points.length) {
        o.line.points.forEach(function (q, i) { var a = abs(q); if (Math.hypot(a.x - p.x, a.y - p.y) < 14 * view.unit()) { drag = i; } });
      }
    },
    move: function (p) {
      hover = p;
      if (drag !== null) { data.proposals[current].line.points[drag] = rel(p); draw(); } else { drawPen(); }
      lens(p);
    },
    up: function (p) {
      if (drag !== null) { moved = true; drag = null; again1(data.proposals[current]); return; }
      if (!points.length) { say(""); }
      points.push(rel(p));
      hover = null;
      ask();
      drawPen();
    },
    cancelStroke: function () { drag = null; },
    key: function (e) {
      var s = (e.shiftKey ? 1 : 14) * view.unit(), m = { ArrowLeft: [-s, 0], ArrowRight: [s, 0], ArrowUp: [0, -s], ArrowDown: [0, s] }[e.key];
      if (m) {
        byKeys = true;
        cross = { x: Math.max(0, Math.min(W, cross.x + m[0])), y: Math.max(0, Math.min(H, cross.y + m[1])) };
        view.see(cross);
        lens(cross);
        drawPen();
        return true;
      }
      switch (e.key) {
        case " ": byKeys = true; points.push(rel(cross)); ask(); drawPen(); return true;
        case "Enter":
          if (points.length > 1) { finish(); } else if (byKeys) { points.push(rel(cross)); ask(); drawPen(); }
          return true;
        case "Backspace": points.pop(); told = null; ask(); drawPen(); return true;
        case "Escape": if (points.length) { points = []; told = null; say(""); drawPen(); } else { stop(); } return true;
      }
      return false;
    }
  };
  pane.addEventListener("pointermove", function (e) {
    if (!active || e.buttons) { return; }
    hover = view.at(e);
    byKeys = false;
    lens(hover);
    drawPen();
    if (points.length) { ask(); }
  });
  pane.addEventListener("pointerleave", function () { hover = null; glass.hidden = true; drawPen(); });
  pane.addEventListener("dblclick", function (e) {
    if (!active) { return; }
    e.stopImmediatePropagation();
    // The second click of the two set the last point again.
    var n = points.length;
    if (n > 1 && Math.hypot((points[n - 1][0] - points[n - 2][0]) * W, (points[n - 1][1] - points[n - 2][1]) * H) < 4 * view.unit()) { points.pop(); }
    finish();
  }, true);

  // The magnifier: what lies under the pointer, enlarged, with a cross.
  var glass = document.getElementById("glass"), source = document.querySelector("#pane .stage img"), fine = new Image();
  if (source && source.dataset.original) { fine.src = source.dataset.original; }
  function lens(p) {
    var img = fine.naturalWidth ? fine : source;
    if (!active || !img || !img.naturalWidth) { return; }
    var size = 150, k = img.naturalWidth / W, half = size / 2 * view.unit() / 4, c = glass.getContext("2d");
    glass.hidden = false;
    c.imageSmoothingEnabled = half * k > size / 12;
    c.fillStyle = "#000";
    c.fillRect(0, 0, size, size);
    c.drawImage(img, (p.x - half) * k, (p.y - half) * k, 2 * half * k, 2 * half * k, 0, 0, size, size);
    c.lineWidth = 3;
    ["rgba(0,0,0,.55)", "#fff"].forEach(function (ink, i) {
      c.strokeStyle = ink;
      c.lineWidth = i ? 1 : 3;
      c.beginPath();
      c.moveTo(size / 2, size / 2 - 26); c.lineTo(size / 2, size / 2 - 5); c.moveTo(size / 2, size / 2 + 5); c.lineTo(size / 2, size / 2 + 26);
      c.moveTo(size / 2 - 26, size / 2); c.lineTo(size / 2 - 5, size / 2); c.moveTo(size / 2 + 5, size / 2); c.lineTo(size / 2 + 26, size / 2);
      c.stroke();
    });
    // In the corner that is farther from the pointer.
    var r = pane.getBoundingClientRect(), a = view.unit(), o = view.at({ clientX: r.left, clientY: r.top });
    var left = (p.x - o.x) / a > r.width / 2;
    glass.style.left = left ? "8px" : "auto";
    glass.style.right = left ? "auto" : "8px";
  }

  // Lists.
  function options() {
    var was = choose.value;
    choose.textContent = "";
    data.parts.forEach(function (p) { var o = el("option", "", p.part + (p.name ? " (" + p.name + ")" : "")); o.value = p.part; choose.appendChild(o); });
    var o = el("option", "", "a new part …");
    o.value = "+";
    choose.appendChild(o);
    if (data.parts.some(function (p) { return p.part === was; })) { choose.value = was; }
  }
  function toggleNew() { document.getElementById("newpart").hidden = choose.value !== "+"; }
  function show() {
    list.textContent = "";
    data.lines.forEach(function (l, i) {
      var li = el("li", "inline-remove"), b = el("button", "", "Remove");
      li.appendChild(el("strong", "", l.line.part));
      li.appendChild(document.createTextNode(" " + (l.error ? "" : value(l)) + (l.line.drawn === "accepted" ? " (accepted) " : " ")));
      if (l.error) { li.appendChild(el("span", "why", l.error + ". ")); }
      b.type = "button";
      b.setAttribute("aria-label", "Remove the line for " + l.line.part);
      b.addEventListener("click", function () { keep(data.lines.filter(function (_, k) { return k !== i; })); });
      li.appendChild(b);
      list.appendChild(li);
    });
    document.getElementById("nolines").hidden = data.lines.length > 0;
    var p = data.proposals[current], waiting = data.proposals.filter(function (o) { return o.sure && !o.done; }).length;
    offers.hidden = !p;
    if (p) {
      document.getElementById("offer").textContent = p.line.part + ": " + value(p);
      document.getElementById("offerbefore").textContent = "On " + data.from + ": " + (p.before || []).join(", ") + (waiting > 1 ? ". " + (waiting - 1) + " more after this." : ".");
    }
    var unsure = data.proposals.filter(function (o) { return !o.sure; });
    document.getElementById("unsure").textContent = unsure.length ? "Not proposed: " + unsure.map(function (o) { return o.line.part + " (" + o.why + ")"; }).join("; ") + ". Draw these by hand." : "";
    document.getElementById("lineundo").disabled = now <= 0;
    draw();
  }
  function showCounts() {
    counts.textContent = "";
    (data.counts || []).forEach(function (c) {
      var l = el("label", "count"), i = el("input");
      i.inputMode = "numeric";
      i.value = c.count;
      i.placeholder = c.before;
      i.size = 4;
      i.addEventListener("change", function () {
        if (i.value.trim() === "") { return; }
        post("/count", { What: c.what, Count: i.value }).then(function () { say(c.what + ": " + i.value); i.removeAttribute("aria-invalid"); })
          .catch(function (e) { i.setAttribute("aria-invalid", "true"); say(e.message, true); });
      });
      l.append(c.what + " ", i);
      counts.appendChild(l);
    });
  }

  function start() {
    document.querySelector('[data-tool="look"]').click();
    active = true;
    view.tool = tool;
    pane.classList.add("draws");
    button.setAttribute("aria-pressed", "true");
    document.querySelectorAll("[data-tool]").forEach(function (b) { b.setAttribute("aria-pressed", "false"); });
    document.getElementById("linebar").hidden = false;
    help.hidden = false;
    usualFor();
    pane.focus({ preventScroll: true });
  }
  function stop() {
    active = false;
    points = [];
    told = null;
    glass.hidden = true;
    button.setAttribute("aria-pressed", "false");
    document.getElementById("linebar").hidden = true;
    help.hidden = true;
    document.querySelector('[data-tool="look"]').click();
    drawPen();
  }
  button.addEventListener("click", function () { if (active) { stop(); } else { start(); } });
  document.querySelectorAll("[data-tool]").forEach(function (b) {
    b.addEventListener("click", function (e) {
      if (active && e.isTrusted) {
        active = false;
        points = [];
        glass.hidden = true;
        button.setAttribute("aria-pressed", "false");
        document.getElementById("linebar").hidden = true;
        help.hidden = true;
        drawPen();
      }
    });
  });
  choose.addEventListener("change", function () { toggleNew(); usualFor(); if (choose.value === "+") { newName.focus(); } });
  newKind.addEventListener("change", function () { usualFor(); suggest(); });
  // The next free name of a kind: spike 1, spike 2.
  function suggest() {
    var k = newKind.value, n = 1;
    function taken(s) { return data.parts.some(function (p) { return p.part.toLowerCase() === s; }); }
    while (taken(k + " " + n)) { n++; }
    newName.value = k + " " + n;
  }
  bar.querySelectorAll("[data-measure]").forEach(function (c) {
    c.addEventListener("change", function () {
      // Across is one thing, along another: a line is one of them.
      if (c.checked) { bar.querySelectorAll("[data-measure]").forEach(function (o) { if ((o.dataset.measure === "width") !== (c.dataset.measure === "width")) { o.checked = false; } }); }
      ask();
    });
  });
  document.getElementById("linedone").addEventListener("click", finish);
  document.getElementById("lineback").addEventListener("click", function () { points.pop(); told = null; ask(); drawPen(); });
  document.getElementById("lineundo").addEventListener("click", function () { step(-1); });
  document.getElementById("take").addEventListener("click", accept);
  document.getElementById("isgone").addEventListener("click", gone);
  document.getElementById("skip").addEventListener("click", skip);
  document.addEventListener("keydown", function (e) {
    if (/^(INPUT|SELECT|TEXTAREA)$/.test(e.target.tagName) || e.altKey) { return; }
    if ((e.ctrlKey || e.metaKey) && active) {
      if (e.key === "z" && !e.shiftKey && step(-1)) { e.preventDefault(); e.stopImmediatePropagation(); }
      if ((e.key === "y" || e.key === "Z") && step(1)) { e.preventDefault(); e.stopImmediatePropagation(); }
      return;
    }
    if (e.ctrlKey || e.metaKey || !data.proposals[current] || points.length) { return; }
    var act = { a: accept, g: gone, s: skip }[e.key.toLowerCase()];
    if (act) { act(); e.preventDefault(); }
  }, true);
  // A proposal's points can be moved without the line tool: it is chosen as soon as there are some.
  say("looking at the month before …");
  fetch("/photo/" + sha + "/parts").then(function (r) { return r.json(); }).then(function (j) {
    data = j;
    data.proposals = j.proposals || [];
    data.lines = j.lines || [];
    history = [data.lines];
    now = 0;
    options();
    newKind.textContent = "";
    j.kinds.forEach(function (k) { newKind.appendChild(el("option", "", k)); });
    newKind.value = "spike";
    if (!data.parts.length) { choose.value = "+"; }
    toggleNew();
    suggest();
    usualFor();
    showCounts();
    say(j.trouble ? j.trouble + "." : j.hint || "", !!j.trouble);
    button.disabled = !!j.trouble;
    next();
    if (data.proposals[current]) { start(); }
    box.dataset.ready = "yes";
  }).catch(function (e) { say(e.message, true); });
})();
