"""Jet fuel volume, density and mass against temperature.

ASTM D1250-80 / API MPMS chapter 11.1, Table 54B, jet and kerosene group (787.5 to 838.5 kg/m³ at 15 °C):
``VCF = exp(−α Δt (1 + 0.8 α Δt))``, ``Δt = t − 15 °C``, ``α = K0 / ρ15² + K1 / ρ15``, K0 = 594.5418, K1 = 0.
"""

from __future__ import annotations

import math

from analyser.core.aircraft import Fuel

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


def mixture_kg_per_l(fuel: Fuel, temperature_c: float) -> float:
    """Kilograms in a litre of what is in the tank: jet fuel with the oil share the owner stated (by volume)."""
    share = fuel.oil_percent / 100.0
    jet = density_kg_m3(temperature_c, fuel.density_15c_kg_m3)
    return ((1.0 - share) * jet + share * fuel.oil_density_kg_m3) / 1000.0
