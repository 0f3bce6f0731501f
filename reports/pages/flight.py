"""The page of one flight."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import Any

from analyser.core.events import Event, Level
from analyser.core.figures import Figure
from analyser.flight import FlightResult
from reports.called import Called, called
from reports.figures import flightplots
from reports.figures.walk import Group, groups_of
from reports.model import FlightPage, Site
from reports.names import slug
from reports.outcome import outcomes, worst
from reports.render import Shell, number, page
from reports.words import channel_words, told
from reports.words.catalogue import text as worded

_OPEN = ("Fuel", "Packs", "Radio link", "Engines", "Movement")
SITE_POINTS = 1_200
SINGLE_POINTS = 20_000


@dataclass(frozen=True, slots=True)
class Neighbours:
    """Pages of the same aircraft's flights before and after."""

    previous: str = ""
    next: str = ""


@dataclass(frozen=True, slots=True)
class _Shown:
    heading: str
    figures: Any
    fold: bool


@dataclass(frozen=True, slots=True)
class Head:
    """What a column of a matrix holds, with its unit.

    ``method`` is empty where the column's figures differ in it; ``how`` says how they were obtained, each way once.
    """

    label: str
    method: str
    how: str


@dataclass(frozen=True, slots=True)
class Matrix:
    """The key figures of one subject: a row a thing (a tank, a pack), a column a figure, units in the heads."""

    heads: tuple[Head, ...]
    rows: tuple[tuple[str, tuple[Figure | None, ...]], ...]


@dataclass(frozen=True, slots=True)
class _Subject:
    name: str
    anchor: str
    sentence: str
    texts: tuple[str, ...]
    matrices: tuple[Matrix, ...]
    groups: tuple[_Shown, ...]

    @property
    def count(self) -> int:
        """How many figures the log supports."""
        return sum(f.value is not None for g in self.groups for f in g.figures)


@dataclass(frozen=True, slots=True)
class EventGroup:
    """Events of one kind about one thing; ``depths`` is the span of their depths in words."""

    kind: str
    subject: str
    level: Level
    events: tuple[tuple[int, Event], ...]
    seconds: float
    depths: str


_ALONE = 3


def grouped(events: tuple[Event, ...]) -> tuple[list[tuple[int, Event]], list[EventGroup]]:
    """Events that stand alone (they ask for attention and are few of their kind), and the rest by kind and subject.

    Both come with the gravest first; every event carries its place in ``events``.
    """
    by: dict[tuple[str, str], list[tuple[int, Event]]] = {}
    for i, event in enumerate(events):
        by.setdefault((event.kind, event.subject), []).append((i, event))
    alone: list[tuple[int, Event]] = []
    groups: list[EventGroup] = []
    for (kind, subject), found in by.items():
        asking = [(i, e) for i, e in found if e.level >= Level.WATCH]
        own = asking if len(asking) <= _ALONE else [(i, e) for i, e in asking if e.level is Level.ACT]
        alone += own
        rest = tuple(pair for pair in found if pair not in own)
        if rest:
            seconds = sum(e.duration_s for _, e in rest)
            groups.append(
                EventGroup(kind, subject, worst(e for _, e in rest), rest, seconds, _depths([e for _, e in rest]))
            )
    alone.sort(key=lambda pair: (-pair[1].level, pair[1].start_s))
    groups.sort(key=lambda g: (-g.level, -len(g.events)))
    return alone, groups


def _depths(events: list[Event]) -> str:
    known = [e.depth for e in events if e.depth is not None and e.depth.value is not None]
    if not known:
        return ""
    values = [f.value or 0.0 for f in known]
    first = known[0]
    low, high = (number(v, first.digits) for v in (min(values), max(values)))
    return f"{first.label}: {low if low == high else f'{low} to {high}'} {first.unit}".rstrip()


