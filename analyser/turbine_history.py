"""One engine over many flights: hours and starts since service, start and running trends."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from analyser.figures import Figure
from analyser.record import FlightRecord


@dataclass(frozen=True, slots=True)
class EngineHistory:
    """One engine over its flights."""

    name: str
    hours_since_service: Figure
    hours_to_service: Figure
    starts_since_service: Figure
    flight_ids: tuple[str, ...]
    start_durations: tuple[Figure, ...]
    start_peaks: tuple[Figure, ...]
    sentence: str


def turbine_history(flights: Sequence[FlightRecord]) -> tuple[EngineHistory, ...]:
    """Follow one aircraft's engines over its flights, oldest first."""
    raise NotImplementedError
