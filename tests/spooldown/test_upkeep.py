"""Verifying, repairing, backing up and restoring a logbook; the bin."""

import json
import os
import random
import shutil
import sqlite3
import subprocess
import sys
import time
import zipfile
from contextlib import closing, suppress
from datetime import datetime
from itertools import pairwise
from typing import ClassVar

import pytest
from front import everything, run, said_once
from made import draft, register_example, source
from msgspec.structs import replace

from analyser.core.aircraft import FuelNote
from analyser.season.link.range_check import RangeCheck
from spooldown.logbook import archive, bin, entered, schema
from spooldown.logbook.book import Logbook
from spooldown.logbook.codec import to_json
from spooldown.logbook.note import FlightNote
from spooldown.logbook.store import file_sha256
from spooldown.problems import LogbookProblem, NotFoundProblem
from spooldown.upkeep.checking import check

IDS = [f"heron-2031-04-05-{letter}" for letter in "abc"]
LOG = "Time (s),RX1 Voltage (V),Wibble\n" + "".join(f"{i / 10},{8 + i % 7 / 100},{i}\n" for i in range(80))


@pytest.fixture
def folder(tmp_path):
    """Three flights of two logs, noted, assigned, with range checks, a register, a mapping and one in the bin."""
    from datetime import date

    with Logbook(tmp_path / "book") as book:
        register_example(book)
        book.add([source("one.csv", "11")], [draft(1), draft(2, rows=300)], aircraft="Heron")
        book.add([source("two.csv", "22")], [draft(rows=200)], aircraft="Heron")
        book.add([source("three.csv", "33")], [draft(rows=100)], aircraft="Heron")
        book.note({IDS[0]: FlightNote(remarks="windy"), IDS[1]: FlightNote(fuel={"left": FuelNote(before_ml=900)})})
        book.add_range_checks([("Heron", RangeCheck(date(2031, 4, 1), "rx1", 1, 60.0, 30.0, "nose to pilot", ""))])
        book.set_setting("title", "Kept")
        book.note({"heron-2031-04-05-d": FlightNote(remarks="binned")})
        book.remove(["heron-2031-04-05-d"])
        book.assign([IDS[2]], "Gull")
    return tmp_path / "book"


def state(folder):
    """What a logbook holds; when flights were put into the bin left out, which a catalogue made anew doesn't know."""
    with Logbook(folder) as book:
        rows = [(f.flight_id, f.aircraft, f.rows, f.telemetry_sha256, f.sources) for f in book.flights()]
        removed = [replace(r, removed_at="") for r in book.removed()]
        return rows, book.notes(), [c for _, *c in book.range_checks()], book.setting("title"), removed


def test_a_whole_logbook_has_nothing_to_tell(folder):
    before = everything(folder)
    assert check(folder) == []
    done = run("check", "--logbook", folder)
    assert (done.returncode, done.stdout) == (0, "Every file is as it was stored.\n")
    assert everything(folder) == before


def test_a_line_that_a_killed_writer_left_is_no_damage(folder):
    """The line of a change is on the disk before its commit: killed in between, it is entered with the next change."""
    with Logbook(folder) as book:
        note = to_json(book.notes()[IDS[0]].updated(FlightNote(remarks="left behind"))).decode()
    with (folder / "entered.jsonl").open("ab") as file:
        file.write(entered.line_of([["note", IDS[0], note], ["owner", IDS[1], "Gull"]]))
    assert not [d for d in check(folder) if "damaged" in str(d)]
    assert not [d for d in check(folder, repair=True) if "damaged" in str(d)]
    assert check(folder) == []
    with Logbook(folder) as book:
        assert book.notes()[IDS[0]].remarks == "left behind"
        assert book.flight(IDS[1]).aircraft == "Gull"


def test_no_catalogue_or_an_emptied_one_is_made_again_with_all_that_was_entered(folder):
    before = state(folder)
    whole = (folder / "catalogue.sqlite").read_bytes()
    for spoilt in (None, b""):
        (folder / "catalogue.sqlite").unlink()
        if spoilt is not None:
            (folder / "catalogue.sqlite").write_bytes(spoilt)
        assert any("did not know 3 flights" in str(d) for d in check(folder))
        assert all(d.done for d in check(folder, repair=True))
        assert check(folder) == []
        after = state(folder)
        assert after[:4] == before[:4]
        assert [r.flight_id for r in after[4]] == ["heron-2031-04-05-d"]
        (folder / "catalogue.sqlite").write_bytes(whole)


