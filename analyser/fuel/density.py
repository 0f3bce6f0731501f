"""Jet fuel volume, density and mass against temperature.

ASTM D1250-80 / API MPMS chapter 11.1, Table 54B, jet and kerosene group (787.5 to 838.5 kg/m³ at 15 °C):
``VCF = exp(−α Δt (1 + 0.8 α Δt))``, ``Δt = t − 15 °C``, ``α = K0 / ρ15² + K1 / ρ15``, K0 = 594.5418, K1 = 0.
"""

from __future__ import annotations

import math

from analyser.core.aircraft import Fuel
from analyser.core.figures import Figure, Method
from analyser.core.findings import say
from analyser.fuel.codes import FuelCode

K0 = 594.5418
K1 = 0.0
BASE_C = 15.0


def volume_correction(temperature_c: float, density_15c_kg_m3: float = 800.0) -> float:
    """Volume at 15 °C for one unit of volume at ``temperature_c`` (VCF, dimensionless)."""
    alpha = K0 / density_15c_kg_m3**2 + K1 / density_15c_kg_m3
    dt = temperature_c - BASE_C
    return math.exp(-alpha * dt * (1.0 + 0.8 * alpha * dt))


def density_kg_m3(temperature_c: float, density_15c_kg_m3: float = 800.0) -> float:
    """Density at ``temperature_c``, kg/m³: the same mass in the volume VCF says."""
    return density_15c_kg_m3 * volume_correction(temperature_c, density_15c_kg_m3)


ASSUMED_HALF = 0.04
"""Half width, relative, of a density nobody stated: Jet A and A-1 lie within 775 to 840 kg/m³ (ASTM D1655, table 1)."""
TEMPERATURE_HALF_C = 15.0
"""How far from 15 °C fuel may be where no air temperature was noted (common practice, no source)."""


def density_figure(fuel: Fuel, air_temperature_c: float | None) -> Figure:
    """Kilograms in a litre, at air temperature or, where that was not noted, at 15 °C, with what is not known of it.

    Examples
    --------
    >>> density_figure(Fuel(density_15c_kg_m3=800.0, density_is_assumed=False), 15.0)
    Figure(fuel.density: 0.800 kg/L)
    """
    at = BASE_C if air_temperature_c is None else air_temperature_c
    value = mixture_kg_per_l(fuel, at)
    label = say(FuelCode.DENSITY)
    stated = ASSUMED_HALF * value if fuel.density_is_assumed else 0.0
    warm = 0.0 if air_temperature_c is not None else mixture_kg_per_l(fuel, BASE_C - TEMPERATURE_HALF_C) - value
    if not stated and not warm:
        return Figure(label, value, "kg/L", Method.ENTERED, digits=3)
    return Figure.within(label, value, math.hypot(stated, warm), "kg/L", digits=3)


def mixture_kg_per_l(fuel: Fuel, temperature_c: float) -> float:
    """Kilograms in a litre of what is in the tank: jet fuel with the oil share the owner stated (by volume)."""
    share = fuel.oil_percent / 100.0
    jet = density_kg_m3(temperature_c, fuel.density_15c_kg_m3)
    return ((1.0 - share) * jet + share * fuel.oil_density_kg_m3) / 1000.0
