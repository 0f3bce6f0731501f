"""What killed processes leave behind is taken away, and nothing else."""

import os
import signal
import socket
import stat
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import pytest

from reports import write
from spooldown import scratch

pytestmark = pytest.mark.skipif(os.name != "posix", reason="processes are asked by signals")


@pytest.fixture(scope="module")
def dead():
    """The number of a process that has ended."""
    ended = subprocess.Popen(["true"])
    ended.wait()
    return ended.pid


def made(place, name, *inside, old=True):
    folder = place / name
    folder.mkdir(parents=True)
    for one in inside:
        if one == "socket":
            os.mknod(folder / one, stat.S_IFSOCK | 0o600)
        else:
            (folder / one).write_text("x")
    if old:
        os.utime(folder, (time.time() - 600,) * 2)
    return name


def test_only_what_dead_processes_of_ours_left_goes(tmp_path, dead):
    alive = os.getpid()
    goes = {
        made(tmp_path, f"spooldown-{dead}-abc", "log.csv"),
        made(tmp_path, f"pymp-{dead}", f"spooldown-{dead}-", "socket"),
    }
    stays = {
        made(tmp_path, f"spooldown-{alive}-abc"),
        made(tmp_path, f"spooldown-{dead}-young", old=False),
        made(tmp_path, "spooldown-mine"),
        made(tmp_path, f"spooldown-{10**30}-x"),
        made(tmp_path, "pymp-strange", "socket"),
        made(tmp_path, "pymp-more", f"spooldown-{dead}-", "socket", "thesis.txt"),
        made(tmp_path, "pymp-alive", f"spooldown-{alive}-", "socket"),
    }
    (tmp_path / f"spooldown-{dead}-file").write_text("no folder")
    outside = made(tmp_path / "other", "kept", "x")
    (tmp_path / f"spooldown-{dead}-link").symlink_to(tmp_path / "other" / outside)
    others = {f"spooldown-{dead}-file", f"spooldown-{dead}-link", "other"}
    assert {p.name for p in tmp_path.iterdir()} == goes | stays | others
    scratch.sweep(tmp_path)
    assert {p.name for p in tmp_path.iterdir()} == stays | others
    assert (tmp_path / "other" / outside / "x").is_file()


def test_folders_of_another_user_stay(tmp_path, dead, monkeypatch):
    name = made(tmp_path, f"spooldown-{dead}-abc")
    monkeypatch.setattr(os, "geteuid", lambda: 4242)
    scratch.sweep(tmp_path)
    assert (tmp_path / name).is_dir()


READY = """
import os, sys
from multiprocessing import forkserver
from spooldown.processes import workers
workers.available = lambda: 2
workers.make_ready(["json"])
print(forkserver._forkserver._forkserver_pid, flush=True)
sys.stdin.read()
"""


@pytest.mark.skipif(sys.platform != "linux", reason="no such processes there")
def test_the_sockets_of_a_killed_template_of_workers_are_swept():
    place = Path(tempfile.mkdtemp())  # a socket's path has some 100 letters at most
    around = {**os.environ, "TMPDIR": str(place)}
    pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "text": True}
    with subprocess.Popen([sys.executable, "-c", READY], env=around, **pipes) as process:
        template = int(process.stdout.readline())
        (folder,) = place.glob("pymp-*")
        for listener in folder.glob("listener-*"):  # Python 3.14 needs no file for it
            with socket.socket(socket.AF_UNIX) as line:
                line.connect(str(listener))  # it lives
        os.utime(folder, (time.time() - 600,) * 2)
        scratch.sweep(place)
        assert folder.exists()
        for number in (template, process.pid):
            os.kill(number, signal.SIGKILL)
    assert folder.exists()
    os.utime(folder, (time.time() - 600,) * 2)
    scratch.sweep(place)
    assert not folder.exists()
    place.rmdir()


def test_a_restoring_that_was_killed_leaves_nothing_for_good(tmp_path, dead):
    from made import draft, source

    from spooldown.logbook import archive
    from spooldown.logbook.book import Logbook

    with Logbook(tmp_path / "book") as book:
        book.add([source()], [draft()])
        archive.back_up(book, tmp_path / "b.zip")
    left = made(tmp_path, f".back.{dead}-x", "catalogue.sqlite")
    archive.restore(tmp_path / "b.zip", tmp_path / "back")
    assert not (tmp_path / left).exists()
    assert {p.name for p in tmp_path.iterdir()} == {"book", "b.zip", "back"}


def test_a_page_cut_off_while_it_was_written_is_swept_by_the_next_build(tmp_path):
    root = tmp_path / "pages"
    killed = write.Folder(root)
    killed.replacing(["flights/a.html", "../a.html"])
    (tmp_path / ".a.html.x1y2z3").touch()
    (root / "flights").mkdir(parents=True)
    for name in (".a.html.x1y2z3", ".mine.txt", ".b.html.x1y2z3"):
        (root / "flights" / name).write_text("half")
    write.Folder(root).finish()
    assert {p.name for p in (root / "flights").iterdir()} == {".mine.txt", ".b.html.x1y2z3"}
    assert (tmp_path / ".a.html.x1y2z3").exists()
