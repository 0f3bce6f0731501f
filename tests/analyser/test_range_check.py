"""Walked range checks: scaling, trend, comparison, and what is refused."""

from __future__ import annotations

from datetime import date

import pytest

from analyser.range_check import RangeCheck, analyse_range_checks


def test_thirty_db_scales_by_thirty_two_and_the_ground_is_allowed_for() -> None:
    line = analyse_range_checks([RangeCheck(date(2026, 3, 1), "rx1", 1, 40.0, 30.0)], flown_m=500.0).lines[0]
    assert line.implied_m.value == pytest.approx(40 * 10**1.5)
    assert line.implied_m.low == pytest.approx(40 * 10**0.75)
    assert line.against_flown.value == pytest.approx(40 * 10**1.5 / 500)
    assert line.trend_percent.value is None


def test_a_shrinking_range_shows_and_the_weakest_line_is_named() -> None:
    checks = [RangeCheck(date(2025 + k, 4, 1), "rx1", 2, 60 * 0.8**k, 30.0, "tail to pilot") for k in range(5)]
    checks += [RangeCheck(date(2025, 4, 1), "rx1", 1, 60.0, 30.0, "nose to pilot")]
    result = analyse_range_checks(checks)
    trend = next(line for line in result.lines if line.orientation == "tail to pilot").trend_percent
    assert trend.value == pytest.approx(-22.3, abs=0.5)  # 100·ln 0.8
    assert "tail to pilot" in result.weakest


@pytest.mark.parametrize(("distance", "reduction"), [(0.0, 30.0), (float("nan"), 30.0), (20.0, -1.0)])
def test_refuses_nonsense(distance: float, reduction: float) -> None:
    with pytest.raises(ValueError, match="range check"):
        RangeCheck(date(2026, 1, 1), "rx1", 1, distance, reduction)
