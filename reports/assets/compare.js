"use strict";
/* Puts flights side by side in the browser: which ones, what is zero and which curves are drawn stand in the address.
   Each flight's data is a script of its own that is loaded when the flight is chosen. */
(() => {
  const source = document.getElementById("listed");
  if (!source || !window.spooldown) return;
  const listed = new Map(JSON.parse(source.textContent).map((f) => [f.key, f]));
  /* A flight too old to be listed is chosen on its year's page; its file lies beside the others. */
  const plain = (k) => listed.has(k) || /^[a-z0-9-]{1,120}$/.test(k);
  const {tell, fixed, unpack, show, forget, narrow} = window.spooldown;
  const byId = (id) => document.getElementById(id);
  const flights = () => globalThis.spooldownFlights || {};
  const MOST = 12, FIRST = ["burn_rate:", "pack.", "link."];

  /* ---- small helpers to build the page with text, never with markup ---- */
  const make = (tag, more, ...inside) => { const e = document.createElement(tag); Object.entries(more || {}).forEach(([k, v]) => { if (k in e && k !== "list") e[k] = v; else e.setAttribute(k, v); }); e.append(...inside); return e; };
  const table = (label, head, rows, kind) => {
    const t = make("table", {className: kind || ""}, make("caption", {className: "hide"}, label), make("thead", {}, make("tr", {}, ...head)), make("tbody", {}, ...rows));
    return make("div", {className: "scroll", tabIndex: 0, role: "region", "aria-label": label}, t);
  };
  const column = (text, number) => make("th", {scope: "col", className: number ? "num" : ""}, ...(Array.isArray(text) ? text : [text]));
  const swatch = (n) => { const s = document.createElementNS("http://www.w3.org/2000/svg", "svg"), p = document.createElementNS("http://www.w3.org/2000/svg", "path"); s.setAttribute("viewBox", "0 0 22 8"); s.setAttribute("class", "swatch"); s.setAttribute("aria-hidden", "true"); p.setAttribute("d", "M0 4H22"); p.setAttribute("class", "curve s" + n % 8 + (n >= 8 ? " planned" : "")); s.append(p); return s; };
  const grouped = (v, digits) => { const [whole, rest] = fixed(v, digits).split(tell("separators", {})[0]); return whole.replace(/\B(?=(\d{3})+(?!\d))/g, "\u202f") + (rest === undefined ? "" : tell("separators", {})[0] + rest); };
  const signed = (v, digits) => (v > 0 && Number(v.toFixed(digits)) !== 0 ? "+" : "") + grouped(v, digits);

  /* ---- what is chosen: read from the address, written back to it ---- */
  const now = {f: [], r: "", at: "take_off", own: {}, as: "overlay", c: null};
  const read = () => {
    const q = new URLSearchParams(location.hash.slice(1));
    now.f = (q.get("f") || "").split(",").filter((k, n, all) => plain(k) && all.indexOf(k) === n).slice(0, MOST);
    now.r = now.f.includes(q.get("r")) ? q.get("r") : now.f[0] || "";
    now.at = q.get("at") || "take_off";
    now.as = ["strips", "difference"].includes(q.get("as")) ? q.get("as") : "overlay";
    now.c = q.has("c") ? q.get("c").split(",").filter(Boolean) : null;
    now.own = {};
    for (const part of (q.get("own") || "").split(",")) { const [k, s] = part.split("@"); if (plain(k) && Number.isFinite(Number(s))) now.own[k] = Number(s); }
  };
  const write = () => {
    const q = new URLSearchParams();
    if (now.f.length) q.set("f", now.f.join(","));
    if (now.r && now.r !== now.f[0]) q.set("r", now.r);
    if (now.at !== "take_off") q.set("at", now.at);
    if (now.at === "own") q.set("own", now.f.filter((k) => k in now.own).map((k) => k + "@" + now.own[k]).join(","));
    if (now.as !== "overlay") q.set("as", now.as);
    if (now.c) q.set("c", now.c.join(","));
    history.replaceState(null, "", q.size ? "#" + q.toString().replace(/%2C/g, ",").replace(/%3A/g, ":").replace(/%40/g, "@") : location.pathname + location.search);
  };

  /* ---- loading: only names that this page lists become addresses ---- */
  const loading = new Map();
  const load = (key) => {
    if (!loading.has(key)) loading.set(key, new Promise((done) => {
      const script = document.createElement("script");
      script.src = "compare/" + key + ".js";
      script.onload = () => done();
      script.onerror = () => { (globalThis.spooldownFlights ||= {})[key] = {title: (listed.get(key) || {title: key}).title, failed: tell("compare_gone", {})}; done(); };
      document.head.append(script);
    }));
    return loading.get(key);
  };

  const base = () => flights()[now.r];
  const chosen = () => now.f.filter((k) => flights()[k] && !flights()[k].failed);
  const label = (k) => flights()[k].brief || flights()[k].title;

  /* ---- where zero is in a flight: [seconds, whether the moment was found] ---- */
  const zero = (k) => {
    const f = flights()[k];
    if (now.at === "own") return k in now.own ? [now.own[k], true] : zeroAt(f, "take_off");
    return zeroAt(f, now.at);
  };
  const zeroAt = (f, at) => { const m = f.marks.find((x) => x[1] === at); return m ? [m[0], true] : [0, at === "start"]; };
  const nameOf = (at) => { for (const k of chosen()) { const m = flights()[k].marks.find((x) => x[1] === at); if (m) return m[2]; } return at; };

  /* ---- the flights chosen: colour, reference, zero ---- */
  const drawChosen = () => {
    const rows = chosen().map((k, n) => {
      const f = flights()[k], [s, seen] = zero(k), radio = make("input", {type: "radio", name: "reference", value: k, checked: k === now.r, "aria-label": tell("compare_reference", {}) + ": " + f.title});
      radio.addEventListener("change", () => { now.r = k; draw(); });
      let at = make("span", {}, seen ? "" : tell("compare_fallback", {what: nameOf(now.at)}));
      if (now.at === "own") {
        at = make("select", {"aria-label": tell("compare_zero", {}) + ": " + f.title}, ...f.marks.map((m) => make("option", {value: String(m[0]), selected: m[0] === s}, m[3] + " " + m[2])));
        at.addEventListener("change", () => { now.own[k] = Number(at.value); draw(); });
      } else if (seen) { const m = f.marks.find((x) => x[1] === now.at); at.textContent = m ? m[3] : ""; }
      return make("tr", {}, make("th", {scope: "row"}, swatch(n), " ", make("a", {href: f.href}, f.title)), make("td", {}, radio), make("td", {}, at));
    });
    byId("chosen").replaceChildren(table(tell("compare_flight", {}), [column(tell("compare_flight", {})), column(tell("compare_reference", {})), column(tell("compare_zero", {}))], rows));
  };

  /* ---- the choices: alignment and further curves ---- */
  const drawChoices = () => {
    const seen = new Map();
    for (const k of chosen()) for (const key of new Set(flights()[k].marks.map((m) => m[1]))) seen.set(key, (seen.get(key) || 0) + 1);
    const keys = [...seen].filter(([key, n]) => n > 1 || ["take_off", "landing", "start"].includes(key) || key === now.at).map(([key]) => key);
    const order = ["take_off", "landing", "start"].filter((k) => keys.includes(k)).concat(keys.filter((k) => k.includes(":")));
    byId("align").replaceChildren(...order.map((key) => make("option", {value: key, selected: key === now.at}, key.includes(":") ? tell("compare_first", {what: nameOf(key)}) : nameOf(key))), make("option", {value: "own", selected: now.at === "own"}, tell("compare_own", {})));
    byId("as").value = now.as;
    byId("as-say").textContent = tell({overlay: "compare_overlay_say", strips: "compare_strips_say", difference: "compare_difference_say"}[now.as], {flight: base() ? label(now.r) : ""});
    const shown = curves(), others = known().filter(([key]) => !shown.includes(key));
    byId("more").replaceChildren(make("option", {value: ""}, others.length ? "…" : tell("compare_none", {})), ...others.map(([key, name]) => make("option", {value: key}, name)));
  };
  const known = () => {
    const found = new Map();
    for (const k of [now.r, ...chosen()]) if (flights()[k] && !flights()[k].failed) for (const [key, c] of Object.entries(flights()[k].curves)) if (!found.has(key)) found.set(key, c.n + (c.u && c.u !== "1" ? ", " + c.u : ""));
    return [...found];
  };
  const curves = () => {
    const keys = known().map(([key]) => key);
    if (now.c) return now.c.filter((key) => keys.includes(key));
    const firsts = FIRST.map((f) => keys.find((key) => key.startsWith(f))).filter(Boolean);
    return firsts.slice(0, narrow() ? 2 : 3);
  };

  /* ---- curves ---- */
  const minutes = (f, s) => Array.from({length: Math.floor(f.length)}, (_, n) => ((n + 0.5) * f.step - s) / 60);
  const opened = (c) => { if (!c.M) { c.M = Array.from(unpack(c.m)); if (c.l) { c.L = Array.from(unpack(c.l)); c.H = Array.from(unpack(c.h)); } } return c; };
  const hole = (v) => (Number.isNaN(v) ? null : v);
  const at = (x, y, v) => {
    const k = (v - x[0]) / (x[1] - x[0]), a = Math.floor(k);
    if (!(a >= 0) || a + 1 >= x.length) return NaN;
    return y[a] + (k - a) * (y[a + 1] - y[a]);
  };
  const lines = (key) => {
    const out = [];
    chosen().forEach((k, n) => {
      const f = flights()[k], c = f.curves[key];
      if (!c) return;
      opened(c);
      out.push({k, n, c, x: minutes({length: c.M.length, step: f.step}, zero(k)[0])});
    });
    return out;
  };
  const minus = (one, ref) => one.x.map((x, n) => one.c.M[n] - at(ref.x, ref.c.M, x));
  const spec = (key) => {
    const found = lines(key), ref = found.find((l) => l.k === now.r), data = [], shapes = [{type: "line", x0: 0, x1: 0, yref: "paper", y0: 0, y1: 1, line: {color: "@soft", width: 1, dash: "dot"}}];
    const one = (l, y, more) => data.push(Object.assign({type: "scatter", mode: "lines", x: l.x, y: y.map(hole), name: label(l.k).replace(/[<>&]/g, " "), showlegend: false, hovertemplate: "%{x:.2f}: %{y} " + l.c.u.replace(/[<>&%{}]/g, " "), line: {color: "@c" + l.n % 8, width: 1.6, dash: l.n >= 8 ? "dash" : "solid"}}, more));
    const band = (l, more) => { if (!l.c.L) return; one(l, l.c.L, Object.assign({line: {width: 0}, hoverinfo: "skip", hovertemplate: null}, more)); one(l, l.c.H, Object.assign({line: {width: 0, color: "@c" + l.n % 8}, fill: "tonexty", opacity: 1, fillcolor: "@f" + l.n % 8, hoverinfo: "skip", hovertemplate: null}, more)); };
    const layout = {height: 300, margin: {l: 58, r: 14, t: 10, b: 44}, hovermode: "closest", dragmode: "zoom", xaxis: {title: {text: tell("compare_minutes", {})}, fixedrange: false}, yaxis: {nticks: 6}, shapes};
    if (now.as === "strips") {
      const values = found.flatMap((l) => [...l.c.M, ...(l.c.L || []), ...(l.c.H || [])]).filter((v) => !Number.isNaN(v)), low = Math.min(...values), high = Math.max(...values), pad = (high - low) * 0.06 || 1, part = 1 / found.length;
      layout.height = 70 + 95 * found.length;
      layout.annotations = [];
      found.forEach((l, i) => {
        const name = i ? String(i + 1) : "", top = 1 - i * part;
        layout["yaxis" + name] = {domain: [top - part * 0.82, top - part * 0.08], range: [low - pad, high + pad], nticks: 3, anchor: "x"};
        band(l, {yaxis: "y" + name}); one(l, l.c.M, {yaxis: "y" + name});
        layout.annotations.push({xref: "paper", yref: "paper", x: 0, y: top, xanchor: "left", yanchor: "middle", showarrow: false, text: label(l.k).replace(/[<>&]/g, " "), font: {size: 11, color: "@ink"}});
      });
      layout.xaxis.anchor = "y" + (found.length > 1 ? found.length : "");
    } else if (now.as === "difference") {
      if (ref) for (const l of found) if (l !== ref) {
        one(l, minus(l, ref));
        const step = (l.c.r || 0) / 2 + (ref.c.r || 0) / 2;
        if (step) shapes.push({type: "rect", xref: "paper", x0: 0, x1: 1, y0: -step, y1: step, fillcolor: "@soft", opacity: 0.12, line: {width: 0}, layer: "below"});
      }
      shapes.push({type: "line", xref: "paper", x0: 0, x1: 1, y0: 0, y1: 0, line: {color: "@soft", width: 1}});
    } else { found.forEach((l) => band(l)); found.forEach((l) => one(l, l.c.M)); }
    return {kind: "plain", data, layout};
  };
  const boxes = new Map();
  const drawCurves = () => {
    const keys = curves(), names = new Map(known());
    for (const [key, part] of [...boxes]) if (!keys.includes(key)) { forget(part.box); part.section.remove(); boxes.delete(key); }
    for (const key of keys) {
      let part = boxes.get(key);
      if (!part) {
        const box = make("div", {className: "plot", id: "p-compared-" + key.replace(/[^a-z0-9]+/gi, "-")}), head = make("h3"), missing = make("small"), away = make("button", {type: "button", className: "away noprint"}, tell("compare_remove", {}));
        away.addEventListener("click", () => { now.c = curves().filter((k) => k !== key); draw(); byId("more").focus(); });
        part = {box, head, missing, away, section: make("section", {}, head, make("figure", {}, box))};
        boxes.set(key, part);
      }
      const absent = chosen().filter((k) => !flights()[k].curves[key]).map(label);
      part.missing.textContent = absent.length ? tell("compare_not_in", {flights: absent.join(", ")}) : "";
      part.away.setAttribute("aria-label", tell("compare_remove", {}) + ": " + names.get(key));
      part.head.replaceChildren(names.get(key) + " ", part.missing, " ", part.away);
      byId("plots-compared").append(part.section);
      show(part.box, spec(key));
    }
  };

  /* ---- what was noted ---- */
  const drawFacts = () => {
    const keys = chosen(), all = new Map();
    keys.forEach((k, n) => flights()[k].facts.forEach(([name, value]) => { if (!all.has(name)) all.set(name, keys.map(() => "")); all.get(name)[n] = value; }));
    const differing = [...all].filter(([, v]) => v.some((x) => x !== v[0])), same = [...all].filter(([, v]) => v.every((x) => x === v[0]));
    const rows = differing.map(([name, values]) => make("tr", {}, make("th", {scope: "row"}, name), ...values.map((v) => make("td", {}, v || tell("compare_not_noted", {})))));
    byId("facts").replaceChildren(table(tell("compare_noted", {}), [column(tell("compare_noted", {})), ...keys.map((k) => column(label(k)))], rows));
    if (same.length) byId("facts").append(make("p", {className: "soft"}, tell("compare_same", {what: same.map(([name, v]) => name + " " + v[0]).join("; ")})));
  };

  /* ---- figures. A difference of two intervals joins their ends in quadrature, side by side, as for independent errors
     (JCGM 100:2008, 5.1.2), and only where both mean the same share; of two values as read, the joined step. ---- */
  const difference = (f, r) => {
    const d = {v: f.v - r.v, digits: Math.max(f.d, r.d)};
    if (f.l !== undefined && r.l !== undefined && Math.abs(f.c - r.c) < 1e-6) { d.l = d.v - Math.hypot(f.v - f.l, r.h - r.v); d.h = d.v + Math.hypot(f.h - f.v, r.v - r.l); }
    else if (f.r !== undefined && r.r !== undefined) d.r = f.r / 2 + r.r / 2;
    return d;
  };
  const cell = (f, r, own) => {
    if (!f) return make("td", {className: "num"}, "–");
    const td = make("td", {className: "num nowrap"});
    if (!own && r) {
      const d = difference(f, r), small = make("small", {}, signed(d.v, d.digits) + (d.l !== undefined ? " (" + tell("range", {low: grouped(d.l, d.digits), high: grouped(d.h, d.digits)}) + ")" : d.r !== undefined ? " ± " + grouped(d.r, d.digits) : ""));
      td.dataset.difference = [d.v, d.l, d.h].map((v) => (v === undefined ? "" : v.toPrecision(9))).join(" ");
      if (d.l > 0 || d.h < 0) td.append(make("abbr", {title: tell(d.l > 0 ? "compare_surely_more" : "compare_surely_less", {})}, d.l > 0 ? "▲" : "▼"), " ");
      td.append(f.s, make("br"), small);
    } else td.append(f.s, ...(f.i ? [make("br"), make("small", {}, f.i)] : []));
    return td;
  };
  const drawFigures = () => {
    const keys = chosen(), out = [];
    const groups = Object.entries((base() || {}).groups || {});
    for (const [group, name] of groups) {
      const rows = new Map();
      keys.forEach((k, n) => flights()[k].figures.forEach((f) => { if (f.g !== group) return; if (!rows.has(f.p)) rows.set(f.p, keys.map(() => null)); rows.get(f.p)[n] = f; }));
      const written = (which) => which.map(([path, row]) => make("tr", {"data-figure": path}, make("th", {scope: "row"}, row.find(Boolean).n), ...row.map((f, n) => cell(f, row[keys.indexOf(now.r)], keys[n] === now.r))));
      const head = () => [column(tell("compare_figure", {})), ...keys.map((k, n) => column([swatch(n), " " + label(k)], true))];
      const first = [...rows].filter(([, row]) => row.some((f) => f && f.first)), rest = [...rows].filter(([, row]) => !row.some((f) => f && f.first));
      if (!rows.size) continue;
      out.push(make("h3", {}, name));
      if (first.length) out.push(table(name, head(), written(first), "brief"));
      if (rest.length) {
        const fold = make("details", {className: "fold"}, make("summary", {}, tell("compare_more", {n: rest.length})));
        fold.addEventListener("toggle", () => { if (fold.open && fold.children.length === 1) fold.append(table(name, head(), written(rest), "brief")); });
        out.push(fold);
      }
    }
    byId("figures-compared").replaceChildren(...out);
  };

  const draw = () => {
    write();
    const failed = now.f.filter((k) => (flights()[k] || {}).failed), keys = chosen();
    if (!keys.includes(now.r)) now.r = keys[0] || "";
    byId("compare-say").textContent = failed.map((k) => tell("compare_failed", {flight: flights()[k].title, why: flights()[k].failed})).join(" ") || (keys.length < 2 ? tell("compare_few", {}) : "");
    byId("compare-say").hidden = !byId("compare-say").textContent;
    document.querySelectorAll("[data-pick]").forEach((tick) => { tick.checked = now.f.includes(tick.dataset.pick); tick.disabled = !tick.checked && now.f.length >= MOST; });
    byId("compare").hidden = keys.length < 2;
    if (keys.length > 1) { drawChosen(); drawChoices(); drawCurves(); drawFacts(); drawFigures(); }
    document.documentElement.dataset.compared = String(keys.length);
  };
  const refresh = () => {
    const waiting = now.f.filter((k) => !flights()[k]);
    if (waiting.length) { byId("compare-say").hidden = false; byId("compare-say").textContent = tell("compare_loading", {n: now.f.length - waiting.length, all: now.f.length}); }
    return Promise.all(now.f.map(load)).then(draw);
  };
  document.querySelectorAll("[data-pick]").forEach((tick) => tick.addEventListener("change", () => {
    now.f = tick.checked ? [...now.f, tick.dataset.pick] : now.f.filter((k) => k !== tick.dataset.pick);
    if (!now.f.includes(now.r)) now.r = now.f[0] || "";
    refresh();
  }));
  byId("align").addEventListener("change", () => {
    now.at = byId("align").value;
    if (now.at === "own") for (const k of chosen()) if (!(k in now.own)) now.own[k] = zeroAt(flights()[k], "take_off")[0];
    draw();
  });
  byId("as").addEventListener("change", () => { now.as = byId("as").value; draw(); });
  byId("more").addEventListener("change", () => { if (byId("more").value) { now.c = [...curves(), byId("more").value]; draw(); } });
  window.addEventListener("hashchange", () => { read(); refresh(); });
  read();
  byId("choose").open = now.f.length < 2;
  refresh();
})();
