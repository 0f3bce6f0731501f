"""Flight results, analysed once: cached beside the logbook under everything they depend on."""

from __future__ import annotations

import hashlib
from collections import OrderedDict
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence

from msgspec import Struct
from msgspec.structs import replace

from analyser.core.aircraft import Aircraft, FlightContext
from analyser.core.findings import Finding
from analyser.core.levels import Limit, Limits
from analyser.flight import FlightResult
from analyser.record import FlightRecord
from analyser.season.analysis import analyse_season
from analyser.season.link.range_check import RangeCheck
from analyser.season.result import SeasonResult
from analyser.season.teaching import Corrections, corrected, corrections_of, teachers_of, with_learned_burn
from spooldown.judging.files import all_limits
from spooldown.logbook.book import Logbook
from spooldown.logbook.codec import from_bytes, to_bytes
from spooldown.logbook.flight import DamagedFile, Flight
from spooldown.problems import LogbookProblem
from spooldown.processes.workers import spread
from spooldown.register import Register
from spooldown.work import kept
from spooldown.work.analysing import Failure, Run, Work, Worked, analyse, keep, why_not
from spooldown.work.prepared import Prepared, analyser_digest, prepare


class Analysed(Struct, frozen=True):
    """One flight of the logbook with its context and result; ``key`` changes with anything the result depends on."""

    flight: Flight
    record: FlightRecord
    said: tuple[Finding, ...]
    key: str


