import os
import pickle
import sqlite3
import subprocess
import sys
from datetime import datetime
from pathlib import Path

import duckdb
import numpy as np
import pandas as pd
import pyarrow.parquet as pq
import pytest
from front import everything
from made import START, draft, source

from analyser.core.aircraft import FuelNote, PackNote
from spooldown.logbook import schema, store
from spooldown.logbook.book import Logbook, letters, slug
from spooldown.logbook.note import FlightNote
from spooldown.logbook.store import write_whole
from spooldown.problems import LogbookProblem, NotFoundProblem


def test_what_goes_in_comes_out(tmp_path):
    with Logbook(tmp_path / "book") as book:
        assert book.add([source()], [draft()], aircraft="Heron") == ["heron-2031-04-05-a"]
        flight = book.flight("heron-2031-04-05-a")
        assert (flight.rows, flight.duration_s, flight.utc_start) == (500, 49.9, START)
        assert flight.channels == ("pack.rx1.voltage_v", "control.gear", "extra.word")
        telemetry = book.telemetry(flight.flight_id)
        assert telemetry.utc_start == START
        assert telemetry.metadata["mapping"] == "made"
        expected = draft().telemetry()
        assert telemetry.table.equals(expected.table)


def test_pandas_and_duckdb_read_the_file_without_us(tmp_path):
    with Logbook(tmp_path / "book") as book:
        (flight,) = book.add([source()], [draft()])
        path = book.telemetry_path(flight)
    frame = pd.read_parquet(path)
    volts = draft().telemetry().table["pack.rx1.voltage_v"].to_numpy()
    np.testing.assert_array_equal(frame["pack.rx1.voltage_v"], volts)
    ((rows, gear),) = duckdb.sql(f"""select count(*), count(*) filter ("control.gear") from '{path}'""").fetchall()
    assert rows == 500
    assert gear == frame["control.gear"].sum()
    pairs = duckdb.sql(f"select decode(key), decode(value) from parquet_kv_metadata('{path}')").fetchall()
    assert ("utc_start", START.isoformat()) in pairs
    assert duckdb.sql(f"select distinct compression from parquet_metadata('{path}')").fetchall() == [("LZ4_RAW",)]


@pytest.mark.parametrize("chunk", [store.CHUNK_BYTES, 1])
def test_a_flight_encoded_elsewhere_is_stored_as_if_streamed(tmp_path, monkeypatch, chunk):
    """Byte for byte, in one row group or several."""
    monkeypatch.setattr(store, "CHUNK_BYTES", chunk)
    about = {"flight_id": "a", "aircraft": "Heron", "sources": [source()], "imported_at": "now", "more": {"x": "ü"}}
    streamed = store.write_flight(tmp_path / "streamed", draft(), **about)
    other = draft()
    encoded = store.EncodedDraft.of(other, list(other.batches))
    assert store.write_flight(tmp_path / "encoded", pickle.loads(pickle.dumps(encoded)), **about) == streamed
    assert (tmp_path / "encoded").read_bytes() == (tmp_path / "streamed").read_bytes()
    assert pq.ParquetFile(tmp_path / "encoded").num_row_groups == (1 if chunk > 1 else 5)
    table = store.read_telemetry(tmp_path / "encoded", streamed.sha256).table
    assert table.equals(draft().telemetry().table.replace_schema_metadata(None))


def test_all_flights_of_a_file_or_none(tmp_path):
    with Logbook(tmp_path / "book") as book:
        book.add([source()], [draft()])
        before = everything(book.folder)
        with pytest.raises(RuntimeError):
            book.add([source(digest="11")], [draft(1), draft(2, fail_after=3)])
        assert everything(book.folder) == before


def test_a_failed_first_import_leaves_no_logbook(tmp_path):
    with Logbook(tmp_path / "deep" / "book") as book, pytest.raises(RuntimeError):
        book.add([source()], [draft(fail_after=2)])
    assert list(tmp_path.iterdir()) == []


