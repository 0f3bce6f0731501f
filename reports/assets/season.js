"use strict";
/* Any figure over flights, with what changed before a flight; what is chosen stands in the address. */
(() => {
  const season = globalThis.spooldownSeason, box = document.getElementById("p-over");
  if (!season || !box || !window.spooldown) return;
  const {tell, show, fixed} = window.spooldown, byId = (id) => document.getElementById(id);
  const pick = byId("over-measure"), part = byId("over-part"), owner = byId("over-aircraft"), year = byId("over-season"), list = byId("over-steps");
  const clean = (text) => String(text).replace(/[<>&%{}]/g, " ");
  const measure = () => season.measures.find((m) => m.id === pick.value);
  const fits = (f) => (!owner.value || f.aircraft === owner.value) && (!year.value || f.season === year.value);
  const SYMBOLS = ["circle", "diamond", "square", "triangle-up", "cross", "x"];
  const asked = () => new URLSearchParams(location.hash.slice(1));
  const keep = () => {
    const q = asked();
    for (const [name, field] of [["m", pick], ["of", part], ["a", owner], ["y", year]]) if (field.value && !(field === pick && field.value === usual)) q.set(name, field.value); else q.delete(name);
    history.replaceState(null, "", q.size ? "#" + q : location.pathname + location.search);
  };
  const fillParts = () => {
    const chosen = part.value || asked().get("of") || "";
    const keys = Object.keys(measure().rows).filter((k) => k);
    part.replaceChildren(new Option(part.dataset.every, ""), ...keys.map((k) => new Option(season.parts[k], k)));
    part.value = keys.includes(chosen) ? chosen : "";
    part.closest("label").hidden = keys.length < 2;
  };
  const draw = () => {
    const m = measure(), shown = season.flights.map((f, n) => [f, n]).filter(([f]) => fits(f)), place = new Map(shown.map(([, n], at) => [n, at])), data = [];
    const owners = new Set(shown.map(([f]) => f.aircraft)), apart = owners.size > 1;
    for (const [key, rows] of Object.entries(m.rows)) {
      if (part.value && key !== part.value) continue;
      for (const own of owners) {
        const found = rows.filter(([n]) => place.has(n) && season.flights[n].aircraft === own);
        if (!found.length) continue;
        const n = data.length, ends = found.some((r) => r.length > 2), first = season.flights[found[0][0]];
        data.push({type: "scatter", mode: "lines+markers", name: clean([season.parts[key], apart ? first.brief.replace(/ ?\d+$/, "") : ""].filter(Boolean).join(", ")), x: found.map((r) => place.get(r[0])), y: found.map((r) => r[1]), text: found.map((r) => clean(season.flights[r[0]].title)),
          line: {color: "@c" + n % 8, width: 1.5, dash: n >= 8 ? "dash" : "solid"}, marker: {color: "@c" + n % 8, size: 8, symbol: SYMBOLS[n % 6]}, hovertemplate: "%{text}<br>%{y} " + clean(m.unit),
          ...(ends ? {error_y: {type: "data", symmetric: false, array: found.map((r) => (r.length > 2 ? r[3] - r[1] : 0)), arrayminus: found.map((r) => (r.length > 2 ? r[1] - r[2] : 0)), thickness: 1.2, width: 3, color: "@c" + n % 8}} : {})});
      }
    }
    const steps = season.steps.filter((s) => place.has(s.n) && place.get(s.n) > 0 && (!s.measure || s.measure === m.id)), dash = {change: "dot", remedy: "solid", step: "dash"}, at = [...new Set(steps.map((s) => s.n))];
    const shapes = steps.map((s) => ({type: "line", yref: "paper", y0: 0, y1: 1, x0: place.get(s.n) - 0.5, x1: place.get(s.n) - 0.5, line: {color: "@ink", width: 1.3, dash: dash[s.kind]}}));
    const annotations = at.map((n, k) => ({x: place.get(n) - 0.5, y: 1, yref: "paper", xanchor: "center", yanchor: "bottom", showarrow: false, text: String(k + 1), font: {size: 11, color: "@ink"}}));
    const every = Math.max(1, Math.ceil(shown.length / 16)), ticks = shown.map((_, k) => k).filter((k) => k % every === 0);
    const name = (f) => (owners.size > 1 ? f.brief : f.brief.replace(/^.*?(\d+)$/, "$1"));
    show(box, {kind: "plain", data, layout: {height: 320, margin: {l: 58, r: 14, t: 26, b: 60}, hovermode: "closest", shapes, annotations, showlegend: data.length > 1, legend: {orientation: "h", x: 0, y: -0.22, yanchor: "top"},
      xaxis: {tickvals: ticks, ticktext: ticks.map((k) => clean(name(shown[k][0]))), range: [-0.6, shown.length - 0.4]}, yaxis: {title: {text: clean(m.unit === "1" ? "" : m.unit)}}}});
    list.replaceChildren(...at.map((n, k) => { const item = document.createElement("li"); item.value = k + 1; item.textContent = steps.filter((s) => s.n === n).map((s) => s.text).join("; "); return item; }));
    byId("over-how").hidden = !at.length;
    keep();
  };
  season.measures.forEach((m) => pick.add(new Option(m.name, m.id)));
  const usual = (season.measures.find((m) => m.id === "tank.burn_rate") || season.measures[0] || {}).id;
  if (!usual) return;
  pick.value = usual;
  const read = () => {
    const q = asked();
    for (const [name, field] of [["m", pick], ["a", owner], ["y", year]]) if (q.has(name)) { field.value = q.get(name); if (field.selectedIndex < 0) field.selectedIndex = 0; }
    fillParts();
    draw();
  };
  pick.addEventListener("change", () => { part.value = ""; fillParts(); draw(); });
  [part, owner, year].forEach((field) => field.addEventListener("change", draw));
  byId("over").hidden = false;
  read();
})();
