"""Snags in the logbook: made from an event, a remark, a step or by hand; remedies; closing and reopening."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from datetime import date

from msgspec.structs import replace

from analyser.programme.measures import BY_ID
from analyser.programme.snags import Came, Note, Remedy, Snag, figure_of, kind_of_part, step_name
from analyser.programme.steps import StepFound
from analyser.record import FlightRecord
from reports.words.catalogue import message
from spooldown.logbook.book import Logbook
from spooldown.logbook.codec import from_json, to_json
from spooldown.problems import NotFoundProblem, UsageProblem, nearest

KIND = "snag"
ASIDE = "step put aside"
LONGEST_TEXT = 500


def all_snags(book: Logbook, aircraft: str = "") -> list[Snag]:
    """Every snag, or those of one aircraft, oldest first."""
    out = [s for s in book.records_of(KIND, Snag).values() if aircraft in ("", s.aircraft)]
    return sorted(out, key=lambda s: s.number)


def find_snag(book: Logbook, word: str) -> Snag:
    """Find a snag by its name, S7 or 7.

    Raises
    ------
    NotFoundProblem
        If there is none.
    """
    digits = word.strip().removeprefix("S").removeprefix("s")
    snags = all_snags(book)
    found = next((s for s in snags if digits.isdecimal() and s.number == int(digits)), None)
    if found is None:
        raise NotFoundProblem(message("snags.no_such", word=word, known=tuple(s.name for s in snags if s.open)))
    return found


def add(book: Logbook, snag: Snag) -> Snag:
    """Keep a new snag under the next free number.

    Raises
    ------
    UsageProblem
        If it has no title, a figure that there is not, or a worth that is no number.
    """
    checked(snag)
    kept: list[Snag] = []

    def change(there: dict[str, str]) -> Mapping[str, str | None]:
        number = max((int(name) for name in there if name.isdecimal()), default=0) + 1
        kept.append(replace(snag, number=number))
        return {f"{number:06d}": to_json(kept[0]).decode()}

    book.change_records(KIND, change)
    return kept[0]


def checked(snag: Snag) -> Snag:
    """Refuse a snag that says nothing or names what there is not."""
    if not snag.title.strip() or len(snag.title) > LONGEST_TEXT:
        raise UsageProblem(message("snags.no_title", longest=LONGEST_TEXT))
    if snag.measure and snag.measure not in BY_ID:
        raise UsageProblem(message("snags.no_figure", figure=snag.measure, alike=nearest(snag.measure, BY_ID)))
    if snag.measure and BY_ID[snag.measure].of != kind_of_part(snag.part):
        raise UsageProblem(message("snags.figure_of_other", figure=snag.measure, part=snag.part or snag.aircraft))
    if snag.worth is not None and not (math.isfinite(snag.worth) and snag.worth > 0):
        raise UsageProblem(message("snags.no_worth"))
    return snag


def change(book: Logbook, number: int, how: Callable[[Snag], Snag]) -> Snag:
    """Change one snag; reading and writing are one transaction.

    Raises
    ------
    NotFoundProblem
        If it is not there any more.
    """
    made: list[Snag] = []

    def inside(there: dict[str, str]) -> Mapping[str, str | None]:
        name = f"{number:06d}"
        if name not in there:
            raise NotFoundProblem(message("snags.no_such", word=f"S{number}", known=()))
        made.append(how(from_json(there[name].encode(), Snag)))
        return {name: to_json(made[0]).decode()}

    book.change_records(KIND, inside)
    return made[0]


def add_remedy(book: Logbook, number: int, remedy: Remedy) -> Snag:
    """Add a dated remedy to a snag.

    Raises
    ------
    UsageProblem
        If it says nothing, or is dated before its snag.
    """
    if not remedy.what.strip() or len(remedy.what) > LONGEST_TEXT:
        raise UsageProblem(message("remedies.no_text", longest=LONGEST_TEXT))

    def how(snag: Snag) -> Snag:
        if remedy.day < snag.day:
            raise UsageProblem(message("remedies.too_early", snag=snag.name, day=remedy.day, seen=snag.day))
        return snag.with_remedy(remedy)

    return change(book, number, how)


def drop_remedy(book: Logbook, number: int, which: int) -> Snag:
    """Take a remedy out of a snag; ``which`` counts them from 1.

    Raises
    ------
    NotFoundProblem
        If there is no such remedy.
    """

    def how(snag: Snag) -> Snag:
        if not 1 <= which <= len(snag.remedies):
            raise NotFoundProblem(message("remedies.no_such", snag=snag.name, which=which, there=len(snag.remedies)))
        return replace(snag, remedies=snag.remedies[: which - 1] + snag.remedies[which:])

    return change(book, number, how)


def close(book: Logbook, number: int, day: date, why: str = "") -> Snag:
    """Close a snag; its story stays."""

    def how(snag: Snag) -> Snag:
        story = (*snag.story, Note(day, why)) if why.strip() else snag.story
        return replace(snag, closed=max(day, snag.day), story=story)

    return change(book, number, how)


def reopen(book: Logbook, number: int) -> Snag:
    """Open a closed snag again."""
    return change(book, number, lambda snag: replace(snag, closed=None))


def tell(book: Logbook, number: int, day: date, text: str) -> Snag:
    """Add a line to a snag's story."""
    if not text.strip() or len(text) > LONGEST_TEXT:
        raise UsageProblem(message("snags.no_title", longest=LONGEST_TEXT))
    return change(book, number, lambda snag: replace(snag, story=(*snag.story, Note(day, text.strip()))))


def from_event(flight: FlightRecord, which: int, day: date, title: str = "") -> Snag:
    """Make a snag from an event of a flight; ``which`` counts the flight's events from 1.

    Raises
    ------
    NotFoundProblem
        If the flight has no such event.
    """
    from reports.words.catalogue import text

    events = tuple(flight.result.events())
    if not 1 <= which <= len(events):
        raise NotFoundProblem(message("marks.no_event", flight=flight.flight_id, which=which, there=len(events)))
    event = events[which - 1]
    figure = figure_of(event)
    return Snag(
        0, flight.aircraft, event.subject if kind_of_part(event.subject) != "flight" else "",
        pack_at(flight, event.subject), title or text(event.summary)[:LONGEST_TEXT], day, Came.EVENT,
        flight.flight_id, event.kind, event.start_s, figure,
    )  # fmt: skip


def from_step(step: StepFound, aircraft: str, day: date, title: str = "") -> Snag:
    """Make a snag from a step nobody noted; half of it is what a remedy must win back."""
    from reports.words.catalogue import text

    thing = step.key[1] if step.key[1] != step.part else ""
    size = step.size.value or 0.0
    return Snag(
        0, aircraft, step.part, thing, title or text(step.sentence)[:LONGEST_TEXT], step.day or day, Came.STEP,
        step.flight_id, "", None, step.key[0], abs(size) / 2.0 or None, step.flight_id,
    )  # fmt: skip


def pack_at(flight: FlightRecord, part: str) -> str:
    """Name of the pack that sat at a part in a flight, '' where it is no pack or none was noted."""
    head, _, role = part.partition(".")
    pack = flight.context.packs.get(role) if head == "pack" else None
    return pack.name if pack else ""


def put_aside(book: Logbook, step: StepFound) -> None:
    """Remember that a step is known and no snag."""
    book.change_records(ASIDE, lambda _: {step_name(step): '"aside"'})


def steps_put_aside(book: Logbook) -> tuple[str, ...]:
    """Names of the steps that were put aside."""
    return tuple(book.records(ASIDE))
