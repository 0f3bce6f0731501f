"""Layouts over flights: the hole astern is named, the move is told to have helped, and doubt is told as doubt."""

from __future__ import annotations

import numpy as np
import pytest

from analyser.core.aircraft import AntennaLayout
from analyser.flight import FlightResult, analyse_flight
from analyser.link.antenna import find_nulls, name_direction
from analyser.record import FlightRecord
from analyser.season.link.layouts import analyse_layouts
from reports.words.catalogue import text
from tests.analyser.link_flights import aircraft, context, fly, level, tail_null

TERN, OLD, NEW = aircraft()


def season(first: float, then: float, *, flights: tuple[int, int] = (8, 4), **how: object) -> list[FlightRecord]:
    out = []
    for k in range(sum(flights)):
        layout: AntennaLayout = OLD if k < flights[0] else NEW
        gains = {"rx1.antenna1": level, "rx1.antenna2": tail_null(first if k < flights[0] else then)}
        sim = fly(gains, seed=100 + k, **how)  # type: ignore[arg-type]
        of = context(layout, TERN, f"f{k}")
        result: FlightResult = analyse_flight(sim.telemetry, of)
        out.append(FlightRecord(f"f{k}", k + 1, None, of, result))
    return out


@pytest.mark.parametrize(
    "how",
    [
        {},
        {"attitude": False, "rate_hz": 5.0},
        {"unit": "percent"},
        {"unit": "none", "counters": True, "attitude": False, "rate_hz": 4.0},
    ],
    ids=["dBm", "no attitude", "percent", "counters only"],
)
def test_moving_the_fin_antenna_helped(how: dict[str, object]) -> None:
    result = analyse_layouts(season(18.0, 2.0, **how), TERN)
    first, moved = result.layouts
    fin = next(m for m in first.measured if m.antenna == "rx1.antenna2")
    assert fin.nulls
    assert text(fin.nulls[0]).startswith("tail-on")
    assert [c.antenna for c in result.comparisons] == ["rx1.antenna2"]  # the belly antenna did not move
    verdict = text(result.comparisons[0].verdict)
    assert "helped" in verdict
    assert "tail-on" in verdict
    assert moved.flight_ids == ("f8", "f9", "f10", "f11")
    if "unit" not in how:
        tail = next(f for f in result.comparisons[0].sectors if "tail-on" in text(f.label).lower())
        assert tail.value is not None
        assert 12.0 < tail.value < 18.0


def test_no_change_is_told_as_doubt() -> None:
    verdict = analyse_layouts(season(10.0, 10.0, flights=(4, 3)), TERN).comparisons[0].verdict
    verdict = text(verdict)
    assert verdict.startswith("Can't tell yet")
    assert "more flights" in verdict


def test_one_flight_is_not_enough() -> None:
    comparison = analyse_layouts(season(18.0, 2.0, flights=(2, 1)), TERN).comparisons[0]
    assert comparison.difference_db.value is None
    assert text(comparison.verdict).startswith("Can't tell yet")


def test_planned_maps_need_no_flight() -> None:
    result = analyse_layouts([], TERN)
    assert [m.layout for m in result.layouts] == ["first", "moved"]
    assert all(m.planned and m.planned_best is not None and not m.measured for m in result.layouts)
    assert result.comparisons == ()


@pytest.mark.parametrize(
    ("azimuth", "elevation", "words"),
    [(180, 0, "tail-on"), (-180, 0, "tail-on"), (0, -40, "nose-on, from below"), (-90, 10, "left wing"),
     (90, 40, "right wing, from above"), (12, -80, "straight from below")],
)  # fmt: skip
def test_direction_words(azimuth: float, elevation: float, words: str) -> None:
    assert text(name_direction(azimuth, elevation)) == words


def test_a_null_across_the_tail_is_one_null() -> None:
    gain = np.zeros((24, 8))
    gain[[0, -1], 3:5] = -15.0
    gain[5, 7] = np.nan
    assert len(find_nulls(gain, np.ones((24, 8)))) == 1
    assert text(find_nulls(gain, np.ones((24, 8)))[0]).startswith("tail-on: 15 dB")
