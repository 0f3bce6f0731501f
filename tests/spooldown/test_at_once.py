"""Several processes on one logbook: what one of them has in hand, or takes away, is no fault to the others."""

import os
import sqlite3
import threading
import time

import pytest
from front import run
from made import draft, source

from reports import write
from spooldown.logbook.book import Logbook
from spooldown.problems import ChangedMeanwhile, LogbookProblem
from spooldown.upkeep.checking import check


@pytest.fixture
def folder(tmp_path):
    with Logbook(tmp_path / "book") as book:
        for n in range(3):
            book.add([source(f"{n}.csv", f"{n:02}")], [draft(rows=80 + n)], aircraft="Heron")
    return tmp_path / "book"


def test_a_flight_taken_out_while_pages_are_built_is_still_shown_on_them(folder, monkeypatch):
    from reports import site

    build = site.build_site
    gone = "heron-2031-04-05-b"

    def then(*words, **more):
        with Logbook(folder) as book:
            book.remove([gone])
        return build(*words, **more)

    with monkeypatch.context() as patch:
        patch.setattr(site, "build_site", then)
        done = run("pages", "--logbook", folder)
    assert (done.returncode, done.stderr) == (0, "")
    assert (folder / "pages" / "flights" / f"{gone}.html").is_file()
    assert run("pages", "--logbook", folder).returncode == 0
    assert not (folder / "pages" / "flights" / f"{gone}.html").exists()
    with Logbook(folder) as book:
        flight = book.flight("heron-2031-04-05-a")
        book.delete([flight.flight_id])
        with pytest.raises(LogbookProblem, match="taken out of the logbook meanwhile"):
            book.telemetry_of(flight)


def killed_in_a_write(folder):
    """Kill a writer once it has written into the catalogue: its journal stays (sqlite.org, "Hot Rollback Journals")."""
    pid = os.fork()
    if pid == 0:
        db = sqlite3.connect(folder / "catalogue.sqlite", isolation_level=None)
        db.execute("PRAGMA cache_size = 1")
        db.execute("BEGIN IMMEDIATE")
        db.execute("UPDATE flight SET source = 'half', notices = hex(zeroblob(90000))")
        os._exit(0)
    os.waitpid(pid, 0)


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")
def test_a_writer_killed_while_another_reads_costs_the_reader_one_more_look(folder, monkeypatch):
    from spooldown.work import results

    with Logbook(folder) as book:
        before = book.flights()
    analysed, done = results.Results._worked, []

    def then(*args, **more):
        if not done:
            done.append(killed_in_a_write(folder))
        return analysed(*args, **more)

    monkeypatch.setattr(results.Results, "_worked", then)
    with Logbook(folder) as book:
        killed_in_a_write(folder)
        with pytest.raises(ChangedMeanwhile, match="was ended meanwhile; do it once more"):
            book.flights()
    journal = (folder / "catalogue.sqlite-journal").read_bytes()
    with Logbook(folder) as book:
        assert book.flights() == before
    assert (folder / "catalogue.sqlite-journal").read_bytes() == journal  # who reads takes nothing back
    with Logbook(folder) as book:
        book.set_setting("title", "x")
    ended = run("flights", "--logbook", folder)
    assert (ended.returncode, len(done)) == (0, 1)
    assert ended.stderr.count("\n") <= 1
    with Logbook(folder) as book:
        book.set_setting("title", "y")
        assert book.flights() == before
    assert check(folder) == []


def test_two_builds_of_one_folder_wait_for_each_other(tmp_path):
    root, began, order = tmp_path / "pages", threading.Event(), []

    def second():
        began.set()
        with write.alone(root):
            order.append("second")

    with write.alone(root):
        other = threading.Thread(target=second)
        other.start()
        began.wait(5)
        time.sleep(0.1)
        order.append("first")
    other.join(5)
    assert order == ["first", "second"]


def test_a_page_that_is_being_replaced_or_taken_out_is_no_damage(tmp_path):
    root = tmp_path / "pages"
    out = write.Folder(root)
    for name in ("a", "b"):
        out.put(f"{name}.html", "1", lambda: "text")
    out.finish()
    assert write.damaged(root) == []
    again = write.Folder(root)
    again.keeps("a.html", "1")
    again.replacing(["b.html"])
    (root / "b.html").unlink()
    assert write.damaged(root) == []  # as it is between taking it out and the new list of pages
    again.finish()
    assert write.damaged(root) == []
    (root / "a.html").write_text("other")
    assert write.damaged(root) == ["a.html"]


