"""Start, idle, taxi, take-off, flight, landing, cool-down: the flight cut into phases from whatever channels exist.

Engines tell start, running and cool-down (shaft speed, else exhaust temperature, else flow or pump drive).
Ground speed or airspeed together with height tell airborne from not; either alone is weaker and said so, and how
sharply lift-off and touch-down are told goes with them, for every figure that counts from one to the other.
The thresholds are common practice, no source, chosen wide of any model that flies.
"""

from __future__ import annotations

from collections.abc import Callable
from enum import StrEnum

import numpy as np
import numpy.typing as npt
from msgspec import Struct
from scipy import ndimage

from analyser.core.codes import CoreCode
from analyser.core.events import runs_of
from analyser.core.figures import Figure, FloatArray, Method, Missing
from analyser.core.findings import Part, say
from analyser.core.lift_off import over_ground, to_the_wheels
from analyser.core.statistics.robust import median
from analyser.core.telemetry import Telemetry

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
BY_HEIGHT_S, BY_SPEED_S = 5.0, 8.0
"""How far lift-off and touch-down may be off where height alone, or speed alone, tells them."""
FLIGHT_SPEED, FLIGHT_THROTTLE = 0.7, 0.35
"""Share of the highest shaft speed, or of the highest throttle, that only flying asks for longer than a moment."""
ROLL_S, LONGEST_ROLL_S = 8.0, 25.0
"""From full power to lift-off: usual, and longest. Taken only where nothing but engine power is logged."""
LONGEST_APPROACH_S = 60.0
LONGEST_GLIDE_S = 20.0
"""From closing the throttle to touch-down."""
RUN_UP_S = 30.0
"""Power for less than this, with a long idle on both sides, is a run-up on the ground."""
SETTLED_IDLE_S, LONGEST_IDLE_ALOFT_S = 5.0, 20.0
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


class Phase(Struct, frozen=True):
    """One span of one phase; spans cover the whole log without overlap."""

    name: PhaseName
    start_s: float
    end_s: float

    @property
    def duration_s(self) -> float:
        """Length, s."""
        return self.end_s - self.start_s


class Phases(Struct, frozen=True):
    """All phases of a flight, and from which channels they were told.

    ``take_off_s`` and ``touch_down_s`` are the first lift-off and the last touch-down, ``None`` where never
    airborne or not to be told. ``airborne_s`` is the total time off the ground. The ``_between_s`` are the earliest
    and latest instants that the channels leave open (95 %, judged, not fitted).
    """

    phases: tuple[Phase, ...]
    take_off_s: float | None
    touch_down_s: float | None
    airborne_s: float
    told_by: tuple[str, ...]
    missing: tuple[Missing, ...] = ()
    take_off_between_s: tuple[float, float] | None = None
    touch_down_between_s: tuple[float, float] | None = None

    def spans(self, *names: PhaseName) -> tuple[tuple[float, float], ...]:
        """Spans (start_s, end_s) of the named phases."""
        return tuple((p.start_s, p.end_s) for p in self.phases if p.name in names)

    def by_name(self) -> tuple[list[PhaseName], FloatArray, list[int]]:
        """The names that the flight has, start and end of each phase, s, shape (n, 2), and the place of its name."""
        names = [name for name in PhaseName if any(p.name is name for p in self.phases)]
        spans = np.array([(p.start_s, p.end_s) for p in self.phases])
        return names, spans, [names.index(p.name) for p in self.phases]

    @property
    def airborne_span(self) -> tuple[float, float] | None:
        """First lift-off to last touch-down, ``None`` where never airborne."""
        if self.take_off_s is None or self.touch_down_s is None:
            return None
        return self.take_off_s, self.touch_down_s

    def reach(self, of_spans: Callable[[FloatArray, FloatArray], FloatArray]) -> tuple[float, float]:
        """How much lower and higher something worked out over the airborne span may be for its unsure ends.

        Parameters
        ----------
        of_spans : callable
            Given lift-offs and touch-downs, s, arrays of shape (n,), returns the values.

        Returns
        -------
        float, float
            Both zero or more, in the value's unit; the two ends are taken as independent.
        """
        span = self.airborne_span
        if span is None:
            return 0.0, 0.0
        first = [(a, span[1]) for a in self.take_off_between_s or () if a < span[1]]
        last = [(span[0], b) for b in self.touch_down_between_s or () if b > span[0]]
        values = of_spans(*np.array([span, *first, *last]).T)
        early, late = np.split(values[1:] - values[0], [len(first)])
        down = np.hypot(early.min(initial=0.0), late.min(initial=0.0))
        up = np.hypot(early.max(initial=0.0), late.max(initial=0.0))
        return float(down), float(up)

    @property
    def airborne_min(self) -> Figure:
        """Time off the ground, with an interval for how sharply its ends are told."""
        if self.take_off_s is None:
            why = next((m.what for m in self.missing if m.subject == "phases"), "")
            lacking = say(CoreCode.NOT_TOLD_WITHOUT, what=why) if why else say(CoreCode.NEVER_AIRBORNE)
            return Figure.unavailable(say(CoreCode.AIRBORNE), "min", lacking)
        down, up = self.reach(lambda a, b: (b - a) / 60.0)
        minutes = self.airborne_s / 60.0
        how = say(CoreCode.FROM_CHANNELS, channels=tuple(map(Part, self.told_by)))
        low, high = max(minutes - down, 0.0), minutes + up
        return Figure(say(CoreCode.AIRBORNE), minutes, "min", Method.ESTIMATED, low=low, high=high, how=how)


