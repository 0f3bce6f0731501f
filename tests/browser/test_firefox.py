"""The built pages in Firefox, from file://: the policy lets them draw, and what a person does works as in Chromium."""

from __future__ import annotations

import base64
from collections.abc import Iterator
from pathlib import Path

import pytest

from reports.site import build_single_flight
from tests.browser.conftest import one
from tests.browser.firefox import Firefox, firefox_path
from tests.reports import invented

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(firefox_path() is None, reason="no Firefox found: install firefox-esr to run these"),
]

UNDRAWN = """return [...document.querySelectorAll('.plot')]
  .filter((p) => !p.querySelector('svg') && !p.closest('details:not([open])')).map((p) => p.id);"""


@pytest.fixture(scope="module")
def firefox(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Firefox]:
    browser = Firefox(tmp_path_factory.mktemp("profile"))
    yield browser
    browser.close()


def drawn(firefox: Firefox) -> None:
    firefox.until("window.spooldown")
    firefox.run("window.spooldown.all();")
    firefox.until("document.documentElement.dataset.drawn !== undefined")


def test_a_broken_policy_would_be_seen(firefox: Firefox, tmp_path: Path) -> None:
    page = tmp_path / "bad.html"
    policy = "<meta http-equiv='Content-Security-Policy' content=\"default-src 'none'\">"
    page.write_text(f"<!doctype html><html><head>{policy}<script>document.title = 'ran';</script></head></html>")
    firefox.goto(page)
    assert any("Content-Security-Policy" in c for c in firefox.complaints())
    assert firefox.run("return document.title;") == ""


def test_pages_are_styled_drawn_and_clean(firefox: Firefox, built: Path) -> None:
    for pattern in (
        "index.html",
        "season.html",
        "flights/tern-003.html",
        "antennas/tern-*.html",
        "compare.html",
    ):
        firefox.goto(one(built, pattern))
        if firefox.run("return document.querySelector('.plot') !== null;"):
            drawn(firefox)
            assert firefox.run(UNDRAWN) == [], pattern
        assert firefox.run("return getComputedStyle(document.querySelector('h1')).fontFamily;").startswith('"Iowan')
        assert firefox.run("return document.documentElement.scrollWidth <= window.innerWidth;"), pattern
        assert firefox.complaints() == [], pattern


def test_events_zoom_and_search_work(firefox: Firefox, built: Path) -> None:
    firefox.goto(built / "flights/tern-003.html")
    drawn(firefox)
    firefox.run("document.querySelector('tr[data-event] a[data-moment]').click();")
    firefox.until("window.spooldown.view() !== null && document.querySelector('tr.here') !== null")
    firefox.run("document.querySelector('button[data-view=whole]').click();")
    assert firefox.run("return window.spooldown.view();") is None
    firefox.goto(built / "index.html")
    firefox.run("""const q = document.querySelector('input[type=search]'); q.value = 'calm evening';
        q.dispatchEvent(new Event('input'));""")
    firefox.until("document.querySelectorAll('#flight-table tbody tr:not([hidden])').length === 1")


def test_one_file_draws_and_a_page_prints(firefox: Firefox, tmp_path: Path) -> None:
    firefox.goto(build_single_flight(invented.site(1), "tern-001", tmp_path / "one.html"))
    drawn(firefox)
    assert firefox.run(UNDRAWN) == []
    assert firefox.complaints() == []
    paper = base64.b64decode(firefox("WebDriver:Print", page={"width": 21.0, "height": 29.7})["value"])
    assert paper.startswith(b"%PDF")
    assert len(paper) > 50_000, "plots are on it"
