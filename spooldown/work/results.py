"""Flight results, analysed once: cached beside the logbook under everything they depend on."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import TypeVar

import analyser
from analyser.core.aircraft import Aircraft, FlightContext
from analyser.core.levels import Limit, Limits
from analyser.core.quality import screen
from analyser.flight import FlightResult
from analyser.programme.limits import crossings
from analyser.programme.marks import Mark
from analyser.record import FlightRecord
from analyser.season.analysis import analyse_season
from analyser.season.link.range_check import RangeCheck
from analyser.season.result import SeasonResult
from analyser.season.teaching import analysis_order, corrected, number_flights, with_learned_burn
from spooldown import __version__
from spooldown.bench.kept import Scales, bench_records
from spooldown.judging.files import all_limits
from spooldown.judging.flights import judged_record, on_channels
from spooldown.judging.marks import by_flight, with_marks
from spooldown.logbook.book import Flight, Logbook, damaged
from spooldown.logbook.codec import from_json, to_json
from spooldown.logbook.note import FlightNote
from spooldown.logbook.unknown import DamagedFile
from spooldown.problems import LogbookProblem
from spooldown.register import Register
from spooldown.work.context import context_of
from spooldown.work.workers import Done, WorkerEnded, spread

T = TypeVar("T")

KEPT = ".json.zst"
"""Ending of a kept result's file."""

SEASON = "season"
"""Name of the result over all flights in the cache; a flight's id always ends in a letter after its date."""


@dataclass(frozen=True, slots=True)
class Analysed:
    """One flight of the logbook with its context and result; ``key`` changes with anything the result depends on."""

    flight: Flight
    record: FlightRecord
    said: tuple[str, ...]
    key: str


@dataclass(frozen=True, slots=True)
class Failure:
    """A flight that could not be worked out, and why in one sentence."""

    flight: Flight
    why: str


@dataclass(frozen=True, slots=True)
class Work:
    """What a process needs to work one flight out."""

    flight: Flight
    place: Path | str
    """Path, or address on object storage, of the telemetry file."""
    context: FlightContext
    limits: tuple[Limit, ...] = ()
    """The aircraft's limits on channels."""

    @property
    def sha256(self) -> str:
        """What the telemetry file's bytes must hash to."""
        return self.flight.telemetry_sha256


Run = Callable[[Callable[[Work], bytes], Sequence[Work]], Iterator[Done[Work, bytes]]]
"""What spreads the work of many flights."""


