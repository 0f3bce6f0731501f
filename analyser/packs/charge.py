"""What a pack gave in one flight: charge, energy, charge a minute, and how the routes to its charge agree."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from analyser.core.aircraft import Chemistry, Pack
from analyser.core.events import Event
from analyser.core.figures import Z95, Figure, FloatArray, Method
from analyser.core.findings import Text, say
from analyser.core.statistics.smoothing import integrate, longest_step_s, summed
from analyser.packs.codes import PackCode
from analyser.packs.readings import PackLog
from analyser.packs.scale import (
    BELIEVABLE,
    CHARGER_OWN_SE,
    CHARGER_SE,
    CHARGER_SHARED_SE,
    DISAGREE,
    EXCESS,
    CurrentScale,
    ScaleBasis,
    moved,
    rescaled,
)

LEAST_MAH = 1.0
"""Less than this is no charge to divide by."""
CAPACITY_LEAST = 0.70
"""Share of the label's capacity that a pack in use has at least (common practice, no source)."""
SHORTEST_MIN = 0.05
"""A phase below three seconds has no rate."""
SENSOR_ZERO_SE_A = 0.03
"""Error of a current sensor's zero, resolution included (common practice, no source)."""
EDGE_S = 3.0
"""Seconds at either end of a sensor's record that tell what it gave just outside it."""
UNSEEN_SHARE = 0.5
"""How far the charge of time without a sample may lie from what the nearest sample suggests, as a share of it."""
FULL_PERCENT = 99.0
LOST_AT_REST, LOST_AT_REST_SE = 0.001, 0.005
"""Share of its capacity that a pack loses between a charge and its flight, mostly in days (common practice, no
source)."""
FULL_SE = 0.005
"""Share of the capacity by which one full charge ends short of another (common practice, no source)."""
UNLOGGED_S, UNLOGGED_SE_S = 10.0, 20.0
"""Seconds outside the log, before its first row and after its last, in which the model is on at its lowest current
(common practice, no source)."""
LEAST_AFTER = 95.0
"""A pack that its charge cannot have brought this far, were it ever so worn, was charged for storage."""


class PhaseCharge(Struct, frozen=True):
    """Charge one pack gave in one phase."""

    name: str
    used_mah: Figure
    rate_mah_per_min: Figure


class PackCharge(Struct, frozen=True):
    """What one pack gave, and the single routes to it.

    ``used_mah`` is the one value of the flight; ``integrated_mah``, ``counted_mah`` and ``put_back_mah`` are what each
    route says by itself.
    """

    used_mah: Figure
    integrated_mah: Figure
    counted_mah: Figure
    put_back_mah: Figure
    disagreement_percent: Figure
    used_wh: Figure
    airborne_mah_per_min: Figure
    phases: tuple[PhaseCharge, ...]


def charge_put_back(log: PackLog) -> Figure:
    """What the charger put back, as the owner noted it."""
    label = say(PackCode.PUT_BACK, pack=log.part)
    mah = log.note.charged_mah
    if mah is None:
        return Figure.unavailable(label, "mAh", say(PackCode.NO_PUT_BACK))
    half = Z95 * CHARGER_SE * mah
    how = say(PackCode.NOTED)
    return Figure(label, mah, "mAh", Method.ENTERED, low=mah - half, high=mah + half, how=how, digits=0)


def charge_integrated(log: PackLog, prior: CurrentScale) -> Figure:
    """By the log alone: integrated current, else the running count, with the scale of a sensor nobody checked."""
    label = say(PackCode.USED, pack=log.part)
    if not log.given:
        return Figure.unavailable(label, "mAh", say(PackCode.NO_CHARGE))
    value = log.given.total_mah
    if value < 0.0:
        return Figure.unavailable(label, "mAh", say(PackCode.CHARGE_BELOW_NOUGHT, mah=value))
    half = Z95 * float(np.hypot(prior.relative_se * value, zero_se(log)))
    made = Figure(
        label,
        value,
        "mAh",
        log.given.method,
        low=max(value - half, 0.0),
        high=value + half,
        how=log.given.how,
        digits=0,
    )
    return made.with_doubt(*log.doubts)


def zero_se(log: PackLog) -> float:
    """Standard error of a charge by the sensor's zero, mAh."""
    return SENSOR_ZERO_SE_A * float(log.given.series.time_s[-1] - log.given.series.time_s[0]) / 3.6


