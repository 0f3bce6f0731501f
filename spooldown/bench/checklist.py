"""The owner's checklist of an aircraft, and what was ticked of it before each flight."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence

from reports.words.catalogue import has, message
from spooldown.logbook.book import Logbook
from spooldown.problems import UsageProblem

LISTS, TICKS = "checklist", "ticks"
MOST_ITEMS, LONGEST = 60, 200


def starting_list() -> list[str]:
    """A plain list to start from, in the reader's language: common practice, no source."""
    items: list[str] = []
    while has(code := f"checklist_start.item{len(items) + 1}"):
        items.append(message(code))
    return items


def items_in(text: str) -> list[str]:
    """Items of a text, one a line; empty lines and lines that begin with ``#`` are left out.

    Raises
    ------
    UsageProblem
        If there is none, too many, one too long, or one twice.
    """
    items = [line.strip() for line in text.splitlines() if line.strip() and not line.lstrip().startswith("#")]
    if not items:
        raise UsageProblem(message("checklist.none"))
    if len(items) > MOST_ITEMS:
        raise UsageProblem(message("checklist.many", n=len(items), most=MOST_ITEMS))
    for number, item in enumerate(items, 1):
        if len(item) > LONGEST:
            raise UsageProblem(message("checklist.long", number=number, longest=LONGEST))
        if item in items[: number - 1]:
            raise UsageProblem(message("checklist.twice", item=item))
    return items


def checklists(book: Logbook) -> dict[str, list[str]]:
    """Every aircraft's list, by its name."""
    return {name: _strings(body) for name, body in book.records(LISTS).items()}


def keep(book: Logbook, aircraft: str, items: Sequence[str]) -> None:
    """Put an aircraft's list in the place of the one before; no items take it away."""
    body = json.dumps(list(items), ensure_ascii=False) if items else None
    book.change_records(LISTS, lambda _: {aircraft: body})


def ticks(book: Logbook) -> dict[str, list[str]]:
    """What was ticked before each flight, by its id."""
    return {flight: _strings(body) for flight, body in book.records(TICKS).items()}


def tick(book: Logbook, flight_id: str, items: Iterable[str]) -> None:
    """Say what was ticked before a flight, in the place of what was said before."""
    book.flight(flight_id)
    chosen = list(dict.fromkeys(items))
    body = json.dumps(chosen, ensure_ascii=False) if chosen else None
    book.change_records(TICKS, lambda _: {flight_id: body})


def ticked(items: Sequence[str], chosen: Sequence[str]) -> list[tuple[str, bool]]:
    """The list with what was ticked; a ticked item that has left the list since stays at its end."""
    gone = [item for item in chosen if item not in items]
    return [(item, item in chosen) for item in [*items, *gone]]


def shown_on(
    lists: Mapping[str, Sequence[str]], done: Mapping[str, Sequence[str]], aircraft: str, flight_id: str
) -> tuple[tuple[str, bool], ...]:
    """What a flight's card shows: the aircraft's list, each item with whether it was ticked."""
    return tuple(ticked(lists.get(aircraft, ()), done.get(flight_id, ())))


def _strings(body: str) -> list[str]:
    try:
        found = json.loads(body)
    except ValueError:
        return []
    return [str(item) for item in found] if isinstance(found, list) else []
