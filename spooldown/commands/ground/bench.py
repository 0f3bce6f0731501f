"""Bench procedures: ``spooldown bench``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from spooldown.commands.options import AsJson, Book, DryRun, OfAircraft, OnlyAircraft, only_of
from spooldown.commands.places import opened, read_file
from spooldown.commands.shell.completing import one_of
from spooldown.commands.shell.grouping import Grouped
from spooldown.problems import UsageProblem
from spooldown.terminal import say, say_json, table

if TYPE_CHECKING:
    from collections.abc import Mapping

    from analyser.bench.procedures import BenchRecord
    from analyser.core.aircraft import Aircraft, Pack
    from analyser.core.figures import Figure

app = typer.Typer(
    cls=Grouped, help="Prove the installation on the ground: fuel system, packs, supply, engines.",
    no_args_is_help=True, rich_markup_mode=None,
)  # fmt: skip
NAMES = ("priming", "flow", "tank", "load", "capacity", "charger", "supply", "pulled", "plugs", "ground-run")


@app.command()
def guide(procedure: Annotated[str, typer.Argument(help="Only this one.", autocompletion=one_of(*NAMES))] = "") -> None:
    """Say what each procedure does and what is written down."""
    from analyser.bench.analysis import caution
    from analyser.bench.procedures import PROCEDURES, Procedure
    from reports.words.catalogue import message, text, word
    from spooldown.bench.entry import procedure_named

    for one in [procedure_named(procedure)] if procedure else list(Procedure):
        steps = PROCEDURES[one]
        say(f"{one.value}: {word('bench_procedure', one.value)}")
        if not procedure:
            continue
        say(word("bench_how", one.value))
        for reading in steps.readings:
            needed = f" ({message('bench_says.needed')})" if reading.needed else ""
            cells = f", {message('bench_says.cells_hint')}" if reading.by_cell else ""
            say(f"  {reading.name}={reading.unit}  {word('bench_reading', reading.name)}{cells}{needed}")
        for choice in steps.choices:
            say(f"  {choice.name}={'|'.join(choice.among)}  {word('bench_choice', choice.name)}")
        say(text(caution(steps.of)))


@app.command()
def add(
    procedure: Annotated[
        str, typer.Argument(metavar="PROCEDURE", help="Which procedure.", autocompletion=one_of(*NAMES))
    ] = "",
    readings: Annotated[
        list[str] | None, typer.Argument(metavar="NAME=NUMBER...", help="Readings, as `bench guide PROCEDURE` lists.")
    ] = None,
    aircraft: OfAircraft = "",
    of: Annotated[str, typer.Option("--of", help="Which tank, engine or pack.")] = "",
    day: Annotated[str, typer.Option(metavar="YYYY-MM-DD", help="When; today without it.")] = "",
    log: Annotated[
        Path | None, typer.Option(help="Log recorded meanwhile; what is not typed is taken from it.")
    ] = None,
    remarks: Annotated[str, typer.Option(help="Anything else.")] = "",
    sheet: Annotated[Path | None, typer.Option(help="CSV: procedure, aircraft, of, day, readings, remarks.")] = None,
    dry_run: DryRun = False,
    logbook: Book = None,
) -> None:
    """Keep one procedure as it was done, from readings typed, from a log, or both; or a whole sheet of them."""
    from reports.words.catalogue import message, word
    from spooldown import register
    from spooldown.bench.entry import Typed, procedure_named, record_of
    from spooldown.bench.kept import keep
    from spooldown.bench.log import read_one

    if bool(sheet) == bool(procedure):
        raise UsageProblem(message("bench_says.one_or_sheet"))
    if sheet:
        _add_sheet(sheet, logbook, dry_run=dry_run)
        return
    named = procedure_named(procedure)
    words = {}
    for item in readings or ():
        name, there, value = item.partition("=")
        if not there:
            raise UsageProblem(message("bench_says.bad_command", said=item))
        words[name.strip()] = value
    with opened(logbook, must_exist=False) as book:
        known = register.load(book)
        telemetry = read_one(log) if log else None
        typed = Typed(named, aircraft, of, day, words, remarks)
        record = record_of(typed, known, telemetry, log.name if log else "")
        number, new = ("", True) if dry_run else keep(book, record)
    said = {
        "number": number, "aircraft": record.aircraft, "subject": record.subject, "day": record.day.isoformat(),
        "what": word("bench_procedure", named.value),
    }  # fmt: skip
    say(message("bench_says.would_keep" if dry_run else "bench_says.kept" if new else "bench_says.already", **said))
    if not dry_run:
        _show({number: record}, known_aircraft=known.find_aircraft(record.aircraft), packs=known.packs)


def _add_sheet(sheet: Path, logbook: Path | None, *, dry_run: bool) -> None:
    from reports.words.catalogue import message
    from spooldown import register
    from spooldown.bench.kept import bench_records, keep_all
    from spooldown.bench.sheet import read_bench_sheet

    with opened(logbook, must_exist=False) as book:
        records = read_bench_sheet(read_file(sheet), str(sheet), register.load(book))
        if dry_run:
            there = list(bench_records(book).values())
            new = sum(r not in there for r in records)
        else:
            new = keep_all(book, records)
    say(message("bench_says.sheet", new=new, already=len(records) - new, dry=dry_run))


@app.command()
def remove(
    numbers: Annotated[list[str], typer.Argument(metavar="NUMBER...", help="Numbers, as `bench list` shows them.")],
    dry_run: DryRun = False,
    logbook: Book = None,
) -> None:
    """Take bench records out."""
    from reports.words.catalogue import message
    from spooldown.bench.kept import bench_records
    from spooldown.bench.kept import remove as take_out
    from spooldown.problems import not_found

    chosen = list(dict.fromkeys(numbers))
    with opened(logbook) as book:
        if dry_run:
            there = bench_records(book)
            for number in chosen:
                if number not in there:
                    raise not_found("bench_record", number, there, remedy="remedy.list_bench")
        else:
            take_out(book, chosen)
    for number in chosen:
        say(message("bench_says.would_remove" if dry_run else "bench_says.removed", number=number))


@app.command("list")
def listed(aircraft: OnlyAircraft = "", as_json: AsJson = False, logbook: Book = None) -> None:
    """List what was proved on the ground, newest first."""
    import json

    from reports.words.catalogue import message
    from spooldown import register
    from spooldown.bench.kept import bench_records
    from spooldown.logbook.codec import to_json

    with opened(logbook) as book:
        records = bench_records(book)
        known = register.load(book)
        aircraft = only_of(book, aircraft, (r.aircraft for r in records.values()))
    found = {n: r for n, r in records.items() if aircraft in ("", r.aircraft)}
    if as_json:
        say_json({"records": {n: json.loads(to_json(r)) for n, r in found.items()}})
        return
    if not found:
        say(message("bench_says.nothing"))
        return
    for name in dict.fromkeys(r.aircraft for r in found.values()):
        own = {n: r for n, r in found.items() if r.aircraft == name}
        say(name)
        _show(own, known_aircraft=known.find_aircraft(name) if name else None, packs=known.packs)
    say(message("bench_says.proved_hint"))


def _show(records: Mapping[str, BenchRecord], *, known_aircraft: Aircraft | None, packs: Mapping[str, Pack]) -> None:
    from analyser.bench.analysis import analyse_bench
    from reports.words.catalogue import interval, message, quantity, text, word

    def written(figure: Figure) -> str:
        return f"{text(figure.label)} {quantity(figure)}" + (f" ({i})" if (i := interval(figure)) else "")

    result = analyse_bench(records, known_aircraft, packs)
    heads = [message(f"bench_says.{h}_head") for h in ("number", "day", "what", "of", "figures")]
    table(
        heads,
        [
            (
                line.number, line.record.day, word("bench_procedure", line.record.procedure.value), line.record.subject,
                "; ".join(written(f) for f in line.figures),
            )
            for line in result.lines
        ],
        numeric=(0,),
    )  # fmt: skip
    for line in result.lines:
        for found in line.findings:
            say(f"  {line.number}. {text(found)}")
    for tank, figure in (*result.calibrations.items(), *result.deliveries.items()):
        say(message("bench_says.used", tank=tank, figure=written(figure)))
    for finding in result.uneven:
        say(text(finding))
