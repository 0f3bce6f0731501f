"""The lowest voltage of one pack had every other on its bus failed.

Two questions are put of each pack, and the lower answer judges:

* *the other failed at once, now*, at any moment of the flight: this pack then takes over the other's load one second
  long, at its voltage and charge of that moment;
* *the other had failed before take-off*: this pack has carried all the load since then. It has given all the charge,
  so it lies deeper on its curve, its resistance is that of a deeper charge state, and every slow drop has settled.

The second needs the curve below what the flight itself showed. It is continued by every published make's curve, each
read at this flight's own rest voltages, so that make and capacity belong together. What the makes differ by is the
error of one more make (Student's prediction interval), what a make's possible capacities differ by comes on top.
"""

from __future__ import annotations

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from analyser.core.aircraft import Pack
from analyser.core.figures import Z95, Figure, FloatArray, Method
from analyser.core.findings import Part, say
from analyser.packs.bus.alone import Flown
from analyser.packs.bus.continuation import curves_of, makes_apart
from analyser.packs.bus.feed_path import FeedPath
from analyser.packs.bus.load import GRID_S
from analyser.packs.bus.member import BusPack, Load
from analyser.packs.codes import PackCode
from analyser.packs.reference_state import MAKES, coldness
from analyser.packs.state_of_charge import hidden_share

RATIOS = np.array([0.7, 0.85, 1.0, 1.15, 1.35])
"""Factors that the others' currents may have against the survivor's own: every figure is worked out for each, so that
it can be read at whatever the sensors' scales turn out to be. Only that ratio matters: a sensor off by itself shows a
resistance off the other way, and the drop is right."""
AS_READ = 2
"""Where one is among them."""
CELL_HEAT_J_PER_K_AH = 20.0
"""Heat that warms a lithium cell by a kelvin, for each ampere hour: 20 g/Ah at 1 J/(g K) (common practice, no
source)."""


class Readings(Struct, frozen=True):
    """A survivor's lowest voltage, V, for each of :data:`RATIOS`, and how far the truth may lie below and above, V.

    ``below`` and ``above`` leave out the sensors' scales.
    """

    volts: tuple[float, ...]
    below: float
    above: float

    def at(self, ratio: float, relative_se: float) -> tuple[float, float, float]:
        """Value, low and high end at 95 % where the others' currents are ``ratio`` times what they read, so closely."""
        spread = Z95 * relative_se
        value, less, more = np.interp(ratio * np.array([1.0, 1.0 - spread, 1.0 + spread]), RATIOS, self.volts)
        down = float(np.hypot(self.below, max(value - more, 0.0)))
        up = float(np.hypot(self.above, max(less - value, 0.0)))
        return float(value), float(value) - down, float(value) + up


class Survivor(Struct, frozen=True):
    """One pack had every other on its bus failed.

    ``failed_now_v`` and ``failed_before_v`` are its lowest voltages for either question, at ``now_at_s`` and
    ``before_at_s``; ``empty_at_s`` is when it would have run empty, ``None`` where it would not. ``carries`` judges the
    lower by the brown-out level: ``None`` where no level is stated, either is unknown or an interval straddles it.
    ``now`` and ``before`` are what both are read from.
    """

    failed_now_v: Figure
    now_at_s: float
    failed_before_v: Figure
    before_at_s: float | None
    empty_at_s: float | None
    carries: bool | None
    now: Readings
    before: Readings | None

    @property
    def lowest_v(self) -> Figure:
        """The lower of the two."""
        known = [f for f in (self.failed_now_v, self.failed_before_v) if f.value is not None]
        return min(known, key=lambda f: f.value or 0.0)

    @property
    def lowest_at_s(self) -> float:
        """When that was."""
        at = self.now_at_s if self.lowest_v is self.failed_now_v else self.before_at_s
        return self.now_at_s if at is None else at


def survivor_of(role: str, pack: BusPack, load: Load, path: FeedPath) -> Survivor:
    """A survivor by the sensors as they read; :func:`judged` brings it to their scales."""
    rest_v = np.interp(load.time_s, pack.circuit.time_s, pack.circuit.reference_v)
    now, now_readings, now_at = _failed_now(role, pack, load, path, rest_v)
    before, before_readings, before_at, empty_at = _failed_before(role, pack, load, path, rest_v)
    if not pack.declared:
        doubt = say(PackCode.USE_BY_ROLE, pack=Part(f"pack.{role}"))
        now, before = now.with_doubt(doubt), before.with_doubt(doubt)
    return Survivor(
        failed_now_v=now,
        now_at_s=now_at,
        failed_before_v=before,
        before_at_s=before_at,
        empty_at_s=empty_at,
        carries=None,
        now=now_readings,
        before=before_readings,
    )


def judged(one: Survivor, ratio: float, relative_se: float, level: float | None) -> Survivor:
    """The same survivor where the others' currents are ``ratio`` times what they read, against its own."""
    now = _read(one.failed_now_v, one.now, ratio, relative_se)
    before = _read(one.failed_before_v, one.before, ratio, relative_se)
    return replace(one, failed_now_v=now, failed_before_v=before, carries=_carries((now, before), level))


def _read(figure: Figure, readings: Readings | None, ratio: float, relative_se: float) -> Figure:
    if readings is None:
        return figure
    value, low, high = readings.at(ratio, relative_se)
    # A pack that cannot give the load collapses towards nought and no further.
    return figure.set_to(value, low, high).at_least(0.0)


