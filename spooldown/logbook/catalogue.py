"""Opening the catalogue: to read without writing a byte, or to write; its complaints as one sentence.

A reader opens the file read-only. Where it has to be brought up to date first (an older version wrote it, flight files
lie there that it does not know, a write was cut off), that happens in a copy in memory; the next writer does the same
on the disk.
"""

from __future__ import annotations

import errno
import os
import shutil
import sqlite3
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from analyser.core.findings import Finding
from reports.addresses import neutral
from spooldown.logbook.plain import plain
from spooldown.problems import ChangedMeanwhile, LogbookProblem
from spooldown.scratch import owned

CATALOGUE = "catalogue.sqlite"
WAIT_S = 10.0
"""How long a writer waits for another one to finish."""
SHOWN = 60
"""Characters of a damaged cell that are shown."""
AGAIN_S = 0.01
"""How long whoever found a write cut off, and then taken back, waits before it looks again."""
SYNCHRONOUS = "EXTRA"
"""A commit counts once it is on the disk, the folder's entry included."""


def connect(catalogue: Path | None, *, write: bool = False) -> sqlite3.Connection:
    """Open a catalogue; None for an empty one in memory.

    Raises
    ------
    sqlite3.Error
        As SQLite says it; :func:`spoken` words it.
    """
    place = ":memory:" if catalogue is None else f"{catalogue.resolve().as_uri()}?mode={'rwc' if write else 'ro'}"
    connection = sqlite3.connect(place, timeout=WAIT_S, isolation_level=None, uri=catalogue is not None)
    try:
        connection.execute("PRAGMA foreign_keys = ON")
        if write:
            connection.execute(f"PRAGMA synchronous = {SYNCHRONOUS}")
    except sqlite3.Error:
        connection.close()
        raise
    return connection


def open_to_read(catalogue: Path) -> sqlite3.Connection:
    """Open a catalogue without changing a byte; where a write was cut off, a copy in which it is undone."""
    until = time.monotonic() + WAIT_S
    while (found := _opened(catalogue)) is None:  # a writer took the cut-off write back at this moment
        if time.monotonic() > until:
            raise LogbookProblem("logbook.busy", folder=str(catalogue.parent))
        time.sleep(AGAIN_S)
    return found


def _opened(catalogue: Path) -> sqlite3.Connection | None:
    """Open a catalogue; None where it changed while it was copied."""
    connection = connect(catalogue)
    try:
        connection.execute("SELECT 1 FROM sqlite_master").fetchone()
        pages, page = (connection.execute(f"PRAGMA {n}").fetchone()[0] for n in ("page_count", "page_size"))
        if cut := _cut_short(catalogue, pages * page):
            raise sqlite3.DatabaseError(cut)
    except sqlite3.OperationalError as error:
        connection.close()
        if not is_cut_off(error):
            raise
        journal = catalogue.with_name(f"{catalogue.name}-journal")
        before = _state(journal)
        with TemporaryDirectory(prefix=owned()) as place:
            for path in (journal, catalogue):
                with suppress(FileNotFoundError):
                    shutil.copy(path, Path(place, path.name))
            if before is None or _state(journal) != before:  # the copies may be of two states
                return None
            return in_memory(connect(Path(place, catalogue.name), write=True))
    except sqlite3.DatabaseError as error:
        connection.close()
        if cut := _cut_short(catalogue, _stated(catalogue)):  # whole pages are missing
            raise sqlite3.DatabaseError(cut) from error
        raise
    return connection


def is_cut_off(error: Exception) -> bool:
    """Whether SQLite says that a write was cut off, which whoever only reads cannot take back."""
    return getattr(error, "sqlite_errorcode", 0) == sqlite3.SQLITE_READONLY_ROLLBACK


def _state(path: Path) -> tuple[int, int, int] | None:
    """What changes of a file when it is written; None where there is none."""
    with suppress(OSError):
        found = path.stat()
        return found.st_ino, found.st_size, found.st_mtime_ns
    return None


def answers(connection: sqlite3.Connection, query: str, values: Sequence[object] = ()) -> list[Any]:
    """What a catalogue answers; in a text that is no UTF-8, as damage leaves it, each such byte is a lone surrogate.

    Nobody can store one, so :func:`is_sound` tells such a text.
    """
    try:
        return connection.execute(query, values).fetchall()
    except (sqlite3.OperationalError, UnicodeDecodeError) as error:  # the complaint quotes what it is about
        if isinstance(error, sqlite3.OperationalError) and "decode" not in str(error):
            raise
    connection.text_factory = partial(str, encoding="utf-8", errors="surrogateescape")
    return connection.execute(query, values).fetchall()


def is_sound(text: object) -> bool:
    """Whether a cell holds a text that somebody can have stored."""
    if not isinstance(text, str):
        return False
    try:
        text.encode()
    except UnicodeEncodeError:
        return False
    return "\0" not in text


def shown(cell: object) -> str:
    """What a damaged cell says, as far as a sentence has room for it."""
    return str(cell)[:SHOWN]


def in_memory(connection: sqlite3.Connection) -> sqlite3.Connection:
    """Copy a catalogue into memory and let go of the file."""
    copy = connect(None)
    connection.backup(copy)
    connection.close()
    return copy


def identity(path: Path) -> tuple[int, int] | None:
    """Tell one file from another that took its name; None where there is none."""
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_dev, found.st_ino


