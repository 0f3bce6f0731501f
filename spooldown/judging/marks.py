"""What a person said of events, kept in the logbook: it survives another analysis and another import."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

from msgspec import Struct
from msgspec.structs import replace

from analyser.programme.marks import Mark, Verdict, find_marked, marked
from spooldown.logbook.codec import from_json, to_bytes, to_json

if TYPE_CHECKING:
    from analyser.core.events import Event
    from analyser.record import FlightRecord
    from spooldown.logbook.book import Logbook
    from spooldown.logbook.flight import Flight

KIND = "mark"


def all_marks(book: Logbook) -> dict[str, Mark]:
    """Every mark by its name in the logbook."""
    return book.records_of(KIND, Mark)


def by_flight(book: Logbook, marks: Iterable[Mark] | None = None) -> dict[str, list[Mark]]:
    """Marks by the flight they are of now; those of no flight that is here stand under ``""``.

    A flight is known by its name and its files; one that was imported again under another name by its files.
    """
    marks = list(all_marks(book).values() if marks is None else marks)
    out: dict[str, list[Mark]] = {}
    if not marks:
        return out
    flights = {f.flight_id: f for f in book.flights()}
    named = {m.flight_id for m in marks if m.flight_id in flights}
    files = {i: _files(book, flights[i]) for i in named}
    astray = [m for m in marks if m.flight_id not in flights or files[m.flight_id] != (m.sources, m.part)]
    elsewhere: dict[tuple[tuple[str, ...], int], str] = {}
    if astray:
        elsewhere = {_files(book, f): i for i, f in flights.items()}
    for mark in marks:
        known = mark.flight_id in flights and files[mark.flight_id] == (mark.sources, mark.part)
        flight_id = mark.flight_id if known else elsewhere.get((mark.sources, mark.part), "")
        out.setdefault(flight_id, []).append(mark)
    return out


def _files(book: Logbook, flight: Flight) -> tuple[tuple[str, ...], int]:
    return tuple(sorted(s.sha256 for s in book.sources(flight.flight_id))), flight.part


def mark_of(book: Logbook, flight: Flight, event: Event, verdict: Verdict, reason: str, day: str) -> Mark:
    """Make the mark of one event."""
    sources, part = _files(book, flight)
    return Mark(
        flight.flight_id, sources, part, event.kind, event.subject, event.limit, event.start_s, event.end_s, verdict,
        reason, day,
    )  # fmt: skip


def name_of(mark: Mark) -> str:
    """Name of a mark in the logbook: of what it is, not of what it says."""
    what = (*mark.sources, str(mark.part), mark.kind, mark.subject, mark.limit, f"{mark.start_s:.1f}")
    return hashlib.sha256("|".join(what).encode()).hexdigest()[:16]


def keep(book: Logbook, marks: Sequence[Mark], forget: Sequence[Mark] = ()) -> None:
    """Keep marks, each in the place of an earlier one of the same event; all or none."""

    def change(there: dict[str, str]) -> Mapping[str, str | None]:
        out: dict[str, str | None] = {}
        known = {name: from_json(body.encode(), Mark) for name, body in there.items()}
        for mark in (*marks, *forget):
            for name, old in known.items():
                same = (old.sources, old.part) == (mark.sources, mark.part)
                if same and (old == mark or find_marked([old], [_event(mark)])):
                    out[name] = None
        out |= {name_of(mark): to_json(mark).decode() for mark in marks}
        return out

    book.change_records(KIND, change)


def _event(mark: Mark) -> Event:
    from analyser.core.events import Event
    from analyser.core.levels import Level

    return Event(mark.kind, mark.subject, mark.start_s, mark.end_s, Level.FINE, "", limit=mark.limit)


def with_marks(record: FlightRecord, key: str, marks: Sequence[Mark]) -> tuple[FlightRecord, str]:
    """The same flight with what a person said of its events; that becomes part of its key."""
    from analyser.programme.limits import with_events

    if not marks:
        return record, key
    events = tuple(record.result.events())
    found = {id(events[j]): marks[i].verdict for i, j in find_marked(marks, events).items()}
    change: Callable[[Event], Event] = lambda e: marked(e, found[id(e)]) if id(e) in found else e  # noqa: E731
    digest = hashlib.sha256(key.encode() + to_bytes(tuple(marks), sort=True)).hexdigest()
    return replace(record, result=with_events(record.result, change)), digest


class Validated(Struct, frozen=True):
    """Marks of some flights and the events they are of; ``astray`` are kept though their event is not there any more.

    ``found`` holds for each mark its flight's id and the event.
    """

    found: tuple[tuple[Mark, str, Event], ...]
    astray: tuple[Mark, ...]


def validated(book: Logbook, flights: Sequence[FlightRecord]) -> Validated:
    """Lay every mark beside its event.

    Parameters
    ----------
    flights : sequence of FlightRecord
        All flights of the logbook that could be worked out; of marks of the others nothing can be told.
    """
    records = {f.flight_id: f for f in flights}
    found, astray = [], []
    for flight_id, marks in by_flight(book).items():
        if flight_id and flight_id not in records:
            continue
        events = tuple(records[flight_id].result.events()) if flight_id else ()
        pairs = find_marked(marks, events)
        found += [(marks[i], flight_id, events[j]) for i, j in pairs.items()]
        astray += [m for i, m in enumerate(marks) if i not in pairs]
    return Validated(tuple(found), tuple(astray))
