"""The whole logbook without reading it whole: what every flight came to, and what is said over flights.

Of each flight the columns beside the logbook hold what its results were made from (its own digest, and that of all that
may teach it) and what lists and counts need. As long as those digests are the same, nothing of it is read. What is said
over flights is kept for each aircraft and each pack, and read again only where one of its flights changed.
"""

from __future__ import annotations

import hashlib
from collections import Counter, OrderedDict
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Any, TypeVar

import numpy as np
import orjson

from analyser.core.aircraft import Aircraft, FlightContext
from analyser.core.events import Level
from analyser.core.findings import Finding
from analyser.core.levels import COMMON_PRACTICE, Limits
from analyser.flight import FlightResult
from analyser.link.antenna import bin_centres
from analyser.programme.measures import Row as Measured
from analyser.programme.measures import rows_of
from analyser.record import FlightRecord
from analyser.season.analysis import AircraftPart, analyse_aircraft, analyse_pack, compose_season
from analyser.season.brief import brief
from analyser.season.engines import EngineTotal
from analyser.season.link.range_check import RangeCheck
from analyser.season.packs.brown_outs import BrownOutCount
from analyser.season.packs.history import PackHistory
from analyser.season.result import SeasonResult
from analyser.season.teaching import settled, taken_over, teachers_of, teaching_digests
from analyser.season.totals import FlightTotals, PackTotal, totals_of
from analyser.season.window import Windows, windows_of
from reports.headlines import level_of
from spooldown.logbook.book import Flight, Logbook
from spooldown.logbook.codec import to_json
from spooldown.logbook.columns import FLIGHT, Columns
from spooldown.register import Register
from spooldown.work import kept
from spooldown.work.elsewhere import KeptFlight
from spooldown.work.results import (
    Analysed,
    Failure,
    Prepared,
    Results,
    Run,
    analyser_digest,
    corrected_of,
    prepare,
)

T = TypeVar("T")

BLOCK = 100
"""So many new flights are read and corrected together."""
WHOLES = 3
"""So many whole flights stay in memory: a page asks for its own again and again."""
ALWAYS = "flight.duration"
"""A figure that every flight has: where it is read, a flight without others is known to have none."""
HELD = 512
"""So many briefs stay in memory."""


@dataclass(frozen=True, slots=True)
class Row:
    """One flight as the columns hold it.

    ``own`` is the digest of what its result depends on but for what others teach, ``around`` that of all that may
    teach it, ``result`` the key of its result by itself and ``key`` that of the result as shown.
    """

    own: str
    around: str
    result: str
    key: str
    level: int
    airborne_s: float
    burned_ml: float | None
    burn_ml_per_min: float | None
    lowest_v: float | None
    fades: float | None
    totals: str


@dataclass(frozen=True, slots=True)
class Entry:
    """One flight of the logbook that was worked out."""

    flight: Flight
    context: FlightContext
    number: int
    said: tuple[Finding, ...]
    row: Row

    @property
    def key(self) -> str:
        """Changes with anything that the flight's result, as shown, depends on."""
        return self.row.key

    @property
    def aircraft(self) -> str:
        """The aircraft's name, '' where the flight is not assigned to one."""
        return self.context.aircraft.name if self.context.aircraft else ""


