"""The figures kept of every flight: the list stands, every row fits it, gaps cost only themselves."""

from __future__ import annotations

from pathlib import Path

import pytest

from analyser.core.aircraft import FlightContext, Pack
from analyser.flight import FlightResult, analyse_flight
from analyser.programme.measures import BY_ID, MEASURES, Row, rows_of
from spooldown import read_log
from tests.analyser.flown import telemetry, truth

SAMPLES = Path(__file__).resolve().parents[2] / "sample_logs"
DIFFERENT_UNITS = {"antenna.median_signal", "antenna.lowest_signal"}


@pytest.fixture(scope="module")
def sample() -> tuple[FlightResult, tuple[Row, ...]]:
    (flight,) = read_log(str(SAMPLES / "tern" / "tern-2026-04-18.csv"))
    result = analyse_flight(flight, FlightContext(flight_id="a", packs={"rx2": Pack("R2")}))
    return result, rows_of(result)


def test_ids_are_unique_and_say_what_they_are_of() -> None:
    assert len(BY_ID) == len(MEASURES) >= 60
    assert all(m.id.partition(".")[0] == m.of for m in MEASURES)
    assert all(m.id.isascii() and m.id.islower() for m in MEASURES)


def test_stored_ids_never_change() -> None:
    """Kept tables hold them: an id may be added at the end, never renamed or moved."""
    ids = (Path(__file__).parent / "measure_ids.txt").read_text("utf-8").split()
    assert [m.id for m in MEASURES][: len(ids)] == ids


def test_every_row_fits_the_list(sample: tuple[FlightResult, tuple[Row, ...]]) -> None:
    _, rows = sample
    assert len({(r.measure, r.part) for r in rows}) == len(rows)
    for row in rows:
        assert row.unit == BY_ID[row.measure].unit or row.measure in DIFFERENT_UNITS, row
        if row.value is None:
            assert (row.low, row.high) == (None, None)
        if row.low is not None and row.high is not None:
            assert row.low <= row.value <= row.high
    # Two tanks, two engines, four packs, two receivers with two antennas each: all of them are there.
    assert {r.part for r in rows} >= {"", "fuel.left", "engine.right", "pack.rx2", "link.rx1", "link.rx2.antenna2"}


def test_rows_say_what_the_result_says(sample: tuple[FlightResult, tuple[Row, ...]]) -> None:
    result, rows = sample
    by = {(r.measure, r.part): r for r in rows}
    tank = next(t for t in result.fuel.tanks if t.name == "left")
    kept = by["tank.burn_rate", "fuel.left"]
    assert (kept.value, kept.low, kept.high) == (tank.rate.value, tank.rate.low, tank.rate.high)
    assert by["pack.lowest_voltage", "pack.rx2"].thing == "R2"
    assert by["flight.duration", ""].value == pytest.approx(result.duration_s / 60)
    antenna = result.link.receivers[0].antennas[0]
    level = by["antenna.level", f"link.{antenna.name}"].value
    assert antenna.bins is not None
    assert level is not None
    edges, counts = antenna.bins.residual_edges_db, antenna.bins.histogram.sum(axis=(0, 1))
    below = counts[edges[1:] <= level].sum()
    assert below <= counts.sum() / 2 <= below + counts.max()


def test_a_log_of_one_channel_costs_only_what_it_lacks() -> None:
    flown = truth(2.0)
    rows = rows_of(analyse_flight(telemetry(flown.time_s, engine__left__speed_rpm=flown.speed_rpm), FlightContext()))
    by = {(r.measure, r.part): r for r in rows}
    assert by["engine.starts", "engine.left"].value == 1.0
    assert by["engine.highest_egt", "engine.left"].value is None
    assert by["flight.longest_range", ""].value is None
    assert {r.part.partition(".")[0] for r in rows} <= {"", "engine", "fuel"}
