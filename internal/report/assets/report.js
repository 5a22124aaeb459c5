// Beside the words of a point of a chart stands the photo of that day. The charts' own script comes before this one.
(function () {
  "use strict";
  document.querySelectorAll("figure.chartbox").forEach(function (box) {
    var view = box.closest(".view"), out = box.querySelector(".readout");
    if (!view || !out) { return; }
    box.addEventListener("chartpoint", function (e) {
      var day = e.detail.split(":")[0];
      var img = Array.prototype.find.call(view.querySelectorAll("img.thumb"), function (m) {
        return m.alt.slice(-day.length - 3) === "on " + day;
      });
      if (img) { out.appendChild(Object.assign(document.createElement("img"), { src: img.src, alt: "", className: "peek" })); }
    });
  });
  // Paper cannot unfold: open what is folded before printing, but what need not be printed, and fold it again afterwards.
  var folded = [];
  window.addEventListener("beforeprint", function () {
    folded = Array.prototype.filter.call(document.querySelectorAll("details:not(.sessions):not(.prints-not)"), function (d) { return !d.open; });
    folded.forEach(function (d) { d.open = true; });
  });
  window.addEventListener("afterprint", function () { folded.forEach(function (d) { d.open = false; }); });
})();
