// Two photos over each other, each laid by its homography into one plane in mm; a slider parts them.
(function () {
  "use strict";
  var box = document.getElementById("slider"), cut = document.getElementById("cut");
  if (!box || !cut) { return; }
  var b = JSON.parse(box.dataset.box), wide = b[2] - b[0], high = b[3] - b[1];
  var imgs = Array.from(box.querySelectorAll("img")), bar = box.querySelector(".bar"), ruler = box.querySelector(".ruler");
  var layers = imgs.map(function (img) {
    var l = document.createElement("div");
    l.className = "layer";
    box.insertBefore(l, box.querySelector(".cap"));
    l.appendChild(img);
    return l;
  });
  function lay() {
    var w = box.clientWidth, s = Math.min(w / wide, window.innerHeight * 0.7 / high), left = (w - wide * s) / 2;
    box.style.height = high * s + "px";
    imgs.forEach(function (img) {
      var h = JSON.parse(img.dataset.lay), m = [];
      // px of the picture -> mm -> px of the screen; the matrix of CSS goes down its columns. Pixel centres are at whole
      // numbers in the homography and at halves in CSS.
      for (var k = 0; k < 3; k++) {
        m[k] = s * (h[k] - b[0] * h[6 + k]) + left * h[6 + k];
        m[3 + k] = s * (h[3 + k] - b[1] * h[6 + k]);
        m[6 + k] = h[6 + k];
      }
      for (k = 0; k < 9; k += 3) { m[k + 2] -= 0.5 * (m[k] + m[k + 1]); }
      var n = m[8];
      m = m.map(function (v) { return v / n; });
      img.style.transform = "matrix3d(" + [m[0], m[3], 0, m[6], m[1], m[4], 0, m[7], 0, 0, 1, 0, m[2], m[5], 0, m[8]].join(",") + ")";
    });
    var mm = [10, 20, 50, 100].filter(function (v) { return v * s < w * 0.35; }).pop() || 10;
    ruler.style.width = mm * s + "px";
    ruler.textContent = "";
    ruler.appendChild(Object.assign(document.createElement("span"), { textContent: mm / 10 + " cm" }));
    box.classList.add("laid");
    part();
  }
  function part() {
    var v = +cut.value;
    layers[1].style.clipPath = "inset(0 0 0 " + v + "%)";
    bar.style.left = v + "%";
    cut.setAttribute("aria-valuetext", v + " % left photo");
  }
  cut.addEventListener("input", part);
  function drag(e) {
    if (!e.buttons && e.type === "pointermove") { return; }
    var r = box.getBoundingClientRect();
    cut.value = String(Math.max(0, Math.min(100, 100 * (e.clientX - r.left) / r.width)));
    part();
  }
  box.addEventListener("pointerdown", function (e) { box.setPointerCapture(e.pointerId); drag(e); });
  box.addEventListener("pointermove", drag);
  window.addEventListener("resize", lay);
  lay();
})();
