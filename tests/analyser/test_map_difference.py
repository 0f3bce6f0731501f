"""Differences of direction maps: known where both were seen, and sure only where the intervals say so."""

from __future__ import annotations

import numpy as np
import pytest
from msgspec.structs import replace

from analyser.core.aircraft import Antenna, AntennaLayout
from analyser.link.difference import map_difference
from analyser.link.maps import AntennaMap
from analyser.link.planned import pattern_dbi, planned_map
from analyser.link.sphere import bin_centres, unit_vector


def whip(axis: tuple[float, float, float], half: float) -> AntennaMap:
    """A map of a dipole of this axis; the oracle is the pattern's closed form (Balanis, Antenna Theory, ch. 4)."""
    antenna = Antenna("rx1", 1, (0.0, 0.0, 0.0), axis)
    made = planned_map(AntennaLayout("A", (antenna,)), antenna)
    return replace(made, low_db=made.gain_db - half, high_db=made.gain_db + half, count=made.gain_db * 0 + 9)


def test_turning_a_dipole_trades_its_two_blind_ends() -> None:
    along, across = whip((1.0, 0.0, 0.0), 1.0), whip((0.0, 1.0, 0.0), 1.0)
    moved = map_difference(across, along)
    assert moved is not None
    a, e = bin_centres()
    where = unit_vector(a, e)
    closed = pattern_dbi(Antenna("x", 1, (0, 0, 0), (0, 1, 0)), where) - pattern_dbi(
        Antenna("x", 1, (0, 0, 0), (1, 0, 0)), where
    )
    far = np.abs(closed) < 8  # within a bin the pattern is a straight line there
    assert moved.gain_db[far] == pytest.approx(closed[far], abs=0.7)
    (worst,) = moved.nulls
    assert abs(abs(float(worst.values["azimuth_deg"])) - 90) < 8  # a wing tip: the new blind ends
    assert np.allclose(moved.high_db - moved.gain_db, np.sqrt(2))  # JCGM 100:2008, 5.1.2


def test_what_only_one_saw_stays_unknown_and_a_plan_is_held_level() -> None:
    plan = whip((0.0, 0.0, 1.0), np.nan)
    seen = replace(plan, gain_db=plan.gain_db - 37.0)
    seen.gain_db[4, 4] = np.nan
    off = map_difference(seen, plan, level=True)
    assert off is not None
    assert np.isnan(off.gain_db[4, 4])
    assert np.nanmax(np.abs(off.gain_db)) < 1e-9
    assert off.nulls == ()
    assert map_difference(replace(seen, unit="lost/s"), plan) is None
    assert map_difference(replace(seen, gain_db=seen.gain_db * np.nan), plan) is None


def test_more_missed_packets_are_worse() -> None:
    before = replace(whip((0.0, 0.0, 1.0), 0.1), unit="lost/s")
    after = replace(before, gain_db=before.gain_db.copy())
    after.gain_db[12, 4] += 3.0
    after = replace(after, low_db=after.gain_db - 0.1, high_db=after.gain_db + 0.1)
    change = map_difference(after, before)
    assert change is not None
    (worst,) = change.nulls
    assert worst.values["by"] == pytest.approx(3.0)
    assert float(worst.values["azimuth_deg"]) == pytest.approx(7.5)
