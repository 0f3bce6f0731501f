"""Fuel of one flight: what was burned, how fast, and what was left. Start at :func:`analyse_fuel`."""

from analyser.fuel.analysis import FuelResult, analyse_fuel
from analyser.fuel.tank import TankResult

__all__ = ["FuelResult", "TankResult", "analyse_fuel"]
