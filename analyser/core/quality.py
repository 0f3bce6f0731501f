"""Sensor truth: stuck, spiking, impossible, reset and saturated values, flagged and kept out of the analysis.

Raw values stay in the table; only masks are laid over it. The rules are deliberately slow to accuse: a real
sag, fade, surge or flame-out looks like a bad sensor too, and leaving it out would hide the one thing worth
seeing. So

* a *spike* is looked for only where inertia, heat or volume forbids a jump and return (:data:`JUMPS`);
* a channel is *stuck* only while the aircraft or its engine is known to be at work, only where the channel is
  otherwise lively at its own resolution (a coarse reading stands still by nature), never at nought and never
  where standing still is what the thing itself does (a full tank, a fade to the noise floor); a pack's own
  readings need a witness besides: its current or another voltage that went on moving meanwhile;
* a channel is *saturated* only while moving, and then only warned about.

The limits are common practice in sensor screening, no source: each is set far outside what a model jet does.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator

import numpy as np
import numpy.typing as npt
from msgspec import Struct

from analyser.core.channels import Between, ChannelName, parse
from analyser.core.codes import CoreCode
from analyser.core.figures import FloatArray
from analyser.core.findings import Finding, Part, say
from analyser.core.statistics.robust import quantiles
from analyser.core.statistics.smoothing import summed
from analyser.core.telemetry import Series, Suspect, Telemetry

Mask = npt.NDArray[np.bool_]

JUMPS: dict[tuple[str, str], tuple[float, float]] = {
    ("pack", "temperature_c"): (5.0, 5.0),
    ("fuel", "remaining_ml"): (50.0, 200.0),
    ("fuel", "remaining_percent"): (5.0, 10.0),
    ("engine", "egt_c"): (80.0, 500.0),
    ("engine", "speed_rpm"): (5_000.0, 60_000.0),
    ("position", "latitude_deg"): (2e-4, 3e-3),
    ("position", "longitude_deg"): (4e-4, 6e-3),
    ("position", "altitude_m"): (20.0, 250.0),
    ("position", "height_m"): (20.0, 250.0),
    ("position", "ground_speed_m_s"): (10.0, 120.0),
    ("motion", "airspeed_m_s"): (15.0, 150.0),
    ("motion", "pressure_altitude_m"): (20.0, 250.0),
    ("air", "temperature_c"): (5.0, 5.0),
    ("air", "pressure_pa"): (300.0, 3_000.0),
}
"""Channels that can't jump away and return at once: the smallest jump worth naming, and a rate (unit/s) no model
reaches. A spike exceeds the first plus the second times its own duration."""

FLYING = {
    ("position", "latitude_deg"),
    ("position", "longitude_deg"),
    ("position", "altitude_m"),
    ("position", "height_m"),
    ("position", "ground_speed_m_s"),
    ("attitude", "roll_deg"),
    ("attitude", "pitch_deg"),
    ("motion", "airspeed_m_s"),
    ("motion", "accel_z_m_s2"),
    ("motion", "pressure_altitude_m"),
    ("link", "rssi_dbm"),
    ("link", "antenna<n>_rssi_dbm"),
}
"""Channels that never stand still for long while the aircraft moves."""

TRAVELS = {("position", "latitude_deg"), ("position", "longitude_deg")}
"""Channels that change whenever the aircraft moves, however smoothly."""

WORKING = {
    ("fuel", "flow_ml_per_min"),
    ("fuel", "remaining_ml"),
    ("engine", "speed_rpm"),
    ("engine", "egt_c"),
}
"""Channels that never stand still for long while the aircraft moves or an engine runs at power."""

WITNESSED = {("pack", "voltage_v"), ("pack", "current_a"), ("pack", "cell<n>_v")}
"""Readings of one pack, of which one can be called stuck only where another moved meanwhile."""


def _most(channel: str) -> float:
    known = parse(channel)
    assert known is not None
    return known.channel.high


FASTEST = {
    ("fuel", "used_ml"): _most("fuel.any.flow_ml_per_min") / 60.0,
    ("pack", "used_mah"): _most("pack.any.current_a") / 3.6,
}
"""How much a second a running total can grow: with the highest rate that the quantity behind it may have."""
COARSEST_S = 1.0
"""A count may grow in steps as large as what comes together in so many seconds."""

SATURATES = {
    ("pack", "current_a"),
    ("link", "rssi_dbm"),
    ("link", "antenna<n>_rssi_dbm"),
    ("motion", "accel_x_m_s2"),
    ("motion", "accel_y_m_s2"),
    ("motion", "accel_z_m_s2"),
}
"""Channels whose sensor runs out of range before the quantity does."""
FLOOR_IS_REAL = {("pack", "current_a")}
"""What rests at its lower end because the thing itself does: a receiver's standing load."""

