"""Laws that tie the columns of a log to each other, in one table: what bears headings out, and what contradicts them.

Each is given the values of its columns, in canonical units and in the same rows, and says how well they follow it.
Laws of physics without a free constant speak of size (a total and its rate, place and speed, height and climb rate,
height and pressure, cells and their pack); the others of the course alone (a shaft and what drives it).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
import numpy.typing as npt

from analyser.core.statistics.robust import quantiles

FloatArray = npt.NDArray[np.float64]

LEAST = 24
"""Fewer pairs than these say nothing."""
_EARTH_M = 6_371_008.8
"""Mean radius of the Earth (IUGG)."""
_STEADY = 0.15
"""A pack's voltage keeps within this share of its middle, its current does not: common practice, no source."""
_CROSSED = 0.08
"""Steps that lie within this share of the speed are right, all but noise: common practice, no source."""
_SPEEDS = np.log([3.6, 1.852, 3.6 / 1.852, 1.609344, 3.6 / 1.609344, 1.0 / 0.3048])
"""What one unit of speed is of another: km/h, knots, miles an hour and feet a second beside metres a second."""
_HEIGHTS = np.log([1.0 / 0.3048, 10.0, 100.0, 1000.0])
"""What one unit of height is of another: feet, decimetres, centimetres and millimetres beside metres."""
_AHEAD = 30.0
"""Degrees between where an aircraft points and where it goes, as a rule: common practice, no source."""
_WHILE_M, _COARSE = 8.0, 0.02
"""A way that outweighs the noise of places a tenth of a second apart; places written in larger shares of it turn it by
a degree."""
_LOOSE = 0.35
"""Way and speed that differ by this share while after while are not of one flight: common practice, no source."""
_STILL_RPM, _WARM_C, _FEW = 200.0, 120.0, 5
"""No shaft turns below; an exhaust that cools from the flight before falls by more than a few degrees in as many rows:
common practice, no source."""
_IDLE_RPM, _HOT_C = 15_000.0, 350.0
"""A model turbine whose exhaust stays as hot as this burns, and idles no slower: common practice, no source."""
_FAST_RPM, _SIPS_ML_PER_MIN = 60_000.0, 45.0
"""The smallest turbine burns more than this at such a speed of its shaft: common practice, no source."""
_UNLIKE = 0.5
"""Least correlation of what is gained and what a climb rate makes of it: common practice, no source."""
_NORTH, _EAST = 1.25, 2.5
"""No way north and south is so many times that which the speed makes, nor one east and west as it would be at the
equator, where an aircraft flies within 60 degrees of it: common practice, no source."""
_FLOWN_M, _TAXI_M_S, _GROUND_S, _AFTER_S = 15.0, 15.0, 8.0, 3.0
"""A flight rises by more than the first; no jet rolls on the ground faster than the second for longer than the third;
none rises the fourth before it moves. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class Opinion:
    """What a law says of its columns.

    ``fit`` is 1 where they follow it and 0 where they do not; ``bears`` is +1 where that bears their headings out, -1
    where it contradicts them, else 0. ``scale`` says that it is about their size, not about their course alone;
    ``blamed`` which of them are contradicted, by place in the law, all where empty.
    """

    fit: float
    bears: int = 0
    scale: bool = False
    blamed: tuple[int, ...] = ()


Opinions = tuple[Opinion, ...]
Judge = Callable[[Sequence[FloatArray], "FloatArray | None"], Opinions]


@dataclass(frozen=True, slots=True)
class Law:
    """A law between channels: ``*`` in a role stands for one name of a part, ``cell<n>`` for all cells of a pack.

    ``weight`` tells how much it is worth beside the others when headings may have changed places. ``whatever_unit``
    are roles that speak even where they cannot be what their heading says; ``asks`` says that a unit which the values
    alone chose must be borne out by it; ``timed`` that it holds by one length of the time between rows alone.
    """

    roles: tuple[str, ...]
    hear: Judge
    weight: float = 1.0
    whatever_unit: tuple[int, ...] = ()
    asks: bool = False
    timed: bool = False


def steps_m(lat: FloatArray, lon: FloatArray) -> FloatArray:
    """Length of each step between places in degrees, m."""
    east = np.diff(np.radians(lon)) * np.cos(np.radians(np.median(lat)))
    return np.asarray(np.hypot(np.diff(np.radians(lat)), east) * _EARTH_M)


def hypsometric_m(pressure: FloatArray) -> FloatArray:
    """Height over the first value by the hypsometric law at 288.15 K (ICAO Doc 7488: R = 287.053, g = 9.80665)."""
    good = pressure[np.isfinite(pressure) & (pressure > 0)]
    if not good.size:
        return np.full_like(pressure, np.nan)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(-287.053 * 288.15 / 9.80665 * np.log(pressure / good[0]))


def correlation(one: FloatArray, other: FloatArray) -> float | None:
    """Pearson's, of the pairs that are whole; None where there are too few, or one of them hardly moves."""
    good = np.isfinite(one) & np.isfinite(other)
    if np.count_nonzero(good) < LEAST:
        return None
    a, b = one[good], other[good]
    a, b = a - a.mean(), b - b.mean()
    size = float(np.sqrt((a @ a) * (b @ b)))
    return float(a @ b) / size if size > 0 and _moves(a) and _moves(b) else None