def _matrix(columns: tuple[str, ...], rows: list[tuple[str, tuple[Figure | None, ...]]]) -> tuple[Matrix, ...]:
    kept = [n for n in range(len(columns)) if any((f := r[1][n]) is not None and f.value is not None for r in rows)]
    if not kept:
        return ()
    heads = []
    for n in kept:
        known = [f for _, r in rows if (f := r[n]) is not None and f.value is not None]
        unit = known[0].unit
        methods = {f.method.value for f in known}
        # Ways that differ in their numbers alone are one way.
        ways = {
            re.sub(r"[\d.]+", "#", worded(f.how)): channel_words(worded(f.how), whose=False)
            for f in reversed(known)
            if f.how
        }
        how = "; ".join(dict.fromkeys(reversed(ways.values())))
        label = f"{columns[n]}, {unit}" if unit and unit != "1" else columns[n]
        heads.append(Head(label, methods.pop() if len(methods) == 1 else "", how))
    return (Matrix(tuple(heads), tuple((name, tuple(r[n] for n in kept)) for name, r in rows)),)


def key_figures(result: FlightResult, own: Called) -> dict[str, tuple[Matrix, ...]]:
    """The figures a reader looks for first, by the anchor of their subject."""
    fuel = result.fuel
    tanks: list[tuple[str, tuple[Figure | None, ...]]] = [
        (
            own.subject(f"fuel.{t.name}"),
            (t.burned_ml, t.airborne_rate_ml_per_min, t.put_in_ml, t.left_at_landing_ml, t.margin_ml),
        )
        for t in fuel.tanks
    ]
    if len(tanks) > 1:
        tanks.append(("All tanks", (fuel.burned_ml, fuel.airborne_rate_ml_per_min, None, None, None)))
    packs: list[tuple[str, tuple[Figure | None, ...]]] = [
        (
            own.subject(f"pack.{p.name}"),
            (
                p.used_mah,
                p.airborne_rate_mah_per_min,
                p.min_voltage_v,
                p.worst_sag_v,
                p.cell_spread_v,
                p.resistance_mohm,
                p.capacity_mah,
            ),
        )
        for p in result.packs.packs
    ]
    antennas: list[tuple[str, tuple[Figure | None, ...]]] = [
        (
            own.antenna(a.name),
            (a.median_signal, a.lowest_margin_db, a.fades, a.fade_seconds, a.lost_packets),
        )
        for r in result.link.receivers
        for a in r.antennas
    ]
    receivers: list[tuple[str, tuple[Figure | None, ...]]] = [
        (own.subject(f"link.{r.name}"), (r.lost_frames, r.failsafe_s, r.fades_together, r.fades_saved))
        for r in result.link.receivers
    ]
    engines: list[tuple[str, tuple[Figure | None, ...]]] = [
        (own.subject(f"engine.{e.name}"), (e.run_min, e.max_rpm, e.max_egt_c, e.idle_rpm, e.cool_down_s))
        for e in result.turbine.engines
    ]
    return {
        "fuel": _matrix(("Burned", "Burn in flight", "Put in afterwards", "Left at landing", "Above reserve"), tanks),
        "packs": _matrix(
            ("Used", "Rate in flight", "Lowest", "Deepest sag", "Cell spread", "Resistance", "Capacity"), packs
        ),
        "link": _matrix(("Median signal", "Lowest margin", "Fades", "Time in fades", "Lost packets"), antennas)
        + _matrix(("Lost frames", "Failsafe", "Fades on all its antennas", "Fades another antenna covered"), receivers),
        "engines": _matrix(("Ran", "Highest speed", "Hottest", "Idle", "Cool-down"), engines),
    }


def path_of(flight_id: str) -> str:
    """Where a flight's page is, from the root of the pages."""
    return f"flights/{slug(flight_id)}.html"


def card_path_of(flight_id: str) -> str:
    """Where a flight's one-page card is."""
    return f"flights/{slug(flight_id)}-card.html"


def brief_names(site: Site) -> dict[str, str]:
    """Names short enough for the foot of a plot: ``Tern 7``, or ``7`` where the logbook knows one aircraft only."""
    several = len({f.record.aircraft for f in site.flights}) > 1
    return {
        f.record.flight_id: f"{f.record.aircraft} {f.record.number}".strip() if several else str(f.record.number)
        for f in site.flights
    }


