"""Service of engines, packs, switches, receivers: what they have run, what is left to the owner's intervals, and when.

A component is followed through every aircraft it sat in. Forecasts take this season's flying: days on which one flew
come at a steady rate with scattering amounts (a compound Poisson process), so that the time to an interval's end has a
mean and a spread of its own, and the rate is only known from so many days.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, timedelta
from typing import Literal, TypeAlias

import numpy as np
import numpy.typing as npt
from msgspec import Struct, field
from msgspec.structs import replace

from analyser.core.aircraft import Aircraft
from analyser.core.figures import Figure, FloatArray, Method
from analyser.core.findings import Finding, say
from analyser.core.levels import COMMON_PRACTICE, Level, Limits
from analyser.programme.codes import ServiceCode
from analyser.programme.histories import Flown

Kind: TypeAlias = Literal["engine", "pack", "receiver", "switch", "other"]
Unit: TypeAlias = Literal["hours", "starts", "flights", "months"]
UNITS: tuple[Unit, ...] = ("hours", "starts", "flights", "months")
SEASON_DAYS = 365
FEWEST_DAYS = 5
"""Days of flying in the season below which nothing is forecast."""
LEAST_SPAN = 30
"""Days that a season spans at least: two flights on one weekend are no rate."""
DAYS_PER_MONTH = 365.25 / 12.0
FARTHEST_DAYS = 3650


class Fit(Struct, frozen=True):
    """Where a component sat: aircraft, part (``engine.left``; '' for anywhere in it), from and to these days."""

    aircraft: str
    part: str = ""
    since: date | None = None
    until: date | None = None

    def when(self, days: npt.NDArray[np.int64]) -> npt.NDArray[np.bool_]:
        """Flights in which it sat there, by the ordinals of their days; an undated one (0) counts where it sits now."""
        since = self.since.toordinal() if self.since else 0
        until = self.until.toordinal() if self.until else np.iinfo(np.int64).max
        return np.asarray(np.where(days == 0, self.until is None, (days >= since) & (days < until)), bool)


class Used(Struct, frozen=True):
    """What a component has run."""

    hours: float = 0.0
    starts: float = 0.0
    flights: float = 0.0

    def plus(self, other: Used) -> Used:
        """Add."""
        return Used(self.hours + other.hours, self.starts + other.starts, self.flights + other.flights)


class Serviced(Struct, frozen=True):
    """One service: when, and what was done."""

    day: date
    what: str = ""


class Component(Struct, frozen=True):
    """Something that is serviced or replaced by intervals.

    Parameters
    ----------
    name : str
        The owner's name for it; a registered pack's own.
    kind : str
    fits : tuple of Fit
        Where it sat, oldest first; the last one without ``until`` is where it sits now.
    every : mapping of str to float
        The owner's intervals: ``hours``, ``starts``, ``flights``, ``months``.
    before : Used
        What it had run when logging began, since its last service.
    since : date or None
        When it came into service.
    done : tuple of Serviced
        Oldest first.
    """

    name: str
    kind: Kind
    fits: tuple[Fit, ...]
    every: Mapping[str, float] = field(default_factory=dict)
    before: Used = field(default_factory=Used)
    since: date | None = None
    done: tuple[Serviced, ...] = ()

    def moved(self, aircraft: str, part: str, day: date) -> Component:
        """The same in another place from that day on; its history goes with it.

        Raises
        ------
        ValueError
            If it came to where it sits now on a later day.
        """
        last = self.fits[-1] if self.fits else None
        if last and last.since and day < last.since:
            raise ValueError(last.since.isoformat())
        ended = (*self.fits[:-1], replace(last, until=day)) if last else ()
        return replace(self, fits=(*ended, Fit(aircraft, part, day)))

    @property
    def sits(self) -> Fit | None:
        """Where it sits now."""
        return next((f for f in reversed(self.fits) if f.until is None), None)


def registered(aircraft: Iterable[Aircraft]) -> dict[str, Component]:
    """Components that aircraft files describe: engines with a service interval."""
    out = {}
    for one in aircraft:
        for engine in one.engines:
            if engine.service_interval_h is not None:
                name = f"{one.name} {engine.name}"
                out[name] = Component(
                    name, "engine", (Fit(one.name, f"engine.{engine.name}"),), {"hours": engine.service_interval_h},
                    Used(engine.hours_before_log, float(engine.starts_before_log or 0)),
                    done=(Serviced(engine.last_service),) if engine.last_service else (),
                )  # fmt: skip
    return out


RUNS = ("engine.run_time", "engine.starts", "flight.duration", "pack.charge_used")
"""Figures that say what a component ran."""


class Runs(Struct, frozen=True, eq=False):
    """What an aircraft's flights ran, as columns: any number of flights is added up at once.

    Parameters
    ----------
    days : ndarray of int, shape (n,)
        Ordinal of each flight's day, 0 where it is not known.
    values : mapping of (str, str) to ndarray, shape (n,)
        By figure and part; nought where a flight lacks it.
    parts : mapping of str to ndarray of bool, shape (n,)
        Flights whose log knows a part.
    packs : mapping of str to ndarray of bool, shape (n,)
        Flights that a pack flew in, by its own name.
    """

    days: npt.NDArray[np.int64]
    values: Mapping[tuple[str, str], FloatArray]
    parts: Mapping[str, npt.NDArray[np.bool_]]
    packs: Mapping[str, npt.NDArray[np.bool_]]

    def value(self, measure: str, part: str) -> FloatArray:
        """One figure of one part over all flights."""
        return self.values.get((measure, part), np.zeros(self.days.size))


def runs_of(flights: Sequence[Flown]) -> Runs:
    """Lay flights out as columns."""
    rows = [(k, r) for k, f in enumerate(flights) for r in f.rows]
    kinds: dict[tuple[str, str, str], int] = {}
    which = [kinds.setdefault((r.measure, r.part, r.thing), len(kinds)) for _, r in rows]
    days = np.array([f.day.toordinal() if f.day else 0 for f in flights], np.int64)
    values = np.array([np.nan if r.value is None else r.value for _, r in rows], float)
    return laid_out(days, list(kinds), np.array([[k for k, _ in rows], which], np.intp), values)


def laid_out(
    days: npt.NDArray[np.int64],
    kinds: Sequence[tuple[str, str, str]],
    rows: npt.NDArray[np.intp],
    values: FloatArray,
) -> Runs:
    """Lay rows of the table of figures out as columns.

    Parameters
    ----------
    days : ndarray of int, shape (n,)
        Ordinal of each flight's day, 0 where it is not known.
    kinds : sequence of (str, str, str)
        Figure, part and thing of every kind of row.
    rows : ndarray of int, shape (2, m)
        Which flight each row is of, and of which kind it is.
    values : ndarray, shape (m,)
        NaN where there is none.
    """
    n = days.size
    found: dict[tuple[str, str], FloatArray] = {}
    known: dict[str, npt.NDArray[np.bool_]] = {}
    packs: dict[str, npt.NDArray[np.bool_]] = {}
    for code, (measure, part, thing) in enumerate(kinds):
        at, own = rows[0, rows[1] == code], values[rows[1] == code]
        if part:
            known.setdefault(part, np.zeros(n, bool))[at] = True
        if thing:
            packs.setdefault(thing, np.zeros(n, bool))[at] = True
        there = np.isfinite(own)
        if there.any():
            found.setdefault((measure, part), np.zeros(n))[at[there]] = own[there]
    return Runs(days, found, known, packs)


class Uses(Struct, frozen=True, eq=False):
    """Every flight of one component: ordinal of its day (0 where not known), and what it ran; shape (n,) each."""

    days: npt.NDArray[np.int64]
    hours: FloatArray
    starts: FloatArray
    flights: FloatArray

    @classmethod
    def of(cls, uses: Iterable[tuple[date | None, Used]]) -> Uses:
        """Make it of single flights."""
        uses = list(uses)
        days = np.array([d.toordinal() if d else 0 for d, _ in uses], np.int64)
        hours, starts, flights = (np.array([getattr(u, x) for _, u in uses], float) for x in UNITS[:3])
        return cls(days, hours, starts, flights)

    def where(self, kept: npt.NDArray[np.bool_]) -> Uses:
        """Some of these flights."""
        return Uses(self.days[kept], self.hours[kept], self.starts[kept], self.flights[kept])

    @property
    def total(self) -> Used:
        """What it ran in all of them."""
        return Used(float(self.hours.sum()), float(self.starts.sum()), float(self.flights.sum()))


def uses_of(component: Component, flown: Mapping[str, Runs]) -> Uses:
    """Find every flight of a component, in whichever aircraft it sat.

    Parameters
    ----------
    flown : mapping of str to Runs
        By aircraft.
    """
    found: list[Uses] = []
    if component.kind == "pack":  # a pack is known by its own name wherever it was fitted
        found = [_used(component.kind, r, "").where(r.packs[component.name]) for r in flown.values()
                 if component.name in r.packs]  # fmt: skip
    if not found:
        found = [
            _used(component.kind, runs, fit.part).where(fit.when(runs.days) & _there(runs, fit.part))
            for fit in component.fits
            if (runs := flown.get(fit.aircraft)) is not None
        ]
    parts = [np.concatenate([getattr(u, x) for u in found] or [np.empty(0)]) for x in ("days", *UNITS[:3])]
    return Uses(parts[0].astype(np.int64), *parts[1:])


def _there(runs: Runs, part: str) -> npt.NDArray[np.bool_]:
    """Flights whose log knows the part; an aircraft's switch, or a part of a kind nobody logs, was there anyway."""
    everywhere = np.ones(runs.days.size, bool)
    alike = [mask for name, mask in runs.parts.items() if part and name.partition(".")[0] == part.partition(".")[0]]
    if not alike:
        return everywhere
    return np.asarray(runs.parts.get(part, ~everywhere) | ~np.logical_or.reduce(alike), bool)


