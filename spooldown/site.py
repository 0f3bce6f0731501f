"""From the logbook to what the pages are made from."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Collection
from dataclasses import replace
from datetime import datetime
from pathlib import PurePosixPath
from typing import Any

from analyser.bench.analysis import BenchResult, analyse_bench
from analyser.bench.procedures import BenchRecord
from analyser.core.findings import coded
from analyser.core.quality import screen
from analyser.core.telemetry import Telemetry
from analyser.fleet.comparison import MEASURES_READ, Fleet, Flown, compare, needed
from analyser.fleet.kinds import kinds_of
from analyser.record import FlightRecord, LaterRecord
from analyser.season.link.range_check import RangeCheck, RangeCheckResult, analyse_range_checks
from reports.model import FailedFlight, FleetPage, FlightPage, Glance, Site, Sums, Unreadable
from reports.words.catalogue import message, reader
from reports.words.times import long_day
from spooldown.bench.checklist import checklists, shown_on, ticks
from spooldown.bench.kept import bench_records
from spooldown.logbook.book import Flight, Logbook
from spooldown.problems import LogbookProblem
from spooldown.programme.flights import follow
from spooldown.programme.review import remedies_of, results_of, year_in_review
from spooldown.register import Register
from spooldown.work.elsewhere import KeptFlight
from spooldown.work.overview import Entry, Overview, overview
from spooldown.work.results import Failure, Run

Progress = Callable[[str, int, int], None]
FEWEST_AIRCRAFT = 2
"""Aircraft that make a fleet."""


def title_of(flight: Flight, aircraft: str, number: int) -> str:
    """A flight's name for people: ``Tern, flight 5, 17 May 2026``."""
    day = long_day(flight.day) if flight.day else ""
    return message("flight.title", aircraft=aircraft, number=number, day=day)


def source_of(flight: Flight, alone: bool = True) -> str:
    """Where a flight came from, without the folders above."""
    return PurePosixPath(flight.source).name + ("" if alone else f", part {flight.part}")


def range_results(book: Logbook, owners: Collection[str]) -> dict[str, RangeCheckResult]:
    """Range checks of some aircraft beside the distance flown, from what is analysed already or is now."""
    from spooldown import register

    if not owners:
        return {}
    whole = overview(book, register.load(book), failures=[])  # the pages and exports tell of them
    seasons = whole.season(checks_of(book)).aircraft
    found = {s.aircraft.name: s.range for s in seasons if s.aircraft.name in owners}
    for owner in sorted(set(owners) - set(found)):  # neither registered nor flown
        found[owner] = analyse_range_checks([c for _, who, c in book.range_checks() if who == owner])
    return found


def bench_results(book: Logbook, register: Register) -> dict[str, BenchResult]:
    """What was proved on the ground, by aircraft; '' for packs that were in none."""
    own: dict[str, dict[str, BenchRecord]] = {}
    for number, record in bench_records(book).items():
        own.setdefault(record.aircraft, {})[number] = record
    return {
        name: analyse_bench(records, register.find_aircraft(name) if name else None, register.packs)
        for name, records in own.items()
    }


def site_of(book: Logbook, register: Register, *, progress: Progress | None = None, run: Run | None = None) -> Site:
    """Analyse what is new and gather the whole logbook as pages need it, reading only what changed."""
    failures: list[Failure] = []
    whole = overview(book, register, progress=progress, failures=failures, run=run)
    labels = register.labels()
    label = book.setting("label")
    lists, done = checklists(book), ticks(book)
    parts: dict[int, int] = {}
    for one in whole.flights:
        parts[one.flight.import_id] = parts.get(one.flight.import_id, 0) + 1
    pages = [
        replace(
            _page(book, whole, one, label or labels.get(one.aircraft, ""), parts[one.flight.import_id] == 1),
            checklist=shown_on(lists, done, one.aircraft, one.flight.flight_id),
        )
        for one in whole.flights
    ]
    of_all = {p.labelled for p in pages}
    season = whole.season(checks_of(book))
    programmes = results_of(book, register, whole, season, datetime.now().astimezone().date())
    return Site(
        title=book.setting("title") or message("shell.logbook"),
        flights=tuple(reversed(pages)),
        season=season,
        generated=datetime.now().astimezone().strftime("%Y-%m-%d %H:%M"),
        labelled=label or (of_all.pop() if len(of_all) == 1 else ""),
        bench=bench_results(book, register),
        checklists=checklists(book),
        failed=tuple(_failed(one, label or labels.get(one.flight.aircraft, "")) for one in failures),
        sums=_sums(whole),
        measured=whole.figures,
        programmes=programmes,
        steps=remedies_of(programmes),
        year=lambda name, year: year_in_review(book, follow(book, register, name, whole=whole), year),
        fleet=fleet_of(whole, register),
    )