def _shown(groups: tuple[Group, ...], own: Called) -> tuple[_Shown, ...]:
    folds = (".phases.", ".bands.", ".starts.")
    out: list[_Shown] = []
    # Many small groups of one kind (a burn per phase) become one folded table.
    merged: dict[str, list[Any]] = {}
    for g in groups:
        inner = next((f for f in folds if f in f".{g.path}."), None)
        if inner is None:
            heading = re.sub(r"(\w+), antenna(\d+)$", lambda m: own.antenna(f"{m[1]}.antenna{m[2]}"), g.heading)
            out.append(_Shown(heading, tuple(own.figure(f) for f in g.figures), False))
        else:
            whose = _owner(g.path, inner.strip("."))
            key = f"{whose}: {inner.strip('.').rstrip('s')} by {inner.strip('.').rstrip('s')}".strip(": ")
            merged.setdefault(key, []).extend(
                own.figure(replace(f, label=told(worded(f.label), g.heading.rpartition(", ")[2]))) for f in g.figures
            )
    out.extend(_Shown(k, tuple(v), True) for k, v in merged.items())
    return tuple(out)


def _owner(path: str, inner: str) -> str:
    head = path.split(f"{inner}.", maxsplit=1)[0].strip(".")
    return head.split(".", 1)[1].replace("_", " ") if "." in head else head


def _texts(part: Any, own: Called) -> tuple[str, ...]:
    """Whole sentences inside a result, wherever a field is called so."""
    found: list[str] = []
    for receiver in getattr(part, "receivers", ()):
        for antenna in receiver.antennas:
            if antenna.worst_direction:
                found.append(f"{own.antenna(antenna.name)}: weakest {antenna.worst_direction}".rstrip(".") + ".")
    for bus in getattr(part, "buses", ()):
        if bus.sentence:
            found.append(bus.sentence)
    if getattr(part, "directions_from", ""):
        found.append(f"Directions around the airframe are from {part.directions_from}.")
    return tuple(found)


def render(flight: FlightPage, shell: Shell, around: Neighbours) -> str:
    """Make the page; this is the moment the telemetry is loaded."""
    record = flight.record
    result = record.result
    telemetry = flight.telemetry()
    points = SINGLE_POINTS if shell.single else SITE_POINTS
    events = tuple(result.events())
    own = called(record.context)
    panels, others = flightplots.time_panels(result, telemetry, events, points, own)
    context = record.context
    ground = flightplots.track(
        result, telemetry, events, (context.pilot_latitude_deg, context.pilot_longitude_deg), min(points, 1_500), own
    )
    plots: dict[str, Any] = {"lane": flightplots.lane(events, own)}
    plots |= {p.id: p.spec(events) for p in (*panels, *others)}
    if ground:
        plots["track"] = ground[0]
    shown = outcomes(record)
    by_anchor = {o.anchor: o for o in shown}
    matrices = key_figures(result, own)
    alone, groups = grouped(events)
    # The first plot of each main subject stands open; the others wait folded under their subject.
    first = {g: next((p for p in panels if p.group == g), None) for g in _OPEN}
    rest: dict[str, list[flightplots.Panel]] = {}
    for p in panels:
        if first.get(p.group) is not p:
            rest.setdefault(p.group, []).append(p)
    subjects = tuple(
        _Subject(
            name, anchor, by_anchor[anchor].sentence, _texts(part, own), matrices[anchor], _shown(groups_of(part), own)
        )
        for name, anchor, part in (
            ("Fuel", "fuel", result.fuel),
            ("Packs", "packs", result.packs),
            ("Radio link", "link", result.link),
            ("Engines", "engines", result.turbine),
        )
    )
    return page(
        "flight.html",
        replace(shell, labelled=flight.labelled or shell.labelled),
        title=flight.title,
        plots={
            "duration": result.duration_s,
            "phases": flightplots.phase_specs(result),
            "events": flightplots.event_specs(events, own),
            "plots": plots,
        },
        flight=flight,
        record=record,
        outcomes=shown,
        own=own,
        events=events,
        alone=alone,
        event_groups=groups,
        panels=[p for p in first.values() if p is not None],
        rest=rest,
        others=others,
        moment=flightplots.moment,
        track_channels=ground[1] if ground else None,
        track_origin=ground[0]["origin"] if ground else "",
        subjects=subjects,
        quality=by_anchor["data"].sentence,
        missing=result.missing(),
        previous=around.previous,
        next=around.next,
        card_href=card_path_of(record.flight_id).rpartition("/")[2],
    )