class Overview:
    """Every flight that could be worked out, oldest first, and what is said over them."""

    def __init__(self, book: Logbook, register: Register, results: Results, rows: Mapping[str, Row]) -> None:
        self._book, self._register, self._results = book, register, results
        prepared = results.prepared
        self._rows = dict(rows)
        self.flights = tuple(
            Entry(f, *_swapped(prepared.contexts[f.flight_id], prepared.numbers[f.flight_id]), self._rows[f.flight_id])
            for f in prepared.flights
            if f.flight_id in self._rows
        )
        self._briefs: OrderedDict[str, FlightRecord] = OrderedDict()
        self._wholes: OrderedDict[str, FlightRecord] = OrderedDict()
        self.unkept: dict[str, FlightRecord] = {}
        """Briefs that could not be kept."""

    def brief(self, flight_id: str) -> FlightRecord:
        """One flight without what only its own page shows."""
        if (known := self.unkept.get(flight_id) or self._briefs.get(flight_id)) is not None:
            return known
        row = self._rows[flight_id]
        record = read_brief(self._book, self._results.prepared, flight_id, row.key)
        if record is None:  # it no longer reads
            ids = self._results.work_out([flight_id])
            record = brief(corrected_of(self._results, ids)[flight_id].record)
            kept.keep(self._book.cache_folder, flight_id + kept.BRIEF, row.key, to_json(record.result))
        self._briefs[flight_id] = record
        if len(self._briefs) > HELD:
            self._briefs.popitem(last=False)
        return record

    def whole(self, flight_id: str) -> FlightRecord:
        """One flight with everything its page shows.

        Raises
        ------
        LogbookProblem
            If it has to be worked out anew and cannot be.
        """
        if flight_id in self._wholes:
            return self._wholes[flight_id]
        self._results.keys[flight_id] = self._rows[flight_id].result
        record = self._results.record(flight_id)
        if record is None:
            raise self._results.problem(flight_id)
        record = taken_over(record, self.brief(flight_id))
        self._wholes[flight_id] = found = self._results.prepared.judged(record, "")[0]
        if len(self._wholes) > WHOLES:
            self._wholes.popitem(last=False)
        return found

    def kept(self, flight_id: str) -> KeptFlight:
        """Where one flight is kept, to be read in another process."""
        row, prepared = self._rows[flight_id], self._results.prepared
        return KeptFlight(
            self._book.cache_folder,
            self._book.telemetry_place(flight_id),
            prepared.by_id[flight_id],
            prepared.numbers[flight_id],
            self._results.contexts[flight_id],
            row.result,
            row.key,
            prepared.limits.get(prepared.owner(flight_id)),
            tuple(prepared.marks.get(flight_id, ())),
        )

    def totals(self, flight_ids: Iterable[str]) -> list[FlightTotals]:
        """What some flights add to the counts."""
        entries = {e.flight.flight_id: e for e in self.flights}
        return [_totals_in(e) for i in flight_ids if (e := entries.get(i)) is not None]

    def figures(self, flight_ids: Collection[str], measures: Collection[str] = ()) -> dict[str, list[Measured]]:
        """The kept figures of some flights, by id; worked out from the flights where the table does not read.

        Parameters
        ----------
        flight_ids : collection of str
        measures : collection of str
            Only these figures, all where empty.
        """
        out: dict[str, list[Measured]] = {i: [] for i in flight_ids}
        where: dict[str, Collection[str]] = {FLIGHT: flight_ids}
        if measures:
            where["measure"] = {*measures, ALWAYS}
        try:
            table = Columns(self._book.folder).read("figures", Measured.__slots__, where=where)
            known = set(table.column(FLIGHT).to_pylist())
            if known >= out.keys():
                cells = [table.column(name).to_pylist() for name in Measured.__slots__]
                for flight_id, row in zip(table.column(FLIGHT).to_pylist(), map(Measured, *cells), strict=True):
                    out[flight_id].append(row)
                return out
        except (OSError, ValueError):
            pass
        found = {i: list(rows_of(self.whole(i).result)) for i in out}
        return {i: [r for r in rows if not measures or r.measure in measures] for i, rows in found.items()}

    def events(self, entries: Sequence[Entry]) -> Counter[tuple[str, str]]:
        """Count what deserved a remark in some flights, by kind of event and by what it happened to."""
        out: Counter[tuple[str, str]] = Counter()
        for entry in entries:
            for kind, subject, times in orjson.loads(entry.row.totals)[3]:
                out[kind, subject] += times
        return out

    def season(self, checks: Mapping[str, Sequence[RangeCheck]] | None = None) -> SeasonResult:
        """Everything the analyser says over flights; read again only for aircraft and packs that changed."""
        limits = self._results.prepared.limits
        windows = windows_of([(e.flight.flight_id, e.context) for e in self.flights])
        known = {e.context.aircraft.name: e.context.aircraft for e in self.flights if e.context.aircraft}
        known |= self._register.aircraft
        parts = [
            self._aircraft(name, known.get(name), windows, (checks or {}).get(name, ()), limits.get(name))
            for name in sorted({*known, *windows.flown})
        ]
        packs = [p for name in windows.packs if (p := self._pack(name, windows)) is not None]
        live = {_place("aircraft", name) for name in {*known, *windows.flown}}
        live |= {_place("pack", name) for name in windows.packs}
        folder = self._book.cache_folder / kept.SEASON
        for name in kept.names(folder) - live:
            with suppress(OSError):
                (folder / f"{name}{kept.ENDING}").unlink()
        return compose_season(parts, packs, [e.flight.flight_id for e in self.flights], limits)

    def _aircraft(
        self,
        name: str,
        described: Aircraft | None,
        windows: Windows,
        checks: Sequence[RangeCheck],
        limits: Limits | None,
    ) -> AircraftPart:
        needed, flown = windows.needed(name), windows.flown.get(name, [])
        key = self._key(needed, flown, described, tuple(checks), limits)
        return self._said(
            _place("aircraft", name),
            key,
            AircraftPart,
            lambda: analyse_aircraft(
                described,
                [self.brief(i) for i in needed],
                self.totals(flown),
                windows,
                checks,
                limits or COMMON_PRACTICE,
            ),
        )

    def _pack(self, name: str, windows: Windows) -> PackHistory | None:
        needed, uses = windows.packs[name], windows.uses[name]
        found = self._said(
            _place("pack", name),
            self._key(needed, uses, name),
            _PackPart,
            lambda: _PackPart(
                analyse_pack(name, [self.brief(i) for i in needed], [p for t in self.totals(uses) for p in t.packs])
            ),
        )
        return found.history

    def _said(self, name: str, key: str, kind: type[T], make: Callable[[], T]) -> T:
        folder = self._book.cache_folder / kept.SEASON
        found = kept.load(folder, name, key, kind)
        if found is None:
            found = make()
            kept.keep(folder, name, key, to_json(found))
        return found

    def _key(self, read: Sequence[str], counted: Sequence[str], *more: object) -> str:
        digest = hashlib.sha256(analyser_digest())
        numbers = self._results.prepared.numbers
        for flight_id in read:
            digest.update(f"{flight_id}\n{numbers[flight_id]}\n{self._rows[flight_id].key}\n".encode())
        for flight_id in counted:
            digest.update(flight_id.encode() + self._rows[flight_id].totals.encode())
        for one in more:
            digest.update(b"\n" + to_json(one, sort=True))
        return digest.hexdigest()


