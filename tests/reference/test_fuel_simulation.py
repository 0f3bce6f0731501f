"""Every fuel sensor against a simulation with known burn: bias and coverage (the table of the benchmark)."""

from __future__ import annotations

import pytest

from benchmarks.fuel_estimators import SENSORS, Row, table

CHECKS = ("fuel.tanks.burn.*", "fuel.tanks.by_sensor.*")


@pytest.fixture(scope="module")
def rows() -> list[Row]:
    return table(flights=30)


def test_every_sensor_is_in_the_table_at_both_rates(rows: list[Row]) -> None:
    assert [(r.sensor, r.rate_hz) for r in rows] == [(s, hz) for s in SENSORS for hz in (2.0, 10.0)]


def test_no_sensor_is_biased_by_more_than_half_a_percent(rows: list[Row]) -> None:
    assert {r.sensor: r.bias_percent for r in rows if abs(r.bias_percent) > 0.5} == {}


def test_intervals_hold_the_truth_at_least_as_often_as_promised(rows: list[Row]) -> None:
    """30 flights: a true 95 % falls below 83 % about once in a hundred tables."""
    assert {r.sensor: (r.coverage, r.rate_coverage) for r in rows if min(r.coverage, r.rate_coverage) < 0.83} == {}