def result_key(flight: Flight, context: FlightContext, limits: tuple[Limit, ...] = ()) -> str:
    """Digest of what a result depends on: the analyser, the telemetry, the context, limits on channels."""
    digest = hashlib.sha256(_analyser_digest() + f"\n{flight.telemetry_sha256}\n".encode())
    digest.update(to_json(context, sort=True))
    if limits:
        digest.update(to_json(limits, sort=True))
    return digest.hexdigest()


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
    flights, notes = book.flights(), book.notes()
    scales = Scales(bench_records(book).values())
    contexts = {}
    for f in flights:
        context, said = context_of(f, notes.get(f.flight_id, FlightNote()), register)
        contexts[f.flight_id] = scales.given_to(context, f.day), said
    all_contexts = [c for c, _ in contexts.values()]
    numbers = number_flights(all_contexts)
    held = all_limits(book, (c.aircraft.name for c in all_contexts if c.aircraft))
    watched = {i: on_channels(held.get(c.aircraft.name if c.aircraft else "")) for i, (c, _) in contexts.items()}
    wanted = [f for f in flights if not only or f.flight_id in only]
    order = analysis_order(all_contexts, {f.flight_id: f.channels for f in flights}, {f.flight_id for f in wanted})
    by_id = {f.flight_id: f for f in flights}
    out: dict[str, Analysed] = {}
    done = 0
    for ids in (order.first, order.second):
        group = [by_id[i] for i in ids]
        if ids is order.second:
            teachers = [out[i].record for i in order.first if i in out]
            # The curves become part of the key: one flight more works out anew only the flights that learn from it.
            pupils = with_learned_burn([contexts[i][0] for i in ids], numbers, teachers)
            contexts |= {i: (context, contexts[i][1]) for i, context in zip(ids, pupils, strict=True)}
        keys = {f.flight_id: result_key(f, contexts[f.flight_id][0], watched[f.flight_id]) for f in group}
        results = {f.flight_id: _cached(book, f.flight_id, keys[f.flight_id], FlightResult) for f in group}
        new = [
            Work(f, book.telemetry_place(f.flight_id), contexts[f.flight_id][0], watched[f.flight_id])
            for f in group
            if results[f.flight_id] is None
        ]
        known = done + len(new)
        for one in (run or spread)(_analyse, new):
            flight_id = one.item.flight.flight_id
            if one.value is not None:
                _keep(book, flight_id, keys[flight_id], one.value)
                results[flight_id] = from_json(one.value, FlightResult)
            elif failures is None:
                raise LogbookProblem(_why(one.item.flight, one.error)) from one.error
            else:
                failures.append(Failure(one.item.flight, _why(one.item.flight, one.error)))
            done += 1
            if progress:
                progress(flight_id, done, known)
        for f in group:
            context, said = contexts[f.flight_id]
            if (result := results[f.flight_id]) is None:
                continue
            record = FlightRecord(f.flight_id, numbers[f.flight_id], f.utc_start, context, result)
            out[f.flight_id] = Analysed(f, record, said, keys[f.flight_id])
    found = _corrected([out[f.flight_id] for f in flights if f.flight_id in out])
    marks = by_flight(book)
    return [_judged(found[f.flight_id], held, marks.get(f.flight_id, ())) for f in wanted if f.flight_id in found]


def _judged(one: Analysed, held: Mapping[str, Limits], marks: Sequence[Mark]) -> Analysed:
    record, key = judged_record(one.record, one.key, held.get(one.record.aircraft))
    record, key = with_marks(record, key, marks)
    return replace(one, record=record, key=key)


def _corrected(flights: Sequence[Analysed]) -> dict[str, Analysed]:
    """The same flights, oldest first, set right by what they teach each other of fuel sensors and packs, by their ids.

    What they were set right by becomes part of the key: a volume noted for one flight changes what others show.
    """
    records = corrected([one.record for one in flights])
    out = {}
    for one, record in zip(flights, records, strict=True):
        key = one.key
        if record is not one.record:
            scales = tuple(t.scale.applied for t in record.result.fuel.tanks)
            resistances = tuple(p.resistance.value_mohm for p in record.result.packs.packs)
            key = hashlib.sha256(key.encode() + to_json((scales, resistances), sort=True)).hexdigest()
        out[one.flight.flight_id] = replace(one, record=record, key=key)
    return out


def _analyse(work: Work) -> bytes:
    from analyser.flight import analyse_flight
    from spooldown.logbook.store import read_telemetry

    telemetry = read_telemetry(work.place, work.sha256)
    result = analyse_flight(telemetry, work.context)
    if work.limits:
        result = replace(result, passed=crossings(screen(telemetry), result.phases, work.limits))
    return to_json(result)


def _why(flight: Flight, error: Exception | None) -> str:
    """Word what stopped a flight's analysis."""
    if isinstance(error, WorkerEnded):
        return f"flight {flight.flight_id} could not be worked out: {error}; it was tried alone too"
    if isinstance(error, OSError | DamagedFile):
        return damaged(flight, error)
    return (
        f"flight {flight.flight_id} could not be worked out: a fault in spooldown itself"
        f" ({type(error).__name__}: {error}); report it, with the log {flight.source} if you may"
    )


