"""Fuel of one flight over all its tanks: what was burned, how fast, which side more, and what happened.

Each subject has a module of its own: sources of burn (``fuel_sources``), the smoothed burn (``fuel_burn``), one tank
(``fuel_tank``), what was left (``fuel_left``), phases and power bands (``fuel_shares``), two tanks side by side
(``fuel_sides``), mass and balance (``fuel_mass``).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analyser.core.aircraft import FlightContext, Tank
from analyser.core.events import Event
from analyser.core.figures import Figure, Missing
from analyser.core.phases import Phases
from analyser.core.tables import Tabular
from analyser.core.telemetry import Telemetry
from analyser.fuel.balance import first_dry, imbalance, swapped
from analyser.fuel.mass import balance_shift, burned_mass
from analyser.fuel.sources import tanks_of
from analyser.fuel.tank import TankResult, analyse_tank


@dataclass(frozen=True, slots=True, repr=False)
class FuelResult(Tabular):
    """Fuel of one flight. ``imbalance_percent`` is the first tank over the second, as a share of their mean."""

    tanks: tuple[TankResult, ...]
    burned_ml: Figure
    burned_kg: Figure
    airborne_rate_ml_per_min: Figure
    imbalance_percent: Figure
    imbalance_sentence: str
    first_dry_min: Figure
    balance_shift_mm: Figure
    events: tuple[Event, ...]
    missing: tuple[Missing, ...]


def analyse_fuel(telemetry: Telemetry, phases: Phases, context: FlightContext) -> FuelResult:
    """Work out one flight's fuel.

    Parameters
    ----------
    telemetry : Telemetry
        Screened.
    phases : Phases
        Of the same telemetry.
    context : FlightContext
        Tanks (capacity, unusable, reserve), volumes noted before and afterwards, air temperature, fuel density, and
        the burn curves that other flights taught.

    Returns
    -------
    FuelResult
        A tank for every ``fuel.*`` instance and every tank that the owner described, or other flights logged, of which
        the log can say anything.
    """
    aircraft = context.aircraft
    described = tanks_of(telemetry.channels, aircraft)
    described += [Tank(n) for n in context.learned_burn if n not in {t.name for t in described}]
    found = [analyse_tank(t, telemetry, phases, context) for t in described]
    tanks = [f.result for f in found if f.result]
    missing = [m for f in found for m in f.missing]
    if not described:
        cost = "burn, remaining fuel and imbalance"
        missing.append(Missing("fuel", "any fuel channel", cost, "log tank contents, fuel flow, or pump drive"))
    crossed = swapped(telemetry, tanks)
    tanks = [t.doubted(*(e.summary for e in crossed)) for t in tanks]
    uneven, sentence = imbalance(tanks)
    best = {t.name: t.best_burned_ml for t in tanks}
    fuel, temperature_c = aircraft.fuel if aircraft else None, context.air_temperature_c
    return FuelResult(
        tanks=tuple(tanks),
        burned_ml=_sum("Burned, all tanks", [t.burned_ml for t in tanks], "mL"),
        burned_kg=burned_mass(_sum("Burned, all tanks", list(best.values()), "mL"), fuel, temperature_c),
        airborne_rate_ml_per_min=_sum(
            "Burn in flight, all tanks", [t.airborne_rate_ml_per_min for t in tanks], "mL/min"
        ),
        imbalance_percent=uneven,
        imbalance_sentence=sentence,
        first_dry_min=first_dry(tanks),
        balance_shift_mm=balance_shift(best, aircraft, temperature_c),
        events=(*(e for f in found for e in f.events), *crossed),
        missing=tuple(missing),
    )


def _sum(label: str, parts: list[Figure], unit: str) -> Figure:
    if not parts:
        return Figure.unavailable(label, unit, "no fuel in this log")
    if lacking := next((p.missing for p in parts if p.value is None), ""):
        return Figure.unavailable(label, unit, lacking)
    value = sum(p.value for p in parts if p.value is not None)
    half = float(np.sqrt(sum(p.half_width**2 for p in parts)))
    how = parts[0].how if len(parts) == 1 else "sum over tanks"
    digits = max(p.digits for p in parts)
    total = Figure(label, value, unit, parts[0].method, value - half, value + half, how=how, digits=digits)
    return total.with_doubt(*(d for p in parts for d in p.doubts))
