"""Logs in: ``spooldown import``."""

from __future__ import annotations

import sys
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from spooldown.commands.options import AsJson, Book, DryRun, owner_of, pair
from spooldown.commands.places import opened
from spooldown.problems import Problem, UsageProblem
from spooldown.settings import ExitCode
from spooldown.terminal import bytes_bar, complain, say, say_json, table

if TYPE_CHECKING:
    from importers.model import Plan
    from spooldown.adding import Outcome
    from spooldown.logbook.book import Logbook


MOST_BYTES = 4 << 30
"""Bytes taken from standard input at most: it may never end."""


def import_logs(
    paths: Annotated[list[Path], typer.Argument(help="CSV files, folders, or - for standard input.")],
    aircraft: Annotated[str, typer.Option(help="Whose flights these are.")] = "",
    answer: Annotated[list[str] | None, typer.Option(metavar="KEY=VALUE", help="Settle an open question.")] = None,
    mapping: Annotated[list[Path] | None, typer.Option(help="A saved column mapping to use.")] = None,
    save_mapping: Annotated[str, typer.Option(metavar="NAME", help="Remember this column mapping.")] = "",
    join: Annotated[bool, typer.Option("--join", help="The files are one flight: put them on one clock.")] = False,
    offset: Annotated[
        list[float] | None,
        typer.Option(metavar="SECONDS", help="With --join: how long after the first file the next one starts."),
    ] = None,
    dry_run: DryRun = False,
    as_json: AsJson = False,
    logbook: Book = None,
) -> None:
    """Import CSV telemetry logs; the same content twice changes nothing."""
    from importers.refusal import Refusal
    from spooldown import adding, register
    from spooldown.batch import add_files

    if offset and not join:
        raise UsageProblem("--offset belongs to --join.")
    answers = dict(pair(item, "--answer") for item in answer or [])
    outcomes: list[Outcome] = []
    failures: list[tuple[str, str, int]] = []
    with ExitStack() as stack:
        book = stack.enter_context(opened(logbook, must_exist=False))
        known = register.load(book)
        owner = owner_of(known, aircraft)
        files = adding.find_logs([_stdin(stack) if str(p) == "-" else p for p in paths])
        mappings = [*(mapping or []), *sorted(book.mappings_folder.glob("*.toml"))]
        sizes = [f.path.stat().st_size for f in files]  # now: a file may be gone once it is read
        update = stack.enter_context(bytes_bar(sum(sizes), quiet=as_json))
        if join:
            from spooldown.joining import add_joined

            outcomes += add_joined(
                book, files, known, aircraft=owner, answers=answers, mappings=mappings, offsets_s=offset or [],
                dry_run=dry_run,
            )  # fmt: skip
            files = []
        try:
            for file, outcome in add_files(
                book, files, known, aircraft=owner, answers=answers, mappings=mappings, dry_run=dry_run,
                progress=update,
            ):  # fmt: skip
                if isinstance(outcome, Refusal):
                    failures.append((file.name, str(outcome), ExitCode.REFUSED))
                elif isinstance(outcome, Problem):
                    failures.append((file.name, str(outcome), outcome.exit_code))
                elif isinstance(outcome, Exception):
                    raise outcome
                else:
                    outcomes.append(outcome)
        except KeyboardInterrupt:
            stored = sum(o.state == "imported" for o in outcomes)
            complain(f"{stored} of {len(files)} files are imported and stay; the same command goes on with the others.")
            raise
        if save_mapping and not dry_run:
            _save_mapping(book, save_mapping, [o.plan for o in outcomes if o.plan])
    if as_json:
        say_json(
            {"files": [_outcome_json(o) for o in outcomes], "refused": [{"file": n, "why": w} for n, w, _ in failures]}
        )
    else:
        for outcome in outcomes:
            _say_outcome(outcome)
    for _, why, _ in failures:
        complain(why)
    if failures:
        raise typer.Exit(max(code for *_, code in failures))


def _save_mapping(book: Logbook, name: str, plans: list[Plan]) -> None:
    from spooldown.logbook.book import slug
    from spooldown.logbook.store import write_whole

    if len({p.fingerprint for p in plans}) != 1:
        raise UsageProblem("--save-mapping needs logs that all have the same columns; import them on their own.")
    from importers.layout.mapping import to_toml

    with book.writing():
        book.mappings_folder.mkdir(exist_ok=True)
        write_whole(book.mappings_folder / f"{slug(name, 'mapping')}.toml", to_toml(plans[0], name).encode())
    say(f"Saved the mapping as {slug(name, 'mapping')}.")


def _stdin(stack: ExitStack) -> Path:
    """Put standard input into a file, its hash must be known before it is read; no more of it than a log can be."""
    import tempfile

    folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="spooldown-")))
    path = folder / "standard-input.csv"
    with path.open("wb") as file:
        while data := sys.stdin.buffer.read(1 << 20):
            if file.tell() > MOST_BYTES:
                raise UsageProblem(
                    f"more than {MOST_BYTES >> 30} GiB came from standard input, more than any log; give it as a file."
                )
            try:
                file.write(data)
            except OSError as error:
                raise UsageProblem(
                    f"standard input does not fit into {folder.parent} ({error.strerror}); give it as a file."
                ) from error
    return path


def _say_outcome(outcome: Outcome) -> None:
    from spooldown.adding import UNASSIGNED

    if outcome.state == "known":
        say(f"{outcome.name}: already in the logbook as {', '.join(outcome.flight_ids)}; nothing changed.")
        return
    if outcome.state == "skipped":
        say(f"{outcome.name}: left out, {'; '.join(outcome.notices)}.")
        return
    owner = f"{outcome.aircraft}, {outcome.why_aircraft}" if outcome.aircraft else UNASSIGNED
    if outcome.state == "planned" and outcome.plan:
        plan = outcome.plan
        say(f"{outcome.name}: {plan.shape}; clock {plan.clock}; {owner}.")
        table(
            ("column", "channel", "unit", "conversion", "samples", "sure", "because"),
            [
                (
                    c.heading,
                    c.channel or "(dropped)",
                    c.unit_found,
                    c.conversion,
                    ", ".join(c.samples[:3]),
                    f"{c.confidence:.0%}",
                    c.reason,
                )
                for c in plan.columns
            ],
            numeric=(5,),
        )
        for question in plan.questions:
            say(f"  open: {question.text} (--answer {question.key}={'|'.join(question.answers)})")
    else:
        say(f"{outcome.name}: imported {', '.join(outcome.flight_ids)} ({owner}).")
    for notice in outcome.notices:
        say(f"  {notice}")


def _outcome_json(outcome: Outcome) -> dict[str, Any]:
    plan = outcome.plan
    return {
        "file": outcome.name,
        "state": outcome.state,
        "flights": list(outcome.flight_ids),
        "aircraft": outcome.aircraft,
        "aircraft_from": outcome.why_aircraft,
        "notices": list(outcome.notices),
        "columns": [
            {
                "heading": c.heading,
                "channel": c.channel,
                "unit": c.unit_found,
                "conversion": c.conversion,
                "samples": list(c.samples),
                "confidence": c.confidence,
                "reason": c.reason,
            }
            for c in (plan.columns if plan else ())
        ],
        "questions": [
            {"key": q.key, "text": q.text, "answers": list(q.answers)} for q in (plan.questions if plan else ())
        ],
    }