def test_every_kind_of_damage_to_the_catalogue_is_told_and_repaired(folder):
    before = state(folder)
    whole = (folder / "catalogue.sqlite").read_bytes()
    draw = random.Random(3)
    told = 0
    for _ in range(14):
        data = bytearray(whole)
        if draw.random() < 0.3:
            data = data[: draw.randrange(1, len(data))]
        else:
            start = draw.randrange(len(data))
            data[start : start + 200] = draw.randbytes(min(200, len(data) - start))
        (folder / "catalogue.sqlite").write_bytes(data)
        found = check(folder)
        told += bool(found)
        for words in (["flights"], ["check"], ["pages", "--dry-run"]):
            done = run(*words, "--logbook", folder)
            assert done.returncode in (0, 6, 7), done.stderr
            assert "Traceback" not in done.stderr
            assert "fault in spooldown" not in done.stderr
        check(folder, repair=True)
        assert check(folder) == []
        with Logbook(folder) as book:
            assert set(book.flight_ids()) >= set(IDS)
            assert all(book.telemetry(i).table.num_rows == f for i, f in zip(IDS, (500, 300, 200), strict=True))
            if found and any("catalogue" in str(d) and "damaged" in str(d) for d in found):
                assert book.notes()[IDS[0]].remarks == "windy"
        shutil.rmtree(folder / "aside", ignore_errors=True)
    assert told >= 4  # the rest fell on bytes that belong to nothing
    (folder / "catalogue.sqlite").write_bytes(whole)
    assert state(folder) == before


def test_damaged_cells_are_made_anew(folder):
    with sqlite3.connect(folder / "catalogue.sqlite") as db:
        db.execute("UPDATE flight SET utc_start = 'noon', channels = '{' WHERE flight_id = ?", (IDS[0],))
        db.execute("UPDATE note SET body = 'xx' WHERE flight_id = ?", (IDS[1],))
        db.execute("UPDATE range_check SET day = '2031-99-99'")
    db.close()
    done = run("flights", "--logbook", folder)
    assert done.returncode == 7
    assert f"row of flight {IDS[0]} is damaged (utc_start, channels)" in done.stderr
    assert len(check(folder)) == 3
    assert all(d.done for d in check(folder, repair=True))
    assert check(folder) == []
    with Logbook(folder) as book:
        assert [f.flight_id for f in book.flights()] == IDS
        assert book.notes()[IDS[1]].fuel["left"].before_ml == 900
        assert [c.day.isoformat() for _, _, c in book.range_checks()] == ["2031-04-01"]


def test_a_damaged_flight_is_set_aside_with_its_notes_and_the_others_go_on(folder):
    with Logbook(folder) as book:
        path = book.telemetry_path(IDS[0])
    data = bytearray(path.read_bytes())
    data[90] ^= 1
    path.write_bytes(data)
    (damage,) = check(folder)
    assert f"flight {IDS[0]}" in str(damage)
    assert "is damaged" in str(damage)
    done = run("check", "--repair", "--logbook", folder)
    assert done.returncode == 0
    assert "set aside into the bin" in done.stdout
    assert check(folder) == []
    with Logbook(folder) as book:
        assert book.flight_ids() == IDS[1:]
        assert next(r for r in book.removed() if r.flight_id == IDS[0]).noted


def test_a_damaged_flight_is_read_again_from_its_log(tmp_path):
    (tmp_path / "logs").mkdir()
    log = tmp_path / "logs" / "a.csv"
    log.write_text(LOG)
    where = ("--logbook", tmp_path / "book")
    assert run("import", log, "--aircraft", "Heron", *where).returncode == 0
    with Logbook(tmp_path / "book") as book:
        (flight,) = book.flights()
        book.note({flight.flight_id: FlightNote(remarks="windy")})
        before = book.telemetry(flight.flight_id).table
        book.telemetry_path(flight.flight_id).unlink()
    log.rename(tmp_path / "logs" / "renamed.csv")
    time.sleep(1.0)  # a file read again still says when its flight was imported, to the second
    done = run("check", "--repair", "--logs", tmp_path / "logs", *where)
    assert done.returncode == 0, done.stderr
    assert "read again from logs/renamed.csv" in done.stdout
    with Logbook(tmp_path / "book") as book:
        assert book.telemetry(flight.flight_id).table.equals(before)
        assert book.notes()[flight.flight_id].remarks == "windy"
    assert check(tmp_path / "book") == []


