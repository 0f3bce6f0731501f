"""The timer's promise against simulated seasons: promised 95 % is kept 95 %, within sampling error.

The yardstick is outside our code: seasons drawn from a normal habit whose truth is known, and the closed form of the
normal prediction interval (Hahn & Meeker, Statistical Intervals, from memory).
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from analyser.core.figures import Figure, Method
from analyser.season.fuel.timer import odds_of_keeping, timer_curve

FULL = Figure("On board at start", 4000.0, "mL", Method.ASSUMED, how="tank assumed full")


@pytest.mark.parametrize("flights", [3, 5, 12])
def test_promised_odds_are_kept(flights: int) -> None:
    """Each season advises a time from its past flights; the next flight of that length keeps the reserve or not."""
    rng = np.random.default_rng(flights)
    seasons, reserve = 1500, 800.0
    kept = 0
    for _ in range(seasons):
        rate = rng.normal(320.0, 22.0, flights)
        ground = rng.normal(250.0, 40.0, flights)
        curve = timer_curve(rate, ground, FULL, reserve, "left")
        assert curve is not None
        next_need = rng.normal(250.0, 40.0) + rng.normal(320.0, 22.0) * (curve.advised_min.value or 0.0)
        kept += 4000.0 - next_need >= reserve
    error = 3.0 * np.sqrt(0.95 * 0.05 / seasons)
    assert kept / seasons == pytest.approx(0.95, abs=error + 0.003)


def test_odds_are_the_closed_form_prediction() -> None:
    rate, ground = np.array([300.0, 320.0, 310.0, 330.0]), np.zeros(4)
    odds = odds_of_keeping(np.array([10.0]), rate, ground, 3400.0)
    z = (340.0 - rate.mean()) / (rate.std(ddof=1) * np.sqrt(1.25))
    assert odds[0] == pytest.approx(stats.t.cdf(z, df=3), abs=1e-12)


def test_fewer_flights_of_the_same_habit_advise_a_shorter_time_and_say_so() -> None:
    habit = np.array([300.0, 340.0, 320.0])
    few = timer_curve(habit, np.full(3, 200.0), FULL, 800.0, "left")
    many = timer_curve(np.tile(habit, 5), np.full(15, 200.0), FULL, 800.0, "left")
    assert few is not None
    assert many is not None
    assert (few.advised_min.value or 0) < (many.advised_min.value or 0)
    assert "Few flights" in few.sentence
    assert "Few flights" not in many.sentence
    assert timer_curve(habit[:2], np.zeros(2), FULL, 800.0, "left") is None


def test_odds_fall_with_time() -> None:
    curve = timer_curve(np.array([300.0, 340.0, 320.0]), np.full(3, 200.0), FULL, 800.0, "left")
    assert curve is not None
    assert (np.diff(curve.odds) <= 0).all()
    assert curve.odds[0] > 0.99
    assert curve.odds[-1] < 0.05
