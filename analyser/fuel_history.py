"""Fuel over many flights of one aircraft: sensor correction, burn trend, imbalance, how long next time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from analyser.figures import Figure, FloatArray
from analyser.record import FlightRecord


@dataclass(frozen=True, slots=True, eq=False)
class TimerCurve:
    """Flight time against the odds of keeping the reserve, from this aircraft's own flights.

    ``minutes`` and ``odds`` have shape (n,); odds are probabilities 0 … 1. ``advised_min`` is the longest time that
    keeps the reserve at ``advised_min.confidence``.
    """

    minutes: FloatArray
    odds: FloatArray
    advised_min: Figure
    flights: int
    sentence: str


@dataclass(frozen=True, slots=True)
class TankHistory:
    """One tank over flights: correction factor of its sensor and burn trend."""

    name: str
    correction: Figure
    flight_ids: tuple[str, ...]
    rates: tuple[Figure, ...]
    rate_trend: Figure
    sentence: str


@dataclass(frozen=True, slots=True)
class FuelHistory:
    """Fuel of one aircraft over its flights."""

    tanks: tuple[TankHistory, ...]
    imbalance: tuple[Figure, ...]
    imbalance_trend: Figure
    imbalance_sentence: str
    timer: TimerCurve | None
    timer_missing: str


def fuel_history(flights: Sequence[FlightRecord]) -> FuelHistory:
    """Follow one aircraft's fuel over its flights, oldest first."""
    raise NotImplementedError
