"""Packing and thinning: small on the page, yet every extreme and every event is there."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from reports.figures.decimate import keep, silences, with_gaps
from reports.figures.encode import pack_times, pack_values, unpack


@given(arrays(float, st.integers(1, 200), elements=st.floats(-1e6, 1e6)))
def test_packed_values_are_within_half_a_step(values: np.ndarray) -> None:
    packed = pack_values(values)
    step = float(np.ptp(values)) / 65534
    np.testing.assert_allclose(unpack(packed), values, atol=step * 0.51 + 1e-9 * np.abs(values).max() + 1e-12)


def test_packing_keeps_holes_and_constants() -> None:
    values = np.array([1.0, np.nan, 3.0, np.inf])
    assert np.isnan(unpack(pack_values(values))).tolist() == [False, True, False, True]
    np.testing.assert_allclose(unpack(pack_values(np.full(4, 7.25))), 7.25)
    assert np.isnan(unpack(pack_values(np.full(3, np.nan)))).all()


@given(st.lists(st.floats(0.001, 4000.0), min_size=1, max_size=60), st.floats(-10, 1e4))
def test_packed_times_do_not_drift(steps: list[float], start: float) -> None:
    time_s = start + np.cumsum(steps)
    packed = pack_times(time_s)
    np.testing.assert_allclose(unpack(packed), time_s, atol=0.51 * packed["s"] + 1e-4)


@settings(max_examples=40)
@given(st.integers(0, 2**32 - 1), st.integers(50, 5000), st.integers(4, 400))
def test_thinning_keeps_the_envelope(seed: int, n: int, points: int) -> None:
    rng = np.random.default_rng(seed)
    t = np.cumsum(rng.uniform(0.01, 0.5, n))
    v = np.cumsum(rng.normal(size=n))
    chosen = keep(t, v, points)
    assert v[chosen].min() == v.min()
    assert v[chosen].max() == v.max()
    assert chosen[0] == 0
    assert chosen[-1] == n - 1
    assert (np.diff(chosen) > 0).all()
    # Between two samples that stayed, nothing that went may stick out of the envelope of the neighbourhood.
    window = (t[-1] - t[0]) / (max(4, points - points % 2) / 2) * 2
    for gone in np.setdiff1d(np.arange(n), chosen)[:50]:
        near = chosen[np.abs(t[chosen] - t[gone]) <= window]
        assert v[near].min() <= v[gone] <= v[near].max()


@given(st.integers(0, 9_900), st.integers(1, 60))
def test_every_event_stays_whole(at: int, length: int) -> None:
    t = np.arange(10_000) * 0.02
    v = np.sin(t) * 0.01
    v[at : at + length] -= 1.0 + np.arange(min(length, 10_000 - at)) * 0.001
    span = (t[at], t[min(at + length, 9_999)])
    chosen = keep(t, v, 100, [span])
    inside = v[(t >= span[0]) & (t <= span[1])]
    kept = v[chosen][(t[chosen] >= span[0]) & (t[chosen] <= span[1])]
    assert kept.min() == inside.min()
    assert kept.max() == inside.max()
    assert at in chosen


def test_thousands_of_points_become_about_as_many_as_asked() -> None:
    t = np.arange(180_000) * 0.02
    assert 900 <= keep(t, np.random.default_rng(1).normal(size=t.size), 1200).size <= 1210


def test_a_silent_sensor_breaks_the_line() -> None:
    t = np.r_[np.arange(0, 10, 0.1), np.arange(30, 40, 0.1)]
    x, y = with_gaps(t, np.ones(t.size), silences(t))
    assert np.isnan(y).sum() == 1
    assert 9.9 < x[np.isnan(y)][0] < 10.0


@pytest.mark.parametrize("n", [0, 1, 2])
def test_short_curves_survive(n: int) -> None:
    t = np.arange(float(n))
    assert keep(t, t, 100).tolist() == list(range(n))
    assert unpack(pack_times(t)).tolist() == t.tolist()
