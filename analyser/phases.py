"""Start, idle, taxi, take-off, flight, landing, cool-down: the flight cut into phases from whatever channels exist."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from analyser.figures import Missing
from analyser.telemetry import Telemetry


class PhaseName(StrEnum):
    """The phases, in the order a flight has them."""

    BEFORE_START = "before start"
    START = "start"
    IDLE = "idle"
    TAXI = "taxi"
    TAKE_OFF = "take-off"
    FLIGHT = "flight"
    LANDING = "landing"
    COOL_DOWN = "cool-down"
    AFTER = "after shutdown"


@dataclass(frozen=True, slots=True)
class Phase:
    """One span of one phase; spans cover the whole log without overlap."""

    name: PhaseName
    start_s: float
    end_s: float

    @property
    def duration_s(self) -> float:
        """Length, s."""
        return self.end_s - self.start_s


@dataclass(frozen=True, slots=True)
class Phases:
    """All phases of a flight, and from which channels they were told.

    ``take_off_s`` and ``touch_down_s`` are the first lift-off and the last touch-down, ``None`` where never airborne
    or not to be told. ``airborne_s`` is the total time off the ground.
    """

    phases: tuple[Phase, ...]
    take_off_s: float | None
    touch_down_s: float | None
    airborne_s: float
    told_by: tuple[str, ...]
    missing: tuple[Missing, ...] = ()

    def spans(self, *names: PhaseName) -> tuple[tuple[float, float], ...]:
        """Spans (start_s, end_s) of the named phases."""
        return tuple((p.start_s, p.end_s) for p in self.phases if p.name in names)


def find_phases(telemetry: Telemetry) -> Phases:
    """Cut a flight into phases from shaft speed, exhaust temperature, ground speed, height and airspeed."""
    raise NotImplementedError
