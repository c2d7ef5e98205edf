// Sorting of tables, zoom and values on the map. The report reads without it.
(function () {
  "use strict";
  document.querySelectorAll("table.sortable").forEach(function (table) {
    table.querySelectorAll("thead th").forEach(function (th, column) {
      var text = th.textContent, button = document.createElement("button");
      button.type = "button";
      button.textContent = text;
      th.textContent = "";
      th.appendChild(button);
      button.addEventListener("click", function () {
        var down = th.getAttribute("aria-sort") === "ascending";
        table.querySelectorAll("thead th").forEach(function (o) { o.removeAttribute("aria-sort"); });
        th.setAttribute("aria-sort", down ? "descending" : "ascending");
        var body = table.tBodies[0], rows = Array.prototype.slice.call(body.rows);
        var key = function (row) {
          var cell = row.cells[column], v = cell.getAttribute("data-v");
          return v !== null && v !== "" ? parseFloat(v) : cell.classList.contains("n") ? NaN : cell.textContent;
        };
        rows.sort(function (a, b) {
          var x = key(a), y = key(b);
          if (typeof x === "number" && typeof y === "number") {
            if (isNaN(x) || isNaN(y)) { return (isNaN(x) ? 1 : 0) - (isNaN(y) ? 1 : 0); }
            return down ? y - x : x - y;
          }
          var c = String(x).localeCompare(String(y), undefined, { numeric: true });
          return down ? -c : c;
        });
        rows.forEach(function (r) { body.appendChild(r); });
      });
    });
  });

  var hint = function () {
    document.querySelectorAll(".scroll").forEach(function (e) { e.classList.toggle("more", e.scrollWidth > e.clientWidth + 1); });
  };
  hint();
  window.addEventListener("resize", hint);

  var svg = document.getElementById("map"), data = document.getElementById("map-data");
  if (!svg || !data) { return; }
  var m = JSON.parse(data.textContent), out = document.getElementById("map-value");
  var full = svg.getAttribute("viewBox").split(" ").map(Number), view = full.slice();
  document.querySelectorAll(".tools[hidden]").forEach(function (e) { e.hidden = false; });
  var show = function () { svg.setAttribute("viewBox", view.join(" ")); };
  var zoom = function (factor, cx, cy) {
    var w = Math.min(full[2], Math.max(full[2] / 64, view[2] * factor)), h = w * full[3] / full[2], k = w / view[2];
    view = [cx - (cx - view[0]) * k, cy - (cy - view[1]) * k, w, h];
    clamp();
  };
  var clamp = function () {
    view[0] = Math.min(Math.max(view[0], full[0]), full[0] + full[2] - view[2]);
    view[1] = Math.min(Math.max(view[1], full[1]), full[1] + full[3] - view[3]);
    show();
  };
  var at = function (e) {
    var r = svg.getBoundingClientRect();
    return [view[0] + (e.clientX - r.left) / r.width * view[2], view[1] + (e.clientY - r.top) / r.height * view[3]];
  };
  svg.addEventListener("wheel", function (e) {
    if (!e.ctrlKey && !svg.contains(document.activeElement) && !svg.hasAttribute("data-on")) { return; }
    e.preventDefault();
    var p = at(e);
    zoom(e.deltaY < 0 ? 0.8 : 1.25, p[0], p[1]);
  }, { passive: false });
  var from = null;
  svg.addEventListener("pointerdown", function (e) { from = at(e); svg.setAttribute("data-on", ""); svg.setPointerCapture(e.pointerId); });
  svg.addEventListener("pointerup", function () { from = null; });
  svg.addEventListener("pointercancel", function () { from = null; });
  svg.addEventListener("pointerleave", function () { svg.removeAttribute("data-on"); out.textContent = ""; });
  var values = null, pale = null;
  var bytes = function (text) {
    var s = atob(text), b = new Uint8Array(s.length);
    for (var i = 0; i < s.length; i++) { b[i] = s.charCodeAt(i); }
    return b;
  };
  var load = function () { values = new DataView(bytes(m.values).buffer); pale = bytes(m.pale); };
  svg.addEventListener("pointermove", function (e) {
    var p = at(e);
    if (from && view[2] < full[2]) { view[0] += from[0] - p[0]; view[1] += from[1] - p[1]; clamp(); return; }
    var east = m.west + (p[0] - m.x0) / m.scale, north = m.north - p[1] / m.scale;
    var c = Math.floor((east - m.e0) / m.cell), r = Math.floor((north - m.n0) / m.cell), text = "no value";
    if (c >= 0 && r >= 0 && c < m.cols && r < m.rows) {
      if (!values) { load(); }
      var k = r * m.cols + c, v = values.getInt16(2 * k, true);
      if (v !== -32768) {
        text = (v / 1000).toFixed(3) + " m" + (m.foot ? " (" + (v / 1000 / m.footM).toFixed(3) + " " + m.foot + ")" : "") + (pale[k >> 3] & (1 << (k & 7)) ? ", not compared" : "");
      }
    }
    out.textContent = "E " + (east / m.unitM).toFixed(1) + ", N " + (north / m.unitM).toFixed(1) + " " + m.unit + ": separation " + text;
  });
  document.getElementById("map-in").addEventListener("click", function () { zoom(0.5, view[0] + view[2] / 2, view[1] + view[3] / 2); });
  document.getElementById("map-out").addEventListener("click", function () { zoom(2, view[0] + view[2] / 2, view[1] + view[3] / 2); });
  document.getElementById("map-all").addEventListener("click", function () { view = full.slice(); show(); });
  document.querySelectorAll("[data-layer]").forEach(function (box) {
    box.addEventListener("change", function () {
      svg.querySelectorAll("." + box.getAttribute("data-layer")).forEach(function (e) { e.style.display = box.checked ? "" : "none"; });
    });
  });
})();
