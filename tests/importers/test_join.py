"""Logs of one flight, joined on one clock."""

import numpy as np
import pyarrow as pa
import pytest

from analyser.core.telemetry import Telemetry
from importers.join import join, offset


def log(start, stop, step, channel, scale):
    t = np.arange(start, stop, step)
    rng = np.random.default_rng(4)
    knots = np.cumsum(rng.normal(0, 10, 200))
    value = np.interp(t, np.arange(200) * 3.0, knots)
    return Telemetry(pa.table({"time_s": t - t[0], channel: value * scale + 50}))


def test_offset_of_linked_channels_is_found():
    radio = log(0, 400, 0.1, "control.throttle_percent", 0.2)
    engine = log(37.3, 380, 0.2, "engine.left.speed_rpm", 500.0)
    found = offset(radio, engine)
    assert found is not None
    assert found.seconds == pytest.approx(37.3, abs=0.05)
    assert found.confidence > 0.3
    whole = join(radio, [(engine, found)])
    assert whole.has("control.throttle_percent", "engine.left.speed_rpm")
    assert whole.series("engine.left.speed_rpm").time_s.size == engine.time_s.size


def test_an_entered_offset_overrules_and_nothing_in_common_gives_none():
    radio = log(0, 100, 0.1, "control.throttle_percent", 1)
    assert offset(radio, radio, entered_s=2.5).seconds == 2.5
    assert offset(radio, log(0, 100, 0.1, "pack.rx.voltage_v", 1)) is None
