"""Flights in the logbook: listing them, showing one in the terminal, taking some out and bringing them back."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated, Any

import typer

from spooldown.commands.options import (
    AsJson,
    Book,
    DryRun,
    FlightWord,
    FlightWords,
    Language,
    OnlyAircraft,
    all_meant,
    meant,
    only_of,
)
from spooldown.commands.places import again_where_changed, opened
from spooldown.commands.shell.completing import removed_flights
from spooldown.commands.shell.grouping import Grouped
from spooldown.exit_codes import ExitCode
from spooldown.terminal import confirmed, headings, message, say, say_json, steps_bar, table, tell

if TYPE_CHECKING:
    from spooldown.logbook.book import Logbook
    from spooldown.logbook.flight import Flight
    from spooldown.work.results import Analysed


@again_where_changed
def flights(
    aircraft: OnlyAircraft = "",
    language: Language = "",
    as_json: AsJson = False,
    logbook: Book = None,
) -> None:
    """List the flights, oldest first."""
    with opened(logbook, language=language) as book:
        flown = book.flights()
        aircraft = only_of(book, aircraft, (f.aircraft for f in flown))
        found = [f for f in flown if aircraft in ("", f.aircraft)]
        noted = set(book.notes())
        if as_json:
            say_json([{**_flight_json(f), "noted": f.flight_id in noted} for f in found])
            return
        if not found:
            say(message("cli.no_flights", aircraft=aircraft))
            return
        from spooldown.flight_text import list_flights

        worked_out = {one.flight.flight_id: one for one in _analysed(book, [f.flight_id for f in found])}
        list_flights(found, worked_out, noted)


@again_where_changed
def show(
    flight: FlightWord,
    every: Annotated[bool, typer.Option("--all", help="Every event and figure, and what is missing.")] = False,
    language: Language = "",
    as_json: AsJson = False,
    logbook: Book = None,
) -> None:
    """Show one flight in the terminal: how it went and what asks for a person."""
    from spooldown.flight_text import show_flight
    from spooldown.work.export import encode, rows_of

    with opened(logbook, language=language) as book:
        one = _one(book, flight)
        if as_json:
            say_json({w: json.loads(encode(rows_of([one], w), "json")) for w in ("flights", "figures", "events")})
            return
        show_flight(one, every=every)


def remove(
    flights: FlightWords,
    for_good: Annotated[bool, typer.Option("--for-good", help="Delete at once, not into the bin.")] = False,
    yes: Annotated[bool, typer.Option("--yes", help="Do not ask.")] = False,
    dry_run: DryRun = False,
    logbook: Book = None,
) -> None:
    """Put flights into the bin, with their notes; `spooldown bin` lists, brings back and empties it."""
    with opened(logbook) as book:
        flight_ids = all_meant(book, flights)
        if dry_run:
            tell("cli.would_remove", flights=tuple(flight_ids))
            return
        if not yes and not confirmed(
            "cli.ask_delete_noted" if for_good else "cli.ask_remove", flights=tuple(flight_ids)
        ):
            tell("cli.nothing_removed")
            raise typer.Exit(ExitCode.INTERRUPTED)
        if for_good:
            book.delete(flight_ids)
            tell("cli.deleted", flights=tuple(flight_ids))
        else:
            book.remove(flight_ids)
            tell("cli.removed", flights=tuple(flight_ids))


bin_app = typer.Typer(
    cls=Grouped, help="List, bring back or delete flights that were taken out.", no_args_is_help=True,
    rich_markup_mode=None,
)  # fmt: skip
Removed = Annotated[list[str], typer.Argument(metavar="FLIGHT...", autocompletion=removed_flights)]
Yes = Annotated[bool, typer.Option("--yes", help="Do not ask.")]


@bin_app.command("list")
def in_bin(as_json: AsJson = False, logbook: Book = None) -> None:
    """List the flights that were taken out."""
    with opened(logbook) as book:
        there = book.removed()
    if as_json:
        say_json(
            [
                {
                    "flight": r.flight_id,
                    "removed": r.removed_at or None,
                    "aircraft": r.aircraft,
                    "source": r.source,
                    "noted": r.noted,
                    "why": r.why,
                }
                for r in there
            ]
        )
    elif not there:
        tell("cli.bin_empty")
    else:
        table(
            headings("flight", "aircraft", "minutes", "noted", "taken_out", "because", "from"),
            [
                (
                    r.flight_id, r.aircraft or message("cli.unassigned"), f"{r.duration_s / 60:.1f}",
                    message("cli.yes") if r.noted else "", r.removed_at or message("cli.not_known"), r.why, r.source,
                )
                for r in there
            ],
            numeric=(2,),
        )  # fmt: skip


@bin_app.command()
def restore(flight_ids: Removed, logbook: Book = None) -> None:
    """Bring flights back into the logbook, with their notes."""
    with opened(logbook) as book:
        book.bring_back(flight_ids)
    tell("cli.brought_back", flights=tuple(flight_ids))


@bin_app.command()
def drop(flight_ids: Removed, yes: Yes = False, dry_run: DryRun = False, logbook: Book = None) -> None:
    """Delete some flights of the bin for good."""
    with opened(logbook) as book:
        _delete(book, flight_ids, yes, dry_run)


@bin_app.command()
def empty(yes: Yes = False, dry_run: DryRun = False, logbook: Book = None) -> None:
    """Delete everything in the bin for good."""
    with opened(logbook) as book:
        there = [r.flight_id for r in book.removed()]
        if there:
            _delete(book, there, yes, dry_run)
        else:
            tell("cli.bin_empty")


def _delete(book: Logbook, which: Sequence[str], yes: bool, dry_run: bool) -> None:
    if dry_run:
        tell("cli.would_delete", flights=tuple(which))
        return
    if not yes and not confirmed("cli.ask_delete", flights=tuple(which)):
        tell("cli.nothing_deleted")
        raise typer.Exit(ExitCode.INTERRUPTED)
    tell("cli.deleted", flights=tuple(book.empty_bin(which)))


def _analysed(book: Logbook, only: list[str]) -> list[Analysed]:
    """Work out these flights; one that can't be is left out, its pages say why."""
    from spooldown import register
    from spooldown.work.results import analysed

    with steps_bar(quiet=False) as step:
        return analysed(book, register.readable(book), only=only, progress=step, failures=[])


def _one(book: Logbook, word: str) -> Analysed:
    from spooldown import register
    from spooldown.work.results import analysed

    chosen = meant(book, word)
    with steps_bar(quiet=False) as step:
        (one,) = analysed(book, register.readable(book), only=[chosen], progress=step)
    return one


def _flight_json(flight: Flight) -> dict[str, Any]:
    return {
        "flight": flight.flight_id,
        "aircraft": flight.aircraft,
        "utc_start": flight.utc_start.isoformat() if flight.utc_start else None,
        "duration_s": flight.duration_s,
        "rows": flight.rows,
        "source": flight.source,
        "part": flight.part,
        "channels": list(flight.channels),
        "notices": list(map(str, flight.notices)),
    }
