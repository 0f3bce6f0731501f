"""What is known of every flight without its telemetry, and digests of what its result depends on."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from contextlib import suppress
from functools import cache
from pathlib import Path

import numpy as np

import analyser
from analyser.core.aircraft import FlightContext
from analyser.core.findings import Finding, coded
from analyser.core.levels import Limit, Limits
from analyser.fuel.sources import wants_curve
from analyser.programme.marks import Mark
from analyser.record import FlightRecord
from analyser.season.lineup import Facts, Lineup, facts_of
from analyser.season.teaching import lessons_of, number_flights, taught
from spooldown import __version__
from spooldown.bench.kept import Scales, bench_records
from spooldown.judging.files import all_limits
from spooldown.judging.flights import judged_record, on_channels
from spooldown.judging.marks import by_flight, with_marks
from spooldown.logbook.book import Logbook, note_of
from spooldown.logbook.codec import to_bytes
from spooldown.logbook.columns import Columns
from spooldown.logbook.flight import Flight
from spooldown.logbook.listing import Digests
from spooldown.logbook.note import FlightNote
from spooldown.problems import LogbookProblem
from spooldown.register import Register
from spooldown.work.context import context_of
from spooldown.work.rows import Cells, Rows, facts_in, facts_out


def result_key(flight: Flight, context: FlightContext, limits: tuple[Limit, ...] = ()) -> str:
    """Digest of what a result depends on: the analyser, the telemetry, the context, limits on channels."""
    digest = hashlib.sha256(analyser_digest() + f"\n{flight.telemetry_sha256}\n".encode())
    digest.update(to_bytes(context, sort=True))
    if limits:
        digest.update(to_bytes(limits, sort=True))
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
        if book.exists:
            with suppress(OSError):  # where nothing can be written, nothing is kept
                book.cache_folder.mkdir(exist_ok=True)
        self.ids = self.listing.ids
        bench = bench_records(book)
        self._scales = Scales(bench.values())
        found = {name: register.find_aircraft(name) for name in self.listing.owners() if name}
        owners = {aircraft.name if aircraft else name for name, aircraft in found.items()}
        self.limits = all_limits(book, owners)
        self.watched = {name: on_channels(held) for name, held in self.limits.items()}
        self.marks = by_flight(book)
        self._contexts: dict[str, tuple[FlightContext, tuple[Finding, ...]]] = {}
        self._spoilt: dict[str, Finding] = {}
        self._leave_out = book.leave_out
        self._wants: dict[tuple[int, tuple[str, ...]], bool] = {}
        common = hashlib.sha256(analyser_digest() + _sources_digest())
        files = [(f.aircraft, f.packs) for f in register.files.values()]  # not their names, which hold folders
        unreadable = [coded(why) for why in (*self.limits.unreadable.values(), *register.unreadable.values())]
        for one in (tuple(files), tuple(bench.values()), dict(self.limits), unreadable):
            common.update(to_bytes(one, sort=True) + b"\n")
        self._marked = {i: to_bytes(tuple(marks), sort=True) for i, marks in self.marks.items() if marks}
        self.stamps = self.listing.stamps(common.digest(), self._marked)
        self._gather()

    def _gather(self) -> None:
        """Take each flight's facts and digests from its row, or from the flight where the row is not of now."""
        rows, ids = self.rows, self.ids
        changed = (self.stamps.words != rows.digests(ids, "stamp")).any(axis=1)
        self.stale = stale = [ids[n] for n in np.flatnonzero(changed).tolist()]
        self.facts, self.shown, self.base = (Cells(rows, name, ids) for name in ("facts", "shown", "base"))
        self.own = Digests(self.listing.at, rows.digests(ids, "own"))
        facts, which = rows.coded(ids, "facts")
        limits = {name: to_bytes(held, sort=True) for name, held in self.limits.items()}
        for flight_id in stale:
            flight, context = self.listing[flight_id], self.context(flight_id)
            self.facts[flight_id] = told = facts_out(facts_of(context, learns=self._learns(flight, context)))
            which[self.listing.at[flight_id]] = len(facts)
            facts.append(told)
            self.shown[flight_id] = _shown(flight, self.said(flight_id))
            key = self.base[flight_id] = self.key(flight_id, context)
            more = limits.get(self.owner(flight_id), b"")
            if marked := self._marked.get(flight_id):
                more += b"\n" + marked
            self.own[flight_id] = hashlib.sha256(key.encode() + more).hexdigest() if more else key
        self.lineup = Lineup.coded(ids, [facts_in(text) if text else Facts() for text in facts], which)
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

    def key(self, flight_id: str, context: FlightContext) -> str:
        """Digest of what a flight's result depends on, in this context; nothing kept is of one that is damaged."""
        key = result_key(self.listing[flight_id], context, self.watched.get(self.owner(flight_id), ()))
        damage = self.damage(flight_id)
        return hashlib.sha256(f"{key}\n{coded(damage)}".encode("utf-8", "replace")).hexdigest() if damage else key

    def damage(self, flight_id: str) -> Finding | None:
        """What is wrong with a flight's row, its note, or what its aircraft's files say; it is not worked out then."""
        owner = self.owner(flight_id)
        return self.listing[flight_id].damage or self._spoilt.get(flight_id) or self.limits.unreadable.get(owner)

    def said(self, flight_id: str) -> tuple[Finding, ...]:
        """What was assumed of a flight, or not found."""
        return self._context(flight_id)[1]

    def _context(self, flight_id: str) -> tuple[FlightContext, tuple[Finding, ...]]:
        if flight_id not in self._contexts:
            flight, body = self.listing[flight_id], self.listing.note(flight_id)
            note = FlightNote()
            try:
                note = note if body is None else note_of(flight_id, body)
            except LogbookProblem as problem:
                self._spoilt[flight_id] = problem.finding
                self._leave_out(problem.finding)
            context, said = context_of(flight, note, self.register)
            if not self.register.settles(flight, context.packs, note.packs):
                self._spoilt.setdefault(flight_id, next(iter(self.register.unreadable.values())))
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


def prepare(book: Logbook, register: Register) -> Prepared:
    """Gather what is known of every flight."""
    return Prepared(book, register)


def judged(record: FlightRecord, key: str, limits: Limits | None, marks: Sequence[Mark]) -> tuple[FlightRecord, str]:
    """Judge a flight by limits and lay marks on its events; both become part of its key."""
    record, key = judged_record(record, key, limits)
    return with_marks(record, key, marks)


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
        for path in sorted(place.rglob("*.py")) if place.is_dir() else [place]:
            digest.update(b"\0" + path.relative_to(folder).as_posix().encode() + b"\0" + path.read_bytes())
    return digest.digest()


@cache
def analyser_digest() -> bytes:
    """Digest of the analyser's own source."""
    # Its source stands for a version number, which somebody would forget to raise.
    folder = Path(analyser.__file__ or "").parent
    digest = hashlib.sha256(__version__.encode())
    for path in sorted(folder.rglob("*.py")):
        digest.update(b"\0" + path.relative_to(folder).as_posix().encode() + b"\0" + path.read_bytes())
    return digest.digest()
