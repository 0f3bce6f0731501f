"""Odd names, links, pipes and endless input: each is one sentence, or simply works."""

import io
import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from front import run, said_once

from spooldown.commands import logs
from spooldown.logbook.book import Logbook
from spooldown.problems import LogbookProblem

LOG = "Time (s),RX1 Voltage (V)\n" + "".join(f"{i / 10},{8 + i % 7 / 100}\n" for i in range(60))
BYTES = os.fsdecode(b"caf\xe9")


@pytest.fixture
def place(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("SPOOLDOWN_LOGBOOK", str(tmp_path / "book"))
    return tmp_path


def test_a_link_that_leads_out_of_its_folder_is_left_out_and_said(place):
    """Who fills a folder must not choose which other files of the machine are read."""
    (place / "logs" / "deep").mkdir(parents=True)
    (place / "elsewhere.csv").write_text(LOG)
    (place / "logs" / "deep" / "real.csv").write_text(LOG.replace("8.", "7."))
    (place / "logs" / "inside.csv").symlink_to(place / "logs" / "deep" / "real.csv")
    (place / "logs" / "link.csv").symlink_to(place / "elsewhere.csv")
    (place / "logs" / "dangling.csv").symlink_to(place / "nowhere.csv")
    (place / "logs" / "round").symlink_to(place / "logs")
    (place / "logs" / "away").symlink_to(place)
    done = run("import", "logs", "--logbook", "book")
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("logs/deep/real.csv: imported")
    assert "logs/inside.csv: already in the logbook" in done.stdout
    assert "elsewhere" not in done.stdout
    assert "logs/link.csv is a link that leads out of logs" in done.stderr
    named = run("import", "logs/link.csv", "--logbook", "book")
    assert named.stdout.startswith("link.csv: imported")
    (place / "only").mkdir()
    (place / "only" / "link.csv").symlink_to(place / "elsewhere.csv")
    assert "but 1 link that leads out of it" in said_once(run("import", "only", "--logbook", "book"))


def test_names_that_are_no_utf_8(place):
    Path(f"{BYTES}.csv").write_text(LOG)
    done = run("import", f"{BYTES}.csv", "--logbook", "book")
    assert done.returncode == 0, done.stderr
    for words in (["flights"], ["flights", "--json"], ["pages"], ["export", "flights"], ["note", "--blank"], ["check"]):
        done = run(*words, "--logbook", "book")
        assert done.returncode == 0, (words, done.stderr)
    assert "caf\N{REPLACEMENT CHARACTER}.csv" in run("flights", "--logbook", "book").stdout
    Path("a.csv").write_text(LOG.replace("8.", "7."))
    assert "UTF-8" in said_once(run("import", "a.csv", "--logbook", BYTES))
    assert "UTF-8" in said_once(run("import", "a.csv", "--aircraft", BYTES, "--logbook", "book"))
    assert "UTF-8" in said_once(run("note", "flight-undated-a", "--remarks", BYTES, "--logbook", "book"))
    assert run("check", "--logbook", "book").returncode == 0


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes here")
def test_pipes_and_devices_are_told_as_what_they_are(place):
    os.mkfifo("pipe.csv")
    assert "is a pipe" in said_once(run("import", "pipe.csv", "--logbook", "book"))
    assert "is a device" in said_once(run("import", os.devnull, "--logbook", "book"))


def test_a_path_too_long_for_the_system(place):
    for words in (
        ["import", "x" * 300],
        ["flights", "--logbook", "y" * 300],
        ["import", "a.csv", "--logbook", "z" * 300],
    ):
        Path("a.csv").write_text(LOG)
        said_once(run(*words))


def test_input_without_end_is_stopped(place, monkeypatch):
    monkeypatch.setattr(logs, "MOST_BYTES", 1 << 20)
    monkeypatch.setenv("TMPDIR", str(place))
    monkeypatch.setattr("tempfile.tempdir", None)
    assert "standard input" in said_once(run("import", "-", "--logbook", "book", stdin=bytes(4 << 20)))
    assert list(place.iterdir()) == []


@pytest.mark.skipif(sys.platform == "win32", reason="no SIGTERM here")
def test_ended_from_outside_it_leaves_nothing_behind(place):
    env = {**os.environ, "TMPDIR": str(place)}
    words = [sys.executable, "-m", "spooldown", "import", "-", "--logbook", "book"]
    with subprocess.Popen(words, stdin=subprocess.PIPE, stderr=subprocess.PIPE, env=env) as process:
        process.stdin.write(b"x" * (2 << 20))
        process.stdin.flush()
        until = time.monotonic() + 30
        while not any(place.iterdir()) and time.monotonic() < until:
            time.sleep(0.01)
        process.send_signal(signal.SIGTERM)
        assert process.wait(30) == 143
        assert b"ended from outside" in io.BytesIO(process.stderr.read()).getvalue()
    assert list(place.iterdir()) == []


def test_a_share_that_vanishes_is_told_and_no_other_logbook_made(place):
    Path("a.csv").write_text(LOG)
    assert run("import", "a.csv", "--logbook", "book").returncode == 0
    with Logbook(Path("book")) as book:
        Path("book").rename("away")
        for change in (lambda: book.set_setting("title", "x"), book.still_there):
            with pytest.raises(LogbookProblem, match="book was there and has gone"):
                change()
        assert not Path("book").exists()
        Path("away").rename("book")
        book.set_setting("title", "here")  # and goes on once it is there again
    with Logbook(Path("book")) as book:
        assert book.setting("title") == "here"


def test_a_share_that_vanishes_while_pages_are_built_damages_no_flight(place, monkeypatch):
    from spooldown.work import results

    Path("a.csv").write_text(LOG)
    assert run("import", "a.csv", "--logbook", "book").returncode == 0
    work = results.Results._worked

    def gone(self, *words, **more):
        Path("book").rename("away")
        return work(self, *words, **more)

    monkeypatch.setattr(results.Results, "_worked", gone)
    for words in (["pages"], ["flights"], ["export", "figures"], ["pages", "--out", "out"]):
        assert "book was there and has gone" in said_once(run(*words, "--logbook", "book"))
        assert not Path("book").exists()
        Path("away").rename("book")


SETPRIV = ["setpriv", "--bounding-set=-dac_override,-dac_read_search,-fowner"]
"""Takes from the superuser what lets him write everywhere."""


@pytest.mark.skipif(sys.platform == "win32", reason="permissions of another kind")
def test_a_folder_that_may_only_be_read(place):
    """Each command works or is one sentence; the superuser tries it without his privileges, or not at all."""
    bare: list[str] = []
    if os.geteuid() == 0:
        if shutil.which("setpriv") is None:
            pytest.skip("the superuser may write everywhere, and there is no setpriv to take that from him")
        bare = SETPRIV
    Path("a.csv").write_text(LOG)
    Path("b.csv").write_text(LOG.replace("8.", "7."))
    assert run("import", "a.csv", "--logbook", "book").returncode == 0
    (name,) = [p.stem for p in Path("book", "flights").iterdir()]
    folders = [Path("book"), *Path("book").rglob("*")]
    for path in folders:
        path.chmod(path.stat().st_mode & ~0o222)
    try:
        for words in (["remove", name, "--for-good", "--yes"], ["import", "b.csv"]):
            whole = [*bare, sys.executable, "-m", "spooldown", *words, "--logbook", "book"]
            done = subprocess.run(whole, check=False, capture_output=True, text=True)
            assert (done.returncode, done.stderr.count("\n")) == (6, 1), done.stderr
            assert "check the folder's permissions" in done.stderr
    finally:
        for path in folders:
            path.chmod(path.stat().st_mode | 0o200)
    assert run("check", "--logbook", "book").stdout == "Every file is as it was stored.\n"


def test_a_small_file_is_never_waited_for_nor_read_without_end(place, monkeypatch):
    """A pipe that nobody writes into, and a device without end, in the place of a sheet or an aircraft's file."""
    os.mkfifo("pipe")
    Path("a.csv").write_text(LOG)
    assert run("import", "a.csv").returncode == 0
    for words in (
        ["register", "pipe"],
        ["note", "--sheet", "pipe"],
        ["range-check", "add", "pipe", "--aircraft", "Tern"],
    ):
        assert "nobody writes into" in said_once(run(*words))
    monkeypatch.setattr("spooldown.commands.places.LARGEST", 1 << 16)
    assert "more than" in said_once(run("register", "/dev/zero"))
    Path("heron.toml").write_text('[aircraft]\nname = "Heron"\n')
    writer = subprocess.Popen(["sh", "-c", "cat heron.toml > pipe"])
    for _ in range(200):  # until it waits at the other end
        done = run("register", "pipe")
        if done.returncode == 0:
            break
        time.sleep(0.01)
    assert (done.returncode, writer.wait(5)) == (0, 0), done.stderr
    assert "no file" in said_once(run("backup", "pipe"))
    assert Path("pipe").is_fifo()


@pytest.mark.parametrize("name", ["A\nB", "Ev\u202eil", "\x1b[31mX", "L" * 81, "\u200bZ"])
def test_a_name_that_no_list_has_room_for_is_refused_or_passed_over(place, name):
    Path("a.csv").write_text(LOG)
    assert "no name" in said_once(run("import", "a.csv", "--aircraft", name))
    Path("b.csv").write_text(f"aircraft: {name}\n" + Path("a.csv").read_text())
    assert run("import", "b.csv").returncode in (0, 3)
    assert all(name not in row for row in run("flights", "--json").stdout.splitlines())


def test_what_a_logbook_keeps_is_no_log(place):
    Path("logs").mkdir()
    Path("logs", "a.csv").write_text(LOG)
    book = ("--logbook", "logs/book")
    assert run("import", "logs", *book).returncode == 0
    assert run("pages", *book).returncode == 0
    again = run("import", "logs", *book)
    assert (again.returncode, len(again.stdout.splitlines())) == (0, 1), (again.stdout, again.stderr)
    assert "logs/book is a logbook's own folder" in said_once(run("import", "logs/book", *book))
    Path("logs/book/catalogue.sqlite").unlink()
    assert "a logbook's own folder" in said_once(run("import", "logs/book", "--logbook", "other"))