@dataclass(frozen=True, slots=True)
class _PackPart:
    history: PackHistory | None


def _place(kind: str, name: str) -> str:
    return f"{kind}-{hashlib.sha256(name.encode('utf-8', 'surrogatepass')).hexdigest()[:20]}"


def _swapped(
    found: tuple[FlightContext, tuple[Finding, ...]], number: int
) -> tuple[FlightContext, int, tuple[Finding, ...]]:
    return found[0], number, found[1]


def overview(
    book: Logbook,
    register: Register,
    *,
    progress: Callable[[str, int, int], None] | None = None,
    failures: list[Failure] | None = None,
    run: Run | None = None,
) -> Overview:
    """Bring the columns up to date: work out what is new, and look again at what others may have taught anew.

    Parameters
    ----------
    progress : callable or None
        Told the flight's id, how many new ones are done and how many there are.
    failures : list of Failure or None
        Takes the flights that could not be worked out; they are left out. Without it the first one raises.
    run : callable or None
        Spreads the work, as :func:`spooldown.work.workers.spread` does over this machine's cores.

    Raises
    ------
    LogbookProblem
        If a flight cannot be worked out and ``failures`` is None.
    """
    prepared = prepare(book, register)
    results = Results(book, prepared, progress=progress, failures=failures, run=run)
    update = _Update(book, prepared, results)
    results.brief = update.teacher
    new = update.changed()
    touched = update.touched(new)
    update.add(new)
    update.add(update.unsettled(touched))
    update.save()
    made = Overview(book, register, results, update.rows)
    made.unkept = update.unkept
    return made


def _stamps(prepared: Prepared) -> dict[str, str]:
    """Digest of all that a flight shows but for what others teach: its result's, its limits', and marks'."""
    limits = {name: to_json(held, sort=True) for name, held in prepared.limits.items()}
    out = dict(prepared.own)
    for flight_id in out if limits or prepared.marks else ():
        more = limits.get(prepared.owner(flight_id), b"")
        if marks := prepared.marks.get(flight_id):
            more += b"\n" + to_json(tuple(marks), sort=True)
        if more:
            out[flight_id] = hashlib.sha256(out[flight_id].encode() + more).hexdigest()
    return out


