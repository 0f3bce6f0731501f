"""One flight worked out by itself, in whichever process."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

from msgspec import Struct
from msgspec.structs import replace

from analyser.core.aircraft import FlightContext
from analyser.core.findings import Finding
from analyser.core.levels import Limit
from analyser.core.quality import screen_again
from analyser.programme.limits import crossings
from analyser.season.brief import brief_result
from spooldown.logbook.book import damaged
from spooldown.logbook.codec import to_bytes
from spooldown.logbook.flight import DamagedFile, Flight
from spooldown.processes.workers import Done, WorkerEnded
from spooldown.work import kept


class Failure(Struct, frozen=True):
    """A flight that could not be worked out, and why."""

    flight: Flight
    why: Finding


class Work(Struct, frozen=True):
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


class Worked(Struct, frozen=True):
    """What a flight came to by itself, as it is kept: its result and its brief; nothing where they were kept."""

    result: bytes
    brief: bytes


Run = Callable[[Callable[[Work], "Worked | None"], Sequence[Work]], Iterator[Done[Work, "Worked | None"]]]
"""What spreads the work of many flights; its processes need not have this machine's disk."""


def analyse(work: Work) -> Worked | None:
    """Work one flight out; None where what comes of it was kept.

    Raises
    ------
    OSError, DamagedFile
        If its telemetry does not read, or is not what was stored.
    """
    from analyser.flight import analyse_flight
    from spooldown.logbook.store import read_telemetry

    telemetry = read_telemetry(work.place, work.sha256)
    result = analyse_flight(telemetry, work.context)
    if work.limits:
        screened = screen_again(telemetry, result.suspects)
        result = replace(result, passed=crossings(screened, result.phases, work.limits))
    worked = Worked(to_bytes(result), to_bytes(brief_result(result)))
    return None if work.keep is not None and keep(*work.keep, work.flight.flight_id, worked) else worked


def keep(folder: Path, key: str, flight_id: str, worked: Worked) -> bool:
    """Keep a flight's own result where that is possible, and its brief: what it shows where others teach it nothing."""
    kept.keep(folder, flight_id + kept.BRIEF, key, worked.brief)
    return kept.keep(folder, flight_id, key, worked.result)


def why_not(flight: Flight, error: Exception | None) -> Finding:
    """Say what stopped a flight's analysis."""
    if isinstance(error, WorkerEnded):
        return Finding("work.memory", {"flight": flight.flight_id, "why": Finding("work.ended")})
    if isinstance(error, OSError | DamagedFile):
        return damaged(flight, error)
    fault = f"{type(error).__name__}: {error}"
    return Finding("work.fault", {"flight": flight.flight_id, "fault": fault, "log": flight.source})
