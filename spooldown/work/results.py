"""Flight results, analysed once: cached beside the logbook under everything they depend on."""

from __future__ import annotations

import hashlib
from collections import OrderedDict
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import analyser
from analyser.core.aircraft import Aircraft, FlightContext
from analyser.core.findings import Finding, coded
from analyser.core.levels import Limit, Limits
from analyser.core.quality import screen_again
from analyser.flight import FlightResult
from analyser.fuel.sources import wants_curve
from analyser.programme.limits import crossings
from analyser.programme.marks import Mark
from analyser.record import FlightRecord
from analyser.season.analysis import analyse_season
from analyser.season.brief import brief_result
from analyser.season.lineup import Lineup, facts_of
from analyser.season.link.range_check import RangeCheck
from analyser.season.result import SeasonResult
from analyser.season.teaching import (
    Corrections,
    corrected,
    corrections_of,
    lessons_of,
    number_flights,
    taught,
    teachers_of,
    with_learned_burn,
)
from spooldown import __version__
from spooldown.bench.kept import Scales, bench_records
from spooldown.judging.files import all_limits
from spooldown.judging.flights import judged_record, on_channels
from spooldown.judging.marks import by_flight, with_marks
from spooldown.logbook.book import Logbook, damaged, note_of
from spooldown.logbook.codec import from_json, to_json
from spooldown.logbook.columns import Columns
from spooldown.logbook.flight import DamagedFile, Flight
from spooldown.logbook.note import FlightNote
from spooldown.problems import LogbookProblem
from spooldown.register import Register
from spooldown.work import kept
from spooldown.work.context import context_of
from spooldown.work.cores import give_back_now
from spooldown.work.rows import Rows, each_once, facts_out
from spooldown.work.workers import Done, WorkerEnded, spread


@dataclass(frozen=True, slots=True)
class Analysed:
    """One flight of the logbook with its context and result; ``key`` changes with anything the result depends on."""

    flight: Flight
    record: FlightRecord
    said: tuple[Finding, ...]
    key: str


@dataclass(frozen=True, slots=True)
class Failure:
    """A flight that could not be worked out, and why."""

    flight: Flight
    why: Finding


@dataclass(frozen=True, slots=True)
class Work:
    """What a process needs to work one flight out."""

    flight: Flight
    place: Path | str
    """Path, or address on object storage, of the telemetry file."""
    context: FlightContext
    limits: tuple[Limit, ...] = ()
    """The aircraft's limits on channels."""
    keep: tuple[Path, str] | None = None
    """Folder and key under which the process keeps what comes of it; None where it gives it back."""

    @property
    def sha256(self) -> str:
        """What the telemetry file's bytes must hash to."""
        return self.flight.telemetry_sha256


Run = Callable[[Callable[[Work], "Worked | None"], Sequence[Work]], Iterator[Done[Work, "Worked | None"]]]
"""What spreads the work of many flights; its processes need not have this machine's disk."""


def result_key(flight: Flight, context: FlightContext, limits: tuple[Limit, ...] = ()) -> str:
    """Digest of what a result depends on: the analyser, the telemetry, the context, limits on channels."""
    digest = hashlib.sha256(analyser_digest() + f"\n{flight.telemetry_sha256}\n".encode())
    digest.update(to_json(context, sort=True))
    if limits:
        digest.update(to_json(limits, sort=True))
    return digest.hexdigest()


