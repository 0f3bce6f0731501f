"""A logbook never deletes what it does not know, and reading it changes nothing, whatever became of its catalogue."""

import os
import shutil
import sqlite3
from contextlib import closing

import pytest
from front import everything, run, said_once
from made import draft, source
from msgspec.structs import replace

from spooldown.logbook.book import Logbook
from spooldown.logbook.note import FlightNote
from spooldown.problems import LogbookProblem
from spooldown.upkeep.checking import check

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
        again.db.execute("DELETE FROM flight")


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


def other_program(catalogue, kept):
    with closing(sqlite3.connect(catalogue)) as db:
        db.execute("CREATE TABLE contact (name TEXT)")


def other_tables_of_the_same_name(catalogue, kept):
    with closing(sqlite3.connect(catalogue)) as db:
        db.execute("CREATE TABLE schema_version (version)")
        db.execute("INSERT INTO schema_version VALUES (?)", ("one",))
        db.commit()


def schema_without_tables(catalogue, kept):
    with closing(sqlite3.connect(catalogue)) as db:
        db.execute("CREATE TABLE schema_version (version INTEGER NOT NULL)")
        db.execute("INSERT INTO schema_version VALUES (3)")
        db.commit()


def other_logbook(catalogue, kept):
    with Logbook(kept / "other") as book:
        book.add([source("far.csv", "77")], [draft(rows=120)], aircraft="Gull")
        book.note({i: FlightNote(remarks="far away") for i in book.flight_ids()})
    shutil.copy(book.catalogue, catalogue)


def other_logbook_with_the_same_names(catalogue, kept):
    with Logbook(kept / "other") as book:
        book.add([source("far.csv", "77")], [draft(n, rows=110 + n) for n in range(1, 5)], aircraft="Heron")
    shutil.copy(book.catalogue, catalogue)


def folder(catalogue, kept):
    catalogue.mkdir()


def pipe(catalogue, kept):
    os.mkfifo(catalogue)


def dangling(catalogue, kept):
    catalogue.symlink_to("nowhere")


@pytest.mark.parametrize(
    "put",
    [other_program, other_tables_of_the_same_name, schema_without_tables, other_logbook,
     other_logbook_with_the_same_names, folder, pipe, dangling],
)  # fmt: skip
def test_a_catalogue_that_is_not_this_logbooks_is_refused_and_set_aside(kept, put, tmp_path):
    book, _ = kept
    with Logbook(book.folder) as before:
        before.note({"heron-2031-04-05-b": FlightNote(remarks="calm")})
        before.remove(["heron-2031-04-05-c"])
        flights, notes, in_bin = before.flights(), before.notes(), before.in_bin()
    entered = (book.folder / "entered.jsonl").read_bytes()
    book.catalogue.unlink()
    put(book.catalogue, tmp_path)
    if put is not other_logbook_with_the_same_names:  # there each flight's file is told as damaged instead
        for words in (["flights"], ["note", "heron-2031-04-05-b", "--remarks", "x"]):
            done = run(*words, "--logbook", book.folder)
            assert done.returncode == 6
            assert "check --repair" in said_once(done)
    (damage,) = check(book.folder)
    assert not damage.done
    done = run("check", "--repair", "--logbook", book.folder)
    assert (done.returncode, done.stdout.count("set aside as aside/catalogue-"), done.stderr) == (0, 1, "")
    assert check(book.folder) == []
    assert any(p.name.startswith("catalogue-") for p in (book.folder / "aside").iterdir())
    with Logbook(book.folder) as again:
        assert again.flight_ids() == sorted(f.flight_id for f in flights)
        assert [again.telemetry(f.flight_id).table.num_rows for f in again.flights()] == [
            again.flight(f.flight_id).rows for f in again.flights()
        ]
        assert (again.notes(), again.in_bin()) == (notes, in_bin)
        assert [r.removed_at for r in again.removed()] == [""]  # nothing in the folder says it
    assert "not known" in run("bin", "list", "--logbook", book.folder).stdout
    assert '"removed": null' in run("bin", "list", "--json", "--logbook", book.folder).stdout
    assert (book.folder / "entered.jsonl").read_bytes().startswith(entered)


def test_another_programs_database_is_never_touched(tmp_path):
    (tmp_path / "app").mkdir()
    other_program(tmp_path / "app" / "catalogue.sqlite", tmp_path)
    before = everything(tmp_path)
    for words in (["flights"], ["check", "--repair"], ["note", "x", "--remarks", "y"]):
        assert "name another folder" in said_once(run(*words, "--logbook", tmp_path / "app"))
    assert everything(tmp_path) == before


def test_what_was_entered_is_kept_when_its_file_is_written_anew(kept):
    """A catalogue that has seen more than the file holds may be another logbook's: what the file held stays."""
    book, _ = kept
    with Logbook(book.folder) as again:
        again.set_setting("title", "x" * 500)
    path = book.folder / "entered.jsonl"
    path.write_bytes(path.read_bytes()[:150])
    left = path.read_bytes()
    with Logbook(book.folder) as again:
        again.set_setting("title", "new")
    (aside,) = (book.folder / "aside").glob("entered-*.jsonl")
    assert aside.read_bytes() == left
    assert check(book.folder) == []