class PutBack(Struct, frozen=True):
    """One charge put back, set against what sensors told of the flights that it filled up.

    Parameters
    ----------
    charged : Figure
        As noted, mAh.
    pack : Pack
        With a rated capacity.
    by_sensor_mah, zero_se_mah : float
        Charge by the sensor over all those flights, and its standard error by the sensor's zero.
    outside_mah : float
        What the model is taken to have drawn outside their logs.
    before : Figure
        State of charge before the first of them, percent.
    """

    charged: Figure
    pack: Pack
    by_sensor_mah: float
    zero_se_mah: float
    outside_mah: float
    before: Figure

    def over_sensor(self, label: Text) -> tuple[Figure, float]:
        """Charge given by the charger over charge by the sensor, ×, and the part of its relative error that is shared.

        A charger puts back more than came out (:data:`EXCESS`), what the pack lacked before the flight, what it lost at
        rest and what the model drew outside the log. All of it is taken off. Habits and the charger's scale are the
        same from one charge to the next, so their errors do not average away.
        """
        rated, charged = self.pack.rated_mah or 0.0, self.charged.value or 0.0
        excess, excess_se = EXCESS[self.pack.chemistry]
        lacked = lacked_percent(self.before) / 100.0
        given = charged * (1.0 - excess) - (lacked + LOST_AT_REST) * rated - self.outside_mah
        ratio = given / self.by_sensor_mah
        if not BELIEVABLE[0] <= ratio <= BELIEVABLE[1]:
            why = say(PackCode.NO_SCALE_MATTER, charged=self.charged, by_sensor_mah=self.by_sensor_mah)
            return Figure.unavailable(label, "×", why), 0.0
        full_se = self.before.half_width / Z95 / 100.0 if lacked else FULL_SE
        own = float(np.linalg.norm([charged * CHARGER_OWN_SE, full_se * rated, self.zero_se_mah]))
        outside_se = self.outside_mah * UNLOGGED_SE_S / UNLOGGED_S
        alike = [charged * CHARGER_SHARED_SE, charged * excess_se, LOST_AT_REST_SE * rated, outside_se]
        shared = float(np.linalg.norm(alike))
        how = say(
            PackCode.CHARGER_OVER_SENSOR, charged=self.charged, lacked_percent=100.0 * lacked,
            by_sensor_mah=self.by_sensor_mah,
        )  # fmt: skip
        half = Z95 * float(np.hypot(own, shared)) / self.by_sensor_mah
        return Figure.within(label, ratio, half, "×", how=how, digits=3), shared / given


def charger_over_sensor(log: PackLog, put_back: Figure, before: Figure, after: Figure) -> tuple[Figure, float]:
    """What this flight tells of its sensor's scale: :meth:`PutBack.over_sensor` of one flight.

    Parameters
    ----------
    before, after : Figure
        States of charge by rest voltage, percent.
    """
    label = say(PackCode.OWN_SCALE, pack=log.part)
    charged, pack = put_back.value, log.pack
    why: Text = ""
    if charged is None:
        why = put_back.missing
    elif not log.given or log.given.total_mah < LEAST_MAH or charged < LEAST_MAH:
        why = say(PackCode.NO_CHARGE)
    elif pack is None or pack.rated_mah is None:
        why = say(PackCode.NOT_NOTED_WHICH if pack is None else PackCode.NO_RATED)
    elif before.value is None:
        why = before.missing
    elif after.high is not None and after.high + 100.0 * charged / (CAPACITY_LEAST * pack.rated_mah) < LEAST_AFTER:
        why = say(PackCode.NOT_CHARGED_FULL, charged=put_back)
    if why or pack is None:
        return Figure.unavailable(label, "×", why), 0.0
    one = PutBack(put_back, pack, log.given.total_mah, zero_se(log), charge_outside(log), before)
    return one.over_sensor(label)


def charge_outside(log: PackLog) -> float:
    """What the model is taken to have drawn before the log's first row and after its last, mAh."""
    return UNLOGGED_S * max(log.quiet_a, 0.0) / 3.6


def lacked_percent(before: Figure) -> float:
    """What a pack lacked before a flight: most are charged full, so one that may have been is taken so."""
    value = before.value or 0.0
    return 0.0 if (before.high or value) >= FULL_PERCENT else 100.0 - value


