"""What can stop a command, besides refused input: each is one sentence for the user and one exit code."""

from __future__ import annotations

import difflib
import errno
import os
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import Any

from analyser.core.findings import Finding, Text, written_by
from spooldown.exit_codes import ExitCode


def in_words(finding: Finding) -> str:
    """Put a finding in words; the catalogue is read when the first one is."""
    from reports.words.catalogue import text

    return text(finding)


written_by(in_words)


class Problem(Exception):
    """Something that stops a command: one clear sentence, by its code in the catalogue.

    Parameters
    ----------
    code : str or Finding
        Of the sentence in the catalogue of words; or the whole finding.
    **values
        What fills it.
    """

    exit_code = ExitCode.BUG

    def __init__(self, code: str | Finding, **values: Any) -> None:
        super().__init__(code)
        self.finding = code if isinstance(code, Finding) else Finding(code, values)

    def __reduce__(self) -> tuple[object, ...]:
        return partial(type(self), self.finding.code, **self.finding.values), ()

    def __str__(self) -> str:
        if " " in self.finding.code:  # a sentence that no catalogue has yet
            return self.finding.code
        return " ".join(str(self.finding).split("\u00a0"))  # a plain line, to be searched


class NotFoundProblem(Problem):
    """A flight, pack, aircraft or logbook that is not there."""

    exit_code = ExitCode.NOT_FOUND


class UsageProblem(Problem):
    """Options that do not go together."""

    exit_code = ExitCode.USAGE


class RefusedProblem(Problem):
    """Something outside that cannot be used as it is: a port that is busy, or that may not be opened."""

    exit_code = ExitCode.REFUSED


class OpenQuestion(Problem):
    """The file leaves something open that must not be guessed."""

    exit_code = ExitCode.QUESTION


class LogbookProblem(Problem):
    """The logbook is busy, damaged, or written by a newer version."""

    exit_code = ExitCode.LOGBOOK


class ChangedMeanwhile(LogbookProblem):
    """A flight that another process took out of the logbook, or read again, while this one worked with it.

    Parameters
    ----------
    what : Finding
        Which, and what became of it.
    """

    def __init__(self, what: Finding) -> None:
        super().__init__("logbook.once_more", what=what)
        self.what = what

    def __reduce__(self) -> tuple[object, ...]:
        return type(self), (self.what,)


_OF_THE_PLACE = {errno.EACCES, errno.EPERM, errno.EROFS, errno.ENOSPC, errno.EIO}


def of_the_place(error: Exception) -> Finding | None:
    """Say what a file or a folder may not do, whoever meets it first: no fault of this program's; None of others."""
    if isinstance(error, OSError) and error.filename and error.errno in _OF_THE_PLACE:
        return Finding("cli.place", {"place": os.fsdecode(error.filename), "why": os.strerror(error.errno)})
    return None


@contextmanager
def writing_to(place: Path) -> Iterator[None]:
    """Say in one sentence that a place for pages or tables cannot be written."""
    try:
        yield
    except OSError as error:
        there = os.fsdecode(error.filename2 or error.filename or place)
        if isinstance(error, IsADirectoryError) and os.path.realpath(there) != os.path.realpath(place):
            raise UsageProblem("problem.folder_in_place", file=there) from error
        why, full = str(error.strerror or error), error.errno == errno.ENOSPC
        raise UsageProblem("problem.unwritable", place=str(place), why=why, full=full) from error


def nearest(word: str, known: Iterable[str], *, cutoff: float | None = None) -> str:
    """Find the known word most like ``word``, letter case aside; '' where none is alike."""
    if cutoff is None:
        cutoff = 0.5 if len(word) <= 3 else 0.6  # of two letters, one may be wrong
    by_folded = {k.casefold(): k for k in known}
    close = difflib.get_close_matches(word.casefold(), by_folded, n=1, cutoff=cutoff)
    return by_folded[close[0]] if close else ""


def not_found(kind: str, word: str, known: Iterable[str], *, remedy: Text) -> NotFoundProblem:
    """Make a :class:`NotFoundProblem` that offers the nearest known name.

    Parameters
    ----------
    kind : str
        What it would name, as the catalogue's ``none`` lists them: ``aircraft``, ``flight``, ``pack`` …
    remedy : str or Finding
        The code of what to do otherwise, or a finding.
    """
    otherwise = remedy if isinstance(remedy, Finding) or " " in remedy else Finding(remedy)
    return NotFoundProblem(
        "problem.not_found", nothing=Finding(f"none.{kind}"), word=word, alike=nearest(word, known), remedy=otherwise
    )