def make_sure_it_is_here(catalogue: Path) -> bool:
    """Whether there is a catalogue.

    Raises
    ------
    LogbookProblem
        If something else than a file has its name.
    """
    if catalogue.is_file():
        return True
    if os.path.lexists(catalogue):
        raise not_this_one(catalogue, "logbook.no_file" if catalogue.exists() else "logbook.dangling")
    return False


def not_this_one(catalogue: Path, why: str | Finding) -> LogbookProblem:
    """Make the problem that what has the catalogue's name is not this logbook's."""
    reason = why if isinstance(why, Finding) else Finding(why)
    what = Finding("logbook.other_catalogue", {"catalogue": str(catalogue), "why": reason})
    return LogbookProblem("logbook.other_catalogue_repair", what=what)


@contextmanager
def spoken(folder: Path) -> Iterator[None]:
    """Turn the complaints of SQLite and of the disk into one sentence."""
    try:
        yield
    except OSError as error:
        what = os.strerror(error.errno) if error.errno else str(error)
        raise _unusable("logbook.unwritable", folder, what) from error
    except (sqlite3.DatabaseError, UnicodeDecodeError) as error:
        if what := _gone(folder, error):  # SQLite takes what a broken line gives it for damage
            raise _unusable("logbook.unusable", folder, what) from error
        if is_cut_off(error):  # since it was opened: whoever opens it again reads it as it was before
            raise ChangedMeanwhile(Finding("logbook.cut_off_meanwhile", {"folder": str(folder)})) from error
        if not isinstance(error, sqlite3.OperationalError) or str(error).startswith("no such "):
            raise LogbookProblem(
                "logbook.catalogue_damaged_repair", catalogue=str(folder / CATALOGUE), why=why_of(error)
            ) from error
        if "locked" in str(error):
            raise LogbookProblem("logbook.busy", folder=str(folder)) from error
        raise _unusable("logbook.unusable", folder, str(error)) from error


_BROKEN = (
    "I/O",
    *(
        os.strerror(getattr(errno, n))
        for n in ("EIO", "ESTALE", "ENOTCONN", "ENODEV", "EHOSTDOWN")
        if hasattr(errno, n)
    ),
)
"""What SQLite and the system say of a disk or a share that does not answer."""


def _gone(folder: Path, error: Exception) -> str:
    """Say why a logbook's folder does not answer any more, as a share's whose line broke; '' where it does."""
    try:
        os.stat(folder / CATALOGUE)
        os.listdir(folder)
    except FileNotFoundError:
        pass
    except OSError as why:
        return os.strerror(why.errno) if why.errno else str(why)
    return os.strerror(errno.EIO) if isinstance(error, sqlite3.ProgrammingError) else ""  # let go of when it failed


def why_of(error: sqlite3.DatabaseError | UnicodeDecodeError) -> str:
    """What SQLite says; a complaint that quotes damaged bytes is itself no text."""
    if isinstance(error, UnicodeDecodeError):
        return neutral(error.object.decode("utf-8", "replace"))
    return str(error)


def _unusable(code: str, folder: Path, what: str) -> LogbookProblem:
    return LogbookProblem(code, folder=str(folder), why=what, remedy=_remedy(what, folder))


def is_full(problem: LogbookProblem) -> bool:
    """Whether there was no room on the disk: what only takes away may be tried in another way."""
    remedy = problem.finding.values.get("remedy")
    return isinstance(remedy, Finding) and remedy.code == "remedy.free_space"


def _no_room(folder: Path) -> bool:
    """Whether no file can be made in a folder, for want of bytes or of entries in its file system (``statvfs``)."""
    with suppress(OSError, AttributeError):  # no such call on this system
        found = os.statvfs(folder)
        return found.f_bavail == 0 or (found.f_files > 0 and found.f_favail == 0)
    return False


def _remedy(what: str, folder: Path) -> Finding:
    # SQLite says of a journal that there is no room for only that it cannot be opened.
    if "full" in what or "space" in what or (what.startswith("unable to") and _no_room(folder)):
        return Finding("remedy.free_space")
    return Finding("remedy.check_disk" if any(word in what for word in _BROKEN) else "remedy.check_permissions")


def _cut_short(catalogue: Path, stated: int) -> str:
    """Say that a catalogue is shorter than SQLite says it is; '' otherwise.

    The file is not opened for that: closing it would let go of every lock that this process holds on it, a writer's in
    another thread too (POSIX.1-2017, ``fcntl``; "How To Corrupt An SQLite Database File", section 2.2).
    """
    size = catalogue.stat().st_size
    if size < stated and not catalogue.with_name(f"{catalogue.name}-journal").exists():
        return str(Finding("logbook.cut_short", {"size": size, "stated": stated}))
    return ""


def _stated(catalogue: Path) -> int:
    """How long a damaged catalogue's own header says it is, 0 where it does not (SQLite file format, section 1.3)."""
    with suppress(OSError), plain(catalogue).open("rb") as file:
        head = file.read(100)
        if len(head) == 100 and head.startswith(b"SQLite format 3\0") and head[24:28] == head[92:96]:
            page = int.from_bytes(head[16:18], "big")
            return (65536 if page == 1 else page) * int.from_bytes(head[28:32], "big")
    return 0