class _Update:
    def __init__(self, book: Logbook, prepared: Prepared, results: Results) -> None:
        self.book, self.prepared, self.results = book, prepared, results
        self.columns = Columns(book.folder)
        contexts = [c for c, _ in prepared.contexts.values()]
        self.own = _stamps(prepared)
        own = {i: bytes.fromhex(key) for i, key in self.own.items()}
        self.around = {i: d.hex() for i, d in teaching_digests(contexts, prepared.lessons, own).items()}
        try:
            found = _rows(self.columns)
        except (OSError, ValueError):
            self.columns.forget()
            found = {}
        there = kept.names(book.cache_folder)
        self.known = {i: r for i, r in found.items() if i in self.own and {i, i + kept.BRIEF} <= there}
        self.rows = {i: r for i, r in self.known.items() if r.around == self.around[i]}
        self.unkept: dict[str, FlightRecord] = {}
        self._made: dict[str, list[dict[str, Any]]] = {}
        self._told: set[str] = set()
        self._forgotten = bool(found.keys() - self.own.keys())

    def teacher(self, flight_id: str) -> FlightRecord | None:
        """The brief of a flight that is itself the same as when it was kept."""
        if flight_id in self.unkept:
            return self.unkept[flight_id]
        row = self.rows.get(flight_id) or self.known.get(flight_id)
        if row is None or row.own != self.own[flight_id]:
            return None
        return read_brief(self.book, self.prepared, flight_id, row.key)

    def changed(self) -> list[str]:
        """Flights whose own data, context or analysis is another one, or that are not kept."""
        return [i for i, own in self.own.items() if i not in self.known or self.known[i].own != own]

    def touched(self, changed: Collection[str]) -> list[str]:
        """Flights that are the same themselves, but not all that may teach them."""
        new = set(changed)
        return [i for i in self.prepared.own if i not in self.rows and i not in new]

    def unsettled(self, touched: Sequence[str]) -> list[str]:
        """Those of the touched flights that show something else now; the others are noted as they are."""
        if not touched:
            return []
        contexts = [c for c, _ in self.prepared.contexts.values()]
        asked = teachers_of(contexts, touched)
        lessons = self.prepared.lessons
        pupils = [i for i in touched if i in lessons]
        for flight_id in pupils:
            asked.update(lessons[flight_id])
        briefs = {}
        for flight_id in (i for i in self.prepared.own if i in asked):
            if (record := self.teacher(flight_id)) is not None:
                briefs[flight_id] = record
            elif flight_id in self.rows or flight_id in self.known:
                return list(touched)
        changed = set()
        by_lesson: dict[int, list[str]] = {}
        for flight_id in pupils:
            by_lesson.setdefault(id(lessons[flight_id]), []).append(flight_id)
        for ids in by_lesson.values():
            self.results.teach(ids, [briefs[i] for i in lessons[ids[0]] if i in briefs])
            changed |= {i for i in ids if self.results.keys[i] != self.known[i].result}
        same = settled(list(briefs.values())) - changed
        for flight_id in touched:
            if flight_id in same:
                self._note(flight_id, replace(self.known[flight_id], around=self.around[flight_id]), None)
        return [i for i in touched if i not in same]

    def add(self, flight_ids: Sequence[str]) -> None:
        """Work flights out and note what they came to."""
        if not flight_ids:
            return
        self.results.work_out(flight_ids)
        for start in range(0, len(flight_ids), BLOCK):
            block = flight_ids[start : start + BLOCK]
            found = corrected_of(self.results, self.results.work_out(block), set(block))
            for flight_id in block:
                if (one := found.get(flight_id)) is None:
                    continue
                short = brief(one.record)
                if not kept.keep(self.book.cache_folder, flight_id + kept.BRIEF, one.key, to_json(short.result)):
                    self.unkept[flight_id] = short
                self._note(flight_id, self._row(one), one)

    def save(self) -> None:
        """Write the new rows; where that is not possible they are worked out again the next time."""
        if self._made or self._forgotten:
            with suppress(OSError, ValueError):
                self.columns.extend(self._made, self.prepared.own.keys(), self._told)

    def _row(self, one: Analysed) -> Row:
        result = one.record.result
        low = [p.voltage.lowest_v.value for p in result.packs.packs if p.voltage.lowest_v.value is not None]
        fades = [a.fades.value for r in result.link.receivers for a in r.antennas if a.fades.value is not None]
        flight_id = one.flight.flight_id
        return Row(
            own=self.own[flight_id],
            around=self.around[flight_id],
            result=self.results.keys[flight_id],
            key=one.key,
            level=int(level_of(one.record)),
            airborne_s=float(result.phases.airborne_s),
            burned_ml=result.fuel.burned.value,
            burn_ml_per_min=result.fuel.rate.value,
            lowest_v=min(low, default=None),
            fades=float(sum(fades)) if fades else None,
            totals=_totals_out(totals_of(one.record)),
        )

    def _note(self, flight_id: str, row: Row, one: Analysed | None) -> None:
        self.rows[flight_id] = row
        context = self.prepared.contexts[flight_id][0]
        head = {
            FLIGHT: flight_id,
            "aircraft": context.aircraft.name if context.aircraft else "",
            "utc_start": self.results.prepared.by_id[flight_id].utc_start,
        }
        values = {name: getattr(row, name) for name in Row.__slots__}
        self._made.setdefault("flights", []).append(head | values)
        if one is not None:
            self._told.add(flight_id)
            for table, rows in _tidy(one.record).items():
                self._made.setdefault(table, []).extend(head | r for r in rows)


