"""Flights in the logbook: listing them, showing one in the terminal, taking some out."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Annotated, Any

import typer

from spooldown.commands.options import AsJson, Book, DryRun, FlightId, flight_names, only_of
from spooldown.commands.places import opened
from spooldown.settings import ExitCode
from spooldown.terminal import confirmed, say, say_json, steps_bar, table

if TYPE_CHECKING:
    from spooldown.logbook.book import Flight, Logbook
    from spooldown.results import Analysed

CAUTION = (
    "A record of what was logged, no advice to fly: the makers' manuals, your association's safety code and local law"
    " decide."
)


def flights(
    aircraft: Annotated[str, typer.Option(help="Only this aircraft's.")] = "",
    as_json: AsJson = False,
    logbook: Book = None,
) -> None:
    """List the flights, oldest first."""
    with opened(logbook) as book:
        flown = book.flights()
        aircraft = only_of(book, aircraft, (f.aircraft for f in flown))
        found = [f for f in flown if aircraft in ("", f.aircraft)]
        noted = set(book.notes())
    if as_json:
        say_json([{**_flight_json(f), "noted": f.flight_id in noted} for f in found])
        return
    if not found:
        say("No flights yet." if not aircraft else f"No flights of {aircraft}.")
        return
    table(
        ("flight", "aircraft", "UTC", "minutes", "channels", "noted", "from"),
        [
            (
                f.flight_id,
                f.aircraft or "(unassigned)",
                f.when,
                f"{f.duration_s / 60:.1f}",
                len(f.channels),
                "yes" if f.flight_id in noted else "",
                f.source,
            )
            for f in found
        ],
        numeric=(3, 4),
    )


def show(
    flight: FlightId,
    every: Annotated[bool, typer.Option("--all", help="Every figure, also those the log cannot support.")] = False,
    as_json: AsJson = False,
    logbook: Book = None,
) -> None:
    """Show one flight in the terminal: what it burned, what the packs gave, how the link held."""
    from analyser.core.figures import figures_of
    from reports.words.catalogue import text as worded
    from spooldown.export import encode, rows_of
    from spooldown.pages import title_of

    with opened(logbook) as book:
        one = _one(book, flight)
    if as_json:
        say_json({w: json.loads(encode(rows_of([one], w), "json")) for w in ("flights", "figures", "events")})
        return
    result = one.record.result
    say(f"{title_of(one)} ({flight}), {result.duration_s / 60:.1f} min logged")
    for subject in ("fuel", "turbine", "packs", "link"):
        rows = [
            (
                path.rpartition(".")[0],
                worded(f.label),
                f.text(),
                str(f.method),
                "; ".join(map(worded, f.doubts)) or worded(f.missing),
            )
            for path, f in figures_of(getattr(result, subject))
            if (every or f.value is not None) and (every or path.count(".") < 3)
        ]
        if rows:
            say(f"\n{subject.capitalize()}")
            table(("of", "figure", "value", "how", "but"), rows, numeric=(2,))
    events = list(result.events())
    if events:
        say("\nEvents")
        table(
            ("at", "level", "what"),
            [(f"{e.start_s:.1f} s", e.level.name.lower(), worded(e.summary)) for e in events],
            numeric=(0,),
        )
    for item in result.missing():
        say(f"Not in this log: {item.what} (costs {item.cost})" + (f"; {item.remedy}" if item.remedy else "") + ".")
    for sentence in (*one.flight.notices, *one.said):
        say(f"Note: {sentence}")
    say(CAUTION)


def remove(
    flight_ids: Annotated[list[str], typer.Argument(metavar="FLIGHT...", autocompletion=flight_names)],
    for_good: Annotated[bool, typer.Option("--for-good", help="Delete at once, not into the bin.")] = False,
    yes: Annotated[bool, typer.Option("--yes", help="Do not ask.")] = False,
    dry_run: DryRun = False,
    logbook: Book = None,
) -> None:
    """Put flights into the bin, with their notes; `spooldown bin` lists it, brings back and empties."""
    with opened(logbook) as book:
        for flight_id in flight_ids:
            book.flight(flight_id)
        if dry_run:
            say(f"Would remove {', '.join(flight_ids)}.")
            return
        named = ", ".join(flight_ids)
        question = f"Delete {named} and their notes for good?" if for_good else f"Put {named} into the bin?"
        if not yes and not confirmed(question):
            say("Nothing removed.")
            raise typer.Exit(ExitCode.INTERRUPTED)
        if for_good:
            book.delete(flight_ids)
            say(f"Deleted {named}.")
        else:
            book.remove(flight_ids)
            say(f"Removed {named}; `spooldown bin --restore` brings back.")


def _one(book: Logbook, flight_id: str) -> Analysed:
    from spooldown import register
    from spooldown.results import analysed

    book.flight(flight_id)
    with steps_bar(quiet=False) as step:
        (one,) = analysed(book, register.load(book), only=[flight_id], progress=step)
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
        "notices": list(flight.notices),
    }
