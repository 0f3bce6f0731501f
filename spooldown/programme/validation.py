"""Validating events: choosing them, marking them singly and in bulk, and what the marks say of the limits."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from msgspec import Struct

from analyser.core.events import Event
from analyser.core.levels import COMMON_PRACTICE, Level, Limits
from analyser.programme.marks import Mark, Verdict
from analyser.programme.trial import nuisance_rates
from analyser.record import FlightRecord
from spooldown.judging.files import all_limits
from spooldown.judging.marks import by_flight, keep, mark_of
from spooldown.logbook.book import Logbook


class Wanted(Struct, frozen=True):
    """Which events are meant: those of a kind, a part, a limit, a level and above; ``""`` and ``FINE`` leave open."""

    kind: str = ""
    part: str = ""
    limit: str = ""
    level: Level = Level.FINE


def limit_of(event: Event, limits: Limits = COMMON_PRACTICE) -> str:
    """Name of the limit that judged an event."""
    held = limits.find("event", event.kind, event.subject)
    return event.limit or (held.name if held else event.kind)


def choose(flights: Sequence[FlightRecord], wanted: Wanted) -> Iterator[tuple[FlightRecord, int, Event]]:
    """Iterate over the events that are meant, each with its flight and its number there, counted from 1."""
    for flight in flights:
        for number, event in enumerate(flight.result.events(), 1):
            if (
                wanted.kind in ("", event.kind)
                and wanted.part in ("", event.subject)
                and wanted.limit in ("", limit_of(event))
                and event.level >= wanted.level
            ):
                yield flight, number, event


def mark(
    book: Logbook, events: Sequence[tuple[FlightRecord, Event]], verdict: Verdict, reason: str, day: str
) -> list[Mark]:
    """Mark events in one change, all or none."""
    marks = [mark_of(book, book.flight(f.flight_id), e, verdict, reason, day) for f, e in events]
    keep(book, marks)
    return marks


def forget(book: Logbook, events: Sequence[tuple[FlightRecord, Event]]) -> None:
    """Take back what was said of events."""
    keep(book, (), [mark_of(book, book.flight(f.flight_id), e, Verdict.REAL, "", "") for f, e in events])


def rates_by_limit(book: Logbook, aircraft: str) -> dict[str, tuple[int, int]]:
    """By limit: how many validated events were a nuisance or a sensor's fault, and how many were validated."""
    marked = by_flight(book)
    owners = {f.flight_id: f.aircraft for f in book.flights()} if marked else {}
    limits = all_limits(book, [aircraft]).get(aircraft, COMMON_PRACTICE)

    def named(m: Mark) -> str:
        held = limits.find("event", m.kind, m.subject)
        return m.limit or (held.name if held else m.kind)

    return nuisance_rates(
        (named(m), str(m.verdict))
        for flight_id, marks in marked.items()
        if owners.get(flight_id) == aircraft
        for m in marks
    )
