"""One aircraft's year on one page: what was measured, found, remedied, confirmed, and what is still open."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
import numpy.typing as npt

from analyser.core.events import Event, Level
from analyser.core.figures import Figure
from analyser.core.findings import say
from analyser.programme.codes import YearCode
from analyser.programme.histories import Flown, History
from analyser.programme.remedies import Verdict, shift
from analyser.programme.snags import SnagState
from analyser.programme.steps import FOLLOWED, StepFound

FIGURES = ("flight.airborne", "flight.fuel_burned", "engine.starts")
"""Figures that a year adds up, besides those that are compared with the year before."""
FEWEST = 5
"""Flights in either year below which no figure is compared with the year before."""


@dataclass(frozen=True, slots=True)
class Counted:
    """A kind of event of a part in a year: how often, in how many flights, how grave at worst, how often a nuisance."""

    kind: str
    subject: str
    times: int
    flights: int
    worst: Level
    nuisance: int


@dataclass(frozen=True, slots=True)
class Moved:
    """A figure that is another one than in the year before: its whole interval lies on one side of nought."""

    key: tuple[str, str]
    part: str
    was: float
    now: float
    change: Figure


@dataclass(frozen=True, slots=True)
class Year:
    """One aircraft's year.

    ``figures`` is how many figures of its flights were measured, ``wanted`` how many there would be had every log held
    everything. ``opened`` and ``closed`` are snags of the year, ``open`` those that are open at its end; ``verdicts``
    count its remedies by how they fared.
    """

    aircraft: str
    year: int
    flights: int
    days: int
    airborne_h: float
    burned_l: float
    starts: int
    figures: int
    wanted: int
    events: tuple[Counted, ...]
    moved: tuple[Moved, ...]
    steps: tuple[StepFound, ...]
    opened: tuple[SnagState, ...]
    closed: tuple[SnagState, ...]
    open: tuple[SnagState, ...]
    verdicts: Mapping[str, int]


def year_of(
    aircraft: str,
    year: int,
    flights: Sequence[tuple[Flown, Sequence[Event]]],
    past: Mapping[tuple[str, str], History],
    found: tuple[Sequence[SnagState], Sequence[StepFound]],
    share: tuple[int, int],
) -> Year:
    """Review a year.

    Parameters
    ----------
    flights : sequence of (Flown, events)
        All flights of the aircraft, oldest first; undated ones are in no year.
    past : mapping
        Their histories.
    found : (snags, steps)
        All snags of the aircraft and how they fared, and the steps found.
    share : (int, int)
        Figures of the year's flights that were measured, and all that there would be.
    """
    snags, steps = found
    own = [(f, e) for f, e in flights if f.day is not None and f.day.year == year]
    last = date(year, 12, 31)
    remedies = [x for s in snags for x in s.fared if x.remedy.day.year == year]
    verdicts = Counter(str(x.comparison.verdict) if x.comparison else "" for x in remedies)
    return Year(
        aircraft=aircraft,
        year=year,
        flights=len(own),
        days=len({f.day for f, _ in own}),
        airborne_h=_sum(past, "flight.airborne", year) / 60.0,
        burned_l=_sum(past, "flight.fuel_burned", year) / 1000.0,
        starts=round(_sum(past, "engine.starts", year)),
        figures=share[0],
        wanted=share[1],
        events=_counted(own),
        moved=tuple(_moved(past, year)),
        steps=tuple(s for s in steps if s.day is not None and s.day.year == year),
        opened=tuple(s for s in snags if s.snag.day.year == year),
        closed=tuple(s for s in snags if s.snag.closed and s.snag.closed.year == year),
        open=tuple(s for s in snags if s.snag.day <= last and (s.snag.closed is None or s.snag.closed > last)),
        verdicts={v: verdicts.get(v, 0) for v in (*(str(x) for x in Verdict), "")},
    )


def _sum(past: Mapping[tuple[str, str], History], measure: str, year: int) -> float:
    """A figure of every part added up over a year, in the order of the flights."""
    found = [h.values[_years(h) == year] for h in past.values() if h.measure.id == measure]
    return float(sum(value for values in found for value in values.tolist()))


def _years(history: History) -> npt.NDArray[np.intp]:
    """Year of each flight, 0 where it is not known."""
    return np.array([0 if d is None else d.year for d in history.days], np.intp)


def _counted(flights: Sequence[tuple[Flown, Sequence[Event]]]) -> tuple[Counted, ...]:
    groups: dict[tuple[str, str], list[tuple[str, Event]]] = {}
    for flight, events in flights:
        for event in events:
            if event.level > Level.FINE or event.mark:
                groups.setdefault((event.kind, event.subject), []).append((flight.flight_id, event))
    out = [
        Counted(
            kind, subject, len(found), len({i for i, _ in found}), max(e.level for _, e in found),
            sum(e.mark in ("nuisance", "sensor") for _, e in found),
        )
        for (kind, subject), found in groups.items()
    ]  # fmt: skip
    return tuple(sorted(out, key=lambda c: (-c.worst, -c.times, c.kind, c.subject)))


def _moved(past: Mapping[tuple[str, str], History], year: int) -> list[Moved]:
    out = []
    for history in past.values():
        if history.measure.id not in FOLLOWED:
            continue
        years = _years(history)
        before, now = history.values[years == year - 1], history.values[years == year]
        if min(before.size, now.size) < FEWEST:
            continue
        change, half = shift(before, now)
        if abs(change) <= half:
            continue
        label = say(YearCode.CHANGE, what=say(history.measure.code))
        figure = Figure.within(label, change, half, history.unit, digits=history.measure.digits)
        out.append(Moved(history.key, history.part, float(np.median(before)), float(np.median(now)), figure))
    return out
