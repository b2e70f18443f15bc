/* The page of a run: read-out under the cursor, zoom, units, light and dark. Everything works on what the page holds; nothing
   is fetched. Where the chart library is not built in, the drawn chart stays and takes the cursor. */
"use strict";
(function () {
  const $ = (id) => document.getElementById(id);
  const data = JSON.parse($("data").textContent);
  const root = document.documentElement;
  const state = { row: data.time.length - 1, unit: data.unit, what: "", log: true };
  let chart = null;
  const all = {}; /* by index of the result, as the drawing names them */
  for (const c of data.chambers) all[c.index] = c.p;

  /* ---- numbers ---- */
  const factor = () => data.units[state.unit];
  function digits(value, n) {
    if (value === null || value === undefined || !isFinite(value)) return "–";
    if (value === 0) return "0";
    const size = Math.abs(value);
    if (size >= 0.01 && size < 1e5) {
      const text = value.toPrecision(n);
      return text.includes("e") ? String(Math.round(value)) : text;
    }
    return value.toExponential(n - 1).replace("e+", "e");
  }
  const pressure = (pascal, n) => digits(pascal === null ? null : pascal / factor(), n);
  function span(seconds) {
    const s = Math.abs(seconds);
    if (s === 0) return "0 s";
    if (s < 1) return digits(1e3 * s, 3) + " ms";
    if (s < 60) return digits(s, 3) + " s";
    const two = (n) => String(n).padStart(2, "0");
    const whole = Math.round(s);
    const both = (n, per, a, b) => Math.floor(n / per) + " " + a + (n % per ? " " + two(n % per) + " " + b : "");
    if (whole < 3600) return both(whole, 60, "min", "s");
    const minutes = Math.round(s / 60);
    if (minutes < 1440) return both(minutes, 60, "h", "min");
    return both(Math.round(s / 3600), 24, "d", "h");
  }

  /* ---- colours: the same scale as the drawing's (write_bench.c) ---- */
  const stops = data.colors;
  function color(pascal) {
    let d = pascal > 0 ? Math.log10(pascal) : stops[stops.length - 1][0];
    d = Math.min(stops[0][0], Math.max(stops[stops.length - 1][0], d));
    let i = 0;
    while (i + 2 < stops.length && d < stops[i + 1][0]) i++;
    const f = (stops[i][0] - d) / (stops[i][0] - stops[i + 1][0]);
    const mix = (k) => Math.round(stops[i][k] + f * (stops[i + 1][k] - stops[i][k]));
    return "rgb(" + mix(1) + "," + mix(2) + "," + mix(3) + ")";
  }
  const ink = (name) => getComputedStyle(root).getPropertyValue(name).trim();

  /* ---- what is drawn ---- */
  function series() {
    const chamber = data.chambers.find((c) => c.name === state.what);
    const list = [];
    if (!chamber) {
      data.chambers.forEach((c, i) => list.push({ name: c.name, value: c.p, tone: i % 7 }));
    } else {
      list.push({ name: chamber.name, value: chamber.p, tone: 6 });
      data.gases.forEach((g, i) => list.push({ name: g, value: chamber.gas[i], tone: i % 6 }));
    }
    return list;
  }

  /* ---- the read-out ---- */
  function fillRead() {
    const body = $("read-rows");
    body.textContent = "";
    const add = (name, text, tone) => {
      const row = body.insertRow(), a = row.insertCell(), b = row.insertCell();
      if (tone !== undefined) {
        const key = document.createElement("span");
        key.className = "key";
        key.style.borderColor = "var(--c" + tone + ")";
        key.style.borderTopStyle = ["solid", "dashed", "dotted"][Math.floor(body.rows.length / 4 - 0.01) % 3];
        a.append(key);
      }
      a.append(name);
      b.className = "n";
      b.textContent = text;
    };
    for (const s of series()) add(s.name, pressure(s.value[state.row], 4), s.tone);
    for (const g of data.gauges) add(g.name + " shows", pressure(g.p[state.row], 3));
    if (data.measured.length) {
      const time = data.time[state.row], last = data.measured[data.measured.length - 1];
      const near = data.measured.reduce((a, m) => Math.abs(m[0] - time) < Math.abs(a[0] - time) ? m : a);
      add("measured", time > 1.05 * last[0] ? "–" : pressure(near[1], 3));
    }
    $("read-time").textContent = span(data.time[state.row]);
    $("read-unit").textContent = state.unit;
  }
  function on(list, time) {
    let now = list.length ? list[0][1] : 1;
    for (const [t, is] of list) if (t <= time) now = is;
    return now;
  }
  function fillBench() {
    const at = (i) => all[i] ? all[i][state.row] : null;
    for (const g of document.querySelectorAll(".bench .vessel[data-p]")) {
      const p = at(g.dataset.p), light = p !== null && p < 0.1 && !g.classList.contains("junction");
      g.querySelector(".fill").setAttribute("fill", p === null ? "#ddd" : color(p));
      g.querySelector(".value").textContent = pressure(p, 3) + " " + state.unit;
      for (const t of g.querySelectorAll(".name,.value")) t.classList.toggle("light", light);
    }
    for (const g of document.querySelectorAll(".bench .way")) {
      const ends = [g.dataset.p, g.dataset.q].filter((i) => i !== undefined).map(at).filter((p) => p > 0);
      if (!ends.length) continue;
      const mean = Math.exp(ends.reduce((a, p) => a + Math.log(p), 0) / ends.length);
      for (const path of g.querySelectorAll(".pipe")) path.style.stroke = color(mean);
    }
    const time = data.time[state.row];
    for (const g of document.querySelectorAll(".bench [data-name]")) {
      const part = data.parts.find((x) => x.name === g.dataset.name);
      const is = part ? on(part.on, time) : 1;
      g.classList.toggle("on", !!is);
      g.classList.toggle("off", !is);
    }
    $("bench-time").textContent = span(time);
  }
  function setRow(row, from) {
    state.row = Math.max(0, Math.min(data.time.length - 1, row));
    const slider = $("slider");
    if (from !== "slider") slider.value = state.row;
    slider.setAttribute("aria-valuetext", span(data.time[state.row]) + ": " +
      data.chambers.map((c) => c.name + " " + pressure(c.p[state.row], 2)).join(", ") + " " + state.unit);
    fillRead();
    fillBench();
    drawCursor();
    if (chart && from !== "chart") {
      const t = data.time[state.row];
      const k = rows.findIndex((r) => r[0] === t);
      if (k >= 0) chart.setSelection(k); else chart.clearSelection();
    }
  }
  function nearest(time) {
    let best = 0;
    for (let i = 1; i < data.time.length; i++)
      if (Math.abs(data.time[i] - time) < Math.abs(data.time[best] - time)) best = i;
    return best;
  }

  /* ---- the drawn chart takes the cursor too ---- */
  const stills = [...document.querySelectorAll(".still svg.chart")].map((svg) => {
    const line = document.createElementNS("http://www.w3.org/2000/svg", "line");
    line.setAttribute("class", "cursor");
    svg.append(line);
    const f = svg.dataset.frame.split(" ").map(Number);
    const s = { svg, line, left: f[0], right: f[1], top: f[2], bottom: f[3], low: f[4], high: f[5], log: f[6] === 1 };
    svg.addEventListener("pointermove", (e) => {
      const box = svg.getBoundingClientRect();
      const x = (e.clientX - box.left) * svg.viewBox.baseVal.width / box.width;
      const part = Math.max(0, Math.min(1, (x - s.left) / (s.right - s.left)));
      setRow(nearest(s.log ? s.low * Math.pow(s.high / s.low, part) : s.low + part * (s.high - s.low)));
    });
    return s;
  });
  function drawCursor() {
    const t = data.time[state.row];
    for (const s of stills) {
      const part = s.log ? Math.log(Math.max(t, s.low) / s.low) / Math.log(s.high / s.low) : (t - s.low) / (s.high - s.low);
      const x = s.left + Math.max(0, Math.min(1, part)) * (s.right - s.left);
      for (const [k, v] of [["x1", x], ["x2", x], ["y1", s.top], ["y2", s.bottom]]) s.line.setAttribute(k, v);
    }
  }

  /* ---- the live chart ---- */
  let rows = [];
  function decades(low, high, px) {
    const ticks = [];
    const first = Math.floor(Math.log10(low) + 1e-9), last = Math.ceil(Math.log10(high) - 1e-9);
    const every = Math.max(1, Math.ceil((last - first) * 22 / px));
    for (let e = first; e <= last; e++) {
      ticks.push({ v: Math.pow(10, e), label: e % every === 0 ? (e > -3 && e < 4 ? String(+Math.pow(10, e).toPrecision(1)) : "1e" + e) : "" });
      if (last - first < 3) for (const k of [2, 5]) ticks.push({ v: k * Math.pow(10, e), label: digits(k * Math.pow(10, e), 1) });
    }
    for (const t of ticks) if (t.v < low * 1.2) t.label = ""; /* the first time stands there */
    return ticks.filter((t) => t.v >= low * 0.999 && t.v <= high * 1.001);
  }
  const known = [[1e-3, "1 ms"], [1e-2, "10 ms"], [0.1, "0.1 s"], [1, "1 s"], [10, "10 s"], [60, "1 min"], [600, "10 min"], [3600, "1 h"],
    [14400, "4 h"], [86400, "1 d"], [864000, "10 d"], [8640000, "100 d"]];
  const steps = [0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 30, 60, 120, 300, 600, 1800, 3600, 7200, 14400, 43200, 86400,
    172800, 432000, 864000, 8640000];
  function times(low, high, px) {
    const most = Math.max(2, Math.floor(px / 90));
    if (state.log && high / low > 30) {
      const ticks = known.filter((k) => k[0] >= low && k[0] <= high).map((k) => ({ v: k[0], label: k[1] }));
      for (let e = Math.floor(Math.log10(low)); Math.pow(10, e) <= high; e++)
        if (Math.pow(10, e) >= low && !ticks.some((t) => Math.abs(t.v / Math.pow(10, e) - 1) < 1e-6)) ticks.push({ v: Math.pow(10, e), label: "" });
      let before = -99;
      ticks.sort((a, b) => a.v - b.v);
      for (const t of ticks) {
        if (!t.label) continue;
        const x = px * Math.log(t.v / low) / Math.log(high / low);
        if (x - before < 54 || x < 18) t.label = ""; else before = x;
      }
      return ticks;
    }
    const step = steps.find((s) => (high - low) / s <= most) || steps[steps.length - 1];
    const ticks = [];
    for (let k = Math.ceil(low / step); k * step <= high; k++) ticks.push({ v: k * step, label: span(k * step) });
    return ticks;
  }
  function underlay(context, area, g) {
    const level = (value, tone, dash) => {
      const y = g.toDomYCoord(value / factor());
      if (!(y > area.y && y < area.y + area.h)) return;
      context.strokeStyle = ink(tone);
      context.setLineDash(dash);
      context.beginPath();
      context.moveTo(area.x, y);
      context.lineTo(area.x + area.w, y);
      context.stroke();
    };
    context.save();
    context.lineWidth = 1;
    const shown = (name) => state.what === "" || state.what === name;
    for (const t of data.targets) if (shown(t.chamber)) level(t.p, "--good", [8, 4]);
    for (const l of data.limits) if (l.max !== null && shown(l.watch)) level(l.max, l.broken ? "--bad" : "--warn", [3, 3]);
    context.fillStyle = context.strokeStyle = ink("--faint");
    context.setLineDash([1, 3]);
    context.font = "11px sans-serif";
    context.textAlign = "center";
    let taken = -99;
    const [from, to] = g.xAxisRange(), there = state.log ? Math.log : (x) => x;
    for (const e of data.events) {
      if (!e.n) continue;
      const x = area.x + area.w * (there(e.t) - there(from)) / (there(to) - there(from));
      if (!(x >= area.x && x <= area.x + area.w)) continue;
      context.beginPath();
      context.moveTo(x, area.y + 14);
      context.lineTo(x, area.y + area.h);
      context.stroke();
      if (x - taken > 16) {
        context.fillText(e.n, x, area.y + 11);
        taken = x;
      }
    }
    context.setLineDash([]);
    for (const [t, p] of data.measured) {
      const x = area.x + area.w * (there(t) - there(from)) / (there(to) - there(from)), y = g.toDomYCoord(p / factor());
      if (!(x >= area.x && x <= area.x + area.w && y >= area.y && y <= area.y + area.h)) continue;
      context.beginPath();
      context.arc(x, y, 2, 0, 7);
      context.stroke();
    }
    context.restore();
  }
  function build() {
    if (typeof Dygraph === "undefined") return;
    root.classList.add("has-live");
    const list = series(), f = factor();
    const low = data.low;
    rows = [];
    for (let i = 0; i < data.time.length; i++) {
      if (state.log && data.time[i] < low) continue;
      rows.push([data.time[i]].concat(list.map((s) => (s.value[i] > 0 ? s.value[i] / f : null))));
    }
    let least = Infinity, most = 0, top = Infinity;
    list.forEach((s, k) => rows.forEach((r) => {
      if (r[k + 1] === null) return;
      least = Math.min(least, r[k + 1]);
      most = Math.max(most, r[k + 1]);
      if (k === 0 || state.what === "") top = Math.min(top, r[k + 1]);
    }));
    least = Math.max(least, 1e-12 / f, state.what === "" ? 0 : 1e-4 * top);
    const range = [Math.pow(10, Math.floor(Math.log10(least) + 1e-6)), most * 1.6];
    const dashes = [null, [8, 3], [2, 3]], looks = {};
    list.forEach((s, k) => { looks[k + " " + s.name] = { strokePattern: dashes[Math.floor(k / 4) % 3] }; });
    if (chart) chart.destroy();
    chart = new Dygraph($("live"), rows, {
      labels: ["time"].concat(list.map((s, k) => k + " " + s.name)),
      colors: list.map((s) => ink("--c" + s.tone)), series: looks,
      strokeWidth: 2, logscale: true, legend: "never", connectSeparatedPoints: false, highlightCircleSize: 4,
      gridLineColor: ink("--grid"), axisLineColor: ink("--faint"), valueRange: range, xRangePad: 0, rightGap: 8,
      axes: {
        x: { logscale: state.log, ticker: (a, b, px) => times(a, b, px), axisLabelFormatter: (v) => v },
        y: { ticker: (a, b, px) => decades(Math.pow(10, Math.log10(a)), b, px), axisLabelWidth: 46 }
      },
      underlayCallback: underlay,
      highlightCallback: (event, x) => setRow(nearest(x), "chart")
    });
  }

  /* ---- switches ---- */
  function units() {
    for (const e of document.querySelectorAll("[data-pa]")) {
      if (e.dataset.first === undefined) e.dataset.first = e.textContent;
      e.textContent = state.unit === data.unit ? e.dataset.first : e.dataset.pa === "" ? "–" : digits(+e.dataset.pa / factor(), 3) + (e.dataset.alone === undefined ? " " + state.unit : "");
    }
    for (const e of document.querySelectorAll(".unit")) e.textContent = state.unit;
  }
  /* Pressures inside sentences become numbers that follow the unit too. */
  function mark(element) {
    const pattern = new RegExp("([0-9][0-9.]*(?:e[-+]?[0-9]+)?) " + data.unit + "(?![A-Za-z0-9/]| (?:m3|s|m|L)\\b)", "g");
    const walk = document.createTreeWalker(element, NodeFilter.SHOW_TEXT);
    const texts = [];
    while (walk.nextNode()) texts.push(walk.currentNode);
    for (const t of texts) {
      const parts = t.data.split(pattern);
      if (parts.length < 3) continue;
      const all = document.createDocumentFragment();
      parts.forEach((part, i) => {
        if (i % 2 === 0) return all.append(part);
        const span = document.createElement("span");
        span.dataset.pa = +part * data.units[data.unit];
        span.textContent = part + " " + data.unit;
        span.style.whiteSpace = "nowrap";
        all.append(span);
      });
      t.replaceWith(all);
    }
  }
  function setTheme(name) {
    if (name === "auto") root.removeAttribute("data-theme"); else root.dataset.theme = name;
    build();
    setRow(state.row);
  }
  for (const e of document.querySelectorAll(".prose")) mark(e);
  $("unit").addEventListener("change", (e) => { state.unit = e.target.value; units(); build(); setRow(state.row); });
  $("theme").addEventListener("change", (e) => setTheme(e.target.value));
  $("what").addEventListener("change", (e) => { state.what = e.target.value; build(); setRow(state.row); });
  for (const [id, log] of [["by-decades", true], ["even", false]])
    $(id).addEventListener("click", () => {
      state.log = log;
      $("by-decades").setAttribute("aria-pressed", log);
      $("even").setAttribute("aria-pressed", !log);
      build();
      setRow(state.row);
    });
  $("zoom-in").addEventListener("click", () => zoom(0.5));
  $("zoom-out").addEventListener("click", () => zoom(2));
  $("whole").addEventListener("click", () => { if (chart) chart.resetZoom(); });
  /* about the cursor */
  function zoom(by) {
    if (!chart) return;
    const [a, b] = chart.xAxisRange(), [first, last] = chart.xAxisExtremes();
    const there = state.log ? Math.log : (x) => x, back = state.log ? Math.exp : (x) => x;
    const half = (there(b) - there(a)) / 2 * by, t = Math.min(Math.max(data.time[state.row], a), b);
    const middle = there(state.log ? Math.max(t, first) : t);
    chart.updateOptions({ dateWindow: [Math.max(first, back(middle - half)), Math.min(last, back(middle + half))] });
  }
  const slider = $("slider");
  slider.max = data.time.length - 1;
  slider.addEventListener("input", () => setRow(+slider.value, "slider"));
  for (const b of document.querySelectorAll("button[data-time]"))
    b.addEventListener("click", () => { setRow(nearest(+b.dataset.time)); $("curves").scrollIntoView({ block: "nearest" }); });
  $("save").addEventListener("click", () => {
    const link = document.createElement("a");
    link.href = URL.createObjectURL(new Blob([$("description").textContent], { type: "application/json" }));
    link.download = "description.json";
    link.click();
    URL.revokeObjectURL(link.href);
  });
  matchMedia("(prefers-color-scheme:dark)").addEventListener("change", () => setTheme($("theme").value));
  for (const e of document.querySelectorAll(".only-script")) e.hidden = false;
  if (typeof Dygraph === "undefined")
    for (const e of document.querySelectorAll(".only-live")) e.hidden = true;
  units();
  build();
  setRow(state.row);
  window.rarefyPage = { state, data, setRow, span, chart: () => chart };
})();
