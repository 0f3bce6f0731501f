"""From the logbook to what the pages are made from."""

from __future__ import annotations

import hashlib
import json
from collections import Counter
from collections.abc import Callable, Collection, Sequence
from datetime import datetime
from functools import cache
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np
import numpy.typing as npt

from analyser.bench.analysis import BenchResult, analyse_bench
from analyser.bench.procedures import BenchRecord
from analyser.core.quality import screen_again
from analyser.core.telemetry import Telemetry
from analyser.fleet.comparison import MEASURES_READ, Fleet, Flown, compare, needed
from analyser.fleet.kinds import kinds_of
from analyser.record import FlightRecord, LaterRecord
from analyser.season.link.range_check import RangeCheck, RangeCheckResult, analyse_range_checks
from reports.listing import Listing
from reports.model import (
    FailedFlight,
    FleetPage,
    FlightPage,
    Glance,
    OverFlights,
    Pages,
    Site,
    Sums,
    Unreadable,
)
from reports.words.catalogue import message, reader
from reports.words.times import long_day
from spooldown.bench.checklist import checklists, shown_on, ticks
from spooldown.bench.kept import bench_records
from spooldown.logbook.book import Logbook
from spooldown.logbook.flight import Flight
from spooldown.problems import LogbookProblem
from spooldown.programme.flights import Followed, follow
from spooldown.programme.review import remedies_of, results_of, year_page
from spooldown.programme.snags import KIND as SNAG
from spooldown.register import Register
from spooldown.work.analysing import Failure, Run
from spooldown.work.elsewhere import KeptFlight
from spooldown.work.overview import Overview, overview

if TYPE_CHECKING:
    from reports.site import Built

T = TypeVar("T")
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
    whole = overview(book, register.readable(book), failures=[])  # the pages and exports tell of them
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
    gathered = _Gathered(book, whole, register)
    now = datetime.now().astimezone()
    label, labels = gathered.label, gathered.labels

    @cache
    def followed(name: str) -> Followed:
        return follow(book, register, name, whole=whole)

    def over() -> OverFlights:
        season = whole.season(checks_of(book))
        programmes = results_of(book, register, whole, season, now.date())
        return OverFlights(season, programmes, remedies_of(programmes))

    of_all = {gathered.labelled(name) for name in whole.lineup.owned}
    return Site(
        title=book.setting("title") or message("shell.logbook"),
        flights=Pages(whole.ids[::-1], gathered.page),
        listing=gathered.listing(),
        called=gathered.title,
        over=over,
        generated=now.strftime("%Y-%m-%d %H:%M"),
        labelled=label or (of_all.pop() if len(of_all) == 1 else ""),
        bench=bench_results(book, register),
        checklists=gathered.lists,
        failed=tuple(_failed(one, label or labels.get(one.flight.aircraft, "")) for one in failures),
        sums=_sums(whole),
        measured=whole.columns,
        snags=bool(book.records(SNAG)),
        year=lambda name, year: year_page(book, followed(name), year),
        fleet=fleet_of(whole, register),
    )


def build(book: Logbook, site: Site, folder: Path, progress: Progress | None = None) -> Built:
    """Write every page of a logbook under a folder, flights spread over this machine's cores.

    Raises
    ------
    ChangedMeanwhile
        If a flight's page could not be made because the flight is not in the logbook any more.
    LogbookProblem
        If the whole logbook has gone.
    """
    from reports.site import build_site
    from spooldown.processes.workers import spread_pages

    built = build_site(site, folder, progress=progress, run=spread_pages)
    book.still_here()
    for one in built.failed:
        book.still_as(one.flight_id)
    return built


def fleet_of(whole: Overview, register: Register) -> FleetPage | None:
    """What is of one type beside each other, from the kept figures; None where fewer than two aircraft have flown."""
    if len([name for name in whole.lineup.owned if name]) < FEWEST_AIRCRAFT:
        return None
    facts = {i: whole.lineup.facts(i) for i in reversed(whole.ids)}
    about = {i: (f.aircraft, f.layout) for i, f in facts.items() if f.aircraft}
    ids = list(needed((i, *about[i], set(facts[i].packs)) for i in about))
    kinds = kinds_of(register.aircraft, register.packs)

    def made() -> Fleet:
        rows = whole.figures(ids, MEASURES_READ)
        return compare(kinds, [Flown(i, *about[i], tuple(rows[i])) for i in ids])

    digest = hashlib.sha256(repr(kinds).encode("utf-8", "surrogatepass"))
    digest.update(json.dumps([[i, *about[i]] for i in ids]).encode() + whole.keys(ids))
    return FleetPage(digest.hexdigest(), made)


def checks_of(book: Logbook) -> dict[str, list[RangeCheck]]:
    """Walked range checks by aircraft."""
    checks: dict[str, list[RangeCheck]] = {}
    for _, owner, check in book.range_checks():
        checks.setdefault(owner, []).append(check)
    return checks


