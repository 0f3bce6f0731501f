"""The whole logbook without reading it whole: what every flight came to, and what is said over flights.

Of each flight the columns beside the logbook hold what its results were made from (its own digest, and that of all that
may teach it) and what lists and counts need. As long as those digests are the same, nothing of it is read. What is said
over flights is kept for each aircraft and each pack, and read again only where one of its flights changed.
"""

from __future__ import annotations

import hashlib
from collections import OrderedDict
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from contextlib import suppress
from functools import cached_property, partial
from typing import TypeVar, overload

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc
from msgspec import Struct
from msgspec.structs import replace

from analyser.core.aircraft import Aircraft, FlightContext
from analyser.core.figures import FloatArray
from analyser.core.findings import Finding
from analyser.core.levels import COMMON_PRACTICE, Limits
from analyser.programme.histories import FigureColumns, columns_from, columns_of
from analyser.programme.measures import Row as Measured
from analyser.programme.measures import rows_of
from analyser.record import FlightRecord
from analyser.season.analysis import AircraftPart, analyse_aircraft, analyse_pack, compose_season
from analyser.season.brief import brief
from analyser.season.counts import Totals
from analyser.season.lineup import Lineup
from analyser.season.link.layouts import kept_names
from analyser.season.link.range_check import RangeCheck
from analyser.season.packs.history import PackHistory
from analyser.season.result import SeasonResult
from analyser.season.teaching import taken_over
from analyser.season.window import Windows, windows_of
from spooldown.logbook.book import Logbook
from spooldown.logbook.codec import to_bytes
from spooldown.logbook.columns import FLIGHT, Columns, words_of
from spooldown.logbook.flight import Flight
from spooldown.register import Register
from spooldown.work import kept
from spooldown.work.analysing import Failure, Run
from spooldown.work.current import Current
from spooldown.work.elsewhere import KeptFlight
from spooldown.work.prepared import analyser_digest, prepare
from spooldown.work.results import Results, corrected_of
from spooldown.work.rows import Row
from spooldown.work.update import HELD, Update, kept_flight, read_brief

T = TypeVar("T")
WHOLES = 3
"""So many whole flights stay in memory: a page asks for its own again and again."""
ALWAYS = "flight.duration"
"""A figure that every flight has: where it is read, a flight without others is known to have none."""


class Entry(Struct, frozen=True):
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


class Entries(Sequence[Entry]):
    """Flights, each put together when it is asked for.

    Parameters
    ----------
    flight_ids : sequence of str
        Their ids.
    make : callable
        Makes one of them by its id.
    """

    def __init__(self, flight_ids: Sequence[str], make: Callable[[str], Entry]) -> None:
        self.ids, self._make = flight_ids, make

    def __len__(self) -> int:
        return len(self.ids)

    @overload
    def __getitem__(self, at: int) -> Entry: ...

    @overload
    def __getitem__(self, at: slice) -> Entries: ...

    def __getitem__(self, at: int | slice) -> Entry | Entries:
        return Entries(self.ids[at], self._make) if isinstance(at, slice) else self._make(self.ids[at])