Mask = npt.NDArray[np.bool_]


class _Engines(Struct, frozen=True, eq=False):
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
    air = _airborne(telemetry, grid, speed, height, height_by)
    airborne = air.mask
    told_by = tuple(dict.fromkeys((*engines.told_by, *speed_by, *height_by, *air.told_by)))

    code = np.full(grid.size, list(PhaseName).index(PhaseName.BEFORE_START))
    names = list(PhaseName)

    def put(where: Mask | slice, name: PhaseName) -> None:
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
        put(_roll(before, speed), PhaseName.TAKE_OFF)
        climbed = np.flatnonzero(~(height[a:b] < CLIMBED_OUT_M))
        out = a + min(int(climbed[0]) if climbed.size else b - a, int(8 / STEP_S))
        put(slice(a, out), PhaseName.TAKE_OFF)
        high = np.flatnonzero(height[a:b] > FINAL_M)
        final = a + (int(high[-1]) + 1 if high.size else 0)
        final = max(final, b - int(LONGEST_FINAL_S / STEP_S), out)
        put(slice(final, b), PhaseName.LANDING)
        after_touch = slice(b, hops[k + 1][0] if k + 1 < len(hops) else grid.size)
        fast = np.flatnonzero(~(np.nan_to_num(speed[after_touch]) > ROLL_M_S))
        rolled = b + (int(fast[0]) if fast.size else 0)
        put(slice(b, rolled), PhaseName.LANDING)
    return Phases(
        phases=_spans(code, grid, end, names),
        take_off_s=float(grid[hops[0][0]]) if hops else None,
        touch_down_s=float(min(grid[min(hops[-1][1], grid.size - 1)], end)) if hops else None,
        airborne_s=float(airborne.sum() * STEP_S),
        told_by=told_by,
        missing=air.missing,
        take_off_between_s=_clipped(air.first, end) if hops else None,
        touch_down_between_s=_clipped(air.last, end) if hops else None,
    )


def _clipped(between: tuple[float, float], end_s: float) -> tuple[float, float]:
    return min(max(between[0], 0.0), end_s), min(max(between[1], 0.0), end_s)


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
    """Idle shaft speed, rpm: the lowest speed between 15 % and 55 % of the highest that the engine keeps to.

    Kept to is a speed that holds a quarter as many samples as the most usual one of that range: a long taxi at one
    speed above idle is not taken for it. Falls back to a quarter of the highest speed where the log never idles.
    """
    top = float(speed_rpm.max())
    low = speed_rpm[(speed_rpm > 0.15 * top) & (speed_rpm < 0.55 * top)]
    if low.size < 10:
        return 0.25 * top
    counts, edges = np.histogram(low, bins=40, range=(0.15 * top, 0.55 * top))
    k = int(np.flatnonzero(counts >= 0.25 * counts.max())[0])
    k += int(counts[k : k + 3].argmax())
    return median(low[(low >= edges[k]) & (low <= edges[k + 1])])


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
        filled = np.interp(grid, grid[seen], height[seen]) - median(ground)
        return ndimage.uniform_filter1d(filled, max(1, round(1 / STEP_S))), (name,)
    return np.full(grid.size, np.nan), ()