def _carries(figures: tuple[Figure, ...], level: float | None) -> bool | None:
    """Whether every whole interval lies above the level, or any below it; else nobody knows."""
    if level is None:
        return None
    if any(f.high is not None and f.high < level for f in figures):
        return False
    return True if all(f.low is not None and f.low > level for f in figures) else None


def _failed_now(
    role: str, pack: BusPack, load: Load, path: FeedPath, rest_v: FloatArray
) -> tuple[Figure, Readings, float]:
    """Lowest voltage over the flight one second after the others' load came onto this pack, and when."""
    c = pack.circuit
    # The fitted voltage, not the sample: the lowest of many noisy samples is lower than the truth. The fit stands on an
    # even grid, where a peak between two of its instants is flattened: the ohmic drop is taken of the load itself.
    level = c.fitted_v + c.r0_ohm * np.interp(c.time_s, *pack.current)
    fitted = np.interp(load.time_s, c.time_s, level) - c.r0_ohm * load.own_a
    others_a = RATIOS[:, None] * load.others_a
    every = fitted - others_a * c.one_second_ohm - path.drop(load.own_a + others_a)
    given = every[AS_READ]
    at = int(given.argmin())
    path_se = path.se_v(load.own_a[at] + load.taken_a[at])
    half = Z95 * float(np.linalg.norm([load.others_a[at] * c.one_second_se, c.scatter_v, path_se]))
    label = say(PackCode.FAILED_NOW, pack=Part(f"pack.{role}"))
    how = say(PackCode.SURVIVOR_NOW, others_a=float(load.others_a[at]), at_s=float(load.time_s[at]), at_bus=path.known)
    unseen = load.unseen(rest_v - given)
    readings = Readings(tuple(every.min(axis=1).tolist()), float(np.hypot(half, unseen)), half)
    figure = Figure(label, float(given[at]), "V", Method.ESTIMATED, how=how, digits=2)
    return figure, readings, float(load.time_s[at])


def _failed_before(
    role: str, pack: BusPack, load: Load, path: FeedPath, rest_v: FloatArray
) -> tuple[Figure, Readings | None, float | None, float | None]:
    """Lowest voltage had this pack carried everything since take-off, when, and when it would have run empty."""
    label = say(PackCode.FAILED_BEFORE, pack=Part(f"pack.{role}"))
    given = np.cumsum(load.own_a) * GRID_S / 3.6
    curves = list(curves_of(pack, float(given[-1])))
    if not curves:
        known = pack.pack is not None and pack.pack.rated_mah is not None
        why = say(PackCode.NO_STATE_BEFORE if known else PackCode.NO_PACK_FACTS)
        return Figure.unavailable(label, "V", why), None, None, None
    flight = Flown.of(pack.circuit, load, given, rest_v)
    alone, growth = flight.under(path), flight.growth(curves)
    runs = [alone.lowest(*each) for each in zip(curves, growth, strict=True)]
    lows = np.array([r.volts for r in runs])
    usual = int(np.argsort(lows)[lows.size // 2])
    middle, curve = runs[usual], (curves[usual], growth[usual])
    volts = tuple(middle.volts if k == 1.0 else flight.under(path, k).lowest(*curve).volts for k in RATIOS.tolist())
    c, rated = pack.circuit, pack.pack.rated_mah if pack.pack else None
    amps = float(alone.amps[middle.at])
    # What the fit took for rest voltage but is a slow drop grows with the load.
    slow = hidden_share(c) * c.settled_ohm * float(load.others_a.mean())
    sources = [amps * c.one_second_se, c.scatter_v, amps * middle.ohm * middle.ohm_se, path.se_v(amps), slow / Z95]
    own = Z95 * float(np.linalg.norm(sources))
    make_down, make_up = makes_apart(curves, lows, middle.volts, pack.pack or Pack(""))
    down = float(np.linalg.norm([own, make_down, load.unseen(middle.drop_v)]))
    warmed = amps * middle.ohm * _less_when_warm(pack, load, middle.at, rated)
    up = float(np.linalg.norm([own, make_up, warmed]))
    empty = float(load.time_s[middle.empty]) if middle.empty is not None else None
    how = say(PackCode.SURVIVOR_THROUGHOUT, at_s=float(load.time_s[middle.at]), at_bus=path.known)
    figure = Figure(label, middle.volts, "V", Method.ESTIMATED, how=how, digits=2)
    if empty is not None:
        figure = figure.with_doubt(say(PackCode.EMPTY_AT, pack=Part(f"pack.{role}"), at_s=empty))
    return figure, Readings(volts, down, up), float(load.time_s[middle.at]), empty


def _less_when_warm(pack: BusPack, load: Load, at: int, rated_mah: float | None) -> float:
    """Share by which its own heat would lower the resistance at most: all of it kept in the cells until then."""
    if pack.pack is None or not rated_mah:
        return 0.0
    more = np.square(load.own_a + load.taken_a) - np.square(load.own_a)
    joules = float(np.maximum(more[: at + 1], 0.0).sum()) * GRID_S * pack.circuit.settled_ohm
    kelvin = joules / (CELL_HEAT_J_PER_K_AH * pack.pack.cells * rated_mah / 1000.0)
    return 1.0 - float(np.exp(MAKES.j_per_mol * coldness(25.0 + min(kelvin, 40.0))))
