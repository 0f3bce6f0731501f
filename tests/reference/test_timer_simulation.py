"""The timer's promise against simulated seasons: promised 95 % is kept, whatever befalls the flights.

Yardsticks outside our code: seasons drawn by rules that are not the model's; the normal prediction bound,
``mean + t s √(1 + 1/n)``, as statsmodels predicts an observation of a constant; days as random effects as statsmodels
estimates them. The longer run is ``benchmarks/timer_odds.py``; its table is in ``docs/method.md``.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import statsmodels.formula.api as smf
from scipy import stats

from analyser.core.figures import Figure, Method
from analyser.season.fuel.timer import PastFlights, TimerCurve, first_to_reserve, odds_of_keeping, timer_curve
from benchmarks.timer_odds import CASES, kept_share
from reports.words.catalogue import text

CHECKS = ("season.fuel.timer",)

FULL = Figure("On board at start", 4000.0, "mL", Method.ENTERED, how="stated")


def past(rate: np.ndarray, ground: float = 200.0, minutes: float = 7.0, days: np.ndarray | None = None) -> PastFlights:
    n = rate.size
    return PastFlights(
        rate, np.full(n, ground), np.full(n, minutes), np.arange(n) if days is None else days
    )  # fmt: skip


def curve(flights: PastFlights, reserve: float = 800.0) -> TimerCurve:
    made = timer_curve(flights, FULL, reserve, "left")
    assert made is not None
    return made


@pytest.mark.parametrize("case", CASES)
def test_promised_odds_are_kept(case: str) -> None:
    """Few seasons of each case, so that the bound is loose; it falls where the promise was kept by 84 % or less."""
    seasons = 40
    kept = kept_share(case, flights=8, seasons=seasons, seed=5)
    assert kept >= CASES[case].promise - 3.0 * np.sqrt(0.95 * 0.05 / seasons)


def test_many_even_flights_give_the_normal_prediction_bound() -> None:
    rng = np.random.default_rng(3)
    rate = rng.normal(320.0, 6.0, 40)
    made = curve(past(rate), reserve=800.0)
    need = 200.0 + rate * (made.advised.value or 0.0)
    bound = need.mean() + stats.t.ppf(0.95, 39) * need.std(ddof=1) * np.sqrt(1 + 1 / 40)
    # The odds also hold for a filling that repeats to 1 %, and for a hard flight that was not seen yet.
    assert bound == pytest.approx(3200.0, rel=0.045)
    assert bound <= 3200.0


def test_days_of_similar_flights_widen_as_random_effects_do() -> None:
    """Ten days of four flights: the next flight's scatter is a day's and a flight's (statsmodels, MixedLM)."""
    rng = np.random.default_rng(8)
    days = np.repeat(np.arange(10), 4)
    rate = 320.0 * np.exp(rng.normal(0, 0.05, 10)[days] + rng.normal(0, 0.01, 40))
    flights = past(rate, ground=1e-3, days=days)
    usable = np.exp(np.log(rate).mean()) * 8.0
    minutes = np.linspace(6.0, 10.0, 401)
    odds = odds_of_keeping(minutes, flights, usable)
    low, high = np.interp([-0.84, -0.5], -odds, minutes)
    fit = smf.mixedlm("y ~ 1", pd.DataFrame({"y": np.log(rate)}), groups=days).fit()
    theirs = float(np.sqrt(fit.cov_re.iloc[0, 0] + fit.scale))
    assert np.log(high / low) == pytest.approx(theirs, rel=0.35)
    # Taken for flights of ten separate days each, the same numbers would look surer than they are.
    separate = odds_of_keeping(minutes, past(rate, ground=1e-3), usable)
    assert separate[0] >= odds[0] - 0.01


def test_fewer_flights_of_the_same_habit_advise_a_shorter_time_and_say_so() -> None:
    habit = np.array([300.0, 340.0, 320.0])
    few, many = curve(past(habit)), curve(past(np.tile(habit, 5)))
    assert (few.advised.value or 0) < (many.advised.value or 0)
    assert "Few flights" in text(few.verdict)
    assert "Few flights" not in text(many.verdict)
    assert timer_curve(past(habit[:2]), FULL, 800.0, "left") is None


def test_odds_fall_with_time_and_a_sensor_in_doubt_shortens_it() -> None:
    sure = past(np.array([300.0, 340.0, 320.0, 310.0, 330.0]))
    made = curve(sure)
    assert (np.diff(made.odds) <= 0).all()
    assert made.odds[0] > 0.95
    assert made.odds[-1] < 0.1
    doubted = PastFlights(sure.rate_ml_per_min, sure.ground_ml, sure.minutes, sure.days, shared_se=0.051)
    assert (curve(doubted).advised.value or 0.0) < (made.advised.value or 0.0)


def test_advice_beyond_the_longest_flight_says_so() -> None:
    rate = np.array([310.0, 330.0, 320.0, 315.0, 325.0, 322.0, 318.0, 321.0])
    assert "longer than any flight on record" in text(curve(past(rate, minutes=4.0)).verdict)
    flown = curve(past(rate, minutes=12.0))
    assert not flown.beyond
    assert "longer than any" not in text(flown.verdict)


def test_even_odds_are_a_figure_of_their_own_and_the_first_tank_decides() -> None:
    rate = np.array([310.0, 330.0, 320.0, 315.0])
    small, large = curve(past(rate), reserve=1500.0), curve(past(rate), reserve=500.0)
    assert small.advised.low is None
    assert (small.advised.value or 0.0) < (small.even.value or 0.0)
    assert first_to_reserve([large, small]) is small


def test_a_step_one_flight_ago_counts_and_an_old_one_counts_in_full() -> None:
    rate = 320.0 * np.exp(np.random.default_rng(1).normal(0, 0.01, 12))
    lasting = rate.copy()
    lasting[-6:] *= 1.08
    fresh = rate.copy()
    fresh[-1] *= 1.08
    plain, after, just = (curve(past(r)).advised.value or 0.0 for r in (rate, lasting, fresh))
    assert just < plain
    assert after == pytest.approx(plain / 1.08, rel=0.06)