def test_the_bin_gives_back_and_is_emptied(folder):
    where = ("--logbook", folder)
    before = state(folder)
    assert run("remove", IDS[0], IDS[1], "--yes", *where).returncode == 0
    assert not list((folder / "flights").glob(f"{IDS[0]}*"))
    listed = json.loads(run("bin", "list", "--json", *where).stdout)
    assert {r["flight"] for r in listed} == {IDS[0], IDS[1], "heron-2031-04-05-d"}
    assert check(folder) == []
    assert run("bin", "restore", IDS[0], IDS[1], *where).returncode == 0
    assert state(folder) == before
    with Logbook(folder) as book:
        book.remove([IDS[2]])
        book.add([source("two.csv", "22")], [draft(rows=200)], aircraft="Heron")
        with pytest.raises(LogbookProblem, match="imported again as heron-2031-04-05-e"):
            book.bring_back([IDS[2]])
        with pytest.raises(NotFoundProblem, match="no flight in the bin"):
            book.bring_back(["nothing"])
    assert run("bin", "drop", IDS[2], "--yes", *where).returncode == 0
    assert run("bin", "empty", "--yes", *where).returncode == 0
    assert run("bin", "list", *where).stdout == "The bin is empty.\n"
    assert list((folder / "bin").iterdir()) == []
    assert check(folder) == []


def test_a_backup_restores_to_the_same_logbook(folder, tmp_path):
    file = tmp_path / "kept.zip"
    assert run("backup", file, "--logbook", folder).returncode == 0
    assert zipfile.ZipFile(file).testzip() is None  # another reader's own check
    done = run("restore", file, "--logbook", tmp_path / "again")
    assert done.returncode == 0, done.stderr
    assert state(tmp_path / "again") == state(folder)
    with Logbook(folder) as before, Logbook(tmp_path / "again") as after:
        assert after.removed() == before.removed()
    assert check(tmp_path / "again") == []
    apart = {"catalogue.sqlite"}
    ours = {k: v for k, v in everything(folder).items() if k not in apart}
    assert {k: v for k, v in everything(tmp_path / "again").items() if k not in apart} == ours
    again = run("restore", file, "--logbook", tmp_path / "again")
    assert again.returncode == 6
    assert "new folder" in again.stderr
    assert sorted(p.name for p in tmp_path.iterdir()) == ["again", "book", "kept.zip"]


def test_no_flipped_bit_of_a_backup_is_restored(folder, tmp_path):
    file = tmp_path / "kept.zip"
    with Logbook(folder) as book:
        archive.back_up(book, file)
    whole = file.read_bytes()
    expected = None
    draw = random.Random(5)
    for turn in range(40):
        data = bytearray(whole)
        if turn % 4:
            data[draw.randrange(len(data))] ^= 1 << draw.randrange(8)
        else:
            data = data[: draw.randrange(len(data))]
        file.write_bytes(data)
        try:
            archive.restore(file, tmp_path / "again")
        except LogbookProblem as problem:
            assert "kept.zip" in str(problem)  # noqa: PT017 - some bits of a ZIP file mean nothing
            assert sorted(p.name for p in tmp_path.iterdir()) == ["book", "kept.zip"]
        else:
            expected = expected or state(folder)
            assert state(tmp_path / "again") == expected
            shutil.rmtree(tmp_path / "again")


@pytest.mark.parametrize("name", ["../evil.parquet", "flights/../../x.parquet", "/etc/x.toml", "pages/x.html"])
def test_an_archive_writes_nowhere_else(tmp_path, name):
    file = tmp_path / "evil.zip"
    with zipfile.ZipFile(file, "w") as made:
        made.writestr(name, b"x")
        made.writestr("catalogue.sqlite", b"")
        files = {n: ["2d711642b726b04401627ca9fbac32f5c8530fb1903cc4db02258717921a4881", 1] for n in (name,)}
        files["catalogue.sqlite"] = ["e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855", 0]
        made.writestr("manifest.json", json.dumps({"format": archive.FORMAT, "files": files}))
    with pytest.raises(LogbookProblem, match="no file of a logbook"):
        archive.restore(file, tmp_path / "deep" / "again")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["evil.zip"]


def test_a_backup_tells_of_what_is_damaged(folder, tmp_path):
    with Logbook(folder) as book:
        book.telemetry_path(IDS[0]).unlink()
        book.telemetry_path(IDS[1]).write_bytes(b"x")
    done = run("backup", tmp_path / "kept.zip", "--logbook", folder)
    assert done.returncode == 7
    assert f"flight {IDS[0]} is missing" in done.stderr
    assert f"flight {IDS[1]} is damaged" in done.stderr
    assert run("restore", tmp_path / "kept.zip", "--logbook", tmp_path / "again").returncode == 0
    with Logbook(tmp_path / "again") as book:
        assert book.telemetry(IDS[2]).table.num_rows == 200