CODES_FOR_NONE = np.array([-32768.0, -9999.0, -999.0, -1.0, 255.0, 999.0, 1023.0, 4095.0, 9999.0, 32767.0, 65535.0])
"""Numbers that loggers write where nothing was read: all ones of 8, 10, 12 and 16 bits, and nines; common practice."""
CODE_RECURS = 3
"""So often a channel must jump to the very same of them and back."""
CODE_STANDS_OUT = 10.0
"""At a log's ends one of them must be so many times as far from the reading beside it as readings usually are."""

TURN_ALLOWANCE_DEG = 10.0
SPIKE_ROUGHNESS = 5.0
STUCK_SECONDS = 20.0
STUCK_SAMPLES = 20
STUCK_RATIO = 10.0
FRESH_SECONDS = 30.0
MOVING_M_S = 8.0
AT_POWER = 0.6
LIVELY_STEPS = 3.0


class Spell(Struct, frozen=True, eq=False):
    """When something is known to have been so: a step function over the flight's rows, summed for quick asking."""

    time_s: FloatArray
    held: Mask
    total_s: FloatArray

    @classmethod
    def of(cls, time_s: FloatArray, held: Mask) -> Spell:
        """Sum it up once."""
        return cls(time_s, held, summed(np.diff(time_s) * held[:-1]))

    def within(self, start_s: FloatArray, end_s: FloatArray) -> FloatArray:
        """Seconds of each span during which it was so; shape of the inputs."""
        inside = np.interp(end_s, self.time_s, self.total_s) - np.interp(start_s, self.time_s, self.total_s)
        return np.asarray(inside, float)

    def at(self, time_s: FloatArray) -> Mask:
        """Whether it was so at each instant, which must be row times."""
        if time_s.size == self.time_s.size:
            return self.held
        return np.asarray(self.held[np.searchsorted(self.time_s, time_s).clip(0, self.held.size - 1)], bool)


def screen(telemetry: Telemetry, among: Collection[str] | None = None) -> Telemetry:
    """Flag samples that are not to be believed; raw values stay in the table.

    Parameters
    ----------
    telemetry : Telemetry
        As stored.
    among : collection of str, optional
        Channels to look at, where it is known from before that all samples of the others are believed.

    Returns
    -------
    Telemetry
        The same table with :attr:`Telemetry.masks` and :attr:`Telemetry.suspects` filled.
    """
    masks: dict[str, Mask] = {}
    suspects: list[Suspect] = []
    names = telemetry.channels if among is None else [c for c in telemetry.channels if c in among]
    if not names:
        return telemetry.screened(masks, suspects)
    flying = _flying(telemetry)
    working = _working(telemetry, flying)
    for name in names:
        parsed = parse(name)
        if parsed is None:  # pragma: no cover - channels are known by definition
            continue
        series = telemetry.series(name, raw=True)
        bad = np.zeros(series.time_s.size, bool)
        for kind, found, note, excluded in _findings(name, parsed, series, telemetry, flying, working):
            at = series.time_s[found]
            suspects.append(Suspect(name, kind, float(at[0]), float(at[-1]), int(found.sum()), note, excluded))
            if excluded:
                bad |= found
        if bad.any():
            mask = np.zeros(telemetry.table.num_rows, bool)
            mask[np.searchsorted(telemetry.time_s, series.time_s[bad])] = True
            masks[name] = mask
    return telemetry.screened(masks, suspects)


def screen_again(telemetry: Telemetry, suspects: Iterable[Suspect]) -> Telemetry:
    """Screen a flight's telemetry that was analysed before: the same as :func:`screen`, for a fraction of the time.

    Parameters
    ----------
    telemetry : Telemetry
        As stored.
    suspects : iterable of Suspect
        What its analysis doubted; it looked at no parts that are unsettled.
    """
    return screen(telemetry, None if telemetry.unsettled else {s.channel for s in suspects})


