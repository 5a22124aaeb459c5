// Places of which the program is not sure: numbered on the photo and listed beside it. A click on a place, or its entry,
// chooses it; its buttons, or the keys L and N (R and N for roots), say what it is. The answer is an area like a drawn one. Of a root photo the
// places are stretches of root, and every other root can be clicked, too.
(function () {
  "use strict";
  var view = window.deskView, box = document.getElementById("places");
  if (!view || !box || !view.draw) { return; }
  var W = view.W, H = view.H, pane = document.getElementById("pane"), list = document.getElementById("placelist"), say = document.getElementById("placesay");
  var part = box.dataset.view === "root" ? "root" : "leaf", words = { keep: part, leave_out: "not " + part };
  var keepKey = part === "root" ? "R" : "L", layer = view.make("g", {}), places = [], now = -1;
  view.marks.parentNode.insertBefore(layer, view.marks);

  function el(name, cls, text) { return Object.assign(document.createElement(name), { className: cls || "", textContent: text || "" }); }
  function capital(s) { return s.charAt(0).toUpperCase() + s.slice(1); }
  function px(r) { return "M" + r.map(function (q) { return (q[0] * W).toFixed(1) + "," + (q[1] * H).toFixed(1); }).join(" ") + "Z"; }
  function button(text, cls, label, act) {
    var b = el("button", cls, text);
    b.type = "button";
    b.setAttribute("aria-label", label);
    b.addEventListener("click", act);
    return b;
  }
  function show() {
    list.textContent = layer.textContent = "";
    places.forEach(function (p, i) {
      var name = "Place " + (i + 1), g = view.make("g", { "class": "pn" }, layer), at = "translate(" + (p.at[0] * W).toFixed(1) + " " + (p.at[1] * H).toFixed(1) + ")";
      if (p.line) { view.make("path", { "class": "pl", d: px(p.line).slice(0, -1) }, g); } else { view.make("path", { "class": "pf", "fill-rule": "evenodd", d: p.rings.map(px).join("") }, g); }
      view.make("circle", { transform: at }, g);
      view.make("text", { transform: at }, g).textContent = i + 1;
      var li = el("li"), head = el("p", "", name + (p.size ? ": " + p.size : "") + ", " + part + "?");
      li.append(head);
      li.append(button(capital(words.keep), "quietbutton", name + ": " + words.keep, function () { answer(i, "keep"); }),
        button(capital(words.leave_out), "quietbutton", name + ": " + words.leave_out, function () { answer(i, "leave_out"); }));
      if (p.was) {
        li.append(el("p", "aside", (p.was.when ? "On the photo of " + p.was.when : "On an earlier photo") + " you said: " + words[p.was.what] + "."),
          button("The same again", "", name + ": " + words[p.was.what] + ", as before", function () { answer(i, p.was.what, p.was.note); }));
      }
      li.addEventListener("focusin", function () { choose(i); });
      li.addEventListener("click", function () { choose(i); });
      list.append(li);
    });
    choose(Math.min(now, places.length - 1));
  }
  function choose(i) {
    now = i;
    Array.from(list.children).forEach(function (li, k) { li.classList.toggle("now", k === i); });
    Array.from(layer.children).forEach(function (g, k) { g.classList.toggle("now", k === i); });
    if (i >= 0 && places[i]) { view.see({ x: places[i].at[0] * W, y: places[i].at[1] * H }); }
  }
  function tell(open) {
        var any = part === "root" ? " Any other root can be clicked, too." : "";
    say.textContent = places.length ? "Numbered on the photo. Click a place, then say what it is: " + keepKey + " for " + words.keep + ", N for " + words.leave_out + "." + any
      : !open ? (any ? "Nothing to ask." + any : "All is decided.") : "No single place is large enough to ask about. Where the outline is wrong, draw with Keep or Leave out." + any;
  }
  function answer(i, what, note) {
    var p = places[i], onPane = document.activeElement === pane;
    if (!p) { return; }
    places = places.filter(function (_, k) { return k !== i; }); // the answer to the saving says what is still asked
    show();
    say.textContent = "";
    var next = list.children[Math.min(i, places.length - 1)];
    if (next && onPane) { choose(Math.min(i, places.length - 1)); } else if (next) { next.querySelector("button").focus({ preventScroll: true }); } else { box.focus({ preventScroll: true }); }
    view.draw({ what: what, who: "", when: "", note: note || "asked: " + words[what], rings: p.rings });
  }
  function inside(p, x, y) {
    var odd = false;
    p.rings.forEach(function (r) {
      for (var k = 1; k < r.length; k++) {
        var a = r[k - 1], b = r[k];
        if ((a[1] > y) !== (b[1] > y) && x < (b[0] - a[0]) * (y - a[1]) / (b[1] - a[1]) + a[0]) { odd = !odd; }
      }
    });
    return odd;
  }
  // How far a click lies from a line, px of the photo, and where on it the nearest point is.
  function nearest(line, at) {
    var best = { d: Infinity };
    for (var k = 1; k < line.length; k++) {
      var ax = line[k - 1][0] * W, ay = line[k - 1][1] * H, dx = line[k][0] * W - ax, dy = line[k][1] * H - ay, n = dx * dx + dy * dy;
      var t = n ? Math.max(0, Math.min(1, ((at.x - ax) * dx + (at.y - ay) * dy) / n)) : 0, x = ax + t * dx, y = ay + t * dy, d = Math.hypot(at.x - x, at.y - y);
      if (d < best.d) { best = { d: d, x: x, y: y }; }
    }
    return best;
  }
  // A root that was not asked about: a click on it asks.
  function other(at, r) {
    var best = { d: r }, line;
    (view.shown || []).forEach(function (o) {
      if (o.kind !== "root" && o.kind !== "root_old" || !o.points || o.points.length < 2) { return; }
      var l = o.points.map(function (q) { return [(q.x + .5) / W, (q.y + .5) / H]; }), b = nearest(l, at);
      if (b.d < best.d) { best = b; line = l; }
    });
    if (!line) { return -1; }
    var e = .002 * W, x = Math.min(W - 1 - e, Math.max(e, best.x)), y = Math.min(H - 1 - e, Math.max(e, best.y));
    var dot = [[x - e, y - e], [x + e, y - e], [x + e, y + e], [x - e, y + e], [x - e, y - e]].map(function (q) { return [+(q[0] / W).toFixed(6), +(q[1] / H).toFixed(6)]; });
    places = places.filter(function (p) { return !p.clicked; });
    places.push({ line: line, rings: [dot], at: [x / W, y / H], size: "", clicked: true });
    show();
    return places.length - 1;
  }
  // A click on a place, or on its number, chooses it.
  view.tap = function (at) {
    var r = 14 * view.unit(), hit = places.findIndex(function (p) { return Math.hypot(p.at[0] * W - at.x, p.at[1] * H - at.y) < r; });
    if (hit < 0) { hit = places.findIndex(function (p) { return p.line && !p.clicked ? nearest(p.line, at).d < r : !p.line && inside(p, at.x / W, at.y / H); }); }
    if (hit < 0 && part === "root") { hit = other(at, r); }
    if (hit < 0) { return; }
    box.hidden = false;
    choose(hit);
    var li = list.children[hit];
    li.scrollIntoView({ block: "nearest" });
    li.querySelector("button").focus({ preventScroll: true });
  };
  function key(e) {
    var k = e.key.toLowerCase(), what = k === keepKey.toLowerCase() ? "keep" : k === "n" ? "leave_out" : "";
    if (!what || e.ctrlKey || e.metaKey || e.altKey || view.tool || now < 0) { return; }
    e.preventDefault();
    answer(now, what);
  }
  pane.addEventListener("keydown", key);
  box.addEventListener("keydown", key);
  document.getElementById("layers").addEventListener("change", function (e) {
    if (e.target.dataset.layer === (part === "root" ? "root_doubt" : "unsure")) { layer.setAttribute("display", e.target.checked ? "inline" : "none"); }
  });
  view.asked = function (next, open) {
    var held = box.contains(document.activeElement);
    places = next;
    show();
    tell(open);
    if (places.length || open) { box.hidden = false; }
    if (held) { (list.querySelector("li.now button") || list.querySelector("button") || box).focus({ preventScroll: true }); }
  };
  places = view.data.places || [];
  show();
  tell(view.data.undecided);
})();
