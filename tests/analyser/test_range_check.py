"""Walked range checks: scaling, trend, comparison, moves, and what is refused."""

from __future__ import annotations

from datetime import date

import pytest

from analyser.core.events import Level
from analyser.season.analysis import analyse_season
from analyser.season.link.layouts import last_moved
from analyser.season.link.range_check import RangeCheck, RangeCheckLine, analyse_range_checks
from reports.words.catalogue import text
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
    assert "tail to pilot" in text(result.weakest)


def test_a_days_repeats_are_one_point() -> None:
    day = date(2026, 3, 1)
    line = analyse_range_checks([RangeCheck(day, "rx1", 1, d, 30.0) for d in (38.0, 40.0, 90.0)]).lines[0]
    assert line.implied_m.value == pytest.approx(40 * 10**1.5)


@pytest.mark.parametrize(
    ("flown", "says"), [(100.0, "within even the cautious"), (600.0, "allows for the ground"), (2000.0, "farther than")]
)
def test_the_distance_flown_is_laid_beside_it(flown: float, says: str) -> None:
    line = analyse_range_checks([RangeCheck(date(2026, 3, 1), "rx1", 1, 40.0, 30.0)], flown).lines[0]
    assert says in text(line.note)


def test_a_move_is_told_and_no_trend_runs_across_it() -> None:
    distances = [10.0, 10.0, 10.0, 50.0, 50.0, 50.0]
    checks = [RangeCheck(date(2026, 3 + k, 1), "rx1", 2, d, 30.0) for k, d in enumerate(distances)]
    line = analyse_range_checks(checks, moved={"rx1.antenna2": date(2026, 5, 20)}).lines[0]
    assert line.trend_percent.value is None
    assert line.moved_db is not None
    assert line.moved_db.value == pytest.approx(13.98, abs=0.01)
    assert line.moved_db.low is not None
    assert line.moved_db.low > 10


def walked(*distances: float, moved: date | None = None) -> RangeCheckLine:
    checks = [RangeCheck(date(2026, 3 + k, 1), "rx1", 2, d, 30.0) for k, d in enumerate(distances)]
    return analyse_range_checks(checks, moved={"rx1.antenna2": moved} if moved else None).lines[0]


def test_the_latest_stands_against_the_earlier_ones() -> None:
    """One earlier day: both good to 3 dB, their difference to 4.2 dB; 20·log10 0.5 is −6.0 dB."""
    line = walked(40.0, 20.0)
    assert line.earlier_db is not None
    assert line.earlier_db.value == pytest.approx(-6.02, abs=0.01)
    assert line.earlier_db.high == pytest.approx(-6.02 + 3.0 * 2**0.5, abs=0.01)
    assert line.level == Level.WATCH
    assert "50 % of the range" in text(line.fell)
    assert walked(40.0, 28.0).fell == ""
    assert walked(40.0).earlier_db is not None
    assert walked(40.0).earlier_db.value is None  # type: ignore[union-attr]


def test_an_owner_whose_checks_scatter_is_not_alarmed_by_one_more() -> None:
    assert walked(40.0, 41.0, 39.0, 40.0, 25.0).level == Level.WATCH
    scattered = walked(20.0, 60.0, 30.0, 70.0, 25.0)
    assert scattered.level == Level.FINE
    assert scattered.earlier_db is not None
    assert "as the earlier ones differ" in text(scattered.earlier_db.how)


def test_a_move_for_the_worse_is_told_and_one_for_the_better_is_not() -> None:
    moved = date(2026, 4, 20)
    assert "before the antenna was moved" in text(walked(50.0, 50.0, 15.0, moved=moved).fell)
    assert walked(15.0, 15.0, 50.0, moved=moved).level == Level.FINE
    # What came before the move is no measure of what came after it.
    again = walked(15.0, 15.0, 50.0, 20.0, moved=moved)
    assert "your earlier checks" in text(again.fell)


def test_checks_from_before_the_move_alone_say_nothing_of_now() -> None:
    line = walked(40.0, 20.0, moved=date(2026, 9, 1))
    assert line.earlier_db is not None
    assert line.earlier_db.value is None
    assert line.level == Level.FINE


def test_moves_come_from_dated_layouts_and_checks_reach_the_season() -> None:
    from msgspec.structs import replace

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