def _moves(x: FloatArray) -> bool:
    """Whether there are more than four different values; most columns show it with their first ones."""
    for some in (x[:32], x):
        ordered = np.sort(some)
        if int(np.count_nonzero(ordered[1:] != ordered[:-1])) > 3:
            return True
    return False


def _whole(some: Sequence[FloatArray], seconds: FloatArray, least: int = LEAST) -> list[FloatArray] | None:
    """Times and values of the rows in which none is empty; None where these are few."""
    good = np.logical_and.reduce([np.isfinite(x) for x in some])
    return [seconds[good], *(x[good] for x in some)] if good.sum() >= least else None


def _near(ratio: float, width: float) -> float:
    """1 where a ratio is one, less the farther it is."""
    return float(np.exp(-abs(np.log(ratio)) / width)) if 0.0 < ratio < np.inf else 0.0


def _of_size(one: float, other: float, floor: float) -> Opinions:
    """Whether one amount is the other, but for the error of sensors."""
    if max(abs(one), abs(other)) <= max(floor, 1.0):
        return ()
    ratio = one / other if other else np.inf
    bears = 1 if 0.7 < ratio < 1.4 else 0 if 0.2 < ratio < 5.0 else -1
    return (Opinion(_near(ratio, 0.3), bears, scale=True),)


def _sag(some: Sequence[FloatArray], _seconds: FloatArray | None) -> Opinions:
    """A pack's voltage falls where its current rises."""
    volts, amps = some
    r = correlation(np.diff(volts), np.diff(amps))
    if r is None:
        return ()
    if _steady(amps) and not _steady(volts, 4 * _STEADY):
        return (Opinion(0.0, -1),)  # what sags by a few in a hundred is the voltage
    return (Opinion(max(-r, 0.0), 1 if r < -0.3 else -1 if r > 0.6 else 0),)


def _grows(some: Sequence[FloatArray], seconds: FloatArray | None, factor: float) -> Opinions:
    """A total grows by its rate over time."""
    whole = _whole(some, seconds) if seconds is not None else None
    if whole is None:
        return ()
    t, total, rate = whole
    made = float(np.trapezoid(rate, t)) * factor
    return _of_size(float(total[-1] - total[0]), made, float(np.abs(total).max()) * 0.02)


def _one_total(some: Sequence[FloatArray], _seconds: FloatArray | None) -> Opinions:
    """What is used is gone from what remains."""
    used, gone = some[0], some[1][np.isfinite(some[1])]
    burnt = float(np.nanmax(used) - np.nanmin(used))
    return _of_size(float(gone[0] - gone[-1]), burnt, 0.02 * float(np.abs(gone).max()))


def _cells(some: Sequence[FloatArray], _seconds: FloatArray | None) -> Opinions:
    """A pack's voltage is the sum of its cells."""
    volts, *cells = some
    if len(cells) < 2:
        return ()
    whole = float(np.nanmedian(sum(cells)))
    ratio = float(np.nanmedian(volts)) / whole if whole else np.inf
    bears = 1 if 0.93 < ratio < 1.07 else 0 if 0.45 < ratio < 8.0 else -1
    return (Opinion(_near(ratio, 0.1), bears, scale=True, blamed=(0,)),)


