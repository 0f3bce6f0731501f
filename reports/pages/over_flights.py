"""Any kept figure over flights: the data that the season page loads, and the words around it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from analyser.core.figures import FloatArray
from analyser.programme.histories import FigureColumns, Flown, History, histories_of
from analyser.programme.measures import BY_ID, MEASURES
from analyser.programme.steps import StepFound, find_steps
from analyser.season.days import changes_of
from reports.addresses import slug
from reports.markup import script_json
from reports.model import FlightPage, Site, Step
from reports.pages.flight import brief_name, path_of
from reports.words.catalogue import message, upper_first, written_day
from reports.words.names import heading, names_in_flight, naming, said
from reports.words.units import conversion

PATH = "data/season.js"
TIE = 1e-12
"""This near to a tie, of the value, the last bit of a product decides."""
NEWEST = 200
"""So many of the newest flights can be drawn."""


def _first_rows(figures: FigureColumns) -> list[int]:
    """The first row of each kind."""
    out = np.zeros(len(figures.kinds), np.intp)
    places = np.arange(figures.kind.size)[::-1]
    out[figures.kind[places]] = places
    return out.tolist()


def _points(figures: FigureColumns, places: npt.NDArray[np.intp]) -> list[list[float | int]]:
    """Rows of one figure and part as the page reads them, as the reader wants their units."""
    places = places[np.isfinite(figures.value[places])]
    cells = np.stack([figures.value[places], figures.low[places], figures.high[places]])
    kind = figures.kind[places]
    digits = np.zeros(places.size, np.intp)
    for one in np.unique(kind).tolist():
        to, same = conversion(figures.kinds[one].unit), kind == one
        digits[same] = BY_ID[figures.kinds[one].measure].digits + to.digits + 1
        cells[:, same] = to.array(cells[:, same])
    bare = ~np.isfinite(cells[1]) | ~np.isfinite(cells[2])
    lines = zip(figures.flight[places].tolist(), bare.tolist(), *_rounded(cells, digits).tolist(), strict=True)
    return [[n, value] if alone else [n, value, low, high] for n, alone, value, low, high in lines]


def _rounded(values: FloatArray, digits: npt.NDArray[np.intp]) -> FloatArray:
    """Round as ``round`` does, many at once: what is near a tie is left to itself."""
    ten = 10.0**digits
    scaled = values * ten
    out = np.rint(scaled) / ten
    tie = np.abs(np.abs(scaled - np.trunc(scaled)) - 0.5) < TIE * np.maximum(np.abs(scaled), 1.0)
    for row, at in np.argwhere(tie).tolist():
        out[row, at] = round(float(values[row, at]), int(digits[at]))
    return np.asarray(out, float)


def steps_of(site: Site, flights: Sequence[FlightPage], figures: FigureColumns) -> tuple[Step, ...]:
    """What changed before which of some flights, oldest first: as noted, as mended, and as the analyser finds.

    What the programme of an aircraft found already is not looked for again.
    """
    noted = [
        Step(flight_id, "change", change)
        for flight_id, found in changes_of([f.record for f in flights]).items()
        for change in found
    ]
    found: list[StepFound] = []
    for owner in dict.fromkeys(f.record.aircraft for f in flights):
        programme = site.programmes.get(owner)
        found += programme.steps if programme else find_steps(_histories(flights, figures, owner))
    return (*noted, *(Step(s.flight_id, "step", s.sentence, s.key[0]) for s in found), *site.said.steps)


def _worded(step: Step, site: Site) -> str:
    """What changed, parts named as they were in the flight from which on it holds."""
    with naming(names_in_flight(site.by_id[step.flight_id].record.context)):
        return said(step.text)


def _histories(flights: Sequence[FlightPage], figures: FigureColumns, owner: str) -> Mapping[tuple[str, str], History]:
    """One aircraft's figures."""
    own = np.array([f.record.aircraft == owner for f in flights], bool)
    flown = [_flown(f) for f, mine in zip(flights, own, strict=True) if mine]
    rows = own[figures.flight]
    place = np.cumsum(own) - 1
    cells = (figures.value[rows], figures.low[rows], figures.high[rows])
    return histories_of(flown, FigureColumns(figures.kinds, figures.kind[rows], place[figures.flight[rows]], *cells))


def _flown(flight: FlightPage) -> Flown:
    record = flight.record
    return Flown(record.flight_id, record.number, record.utc_start.date() if record.utc_start else None, ())


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
    keys = [f"pack:{k.thing}" if k.thing else k.part for k in figures.kinds]
    firsts = _first_rows(figures)
    for key, kind, first in zip(keys, figures.kinds, firsts, strict=True):
        units.setdefault(kind.measure, conversion(kind.unit).unit)
        if key not in parts:
            with naming(names_in_flight(flights[int(figures.flight[first])].record.context)):
                parts[key] = kind.thing or (heading(key) if key else "")
    for (measure, key), places in figures.groups(
        [(k.measure, key) for k, key in zip(figures.kinds, keys, strict=True)]
    ).items():
        rows.setdefault(measure, {})[key] = _points(figures, places)
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
            {"n": at[s.flight_id], "kind": s.kind, "text": _worded(s, site), "measure": s.measure}
            for s in steps_of(site, flights, figures)
            if s.flight_id in at
        ],
    }
    return f"globalThis.spooldownSeason={script_json(content, finite=True)};\n"