def fleet_of(whole: Overview, register: Register) -> FleetPage | None:
    """What is of one type beside each other, from the kept figures; None where fewer than two aircraft have flown."""
    newest = whole.flights[::-1]
    if len({e.aircraft for e in newest if e.aircraft}) < FEWEST_AIRCRAFT:
        return None
    flown = [e for e in newest if e.aircraft]
    about = {e.flight.flight_id: (e.aircraft, e.context.layout.name if e.context.layout else "") for e in flown}
    fitted = ({p.name for p in e.context.packs.values()} for e in flown)
    ids = list(needed((i, *about[i], packs) for i, packs in zip(about, fitted, strict=True)))
    keys = {e.flight.flight_id: e.key for e in newest}
    kinds = kinds_of(register.aircraft, register.packs)

    def made() -> Fleet:
        rows = whole.figures(ids, MEASURES_READ)
        return compare(kinds, [Flown(i, *about[i], tuple(rows[i])) for i in ids])

    digest = hashlib.sha256(repr(kinds).encode("utf-8", "surrogatepass"))
    digest.update(json.dumps([[i, keys[i], *about[i]] for i in ids]).encode())
    return FleetPage(digest.hexdigest(), made)


def checks_of(book: Logbook) -> dict[str, list[RangeCheck]]:
    """Walked range checks by aircraft."""
    checks: dict[str, list[RangeCheck]] = {}
    for _, owner, check in book.range_checks():
        checks.setdefault(owner, []).append(check)
    return checks


def _sums(whole: Overview) -> dict[str, Sums]:
    owned: dict[str, list[Entry]] = {}
    for one in whole.flights:
        owned.setdefault(one.aircraft, []).append(one)
    out = {}
    for name, own in owned.items():
        starts = [e.flight.utc_start for e in own if e.flight.utc_start]
        out[name] = Sums(
            len(own),
            sum(e.row.airborne_s for e in own),
            sum(e.row.burned_ml or 0.0 for e in own),
            min(starts, default=None),
            max(starts, default=None),
            whole.events(own),
        )
    return out


def _failed(one: Failure, labelled: str) -> FailedFlight:
    f = one.flight
    title = message("failed.name", aircraft=f.aircraft, when=f.when, flight=f.flight_id)
    return FailedFlight(f.flight_id, title, source_of(f), one.why, labelled)


def _page(book: Logbook, whole: Overview, one: Entry, labelled: str, alone: bool) -> FlightPage:
    flight, flight_id = one.flight, one.flight.flight_id
    notices = (*flight.notices, *one.said)
    title = title_of(flight, one.aircraft, one.number)
    parts = [one.key, title, reader().mark, source_of(flight, alone), [coded(n) for n in notices], one.number, labelled]
    row = one.row
    about = (flight_id, one.number, flight.utc_start, one.context)
    read = _Flight(book, whole, flight_id)
    return FlightPage(
        record=LaterRecord(*about, read.record),
        title=title,
        source=source_of(flight, alone),
        notices=notices,
        fingerprint=hashlib.sha256(json.dumps(parts).encode()).hexdigest(),
        telemetry=read.telemetry,
        labelled=labelled,
        brief=LaterRecord(*about, read.brief),
        glance=Glance(row.level, row.airborne_s, row.burned_ml, row.burn_ml_per_min, row.lowest_v, row.fades),
    )


class _Flight:
    """One flight of the whole logbook; passed to another process, it is what is kept of it."""

    def __init__(self, book: Logbook, whole: Overview, flight_id: str) -> None:
        self._book, self._whole, self._flight_id = book, whole, flight_id

    def record(self) -> FlightRecord:
        try:
            return self._whole.whole(self._flight_id)
        except LogbookProblem as problem:
            raise Unreadable(str(problem)) from problem

    def brief(self) -> FlightRecord:
        return self._whole.brief(self._flight_id)

    def telemetry(self) -> Telemetry:
        try:
            return screen(self._book.telemetry(self._flight_id))
        except LogbookProblem as problem:
            raise Unreadable(str(problem)) from problem

    def __reduce__(self) -> tuple[Any, ...]:
        kept = self._whole.kept(self._flight_id)
        return KeptFlight, tuple(getattr(kept, name) for name in KeptFlight.__slots__)
