"""Flights as the terminal tells them: one line each in a list, one screen for one flight, everything if asked."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

from analyser.core.events import Level
from analyser.core.figures import figures_of
from analyser.sense import believable
from reports.events import EventGroup, grouped
from reports.headlines import SUBJECTS, headlines, level_of
from reports.words.catalogue import interval, message, number, quantity
from reports.words.names import heading, names_in_flight, naming, said
from reports.words.times import clock, span
from reports.words.vocabulary import group_word, kind_words, level_word, method_word
from spooldown.logbook.flight import Flight
from spooldown.site import title_of
from spooldown.terminal import say, shortened, table, wrapped
from spooldown.work.results import Analysed

_HEADS = ("flight", "when", "airborne", "burned", "lowest", "level", "noted", "from")


def list_flights(found: Sequence[Flight], worked_out: Mapping[str, Analysed], noted: Collection[str]) -> None:
    """Print one line a flight."""
    rows = [_line(f, worked_out.get(f.flight_id), f.flight_id in noted) for f in found]
    table([message(f"cli.head_{key}") for key in _HEADS], rows, numeric=(2, 3, 4), optional=(7, 6, 1))


def _line(flight: Flight, one: Analysed | None, noted: bool) -> tuple[str, ...]:
    """What a pilot asks of a list: how long, how much, how low, how grave."""
    burned = lowest = airborne = level = "–"
    if one is not None:
        result = one.record.result
        low = [p.voltage.lowest_v for p in result.packs.packs if believable(p.voltage.lowest_v) is not None]
        airborne = number(result.phases.airborne_s / 60.0, 1) if result.phases.airborne_s else "–"
        burned = quantity(result.fuel.burned) if believable(result.fuel.burned) is not None else "–"
        lowest = quantity(min(low, key=lambda f: f.value or 0.0)) if low else "–"
        level = level_word(level_of(one.record))
    return (
        flight.flight_id,
        flight.when,
        airborne,
        burned,
        lowest,
        level,
        message("cli.yes") if noted else "",
        flight.source,
    )


def show_flight(one: Analysed, *, every: bool) -> None:
    """Print one flight: how it went and what asks for a person, in at most 40 lines, or everything."""
    with naming(names_in_flight(one.record.context)):
        _summary(one)
        if every:
            _everything(one)
        else:
            say(wrapped(message("cli.more", flight=one.flight.flight_id)))
        say(wrapped(message("cli.caution")))


def _summary(one: Analysed) -> None:
    """At most 40 lines: the headlines, and the events that ask for a person."""
    result = one.record.result
    say(f"{title_of(one.flight, one.record.aircraft, one.record.number)} ({one.flight.flight_id})")
    airborne = span(result.phases.airborne_s) if result.phases.airborne_s else ""
    say(message("flight.lasted", airborne=airborne, log=span(result.duration_s)))
    say()
    lines = [(level_word(line.level), line) for line in headlines(one.record)]
    wide = max(9, *(len(word) + 1 for word, _ in lines))
    for word, line in lines:
        say(wrapped(f"{word:<{wide}}{line.subject}: {line.headline}", wide))
    events = tuple(result.events())
    alone, groups = grouped(events, result.link.bridging)
    heavy = [e for _, e in alone][:_MOST_EVENTS]
    several = [g for g in groups if g.level >= Level.WATCH][:_MOST_EVENTS]
    if heavy or several:
        say(f"\n{message('events.asking')}")
    for event in heavy:
        say(shortened(f"{level_word(event.level):<9}{clock(event.start_s)} {said(event.summary)}"))
    for group in several:
        say(_in_one_line(group))
    if others := [g for g in groups if Level.FINE < g.level < Level.WATCH]:
        say(f"\n{message('events.others')}")
    for group in others:
        say(_in_one_line(group))
    say()


def _in_one_line(group: EventGroup) -> str:
    times = message("events.times", times=len(group.events))
    whose = ", ".join(filter(None, (kind_words(group.kind), heading(group.subject), group.side)))
    return shortened(f"{level_word(group.level):<9}{whose}: {times}")


_MOST_EVENTS = 8


def _everything(one: Analysed) -> None:
    result = one.record.result
    for group, subject in SUBJECTS:
        rows = [
            (
                path.rpartition(".")[0],
                said(f.label),
                quantity(f),
                interval(f),
                method_word(f.method),
                "; ".join(map(said, f.doubts)) or said(f.missing),
            )
            for path, f in figures_of(getattr(result, subject))
        ]
        if rows:
            say(f"\n{group_word(group)}")
            table([message(f"cli.figure_{key}") for key in _FIGURE_HEADS], rows, numeric=(2,), optional=(0, 5))
    events = list(result.events())
    if events:
        say(f"\n{message('events.title')}")
        table(
            [message(f"events.{key}") for key in ("at", "level", "what")],
            [(clock(e.start_s), level_word(e.level), said(e.summary)) for e in events],
            numeric=(0,),
        )
    for item in result.missing():
        what, cost, remedy = said(item.what), said(item.cost), said(item.remedy)
        say(wrapped(message("cli.missing", what=what, cost=cost, remedy=remedy), 2))
    for sentence in (*one.flight.notices, *one.said):
        say(wrapped(message("cli.note", note=said(sentence)), 2))


_FIGURE_HEADS = ("of", "label", "value", "interval", "how", "but")