def _follows(some: Sequence[FloatArray], _seconds: FloatArray | None = None, *, against: bool = True) -> Opinions:
    """One rises and falls with the other."""
    r = correlation(*some)
    if r is None:
        return ()
    return (Opinion(max(r, 0.0), 1 if r > 0.6 else -1 if against and r < -0.6 else 0),)


def _speeds(some: Sequence[FloatArray], seconds: FloatArray | None) -> Opinions:
    """Speeds through the air and over the ground differ by the wind, not by a unit."""
    said = _follows(some, seconds)
    good = np.isfinite(some[0]) & np.isfinite(some[1])
    moving = good & (some[0] > quantiles(some[0][good], 0.6)[0]) if said else good
    if not said or said[0].bears < 1 or moving.sum() < LEAST:
        return said
    with np.errstate(invalid="ignore", divide="ignore"):
        middle, spread = _span(np.log(some[1][moving] / some[0][moving]))
    if np.isfinite(middle) and spread < 2 * _CROSSED and np.abs(np.abs(middle) - _SPEEDS).min() < _CROSSED / 2:
        return (Opinion(0.3, -1, scale=True),)
    return said


def _heights(some: Sequence[FloatArray], seconds: FloatArray | None) -> Opinions:
    """Two heights of one flight change by the same."""
    r = correlation(*some)
    if r is None:
        return ()
    good = np.isfinite(some[0]) & np.isfinite(some[1])
    if r > 0.95 and np.ptp(some[0][good]) > 20.0 and np.ptp(some[1][good]) > 20.0:
        slope = abs(float(np.log(np.std(some[1][good]) / np.std(some[0][good]))))
        if np.abs(slope - _HEIGHTS).min() < _CROSSED:
            return (Opinion(0.3, -1, scale=True),)
    return _follows(some, seconds)


def _cold(some: Sequence[FloatArray], _seconds: FloatArray | None) -> Opinions:
    """An exhaust that keeps its temperature before the shaft has turned is as warm as the air."""
    shaft, exhaust = some
    turns = np.flatnonzero(shaft > _STILL_RPM)
    before = exhaust[: turns[0] if turns.size else 0]
    before = before[np.isfinite(before)]
    if before.size > _FEW and np.ptp(before) < 8.0 and float(np.median(before)) > _WARM_C:
        return (Opinion(0.0, -1, scale=True, blamed=(1,)),)
    return ()


def _burns(some: Sequence[FloatArray], _seconds: FloatArray | None) -> Opinions:
    """A shaft whose exhaust stays hot turns at idle at least."""
    shaft, exhaust = some
    good = np.isfinite(shaft) & np.isfinite(exhaust)
    hot = good & (exhaust > _HOT_C)
    if hot.sum() > max(LEAST, 0.3 * good.sum()) and quantiles(shaft[hot], 0.98)[0] < _IDLE_RPM:
        return (Opinion(0.0, -1, scale=True, blamed=(0,)),)
    return ()


def _sips(some: Sequence[FloatArray], _seconds: FloatArray | None) -> Opinions:
    """A fast shaft burns more than the smallest turbine does."""
    flow, shaft = some
    fast = np.isfinite(flow) & np.isfinite(shaft) & (shaft > _FAST_RPM)
    if fast.sum() >= LEAST and quantiles(flow[fast], 0.98)[0] < _SIPS_ML_PER_MIN:
        return (Opinion(0.0, -1, scale=True, blamed=(0,)),)
    return ()


def _pumps(some: Sequence[FloatArray], _seconds: FloatArray | None) -> Opinions:
    """A pump drives whatever fuel a shaft turns on: never at nought while it turns, and more the faster it does."""
    pump, shaft = some
    turns = np.isfinite(pump) & np.isfinite(shaft) & (shaft > _IDLE_RPM)
    (said,) = _follows((shaft, pump)) or (None,)
    if turns.sum() < LEAST or said is None:
        return (said,) if said else ()
    if (pump[turns] <= 0.02 * np.nanmax(pump)).mean() > 0.05:
        return (Opinion(0.0, said.bears if said.bears < 0 else 0),)
    varied = np.ptp(shaft[turns]) > 0.3 * float(np.max(shaft[turns]))
    r = correlation(pump[turns], shaft[turns])
    if varied and r is not None and r < 0.2:
        return (Opinion(0.0, -1, blamed=(0,)),)
    return (said,)


