"""Two packs on one bus: who carried the load, and would either have carried it alone.

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

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from analyser.core.aircraft import Chemistry, Pack
from analyser.core.figures import Figure, FloatArray, Method
from analyser.core.findings import Part, Text, say
from analyser.core.statistics.extremes import unseen_excess
from analyser.core.statistics.smoothing import Z95
from analyser.core.telemetry import Series
from analyser.packs.bus.feed_path import FeedPath, feed_path
from analyser.packs.bus.load import GRID_S, QUICKEST_S, bus_load
from analyser.packs.capacity import ABSURD_PERCENT, LEAST_FALL_PERCENT, SPENT_PERCENT
from analyser.packs.charge import SENSOR_SCALE_SE
from analyser.packs.chemistry import CHARGE_PERCENT, PUBLISHED, aged_curve_se
from analyser.packs.circuit import Circuit, relaxing
from analyser.packs.codes import PackCode
from analyser.packs.reference_state import CHARGE_PERCENT as RESISTANCE_CHARGE_PERCENT
from analyser.packs.reference_state import MAKES, OVER_HALF_CHARGE, coldness, of_another
from analyser.packs.state_of_charge import CAPACITY_KEPT, hidden_share

MEAN_OVER_HALF = np.mean(list(OVER_HALF_CHARGE.values()), axis=0)
"""Resistance over charge, as a share of that at half charge: the mean of all makes."""
TWO_SENSORS_SE = float(np.sqrt(2.0)) * SENSOR_SCALE_SE
"""Relative error of one unchecked current sensor against another."""
CELL_HEAT_J_PER_K_AH = 20.0
"""Heat that warms a lithium cell by a kelvin, for each ampere hour: 20 g/Ah at 1 J/(g K) (common practice, no
source)."""


@dataclass(frozen=True, slots=True)
class Survivor:
    """One pack had every other on its bus failed.

    ``failed_now_v`` and ``failed_before_v`` are its lowest voltages for either question, at ``now_at_s`` and
    ``before_at_s``; ``empty_at_s`` is when it would have run empty, ``None`` where it would not. ``carries`` judges the
    lower by the brown-out level: ``None`` where no level is stated, either is unknown or an interval straddles it.
    """

    failed_now_v: Figure
    now_at_s: float
    failed_before_v: Figure
    before_at_s: float | None
    empty_at_s: float | None
    carries: bool | None

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


@dataclass(frozen=True, slots=True)
class BusResult:
    """Packs sharing one bus: who carried the load, and could either have carried it alone.

    ``path_drop_v`` is the drop from pack to bus that does not grow with current (a diode's), ``path_resistance_mohm``
    the part that does.
    """

    name: str
    packs: tuple[str, ...]
    share_percent: dict[str, Figure]
    load_shift_percent: Figure
    worst_load_a: Figure
    alone: dict[str, Survivor]
    summary: Text
    path_drop_v: dict[str, Figure]
    path_resistance_mohm: dict[str, Figure]

    @property
    def carries_alone(self) -> dict[str, bool | None]:
        """Whether each pack would have carried the load alone."""
        return {role: one.carries for role, one in self.alone.items()}


@dataclass(frozen=True, slots=True, eq=False)
class BusPack:
    """One pack of a shared bus: its circuit, current and voltage, the pack as described, and its rest voltages.

    ``declared`` is whether the owner says that it feeds the receivers, or only its name in the log.
    """

    circuit: Circuit
    current: Series
    voltage: Series
    pack: Pack | None = None
    rest_before_v: float | None = None
    rest_after_v: float | None = None
    declared: bool = True


def share_bus(
    packs: Mapping[str, BusPack], brown_out_v: float | None, bus: Series | None = None, take_off_s: float | None = None
) -> tuple[BusResult, ...]:
    """Judge the packs that feed the receivers in one flight as one bus.

    Parameters
    ----------
    packs : mapping of role to BusPack
        Those that feed the receivers and show their resistance.
    brown_out_v : float or None
        The owner's brown-out level; without it the voltages are still given, unjudged.
    bus : Series, optional
        Voltage of the bus they share: beside the packs' own it shows what lies in between.
    take_off_s : float, optional
        From when on a pack that failed before take-off is missing; the first sample where it is not known.

    Returns
    -------
    tuple of BusResult
        Empty with fewer than two packs.
    """
    roles = tuple(packs)
    if len(roles) < 2:
        return ()
    start = max(max(p.current.time_s[0], p.circuit.time_s[0]) for p in packs.values())
    stop = min(min(p.current.time_s[-1], p.circuit.time_s[-1]) for p in packs.values())
    drawn = bus_load({r: p.current for r, p in packs.items()}, start, stop)
    if drawn is None:
        return ()
    grid, currents, total = drawn.time_s, drawn.amps, drawn.total_a
    worst = int(total.argmax())
    paths = {r: feed_path(r, p.voltage, p.current, bus) for r, p in packs.items()}
    failed_s = grid[0] if take_off_s is None else take_off_s
    alone = {
        r: _survivor(r, p, _Load(grid, currents[r], np.maximum(total - currents[r], 0.0), drawn.read, failed_s),
                     paths[r], brown_out_v)
        for r, p in packs.items()
    }  # fmt: skip
    load = Figure(
        say(PackCode.WORST_LOAD), float(total[worst]), "A", Method.INTEGRATED,
        how=say(PackCode.SUM_AT, at_s=float(grid[worst])),
    )  # fmt: skip
    return (
        BusResult(
            name="receivers",
            packs=roles,
            share_percent={r: _share(r, i, total) for r, i in currents.items()},
            load_shift_percent=_shift(roles, currents, total),
            worst_load_a=load,
            alone=alone,
            summary=_summary(alone, brown_out_v),
            path_drop_v={r: p.drop_v for r, p in paths.items()},
            path_resistance_mohm={r: p.resistance_mohm for r, p in paths.items()},
        ),
    )


def _share(role: str, current: FloatArray, total: FloatArray) -> Figure:
    part = 100.0 * float(current.sum() / max(float(total.sum()), 1e-9))
    # Two sensors of unknown scale: their ratio is as unsure as both together.
    half = Z95 * TWO_SENSORS_SE * max(part * (100.0 - part), 0.0) / 100.0
    label = say(PackCode.SHARE, pack=Part(f"pack.{role}"))
    how = say(PackCode.CHARGE_OVER_ALL)
    return Figure(label, part, "%", Method.INTEGRATED, low=part - half, high=part + half, how=how)


def _shift(roles: tuple[str, ...], currents: Mapping[str, FloatArray], total: FloatArray) -> Figure:
    first = currents[roles[0]] / np.maximum(total, 1e-9)
    thirds = np.array_split(np.flatnonzero(total > np.median(total)), 3)
    drift = 100.0 * float(first[thirds[-1]].mean() - first[thirds[0]].mean()) if thirds[0].size else 0.0
    label = say(PackCode.LOAD_SHIFT, pack=Part(f"pack.{roles[0]}"))
    return Figure(label, drift, "%", Method.INTEGRATED, how=say(PackCode.LAST_LESS_FIRST))


@dataclass(frozen=True, slots=True, eq=False)
class _Load:
    """One pack's own current and the others', A, on an even grid; the others fail at ``failed_s``.

    ``read`` marks the instants at which some pack was read.
    """

    time_s: FloatArray
    own_a: FloatArray
    others_a: FloatArray
    read: npt.NDArray[np.bool_]
    failed_s: float

    def alone(self, others_scale: float = 1.0) -> FloatArray:
        """What the pack carries where the others failed; their sensors off by a factor at will."""
        return self.own_a + np.where(self.time_s >= self.failed_s, others_scale * self.others_a, 0.0)

    def unseen(self, drop_v: FloatArray) -> float:
        """How much deeper than at any instant read the voltage may have dropped between two of them, V."""
        at = self.read & (self.time_s >= self.failed_s)
        return unseen_excess(self.time_s[at], drop_v[at], QUICKEST_S)


def _survivor(role: str, pack: BusPack, load: _Load, path: FeedPath, level: float | None) -> Survivor:
    now, now_at = _failed_now(role, pack, load, path)
    before, before_at, empty_at = _failed_before(role, pack, load, path)
    if not pack.declared:
        doubt = say(PackCode.USE_BY_ROLE, pack=Part(f"pack.{role}"))
        now, before = now.with_doubt(doubt), before.with_doubt(doubt)
    return Survivor(
        failed_now_v=now,
        now_at_s=now_at,
        failed_before_v=before,
        before_at_s=before_at,
        empty_at_s=empty_at,
        carries=_carries((now, before), level),
    )


def _carries(figures: tuple[Figure, ...], level: float | None) -> bool | None:
    """Whether every whole interval lies above the level, or any below it; else nobody knows."""
    if level is None:
        return None
    if any(f.high is not None and f.high < level for f in figures):
        return False
    return True if all(f.low is not None and f.low > level for f in figures) else None


def _failed_now(role: str, pack: BusPack, load: _Load, path: FeedPath) -> tuple[Figure, float]:
    """Lowest voltage over the flight one second after the others' load came onto this pack, and when."""
    c = pack.circuit
    # The fitted voltage, not the sample: the lowest of many noisy samples is lower than the truth.
    extra = load.others_a * c.one_second_ohm
    # The fit stands on an even grid, where a peak between two of its instants is flattened.
    flattened = load.own_a - np.interp(load.time_s, c.time_s, np.interp(c.time_s, *pack.current))
    fitted = np.interp(load.time_s, c.time_s, c.fitted_v) - c.r0_ohm * flattened
    given = fitted - extra - path.drop(load.own_a + load.others_a)
    at = int(given.argmin())
    half = Z95 * float(
        np.linalg.norm(
            [load.others_a[at] * c.one_second_se, c.scatter_v, TWO_SENSORS_SE * extra[at], path.se_v(load.alone()[at])]
        )
    )
    label = say(PackCode.FAILED_NOW, pack=Part(f"pack.{role}"))
    how = say(PackCode.SURVIVOR_NOW, others_a=float(load.others_a[at]), at_s=float(load.time_s[at]), at_bus=path.known)
    unseen = load.unseen(np.interp(load.time_s, c.time_s, c.reference_v) - given)
    low = float(given[at]) - float(np.hypot(half, unseen))
    # A pack that cannot give the load collapses towards nought and no further.
    figure = replace(Figure.within(label, float(given[at]), half, "V", how=how, digits=2), low=low)
    return figure.at_least(0.0), float(load.time_s[at])


@dataclass(frozen=True, slots=True, eq=False)
class _Curve:
    """How the charge state goes on below what the flight showed, by one make and capacity.

    ``falls_v`` is the pack's rest voltage against that at the flight's end, at ``beyond_mah`` of charge given beyond
    it; ``after_percent`` the charge state at the flight's end.
    """

    make: str
    beyond_mah: FloatArray
    falls_v: FloatArray
    after_percent: float
    capacity_mah: float


def _curves(pack: BusPack, used_mah: float) -> Iterator[_Curve]:
    """Every make's continuation, with the capacities that the make leaves possible."""
    if pack.pack is None or pack.rest_before_v is None or pack.rest_after_v is None:
        return
    cells, rated = pack.pack.cells, pack.pack.rated_mah
    for make, volts in _makes(pack.pack.chemistry):
        before, after = np.interp([pack.rest_before_v / cells, pack.rest_after_v / cells], volts, CHARGE_PERCENT)
        fall = float(before - after)
        if fall >= LEAST_FALL_PERCENT:
            told = 100.0 * used_mah / fall
            spread = np.exp(Z95 * aged_curve_se(fall))
            possible = np.array([told / spread, told, told * spread])
            if rated:
                possible = np.clip(possible, SPENT_PERCENT / 100.0 * rated, ABSURD_PERCENT / 100.0 * rated)
        elif rated:
            possible = rated * np.array([CAPACITY_KEPT[1], 1.0, CAPACITY_KEPT[0]])
        else:
            continue
        for mah in possible.tolist():
            percent = np.linspace(after, 0.0, 60)
            falls = cells * (np.interp(percent, CHARGE_PERCENT, volts) - np.interp(after, CHARGE_PERCENT, volts))
            yield _Curve(make, mah * (after - percent) / 100.0, falls, float(after), mah)


def _makes(chemistry: Chemistry) -> Iterator[tuple[str, tuple[float, ...]]]:
    """Published curves: a pouch pack and a cylindrical one may hold the same cell, so either's count for both."""
    alike: tuple[Chemistry, ...] = ("lipo", "li_ion") if chemistry in ("lipo", "li_ion") else (chemistry,)
    for one in alike:
        yield from PUBLISHED[one].items()


def _spread(curves: Sequence[_Curve], lows: FloatArray, middle: float) -> tuple[float, float]:
    """How far another make, and the capacities a make leaves possible, may reach below and above, V at 95 %."""
    by_make: dict[str, list[float]] = {}
    for curve, low in zip(curves, lows.tolist(), strict=True):
        by_make.setdefault(curve.make, []).append(low)
    middles = np.array([np.median(x) for x in by_make.values()])
    another = Z95 * of_another(middles) if middles.size > 1 else 0.0
    below = float(np.median([np.median(x) - min(x) for x in by_make.values()]))
    above = float(np.median([max(x) - np.median(x) for x in by_make.values()]))
    # Makes that fall off a knee lie far below all others: the interval's upper end need not follow them.
    up = min(another, float(middles.max()) - middle + another / 2.0)
    return float(np.hypot(another, below)), float(np.hypot(up, above))


def _failed_before(role: str, pack: BusPack, load: _Load, path: FeedPath) -> tuple[Figure, float | None, float | None]:
    """Lowest voltage had this pack carried everything since take-off, when, and when it would have run empty."""
    label = say(PackCode.FAILED_BEFORE, pack=Part(f"pack.{role}"))
    given = np.cumsum(load.own_a) * GRID_S / 3.6
    curves = list(_curves(pack, float(given[-1])))
    if not curves:
        known = pack.pack is not None and pack.pack.rated_mah is not None
        why = say(PackCode.NO_STATE_BEFORE if known else PackCode.NO_PACK_FACTS)
        return Figure.unavailable(label, "V", why), None, None
    flight = _Flight.of(pack.circuit, load, given)
    alone = flight.under(load, path)
    runs = [alone.lowest(curve) for curve in curves]
    lows = np.array([r.volts for r in runs])
    middle = runs[int(np.argsort(lows)[lows.size // 2])]
    curve = curves[runs.index(middle)]
    others = np.array(
        [
            flight.under(load, path, k).lowest(curve).volts
            for k in (1.0 - 2.0 * TWO_SENSORS_SE, 1.0 + 2.0 * TWO_SENSORS_SE)
        ]
    )
    c, rated = pack.circuit, pack.pack.rated_mah if pack.pack else None
    amps = float(load.alone()[middle.at])
    # What the fit took for rest voltage but is a slow drop grows with the load.
    slow = hidden_share(c) * c.settled_ohm * float(load.others_a.mean())
    sources = [amps * c.one_second_se, c.scatter_v, amps * middle.ohm * middle.ohm_se, path.se_v(amps), slow / Z95]
    own = Z95 * float(np.linalg.norm(sources))
    make_down, make_up = _spread(curves, lows, middle.volts)
    down = float(np.linalg.norm([own, make_down, max(middle.volts - others.min(), 0.0), load.unseen(middle.drop_v)]))
    warmed = amps * middle.ohm * _less_when_warm(pack, load, middle.at, rated)
    up = float(np.linalg.norm([own, make_up, max(others.max() - middle.volts, 0.0), warmed]))
    empty = float(load.time_s[middle.empty]) if middle.empty is not None else None
    how = say(PackCode.SURVIVOR_THROUGHOUT, at_s=float(load.time_s[middle.at]), at_bus=path.known)
    figure = Figure(
        label, middle.volts, "V", Method.ESTIMATED, low=middle.volts - down, high=middle.volts + up, how=how, digits=2
    )
    if empty is not None:
        figure = figure.with_doubt(say(PackCode.EMPTY_AT, pack=Part(f"pack.{role}"), at_s=empty))
    return figure.at_least(0.0), float(load.time_s[middle.at]), empty


@dataclass(frozen=True, slots=True, eq=False)
class _Low:
    """The lowest moment of one continuation: voltage, position, resistance then and its relative error, when empty.

    ``drop_v`` is what load and path took at every instant, V.
    """

    volts: float
    at: int
    ohm: float
    ohm_se: float
    empty: int | None
    drop_v: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class _Flight:
    """What the circuit says of the flight as flown, on the load's grid: load-free voltage over charge given.

    Circuit and charge are linear in the load: ``drop_v`` and ``charge_mah`` hold what the pack's own load does and
    what the others' would, the latter from when these failed.
    """

    circuit: Circuit
    given_mah: FloatArray
    rest_v: FloatArray
    drop_v: tuple[FloatArray, FloatArray]
    charge_mah: tuple[FloatArray, FloatArray]

    @classmethod
    def of(cls, circuit: Circuit, load: _Load, given_mah: FloatArray) -> _Flight:
        """Read on the load's grid."""
        own, others = load.own_a, load.alone() - load.own_a
        return cls(
            circuit,
            np.maximum.accumulate(given_mah),
            np.interp(load.time_s, circuit.time_s, circuit.reference_v),
            (_drop(circuit, own), _drop(circuit, others)),
            (given_mah, np.cumsum(others) * GRID_S / 3.6),
        )

    def under(self, load: _Load, path: FeedPath, others_scale: float = 1.0) -> _Alone:
        """The whole load on this pack alone, the others' sensors off by a factor at will."""
        amps = load.alone(others_scale)
        charge, drop = (own + others_scale * others for own, others in (self.charge_mah, self.drop_v))
        rest = np.interp(charge, self.given_mah, self.rest_v)
        after = load.time_s >= load.failed_s
        return _Alone(self.given_mah, amps, charge, drop, path.drop(amps), rest, after)


def _drop(circuit: Circuit, amps: FloatArray) -> FloatArray:
    """What a load on the circuit takes of its voltage, V."""
    drop = circuit.r0_ohm * amps + max(circuit.r1_ohm, 0.0) * relaxing(amps, GRID_S, circuit.tau_s)
    return drop + circuit.r2_ohm * relaxing(amps, GRID_S, circuit.tau2_s) if circuit.pairs == 2 else drop


@dataclass(frozen=True, slots=True, eq=False)
class _Alone:
    """One load on this pack alone, on the load's grid: current, charge given, what it drops and what the path does.

    ``flown_mah`` is the charge given as flown, ``rest_v`` the load-free voltage as far as the flight showed it;
    ``after`` is true from when the others failed.
    """

    flown_mah: FloatArray
    amps: FloatArray
    charge_mah: FloatArray
    drop_v: FloatArray
    path_v: FloatArray
    rest_v: FloatArray
    after: npt.NDArray[np.bool_]

    def lowest(self, curve: _Curve) -> _Low:
        """Solve the circuit by one continuation of its curve."""
        end = float(self.flown_mah[-1])
        beyond = np.maximum(self.charge_mah - end, 0.0)
        rest = self.rest_v + np.interp(beyond, curve.beyond_mah, curve.falls_v)
        percent = curve.after_percent + 100.0 * (end - self.charge_mah) / curve.capacity_mah
        flown = curve.after_percent + 100.0 * (end - self.flown_mah) / curve.capacity_mah
        as_flown = float(np.interp(flown, RESISTANCE_CHARGE_PERCENT, MEAN_OVER_HALF).mean())
        factor = np.interp(percent, RESISTANCE_CHARGE_PERCENT, MEAN_OVER_HALF) / as_flown
        lost = factor * self.drop_v + self.path_v
        volts = np.where(self.after, rest - lost, np.inf)
        at = int(volts.argmin())
        ohm = float(factor[at] * self.drop_v[at] / max(self.amps[at], 1e-9))
        gone = np.flatnonzero(percent <= 0.0)
        then = np.array([np.interp(percent[at], RESISTANCE_CHARGE_PERCENT, y) for y in OVER_HALF_CHARGE.values()])
        spread = float(then.std(ddof=1) / then.mean())
        return _Low(float(volts[at]), at, ohm, spread, int(gone[0]) if gone.size else None, drop_v=lost)


def _less_when_warm(pack: BusPack, load: _Load, at: int, rated_mah: float | None) -> float:
    """Share by which its own heat would lower the resistance at most: all of it kept in the cells until then."""
    if pack.pack is None or not rated_mah:
        return 0.0
    more = np.square(load.alone()) - np.square(load.own_a)
    joules = float(np.maximum(more[: at + 1], 0.0).sum()) * GRID_S * pack.circuit.settled_ohm
    kelvin = joules / (CELL_HEAT_J_PER_K_AH * pack.pack.cells * rated_mah / 1000.0)
    return 1.0 - float(np.exp(MAKES.j_per_mol * coldness(25.0 + min(kelvin, 40.0))))


def _summary(alone: Mapping[str, Survivor], level: float | None) -> Text:
    def each(those: list[str]) -> tuple[Text, ...]:
        return tuple(
            say(PackCode.ALONE_VOLTAGE, pack=Part(f"pack.{r}"), volts=alone[r].lowest_v, at_s=alone[r].lowest_at_s)
            for r in those
        )

    below = [r for r, one in alone.items() if one.carries is False]
    unsure = [r for r, one in alone.items() if one.carries is None]
    return say(
        PackCode.ALONE, below=each(below), unsure=each(unsure if level is not None else []),
        every=each(list(alone)), level_v=-1.0 if level is None else level,
    )  # fmt: skip