def season(
    book: Logbook, flights: Sequence[Analysed], register: Register, checks: Mapping[str, Sequence[RangeCheck]]
) -> SeasonResult:
    """Everything the analyser says over flights; the last answer stands while nothing it depends on has changed."""
    aircraft = list(register.aircraft.values())
    digest = hashlib.sha256(_analyser_digest())
    for one in flights:
        digest.update(f"{one.flight.flight_id}\n{one.record.number}\n{one.record.utc_start}\n{one.key}\n".encode())
    held = all_limits(book, {*register.aircraft, *(one.record.aircraft for one in flights)})
    given = _SeasonInput(tuple(aircraft), {k: tuple(v) for k, v in checks.items()}, held)
    digest.update(to_json(given, sort=True))
    key = digest.hexdigest()
    found = _cached(book, SEASON, key, SeasonResult)
    if found is None:
        data = to_json(analyse_season([a.record for a in flights], aircraft, checks, held))
        _keep(book, SEASON, key, data)
        found = from_json(data, SeasonResult)
    return found


@dataclass(frozen=True, slots=True)
class _SeasonInput:
    aircraft: tuple[Aircraft, ...]
    checks: dict[str, tuple[RangeCheck, ...]]
    limits: dict[str, Limits]


@cache
def _analyser_digest() -> bytes:
    # Its source stands for a version number, which somebody would forget to raise.
    folder = Path(analyser.__file__ or "").parent
    digest = hashlib.sha256(__version__.encode())
    for path in sorted(folder.rglob("*.py")):
        digest.update(b"\0" + path.relative_to(folder).as_posix().encode() + b"\0" + path.read_bytes())
    return digest.digest()


def _cache_path(book: Logbook, name: str) -> Path:
    return book.cache_folder / f"{name}{KEPT}"


def _cached(book: Logbook, name: str, key: str, kind: type[T]) -> T | None:
    try:
        found, body = kept_bytes(book.cache_folder, name)
        return from_json(body, kind) if found == key else None
    except Exception:  # a cache that does not read is no cache: whatever is wrong with it, the result is made again
        return None


def kept_result(book: Logbook, flight_id: str) -> FlightResult | None:
    """What was last worked out of a flight, without working anything out now; ``None`` where nothing is kept."""
    try:
        return from_json(kept_bytes(book.cache_folder, flight_id)[1], FlightResult)
    except Exception:  # a kept result that no longer reads is worked out again elsewhere
        return None


def kept_bytes(folder: Path, name: str) -> tuple[str, bytes]:
    """Key and body of a kept result.

    Raises
    ------
    OSError, ValueError
        If it is not there or does not read.
    """
    import pyarrow as pa

    with pa.input_stream(str(folder / f"{name}{KEPT}"), compression="zstd") as stream:
        found, _, body = stream.read().partition(b"\n")
    return found.decode(), body


def _keep(book: Logbook, name: str, key: str, data: bytes) -> None:
    """Keep a result; a logbook on a full disk or a read-only medium is analysed each time."""
    with suppress(OSError):
        keep_bytes(book.cache_folder, name, key, data)


def keep_bytes(folder: Path, name: str, key: str, data: bytes) -> None:
    """Write a result to be kept, whole or not at all.

    Raises
    ------
    OSError
        If it cannot be written; nothing half written is left.
    """
    import pyarrow as pa

    path = folder / f"{name}{KEPT}"
    part = path.with_name(f"{path.name}.{os.getpid()}.part")
    try:
        folder.mkdir(exist_ok=True)
        with pa.output_stream(str(part), compression="zstd") as stream:
            stream.write(key.encode() + b"\n" + data)
        os.replace(part, path)
    except OSError:
        with suppress(OSError):
            part.unlink()
        raise


def keep_only(book: Logbook, flight_ids: Collection[str], *, sweep: bool) -> int:
    """Count kept results of flights that are no more, and stray temporary files; ``sweep`` removes them."""
    names = {_cache_path(book, i).name for i in (*flight_ids, SEASON)}
    stray = [p for p in book.cache_folder.glob("*") if p.is_file() and p.name not in names]
    for path in stray if sweep else ():
        with suppress(OSError):
            path.unlink()
    return len(stray)
