// Comfort on top of forms that work without it: dropping files, progress, drafts that survive, checking as you type.
"use strict";
(() => {
  const token = document.body.dataset.token;
  const send = (path, options = {}) => fetch(path, {
    ...options, credentials: "same-origin", headers: { "X-Token": token, Accept: "application/json", ...options.headers },
  });
  const problem = async (answer) => (await answer.json().catch(() => ({}))).problem || `${answer.status}`;

  // Files: one after another, so that a large drop needs little memory and shows how far it is.
  const drop = document.getElementById("drop");
  if (drop) {
    const bar = document.getElementById("sending");
    const line = document.getElementById("sent");
    const name = (file) => file.fullPath || file.webkitRelativePath || file.name;
    const put = (batch, file, told) => new Promise((resolve, reject) => {
      const ask = new XMLHttpRequest();
      ask.open("PUT", `/logs/${batch}/file?name=${encodeURIComponent(name(file))}`);
      ask.setRequestHeader("X-Token", token);
      ask.setRequestHeader("Accept", "application/json");
      ask.upload.onprogress = (e) => told(e.loaded);
      ask.onload = () => {
        if (ask.status < 300) return resolve();
        try { reject(new Error(JSON.parse(ask.responseText).problem)); } catch { reject(new Error(String(ask.status))); }
      };
      ask.onerror = () => reject(new Error(drop.dataset.lost || "connection lost"));
      ask.send(file);
    });
    const sendAll = async (files) => {
      if (!files.length) return;
      const whole = files.reduce((sum, f) => sum + f.size, 0) || 1;
      let before = 0;
      bar.hidden = false;
      try {
        const begun = await send("/logs", { method: "POST" });
        if (!begun.ok) throw new Error(await problem(begun));
        const { batch } = await begun.json();
        for (const file of files) {
          line.textContent = name(file);
          await put(batch, file, (n) => { bar.value = (before + n) / whole; });
          before += file.size;
        }
        location.href = `/logs/${batch}`;
      } catch (error) {
        bar.hidden = true;
        line.textContent = error.message;
        line.className = "problem";
      }
    };
    const walk = async (entry, path = "") => {
      if (entry.isFile) {
        const file = await new Promise((ok, no) => entry.file(ok, no));
        file.fullPath = path + file.name;
        return [file];
      }
      const reader = entry.createReader();
      const found = [];
      for (;;) {
        const some = await new Promise((ok, no) => reader.readEntries(ok, no));
        if (!some.length) break;
        for (const one of some) found.push(...await walk(one, `${path}${entry.name}/`));
      }
      return found;
    };
    for (const kind of ["dragover", "dragenter"]) {
      drop.addEventListener(kind, (e) => { e.preventDefault(); drop.classList.add("over"); });
    }
    drop.addEventListener("dragleave", () => drop.classList.remove("over"));
    drop.addEventListener("drop", async (e) => {
      e.preventDefault();
      drop.classList.remove("over");
      const entries = [...e.dataTransfer.items].map((i) => i.webkitGetAsEntry && i.webkitGetAsEntry()).filter(Boolean);
      const lists = entries.length ? await Promise.all(entries.map((entry) => walk(entry))) : [[...e.dataTransfer.files]];
      sendAll(lists.flat());
    });
    for (const input of drop.querySelectorAll("input[type=file]")) {
      input.addEventListener("change", () => sendAll([...input.files]));
    }
    window.addEventListener("dragover", (e) => e.preventDefault());
    window.addEventListener("drop", (e) => e.preventDefault());
  }

  // A job's progress.
  const job = document.getElementById("job");
  if (job && ["waiting", "running"].includes(job.dataset.state)) {
    const part = (key) => job.querySelector(`[data-${key}]`);
    const look = async () => {
      try {
        const told = await (await send(`/jobs/${job.dataset.job}.json`)).json();
        job.querySelector("progress").value = told.whole ? told.done / told.whole : 0;
        part("step").textContent = told.step;
        part("lines").replaceChildren(...told.lines.map((t) => Object.assign(document.createElement("li"), { textContent: t })));
        part("failed").replaceChildren(...told.failed.map((t) => Object.assign(document.createElement("p"), { textContent: t, className: "problem" })));
        if (["finished", "stopped"].includes(told.state)) {
          if (!told.failed.length && told.to) { location.replace(told.to); return; }
          part("done").hidden = false;
          part("done").querySelector("a").href = told.to || "/";
          return;
        }
      } catch { /* asleep or offline: ask again */ }
      setTimeout(look, 500);
    };
    look();
  }

  // Two files on one clock: the curve follows the slider, and the number is what is kept.
  for (const one of document.querySelectorAll("[data-overlay]")) {
    const number = one.querySelector("[data-offset]"), slider = one.querySelector("[data-slider]");
    const place = (seconds) => {
      if (!Number.isFinite(seconds)) return;
      for (const curve of one.querySelectorAll(".two")) curve.setAttribute("transform", `translate(${seconds * one.dataset.perS} 0)`);
    };
    slider.addEventListener("input", () => { number.value = slider.value; place(Number(slider.value)); });
    number.addEventListener("input", () => { const s = parseFloat(number.value.replace(",", ".")); slider.value = s; place(s); });
  }

  // Half-typed forms survive a lost connection and a closed browser.
  for (const form of document.querySelectorAll("form[data-draft]")) {
    const key = `desk-draft-${form.dataset.draft}`;
    const fields = () => [...form.elements].filter((f) => f.name && f.type !== "hidden" && f.type !== "submit");
    let kept = null;
    try { kept = JSON.parse(localStorage.getItem(key)); } catch { kept = null; }
    const mark = form.elements.mark ? form.elements.mark.value : "";
    if (kept && kept.mark === mark) {
      for (const field of fields()) {
        if (!(field.name in kept.values)) continue;
        if (field.type === "radio" || field.type === "checkbox") field.checked = kept.values[field.name] === field.value;
        else field.value = kept.values[field.name];
      }
    } else localStorage.removeItem(key);
    form.addEventListener("input", () => {
      const values = {};
      for (const field of fields()) {
        if (field.type !== "radio" && field.type !== "checkbox") values[field.name] = field.value;
        else if (field.checked) values[field.name] = field.value;
      }
      try { localStorage.setItem(key, JSON.stringify({ mark, values })); } catch { /* no room: the form still works */ }
    });
    form.addEventListener("submit", async (e) => {
      if (!navigator.onLine && !["localhost", "127.0.0.1"].includes(location.hostname)) {
        e.preventDefault();
        const state = form.querySelector("[data-draft-state]");
        if (state) state.textContent = "…";
      }
    });
  }

  // A pack's printed label, read with the camera: ticks the pack where it usually sits.
  const scan = document.querySelector("[data-scan]");
  if (scan) {
    const able = "BarcodeDetector" in window && window.isSecureContext && navigator.mediaDevices;
    document.querySelector(able ? "[data-scan-row]" : "[data-no-scan]").hidden = false;
    const state = document.querySelector("[data-scan-state]"), picture = document.querySelector("[data-scan-picture]");
    let stream = null;
    const close = () => {
      for (const track of stream ? stream.getTracks() : []) track.stop();
      stream = null;
      picture.hidden = true;
    };
    const tick = (name) => {
      const radios = [...document.querySelectorAll("input[type=radio][name^=pack_]")].filter((r) => r.value === name);
      const place = (radio) => radio.closest("fieldset").dataset.role;
      const radio = radios.find((r) => r.dataset.usual === place(r)) || radios[0];
      if (radio) {
        radio.checked = true;
        radio.dispatchEvent(new Event("input", { bubbles: true }));
      }
      state.textContent = `${name} ${radio ? state.dataset.ticked : state.dataset.stranger}`;
    };
    scan.addEventListener("click", async () => {
      if (stream) { close(); return; }
      try {
        stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
        picture.srcObject = stream;
        picture.hidden = false;
        await picture.play();
        const reader = new BarcodeDetector({ formats: ["qr_code"] });
        while (stream) {
          const [found] = await reader.detect(picture).catch(() => []);
          if (found) { tick(found.rawValue); close(); break; }
          await new Promise((next) => setTimeout(next, 120));
        }
      } catch {
        close();
        state.textContent = state.dataset.noCamera;
      }
    });
  }

  // The pilot's place from the phone's own position.
  const here = document.querySelector("[data-here-button]");
  if (here && navigator.geolocation && window.isSecureContext) {
    here.hidden = false;
    here.addEventListener("click", () => navigator.geolocation.getCurrentPosition(({ coords }) => {
      const form = here.closest("form");
      form.elements.pilot_latitude_deg.value = coords.latitude.toFixed(6);
      form.elements.pilot_longitude_deg.value = coords.longitude.toFixed(6);
      form.dispatchEvent(new Event("input", { bubbles: true }));
    }));
  }

  // Check what is typed: a file's text, or a form field by field.
  for (const form of document.querySelectorAll("form[data-check]")) {
    const out = form.querySelector("[data-check-result]");
    let timer = 0, asked = 0;
    const ask = async () => {
      const mine = ++asked;
      const answer = await send(form.dataset.check, { method: "POST", body: new URLSearchParams(new FormData(form)) }).catch(() => null);
      if (!answer || mine !== asked) return;
      const told = await answer.json().catch(() => ({ problem: String(answer.status) }));
      out.textContent = told.problem || ((told.holds || []).length ? `${out.dataset.holds} ${told.holds.join(", ")}` : "");
      out.classList.toggle("problem", Boolean(told.problem));
      out.classList.toggle("soft", !told.problem);
      for (const field of form.querySelectorAll("[aria-invalid]")) field.removeAttribute("aria-invalid");
      const wrong = told.at ? form.elements[told.at] : null;
      if (wrong) wrong.setAttribute("aria-invalid", "true");
    };
    form.addEventListener("input", () => { clearTimeout(timer); timer = setTimeout(ask, 300); });
    ask();
  }
})();
