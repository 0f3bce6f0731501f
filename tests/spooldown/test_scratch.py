"""What killed processes leave behind is taken away, and nothing else."""

import os
import subprocess
import time

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
        (folder / one).write_text("x")
    if old:
        os.utime(folder, (time.time() - 600,) * 2)
    return name


def test_only_what_dead_processes_of_ours_left_goes(tmp_path, dead):
    alive = os.getpid()
    goes = {
        made(tmp_path, f"spooldown-{dead}-abc", "log.csv"),
    }
    stays = {
        made(tmp_path, f"spooldown-{alive}-abc"),
        made(tmp_path, f"spooldown-{dead}-young", old=False),
        made(tmp_path, "spooldown-mine"),
        made(tmp_path, f"spooldown-{10**30}-x"),
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
