"""One flight never stops the others: what cannot be worked out says so on its own page, and by the exit code."""

import json
import pickle
import random
import shutil
from multiprocessing.pool import ThreadPool
from threading import Barrier

import pytest
from front import run
from made import draft, source

import analyser.flight
from reports.site import build_site
from spooldown import register
from spooldown.logbook.book import Logbook
from spooldown.logbook.note import FlightNote
from spooldown.problems import LogbookProblem
from spooldown.processes import workers
from spooldown.site import site_of
from spooldown.work import kept as kept_results
from spooldown.work import results

IDS = [f"heron-2031-04-05-{letter}" for letter in "abc"]


@pytest.fixture
def book(tmp_path):
    with Logbook(tmp_path / "book") as opened:
        opened.add([source()], [draft(n, rows=200 + n) for n in (1, 2, 3)], aircraft="Heron")
        yield opened


def bit_flipped(path, where=0.5):
    data = bytearray(path.read_bytes())
    data[int(len(data) * where)] ^= 4
    path.write_bytes(data)


DAMAGE = {
    "missing": lambda book: book.telemetry_path(IDS[1]).unlink(),
    "empty": lambda book: book.telemetry_path(IDS[1]).write_bytes(b""),
    "cut": lambda book: book.telemetry_path(IDS[1]).write_bytes(book.telemetry_path(IDS[1]).read_bytes()[:-50]),
    "one bit": lambda book: bit_flipped(book.telemetry_path(IDS[1])),
    "another flight's": lambda book: shutil.copy(book.telemetry_path(IDS[0]), book.telemetry_path(IDS[1])),
    "a folder": lambda book: (book.telemetry_path(IDS[1]).unlink(), book.telemetry_path(IDS[1]).mkdir()),
}


@pytest.mark.parametrize("damage", DAMAGE.values(), ids=DAMAGE)
def test_a_damaged_file_gets_a_page_that_says_so(book, damage):
    whole = book.telemetry_path(IDS[1]).read_bytes()
    damage(book)
    where = ("--logbook", book.folder)
    done = run("pages", *where)
    assert done.returncode == 7
    (line,) = done.stderr.splitlines()
    assert IDS[1] in line
    pages = book.folder / "pages"
    assert "nothing is shown of it" in (pages / "flights" / f"{IDS[1]}.html").read_text()
    assert IDS[1] in (pages / "index.html").read_text()
    for other in (IDS[0], IDS[2]):
        assert "plots-here" in (pages / "flights" / f"{other}.html").read_text()
    exported = run("export", "flights", "--format", "json", *where)
    assert exported.returncode == 7
    assert [row["flight"] for row in json.loads(exported.stdout)] == [IDS[0], IDS[2]]
    shown = run("show", IDS[1], *where)
    assert (shown.returncode, shown.stdout) == (6, "")
    assert run("show", IDS[0], *where).returncode == 0
    path = book.telemetry_path(IDS[1])
    if path.is_dir():
        path.rmdir()
    path.write_bytes(whole)
    assert run("pages", *where).returncode == 0
    assert "plots-here" in (pages / "flights" / f"{IDS[1]}.html").read_text()


def made_from_files(function, items):
    """As another process makes them: what is passed holds nothing but where things are kept."""
    for item in items:
        try:
            yield workers.Done(item, function(pickle.loads(pickle.dumps(item))), None)
        except Exception as error:
            yield workers.Done(item, None, error)