class Results:
    """Results of a logbook's flights as each is by itself: kept ones read when asked for, new ones worked out.

    Parameters
    ----------
    progress : callable or None
        Told the flight's id, how many new ones are done and how many there are.
    failures : list of Failure or None
        Takes the flights that could not be worked out. Without it the first one raises.
    run : callable or None
        Spreads the work, as :func:`spooldown.processes.workers.spread` does over this machine's cores.
    held : int
        So many whole results stay in memory.
    """

    HELD = 64
    """So many whole results stay in memory; others are read again."""

    def __init__(
        self,
        book: Logbook,
        prepared: Prepared,
        *,
        progress: Callable[[str, int, int], None] | None = None,
        failures: list[Failure] | None = None,
        run: Run | None = None,
        held: int = HELD,
    ) -> None:
        self.book, self.prepared = book, prepared
        self.brief: Callable[[str], FlightRecord | None] = lambda _: None
        """A flight's brief, where there is one, to teach others: it is read sooner than the whole result."""
        self.progress, self.failures, self.run = progress, failures, run
        self._taught: dict[str, FlightContext] = {}
        self.keys = prepared.base.copy()
        self._failed: set[str] = set()
        self._unkept: dict[str, bytes] = {}
        self._most = held
        self._recent: OrderedDict[str, FlightRecord] = OrderedDict()
        self._done = self._known = 0

    def work_out(self, wanted: Collection[str]) -> list[str]:
        """Work out what is new among some flights and those that teach them; their ids, oldest first.

        Raises
        ------
        LogbookProblem
            If a flight cannot be worked out and nobody takes failures.
        """
        prepared, lessons = self.prepared, self.prepared.lessons
        asked = teachers_of(prepared.lineup, prepared.taught, wanted)
        for flight_id in [i for i in asked if i in lessons]:
            asked.update(lessons[flight_id])
        ordered = prepared.in_order(asked)
        self._make([i for i in ordered if i not in lessons])
        pupils = [i for i in ordered if i in lessons]
        by_lesson: dict[int, list[str]] = {}
        for flight_id in pupils:
            by_lesson.setdefault(id(lessons[flight_id]), []).append(flight_id)
        for ids in by_lesson.values():
            self.teach(ids, [r for i in lessons[ids[0]] if (r := self.teacher(i)) is not None])
        self._make(pupils)
        return [i for i in ordered if i not in self._failed]

    def context(self, flight_id: str) -> FlightContext:
        """A flight's context with the burn curves it was taught."""
        return self._taught.get(flight_id) or self.prepared.context(flight_id)

    def teach(self, pupils: Sequence[str], teachers: Sequence[FlightRecord]) -> None:
        """Give flights of one lesson the burn curves that others teach; they become part of the key.

        So one flight more works out anew only the flights that learn from it.
        """
        given = [self.prepared.context(i) for i in pupils]
        for flight_id, context in zip(
            pupils, with_learned_burn(given, self.prepared.numbers, teachers, self.prepared.lessons), strict=True
        ):
            self._taught[flight_id] = context
            self.keys[flight_id] = self.prepared.key(flight_id, context)

    def teacher(self, flight_id: str) -> FlightRecord | None:
        """One flight, or its brief, to teach others; ``None`` where it could not be worked out."""
        return self.brief(flight_id) or self.alone(flight_id)

    def alone(self, flight_id: str) -> FlightRecord | None:
        """One flight as it is by itself, or its brief; ``None`` where it could not be worked out."""
        if flight_id in self._failed:
            return None
        return self._recent.get(flight_id) or self._kept(flight_id, short=True) or self.record(flight_id)

    def record(self, flight_id: str) -> FlightRecord | None:
        """One flight's result as it is by itself; ``None`` where it could not be worked out."""
        if (known := self._recent.get(flight_id)) is not None:
            self._recent.move_to_end(flight_id)
            return known
        if flight_id in self._failed:
            return None
        record = self._kept(flight_id)
        if record is None:
            if flight_id in self.prepared.lessons and not self.context(flight_id).learned_burn:
                teachers = (self.teacher(i) for i in self.prepared.lessons[flight_id])
                self.teach([flight_id], [r for r in teachers if r is not None])
            worked = self._worked([flight_id], hold=True).get(flight_id)
            if worked is None:
                return None
            record = self._recorded(flight_id, from_bytes(worked.result, FlightResult))
        self._recent[flight_id] = record
        if len(self._recent) > self._most:
            self._recent.popitem(last=False)
        return record

    def _kept(self, flight_id: str, *, short: bool = False) -> FlightRecord | None:
        """A flight's own result, or its brief, as it was kept."""
        if flight_id in self._unkept:
            return self._recorded(flight_id, from_bytes(self._unkept[flight_id], FlightResult))
        name = flight_id + kept.BRIEF if short else flight_id
        result = kept.load(self.book.cache_folder, name, self.keys[flight_id], FlightResult)
        return None if result is None else self._recorded(flight_id, result)

    def _recorded(self, flight_id: str, result: FlightResult) -> FlightRecord:
        flight, number = self.prepared.flight(flight_id), self.prepared.numbers[flight_id]
        return FlightRecord(flight_id, number, flight.utc_start, self.context(flight_id), result)

    def problem(self, flight_id: str) -> LogbookProblem:
        """What stopped a flight that could not be worked out."""
        return LogbookProblem(next(f.why for f in self.failures or () if f.flight.flight_id == flight_id))

    def _watched(self, flight_id: str) -> tuple[Limit, ...]:
        return self.prepared.watched.get(self.prepared.owner(flight_id), ())

    def _make(self, flight_ids: Sequence[str]) -> None:
        """Work out those of some flights that are not kept."""
        folder = self.book.cache_folder
        self._worked(
            [
                i
                for i in flight_ids
                if i not in self._unkept and i not in self._failed and not kept.has(folder, i, self.keys[i])
            ]
        )

    def _worked(self, flight_ids: Sequence[str], *, hold: bool = False) -> dict[str, Worked]:
        """Work flights out and keep what comes of them; ``hold`` gives it back besides."""
        folder = None if hold or self.run else self.book.cache_folder  # others need not have this machine's disk
        sound = []
        for flight_id in flight_ids:
            if damage := self.prepared.damage(flight_id):
                self._fail(self.prepared.flight(flight_id), damage)
            else:
                sound.append(flight_id)
        work = [
            Work(
                self.prepared.flight(i),
                self.book.telemetry_place(i),
                self.context(i),
                self._watched(i),
                (folder, self.keys[i]) if folder else None,
            )
            for i in sound
        ]
        out: dict[str, Worked] = {}
        self._known = self._done + len(work)
        for one in (self.run or spread)(analyse, work):
            flight_id = one.item.flight.flight_id
            if one.error is not None:
                if isinstance(one.error, OSError | DamagedFile):
                    self.book.still_as(flight_id, one.item.sha256)
                self._fail(one.item.flight, why_not(one.item.flight, one.error), one.error)
            elif one.value is not None:
                if folder or not keep(self.book.cache_folder, self.keys[flight_id], flight_id, one.value):
                    self._unkept[flight_id] = one.value.result
                if hold:
                    out[flight_id] = one.value
            self._done += 1
            if self.progress:
                self.progress(flight_id, self._done, self._known)
        return out

    def _fail(self, flight: Flight, why: Finding, error: Exception | None = None) -> None:
        if self.failures is None:
            raise LogbookProblem(why) from error
        self._failed.add(flight.flight_id)
        self.failures.append(Failure(flight, why))