def _findings(
    name: str, parsed: ChannelName, series: Series, telemetry: Telemetry, flying: Spell, working: Spell
) -> Iterator[tuple[str, Mask, Finding, bool]]:
    channel, here = parsed.channel, Part(name)
    t, v = series
    key = (channel.subject, channel.quantity)
    # An attitude read with noise, or not brought back into its own turn, may stand a little past a half or whole one.
    past = TURN_ALLOWANCE_DEG if channel.unit == "°" and key not in TRAVELS else 0.0
    impossible = np.zeros(v.size, bool)
    if v.size and (v.min() < channel.low - past or v.max() > channel.high + past):
        impossible = (v < channel.low - past) | (v > channel.high + past)
        worst = v[impossible][np.abs(v[impossible]).argmax()]
        note = say(
            CoreCode.IMPOSSIBLE_SAMPLES,
            channel=here,
            samples=int(impossible.sum()),
            low=channel.low,
            high=channel.high,
            unit=channel.unit,
            worst=float(worst),
        )
        yield "impossible", impossible, note, True
    if key in TRAVELS:
        nowhere = _nowhere(series, telemetry, TRAVELS - {key})
        if nowhere.any():
            yield "impossible", nowhere, say(CoreCode.NO_FIX, channel=here, samples=int(nowhere.sum())), True
            impossible |= nowhere
    good = ~impossible
    if channel.between is Between.COUNTER:
        resets = np.zeros(v.size, bool)
        # A total that is worked out, not counted, may waver by a little without having started anew.
        resets[good] = np.r_[False, np.diff(v[good]) <= -np.maximum(1.0, 0.02 * v[good][:-1])]
        if resets.any():
            yield "reset", resets, say(CoreCode.COUNT_FELL, channel=here, times=int(resets.sum())), False
        if key in FASTEST:
            leaps = np.zeros(v.size, bool)
            known_s, known = _only(good, t, v)
            leaps[good] = np.r_[False, np.diff(known) > FASTEST[key] * np.maximum(np.diff(known_s), COARSEST_S)]
            if leaps.any():
                most = float(np.diff(known).max())
                note = say(CoreCode.COUNT_LEAPT, channel=here, times=int(leaps.sum()), most=most, unit=channel.unit)
                yield "impossible", leaps, note, False
        return
    if channel.between is Between.HOLD:
        return
    if key in JUMPS:
        spikes = np.zeros(v.size, bool)
        spikes[good] = _spikes(*_only(good, t, v), *JUMPS[key])
        if spikes.any():
            yield "spike", spikes, say(CoreCode.SPIKES, channel=here, samples=int(spikes.sum())), True
            good &= ~spikes
    spell = flying if key in FLYING else working
    if key in FLYING | WORKING | WITNESSED:
        stuck = np.zeros(v.size, bool)
        known_s, known = _only(good, t, v)
        for a, b in _stuck(known_s, known, spell, key):
            start_s, end_s = known_s[a], known_s[b - 1]
            if key not in WITNESSED or _witnessed(name, parsed, telemetry, start_s, end_s):
                stuck |= good & (t >= start_s) & (t <= end_s)
        if stuck.any():
            at = t[stuck]
            note = say(CoreCode.STUCK, channel=here, start_s=float(at[0]), end_s=float(at[-1]))
            yield "stuck", stuck, note, True
            good &= ~stuck
    if key in SATURATES:
        seen = good & flying.at(t)
        sign = _saturated(v[seen], (1,) if key in FLOOR_IS_REAL else (1, -1))
        if sign:
            level = sign * float((sign * v[seen]).max())
            at_end = seen & (v == level)
            yield (
                "saturated",
                at_end,
                say(CoreCode.SATURATED, channel=here, level=level, unit=channel.unit),
                False,
            )


def _nowhere(series: Series, telemetry: Telemetry, partner: set[tuple[str, str]]) -> Mask:
    """Where latitude and longitude are both exactly nought: what a receiver writes until it knows its place."""
    out = np.asarray(series.values == 0.0, bool)
    if out.any():
        subject, quantity = next(iter(partner))
        other = telemetry.series(f"{subject}.{quantity}", raw=True)
        out &= np.isin(series.time_s, other.time_s[other.values == 0.0])
    return out


