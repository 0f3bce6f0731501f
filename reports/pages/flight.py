"""The page of one flight."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from reports.figures import flightplots
from reports.figures.walk import Group, groups_of
from reports.model import FlightPage, Site
from reports.names import slug
from reports.outcome import outcomes
from reports.render import Shell, page
from reports.words import told

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
class _Subject:
    name: str
    anchor: str
    sentence: str
    texts: tuple[str, ...]
    groups: tuple[_Shown, ...]


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


def _shown(groups: tuple[Group, ...]) -> tuple[_Shown, ...]:
    folds = (".phases.", ".bands.", ".starts.")
    out: list[_Shown] = []
    # Many small groups of one kind (a burn per phase) become one folded table.
    merged: dict[str, list[Any]] = {}
    for g in groups:
        inner = next((f for f in folds if f in f".{g.path}."), None)
        if inner is None:
            out.append(_Shown(g.heading, g.figures, False))
        else:
            whose = _owner(g.path, inner.strip("."))
            key = f"{whose}: {inner.strip('.').rstrip('s')} by {inner.strip('.').rstrip('s')}".strip(": ")
            merged.setdefault(key, []).extend(
                replace(f, label=told(f.label, g.heading.rpartition(", ")[2])) for f in g.figures
            )
    out.extend(_Shown(k, tuple(v), True) for k, v in merged.items())
    return tuple(out)


def _owner(path: str, inner: str) -> str:
    head = path.split(f"{inner}.", maxsplit=1)[0].strip(".")
    return head.split(".", 1)[1].replace("_", " ") if "." in head else head


def _texts(part: Any) -> tuple[str, ...]:
    """Whole sentences inside a result, wherever a field is called so."""
    found: list[str] = []
    for receiver in getattr(part, "receivers", ()):
        for antenna in receiver.antennas:
            if antenna.worst_direction:
                found.append(
                    f"{receiver.name}, antenna {antenna.number}: weakest {antenna.worst_direction}".rstrip(".") + "."
                )
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
    panels, others = flightplots.time_panels(result, telemetry, events, points)
    context = record.context
    ground = flightplots.track(
        result, telemetry, events, (context.pilot_latitude_deg, context.pilot_longitude_deg), min(points, 1_500)
    )
    plots: dict[str, Any] = {"lane": flightplots.lane(events)}
    plots |= {p.id: p.spec(events) for p in (*panels, *others)}
    if ground:
        plots["track"] = ground[0]
    told = outcomes(record)
    by_anchor = {o.anchor: o for o in told}
    subjects = tuple(
        _Subject(name, anchor, by_anchor[anchor].sentence, _texts(part), _shown(groups_of(part)))
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
            "events": flightplots.event_specs(events),
            "plots": plots,
        },
        flight=flight,
        record=record,
        outcomes=told,
        events=events,
        panels=panels,
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
