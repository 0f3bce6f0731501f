"""Pages of the monitoring programme: everything shown, escaped, in both languages, and nothing cleared."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from analyser.core.figures import Figure, Method
from analyser.core.findings import say
from analyser.programme.codes import UnusualCode
from reports.figures.usual import usual_bar
from reports.model import OverFlights
from reports.opened import Opened
from reports.pages.card import render as card
from reports.pages.days import render as day_page
from reports.pages.programme import aircraft, before, year
from reports.pages.start import render as start
from reports.render import Shell
from reports.words.catalogue import Reader, reading
from tests.reports import invented, monitored

EVIL = "<script>alert(1)</script>"
SHELL = Shell("Fenholt logbook", "", root="../")


@pytest.fixture(scope="module")
def site():
    return invented.site(4)


@pytest.mark.parametrize(
    ("language", "says"),
    [
        ("en", ("It did not work", "It worked", "like these would tell", "loose hatch", "usually", "2 of 5", "own")),
        (
            "de",
            ("Es hat nicht gewirkt", "Es hat gewirkt", "würden es sagen", "loose hatch", "üblich", "2 von 5", "eigene"),
        ),
    ],
)
def test_the_programme_page_shows_every_part(site, language: str, says: tuple[str, ...]) -> None:
    with reading(Reader(language)):
        page = aircraft.render(monitored.programme(), site, SHELL)
    for words in says:
        assert words in page.replace("\u00a0", " "), words
    assert "S7" in page
    assert "gone-a" in page


def test_what_an_owner_typed_is_escaped(site) -> None:
    page = aircraft.render(monitored.programme(evil=EVIL), site, SHELL)
    assert "alert(1)" in page
    assert EVIL not in page
    assert EVIL not in before.render(monitored.programme(evil=EVIL).before, site, SHELL)


def test_before_and_year_say_what_is_open_and_clear_nothing(site) -> None:
    page = before.render(monitored.programme().before, site, SHELL)
    assert "measure its capacity once, at its next charge (after 60\u00a0flights)" in page
    assert "Its flights leave 62 to 104" in page
    assert "left engine burns more" in page
    assert "loose hatch" not in page
    assert "R2 sagged." in page
    assert "clears nothing" in page
    review = year.render(monitored.year("Tern", 2031), site, SHELL)
    assert "12\u00a0times in 8\u00a0flights, 3 of them no real one" in review
    assert "1 worked, 1 did not" in review


def test_open_snags_stand_on_start_page_card_and_flying_day(site) -> None:
    # Only an owner's open snags: what was closed before is no matter of that day.
    assert "left engine burns more" in start(site, Shell("x", ""))
    flight = site.flights[0]
    open_then = site.open_on("Tern", flight.record.utc_start.date())
    shown = card(Opened(flight), site.programmes["Tern"].open, SHELL)
    assert "left engine burns more" in shown
    assert "left engine" not in card(Opened(flight), (), SHELL)
    day = flight.record.utc_start.date()
    page = day_page(day, site, SHELL)
    assert ("left engine burns more" in page) == bool([s for s in open_then if s.snag.number == 7])
    none = replace(site, over=OverFlights(site.season))
    assert "left engine burns more" not in day_page(day, none, SHELL)


def test_docs_list_every_figure() -> None:
    from pathlib import Path

    from analyser.programme.measures import MEASURES

    docs = (Path(__file__).resolve().parents[2] / "docs" / "programme.md").read_text("utf-8")
    listed = docs.partition("<!-- the list of figures begins -->")[2].partition("<!-- the list of figures ends -->")[0]
    for m in MEASURES:
        assert f"| `{m.id}` | {m.of} | {m.unit or '–'} |" in listed


def test_a_value_outside_the_usual_has_another_shape_and_stands_beside_the_bar() -> None:
    usual = Figure(say(UnusualCode.USUAL, what=""), 10.0, "V", Method.ESTIMATED, 8.0, 12.0)

    def drawn(value: float) -> str:
        return str(usual_bar(usual, Figure(say(UnusualCode.USUAL, what=""), value, "V", Method.ESTIMATED), "words"))

    assert 'class="in"' in drawn(8.0)
    assert 'class="out"' not in drawn(8.0)
    assert 'class="out"' in drawn(12.1)
    assert 'class="in"' not in drawn(12.1)
    # The picture spans 8 to 14 in 104 units from 8 on: by hand 12 lies at 8 + 104 * 4 / 6.
    assert f"H{8 + 104 * 4 / 6:.1f}" in drawn(14.0)
