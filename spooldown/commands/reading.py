"""How the owner wants to read: the command that shows and changes it."""

from __future__ import annotations

from typing import Annotated

import typer

from spooldown.commands.options import AsJson, Book
from spooldown.commands.places import opened
from spooldown.commands.shell.completing import one_of
from spooldown.terminal import headings, message, say_json, table, tell


def settings(
    language: Annotated[str, typer.Option(help="en or de.", autocompletion=one_of("en", "de"))] = "",
    volume: Annotated[str, typer.Option(help="ml or fl_oz (US).", autocompletion=one_of("ml", "fl_oz"))] = "",
    temperature: Annotated[str, typer.Option(help="c or f.", autocompletion=one_of("c", "f"))] = "",
    length: Annotated[str, typer.Option(help="m or ft.", autocompletion=one_of("m", "ft"))] = "",
    clock: Annotated[str, typer.Option(help="24 or 12 hours.", autocompletion=one_of("24", "12"))] = "",
    dates: Annotated[str, typer.Option(help="iso or local.", autocompletion=one_of("iso", "local"))] = "",
    as_json: AsJson = False,
    logbook: Book = None,
) -> None:
    """Show or change how you read: language, units, clock, dates."""
    from spooldown.preferences import CHOICES, preferences, remember

    given = {
        **{"language": language, "volume": volume, "temperature": temperature},
        **{"length": length, "clock": clock, "dates": dates},
    }
    with opened(logbook) as book:
        chosen = {name: value for name, value in given.items() if value}
        if chosen:
            remember(book, chosen)
        known = preferences(book)
    if as_json:
        say_json(known)
        return
    table(
        headings("setting", "chosen", "may_be"),
        [(name, known[name] or message("cli.default"), ", ".join(choices)) for name, choices in CHOICES.items()],
    )
    if chosen:
        tell("cli.build_again")
