"use strict";
/* My timer: what is set on the transmitter and filled in the tanks, answered at once from tables of odds that the page
   carries. Between the tables' points it reads straight lines. */
(() => {
  const source = document.getElementById("timers");
  if (!source) return;
  const timers = JSON.parse(source.textContent);
  const words = JSON.parse(document.getElementById("words").textContent);
  const say = (key, values) => words[key].replace(/\{(\w+)\}/g, (_, name) => values[name]);
  const mark = words.separators[0];
  const decimal = (v, digits) => v.toFixed(digits).replace(".", mark);

  /* Place of a value between ascending points: [index, share to the next]. */
  const place = (points, v) => {
    let k = 0;
    while (k < points.length - 2 && points[k + 1] < v) k++;
    return [k, Math.min(1, Math.max(0, (v - points[k]) / (points[k + 1] - points[k])))];
  };
  const row = (t, ml) => { const [k, f] = place(t.start_ml, ml); return t.odds[k].map((p, i) => (p + f * (t.odds[k + 1][i] - p)) / 1000); };
  const at = (t, odds, minutes) => { const [k, f] = place(t.minutes, minutes); return odds[k] + f * (odds[k + 1] - odds[k]); };
  const even = (t, odds) => {
    for (let k = 1; k < odds.length; k++) if (odds[k] < 0.5) { const d = odds[k - 1] - odds[k]; return t.minutes[k - 1] + (d > 0 ? (odds[k - 1] - 0.5) / d : 0) * (t.minutes[k] - t.minutes[k - 1]); }
    return t.minutes[t.minutes.length - 1];
  };

  document.querySelectorAll("[data-timer]").forEach((box) => {
    const known = timers[box.dataset.timer], minutes = box.querySelector("[data-minutes]"), out = box.querySelector("output");
    const number = (field) => Number(field.value.replace(",", "."));
    const answer = () => {
      const m = number(minutes);
      let first = null;
      for (const t of known.tanks) {
        const field = box.querySelector('[data-tank="' + CSS.escape(t.key) + '"]'), ml = number(field) / known.scale;
        if (!(m > 0) || !(ml > 0)) { out.textContent = say("timer_ask", {}); return; }
        if (ml > t.start_ml[t.start_ml.length - 1] * 1.001) { out.textContent = say("timer_too_full", {tank: t.name}); return; }
        if (m > t.minutes[t.minutes.length - 1]) { out.textContent = say("timer_too_long", {tank: t.name}); return; }
        const odds = row(t, ml), one = {name: t.name, odds: ml <= t.start_ml[0] ? 0 : at(t, odds, m), even: even(t, odds)};
        if (!first || one.odds < first.odds - 1e-9 || (Math.abs(one.odds - first.odds) <= 1e-9 && one.even < first.even)) first = one;
      }
      const percent = first.odds * 100;
      const shown = percent >= 99 ? say("timer_nearly_all", {}) : percent < 1 ? say("timer_nearly_none", {}) : say("timer_percent", {percent: Math.round(percent)});
      out.textContent = say(known.tanks.length > 1 ? "timer_answer" : "timer_answer_one", {odds: shown, tank: first.name, even: decimal(first.even, 1)});
      box.dataset.odds = percent.toFixed(2);
    };
    box.querySelectorAll("input").forEach((field) => field.addEventListener("input", answer));
    box.hidden = false;
    answer();
  });
})();
