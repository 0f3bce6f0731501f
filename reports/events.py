"""The events of a flight as pages tell them: those that stand alone, and the rest in a few lines."""

from __future__ import annotations

from collections.abc import Sequence

from msgspec import Struct

from analyser.core.events import Event, Level
from analyser.gathering import Gathered, gathered
from reports.words.catalogue import message, number
from reports.words.names import said
from reports.words.units import conversion


class EventGroup(Struct, frozen=True):
    """Events of one kind about one thing, and from one ``side``; ``depths`` is the span of their depths in words."""

    kind: str
    subject: str
    side: str
    level: Level
    events: tuple[tuple[int, Event], ...]
    seconds: float
    depths: str


def grouped(
    events: tuple[Event, ...], bridging: Sequence[str] = ()
) -> tuple[list[tuple[int, Event]], list[EventGroup]]:
    """Events that stand alone, and the rest in a few lines (:mod:`analyser.gathering`), in words.

    Both come with the gravest first; every event carries its place in ``events``.
    """
    alone, groups = gathered(events, bridging)
    return alone, [
        EventGroup(g.kind, g.subject, _from(g), g.level, g.events, g.seconds, _depths([e for _, e in g.events]))
        for g in groups
    ]


def _from(group: Gathered) -> str:
    if group.side:
        return said(group.side)
    return message("events.sides", sides=group.sides) if group.sides > 1 else ""


def _depths(events: list[Event]) -> str:
    known = [e.depth for e in events if e.depth is not None and e.depth.value is not None]
    if not known:
        return ""
    values = [f.value or 0.0 for f in known]
    first = known[0]
    to = conversion(first.unit)
    low, high = (number(to.value(v), first.digits + to.digits) for v in (min(values), max(values)))
    shown = low if low == high else message("core.range", low=low, high=high)
    return f"{said(first.label)}: {shown} {to.unit}".rstrip()