def test_what_another_process_writes_beside_the_results_is_no_stray(folder):
    cache = folder / "cache"
    cache.mkdir(exist_ok=True)
    part = cache / "heron-2031-04-05-a.json.zst.1.part"
    part.write_bytes(b"x")
    ending = threading.Timer(0.05, part.unlink)
    ending.start()
    assert check(folder) == []
    ending.join()
    part.write_bytes(b"x")
    assert ["belong to no flight" in str(d) for d in check(folder)] == [True]


@pytest.mark.parametrize(
    "words", [("pages",), ("flights",), ("export", "flights"), ("pages", "--single", "A", "one.html")]
)
@pytest.mark.parametrize("instant", ["listed", "begun"])
def test_a_flight_deleted_meanwhile_stops_no_other(folder, monkeypatch, words, instant):
    from spooldown.logbook.listing import Listing
    from spooldown.work import results

    kept, gone = "heron-2031-04-05-a", "heron-2031-04-05-c"
    words = [kept if w == "A" else str(folder / w) if w.endswith(".html") else w for w in words]
    where, name = {"listed": (Listing, "__init__"), "begun": (results.Results, "_worked")}[instant]
    before, done = getattr(where, name), []

    def then(*args, **more):
        if instant == "begun" and not done:
            done.append(1)
            with Logbook(folder) as book:
                book.delete([gone])
        found = before(*args, **more)
        if instant == "listed" and not done:
            done.append(1)
            with Logbook(folder) as book:
                book.delete([gone])
        return found

    monkeypatch.setattr(where, name, then)
    ended = run(*words, "--logbook", folder)
    said = f"flight {gone} was taken out of the logbook meanwhile; begun again with what is there now"
    assert (ended.returncode, ended.stderr) == (0, f"spooldown: {said}.\n")
    assert done
    if words == ["pages"]:
        assert sorted(p.stem[-1] for p in (folder / "pages" / "flights").glob("heron-*[abc].html")) == ["a", "b"]
    elif len(words) < 3:
        assert kept in ended.stdout
        assert gone not in ended.stdout


def test_a_flight_read_again_meanwhile_is_worked_out_as_it_is_now(folder, monkeypatch):
    from spooldown.work import results

    before, done = results.Results._worked, []

    def then(self, flight_ids, **more):
        if not done:
            done.append(1)
            with Logbook(folder) as book:
                book.replace_telemetry(book.flight("heron-2031-04-05-b"), draft(rows=333))
        return before(self, flight_ids, **more)

    monkeypatch.setattr(results.Results, "_worked", then)
    ended = run("export", "flights", "--format", "csv", "--logbook", folder)
    assert ended.returncode == 0
    assert ended.stderr.count("read again from its log meanwhile") == 1
    assert ",333," in ended.stdout


def test_flights_changed_without_end_stop_a_command_in_one_sentence(folder, monkeypatch):
    from analyser.core.findings import Finding
    from spooldown.problems import ChangedMeanwhile
    from spooldown.work import meanwhile, results

    def always(self, flight_ids, **more):
        raise ChangedMeanwhile(Finding("logbook.taken_out_meanwhile", {"flight": "heron-2031-04-05-b"}))

    monkeypatch.setattr(results.Results, "_worked", always)
    ended = run("flights", "--logbook", folder)
    lines = ended.stderr.splitlines()
    assert len(lines) == meanwhile.TRIES
    assert lines[-1].endswith("meanwhile; do it once more.")
    assert ended.returncode == 6


@pytest.mark.parametrize("anew", [False, True])
def test_no_page_is_left_of_a_flight_deleted_while_it_was_made(folder, monkeypatch, anew):
    from reports import site

    build, done, gone = site.build_site, [], "heron-2031-04-05-b"
    if not anew:
        assert run("pages", "--logbook", folder).returncode == 0
        with Logbook(folder) as book:
            book.set_setting("title", "Another title")

    def then(*words, **more):
        if not done:
            done.append(1)
            with Logbook(folder) as book:
                book.delete([gone])
        return build(*words, **more)

    monkeypatch.setattr(site, "build_site", then)
    ended = run("pages", "--logbook", folder)
    assert (ended.returncode, ended.stderr.count("begun again")) == (0, 1)
    assert not list((folder / "pages").glob(f"*/{gone}*"))


def test_a_page_of_a_build_that_was_killed_goes_with_its_flight(tmp_path):
    root = tmp_path / "pages"
    killed = write.Folder(root)
    killed.put("flights/a.html", "1", lambda: "text")  # and never finished
    (root / "own.html").write_text("somebody's own")
    out = write.Folder(root)
    out.put("flights/b.html", "1", lambda: "text")
    out.finish()
    assert sorted(p.name for p in root.rglob("*.html")) == ["b.html", "own.html"]
