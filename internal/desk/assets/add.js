// Photos dropped on the page go to the inbox one by one; how the measuring goes on is asked for while it runs.
(function () {
  "use strict";
  var form = document.getElementById("drop"), token = document.body.dataset.token, files = document.getElementById("files"), folder = document.getElementById("folder");
  var line = document.getElementById("line"), bar = document.getElementById("bar"), list = document.getElementById("done"), refused = document.getElementById("refused");
  var queue = [], sending = false, sent = 0, known = 0, shown = -1, serial = -1, timer = 0;
  document.getElementById("send").hidden = true;

  function add(some) {
    queue = queue.concat(Array.from(some).filter(function (f) { return f.name[0] !== "."; }));
    if (!sending) { next(); }
  }
  function say(name, why) {
    var li = document.createElement("li");
    li.textContent = name + ": " + why;
    refused.appendChild(li);
  }
  function next() {
    var f = queue.shift();
    sending = !!f;
    if (!f) { watch(); return; }
    line.textContent = "Sending " + f.name + ", " + queue.length + " to go.";
    var body = new FormData();
    body.append("photos", f, f.name);
    fetch("/upload", { method: "POST", headers: { "X-Desk-Token": token, Accept: "application/json" }, body: body })
      .then(function (r) { return r.json(); })
      .then(function (j) {
        if (j.error) { say(f.name, j.error + (j.hint ? ". " + j.hint : "")); return; }
        j.forEach(function (u) {
          if (u.sort === "refused") { say(u.name, u.why + ". " + u.hint); } else if (u.sort === "known") { known++; } else { sent++; }
        });
        watch();
      })
      .catch(function (e) { say(f.name, String(e.message)); })
      .finally(next);
  }
  function watch() { if (!timer) { timer = setTimeout(ask, 60); } }
  function ask() {
    fetch("/progress", { headers: { Accept: "application/json" } }).then(function (r) { return r.json(); }).then(function (s) {
      timer = 0;
      tell(s);
      if (s.running || sending) { timer = setTimeout(ask, 350); }
    }).catch(function () { timer = setTimeout(ask, 1500); });
  }
  function tell(s) {
    bar.hidden = !s.running && !s.done;
    bar.max = Math.max(1, s.total);
    bar.value = s.done;
    if (!sending) {
      line.textContent = s.running ? "Measuring: " + s.done + " of " + s.total + "." :
        s.fault ? s.fault + (s.hint ? ". " + s.hint : "") :
        s.done ? "Done: " + s.done + " measured." : sent + known ? "Nothing new: these photos are known already." : "Nothing is being measured.";
    }
    document.getElementById("after").hidden = s.running || !s.done;
    if (s.serial === serial && s.photos.length === shown) { return; }
    serial = s.serial;
    shown = s.photos.length;
    list.textContent = "";
    s.photos.slice().reverse().forEach(function (p) {
      var li = document.createElement("li"), name = document.createElement(p.sha ? "a" : "span"), state = document.createElement("span");
      name.textContent = p.name;
      if (p.sha) { name.href = "/photo/" + p.sha; }
      state.className = "state " + p.status;
      state.textContent = ({ accepted: "✓ ", flagged: "! ", rejected: "× " }[p.status] || "") + p.status;
      li.append(name, " ", state, " ", p.what);
      (p.reasons || []).forEach(function (r) {
        var why = document.createElement("p"), hint = document.createElement("span");
        why.className = "why";
        why.textContent = r.text;
        hint.className = "hint";
        hint.textContent = r.hint;
        why.append(document.createElement("br"), hint);
        li.appendChild(why);
      });
      list.appendChild(li);
    });
  }
  [files, folder].forEach(function (f) { f.addEventListener("change", function () { add(f.files); f.value = ""; }); });
  form.addEventListener("submit", function (e) { e.preventDefault(); });
  ["dragover", "dragenter"].forEach(function (k) {
    document.addEventListener(k, function (e) { e.preventDefault(); form.classList.add("over"); });
  });
  document.addEventListener("dragleave", function (e) { if (!e.relatedTarget) { form.classList.remove("over"); } });
  document.addEventListener("drop", function (e) {
    e.preventDefault();
    form.classList.remove("over");
    if (e.dataTransfer) { add(e.dataTransfer.files); }
  });
  watch();
})();