@pytest.fixture
def small_disk(tmp_path):
    """A disk of one megabyte of its own."""
    place = tmp_path / "disk"
    place.mkdir()
    made = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=1m", "none", place], capture_output=True, check=False)
    if made.returncode:
        pytest.skip("no disk can be mounted here")
    yield place
    subprocess.run(["umount", place], check=True)


def fill_up(disk):
    with (disk / "filler").open("wb", buffering=0) as filler, suppress(OSError):
        while True:
            filler.write(bytes(4096))


def test_a_full_disk_loses_nothing_and_room_can_be_made(small_disk):
    where = ("--logbook", small_disk / "book")
    with Logbook(small_disk / "book") as book:
        for n in range(5):
            book.add([source(f"{n}.csv", f"{n:02}")], [draft(rows=5000)], aircraft="Heron")
        book.remove([IDS[0]])
    fill_up(small_disk)
    before = state(small_disk / "book")
    for words in (
        ["remove", IDS[1], "--yes"],
        ["note", IDS[1], "--remarks", "full"],
        ["backup", small_disk / "b.zip"],
    ):
        done = run(*words, *where)
        if done.returncode:
            assert done.returncode == 6, done.stderr
            assert "No space left" in done.stderr or "full" in done.stderr
            assert "bin empty" in done.stderr or "room" in done.stderr
    assert run("flights", *where).returncode == 0
    assert state(small_disk / "book")[0][-1] == before[0][-1]
    done = run("bin", "empty", "--yes", *where)
    assert done.returncode == 0, done.stderr
    assert run("remove", IDS[2], "--yes", *where).returncode == 0
    os.unlink(small_disk / "filler")
    assert check(small_disk / "book") == []


def test_a_disk_that_can_hold_no_more_files_is_told_as_full(small_disk):
    """Every entry of the file system is taken, as df -i shows; SQLite can only say that it cannot open its journal."""
    with Logbook(small_disk / "book") as book:
        book.add([source("a.csv", "01")], [draft(rows=60)], aircraft="Heron")
    found = os.statvfs(small_disk)
    taken = f"remount,nr_inodes={found.f_files - found.f_ffree}"
    subprocess.run(["mount", "-o", taken, small_disk], check=True)
    said = said_once(run("note", IDS[0], "--remarks", "x", "--logbook", small_disk / "book"))
    assert "free some space" in said
    assert "permissions" not in said
    assert run("remove", IDS[0], "--for-good", "--yes", "--logbook", small_disk / "book").returncode == 0
    assert check(small_disk / "book") == []


def test_a_disk_that_fails_is_no_full_one_and_nothing_is_deleted_in_another_way(folder, monkeypatch):
    def broken(*_):
        raise sqlite3.OperationalError("disk I/O error")

    before = state(folder)
    monkeypatch.setattr("spooldown.logbook.bin.doom", broken)
    for words in (("remove", IDS[0], "--for-good", "--yes"), ("bin", "empty", "--yes")):
        assert "check the disk" in said_once(run(*words, "--logbook", folder))
        assert (state(folder), check(folder)) == (before, [])


def test_a_full_disk_takes_away_whole_and_puts_back_what_it_had_set_aside(small_disk, tmp_path):
    """A small flight makes too little room for the catalogue's journal: nothing may hang on it."""
    book = small_disk / "book"
    with Logbook(book) as made:
        for n in range(2):
            made.add([source(f"{n}.csv", f"{n:02}")], [draft(rows=60)], aircraft="Heron")
        made.note({IDS[0]: FlightNote(remarks="windy")})
        made.remove([IDS[1]])
    whole = (book / "catalogue.sqlite").read_bytes()
    fill_up(small_disk)
    (book / "catalogue.sqlite").write_bytes(b"x" * 16 + whole[16:])
    assert "full" in said_once(run("check", "--repair", "--logbook", book))
    assert (book / "catalogue.sqlite").read_bytes()[16:] == whole[16:]
    (book / "catalogue.sqlite").write_bytes(whole)
    assert "the backup" in said_once(run("backup", small_disk / "kept.zip", "--logbook", book))
    for words in (["remove", IDS[0], "--for-good", "--yes"], ["bin", "empty", "--yes"]):
        done = run(*words, "--logbook", book)
        assert done.returncode == 0, done.stderr
        assert check(book) == []
    assert run("flights", "--logbook", book).stdout.startswith("No flights")
    with closing(sqlite3.connect(book / "catalogue.sqlite")) as db:
        assert db.execute("PRAGMA journal_mode").fetchone() == ("delete",)


