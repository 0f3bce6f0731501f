"""Derived directions against the simulated truth; what can't be derived is left out and counted."""

from __future__ import annotations

import numpy as np
import pyarrow as pa
import pytest

from analyser.antenna import unit_vector
from analyser.geometry import DERIVED_UNCERTAINTY_DEG, locate
from analyser.phases import find_phases
from analyser.telemetry import Telemetry
from tests.analyser.link_flights import aircraft, context, fly, level

TERN, OLD, _ = aircraft()


@pytest.mark.parametrize(("attitude", "rate_hz", "bound"), [(True, 10.0, 2.0), (False, 10.0, 8.0), (False, 2.0, 18.0)])
def test_directions(attitude: bool, rate_hz: float, bound: float) -> None:
    sim = fly({"rx1.antenna1": level}, seed=8, attitude=attitude, rate_hz=rate_hz)
    found = locate(sim.telemetry, find_phases(sim.telemetry), context(OLD, TERN))
    assert found is not None
    t = sim.telemetry.time_s
    seen = found.seen_at(t)
    air = (t > 30) & (t < t[-1] - 5) & np.isfinite(seen.body_azimuth_deg)
    assert air.sum() > 0.75 * ((t > 30) & (t < t[-1] - 5)).sum()
    told = unit_vector(seen.body_azimuth_deg[air], seen.body_elevation_deg[air])
    true = unit_vector(sim.azimuth_deg[air], sim.elevation_deg[air])
    angle = np.degrees(np.arccos(np.clip((told * true).sum(axis=1), -1, 1)))
    assert np.quantile(angle, 0.68) < bound <= DERIVED_UNCERTAINTY_DEG
    assert seen.range_m[air] == pytest.approx(sim.range_m[air], abs=1.0)


def test_rolls_told_by_the_stick_are_left_out_and_counted() -> None:
    sim = fly({"rx1.antenna1": level}, seed=8, attitude=False)
    t = sim.telemetry.time_s
    stick = np.where((t > 100) & (t < 110), 90.0, 0.0)
    telemetry = Telemetry(sim.telemetry.table.append_column("control.aileron_percent", pa.array(stick)))
    found = locate(telemetry, find_phases(telemetry), context(OLD, TERN))
    assert found is not None
    assert found.left_out["rolls"] == pytest.approx(12.0, abs=1.0)
    seen = found.seen_at(t)
    assert np.isnan(seen.body_azimuth_deg[(t > 100) & (t < 110)]).all()
    assert np.isfinite(seen.range_m[(t > 100) & (t < 110)]).all()


def test_no_position_no_geometry() -> None:
    telemetry = Telemetry(pa.table({"time_s": np.arange(5.0)}))
    assert locate(telemetry, find_phases(telemetry), context(OLD, TERN)) is None
