"""One flight spread over two files, through the front door."""

import json

import numpy as np
import pytest
from front import everything, run

from spooldown.logbook.book import Logbook

SHIFT_S = 37.3


def throttle(t):
    knots = np.cumsum(np.random.default_rng(4).normal(0, 10, 200))
    return 50 + 0.2 * np.interp(t, np.arange(200) * 3.0, knots)


def write(path, clock, heading, values):
    lines = [f"{c},{v:.3f}" for c, v in zip(clock, values, strict=True)]
    path.write_text("\n".join([heading, *lines]) + "\n")
    return path


@pytest.fixture
def radio(tmp_path):
    t = np.arange(0, 400, 0.1)
    return write(tmp_path / "radio.csv", np.round(t, 2), "Time (s),Throttle (%)", throttle(t))


@pytest.fixture
def engine(tmp_path):
    t = np.arange(SHIFT_S, 380, 0.2)
    return write(tmp_path / "engine.csv", np.round(t - SHIFT_S, 2), "Time (s),Engine speed (rpm)", 1000 * throttle(t))


def utc(path, start, heading, value):
    clock = np.datetime64(start) + (np.arange(0, 120, 0.5) * 1000).astype("timedelta64[ms]")
    return write(path, [f"{c}Z" for c in clock], heading, value - value / 1000 * np.linspace(0, 1, clock.size))


def the_flight(book):
    with Logbook(book) as opened:
        (flight,) = opened.flights()
        return flight, opened.telemetry(flight.flight_id)


def test_a_linked_channel_gives_the_offset_and_it_is_recorded(tmp_path, radio, engine):
    book = tmp_path / "book"
    tried = run("import", "--join", radio, engine, "--dry-run", "--logbook", book)
    assert tried.returncode == 0, tried.stderr
    assert "+37.3" in tried.stdout
    assert not book.exists()
    done = run("import", "--join", radio, engine, "--aircraft", "Heron", "--logbook", book)
    assert done.returncode == 0, done.stderr
    flight, telemetry = the_flight(book)
    assert flight.aircraft == "Heron"
    (notice,) = (n for n in map(str, flight.notices) if n.startswith("joined with engine.csv"))
    assert "confidence" in notice
    assert notice in done.stdout
    rpm = next(c for c in telemetry.channels if c.endswith("speed_rpm"))
    series = telemetry.series(rpm)
    assert series.time_s[0] == pytest.approx(SHIFT_S, abs=0.05)
    assert telemetry.has("control.throttle_percent")
    before = everything(book)
    assert "nothing changed" in run("import", "--join", radio, engine, "--logbook", book).stdout
    assert "nothing changed" in run("import", engine, "--logbook", book).stdout
    assert everything(book) == before


def test_an_entered_offset_overrules(tmp_path, radio, engine):
    book = tmp_path / "book"
    done = run("import", "--join", radio, engine, "--offset", "-12.5", "--logbook", book, "--json")
    assert done.returncode == 0, done.stderr
    (outcome,) = json.loads(done.stdout)["files"]
    assert any("-12.500 s" in n and "entered" in n for n in outcome["notices"])
    _, telemetry = the_flight(book)
    assert telemetry.series("control.throttle_percent").time_s[0] == pytest.approx(12.5)


def test_utc_in_both_gives_the_offset(tmp_path):
    one = utc(tmp_path / "one.csv", "2031-04-05T10:00:00", "UTC,RX1 Voltage (V)", 7.9)
    two = utc(tmp_path / "two.csv", "2031-04-05T10:00:20.250", "UTC,Fuel remaining (ml)", 3000)
    done = run("import", "--join", one, two, "--logbook", tmp_path / "book")
    assert done.returncode == 0, done.stderr
    flight, telemetry = the_flight(tmp_path / "book")
    assert any("+20.250 s" in n and "100 %" in n for n in map(str, flight.notices))
    fuel = next(c for c in telemetry.channels if c.startswith("fuel."))
    assert telemetry.series(fuel).time_s[0] == pytest.approx(20.25)


def test_what_cannot_be_told_is_asked(tmp_path, radio):
    other = write(tmp_path / "other.csv", range(100), "Time (s),RX1 Voltage (V)", np.full(100, 8.0))
    book = ("--logbook", tmp_path / "book")
    done = run("import", "--join", radio, other, *book)
    assert done.returncode == 5
    assert "--offset" in done.stderr
    noise = np.random.default_rng(7).normal(50, 10, 600)
    unlike = write(tmp_path / "unlike.csv", np.arange(600) / 5, "Time (s),Engine speed (rpm)", 1000 * noise)
    done = run("import", "--join", radio, unlike, *book)
    assert done.returncode == 5
    assert "not surely" in done.stderr
    assert not (tmp_path / "book").exists()


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--join", "radio.csv"), "at least two"),
        (("--join", "radio.csv", "radio.csv"), "same content"),
        (("radio.csv", "--offset", "3"), "belongs to --join"),
        (("--join", "radio.csv", "engine.csv", "--offset", "3", "--offset", "4"), "1 times"),
        (("--join", "morning.csv", "evening.csv"), "do not overlap"),
    ],
)
def test_what_cannot_be_one_flight_is_said(tmp_path, radio, engine, monkeypatch, words, says):
    utc(tmp_path / "morning.csv", "2031-04-05T10:00:00", "UTC,RX1 Voltage (V)", 7.9)
    utc(tmp_path / "evening.csv", "2031-04-05T20:00:00", "UTC,RX2 Voltage (V)", 7.9)
    monkeypatch.chdir(tmp_path)
    done = run("import", *words, "--logbook", "book")
    assert done.returncode == 2
    assert says in done.stderr
    assert not (tmp_path / "book").exists()


def test_a_file_imported_alone_is_removed_before_it_is_joined(tmp_path, radio, engine):
    book = ("--logbook", tmp_path / "book")
    assert run("import", radio, *book).returncode == 0
    done = run("import", "--join", radio, engine, *book)
    assert done.returncode == 2
    assert "already in the logbook" in done.stderr
