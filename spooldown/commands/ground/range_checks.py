"""Walked range checks: ``spooldown range-check``."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated

import typer

from analyser.core.findings import say as say_of
from spooldown.commands.options import AsJson, Book, DryRun, OfAircraft, OnlyAircraft, only_of, owner_of
from spooldown.commands.places import opened, read_file
from spooldown.commands.shell.completing import range_check_numbers, receiver_names
from spooldown.commands.shell.grouping import Grouped
from spooldown.problems import UsageProblem, not_found
from spooldown.terminal import headings, message, say, say_json, table, tell

app = typer.Typer(
    cls=Grouped, help="Keep, list or remove walked range checks.", no_args_is_help=True, rich_markup_mode=None
)


@app.command()
def add(
    aircraft: OfAircraft = "",
    *,
    sheet: Annotated[
        Path | None, typer.Argument(help="CSV with day, receiver, antenna, distance_m, reduction_db, orientation.")
    ] = None,
    day: Annotated[str, typer.Option(metavar="YYYY-MM-DD", help="When.")] = "",
    receiver: Annotated[str, typer.Option(help="Which receiver.", autocompletion=receiver_names)] = "",
    antenna: Annotated[str, typer.Option(metavar="NUMBER", help="Which antenna; none for the whole receiver.")] = "",
    distance: Annotated[str, typer.Option(metavar="M", help="Distance at which the link just held.")] = "",
    reduction: Annotated[str, typer.Option(metavar="DB", help="How far below full power; the radio's manual.")] = "",
    orientation: Annotated[str, typer.Option(help="How the aircraft stood: nose to pilot.")] = "",
    remarks: Annotated[str, typer.Option(help="Anything else.")] = "",
    dry_run: DryRun = False,
    logbook: Book = None,
) -> None:
    """Keep walked range checks, from a CSV or one typed in; the same check twice is kept once."""
    from spooldown import register
    from spooldown.sheets.range_checks import check_in, read_range_sheet
    from spooldown.sheets.rows import Row

    typed = {
        "day": day, "receiver": receiver, "antenna": antenna, "distance_m": distance, "reduction_db": reduction,
        "orientation": orientation, "remarks": remarks,
    }  # fmt: skip
    if bool(sheet) == any(typed.values()):
        raise UsageProblem("usage.csv_or_check")
    if not aircraft:
        raise UsageProblem("usage.whose_check")
    with opened(logbook, must_exist=False) as book:
        known = register.load(book)
        owner = owner_of(known, aircraft)
        if sheet:
            rows = read_range_sheet(read_file(sheet), str(sheet), known, owner)
        else:
            cells = {column: text.strip() for column, text in typed.items() if text.strip()}
            rows = [check_in(Row(str(say_of("sheet.typed_in")), None, cells), known, owner)]
        checks = [(r.aircraft, r.check) for r in rows]
        if dry_run:
            new = len(set(checks) - {(who, check) for _, who, check in book.range_checks()})
        else:
            new = book.add_range_checks(checks)
    tell("cli.would_keep_checks" if dry_run else "cli.kept_checks", checks=new, owner=owner, known=len(rows) - new)


@app.command()
def remove(
    numbers: Annotated[
        list[int],
        typer.Argument(
            metavar="NUMBER...",
            help="Numbers, as `spooldown range-check list` shows them.",
            autocompletion=range_check_numbers,
        ),
    ],
    dry_run: DryRun = False,
    logbook: Book = None,
) -> None:
    """Take walked range checks out."""
    chosen = list(dict.fromkeys(numbers))
    with opened(logbook) as book:
        if dry_run:
            there = [str(n) for n, _, _ in book.range_checks()]
            for number in chosen:
                if str(number) not in there:
                    raise not_found("range_check", str(number), there, remedy="remedy.list_range_checks")
        else:
            book.remove_range_check(*chosen)
    for number in chosen:
        tell("cli.would_remove_check" if dry_run else "cli.removed_check", number=number)


@app.command("list")
def listed(aircraft: OnlyAircraft = "", as_json: AsJson = False, logbook: Book = None) -> None:
    """List the walked range checks and the full-power range each line of them implies."""
    from reports.words.catalogue import figure_text
    from reports.words.catalogue import text as worded
    from spooldown.site import range_results

    with opened(logbook) as book:
        kept = book.range_checks()
        aircraft = only_of(book, aircraft, (who for _, who, _ in kept))
        found = [(n, who, c) for n, who, c in kept if aircraft in ("", who)]
        results = range_results(book, {who for _, who, _ in found})
    if as_json:
        from spooldown.logbook.codec import to_json

        listed = [{"number": n, "aircraft": who, **json.loads(to_json(c))} for n, who, c in found]
        say_json({"checks": listed, "lines": {who: json.loads(to_json(r)) for who, r in results.items()}})
        return
    if not found:
        tell("cli.no_range_checks")
        return
    table(
        headings(
            "no", "aircraft", "day", "receiver", "antenna", "distance_m", "reduction_db", "orientation", "remarks"
        ),
        [
            (
                n,
                who,
                c.day,
                c.receiver,
                c.number or message("cli.all"),
                f"{c.distance_m:g}",
                f"{c.reduction_db:g}",
                c.orientation,
                c.note,
            )
            for n, who, c in found
        ],
        numeric=(0, 5, 6),
    )
    for who, result in results.items():
        tell("cli.implied_range", owner=who)
        table(
            headings("antenna", "orientation", "free_space", "cautious", "since_moved", "against_flown"),
            [
                (
                    line.antenna,
                    line.orientation,
                    figure_text(line.implied_m),
                    figure_text(line.cautious_m) if line.cautious_m else "",
                    figure_text(line.moved_db) if line.moved_db else "",
                    line.note,
                )
                for line in result.lines
            ],
        )
    say(worded(next(iter(results.values())).caution))
