"""Places a command reads from and writes to: the logbook, a file that was named, a file or folder for results."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from analyser.core.findings import Text
from spooldown.exit_codes import ExitCode
from spooldown.problems import NotFoundProblem, UsageProblem
from spooldown.settings import logbook_folder
from spooldown.terminal import complain

if TYPE_CHECKING:
    from spooldown.logbook.book import Logbook


@contextmanager
def opened(folder: Path | None, *, must_exist: bool = True, language: str = "") -> Iterator[Logbook]:
    """Open the logbook that was meant, and write for its reader while it is open."""
    from reports.words.reader import reading
    from spooldown.preferences import reader_of

    place = logbook_folder(folder)
    with _at(place) as book:
        if must_exist and not book.exists:
            raise NotFoundProblem("problem.no_logbook_yet", place=str(place))
        try:
            with reading(reader_of(book, language)):
                yield book
        finally:
            for sentence in book.said:
                complain(str(sentence))


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
    """Read a small file that was named."""
    try:
        return path.read_bytes()
    except OSError as error:
        raise NotFoundProblem("problem.unreadable", path=str(path), why=error.strerror) from error


@contextmanager
def writing_to(place: Path) -> Iterator[None]:
    """Say in one sentence that a place for pages or tables cannot be written."""
    try:
        yield
    except OSError as error:
        raise UsageProblem("problem.unwritable", place=str(place), why=str(error.strerror or error)) from error


def end_partly(whys: Sequence[Text]) -> None:
    """Name each flight that could not be worked out, and end with a code that says so; nothing where there is none."""
    for why in whys:
        complain(str(why))
    if whys:
        raise typer.Exit(ExitCode.PARTLY)
