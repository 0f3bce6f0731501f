"""Sensor truth: stuck, spiking, impossible, reset and saturated values, flagged and kept out of the analysis."""

from __future__ import annotations

from analyser.telemetry import Telemetry


def screen(telemetry: Telemetry) -> Telemetry:
    """Flag samples that are not to be believed; raw values stay in the table."""
    raise NotImplementedError
