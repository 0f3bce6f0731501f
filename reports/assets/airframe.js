"use strict";
/* The airframe, to be turned: a sphere of directions around it, painted with what an antenna hears from each; what stands
   in the middle is what is heard when the aircraft is seen from there. The page carries maps, colours and words. */
(() => {
  const source = document.getElementById("airframe-data"), box = document.getElementById("airframe");
  if (!source || !box) return;
  const page = JSON.parse(source.textContent), words = JSON.parse(document.getElementById("words").textContent);
  const say = (key, values) => words[key].replace(/\{(\w+)\}/g, (_, name) => values[name]);
  const mark = words.separators[0], number = (v, digits) => v.toFixed(digits).replace(/^-(?=[0.]*$)/, "").replace("-", "−").replace(".", mark);
  const byId = (id) => document.getElementById(id), SVG = "http://www.w3.org/2000/svg", R = 140;
  const put = (parent, tag, more) => { const e = document.createElementNS(SVG, tag); for (const [k, v] of Object.entries(more)) e.setAttribute(k, v); parent.append(e); return e; };
  const rad = Math.PI / 180, now = {antenna: 0, map: 0, azimuth: 150, elevation: -15};

  /* ---- directions: body axes x forward, y right, z down (ISO 1151); azimuth 0 nose, 90 right wing; elevation up ---- */
  const unit = (az, el) => [Math.cos(el * rad) * Math.cos(az * rad), Math.cos(el * rad) * Math.sin(az * rad), -Math.sin(el * rad)];
  const dot = (p, q) => p[0] * q[0] + p[1] * q[1] + p[2] * q[2];
  const cross = (p, q) => [p[1] * q[2] - p[2] * q[1], p[2] * q[0] - p[0] * q[2], p[0] * q[1] - p[1] * q[0]];
  const eye = () => {
    const az = now.azimuth * rad, el = now.elevation * rad, d = unit(now.azimuth, now.elevation);
    const u = [-Math.sin(el) * Math.cos(az), -Math.sin(el) * Math.sin(az), -Math.cos(el)];
    return {d, u, r: cross(u, d)};
  };
  const flat = (p, e) => [R * dot(p, e.r), -R * dot(p, e.u)];
  const onLimb = (p, e) => { const q = flat(p, e); if (dot(p, e.d) >= 0) return q; const l = Math.hypot(...q) || 1; return [q[0] * R / l, q[1] * R / l]; };
  const path = (points) => "M" + points.map((q) => q[0].toFixed(1) + " " + q[1].toFixed(1)).join("L") + "Z";

  /* ---- in words ---- */
  const named = (az, el) => {
    if (Math.abs(el) > 65) return el > 0 ? page.straight[0] : page.straight[1];
    const side = page.sides[Math.round((((az % 360) + 360) % 360) / 45) % 8];
    return Math.abs(el) < 25 ? side : page.from[el > 0 ? 0 : 1].replace("{side}", side);
  };
  const antenna = () => page.antennas[now.antenna], map = () => antenna().maps[now.map] || antenna().maps[0];
  const A = page.azimuth, E = page.sine, rows = E.length - 1;
  const binAt = (az, el) => {
    const a = Math.min(A.length - 2, Math.max(0, A.findIndex((edge) => edge > az) - 1)), s = Math.sin(el * rad);
    return a * rows + Math.min(rows - 1, Math.max(0, E.findIndex((edge) => edge > s) - 1 + (s >= E[rows] ? rows + 1 : 0)));
  };
  const shade = (m, v) => {
    const share = (v / 10 - m.low) / (m.high - m.low), scale = m.change ? page.changes : page.colours;
    return scale[Math.round(Math.min(1, Math.max(0, m.worse ? 1 - share : share)) * (scale.length - 1))];
  };

  /* ---- corners of every bin, its edges cut fine enough to follow the sphere ---- */
  const bins = [];
  for (let a = 0; a < A.length - 1; a++) for (let e = 0; e < rows; e++) {
    const [l, h] = [Math.asin(E[e]) / rad, Math.asin(E[e + 1]) / rad], line = [];
    for (let k = 0; k <= 3; k++) line.push(unit(A[a] + (A[a + 1] - A[a]) * k / 3, l));
    for (let k = 1; k <= 2; k++) line.push(unit(A[a + 1], l + (h - l) * k / 2));
    for (let k = 2; k >= 0; k--) line.push(unit(A[a] + (A[a + 1] - A[a]) * k / 3, h));
    line.push(unit(A[a], (l + h) / 2));
    bins.push({line, middle: unit((A[a] + A[a + 1]) / 2, (l + h) / 2)});
  }

  const svg = put(box, "svg", {viewBox: "-205 -195 410 390", class: "turned", "aria-hidden": "true"});
  const layers = Object.fromEntries(["behind", "sphere", "signs", "plates", "front"].map((name) => [name, put(svg, "g", {class: name})]));
  const cells = bins.map(() => put(layers.sphere, "path", {}));
  const reach = Math.max(...page.plates.flat().map((p) => Math.hypot(...p)), 0.1);

  const arrow = (e, worst) => {
    const w = unit(worst.a, worst.e), front = dot(w, e.d) >= 0, layer = front ? layers.front : layers.behind;
    const [tip, end] = [1.02, 1.4].map((k) => flat(w.map((v) => v * k), e));
    let [x, y] = [tip[0] - end[0], tip[1] - end[1]], l = Math.hypot(x, y);
    if (l < 6) { const s = put(layer, "circle", {cx: tip[0], cy: tip[1], r: 11, class: "worst ring"}); s.dataset.front = String(front); put(layer, "circle", {cx: tip[0], cy: tip[1], r: 2.5, class: "worst"}); return; }
    [x, y] = [x / l, y / l];
    const shaft = "M" + end.map((v) => v.toFixed(1)).join(" ") + "L" + tip.map((v) => v.toFixed(1)).join(" "), head = path([tip, [tip[0] - 15 * x - 7 * y, tip[1] - 15 * y + 7 * x], [tip[0] - 15 * x + 7 * y, tip[1] - 15 * y - 7 * x]]);
    put(layer, "path", {d: shaft + head, class: "halo"});
    put(layer, "path", {d: shaft, class: "worst shaft" + (front ? "" : " hidden-side")});
    put(layer, "path", {d: head, class: "worst"});
  };

  const draw = () => {
    const e = eye(), m = map();
    for (const name of ["behind", "signs", "plates", "front"]) layers[name].replaceChildren();
    put(layers.behind, "circle", {r: R, class: "rim"});
    if (m.worst) arrow(e, m.worst);
    bins.forEach((bin, n) => {
      const cell = cells[n], seen = bin.line.some((p) => dot(p, e.d) > 0);
      cell.style.display = seen ? "" : "none";
      if (!seen) return;
      cell.setAttribute("d", path(bin.line.map((p) => onLimb(p, e))));
      if (m.g[n] === null) { cell.setAttribute("class", "never"); cell.setAttribute("fill", "url(#unseen)"); } else { cell.setAttribute("class", ""); cell.setAttribute("fill", shade(m, m.g[n])); }
      if (m.change && m.l && dot(bin.middle, e.d) > 0.15 && m.g[n] !== null && (m.l[n] > 0 || m.h[n] < 0)) {
        const [x, y] = flat(bin.middle, e), better = (m.l[n] > 0) !== m.worse;
        put(layers.signs, "path", {d: "M" + (x - 4) + " " + y + "h8" + (better ? "M" + x + " " + (y - 4) + "v8" : ""), class: "sign"});
      }
    });
    const k = 0.86 / reach, here = (p) => flat([p[0] * k, p[1] * k, p[2] * k], e);
    page.plates.map((plate) => [plate.reduce((s, p) => s + dot(p, e.d), 0) / plate.length, plate]).sort((p, q) => p[0] - q[0]).forEach(([, plate]) => put(layers.plates, "path", {d: path(plate.map(here)), class: "plate"}));
    for (const [key, p] of Object.entries(page.places[m.layout] || {})) {
      const own = key === antenna().key, [x, y] = here(p), stick = [-1, 1].map((s) => here([0, 1, 2].map((n) => p[n] + s * p[n + 3] * 0.12 * reach)));
      put(layers.plates, "path", {d: "M" + stick.map((q) => q.map((v) => v.toFixed(1)).join(" ")).join("L"), class: "stick" + (own ? " own" : "")});
      put(layers.plates, "circle", {cx: x.toFixed(1), cy: y.toFixed(1), r: own ? 5 : 3, class: "spot" + (own ? " own" : "")});
    }
    const n = binAt(now.azimuth, now.elevation), v = m.g[n], where = named(now.azimuth, now.elevation);
    const value = v === null ? say("airframe_never", {}) : number(v / 10, 1) + "\u00a0" + m.unit + (m.l && m.l[n] !== null ? " (" + say("range", {low: number(m.l[n] / 10, 1), high: number(m.h[n] / 10, 1)}) + ")" : "");
    byId("airframe-here").textContent = say("airframe_seen", {where, value});
    byId("airframe-worst").textContent = m.worst ? say(m.change ? "airframe_worse" : "airframe_weakest", {where: m.worst.t}) : say("airframe_no_worst", {});
    box.setAttribute("aria-label", antenna().name + ", " + m.name + ". " + byId("airframe-here").textContent + " " + byId("airframe-worst").textContent);
    byId("airframe-azimuth").value = String(now.azimuth); byId("airframe-azimuth").setAttribute("aria-valuetext", where);
    byId("airframe-elevation").value = String(now.elevation); byId("airframe-elevation").setAttribute("aria-valuetext", where);
    byId("airframe-bar").querySelectorAll("[data-bar]").forEach((b) => { b.hidden = b.dataset.bar !== (m.change ? "change " : "") + m.unit; });
    box.dataset.view = now.azimuth + " " + now.elevation;
  };

  /* ---- choices, and the address they stand in ---- */
  const pickAntenna = byId("airframe-antenna"), pickMap = byId("airframe-map");
  const fillMaps = () => pickMap.replaceChildren(...antenna().maps.map((m, n) => new Option(m.name, String(n), n === now.map, n === now.map)));
  page.antennas.forEach((a, n) => pickAntenna.add(new Option(a.name, String(n))));
  const read = () => {
    const found = /^#airframe=([^,]+),([^,]+),(-?\d+),(-?\d+)$/.exec(decodeURIComponent(location.hash));
    if (!found) return false;
    const a = page.antennas.findIndex((x) => x.key === found[1]);
    if (a < 0) return false;
    now.antenna = a; now.map = Math.max(0, page.antennas[a].maps.findIndex((m) => m.id === found[2]));
    now.azimuth = Math.max(-180, Math.min(180, Number(found[3]))); now.elevation = Math.max(-90, Math.min(90, Number(found[4])));
    pickAntenna.value = String(a); fillMaps(); draw();
    return true;
  };
  let later = 0;
  const changed = () => {
    draw();
    clearTimeout(later);
    later = setTimeout(() => history.replaceState(null, "", "#airframe=" + [antenna().key, map().id, now.azimuth, now.elevation].join(",")), 200);
  };
  const turn = (az, el) => { now.azimuth = Math.round(((az + 180) % 360 + 360) % 360) - 180; now.elevation = Math.round(Math.max(-90, Math.min(90, el))); changed(); };
  pickAntenna.addEventListener("change", () => { const id = map().id; now.antenna = Number(pickAntenna.value); now.map = Math.max(0, antenna().maps.findIndex((m) => m.id === id)); fillMaps(); changed(); });
  pickMap.addEventListener("change", () => { now.map = Number(pickMap.value); changed(); });
  byId("airframe-azimuth").addEventListener("input", (e) => turn(Number(e.target.value), now.elevation));
  byId("airframe-elevation").addEventListener("input", (e) => turn(now.azimuth, Number(e.target.value)));
  const views = {nose: [0, 0], right: [90, 0], tail: [180, 0], left: [-90, 0], above: [-180, 90], below: [0, -90]};
  document.querySelectorAll("[data-turn]").forEach((b) => b.addEventListener("click", () => {
    if (b.dataset.turn !== "worst") turn(...views[b.dataset.turn]);
    else if (map().worst) turn(map().worst.a, map().worst.e);
  }));
  box.addEventListener("keydown", (e) => {
    const step = {ArrowLeft: [-15, 0], ArrowRight: [15, 0], ArrowUp: [0, 15], ArrowDown: [0, -15]}[e.key];
    if (step) { e.preventDefault(); turn(now.azimuth + step[0], now.elevation + step[1]); }
  });
  let grip = null;
  box.addEventListener("pointerdown", (e) => { grip = [e.clientX, e.clientY, now.azimuth, now.elevation]; box.setPointerCapture(e.pointerId); });
  box.addEventListener("pointermove", (e) => { if (grip) turn(grip[2] + (e.clientX - grip[0]) * 0.6 * (Math.abs(grip[3]) > 89 ? 0 : 1) * -1, grip[3] + (e.clientY - grip[1]) * 0.6); });
  for (const end of ["pointerup", "pointercancel"]) box.addEventListener(end, () => { grip = null; });
  window.addEventListener("hashchange", () => { if (read()) byId("turn").scrollIntoView({block: "start"}); });
  byId("turn").hidden = false;
  if (read()) byId("turn").scrollIntoView({block: "start"});
  else {
    const w = map().worst;  // from beside the arrow, so that its length is seen
    if (w) { now.azimuth = Math.round(w.a + (w.a > 120 ? -50 : 50)); now.elevation = Math.round(w.e > 20 ? w.e - 45 : w.e + 30); }
    fillMaps(); draw();
  }
})();
