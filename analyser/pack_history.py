"""One pack over its cycles: capacity, resistance, cell spread, sag, and when its owner's rule retires it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from analyser.aircraft import Pack
from analyser.events import Level
from analyser.figures import Figure
from analyser.record import FlightRecord


@dataclass(frozen=True, slots=True)
class PackHistory:
    """One pack over the flights it was fitted in, oldest first; tuples run parallel to ``flight_ids``."""

    pack: Pack
    flight_ids: tuple[str, ...]
    cycles: Figure
    capacities_mah: tuple[Figure, ...]
    resistances_mohm: tuple[Figure, ...]
    cell_spreads_v: tuple[Figure, ...]
    sags_v: tuple[Figure, ...]
    capacity_now_percent: Figure
    resistance_ratio: Figure
    capacity_trend: Figure
    resistance_trend: Figure
    spread_trend: Figure
    flights_to_retirement: Figure
    level: Level
    reasons: tuple[str, ...]
    sentence: str


def pack_histories(flights: Sequence[FlightRecord]) -> tuple[PackHistory, ...]:
    """Follow every pack over the flights it was fitted in; the one that needs attention most comes first."""
    raise NotImplementedError
