"""A logbook never deletes what it does not know, and reading it changes nothing, whatever became of its catalogue."""

import os
import shutil
import sqlite3
from dataclasses import replace

import pytest
from front import everything, run
from made import draft, source

from spooldown.logbook.book import Logbook
from spooldown.logbook.note import FlightNote
from spooldown.problems import LogbookProblem

READING = (
    ["flights"], ["flights", "--json"], ["aircraft"], ["packs"], ["engines"], ["layouts"], ["range-check", "list"],
    ["note", "--blank"], ["export", "telemetry", "--flight", "heron-2031-04-05-a"],
    ["remove", "--dry-run", "heron-2031-04-05-b"], ["pages", "--dry-run"],
)  # fmt: skip


def empty(book, old):
    book.catalogue.write_bytes(b"")


def missing(book, old):
    book.catalogue.unlink()


def older(book, old):
    shutil.copy(old, book.catalogue)


def tables_without_rows(book, old):
    with sqlite3.connect(book.catalogue) as db:
        db.execute("PRAGMA foreign_keys = ON")
        db.execute("DELETE FROM import")
    db.close()


@pytest.fixture
def kept(tmp_path):
    """Five flights; the first one's catalogue is the older copy."""
    with Logbook(tmp_path / "book") as book:
        book.add([source("one.csv", "11")], [draft()], aircraft="Heron")
        old = tmp_path / "old.sqlite"
        shutil.copy(book.catalogue, old)
        book.add([source("two.csv", "22")], [draft(1, rows=300), draft(2, rows=200, utc_start=None)], aircraft="Heron")
        joined = [source("three.csv", "33"), source("four.csv", "44")]
        book.add(joined, [draft(rows=250)], aircraft="Heron")
        book.add([source("five.csv", "55")], [draft(rows=150)])
        return book, old


@pytest.mark.parametrize("spoil", [empty, missing, older, tables_without_rows])
def test_flights_are_read_from_their_own_files_and_nothing_changes(kept, spoil):
    book, old = kept
    with Logbook(book.folder) as before:
        flights = before.flights()
        sources = {digest: before.known(digest) for digest in ("11", "22", "33", "44", "55")}
    spoil(book, old)
    files = everything(book.folder)
    with Logbook(book.folder) as again:
        found = again.flights()
        assert [again.telemetry(f.flight_id).table.num_rows for f in found] == [f.rows for f in found]
        assert any("did not know" in str(s) for s in again.said)
        assert {digest: again.known(digest) for digest in sources} == sources
    assert {f.flight_id: replace(f, import_id=0) for f in found} == {
        f.flight_id: replace(f, import_id=0) for f in flights
    }
    for words in READING:
        done = run(*words, "--logbook", book.folder)
        assert done.returncode == 0, (words, done.stderr)
        assert "did not know" in done.stderr
    # Kept results beside the flights can be made again at any time; a list that shows figures keeps them.
    now = everything(book.folder)
    assert {k: v for k, v in now.items() if not k.startswith("cache/")} == files


@pytest.mark.parametrize("spoil", [empty, missing, older, tables_without_rows])
def test_the_next_change_takes_them_in(kept, spoil):
    book, old = kept
    ids = {p.stem for p in book.flights_folder.iterdir()}
    telemetry = everything(book.flights_folder)
    spoil(book, old)
    done = run("note", "heron-2031-04-05-b", "--remarks", "calm", "--logbook", book.folder)
    assert done.returncode == 0
    assert "taken in" in done.stderr
    assert everything(book.flights_folder) == telemetry
    with Logbook(book.folder) as again:
        assert again.said == []
        assert {f.flight_id for f in again.flights()} == ids
        assert again.notes()["heron-2031-04-05-b"] == FlightNote(remarks="calm")
        with pytest.raises(LogbookProblem, match="already in the logbook as heron-2031-04-05-b"):
            again.add([source("again.csv", "22")], [draft()])
        assert again.flight("heron-2031-04-05-c").sources == ("three.csv", "four.csv")
        assert again.add([source("six.csv", "66")], [draft()], aircraft="Heron") == ["heron-2031-04-05-d"]


def test_a_row_whose_file_has_its_temporary_name_is_a_whole_flight(kept):
    book, _ = kept
    path = book.telemetry_path("heron-2031-04-05-b")
    os.replace(path, path.with_name(path.name + ".part"))
    before = everything(book.folder)
    with Logbook(book.folder) as again:
        assert again.telemetry("heron-2031-04-05-b").table.num_rows == 300
        assert everything(book.folder) == before
        again.set_setting("title", "x")
        assert path.exists()
        assert again.telemetry("heron-2031-04-05-b").table.num_rows == 300


def test_opening_to_read_cannot_write(kept):
    book, _ = kept
    with Logbook(book.folder) as again, pytest.raises(sqlite3.OperationalError, match="readonly"):
        again._db.execute("DELETE FROM flight")


def test_a_removal_cut_off_before_its_commit_leaves_the_flight(kept, monkeypatch):
    book, _ = kept
    with Logbook(book.folder) as again:
        flights = again.flights()
        monkeypatch.setattr(Logbook, "_take_back", lambda *_: None)  # the process is gone

        def cut(*_):
            raise KeyboardInterrupt

        with monkeypatch.context() as patch:
            patch.setattr("spooldown.logbook.store.flush_folder", cut)
            with pytest.raises(KeyboardInterrupt):
                again.remove(["heron-2031-04-05-b"])
    with Logbook(book.folder) as again:
        assert again.flights() == flights
        assert again.telemetry("heron-2031-04-05-b").table.num_rows == 300
        again.set_setting("title", "x")
        assert (book.flights_folder / "heron-2031-04-05-b.parquet").exists()
        again.remove(["heron-2031-04-05-b"])
        assert not list(book.flights_folder.glob("heron-2031-04-05-b*"))