class Prepared:
    """Every flight of a logbook, oldest first, with what is known of it without its telemetry.

    What is stored and registered of a flight is taken apart only where it is another than its kept row was made from,
    or where somebody asks.

    Attributes
    ----------
    ids : list of str
        Of all flights, oldest first.
    stamps : dict of str to str
        Digest of all that is stored and registered of each flight.
    stale : list of str
        Flights whose kept row was made from another one, or that have none.
    lineup : Lineup
        Which flights count together.
    numbers : dict of str to int
        Each flight's among its aircraft's.
    taught : tuple of Taught
        Which teach which a scale or a resistance.
    lessons : dict
        By flight that only a learned burn curve can tell, those that teach it.
    base : dict of str to str
        Digest of what each flight's result depends on, but for what others teach.
    shown : dict of str to str
        Digest of what a flight's page says besides its result.
    own : dict of str to str
        The same with its limits and marks.
    limits : dict of str to Limits
        Each aircraft's own; ``watched`` are those of them that are held against telemetry.
    marks : dict
        What a person said of events, by flight.
    """

    def __init__(self, book: Logbook, register: Register) -> None:
        self.register, self.listing, self.columns = register, book.listing(), Columns(book.folder)
        self.rows = Rows(self.columns)
        give_back_now()
        self.ids = self.listing.ids
        bench = bench_records(book)
        self._scales = Scales(bench.values())
        found = {name: register.find_aircraft(name) for name in self.listing.owners() if name}
        owners = {aircraft.name if aircraft else name for name, aircraft in found.items()}
        self.limits = all_limits(book, owners)
        self.watched = {name: on_channels(held) for name, held in self.limits.items()}
        self.marks = by_flight(book)
        self._contexts: dict[str, tuple[FlightContext, tuple[Finding, ...]]] = {}
        self._wants: dict[tuple[int, tuple[str, ...]], bool] = {}
        common = hashlib.sha256(analyser_digest() + _sources_digest())
        files = [(f.aircraft, f.packs) for f in register.files.values()]  # not their names, which hold folders
        for one in (tuple(files), tuple(bench.values()), self.limits):
            common.update(to_json(one, sort=True) + b"\n")
        self._marked = {i: to_json(tuple(marks), sort=True) for i, marks in self.marks.items() if marks}
        self.stamps = self.listing.stamps(common.digest(), self._marked)
        self._gather()

    def _gather(self) -> None:
        """Take each flight's facts and digests from its row, or from the flight where the row is not of now."""
        stamps = self.rows.cells(self.ids, "stamp")
        self.stale = stale = [i for (i, now), was in zip(self.stamps.items(), stamps, strict=True) if was != now]
        self.facts, self.shown, self.base, self.own = (
            dict(zip(self.ids, self.rows.cells(self.ids, name), strict=True))
            for name in ("facts", "shown", "base", "own")
        )
        limits = {name: to_json(held, sort=True) for name, held in self.limits.items()}
        for flight_id in stale:
            flight, context = self.listing[flight_id], self.context(flight_id)
            self.facts[flight_id] = facts_out(facts_of(context, learns=self._learns(flight, context)))
            self.shown[flight_id] = _shown(flight, self.said(flight_id))
            owner = self.owner(flight_id)
            key = self.base[flight_id] = result_key(flight, context, self.watched.get(owner, ()))
            more = limits.get(owner, b"")
            if marked := self._marked.get(flight_id):
                more += b"\n" + marked
            self.own[flight_id] = hashlib.sha256(key.encode() + more).hexdigest() if more else key
        self.lineup = Lineup(zip(self.ids, each_once(list(self.facts.values())), strict=True))
        self.numbers = number_flights(self.lineup)
        self.taught = taught(self.lineup)
        self.lessons = lessons_of(self.lineup)

    def _learns(self, flight: Flight, context: FlightContext) -> bool:
        key = (id(context.aircraft), flight.channels)
        if key not in self._wants:
            self._wants[key] = wants_curve(flight.channels, context.aircraft)
        return self._wants[key]

    def flight(self, flight_id: str) -> Flight:
        """One flight as the catalogue lists it."""
        return self.listing[flight_id]

    def context(self, flight_id: str) -> FlightContext:
        """What the log cannot know about a flight."""
        return self._context(flight_id)[0]

    def said(self, flight_id: str) -> tuple[Finding, ...]:
        """What was assumed of a flight, or not found."""
        return self._context(flight_id)[1]

    def _context(self, flight_id: str) -> tuple[FlightContext, tuple[Finding, ...]]:
        if flight_id not in self._contexts:
            flight, body = self.listing[flight_id], self.listing.note(flight_id)
            note = FlightNote() if body is None else note_of(flight_id, body)
            context, said = context_of(flight, note, self.register)
            self._contexts[flight_id] = self._scales.given_to(context, flight.day), said
        return self._contexts[flight_id]

    def owner(self, flight_id: str) -> str:
        """The aircraft a flight belongs to, '' where to none."""
        aircraft = self.context(flight_id).aircraft
        return aircraft.name if aircraft else ""

    def in_order(self, flight_ids: Iterable[str]) -> list[str]:
        """Sort flights, oldest first."""
        return sorted(flight_ids, key=self.lineup.at.__getitem__)

    def judged(self, record: FlightRecord, key: str) -> tuple[FlightRecord, str]:
        """Judge a flight by its aircraft's limits and lay on it what a person said of its events."""
        return judged(record, key, self.limits.get(record.aircraft), self.marks.get(record.flight_id, ()))


