"use strict";
/* Tables without a server: search and sort, cards on a phone, and no stop of the tab key where nothing scrolls. */
(() => {
  const words = JSON.parse(document.getElementById("words").textContent);
  const say = (key, values) => words[key].replace(/\{(\w+)\}/g, (_, name) => values[name]);
  /* ---- cards: each cell carries its column's head. A table laid out as cards is no table to some browsers, so the
     roles are said in full. ---- */
  document.querySelectorAll("table.stack").forEach((table) => {
    const heads = [...table.tHead.rows[0].cells].map((head) => {
      const how = head.querySelector("small");
      return [(how ? head.textContent.replace(how.textContent, "") : head.textContent).trim(), how ? how.textContent : ""];
    });
    table.setAttribute("role", "table");
    [table.tHead, ...table.tBodies].forEach((part) => part.setAttribute("role", "rowgroup"));
    [...table.rows].forEach((row) => {
      row.setAttribute("role", "row");
      const inHead = row.parentElement === table.tHead;
      [...row.cells].forEach((cell, n) => {
        cell.setAttribute("role", cell.tagName === "TD" ? "cell" : inHead ? "columnheader" : "rowheader");
        if (inHead || cell.tagName !== "TD") return;
        if (cell.textContent.trim() === "–" || !cell.textContent.trim()) cell.classList.add("none");
        else {
          if (heads[n][0]) cell.dataset.head = heads[n][0];
          if (heads[n][1]) cell.dataset.how = heads[n][1];
        }
      });
    });
  });

  /* ---- search and sort; rows are searched by what they show ---- */
  document.querySelectorAll("table[data-sortable]").forEach((table) => {
    const body = table.tBodies[0];
    const rows = [...body.rows];
    const words = rows.map((r) => r.textContent.toLowerCase().replace(/\s+/g, " ") + " " + (r.dataset.words || ""));
    const heads = [...table.tHead.rows[0].cells];
    const tools = document.querySelector('[data-tools="' + table.id + '"]');
    const text = tools.querySelector("input[type=search]");
    const picks = [...tools.querySelectorAll("select[name]")];
    const order = tools.querySelector(".order select");
    const count = tools.querySelector("output");
    const cells = rows.some((r) => r.dataset.day) ? [...document.querySelectorAll("[data-cell]")] : [];  // of the calendar
    let waiting = 0, ready = false;
    const filter = () => {
      waiting = 0;
      const wanted = text.value.toLowerCase().split(/\s+/).filter(Boolean);
      let shown = 0;
      rows.forEach((row, i) => {
        const keep = wanted.every((w) => words[i].includes(w)) && picks.every((p) => !p.value || (row.dataset[p.name] || "").split(" ").includes(p.value));
        if (row.hidden === keep) row.hidden = !keep;
        if (keep) shown += 1;
      });
      if (ready) keep();
      if (cells.length) { const left = new Set(rows.filter((r) => !r.hidden).map((r) => r.dataset.day)); cells.forEach((c) => c.classList.toggle("off", !left.has(c.dataset.cell))); }
      count.textContent = say(shown === rows.length ? "all" : shown ? "some" : "none", {n: shown, all: rows.length});
    };
    /* What is chosen stands in the address, so that it is there again after Back and can be kept as a bookmark. */
    /* ---- flights ticked for comparing ---- */
    const link = tools.querySelector("[data-compare]"), ticked = {chosen: [], get value() { return this.chosen.join(","); }, set value(v) { this.chosen = v.split(",").filter((k) => ticks.has(k)); }}, ticks = new Map();
    const tell = () => {
      /* More than twelve could not be told apart; compare.js takes no more. */
      ticks.forEach((tick, k) => { tick.checked = ticked.chosen.includes(k); tick.disabled = !tick.checked && ticked.chosen.length >= 12; });
      link.hidden = ticked.chosen.length < 2;
      link.textContent = say("compare_link", {n: ticked.chosen.length});
      link.href = link.getAttribute("href").split("#")[0] + "#f=" + ticked.value;
    };
    if (link) rows.forEach((row) => {
      const tick = document.createElement("input"), cell = row.cells[0], name = cell.textContent.trim();
      tick.type = "checkbox"; tick.className = "tick noprint"; tick.setAttribute("aria-label", say("compare_tick", {flight: name}));
      tick.addEventListener("change", () => { const k = row.dataset.flight; ticked.chosen = tick.checked ? [...ticked.chosen, k] : ticked.chosen.filter((c) => c !== k); tell(); keep(); });
      ticks.set(row.dataset.flight, tick);
      cell.prepend(tick, " ");
    });
    const fields = {q: text, order, f: ticked, ...Object.fromEntries(picks.map((p) => [p.name, p]))};
    const keep = () => {
      const chosen = new URLSearchParams(location.hash.includes("=") ? location.hash.slice(1) : "");
      for (const [name, field] of Object.entries(fields)) if (field.value) chosen.set(name, field.value); else chosen.delete(name);
      history.replaceState(null, "", chosen.size ? "#" + chosen.toString().replace(/%2C/g, ",") : location.pathname + location.search);
    };
    const soon = () => { if (!waiting) waiting = requestAnimationFrame(filter); };
    text.addEventListener("input", soon);
    picks.forEach((p) => p.addEventListener("change", soon));

    const key = (row, column) => {
      const cell = row.cells[column], v = cell.dataset.v;
      return v === undefined ? cell.textContent.trim().toLowerCase() : v === "" ? null : Number(v);
    };
    const sort = (column, up) => {
      heads.forEach((h) => h.removeAttribute("aria-sort"));
      heads[column].setAttribute("aria-sort", up ? "ascending" : "descending");
      order.value = column + (up ? "+" : "-");
      const keyed = rows.map((row, i) => [key(row, column), i, row]);
      keyed.sort((p, q) => {
        if (p[0] === null || q[0] === null) return p[0] === q[0] ? p[1] - q[1] : p[0] === null ? 1 : -1;
        const d = p[0] < q[0] ? -1 : p[0] > q[0] ? 1 : p[1] - q[1];
        return up ? d : -d;
      });
      body.append(...keyed.map(([, , row]) => row));
      if (ready) keep();
    };
    order.add(new Option(say("newest"), ""));
    heads.forEach((head, column) => {
      const name = head.textContent.trim();
      for (const sign of ["-", "+"]) order.add(new Option(say(sign === "+" ? "rising" : "falling", {what: name}), column + sign));
      const button = document.createElement("button");
      button.type = "button";
      button.className = "sort";
      button.append(...head.childNodes);
      head.append(button);
      button.addEventListener("click", () => sort(column, head.getAttribute("aria-sort") !== "ascending"));
    });
    order.addEventListener("change", () => {
      if (order.value) sort(parseInt(order.value, 10), order.value.endsWith("+"));
      else { heads.forEach((h) => h.removeAttribute("aria-sort")); body.append(...rows); if (ready) keep(); }
    });
    tools.hidden = false;
    const asked = new URLSearchParams(location.hash.slice(1));
    for (const [name, field] of Object.entries(fields)) if (asked.has(name)) field.value = asked.get(name);
    if (link) tell();
    if (order.value) sort(parseInt(order.value, 10), order.value.endsWith("+"));
    filter();
    ready = true;
  });

  /* ---- a region that scrolls is reached by the tab key; one that does not would only be in the way ---- */
  const regions = [...document.querySelectorAll(".scroll")];
  const stops = () => regions.map((r) => [r, r.scrollWidth > r.clientWidth]).forEach(([r, on]) => { if (on) r.tabIndex = 0; else r.removeAttribute("tabindex"); });
  const watch = new ResizeObserver(stops);
  watch.observe(document.body);
  stops();
})();
