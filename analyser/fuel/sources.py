"""From whatever the log holds of a tank to a running total of millilitres burned, and what is doubtful about it.

The source is chosen in this order: used volume, flow, remaining volume, remaining percent of a known capacity, pump
drive with a known delivery, shaft speed by a burn curve that other flights taught or the owner stated.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from enum import StrEnum

import numpy as np
from msgspec import Struct

from analyser.core.aircraft import Aircraft, Engine, Tank
from analyser.core.burn_curve import STANDING_SHARE, LearnedCurve
from analyser.core.channels import parse
from analyser.core.events import runs_of
from analyser.core.figures import FloatArray, Method, Missing
from analyser.core.findings import Part, Text, say
from analyser.core.phases import idle_speed
from analyser.core.statistics.smoothing import bin_means, longest_step_s, unwrap_counter, walk_of
from analyser.core.telemetry import Series, Telemetry
from analyser.fuel.codes import FuelCode

REFUEL_SHARE = 0.05
"""A lasting rise by more than this share of the content is a refuel, not slosh."""
ALIGHT_SHARE = 0.85
"""Share of idle speed above which an engine sustains itself."""
LONGEST_RUN_UP_S = 120.0


class Source(StrEnum):
    """What a tank's burn was told by."""

    USED = "used volume"
    FLOW = "fuel flow"
    CONTENTS = "contents"
    PUMP = "pump drive"
    SPEED = "shaft speed"


class Doubt(Struct, frozen=True, eq=False):
    """Errors that all instants of a flight share.

    ``parts`` are running totals of mL, shape (k, n), each of which may be off by a factor; ``covariance`` (k, k) is
    that of the factors.
    """

    time_s: FloatArray
    parts: FloatArray
    covariance: FloatArray

    def se(self, start_s: float, end_s: float) -> float:
        """Standard error of a rise, mL."""
        rise = np.array([np.diff(np.interp([start_s, end_s], self.time_s, p))[0] for p in self.parts])
        return float(np.sqrt(max(rise @ self.covariance @ rise, 0.0)))


class BurnTotal(Struct, frozen=True, eq=False):
    """A running total of mL burned: how it came about, and what is doubtful.

    ``content_ml`` is the content it was read from, ``refuels`` the (time, mL) lasting rises left out of the burn,
    ``filled_ml`` what was burned in holes of a rate sensor and therefore taken from the readings around them.
    """

    kind: Source
    channel: str
    how: Text
    method: Method
    time_s: FloatArray
    burned_ml: FloatArray
    content_ml: FloatArray | None = None
    refuels: tuple[tuple[float, float], ...] = ()
    walk_per_s: float = 0.0
    doubt: Doubt | None = None
    filled_ml: float = 0.0


def tanks_of(channels: Collection[str], aircraft: Aircraft | None) -> list[Tank]:
    """Tanks that the log names, then those that only the owner does."""
    described = {t.name: t for t in aircraft.tanks} if aircraft else {}
    names = dict.fromkeys([*_instances(channels, "fuel"), *described])
    return [described.get(n) or Tank(n) for n in names]


def engine_of(tank: Tank, aircraft: Aircraft | None, channels: Collection[str]) -> str:
    """The engine that a tank feeds: as stated, else of the same name, else the only one."""
    if tank.engine:
        return tank.engine
    if named := next((e.name for e in aircraft.engines if e.tank == tank.name), "") if aircraft else "":
        return named
    engines = _instances(channels, "engine")
    return engines[0] if len(engines) == 1 and tank.name not in engines else tank.name


def wants_curve(channels: Collection[str], aircraft: Aircraft | None) -> bool:
    """Whether some tank's burn could be told by a learned curve and by nothing else in the log.

    Such a flight teaches no curve: only what was measured does. A flight of no aircraft has none to learn from.
    """
    if aircraft is None:
        return False
    tanks = tanks_of(channels, aircraft) or [Tank(e) for e in _instances(channels, "engine")]
    for tank in tanks:
        engine = engine_of(tank, aircraft, channels)
        described = aircraft.engine(engine)
        known = [channel for _, channel in _candidates(tank, engine, described, None)]
        if not any(c in channels for c in known) and f"engine.{engine}.speed_rpm" in channels:
            return True
    return False