class _Air(Struct, frozen=True, eq=False):
    """Airborne or not on the grid, and between which instants the first lift-off and the last touch-down lie."""

    mask: Mask
    first: tuple[float, float]
    last: tuple[float, float]
    told_by: tuple[str, ...] = ()
    missing: tuple[Missing, ...] = ()


def _airborne(
    telemetry: Telemetry, grid: FloatArray, speed: FloatArray, height: FloatArray, height_by: tuple[str, ...]
) -> _Air:
    have_speed, have_height = bool(np.isfinite(speed).any()), bool(np.isfinite(height).any())
    if not (have_speed or have_height):
        return _airborne_by_power(telemetry, grid)
    if have_speed and have_height:
        return _airborne_by_both(grid, speed, height, _seen(telemetry, height_by))
    cost = say(CoreCode.ENDS_LESS_SHARP)
    missing: tuple[Missing, ...] = ()
    if have_speed:
        air = _bridged(grid, speed) > max(AIRBORNE_M_S, 0.35 * float(np.nanquantile(speed, 0.95)))
        missing = (Missing("phases", say(CoreCode.HEIGHT), cost, say(CoreCode.LOG_ALTITUDE)),)
        within = BY_SPEED_S
    else:
        air = height > 2 * AIRBORNE_HEIGHT_M
        missing = (Missing("phases", say(CoreCode.GROUND_SPEED), cost, say(CoreCode.LOG_SPEED)),)
        within = BY_HEIGHT_S
    mask = _settled(air)
    up, down = _ends(grid, mask)
    return _Air(mask, (up - within, up + within), (down - within, down + within), missing=missing)


def _airborne_by_both(grid: FloatArray, speed: FloatArray, height: FloatArray, seen_s: FloatArray) -> _Air:
    """Fast alone is a take-off roll, high alone is a drifting altimeter; high and not standing still is flight."""
    speed = _bridged(grid, speed)
    fast = speed > AIRBORNE_M_S
    ground = over_ground(grid, height, ~fast, seen_s)
    air = (ground.height_m > AIRBORNE_HEIGHT_M) & fast
    air |= (ground.height_m > 3 * AIRBORNE_HEIGHT_M) & (speed > AIRBORNE_M_S / 3)
    mask, first, last = to_the_wheels(grid, ground, fast, _settled(air))
    up, down = _ends(grid, mask)
    return _Air(mask, (up - first[0], up + first[1]), (down - last[0], down + last[1]))


def _bridged(grid: FloatArray, values: FloatArray) -> FloatArray:
    """Without holes: between two readings of a flight lies flight, and no landing where nobody looked."""
    known = np.isfinite(values)
    return np.asarray(np.interp(grid, grid[known], values[known]), float)


def _seen(telemetry: Telemetry, channels: tuple[str, ...]) -> FloatArray:
    """When the height was read."""
    return telemetry.series(channels[0]).time_s if channels else np.empty(0)


def _settled(air: Mask) -> Mask:
    """Without gaps and hops too short to be any."""
    air = ndimage.binary_closing(air, iterations=max(1, round(TOUCH_S / STEP_S / 2)))
    return np.asarray(ndimage.binary_opening(air, iterations=max(1, round(SHORTEST_FLIGHT_S / STEP_S / 2))), bool)


def _ends(grid: FloatArray, air: Mask) -> tuple[float, float]:
    """First instant off the ground and first one back on it for good; noughts where never airborne."""
    at = np.flatnonzero(air)
    return (float(grid[at[0]]), float(grid[min(at[-1] + 1, grid.size - 1)])) if at.size else (0.0, 0.0)


