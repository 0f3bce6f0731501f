"""A damaged cell of the catalogue costs its own row and nothing else: every column of every table, whatever it holds.

The columns are taken from the schema itself, so a new one is tried as well.
"""

import shutil
import sqlite3
from contextlib import closing
from datetime import date

import pytest
from front import run
from made import draft, register_example, source

from analyser.season.link.range_check import RangeCheck
from spooldown import register
from spooldown.logbook import entered
from spooldown.logbook.book import Logbook
from spooldown.logbook.note import FlightNote
from spooldown.logbook.schema import MIGRATIONS
from spooldown.programme.snags import all_snags
from spooldown.upkeep.checking import check
from spooldown.work.prepared import prepare

IDS = [f"heron-2031-04-05-{letter}" for letter in "abc"]
OTHERS = (None, 2**62, 1e300, "", "9999-99-99", "../../out", "x" * 100_000, b"\xff\x00\xfe", bytearray(b"ab\xff\xfe"))
"""What nobody stored: missing, out of range, no number, no text; a bytearray stands for a text that is no UTF-8."""


UNTOLD = {("setting", "name"), ("setting", "value"), ("record", "kind")}
"""A reader can't tell that something has another name now, or is emptied; `check` holds it against what was entered."""
NUMBERS = {("range_check", "range_check_id")}
"""Any number does."""


def columns():
    """Every column of every table that the migrations make."""
    with closing(sqlite3.connect(":memory:")) as db:
        for statement in (s for statements in MIGRATIONS for s in statements):
            db.execute(statement)
        tables = db.execute("SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite%'")
        return [(t, c[1]) for (t,) in tables.fetchall() for c in db.execute(f"PRAGMA table_info({t})")]


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    """A logbook with a row in every table; what a test changes is a copy."""
    folder = tmp_path_factory.mktemp("whole") / "book"
    with Logbook(folder) as book:
        register_example(book)
        book.add([source("one.csv", "11")], [draft(1, rows=200), draft(2, rows=150)], aircraft="Heron")
        book.add([source("two.csv", "22")], [draft(rows=100)], aircraft="Heron")
        book.add([source("three.csv", "33")], [draft(rows=90)], aircraft="Heron")
        book.note({IDS[0]: FlightNote(remarks="windy"), IDS[1]: FlightNote(air_temperature_c=11.0)})
        walked = [RangeCheck(date(2031, 4, day), "rx1", 1, 60.0, 30.0, "nose to pilot", "") for day in (1, 2)]
        book.add_range_checks([("Heron", w) for w in walked])
        book.set_setting("title", "Kept")
        book.remove(["heron-2031-04-05-d"])
    assert run("snags", "add", "Heron", "bulging", "--part", "pack.rx1", "--logbook", folder).returncode == 0
    return folder


def spoil(catalogue, table, column, value):
    """Put a value into a column of a table's first row; False where SQLite itself refuses it there."""
    with closing(sqlite3.connect(catalogue)) as db:
        keys = [c[1] for c in db.execute(f"PRAGMA table_info({table})") if c[5]] or ["rowid"]
        # How far the catalogue has read what was entered is worked out anew where it is damaged.
        which = f"WHERE '{entered.SEEN}' NOT IN ({', '.join(keys)})"
        first = db.execute(f"SELECT {', '.join(keys)} FROM {table} {which} LIMIT 1").fetchone()
        (text,) = db.execute("SELECT sql FROM sqlite_master WHERE name = ?", (table,)).fetchone()
    assert first is not None, f"nothing in {table} to damage"
    if value is None:  # a flipped bit leaves it, but no command may write it
        rewrite(catalogue, table, text.replace("NOT NULL", ""))
    with closing(sqlite3.connect(catalogue)) as db:
        put = "CAST(? AS TEXT)" if isinstance(value, bytearray) else "?"
        query = f"UPDATE {table} SET {column} = {put} WHERE ({', '.join(keys)}) = ({', '.join('?' * len(keys))})"
        try:
            with db:
                done = db.execute(query, (value, *first)).rowcount == 1
        except sqlite3.IntegrityError:
            done = False
    rewrite(catalogue, table, text)
    return done


def rewrite(catalogue, table, text):
    with closing(sqlite3.connect(catalogue)) as db, db:
        db.execute("PRAGMA writable_schema = ON")
        db.execute("UPDATE sqlite_master SET sql = ? WHERE name = ?", (text, table))


def state(folder, known, *, prepared=True):
    """What reading commands ask a logbook for, and whether it said that something is damaged."""
    with Logbook(folder) as book:
        flights = {f.flight_id: f for f in book.flights()}
        if prepared:
            ready = prepare(book, known)
            assert set(ready.listing.starts()) == set(flights)
        found = (
            {i: (f.rows, f.duration_s, f.telemetry_sha256, f.channels, f.utc_start) for i, f in flights.items()},
            book.notes(),
            [check for _, _, check in book.range_checks()],
            [s.title for s in all_snags(book)],
            [title] if (title := book.setting("title")) else [],
            [r.flight_id for r in book.removed()],
        )
        return found, [*map(str, book.said), *map(str, book.left_out)]


