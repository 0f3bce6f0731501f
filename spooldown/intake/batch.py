"""Many logs at once: looked at, read and encoded in worker processes, written by this one, several to a transaction."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path

import pyarrow as pa
from msgspec import Struct

from analyser.core.aircraft import Aircraft
from analyser.core.findings import say
from importers.model import Plan
from importers.plan import plan
from importers.read import read
from importers.refusal import Refusal
from importers.table.source import Source as Origin
from spooldown.intake.adding import LogFile, Outcome, add_file, already, likely_owner, no_log, remembered
from spooldown.intake.codes import IntakeRefused
from spooldown.logbook.book import Logbook
from spooldown.logbook.store import EncodedDraft
from spooldown.problems import LogbookProblem, Problem
from spooldown.processes.cores import POOL_FROM
from spooldown.processes.workers import WorkerEnded, in_order
from spooldown.register import Register

SMALL_BYTES = 4 * 2**20
"""A larger file is read by this process alone, streaming; it keeps two cores busy by itself."""
HELD_BYTES = 64 * 2**20
"""Telemetry of one file that a worker hands over in one piece; more is streamed, too."""
TOGETHER = 16
"""Files in one transaction, which waits for the disk once; an interruption costs no more than these."""


class Task(Struct, frozen=True):
    """What a worker needs to read a file."""

    origin: Origin
    answers: Mapping[str, str]
    mappings: Sequence[Path]
    look_only: bool
    aircraft: Aircraft | None = None


class Ready(Struct, frozen=True):
    """A file as a worker has read it: its plan, and its flights where nothing is open and they are not too large."""

    plan: Plan
    flights: Sequence[EncodedDraft] | None = None


def prepare(task: Task) -> Ready:
    """Look at a file and read it, in a worker.

    Raises
    ------
    Refusal
        If it is no telemetry.
    """
    proposed = plan(task.origin, mappings=task.mappings, answers=task.answers, aircraft=task.aircraft)
    if task.look_only or proposed.questions:
        return Ready(proposed)
    flights: list[EncodedDraft] = []
    size = 0
    for draft in read(proposed):
        batches: list[pa.RecordBatch] = []
        for batch in draft.batches:
            size += batch.nbytes
            if size > HELD_BYTES:
                return Ready(proposed)
            batches.append(batch)
        flights.append(EncodedDraft.of(draft, batches))
    return Ready(proposed, flights)


def add_files(
    book: Logbook,
    files: Sequence[LogFile],
    register: Register,
    *,
    aircraft: str = "",
    answers: Mapping[str, str] | None = None,
    mappings: Sequence[Path] = (),
    dry_run: bool = False,
    progress: Callable[[str, int], None] | None = None,
) -> Iterator[tuple[LogFile, Outcome | Exception]]:
    """Import files in order; each comes back once it is on the disk, or with the problem that kept it out.

    Parameters
    ----------
    progress : callable or None
        Told a file's name and the stored bytes read of all files so far.

    Yields
    ------
    file, outcome : LogFile, Outcome or Exception
        A :class:`~importers.refusal.Refusal` or :class:`~spooldown.problems.Problem` where it could not be imported.
        A :class:`~spooldown.problems.LogbookProblem` ends it: the next file would meet it again.
    """
    said = dict(answers or {})
    before = 0

    def one(file: LogFile, ready: Ready | None = None) -> Outcome:
        told = None if progress is None else lambda n: progress(file.name, before + n)
        found, drafts = (ready.plan, ready.flights) if ready else (None, None)
        return add_file(
            book, file, register, aircraft=aircraft, answers=said, mappings=mappings, dry_run=dry_run, progress=told,
            found=found, drafts=drafts,
        )  # fmt: skip

    waiting: list[tuple[LogFile, Ready]] = []

    def whose(file: LogFile) -> Aircraft | None:
        return likely_owner(file, register, aircraft)

    for file, found in _read_ahead(book, files, said, mappings, whose, look_only=dry_run):
        if isinstance(found, Ready) and found.flights is not None:
            waiting.append((file, found))
            if len(waiting) < TOGETHER:
                continue
            stored, waiting = _store(book, waiting, one), []
        else:
            stored, waiting = _store(book, waiting, one), []
            stored.append((file, found if isinstance(found, Exception) else _tried(one, file, found)))
        for named, outcome in stored:
            before += _size(named)
            if progress:
                progress(named.name, before)
            yield named, outcome
            if isinstance(outcome, LogbookProblem):
                return
    yield from _store(book, waiting, one)


def _store(
    book: Logbook, waiting: Sequence[tuple[LogFile, Ready]], one: Callable[[LogFile, Ready], Outcome]
) -> list[tuple[LogFile, Outcome | Exception]]:
    """Store files in one transaction; where that fails, each in its own, to tell which of them can't be."""
    if not waiting:
        return []
    try:
        with book.writing():
            return [(file, _tried(one, file, ready, within=True)) for file, ready in waiting]
    except LogbookProblem:
        out: list[tuple[LogFile, Outcome | Exception]] = []
        for file, ready in waiting:
            out.append((file, outcome := _tried(one, file, ready)))
            if isinstance(outcome, LogbookProblem):
                break  # so would the next one, as where a share has gone
        return out


