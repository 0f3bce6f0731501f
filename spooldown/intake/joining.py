"""One flight spread over several files: each is read, put on the first one's clock, and kept as one flight."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from math import isfinite
from pathlib import Path

from analyser.core.findings import Text
from analyser.core.telemetry import Telemetry
from importers.join import Offset, join, offset
from importers.model import FlightDraft, Plan
from importers.plan import plan
from importers.read import read
from importers.table.source import Source as Origin
from spooldown.intake.adding import LogFile, Outcome, already, likely_owner, no_log, refuse_open, whose
from spooldown.logbook.book import Logbook, Source
from spooldown.problems import OpenQuestion, UsageProblem
from spooldown.register import Register

SURE_FROM = 0.3
"""An offset found with less confidence is asked for, not taken: chosen so that unrelated records do not pass."""
CARRIED = ("columns", "clock", "dialect", "content_sha256")
"""What the joined file keeps of each further log's metadata."""


@dataclass(frozen=True, slots=True)
class Part:
    """One of the files: its one flight in memory, and how it was read."""

    file: LogFile
    plan: Plan
    telemetry: Telemetry
    notices: tuple[Text, ...]


def add_joined(
    book: Logbook,
    files: Sequence[LogFile],
    register: Register,
    *,
    aircraft: str = "",
    answers: Mapping[str, str] | None = None,
    mappings: Sequence[Path] = (),
    offsets_s: Sequence[float] = (),
    dry_run: bool = False,
) -> list[Outcome]:
    """Import several files as one flight.

    Parameters
    ----------
    offsets_s : sequence of float
        Seconds to add to each further file's time to put it on the first one's clock; empty to find them.

    Returns
    -------
    list of Outcome
        One for the flight; in a dry run one for each file.

    Raises
    ------
    Refusal
        If a file cannot be read as telemetry.
    OpenQuestion
        If a file, or the offset between two, leaves something open.
    UsageProblem
        If the files cannot be one flight, or one of them is in the logbook already.
    """
    if len(files) < 2:
        raise UsageProblem("--join wants at least two files of one flight.")
    if offsets_s and len(offsets_s) != len(files) - 1:
        raise UsageProblem(
            f"--offset is wanted once for each file after the first ({len(files) - 1} times), got {len(offsets_s)}."
        )
    if not all(map(isfinite, offsets_s)):
        raise UsageProblem("--offset wants a number of seconds.")
    for file in files:
        if why := no_log(file):
            raise UsageProblem(f"{file.name} cannot be joined: it is {why}.")
    origins = [Origin(f.path, f.name, (answers or {}).get("member", "")) for f in files]
    before = [already(book, origin) for origin in origins]
    digests = [origin.content_sha256() for origin in origins]
    if len(set(digests)) < len(digests):
        raise UsageProblem("two of the files to join have the same content.")
    name = " + ".join(f.name for f in files)
    if before[0] and all(b == before[0] for b in before):
        return [Outcome(name, "known", tuple(before[0]))]
    for file, there in zip(files, before, strict=True):
        if there:
            raise UsageProblem(
                f"{file.name} is already in the logbook as {', '.join(there)};"
                f" `spooldown remove {' '.join(there)}` first, then join."
            )
    likely = [likely_owner(f, register, aircraft) for f in files]
    plans = [plan(o, mappings=mappings, answers=answers, aircraft=a) for o, a in zip(origins, likely, strict=True)]
    owners = [whose(f, p, register, aircraft) for f, p in zip(files, plans, strict=True)]
    owner, why = next((o for o in owners if o[0]), owners[0])
    if dry_run and any(p.questions for p in plans):
        return [
            Outcome(f.name, "planned", (), owner, why, p, tuple(p.notices)) for f, p in zip(files, plans, strict=True)
        ]
    refuse_open(plans)
    parts = [_read(f, p) for f, p in zip(files, plans, strict=True)]
    first, shifts = parts[0], _offsets(parts, offsets_s)
    told = [
        f"joined with {part.file.name}: {shift.seconds:+.3f} s on the clock of {first.file.name}, confidence"
        f" {100 * shift.confidence:.0f} % ({shift.how}); --offset overrules it"
        for part, shift in zip(parts[1:], shifts, strict=True)
    ]
    if dry_run:
        return [
            Outcome(p.file.name, "planned", (), owner, why, p.plan, (*((told[n - 1],) if n else ()), *p.notices))
            for n, p in enumerate(parts)
        ]
    whole = join(_dated(first.telemetry, parts[1:], shifts), [
        (part.telemetry, shift) for part, shift in zip(parts[1:], shifts, strict=True)
    ])  # fmt: skip
    metadata = dict(whole.metadata)
    for n, part in enumerate(parts[1:], 2):
        metadata |= {f"joined.{n}.{k}": v for k in CARRIED if (v := part.telemetry.metadata.get(k))}
        left_out = metadata.get(f"joined.{n}", "").partition("already there: ")[2]
        if left_out:
            told.append(f"{part.file.name}: left out what {first.file.name} or a file before has too: {left_out}")
    notices: list[Text] = [*told, *(f"{p.file.name}: {n}" for p in parts for n in p.notices)]
    draft = FlightDraft(whole.table.schema, iter(whole.table.to_batches()), whole.utc_start, 1, metadata, notices)
    sources = [Source(o.name, o.content_sha256(), o.size) for o in origins]
    added = book.add(sources, [draft], aircraft=owner)
    return [Outcome(name, "imported", tuple(added), owner, why, first.plan, tuple(notices))]


