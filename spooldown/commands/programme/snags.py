"""Snags and remedies: ``spooldown snags`` and ``spooldown remedies``."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Annotated

import typer

from spooldown.commands.options import AsJson, Book, Language, OnlyAircraft, meant
from spooldown.commands.places import opened
from spooldown.commands.programme.common import Day, Whose, aircraft_of, day_of
from spooldown.commands.shell.completing import flight_words
from spooldown.commands.shell.grouping import Grouped
from spooldown.problems import NotFoundProblem, UsageProblem
from spooldown.terminal import say, say_json, table, wrapped

if TYPE_CHECKING:
    from analyser.programme.snags import Snag, SnagState
    from analyser.programme.steps import StepFound
    from analyser.record import FlightRecord
    from spooldown.logbook.book import Logbook
    from spooldown.programme.flights import Followed

app = typer.Typer(
    cls=Grouped, help="Keep what is wrong with an aircraft, and its story.", no_args_is_help=True, rich_markup_mode=None
)
remedies = typer.Typer(
    cls=Grouped, help="Date what was done about a snag; later flights say whether it worked.", no_args_is_help=True,
    rich_markup_mode=None,
)  # fmt: skip
Which = Annotated[str, typer.Argument(metavar="SNAG", help="S7, as `spooldown snags list` names it.")]


@app.command("list")
def listed(
    aircraft: OnlyAircraft = "",
    every: Annotated[bool, typer.Option("--all", help="Closed ones too.")] = False,
    language: Language = "",
    as_json: AsJson = False,
    logbook: Book = None,
) -> None:
    """List the open snags with how their remedies fared."""
    from reports.words.catalogue import message
    from spooldown.programme.snags import all_snags

    with opened(logbook, language=language) as book:
        owner = aircraft_of(book, aircraft) if aircraft else ""
        snags = [s for s in all_snags(book, owner) if every or s.open]
        states = _states(book, snags)
        if as_json:
            say_json([_json(state) for state in states])
            return
        if not states:
            say(message("snags.none", all=every))
            return
        table(
            [message(f"snags.head.{h}") for h in ("name", "aircraft", "part", "since", "title", "remedy")],
            [
                (
                    s.snag.name, s.snag.aircraft, s.snag.thing or s.snag.part, s.snag.day, s.snag.title, _verdict(s)
                )
                for s in states
            ],
            optional=(3,),
        )  # fmt: skip


@app.command()
def show(snag: Which, language: Language = "", as_json: AsJson = False, logbook: Book = None) -> None:
    """Show one snag with its story, its remedies and how they fared."""
    from reports.words.catalogue import message, text
    from spooldown.programme.snags import find_snag

    with opened(logbook, language=language) as book:
        (state,) = _states(book, [find_snag(book, snag)])
        if as_json:
            say_json(_json(state))
            return
        s = state.snag
        say(message("snags.one", name=s.name, aircraft=s.aircraft, part=s.thing or s.part, title=s.title, day=s.day))
        for note in s.story:
            say(wrapped(f"{note.day}: {note.text}", 2))
        for n, fared in enumerate(state.fared, 1):
            say(message("remedies.one", number=n, day=fared.remedy.day, what=fared.remedy.what))
            verdict = text(fared.comparison.sentence) if fared.comparison else message("remedies.no_comparison")
            say(wrapped(f"  {verdict}", 2))
        if s.closed:
            say(message("snags.closed_on", day=s.closed))


@app.command()
def add(
    aircraft: Whose,
    title: Annotated[str, typer.Argument(help="What is wrong; of an event it says itself.")] = "",
    part: Annotated[str, typer.Option(help="What it is of: engine.left, link.rx2.antenna2, pack.rx1 …")] = "",
    flight: Annotated[str, typer.Option(help="The flight it was seen in.", autocompletion=flight_words)] = "",
    event: Annotated[int, typer.Option(help="Which event of that flight, as `marks list` counts them.")] = 0,
    step: Annotated[int, typer.Option(help="Which step nobody noted, as `snags offers` counts them.")] = 0,
    figure: Annotated[str, typer.Option(help="The figure its remedies are judged by: tank.burn_rate …")] = "",
    worth: Annotated[
        float | None, typer.Option(help="The least change for the better that counts, in the figure's unit.")
    ] = None,
    day: Day = "",
    language: Language = "",
    logbook: Book = None,
) -> None:
    """Keep a snag: in your words, from an event or a remark of a flight, or from a step that was found."""
    from msgspec.structs import replace

    from analyser.programme.snags import Came, Snag
    from reports.words.catalogue import message
    from spooldown.programme import snags

    with opened(logbook, language=language) as book:
        owner = aircraft_of(book, aircraft)
        if event and step:
            raise UsageProblem(message("snags.event_or_step"))
        seen = day_of(day)
        if step:
            offers = _offers(book, owner)
            if not 1 <= step <= len(offers):
                raise NotFoundProblem(message("snags.no_offer", which=step, there=len(offers)))
            made = snags.from_step(offers[step - 1], owner, seen, title)
        elif flight:
            flight_id = meant(book, flight)
            known = book.flight(flight_id)
            if known.aircraft != owner:
                raise UsageProblem(
                    message("snags.other_aircraft", flight=flight_id, owner=known.aircraft, aircraft=owner)
                )
            seen = day_of(day) if day else known.day or seen
            followed = _one_flight(book, flight_id)
            if event:
                made = snags.from_event(followed, event, seen, title)
            else:
                remark = title or followed.context.remarks
                made = Snag(0, owner, part, snags.pack_at(followed, part), remark, seen, Came.REMARK, flight_id)
        else:
            made = Snag(0, owner, part, "", title, seen)
        made = replace(made, part=part or made.part, measure=figure or made.measure, worth=worth or made.worth)
        kept = snags.add(book, made)
        say(message("snags.kept", name=kept.name, aircraft=owner, title=kept.title))
        if not kept.measure:
            say(message("snags.no_measure"))


@app.command()
def offers(
    aircraft: Whose,
    aside: Annotated[int, typer.Option(metavar="NUMBER", help="Put this one aside: it is known and no snag.")] = 0,
    language: Language = "",
    as_json: AsJson = False,
    logbook: Book = None,
) -> None:
    """List steps nobody noted: figures that shifted, each with the flight and how sure its date is."""
    from reports.words.catalogue import message, text
    from spooldown.programme.snags import put_aside

    with opened(logbook, language=language) as book:
        owner = aircraft_of(book, aircraft)
        found = _offers(book, owner)
        if aside:
            if not 1 <= aside <= len(found):
                raise NotFoundProblem(message("snags.no_offer", which=aside, there=len(found)))
            put_aside(book, found[aside - 1])
            say(message("snags.put_aside", sentence=text(found[aside - 1].sentence)))
            return
        if as_json:
            from spooldown.logbook.codec import to_json

            say_json([{**json.loads(to_json(step)), "sentence": text(step.sentence)} for step in found])
            return
        for n, step in enumerate(found, 1):
            say(wrapped(f"{n}  {text(step.sentence)}", 3))
        say(message("snags.offered" if found else "snags.no_offers", aircraft=owner, count=len(found)))


@app.command()
def note(snag: Which, text: str, day: Day = "", language: Language = "", logbook: Book = None) -> None:
    """Add a line to a snag's story."""
    from reports.words.catalogue import message
    from spooldown.programme.snags import find_snag, tell

    with opened(logbook, language=language) as book:
        kept = tell(book, find_snag(book, snag).number, day_of(day), text)
        say(message("snags.noted", name=kept.name))


