"""One flight as it is kept, read back in a process that knows nothing else of the logbook."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from msgspec import Struct

from analyser.core.aircraft import FlightContext
from analyser.core.levels import Limits
from analyser.core.quality import screen_again
from analyser.core.telemetry import Telemetry
from analyser.flight import FlightResult
from analyser.programme.marks import Mark
from analyser.record import FlightRecord
from analyser.season.teaching import taken_over
from spooldown.logbook.flight import Flight
from spooldown.logbook.store import read_telemetry
from spooldown.work import kept
from spooldown.work.prepared import judged


class NotKept(LookupError):
    """What is asked for is not kept, or does not read: only the process that knows the whole logbook can make it."""


class KeptFlight(Struct, frozen=True):
    """Where one flight's telemetry, result and brief are, under which keys, and what is laid on the result."""

    cache: Path
    telemetry_place: Path | str
    flight: Flight
    number: int
    context: FlightContext
    result: str
    key: str
    limits: Limits | None
    marks: tuple[Mark, ...]

    def record(self) -> FlightRecord:
        """The flight with everything its page shows.

        Raises
        ------
        NotKept
        """
        return judged(taken_over(self.alone(), self.brief()), "", self.limits, self.marks)[0]

    def alone(self) -> FlightRecord:
        """The flight's own result, before others taught it anything.

        Raises
        ------
        NotKept
        """
        return self._read(_kept(self.cache, self.flight.flight_id, self.result))

    def brief(self) -> FlightRecord:
        """The flight without what only its own page shows.

        Raises
        ------
        NotKept
        """
        return self._read(_brief(self.cache, self.flight.flight_id, self.key))

    def telemetry(self) -> Telemetry:
        """The screened telemetry.

        Raises
        ------
        OSError, DamagedFile
            If it cannot be read.
        NotKept
        """
        stored = read_telemetry(self.telemetry_place, self.flight.telemetry_sha256)
        return screen_again(stored, self.alone().result.suspects)

    def _read(self, found: FlightResult | None) -> FlightRecord:
        flight_id = self.flight.flight_id
        if found is None:
            raise NotKept(flight_id)
        return FlightRecord(flight_id, self.number, self.flight.utc_start, self.context, found)


@lru_cache(1)
def _kept(folder: Path, name: str, key: str) -> FlightResult | None:
    """One flight's page asks for its result twice."""
    return kept.load(folder, name, key, FlightResult)


@lru_cache(1)
def _brief(folder: Path, name: str, key: str) -> FlightResult | None:
    return kept.load(folder, name + kept.BRIEF, key, FlightResult)