def _used(kind: Kind, runs: Runs, part: str) -> Uses:
    once = np.ones(runs.days.size)
    if kind == "engine":
        return Uses(
            runs.days, runs.value("engine.run_time", part) / 60.0, runs.value("engine.starts", part), once
        )  # fmt: skip
    return Uses(runs.days, runs.value("flight.duration", "") / 60.0, 0.0 * once, once)


class Due(Struct, frozen=True):
    """One interval of one component.

    Parameters
    ----------
    unit : str
        ``hours``, ``starts``, ``flights`` or ``months``.
    every, used : float
        The interval, and what has run since the last service.
    left : Figure
    level : Level
    flights : Figure or None
        Flights that are left at this season's use a flight.
    day, earliest, latest : date or None
        When it will be due at this season's rate of flying, with a 95 % interval; ``latest`` is ``None`` where it may
        be later than ten years from now.
    sentence : Finding
    """

    unit: Unit
    every: float
    used: float
    left: Figure
    level: Level
    flights: Figure | None
    day: date | None
    earliest: date | None
    latest: date | None
    sentence: Finding


class ServiceState(Struct, frozen=True):
    """A component, what it has run in all and since its last service, and what is due when, the nearest first."""

    component: Component
    total: Used
    since_service: Used
    last: date | None
    due: tuple[Due, ...]

    @property
    def level(self) -> Level:
        """The gravest of its intervals."""
        return max((d.level for d in self.due), default=Level.FINE)


