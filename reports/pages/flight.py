"""The page of one flight."""

from __future__ import annotations

import re
from itertools import chain
from typing import Any

from msgspec import Struct
from msgspec.structs import replace

from reports.addresses import path_of_day, slug
from reports.figures import flightplots
from reports.figures.panels import Panel, time_panels
from reports.figures.traces import Group, groups_of
from reports.headlines import SUBJECTS, anchor_of
from reports.key_figures import antenna_heading
from reports.model import Site
from reports.opened import Opened
from reports.render import Shell, page, piece
from reports.tables import Matrix
from reports.words.catalogue import message
from reports.words.names import brief, names_in_flight, naming, said, with_owner
from reports.words.vocabulary import group_word

_OPEN = ("fuel", "pack", "link", "engine", "movement")
MOST_ROWS = 1_000
"""Of one kind of event so many are listed; a sensor that flickers can make tens of thousands."""
SITE_POINTS = 1_200
SINGLE_POINTS = 20_000


class Neighbours(Struct, frozen=True):
    """Pages of the same aircraft's flights before and after."""

    previous: str = ""
    next: str = ""


_AROUND = re.compile(
    r' <span class="noprint nowrap">(?:<a rel="(?:prev|next)" href="[^"<>]*">[^<>]*</a>(?: · )?)+</span>'
)
"""What ``around.html`` writes: no text of a log holds such a thing, since every one of them is escaped."""


class _Shown(Struct, frozen=True):
    heading: str
    figures: Any
    fold: bool


class _Subject(Struct, frozen=True):
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
            merged.setdefault(key, []).extend(f.named(with_owner(f.label, which)) for f in g.figures)
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


def render(opened: Opened, shell: Shell, around: Neighbours) -> str:
    """Make the page; this is the moment the telemetry is loaded."""
    with naming(names_in_flight(opened.record.context)):
        return _page(opened, shell, around)


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


def _page(opened: Opened, shell: Shell, around: Neighbours) -> str:
    flight, record, telemetry, events, traces = (
        opened.page, opened.record, opened.telemetry, opened.events, opened.traces,
    )  # fmt: skip
    result, context = record.result, record.context
    points = SINGLE_POINTS if shell.single else SITE_POINTS
    panels, others = time_panels(chain.from_iterable(traces.values()), telemetry, events, points)
    pilot = context.pilot_latitude_deg, context.pilot_longitude_deg
    ground = flightplots.track((*traces["link"], *traces["fuel"]), telemetry, events, pilot, min(points, 1_500))
    plots: dict[str, Any] = {"lane": flightplots.lane(events)}
    plots |= {p.id: p.spec(events) for p in (*panels, *others)}
    if ground:
        plots["track"] = ground[0]
    by_group = {o.group: o for o in opened.headlines}
    alone, groups = opened.grouped
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
            opened.key_figures[group],
            _shown(groups_of(opened.figures[group])),
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
        headlines=opened.headlines,
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
        most_rows=MOST_ROWS,
        subjects=subjects,
        quality=by_group["data"].sentence,
        missing=result.missing(),
        previous=around.previous,
        next=around.next,
        day_href=path_of_day(record.utc_start.date()) if record.utc_start else "",
        card_href=card_path_of(record.flight_id).rpartition("/")[2],
    )
