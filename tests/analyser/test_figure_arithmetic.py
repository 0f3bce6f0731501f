"""Figures compute: sums, differences, ratios and scalings carry interval, method and reasons along.

Outside check: JCGM 100:2008, law of propagation (5.1.2, 5.1.6, 5.2.2); the same by simulation with numpy's generator.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analyser.core.figures import Figure, Method, combined_method, total

sizes = st.floats(10.0, 1000.0)
shares = st.floats(0.01, 0.08)
"""Half-widths as a share of the value: the law of propagation is of first order."""


def made(value: float, half: float, unit: str = "mL") -> Figure:
    return Figure.within("x", value, half, unit)


@given(sizes, sizes, shares, shares)
def test_intervals_hold_what_simulation_finds(a: float, b: float, share_a: float, share_b: float) -> None:
    ha, hb = share_a * a, share_b * b
    rng = np.random.default_rng(1)
    x, y = rng.normal(a, ha / 1.96, 40_000), rng.normal(b, hb / 1.96, 40_000)
    one, two = made(a, ha), made(b, hb)
    for figure, drawn in (
        (one.plus(two, "s"), x + y),
        (one.minus(two, "d"), x - y),
        (one.times(3.0, "k", "mL"), 3.0 * x),
        (one.times(-3.0, "k", "mL"), -3.0 * x),
        (one.times(two, "p", "mL"), x * y),
    ):
        low, high = np.quantile(drawn, [0.025, 0.975])
        assert figure.low == pytest.approx(low, abs=0.04 * (high - low))
        assert figure.high == pytest.approx(high, abs=0.04 * (high - low))
    low, high = np.quantile(x / y, [0.025, 0.975])
    share = one.over(two, "share", "")
    assert share.low == pytest.approx(low, abs=0.06 * (high - low))
    assert share.high == pytest.approx(high, abs=0.06 * (high - low))


def test_shared_errors_add_in_a_sum_and_cancel_in_a_difference() -> None:
    one, two = made(100.0, 3.0), made(90.0, 4.0)
    assert total("s", (one, two), correlated=True).half_width == pytest.approx(7.0)
    assert one.minus(two, "d", correlated=True).half_width == pytest.approx(1.0)


def test_sides_of_unlike_length_stay_on_their_side() -> None:
    skew = Figure("x", 10.0, "mL", Method.ESTIMATED, 9.0, 14.0)
    flat = Figure("x", 5.0, "mL", Method.MEASURED)
    assert (skew.plus(flat, "s").low, skew.plus(flat, "s").high) == (14.0, 19.0)
    assert (flat.minus(skew, "d").low, flat.minus(skew, "d").high) == (-9.0, -4.0)


def test_an_unavailable_part_makes_an_unavailable_whole_for_its_reason() -> None:
    gone = Figure.unavailable("x", "mL", "no sensor")
    for whole in (
        total("s", (made(1, 0.1), gone)), made(1, 0.1).minus(gone, "d"), gone.over(made(1, 0.1), "r", "%"),
        gone.times(2.0, "k", "L"), made(1, 0.1).times(gone, "k", "L"),
    ):  # fmt: skip
        assert whole.value is None
        assert whole.missing == "no sensor"


def test_a_divisor_that_may_be_nought_gives_no_quotient() -> None:
    assert made(1.0, 0.1).over(made(0.5, 0.6), "r", "%").value is None


def test_units_must_agree() -> None:
    with pytest.raises(ValueError, match="mAh"):
        total("s", (made(1, 0.1), made(1, 0.1, "mAh")))
    with pytest.raises(ValueError, match="at least one"):
        total("s", ())


def test_doubts_are_carried_once() -> None:
    doubted = made(1, 0.1).with_doubt("spikes")
    assert doubted.plus(doubted, "s").doubts == ("spikes",)


@pytest.mark.parametrize(
    ("parts", "whole"),
    [
        ((Method.ENTERED, Method.ENTERED), Method.ENTERED),
        ((Method.ASSUMED, Method.ASSUMED), Method.ASSUMED),
        ((Method.MEASURED, Method.ASSUMED), Method.ESTIMATED),
        ((Method.MEASURED, Method.MEASURED), Method.INTEGRATED),
        ((Method.MEASURED, Method.ENTERED), Method.INTEGRATED),
        ((Method.ESTIMATED, Method.ENTERED), Method.ESTIMATED),
    ],
)
def test_measured_is_only_what_a_sensor_shows_as_it_stands(parts: tuple[Method, ...], whole: Method) -> None:
    assert combined_method(parts) is whole