def _way(some: Sequence[FloatArray], seconds: FloatArray | None) -> Opinions:
    """The way from place to place is that of the speed over time."""
    whole = _whole(some, seconds) if seconds is not None else None
    if whole is None:
        return ()
    t, lat, lon, speed = whole
    steps, run = steps_m(lat, lon), (speed[1:] + speed[:-1]) / 2 * np.diff(t)
    way, said = float(steps.sum()), float(run.sum())
    if max(way, said) < 200.0:
        return ()
    ratio = way / said if said else np.inf
    narrow = np.cos(np.radians([np.median(lat), np.median(lon)]))
    telling = narrow.min() > 0.0 and abs(np.log(narrow[0] / narrow[1])) > 2 * _CROSSED
    across = steps_m(lon, lat)
    crossed = _off(across, run) if telling else np.inf
    apart = _off(_in_whiles(steps), _in_whiles(run), 8)
    fit = float(np.exp(-apart / _LOOSE)) * _near(ratio, 0.7)
    if crossed < min(2 * _CROSSED, 0.5 * _off(steps, run)):
        return (Opinion(fit, -1, blamed=(0, 1)),)  # the other way round each step is as long as the speed says
    if telling and _ratios(across, run)[1] < min(0.5 * _CROSSED, 0.5 * _ratios(steps, run)[1]):
        # The other way round the speed is of one unit throughout.
        return Opinion(fit, -1, blamed=(0, 1)), Opinion(fit, -1, scale=True, blamed=(2,))
    if _other_unit(steps, run):
        return (Opinion(fit, -1, scale=True, blamed=(2,)),)
    if 0.6 < ratio < 1.6 and apart < _LOOSE:
        return (Opinion(fit, 1, scale=True),)
    if not 0.1 < ratio < 10.0:
        return (Opinion(fit, -1, scale=True),)
    if not 0.35 < ratio < 2.8:
        return (Opinion(fit, -1, scale=True, blamed=(2,)),)  # as many times as another unit makes
    return (Opinion(fit),)