def test_a_record_is_kept_changed_and_found_again_after_its_catalogue(folder):
    body = json.dumps({"volume_ml": 850.0, "remarks": "Möwe"}, ensure_ascii=False)
    with Logbook(folder) as book:
        book.change_records("filling", lambda there: {"a": body, "b": "{}"} if not there else {})
        book.change_records("filling", lambda there: {"b": None, "c": there["b"]})
        with pytest.raises(KeyError):
            book.change_records("filling", lambda there: {"a": None, "d": there["none"]})
        assert book.records("filling") == {"a": body, "c": "{}"}
        assert book.records("other") == {}
    (folder / "catalogue.sqlite").unlink()
    assert all(d.done for d in check(folder, repair=True))
    with Logbook(folder) as book:
        assert book.records("filling") == {"a": body, "c": "{}"}
    with sqlite3.connect(folder / "catalogue.sqlite") as db:
        db.execute("UPDATE record SET body = 'spoilt' WHERE name = 'a'")
        db.execute("INSERT INTO record VALUES ('filling', 'z', 'never entered')")
    assert sorted(str(d) for d in check(folder)) == [
        "the filling a in the catalogue is damaged",
        "the filling z in the catalogue is damaged",
    ]
    assert all(d.done for d in check(folder, repair=True))
    with Logbook(folder) as book:
        assert book.records("filling") == {"a": body, "c": "{}"}


def test_no_flipped_bit_in_what_was_kept_or_entered_is_silent(folder):
    """Kept results, tables, pages, what was entered, and files a person edits: each as it was written, or told."""
    assert run("pages", "--logbook", folder).returncode == 0
    assert check(folder) == []
    rng = random.Random(20311)
    places = {
        "cache": "is not what was written", "pages": "is not what was written", "columns": "is damaged",
        "entered.jsonl": "is not what was written", "register": "edited since, or damaged", "flights": "is damaged",
    }  # fmt: skip
    for name, says in places.items():
        files = [p for p in [folder / name, *(folder / name).rglob("*")] if p.is_file() and p.name != ".built.json"]
        for path in rng.sample(files, min(3, len(files))):
            data = path.read_bytes()
            at = rng.randrange(len(data) - 1)  # behind the last line end nothing is written
            spoilt = bytearray(data)
            spoilt[at] ^= 1 << rng.randrange(8)
            path.write_bytes(spoilt)
            told = " ".join(str(d) for d in check(folder))
            refused = f"{path.name}, line"  # a file a person edits, where the bit makes another key or number of it
            assert any(w in told for w in (says, "does not read", "no TOML", refused)), (path.name, at, told)
            path.write_bytes(data)
    assert check(folder) == []


def test_what_is_not_as_it_was_written_is_made_again(folder):
    assert run("pages", "--logbook", folder).returncode == 0
    page, line = folder / "pages" / "season.html", folder / "entered.jsonl"
    whole = {page: page.read_bytes(), line: line.read_bytes()}
    kept = next((folder / "cache").glob("*.zst"))
    for path in (page, line, kept):
        path.write_bytes(path.read_bytes()[:-9] + b"?" + path.read_bytes()[-8:])
    with Logbook(folder) as book:
        before = book.notes()
    assert len(check(folder, repair=True)) == 3
    assert check(folder) == []
    assert run("pages", "--logbook", folder).returncode == 0
    assert page.read_bytes() == whole[page]
    with Logbook(folder) as book:
        assert book.notes() == before
    # A catalogue that forgets which log a flight is from would take the log in again.
    with closing(sqlite3.connect(folder / "catalogue.sqlite")) as db:
        db.execute("UPDATE source SET sha256 = sha256 || 'f', name = 'other.csv'")
        db.commit()
    told = [str(d) for d in check(folder)]
    assert len(told) == len(IDS)
    assert all("(sources)" in t for t in told)
    assert all(d.done for d in check(folder, repair=True))
    assert check(folder) == []