def _tidy(record: FlightRecord) -> dict[str, Iterator[dict[str, Any]]]:
    """One flight's rows of the tables that are kept for reading by others."""
    return {
        "figures": ({name: getattr(row, name) for name in row.__slots__} for row in rows_of(record.result)),
        "events": (
            {
                "kind": e.kind,
                "subject": e.subject,
                "level": int(e.level),
                "start_s": e.start_s,
                "end_s": e.end_s,
                "depth": e.depth.value if e.depth else None,
                "depth_unit": e.depth.unit if e.depth else "",
            }
            for e in record.result.events()
            if e.level > Level.FINE
        ),
        "antennas": _directions(record),
    }


def _directions(record: FlightRecord) -> Iterator[dict[str, Any]]:
    """One row a direction that an antenna was seen from; the level is the mean after path loss, dB."""
    layout = record.context.layout.name if record.context.layout else ""
    azimuth, elevation = bin_centres()
    sine = np.sin(np.radians(elevation))
    for receiver in record.result.link.receivers:
        for antenna in receiver.antennas:
            bins = antenna.bins
            if bins is None:
                continue
            count = bins.histogram.sum(axis=-1)
            centres = (bins.residual_edges_db[:-1] + bins.residual_edges_db[1:]) / 2.0
            with np.errstate(invalid="ignore", divide="ignore"):
                level = (bins.histogram * centres).sum(axis=-1) / count
            for a, e in np.argwhere(bins.seconds > 0).tolist():  # directions, never samples
                yield {
                    "layout": layout,
                    "antenna": antenna.name,
                    "azimuth_deg": float(azimuth[a, e]),
                    "sin_elevation": float(sine[a, e]),
                    "seconds": float(bins.seconds[a, e]),
                    "lost": float(bins.lost[a, e]) if bins.counted else None,
                    "level_db": float(level[a, e]) if count[a, e] else None,
                }


def _rows(columns: Columns) -> dict[str, Row]:
    names = list(Row.__slots__)
    table = columns.read("flights", names)
    cells = [table.column(name).to_pylist() for name in names]
    return dict(zip(table.column(FLIGHT).to_pylist(), map(Row, *cells), strict=True))


def read_brief(book: Logbook, prepared: Prepared, flight_id: str, key: str) -> FlightRecord | None:
    """A flight's brief as it is kept; ``None`` where it is not, or does not read."""
    result = kept.load(book.cache_folder, flight_id + kept.BRIEF, key, FlightResult)
    if result is None:
        return None
    flight, context = prepared.by_id[flight_id], prepared.contexts[flight_id][0]
    return FlightRecord(flight_id, prepared.numbers[flight_id], flight.utc_start, context, result)


def _totals_out(totals: FlightTotals) -> str:
    return orjson.dumps(
        [
            totals.farthest_m,
            [[e.name, e.run_min, e.starts, e.failed_starts] for e in totals.engines],
            [
                [p.pack, p.before, p.after, [getattr(p.brown_outs, n) for n in BrownOutCount.__slots__]]
                for p in totals.packs
            ],
            totals.events,
        ]
    ).decode()


def _totals_in(entry: Entry) -> FlightTotals:
    farthest_m, engines, packs, events = orjson.loads(entry.row.totals)
    flight_id, start = entry.flight.flight_id, entry.flight.utc_start
    return FlightTotals(
        flight_id,
        entry.aircraft,
        start,
        entry.row.airborne_s,
        entry.row.burned_ml,
        farthest_m,
        tuple(EngineTotal(name, start, *counts) for name, *counts in engines),
        tuple(PackTotal(p, flight_id, start, tuple(b), tuple(a), BrownOutCount(*n)) for p, b, a, n in packs),
        tuple((kind, subject, n) for kind, subject, n in events),
    )
