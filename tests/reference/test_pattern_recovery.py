"""The pattern of a simulated installation recovered from simulated flights: bias and coverage over the bins.

Source: the simulation's own truth (tests/analyser/link_flights.py: scipy rotations, known gain, correlated fading).
"""

from __future__ import annotations

import numpy as np
import pytest

from analyser.core.phases import find_phases
from analyser.link.analysis import analyse_link
from analyser.link.measured import measured_map
from analyser.link.sphere import bin_centres
from tests.analyser.link_flights import aircraft, context, fly

CHECKS = ("season.layouts.measured",)

TERN, OLD, _ = aircraft()


def smooth(azimuth_deg: np.ndarray, elevation_deg: np.ndarray) -> np.ndarray:
    """A gain that changes slowly over the sphere: 5 dB weaker astern than ahead."""
    return 2.5 * np.cos(np.radians(azimuth_deg)) * np.cos(np.radians(elevation_deg))


@pytest.mark.parametrize(("attitude", "rms_db"), [(True, 0.8), (False, 1.0)])
def test_recovered(attitude: bool, rms_db: float) -> None:
    bins = []
    for seed in range(8):
        sim = fly({"rx1.antenna1": smooth}, seed=200 + seed, attitude=attitude, day_db=0.0)
        result = analyse_link(sim.telemetry, find_phases(sim.telemetry), context(OLD, TERN))
        found = result.receivers[0].antennas[0].bins
        assert found is not None
        bins.append(found)
    made = measured_map("rx1.antenna1", "first", bins, reference_db=10.0)
    assert made is not None
    seen = np.isfinite(made.gain_db) & (made.count > 200)
    truth = smooth(*bin_centres())
    error = (made.gain_db - truth)[seen]
    assert seen.sum() > 30
    assert abs(float(error.mean())) < 0.4
    assert float(np.sqrt((error**2).mean())) < rms_db
    inside = (made.low_db <= truth) & (truth <= made.high_db)
    assert float(inside[seen].mean()) > 0.9
