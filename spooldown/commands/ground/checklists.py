"""The owner's checklist: ``spooldown checklist``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from spooldown.commands.options import Book, FlightWord, owner_of
from spooldown.commands.places import opened, read_file
from spooldown.commands.shell.completing import aircraft_names
from spooldown.commands.shell.grouping import Grouped
from spooldown.problems import UsageProblem
from spooldown.terminal import say

app = typer.Typer(
    cls=Grouped, help="Your own checklist of an aircraft, ticked before a flight.", no_args_is_help=True,
    rich_markup_mode=None,
)  # fmt: skip
Whose = Annotated[str, typer.Argument(metavar="AIRCRAFT", help="Whose list.", autocompletion=aircraft_names)]


@app.command()
def show(aircraft: Whose, logbook: Book = None) -> None:
    """Print an aircraft's list."""
    from reports.words.catalogue import message
    from spooldown import register
    from spooldown.bench.checklist import checklists

    with opened(logbook) as book:
        name = owner_of(register.load(book), aircraft)
        items = checklists(book).get(name, [])
    if not items:
        say(message("checklist.no_list", aircraft=name))
    for number, item in enumerate(items, 1):
        say(f"{number:>3}. {item}")


@app.command()
def start(aircraft: Whose, logbook: Book = None) -> None:
    """Begin with a plain list (common practice, no source); a list that is there stays."""
    from reports.words.catalogue import message
    from spooldown import register
    from spooldown.bench.checklist import checklists, keep, starting_list

    with opened(logbook, must_exist=False) as book:
        name = owner_of(register.load(book), aircraft)
        if checklists(book).get(name):
            raise UsageProblem(message("checklist.there", aircraft=name))
        items = starting_list()
        keep(book, name, items)
    say(message("checklist.started", aircraft=name, n=len(items)))


@app.command("set")
def put(
    aircraft: Whose,
    file: Annotated[Path, typer.Argument(help="A text file, one item a line; lines that begin with # are left out.")],
    logbook: Book = None,
) -> None:
    """Put your own list in the place of the one before."""
    from reports.words.catalogue import message
    from spooldown import register
    from spooldown.bench.checklist import items_in, keep

    with opened(logbook, must_exist=False) as book:
        name = owner_of(register.load(book), aircraft)
        items = items_in(read_file(file).decode("utf-8-sig", "replace"))
        keep(book, name, items)
    say(message("checklist.kept", aircraft=name, n=len(items)))


@app.command("tick")
def tick_items(
    flight: FlightWord,
    numbers: Annotated[list[int] | None, typer.Argument(metavar="NUMBER...", help="Items ticked, by number.")] = None,
    every: Annotated[bool, typer.Option("--all", help="All of them.")] = False,
    logbook: Book = None,
) -> None:
    """Say what was ticked before a flight."""
    from reports.words.catalogue import message
    from spooldown.bench.checklist import checklists, tick
    from spooldown.commands.options import meant

    if bool(numbers) == every:
        raise UsageProblem(message("checklist.which"))
    with opened(logbook) as book:
        flight_id = meant(book, flight)
        owner = book.flight(flight_id).aircraft
        items = checklists(book).get(owner, [])
        if not items:
            raise UsageProblem(message("checklist.no_list", aircraft=owner))
        for number in numbers or ():
            if not 1 <= number <= len(items):
                raise UsageProblem(message("checklist.no_item", number=number, n=len(items)))
        chosen = items if every else [items[n - 1] for n in numbers or ()]
        tick(book, flight_id, chosen)
    say(message("checklist.ticked", flight=flight_id, n=len(dict.fromkeys(chosen)), of=len(items)))
