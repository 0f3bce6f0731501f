"""The page of one flight."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from analyser.core.events import Event, Level
from analyser.core.figures import Figure
from analyser.flight import FlightResult
from analyser.gathering import Gathered, gathered
from reports.addresses import path_of_day, slug
from reports.figures import flightplots
from reports.figures.panels import Panel, time_panels
from reports.figures.traces import Group, groups_of
from reports.headlines import SUBJECTS, anchor_of, headlines
from reports.model import FlightPage, Site
from reports.render import Shell, page, piece
from reports.words.catalogue import message, number
from reports.words.names import brief, heading, names_in_flight, naming, said, with_owner
from reports.words.units import conversion
from reports.words.vocabulary import group_word, method_word

_OPEN = ("fuel", "pack", "link", "engine", "movement")
SITE_POINTS = 1_200
SINGLE_POINTS = 20_000


@dataclass(frozen=True, slots=True)
class Neighbours:
    """Pages of the same aircraft's flights before and after."""

    previous: str = ""
    next: str = ""


_AROUND = re.compile(
    r' <span class="noprint nowrap">(?:<a rel="(?:prev|next)" href="[^"<>]*">[^<>]*</a>(?: · )?)+</span>'
)
"""What ``around.html`` writes: no text of a log holds such a thing, since every one of them is escaped."""


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


def _matrix(
    subject: str, columns: tuple[str, ...], rows: list[tuple[str, tuple[Figure | None, ...]]]
) -> tuple[Matrix, ...]:
    kept = [n for n in range(len(columns)) if any((f := r[1][n]) is not None and f.value is not None for r in rows)]
    if not kept:
        return ()
    heads = []
    for n in kept:
        known = [f for _, r in rows if (f := r[n]) is not None and f.value is not None]
        unit = conversion(known[0].unit).unit
        methods = {f.method for f in known}
        how = "; ".join(dict.fromkeys(_ways(known)))
        label = message(f"head.{subject}.{columns[n]}")
        heads.append(
            Head(
                f"{label}, {unit}" if unit and unit != "1" else label,
                method_word(methods.pop()) if len(methods) == 1 else "",
                how,
            )
        )
    return (Matrix(tuple(heads), tuple((name, tuple(r[n] for n in kept)) for name, r in rows)),)


def _ways(figures: list[Figure]) -> list[str]:
    """How the figures of a column were obtained; ways that differ in their numbers alone are one way."""
    ways: dict[str, str] = {}
    for figure in figures:
        if figure.how:
            words = said(figure.how)
            ways.setdefault(re.sub(r"[\d.,]+", "#", words), words)
    return list(ways.values())


def key_figures(result: FlightResult) -> dict[str, tuple[Matrix, ...]]:
    """The figures a reader looks for first, by their subject."""
    fuel = result.fuel
    tanks: list[tuple[str, tuple[Figure | None, ...]]] = [
        (
            heading(f"fuel.{t.name}"),
            (t.burned, t.rate, t.scale.put_in, t.left, t.margin),
        )
        for t in fuel.tanks
    ]
    if len(tanks) > 1:
        every = (fuel.burned, fuel.rate, None, None, None)
        tanks.append((message("head.fuel.all"), every))
    packs: list[tuple[str, tuple[Figure | None, ...]]] = [
        (
            heading(f"pack.{p.name}"),
            (
                p.charge.used_mah,
                p.charge.airborne_mah_per_min,
                p.voltage.lowest_v,
                p.voltage.deepest_sag_v,
                p.voltage.cell_spread_v,
                p.resistance.value_mohm,
                p.capacity.told_mah,
            ),
        )
        for p in result.packs.packs
    ]
    antennas: list[tuple[str, tuple[Figure | None, ...]]] = [
        (
            antenna_heading(a.name),
            (a.median_signal, a.lowest_margin_db, a.fades, a.fade_seconds, a.lost_packets),
        )
        for r in result.link.receivers
        for a in r.antennas
    ]
    receivers: list[tuple[str, tuple[Figure | None, ...]]] = [
        (heading(f"link.{r.name}"), (r.lost_frames, r.lost_frames_share, r.failsafe_s, r.fades_together, r.fades_saved))
        for r in result.link.receivers
    ]
    engines: list[tuple[str, tuple[Figure | None, ...]]] = [
        (heading(f"engine.{e.name}"), (e.run_min, e.max_rpm, e.max_egt_c, e.idle_rpm, e.cool_down_s))
        for e in result.turbine.engines
    ]
    return {
        "fuel": _matrix("fuel", ("burned", "rate", "put_in", "left", "margin"), tanks),
        "pack": _matrix("pack", ("used", "rate", "lowest", "sag", "spread", "resistance", "capacity"), packs),
        "link": _matrix("antenna", ("median", "margin", "fades", "fade_time", "missed"), antennas)
        + _matrix("receiver", ("missed", "share", "failsafe", "together", "covered"), receivers),
        "engine": _matrix("engine", ("ran", "speed", "hottest", "idle", "cool_down"), engines),
    }


def antenna_heading(key: str) -> str:
    """An antenna as a heading; a log with one signal for the whole receiver names that."""
    return heading(key if ".antenna" in key else f"link.{key}")


def path_of(flight_id: str) -> str:
    """Where a flight's page is, from the root of the pages."""
    return f"flights/{slug(flight_id)}.html"


def card_path_of(flight_id: str) -> str:
    """Where a flight's one-page card is."""
    return f"flights/{slug(flight_id)}-card.html"