def charge_used(
    integrated: Figure, put_back: Figure, before: Figure, *, prior: CurrentScale, applied: CurrentScale,
    chemistry: Chemistry,
) -> Figure:  # fmt: skip
    """The one value of the charge given: the log's at the scale that is known of its sensor, else the charger's.

    Parameters
    ----------
    integrated : Figure
        By the log alone, at ``prior``.
    applied : CurrentScale
        By this flight's charge and by what other flights teach.
    """
    label = integrated.label
    if integrated.value is None:
        if put_back.value is None:
            return integrated
        excess, excess_se = EXCESS[chemistry]
        value = put_back.value * (1.0 - excess)
        half = float(np.hypot(put_back.half_width, Z95 * excess_se * put_back.value))
        return replace(
            Figure.within(label, value, half, "mAh", how=say(PackCode.BY_CHARGER), digits=0), doubts=integrated.doubts
        )
    used = rescaled(integrated, prior, applied)
    how = applied.how(integrated.how)
    if applied.basis is ScaleBasis.PUT_BACK:
        how = say(
            PackCode.BY_CURRENT_AND_CHARGER, integrated=integrated, charged=put_back,
            lacked_percent=lacked_percent(before), others=applied.flights - 1,
        )  # fmt: skip
    method = Method.ESTIMATED if applied.checked else integrated.method
    return replace(used, how=how, method=method)


def set_charge(charge: PackCharge, used: Figure) -> PackCharge:
    """The same charges, brought to another value of the charge used; for results without their log."""
    old = charge.used_mah
    if old.value is None or used.value is None or old.value < LEAST_MAH:
        return replace(charge, used_mah=used)
    return replace(
        charge,
        used_mah=used,
        used_wh=_followed(charge.used_wh, old, used),
        airborne_mah_per_min=_followed(charge.airborne_mah_per_min, old, used),
        phases=tuple(
            replace(
                p, used_mah=_followed(p.used_mah, old, used), rate_mah_per_min=_followed(p.rate_mah_per_min, old, used)
            )
            for p in charge.phases
        ),
    )


def _followed(figure: Figure, old: Figure, used: Figure) -> Figure:
    """A figure whose interval holds the relative error of the charge used, moved with it from one value to another."""
    before, after = (u.half_width / (u.value or 1.0) for u in (old, used))
    return moved(figure, (used.value or 0.0) / (old.value or 1.0), before, after)


def charge_counted(log: PackLog) -> Figure:
    """The sensor's own running count."""
    label = say(PackCode.COUNTED, pack=log.part)
    if log.given.counted_mah is None:
        return Figure.unavailable(label, "mAh", say(PackCode.NO_COUNT))
    how = say(PackCode.OF_CHANNEL, channel=f"pack.{log.role}.used_mah")
    return Figure(label, log.given.counted_mah, "mAh", Method.INTEGRATED, how=how, digits=0).with_doubt(*log.doubts)


def energy_used(log: PackLog, scale: Figure) -> Figure:
    """Integrated power; ``scale`` is the charge's one value, whose relative interval the energy shares."""
    label = say(PackCode.ENERGY, pack=log.part)
    if not log.current or not log.voltage:
        return Figure.unavailable(label, "Wh", say(PackCode.NO_POWER))
    t = log.current.time_s
    power = log.current.values * log.voltage.at(t)
    value = float(integrate(t, power)[-1] / 3600.0)
    if value < 0.0 and log.given:
        return Figure.unavailable(label, "Wh", say(PackCode.CHARGE_BELOW_NOUGHT, mah=log.given.total_mah))
    return _scaled(
        Figure(label, value, "Wh", Method.INTEGRATED, how=say(PackCode.POWER), digits=2), log.given.total_mah, scale
    )


def _scaled(figure: Figure, total: float, used: Figure) -> Figure:
    """A figure of the log's own current, brought to the one value of the charge, with the share of its interval.

    ``total`` is the whole charge, mAh, by the same current.
    """
    if figure.value is None or used.value is None or used.low is None or used.high is None or total < LEAST_MAH:
        return figure.with_doubt(*used.doubts)
    value = figure.value * used.value / total
    ends = sorted((value * used.low / used.value, value * used.high / used.value))
    low, high = (value - figure.value + x if x is not None else value for x in (figure.low, figure.high))
    down, up = math.hypot(value - ends[0], value - low), math.hypot(ends[1] - value, high - value)
    return figure.set_to(value, value - down, value + up).with_doubt(*used.doubts)