def test_what_lies_in_the_bin_is_verified_too(folder):
    """Each flipped bit of a removed flight's file, and of what the catalogue keeps of it, is told and mended."""
    with Logbook(folder) as book:
        book.remove([IDS[0]])
    file = folder / "bin" / f"{IDS[0]}.parquet"
    whole, draw = file.read_bytes(), random.Random(5)
    for _ in range(6):
        data = bytearray(whole)
        data[draw.randrange(len(data))] ^= 1 << draw.randrange(8)
        file.write_bytes(data)
        assert ["bin" in str(d) for d in check(folder)] == [True]
    assert [bool(d.done) for d in check(folder, repair=True)] == [True]
    assert check(folder) == []  # marked: `bin list` says why
    file.write_bytes(whole)
    with Logbook(folder) as book:
        book.bring_back([IDS[0]])
        book.remove([IDS[0]])
        before = book.removed()
    for column in ("removed_at", "body"):
        with closing(sqlite3.connect(folder / "catalogue.sqlite")) as db:
            said = db.execute(f"SELECT {column} FROM removed WHERE flight_id = ?", (IDS[0],)).fetchone()[0]
            at = said.index("windy") if column == "body" else 3
            spoilt = said[:at] + chr(ord(said[at]) ^ 2) + said[at + 1 :]
            db.execute(f"UPDATE removed SET {column} = ? WHERE flight_id = ?", (spoilt, IDS[0]))
            db.commit()
        assert [f"entry of flight {IDS[0]}" in str(d) or "in the bin" in str(d) for d in check(folder)] == [True]
        assert all(d.done for d in check(folder, repair=True))
        assert check(folder) == []
        with Logbook(folder) as book:
            after = {r.flight_id: (r.noted, r.sha256) for r in book.removed()}
            assert after == {r.flight_id: (r.noted, r.sha256) for r in before}
    with Logbook(folder) as book:
        book.bring_back([IDS[0]])
        assert book.notes()[IDS[0]].remarks == "windy"


def test_the_catalogues_own_texts_and_imports_are_held_against_what_wrote_them(folder):
    """A bit in the text of a table leaves SQLite's own check silent; so does one in when a log was imported."""
    before = state(folder)
    assert check(folder) == []
    path = folder / "catalogue.sqlite"
    data = path.read_bytes()
    path.write_bytes(data.replace(b"distance_m REAL", b"distance_m REAM"))
    with closing(sqlite3.connect(path)) as db:
        assert db.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    assert "range_check" in str(check(folder)[0])
    assert all(d.done for d in check(folder, repair=True))
    assert (check(folder), state(folder)) == ([], before)
    for column, value in (("imported_at", "2031-04-06T00:00:01+00:00"), ("answers", '{"date_order": "day-fisst"}')):
        with closing(sqlite3.connect(path)) as db:
            was = db.execute(f"SELECT import_id, {column} FROM import").fetchall()
            db.execute(f"UPDATE import SET {column} = ?", (value,))
            db.commit()
        assert all(f"({column})" in str(d) for d in check(folder))
        assert all(d.done for d in check(folder, repair=True))
        assert check(folder) == []
        with closing(sqlite3.connect(path)) as db:
            assert db.execute(f"SELECT import_id, {column} FROM import").fetchall() == was


def test_flights_deleted_for_good_are_never_half_there(folder, monkeypatch):
    """A process that ends between a file and its row leaves the flight in the bin, and no damage."""

    def ended(*whatever):
        raise KeyboardInterrupt

    monkeypatch.setattr("spooldown.logbook.bin.empty", ended)
    with Logbook(folder) as book, pytest.raises(KeyboardInterrupt):
        book.delete([IDS[1]])
    assert check(folder) == []
    with Logbook(folder) as book:
        assert IDS[1] not in book.flight_ids()
        assert [r.flight_id for r in book.removed() if r.emptying] == [IDS[1]]
    monkeypatch.undo()
    with Logbook(folder) as book:
        assert IDS[1] in book.empty_bin()
    assert check(folder) == []


def test_what_another_process_has_in_hand_is_no_damage(folder):
    """While a flight is being stored, its file is there and its row is not; a reader sees no dead writer in it."""
    with Logbook(folder) as book, book.writing():
        book.add([source("four.csv", "44")], [draft(rows=150)], aircraft="Heron")
        assert list((folder / "flights").glob("*.part"))
        assert check(folder) == []
    (folder / "flights" / "heron-2031-04-07-a.parquet.part").write_bytes(b"half")
    assert ["left of a writer that died" in str(d) for d in check(folder)] == [True]


def test_kept_results_go_with_the_flight_and_not_before(folder):
    assert run("pages", "--logbook", folder).returncode == 0
    kept = lambda: {p.name for p in (folder / "cache").glob(f"{IDS[0]}.*")}  # noqa: E731
    before = kept()
    assert before
    with Logbook(folder) as book:
        book.remove([IDS[0]])
    assert (kept(), check(folder)) == (before, [])
    with Logbook(folder) as book:
        book.empty_bin([IDS[0]])
    assert (kept(), check(folder)) == (set(), [])


