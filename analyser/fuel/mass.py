"""Fuel volumes as mass, and where burning it moves the balance."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from analyser.core.aircraft import Aircraft, Fuel
from analyser.core.figures import Figure, Method
from analyser.fuel.density import BASE_C, mixture_kg_per_l


def as_mass(label: str, volume: Figure, fuel: Fuel | None, air_temperature_c: float | None) -> Figure:
    """A volume (or a volume per minute) as grams, at air temperature or, where that was not noted, at 15 °C."""
    unit = volume.unit.replace("mL", "g")
    if volume.value is None or fuel is None:
        return Figure.unavailable(label, unit, volume.missing or "the aircraft (and its fuel) is not described")
    density = mixture_kg_per_l(fuel, BASE_C if air_temperature_c is None else air_temperature_c)
    at = "at an assumed 15 °C" if air_temperature_c is None else "at air temperature"
    how = f"{volume.how}; {density:.3f} kg/L, fuel {at}" + (", density assumed" if fuel.density_is_assumed else "")
    return _scaled(replace(volume, label=label, unit=unit, how=how, digits=1), density)


def burned_mass(volume: Figure, fuel: Fuel | None, air_temperature_c: float | None) -> Figure:
    """The whole burn in kilograms."""
    grams = as_mass("Burned, all tanks, as mass", volume, fuel, air_temperature_c)
    return replace(_scaled(grams, 1e-3), unit="kg", digits=2)


def _scaled(figure: Figure, by: float) -> Figure:
    value, low, high = (None if v is None else v * by for v in (figure.value, figure.low, figure.high))
    return replace(figure, value=value, low=low, high=high)


def balance_shift(
    burned_ml: Mapping[str, Figure], aircraft: Aircraft | None, air_temperature_c: float | None
) -> Figure:
    """How far the fuel burned from each tank moved the balance point, mm, aft positive."""
    label = "Balance moved by burned fuel (aft is positive)"
    if aircraft is None or not aircraft.mass_kg:
        return Figure.unavailable(label, "mm", "the aircraft's mass is not stated (mass_kg)")
    kg_per_l = mixture_kg_per_l(aircraft.fuel, BASE_C if air_temperature_c is None else air_temperature_c)
    moment, burned, spread = 0.0, 0.0, 0.0
    for name, best in burned_ml.items():
        described = aircraft.tank(name)
        if described is None or described.x_m is None or best.value is None:
            return Figure.unavailable(label, "mm", f"tank {name} has no position (x_m) or no burned volume")
        mass = best.value / 1000.0 * kg_per_l
        moment += mass * described.x_m
        burned += mass
        spread = float(np.hypot(spread, best.half_width / 1000.0 * kg_per_l * described.x_m))
    if not burned:
        return Figure.unavailable(label, "mm", "nothing was burned")
    if burned >= aircraft.mass_kg:
        return Figure.unavailable(label, "mm", "the stated mass (mass_kg) is less than that of the burned fuel")
    # x is measured forward from the balance point at mass_kg: burning fuel ahead of it moves the balance aft.
    shift, half = (1000.0 * m / (aircraft.mass_kg - burned) for m in (moment, spread))
    how = "burned mass at the tanks' x_m, measured from the balance point with full tanks; x_m taken as exact"
    return Figure(label, shift, "mm", Method.ESTIMATED, shift - half, shift + half, how=how)