def find_burn(
    tank: Tank, engine: str, telemetry: Telemetry, aircraft: Aircraft | None, learned: Mapping[str, LearnedCurve]
) -> tuple[BurnTotal | None, list[Missing]]:
    """Read the best source there is of one tank's burn; ``None`` and what is missing where there is none."""
    described = aircraft.engine(engine) if aircraft else None
    curve = _stated(described) or learned.get(tank.name)
    for kind, channel in _candidates(tank, engine, described, curve):
        if series := telemetry.series(channel):
            return _read(kind, channel, series, tank, described, curve=curve), []
    return None, [_missing(tank, engine, telemetry)]


def _candidates(
    tank: Tank, engine: str, described: Engine | None, curve: LearnedCurve | None
) -> Iterator[tuple[Source, str]]:
    prefix = f"fuel.{tank.name}"
    yield Source.USED, f"{prefix}.used_ml"
    yield Source.FLOW, f"{prefix}.flow_ml_per_min"
    yield Source.CONTENTS, f"{prefix}.remaining_ml"
    if tank.capacity_ml is not None:
        yield Source.CONTENTS, f"{prefix}.remaining_percent"
    if described and described.pump_ml_per_min_at_full:
        yield Source.PUMP, f"engine.{engine}.pump_percent"
    if curve or _stated(described):
        yield Source.SPEED, f"engine.{engine}.speed_rpm"


def _missing(tank: Tank, engine: str, telemetry: Telemetry) -> Missing:
    subject, name = f"fuel.{tank.name}", tank.name
    if telemetry.has(f"{subject}.remaining_percent") and tank.capacity_ml is None:
        return Missing(
            subject, say(FuelCode.CAPACITY), say(FuelCode.MILLILITRES, tank=name), say(FuelCode.STATE_CAPACITY)
        )
    pump = telemetry.has(f"engine.{engine}.pump_percent")
    teachable = telemetry.has(f"engine.{engine}.speed_rpm")
    return Missing(
        subject,
        say(FuelCode.SENSOR_OR_PUMP if pump else FuelCode.SENSOR),
        say(FuelCode.BURN_AND_REMAINING, tank=name),
        say(FuelCode.LOG_SENSOR_OR_TEACH if teachable else FuelCode.LOG_SENSOR),
    )


def _stated(engine: Engine | None) -> LearnedCurve | None:
    """The curve of the aircraft file; its spread is one standard deviation over flights, common to a whole flight."""
    if engine is None or engine.max_rpm is None:
        return None
    floor, cubic = engine.burn_floor_ml_per_min, engine.burn_cubic_ml_per_min
    if floor is None or cubic is None:
        return None
    share = engine.burn_spread_percent / 100.0
    variance = ((share * floor) ** 2, share**2 * floor * cubic, (share * cubic) ** 2)
    return LearnedCurve(engine.name, floor, cubic, engine.max_rpm, 0, variance=variance)


def _read(
    kind: Source, channel: str, series: Series, tank: Tank, described: Engine | None, curve: LearnedCurve | None
) -> BurnTotal:
    t, v = series
    if kind is Source.USED:
        counted = unwrap_counter(v)
        how: Text = say(FuelCode.FROM_COUNT, channel=Part(channel))
        return BurnTotal(kind, channel, how, Method.INTEGRATED, t, burned_ml=counted - counted[0])
    if kind is Source.CONTENTS:
        how = say(FuelCode.FROM_FALL, channel=Part(channel))
        if channel.endswith("percent"):
            full = tank.capacity_ml or 0.0
            v, how = v * full / 100.0, say(FuelCode.FROM_FALL_PERCENT, channel=Part(channel), full=full)
        refuels = find_refuels(t, v)
        burned = v[0] + added_by(t, refuels) - v
        return BurnTotal(kind, channel, how, Method.ESTIMATED, t, burned_ml=burned, content_ml=v, refuels=refuels)
    if kind is Source.SPEED:
        assert curve is not None
        return _by_curve(channel, series, described, curve)
    how, method, rate = say(FuelCode.FROM_FLOW, channel=Part(channel)), Method.INTEGRATED, v / 60.0
    if kind is Source.PUMP:
        delivery = (described.pump_ml_per_min_at_full if described else None) or 0.0
        how, method, rate = (
            say(FuelCode.FROM_PUMP, delivery=delivery),
            Method.ESTIMATED,
            rate * delivery / 100.0,
        )
    total, filled = _summed(t, rate)
    doubt = Doubt(t, filled[None, :], np.array([[0.25]])) if filled[-1] else None
    return BurnTotal(
        kind,
        channel,
        how,
        method,
        t,
        burned_ml=total,
        walk_per_s=walk_of(t, rate),
        doubt=doubt,
        filled_ml=float(filled[-1]),
    )


