"""Fuel volumes as mass, and where burning it moves the balance."""

from __future__ import annotations

from collections.abc import Mapping

from analyser.core.aircraft import Aircraft, Fuel
from analyser.core.figures import Figure, Method, total
from analyser.core.findings import Text, say
from analyser.fuel.codes import FuelCode
from analyser.fuel.density import density_figure


def as_mass(label: Text, volume: Figure, fuel: Fuel | None, air_temperature_c: float | None) -> Figure:
    """A volume (or a volume per minute) as grams, at air temperature or, where that was not noted, at 15 °C."""
    unit = volume.unit.replace("mL", "g")
    if volume.value is None or fuel is None:
        return Figure.unavailable(label, unit, volume.missing or say(FuelCode.NOT_DESCRIBED))
    density = density_figure(fuel, air_temperature_c)
    how = say(
        FuelCode.AS_MASS, how=volume.how, density=density, noted=air_temperature_c is not None,
        assumed=fuel.density_is_assumed,
    )  # fmt: skip
    return volume.times(density, label, unit, how=how, digits=1)


def burned_mass(volume: Figure, fuel: Fuel | None, air_temperature_c: float | None) -> Figure:
    """The whole burn in kilograms."""
    label = say(FuelCode.BURNED_ALL_MASS)
    grams = as_mass(label, volume, fuel, air_temperature_c)
    return grams.times(1e-3, label, "kg", how=grams.how, digits=2)


def balance_shift(burned: Mapping[str, Figure], aircraft: Aircraft | None, air_temperature_c: float | None) -> Figure:
    """How far the fuel burned from each tank moved the balance point, mm, aft positive."""
    label = say(FuelCode.BALANCE_SHIFT)
    if aircraft is None or not aircraft.mass_kg:
        return Figure.unavailable(label, "mm", say(FuelCode.NO_MASS))
    density = density_figure(aircraft.fuel, air_temperature_c)
    kg_per_ml = (density.value or 0.0) / 1000.0
    moments, masses = [], []
    for name, volume in burned.items():
        described = aircraft.tank(name)
        if described is None or described.x_m is None or volume.value is None:
            return Figure.unavailable(label, "mm", say(FuelCode.NO_POSITION, tank=name))
        mass = volume.times(kg_per_ml, volume.label, "kg")
        masses.append(mass)
        moments.append(mass.times(1000.0 * described.x_m, label, "kg mm"))
    if not masses or not (lost := total(label, masses).value or 0.0):
        return Figure.unavailable(label, "mm", say(FuelCode.NOTHING_BURNED))
    if lost >= aircraft.mass_kg:
        return Figure.unavailable(label, "mm", say(FuelCode.MASS_TOO_SMALL))
    # x is measured forward from the balance point at mass_kg: burning fuel ahead of it moves the balance aft.
    # All masses share the density's error, so it is laid on their sum.
    known = density.times(1.0 / (density.value or 1.0), density.label, "")
    shift = (
        total(label, moments).times(1.0 / (aircraft.mass_kg - lost), label, "mm", digits=1).times(known, label, "mm")
    )
    return Figure(
        label, shift.value, "mm", Method.ESTIMATED, low=shift.low, high=shift.high, how=say(FuelCode.BURNED_MASS_AT)
    ).with_doubt(*shift.doubts)