def brief_name(site: Site, flight_id: str) -> str:
    """A name short enough for the foot of a plot: ``Tern 7``, or ``7`` where the logbook knows one aircraft only."""
    if (found := site.by_id.get(flight_id)) is None:
        return flight_id
    record = found.record
    return f"{record.aircraft} {record.number}".strip() if len(site.owned) > 1 else str(record.number)


_FOLDED = {".phases.": "phases", ".bands.": "bands", ".starts.": "starts"}


def _shown(groups: tuple[Group, ...]) -> tuple[_Shown, ...]:
    out: list[_Shown] = []
    # Many small groups of one kind (a burn per phase) become one folded table.
    merged: dict[str, list[Any]] = {}
    for g in groups:
        inner = next((f for f in _FOLDED if f in f".{g.path}."), None)
        if inner is None:
            out.append(_Shown(g.heading, g.figures, False))
        else:
            parts = g.path.split(inner.strip("."), maxsplit=1)[0].strip(".").split(".")
            key = message(f"flight.by_{_FOLDED[inner]}", whose=brief(parts[-1]) if len(parts) > 1 else "")
            which = g.heading.rpartition(", ")[2]
            merged.setdefault(key, []).extend(replace(f, label=with_owner(f.label, which)) for f in g.figures)
    out.extend(_Shown(k, tuple(v), True) for k, v in merged.items())
    return tuple(out)


def _texts(part: Any) -> tuple[str, ...]:
    """Whole sentences inside a result, wherever a field is called so."""
    found: list[str] = []
    for receiver in getattr(part, "receivers", ()):
        for antenna in receiver.antennas:
            if antenna.worst_direction:
                name, direction = antenna_heading(antenna.name), said(antenna.worst_direction).rstrip(".")
                found.append(message("flight.weakest", antenna=name, direction=direction))
    found.extend(said(bus.summary) for bus in getattr(part, "buses", ()))
    if getattr(part, "directions_from", ""):
        found.append(message("flight.directions_from", source=said(part.directions_from)))
    return tuple(found)


def render(flight: FlightPage, shell: Shell, around: Neighbours) -> str:
    """Make the page; this is the moment the telemetry is loaded."""
    with naming(names_in_flight(flight.record.context)):
        return _page(flight, shell, around)


def led_anew(page_text: str, around: Neighbours) -> str:
    """The same page leading to other flights before and after; '' where it does not show how to."""
    found = _AROUND.findall(page_text)
    there = piece("around.html", previous=around.previous, next=around.next)
    return page_text.replace(found[0], there) if len(found) == 1 and there else ""


def _shared_times(plots: dict[str, Any]) -> list[dict[str, Any]]:
    """Put each axis of times on the page once; the curves get its number. Sensors of one log share most of them."""
    times: dict[str, int] = {}
    kept: list[dict[str, Any]] = []
    for curve in (s for spec in plots.values() for s in spec.get("series", ())):
        for key in ("t", "bt"):
            if key in curve:
                packed = curve[key]
                number = times.setdefault(f"{packed['b']} {packed['s']} {packed['o']}", len(kept))
                if number == len(kept):
                    kept.append(packed)
                curve[key] = number
    return kept


def _page(flight: FlightPage, shell: Shell, around: Neighbours) -> str:
    record = flight.record
    result = record.result
    telemetry = flight.telemetry()
    points = SINGLE_POINTS if shell.single else SITE_POINTS
    events = tuple(result.events())
    panels, others = time_panels(result, telemetry, events, points)
    context = record.context
    ground = flightplots.track(
        result, telemetry, events, (context.pilot_latitude_deg, context.pilot_longitude_deg), min(points, 1_500)
    )
    plots: dict[str, Any] = {"lane": flightplots.lane(events)}
    plots |= {p.id: p.spec(events) for p in (*panels, *others)}
    if ground:
        plots["track"] = ground[0]
    shown = headlines(record)
    by_group = {o.group: o for o in shown}
    matrices = key_figures(result)
    alone, groups = grouped(events, result.link.bridging)
    # The first plot of each main subject stands open; the others wait folded under their subject.
    first = {g: next((p for p in panels if p.group == g), None) for g in _OPEN}
    rest: dict[str, list[Panel]] = {}
    for p in panels:
        if first.get(p.group) is not p:
            rest.setdefault(p.group, []).append(p)
    subjects = tuple(
        _Subject(
            group_word(group),
            anchor_of(group),
            by_group[group].sentence,
            _texts(getattr(result, field)),
            matrices[group],
            _shown(groups_of(getattr(result, field))),
        )
        for group, field in SUBJECTS
    )
    return page(
        "flight.html",
        replace(shell, labelled=flight.labelled or shell.labelled),
        title=flight.title,
        plots={
            "duration": result.duration_s,
            "phases": flightplots.phase_specs(result),
            "events": flightplots.event_specs(events),
            "times": _shared_times(plots),
            "plots": plots,
        },
        flight=flight,
        record=record,
        headlines=shown,
        events=events,
        alone=alone,
        event_groups=groups,
        panels=[p for p in first.values() if p is not None],
        rest=rest,
        others=others,
        moment=flightplots.moment,
        track_channels=ground[1] if ground else None,
        track_origin=ground[0]["origin"] if ground else "",
        pieces={g: group_word(g) for g in rest},
        open_groups=_OPEN,
        subjects=subjects,
        quality=by_group["data"].sentence,
        missing=result.missing(),
        previous=around.previous,
        next=around.next,
        day_href=path_of_day(record.utc_start.date()) if record.utc_start else "",
        card_href=card_path_of(record.flight_id).rpartition("/")[2],
    )
