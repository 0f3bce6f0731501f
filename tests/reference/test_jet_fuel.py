"""Volume correction against the printed table of ASTM D1250 / API MPMS 11.1, Table 54B."""

from __future__ import annotations

import pytest

from analyser.core.aircraft import Fuel
from analyser.fuel.density import density_kg_m3, mixture_kg_per_l, volume_correction

CHECKS = ("fuel.mass", "fuel.tanks.burn.mass_rate")


@pytest.mark.parametrize(("temperature_c", "printed"), [(-40.0, 1.0502), (-30.0, 1.0412), (-20.0, 1.0322)])
def test_volume_correction_matches_the_printed_table(temperature_c: float, printed: float) -> None:
    """All grades of Jet A/A-1 at 800 kg/m³ (Table 54B, January 2016), to the last printed digit."""
    assert round(volume_correction(temperature_c, 800.0), 4) == printed


def test_correction_is_one_at_the_base_temperature() -> None:
    assert volume_correction(15.0, 812.0) == 1.0


def test_warm_fuel_is_lighter_by_about_the_textbook_share() -> None:
    """Thermal expansion of kerosene is about 0.093 % a kelvin at 800 kg/m³ (K0 / ρ²)."""
    assert density_kg_m3(25.0) / density_kg_m3(15.0) == pytest.approx(1 - 10 * 594.5418 / 800.0**2, abs=1e-4)


def test_oil_share_weighs_in_by_volume() -> None:
    fuel = Fuel(density_15c_kg_m3=800.0, oil_percent=5.0, oil_density_kg_m3=900.0)
    assert mixture_kg_per_l(fuel, 15.0) == pytest.approx(0.95 * 0.8 + 0.05 * 0.9)
