"""Trends and steps over flights: found where planted, silent where not, unmoved by an odd flight."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analyser.core.figures import Method
from analyser.core.statistics.trends import FEWEST, bootstrap_by_flight, find_step, grain, robust_trend, widened
from reports.words.catalogue import text


@given(
    st.integers(FEWEST, 20),
    st.floats(-100, 100),
    st.floats(-1000, 1000),
)
def test_straight_line_gives_its_slope_and_no_doubt(n: int, slope: float, start: float) -> None:
    x = np.arange(float(n))
    figure = robust_trend(x, start + slope * x, "mL", "burn")
    assert figure.value == pytest.approx(slope, abs=1e-8)
    assert (figure.low, figure.high) == pytest.approx((slope, slope), abs=1e-8)
    assert (figure.unit, figure.method) == ("mL/flight", Method.ESTIMATED)


@given(st.integers(8, 20), st.integers(0, 100), st.floats(-1e4, 1e4))
def test_one_wild_flight_hardly_matters(n: int, seed: int, wild: float) -> None:
    rng = np.random.default_rng(seed)
    x = np.arange(float(n))
    y = 3.0 * x + rng.normal(0, 1, n)
    y[int(rng.integers(n))] = wild
    assert robust_trend(x, y, "mL", "burn").value == pytest.approx(3.0, abs=2.0)


@given(st.integers(4, 12), st.integers(0, 1000))
def test_trend_reverses_with_sign_and_scales_with_unit(n: int, seed: int) -> None:
    rng = np.random.default_rng(seed)
    x, y = np.arange(float(n)), rng.normal(size=n)
    plain, turned, scaled = (robust_trend(x, k * y, "V", "v") for k in (1.0, -1.0, 1000.0))
    assert plain.value is not None
    assert plain.low is not None
    assert plain.high is not None
    assert (turned.value, turned.low, turned.high) == pytest.approx((-plain.value, -plain.high, -plain.low))
    assert (scaled.value, scaled.low) == pytest.approx((1000 * plain.value, 1000 * plain.low))
    assert plain.low <= plain.value <= plain.high


@pytest.mark.parametrize(
    ("x", "y", "count"),
    [([1, 2, 3], [1, 2, 3], 3), ([1, 1, 1, 1], [1, 2, 3, 4], 4), ([1, 2, 3, 4], [1, np.nan, 3, 4], 3)],
)
def test_too_little_is_said_not_guessed(x: list[float], y: list[float], count: int) -> None:
    figure = robust_trend(np.array(x, float), np.array(y, float), "V", "v", per="cycle")
    assert figure.value is None
    assert figure.unit == "V/cycle"
    assert f"there are {count}" in text(figure.missing) or count == 4


@given(st.integers(3, 8), st.integers(3, 8), st.integers(0, 200), st.sampled_from([-1.0, 1.0]))
@settings(max_examples=25, deadline=None)
def test_clear_step_is_found_at_its_flight(before: int, after: int, seed: int, sign: float) -> None:
    rng = np.random.default_rng(seed)
    y = np.r_[np.full(before, 100.0), np.full(after, 100.0 + sign * 20.0)] + rng.normal(0, 0.5, before + after)
    step = find_step(y, resamples=400)
    assert step is not None
    assert step.index == before
    assert step.size == pytest.approx(sign * 20.0, abs=2.0)
    assert step.low <= step.size <= step.high
    # With three flights a side, one random order in ten looks as good: the chance level can't be lower than that.
    if min(before, after) >= 5:
        assert step.p_value < 0.05


def test_same_flights_same_answer() -> None:
    y = np.random.default_rng(0).normal(size=14)
    assert find_step(y) == find_step(y)


def test_level_flights_are_no_step() -> None:
    step = find_step(np.full(10, 7.0), resamples=200)
    assert step is not None
    assert (step.size, step.p_value) == (0.0, 1.0)


def test_too_few_flights_are_no_step() -> None:
    assert find_step(np.arange(5.0)) is None


def test_resampling_by_flight_has_the_spread_of_a_mean() -> None:
    values = np.random.default_rng(2).normal(10, 3, 40)
    draws = bootstrap_by_flight(lambda rows: float(values[rows.astype(int)].mean()), values.size, resamples=2000)
    assert draws.shape == (2000,)
    assert draws.mean() == pytest.approx(values.mean(), abs=0.05)
    assert draws.std() == pytest.approx(values.std() / np.sqrt(values.size), rel=0.1)


def test_the_step_that_values_were_read_in_is_no_rounding_of_the_machine() -> None:
    starts = np.array([40.2, 51.4, 33.8])
    assert grain((starts + np.array([27.2, 27.4, 27.2])) - starts) == pytest.approx(0.2)
    assert grain(np.array([1.0, 2.5, 3.1])) == 0.0


def test_a_drift_read_in_coarse_steps_stays_within_its_interval() -> None:
    """Plainly, the rank interval shrinks to nothing where most pairs tie; the step read in keeps it honest."""
    rng, flights, drift = np.random.default_rng(5), np.arange(14.0), 0.008
    seen = held = plain = 0
    for _ in range(200):
        read = np.round((27.1 + rng.random() + drift * flights + rng.normal(0, 0.02, 14)) / 0.2) * 0.2
        alone = robust_trend(flights, read, "s", "start")
        if grain(read) == 0.0:
            continue  # all alike as read: nothing shows the step
        seen += 1
        trend = widened(alone, grain(read) / float(np.ptp(flights)))
        plain += alone.low <= drift <= alone.high
        held += trend.low <= drift <= trend.high
    assert seen > 100
    assert held >= 0.95 * seen
    assert plain < 0.9 * seen