@app.command()
def close(
    snag: Which,
    why: Annotated[str, typer.Argument(help="How it ended.")] = "",
    day: Day = "",
    language: Language = "",
    logbook: Book = None,
) -> None:
    """Close a snag; its story stays."""
    from reports.words.catalogue import message
    from spooldown.programme import snags

    with opened(logbook, language=language) as book:
        kept = snags.close(book, snags.find_snag(book, snag).number, day_of(day), why)
        say(message("snags.closed", name=kept.name))


@app.command()
def reopen(snag: Which, language: Language = "", logbook: Book = None) -> None:
    """Open a closed snag again."""
    from reports.words.catalogue import message
    from spooldown.programme import snags

    with opened(logbook, language=language) as book:
        kept = snags.reopen(book, snags.find_snag(book, snag).number)
        say(message("snags.reopened", name=kept.name))


@remedies.command("add")
def add_remedy(
    snag: Which,
    what: Annotated[str, typer.Argument(help="What was done.")],
    day: Day = "",
    flight: Annotated[
        str, typer.Option("--first-flight", help="The first flight after it, where the day does not say.",
                          autocompletion=flight_words)
    ] = "",
    language: Language = "",
    logbook: Book = None,
) -> None:  # fmt: skip
    """Date a remedy; flights before it and after it say whether it worked."""
    from analyser.programme.snags import Remedy
    from reports.words.catalogue import message
    from spooldown.programme import snags

    with opened(logbook, language=language) as book:
        number = snags.find_snag(book, snag).number
        first = meant(book, flight) if flight else ""
        when = day_of(day) if day or not first else book.flight(first).day or day_of("")
        kept = snags.add_remedy(book, number, Remedy(when, what.strip(), first))
        say(message("remedies.kept", name=kept.name, count=len(kept.remedies), day=when))


