// The live view: asks twice a second what there is to see, draws it, and makes a sound where it is let.
"use strict";
(() => {
  // Whoever fills in a source means that one.
  for (const radio of document.querySelectorAll("input[name=kind]")) {
    radio.closest(".fields").addEventListener("input", (e) => { if (e.target !== radio) radio.checked = true; });
  }
  const live = document.getElementById("live");
  if (!live) return;
  const part = (name) => live.querySelector(`[data-${name}]`);
  const make = (tag, className, text) => Object.assign(document.createElement(tag), { className, textContent: text });
  const put = (name, text) => { if (part(name).textContent !== text) part(name).textContent = text; };
  const SVG = "http://www.w3.org/2000/svg", WIDTH = 120, HEIGHT = 26;

  // A small line of the last two minutes; a part in which nothing came is a gap.
  const trace = (values) => {
    const there = values.filter((v) => v !== null);
    const svg = document.createElementNS(SVG, "svg");
    svg.setAttribute("viewBox", `0 0 ${WIDTH} ${HEIGHT}`);
    svg.setAttribute("class", "spark");
    svg.setAttribute("aria-hidden", "true");
    if (there.length < 2) return svg;
    const low = Math.min(...there), spread = Math.max(...there) - low || 1;
    let path = "", pen = "M";
    values.forEach((v, n) => {
      if (v === null) { pen = "M"; return; }
      path += `${pen}${(n / (values.length - 1) * WIDTH).toFixed(1)} ${(HEIGHT - 2 - (v - low) / spread * (HEIGHT - 4)).toFixed(1)}`;
      pen = "L";
    });
    const line = document.createElementNS(SVG, "path");
    line.setAttribute("d", path);
    svg.append(line);
    return svg;
  };

  const draw = (now) => {
    put("elapsed", now.elapsed);
    put("state", now.state);
    part("state").classList.toggle("warn", now.warn);
    put("source", now.source);
    put("size", now.size);
    document.title = document.title.replace(/^\S+/, now.elapsed);
    const passed = now.passed.join("\n");
    if (part("passed").dataset.text !== passed) {
      part("passed").dataset.text = passed;
      part("passed").replaceChildren(...now.passed.map((p) => make("p", "problem", p)));
    }
    part("hints").replaceChildren(...now.hints.map((h) => make("p", "soft", h)));
    part("groups").replaceChildren(...now.groups.map((group) => {
      const section = make("section", "", "");
      section.append(make("h2", "", group.title), ...group.lines.map((l) => {
        const row = make("div", `reading${l.passed ? " passed" : ""}${l.old ? " old" : ""}`, "");
        row.append(make("span", "what", l.label), make("b", "", l.value), trace(l.trace), make("span", "beside", l.beside));
        return row;
      }));
      return section;
    }));
    part("events").replaceChildren(
      ...now.spoken.map((s) => make("li", "", s)), ...now.events.map((e) => make("li", "soft", e)));
  };

  // A sound needs a person's touch first; browsers want it so.
  let ear = null, heard = null;
  const button = part("sound");
  button.addEventListener("click", () => {
    const on = button.getAttribute("aria-pressed") !== "true";
    button.setAttribute("aria-pressed", String(on));
    button.textContent = on ? button.dataset.on : button.dataset.off;
    if (on) { ear = ear || new AudioContext(); ear.resume(); beep(1); } else if (ear) ear.suspend();
  });
  const beep = (times) => {
    for (let n = 0; n < times; n += 1) {
      const tone = ear.createOscillator(), loud = ear.createGain(), at = ear.currentTime + 0.35 * n;
      tone.frequency.value = 880;
      loud.gain.setValueAtTime(0.2, at);
      loud.gain.setTargetAtTime(0, at + 0.15, 0.03);
      tone.connect(loud).connect(ear.destination);
      tone.start(at);
      tone.stop(at + 0.3);
    }
  };

  const look = async () => {
    let pause = 500;
    try {
      const answer = await fetch(`/live/${encodeURIComponent(live.dataset.name)}/now`, { headers: { Accept: "application/json" } });
      if (!answer.ok) throw new Error(String(answer.status));
      const now = await answer.json();
      draw(now);
      if (heard !== null && now.count > heard && ear && button.getAttribute("aria-pressed") === "true") {
        beep(3);
        live.dataset.sounded = String(Number(live.dataset.sounded || 0) + 1);
      }
      heard = now.count;
      if (now.ended) {
        if (!live.dataset.ended) { location.reload(); return; }
        return;
      }
    } catch { pause = 2000; /* asleep or offline: ask again */ }
    setTimeout(look, pause);
  };
  look();
})();
