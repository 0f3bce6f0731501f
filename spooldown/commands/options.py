"""What may be typed after a command: the options several commands share, and how their words are taken apart."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from spooldown.commands.shell.completing import aircraft_names, flight_words, one_of
from spooldown.problems import UsageProblem, nearest, not_found
from spooldown.settings import LOGBOOK_VARIABLE

if TYPE_CHECKING:
    from spooldown.logbook.book import Logbook
    from spooldown.logbook.flight import Flight
    from spooldown.register import Register


Book = Annotated[
    Path | None,
    typer.Option("--logbook", envvar=LOGBOOK_VARIABLE, help="The logbook folder.", show_default="your data folder"),
]
Language = Annotated[
    str,
    typer.Option(
        help="Language, en or de.",
        show_default="as set with `spooldown settings`, else your system's",
        autocompletion=one_of("en", "de"),
    ),
]
OnlyAircraft = Annotated[str, typer.Option("--aircraft", help="Only this aircraft's.", autocompletion=aircraft_names)]
OfAircraft = Annotated[str, typer.Option("--aircraft", help="Whose it is.", autocompletion=aircraft_names)]
AsJson = Annotated[bool, typer.Option("--json", help="Print JSON for a script.")]
DryRun = Annotated[bool, typer.Option("--dry-run", help="Show what would be done; write nothing.")]
FlightWord = Annotated[
    str,
    typer.Argument(
        metavar="FLIGHT", help="A flight's id, its number (`Tern 7`), or `latest`.", autocompletion=flight_words
    ),
]
FlightWords = Annotated[
    list[str],
    typer.Argument(
        metavar="FLIGHT…", help="Flights: ids, numbers (`Tern 7`), or `latest`.", autocompletion=flight_words
    ),
]


def owner_of(known: Register, word: str) -> str:
    """Settle an aircraft's name: as registered; unregistered is fine unless it looks like a slip of the pen."""
    if not word:
        return ""
    if found := known.find_aircraft(word):
        return found.name
    from reports.addresses import LONGEST_NAME, is_name

    word.encode()  # what is no UTF-8 stops here
    if not is_name(word):
        raise UsageProblem("usage.name", found=" ".join(word.split())[:LONGEST_NAME], longest=LONGEST_NAME)
    if nearest(word, known.aircraft, cutoff=0.7):
        raise not_found("aircraft", word, known.aircraft, remedy="remedy.register")
    return word


def only_of(book: Logbook, word: str, flown: Iterable[str]) -> str:
    """Settle whose things are asked for: an aircraft that is registered or that something is kept of."""
    from spooldown import register

    if not word:
        return ""
    known = register.readable(book)
    if found := known.find_aircraft(word):
        return found.name
    names = {name.casefold(): name for name in flown if name}
    if word.casefold() not in names:
        raise not_found("aircraft", word, {*names.values(), *known.aircraft}, remedy="remedy.list_aircraft")
    return names[word.casefold()]


def meant(book: Logbook, word: str) -> str:
    """Settle which flight is meant, as :func:`all_meant` does."""
    return all_meant(book, [word])[0]


def all_meant(book: Logbook, words: Iterable[str]) -> list[str]:
    """Settle which flights are meant: by id, by an aircraft's count of its flights, or the latest; each is named once.

    Raises
    ------
    NotFoundProblem
        If there is no such flight.
    UsageProblem
        If flights of several aircraft have that number.
    """
    words = list(dict.fromkeys(words))
    counted = any(word == "latest" or word.rpartition(" ")[2].isdecimal() for word in words)
    flown = book.flights() if counted else []
    return list(dict.fromkeys(_meant(book, word, flown) for word in words))


def _meant(book: Logbook, word: str, flown: Sequence[Flight]) -> str:
    if word == "latest" and flown:
        return flown[-1].flight_id
    name, _, digits = word.rpartition(" ")
    if digits.isdecimal() and all(f.flight_id != word for f in flown):
        lines: dict[str, list[str]] = {}
        for f in flown:
            lines.setdefault(f.aircraft, []).append(f.flight_id)
        found = [
            ids[int(digits) - 1]
            for owner, ids in lines.items()
            if name.casefold() in ("", owner.casefold()) and 0 < int(digits) <= len(ids)
        ]
        if len(found) > 1:
            raise UsageProblem("usage.which_flight", number=digits, flights=tuple(found))
        if found:
            return found[0]
    return book.flight(word).flight_id


def pair(item: str, option: str) -> tuple[str, str]:
    """Take ``NAME=VALUE`` apart."""
    key, equals, value = item.partition("=")
    if not (equals and key.strip() and value.strip()):
        raise UsageProblem("usage.name_value", option=option, found=item)
    return key.strip(), value.strip()
