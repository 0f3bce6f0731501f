"""A log that holds a part of a known flight is recognised; a flight of its own never is taken for a copy."""

import numpy as np
import pytest
from front import run, said_once

from spooldown.logbook.book import Logbook

HEAD = "Time (s),RX1 Voltage (V),RX1 Current (A)\n"


def log(seed, rows, *, first=0):
    draw = np.random.default_rng(seed)
    lines = [f"{i / 10},{8 + draw.normal(0, 0.1):.3f},{1 + draw.normal(0, 0.1):.3f}\n" for i in range(rows)]
    return HEAD + "".join(lines[first:])


def dated(seed, rows):
    return f"# Date: 2031-04-05\n# Start: 10:00:00 UTC\n{log(seed, rows)}"


@pytest.fixture
def place(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return tmp_path


def imported(name, text):
    with open(name, "w") as file:
        file.write(text)
    return run("import", name, "--aircraft", "Heron", "--logbook", "book")


@pytest.mark.parametrize("make", [log, dated])
def test_the_first_rows_of_a_known_flight_are_recognised(place, make):
    assert "imported" in imported("whole.csv", make(1, 900)).stdout
    before = sorted(p.name for p in (place / "book" / "flights").iterdir())
    done = imported("cut.csv", make(1, 500))
    assert done.returncode == 0
    assert "already in the logbook" in done.stdout
    assert "the first 500 rows of flight" in done.stdout
    # Cut in the middle of a row, and saved again with other line ends.
    assert "the first" in imported("torn.csv", make(1, 500)[:-9]).stdout
    assert "the same rows as flight" in imported("again.csv", make(1, 900).replace("\n", "\r\n") + "\r\n").stdout
    assert sorted(p.name for p in (place / "book" / "flights").iterdir()) == before
    assert run("check", "--logbook", "book").returncode == 0


def test_a_longer_copy_asks_for_the_shorter_one_to_go(place):
    imported("cut.csv", log(1, 500))
    done = imported("whole.csv", log(1, 900))
    assert "begins with all 500 rows of flight heron-undated-a" in said_once(done)
    assert run("remove", "heron-undated-a", "--yes", "--logbook", "book").returncode == 0
    assert "imported" in imported("whole.csv", log(1, 900)).stdout


def test_flights_of_their_own_are_none(place):
    for n in range(4):
        assert "imported" in imported(f"{n}.csv", log(n, 400)).stdout
    standing = HEAD + "".join(f"{i / 10},8.1,0.0\n" for i in range(300))
    assert "imported" in imported("standing.csv", standing).stdout
    assert "imported" in imported("still.csv", standing + "30.0,8.1,0.0\n").stdout  # nothing but the clock moves
    with Logbook(place / "book") as book:
        assert len(book.flights()) == 6