def judged(record: FlightRecord, key: str, limits: Limits | None, marks: Sequence[Mark]) -> tuple[FlightRecord, str]:
    """Judge a flight by limits and lay marks on its events; both become part of its key."""
    record, key = judged_record(record, key, limits)
    return with_marks(record, key, marks)


def prepare(book: Logbook, register: Register) -> Prepared:
    """Gather what is known of every flight."""
    return Prepared(book, register)


def _shown(flight: Flight, said: Iterable[Finding]) -> str:
    """Digest of what a flight's page says besides its result: when it was, where it is from, what was noted of it."""
    notices = [coded(n) for n in (*flight.notices, *said)]
    text = f"{flight.day} {flight.utc_start} {flight.local_start} {flight.source} {flight.part} {notices}"
    return hashlib.sha256(text.encode("utf-8", "backslashreplace")).hexdigest()[:32]


@cache
def _sources_digest() -> bytes:
    """Digest of the source that makes contexts from what is stored and registered."""
    folder = Path(__file__).parent.parent
    digest = hashlib.sha256()
    for name in ("work", "logbook", "bench", "register.py"):
        place = folder / name
        for path in sorted(place.glob("*.py")) if place.is_dir() else [place]:
            digest.update(b"\0" + path.name.encode() + b"\0" + path.read_bytes())
    return digest.digest()


class Results:
    """Results of a logbook's flights as each is by itself: kept ones read when asked for, new ones worked out.

    Parameters
    ----------
    progress : callable or None
        Told the flight's id, how many new ones are done and how many there are.
    failures : list of Failure or None
        Takes the flights that could not be worked out. Without it the first one raises.
    run : callable or None
        Spreads the work, as :func:`spooldown.work.workers.spread` does over this machine's cores.
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
        self.keys: dict[str, str] = dict(prepared.base)
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
            self.keys[flight_id] = result_key(self.prepared.flight(flight_id), context, self._watched(flight_id))

    def teacher(self, flight_id: str) -> FlightRecord | None:
        """One flight, or its brief, to teach others; ``None`` where it could not be worked out."""
        return self.brief(flight_id) or self.alone(flight_id)

    def alone(self, flight_id: str) -> FlightRecord | None:
        """One flight as it is by itself, or its brief; ``None`` where it could not be worked out."""
        if flight_id in self._failed:
            return None
        return self._recent.get(flight_id) or self._kept(flight_id, kept.BRIEF) or self.record(flight_id)

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
            record = self._recorded(flight_id, from_json(worked.result, FlightResult))
        self._recent[flight_id] = record
        if len(self._recent) > self._most:
            self._recent.popitem(last=False)
        return record

    def _kept(self, flight_id: str, what: str = "") -> FlightRecord | None:
        """A flight's own result, or its brief, as it was kept."""
        if flight_id in self._unkept:
            return self._recorded(flight_id, from_json(self._unkept[flight_id], FlightResult))
        result = kept.load(self.book.cache_folder, flight_id + what, self.keys[flight_id], FlightResult)
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
        work = [
            Work(
                self.prepared.flight(i),
                self.book.telemetry_place(i),
                self.context(i),
                self._watched(i),
                (folder, self.keys[i]) if folder else None,
            )
            for i in flight_ids
        ]
        out: dict[str, Worked] = {}
        self._known = self._done + len(work)
        for one in (self.run or spread)(_analyse, work):
            flight_id = one.item.flight.flight_id
            if one.error is not None:
                if isinstance(one.error, OSError | DamagedFile):
                    self.book.still_as(flight_id, one.item.sha256)
                why = _why(one.item.flight, one.error)
                if self.failures is None:
                    raise LogbookProblem(why) from one.error
                self._failed.add(flight_id)
                self.failures.append(Failure(one.item.flight, why))
            elif one.value is not None:
                if folder or not _keep(self.book.cache_folder, self.keys[flight_id], flight_id, one.value):
                    self._unkept[flight_id] = one.value.result
                if hold:
                    out[flight_id] = one.value
            self._done += 1
            if self.progress:
                self.progress(flight_id, self._done, self._known)
        return out


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
        Spreads the work, as :func:`spooldown.work.workers.spread` does over this machine's cores.

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
            key = hashlib.sha256(key.encode() + to_json((scales, resistances), sort=True)).hexdigest()
        yield Analysed(prepared.flight(flight_id), record, prepared.said(flight_id), key)


