"""Antenna layouts of one aircraft: the planned maps, the measured maps, and whether moving an antenna helped."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from analyser.aircraft import Aircraft
from analyser.antenna import AntennaMap
from analyser.figures import Figure
from analyser.record import FlightRecord


@dataclass(frozen=True, slots=True)
class LayoutMaps:
    """Planned and measured maps of one layout, antenna by antenna."""

    layout: str
    flight_ids: tuple[str, ...]
    measured: tuple[AntennaMap, ...]
    planned: tuple[AntennaMap, ...]
    planned_best: AntennaMap | None
    coverage_sentence: str


@dataclass(frozen=True, slots=True)
class LayoutComparison:
    """Did moving it help: one antenna under two layouts, at equal direction and range, resampled by flight."""

    antenna: str
    before: str
    after: str
    difference_db: Figure
    difference_lost_per_min: Figure
    sectors: tuple[Figure, ...]
    verdict: str


@dataclass(frozen=True, slots=True)
class LayoutsResult:
    """All layouts of one aircraft."""

    layouts: tuple[LayoutMaps, ...]
    comparisons: tuple[LayoutComparison, ...]


def analyse_layouts(flights: Sequence[FlightRecord], aircraft: Aircraft) -> LayoutsResult:
    """Map every layout of one aircraft over its flights and compare successive ones."""
    raise NotImplementedError
