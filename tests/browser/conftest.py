"""A headless Chromium for the built pages: skipped loudly where there is none, an error under CI=true."""

from __future__ import annotations

import time
from collections.abc import Iterator
from pathlib import Path

import pytest


class Opened:
    """A page with everything it complained about."""

    def __init__(self, page) -> None:  # type: ignore[no-untyped-def]
        self.page = page
        self.complaints: list[str] = []
        self.requests: list[str] = []
        page.on("console", lambda m: self.complaints.append(m.text) if m.type in ("error", "warning") else None)
        page.on("pageerror", lambda e: self.complaints.append(str(e)))
        page.on("dialog", lambda d: (self.complaints.append(f"dialog {d.message}"), d.dismiss()))
        page.on("request", lambda r: self.requests.append(r.url))

    def goto(self, file: Path, fragment: str = "") -> Opened:
        self.page.goto(file.resolve().as_uri() + fragment)
        return self

    def drawn(self) -> Opened:
        return self.until("document.documentElement.dataset.drawn !== undefined")

    def until(self, truth: str, seconds: float = 15.0) -> Opened:
        """Wait from outside: the pages' policy forbids the driver's own polling, which evaluates text."""
        end = time.monotonic() + seconds
        while not self.page.evaluate(truth):
            assert time.monotonic() < end, f"never came true: {truth}"
            self.page.wait_for_timeout(30)
        return self

    def all_drawn(self) -> Opened:
        self.page.evaluate("window.spooldown && window.spooldown.all()")
        return self


@pytest.fixture
def open_page(chromium) -> Iterator[object]:  # type: ignore[no-untyped-def]
    contexts = []

    def opener(width: int = 1280, height: int = 900, **more: object) -> Opened:
        context = chromium.new_context(viewport={"width": width, "height": height}, **more)
        contexts.append(context)
        return Opened(context.new_page())

    yield opener
    for context in contexts:
        context.close()


@pytest.fixture(scope="session")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    from reports.site import build_site
    from tests.reports import invented

    folder = tmp_path_factory.mktemp("pages")
    build_site(invented.site(10), folder)
    return folder


def one(folder: Path, pattern: str) -> Path:
    return next(iter(sorted(folder.glob(pattern))))