def test_content_is_known_again(tmp_path):
    with Logbook(tmp_path / "book") as book:
        added = book.add([source()], [draft(1), draft(2)])
        assert book.known("00") == added == ["flight-2031-04-05-a", "flight-2031-04-05-b"]
        assert book.known("11") == []
        book.remove(added[:1])
        assert book.known("00") == added[1:]
        book.remove(added[1:])
        assert book.known("00") == []
        assert list(book.flights_folder.iterdir()) == []


def test_a_dead_writers_temporary_goes_with_the_next_write_and_nothing_else(tmp_path):
    with Logbook(tmp_path / "book") as book:
        (flight,) = book.add([source()], [draft()])
        (book.flights_folder / "half.parquet.part").write_bytes(b"x")
        (book.flights_folder / "mine.txt").write_bytes(b"x")
        pd.DataFrame({"a": [1]}).to_parquet(book.flights_folder / "mine.parquet")
        (book.flights_folder / "broken.parquet").write_bytes(b"PAR1 and no more")
        copy = book.flights_folder / "copy.parquet"
        copy.write_bytes(book.telemetry_path(flight).read_bytes())
    before = everything(tmp_path)
    with Logbook(tmp_path / "book") as book:
        assert [f.flight_id for f in book.flights()] == [flight]
        assert everything(tmp_path) == before
        book.set_setting("title", "x")
        left = {p.name for p in book.flights_folder.iterdir()}
    assert left == {f"{flight}.parquet", "mine.txt", "mine.parquet", "broken.parquet", "copy.parquet"}


def test_nobody_sweeps_under_a_writer(tmp_path, monkeypatch):
    monkeypatch.setattr("spooldown.logbook.catalogue.WAIT_S", 0.05)
    with Logbook(tmp_path / "book") as book:
        book.add([source()], [draft()])
        with book.writing():
            part = book.flights_folder / "coming.parquet.part"
            part.write_bytes(b"x")
            with Logbook(book.folder) as other, pytest.raises(LogbookProblem, match="another spooldown"):
                other.set_setting("title", "x")
            assert part.exists()
    with Logbook(tmp_path / "book") as book:
        book.set_setting("title", "x")
    assert not part.exists()


def test_a_second_writer_is_told(tmp_path, monkeypatch):
    monkeypatch.setattr("spooldown.logbook.catalogue.WAIT_S", 0.05)
    with Logbook(tmp_path / "book") as one:
        one.set_setting("title", "x")
        with one.writing(), Logbook(one.folder) as two, pytest.raises(LogbookProblem, match="another spooldown"):
            two.set_setting("title", "y")


def test_a_logbook_made_meanwhile_is_the_one_written_to(tmp_path):
    with Logbook(tmp_path / "book") as early, Logbook(tmp_path / "book") as other:
        other.add([source("theirs.csv", "11")], [draft()], aircraft="Heron")
        early.add([source("ours.csv", "22")], [draft()], aircraft="Heron")
    with Logbook(tmp_path / "book") as book:
        assert [f.source for f in book.flights()] == ["theirs.csv", "ours.csv"]
        assert {p.stem for p in book.flights_folder.iterdir()} == {f.flight_id for f in book.flights()}


def test_a_failed_import_never_takes_away_what_another_one_stored(tmp_path):
    with Logbook(tmp_path / "book") as early, Logbook(tmp_path / "book") as other:
        create = early._create

        def create_and_be_overtaken():
            made = create()
            other.add([source("theirs.csv", "11")], [draft()])
            return made

        early._create = create_and_be_overtaken
        with pytest.raises(RuntimeError):
            early.add([source("ours.csv", "22")], [draft(fail_after=0)])
    with Logbook(tmp_path / "book") as book:
        assert [f.source for f in book.flights()] == ["theirs.csv"]


def test_who_waited_for_a_failed_first_import_writes_to_a_file_that_is_there(tmp_path):
    with Logbook(tmp_path / "book") as early, Logbook(tmp_path / "book") as waiting:

        def drafts():
            waiting._create()
            raise RuntimeError("nothing can be read")
            yield

        with pytest.raises(RuntimeError):
            early.add([source()], drafts())
        assert not early.exists
        waiting.add([source()], [draft()])
    with Logbook(tmp_path / "book") as book:
        assert len(book.flights()) == 1