def service_state(component: Component, uses: Uses, today: date, limits: Limits = COMMON_PRACTICE) -> ServiceState:
    """Work out where a component stands.

    Parameters
    ----------
    uses : Uses
        From :func:`uses_of`.
    today : date
        Months are counted to it, and forecasts start from it.
    limits : Limits
        What little left deserves.
    """
    last = max((s.day for s in component.done), default=None)
    # What was flown on the day of a service was flown before it: it is done when the flying is over.
    after = np.ones(uses.days.size, bool) if last is None else (uses.days == 0) | (uses.days > last.toordinal())
    restarted = last is not None and not bool(after.all())
    ran = uses.where(after).total
    if not restarted:
        ran = component.before.plus(ran)
    total = component.before.plus(uses.total)
    due = [_due(component, unit, ran, (last, uses), today, limits) for unit in UNITS if unit in component.every]
    order = sorted((d for d in due if d is not None), key=lambda d: (d.day or date.max, (d.left.value or 0) / d.every))
    return ServiceState(component, total, ran, last, tuple(order))


def _due(
    component: Component, unit: Unit, ran: Used, when: tuple[date | None, Uses], today: date, limits: Limits
) -> Due | None:
    last, uses = when
    every = float(component.every[unit])
    label = say(ServiceCode.LEFT, unit=say(f"service.unit.{unit}"))
    if unit == "months":
        began = last or component.since
        if began is None:
            return None
        ends = began + timedelta(days=round(every * DAYS_PER_MONTH))
        left = (ends - today).days / DAYS_PER_MONTH
        return _made(component, unit, every, every - left, left, limits, (None, ends, ends, ends), label)
    used = float(getattr(ran, unit))
    left = every - used
    recent = season_of(uses, today)
    amounts: FloatArray = getattr(recent, unit)
    per_flight = float(amounts.mean()) if amounts.size else 0.0
    flights = None
    if unit != "flights" and per_flight > 0 and amounts.size >= FEWEST_DAYS and left > 0:
        n = left / per_flight
        spread = float(amounts.std(ddof=1)) / per_flight
        half = 1.96 * spread * math.sqrt(n + n * n / amounts.size)
        flights = Figure(
            say(ServiceCode.FLIGHTS_LEFT), n, "", Method.ESTIMATED, max(n - half, 0.0), n + half,
            how=say(ServiceCode.AT_RATE, flights=int(amounts.size)), digits=0,
        )  # fmt: skip
    days = forecast(left, recent, unit, today) if left > 0 else (0.0, 0.0, 0.0)
    best, low, high = (_on(today, d) for d in days or (None, None, None))
    return _made(component, unit, every, used, left, limits, (flights, best, low, high), label)