def airborne_rate(log: PackLog, drawn: Drawn | None, used: Figure) -> Figure:
    """Charge a minute between take-off and touch-down."""
    label = say(PackCode.IN_FLIGHT, pack=log.part)
    air = log.phases.airborne_span
    if drawn is None:
        return Figure.unavailable(label, "mAh/min", say(PackCode.NO_CURRENT))
    if air is None:
        return Figure.unavailable(label, "mAh/min", say(PackCode.NO_FLIGHT_TIME))
    (flown,) = drawn.over(np.array([air])).together([0])
    rate = drawn.rate(label, flown)
    if rate.value is None:
        return rate
    if rate.high is not None and rate.high < 0.0:
        return Figure.unavailable(label, rate.unit, say(PackCode.CHARGE_BELOW_NOUGHT, mah=flown.given))
    down, up = log.phases.reach(lambda a, b: 60.0 * drawn.given(np.stack((a, b), axis=1)) / np.maximum(b - a, 1e-9))
    how = say(PackCode.RATE_ENDS, how=rate.how)
    zero = rate.half_width
    low, high = rate.value - float(np.hypot(down, zero)), rate.value + float(np.hypot(up, zero))
    return _scaled(replace(rate, low=low, high=high, how=how), log.given.total_mah, used)


def phase_charges(log: PackLog, drawn: Drawn | None, used: Figure) -> tuple[PhaseCharge, ...]:
    """Charge and charge a minute of every phase the flight had."""
    if drawn is None or not log.phases.phases:
        return ()
    out = []
    names, spans, which = log.phases.by_name()
    every = drawn.over(spans)
    # What is told of the ends is part of the whole: the phases add up to the flight's one value.
    whole = float(every.given.sum())
    for phase, some in zip(names, every.together(which), strict=True):
        label = say(PackCode.PHASE_CHARGE, pack=log.part, phase=phase.value)
        given = Figure(
            label, some.given, "mAh", Method.INTEGRATED, low=some.given - some.half, high=some.given + some.half,
            how=log.given.how, digits=1,
        )  # fmt: skip
        rate = drawn.rate(say(PackCode.PHASE_RATE, pack=log.part, phase=phase.value), some)
        if some.given + some.half < 0.0:
            why = say(PackCode.CHARGE_BELOW_NOUGHT, mah=some.given)
            given = Figure.unavailable(given.label, given.unit, why)
            rate = Figure.unavailable(rate.label, rate.unit, why)
        out.append(PhaseCharge(phase.value, _scaled(given, whole, used), _scaled(rate, whole, used)))
    return tuple(out)


class Taken(NamedTuple):
    """Charge drawn in some time: s, mAh, and half the 95 % interval, mAh."""

    seconds: float
    given: float
    half: float


class _Spans(NamedTuple):
    """Charge drawn in each of some spans, arrays of shape (m,).

    ``seconds`` long, ``given`` and what of it was ``unseen`` by the sensor, mAh; ``variance`` by sampling, mAh².
    """

    seconds: FloatArray
    given: FloatArray
    unseen: FloatArray
    variance: FloatArray

    def together(self, which: Sequence[int]) -> Iterator[Taken]:
        """Those of each group together; ``which`` is each span's, 0 and up.

        The error is of the sensor's zero, what samples leave out, and time without any.
        """
        seconds, given, unseen, variance = (np.bincount(which, each) for each in self)
        zero = SENSOR_ZERO_SE_A * seconds / 3.6
        half = np.sqrt((UNSEEN_SHARE * unseen) ** 2 + Z95**2 * (zero**2 + np.maximum(variance, 0.0)))
        return map(Taken, seconds.tolist(), given.tolist(), half.tolist())


class Drawn(Struct, frozen=True, eq=False):
    """Charge drawn over any spans of a log, and how well it is known; the samples are summed up once.

    ``first`` and ``last`` are the charge a second, mAh/s, over the first and the last seconds that the sensor saw;
    ``reach_s`` is how far they count beyond these. ``variance``, shape (n − 1,), runs up, mAh².
    """

    log: PackLog
    first: float
    last: float
    reach_s: float
    variance_s: FloatArray
    variance: FloatArray

    @classmethod
    def of(cls, log: PackLog) -> Drawn | None:
        """Sum one pack's samples up; ``None`` where nothing tells the charge given."""
        if not log.given:
            return None
        return cls(log, *_edge_rates(log), longest_step_s(log.given.series.time_s), *_sampling_variance(log))

    def given(self, spans: FloatArray) -> FloatArray:
        """Charge in each span, shape (n, 2), mAh; just before the first sample and after the last as these suggest."""
        t, total = self.log.given.series
        ends = np.minimum(np.maximum(spans, t[0] - self.reach_s), t[-1] + self.reach_s)
        beyond = self.first * np.minimum(ends - t[0], 0.0) + self.last * np.maximum(ends - t[-1], 0.0)
        given = np.interp(ends, t, total) + beyond
        return np.asarray(given[:, 1] - given[:, 0], float)

    def over(self, spans: FloatArray) -> _Spans:
        """Charge in each span, and what makes it unsure."""
        t = self.log.given.series.time_s
        start, end = spans.T
        early = np.minimum(np.maximum(np.minimum(end, t[0]) - start, 0.0), self.reach_s)
        late = np.minimum(np.maximum(end - np.maximum(start, t[-1]), 0.0), self.reach_s)
        variance = np.zeros(len(spans))
        if self.variance.size:
            variance = np.interp(end, self.variance_s, self.variance) - np.interp(start, self.variance_s, self.variance)
        return _Spans(end - start, self.given(spans), self.first * early + self.last * late, variance)

    def rate(self, label: Text, taken: Taken) -> Figure:
        """Charge a minute."""
        minutes = taken.seconds / 60.0
        if minutes <= SHORTEST_MIN:
            return Figure.unavailable(label, "mAh/min", say(PackCode.PHASE_TOO_SHORT))
        value, half, how = taken.given / minutes, taken.half / minutes, self.log.given.how
        return Figure(label, value, "mAh/min", Method.INTEGRATED, low=value - half, high=value + half, how=how)