LIMITED = """
import resource, signal, sys
resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[1]), resource.RLIM_INFINITY))
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
sys.argv = ["spooldown", *sys.argv[2:]]
import spooldown.cli
spooldown.cli.main()
"""


def test_a_change_that_the_disk_refused_never_comes_later(folder, tmp_path):
    """SQLite itself undoes a change that it cannot write; what lay beside it is taken back then, too."""

    def limited(size, *words):
        done = subprocess.run(
            [sys.executable, "-c", LIMITED, str(size), *map(str, words)], capture_output=True, text=True, check=False
        )
        assert (done.returncode, len(done.stderr.splitlines())) == (6, 1), done.stderr

    log, new = tmp_path / "a.csv", tmp_path / "new"
    log.write_text("Time (s),RX1 Voltage (V)\n" + "".join(f"{i / 10},{8 + i % 7 / 100}\n" for i in range(60)))
    limited(20_000, "import", log, "--logbook", new)
    assert not new.exists()
    before, size = state(folder), (folder / "entered.jsonl").stat().st_size
    limited(size + 2_000, "note", IDS[0], "--remarks", "x" * 900, "--logbook", folder)
    assert ((folder / "entered.jsonl").stat().st_size, check(folder), state(folder)) == (size, [], before)


def test_a_logbook_whose_only_flight_is_deleted_is_sound(tmp_path):
    with Logbook(tmp_path / "book") as book:
        book.delete(book.add([source()], [draft(rows=50)], aircraft="Heron"))
        assert check(tmp_path / "book") == []
        book.set_setting("title", "x")
    assert check(tmp_path / "book") == []


def test_an_id_that_is_used_again_brings_nothing_of_the_flight_that_is_gone(tmp_path):
    """A flight deleted for good takes its note and its owner along, also where the catalogue is made anew."""
    with Logbook(tmp_path / "book") as book:
        (first,) = book.add([source("1.csv", "01")], [draft()], aircraft="Heron")
        book.note({first: FlightNote(remarks="of the first")})
        book.assign([first], "Gull")
        book.delete([first])
        (again,) = book.add([source("2.csv", "02")], [draft(rows=200)], aircraft="Heron")
        assert again == first
    assert check(tmp_path / "book") == []
    (tmp_path / "book" / "catalogue.sqlite").unlink()
    with Logbook(tmp_path / "book") as book:
        book.set_setting("title", "anew")
        assert (book.notes(), book.flight(first).aircraft) == ({}, "Heron")
    assert check(tmp_path / "book") == []


def test_a_name_in_the_catalogue_that_nobody_gave_and_a_lost_end_are_told(folder):
    with Logbook(folder) as book:
        before = book.records("text")
    with closing(sqlite3.connect(folder / "catalogue.sqlite")) as db:
        for column, value in (("kind", "tgxt"), ("name", "register/hgron.toml")):
            db.execute(f"UPDATE record SET {column} = ?", (value,))
            db.commit()
            assert ["record" not in str(d) and value in str(d) for d in check(folder)] == [True]
            assert all(d.done for d in check(folder, repair=True))
            assert check(folder) == []
            with Logbook(folder) as book:
                assert book.records("text") == before
    path = folder / "entered.jsonl"
    lines = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(b"".join(lines[:-1]))
    whole = state(folder)
    assert ["has lost its end" in str(d) for d in check(folder)] == [True]
    assert all(d.done for d in check(folder, repair=True))
    assert (check(folder), state(folder)) == ([], whole)


