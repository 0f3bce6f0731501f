"""Turbines: starts, running, flame-outs and cool-downs, hours and starts since service."""

from __future__ import annotations

from dataclasses import dataclass

from analyser.aircraft import FlightContext
from analyser.events import Event
from analyser.figures import Figure, Missing
from analyser.phases import Phases
from analyser.telemetry import Telemetry


@dataclass(frozen=True, slots=True)
class Start:
    """One start attempt of one engine."""

    start_s: float
    succeeded: bool
    duration_s: Figure
    peak_egt_c: Figure
    hot: bool


@dataclass(frozen=True, slots=True)
class EngineResult:
    """One engine over one flight."""

    name: str
    starts: tuple[Start, ...]
    run_min: Figure
    idle_rpm: Figure
    idle_spread_rpm: Figure
    max_rpm: Figure
    max_rpm_spread_rpm: Figure
    max_egt_c: Figure
    cool_down_s: Figure
    mah_per_start: Figure
    events: tuple[Event, ...]


@dataclass(frozen=True, slots=True)
class TurbineResult:
    """All engines of one flight."""

    engines: tuple[EngineResult, ...]
    missing: tuple[Missing, ...]


def analyse_turbines(telemetry: Telemetry, phases: Phases, context: FlightContext) -> TurbineResult:
    """Work out one flight's engine story."""
    raise NotImplementedError
