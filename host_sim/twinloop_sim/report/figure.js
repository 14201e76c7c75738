// Draws the figure of a run. The data block holds packed numbers; all lines share one list of moments.
(function () {
  "use strict";
  var DAY_MS = 86400000;
  var data = JSON.parse(document.getElementById("figure-data").textContent);
  var place = document.getElementById("figure");
  // Moments are on the station's clock. Read and write them as UTC to keep the viewer's time zone out.
  var startMs = Date.parse(data.start + "Z");

  function unpack(packed) {
    var text = atob(packed.bdata), bytes = new Uint8Array(text.length);
    for (var k = 0; k < text.length; k++) { bytes[k] = text.charCodeAt(k); }
    return packed.dtype === "f8" ? new Float64Array(bytes.buffer) : new Uint16Array(bytes.buffer);
  }
  function stamp(seconds) { return new Date(startMs + 1000 * seconds).toISOString().slice(0, 23); }
  function stamps(packed) { return Array.from(unpack(packed), stamp); }

  var moments = stamps(data.t_s);
  var words = Array.from(unpack(data.word_of), function (code) { return data.words[code]; });
  data.traces.forEach(function (trace) {
    if (trace.type === "bar") {
      trace.base = stamps(trace.base_s);
      trace.x = Array.from(unpack(trace.length_s), function (seconds) { return 1000 * seconds; });
      trace.y = trace.base.map(function () { return trace.row; });
    } else {
      trace.x = moments;
    }
    if (trace.words) { trace.text = words; }
  });

  var wide = place.clientWidth >= 720;
  var layout = data.layout;
  // Wide: a legend beside each panel. Narrow: one legend below, no side titles, and a finger scrolls.
  function legend(more) { return Object.assign({ font: { size: 12 }, bgcolor: "rgba(255,255,255,0)" }, more); }
  function note(text, axis, y) {
    layout.annotations.push({
      text: text, xref: "paper", x: 0, xanchor: "left", yref: axis, y: y, yanchor: "bottom", showarrow: false, font: { size: 11 }
    });
  }
  if (wide) {
    layout.legend = legend({ x: 1.05, y: 1 });
    layout.legend2 = legend({ x: 1.05, y: 0.42 });
    layout.legend3 = legend({ x: 1.05, y: 0.22 });
  } else {
    place.style.height = "1040px";
    layout.dragmode = false;
    layout.margin = { l: 34, r: 24, t: 20, b: 40 };
    layout.legend = legend({ orientation: "h", x: 0, y: -0.07, yanchor: "top", entrywidth: 0.48, entrywidthmode: "fraction", font: { size: 10 } });
    data.traces.forEach(function (trace) {
      delete trace.legend;
      if (trace.type === "bar") { trace.width = 0.45; }
    });
    [["yaxis", "y domain"], ["yaxis2", "y2 domain"]].forEach(function (pair) {
      note(layout[pair[0]].title.text, pair[1], 1);
      layout[pair[0]].title = { text: "" };
    });
    layout.yaxis3.ticktext.forEach(function (text, row) { note(text, "y3", row + 0.2); });
    layout.yaxis3.showticklabels = false;
  }
  function whole() { return [stamp(0), stamp(data.end_s)]; }

  layout.xaxis.range = whole();
  Plotly.newPlot(place, data.traces, layout, {
    responsive: true, displaylogo: false, displayModeBar: wide, scrollZoom: false,
    modeBarButtonsToRemove: ["select2d", "lasso2d", "autoScale2d"]
  });

  function show(range) { Plotly.relayout(place, { "xaxis.range": range }); }
  function oneDay(step) {
    var shown = place.layout.xaxis.range.map(function (text) { return Date.parse(String(text).replace(" ", "T") + "Z"); });
    var from = shown[1] - shown[0] > 1.01 * DAY_MS ? startMs : shown[0] + step * DAY_MS;
    var last = startMs + 1000 * data.end_s - DAY_MS;
    from = Math.max(startMs, Math.min(from, last));
    show([new Date(from).toISOString().slice(0, 23), new Date(from + DAY_MS).toISOString().slice(0, 23)]);
  }
  function press(id, act) { document.getElementById(id).addEventListener("click", act); }
  press("whole-run", function () { show(whole()); });
  press("one-day", function () { oneDay(0); });
  press("day-before", function () { oneDay(-1); });
  press("day-after", function () { oneDay(1); });

  // Paper cannot unfold anything.
  window.addEventListener("beforeprint", function () {
    document.querySelectorAll("details").forEach(function (part) { part.open = true; });
  });
})();