def off_course(lat: FloatArray, lon: FloatArray, direction: FloatArray) -> float | None:
    """How far a direction is from the way, while after while, degrees; None where whiles are few, or places coarse.

    ``lat``, ``lon`` and ``direction`` are in degrees and of consecutive rows; the direction's best alignment counts.
    """
    good = np.logical_and.reduce([np.isfinite(x) for x in (lat, lon, direction)])
    if good.sum() < LEAST:
        return None
    lat, lon, turn = lat[good], lon[good], np.exp(1j * np.radians(direction[good]))
    steps = steps_m(lat, lon)
    usual = float(np.median(steps[steps >= quantiles(steps, 0.5)[0]]))
    every = max(1, min(round(_WHILE_M / max(usual, 1e-3)), steps.size // (2 * LEAST + 4)))
    way = np.diff(np.radians(lat)) + 1j * np.diff(np.radians(lon)) * np.cos(np.radians(np.median(lat)))
    starts = np.arange(0, way.size - every + 1, every)
    way, length = np.add.reduceat(way, starts), np.add.reduceat(steps, starts)
    moving = length > max(quantiles(length, 0.5)[0], 1.0)
    grain = np.radians(np.diff(np.unique(lat)).min(initial=1.0)) * _EARTH_M
    if moving.sum() < LEAST or grain > _COARSE * np.median(length[moving]):
        return None
    ways = (np.add.reduceat(w, starts) for w in (turn[1:], turn[:-1], turn[1:] + turn[:-1]))
    return min(_turned(way.imag[moving], way.real[moving], np.degrees(np.angle(w))[moving]) for w in ways)


def _course(some: Sequence[FloatArray], _seconds: FloatArray | None) -> Opinions:
    """An aircraft flies about where it points: the wind turns its course by less than half a right angle."""
    good = np.logical_and.reduce([np.isfinite(x) for x in some])
    lat, lon, direction = (x[good] for x in some)
    north, east = np.diff(np.radians(lat)), np.diff(np.radians(lon))
    east = east * np.cos(np.radians(np.median(lat))) if good.any() else east
    steps = np.hypot(north, east) * _EARTH_M
    moving = steps > max(quantiles(steps, 0.5)[0], 1.0) if steps.size else np.zeros(0, bool)
    if moving.sum() < LEAST:
        return ()
    said = direction[1:][moving]
    off, crossed = _turned(east[moving], north[moving], said), _turned(north[moving], east[moving], said)
    fit = float(np.exp(-off / _AHEAD))
    if off < _AHEAD:
        return (Opinion(fit, 1),)
    if off > 2.0 * _AHEAD and crossed < _AHEAD:
        return (Opinion(fit, -1, blamed=(0, 1)),)  # it flies where it points if the two change places
    return (Opinion(fit, -1 if off > 2.0 * _AHEAD else 0, blamed=(2,)),)


def _barometer(some: Sequence[FloatArray], _seconds: FloatArray | None) -> Opinions:
    """Height falls with the logarithm of pressure, whatever that is given in."""
    height, above = some[0], hypsometric_m(some[1])
    r = correlation(height, above)
    good = np.isfinite(height) & np.isfinite(above)
    if r is None or np.ptp(above[good]) < 5.0:
        return ()
    slope = float(np.std(height[good]) / np.std(above[good]))
    fit = max(r, 0.0) * _near(slope, 0.7)
    if r > 0.95 and not 0.6 < slope < 1.6:
        return (Opinion(fit, -1, scale=True, blamed=(0,)),)
    return (Opinion(fit, 1 if r > 0.6 else -1 if r < -0.6 else 0, scale=r > 0.95),)


def _climb(some: Sequence[FloatArray], seconds: FloatArray | None) -> Opinions:
    """Height gained in a while is the climb rate over it."""
    whole = _whole(some, seconds, 2 * LEAST) if seconds is not None else None
    if whole is None:
        return ()
    t, h, v = whole
    made = np.concatenate([[0.0], np.cumsum((v[1:] + v[:-1]) / 2 * np.diff(t))])
    every = max(1, h.size // 40)
    gained, said = np.diff(h[::every]), np.diff(made[::every])
    r = correlation(gained, said)
    if r is None or np.ptp(h) < 5.0:
        return ()
    slope = float(np.std(gained) / max(float(np.std(said)), 1e-9))
    fit = max(r, 0.0) * _near(slope, 0.7)
    if r > 0.6 and 0.5 < slope < 2.0:
        return (Opinion(fit, 1, scale=True),)
    if (r > 0.6 and not 0.4 < slope < 2.5) or r < -0.6:
        return (Opinion(fit, -1, scale=True),)
    return (Opinion(fit, -1 if r < _UNLIKE and np.ptp(h) > 8.0 and np.ptp(v) > 4.0 else 0),)


def _leaves_the_ground(some: Sequence[FloatArray], seconds: FloatArray | None) -> Opinions:
    """An aircraft leaves the ground, and comes back to it, at a speed; standing at its lowest it does not fly."""
    whole = _whole(some, seconds, 2 * LEAST) if seconds is not None else None
    if whole is None:
        return ()
    t, height, speed = whole
    if np.ptp(height) < _FLOWN_M:
        return ()
    opinions: list[Opinion] = []
    for way in (1, -1):
        opinions += _end_on_the_ground(way * (t[::way] - t[::way][0]), height[::way], speed[::way])
    return (min(opinions, key=lambda o: o.bears),) if opinions else ()


def _end_on_the_ground(t: FloatArray, height: FloatArray, speed: FloatArray) -> Opinions:
    """The same of one end of the log, by seconds from it; nothing where that is not on the ground."""
    low, high = quantiles(height, 0.0, 0.98)
    rises = np.flatnonzero(height > height[0] + 0.25 * (high - low))
    stands = np.abs(height[: rises[0]] - height[0]) < 1.5 if rises.size else np.zeros(0, bool)
    if stands.sum() < _FEW or height[0] > low + 0.05 * (high - low):
        return ()
    moves = np.flatnonzero(speed > 0.1 * quantiles(speed, 0.98)[0])
    if moves.size and t[moves[0]] > t[rises[0]] + _AFTER_S:
        return (Opinion(0.0, -1),)  # it rises while it stands
    level = t[: rises[0]][stands]
    if level[-1] - level[0] > _GROUND_S and float(speed[: rises[0]][stands].min()) > _TAXI_M_S:
        return (Opinion(0.0, -1),)  # it flies while it stands
    return (Opinion(1.0),)


def _banks(some: Sequence[FloatArray], seconds: FloatArray | None) -> Opinions:
    """A banked aircraft turns: the rate of turn times the speed is g times the tangent of the bank."""
    whole = _whole(some, seconds, 2 * LEAST) if seconds is not None else None
    if whole is None:
        return ()
    t, roll, speed, direction = whole
    turned = np.diff(np.unwrap(np.radians(direction)))
    took = np.diff(t)
    usual = (took > 0) & (took < 3.0) & (np.abs(turned) < 2.0) & (np.abs(roll[1:]) < 75.0)
    if usual.sum() < 2 * LEAST:
        return ()
    r = correlation(turned[usual] / took[usual] * speed[1:][usual], np.tan(np.radians(roll[1:][usual])))
    return (Opinion(max(r, 0.0)),) if r is not None else ()


def _noses_up(some: Sequence[FloatArray], _seconds: FloatArray | None) -> Opinions:
    """An aircraft climbs where its nose points up."""
    r = correlation(*some)
    return (Opinion(max(r, 0.0)),) if r is not None else ()


def _goes_round(some: Sequence[FloatArray], _seconds: FloatArray | None) -> Opinions:
    """What flies comes back: its direction does not begin at nought and keep within a right angle of it."""
    turn = some[0][np.isfinite(some[0])]
    if turn.size < 4 * LEAST or abs(float(turn[0])) > _AHEAD / 6:
        return ()
    low, high = quantiles(turn, 0.02, 0.98)
    return (Opinion(0.0, -1, scale=True),) if _AHEAD / 2 < max(-low, high) < 90.0 else ()


def _not_longer(some: Sequence[FloatArray], seconds: FloatArray | None, times: float) -> Opinions:
    """The way in one coordinate alone is no longer than the speed makes."""
    whole = _whole(some, seconds, 2 * LEAST) if seconds is not None else None
    if whole is None:
        return ()
    t, place, speed = whole
    way = float(np.abs(_in_whiles(np.radians(np.diff(place)) * _EARTH_M)).sum())  # to and fro is noise
    run = float(((speed[1:] + speed[:-1]) / 2 * np.diff(t)).sum())
    if way < 200.0 or way < times * run:
        return ()
    return (Opinion(0.0, -1, scale=True, blamed=(1,)),)


def _other_unit(way: FloatArray, run: FloatArray) -> bool:
    """Whether, while after while, the way is so many times what the speed makes as one unit is of another."""
    middle, spread = _ratios(way, run)
    return bool(spread < 0.5 * _CROSSED and np.abs(np.abs(middle) - _SPEEDS).min() < _CROSSED / 2)


def _off(steps: FloatArray, run: FloatArray, least: int = LEAST) -> float:
    """How far, as a share, steps are as a rule from what the speed makes of them; infinite where there are few."""
    moving = (run > quantiles(run, 0.5)[0]) & (run > 0.0) & (steps > 0.0)
    return float(np.median(np.abs(np.log(steps[moving] / run[moving])))) if moving.sum() >= least else np.inf


def _ratios(way: FloatArray, run: FloatArray) -> tuple[float, float]:
    """Logarithm of what the way is of the run, while after while: its median and the span of its middle half."""
    way, run = _in_whiles(way), _in_whiles(run)
    moving = (run > max(quantiles(run, 0.5)[0], 0.0)) & (way > 0.0)
    if moving.sum() < 8:
        return np.inf, np.inf
    return _span(np.log(way[moving] / run[moving]))


def _span(x: FloatArray) -> tuple[float, float]:
    """The median and the span of the middle half."""
    low, middle, high = quantiles(x, 0.25, 0.5, 0.75)
    return middle, high - low


def _in_whiles(steps: FloatArray) -> FloatArray:
    """Steps added up over a fortieth of the time each: a slow receiver's place stands still, then jumps."""
    return np.asarray(np.add.reduceat(steps, np.arange(0, steps.size, max(1, steps.size // 40))))


def _turned(east: FloatArray, north: FloatArray, said: FloatArray) -> float:
    """How far, in degrees, the direction of steps is as a rule from what is said of it."""
    off = np.degrees(np.arctan2(east, north)) - said
    return float(np.median(np.abs((off + 180.0) % 360.0 - 180.0)))


def _steady(x: FloatArray, share: float = _STEADY) -> bool:
    """Whether values keep within a small share of their middle, all but the outermost."""
    low, middle, high = quantiles(x[~np.isnan(x)], 0.02, 0.5, 0.98)
    return high - low < share * abs(middle)


_HEIGHT = ("position.altitude_m", "position.height_m", "motion.pressure_altitude_m")
_SPEED = ("position.ground_speed_m_s", "motion.airspeed_m_s")
_PLACE = ("position.latitude_deg", "position.longitude_deg")
_DIRECTION = ("position.track_deg", "attitude.heading_deg")
_SHAFT = "engine.*.speed_rpm"

LAWS: tuple[Law, ...] = (
    Law(("pack.*.voltage_v", "pack.*.current_a"), _sag, 0.7, asks=True),
    Law(("bus.*.voltage_v", "bus.*.current_a"), _sag, 0.7, asks=True),
    Law(("pack.*.used_mah", "pack.*.current_a"), partial(_grows, factor=1000.0 / 3600.0), timed=True),
    Law(("pack.*.voltage_v", "pack.*.cell<n>_v"), _cells),
    Law(("fuel.*.used_ml", "fuel.*.flow_ml_per_min"), partial(_grows, factor=1.0 / 60.0), timed=True),
    Law(("fuel.*.remaining_ml", "fuel.*.flow_ml_per_min"), partial(_grows, factor=-1.0 / 60.0), timed=True),
    Law(("fuel.*.used_ml", "fuel.*.remaining_ml"), _one_total),
    Law(("fuel.*.flow_ml_per_min", _SHAFT), _follows, 0.7, asks=True),
    Law(("fuel.*.flow_ml_per_min", _SHAFT), _sips),
    Law((_SHAFT, "engine.*.egt_c"), _cold),
    Law((_SHAFT, "engine.*.egt_c"), _burns),
    Law((_SHAFT, "engine.*.egt_c"), partial(_follows, against=False), 0.7, asks=True),
    *(Law((f"engine.*.{pump}", _SHAFT), _pumps, 0.7, asks=True) for pump in ("pump_v", "pump_percent")),
    Law((_SHAFT, "engine.*.throttle_percent"), _follows, 0.7, asks=True),
    Law(("control.throttle_percent", _SHAFT), partial(_follows, against=False), 0.7),
    Law((*_PLACE, "position.ground_speed_m_s"), _way, timed=True),
    Law(_SPEED, _speeds, 0.7, asks=True),
    *(Law((*_PLACE, direction), _course) for direction in _DIRECTION),
    *(Law((direction,), _goes_round) for direction in _DIRECTION),
    Law((_PLACE[0], "position.ground_speed_m_s"), partial(_not_longer, times=_NORTH)),
    Law((_PLACE[1], "position.ground_speed_m_s"), partial(_not_longer, times=_EAST)),
    *(Law((height, "motion.vario_m_s"), _climb, timed=True) for height in _HEIGHT),
    *(Law((height, "air.pressure_pa"), _barometer, whatever_unit=(1,)) for height in _HEIGHT),
    Law((_HEIGHT[0], _HEIGHT[1]), _heights, asks=True),
    *(Law((other, _HEIGHT[2]), _heights) for other in _HEIGHT[:2]),
    *(Law((height, speed), _leaves_the_ground) for height in _HEIGHT for speed in _SPEED),
    *(Law(("attitude.roll_deg", speed, track), _banks, 0.7) for speed in _SPEED for track in _DIRECTION),
    Law(("attitude.pitch_deg", "motion.vario_m_s"), _noses_up, 0.7),
)  # fmt: skip
"""Every law that headings are held against."""
