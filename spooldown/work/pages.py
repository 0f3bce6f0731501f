"""From the logbook to what the pages are made from."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Collection, Sequence
from dataclasses import replace
from datetime import datetime
from functools import partial
from pathlib import PurePosixPath

from analyser.bench.analysis import BenchResult, analyse_bench
from analyser.bench.procedures import BenchRecord
from analyser.core.findings import coded
from analyser.core.quality import screen
from analyser.core.telemetry import Telemetry
from analyser.season.analysis import analyse_season
from analyser.season.link.range_check import RangeCheck, RangeCheckResult, analyse_range_checks
from analyser.season.result import SeasonResult
from reports.model import FailedFlight, FlightPage, Site, Unreadable
from reports.words.catalogue import message, reader
from reports.words.times import long_day
from spooldown.bench.checklist import checklists, shown_on, ticks
from spooldown.bench.kept import bench_records
from spooldown.logbook.book import Flight, Logbook
from spooldown.problems import LogbookProblem
from spooldown.register import Register
from spooldown.work.results import Analysed, Failure, Run, analysed, season

Progress = Callable[[str, int, int], None]


def title_of(one: Analysed) -> str:
    """A flight's name for people: ``Tern, flight 5, 17 May 2026``."""
    day = long_day(one.flight.day) if one.flight.day else ""
    return message("flight.title", aircraft=one.record.aircraft, number=one.record.number, day=day)


def source_of(flight: Flight, alone: bool = True) -> str:
    """Where a flight came from, without the folders above."""
    return PurePosixPath(flight.source).name + ("" if alone else f", part {flight.part}")


def season_of(flights: Sequence[Analysed], register: Register, book: Logbook | None = None) -> SeasonResult:
    """Everything the analyser says over flights, and of the range checks where the logbook is given."""
    checks: dict[str, list[RangeCheck]] = {}
    for _, owner, check in book.range_checks() if book else ():
        checks.setdefault(owner, []).append(check)
    if book is not None:
        return season(book, flights, register, checks)
    return analyse_season([a.record for a in flights], list(register.aircraft.values()), checks)


def range_results(book: Logbook, owners: Collection[str]) -> dict[str, RangeCheckResult]:
    """Range checks of some aircraft beside the distance flown, from what is analysed already or is now."""
    from spooldown import register

    if not owners:
        return {}
    flights = analysed(book, register.load(book), failures=[])  # the pages and exports tell of them
    seasons = season_of(flights, register.load(book), book).aircraft
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
    """Analyse what is new and gather the whole logbook as pages need it."""
    failures: list[Failure] = []
    flights = analysed(book, register, progress=progress, failures=failures, run=run)
    labels = register.labels()
    label = book.setting("label")
    lists, done = checklists(book), ticks(book)
    parts: dict[int, int] = {}
    for one in flights:
        parts[one.flight.import_id] = parts.get(one.flight.import_id, 0) + 1
    pages = [
        replace(
            _page(book, one, label or labels.get(one.record.aircraft, ""), parts[one.flight.import_id] == 1),
            checklist=shown_on(lists, done, one.record.aircraft, one.flight.flight_id),
        )
        for one in flights
    ]
    of_all = {p.labelled for p in pages}
    return Site(
        title=book.setting("title") or message("shell.logbook"),
        flights=tuple(reversed(pages)),
        season=season_of(flights, register, book),
        generated=datetime.now().astimezone().strftime("%Y-%m-%d %H:%M"),
        labelled=label or (of_all.pop() if len(of_all) == 1 else ""),
        bench=bench_results(book, register),
        failed=tuple(_failed(one, label or labels.get(one.flight.aircraft, "")) for one in failures),
    )


def _failed(one: Failure, labelled: str) -> FailedFlight:
    f = one.flight
    title = message("failed.name", aircraft=f.aircraft, when=f.when, flight=f.flight_id)
    return FailedFlight(f.flight_id, title, source_of(f), one.why, labelled)


def _page(book: Logbook, one: Analysed, labelled: str, alone: bool) -> FlightPage:
    notices = (*one.flight.notices, *one.said)
    title = title_of(one)
    parts = [
        one.key,
        title,
        reader().mark,
        source_of(one.flight, alone),
        [coded(n) for n in notices],
        one.record.number,
        labelled,
    ]
    return FlightPage(
        record=one.record,
        title=title,
        source=source_of(one.flight, alone),
        notices=notices,
        fingerprint=hashlib.sha256(json.dumps(parts).encode()).hexdigest(),
        telemetry=partial(_screened, book, one.flight.flight_id),
        labelled=labelled,
    )


def _screened(book: Logbook, flight_id: str) -> Telemetry:
    try:
        return screen(book.telemetry(flight_id))
    except LogbookProblem as problem:
        raise Unreadable(str(problem)) from problem
