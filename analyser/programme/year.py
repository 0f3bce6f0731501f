"""One aircraft's year on one page: what was measured, found, remedied, confirmed, and what is still open."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from datetime import date

import numpy as np
import numpy.typing as npt
from msgspec import Struct

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


class Counted(Struct, frozen=True):
    """A kind of event of a part in a year: how often, in how many flights, how grave at worst, how often a nuisance."""

    kind: str
    subject: str
    times: int
    flights: int
    worst: Level
    nuisance: int


class Moved(Struct, frozen=True):
    """A figure that is another one than in the year before: its whole interval lies on one side of nought."""

    key: tuple[str, str]
    part: str
    was: float
    now: float
    change: Figure


class Year(Struct, frozen=True):
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


class Happened(Struct, frozen=True, eq=False):
    """Events of many flights as columns: those that deserved a remark, and those of which somebody said something.

    Parameters
    ----------
    kinds : sequence of (kind, subject)
        One may come twice.
    kind, flight, level : ndarray of int, shape (n,)
        Which of them each row is, its flight's place, and how grave it is.
    nuisance : ndarray of bool, shape (n,)
        Whether it was said to be no real event.
    """

    kinds: Sequence[tuple[str, str]]
    kind: npt.NDArray[np.intp]
    flight: npt.NDArray[np.intp]
    level: npt.NDArray[np.intp]
    nuisance: npt.NDArray[np.bool_]

    def with_more(self, more: Happened) -> Happened:
        """These and others, of the same flights."""
        return Happened(
            (*self.kinds, *more.kinds),
            np.concatenate([self.kind, more.kind + len(self.kinds)]),
            np.concatenate([self.flight, more.flight]),
            np.concatenate([self.level, more.level]),
            np.concatenate([self.nuisance, more.nuisance]),
        )


def happened(flights: Sequence[Sequence[Event]]) -> Happened:
    """Lay events out as columns, a sequence of them a flight."""
    rows = [(n, e) for n, events in enumerate(flights) for e in events if e.level > Level.FINE or e.mark]
    return Happened(
        [(e.kind, e.subject) for _, e in rows],
        np.arange(len(rows)),
        np.array([n for n, _ in rows], np.intp),
        np.array([int(e.level) for _, e in rows], np.intp),
        np.array([e.mark in ("nuisance", "sensor") for _, e in rows], bool),
    )


def year_of(
    aircraft: str,
    year: int,
    flights: tuple[Sequence[Flown], Happened],
    past: Mapping[tuple[str, str], History],
    found: tuple[Sequence[SnagState], Sequence[StepFound]],
    share: tuple[int, int],
) -> Year:
    """Review a year.

    Parameters
    ----------
    flights : (sequence of Flown, Happened)
        All flights of the aircraft, oldest first, and their events; undated ones are in no year.
    past : mapping
        Their histories.
    found : (snags, steps)
        All snags of the aircraft and how they fared, and the steps found.
    share : (int, int)
        Figures of the year's flights that were measured, and all that there would be.
    """
    snags, steps = found
    flown, events = flights
    inside = np.array([f.day is not None and f.day.year == year for f in flown], bool)
    last = date(year, 12, 31)
    remedies = [x for s in snags for x in s.fared if x.remedy.day.year == year]
    verdicts = Counter(str(x.comparison.verdict) if x.comparison else "" for x in remedies)
    return Year(
        aircraft=aircraft,
        year=year,
        flights=int(inside.sum()),
        days=len({f.day for f in flown if f.day is not None and f.day.year == year}),
        airborne_h=_sum(past, "flight.airborne", year) / 60.0,
        burned_l=_sum(past, "flight.fuel_burned", year) / 1000.0,
        starts=round(_sum(past, "engine.starts", year)),
        figures=share[0],
        wanted=share[1],
        events=_counted(events, inside),
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


def _counted(events: Happened, inside: npt.NDArray[np.bool_]) -> tuple[Counted, ...]:
    """Count the events of those flights that are ``inside``."""
    number: dict[tuple[str, str], int] = {}
    code = np.array([number.setdefault(kind, len(number)) for kind in events.kinds], np.intp)
    rows = np.flatnonzero(inside[events.flight])
    kind, flight = code[events.kind[rows]], events.flight[rows]
    worst = np.zeros(len(number), np.intp)
    np.maximum.at(worst, kind, events.level[rows])
    flights = np.unique(kind * inside.size + flight) // max(inside.size, 1)
    counts = [
        np.bincount(which, minlength=len(number)).tolist() for which in (kind, flights, kind[events.nuisance[rows]])
    ]
    out = [
        Counted(what, subject, times, flown, Level(grave), nuisance)
        for (what, subject), times, flown, nuisance, grave in zip(number, *counts, worst.tolist(), strict=True)
        if times
    ]
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