class Overview:
    """Every flight that could be worked out, oldest first, and what is said over them."""

    def __init__(self, book: Logbook, register: Register, results: Results, rows: Current) -> None:
        self._book, self._register, self._results = book, register, results
        self._rows = rows
        self.prepared = prepared = results.prepared
        self.ids = prepared.ids if len(rows) == len(prepared.ids) else [i for i in prepared.ids if i in rows]
        """Of all flights that could be worked out, oldest first."""
        self.flights = self.entries(self.ids)
        self._briefs: OrderedDict[str, FlightRecord] = OrderedDict()
        self._wholes: OrderedDict[str, FlightRecord] = OrderedDict()
        self._columns: tuple[tuple[str, ...], FigureColumns] | None = None  # those asked for last
        self._counts: dict[tuple[str, ...], Totals] = {}
        self.unkept: dict[str, FlightRecord] = {}
        """Briefs that could not be kept."""

    @cached_property
    def lineup(self) -> Lineup:
        """Which of these flights count together."""
        every = self.prepared.lineup
        if len(self.ids) == len(every):
            return every
        return Lineup((i, every.facts(i)) for i in self.ids)

    def entries(self, flight_ids: Sequence[str]) -> Entries:
        """Some flights, each made when it is asked for."""
        return Entries(flight_ids, self.entry)

    def of(self, aircraft: str) -> Entries:
        """Every flight of an aircraft, oldest first."""
        return self.entries(self.lineup.named(self.lineup.owned.get(aircraft, np.empty(0, np.intp))))

    def entry(self, flight_id: str) -> Entry:
        """One flight."""
        prepared = self.prepared
        return Entry(
            prepared.flight(flight_id),
            prepared.context(flight_id),
            prepared.numbers[flight_id],
            prepared.said(flight_id),
            self._rows[flight_id],
        )

    def keys(self, flight_ids: Iterable[str]) -> bytes:
        """Of some flights together, what changes with anything that their results, as shown, depend on."""
        at = self.lineup.at
        return self._keys[[at[i] for i in flight_ids]].tobytes()

    @cached_property
    def _keys(self) -> npt.NDArray[np.uint64]:
        return self._rows.digests(self.ids, self.lineup.at, "key")

    def marks(self) -> npt.NDArray[np.uint64]:
        """Of each flight, oldest first, what changes with its result and with what its page says besides."""
        return np.hstack([self._keys, self._rows.digests(self.ids, self.lineup.at, "shown")])

    @cached_property
    def days(self) -> dict[str, str]:
        """The day each flight began as ``2031-04-05``, '' where it is not known."""
        days = dict(zip(self.prepared.ids, self.prepared.listing.days(), strict=True))
        return days if len(days) == len(self.ids) else {i: days[i] for i in self.ids}

    def brief(self, flight_id: str) -> FlightRecord:
        """One flight without what only its own page shows."""
        if (known := self.unkept.get(flight_id) or self._briefs.get(flight_id)) is not None:
            return known
        row = self._rows[flight_id]
        record = read_brief(self._book, self._results.prepared, flight_id, row.key)
        if record is None:  # it no longer reads
            ids = self._results.work_out([flight_id])
            record = brief(corrected_of(self._results, ids)[flight_id].record)
            kept.keep(self._book.cache_folder, flight_id + kept.BRIEF, row.key, to_bytes(record.result))
        self._briefs[flight_id] = record
        if len(self._briefs) > HELD:
            self._briefs.popitem(last=False)
        return record

    def remember(self, briefs: Mapping[str, FlightRecord]) -> None:
        """Keep briefs that were just made or read at hand."""
        self._briefs.update(briefs)

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
        row = self._rows[flight_id]
        return kept_flight(self._results, flight_id, row.result, row.key)

    def totals(self, flight_ids: Sequence[str]) -> Totals:
        """What some flights add to the counts, in their order."""
        key = tuple(flight_ids)
        if key not in self._counts:  # packs that always fly together have the same flights
            at = self.lineup.at
            self._counts[key] = self._totals.among(np.array([at[i] for i in key], np.intp))
        return self._counts[key]

    def figures(self, flight_ids: Collection[str], measures: Collection[str] = ()) -> dict[str, list[Measured]]:
        """The kept figures of some flights, by id; worked out from the flights where the table does not read.

        Parameters
        ----------
        flight_ids : collection of str
        measures : collection of str
            Only these figures, all where empty.
        """
        out: dict[str, list[Measured]] = {i: [] for i in flight_ids}
        try:
            table = Columns(self._book.folder).read(
                "figures", Measured.__struct_fields__, where=_where(flight_ids, measures)
            )
            known = set(table.column(FLIGHT).to_pylist())
            if known >= out.keys():
                cells = [table.column(name).to_pylist() for name in Measured.__struct_fields__]
                for flight_id, row in zip(table.column(FLIGHT).to_pylist(), map(Measured, *cells), strict=True):
                    out[flight_id].append(row)
                return out
        except (OSError, ValueError):
            pass
        found = {i: list(rows_of(self.whole(i).result)) for i in out}
        return {i: [r for r in rows if not measures or r.measure in measures] for i, rows in found.items()}

    def columns(self, flight_ids: Sequence[str]) -> FigureColumns:
        """The kept figures of some flights as columns, in the order of the flights."""
        if self._columns is None or self._columns[0] != tuple(flight_ids):
            self._columns = tuple(flight_ids), self.columns_of(flight_ids)
        return self._columns[1]

    def columns_of(self, flight_ids: Sequence[str], measures: Collection[str] = ()) -> FigureColumns:
        """The same, not held for who asks next; where figures are named, only these and perhaps others."""
        names = ("measure", "part", "thing", "unit")
        values = ("value", "low", "high")
        ids = pa.array(flight_ids, pa.string())
        where = _where(flight_ids, measures)
        try:
            table = Columns(self._book.folder).read("figures", (*names, *values), where=where, coded=True)
            at = pc.index_in(table.column(FLIGHT), ids).to_numpy()
            if len(np.unique(at)) == len(flight_ids):
                words = [words_of(table.column(name)) for name in names]
                numbers = np.stack([table.column(name).to_numpy() for name in values])
                return columns_from(words, at.astype(np.intp), numbers)
        except (OSError, ValueError):
            pass
        rows = self.figures(flight_ids, measures)
        return columns_of([rows[i] for i in flight_ids])

    @cached_property
    def _totals(self) -> Totals:
        starts = self.prepared.listing.starts()
        began = np.array([starts[i] for i in self.ids], float)  # None is NaN
        return replace(self._rows.totals(self.ids), start_s=began)

    def sums(self, aircraft: str) -> tuple[float, float]:
        """Seconds in the air and mL burned in an aircraft's flights together."""
        places = self.lineup.owned[aircraft]
        airborne, burned = (np.nan_to_num(column[places]).tolist() for column in self._sizes)
        return sum(airborne), sum(burned)

    @cached_property
    def _sizes(self) -> tuple[FloatArray, FloatArray]:
        airborne, burned = (self._rows.numbers(self.ids, self.lineup.at, name) for name in ("airborne_s", "burned_ml"))
        return airborne, burned

    def season(self, checks: Mapping[str, Sequence[RangeCheck]] | None = None) -> SeasonResult:
        """Everything the analyser says over flights; read again only for aircraft and packs that changed."""
        limits = self._results.prepared.limits
        windows = windows_of(self.lineup)
        known = {
            name: aircraft
            for name, ids in windows.flown.items()
            if name and (aircraft := self.prepared.context(ids[-1]).aircraft)
        }
        known |= self._register.aircraft
        parts = [
            self._aircraft(name, known.get(name), windows, (checks or {}).get(name, ()), limits.get(name))
            for name in sorted({*known, *windows.flown})
        ]
        packs = [p for name in windows.packs if (p := self._pack(name, windows)) is not None]
        live = {_place("aircraft", name) for name in {*known, *windows.flown}}
        live |= {_place("pack", name) for name in windows.packs}
        live |= {_place("of", name, of) for name, flown in windows.layouts.items() for of in kept_names(flown)}
        folder = self._book.cache_folder / kept.SEASON
        for name in kept.names(folder) - live:
            with suppress(OSError):
                (folder / f"{name}{kept.ENDING}").unlink()
        return compose_season(parts, packs, self.ids, limits)

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
                self.brief,
                self.totals(flown),
                windows,
                checks,
                limits or COMMON_PRACTICE,
                partial(self._of_layouts, name),
            ),
        )

    def _of_layouts(self, aircraft: str, name: str, ids: Sequence[str], kind: type[T], make: Callable[[], T]) -> T:
        return self._said(_place("of", aircraft, name), self._key(ids, ()), kind, make)

    def _pack(self, name: str, windows: Windows) -> PackHistory | None:
        needed, uses = windows.packs[name], windows.uses[name]
        found = self._said(
            _place("pack", name),
            self._key(needed, uses, name),
            _PackPart,
            lambda: _PackPart(analyse_pack(name, [self.brief(i) for i in needed], self.totals(uses))),
        )
        return found.history

    def _said(self, name: str, key: str, kind: type[T], make: Callable[[], T]) -> T:
        folder = self._book.cache_folder / kept.SEASON
        found = kept.load(folder, name, key, kind)
        if found is None:
            found = make()
            kept.keep(folder, name, key, to_bytes(found))
        return found

    def _key(self, read: Sequence[str], counted: Sequence[str], *more: object) -> str:
        digest = hashlib.sha256(analyser_digest())
        numbers = self._results.prepared.numbers
        digest.update("\n".join(f"{i}\n{numbers[i]}" for i in read).encode() + self.keys(read))
        digest.update("\n".join(counted).encode() + self.keys(counted))
        for one in more:
            digest.update(b"\n" + to_bytes(one, sort=True))
        return digest.hexdigest()


