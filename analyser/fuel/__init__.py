"""Fuel of one flight: what was burned, how fast, and what was left. Start at :func:`analyse_fuel`."""

from analyser.fuel.analysis import FuelResult, analyse_fuel, set_scales
from analyser.fuel.scale import ScaleBasis, SensorScale
from analyser.fuel.tank import TankResult

__all__ = ["FuelResult", "ScaleBasis", "SensorScale", "TankResult", "analyse_fuel", "set_scales"]
