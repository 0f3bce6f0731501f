"""The forecast to the owner's limit against seasons whose end is known: straight ageing with flights that scatter.

Checked by simulation (JCGM 101:2008, propagation by Monte Carlo): of many seasons the stated interval must hold the
true number of flights as often as it promises, and a pack that does not age must seldom be given an end at all.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from analyser.core.figures import Figure
from analyser.core.statistics.endpoints import at_last
from analyser.core.statistics.trends import robust_trend
from analyser.season.packs.codes import SeasonPackCode
from analyser.season.packs.retirement import Limit, flights_to_retirement

CHECKS = ("season.packs.flights_to_retirement",)

NEW_MOHM, RULE = 40.0, 2.0


def forecast(rng: np.random.Generator, flights: int, grows: float, scatter: float) -> tuple[Figure, float]:
    """A season's forecast and the true flights from its last one to twice new; ``grows`` is a share of new a flight."""
    order = np.arange(1.0, flights + 1.0)
    true = NEW_MOHM * (1.0 + grows * (order - 1.0))
    values = true * (1.0 + rng.normal(0.0, scatter, flights))
    trend = robust_trend(order, values, "mΩ", "trend")
    stands = at_last(order, values, trend)
    assert stands is not None
    now = Figure.within("now", stands.value / NEW_MOHM, 2.0 * stands.se / NEW_MOHM, "×", digits=2)
    limit = Limit(
        of=SeasonPackCode.RESISTANCE, what=SeasonPackCode.TIMES_NEW, rule=SeasonPackCode.YOUR_RATIO, now=now,
        limit=RULE, fresh=1.0, values=values, trend=trend, scale=1.0 / NEW_MOHM,
    )  # fmt: skip
    to_go = (RULE - true[-1] / NEW_MOHM) / grows if grows else np.inf
    return flights_to_retirement("X", (limit,)), to_go


@pytest.mark.parametrize("flights", [6, 9, 15])
@pytest.mark.parametrize(("grows", "scatter"), [(0.03, 0.02), (0.05, 0.04), (0.02, 0.05)])
def test_the_interval_holds_the_flight_at_which_the_limit_is_met(flights: int, grows: float, scatter: float) -> None:
    rng = np.random.default_rng([flights, round(1000 * grows)])
    looks = [forecast(rng, flights, grows, scatter) for _ in range(200)]
    told = [(f.low or 0.0) <= truth <= (f.high or 0.0) for f, truth in looks if f.value is not None]
    assert told
    # Surely less than 95 % would show as an upper bound below it (Clopper and Pearson 1934).
    assert stats.binomtest(sum(told), len(told)).proportion_ci(0.95, "exact").high >= 0.95


@pytest.mark.parametrize("flights", [6, 15])
def test_a_pack_that_does_not_age_is_seldom_given_an_end(flights: int) -> None:
    rng = np.random.default_rng(flights)
    ends = sum(forecast(rng, flights, 0.0, 0.03)[0].value is not None for _ in range(200))
    assert stats.binomtest(ends, 200).proportion_ci(0.95, "exact").low <= 0.025


@pytest.mark.parametrize("flights", [14, 25])
def test_the_first_of_two_limits_ends_a_pack(flights: int) -> None:
    """Capacity and resistance each age at a pace of their own; the truth is whichever limit is met first."""
    rng = np.random.default_rng(flights)
    inside = []
    for _ in range(60):
        order, limits, ends = np.arange(1.0, flights + 1.0), [], []
        for of, fresh, limit in ((SeasonPackCode.RESISTANCE, 1.0, 2.0), (SeasonPackCode.CAPACITY, 100.0, 80.0)):
            pace = (limit - fresh) / rng.uniform(25.0, 60.0)
            true = fresh + pace * (order - 1.0)
            values = true + abs(limit - fresh) * rng.normal(0.0, 0.06, flights)
            trend = robust_trend(order, values, "", "trend")
            stands = at_last(order, values, trend)
            assert stands is not None
            now = Figure.within("now", stands.value, 2.0 * stands.se, "")
            limits.append(
                Limit(of=of, what=of, rule=of, now=now, limit=limit, fresh=fresh, values=values, trend=trend, scale=1.0)
            )
            ends.append(max((limit - true[-1]) / pace, 0.0))
        told = flights_to_retirement("X", limits)
        if told.value is not None and all(one.flights_to_go() is not None for one in limits):
            inside.append((told.low or 0.0) <= min(ends) <= (told.high or 0.0))
    assert len(inside) > 50
    assert stats.binomtest(sum(inside), len(inside)).proportion_ci(0.95, "exact").high >= 0.95
