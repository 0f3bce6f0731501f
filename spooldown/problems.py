"""What can stop a command, besides refused input: each is one sentence for the user and one exit code."""

from __future__ import annotations

import difflib
from collections.abc import Iterable

from analyser.core.findings import Finding, written_by
from spooldown.settings import ExitCode


def in_words(finding: Finding) -> str:
    """Put a finding in words; the catalogue is read when the first one is."""
    from reports.words.catalogue import text

    return text(finding)


written_by(in_words)


class Problem(Exception):
    """Something that stops a command: a finding, which is one clear sentence."""

    exit_code = ExitCode.BUG

    def __str__(self) -> str:
        return super().__str__().replace("\u00a0", " ")  # a plain line, to be searched


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


def nearest(word: str, known: Iterable[str], *, cutoff: float | None = None) -> str:
    """Find the known word most like ``word``, letter case aside; '' where none is alike."""
    if cutoff is None:
        cutoff = 0.5 if len(word) <= 3 else 0.6  # of two letters, one may be wrong
    by_folded = {k.casefold(): k for k in known}
    close = difflib.get_close_matches(word.casefold(), by_folded, n=1, cutoff=cutoff)
    return by_folded[close[0]] if close else ""


def not_found(kind: str, word: str, known: Iterable[str], *, remedy: str) -> NotFoundProblem:
    """Word a :class:`NotFoundProblem` that offers the nearest known name."""
    alike = nearest(word, known)
    offer = f"did you mean {alike!r}? Otherwise {remedy}" if alike else remedy
    return NotFoundProblem(f"there is no {kind} {word!r}; {offer}.")