@pytest.fixture(scope="module")
def known(whole):
    with Logbook(whole) as book:
        return register.load(book)


@pytest.mark.parametrize("column", columns(), ids=".".join)
def test_a_damaged_cell_costs_its_own_row_alone_and_is_mended(whole, known, tmp_path, column):
    table, column = column
    folder, (before, nothing) = tmp_path / "book", state(whole, known)
    assert nothing == []
    shutil.copytree(whole, folder)
    for value in OTHERS:
        shutil.copy(whole / "catalogue.sqlite", folder / "catalogue.sqlite")
        if not spoil(folder / "catalogue.sqlite", table, column, value):
            continue
        found, said = state(folder, known, prepared=isinstance(value, int | bytes | bytearray))
        assert {i: found[0][i] for i in IDS[1:]} == {i: before[0][i] for i in IDS[1:]}, value
        assert all(len(sentence) < 400 and sentence.endswith("mends it") for sentence in said if "damaged" in sentence)
        missing = [b for b, f in zip(before[1:], found[1:], strict=True) if len(f) < len(b)]
        assert said or not missing or (table, column) in UNTOLD, (value, missing)
        last = (folder / "catalogue.sqlite").read_bytes()
    (folder / "catalogue.sqlite").write_bytes(last)
    assert check(folder) or (table, column) in NUMBERS
    check(folder, repair=True)
    assert check(folder) == []
    after, said = state(folder, known)
    assert said == []
    assert {i: after[0][i] for i in IDS} == {i: before[0][i] for i in IDS}
    assert after[1][IDS[1]] == before[1][IDS[1]]


@pytest.mark.parametrize(
    ("table", "column", "value"),
    [("flight", "channels", bytearray(b"\xff")), ("note", "body", "{")],
)
def test_pages_of_all_others_are_built_and_one_says_what_is_damaged(whole, tmp_path, table, column, value):
    folder = tmp_path / "book"
    shutil.copytree(whole, folder)
    assert spoil(folder / "catalogue.sqlite", table, column, value)
    listed = run("flights", "--logbook", folder)
    assert listed.returncode == 7
    (line,) = listed.stderr.strip().splitlines()
    assert f"flight {IDS[0]}" in line
    assert "`spooldown check --repair` mends it" in line
    assert all(i in listed.stdout for i in IDS[1:])
    built = run("pages", "--logbook", folder)
    assert (built.returncode, built.stderr) == (7, listed.stderr)
    page = (folder / "pages" / "flights" / f"{IDS[0]}.html").read_text("utf-8")
    assert "is damaged" in page
    assert "check --repair" in page
    others = [(folder / "pages" / "flights" / f"{i}.html").read_text("utf-8") for i in IDS[1:]]
    assert not any("check --repair" in page for page in others)
    assert run("check", "--repair", "--logbook", folder).returncode == 0
    again = run("pages", "--logbook", folder)
    assert (again.returncode, again.stderr) == (0, "")
    assert "check --repair" not in (folder / "pages" / "flights" / f"{IDS[0]}.html").read_text("utf-8")


def test_a_name_that_is_no_flights_leads_nowhere_else(whole, tmp_path):
    folder = tmp_path / "book"
    shutil.copytree(whole, folder)
    assert spoil(folder / "catalogue.sqlite", "flight", "flight_id", "../../out")
    before = {p for p in tmp_path.rglob("*") if not p.is_relative_to(folder)}
    built = run("pages", "--logbook", folder)
    assert built.returncode == 0
    assert f"{IDS[0]} is known again by its file" in built.stderr
    assert (folder / "pages" / "flights" / f"{IDS[0]}.html").exists()
    assert {p for p in tmp_path.rglob("*") if not p.is_relative_to(folder)} == before


def test_a_change_never_takes_the_place_of_what_it_cannot_read(whole, tmp_path):
    folder = tmp_path / "book"
    shutil.copytree(whole, folder)
    with closing(sqlite3.connect(folder / "catalogue.sqlite")) as db, db:
        db.execute("UPDATE record SET body = '{' WHERE kind = 'snag'")
    assert run("snags", "list", "--logbook", folder).returncode == 7
    refused = run("snags", "add", "Heron", "second", "--part", "pack.rx1", "--logbook", folder)
    assert refused.returncode == 6
    assert "snag" in refused.stderr
    assert "check --repair" in refused.stderr
    assert run("check", "--repair", "--logbook", folder).returncode == 0
    assert "bulging" in run("snags", "list", "--logbook", folder).stdout