def test_the_same_content_from_two_at_once_is_stored_once(tmp_path):
    with Logbook(tmp_path / "book") as early, Logbook(tmp_path / "book") as other:
        other.add([source("theirs.csv", "11")], [draft()])
        with pytest.raises(LogbookProblem, match="already"):
            early.add([source("ours.csv", "11")], [draft()])


HOLDER = """
import sys
from pathlib import Path
from spooldown.logbook.book import Logbook
with Logbook(Path(sys.argv[1])) as book, book.writing() as db:
    db.execute("INSERT OR REPLACE INTO setting VALUES ('title', 'theirs')")
    print("holding", flush=True)
    sys.stdin.read()
"""


def test_two_processes_write_one_after_the_other(tmp_path, monkeypatch):
    import sys

    with Logbook(tmp_path / "book") as book:
        book.add([source()], [draft()])
        words = [sys.executable, "-c", HOLDER, str(book.folder)]
        with subprocess.Popen(words, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as other:
            assert other.stdout.readline() == "holding\n"
            assert book.setting("title") == ""  # reading goes on, and sees nothing half done
            monkeypatch.setattr("spooldown.logbook.catalogue.WAIT_S", 0.05)
            with Logbook(book.folder) as late, pytest.raises(LogbookProblem, match="another spooldown"):
                late.add([source("late.csv", "11")], [draft()])
            assert len(list(book.flights_folder.iterdir())) == 1
            other.stdin.close()
            assert other.wait(60) == 0
        with Logbook(book.folder) as late:
            assert late.setting("title") == "theirs"
            late.add([source("late.csv", "11")], [draft()])
            assert len(late.flights()) == 2


def test_a_process_killed_while_it_writes_lets_go(tmp_path):
    import sys

    with Logbook(tmp_path / "book") as book:
        book.add([source()], [draft()])
        words = [sys.executable, "-c", HOLDER, str(book.folder)]
        with subprocess.Popen(words, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as other:
            assert other.stdout.readline() == "holding\n"
            other.kill()
            other.wait(60)
        book.set_setting("title", "ours")
        assert book.setting("title") == "ours"


@pytest.mark.parametrize("there_before", [False, True])
def test_a_full_disk_is_told_and_changes_nothing(tmp_path, monkeypatch, there_before):
    def full(*_):
        raise OSError(28, "Error writing bytes to file. Detail: [errno 28] No space left on device")

    with Logbook(tmp_path / "book") as book:
        if there_before:
            book.add([source()], [draft()])
        before = everything(tmp_path)
        monkeypatch.setattr("pyarrow.parquet.ParquetWriter.write_table", full)
        with pytest.raises(LogbookProblem, match=r"No space left on device.*free some space"):
            book.add([source("b.csv", "11")], [draft()])
        assert everything(tmp_path) == before
        assert (tmp_path / "book").exists() == there_before


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes here")
def test_a_link_is_followed_and_a_pipe_written_to(tmp_path):
    (tmp_path / "real.csv").write_text("old")
    (tmp_path / "link.csv").symlink_to(tmp_path / "real.csv")
    write_whole(tmp_path / "link.csv", b"new")
    assert (tmp_path / "link.csv").is_symlink()
    assert (tmp_path / "real.csv").read_bytes() == b"new"
    os.mkfifo(tmp_path / "pipe")
    with subprocess.Popen(["cat", str(tmp_path / "pipe")], stdout=subprocess.PIPE) as reader:
        write_whole(tmp_path / "pipe", b"through")
        assert reader.stdout.read() == b"through"
    assert {p.name for p in tmp_path.iterdir()} == {"real.csv", "link.csv", "pipe"}


def test_not_a_logbook(tmp_path):
    (tmp_path / "thesis.txt").write_text("mine")
    with Logbook(tmp_path) as book, pytest.raises(LogbookProblem, match="not a logbook"):
        book.add([source()], [draft()])
    assert everything(tmp_path) == {"thesis.txt": b"mine"}


def test_damaged_and_newer_catalogues(tmp_path):
    (tmp_path / "catalogue.sqlite").write_bytes(b"not a database at all" * 100)
    with pytest.raises(LogbookProblem, match="damaged"):
        Logbook(tmp_path)
    newer = tmp_path / "newer"
    with Logbook(newer) as book:
        book.set_setting("a", "b")
        book.db.execute("UPDATE schema_version SET version = 99")
        book.db.execute("CREATE TABLE what_comes (later)")
    with pytest.raises(LogbookProblem, match="schema 99"):
        Logbook(newer)


@pytest.mark.parametrize("length", [0.3, 0.5, 0.9])
def test_a_shortened_catalogue_is_told(tmp_path, length):
    with Logbook(tmp_path / "book") as book:
        book.add([source()], [draft()])
    whole = book.catalogue.read_bytes()
    book.catalogue.write_bytes(whole[: int(len(whole) * length)])
    with pytest.raises(LogbookProblem, match=rf"damaged \(it has \d+ bytes of {len(whole)}\)"):
        Logbook(tmp_path / "book")


def test_telemetry_gone(tmp_path):
    with Logbook(tmp_path / "book") as book:
        (flight,) = book.add([source()], [draft()])
        book.telemetry_path(flight).unlink()
        with pytest.raises(LogbookProblem, match="is missing; restore the file"):
            book.telemetry(flight)
        with pytest.raises(NotFoundProblem, match="did you mean 'flight-2031-04-05-a'"):
            book.flight("flight-2031-04-05-aa")


@pytest.mark.parametrize("version", [1, 2, 3, 4, 5])
def test_migration_from_every_version_keeps_everything(tmp_path, version):
    book = tmp_path / "book"
    book.mkdir()
    with sqlite3.connect(book / "catalogue.sqlite") as old:
        old.executescript((Path(__file__).parent / f"catalogue_v{version}.sql").read_text())
    before = everything(tmp_path)
    with Logbook(book) as opened:  # read without a byte changed, then migrated with the first change
        assert schema.version_of(opened.db) == len(schema.MIGRATIONS)
        assert opened.notes()["heron-2031-04-05-a"].remarks == "windy"
        assert everything(tmp_path) == before
        opened.set_setting("title", "x")
    with sqlite3.connect(f"{(book / 'catalogue.sqlite').as_uri()}?mode=ro", uri=True) as written:
        assert schema.version_of(written) == len(schema.MIGRATIONS)
    with Logbook(book) as opened:
        (flight,) = opened.flights()
        assert (flight.flight_id, flight.aircraft, flight.part) == ("heron-2031-04-05-a", "Heron", 1)
        assert opened.notes()["heron-2031-04-05-a"].remarks == "windy"
        assert opened.known("ab12") == ["heron-2031-04-05-a"]
        assert len(opened.range_checks()) == (version > 1)
        assert len(opened.records("snag")) == (version > 4)
        assert (book / "entered.jsonl").read_text().count("windy") == 1  # what was entered before is kept beside, too


def test_an_interrupted_migration_leaves_the_old_version(tmp_path, monkeypatch):
    with Logbook(tmp_path / "book") as book:
        book.set_setting("a", "b")
    broken = (*schema.MIGRATIONS, ("CREATE TABLE extra (x)", "NOT SQL"))
    for module in ("schema", "book.reading"):
        monkeypatch.setattr(f"spooldown.logbook.{module}.MIGRATIONS", broken)
    before = everything(tmp_path)
    with pytest.raises(LogbookProblem):
        Logbook(tmp_path / "book")
    assert everything(tmp_path) == before
    monkeypatch.undo()
    with Logbook(tmp_path / "book") as book:
        assert book.setting("a") == "b"


def test_notes_add_up(tmp_path):
    first = FlightNote(packs={"rx1": "A1"}, fuel={"left": FuelNote(before_ml=4000)}, remarks="windy")
    second = FlightNote(fuel={"left": FuelNote(put_in_ml=2500)}, readings={"rx1": PackNote(charged_mah=900)})
    with Logbook(tmp_path / "book") as book:
        (flight,) = book.add([source()], [draft()])
        book.set_notes({flight: first.updated(second)})
        assert book.notes()[flight] == FlightNote(
            packs={"rx1": "A1"},
            fuel={"left": FuelNote(4000, 2500)},
            readings={"rx1": PackNote(charged_mah=900)},
            remarks="windy",
        )


@pytest.mark.parametrize("name", ["../../etc", "..", "C:\\x", "<script>", "a/b", "", "\x00", "Tërn 5"])
def test_names_never_leave_the_folder(tmp_path, name):
    with Logbook(tmp_path / "book") as book:
        (flight,) = book.add([source()], [draft()], aircraft=name)
        assert book.telemetry_path(flight).resolve().parent == book.flights_folder.resolve()
        assert set(slug(name, "flight")) <= set("abcdefghijklmnopqrstuvwxyz0123456789-")


def test_letters():
    assert [letters(i) for i in (0, 25, 26, 701, 702)] == ["a", "z", "aa", "zz", "aaa"]


# A crash at any instant. The child runs the import and is killed (SIGKILL) as it reaches the n-th line of the logbook's
# own code; what is left must open and hold the whole old flight and either both new ones or neither. Around the
# commit and the renaming every line is tried, before it one in sixteen; SPOOLDOWN_EVERY_LINE=1 tries them all.

CHILD = """
import os, signal, sys
from pathlib import Path
sys.path.insert(0, {tests!r})
from made import draft, source
from spooldown.logbook import book as module, catalogue, store, codec, note, schema, unknown
import pandas, pyarrow.compute, pyarrow.parquet  # loaded once, before any fork
os.fsync, catalogue.SYNCHRONOUS = lambda handle: None, "OFF"  # a kill leaves what was written, without a power cut
TOUCHING_THE_DISK = {{
    "add", "writing", "migrate", "finish", "consume", "flush_file", "flush_folder", "_create", "_begin", "connect",
    "_name", "settle", "write_flight", "close", "write",
}}
target, places = Path(sys.argv[1]), sys.argv[2]
seen = {{}}
def run(stop):
    count = 0
    def trace(frame, event, arg):
        nonlocal count
        if "spooldown/logbook" not in frame.f_code.co_filename or frame.f_code.co_name not in TOUCHING_THE_DISK:
            return None
        if event == "line":
            count += 1
            seen[(frame.f_code.co_filename, frame.f_lineno)] = count
            first.setdefault((frame.f_code.co_filename, frame.f_lineno), count)
            if count == stop:
                os.kill(os.getpid(), signal.SIGKILL)
        return trace
    sys.settrace(trace)
    with module.Logbook(target) as book:
        second = draft(2)  # as another process hands it over
        second = store.EncodedDraft.of(second, list(second.batches))
        book.add([source("new.csv", "22")], [draft(1), second], aircraft="Heron")
    sys.settrace(None)
first = {{}}
if places == "list":
    run(None)
    print(*sorted({{*seen.values(), *first.values()}}))
else:
    import shutil
    pristine = target
    for stop in map(int, places.split(",")):
        target = pristine.with_name(f"crash-{{stop}}")
        shutil.copytree(pristine, target) if pristine.exists() else None
        pid = os.fork()
        if pid == 0:
            run(stop)
            os._exit(0)
        _, status = os.waitpid(pid, 0)
        print(stop, os.WIFSIGNALED(status))
"""


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork and SIGKILL")
@pytest.mark.parametrize("there_before", [False, True])
def test_killed_at_any_line_leaves_the_whole_import_or_nothing(tmp_path, there_before):
    import sys

    child = CHILD.format(tests=str(Path(__file__).parent))

    def run(folder: Path, places: str) -> str:
        return subprocess.run(
            [sys.executable, "-c", child, str(folder), places], capture_output=True, text=True, check=True, timeout=300
        ).stdout

    pristine, trial = tmp_path / "pristine", tmp_path / "trial"
    for folder in (pristine, trial) if there_before else ():
        with Logbook(folder) as book:
            book.add([source("old.csv", "11")], [draft()], aircraft="Heron")
    old = ["heron-2031-04-05-a"] if there_before else []
    places = run(trial, "list").split()
    assert len(places) > 60
    if not os.environ.get("SPOOLDOWN_EVERY_LINE"):
        # With an old logbook there, or without, only the beginning differs.
        places = [*places[:-24:16], *places[-24:]] if there_before else [*places[:40:4], places[-1]]
    outcomes = [line.split() for line in run(pristine, ",".join(places)).splitlines()]
    assert all(killed == "True" for _, killed in outcomes)
    endings = set()
    for stop, _ in outcomes:
        folder = tmp_path / f"crash-{stop}"
        with Logbook(folder) as book:
            before = everything(folder)
            ids = [f.flight_id for f in book.flights()]
            assert [book.telemetry(flight).table.num_rows for flight in ids] == [500] * len(ids)
            assert everything(folder) == before
            book.set_setting("title", "the next writer settles what is left")
            assert [f.flight_id for f in book.flights()] == ids
            assert len(ids) in (len(old), len(old) + 2)
            assert ids[: len(old)] == old
            for flight in ids:
                assert book.telemetry(flight).table.num_rows == 500
            files = {p.stem for p in book.flights_folder.glob("*")} if book.flights_folder.is_dir() else set()
            assert files == set(ids)
            assert bool(book.known("22")) == (len(ids) > len(old))
            if not book.known("22") and int(stop) % 10 == 0:
                book.add([source("new.csv", "22")], [draft(1), draft(2)], aircraft="Heron")
                assert len(book.flights()) == len(old) + 2
            endings.add(len(ids))
    assert endings == {len(old), len(old) + 2}


def test_a_reader_in_the_same_process_leaves_a_writer_its_lock(tmp_path):
    """Closing a file lets go of a process's locks on it ("How To Corrupt An SQLite Database File", section 2.2)."""
    second = (
        "import sqlite3, sys\n"
        "db = sqlite3.connect(sys.argv[1], timeout=0, isolation_level=None)\n"
        "try:\n    db.execute('BEGIN IMMEDIATE')\nexcept sqlite3.OperationalError as error:\n    print(error)\n"
    )
    with Logbook(tmp_path / "book") as book, book.writing():
        book.set_setting("language", "en")
        with Logbook(tmp_path / "book") as reader:
            assert reader.flights() == []
        done = subprocess.run(
            [sys.executable, "-c", second, book.catalogue], capture_output=True, text=True, check=True
        )
        assert done.stdout.strip() == "database is locked"


def test_flights_without_a_day_keep_their_order_whatever_the_clock_says(tmp_path, monkeypatch):
    """Clock set back by twelve years after the second import; more letters than the alphabet has; a lost catalogue."""
    from spooldown.logbook.book import imports

    class Clock(datetime):
        year_now = 2031

        @classmethod
        def now(cls, tz=None):
            return datetime(cls.year_now, 4, 5, tzinfo=tz)

    monkeypatch.setattr(imports, "datetime", Clock)
    with Logbook(tmp_path) as book, book.writing():
        for n in range(29):
            Clock.year_now = 2031 if n < 2 else 2019
            book.add([source(f"{n}.csv", f"{n:02}")], [draft(rows=60 + n, utc_start=None)], aircraft="Heron")
    with Logbook(tmp_path) as book:
        before = [f.flight_id for f in book.flights()]
        assert [f.rows for f in book.flights()] == list(range(60, 89))
    (tmp_path / "catalogue.sqlite").unlink()
    with Logbook(tmp_path) as book:
        assert [f.flight_id for f in book.flights()] == before
