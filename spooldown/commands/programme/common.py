"""What the programme's commands share: settling names and days."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import TYPE_CHECKING, Annotated

import typer

from spooldown.commands.options import only_of
from spooldown.commands.shell.completing import aircraft_names
from spooldown.problems import UsageProblem

if TYPE_CHECKING:
    from spooldown.logbook.book import Logbook

Whose = Annotated[str, typer.Argument(metavar="AIRCRAFT", help="Whose.", autocompletion=aircraft_names)]
Day = Annotated[str, typer.Option("--day", metavar="YYYY-MM-DD", help="When.", show_default="today")]


def aircraft_of(book: Logbook, word: str) -> str:
    """Settle an aircraft's name: registered, or with flights.

    Raises
    ------
    NotFoundProblem
        If there is none; the nearest known one is offered.
    """
    return only_of(book, word, (f.aircraft for f in book.flights()))


def day_of(text: str, option: str = "--day") -> date:
    """Settle a day: as typed, else today.

    Raises
    ------
    UsageProblem
        If it is no day, or lies in the future.
    """
    from reports.words.catalogue import message

    today = datetime.now(UTC).astimezone().date()
    if not text:
        return today
    try:
        day = date.fromisoformat(text.strip())
    except ValueError as error:
        raise UsageProblem(message("programme.no_day", option=option, text=text)) from error
    if day > today:
        raise UsageProblem(message("programme.day_to_come", option=option, day=day))
    return day