def test_pages_made_from_what_is_kept_are_the_same(book, tmp_path):
    known = register.load(book)
    build_site(site_of(book, known), tmp_path / "here")
    book.telemetry_path(IDS[1]).rename(tmp_path / "away")
    site = site_of(book, known)
    built = build_site(site, tmp_path / "elsewhere", run=made_from_files)
    assert [f.flight_id for f in built.failed] == [IDS[1]]  # tried again here, where there is a sentence for it
    kept = book.cache_folder / f"{IDS[2]}{kept_results.ENDING}"
    kept.write_bytes(b"")  # as on a full disk: only this process can work it out again
    shutil.rmtree(tmp_path / "elsewhere")
    (tmp_path / "away").rename(book.telemetry_path(IDS[1]))
    built = build_site(site, tmp_path / "elsewhere", run=made_from_files)
    assert not built.failed
    for flight_id in IDS:
        for path in (f"flights/{flight_id}.html", f"compare/{flight_id}.js"):
            assert (tmp_path / "elsewhere" / path).read_bytes() == (tmp_path / "here" / path).read_bytes()


def test_no_single_bit_goes_unseen(book):
    path = book.telemetry_path(IDS[0])
    whole = path.read_bytes()
    draw = random.Random(4)
    for _ in range(200):
        data = bytearray(whole)
        data[draw.randrange(len(data))] ^= 1 << draw.randrange(8)
        path.write_bytes(data)
        with pytest.raises(LogbookProblem, match=f"flight {IDS[0]} .*is damaged"):
            book.telemetry(IDS[0])
    path.write_bytes(whole)
    assert book.telemetry(IDS[0]).table.num_rows == 201


def test_damage_after_the_analysis_is_seen_when_the_page_is_made(book):
    known = register.load(book)
    assert len(results.analysed(book, known)) == 3
    whole = book.telemetry_path(IDS[2]).read_bytes()
    bit_flipped(book.telemetry_path(IDS[2]))
    done = run("pages", "--logbook", book.folder)
    assert done.returncode == 7
    page = book.folder / "pages" / "flights" / f"{IDS[2]}.html"
    assert "is damaged" in page.read_text()
    single = run("pages", "--single", IDS[2], book.folder / "one.html", "--logbook", book.folder)
    assert single.returncode == 6
    book.telemetry_path(IDS[2]).write_bytes(whole)
    assert run("pages", "--logbook", book.folder).returncode == 0
    assert "plots-here" in page.read_text()


def test_a_fault_of_ours_concerns_its_flight_alone(book, monkeypatch):
    whole = analyser.flight.analyse_flight

    def faulty(telemetry, context):
        if context.flight_id == IDS[1]:
            raise ZeroDivisionError("nought")
        return whole(telemetry, context)

    monkeypatch.setattr(analyser.flight, "analyse_flight", faulty)
    done = run("pages", "--logbook", book.folder, "--json")
    assert done.returncode == 7
    (failed,) = json.loads(done.stdout)["failed"]
    assert failed["flight"] == IDS[1]
    assert "ZeroDivisionError: nought" in failed["why"]
    assert "Traceback" not in done.stderr
    with pytest.raises(LogbookProblem, match="nought"):
        results.analysed(book, register.load(book))


def test_a_process_ended_by_the_system_is_one_sentence(book, monkeypatch):
    def ended(function, items):
        for item in items:
            error = workers.WorkerEnded() if item.flight.flight_id == IDS[0] else None
            yield workers.Done(item, None if error else function(item), error)

    monkeypatch.setattr(results, "spread", ended)
    failures = []
    assert len(results.analysed(book, register.load(book), failures=failures)) == 2
    assert "want of memory" in str(failures[0].why)


def test_two_who_note_at_once_both_have_their_word(book):
    have_read = Barrier(4, timeout=60)

    def note(field):
        with Logbook(book.folder) as own:
            assert IDS[0] not in own.notes()
            have_read.wait()  # all have read before anyone writes
            own.note({IDS[0]: FlightNote(**field)})

    fields = [{"remarks": "calm"}, {"air_temperature_c": 18.0}, {"packs": {"rx1": "A1"}}, {"packs": {"rx2": "A2"}}]
    with ThreadPool(4) as pool:
        pool.map(note, fields)
    assert book.notes()[IDS[0]] == FlightNote(packs={"rx1": "A1", "rx2": "A2"}, air_temperature_c=18, remarks="calm")
