"""What was mended reaches the pages: before the first flight after it, as a line and on its day."""

from __future__ import annotations

import json
import re
from datetime import date
from pathlib import Path

import pytest

from spooldown import register
from spooldown.logbook.book import Logbook
from spooldown.programme import snags
from spooldown.site import site_of
from tests.spooldown.made import draft, source


@pytest.fixture
def book(tmp_path: Path) -> Logbook:
    with Logbook(tmp_path / "book") as opened:
        opened.add([source("one.csv", "11")], [draft()], aircraft="Heron")
        opened.add([source("two.csv", "22")], [draft(1, rows=300), draft(2, rows=200)], aircraft="Heron")
        return opened


def test_a_remedy_stands_before_the_first_flight_after_it(book: Logbook) -> None:
    with Logbook(book.folder) as opened:
        flights = opened.flights()
        day = flights[0].day or date(2031, 4, 5)
        made = snags.add(opened, snags.Snag(0, "Heron", "", "", "hums", day))
        snags.add_remedy(opened, made.number, snags.Remedy(day, "changed the seal", flights[1].flight_id))
        snags.add_remedy(opened, made.number, snags.Remedy(date(2099, 1, 1), "not flown since"))
        steps = site_of(opened, register.load(opened)).said.steps
    assert [(s.flight_id, s.kind, str(s.text)) for s in steps] == [
        (flights[1].flight_id, "remedy", f"S{made.number}: changed the seal")
    ]


def test_it_is_drawn_and_told(book: Logbook, tmp_path: Path) -> None:
    from reports.site import build_site

    with Logbook(book.folder) as opened:
        flights = opened.flights()
        day = flights[0].day or date(2031, 4, 5)
        made = snags.add(opened, snags.Snag(0, "Heron", "", "", "hums", day))
        snags.add_remedy(opened, made.number, snags.Remedy(day, "changed the seal", flights[1].flight_id))
        build_site(site_of(opened, register.load(opened)), tmp_path / "pages")
    text = (tmp_path / "pages/data/season.js").read_text("utf-8")
    content = json.loads(re.sub(r"^[^=]*=|;\s*$", "", text))
    drawn = [s for s in content["steps"] if s["kind"] == "remedy"]
    assert [s["text"] for s in drawn] == [f"S{made.number}: changed the seal"]
    assert content["flights"][drawn[0]["n"]]["key"] == flights[1].flight_id
    if flights[1].utc_start:
        page = tmp_path / "pages/days" / f"{flights[1].utc_start:%Y-%m-%d}.html"
        assert "changed the seal" in page.read_text("utf-8")
