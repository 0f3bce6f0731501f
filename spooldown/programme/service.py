"""Components in the logbook: those that aircraft files describe, and those the owner keeps here."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterable, Mapping
from datetime import date

from msgspec.structs import replace

from analyser.programme.service import UNITS, Component, Serviced, ServiceState, registered, service_state, uses_of
from reports.words.catalogue import message
from spooldown.judging.files import all_limits
from spooldown.logbook.book import Logbook
from spooldown.logbook.codec import from_json, to_json
from spooldown.problems import NotFoundProblem, UsageProblem, nearest
from spooldown.programme.flights import Followed
from spooldown.register import Register

KIND = "component"


def components(book: Logbook, register: Register) -> dict[str, Component]:
    """Every component by its name; what the owner keeps here goes before what an aircraft's file says."""
    return registered(register.aircraft.values()) | book.records_of(KIND, Component)


def find(book: Logbook, register: Register, name: str) -> Component:
    """Find a component, letter case aside.

    Raises
    ------
    NotFoundProblem
        If there is none.
    """
    known = components(book, register)
    found = {n.casefold(): c for n, c in known.items()}.get(name.casefold())
    if found is None:
        raise NotFoundProblem(message("service.no_such", name=name, alike=nearest(name, known)))
    return found


def keep(book: Logbook, component: Component) -> Component:
    """Keep a component, in the place of what was kept under its name.

    Raises
    ------
    UsageProblem
        If it has no name, or an interval that is no number above nought.
    """
    if not component.name.strip():
        raise UsageProblem(message("service.no_name"))
    for unit, every in component.every.items():
        if unit not in UNITS or not (math.isfinite(every) and every > 0):
            raise UsageProblem(message("service.no_interval", unit=unit))
    book.change_records(KIND, lambda _: {component.name: to_json(component).decode()})
    return component


def change(book: Logbook, register: Register, name: str, how: Callable[[Component], Component]) -> Component:
    """Change a component; one that an aircraft's file describes is kept here from then on."""
    start = find(book, register, name)
    made: list[Component] = []

    def inside(there: dict[str, str]) -> Mapping[str, str | None]:
        now = from_json(there[start.name].encode(), Component) if start.name in there else start
        made.append(how(now))
        return {start.name: to_json(made[0]).decode()}

    book.change_records(KIND, inside)
    return made[0]


def serviced(book: Logbook, register: Register, name: str, day: date, what: str) -> Component:
    """Note a service: what it has run counts anew from the next day on."""
    return change(
        book, register, name,
        lambda c: replace(c, done=tuple(sorted((*c.done, Serviced(day, what)), key=lambda s: s.day))),
    )  # fmt: skip


def moved(book: Logbook, register: Register, name: str, to: tuple[str, str], day: date) -> Component:
    """Move a component to another aircraft or part from a day on; its history goes with it.

    Raises
    ------
    UsageProblem
        If it came to where it sits now on a later day.
    """

    def how(component: Component) -> Component:
        try:
            return component.moved(*to, day)
        except ValueError as error:
            raise UsageProblem(message("service.moved_before", name=component.name, since=str(error))) from error

    return change(book, register, name, how)


def remove(book: Logbook, register: Register, name: str) -> None:
    """Take a component out; one that an aircraft's file describes is as that says again."""
    found = find(book, register, name)
    book.change_records(KIND, lambda _: {found.name: None})


def states(
    book: Logbook, register: Register, followed: Iterable[Followed], today: date, aircraft: str = ""
) -> list[ServiceState]:
    """Work out where every component stands, or those in one aircraft, the nearest due first.

    Parameters
    ----------
    followed : iterable of Followed
        Every aircraft that a component may have sat in.
    """
    known = [
        c for c in components(book, register).values() if aircraft in ("", c.sits.aircraft if c.sits else "")
    ]  # fmt: skip
    if not known:
        return []
    flown = {one.aircraft: one.runs() for one in followed if one.entries}
    held = all_limits(book, {fit.aircraft for c in known for fit in c.fits})
    out = []
    for component in known:
        uses = uses_of(component, flown)
        where = component.sits.aircraft if component.sits else ""
        if _uncounted(component, register, held.unreadable):
            continue
        limits = held.get(where)
        state = service_state(component, uses, today, limits) if limits else service_state(component, uses, today)
        out.append(state)
    return sorted(out, key=lambda s: (-s.level, s.due[0].day or date.max if s.due else date.max, s.component.name))


def _uncounted(component: Component, register: Register, unreadable: Collection[str]) -> bool:
    """Whether flights that a component may have run in cannot be worked out: what it ran is not known then."""
    sat = {fit.aircraft for fit in component.fits}
    if component.kind == "pack":  # it flies wherever it was noted
        return bool(register.unreadable or unreadable)
    return bool(sat & set(unreadable)) or bool(register.unreadable and sat - set(register.aircraft))