@remedies.command("list")
def list_remedies(
    aircraft: OnlyAircraft = "", language: Language = "", as_json: AsJson = False, logbook: Book = None
) -> None:
    """List every remedy with its verdict: worked, did not, can't tell yet."""
    from reports.words.catalogue import message, text
    from spooldown.programme.snags import all_snags

    with opened(logbook, language=language) as book:
        owner = aircraft_of(book, aircraft) if aircraft else ""
        states = _states(book, [s for s in all_snags(book, owner) if s.remedies])
        if as_json:
            say_json([_json(state) for state in states])
            return
        if not states:
            say(message("remedies.none"))
            return
        table(
            [message(f"snags.head.{h}") for h in ("name", "aircraft", "day", "what", "verdict")],
            [
                (
                    s.snag.name, s.snag.aircraft, f.remedy.day, f.remedy.what,
                    text(f.comparison.sentence) if f.comparison else message("remedies.no_comparison"),
                )
                for s in states
                for f in s.fared
            ],
        )  # fmt: skip


@remedies.command()
def drop(
    snag: Which,
    number: Annotated[int, typer.Argument(help="Which of its remedies, counted from 1.")],
    language: Language = "",
    logbook: Book = None,
) -> None:
    """Take a remedy out that was not tried."""
    from reports.words.catalogue import message
    from spooldown.programme import snags

    with opened(logbook, language=language) as book:
        kept = snags.drop_remedy(book, snags.find_snag(book, snag).number, number)
        say(message("remedies.dropped", name=kept.name, count=len(kept.remedies)))


def _followed(book: Logbook, aircraft: str) -> Followed:
    from spooldown import register
    from spooldown.programme.flights import follow

    return follow(book, register.readable(book), aircraft)


def _one_flight(book: Logbook, flight_id: str) -> FlightRecord:
    from spooldown import register
    from spooldown.work.results import analysed

    found = [one.record for one in analysed(book, register.readable(book), only=[flight_id])]
    return next(f for f in found if f.flight_id == flight_id)


def _states(book: Logbook, snags: list[Snag]) -> list[SnagState]:
    from spooldown.programme.review import states_of

    return states_of(book, snags)


def _offers(book: Logbook, aircraft: str) -> tuple[StepFound, ...]:
    from spooldown.programme.review import offers_of

    return offers_of(book, _followed(book, aircraft))


def _verdict(state: SnagState) -> str:
    from reports.words.catalogue import message

    if not state.fared:
        return ""
    last = state.fared[-1]
    verdict = str(last.comparison.verdict) if last.comparison else "none"
    return f"{last.remedy.what}: {message(f'verdict.{verdict}')}"


def _json(state: SnagState) -> dict[str, object]:
    from reports.words.catalogue import text
    from spooldown.logbook.codec import to_json

    out: dict[str, object] = json.loads(to_json(state.snag))
    out["name"] = state.snag.name
    out["fared"] = [
        {
            "day": f.remedy.day.isoformat(), "what": f.remedy.what,
            "verdict": str(f.comparison.verdict) if f.comparison else "",
            "before": f.comparison.before if f.comparison else None,
            "after": f.comparison.after if f.comparison else None,
            "change": f.comparison.change.value if f.comparison else None,
            "low": f.comparison.change.low if f.comparison else None,
            "high": f.comparison.change.high if f.comparison else None,
            "unit": f.comparison.change.unit if f.comparison else "",
            "more_flights": f.comparison.more if f.comparison else None,
            "sentence": text(f.comparison.sentence) if f.comparison else "",
        }
        for f in state.fared
    ]  # fmt: skip
    return out
