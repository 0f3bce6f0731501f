"""Walked range checks: scaling, trend, comparison, moves, and what is refused."""

from __future__ import annotations

from datetime import date

import pytest

from analyser.layouts import last_moved
from analyser.range_check import RangeCheck, analyse_range_checks
from analyser.season import analyse_season
from tests.analyser.link_flights import aircraft


def test_thirty_db_scales_by_thirty_two_and_the_ground_is_allowed_for() -> None:
    line = analyse_range_checks([RangeCheck(date(2026, 3, 1), "rx1", 1, 40.0, 30.0)], flown_m=500.0).lines[0]
    assert line.implied_m.value == pytest.approx(40 * 10**1.5)
    assert line.cautious_m is not None
    assert line.cautious_m.value == pytest.approx(40 * 10**0.75)
    assert line.against_flown.value == pytest.approx(40 * 10**1.5 / 500)
    assert line.trend_percent.value is None
    assert line.moved_db is None


def test_checks_at_different_reductions_imply_one_range() -> None:
    checks = [RangeCheck(date(2026, 3, k + 1), "rx1", 1, d, r) for k, (d, r) in enumerate([(40, 30), (126.491, 20)])]
    line = analyse_range_checks(checks).lines[0]
    assert line.implied_each_m[0] == pytest.approx(line.implied_each_m[1], rel=1e-4)


def test_a_shrinking_range_shows_and_the_weakest_line_is_named() -> None:
    checks = [RangeCheck(date(2025 + k, 4, 1), "rx1", 2, 60 * 0.8**k, 30.0, "tail to pilot") for k in range(5)]
    checks += [RangeCheck(date(2025, 4, 1), "rx1", 1, 60.0, 30.0, "nose to pilot")]
    result = analyse_range_checks(checks)
    trend = next(line for line in result.lines if line.orientation == "tail to pilot").trend_percent
    assert trend.unit == "dB/year"
    assert trend.value == pytest.approx(-1.938, abs=0.01)  # 20·log10 0.8
    assert "tail to pilot" in result.weakest


def test_a_days_repeats_are_one_point() -> None:
    day = date(2026, 3, 1)
    line = analyse_range_checks([RangeCheck(day, "rx1", 1, d, 30.0) for d in (38.0, 40.0, 90.0)]).lines[0]
    assert line.implied_m.value == pytest.approx(40 * 10**1.5)


@pytest.mark.parametrize(
    ("flown", "says"), [(100.0, "within even the cautious"), (600.0, "allows for the ground"), (2000.0, "farther than")]
)
def test_the_distance_flown_is_laid_beside_it(flown: float, says: str) -> None:
    line = analyse_range_checks([RangeCheck(date(2026, 3, 1), "rx1", 1, 40.0, 30.0)], flown).lines[0]
    assert says in line.note


def test_a_move_is_told_and_no_trend_runs_across_it() -> None:
    distances = [10.0, 10.0, 10.0, 50.0, 50.0, 50.0]
    checks = [RangeCheck(date(2026, 3 + k, 1), "rx1", 2, d, 30.0) for k, d in enumerate(distances)]
    line = analyse_range_checks(checks, moved={"rx1.antenna2": date(2026, 5, 20)}).lines[0]
    assert line.trend_percent.value is None
    assert line.moved_db is not None
    assert line.moved_db.value == pytest.approx(13.98, abs=0.01)
    assert line.moved_db.low is not None
    assert line.moved_db.low > 10


def test_moves_come_from_dated_layouts_and_checks_reach_the_season() -> None:
    from dataclasses import replace

    tern, old, new = aircraft()
    dated = replace(tern, layouts=(replace(new, since=date(2026, 7, 1)), replace(old, since=date(2026, 4, 1))))
    assert last_moved(dated) == {"rx1.antenna2": date(2026, 7, 1)}
    check = RangeCheck(date(2026, 8, 1), "rx1", 2, 40.0, 30.0)
    (season,) = analyse_season([], [dated], {"Tern": [check], "Another": [check]}).aircraft
    assert [line.antenna for line in season.range.lines] == ["rx1.antenna2"]
    assert analyse_season([], [dated]).aircraft[0].range.lines == ()


@pytest.mark.parametrize(("distance", "reduction"), [(0.0, 30.0), (float("nan"), 30.0), (20.0, -1.0)])
def test_refuses_nonsense(distance: float, reduction: float) -> None:
    with pytest.raises(ValueError, match="range check"):
        RangeCheck(date(2026, 1, 1), "rx1", 1, distance, reduction)
