"use strict";
/* Search and sort for tables, without a server. Rows are searched by what they show. */
(() => {
  document.querySelectorAll("table[data-sortable]").forEach((table) => {
    const body = table.tBodies[0];
    const rows = [...body.rows];
    const words = rows.map((r) => r.textContent.toLowerCase().replace(/\s+/g, " ") + " " + (r.dataset.words || ""));
    const tools = table.id ? document.querySelector('[data-tools="' + table.id + '"]') : null;
    if (tools) {
      tools.hidden = false;
      const text = tools.querySelector("input[type=search]");
      const picks = [...tools.querySelectorAll("select")];
      const count = tools.querySelector("output");
      let waiting = 0;
      const filter = () => {
        waiting = 0;
        const wanted = text.value.toLowerCase().split(/\s+/).filter(Boolean);
        let shown = 0;
        rows.forEach((row, i) => {
          const keep = wanted.every((w) => words[i].includes(w)) && picks.every((p) => !p.value || row.dataset[p.name] === p.value);
          if (row.hidden === keep) row.hidden = !keep;
          if (keep) shown += 1;
        });
        count.textContent = shown === rows.length ? rows.length + " in all" : shown + " of " + rows.length;
      };
      const soon = () => { if (!waiting) waiting = requestAnimationFrame(filter); };
      text.addEventListener("input", soon);
      picks.forEach((p) => p.addEventListener("change", soon));
      filter();
    }
    [...table.tHead.rows[0].cells].forEach((head, column) => {
      if (head.dataset.nosort !== undefined) return;
      const button = document.createElement("button");
      button.type = "button";
      button.className = "sort";
      while (head.firstChild) button.appendChild(head.firstChild);
      head.appendChild(button);
      button.addEventListener("click", () => {
        const up = head.getAttribute("aria-sort") !== "ascending";
        [...table.tHead.rows[0].cells].forEach((h) => h.removeAttribute("aria-sort"));
        head.setAttribute("aria-sort", up ? "ascending" : "descending");
        const key = (row) => { const cell = row.cells[column]; const v = cell.dataset.v; return v === undefined ? cell.textContent.trim().toLowerCase() : v === "" ? null : Number(v); };
        const keyed = rows.map((row, i) => [key(row), i, row]);
        keyed.sort((p, q) => {
          if (p[0] === null || q[0] === null) return p[0] === q[0] ? p[1] - q[1] : p[0] === null ? 1 : -1;
          const d = p[0] < q[0] ? -1 : p[0] > q[0] ? 1 : p[1] - q[1];
          return up ? d : -d;
        });
        const all = document.createDocumentFragment();
        keyed.forEach(([, , row]) => all.appendChild(row));
        body.appendChild(all);
      });
    });
  });
})();
