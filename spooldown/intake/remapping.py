"""A flight read again from its log, with other answers and columns; its notes stay."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from contextlib import suppress
from pathlib import Path

from importers.layout import corrections
from importers.layout.mapping import Named, load
from importers.model import FlightDraft, Plan
from importers.plan import plan
from importers.read import read
from importers.refusal import Refusal
from importers.table.source import Source as Origin
from spooldown.intake.adding import find_logs, refuse_open, with_roles
from spooldown.logbook.book import Logbook
from spooldown.logbook.flight import Flight
from spooldown.problems import NotFoundProblem, UsageProblem
from spooldown.register import Register


def remap(
    book: Logbook, flight_ids: Sequence[str], register: Register, logs: Sequence[Path], *,
    answers: Mapping[str, str] | None = None, mappings: Sequence[Path] = (),
    dry_run: bool = False,
) -> list[tuple[Plan, list[Flight]]]:  # fmt: skip
    """Read flights again from their logs, all of them or none.

    All flights of a log are read again together: they share its columns.

    Parameters
    ----------
    logs : sequence of Path
        Where the logs lie: files or folders. They are known by their content, whatever they are called now.
    answers : mapping of str to str, optional
        On top of those given when the log was imported.

    Returns
    -------
    list of (Plan, list of Flight)
        One for each log.

    Raises
    ------
    NotFoundProblem
        If a flight is not there, or its log is not among ``logs``.
    OpenQuestion
        If a log now leaves something open.
    UsageProblem
        If a flight was joined from several logs, its log would now fall into other flights, or an answer or correction
        is for nothing that the logs hold.
    """
    flights = {i: book.flight(i) for i in dict.fromkeys(flight_ids)}
    wanted: dict[str, list[Flight]] = {}
    for flight in flights.values():
        sources = book.sources(flight.flight_id)
        if len(sources) != 1:
            raise UsageProblem("usage.remap_joined", flight=flight.flight_id, logs=len(sources))
        wanted[sources[0].sha256] = [book.flight(i) for i in book.known(sources[0].sha256)]
    found = _by_content(logs, set(wanted))
    missing = [some[0] for sha256, some in wanted.items() if sha256 not in found]
    if missing:
        raise NotFoundProblem(
            "problem.log_not_there", logs=tuple(f.source for f in missing), flights=tuple(f.flight_id for f in missing)
        )
    plans, tried = [], []
    for sha256, some in wanted.items():
        before = book.answers(some[0].flight_id)
        said = {**before, **(answers or {})}
        known = register.find_aircraft(some[0].aircraft) if some[0].aircraft else None
        aircraft = with_roles(known, register, known.name) if known else None
        origin = Origin(found[sha256], some[0].source, said.get("member", ""))
        again = plan(origin, mappings=mappings, answers=said, aircraft=aircraft)
        if not again.mapping and (kept := _named_before(book, some[0], mappings)):
            with suppress(Refusal):
                again = plan(origin, mappings=kept, answers=said, aircraft=aircraft)
        plans.append((again, some))
        with suppress(Refusal):
            tried.append(plan(origin, mappings=mappings, answers=before, aircraft=aircraft))
    if answers and (unfit := corrections.unfitting(answers, [*tried, *(p for p, _ in plans)])):
        raise UsageProblem("usage.answers", answers=tuple(unfit))
    if dry_run:
        return plans
    refuse_open([p for p, _ in plans])
    with book.writing() as db:
        for proposed, some in plans:
            drafts = iter(read(proposed))
            left = {f.part: f for f in some}
            for draft in drafts:
                if draft.part not in left:
                    raise UsageProblem(
                        "usage.remap_other", log=some[0].source, flights=tuple(f.flight_id for f in some)
                    )
                _replace(book, left.pop(draft.part), draft, proposed)
            if left:
                raise UsageProblem(
                    "usage.remap_lost", log=some[0].source, flights=tuple(f.flight_id for f in left.values())
                )
            answered = json.dumps(dict(proposed.answers), ensure_ascii=False)
            db.execute("UPDATE import SET answers = ? WHERE import_id = ?", (answered, some[0].import_id))
    return plans


def _replace(book: Logbook, flight: Flight, draft: FlightDraft, proposed: Plan) -> None:
    if proposed.answers:
        draft.metadata["answers"] = json.dumps(dict(proposed.answers), ensure_ascii=False)
    if label := next((v for k, v in proposed.preamble.items() if k.casefold() == "label"), ""):
        draft.metadata["label"] = label
    book.replace_telemetry(flight, draft)


def _named_before(book: Logbook, flight: Flight, mappings: Sequence[Path]) -> Named:
    """The mapping that a person named when the flight was imported, where it is still there."""
    name = book.telemetry(flight.flight_id).metadata.get("mapping", "")
    for path in mappings:
        with suppress(Refusal):
            if name and load(path).name == name:
                return Named((path,))
    return Named()


def _by_content(logs: Sequence[Path], wanted: set[str]) -> dict[str, Path]:
    found: dict[str, Path] = {}
    for file in find_logs(logs) if logs else []:
        with suppress(Refusal, OSError):
            origin = Origin(file.path, file.name)
            for sha256 in {origin.content_sha256()} & wanted:
                found[sha256] = file.path
    return found
