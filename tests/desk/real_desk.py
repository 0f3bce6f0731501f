"""A desk in a process of its own, and a real browser that was let in."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from msgspec import Struct

ROOT = Path(__file__).parents[2]
DESKTOP, PHONE = {"width": 1280, "height": 900}, {"width": 390, "height": 844}


class Running(Struct):
    """A desk in a process of its own."""

    url: str
    entry: str
    logbook: Path
    process: subprocess.Popen[str]


@contextmanager
def running_desk(folder: Path, *more: str, cache: str = "cache") -> Iterator[Running]:
    """Start a desk on ``folder / "logbook"`` and wait until it says its way in; stop it in the end.

    One with another cache finds no desk that runs already, as on another machine.
    """
    env = {**os.environ, "PYTHONPATH": str(ROOT), "XDG_CACHE_HOME": str(folder / cache)}
    command = [sys.executable, "-m", "spooldown", "desk", "--no-browser", "--logbook", str(folder / "logbook"), *more]
    process = subprocess.Popen(command, cwd=ROOT, env=env, stdout=subprocess.PIPE, text=True)
    try:
        assert process.stdout
        said = ""
        while "/enter?code=" not in said:
            line = process.stdout.readline()
            assert line, f"the desk ended: {said}"
            said += line
        entry = re.search(r"http://\S+/enter\S+", said)
        assert entry
        yield Running(entry[0].partition("/enter")[0], entry[0], folder / "logbook", process)
    finally:
        process.terminate()
        ended = process.wait(20)
    assert ended in (0, -15, 143, -9), "the desk stops when it is told to"


def let_in(running: Running, chromium: Any, folder: Path) -> Path:
    """Let a browser in and keep its cookie: the way in is good once."""
    context = chromium.new_context()
    page = context.new_page()
    page.goto(running.entry)
    assert page.url == f"{running.url}/"
    path = folder / "state.json"
    context.storage_state(path=path)
    context.close()
    return path


class Screen(Struct):
    """A page that remembers what it complained about."""

    page: Any
    complaints: list[str]

    def axe(self) -> list[str]:
        from axe_playwright_python.sync_playwright import Axe

        found = Axe().run(self.page).response["violations"]
        return [f"{v['id']}: {[n['html'][:90] for n in v['nodes'][:3]]}" for v in found]

    def fits(self) -> bool:
        """Whether nothing reaches out of the window sideways."""
        return bool(self.page.evaluate("document.documentElement.scrollWidth <= window.innerWidth + 1"))

    def small_targets(self) -> list[str]:
        """Buttons and choices too low for a thumb."""
        return list(
            self.page.evaluate(
                """[...document.querySelectorAll('main button, main a.button, .choice, nav.desk a')]
                   .filter(e => e.offsetParent && e.getBoundingClientRect().height < 44)
                   .map(e => e.outerHTML.slice(0, 80))"""
            )
        )


def screen(chromium: Any, state: Path, size: dict[str, int], **more: Any) -> Screen:
    """Open a page of a browser that was let in."""
    context = chromium.new_context(viewport=size, storage_state=state, **more)
    page = context.new_page()
    complaints: list[str] = []
    page.on("console", lambda m: complaints.append(m.text) if m.type in ("error", "warning") else None)
    page.on("pageerror", lambda e: complaints.append(str(e)))
    page.on("response", lambda r: complaints.append(f"{r.status} {r.url}") if r.status >= 400 else None)
    return Screen(page, complaints)
