"""Walked range checks: keeping and listing them."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated

import typer

from spooldown.commands.options import AsJson, Book, DryRun, only_of, owner_of
from spooldown.commands.places import opened, read_file
from spooldown.problems import UsageProblem
from spooldown.terminal import say, say_json, table


def range_check(
    aircraft: Annotated[str, typer.Argument(help="Whose range check it is.")],
    sheet: Annotated[
        Path | None, typer.Argument(help="CSV with day, receiver, antenna, distance_m, reduction_db, orientation.")
    ] = None,
    day: Annotated[str, typer.Option(metavar="YYYY-MM-DD", help="When.")] = "",
    receiver: Annotated[str, typer.Option(help="Which receiver.")] = "",
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
        raise UsageProblem("name a CSV file, or type one check with --day, --receiver, --distance and --reduction.")
    with opened(logbook, must_exist=False) as book:
        known = register.load(book)
        owner = owner_of(known, aircraft)
        if sheet:
            rows = read_range_sheet(read_file(sheet), str(sheet), known, owner)
        else:
            cells = {column: text.strip() for column, text in typed.items() if text.strip()}
            rows = [check_in(Row("the check typed in", None, cells), known, owner)]
        checks = [(r.aircraft, r.check) for r in rows]
        if dry_run:
            new = len(set(checks) - {(who, check) for _, who, check in book.range_checks()})
        else:
            new = book.add_range_checks(checks)
    already = f"; {len(rows) - new} already there" if new < len(rows) else ""
    say(f"{'Would keep' if dry_run else 'Kept'} {new} range check{'' if new == 1 else 's'} of {owner}{already}.")


def range_checks(
    aircraft: Annotated[str, typer.Option(help="Only this aircraft's.")] = "",
    remove: Annotated[int | None, typer.Option(metavar="NUMBER", help="Take this one out.")] = None,
    as_json: AsJson = False,
    logbook: Book = None,
) -> None:
    """List the walked range checks and the full-power range each line of them implies."""
    from reports.words.catalogue import text as worded
    from spooldown.work.pages import range_results

    with opened(logbook) as book:
        if remove is not None:
            book.remove_range_check(remove)
            say(f"Range check {remove} removed.")
            return
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
        say("No range checks yet; `spooldown range-check` takes them.")
        return
    table(
        ("no.", "aircraft", "day", "receiver", "antenna", "distance m", "reduction dB", "orientation", "remarks"),
        [
            (
                n, who, c.day, c.receiver, c.number or "all", f"{c.distance_m:g}", f"{c.reduction_db:g}", c.orientation,
                c.note,
            )
            for n, who, c in found
        ],
        numeric=(0, 5, 6),
    )  # fmt: skip
    for who, result in results.items():
        say(f"\n{who}: implied full-power range, latest day of each")
        table(
            ("antenna", "orientation", "free-space scaling", "cautious", "since it was moved", "against flown"),
            [
                (
                    line.antenna, line.orientation, line.implied_m.text(),
                    line.cautious_m.text() if line.cautious_m else "", line.moved_db.text() if line.moved_db else "",
                    line.note,
                )
                for line in result.lines
            ],
        )  # fmt: skip
    say(worded(next(iter(results.values())).caution))