def _airborne_by_power(telemetry: Telemetry, grid: FloatArray) -> _Air:
    """From the first flight power to the fall to idle that stays: the best a log without speed and height gives.

    Lift-off comes a roll's length after full power; touch-down about when the engine falls to idle, but not before
    flight power was last used, and not long after the throttle was closed.
    """
    power = _power(telemetry, grid)
    mask = np.zeros(grid.size, bool)
    first, last = (0.0, 0.0), (0.0, 0.0)
    high = np.flatnonzero(_lasting(power.share > power.flying, 3.0))
    idles = np.flatnonzero(_lasting(power.share < power.idling, SETTLED_IDLE_S))
    rests = np.flatnonzero(_lasting(power.share < power.idling, LONGEST_IDLE_ALOFT_S))
    apart = np.flatnonzero(np.diff(np.searchsorted(rests, high)) > 0) + 1
    for flight in np.split(high, apart):
        if flight.size == 0 or (flight[-1] - flight[0]) * STEP_S < RUN_UP_S:
            continue
        a, b = int(flight[0]), int(flight[-1])
        later = idles[np.searchsorted(idles, b) :]
        idle = int(later[0]) if later.size else grid.size - 1
        mask[min(a + round(ROLL_S / STEP_S), b) : min(idle, b + round(LONGEST_APPROACH_S / STEP_S))] = True
        first = first if first[1] else (float(grid[a]), float(grid[a]) + LONGEST_ROLL_S)
        last = float(grid[b]), float(grid[idle]) + LONGEST_GLIDE_S
    told = bool(mask.any())
    cost = say(CoreCode.AIRBORNE_BY_POWER if told else CoreCode.AIRBORNE_NOT_TOLD)
    missing = Missing("phases", say(CoreCode.SPEED_AND_HEIGHT), cost, say(CoreCode.LOG_GPS))
    return _Air(mask, first, last, power.told_by if told else (), (missing,))


def _lasting(mask: Mask, seconds: float) -> Mask:
    """Where a state holds for at least so long."""
    return np.asarray(ndimage.binary_opening(mask, np.ones(round(seconds / STEP_S), bool)), bool)


class _Power(Struct, frozen=True, eq=False):
    """Engine power on the grid as a share of its highest: above ``flying`` it flies, below ``idling`` it idles."""

    share: FloatArray
    flying: float
    idling: float
    told_by: tuple[str, ...]


def _power(telemetry: Telemetry, grid: FloatArray) -> _Power:
    def shares(names: list[str]) -> FloatArray:
        tops = [float(telemetry.series(n).values.max()) for n in names]
        on_grid = [np.nan_to_num(telemetry.at(n, grid, max_gap_s=5.0)) for n in names]
        return np.asarray(np.max([v / top for v, top in zip(on_grid, tops, strict=True)], axis=0), float)

    def alive(name: str, least: float) -> bool:
        return bool(telemetry.series(name).values.max(initial=0.0) >= least)

    engines = telemetry.instances("engine")
    speeds = [n for side in engines if alive(n := f"engine.{side}.speed_rpm", 5_000.0)]
    if speeds:
        idle = max(idle_speed(v) / float(v.max()) for v in (telemetry.series(n).values for n in speeds))
        # Well above idle's own unsteadiness, well below what an approach is flown with.
        return _Power(shares(speeds), FLIGHT_SPEED, min(1.2 * idle, 0.6), tuple(speeds))
    throttles = [n for side in engines if alive(n := f"engine.{side}.throttle_percent", 20.0)]
    throttles = throttles or [n for n in ("control.throttle_percent",) if alive(n, 20.0)]
    if throttles:
        return _Power(shares(throttles), FLIGHT_THROTTLE, 0.08, tuple(throttles))
    return _Power(np.zeros(grid.size), 1.0, 0.0, ())


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


def _roll(before: slice, speed: FloatArray) -> slice:
    """The take-off roll: from the last time slower than a walk up to lift-off, at most 20 s."""
    start, stop = before.start, before.stop
    start = max(start, stop - round(20 / STEP_S))
    if not np.isfinite(speed).any():
        return slice(stop, stop)
    slow = np.flatnonzero(~(speed[start:stop] > ROLL_M_S)) if np.isfinite(speed[start:stop]).any() else np.empty(0, int)
    return slice(start + int(slow[-1]) + 1 if slow.size else start, stop)


def _spans(code: npt.NDArray[np.int_], grid: FloatArray, end: float, names: list[PhaseName]) -> tuple[Phase, ...]:
    heads = np.flatnonzero(np.r_[True, np.diff(code) != 0])
    starts = grid[heads]
    stops = np.r_[starts[1:], end]
    return tuple(
        Phase(names[int(code[h])], float(a), float(b))
        for h, a, b in zip(heads, starts, stops, strict=True)
        if b > a or heads.size == 1
    )