def _tried(
    one: Callable[..., Outcome], file: LogFile, ready: Ready | None, *, within: bool = False
) -> Outcome | Exception:
    """What came of a file; ``within`` a transaction, what would spoil it is raised."""
    try:
        return one(file, ready)
    except LogbookProblem as problem:
        if within:
            raise
        return problem
    except (Refusal, Problem) as problem:
        return problem


def _read_ahead(
    book: Logbook,
    files: Sequence[LogFile],
    answers: Mapping[str, str],
    mappings: Sequence[Path],
    whose: Callable[[LogFile], Aircraft | None],
    *,
    look_only: bool,
) -> Iterator[tuple[LogFile, Ready | Exception | None]]:
    """Every file, in order, with what a worker read of it; None where this process is to read it itself."""
    if len(files) < POOL_FROM:
        yield from ((file, None) for file in files)
        return
    order: deque[tuple[LogFile, bool]] = deque()
    before: dict[str, dict[str, str]] = {}

    def tasks() -> Iterator[Task]:
        for file in files:
            task = _task(book, file, answers, mappings, whose, look_only=look_only, before=before)
            order.append((file, task is not None))
            if task is not None:
                yield task

    for done in in_order(prepare, tasks()):
        while not order[0][1]:
            yield order.popleft()[0], None
        file, _ = order.popleft()
        error = done.error
        if isinstance(error, WorkerEnded):
            error = Refusal(file.name, IntakeRefused.TOO_LARGE, why=say("work.ended"))
        elif error is not None and not isinstance(error, (Refusal, Problem)):
            raise error
        yield file, error or done.value
    while order:
        yield order.popleft()[0], None


def _task(
    book: Logbook,
    file: LogFile,
    answers: Mapping[str, str],
    mappings: Sequence[Path],
    whose: Callable[[LogFile], Aircraft | None],
    *,
    look_only: bool,
    before: dict[str, dict[str, str]],
) -> Task | None:
    """What a worker is to read; None for what is large, already there, or no log."""
    try:
        if not 0 < _size(file) <= SMALL_BYTES or no_log(file):
            return None
        origin = Origin(file.path, file.name, answers.get("member", ""))
        if already(book, origin):
            return None
        owner = whose(file)
        name = owner.name if owner else ""
        if name not in before:
            before[name] = remembered(book, owner)
        return Task(origin, {**before[name], **answers}, mappings, look_only, owner)
    except (Refusal, Problem):
        return None


def _size(file: LogFile) -> int:
    try:
        return file.path.stat().st_size
    except OSError:
        return 0
