"""Any kept figure over flights: the data that the season page loads, and the words around it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from analyser.programme.histories import Flown, histories
from analyser.programme.measures import BY_ID, MEASURES, Row
from analyser.programme.steps import find_steps
from analyser.season.days import changes_of
from reports.addresses import slug
from reports.model import FlightPage, Site, Step
from reports.pages.flight import brief_name, path_of
from reports.render import script_json
from reports.words.catalogue import message, upper_first, written_day
from reports.words.names import heading, names_in_flight, naming, said
from reports.words.units import conversion

PATH = "data/season.js"
NEWEST = 200
"""So many of the newest flights can be drawn."""


def steps_of(site: Site, flights: Sequence[FlightPage], figures: Mapping[str, Sequence[Row]]) -> tuple[Step, ...]:
    """What changed before which of some flights, oldest first: as noted, as mended, and as the analyser finds."""
    noted = [
        Step(flight_id, "change", change)
        for flight_id, found in changes_of([f.record for f in flights]).items()
        for change in found
    ]
    found = [
        Step(step.flight_id, "step", step.sentence, step.key[0])
        for owner in dict.fromkeys(f.record.aircraft for f in flights)
        for step in find_steps(histories([_flown(f, figures) for f in flights if f.record.aircraft == owner]))
    ]
    return (*noted, *found, *site.steps)


def _flown(flight: FlightPage, figures: Mapping[str, Sequence[Row]]) -> Flown:
    record = flight.record
    day = record.utc_start.date() if record.utc_start else None
    return Flown(record.flight_id, record.number, day, tuple(figures[record.flight_id]))


def data(site: Site) -> str:
    """Make the script that lays every kept figure of the newest flights under one name, oldest flight first.

    A row of a figure and a part is ``[flight, value, low, high]``, ends left out where there are none.
    """
    flights = site.flights[:NEWEST][::-1]
    figures = site.figures_of(flights)
    at = {f.record.flight_id: n for n, f in enumerate(flights)}
    rows: dict[str, dict[str, list[list[float | int]]]] = {}
    parts: dict[str, str] = {}
    units: dict[str, str] = {}
    for n, flight in enumerate(flights):
        with naming(names_in_flight(flight.record.context)):
            for row in figures[flight.record.flight_id]:
                if row.value is None:
                    continue
                to = conversion(row.unit)
                digits = BY_ID[row.measure].digits + to.digits + 1
                key = f"pack:{row.thing}" if row.thing else row.part
                if key not in parts:
                    parts[key] = row.thing or (heading(key) if key else "")
                units.setdefault(row.measure, to.unit)
                ends = [e for e in (row.low, row.high) if e is not None]
                values = [round(to.value(v), digits) for v in (row.value, *(ends if len(ends) == 2 else ()))]
                rows.setdefault(row.measure, {}).setdefault(key, []).append([n, *values])
    content: dict[str, Any] = {
        "flights": [
            {
                "key": slug(f.record.flight_id),
                "brief": brief_name(site, f.record.flight_id),
                "title": f.title,
                "href": path_of(f.record.flight_id),
                "aircraft": slug(f.record.aircraft) if f.record.aircraft else "",
                "season": str(f.record.utc_start.year) if f.record.utc_start else "",
                "day": written_day(f.record.utc_start.date()) if f.record.utc_start else "",
            }
            for f in flights
        ],
        "parts": parts,
        "measures": [
            {
                "id": m.id,
                "name": upper_first(message(m.code)),
                "unit": units[m.id],
                "digits": m.digits,
                "rows": rows[m.id],
            }
            for m in MEASURES
            if m.id in rows
        ],
        "steps": [
            {"n": at[s.flight_id], "kind": s.kind, "text": said(s.text), "measure": s.measure}
            for s in steps_of(site, flights, figures)
            if s.flight_id in at
        ],
    }
    return f"globalThis.spooldownSeason={script_json(content)};\n"
