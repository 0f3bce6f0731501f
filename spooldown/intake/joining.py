"""One flight spread over several files: each is read, put on the first one's clock, and kept as one flight."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import timedelta
from math import isfinite
from pathlib import Path

from msgspec import Struct
from msgspec.structs import replace

from analyser.core.findings import Finding, Text, coded, say
from analyser.core.telemetry import Telemetry
from importers.join import Offset, join, offset
from importers.model import FlightDraft, Plan
from importers.plan import plan
from importers.read import read
from importers.table.source import Source as Origin
from spooldown.intake.adding import LogFile, Outcome, already, likely_owner, no_log, refuse_open, remembered, whose
from spooldown.logbook.book import Logbook
from spooldown.logbook.flight import Source
from spooldown.problems import OpenQuestion, UsageProblem
from spooldown.register import Register

SURE_FROM = 0.3
"""An offset found with less confidence is asked for, not taken: chosen so that unrelated records do not pass."""
CARRIED = ("columns", "clock", "dialect", "content_sha256")
"""What the joined file keeps of each further log's metadata."""


class Part(Struct, frozen=True):
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
        raise UsageProblem("usage.join_two")
    if offsets_s and len(offsets_s) != len(files) - 1:
        raise UsageProblem("usage.offset_count", wanted=len(files) - 1, found=len(offsets_s))
    if not all(map(isfinite, offsets_s)):
        raise UsageProblem("usage.offset_number")
    for file in files:
        if why := no_log(file):
            raise UsageProblem("usage.join_no_log", file=file.name, why=why)
    origins = [Origin(f.path, f.name, (answers or {}).get("member", "")) for f in files]
    before = [already(book, origin) for origin in origins]
    digests = [origin.content_sha256() for origin in origins]
    if len(set(digests)) < len(digests):
        raise UsageProblem("usage.join_same")
    name = " + ".join(f.name for f in files)
    if before[0] and all(b == before[0] for b in before):
        return [Outcome(name, "known", tuple(before[0]))]
    for file, there in zip(files, before, strict=True):
        if there:
            raise UsageProblem("usage.join_known", file=file.name, flights=tuple(there))
    likely = [likely_owner(f, register, aircraft) for f in files]
    plans = [
        plan(o, mappings=mappings, answers={**remembered(book, a), **(answers or {})}, aircraft=a)
        for o, a in zip(origins, likely, strict=True)
    ]
    owners = [whose(f, p, register, aircraft) for f, p in zip(files, plans, strict=True)]
    owner, why = next((o for o in owners if o[0]), owners[0])
    if dry_run and any(p.questions for p in plans):
        return [
            Outcome(f.name, "planned", (), owner, why, p, tuple(p.notices)) for f, p in zip(files, plans, strict=True)
        ]
    refuse_open(plans)
    parts = [_read(f, p) for f, p in zip(files, plans, strict=True)]
    first, shifts = parts[0], _offsets(parts, offsets_s)
    told: list[Finding] = [
        say(
            "intake.joined_with",
            other=part.file.name,
            seconds=f"{shift.seconds:+.3f}",
            first=first.file.name,
            confidence=100 * shift.confidence,
            how=shift.how,
        )
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
            told.append(say("intake.left_out", file=part.file.name, first=first.file.name, channels=left_out))
    notices: list[Text] = [
        *told,
        *(say("intake.of_file", file=p.file.name, notice=n) for p in parts for n in p.notices),
    ]
    draft = FlightDraft(whole.table.schema, iter(whole.table.to_batches()), whole.utc_start, 1, metadata, notices)
    sources = [Source(o.name, o.content_sha256(), o.size) for o in origins]
    added = book.add(sources, [draft], aircraft=owner)
    return [Outcome(name, "imported", tuple(added), owner, why, first.plan, tuple(notices))]


def _read(file: LogFile, proposed: Plan) -> Part:
    flights = []
    for draft in read(proposed):
        flights.append((draft.telemetry(), tuple(draft.notices)))
    if len(flights) != 1:
        raise UsageProblem("usage.join_one_flight_each", file=file.name, flights=len(flights))
    return Part(file, proposed, *flights[0])


def _offsets(parts: Sequence[Part], entered_s: Sequence[float]) -> list[Offset]:
    first, found = parts[0], []
    for n, part in enumerate(parts[1:]):
        shift = offset(first.telemetry, part.telemetry, entered_s=entered_s[n] if entered_s else None)
        if shift is None:
            raise OpenQuestion("intake.no_link", first=first.file.name, other=part.file.name)
        if shift.confidence < SURE_FROM:
            raise OpenQuestion(
                "intake.unsure_link",
                first=first.file.name,
                other=part.file.name,
                seconds=shift.seconds,
                confidence=100 * shift.confidence,
                how=shift.how,
            )
        begin, end = shift.seconds, shift.seconds + part.telemetry.duration_s
        if begin > first.telemetry.duration_s or end < 0:
            raise UsageProblem(
                "usage.no_overlap",
                first=first.file.name,
                other=part.file.name,
                begin=begin,
                end=end,
                length=first.telemetry.duration_s,
                how=shift.how,
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
    return replace(
        first, utc_start=start, metadata={**first.metadata, "utc_from": coded(say("intake.utc_from_joined", log=name))}
    )
