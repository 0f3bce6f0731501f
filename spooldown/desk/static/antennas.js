// Antennas placed and turned by hand: the planned map follows at once. The pattern, the directions and their names come
// from the analyser as tables; here they are only looked up, added and averaged.
"use strict";
(async () => {
  const form = document.getElementById("layout");
  if (!form) return;
  const told = await (await fetch("/antennas/table.json", { credentials: "same-origin" })).json();
  const bins = told.names.length, per = told.directions[0].length;
  const direction = Float64Array.from(told.directions.flat(2));
  const power = { dipole: Float64Array.from(told.power.dipole), monopole: Float64Array.from(told.power.monopole) };
  const steps = power.dipole.length - 1;
  const floor = 10 ** (told.floorDb / 10);
  const half = Number(form.dataset.half);
  const ARM = 26;
  const AXIS = ["x", "y", "z"], WIRE = ["ax", "ay", "az"];
  // For each view the body axis and its sign that runs to the right, and the ones that run down the screen.
  const VIEWS = { top: [[1, 1], [0, -1]], side: [[0, -1], [2, 1]], front: [[1, -1], [2, 1]] };

  const input = (group, n, key) => form.elements[`${group}.${n}.${key}`];
  const number = (field) => { const v = parseFloat(String(field.value).replace(",", ".").replace("−", "-")); return Number.isFinite(v) ? v : NaN; };
  const rows = () => [...form.querySelectorAll("[data-row]")].map((r) => Number(r.dataset.row));
  const antennas = () => rows().filter((n) => input("antennas", n, "receiver").value.trim()).map((n) => {
    const axis = WIRE.map((k) => number(input("antennas", n, k)));
    const length = Math.hypot(...axis);
    return {
      n, receiver: input("antennas", n, "receiver").value.trim(), number: number(input("antennas", n, "number")),
      kind: input("antennas", n, "kind").value, at: AXIS.map((k) => number(input("antennas", n, k))), axis: axis.map((v) => v / length),
    };
  });
  const shadows = () => [...form.querySelectorAll("[data-shadow]")].map((r) => {
    const n = r.dataset.shadow, of = (key) => number(input("shadows", n, key)) * Math.PI / 180;
    const a = of("azimuth_deg"), e = of("elevation_deg");
    return {
      to: [Math.cos(e) * Math.cos(a), Math.cos(e) * Math.sin(a), -Math.sin(e)], inside: Math.cos(of("half_width_deg")),
      loss: number(input("shadows", n, "loss_db")), receiver: input("shadows", n, "receiver").value.trim(),
      number: input("shadows", n, "number").value.trim() === "" ? null : number(input("shadows", n, "number")),
    };
  }).filter((s) => s.to.every(Number.isFinite) && Number.isFinite(s.inside) && Number.isFinite(s.loss));

  // Best antenna in every direction, mean power over each bin, dB.
  const gains = () => {
    const best = new Float64Array(bins * per).fill(0);
    const cones = shadows();
    for (const one of antennas()) {
      if (!one.axis.every(Number.isFinite)) continue;
      const pattern = power[one.kind] || power.dipole;
      const mine = cones.filter((s) => (!s.receiver || s.receiver === one.receiver) && (s.number === null || s.number === one.number));
      const [ax, ay, az] = one.axis;
      for (let i = 0, j = 0; i < best.length; i++, j += 3) {
        const dx = direction[j], dy = direction[j + 1], dz = direction[j + 2];
        const c = Math.min(1, Math.abs(ax * dx + ay * dy + az * dz)) * steps;
        const k = Math.min(steps - 1, Math.floor(c));
        let p = pattern[k] + (c - k) * (pattern[k + 1] - pattern[k]);
        if (mine.length) {
          p = Math.max(p, floor);
          for (const s of mine) if (dx * s.to[0] + dy * s.to[1] + dz * s.to[2] >= s.inside) p *= 10 ** (-s.loss / 10);
        }
        p = Math.max(p, floor);
        if (p > best[i]) best[i] = p;
      }
    }
    const out = new Float64Array(bins);
    for (let b = 0; b < bins; b++) {
      let sum = 0;
      for (let k = 0; k < per; k++) sum += best[b * per + k];
      out[b] = 10 * Math.log10(sum / per);
    }
    return out;
  };

  const edited = document.getElementById("edited");
  const cells = edited ? [...edited.querySelectorAll("svg.map rect:not(.unseen)")] : [];
  const one = new Intl.NumberFormat(told.language, { minimumFractionDigits: 1, maximumFractionDigits: 1 });
  const whole = new Intl.NumberFormat(told.language, { maximumFractionDigits: 0 });
  const minus = (text) => text.replace("-", "−");
  const paint = () => {
    if (!cells.length) return null;
    const gain = gains();
    let worst = 0, covered = 0;
    for (let b = 0; b < bins; b++) {
      if (gain[b] < gain[worst]) worst = b;
      if (gain[b] > told.coveredDb) covered++;
      const share = Math.min(1, Math.max(0, (gain[b] - told.lowDb) / (told.highDb - told.lowDb)));
      cells[b].setAttribute("fill", told.colours[Math.round(share * (told.colours.length - 1))]);
    }
    edited.querySelector("[data-worst]").textContent = told.worst.replace("WHERE", told.names[worst]).replace("GAIN", minus(one.format(gain[worst])));
    edited.querySelector("[data-share]").textContent = form.dataset.share.replace("SHARE", whole.format(100 * covered / bins));
    return gain;
  };

  // The drawings.
  const drawings = [...form.querySelectorAll("svg.airframe")].map((svg) => ({ svg, axes: VIEWS[svg.dataset.view] }));
  const set = (node, values) => { for (const [k, v] of Object.entries(values)) node.setAttribute(k, v.toFixed(2)); };
  const draw = () => {
    for (const a of antennas()) {
      if (![...a.at, ...a.axis].every(Number.isFinite)) continue;
      for (const { svg, axes: [[r, rs], [d, ds]] } of drawings) {
        const group = svg.querySelector(`[data-antenna="${a.n}"]`);
        if (!group) continue;
        const x = 100 * rs * a.at[r] / half, y = 100 * ds * a.at[d] / half, u = ARM * rs * a.axis[r], v = ARM * ds * a.axis[d];
        group.querySelector(".wire").setAttribute("d", `M${x - u} ${y - v}L${x + u} ${y + v}`);
        set(group.querySelector(".place"), { cx: x, cy: y });
        set(group.querySelector(".turn"), { cx: x + u, cy: y + v });
        set(group.querySelector("text"), { x: x + 6, y: y - 6 });
        for (const hit of group.querySelectorAll(".hit")) set(hit, hit.dataset.of === "place" ? { cx: x, cy: y } : { cx: x + u, cy: y + v });
      }
    }
  };
  let asked = false;
  const follow = () => {
    if (asked) return;
    asked = true;
    requestAnimationFrame(() => { asked = false; draw(); paint(); });
  };

  const write = (n, keys, values, digits) => keys.forEach((k, i) => { input("antennas", n, k).value = String(Number(values[i].toFixed(digits))); });
  const find = (n) => antennas().find((a) => a.n === n);
  const move = (n, [[r, rs], [d, ds]], right, down) => {
    const a = find(n);
    if (!a) return;
    a.at[r] += rs * right;
    a.at[d] += ds * down;
    write(n, AXIS, a.at, 3);
    follow();
  };
  // The wire's end follows the hand in this view; what points out of the view keeps its side.
  const point = (n, [[r, rs], [d, ds]], u, v) => {
    const a = find(n);
    if (!a) return;
    const out = 3 - r - d, long = Math.hypot(u, v);
    const fit = long > 1 ? 1 / long : 1;
    const next = [0, 0, 0];
    next[r] = rs * u * fit;
    next[d] = ds * v * fit;
    next[out] = (a.axis[out] < 0 ? -1 : 1) * Math.sqrt(Math.max(0, 1 - (u * fit) ** 2 - (v * fit) ** 2));
    write(n, WIRE, next, 3);
    follow();
  };
  const turn = (n, axes, degrees) => {
    const a = find(n);
    if (!a) return;
    const [[r, rs], [d, ds]] = axes, t = degrees * Math.PI / 180;
    const u = rs * a.axis[r], v = ds * a.axis[d];
    const next = [...a.axis];
    next[r] = rs * (u * Math.cos(t) - v * Math.sin(t));
    next[d] = ds * (u * Math.sin(t) + v * Math.cos(t));
    write(n, WIRE, next, 4);
    follow();
  };

  for (const { svg, axes } of drawings) {
    const where = (event) => {
      const p = new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
      return [p.x, p.y];
    };
    for (const group of svg.querySelectorAll(".antenna")) {
      const n = Number(group.dataset.antenna);
      const field = input("antennas", n, "name");
      for (const of of ["turn", "place"]) {
        const hit = document.createElementNS("http://www.w3.org/2000/svg", "circle");
        const seen = group.querySelector(`.${of}`);
        hit.setAttribute("r", of === "place" ? 11 : 9);
        hit.setAttribute("cx", seen.getAttribute("cx"));
        hit.setAttribute("cy", seen.getAttribute("cy"));
        hit.setAttribute("class", "hit");
        hit.setAttribute("tabindex", "0");
        hit.setAttribute("role", "button");
        hit.setAttribute("aria-label", form.dataset[of].replace("ANTENNA", `${n + 1} ${field.value}`));
        hit.dataset.of = of;
        group.append(hit);
        let from = null;
        hit.addEventListener("pointerdown", (e) => { hit.setPointerCapture(e.pointerId); from = where(e); e.preventDefault(); hit.focus(); });
        hit.addEventListener("pointermove", (e) => {
          if (!from) return;
          const [x, y] = where(e);
          if (of === "place") {
            move(n, axes, (x - from[0]) * half / 100, (y - from[1]) * half / 100);
            from = [x, y];
          } else {
            const at = group.querySelector(".place");
            point(n, axes, (x - at.getAttribute("cx")) / ARM, (y - at.getAttribute("cy")) / ARM);
          }
        });
        for (const end of ["pointerup", "pointercancel", "lostpointercapture"]) hit.addEventListener(end, () => { from = null; });
        hit.addEventListener("keydown", (e) => {
          const step = { ArrowRight: [1, 0], ArrowLeft: [-1, 0], ArrowDown: [0, 1], ArrowUp: [0, -1] }[e.key];
          if (!step) return;
          e.preventDefault();
          if (of === "place") { const s = e.shiftKey ? 0.1 : 0.01; move(n, axes, s * step[0], s * step[1]); }
          else turn(n, axes, (e.shiftKey ? 1 : 5) * (step[0] || step[1]));
        });
      }
    }
  }
  form.addEventListener("input", follow);
  follow();
  window.deskAntennas = { gains: () => [...gains()], paint };
  form.dataset.ready = "1";
})();
