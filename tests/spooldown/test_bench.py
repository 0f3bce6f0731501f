"""Bench procedures by command, and what flights take from them."""

import json
from dataclasses import replace
from datetime import date, timedelta

import pytest
from front import run

from analyser.bench.procedures import BenchRecord, Procedure
from analyser.core.aircraft import Aircraft, Engine, FlightContext, Tank
from spooldown.bench.kept import Scales, bench_records, keep
from spooldown.logbook.book import Logbook
from spooldown.problems import LogbookProblem
from spooldown.upkeep import check

DAY = date(2031, 4, 5)
HERON = Aircraft("Heron", engines=(Engine("left", tank="left"),), tanks=(Tank("left", 3600.0),))


def flow(day=DAY, **values):
    return BenchRecord(Procedure.FLOW, day, "Heron", "left", {k: (v,) for k, v in values.items()})


def test_added_listed_removed_by_command(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    typed = ("bench", "add", "supply", "lowest_v=6.4", "--aircraft", "Heron", "--logbook", "book")
    assert "Would keep" in run(*typed, "--dry-run").stdout
    done = run(*typed)
    assert (done.returncode, "Kept as bench record 1" in done.stdout) == (0, True)
    assert "Already there" in run(*typed).stdout
    listed = json.loads(run("bench", "list", "--json", "--logbook", "book").stdout)
    assert listed["records"]["1"]["values"]["lowest_v"] == [6.4]
    assert run("bench", "remove", "7", "--logbook", "book").returncode == 4
    assert "removed" in run("bench", "remove", "1", "--logbook", "book").stdout
    assert "No bench records yet" in run("bench", "list", "--logbook", "book").stdout


def test_readings_need_a_name(tmp_path):
    done = run("bench", "add", "supply", "6.4", "--aircraft", "Heron", "--logbook", tmp_path / "book")
    assert done.returncode == 2
    assert "NAME=NUMBER" in done.stderr
    assert not (tmp_path / "book").exists()


def test_flights_take_the_latest_calibration_before_them():
    scales = Scales(
        [
            flow(measured_ml=500.0, sensor_ml=520.0),
            flow(DAY + timedelta(9), measured_ml=500.0, sensor_ml=500.0),
            flow(DAY + timedelta(9), measured_ml=600.0, pump_percent_min=75.0),
        ]
    )
    context = FlightContext("f", HERON)
    assert scales.given_to(context, DAY - timedelta(1)) is context
    assert scales.given_to(context, None) is context
    assert scales.given_to(context, DAY).sensor_scales["left"].value == pytest.approx(500 / 520)
    late = scales.given_to(context, DAY + timedelta(20))
    assert late.sensor_scales["left"].value == pytest.approx(1.0)
    assert late.aircraft.engines[0].pump_ml_per_min_at_full == pytest.approx(800.0)
    assert late.pump_scales["left"].value == pytest.approx(1.0)
    other = replace(context, aircraft=replace(HERON, name="Gull"))
    assert scales.given_to(other, DAY) is other


def test_a_record_outlives_its_catalogue_and_damage_is_told(tmp_path):
    record = flow(measured_ml=500.0, sensor_ml=520.0)
    with Logbook(tmp_path / "book") as book:
        assert keep(book, record) == ("1", True)
        assert keep(book, record) == ("1", False)
    (tmp_path / "book" / "catalogue.sqlite").unlink()
    check(tmp_path / "book", repair=True)
    with Logbook(tmp_path / "book") as book:
        assert bench_records(book) == {"1": record}
        book.change_records("bench", lambda _: {"2": '{"procedure": "juggling"}'})
        with pytest.raises(LogbookProblem, match="bench record 2"):
            bench_records(book)
