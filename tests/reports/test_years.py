"""A year's one mark changes with the mark of any page of its flights and days, whatever happened to the logbook."""

from __future__ import annotations

import random
from collections import defaultdict
from collections.abc import Sequence
from pathlib import Path

import pytest
from msgspec.structs import replace

from reports.addresses import slug
from reports.flights import works
from reports.listing import Listed
from reports.model import OverFlights, Site, Step
from reports.pages import days
from reports.render import Shell
from reports.site import build_site
from reports.write import Folder
from reports.years import marks_of
from tests.reports import invented


class Noted(Folder):
    """Takes every file for one that is as it was, and notes what each would be made from."""

    def __init__(self) -> None:
        self.whole = frozenset()
        self.marks: dict[str, dict[str, str]] = defaultdict(dict)

    def keeps(self, path: str, mark: str, group: str = "") -> bool:
        self.marks[group][path] = mark
        return True


def made_from(site: Site) -> dict[str, dict[str, str]]:
    """By year, what each page of its flights and days is made from."""
    noted = Noted()
    assert not list(works(site, Shell(site.title), noted))
    for day, mark in days.marks_of(site, set(site.listed.of_year), "day").items():
        noted.keeps(day, mark, day[:4])
    return noted.marks


EMPTY = replace(invented.site(1), flights=(), over=OverFlights(invented.site(1).season))


def logbook(listed: Sequence[Listed], steps: Sequence[str]) -> Site:
    told = OverFlights(EMPTY.season, steps=tuple(Step(i, "step", f"step before {i}") for i in steps))
    return replace(EMPTY, listing=listed, over=told)


def changed(listed: list[Listed], steps: list[str], draw: random.Random) -> tuple[list[Listed], list[str]]:
    """The same logbook after one thing that happens to logbooks."""
    at = draw.randrange(len(listed))
    kind = draw.choice(["mark", "remove", "add", "owner", "day", "step"])
    one = listed[at]
    if kind == "remove":
        return listed[:at] + listed[at + 1 :], steps
    if kind == "add":
        new = Listed(f"new-{draw.randrange(10**6)}", draw.choice("ab"), draw.choice([one.day, ""]), "new")
        return [*listed[:at], new, *listed[at:]], steps
    if kind == "step":
        return listed, [] if steps and draw.random() < 0.5 else [*steps, one.flight_id]
    other = {
        "mark": {"mark": one.mark + "x"},
        "owner": {"aircraft": draw.choice("abc")},
        "day": {"day": one.day[:8] + "28"},
    }
    return [*listed[:at], one._replace(**other[kind] if one.day else other["mark"]), *listed[at + 1 :]], steps


def test_a_year_that_is_told_unchanged_has_no_changed_page() -> None:
    draw = random.Random(4)
    spared = 0
    for _ in range(60):
        began = sorted(f"{draw.randrange(2027, 2032)}-0{draw.randrange(1, 9)}-1{draw.randrange(9)}" for _ in range(14))
        listed = [Listed(f"f-{n}", draw.choice("ab"), day, "m") for n, day in enumerate([*began, "", ""])][::-1]
        if draw.random() < 0.3:  # flights timed by the log's own clock have no day and lie between others
            listed.insert(5, Listed("between", "a", "", "m"))
        steps = [draw.choice(listed).flight_id]
        before = logbook(listed, steps)
        after = logbook(*changed(listed, steps, draw))
        pages = [made_from(site) for site in (before, after)]
        marks = [marks_of(site) for site in (before, after)]
        for year in marks[0].keys() & marks[1].keys():
            same = marks[0][year].pages == marks[1][year].pages
            assert not same or pages[0][year] == pages[1][year], year
            spared += same
    assert spared > 60, "most years are left alone"


@pytest.fixture(scope="module")
def site() -> Site:
    """Six flights in three years, two in each."""
    found = invented.site(6)
    flights = []
    for n, f in enumerate(found.flights):
        start = f.record.utc_start
        assert start is not None
        flights.append(replace(f, record=replace(f.record, utc_start=start.replace(year=2031 - n // 2))))
    return replace(found, flights=tuple(flights))


def test_a_page_gone_from_a_year_that_did_not_change_is_made_again(site: Site, tmp_path: Path) -> None:
    first = build_site(site, tmp_path)
    page = tmp_path / "flights/tern-002.html"
    text = page.read_bytes()
    page.unlink()
    again = build_site(site, tmp_path)
    assert (again.written, again.kept) == (1, first.written - 1)
    assert page.read_bytes() == text
    assert build_site(site, tmp_path).written == 0


def test_a_page_made_in_anothers_place_is_tried_again(site: Site, tmp_path: Path) -> None:
    """A flight whose telemetry cannot be read: its year is not taken for whole, and its page mends by itself."""
    from reports.model import Unreadable

    def unreadable() -> object:
        raise Unreadable("its file is gone")

    broken = replace(
        site, flights=tuple(replace(f, telemetry=unreadable) if n == 3 else f for n, f in enumerate(site.flights))
    )
    assert build_site(broken, tmp_path).failed
    mended = build_site(site, tmp_path)
    assert not mended.failed
    assert mended.written >= 2
    fresh = tmp_path / "fresh"
    build_site(site, fresh)
    for page in fresh.rglob("*.html"):
        assert page.read_bytes() == (tmp_path / page.relative_to(fresh)).read_bytes(), page


def test_a_page_that_was_damaged_is_drawn_anew_where_another_flight_follows_it(site: Site, tmp_path: Path) -> None:
    build_site(replace(site, flights=site.flights[1:]), tmp_path / "grown")
    last = slug(site.flights[1].record.flight_id)
    page = tmp_path / "grown" / "flights" / f"{last}.html"
    page.write_bytes(page.read_bytes().replace(b"<h1>", b"<h1>not ", 1))
    build_site(site, tmp_path / "grown")
    build_site(site, tmp_path / "fresh")
    fresh = (tmp_path / "fresh" / "flights" / f"{last}.html").read_bytes()
    assert b'rel="next"' in fresh
    assert page.read_bytes() == fresh