def _summed(time_s: FloatArray, rate_per_s: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Running trapezoid, and how much of it lies in holes: there it holds nothing better than the readings around.

    A hole's volume is doubted by half of itself (one standard error): from none to twice as much.
    """
    step = np.diff(time_s)
    area = 0.5 * (rate_per_s[1:] + rate_per_s[:-1]) * step
    hole = step > longest_step_s(time_s)
    return np.r_[0.0, np.cumsum(area)], np.r_[0.0, np.cumsum(np.where(hole, np.abs(area), 0.0))]


def _by_curve(channel: str, series: Series, described: Engine | None, curve: LearnedCurve) -> BurnTotal:
    t, v = series
    share = v / curve.max_rpm
    idle = (described.idle_rpm if described else None) or idle_speed(v)
    alight = (v > ALIGHT_SHARE * idle) & (share > STANDING_SHARE)
    # Before it sustains itself an engine burns between nothing and what the curve says; running down, nothing.
    lit = t[alight]
    to_next = np.r_[lit, np.inf][np.searchsorted(lit, t)] - t
    run_up = ~alight & (share > STANDING_SHARE) & (to_next <= LONGEST_RUN_UP_S)
    weight = np.where(alight, 1.0, np.where(run_up, 0.5, 0.0)) / 60.0
    # In parts, each of which has its own doubt: floor, cubic, run-up, holes.
    floor, _ = _summed(t, weight)
    cubic, _ = _summed(t, weight * share**3)
    burn = curve.floor_ml_per_min + curve.cubic_ml_per_min * share**3
    total, filled = _summed(t, weight * burn)
    start, _ = _summed(t, np.where(run_up, burn / 60.0, 0.0))
    a, b, c = curve.variance
    covariance = np.zeros((4, 4))
    covariance[:2, :2] = [[a, b], [b, c]]
    covariance[2, 2], covariance[3, 3] = 1.0 / 12.0, 0.25
    how = (
        say(FuelCode.FROM_LEARNED_CURVE, n=curve.flights, checked=curve.checked)
        if curve.flights
        else say(FuelCode.FROM_STATED_CURVE, within=curve.half_percent(0.75))
    )
    doubt = Doubt(t, np.stack([floor, cubic, start, filled]), covariance)
    return BurnTotal(
        Source.SPEED, channel, how, Method.ESTIMATED, t, burned_ml=total, doubt=doubt, filled_ml=float(filled[-1])
    )


def find_refuels(time_s: FloatArray, content: FloatArray) -> tuple[tuple[float, float], ...]:
    """Lasting rises of the content: (time, size) where the median 10 s after exceeds that 10 s before."""
    t, v = bin_means(time_s, content, 5.0)
    if v.size < 6:
        return ()
    before = np.lib.stride_tricks.sliding_window_view(v, 2)[:-3].mean(axis=1)
    after = np.lib.stride_tricks.sliding_window_view(v, 2)[3:].mean(axis=1)
    jump = after - before
    limit = REFUEL_SHARE * float(np.ptp(v) + abs(v).max())
    out: list[tuple[float, float]] = []
    for head, tail in runs_of(jump > limit):
        k = int(np.argmax(jump[head:tail])) + head
        # It has to last a minute; its size is read across the rise alone, before the next minute's burn.
        if float(np.median(v[k + 3 :][:12])) - float(before[k]) > limit:
            out.append((float(t[k + 2]), float(after[tail - 1] - before[head])))
    return tuple(out)


def added_by(time_s: FloatArray, refuels: tuple[tuple[float, float], ...]) -> FloatArray:
    """What refuels had added at each instant, mL, same shape."""
    out = np.zeros(np.shape(time_s))
    for at, size in refuels:
        out += np.where(time_s >= at, size, 0.0)
    return out


def _instances(channels: Collection[str], subject: str) -> list[str]:
    found = (parse(c) for c in channels)
    return list(dict.fromkeys(p.instance for p in found if p and p.channel.subject == subject))
