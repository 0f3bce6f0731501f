"""Places a command reads from and writes to: the logbook, a file that was named, a file or folder for results."""

from __future__ import annotations

import os
from collections.abc import Collection, Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

import typer

from analyser.core.findings import Finding, Text
from spooldown.exit_codes import ExitCode
from spooldown.problems import NotFoundProblem, Problem, UsageProblem
from spooldown.settings import logbook_folder
from spooldown.terminal import complain
from spooldown.work.meanwhile import begun_anew

if TYPE_CHECKING:
    from spooldown.logbook.book import Logbook

LARGEST = 64 << 20
"""Bytes of a sheet, an aircraft's file or a checklist beyond which it is none."""

PARTLY: ContextVar[bool] = ContextVar("PARTLY", default=False)
"""Whether something damaged was left out of what the command was asked for: it ends with a code of its own."""

again_where_changed = begun_anew(lambda why: complain(str(why)))
"""Lets a command that reads every flight begin anew, and say so, where one of them is changed meanwhile."""


@contextmanager
def opened(folder: Path | None, *, must_exist: bool = True, language: str = "") -> Iterator[Logbook]:
    """Open the logbook that was meant, and write for its reader while it is open."""
    from reports.words.reader import reading
    from spooldown.preferences import reader_of

    place = logbook_folder(folder)
    with _at(place) as book:
        if must_exist and not book.exists:
            raise NotFoundProblem("problem.no_logbook_yet", place=str(place))
        stopped: Finding | None = None
        try:
            with reading(reader_of(book, language)):
                yield book
        except Problem as problem:
            stopped = problem.finding  # told by whoever ends the command
            raise
        finally:
            for sentence in (*book.said, *book.left_out):
                if sentence != stopped:
                    complain(str(sentence))
            if book.left_out:
                PARTLY.set(True)


def _at(place: Path) -> Logbook:
    from spooldown.logbook.book import Logbook

    if ":" in str(place):
        from spooldown.addresses import address_of
        from spooldown.fleet.storage import StoredLogbook

        if address := address_of(place):
            return StoredLogbook(address)
    return Logbook(place)


def local_folder(folder: Path | None) -> Path:
    """Folder of the logbook that was meant, where an address will not do.

    Raises
    ------
    UsageProblem
        If it is an address on object storage.
    """
    from spooldown.addresses import address_of

    place = logbook_folder(folder)
    if address := address_of(place):
        raise UsageProblem("usage.needs_folder", address=address)
    return place


def read_file(path: Path) -> bytes:
    """Read a small file that was named, or what somebody writes into a pipe.

    Raises
    ------
    NotFoundProblem
        If it cannot be read.
    UsageProblem
        If nobody writes into the pipe, or there is no end of it.
    """
    try:
        data = _from_pipe(path) if path.is_fifo() else _of(path.open("rb"))
    except OSError as error:
        raise NotFoundProblem("problem.unreadable", path=str(path), why=error.strerror) from error
    if len(data) > LARGEST:
        raise UsageProblem("usage.endless_file", path=str(path), mib=LARGEST >> 20)
    return data


def _of(file: BinaryIO) -> bytes:
    with file:
        return file.read(LARGEST + 1)


def _from_pipe(path: Path) -> bytes:
    """Read a pipe; one that nobody writes into reads as ended at once (POSIX.1-2017, ``read``), and is told."""
    handle = os.open(path, os.O_RDONLY | os.O_NONBLOCK)
    with open(handle, "rb") as file:
        try:
            first = os.read(handle, 1 << 16)
        except BlockingIOError:  # somebody has it open and writes nothing yet
            first = None
        if first == b"":
            raise UsageProblem("usage.empty_pipe", path=str(path))
        os.set_blocking(handle, True)
        return (first or b"") + file.read(LARGEST + 1)


def end_partly(whys: Sequence[Text], said: Collection[Text] = ()) -> None:
    """Name each flight that could not be worked out, and end with a code that says so; nothing where there is none.

    Parameters
    ----------
    said : collection of str or Finding
        What was named already.
    """
    for why in dict.fromkeys(whys):
        if why not in said:
            complain(str(why))
    if whys:
        raise typer.Exit(ExitCode.PARTLY)