def test_what_an_earlier_version_kept_or_did_not_say_is_no_damage(folder):
    """Its kept results have no checksum; its telemetry files name neither their logs nor their sizes."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    (folder / "cache").mkdir(exist_ok=True)
    for name in (IDS[0], "season"):
        with pa.output_stream(str(folder / "cache" / f"{name}.json.zst"), compression="zstd") as stream:
            stream.write(b"5c" * 32 + b'\n{"flight_id": "x"}')
    path = folder / "flights" / f"{IDS[0]}.parquet"
    table = pq.read_table(path)
    said = {k.decode(): v.decode() for k, v in table.schema.metadata.items() if not k.startswith(b"source_")}
    said["source_sha256"] = table.schema.metadata[b"source_sha256"].decode()
    with pq.ParquetWriter(path, table.schema.remove_metadata(), store_schema=False) as writer:
        writer.write_table(table.replace_schema_metadata(None))
        writer.add_key_value_metadata(said)
    with closing(sqlite3.connect(folder / "catalogue.sqlite")) as db:
        db.execute("UPDATE flight SET telemetry_sha256 = ? WHERE flight_id = ?", (file_sha256(path), IDS[0]))
        db.commit()
    assert check(folder) == []
    assert check(folder, repair=True) == []
    with closing(sqlite3.connect(folder / "catalogue.sqlite")) as db:
        db.execute("UPDATE source SET sha256 = 'ff' || sha256")
        db.commit()
    assert any("(sources)" in str(d) and IDS[0] in str(d) for d in check(folder))


def test_a_backup_takes_the_place_of_nothing_but_a_backup(folder, tmp_path):
    before = everything(folder)
    where = ("--logbook", folder)
    for inside in ("catalogue.sqlite", "kept.zip", f"flights/{IDS[0]}.parquet"):
        assert "lies in the logbook itself" in said_once(run("backup", folder / inside, *where))
    (tmp_path / "accounts.zip").write_bytes(b"the club's money")
    assert "no backup of a logbook" in said_once(run("backup", tmp_path / "accounts.zip", *where))
    assert (tmp_path / "accounts.zip").read_bytes() == b"the club's money"
    assert everything(folder) == before
    for _ in range(2):
        assert run("backup", tmp_path / "kept.zip", *where).returncode == 0
    (tmp_path / "real").mkdir()
    (tmp_path / "link").symlink_to("real")
    (tmp_path / "dangling").symlink_to("new")
    for name in ("link", "dangling"):
        assert run("restore", tmp_path / "kept.zip", "--logbook", tmp_path / name).returncode == 0
        assert state(tmp_path / name) == state(folder)
        assert (tmp_path / name).is_symlink()


def test_a_flights_file_that_somebody_renamed_gets_its_name_again(folder):
    before = state(folder)
    for new in ("flights/our best flight.parquet", "flights/Heron-A.parquet", "moved.parquet"):
        os.replace(folder / "flights" / f"{IDS[0]}.parquet", folder / new)
        assert ["is missing" in str(d) for d in check(folder)] == [True]
        (damage,) = check(folder, repair=True)
        assert f"found as {new}" in str(damage)
        assert (check(folder), state(folder)) == ([], before)


@pytest.mark.parametrize("number", [len(schema.MIGRATIONS) ^ (1 << bit) for bit in (0, 1, 2, 3, 6)] + [-6, "six", None])
def test_a_damaged_schema_number_is_told_from_a_newer_version_and_put_right(folder, number):
    before = state(folder)
    with closing(sqlite3.connect(folder / "catalogue.sqlite")) as db, db:
        if number is None:
            db.execute("DELETE FROM schema_version")
        else:
            db.execute("UPDATE schema_version SET version = ?", (number,))
    shown = "missing" if number is None else number
    said = f"the number of its schema is {shown}, its tables are those of {len(schema.MIGRATIONS)}"
    assert state(folder) == before
    with Logbook(folder) as book:
        assert said in str(book.said[0])
        with pytest.raises(LogbookProblem, match=said):
            book.set_setting("title", "no")
    (damage,) = check(folder)
    assert said in str(damage)
    (damage,) = check(folder, repair=True)
    assert str(damage.done) == "the number is put right"
    assert check(folder) == []
    assert state(folder) == before
    assert not (folder / "aside").exists()


def test_every_migration_changes_what_the_tables_say():
    made = [schema._made(n) for n in range(len(schema.MIGRATIONS) + 1)]
    assert all(earlier != later for earlier, later in pairwise(made))


def test_tables_that_somebody_laid_beside_ours_are_no_newer_version(folder):
    with closing(sqlite3.connect(folder / "catalogue.sqlite")) as db, db:
        db.execute("CREATE TABLE own (x)")
        db.execute("UPDATE schema_version SET version = 3")
    assert "those of 6" in str(check(folder)[0])  # version 3 wrote no such tables


def test_a_clock_set_back_changes_no_order_in_the_bin(folder, monkeypatch):
    class Clock(datetime):
        times: ClassVar[list[str]] = [f"{day}T12:00:00+00:00" for day in ("2099-05-01", "2099-05-01", "1999-01-01")]

        @classmethod
        def now(cls, tz=None):
            return cls.fromisoformat(cls.times.pop(0))

    monkeypatch.setattr(bin, "datetime", Clock)
    with Logbook(folder) as book:
        for flight_id in IDS:
            book.remove([flight_id])
        there = book.removed()
    assert [r.flight_id for r in there[:3]] == IDS[::-1]
    assert {r.removed_at for r in there[:3]} == {"2099-05-01T12:00:00+00:00"}
