"""What a reader sees first: headlines, the few events that ask for attention, the rest by kind."""

from __future__ import annotations

import html
import re
from datetime import date
from pathlib import Path

from msgspec.structs import replace

from analyser.core.events import Event, Level
from analyser.core.figures import Figure, Method
from analyser.season.link.range_check import RangeCheck, analyse_range_checks
from reports.addresses import slug
from reports.events import grouped
from reports.headlines import headlines
from reports.model import OverFlights
from reports.site import build_site
from reports.words.catalogue import text as worded
from reports.words.names import said
from tests.reports import invented


def event(kind: str, level: Level, start: float, depth: float, subject: str = "link.rx1.antenna1") -> Event:
    figure = Figure("Fade depth", depth, "dB", Method.MEASURED)
    return Event(kind, subject, start, start + 0.5, level, f"{kind} at {start}", figure)


def test_few_grave_events_stand_alone_and_many_become_a_group() -> None:
    events = (
        *(event("low_margin", Level.WATCH, t, 2.0 + t) for t in range(10)),
        event("fade", Level.NOTE, 20.0, 12.0),
        event("fade", Level.WATCH, 21.0, 18.5),
        event("low_margin", Level.ACT, 30.0, 0.5),
        event("sag", Level.WATCH, 5.0, 1.0, "pack.rx2"),
    )
    alone, groups = grouped(events)
    assert [events[i] is e for i, e in alone] == [True] * len(alone)
    assert [(e.kind, e.level) for _, e in alone] == [
        ("low_margin", Level.ACT),
        ("sag", Level.WATCH),
        ("fade", Level.WATCH),
    ]
    assert [(g.kind, len(g.events), g.seconds) for g in groups] == [("low_margin", 10, 5.0), ("fade", 1, 0.5)]
    assert groups[0].depths == "Fade depth: 2.0 to 11.0 dB"
    shown = sorted([i for i, _ in alone] + [i for g in groups for i, _ in g.events])
    assert shown == list(range(len(events))), "every event is shown once"


def test_every_subject_has_a_headline_a_phone_can_hold() -> None:
    for flight in invented.site(4).flights:
        for outcome in headlines(flight.record):
            assert 0 < len(outcome.headline) <= 90, outcome
            assert outcome.headline[0] == outcome.headline[0].upper()


def test_fuel_is_fine_only_where_it_was_held_against_a_reserve() -> None:
    record = invented.site(1).flights[0].record
    first, *others = record.result.fuel.tanks
    calm = replace(record.result.fuel, events=())
    judged = replace(record, result=replace(record.result, fuel=calm))
    assert headlines(judged)[0].level is Level.FINE
    unknown = Figure.unavailable("Margin", "mL", "no reserve")
    open_one = replace(first, content=replace(first.content, margin=unknown))
    fuel = headlines(replace(record, result=replace(record.result, fuel=replace(calm, tanks=(open_one, *others)))))[0]
    assert fuel.level is Level.CANT_TELL
    assert "no reserve is known" in fuel.headline


def test_no_page_shows_a_raw_prefix_of_an_antenna(tmp_path: Path) -> None:
    build_site(invented.site(4), tmp_path)
    for page in sorted(tmp_path.rglob("*.html")):
        text = re.sub(r"<script.*?</script>", "", page.read_text("utf-8"), flags=re.DOTALL)
        text = html.unescape(re.sub(r"<[^>]+>", " ", text))
        found = re.findall(r"\blink\.\w+\.antenna\d\b(?!_)", text)
        assert not found, (page.name, found[:3])


def test_the_three_questions_are_answered_one_tap_from_the_start_page(tmp_path: Path) -> None:
    build_site(invented.site(10), tmp_path)
    start = (tmp_path / "index.html").read_text("utf-8")
    site = invented.site(10)
    one = site.season.aircraft[0]
    worn = next(p for p in site.season.packs if p.level is Level.ACT)

    def behind(kind: str, name: str) -> str:
        href = f"{kind}/{slug(name)}.html"
        assert f'href="{href}' in start
        shown = html.unescape(re.sub(r"<[^>]+>", " ", (tmp_path / href).read_text("utf-8")))
        return shown.replace("\u00a0", " ")  # no line ends between a number and its unit

    assert said(one.fuel.imbalance.verdict) in behind("aircraft", one.aircraft.name)
    assert "which was moved" in behind("antennas", one.aircraft.name)
    assert said(worn.sentence).partition(":")[0] in behind("packs", worn.pack.name)


def test_range_checks_stand_on_the_antenna_page(tmp_path: Path) -> None:
    site = invented.site(2)
    one = site.season.aircraft[0]
    checks = [
        RangeCheck(date(2026, 5, day), "rx2", 2, metres, 20.0, "tail-on") for day, metres in ((1, 80.0), (20, 70.0))
    ]
    walked = replace(one, range=analyse_range_checks(checks, 700.0))
    build_site(replace(site, over=OverFlights(replace(site.season, aircraft=(walked,)))), tmp_path)
    text = next((tmp_path / "antennas").glob("*.html")).read_text("utf-8")
    assert "Range checks on the ground" in text
    assert "2026-05-20: 70\u00a0m" in html.unescape(text)
    (line,) = walked.range.lines
    assert line.cautious_m is not None
    assert line.cautious_m.value == 70.0 * 10**0.5
    assert "Cautious range" in text
    assert "221" in text
    assert line.earlier_db is not None
    assert "−1.2" in text
    caution = worded(walked.range.caution)
    assert caution in html.unescape(text)