@dataclass(frozen=True, slots=True)
class Worked:
    """What a flight came to by itself, as it is kept: its result and its brief; nothing where they were kept."""

    result: bytes
    brief: bytes


def _analyse(work: Work) -> Worked | None:
    from analyser.flight import analyse_flight
    from spooldown.logbook.store import read_telemetry

    telemetry = read_telemetry(work.place, work.sha256)
    result = analyse_flight(telemetry, work.context)
    if work.limits:
        screened = screen_again(telemetry, result.suspects)
        result = replace(result, passed=crossings(screened, result.phases, work.limits))
    worked = Worked(to_json(result), to_json(brief_result(result)))
    return None if work.keep is not None and _keep(*work.keep, work.flight.flight_id, worked) else worked


def _keep(folder: Path, key: str, flight_id: str, worked: Worked) -> bool:
    """Keep a flight's own result where that is possible, and its brief: what it shows where others teach it nothing."""
    kept.keep(folder, flight_id + kept.BRIEF, key, worked.brief)
    return kept.keep(folder, flight_id, key, worked.result)


def _why(flight: Flight, error: Exception | None) -> Finding:
    """Say what stopped a flight's analysis."""
    if isinstance(error, WorkerEnded):
        return Finding("work.memory", {"flight": flight.flight_id, "why": Finding("work.ended")})
    if isinstance(error, OSError | DamagedFile):
        return damaged(flight, error)
    fault = f"{type(error).__name__}: {error}"
    return Finding("work.fault", {"flight": flight.flight_id, "fault": fault, "log": flight.source})


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
    digest.update(to_json(given, sort=True))
    key = digest.hexdigest()
    found = kept.load(book.cache_folder / kept.SEASON, kept.SEASON, key, SeasonResult)
    if found is None:
        data = to_json(analyse_season([a.record for a in flights], aircraft, checks, held))
        kept.keep(book.cache_folder / kept.SEASON, kept.SEASON, key, data)
        found = from_json(data, SeasonResult)
    return found


@dataclass(frozen=True, slots=True)
class _SeasonInput:
    aircraft: tuple[Aircraft, ...]
    checks: dict[str, tuple[RangeCheck, ...]]
    limits: dict[str, Limits]


@cache
def analyser_digest() -> bytes:
    """Digest of the analyser's own source."""
    # Its source stands for a version number, which somebody would forget to raise.
    folder = Path(analyser.__file__ or "").parent
    digest = hashlib.sha256(__version__.encode())
    for path in sorted(folder.rglob("*.py")):
        digest.update(b"\0" + path.relative_to(folder).as_posix().encode() + b"\0" + path.read_bytes())
    return digest.digest()
