"""Derived directions against the simulated truth; what can't be derived is left out and counted."""

from __future__ import annotations

import numpy as np
import pyarrow as pa
import pytest

from analyser.core.codes import CoreCode
from analyser.core.geometry import DERIVED_UNCERTAINTY_DEG, LOGGED_UNCERTAINTY_DEG, Geometry, locate
from analyser.core.phases import find_phases
from analyser.core.telemetry import Telemetry
from analyser.link.sphere import unit_vector
from reports.words.catalogue import text
from tests.analyser.link_flights import Sim, aircraft, context, fly, level

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
    assert found.left_out[CoreCode.ROLLS] == pytest.approx(12.0, abs=1.0)
    seen = found.seen_at(t)
    assert np.isnan(seen.body_azimuth_deg[(t > 100) & (t < 110)]).all()
    assert np.isfinite(seen.range_m[(t > 100) & (t < 110)]).all()


def test_no_position_no_geometry() -> None:
    telemetry = Telemetry(pa.table({"time_s": np.arange(5.0)}))
    assert locate(telemetry, find_phases(telemetry), context(OLD, TERN)) is None


def _off_deg(telemetry: Telemetry, sim: Sim) -> tuple[float, Geometry]:
    found = locate(telemetry, find_phases(telemetry), context(OLD, TERN))
    assert found is not None
    t = telemetry.time_s
    seen = found.seen_at(t)
    air = (t > 30) & (t < t[-1] - 5) & np.isfinite(seen.body_azimuth_deg)
    told = unit_vector(seen.body_azimuth_deg[air], seen.body_elevation_deg[air])
    true = unit_vector(sim.azimuth_deg[air], sim.elevation_deg[air])
    return float(np.quantile(np.degrees(np.arccos(np.clip((told * true).sum(axis=1), -1, 1))), 0.68)), found


def test_a_logged_heading_takes_the_crab_out() -> None:
    full = fly({"rx1.antenna1": level}, seed=8, crab_deg=14.0)
    kept = full.telemetry.table.drop_columns(["attitude.roll_deg", "attitude.pitch_deg"])
    with_heading, found = _off_deg(Telemetry(kept), full)
    by_track, bare = _off_deg(Telemetry(kept.drop_columns(["attitude.heading_deg"])), full)
    assert text(found.directions_from) == "logged heading; pitch from climb angle and roll from coordinated turns"
    assert with_heading < 8.0 < by_track < bare.uncertainty_deg
    assert LOGGED_UNCERTAINTY_DEG < found.uncertainty_deg < bare.uncertainty_deg


def test_logged_roll_keeps_what_a_derived_one_would_leave_out() -> None:
    full = fly({"rx1.antenna1": level}, seed=8)
    kept = full.telemetry.table.drop_columns(["attitude.heading_deg"])
    off, found = _off_deg(Telemetry(kept), full)
    assert off < 8.0
    assert text(found.directions_from) == "logged pitch and roll; heading from track"
    assert not {CoreCode.ROLLS, CoreCode.PULLS} & set(found.left_out)


@pytest.mark.parametrize(("sign", "bias"), [(1.0, 0.0), (-1.0, 0.0), (1.0, -9.81)])
def test_a_load_that_does_not_fit_the_turn_tells_a_roll(sign: float, bias: float) -> None:
    sim = fly({"rx1.antenna1": level}, seed=8)
    t = sim.telemetry.time_s
    load = 9.81 / np.cos(np.radians(sim.telemetry.series("attitude.roll_deg").values))
    load[(t > 100) & (t < 106)] = -9.81  # inverted
    bare = sim.telemetry.table.drop_columns([f"attitude.{n}_deg" for n in ("roll", "pitch", "heading")])
    telemetry = Telemetry(bare.append_column("motion.accel_z_m_s2", pa.array(sign * load + bias)))
    found = locate(telemetry, find_phases(telemetry), context(OLD, TERN))
    assert found is not None
    if bias:  # a sensor with gravity taken off shows no load to judge by
        assert CoreCode.ROLLS not in found.left_out
        return
    assert 6.0 <= found.left_out[CoreCode.ROLLS] < 30.0
    assert np.isnan(found.seen_at(t).body_azimuth_deg[(t > 100.5) & (t < 105.5)]).all()
