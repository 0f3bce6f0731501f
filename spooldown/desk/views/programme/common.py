"""What the programme's screens share: whose they are, and days that were typed."""

from __future__ import annotations

from datetime import UTC, date, datetime

from starlette.exceptions import HTTPException
from starlette.requests import Request

from reports.words.catalogue import message
from spooldown import register
from spooldown.logbook.book import Logbook
from spooldown.problems import UsageProblem


def owners(book: Logbook) -> list[str]:
    """Every aircraft that is registered or has flown."""
    return sorted({*register.readable(book).aircraft, *(f.aircraft for f in book.flights() if f.aircraft)})


def owner_of(request: Request, book: Logbook) -> str:
    """The aircraft that an address names.

    Raises
    ------
    HTTPException
        404 where there is none of that name.
    """
    name = str(request.path_params["aircraft"])
    if name not in owners(book):
        raise HTTPException(404)
    return name


def today() -> date:
    """The day it is here."""
    return datetime.now(UTC).astimezone().date()


def day_of(text: str) -> date:
    """Settle a day that was typed, today where none was.

    Raises
    ------
    UsageProblem
        If it is no day, or yet to come.
    """
    if not text.strip():
        return today()
    try:
        day = date.fromisoformat(text.strip())
    except ValueError as error:
        raise UsageProblem(message("programme.no_day", option=message("desk.programme.day"), text=text)) from error
    if day > today():
        raise UsageProblem(message("programme.day_to_come", option=message("desk.programme.day"), day=day))
    return day
