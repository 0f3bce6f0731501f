"""Turbines of one flight: starts, running time, temperatures, cool-down. Start at :func:`analyse_turbines`."""

from analyser.engines.analysis import TurbineResult, analyse_turbines

__all__ = ["TurbineResult", "analyse_turbines"]
