// Areas drawn on the photo: leave out, keep, erase; undo and redo. Every change is saved and the photo measured again;
// the numbers follow. Corners are kept relative to the photo, 0 to 1.
(function () {
  "use strict";
  var view = window.deskView, list = document.getElementById("marklist");
  if (!view || !list) { return; }
  var W = view.W, H = view.H, pane = document.getElementById("pane"), token = document.body.dataset.token;
  var marks = view.data.marks || [], history = [marks], now = 0;
  var what = "", corners = [], stroke = null, cross = { x: W / 2, y: H / 2 }, byKeys = false;
  var words = { leave_out: "Left out", keep: "Kept" };

  function px(ring) { return ring.map(function (p) { return (p[0] * W).toFixed(1) + "," + (p[1] * H).toFixed(1); }).join(" "); }
  function show() {
    view.marks.textContent = "";
    list.textContent = "";
    marks.forEach(function (m, i) {
      var shape = view.make("path", { "class": "m " + m.what, "fill-rule": "evenodd", d: m.rings.map(function (r) { return "M" + px(r) + "Z"; }).join("") }, view.marks);
      var li = document.createElement("li"), b = document.createElement("button");
      li.textContent = words[m.what] + (m.who ? ", by " + m.who : "") + (m.note ? " (" + m.note + ")" : "") + " ";
      b.type = "button";
      b.textContent = "Remove";
      b.setAttribute("aria-label", "Remove " + words[m.what].toLowerCase() + " " + (i + 1));
      b.addEventListener("click", function () { set(marks.filter(function (_, k) { return k !== i; })); pane.focus(); });
      li.className = "inline-remove";
      li.addEventListener("mouseenter", function () { shape.classList.add("hot"); });
      li.addEventListener("mouseleave", function () { shape.classList.remove("hot"); });
      li.appendChild(b);
      list.appendChild(li);
    });
    document.getElementById("nomarks").hidden = marks.length > 0;
    var copy = document.getElementById("copymarks");
    if (copy) { copy.hidden = !marks.length; }
    document.getElementById("undo").disabled = now === 0;
    document.getElementById("redo").disabled = now === history.length - 1;
  }
  function pen() {
    view.pen.textContent = "";
    var pts = stroke || corners;
    if (pts.length) {
      var at = pts.map(function (p) { return p.x + "," + p.y; }).join(" ");
      view.make("polyline", { "class": "crossunder", points: at }, view.pen);
      view.make("polyline", { "class": "cross", points: at }, view.pen);
      if (!stroke) { pts.forEach(function (p) { view.make("circle", { "class": "cross", cx: p.x, cy: p.y, r: 4 * view.unit() }, view.pen); }); }
    }
    if (byKeys && what) {
      var u = 14 * view.unit(), d = "M" + (cross.x - u) + " " + cross.y + "h" + 2 * u + "M" + cross.x + " " + (cross.y - u) + "v" + 2 * u;
      view.make("path", { "class": "crossunder", d: d }, view.pen);
      view.make("path", { "class": "cross", d: d }, view.pen);
    }
  }
  function inside(p) { return { x: Math.max(0, Math.min(W, p.x)), y: Math.max(0, Math.min(H, p.y)) }; }

  // thin drops the points of a drawn line that lie nearer than e to the line without them (Douglas and Peucker 1973).
  function thin(pts, e) {
    if (pts.length < 3) { return pts; }
    var a = pts[0], b = pts[pts.length - 1], far = 0, at = 0, l = Math.hypot(b.x - a.x, b.y - a.y) || 1;
    for (var i = 1; i < pts.length - 1; i++) {
      var d = l === 1 ? Math.hypot(pts[i].x - a.x, pts[i].y - a.y) : Math.abs((b.x - a.x) * (a.y - pts[i].y) - (a.x - pts[i].x) * (b.y - a.y)) / l;
      if (d > far) { far = d; at = i; }
    }
    if (far <= e) { return [a, b]; }
    return thin(pts.slice(0, at + 1), e).slice(0, -1).concat(thin(pts.slice(at), e));
  }
  function close(pts) {
    corners = [];
    stroke = null;
    pen();
    var ring = pts.map(inside).map(function (p) { return [p.x / W, p.y / H]; }), area = 0;
    ring.forEach(function (p, i) { var q = ring[(i + 1) % ring.length]; area += p[0] * q[1] - q[0] * p[1]; });
    if (ring.length < 3 || Math.abs(area) < 2e-6) { return; }
    ring.push(ring[0]);
    set(marks.concat([{ what: what, who: "", when: "", note: "", rings: [ring] }]));
  }
  function hit(p) {
    for (var i = marks.length - 1; i >= 0; i--) {
      var r = marks[i].rings[0], odd = false;
      for (var k = 0, j = r.length - 1; k < r.length; j = k++) {
        var a = r[k], b = r[j], x = p.x / W, y = p.y / H;
        if ((a[1] > y) !== (b[1] > y) && x < (b[0] - a[0]) * (y - a[1]) / (b[1] - a[1]) + a[0]) { odd = !odd; }
      }
      if (odd) { return i; }
    }
    return -1;
  }
  function erase(p) {
    var i = hit(p);
    if (i >= 0) { set(marks.filter(function (_, k) { return k !== i; })); }
  }
  function corner(p) {
    p = inside(p);
    if (corners.length > 2 && Math.hypot(p.x - corners[0].x, p.y - corners[0].y) < 10 * view.unit()) { close(corners); return; }
    corners.push(p);
    pen();
  }
  var tool = {
    down: function (p) { byKeys = false; if (what !== "erase" && !corners.length) { stroke = [inside(p)]; } },
    move: function (p) {
      if (!stroke) { return; }
      var l = stroke[stroke.length - 1];
      p = inside(p);
      if (Math.hypot(p.x - l.x, p.y - l.y) > 2 * view.unit()) { stroke.push(p); pen(); }
    },
    up: function (p) {
      if (what === "erase") { erase(p); return; }
      if (!stroke) { corner(p); return; }
      var s = stroke, far = s.reduce(function (m, q) { return Math.max(m, Math.hypot(q.x - s[0].x, q.y - s[0].y)); }, 0);
      stroke = null;
      if (far < 8 * view.unit()) { corner(p); return; }
      close(thin(s, 0.8 * view.unit()));
    },
    cancelStroke: function () { stroke = null; pen(); },
    key: function (e) {
      var s = (e.shiftKey ? 2 : 14) * view.unit(), m = { ArrowLeft: [-s, 0], ArrowRight: [s, 0], ArrowUp: [0, -s], ArrowDown: [0, s] }[e.key];
      if (m) {
        byKeys = true;
        cross = inside({ x: cross.x + m[0], y: cross.y + m[1] });
        view.see(cross);
        pen();
        return true;
      }
      switch (e.key) {
        case "Enter": case " ":
          byKeys = true;
          if (what === "erase") { erase(cross); } else { corner(cross); }
          return true;
        case "c": case "C": close(corners); return true;
        case "Backspace": corners.pop(); pen(); return true;
        case "Escape": if (!corners.length) { choose("look"); } corners = []; stroke = null; pen(); return true;
      }
      return false;
    }
  };
  function choose(t) {
    what = t === "look" ? "" : t;
    view.tool = what ? tool : null;
    corners = [];
    stroke = null;
    pane.classList.toggle("draws", !!what);
    document.querySelectorAll("[data-tool]").forEach(function (b) { b.setAttribute("aria-pressed", String(b.dataset.tool === t)); });
    pen();
  }
  document.querySelectorAll("[data-tool]").forEach(function (b) {
    b.addEventListener("click", function (e) { choose(b.dataset.tool); if (e.detail === 0) { byKeys = true; pane.focus(); pen(); } });
  });

  function set(next) {
    history = history.slice(0, now + 1).concat([next]);
    now = history.length - 1;
    marks = next;
    show();
    save();
  }
  // What is said of a place is an area like any other: it is saved, listed and taken back with the drawn ones.
  view.draw = function (mark) { set(marks.concat([mark])); };
  function step(by) {
    var to = now + by;
    if (to < 0 || to >= history.length) { return; }
    now = to;
    marks = history[now];
    show();
    save();
  }
  document.getElementById("undo").addEventListener("click", function () { step(-1); });
  document.getElementById("redo").addEventListener("click", function () { step(1); });
  document.addEventListener("keydown", function (e) {
    if (!(e.ctrlKey || e.metaKey) || /^(INPUT|SELECT|TEXTAREA)$/.test(e.target.tagName)) { return; }
    if (e.key === "z" && !e.shiftKey) { step(-1); e.preventDefault(); }
    if (e.key === "y" || e.key === "Z" || e.key === "z" && e.shiftKey) { step(1); e.preventDefault(); }
  });

  // One save at a time: what was drawn meanwhile goes out when the answer to the one before is there.
  var busy = document.getElementById("busy"), saving = false, again = false;
  function save() {
    if (saving) { again = true; return; }
    saving = true;
    busy.textContent = "measuring …";
    fetch("/photo/" + view.data.sha + "/marks", { method: "POST", headers: { "Content-Type": "application/json", "X-Desk-Token": token }, body: JSON.stringify({ marks: marks }) })
      .then(function (r) { return r.json().then(function (j) { if (!r.ok) { throw new Error(j.error + (j.hint ? ". " + j.hint : "")); } return j; }); })
      .then(function (j) { busy.textContent = ""; tell(j); })
      .catch(function (e) { busy.textContent = "Not saved: " + e.message; })
      .finally(function () { saving = false; if (again) { again = false; save(); } });
  }
  window.addEventListener("beforeunload", function (e) { if (saving) { e.preventDefault(); } });
  function el(name, cls, text) { return Object.assign(document.createElement(name), { className: cls || "", textContent: text || "" }); }
  // What the numbers were when the page was opened, before anything was drawn on it.
  var before = {};
  document.querySelectorAll("#numbers tr").forEach(function (tr) { before[tr.cells[0].textContent] = tr.cells[1].textContent; });
  function tell(j) {
    var state = document.querySelector("#state .state"), body = document.getElementById("numbers"), why = document.getElementById("reasons");
    state.className = "state " + j.status;
    state.textContent = ({ accepted: "✓ ", flagged: "! ", rejected: "× " }[j.status] || "") + j.status;
    body.textContent = "";
    (j.numbers || []).forEach(function (n) {
      var tr = el("tr", n.first ? "" : "minor"), th = el("th", "", n.title);
      th.scope = "row";
      th.title = n.means;
      var old = before[n.title], moved = old !== undefined && old !== n.text;
      tr.append(th, el("td", "n", n.text), el("td", "was", moved ? "was " + old : ""));
      tr.classList.toggle("fresh", moved);
      body.appendChild(tr);
    });
    why.textContent = "";
    (j.reasons || []).forEach(function (r) {
      var p = el("p", "why", r.text);
      p.append(document.createElement("br"), el("span", "hint", r.hint));
      why.appendChild(p);
    });
    view.outlines(j.outlines || []);
    view.plain(j.plain);
    if (view.asked) { view.asked(j.places || [], j.undecided); }
    var wall = document.getElementById("wallshown");
    if (wall && j.wall) { wall.src = j.wall; }
  }
  show();
})();
