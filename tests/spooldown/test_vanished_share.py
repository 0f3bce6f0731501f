"""A share that vanishes during an import: one sentence, nothing half, and what was reported stored is there again."""

import errno
import os
import sqlite3
from types import SimpleNamespace

import pytest
from front import run, said_once
from made import draft, source

from spooldown.intake import batch
from spooldown.intake.adding import find_logs
from spooldown.intake.batch import add_files
from spooldown.logbook import catalogue, entered, store
from spooldown.logbook.book import Logbook
from spooldown.problems import LogbookProblem
from spooldown.processes.workers import Done
from spooldown.register import Register
from spooldown.upkeep.checking import check

BROKEN = (errno.EIO, errno.ESTALE, errno.ENOENT, errno.EACCES, errno.ENOTCONN)


def logs(folder, count=6):
    folder.mkdir()
    for n in range(count):
        rows = "".join(f"{i / 10},{8 + i % (7 + n) / 100}\n" for i in range(60 + n))
        (folder / f"{n}.csv").write_text(f"Time (s),RX1 Voltage (V)\n{rows}")
    return folder


@pytest.mark.parametrize("count", [3, 6])
def test_what_was_reported_is_there_when_the_share_comes_back(tmp_path, monkeypatch, count):
    monkeypatch.setattr(batch, "TOGETHER", 2)
    monkeypatch.setattr(batch, "in_order", lambda work, tasks: (Done(t, work(t), None) for t in tasks))  # no workers
    share, away = tmp_path / "share", tmp_path / "away"
    files = find_logs([logs(tmp_path / "logs", count)])
    reported: list[str] = []
    with Logbook(share / "book") as book:
        book.add([source()], [draft()])
        problems = []
        for _, outcome in add_files(book, files, Register({})):
            if isinstance(outcome, Exception):
                problems.append(outcome)
            else:
                reported += outcome.flight_ids
                if share.exists():
                    os.rename(share, away)
    assert not share.exists()
    assert all(isinstance(p, LogbookProblem) and "has gone; connect" in str(p) for p in problems)
    assert len(problems) <= 1
    os.rename(away, share)
    with Logbook(share / "book") as book:
        assert set(reported) < set(book.flight_ids())
        assert [book.telemetry(i).table.num_rows for i in reported]
    check(share / "book", repair=True)
    assert check(share / "book") == []


def test_no_logbook_is_made_where_a_share_was_when_it_was_opened(tmp_path):
    share = tmp_path / "share"
    share.mkdir()
    with Logbook(share / "book") as book:
        os.rename(share, tmp_path / "away")
        share.mkdir()  # the bare folder under the share
        with pytest.raises(LogbookProblem, match="was there and has gone"):
            book.add([source()], [draft()])
    assert list(share.iterdir()) == []
    with Logbook(share / "other" / "book") as book:  # folders that are not there yet are made
        assert book.add([source()], [draft()])


def change(book):
    with book.writing():
        book.add([source()], [draft(rows=50)], aircraft="Heron")
        book.set_setting("title", "new")


@pytest.mark.parametrize("code", BROKEN, ids=lambda code: errno.errorcode[code])
@pytest.mark.parametrize(
    ("where", "name"), [(store, "write_flight"), (store, "flush_folder"), (entered, "append"), (os, "fsync")]
)
@pytest.mark.parametrize("there", [True, False])
def test_every_write_that_fails_leaves_all_as_it_was(tmp_path, monkeypatch, where, name, code, there):
    folder = tmp_path / "book"
    if there:
        with Logbook(folder) as book:
            book.add([source("before.csv", "99")], [draft()], aircraft="Heron")

    def broken(*_, **__):
        raise OSError(code, os.strerror(code))

    with Logbook(folder) as book:
        before = book.flights()
        with monkeypatch.context() as patch:
            patch.setattr(where, name, broken)
            with pytest.raises(LogbookProblem) as told:
                change(book)
        assert os.strerror(code) in str(told.value)
        assert "damaged" not in str(told.value)
    with Logbook(folder) as book:
        assert (book.flights(), book.setting("title")) == (before, "")
    assert not folder.exists() or check(folder) == []


@pytest.mark.parametrize(
    "error", [sqlite3.DatabaseError("database disk image is malformed"), sqlite3.ProgrammingError("closed")]
)
def test_a_folder_that_does_not_answer_is_not_told_as_damage(tmp_path, monkeypatch, error):
    def gone(*_):
        raise OSError(errno.ESTALE, os.strerror(errno.ESTALE))

    with pytest.raises(LogbookProblem, match="is damaged"), catalogue.spoken(tmp_path):
        raise sqlite3.DatabaseError("database disk image is malformed")
    monkeypatch.setattr(catalogue, "os", SimpleNamespace(stat=gone, strerror=os.strerror))
    with pytest.raises(LogbookProblem, match=r"Stale file handle; check the disk, or the line to the share"):  # noqa: SIM117
        with catalogue.spoken(tmp_path):
            raise error


def test_a_folder_that_cannot_be_asked_is_one_sentence(tmp_path, monkeypatch):
    def gone(path):
        raise OSError(errno.EIO, os.strerror(errno.EIO), str(path))

    monkeypatch.setattr("pathlib.Path.is_file", gone)
    assert "Input/output error" in said_once(run("flights", "--logbook", tmp_path / "book"))