def _edge_rates(log: PackLog) -> tuple[float, float]:
    t, total = log.given.series
    if t.size < 2:
        return 0.0, 0.0
    inside = [min(t[0] + EDGE_S, t[-1]), max(t[-1] - EDGE_S, t[0])]
    early, late = np.interp(inside, t, total)
    seconds = max(float(inside[0] - t[0]), 1e-9)
    return float(early - total[0]) / seconds, float(total[-1] - late) / seconds


def _sampling_variance(log: PackLog) -> tuple[FloatArray, FloatArray]:
    """Running variance of a charge summed from samples of a load that may switch in between, mAh², and its times.

    Each sample stands for the time about it. How well it does is told by how far it lies off the mean of its two
    neighbours: for values that have nothing to do with each other the variance of that is 3/2 of one value's.
    """
    if not log.current or log.current.time_s.size < 3:
        return np.empty(0), np.empty(0)
    t, amps = log.current
    off = amps[1:-1] - (amps[:-2] + amps[2:]) / 2.0
    step = np.minimum((t[2:] - t[:-2]) / 2.0, longest_step_s(t))
    return t[:-1], summed((off * step / 3.6) ** 2 / 1.5)


def compare_routes(
    log: PackLog, put_back: Figure, started_full: bool | None, before: Figure
) -> tuple[Figure, tuple[Event, ...]]:
    """Set the integrated current against the sensor's own count and the charge put back; name the larger difference.

    ``before`` is the state of charge before the flight, percent: a charger puts back what was missing then as well.
    """
    label = say(PackCode.DISAGREEMENT, pack=log.part)
    if not log.current:
        return Figure.unavailable(label, "%", say(PackCode.NO_SECOND_ROUTE_NO_CURRENT)), ()
    integrated = log.given.total_mah
    routes: list[tuple[Text, float]] = []
    if log.given.counted_mah is not None and log.given.counted_mah >= LEAST_MAH:
        routes.append((say(PackCode.SENSORS_COUNT), log.given.counted_mah))
    charged = put_back.value
    if charged is not None and charged >= LEAST_MAH and not (charged > integrated and started_full is False):
        routes.append((say(PackCode.CHARGE_PUT_BACK), charged))
    if not routes:
        why = PackCode.NO_SECOND_ROUTE_NOT_FULL if charged else PackCode.NO_SECOND_ROUTE
        return Figure.unavailable(label, "%", say(why)), ()
    what, other = max(routes, key=lambda r: abs(integrated - r[1]))
    percent = 100.0 * (integrated - other) / other
    how = say(PackCode.ROUTES_APART, integrated_mah=integrated, other_mah=other, route=what)
    figure = Figure(label, percent, "%", Method.INTEGRATED, how=how, digits=0)
    lacked = 0.0
    if what == say(PackCode.CHARGE_PUT_BACK) and log.pack and log.pack.rated_mah and before.low is not None:
        lacked = max(100.0 - before.low, 0.0) / 100.0 * log.pack.rated_mah
    if -lacked - DISAGREE * max(other, integrated) <= integrated - other <= DISAGREE * max(other, integrated):
        return figure, ()
    seconds = max(float(log.current.time_s[-1] - log.current.time_s[0]), 1.0)
    offset = 3.6 * (integrated - other) / seconds
    text = say(
        PackCode.ROUTES_DISAGREE, pack=log.part, integrated_mah=integrated, other_mah=other, route=what,
        offset_a=offset, quiet_a=log.quiet_a, explained=not (offset > 0 and log.quiet_a < 0.7 * offset),
    )  # fmt: skip
    return figure, (log.remark(text),)
