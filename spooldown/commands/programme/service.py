"""Service of components: ``spooldown service``."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Annotated

import typer

from spooldown.commands.options import AsJson, Book, Language, OnlyAircraft
from spooldown.commands.places import opened
from spooldown.commands.programme.common import Day, aircraft_of, day_of
from spooldown.commands.shell.completing import aircraft_names, one_of
from spooldown.commands.shell.grouping import Grouped
from spooldown.problems import UsageProblem
from spooldown.terminal import say, say_json, table, wrapped

if TYPE_CHECKING:
    from analyser.programme.service import ServiceState
    from spooldown.programme.flights import Followed

app = typer.Typer(
    cls=Grouped, help="Follow engines, packs, switches and receivers to their service.", no_args_is_help=True,
    rich_markup_mode=None,
)  # fmt: skip
HEADS = ("component", "sits", "level", "hours", "starts", "flights", "last")
KINDS = ("engine", "pack", "receiver", "switch", "other")
Name = Annotated[str, typer.Argument(metavar="COMPONENT", help="Its name, as `spooldown service list` shows it.")]
InAircraft = Annotated[str, typer.Option("--aircraft", help="Where it sits.", autocompletion=aircraft_names)]
AtPart = Annotated[str, typer.Option("--part", help="As which part: engine.left, link.rx1 …")]


@app.command("list")
def listed(aircraft: OnlyAircraft = "", language: Language = "", as_json: AsJson = False, logbook: Book = None) -> None:
    """List every component: what it ran, what is left to each interval, and until when at this season's rate."""
    from reports.words.catalogue import message, text
    from reports.words.vocabulary import level_word
    from spooldown import register
    from spooldown.programme import service
    from spooldown.programme.flights import follow

    with opened(logbook, language=language) as book:
        known = register.readable(book)
        owner = aircraft_of(book, aircraft) if aircraft else ""
        flown = sorted({f.aircraft for f in book.flights() if f.aircraft})
        followed: list[Followed] = []
        for name in flown:
            followed.append(follow(book, known, name, whole=followed[0].whole if followed else None))
        states = service.states(book, known, followed, day_of(""), owner)
        if as_json:
            say_json([_json(s) for s in states])
            return
        if not states:
            say(message("service.none"))
            return
        table(
            [message(f"service.head.{h}") for h in HEADS],
            [
                (
                    s.component.name, _place(s), level_word(s.level), f"{s.total.hours:.1f}", f"{s.total.starts:.0f}",
                    f"{s.total.flights:.0f}", s.last or "",
                )
                for s in states
            ],
            numeric=(3, 4, 5), optional=(6, 4),
        )  # fmt: skip
        for s in states:
            for due in s.due:
                say(wrapped(text(due.sentence), 2))


@app.command()
def add(
    name: Annotated[str, typer.Argument(help="Your name for it; a registered pack's own.")],
    kind: Annotated[str, typer.Option(help="What it is.", autocompletion=one_of(*KINDS))] = "other",
    aircraft: InAircraft = "",
    part: AtPart = "",
    since: Annotated[str, typer.Option(metavar="YYYY-MM-DD", help="In service since.")] = "",
    hours: Annotated[float | None, typer.Option(help="Service every so many hours.")] = None,
    starts: Annotated[float | None, typer.Option(help="Service every so many starts.")] = None,
    flights: Annotated[float | None, typer.Option(help="Service every so many flights.")] = None,
    months: Annotated[float | None, typer.Option(help="Service every so many months.")] = None,
    hours_before: Annotated[float, typer.Option(help="Hours it had run before the log.")] = 0.0,
    flights_before: Annotated[float, typer.Option(help="Flights before the log.")] = 0.0,
    language: Language = "",
    logbook: Book = None,
) -> None:
    """Keep a component with the intervals of its maker or your own; the same name again changes it."""
    from analyser.programme.service import Component, Fit, Used
    from reports.words.catalogue import message
    from spooldown.programme import service

    with opened(logbook, language=language) as book:
        if kind not in KINDS:
            raise UsageProblem(message("service.no_kind", found=kind, known=KINDS))
        every = {"hours": hours, "starts": starts, "flights": flights, "months": months}
        owner = aircraft_of(book, aircraft) if aircraft else ""
        began = day_of(since, "--since") if since else None
        kept = service.keep(
            book,
            Component(
                name.strip(), kind, (Fit(owner, part, began),) if owner else (),  # type: ignore[arg-type]
                {k: v for k, v in every.items() if v is not None}, Used(hours_before, 0.0, flights_before), began,
            ),
        )  # fmt: skip
        say(message("service.kept", name=kept.name, intervals=len(kept.every)))


@app.command()
def done(
    component: Name,
    what: Annotated[str, typer.Argument(help="What was done.")] = "",
    day: Day = "",
    language: Language = "",
    logbook: Book = None,
) -> None:
    """Note a service; hours, starts and flights count anew from the next day on."""
    from reports.words.catalogue import message
    from spooldown import register
    from spooldown.programme import service

    with opened(logbook, language=language) as book:
        when = day_of(day)
        kept = service.serviced(book, register.load(book), component, when, what.strip())
        say(message("service.done", name=kept.name, day=when))


@app.command()
def move(
    component: Name,
    aircraft: Annotated[str, typer.Argument(help="To which aircraft.", autocompletion=aircraft_names)],
    part: AtPart = "",
    day: Day = "",
    language: Language = "",
    logbook: Book = None,
) -> None:
    """Move a component to another aircraft or part; its history goes with it."""
    from reports.words.catalogue import message
    from spooldown import register
    from spooldown.programme import service

    with opened(logbook, language=language) as book:
        owner = aircraft_of(book, aircraft)
        kept = service.moved(book, register.load(book), component, (owner, part), day_of(day))
        say(message("service.moved", name=kept.name, aircraft=owner))


@app.command()
def remove(component: Name, language: Language = "", logbook: Book = None) -> None:
    """Take a component out; one that an aircraft's file describes is as that says again."""
    from reports.words.catalogue import message
    from spooldown import register
    from spooldown.programme import service

    with opened(logbook, language=language) as book:
        service.remove(book, register.load(book), component)
        say(message("service.removed", name=component))


def _place(state: ServiceState) -> str:
    sits = state.component.sits
    return f"{sits.aircraft} {sits.part}".strip() if sits else ""


def _json(state: ServiceState) -> dict[str, object]:
    from spooldown.logbook.codec import to_json

    found: dict[str, object] = json.loads(to_json(state))
    return found
