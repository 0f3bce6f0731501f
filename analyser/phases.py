"""Start, idle, taxi, take-off, flight, landing, cool-down: the flight cut into phases from whatever channels exist.

Engines tell start, running and cool-down (shaft speed, else exhaust temperature, else flow or pump drive).
Ground speed or airspeed together with height tell airborne from not; either alone is weaker and said so.
The thresholds are common practice, no source, chosen wide of any model that flies.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import numpy.typing as npt
from scipy import ndimage

from analyser.events import runs_of
from analyser.figures import FloatArray, Missing
from analyser.telemetry import Telemetry

STEP_S = 0.2
"""Grid on which phases are told, s."""
MOVING_M_S = 1.5
ROLL_M_S = 4.0
AIRBORNE_M_S = 10.0
AIRBORNE_HEIGHT_M = 3.0
CLIMBED_OUT_M = 15.0
FINAL_M = 15.0
LONGEST_FINAL_S = 25.0
SHORTEST_FLIGHT_S = 5.0
TOUCH_S = 3.0
COLD_EGT_C = 100.0
LIT_EGT_C = 250.0


class PhaseName(StrEnum):
    """The phases, in the order a flight has them."""

    BEFORE_START = "before start"
    START = "start"
    IDLE = "idle"
    TAXI = "taxi"
    TAKE_OFF = "take-off"
    FLIGHT = "flight"
    LANDING = "landing"
    COOL_DOWN = "cool-down"
    AFTER = "after shutdown"


@dataclass(frozen=True, slots=True)
class Phase:
    """One span of one phase; spans cover the whole log without overlap."""

    name: PhaseName
    start_s: float
    end_s: float

    @property
    def duration_s(self) -> float:
        """Length, s."""
        return self.end_s - self.start_s


@dataclass(frozen=True, slots=True)
class Phases:
    """All phases of a flight, and from which channels they were told.

    ``take_off_s`` and ``touch_down_s`` are the first lift-off and the last touch-down, ``None`` where never
    airborne or not to be told. ``airborne_s`` is the total time off the ground.
    """

    phases: tuple[Phase, ...]
    take_off_s: float | None
    touch_down_s: float | None
    airborne_s: float
    told_by: tuple[str, ...]
    missing: tuple[Missing, ...] = ()

    def spans(self, *names: PhaseName) -> tuple[tuple[float, float], ...]:
        """Spans (start_s, end_s) of the named phases."""
        return tuple((p.start_s, p.end_s) for p in self.phases if p.name in names)

    @property
    def airborne_span(self) -> tuple[float, float] | None:
        """First lift-off to last touch-down, ``None`` where never airborne."""
        if self.take_off_s is None or self.touch_down_s is None:
            return None
        return self.take_off_s, self.touch_down_s


Mask = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class _Engines:
    """What the engines tell on the grid."""

    turning: Mask
    running: Mask
    told_by: tuple[str, ...]


def find_phases(telemetry: Telemetry) -> Phases:
    """Cut a flight into phases from shaft speed, exhaust temperature, ground speed, height and airspeed.

    Returns
    -------
    Phases
        Covers 0 to the end of the log. Where nothing tells airborne from not, ``take_off_s`` is ``None`` and
        :attr:`Phases.missing` says which channel would supply it.
    """
    end = telemetry.duration_s
    grid = np.arange(0.0, max(end, STEP_S) + STEP_S / 2, STEP_S)
    engines = _engines(telemetry, grid)
    speed, speed_by = _speed(telemetry, grid)
    height, height_by = _height(telemetry, grid, speed)
    airborne, air_by, missing = _airborne(telemetry, grid, speed, height)
    told_by = tuple(dict.fromkeys((*engines.told_by, *speed_by, *height_by, *air_by)))

    code = np.full(grid.size, list(PhaseName).index(PhaseName.BEFORE_START))
    names = list(PhaseName)

    def put(where: Mask, name: PhaseName) -> None:
        code[where] = names.index(name)

    on_ground = ~airborne
    slow = on_ground & ~(np.nan_to_num(speed) > MOVING_M_S)
    if engines.told_by:
        ever = np.flatnonzero(engines.running)
        first, last = (int(ever[0]), int(ever[-1])) if ever.size else (grid.size, -1)
        index = np.arange(grid.size)
        put(engines.turning & (index < first), PhaseName.START)
        between = (index >= first) & (index <= last)
        put(between & slow, PhaseName.IDLE)
        put(between & on_ground & ~slow, PhaseName.TAXI)
        # A restart between two runs on the ground is a start again.
        put(between & ~engines.running & engines.turning & on_ground & slow, PhaseName.START)
        after = index > last
        put(after & (last >= 0), PhaseName.AFTER)
        put(after & _cooling(telemetry, grid, engines, last), PhaseName.COOL_DOWN)
    else:
        put(on_ground & ~slow, PhaseName.TAXI)
        put(slow, PhaseName.IDLE)
    put(airborne, PhaseName.FLIGHT)
    hops = runs_of(airborne)
    for k, (a, b) in enumerate(hops):  # a loop over hops, of which a flight has few
        before = slice(hops[k - 1][1] if k else 0, a)
        put(_within(grid.size, *_roll(before, speed)), PhaseName.TAKE_OFF)
        climbed = np.flatnonzero(~(height[a:b] < CLIMBED_OUT_M))
        out = a + min(int(climbed[0]) if climbed.size else b - a, int(8 / STEP_S))
        put(_within(grid.size, a, out), PhaseName.TAKE_OFF)
        high = np.flatnonzero(height[a:b] > FINAL_M)
        final = a + (int(high[-1]) + 1 if high.size else 0)
        final = max(final, b - int(LONGEST_FINAL_S / STEP_S), out)
        put(_within(grid.size, final, b), PhaseName.LANDING)
        after_touch = slice(b, hops[k + 1][0] if k + 1 < len(hops) else grid.size)
        fast = np.flatnonzero(~(np.nan_to_num(speed[after_touch]) > ROLL_M_S))
        rolled = b + (int(fast[0]) if fast.size else 0)
        put(_within(grid.size, b, rolled), PhaseName.LANDING)
    return Phases(
        phases=_spans(code, grid, end, names),
        take_off_s=float(grid[hops[0][0]]) if hops else None,
        touch_down_s=float(min(grid[min(hops[-1][1], grid.size - 1)], end)) if hops else None,
        airborne_s=float(airborne.sum() * STEP_S),
        told_by=told_by,
        missing=missing,
    )


def _engines(telemetry: Telemetry, grid: FloatArray) -> _Engines:
    turning, running = np.zeros(grid.size, bool), np.zeros(grid.size, bool)
    told: list[str] = []
    for side in telemetry.instances("engine"):
        rpm, egt = f"engine.{side}.speed_rpm", f"engine.{side}.egt_c"
        if telemetry.has(rpm):
            v = telemetry.series(rpm).values
            top = float(v.max()) if v.size else 0.0
            if top < 5_000.0:
                told.append(rpm)
                continue
            idle = idle_speed(v)
            on_grid = np.nan_to_num(telemetry.at(rpm, grid, max_gap_s=5.0))
            turning |= on_grid > 0.02 * top
            running |= ndimage.binary_closing(on_grid > 0.85 * idle, iterations=round(2 / STEP_S))
            told.append(rpm)
        elif telemetry.has(egt):
            on_grid = np.nan_to_num(telemetry.at(egt, grid, max_gap_s=5.0))
            running |= on_grid > LIT_EGT_C
            turning |= on_grid > LIT_EGT_C
            told.append(egt)
    if not told:
        for tank in telemetry.instances("fuel"):
            flow = f"fuel.{tank}.flow_ml_per_min"
            if telemetry.has(flow):
                on_grid = np.nan_to_num(telemetry.at(flow, grid, max_gap_s=5.0))
                running |= on_grid > 10.0
                turning |= running
                told.append(flow)
    return _Engines(turning, running, tuple(told))


def idle_speed(speed_rpm: FloatArray) -> float:
    """Idle shaft speed, rpm: the commonest speed between 15 % and 55 % of the highest, from a histogram.

    Falls back to a quarter of the highest speed where the log never idles.
    """
    top = float(speed_rpm.max())
    low = speed_rpm[(speed_rpm > 0.15 * top) & (speed_rpm < 0.55 * top)]
    if low.size < 10:
        return 0.25 * top
    counts, edges = np.histogram(low, bins=40, range=(0.15 * top, 0.55 * top))
    k = int(counts.argmax())
    return float(np.median(low[(low >= edges[k]) & (low <= edges[k + 1])]))


def _speed(telemetry: Telemetry, grid: FloatArray) -> tuple[FloatArray, tuple[str, ...]]:
    for name in ("position.ground_speed_m_s", "motion.airspeed_m_s"):
        if telemetry.has(name):
            return telemetry.at(name, grid, max_gap_s=5.0), (name,)
    return np.full(grid.size, np.nan), ()


def _height(telemetry: Telemetry, grid: FloatArray, speed: FloatArray) -> tuple[FloatArray, tuple[str, ...]]:
    """Height above the ground the flight began on, smoothed over a second so that noise does not hop."""
    for name in ("position.height_m", "motion.pressure_altitude_m", "position.altitude_m"):
        if not telemetry.has(name):
            continue
        height = telemetry.at(name, grid, max_gap_s=5.0)
        seen = np.flatnonzero(np.isfinite(height))
        if seen.size == 0:
            continue
        # Without any speed nothing says how long it stood still: only the first seconds are the ground.
        still = np.isfinite(height) & np.isfinite(speed) & ~(speed > AIRBORNE_M_S)
        moved = np.flatnonzero(speed > AIRBORNE_M_S)
        if moved.size:
            still[moved[0] :] = False
        ground = height[still] if still.sum() >= 5 else height[seen[: max(5, int(5 / STEP_S))]]
        filled = np.interp(grid, grid[seen], height[seen]) - float(np.median(ground))
        return ndimage.uniform_filter1d(filled, max(1, round(1 / STEP_S))), (name,)
    return np.full(grid.size, np.nan), ()


def _airborne(
    telemetry: Telemetry, grid: FloatArray, speed: FloatArray, height: FloatArray
) -> tuple[Mask, tuple[str, ...], tuple[Missing, ...]]:
    have_speed, have_height = bool(np.isfinite(speed).any()), bool(np.isfinite(height).any())
    cost = "take-off and landing are told less sharply"
    missing: tuple[Missing, ...] = ()
    by: tuple[str, ...] = ()
    if have_speed and have_height:
        # Fast alone is a take-off roll, high alone is a drifting altimeter; high and not standing still is flight.
        air = (height > AIRBORNE_HEIGHT_M) & (speed > AIRBORNE_M_S)
        air |= (height > 3 * AIRBORNE_HEIGHT_M) & (speed > AIRBORNE_M_S / 3)
    elif have_speed:
        air = np.nan_to_num(speed) > max(AIRBORNE_M_S, 0.35 * float(np.nanquantile(speed, 0.95)))
        missing = (Missing("phases", "height", cost, "log GPS altitude or pressure altitude"),)
    elif have_height:
        air = height > 2 * AIRBORNE_HEIGHT_M
        missing = (Missing("phases", "ground speed", cost, "log GPS speed or airspeed"),)
    else:
        air, by = _airborne_by_power(telemetry, grid)
        lacking = "speed and height"
        what = (
            "airborne time is told from engine power alone and may be off by a minute"
            if by
            else "airborne time, and everything per minute of flight, can't be told"
        )
        missing = (Missing("phases", lacking, what, "log GPS or a pressure altimeter"),)
    air = ndimage.binary_closing(air, iterations=max(1, round(TOUCH_S / STEP_S / 2)))
    air = ndimage.binary_opening(air, iterations=max(1, round(SHORTEST_FLIGHT_S / STEP_S / 2)))
    return np.asarray(air, bool), by, missing


def _airborne_by_power(telemetry: Telemetry, grid: FloatArray) -> tuple[Mask, tuple[str, ...]]:
    """First to last time at high power: the best a log without speed and height gives."""
    names = [f"engine.{side}.speed_rpm" for side in telemetry.instances("engine")]
    for name in (*names, "control.throttle_percent"):
        if not telemetry.has(name):
            continue
        v = np.nan_to_num(telemetry.at(name, grid, max_gap_s=5.0))
        top = float(v.max())
        if top <= 0:
            continue
        high = np.asarray(ndimage.binary_opening(v > 0.7 * top, iterations=round(1.5 / STEP_S)), bool)
        at = np.flatnonzero(high)
        if at.size:
            return _within(grid.size, int(at[0]), int(at[-1]) + 1), (name,)
    return np.zeros(grid.size, bool), ()


def _cooling(telemetry: Telemetry, grid: FloatArray, engines: _Engines, last: int) -> Mask:
    """After the last run: while hot, else while still turning."""
    hot = np.zeros(grid.size, bool)
    seen = False
    for side in telemetry.instances("engine"):
        name = f"engine.{side}.egt_c"
        if telemetry.has(name):
            seen = True
            hot |= np.nan_to_num(telemetry.at(name, grid, max_gap_s=10.0)) > COLD_EGT_C
    cooling = hot if seen else engines.turning
    out = np.zeros(grid.size, bool)
    if last < 0 or last + 1 >= grid.size:
        return out
    tail = cooling[last + 1 :] | engines.turning[last + 1 :]
    still = np.flatnonzero(tail)
    if still.size:
        out[last + 1 : last + 2 + int(still[-1])] = True
    return out


def _roll(before: slice, speed: FloatArray) -> tuple[int, int]:
    """The take-off roll: from the last time slower than a walk up to lift-off, at most 20 s."""
    start, stop = before.start, before.stop
    start = max(start, stop - round(20 / STEP_S))
    slow = np.flatnonzero(~(speed[start:stop] > ROLL_M_S)) if np.isfinite(speed[start:stop]).any() else np.empty(0, int)
    return (start + int(slow[-1]) + 1 if slow.size else start, stop) if np.isfinite(speed).any() else (stop, stop)


def _within(n: int, start: int, stop: int) -> Mask:
    out = np.zeros(n, bool)
    out[start:stop] = True
    return out


def _spans(code: npt.NDArray[np.int_], grid: FloatArray, end: float, names: list[PhaseName]) -> tuple[Phase, ...]:
    heads = np.flatnonzero(np.r_[True, np.diff(code) != 0])
    starts = grid[heads]
    stops = np.r_[starts[1:], end]
    return tuple(
        Phase(names[int(code[h])], float(a), float(b))
        for h, a, b in zip(heads, starts, stops, strict=True)
        if b > a or heads.size == 1
    )