def _on(today: date, days: float | None) -> date | None:
    return today + timedelta(days=round(days)) if days is not None and days <= FARTHEST_DAYS else None


def _made(
    component: Component, unit: Unit, every: float, used: float, left: float, limits: Limits,
    when: tuple[Figure | None, date | None, date | None, date | None], label: Finding,
) -> Due:  # fmt: skip
    flights, day, earliest, latest = when
    digits = 1 if unit in ("hours", "months") else 0
    figure = Figure(label, left, "h" if unit == "hours" else "", Method.INTEGRATED, digits=digits)
    level = limits.matter("service_left", 100.0 * left / every)
    said = say(
        ServiceCode.DUE if left > 0 else ServiceCode.OVERDUE, name=component.name, unit=say(f"service.unit.{unit}"),
        left=Figure("", abs(left), "", Method.INTEGRATED, digits=digits), every=every,
        used=Figure("", used, "", Method.INTEGRATED, digits=digits), day=day or "", earliest=earliest or "",
        latest=latest or "", forecast=day is not None and unit != "months",
    )  # fmt: skip
    return Due(unit, every, used, figure, level, flights, day, earliest, latest, said)


def season_of(uses: Uses, today: date) -> Uses:
    """Keep the dated uses of the last year."""
    ago = today.toordinal() - uses.days
    return uses.where((uses.days > 0) & (ago >= 0) & (ago < SEASON_DAYS))


def forecast(left: float, season: Uses, unit: Unit, today: date) -> tuple[float, float, float] | None:
    """Days until so much more has run: likeliest, and the ends of a 95 % interval.

    Parameters
    ----------
    left : float
        In ``unit``, above nought.
    season : Uses
        From :func:`season_of`.

    Returns
    -------
    (float, float, float) or None
        ``None`` with fewer than :data:`FEWEST_DAYS` days of flying, or where nothing of the unit ran on them.

    Notes
    -----
    With days of flying at a rate λ and amounts of mean m and mean square s a day, the time to run R more has mean
    R/(λm) and variance R·s/(λ²m³); the rate λm itself is known from k days to s/(m²k) of its square.
    """
    flew, which = np.unique(season.days, return_inverse=True)
    k = int(flew.size)
    per_day = np.asarray(np.bincount(which, getattr(season, unit), minlength=k), float)
    if k < FEWEST_DAYS or per_day.sum() <= 0:
        return None
    span = max(today.toordinal() - int(flew[0]), LEAST_SPAN)
    mean, square = float(per_day.mean()), float((per_day**2).mean())
    rate = k / span
    days = left / (rate * mean)
    shape = square / mean**2
    spread = math.sqrt(shape * mean / left + shape / k)
    # A time cannot be negative and its spread is of a factor: the interval is taken on the logarithm.
    return days, days * math.exp(-1.96 * spread), days * math.exp(1.96 * spread)
