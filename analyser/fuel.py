"""Fuel: what was burned, how fast, from which tank, and what was left against the reserve."""

from __future__ import annotations

from dataclasses import dataclass

from analyser.aircraft import FlightContext
from analyser.events import Event
from analyser.figures import Figure, Missing, Trace
from analyser.phases import Phases
from analyser.telemetry import Telemetry


@dataclass(frozen=True, slots=True)
class PhaseBurn:
    """Burn of one tank in one phase (or one throttle or speed band)."""

    name: str
    minutes: Figure
    burned_ml: Figure
    rate_ml_per_min: Figure


@dataclass(frozen=True, slots=True)
class TankResult:
    """One tank over one flight. ``name`` is the tank's instance in the log."""

    name: str
    engine: str
    burned_ml: Figure
    burned_corrected_ml: Figure
    put_in_ml: Figure
    airborne_rate_ml_per_min: Figure
    left_at_landing_ml: Figure
    reserve_ml: Figure
    margin_ml: Figure
    phases: tuple[PhaseBurn, ...]
    bands: tuple[PhaseBurn, ...]
    burn_rate: Trace | None
    remaining: Trace | None


@dataclass(frozen=True, slots=True)
class FuelResult:
    """Fuel of one flight."""

    tanks: tuple[TankResult, ...]
    burned_ml: Figure
    burned_kg: Figure
    airborne_rate_ml_per_min: Figure
    imbalance_percent: Figure
    first_dry_s: Figure
    events: tuple[Event, ...]
    missing: tuple[Missing, ...]


def analyse_fuel(telemetry: Telemetry, phases: Phases, context: FlightContext) -> FuelResult:
    """Work out one flight's fuel."""
    raise NotImplementedError