def analysed(
    book: Logbook,
    register: Register,
    *,
    only: Collection[str] = (),
    progress: Callable[[str, int, int], None] | None = None,
    failures: list[Failure] | None = None,
    run: Run | None = None,
) -> list[Analysed]:
    """Every flight of the logbook analysed, oldest first; what is cached is not analysed again.

    Parameters
    ----------
    only : collection of str
        Flight ids, where not all are wanted; the flights that they learn from are analysed too.
    progress : callable or None
        Told the flight's id, how many new ones are done and how many there are.
    failures : list of Failure or None
        Takes the flights that could not be worked out; the others are. Without it the first one raises.
    run : callable or None
        Spreads the work, as :func:`spooldown.processes.workers.spread` does over this machine's cores.

    Raises
    ------
    LogbookProblem
        If a flight cannot be worked out and ``failures`` is None.
    """
    prepared = prepare(book, register)
    wanted = {i for i in prepared.ids if not only or i in only}
    results = Results(book, prepared, progress=progress, failures=failures, run=run, held=len(prepared.ids))
    found = corrected_of(results, results.work_out(wanted))
    return [found[i] for i in prepared.ids if i in wanted and i in found]


def corrected_of(results: Results, flight_ids: Sequence[str]) -> dict[str, Analysed]:
    """Flights corrected by what they teach each other, by id; those that could not be worked out are left out."""
    prepared = results.prepared
    out = {}
    for one in _corrected(results, flight_ids, results.record):
        record, key = prepared.judged(one.record, one.key)
        out[one.flight.flight_id] = replace(one, record=record, key=key)
    return out


def taught_to(
    results: Results, flight_ids: Sequence[str], pupils: Collection[str]
) -> dict[str, tuple[Corrections, str]]:
    """What some flights, or their briefs, teach the pupils among them, with the key of what those then show."""
    found = _corrected(results, flight_ids, lambda i: results.alone(i) if i in pupils else results.teacher(i), pupils)
    return {i: (corrections_of(one.record), one.key) for one in found if (i := one.flight.flight_id) in pupils}


def _corrected(
    results: Results,
    flight_ids: Sequence[str],
    read: Callable[[str], FlightRecord | None],
    only: Collection[str] | None = None,
) -> Iterator[Analysed]:
    """Some flights, oldest first, set right by what they teach each other of fuel sensors and packs.

    What they were set right by becomes part of the key: a volume noted for one flight changes what others show.
    """
    prepared = results.prepared
    records = [record for i in flight_ids if (record := read(i)) is not None]
    for own, record in zip(records, corrected(records, only), strict=True):
        flight_id = own.flight_id
        key = results.keys[flight_id]
        if record is not own:
            scales = tuple(t.scale.applied for t in record.result.fuel.tanks)
            resistances = tuple(p.resistance.value_mohm for p in record.result.packs.packs)
            key = hashlib.sha256(key.encode() + to_bytes((scales, resistances), sort=True)).hexdigest()
        yield Analysed(prepared.flight(flight_id), record, prepared.said(flight_id), key)


def season(
    book: Logbook, flights: Sequence[Analysed], register: Register, checks: Mapping[str, Sequence[RangeCheck]]
) -> SeasonResult:
    """Everything the analyser says over flights; the last answer stands while nothing it depends on has changed."""
    aircraft = list(register.aircraft.values())
    digest = hashlib.sha256(analyser_digest())
    for one in flights:
        digest.update(f"{one.flight.flight_id}\n{one.record.number}\n{one.record.utc_start}\n{one.key}\n".encode())
    held = all_limits(book, {*register.aircraft, *(one.record.aircraft for one in flights)})
    given = _SeasonInput(tuple(aircraft), {k: tuple(v) for k, v in checks.items()}, held)
    digest.update(to_bytes(given, sort=True))
    key = digest.hexdigest()
    found = kept.load(book.cache_folder / kept.SEASON, kept.SEASON, key, SeasonResult)
    if found is None:
        data = to_bytes(analyse_season([a.record for a in flights], aircraft, checks, held))
        kept.keep(book.cache_folder / kept.SEASON, kept.SEASON, key, data)
        found = from_bytes(data, SeasonResult)
    return found


class _SeasonInput(Struct, frozen=True):
    aircraft: tuple[Aircraft, ...]
    checks: dict[str, tuple[RangeCheck, ...]]
    limits: dict[str, Limits]