def _only(good: Mask, t: FloatArray, v: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Samples that are good; the arrays themselves where all are, as in nearly every channel."""
    return (t, v) if good.all() else (t[good], v[good])


def _runs(v: FloatArray) -> tuple[npt.NDArray[np.intp], npt.NDArray[np.intp]]:
    """First and one past last of each run of one identical value; ``v`` holds one at least."""
    changes = np.ones(v.size + 1, bool)
    np.not_equal(v[1:], v[:-1], out=changes[1:-1])
    edges = np.flatnonzero(changes)
    return edges[:-1], edges[1:]


def _above(telemetry: Telemetry, name: str, limit: float) -> Mask:
    """Rows at which a channel's last sample, no older than five seconds, lay above a limit.

    A witness that has itself stood still for half a minute says nothing of the others.
    """
    t, v = telemetry.series(name, raw=True)
    rows = telemetry.time_s
    if t.size == 0:
        return np.zeros(rows.size, bool)
    last = np.arange(rows.size) if t.size == rows.size else np.searchsorted(t, rows, side="right") - 1
    changed = np.maximum.accumulate(np.where(np.r_[True, np.diff(v) != 0], t, t[0]))
    fresh = (rows - t[last] < 5.0) & (rows - changed[last] < FRESH_SECONDS)
    return np.asarray((last >= 0) & (v[last] > limit) & fresh, bool)


def _flying(telemetry: Telemetry) -> Spell:
    """When a speed says that the aircraft moves faster than it taxies."""
    held = np.zeros(telemetry.table.num_rows, bool)
    for name in ("position.ground_speed_m_s", "motion.airspeed_m_s"):
        held |= _above(telemetry, name, MOVING_M_S)
    return Spell.of(telemetry.time_s, held)


def _working(telemetry: Telemetry, flying: Spell) -> Spell:
    """When it moves, or any engine turns faster than most of its own range."""
    held = flying.held.copy()
    for side in telemetry.instances("engine"):
        name = f"engine.{side}.speed_rpm"
        v = telemetry.series(name, raw=True).values
        if v.size:
            held |= _above(telemetry, name, max(AT_POWER * quantiles(v, 0.999)[0], 20_000.0))
    return Spell.of(telemetry.time_s, held)


def _spikes(t: FloatArray, v: FloatArray, smallest: float, rate: float) -> Mask:
    """Short excursions away from both neighbours and back, faster than the quantity can and beyond its own roughness.

    A sensor slower than the log repeats its value over several rows: equal neighbours are taken together, so that
    one bad reading is one excursion at any logging rate.
    """
    out = np.zeros(v.size, bool)
    if v.size < 8 or np.abs(np.diff(v)).max() <= smallest:
        return out  # no reading leaves its neighbours far enough, as in most channels
    start, stop = _runs(v)
    if start.size < 3:
        return out
    u = v[start]
    steps = np.diff(u)
    size = np.abs(steps)
    jump = np.minimum(size[:-1], size[1:])
    spike = jump > smallest  # few are: the rest is asked of those
    some = np.flatnonzero(spike)
    some = some[steps[some] * steps[some + 1] < 0]
    codes = _codes(u[some + 1])
    coded = np.isin(u[1:-1], codes) if codes.size else np.zeros(spike.size, bool)
    lasted = t[start[some + 2]] - t[start[some + 1]]
    spike[:] = False
    spike[some] = jump[some] > smallest + rate * lasted
    ends = _codes_at_ends(t, u, start, size, smallest, rate)
    for k in ends:
        out[start[k] : stop[k]] = True
    if not spike.any() and not codes.size:
        return out
    refresh = int(np.clip(np.median(stop - start), 1, max(v.size // 100, 1)))
    w = v[::refresh]
    spike &= jump > SPIKE_ROUGHNESS * np.quantile(np.abs(w[1:-1] - 0.5 * (w[2:] + w[:-2])), 0.9)
    # One step of a coarse gauge flickering between two readings is no spike, unless it is enormous.
    spike &= (jump > 1.5 * size.min()) | (jump > 6.0 * smallest)
    # How far the neighbours themselves moved: a real manoeuvre shows there, a glitch does not.
    spike &= jump > 4.0 * np.abs(u[2:] - u[:-2])
    # Neighbours must be close in time, or the jump may be real motion nobody sampled.
    step = np.diff(t)
    near = step < 3.0 * float(np.median(step))
    spike &= near[start[1:-1] - 1] & near[stop[1:-1] - 1]
    spike |= coded
    delta = np.zeros(v.size + 1, int)
    np.add.at(delta, start[1:-1][spike], 1)
    np.add.at(delta, stop[1:-1][spike], -1)
    return np.asarray(out | (np.cumsum(delta[:-1]) > 0), bool)


def _codes_at_ends(
    t: FloatArray, u: FloatArray, start: npt.NDArray[np.intp], size: FloatArray, smallest: float, rate: float
) -> list[int]:
    """First and last runs that stand for no reading: no neighbour on the other side shows that they come back."""
    beside = ((0, 0), (u.size - 1, u.size - 2))
    return [
        k
        for k, n in beside
        if u[k] in CODES_FOR_NONE
        and size[n] > smallest + rate * float(t[start[n + 1]] - t[start[n + 1] - 1])
        and size[n] > CODE_STANDS_OUT * quantiles(size, 0.9)[0]
    ]


def _codes(jumps: FloatArray) -> FloatArray:
    """Numbers that stand for no reading, of those that a channel jumps to, alone, again and again."""
    known, times = np.unique(jumps[np.isin(jumps, CODES_FOR_NONE)], return_counts=True)
    return np.asarray(known[times >= CODE_RECURS], float)


def _stuck(t: FloatArray, v: FloatArray, spell: Spell, key: tuple[str, str]) -> list[tuple[int, int]]:
    """Runs (first, one past last) of one identical value that no live, finely read sensor gives while things move."""
    if v.size < 2 * STUCK_SAMPLES or spell.total_s[-1] <= STUCK_SECONDS:
        return []
    if not (v[STUCK_SAMPLES - 1 :] == v[: 1 - STUCK_SAMPLES]).any():
        return []  # no value comes so often in a row
    start, stop = _runs(v)
    lasting = np.flatnonzero(stop - start >= STUCK_SAMPLES)
    lasting = lasting[t[stop[lasting] - 1] - t[start[lasting]] > STUCK_SECONDS]
    if not lasting.size:
        return []  # so it is with nearly every channel: the rest is only for the few
    lasting = lasting[spell.within(t[start[lasting]], t[stop[lasting] - 1]) > STUCK_SECONDS]
    if not lasting.size:
        return []
    u = v[start]
    moving_s = spell.within(t[start], t[stop - 1])
    long = np.zeros(start.size, bool)
    long[lasting] = True
    # How the channel behaves otherwise, while things move.
    other = (spell.within(t[start], np.r_[t[start[1:]], t[-1]]) > 0) & ~long
    if other.sum() < STUCK_SAMPLES:
        return []
    steps = np.abs(np.diff(u))
    usual_step = np.median(steps[other[1:]]) if other[1:].any() else 0.0
    if usual_step < LIVELY_STEPS * np.quantile(steps, 0.01):
        return []  # read so coarsely that standing still is nothing unusual
    if key not in TRAVELS and not _wavers(u, other):
        return []  # a smooth quantity may well level out
    long &= (moving_s > STUCK_RATIO * np.quantile((t[stop - 1] - t[start])[other], 0.99)) & ~_rests(u, key[0])
    return list(zip(start[long].tolist(), stop[long].tolist(), strict=True))


def _rests(u: FloatArray, subject: str) -> Mask:
    """Values at which the thing itself may stand still: nought; a full or empty tank; a link at either end."""
    rests = u == 0.0
    if subject == "fuel":
        rests |= (u == u.max()) | (u <= 0.05 * u.max())
    if subject == "link":
        rests |= (u == u.max()) | (u == u.min())
    return np.asarray(rests, bool)


def _wavers(u: FloatArray, other: Mask) -> bool:
    """Whether successive values turn back often enough that a level run can't be the quantity's own calm."""
    steps = np.diff(u)
    turns = (steps[1:] * steps[:-1] < 0)[other[1:-1]]
    return bool(turns.size and turns.mean() > 0.02)


def _witnessed(name: str, parsed: ChannelName, telemetry: Telemetry, start_s: float, end_s: float) -> bool:
    """Whether another reading of the same pack moved about as much in this span as it does in the whole flight."""
    for other in telemetry.channels:
        known = parse(other)
        if other == name or known is None or known.instance != parsed.instance:
            continue
        if (known.channel.subject, known.channel.quantity) not in WITNESSED:
            continue
        t, v = telemetry.series(other, raw=True)
        inside = v[(t >= start_s) & (t <= end_s)]
        spread = float(np.std(np.diff(v))) if v.size > 2 else 0.0
        if inside.size > STUCK_SAMPLES and spread > 0 and float(np.std(np.diff(inside))) > 0.5 * spread:
            return True
    return False


def _saturated(v: FloatArray, ends: tuple[int, ...]) -> int:
    """+1 or −1 where values pile up at their own highest or lowest end, of those asked for; else 0.

    A pile of identical extremes that is many times as common as the values next to it means the sensor ran
    out of range. A quantity at rest at nought is a legitimate end.
    """
    if v.size < 200:
        return 0
    for sign in ends:
        w = sign * v
        end = float(w.max())
        if end == 0.0:
            continue
        at_end = w == end
        if at_end.mean() <= 0.02:
            continue
        band = (w < end) & (w >= end - 0.05 * np.ptp(w))
        runs = int((at_end[1:] & at_end[:-1]).sum())
        if at_end.sum() > 5 * max(int(band.sum()), 1) and runs > 20 and np.unique(v).size >= 30:
            return sign
    return 0
