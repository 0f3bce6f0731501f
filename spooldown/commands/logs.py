"""Logs in: ``spooldown import``."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from contextlib import ExitStack
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from analyser.core.findings import Finding
from spooldown.commands.layouts import as_json as _outcome_json
from spooldown.commands.layouts import show
from spooldown.commands.options import AsJson, Book, DryRun, FlightWords, all_meant, owner_of, pair
from spooldown.commands.places import end_partly, opened
from spooldown.commands.shell.completing import aircraft_names, mapping_names
from spooldown.exit_codes import ExitCode
from spooldown.problems import Problem, UsageProblem
from spooldown.processes.cores import POOL_FROM
from spooldown.scratch import owned, sweep
from spooldown.terminal import bytes_bar, complain, message, say, say_json, tell

if TYPE_CHECKING:
    from spooldown.intake.adding import Outcome
    from spooldown.logbook.book import Logbook


def _many(paths: Sequence[Path]) -> bool:
    """Whether so many files are to be read that workers will read them, as far as names tell."""
    inside = (name for p in paths for _, _, names in os.walk(p) for name in names)
    return len(paths) + len(list(islice(inside, POOL_FROM))) >= POOL_FROM


MOST_BYTES = 4 << 30
"""Bytes taken from standard input at most: it may never end."""


def import_logs(
    context: typer.Context,
    paths: Annotated[list[Path], typer.Argument(help="CSV files, folders, or - for standard input.")],
    aircraft: Annotated[str, typer.Option(help="Whose flights these are.", autocompletion=aircraft_names)] = "",
    answer: Annotated[list[str] | None, typer.Option(metavar="KEY=VALUE", help="Settle an open question.")] = None,
    column: Annotated[
        list[str] | None,
        typer.Option(metavar="HEADING=CHANNEL", help="Say what a column is; CHANNEL empty leaves it out."),
    ] = None,
    unit: Annotated[
        list[str] | None, typer.Option(metavar="HEADING=UNIT", help="Say which unit a column is in.")
    ] = None,
    mapping: Annotated[
        list[Path] | None,
        typer.Option(
            help="A saved column mapping to use: its file, or its name in the logbook.", autocompletion=mapping_names
        ),
    ] = None,
    save_mapping: Annotated[str, typer.Option(metavar="NAME", help="Remember this column mapping.")] = "",
    join: Annotated[bool, typer.Option("--join", help="The files are one flight: put them on one clock.")] = False,
    offset: Annotated[
        list[float] | None,
        typer.Option(metavar="SECONDS", help="With --join: how long after the first file the next one starts."),
    ] = None,
    pages: Annotated[bool, typer.Option("--pages", help="Bring the logbook's pages up to date afterwards.")] = False,
    dry_run: DryRun = False,
    as_json: AsJson = False,
    logbook: Book = None,
) -> None:
    """Import CSV telemetry logs; the same content twice changes nothing."""
    if pages:
        from spooldown.processes.lightly import load_lightly

        load_lightly()
    if _many(paths):
        from spooldown.processes.workers import ANALYSING, READING, together

        context.with_resource(together((*READING, *ANALYSING) if pages else READING))
    from importers.refusal import Refusal
    from spooldown import register
    from spooldown.intake import adding
    from spooldown.intake.batch import add_files
    from spooldown.logbook.plain import CLOSED

    if offset and not join:
        raise UsageProblem("usage.offset_without_join")
    answers = corrected(answer, column, unit)
    outcomes: list[Outcome] = []
    failures: list[tuple[str, str, str, int]] = []
    saved_as = ""
    shown: dict[str, object] = {}
    unmade: list[Finding | str] = []
    with ExitStack() as stack:
        book = stack.enter_context(opened(logbook, must_exist=False))
        known = register.load(book)
        owner = owner_of(known, aircraft)
        left_out: list[Finding] = []
        files = adding.find_logs([_stdin(stack) if str(p) == "-" else p for p in paths], left_out)
        closed = [one for one in left_out if one.code == CLOSED]
        failures += [(one.values["folder"], str(one), one.code, ExitCode.REFUSED) for one in closed]
        mappings = usable_mappings(book, mapping)
        adding.look_first(files, answers=answers, mappings=mappings)
        sizes = [f.path.stat().st_size for f in files]  # now: a file may be gone once it is read
        with bytes_bar(sum(sizes), quiet=as_json) as update:
            if join:
                from spooldown.intake.joining import add_joined

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
                        failures.append((file.name, str(outcome), str(outcome.code), ExitCode.REFUSED))
                    elif isinstance(outcome, Problem):
                        failures.append((file.name, str(outcome), outcome.finding.code, outcome.exit_code))
                    elif isinstance(outcome, Exception):
                        raise outcome
                    else:
                        outcomes.append(outcome)
            except KeyboardInterrupt:
                stored = sum(o.state == "imported" for o in outcomes)
                complain(message("cli.interrupted_import", stored=stored, files=len(files)))
                raise
        if save_mapping and len(failures) == len(closed):
            from spooldown.intake.mappings import remember

            saved_as = remember(book, save_mapping, [o.plan for o in outcomes if o.plan])
        if not as_json:
            show(outcomes)
            if saved_as:
                tell("cli.mapping_saved", place=saved_as)
        if pages and outcomes and not dry_run:
            from spooldown.commands.results import bring_up_to_date

            start, counts, failed = bring_up_to_date(book, as_json)
            unmade = [f.why for f in failed]
            shown = {"page": str(start.resolve()), **counts}
            if not as_json:
                tell("cli.pages_built", **counts)
                say(str(start.resolve()))
    if as_json:
        say_json(
            {
                "files": [_outcome_json(o) for o in outcomes],
                "refused": [{"file": n, "why": w, "code": c} for n, w, c, _ in failures],
                **({"mapping": saved_as} if saved_as else {}),
                **shown,
            }
        )
    for link in left_out:
        if link not in closed:
            complain(str(link))
    for _, why, *_ in failures:
        complain(why)
    if failures:
        raise typer.Exit(max(code for *_, code in failures))
    end_partly(unmade)


def remap(
    flights: FlightWords,
    logs: Annotated[
        list[Path] | None, typer.Option(help="Where their logs lie: files or folders. They are known by content.")
    ] = None,
    answer: Annotated[list[str] | None, typer.Option(metavar="KEY=VALUE", help="Settle an open question.")] = None,
    column: Annotated[
        list[str] | None,
        typer.Option(metavar="HEADING=CHANNEL", help="Say what a column is; CHANNEL empty leaves it out."),
    ] = None,
    unit: Annotated[
        list[str] | None, typer.Option(metavar="HEADING=UNIT", help="Say which unit a column is in.")
    ] = None,
    mapping: Annotated[
        list[Path] | None, typer.Option(help="A saved column mapping to use.", autocompletion=mapping_names)
    ] = None,
    dry_run: DryRun = False,
    as_json: AsJson = False,
    logbook: Book = None,
) -> None:
    """Read flights again from their logs with corrected columns; notes stay."""
    from importers.refusal import Refusal
    from spooldown import register
    from spooldown.intake.adding import Outcome
    from spooldown.intake.remapping import remap as read_again
    from spooldown.problems import NotFoundProblem

    with opened(logbook) as book:
        answers = corrected(answer, column, unit)
        which = all_meant(book, flights)
        mappings = usable_mappings(book, mapping)
        try:
            made = read_again(
                book,
                which,
                register.load(book),
                logs or [Path()],
                answers=answers,
                mappings=mappings,
                dry_run=dry_run,
            )
        except NotFoundProblem as problem:
            if logs:
                raise
            raise NotFoundProblem("problem.looked_here", problem=problem.finding) from problem
        except Refusal as refusal:
            complain(str(refusal))
            raise typer.Exit(ExitCode.REFUSED) from None
    outcomes = [
        Outcome(
            some[0].source, "planned" if dry_run else "imported", tuple(f.flight_id for f in some), some[0].aircraft,
            Finding("intake.owner_as_it_was"), plan, tuple(plan.notices),
        )
        for plan, some in made
    ]  # fmt: skip
    if as_json:
        say_json({"files": [_outcome_json(o) for o in outcomes]})
    elif dry_run:
        show(outcomes)
    else:
        for outcome in outcomes:
            tell("cli.read_again", file=outcome.name, flights=outcome.flight_ids)
            for notice in outcome.notices:
                say(f"  {notice}")


def corrected(answer: Sequence[str] | None, column: Sequence[str] | None, unit: Sequence[str] | None) -> dict[str, str]:
    """What was said on the command line of open questions and of single columns, as answers."""
    from importers.layout.corrections import as_answers

    columns, units = (
        _once([_last_pair(i, o) for i in given or []], o) for given, o in ((column, "--column"), (unit, "--unit"))
    )
    said = _once([pair(item, "--answer") for item in answer or []], "--answer")
    return said | as_answers(columns, units)


def _once(pairs: Sequence[tuple[str, str]], option: str) -> dict[str, str]:
    """What was said of each heading or key; refused where two different things were."""
    said: dict[str, str] = {}
    for key, value in pairs:
        if said.setdefault(key, value) != value:
            raise UsageProblem("usage.said_twice", option=option, key=key, values=(said[key], value))
    return said


def _last_pair(item: str, option: str) -> tuple[str, str]:
    """Take HEADING=VALUE apart at the last sign: a heading may hold others."""
    heading, sign, value = item.rpartition("=")
    if not sign or not heading:
        raise UsageProblem("usage.heading_value", option=option, found=item)
    return heading, value.strip()


def usable_mappings(book: Logbook, named: Sequence[Path] | None) -> Sequence[Path]:
    """The mappings that a person named, or else all in the logbook."""
    from importers.layout.mapping import Named

    return Named(mapping_file(book, m) for m in named) if named else book.mapping_files()


def mapping_file(book: Logbook, word: Path) -> Path:
    """A mapping by its file, or by its name in the logbook."""
    from spooldown.logbook.book import slug
    from spooldown.problems import not_found

    kept = book.mappings_folder / f"{slug(word.stem, 'mapping')}.toml"
    if word.is_file():
        return word
    if kept.is_file():
        return kept
    known = [p.stem for p in book.mapping_files()]
    raise not_found("mapping", str(word), known, remedy="remedy.name_mapping")


def _stdin(stack: ExitStack) -> Path:
    """Put standard input into a file, its hash must be known before it is read; no more of it than a log can be."""
    import tempfile

    sweep()
    folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix=owned())))
    path = folder / "standard-input.csv"
    with path.open("wb") as file:
        while data := sys.stdin.buffer.read(1 << 20):
            if file.tell() > MOST_BYTES:
                raise UsageProblem("usage.endless_input", gib=MOST_BYTES >> 30)
            try:
                file.write(data)
            except OSError as error:
                raise UsageProblem("usage.input_does_not_fit", place=str(folder.parent), why=error.strerror) from error
    return path
