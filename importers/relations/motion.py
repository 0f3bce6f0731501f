"""Laws of flight: the way and the speed, heights and their change, where the nose points and where it goes."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from analyser.core.statistics.robust import median, quantiles
from importers.relations.courses import correlation, follows
from importers.relations.opinion import LEAST, FloatArray, Opinion, Opinions, near, whole_rows

_EARTH_M = 6_371_008.8
"""Mean radius of the Earth (IUGG)."""
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
_UNLIKE = 0.5
"""Least correlation of what is gained and what a climb rate makes of it: common practice, no source."""
_FEW = 5
"""Rows in which an aircraft must have stood still at the least."""
_FLOWN_M, _TAXI_M_S, _GROUND_S, _AFTER_S = 15.0, 15.0, 8.0, 3.0
"""A flight rises by more than the first; no jet rolls on the ground faster than the second for longer than the third;
none rises the fourth before it moves. Common practice, no source."""


def steps_m(lat: FloatArray, lon: FloatArray) -> FloatArray:
    """Length of each step between places in degrees, m."""
    east = np.diff(np.radians(lon)) * np.cos(np.radians(median(lat)))
    return np.asarray(np.hypot(np.diff(np.radians(lat)), east) * _EARTH_M)


def hypsometric_m(pressure: FloatArray) -> FloatArray:
    """Height over the first value by the hypsometric law at 288.15 K (ICAO Doc 7488: R = 287.053, g = 9.80665)."""
    good = pressure[np.isfinite(pressure) & (pressure > 0)]
    if not good.size:
        return np.full_like(pressure, np.nan)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(-287.053 * 288.15 / 9.80665 * np.log(pressure / good[0]))


def speeds(some: Sequence[FloatArray], seconds: FloatArray | None) -> Opinions:
    """Speeds through the air and over the ground differ by the wind, not by a unit."""
    said = follows(some, seconds)
    good = np.isfinite(some[0]) & np.isfinite(some[1])
    moving = good & (some[0] > quantiles(some[0][good], 0.6)[0]) if said else good
    if not said or said[0].bears < 1 or moving.sum() < LEAST:
        return said
    with np.errstate(invalid="ignore", divide="ignore"):
        middle, spread = _span(np.log(some[1][moving] / some[0][moving]))
    if np.isfinite(middle) and spread < 2 * _CROSSED and np.abs(np.abs(middle) - _SPEEDS).min() < _CROSSED / 2:
        return (Opinion(0.3, -1, scale=True),)
    return said


def heights(some: Sequence[FloatArray], seconds: FloatArray | None) -> Opinions:
    """Two heights of one flight change by the same."""
    r = correlation(*some)
    if r is None:
        return ()
    good = np.isfinite(some[0]) & np.isfinite(some[1])
    if r > 0.95 and np.ptp(some[0][good]) > 20.0 and np.ptp(some[1][good]) > 20.0:
        slope = abs(float(np.log(np.std(some[1][good]) / np.std(some[0][good]))))
        if np.abs(slope - _HEIGHTS).min() < _CROSSED:
            return (Opinion(0.3, -1, scale=True),)
    return follows(some, seconds)


def way(some: Sequence[FloatArray], seconds: FloatArray | None) -> Opinions:
    """The way from place to place is that of the speed over time."""
    rows = whole_rows(some, seconds) if seconds is not None else None
    if rows is None:
        return ()
    t, lat, lon, speed = rows
    steps, run = steps_m(lat, lon), (speed[1:] + speed[:-1]) / 2 * np.diff(t)
    way, said = float(steps.sum()), float(run.sum())
    if max(way, said) < 200.0:
        return ()
    ratio = way / said if said else np.inf
    narrow = np.cos(np.radians([median(lat), median(lon)]))
    telling = narrow.min() > 0.0 and abs(np.log(narrow[0] / narrow[1])) > 2 * _CROSSED
    across = steps_m(lon, lat)
    crossed = _off(across, run) if telling else np.inf
    apart = _off(_in_whiles(steps), _in_whiles(run), 8)
    fit = float(np.exp(-apart / _LOOSE)) * near(ratio, 0.7)
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
    usual = median(steps[steps >= quantiles(steps, 0.5)[0]])
    every = max(1, min(round(_WHILE_M / max(usual, 1e-3)), steps.size // (2 * LEAST + 4)))
    way = np.diff(np.radians(lat)) + 1j * np.diff(np.radians(lon)) * np.cos(np.radians(median(lat)))
    starts = np.arange(0, way.size - every + 1, every)
    way, length = np.add.reduceat(way, starts), np.add.reduceat(steps, starts)
    moving = length > max(quantiles(length, 0.5)[0], 1.0)
    grain = np.radians(np.diff(np.unique(lat)).min(initial=1.0)) * _EARTH_M
    if moving.sum() < LEAST or grain > _COARSE * median(length[moving]):
        return None
    ways = (np.add.reduceat(w, starts) for w in (turn[1:], turn[:-1], turn[1:] + turn[:-1]))
    return min(_turned(way.imag[moving], way.real[moving], np.degrees(np.angle(w))[moving]) for w in ways)


def course(some: Sequence[FloatArray], _seconds: FloatArray | None) -> Opinions:
    """An aircraft flies about where it points: the wind turns its course by less than half a right angle."""
    good = np.logical_and.reduce([np.isfinite(x) for x in some])
    lat, lon, direction = (x[good] for x in some)
    north, east = np.diff(np.radians(lat)), np.diff(np.radians(lon))
    east = east * np.cos(np.radians(median(lat))) if good.any() else east
    steps = np.hypot(north, east) * _EARTH_M
    moving = steps > max(quantiles(steps, 0.5)[0], 1.0) if steps.size else np.zeros(0, bool)
    if moving.sum() < LEAST:
        return ()
    said = direction[1:][moving]
    off = _turned(east[moving], north[moving], said)
    fit = float(np.exp(-off / _AHEAD))
    if off < _AHEAD:
        return (Opinion(fit, 1),)
    if off > 2.0 * _AHEAD and _turned(north[moving], east[moving], said) < _AHEAD:
        return (Opinion(fit, -1, blamed=(0, 1)),)  # it flies where it points if the two change places
    return (Opinion(fit, -1 if off > 2.0 * _AHEAD else 0, blamed=(2,)),)


def barometer(some: Sequence[FloatArray], _seconds: FloatArray | None) -> Opinions:
    """Height falls with the logarithm of pressure, whatever that is given in."""
    height, above = some[0], hypsometric_m(some[1])
    r = correlation(height, above)
    good = np.isfinite(height) & np.isfinite(above)
    if r is None or np.ptp(above[good]) < 5.0:
        return ()
    slope = float(np.std(height[good]) / np.std(above[good]))
    fit = max(r, 0.0) * near(slope, 0.7)
    if r > 0.95 and not 0.6 < slope < 1.6:
        return (Opinion(fit, -1, scale=True, blamed=(0,)),)
    return (Opinion(fit, 1 if r > 0.6 else -1 if r < -0.6 else 0, scale=r > 0.95),)


def climb(some: Sequence[FloatArray], seconds: FloatArray | None) -> Opinions:
    """Height gained in a while is the climb rate over it."""
    rows = whole_rows(some, seconds, 2 * LEAST) if seconds is not None else None
    if rows is None:
        return ()
    t, h, v = rows
    made = np.concatenate([[0.0], np.cumsum((v[1:] + v[:-1]) / 2 * np.diff(t))])
    every = max(1, h.size // 40)
    gained, said = np.diff(h[::every]), np.diff(made[::every])
    r = correlation(gained, said)
    if r is None or np.ptp(h) < 5.0:
        return ()
    slope = float(np.std(gained) / max(float(np.std(said)), 1e-9))
    fit = max(r, 0.0) * near(slope, 0.7)
    if r > 0.6 and 0.5 < slope < 2.0:
        return (Opinion(fit, 1, scale=True),)
    if (r > 0.6 and not 0.4 < slope < 2.5) or r < -0.6:
        return (Opinion(fit, -1, scale=True),)
    return (Opinion(fit, -1 if r < _UNLIKE and np.ptp(h) > 8.0 and np.ptp(v) > 4.0 else 0),)


def leaves_the_ground(some: Sequence[FloatArray], seconds: FloatArray | None) -> Opinions:
    """An aircraft leaves the ground, and comes back to it, at a speed; standing at its lowest it does not fly."""
    rows = whole_rows(some, seconds, 2 * LEAST) if seconds is not None else None
    if rows is None:
        return ()
    t, height, speed = rows
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


def banks(some: Sequence[FloatArray], seconds: FloatArray | None) -> Opinions:
    """A banked aircraft turns: the rate of turn times the speed is g times the tangent of the bank."""
    rows = whole_rows(some, seconds, 2 * LEAST) if seconds is not None else None
    if rows is None:
        return ()
    t, roll, speed, direction = rows
    turned = np.diff(np.unwrap(np.radians(direction)))
    took = np.diff(t)
    usual = (took > 0) & (took < 3.0) & (np.abs(turned) < 2.0) & (np.abs(roll[1:]) < 75.0)
    if usual.sum() < 2 * LEAST:
        return ()
    r = correlation(turned[usual] / took[usual] * speed[1:][usual], np.tan(np.radians(roll[1:][usual])))
    return (Opinion(max(r, 0.0)),) if r is not None else ()


def noses_up(some: Sequence[FloatArray], _seconds: FloatArray | None) -> Opinions:
    """An aircraft climbs where its nose points up."""
    r = correlation(*some)
    return (Opinion(max(r, 0.0)),) if r is not None else ()


def goes_round(some: Sequence[FloatArray], _seconds: FloatArray | None) -> Opinions:
    """What flies comes back: its direction does not begin at nought and keep within a right angle of it."""
    turn = some[0][np.isfinite(some[0])]
    if turn.size < 4 * LEAST or abs(float(turn[0])) > _AHEAD / 6:
        return ()
    low, high = quantiles(turn, 0.02, 0.98)
    return (Opinion(0.0, -1, scale=True),) if _AHEAD / 2 < max(-low, high) < 90.0 else ()


def not_longer(some: Sequence[FloatArray], seconds: FloatArray | None, times: float) -> Opinions:
    """The way in one coordinate alone is no longer than the speed makes."""
    rows = whole_rows(some, seconds, 2 * LEAST) if seconds is not None else None
    if rows is None:
        return ()
    t, place, speed = rows
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
    return median(np.abs(np.log(steps[moving] / run[moving]))) if moving.sum() >= least else np.inf


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
    return median(np.abs((off + 180.0) % 360.0 - 180.0))