def _where(flight_ids: Collection[str], measures: Collection[str]) -> dict[str, Collection[str]]:
    """Which rows of the table of figures to read; every figure where none is named."""
    return {FLIGHT: flight_ids, **({"measure": {*measures, ALWAYS}} if measures else {})}


class _PackPart(Struct, frozen=True):
    history: PackHistory | None


def _place(kind: str, *names: str) -> str:
    told = "\n".join(names).encode("utf-8", "surrogatepass")
    return f"{kind}-{hashlib.sha256(told).hexdigest()[:20]}"


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
        Spreads the work, as :func:`spooldown.processes.workers.spread` does over this machine's cores.

    Raises
    ------
    LogbookProblem
        If a flight cannot be worked out and ``failures`` is None.
    """
    prepared = prepare(book, register)
    results = Results(book, prepared, progress=progress, failures=failures, run=run)
    update = Update(book, prepared, results)
    results.brief = update.teacher
    new = update.changed()
    touched = update.touched(new)
    update.add(new)
    update.add(update.unsettled(touched))
    update.restamp()
    update.save()
    results.run = None  # it need not last longer; a kept result that no longer reads is made again here
    made = Overview(book, register, results, update.rows)
    made.unkept = update.unkept
    made.remember(update.at_hand())
    return made