def _sums(whole: Overview) -> dict[str, Sums]:
    out = {}
    for name in whole.lineup.owned:
        own = whole.of(name)
        totals = whole.totals(own.ids)
        known = [own.ids[n] for n in np.flatnonzero(np.isfinite(totals.start_s)).tolist()]
        ends = [whole.prepared.flight(i).utc_start for i in (*known[:1], *known[-1:])] or [None, None]
        out[name] = Sums(len(own), *whole.sums(name), ends[0], ends[-1], totals.counted())
    return out


def _failed(one: Failure, labelled: str) -> FailedFlight:
    f = one.flight
    title = message("failed.name", aircraft=f.aircraft, when=f.when, flight=f.flight_id)
    return FailedFlight(f.flight_id, title, source_of(f), one.why, labelled)


def _words(text: str) -> npt.NDArray[np.uint64]:
    """Digest of some text as numbers."""
    return np.frombuffer(hashlib.sha256(text.encode("utf-8", "surrogatepass")).digest(), "<u8")


class _Gathered:
    """What the pages of single flights are put together from."""

    def __init__(self, book: Logbook, whole: Overview, register: Register) -> None:
        self.book, self.whole = book, whole
        self.label, self.labels = book.setting("label"), register.labels()
        self.lists, self.ticks = checklists(book), ticks(book)
        came = self._of_listing(whole.prepared.listing.imports())
        flights = Counter(came)
        self._alone = [flights[one] == 1 for one in came]
        self._pages: dict[str, FlightPage] = {}

    def labelled(self, aircraft: str) -> str:
        """What is printed on an aircraft's pages, '' where its data is real."""
        return self.label or self.labels.get(aircraft, "")

    def _of_listing(self, cells: Sequence[T]) -> Sequence[T]:
        """What the listing of all flights holds of those that could be worked out."""
        at, ids = self.whole.prepared.listing.at, self.whole.ids
        return cells if len(cells) == len(ids) else [cells[at[i]] for i in ids]

    def listing(self) -> Listing:
        """Every flight as lists need it, newest first."""
        whole, lineup = self.whole, self.whole.lineup
        numbers = whole.prepared.numbers
        kinds = [f.aircraft for f in lineup.kinds]
        about = [_words(f"{self.labelled(name)} {self.lists.get(name)!r}") for name in kinds]
        of_kind = np.reshape(np.array(about, np.uint64), (-1, 4))[lineup.codes]
        for flight_id, ticked in self.ticks.items():
            if (at := lineup.at.get(flight_id)) is not None:
                of_kind[at] ^= _words(repr(ticked))
        own = np.array([[numbers[i] for i in whole.ids], self._alone], np.uint64).T
        owners = list(dict.fromkeys(kinds))
        owner = np.array([owners.index(name) for name in kinds], np.intp)[lineup.codes]
        days = self._of_listing(whole.prepared.listing.utc_days())
        marks = np.hstack([whole.marks(), of_kind, own])
        return Listing(whole.ids[::-1], owners, owner[::-1], days[::-1], marks[::-1])

    def title(self, flight_id: str) -> str:
        """One flight's title."""
        prepared = self.whole.prepared
        aircraft = self.whole.lineup.facts(flight_id).aircraft
        return title_of(prepared.flight(flight_id), aircraft, prepared.numbers[flight_id])

    def page(self, flight_id: str) -> FlightPage:
        """What one flight's page is made from."""
        if flight_id not in self._pages:
            self._pages[flight_id] = self._page(flight_id)
        return self._pages[flight_id]

    def _page(self, flight_id: str) -> FlightPage:
        whole, one = self.whole, self.whole.entry(flight_id)
        flight, row = one.flight, one.row
        labelled, alone = self.labelled(one.aircraft), self._alone[whole.lineup.at[flight_id]]
        notices = (*flight.notices, *one.said)
        title = self.title(flight_id)
        source = source_of(flight, alone)
        parts = (one.key, row.shown, title, reader().mark, source, str(one.number), labelled)
        read = _Flight(self.book, whole, flight_id)
        about = (flight_id, one.number, flight.utc_start, one.context)
        return FlightPage(
            record=LaterRecord(*about, read.record),
            title=title,
            source=source,
            notices=notices,
            fingerprint="\0".join(parts),
            telemetry=read.telemetry,
            labelled=labelled,
            checklist=shown_on(self.lists, self.ticks, one.aircraft, flight_id),
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
            stored = self._book.telemetry_of(self._whole.entry(self._flight_id).flight)
            return screen_again(stored, self._whole.whole(self._flight_id).result.suspects)
        except LogbookProblem as problem:
            raise Unreadable(str(problem)) from problem

    def __reduce__(self) -> tuple[Any, ...]:
        kept = self._whole.kept(self._flight_id)
        return KeptFlight, tuple(getattr(kept, name) for name in KeptFlight.__struct_fields__)
