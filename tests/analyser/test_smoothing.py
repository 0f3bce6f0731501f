"""The growing total: its ends, its bends, coarse gauges, counters that waver, slow and broken-off rates."""

from __future__ import annotations

import warnings

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analyser.core.figures import Z95, FloatArray
from analyser.core.statistics.smoothing import Smoothed, integrate, smooth_total, unwrap_counter, walk_of
from tests.analyser import flown


def _smooth(t: FloatArray, total: FloatArray, walk: float = 0.0) -> Smoothed:
    found = smooth_total(t, total, walk_per_s=walk)
    assert found is not None
    return found


@pytest.mark.parametrize("span", [(0.0, 600.0), (60.0, 470.0), (120.0, 400.0)])
@pytest.mark.parametrize("kind", ["noise", "percent", "rounded"])
def test_the_whole_log_is_not_biased_by_its_ends(kind: str, span: tuple[float, float]) -> None:
    miss, sure = [], []
    for seed in range(20):
        true = flown.truth(5.0, seed=seed)
        t = true.time_s
        seen = {
            "noise": true.burned_ml + np.random.default_rng(seed).normal(0.0, 40.0, t.size),
            "percent": 4000.0 - 40.0 * np.round((4000.0 - true.burned_ml) / 40.0),
            "rounded": 10.0 * np.round(true.burned_ml / 10.0),
        }[kind]
        inside = (t >= span[0]) & (t <= span[1])
        smooth = _smooth(t[inside], seen[inside])
        miss.append(smooth.between(*span) - true.between(*span))
        sure.append(abs(miss[-1]) <= Z95 * smooth.between_se(np.array(span)))
    assert np.mean(sure) >= 0.8
    if kind == "noise":
        assert abs(np.mean(miss)) < 12.0  # isotonic regression of the raw bins is out by 15 mL and more


def test_a_total_that_bends_is_followed_and_its_band_holds_it() -> None:
    """Power that swings within eleven seconds: a straight line over fifteen would miss the total by millilitres."""
    true = flown.truth(5.0)
    smooth = _smooth(true.time_s, np.round(true.burned_ml))
    at = np.arange(100.0, 440.0)
    miss = np.interp(at, smooth.time_s, smooth.total) - np.interp(at, true.time_s, true.burned_ml)
    assert np.mean(np.abs(miss - miss.mean()) <= Z95 * smooth.total_se) > 0.9
    assert np.ptp(miss) < 6.0


def test_a_count_that_wavers_by_one_is_no_reset() -> None:
    np.testing.assert_array_equal(unwrap_counter(np.array([1500.0, 1501.0, 1500.0, 1502.0])), [1500, 1501, 1500, 1502])
    np.testing.assert_array_equal(unwrap_counter(np.array([1500.0, 1501.0, 3.0, 5.0])), [1500, 1501, 1504, 1506])
    assert unwrap_counter(np.empty(0)).size == 0


def test_a_slow_rate_is_summed_and_a_hole_adds_nothing() -> None:
    slow = np.arange(0.0, 300.0, 10.0)
    assert integrate(slow, np.full(slow.size, 2.0))[-1] == pytest.approx(2.0 * 290.0)
    quick = np.r_[np.arange(0.0, 100.0), np.arange(160.0, 200.0)]
    assert integrate(quick, np.full(quick.size, 2.0))[-1] == pytest.approx(2.0 * (99.0 + 39.0))


def test_whole_steps_of_a_rate_add_to_the_walk() -> None:
    t = np.arange(0.0, 100.0, 0.5)
    assert walk_of(t, np.round(5.0 + np.sin(t / 9.0))) > 0.0
    assert walk_of(t, np.full(t.size, 5.0)) == 0.0


@settings(max_examples=80, deadline=None)
@given(
    st.lists(st.floats(0.01, 40.0), min_size=0, max_size=120),
    st.integers(0, 2**32 - 1),
    st.sampled_from(["flat", "noise", "steps", "falls", "huge"]),
)
def test_any_trace_gives_finite_numbers_or_nothing(steps: list[float], seed: int, kind: str) -> None:
    t = np.cumsum([0.0, *steps])
    rng = np.random.default_rng(seed)
    total = {
        "flat": np.zeros(t.size),
        "noise": rng.normal(0.0, 1e3, t.size),
        "steps": np.floor(t / 30.0) * 40.0,
        "falls": -t,
        "huge": rng.uniform(-1e9, 1e9, t.size),
    }[kind]
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        smooth = smooth_total(t, total, walk_per_s=walk_of(t, total))
        if smooth is None:
            assert t[-1] < 10.0 + 1.0 or np.unique(np.floor(t)).size < 5
            return
        errors = [smooth.total_se, smooth.rate_se, smooth.between_se(np.array([0.0, t[-1]]))]
        parts = [*smooth.total, *smooth.rate_per_s, *errors]
        parts += [*smooth.alike(smooth.rate_per_s), smooth.raw_falls]
    assert np.isfinite(parts).all()
