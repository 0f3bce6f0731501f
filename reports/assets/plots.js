"use strict";
/* Draws every plot of a page from the JSON the page carries. Nothing here computes results: it unpacks, thins to what
   the screen can show, links the time axes, and leads from a row of the event table to the plots and back. */
(() => {
  const source = document.getElementById("plots");
  if (!source || !window.Plotly) return;
  const page = JSON.parse(source.textContent);
  const words = JSON.parse(document.getElementById("words").textContent);
  const tell = (key, values) => words[key].replace(/\{(\w+)\}/g, (_, name) => values[name]);
  const mark = words.separators[0];
  const fixed = (v, digits) => v.toFixed(digits).replace(/^-(?=[0.]*$)/, "").replace("-", "−").replace(".", mark);
  const root = document.documentElement;
  const narrow = () => !printing && window.innerWidth < 640;
  const coarse = window.matchMedia("(pointer: coarse)").matches;
  const dark = window.matchMedia("(prefers-color-scheme: dark)");
  const calm = window.matchMedia("(prefers-reduced-motion: reduce)").matches;
  let printing = false;

  /* ---- colours: Okabe and Ito's set, its yellow left out, lightened or darkened for contrast with the paper ---- */
  const LIGHT = {c: ["#0067a3", "#b84a00", "#005640", "#a8467c", "#8a5a00", "#2b7fb0", "#000000", "#6b6b6b"],
    ink: "#23282c", soft: "#5b646b", grid: "#e2e0da", paper: "rgba(0,0,0,0)", band: ["#8b949a", "#0067a3", "#b87700", "#b23a00"],
    phase: ["rgba(60,70,80,0.00)", "rgba(60,70,80,0.055)"], card: "#ffffff", air: "rgba(11,92,115,0.10)"};
  const DARK = {c: ["#56b4e9", "#f0883e", "#93e6cb", "#dd9bc2", "#e6b23c", "#9cc9ea", "#f2f2f2", "#a9b0b6"],
    ink: "#e6e8ea", soft: "#a9b3ba", grid: "#343b41", paper: "rgba(0,0,0,0)", band: ["#8b949a", "#56b4e9", "#e6b23c", "#f0883e"],
    phase: ["rgba(220,230,240,0.00)", "rgba(220,230,240,0.06)"], card: "#1d2327", air: "rgba(120,200,220,0.13)"};
  const DASH = ["solid", "dash", "dot", "dashdot"];
  const SYMBOL = ["circle-open", "diamond-open", "triangle-up", "square"];
  const theme = () => (dark.matches && !printing ? DARK : LIGHT);

  /* ---- unpacking ---- */
  const bytes = (text) => Uint8Array.from(atob(text), (ch) => ch.charCodeAt(0)).buffer;
  const unpack = (p) => {
    if (Array.isArray(p) || !p) return p;
    if (p.q === "t2") {
      const steps = new Uint16Array(bytes(p.b)), out = new Float64Array(steps.length);
      for (let i = 0, sum = 0; i < steps.length; i++) { sum += steps[i]; out[i] = p.o + p.s * sum; }
      return out;
    }
    if (p.q === "i2") {
      const codes = new Int16Array(bytes(p.b)), out = new Float64Array(codes.length);
      for (let i = 0; i < codes.length; i++) out[i] = codes[i] === -32768 ? NaN : p.o + p.s * codes[i];
      return out;
    }
    return p;
  };
  /* Curves of one sensor share their times: a number stands for one of the page's axes. */
  const axes = [];
  const times = (t) => (typeof t === "number" ? axes[t] || (axes[t] = unpack(page.times[t])) : unpack(t));
  const deep = (node) => {
    if (Array.isArray(node)) return node.map(deep);
    if (node && typeof node === "object") {
      if (typeof node.q === "string" && typeof node.b === "string") return Array.from(unpack(node), (v) => (Number.isNaN(v) ? null : v));
      return Object.fromEntries(Object.entries(node).map(([k, v]) => [k, deep(v)]));
    }
    if (typeof node === "string" && node[0] === "@") {
      const t = theme(), m = /^@([cf])(\d)$/.exec(node);  // @f3: colour 3 as a faint filling
      return m ? t.c[Number(m[2]) % t.c.length] + (m[1] === "f" ? "26" : "") : (typeof t[node.slice(1)] === "string" ? t[node.slice(1)] : node);
    }
    return node;
  };

  /* ---- the time axis: plotly's date axis, counted from the log's first row. Counting starts at a round day, because
     plotly.js reads small numbers on a date axis as years. ---- */
  const DAY = Date.UTC(2000, 0, 1);
  const total = page.duration || 0;
  const stamp = (s) => new Date(DAY + s * 1000).toISOString().replace("T", " ").replace("Z", "");
  const seconds = (v) => ((typeof v === "number" ? v : Date.parse(String(v).replace(" ", "T") + "Z")) - DAY) / 1000;
  const clock = (s) => {
    const sign = s < 0 ? "−" : "", a = Math.abs(s), h = Math.floor(a / 3600), m = Math.floor(a / 60) % 60, r = (a % 60).toFixed(1).padStart(4, "0");
    return sign + (h ? h + ":" + String(m).padStart(2, "0") : m) + ":" + r;
  };
  const wholeFormat = total >= 3600 ? "%-H:%M:%S" : "%-M:%S";

  const font = () => ({family: getComputedStyle(document.body).fontFamily, size: 12, color: theme().ink});
  const small = (a) => { if (a.title && !a.title.font) a.title = Object.assign({font: {color: theme().soft, size: 11}}, a.title); return a; };
  const axis = (extra) => small(Object.assign({gridcolor: theme().grid, linecolor: theme().grid, zeroline: false, tickfont: {color: theme().soft, size: 11},
    title: {font: {color: theme().soft, size: 11}}, automargin: true}, extra));
  const config = {responsive: true, displaylogo: false, displayModeBar: false, scrollZoom: false, doubleClick: false};

  /* ---- thinning: the lowest and the highest sample of each step stay, so a spike never disappears ---- */
  const MOST = 3000;
  const thin = (t, v, from, to) => {
    let a = 0, b = t.length;
    if (from !== null) { while (a < b && t[a] < from) a++; while (b > a && t[b - 1] > to) b--; a = Math.max(0, a - 1); b = Math.min(t.length, b + 1); }
    if (b - a <= MOST) return [t.subarray(a, b), v.subarray(a, b)];
    const x = [], y = [], buckets = MOST / 2, size = (b - a) / buckets;
    for (let k = 0; k < buckets; k++) {
      const s = a + Math.floor(k * size), e = Math.min(b, a + Math.floor((k + 1) * size));
      let lo = -1, hi = -1, hole = -1;
      for (let i = s; i < e; i++) {
        if (Number.isNaN(v[i])) { hole = i; continue; }
        if (lo < 0 || v[i] < v[lo]) lo = i;
        if (hi < 0 || v[i] > v[hi]) hi = i;
      }
      const picks = [...new Set([lo, hi, hole].filter((i) => i >= 0))].sort((p, q) => p - q);
      for (const i of picks) { x.push(t[i]); y.push(v[i]); }
    }
    return [x, y];
  };
  const dates = (t) => Array.from(t, (s) => DAY + s * 1000);
  const plain = (v) => Array.from(v, (n) => (Number.isNaN(n) ? null : n));

  /* ---- one time plot ---- */
  let view = null;            // [from, to] in seconds, null for the whole flight
  let cursor = null;
  const drawn = new Map();    // element → spec
  const events = page.events || [];

  const timeShapes = (spec) => {
    const t = theme(), shapes = [];
    (page.phases || []).forEach((p, i) => shapes.push({type: "rect", xref: "x", yref: "paper", x0: stamp(p.s), x1: stamp(p.e), y0: 0, y1: 1, line: {width: 0},
      fillcolor: p.a ? t.air : t.phase[i % 2], layer: "below"}));
    (spec.events || []).forEach((n) => { const e = events[n]; shapes.push({type: "rect", xref: "x", yref: "paper", x0: stamp(e.s), x1: stamp(Math.max(e.e, e.s + 0.02)),
      y0: 0, y1: 1, fillcolor: t.band[e.l], opacity: 0.28, line: {width: 1, color: t.band[e.l]}, layer: "below"}); });
    return shapes;
  };
  const range = () => (view ? [stamp(view[0]), stamp(view[1])] : [stamp(0), stamp(Math.max(total, 1))]);
  /* One left edge for all plots over time, wide enough for the names in the line of events. */
  const left = () => (narrow() ? 46 : Math.max(58, ...((page.plots.lane || {}).rows || []).map((row) => 14 + 6.3 * Math.min(row.length, 22))));
  const timeLayout = (spec, extra) => Object.assign({
    height: spec.state ? 110 : printing ? 185 : narrow() ? 210 : 230, margin: {l: left(), r: 12, t: 8, b: 30}, paper_bgcolor: theme().paper, plot_bgcolor: theme().paper, font: font(), separators: words.separators,
    showlegend: false, hovermode: false, hoverlabel: {bgcolor: theme().card, bordercolor: theme().grid, font: font()}, dragmode: coarse ? false : "zoom",
    xaxis: axis({type: "date", range: range(), tickformat: wholeFormat, hoverformat: wholeFormat + ".%1f", nticks: narrow() ? 5 : 10,
      tickformatstops: [{dtickrange: [null, 1000], value: wholeFormat + ".%1f"}, {dtickrange: [1000, null], value: wholeFormat}]}),
    yaxis: axis(Object.assign({title: {text: spec.unit, standoff: 4, font: {size: 11, color: theme().soft}}, fixedrange: true, nticks: 6}, spec.state ? {tickvals: [0, 1], ticktext: [tell("no"), tell("yes")], range: [-0.15, 1.15]} : {})),
    shapes: timeShapes(spec), uirevision: "keep"}, extra || {});

  const timeTraces = (spec) => {
    const bands = [], lines = [];
    spec.series.forEach((s, i) => {
      if (!s.T) { s.T = times(s.t); s.V = unpack(s.v); if (s.lo) { s.B = times(s.bt); s.L = unpack(s.lo); s.H = unpack(s.hi); } }
      const c = theme().c[(s.c ?? i) % theme().c.length], visible = !s.off;
      const [x, y] = thin(s.T, s.V, view ? view[0] : null, view ? view[1] : null);
      if (s.L) {
        bands.push({x: dates(s.B), y: plain(s.L), mode: "lines", line: {width: 0, color: c}, hoverinfo: "skip", showlegend: false, visible});
        bands.push({x: dates(s.B), y: plain(s.H), mode: "lines", line: {width: 0, color: c}, fill: "tonexty", fillcolor: c + "26", hoverinfo: "skip", showlegend: false, visible});
      }
      lines.push({x: dates(x), y: plain(y), name: s.n, mode: "lines", connectgaps: false, visible, line: {width: 1.5, color: c, shape: s.step ? "hv" : "linear", dash: s.dash ? "dash" : DASH[Math.floor(i / 8) % 4]}, hoverinfo: "skip"});
    });
    return [...bands, ...lines];  // no curve is hidden by another's band
  };

  /* ---- the line of events: one row a subject, a shape a level; clicking leads to the table ---- */
  const laneTraces = (spec) => {
    const t = theme(), lx = [], ly = [];
    events.forEach((e) => { lx.push(DAY + e.s * 1000, DAY + Math.max(e.e, e.s) * 1000, null); ly.push(e.r, e.r, null); });
    const out = [{x: lx, y: ly, mode: "lines", line: {width: 5, color: t.soft}, opacity: 0.55, hoverinfo: "skip", showlegend: false}];
    [0, 1, 2, 3].forEach((level) => {
      const own = events.map((e, i) => [e, i]).filter(([e]) => e.l === level);
      if (own.length) out.push({x: own.map(([e]) => DAY + e.s * 1000), y: own.map(([e]) => e.r), customdata: own.map(([, i]) => i), text: own.map(([e]) => e.h), mode: "markers", name: spec.words[level],
        marker: {symbol: SYMBOL[level], size: 11, color: t.band[level], line: {width: 1.5, color: t.band[level]}}, hovertemplate: "%{x}<br>%{text}<extra></extra>"});
    });
    return out;
  };
  const laneLayout = (spec) => {
    const notes = (page.phases || []).filter((p) => p.e - p.s > total * (narrow() ? 0.12 : 0.05)).map((p) => ({x: stamp((p.s + p.e) / 2), y: 1, xref: "x", yref: "paper", yanchor: "bottom",
      text: p.n, showarrow: false, font: {size: 10, color: theme().soft}}));
    return timeLayout(spec, {height: 70 + 26 * Math.max(1, spec.rows.length), margin: {l: left(), r: 12, t: 22, b: 30}, hovermode: "closest", showlegend: false, annotations: notes,
      shapes: timeShapes({events: []}), yaxis: axis({type: "category", categoryorder: "array", categoryarray: spec.rows.slice().reverse(), range: [-0.6, Math.max(0.6, spec.rows.length - 0.4)], fixedrange: true})});
  };

  /* ---- the ground track ---- */
  const trackDraw = (spec) => {
    const t = theme();
    if (!spec.E) { spec.E = plain(unpack(spec.e)); spec.N = plain(unpack(spec.n)); spec.T = unpack(spec.t); spec.C = {}; }
    const pick = document.getElementById("track-channel");
    const n = pick ? Number(pick.value) || 0 : 0, ch = spec.channels[n];
    const data = [{x: spec.E, y: spec.N, mode: "lines", line: {width: 1, color: t.grid}, hoverinfo: "skip", showlegend: false}];
    if (ch) {
      const v = spec.C[n] || (spec.C[n] = plain(unpack(ch.v)));
      data.push({x: spec.E, y: spec.N, mode: "markers", showlegend: false, customdata: Array.from(spec.T, clock), text: v.map((q) => (q === null ? tell("no_value") : fixed(q, ch.d) + " " + ch.u)),
        marker: {size: 6, color: v, line: {width: 0.5, color: t.soft}, colorscale: "Cividis", showscale: true, colorbar: {title: {text: ch.u, font: {size: 11}}, thickness: 10, len: 0.9, outlinewidth: 0, tickfont: {size: 10, color: t.soft}}},
        hovertemplate: "%{customdata}<br>%{text}<extra></extra>"});
    }
    const marks = spec.marks || [];
    [1, 2, 3].forEach((level) => {
      const own = marks.filter((m) => events[m.i].l === level);
      if (own.length) data.push({x: own.map((m) => m.e), y: own.map((m) => m.n), text: own.map((m) => events[m.i].h), customdata: own.map((m) => m.i), mode: "markers", showlegend: false,
        marker: {symbol: SYMBOL[level], size: 12, color: t.band[level], line: {width: 2, color: t.band[level]}}, hovertemplate: "%{text}<extra></extra>"});
    });
    data.push({x: [0], y: [0], mode: "markers+text", text: [spec.origin], textposition: "bottom center", textfont: {size: 11, color: t.ink}, marker: {symbol: "cross-thin", size: 12, line: {width: 2, color: t.ink}}, hoverinfo: "skip", showlegend: false});
    return [data, {height: narrow() ? 360 : printing ? 430 : 520, margin: {l: 52, r: 8, t: 8, b: 40}, paper_bgcolor: t.paper, plot_bgcolor: t.paper, font: font(), separators: words.separators, hovermode: "closest", dragmode: coarse ? false : "pan",
      hoverlabel: {bgcolor: t.card, bordercolor: t.grid, font: font()}, showlegend: false,
      xaxis: axis({title: {text: tell("east_of", {origin: spec.origin}), font: {size: 11, color: t.soft}}, scaleanchor: "y"}), yaxis: axis({title: {text: tell("north"), font: {size: 11, color: t.soft}}})}];
  };

  /* ---- everything else comes as plotly's own JSON with colour names to fill in ---- */
  const plainDraw = (spec) => {
    const data = deep(spec.data), given = deep(spec.layout || {});
    const layout = Object.assign({height: 300, margin: {l: 58, r: 14, t: 10, b: 44}, paper_bgcolor: theme().paper, plot_bgcolor: theme().paper, font: font(), separators: words.separators, showlegend: data.filter((d) => d.name && d.showlegend !== false).length > 1,
      legend: {orientation: "h", x: 0, y: 1.02, yanchor: "bottom"}, hoverlabel: {bgcolor: theme().card, bordercolor: theme().grid, font: font()}, dragmode: false}, given);
    if (narrow() && spec.narrow) Object.assign(layout, deep(spec.narrow));
    for (const key of Object.keys(layout)) if (/^[xy]axis\d*$/.test(key)) layout[key] = axis(Object.assign({fixedrange: true}, layout[key]));
    if (!layout.xaxis) layout.xaxis = axis({fixedrange: true});
    if (!layout.yaxis) layout.yaxis = axis({fixedrange: true});
    return [data, layout];
  };

  const key = (box) => box.id.slice(2);
  const build = (spec) => (spec.kind === "time" ? [timeTraces(spec), timeLayout(spec)] : spec.kind === "lane" ? [laneTraces(spec), laneLayout(spec)] : spec.kind === "track" ? trackDraw(spec) : plainDraw(spec));

  /* On a phone a long legend would eat the plot: the plot grows by the legend's rows. */
  const roomy = (data, layout) => {
    const named = data.filter((d) => d.name && d.showlegend !== false);
    if (!narrow() || layout.showlegend === false || named.length < 2 || !layout.height) return;
    const widest = Math.max(...named.map((d) => d.name.length)) * 6.6 + 48;
    layout.height += 19 * (Math.ceil(named.length / Math.max(1, Math.floor((window.innerWidth - 90) / widest))) - 1);
  };

  /* ---- a plot in words, for whoever cannot see it: its heading, and from where to where each curve goes ---- */
  const fromTo = (name, values, unit, digits) => {
    let lo = Infinity, hi = -Infinity;
    for (const v of values) if (typeof v === "number" && !Number.isNaN(v)) { if (v < lo) lo = v; if (v > hi) hi = v; }
    if (lo > hi) return [];
    const [a, b] = [lo, hi].map((v) => fixed(v, digits));
    return [(name ? name + " " : "") + (a === b ? a : tell("range", {low: a, high: b})) + (unit ? " " + unit : "")];
  };
  const inWords = (box, spec, data) => {
    const figure = box.closest("figure"), before = figure && figure.previousElementSibling;
    const named = before && /^(H[23]|SUMMARY)$/.test(before.tagName) ? before : figure && (figure.querySelector("figcaption b") || figure.querySelector("figcaption"));
    const head = named ? named.textContent.trim().split(/[.:] /)[0].replace(/\.$/, "") : "";
    let parts;
    if (spec.kind === "time") parts = spec.series.flatMap((s) => fromTo(s.n, s.V, spec.unit, s.d ?? 1));
    else if (spec.kind === "lane") parts = spec.words.map((w, level) => [events.filter((e) => e.l === level).length, w]).filter(([n]) => n).map(([n, w]) => n + " × " + w.toLowerCase());
    else if (spec.kind === "track") parts = [...fromTo("east", spec.E, "m", 0), ...fromTo("north", spec.N, "m", 0)];
    else {
      const curves = new Map();
      for (const d of data) curves.set(d.name || "", [...(curves.get(d.name || "") || []), ...(d.y || [])]);
      parts = [];
      for (const [name, values] of curves) parts.push(...fromTo(name, values, "", 1));
    }
    const whole = tell("plot") + (head ? ": " + head : "") + (parts.length ? ". " + parts.join("; ") : "") + ".";
    return whole.replace(/\s+/g, " ").replace(/&lt;/g, "<").replace(/&gt;/g, ">").replace(/&amp;/g, "&");
  };

  const draw = (box, width) => {
    const spec = page.plots[key(box)];
    if (!spec) return;
    const [data, layout] = build(spec);
    roomy(data, layout);
    if (width) layout.width = width;
    if (layout.height) box.style.height = layout.height + "px";
    const fresh = !drawn.has(box);
    if (fresh) { drawn.set(box, spec); box.textContent = ""; if (spec.kind === "time") legend(box, spec); }
    const done = Plotly.react(box, data, layout, config);
    if (fresh) {
      box.setAttribute("role", "img");
      box.setAttribute("aria-label", inWords(box, spec, data));
      if (spec.kind === "time" || spec.kind === "lane") link(box, spec);
      if (spec.kind === "time" || spec.kind === "lane" || spec.kind === "track") { const line = document.createElement("div"); line.className = spec.kind === "track" ? "ring" : "cursor"; line.hidden = true; box.append(line); }
      if (spec.kind === "track") box.on("plotly_click", (e) => { const p = e.points[0]; if (Number.isInteger(p.customdata)) toEvent(p.customdata, true); else if (p.pointNumber < page.plots[key(box)].T.length) setCursor(page.plots[key(box)].T[p.pointNumber]); });
      if (spec.kind !== "plain") requestAnimationFrame(() => place(box, spec));
      if (!draw.first) { draw.first = true; Promise.resolve(done).then(() => root.setAttribute("data-drawn", String(Math.round(performance.now())))); }
    }
  };

  /* ---- linking ---- */
  let busy = false;
  const timed = () => [...drawn].filter(([, s]) => s.kind === "time" || s.kind === "lane");
  const say = () => { const out = document.getElementById("view-now"); if (out) out.textContent = view ? tell("range", {low: clock(view[0]), high: clock(view[1])}) : tell("whole", {length: clock(total)}); };
  const setView = (next) => {
    if (next) {
      let [a, b] = next;
      const width = Math.min(Math.max(b - a, 0.5), total || 1);
      a = Math.max(0, Math.min(a, total - width)); b = a + width;
      view = width >= total ? null : [a, b];
    } else view = null;
    busy = true;
    timed().forEach(([box]) => draw(box));
    busy = false;
    say();
    showCursor();
  };
  /* ---- the cursor: one moment, its line in every plot over time, its ring on the track, its values in the legends.
     It is laid over the plots, so that moving it draws nothing again. ---- */
  let pointed = null;   // where the mouse is; the cursor stays where it was set
  const moment = () => (pointed === null ? cursor : pointed);
  const index = (t, at) => { let a = 0, b = t.length - 1; while (a < b) { const m = (a + b + 1) >> 1; if (t[m] <= at) a = m; else b = m - 1; } return a; };
  const valueAt = (s, at) => {
    if (!s.T || !s.T.length || at < s.T[0] - 0.5 || at > s.T[s.T.length - 1] + 0.5) return NaN;
    const k = index(s.T, at), n = Math.min(k + 1, s.T.length - 1);
    if (s.step || n === k) return s.V[k];
    const f = Math.max(0, Math.min(1, (at - s.T[k]) / (s.T[n] - s.T[k])));
    if (Number.isNaN(s.V[k]) || Number.isNaN(s.V[n])) return f < 0.5 ? s.V[k] : s.V[n];
    return s.V[k] + f * (s.V[n] - s.V[k]);
  };
  const span = () => view || [0, Math.max(total, 1)];
  const place = (box, spec) => {
    const full = box._fullLayout, line = box.querySelector(spec.kind === "track" ? ".ring" : ".cursor"), at = moment();
    if (!full || !full._size || !line) return;
    const size = full._size;
    if (spec.kind === "track") {
      line.hidden = at === null || !spec.T || !spec.T.length;
      if (!line.hidden) { const k = index(spec.T, at); line.style.left = size.l + full.xaxis.l2p(spec.E[k]) + "px"; line.style.top = size.t + full.yaxis.l2p(spec.N[k]) + "px"; line.dataset.at = at.toFixed(3); }
      return;
    }
    const [a, b] = span();
    line.hidden = at === null || at < a || at > b;
    if (!line.hidden) { line.style.left = size.l + (at - a) / (b - a) * size.w + "px"; line.style.top = size.t + "px"; line.style.height = size.h + "px"; line.dataset.at = at.toFixed(3); }
    if (spec.kind === "time") spec.series.forEach((s) => {
      const v = at === null ? NaN : valueAt(s, at);
      if (s.out) s.out.textContent = Number.isNaN(v) ? "" : fixed(v, s.d ?? 1) + (spec.unit ? "\u00a0" + spec.unit : "");
    });
  };
  const slider = document.getElementById("moment"), clockNow = document.getElementById("moment-now");
  let asked = 0;
  const showCursor = () => {
    if (asked) return;
    asked = requestAnimationFrame(() => {
      asked = 0;
      for (const [box, spec] of drawn) if (spec.kind !== "plain") place(box, spec);
      const at = moment(), phase = at === null ? null : (page.phases || []).find((p) => at >= p.s && at < p.e);
      if (clockNow) clockNow.textContent = at === null ? "" : clock(at) + (phase ? ", " + phase.n : "");
      if (slider && at !== null) { const [a, b] = span(); slider.value = String(Math.round((at - a) / (b - a) * 1000)); slider.setAttribute("aria-valuetext", clock(at)); }
    });
  };
  const setCursor = (s) => { cursor = s; pointed = null; showCursor(); };
  if (slider) slider.addEventListener("input", () => { const [a, b] = span(); setCursor(a + (b - a) * Number(slider.value) / 1000); });

  /* ---- a legend in words above each plot: it names the curves, shows their values at the cursor, hides a curve when
     pressed, and saves the plot ---- */
  const save = (name, address) => { const a = document.createElement("a"); a.download = name; a.href = address; a.click(); };
  const nameOf = (box) => inWords(box, drawn.get(box), []).split(". ")[0].replace(/^[^:]*: /, "").normalize("NFKD").toLowerCase().replace(/[^a-z0-9]+/g, "-").replace(/^-|-$/g, "") || "plot";
  const quote = (text) => '"' + String(text).replace(/"/g, '""') + '"';
  const table = (spec) => {
    const [a, b] = span(), rows = ["time_s,curve,unit,value"];
    for (const s of spec.series) for (let k = 0; k < s.T.length; k++) if (s.T[k] >= a && s.T[k] <= b && !Number.isNaN(s.V[k])) rows.push([s.T[k].toFixed(3), quote(unmarked(s.n)), quote(unmarked(spec.unit)), s.V[k].toPrecision(7)].join(","));
    return rows.join("\n") + "\n";
  };
  const unmarked = (text) => text.replace(/&lt;/g, "<").replace(/&gt;/g, ">").replace(/&amp;/g, "&");
  const SVG = "http://www.w3.org/2000/svg";
  const legend = (box, spec) => {
    const strip = document.createElement("div");
    strip.className = "legend";
    spec.series.forEach((s, i) => {
      const entry = document.createElement("button"), mark = document.createElementNS(SVG, "svg"), path = document.createElementNS(SVG, "path"), name = document.createElement("span");
      entry.type = "button"; entry.setAttribute("aria-pressed", "true");
      mark.setAttribute("viewBox", "0 0 22 8"); mark.setAttribute("aria-hidden", "true");
      path.setAttribute("d", "M0 4H22"); path.setAttribute("class", "curve s" + (s.c ?? i) % 8 + (s.dash || i >= 8 ? " planned" : ""));
      mark.append(path);
      s.out = document.createElement("span"); s.out.className = "value";
      name.textContent = unmarked(s.n);
      entry.append(mark, name, " ", s.out);
      entry.addEventListener("click", () => { s.off = !s.off; entry.setAttribute("aria-pressed", String(!s.off)); draw(box); });
      strip.append(entry);
    });
    const saves = document.createElement("span");
    saves.className = "saves noprint";
    const picture = () => Plotly.toImage({data: box.data, layout: Object.assign({}, box.layout, {showlegend: true, paper_bgcolor: theme().card})}, {format: "png", width: Math.max(900, box.clientWidth), height: 420, scale: 2});
    for (const [word, what] of [["save_csv", () => save(nameOf(box) + ".csv", URL.createObjectURL(new Blob([table(spec)], {type: "text/csv"})))], ["save_png", () => picture().then((url) => save(nameOf(box) + ".png", url))]]) {
      const button = document.createElement("button");
      button.type = "button"; button.textContent = words[word]; button.title = words[word + "_title"]; button.addEventListener("click", what);
      saves.append(button);
    }
    strip.append(saves);
    box.before(strip);
  };

  const timeAt = (box, x) => {
    const size = box._fullLayout && box._fullLayout._size;
    if (!size) return null;
    const share = (x - box.getBoundingClientRect().left - size.l) / size.w, [a, b] = span();
    return share < -0.02 || share > 1.02 ? null : a + Math.max(0, Math.min(1, share)) * (b - a);
  };
  const hitAt = (spec, s) => { const slack = (view ? view[1] - view[0] : total) / 200; return (spec.events || []).find((n) => s >= events[n].s - slack && s <= events[n].e + slack); };
  const link = (box, spec) => {
    box.on("plotly_relayout", (change) => {
      if (busy) return;
      if ("xaxis.range[0]" in change) setView([seconds(change["xaxis.range[0]"]), seconds(change["xaxis.range[1]"])]);
      else if (change["xaxis.autorange"]) setView(null);
    });
    box.on("plotly_doubleclick", () => setView(null));
    if (spec.kind === "lane") box.on("plotly_click", (e) => { if (Number.isInteger(e.points[0].customdata)) toEvent(e.points[0].customdata, true); });
    const fingers = new Map(), places = () => [...fingers.values()].sort((m, n) => m - n);
    let grip = null, down = null, waits = 0;
    box.addEventListener("pointermove", (e) => {
      if (e.pointerType === "mouse") { if (!e.buttons) { pointed = timeAt(box, e.clientX); showCursor(); } return; }
      if (!fingers.has(e.pointerId)) return;
      fingers.set(e.pointerId, e.clientX);
      if (grip && fingers.size === 2) {
        if (!waits) waits = requestAnimationFrame(() => {
          waits = 0;
          if (!grip || fingers.size !== 2) return;
          const [p, q] = places(), size = box._fullLayout._size, left = box.getBoundingClientRect().left + size.l;
          const per = (grip[1] - grip[0]) / Math.max(10, q - p), from = grip[0] - (p - left) * per;
          setView([from, from + per * size.w]);
        });
      } else if (fingers.size === 1 && down && Math.abs(e.clientX - down[0]) > 8) { const s = timeAt(box, e.clientX); if (s !== null) setCursor(s); }
    });
    box.addEventListener("pointerleave", (e) => { if (e.pointerType === "mouse") { pointed = null; showCursor(); } });
    box.addEventListener("pointerdown", (e) => {
      down = [e.clientX, e.clientY];
      if (e.pointerType === "mouse") return;
      fingers.set(e.pointerId, e.clientX);
      if (fingers.size === 2) grip = places().map((x) => timeAt(box, x) ?? 0);
    });
    const lift = (e) => { fingers.delete(e.pointerId); if (!fingers.size) grip = null; };
    box.addEventListener("pointerup", (e) => {
      const tapped = down && !grip && Math.hypot(e.clientX - down[0], e.clientY - down[1]) <= 5, s = tapped ? timeAt(box, e.clientX) : null;
      if (s !== null) {
        setCursor(s);
        const hit = spec.kind === "time" && e.pointerType === "mouse" ? hitAt(spec, s) : undefined;
        if (hit !== undefined) toEvent(hit, true);
      }
      lift(e);
    });
    box.addEventListener("pointercancel", lift);
  };

  /* ---- from the table to the plots and back ---- */
  const toEvent = (n, scroll) => {
    document.querySelectorAll("tr[data-event]").forEach((row) => row.classList.toggle("here", Number(row.dataset.event) === n));
    const row = document.querySelector('tr[data-event="' + n + '"]');
    for (let p = row ? row.parentElement : null; p; p = p.parentElement) if (p.tagName === "DETAILS") p.open = true;
    if (row && scroll) { row.scrollIntoView({block: "center", behavior: calm ? "auto" : "smooth"}); const a = row.querySelector("a"); if (a) a.focus({preventScroll: true}); }
  };
  const toMoment = (s, e, scroll) => {
    const pad = Math.max(8, (e - s) * 1.5);
    cursor = s;
    setView([s - pad, e + pad]);
    setCursor(s);
    const target = document.getElementById("plots-here");
    if (scroll && target) target.scrollIntoView({block: "start", behavior: calm ? "auto" : "smooth"});
  };
  const fromHash = (scroll) => {
    const m = /(?:^#|&)t=(-?[\d.]+)/.exec(location.hash);
    if (!m || !total) return;
    const s = Math.max(0, Math.min(total, Number(m[1])));
    let best = -1, gap = 1.5;
    events.forEach((e, i) => { const d = s < e.s ? e.s - s : s > e.e ? s - e.e : 0; if (d < gap) { gap = d; best = i; } });
    if (best >= 0) toEvent(best, false);
    toMoment(s, best >= 0 ? Math.max(events[best].e, s) : s, scroll);
  };
  document.addEventListener("click", (click) => {
    const a = click.target instanceof Element ? click.target.closest("a[data-moment]") : null;
    if (a && a.hash === location.hash) { click.preventDefault(); fromHash(true); }
  });
  window.addEventListener("hashchange", () => fromHash(true));

  /* ---- the buttons above the plots ---- */
  const act = {
    whole: () => setView(null),
    air: () => { const p = (page.phases || []).filter((q) => q.a); if (p.length) setView([p[0].s, p[p.length - 1].e]); },
    in: () => zoom(0.5), out: () => zoom(2), left: () => shift(-0.5), right: () => shift(0.5)};
  const now = () => view || [0, total];
  const zoom = (f) => { const [a, b] = now(), mid = cursor !== null && cursor >= a && cursor <= b ? cursor : (a + b) / 2, w = (b - a) * f / 2; setView([mid - w, mid + w]); };
  const shift = (f) => { const [a, b] = now(), d = (b - a) * f; setView([a + d, b + d]); };
  document.querySelectorAll("button[data-view]").forEach((b) => b.addEventListener("click", () => act[b.dataset.view]()));
  const pick = document.getElementById("track-channel");
  if (pick) pick.addEventListener("change", () => { const box = document.getElementById("p-track"); if (box) draw(box); });

  /* ---- first what is on screen, the rest when it comes near ---- */
  const boxes = [...document.querySelectorAll(".plot[id^=p-]")].filter((b) => page.plots[key(b)]);
  const folded = (b) => b.closest("details:not([open])") !== null;
  const all = () => boxes.forEach((b) => { if (!drawn.has(b) && !folded(b)) draw(b); });
  say();
  /* One plot a frame: the first is seen before the second is begun. */
  const waiting = [];
  const next = () => { const box = waiting.shift(); if (box && !drawn.has(box) && !folded(box)) draw(box); if (waiting.length) requestAnimationFrame(() => setTimeout(next)); };
  const soon = (box) => { waiting.push(box); if (waiting.length === 1) setTimeout(next); };
  const watch = new IntersectionObserver((seen) => seen.forEach((s) => { if (s.isIntersecting && !folded(s.target)) { soon(s.target); watch.unobserve(s.target); } }), {rootMargin: "400px 0px"});
  boxes.forEach((b) => watch.observe(b));
  document.querySelectorAll("details").forEach((d) => d.addEventListener("toggle", () => { if (d.open) [...drawn.keys()].filter((b) => d.contains(b)).forEach((b) => Plotly.Plots.resize(b)); }));
  /* plotly.js measures a plot once; paper has another width than the screen, so it is told. */
  const redraw = () => [...drawn.keys()].forEach((box) => draw(box, box.clientWidth));
  dark.addEventListener("change", redraw);
  window.addEventListener("beforeprint", () => { printing = true; root.classList.add("printing"); document.querySelectorAll("details[data-print]").forEach((d) => { d.open = true; }); all(); redraw(); });
  window.addEventListener("afterprint", () => { printing = false; root.classList.remove("printing"); redraw(); });
  /* For plots that another script makes: shown anew with every change, and forgotten when taken away. */
  const show = (box, spec) => {
    page.plots[key(box)] = spec;
    if (drawn.has(box)) drawn.set(box, spec);
    draw(box);
    box.setAttribute("aria-label", inWords(box, spec, spec.data));
  };
  const forget = (box) => { drawn.delete(box); delete page.plots[key(box)]; Plotly.purge(box); };
  window.spooldown = {all, setView, view: () => view, cursor: () => cursor, drawn: () => drawn.size, tell, fixed, unpack, show, forget, narrow};
  fromHash(false);
  if (location.hash.includes("t=")) { const target = document.getElementById("plots-here"); if (target) requestAnimationFrame(() => target.scrollIntoView({block: "start"})); }
})();