def _read(file: LogFile, proposed: Plan) -> Part:
    flights = []
    for draft in read(proposed):
        flights.append((draft.telemetry(), tuple(draft.notices)))
    if len(flights) != 1:
        raise UsageProblem(f"{file.name} holds {len(flights)} flights; only files that hold one flight can be joined.")
    return Part(file, proposed, *flights[0])


def _offsets(parts: Sequence[Part], entered_s: Sequence[float]) -> list[Offset]:
    first, found = parts[0], []
    for n, part in enumerate(parts[1:]):
        shift = offset(first.telemetry, part.telemetry, entered_s=entered_s[n] if entered_s else None)
        names = f"{first.file.name} and {part.file.name}"
        if shift is None:
            raise OpenQuestion(
                f"nothing links the clocks of {names}: not both know UTC, and no channel of one rises and falls with"
                " one of the other; say with --offset how many seconds the second one starts after the first."
            )
        if shift.confidence < SURE_FROM:
            raise OpenQuestion(
                f"the clocks of {names} fit at {shift.seconds:.1f} s, but not surely (confidence"
                f" {100 * shift.confidence:.0f} %, {shift.how}); say --offset {shift.seconds:.1f}, or better if you"
                " know."
            )
        begin, end = shift.seconds, shift.seconds + part.telemetry.duration_s
        if begin > first.telemetry.duration_s or end < 0:
            raise UsageProblem(
                f"{names} do not overlap: the second one runs from {begin:.0f} s to {end:.0f} s on the first one's"
                f" clock, which ends at {first.telemetry.duration_s:.0f} s ({shift.how}); they are no single flight."
            )
        found.append(shift)
    return found


def _dated(first: Telemetry, others: Sequence[Part], shifts: Sequence[Offset]) -> Telemetry:
    """Date the first log by another one's UTC where it has none of its own."""
    if first.utc_start is not None:
        return first
    known = (
        (p.telemetry.utc_start - timedelta(seconds=s.seconds), p.file.name)
        for p, s in zip(others, shifts, strict=True)
        if p.telemetry.utc_start is not None
    )
    start, name = next(known, (None, ""))
    if start is None:
        return first
    return replace(first, utc_start=start, metadata={**first.metadata, "utc_from": f"the joined log {name}"})
