"""Service of engines, packs, switches, receivers: what they have run, what is left to the owner's intervals, and when.

A component is followed through every aircraft it sat in. Forecasts take this season's flying: days on which one flew
come at a steady rate with scattering amounts (a compound Poisson process), so that the time to an interval's end has a
mean and a spread of its own, and the rate is only known from so many days.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from typing import Literal, TypeAlias

import numpy as np

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


@dataclass(frozen=True, slots=True)
class Fit:
    """Where a component sat: aircraft, part (``engine.left``; '' for anywhere in it), from and to these days."""

    aircraft: str
    part: str = ""
    since: date | None = None
    until: date | None = None

    def holds(self, day: date | None) -> bool:
        """Whether it sat there on that day; an undated flight counts where it sits now."""
        if day is None:
            return self.until is None
        return (self.since is None or self.since <= day) and (self.until is None or day < self.until)


@dataclass(frozen=True, slots=True)
class Used:
    """What a component has run."""

    hours: float = 0.0
    starts: float = 0.0
    flights: float = 0.0

    def plus(self, other: Used) -> Used:
        """Add."""
        return Used(self.hours + other.hours, self.starts + other.starts, self.flights + other.flights)


@dataclass(frozen=True, slots=True)
class Serviced:
    """One service: when, and what was done."""

    day: date
    what: str = ""


@dataclass(frozen=True, slots=True)
class Component:
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


@dataclass(frozen=True, slots=True)
class Use:
    """One flight of a component."""

    day: date | None
    used: Used


def uses_of(component: Component, flown: Mapping[str, Sequence[Flown]]) -> list[Use]:
    """Find every flight of a component, in whichever aircraft it sat.

    Parameters
    ----------
    flown : mapping of str to sequence of Flown
        By aircraft, oldest first.
    """
    out = []
    if component.kind == "pack":  # a pack is known by its own name wherever it was fitted
        for flights in flown.values():
            out += [
                Use(f.day, Used(_value(f, "flight.duration", "") / 60.0, 0.0, 1.0))
                for f in flights
                if any(r.thing == component.name for r in f.rows)
            ]
        if out:
            return sorted(out, key=lambda u: (u.day is None, u.day or date.min))
    for fit in component.fits:
        for f in flown.get(fit.aircraft, ()):
            if fit.holds(f.day) and _there(f, fit.part):
                out.append(Use(f.day, _used(component.kind, f, fit.part)))
    return sorted(out, key=lambda u: (u.day is None, u.day or date.min))


def _there(flight: Flown, part: str) -> bool:
    """Whether a flight's log knows the part; an aircraft's switch or a part nobody logs was there anyway."""
    logged = {r.part for r in flight.rows}
    same_kind = any(p.partition(".")[0] == part.partition(".")[0] for p in logged if p)
    return not part or part in logged or not same_kind


def _used(kind: Kind, flight: Flown, part: str) -> Used:
    if kind == "engine":
        return Used(_value(flight, "engine.run_time", part) / 60.0, _value(flight, "engine.starts", part), 1.0)
    return Used(_value(flight, "flight.duration", "") / 60.0, 0.0, 1.0)


def _value(flight: Flown, measure: str, part: str) -> float:
    return next((r.value for r in flight.rows if r.measure == measure and r.part == part and r.value is not None), 0.0)


@dataclass(frozen=True, slots=True)
class Due:
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


@dataclass(frozen=True, slots=True)
class ServiceState:
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


def service_state(
    component: Component, uses: Sequence[Use], today: date, limits: Limits = COMMON_PRACTICE
) -> ServiceState:
    """Work out where a component stands.

    Parameters
    ----------
    uses : sequence of Use
        From :func:`uses_of`.
    today : date
        Months are counted to it, and forecasts start from it.
    limits : Limits
        What little left deserves.
    """
    last = max((s.day for s in component.done), default=None)
    # What was flown on the day of a service was flown before it: it is done when the flying is over.
    since = [u for u in uses if last is None or u.day is None or u.day > last]
    restarted = len(since) < len(uses) and last is not None
    ran = Used() if restarted else component.before
    for use in since:
        ran = ran.plus(use.used)
    total = component.before
    for use in uses:
        total = total.plus(use.used)
    due = [_due(component, unit, ran, (last, uses), today, limits) for unit in UNITS if unit in component.every]
    order = sorted((d for d in due if d is not None), key=lambda d: (d.day or date.max, (d.left.value or 0) / d.every))
    return ServiceState(component, total, ran, last, tuple(order))


def _due(
    component: Component, unit: Unit, ran: Used, when: tuple[date | None, Sequence[Use]], today: date, limits: Limits
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
    amounts = np.array([getattr(u.used, unit) for u in recent], float)
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


def season_of(uses: Sequence[Use], today: date) -> list[Use]:
    """Keep the dated uses of the last year."""
    return [u for u in uses if u.day is not None and 0 <= (today - u.day).days < SEASON_DAYS]


def forecast(left: float, season: Sequence[Use], unit: Unit, today: date) -> tuple[float, float, float] | None:
    """Days until so much more has run: likeliest, and the ends of a 95 % interval.

    Parameters
    ----------
    left : float
        In ``unit``, above nought.
    season : sequence of Use
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
    amounts: dict[date, float] = {}
    for use in season:
        if use.day is not None:
            amounts[use.day] = amounts.get(use.day, 0.0) + float(getattr(use.used, unit))
    k = len(amounts)
    per_day: FloatArray = np.array(list(amounts.values()))
    if k < FEWEST_DAYS or per_day.sum() <= 0:
        return None
    span = max((today - min(amounts)).days, LEAST_SPAN)
    mean, square = float(per_day.mean()), float((per_day**2).mean())
    rate = k / span
    days = left / (rate * mean)
    shape = square / mean**2
    spread = math.sqrt(shape * mean / left + shape / k)
    # A time cannot be negative and its spread is of a factor: the interval is taken on the logarithm.
    return days, days * math.exp(-1.96 * spread), days * math.exp(1.96 * spread)
