"""The table behind *My timer* says what the odds themselves say, and moves the right way with time and volume."""

from __future__ import annotations

import numpy as np
import pytest

from analyser.core.figures import Figure, Method
from analyser.season.fuel.timer import PastFlights, TimerTable, timer_curve, timer_table

START = Figure("start", 3000.0, "mL", Method.ENTERED)


def past(n: int = 14, seed: int = 3) -> PastFlights:
    rng = np.random.default_rng(seed)
    return PastFlights(rng.normal(250.0, 8.0, n), rng.normal(150.0, 15.0, n), np.full(n, 8.0), np.arange(n), 0.01)


def made() -> TimerTable:
    table = timer_table(past(), START, 600.0, "main", most_ml=3400.0)
    assert table is not None
    return table


def test_odds_fall_with_time_and_rise_with_fuel() -> None:
    odds = made().odds
    assert odds.shape == (26, 61)
    assert (np.diff(odds, axis=1) <= 1e-12).all()
    assert (np.diff(odds, axis=0) >= -1e-9).all()
    assert (odds[0] == 0).all(), "a tank filled to its reserve keeps it in no flight"


def test_the_table_agrees_with_the_curve_at_the_usual_volume() -> None:
    table, curve = made(), timer_curve(past(), START, 600.0, "main")
    assert curve is not None
    column = [np.interp(START.value, table.start_ml, table.odds[:, k]) for k in range(table.minutes.size)]
    assert np.interp(curve.minutes, table.minutes, column) == pytest.approx(curve.odds, abs=0.05)


def test_half_the_next_flights_reach_the_reserve_at_even_odds() -> None:
    """Flights drawn by another rule than the model's: gamma burns, not normal ones."""
    table, rng = made(), np.random.default_rng(8)
    need = rng.normal(150.0, 15.0, 40_000)[:, None] + rng.gamma(1000.0, 0.25, 40_000)[:, None] * table.minutes[None, :]
    k = int(np.abs(table.start_ml - 3000.0).argmin())
    kept = (need <= table.start_ml[k] - 600.0).mean(axis=0)
    even = np.interp(-0.5, -table.odds[k], table.minutes)
    assert even == pytest.approx(np.interp(-0.5, -kept, table.minutes), rel=0.03)


def test_no_table_where_there_is_nothing_to_tell() -> None:
    assert timer_table(past(2), START, 600.0, "main") is None
    assert timer_table(past(), START, 3000.0, "main") is None
