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
from analyser.core.figures import Z95, Figure, FloatArray, Method
from analyser.core.findings import Part, Text, say
from analyser.core.statistics.extremes import unseen_excess
from analyser.core.statistics.robust import median
from analyser.core.telemetry import Series
from analyser.packs.bus.feed_path import FeedPath, feed_path
from analyser.packs.bus.load import GRID_S, QUICKEST_S, bus_load
from analyser.packs.capacity import ABSURD_PERCENT, LEAST_FALL_PERCENT, SPENT_PERCENT
from analyser.packs.chemistry import CHARGE_PERCENT, ONE_CURVE_SE_V, PUBLISHED, aged_curve_se
from analyser.packs.circuit import Circuit, relaxing
from analyser.packs.codes import PackCode
from analyser.packs.reference_state import CHARGE_PERCENT as RESISTANCE_CHARGE_PERCENT
from analyser.packs.reference_state import MAKES, OVER_HALF_CHARGE, coldness, of_another
from analyser.packs.scale import CurrentScale, rescaled
from analyser.packs.state_of_charge import CAPACITY_KEPT, hidden_share

MEAN_OVER_HALF = np.mean(list(OVER_HALF_CHARGE.values()), axis=0)
"""Resistance over charge, as a share of that at half charge: the mean of all makes."""
RATIOS = np.array([0.7, 0.85, 1.0, 1.15, 1.35])
"""Factors that the others' currents may have against the survivor's own: every figure is worked out for each, so that
it can be read at whatever the sensors' scales turn out to be. Only that ratio matters: a sensor off by itself shows a
resistance off the other way, and the drop is right."""
AS_READ = 2
"""Where one is among them."""
CELL_HEAT_J_PER_K_AH = 20.0
"""Heat that warms a lithium cell by a kelvin, for each ampere hour: 20 g/Ah at 1 J/(g K) (common practice, no
source)."""


@dataclass(frozen=True, slots=True)
class Readings:
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


@dataclass(frozen=True, slots=True)
class Survivor:
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


@dataclass(frozen=True, slots=True)
class AsRead:
    """What every pack of a bus gave by its own sensor: mAh over the flight, A at the worst moment, and its feed, mΩ.

    ``ohm`` holds value and half width of those whose feed is known.
    """

    mah: dict[str, float]
    worst_a: dict[str, float]
    worst_at_s: float
    ohm: dict[str, tuple[float, float]]


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
    as_read: AsRead

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
    packs: Mapping[str, BusPack], brown_out_v: float | None, scales: Mapping[str, CurrentScale],
    bus: Series | None = None, take_off_s: float | None = None,
) -> tuple[BusResult, ...]:  # fmt: skip
    """Judge the packs that feed the receivers in one flight as one bus.

    Parameters
    ----------
    packs : mapping of role to BusPack
        Those that feed the receivers and show their resistance.
    brown_out_v : float or None
        The owner's brown-out level; without it the voltages are still given, unjudged.
    scales : mapping of role to CurrentScale
        Of the packs' current sensors.
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
                     paths[r])
        for r, p in packs.items()
    }  # fmt: skip
    label = say(PackCode.WORST_LOAD)
    load = Figure(label, float(total[worst]), "A", Method.INTEGRATED, how=say(PackCode.SUM_AT, at_s=float(grid[worst])))
    ohms = {r: p.resistance_mohm for r, p in paths.items()}
    shown = BusResult(
        name="receivers",
        packs=roles,
        share_percent={},
        load_shift_percent=_shift(roles, currents, total),
        worst_load_a=load,
        alone=alone,
        summary="",
        path_drop_v={r: p.drop_v for r, p in paths.items()},
        path_resistance_mohm=ohms,
        as_read=AsRead(
            mah={r: float(i.sum()) * GRID_S / 3.6 for r, i in currents.items()},
            worst_a={r: float(i[worst]) for r, i in currents.items()},
            worst_at_s=float(grid[worst]),
            ohm={r: (f.value, f.half_width) for r, f in ohms.items() if f.value is not None},
        ),
    )
    return (set_bus(shown, scales, brown_out_v),)


def set_bus(bus: BusResult, scales: Mapping[str, CurrentScale], brown_out_v: float | None) -> BusResult:
    """The same bus by other scales of its packs' current sensors; no telemetry is needed.

    Parameters
    ----------
    scales : mapping of role to CurrentScale
        One for every pack of the bus.
    brown_out_v : float or None
        The owner's brown-out level.
    """
    read = bus.as_read
    mah = {r: scales[r].value * q for r, q in read.mah.items()}
    alone = {r: _judged(one, *_against(r, read.mah, scales), brown_out_v) for r, one in bus.alone.items()}
    return replace(
        bus,
        share_percent={r: _share(r, mah, scales) for r in bus.packs},
        worst_load_a=_worst(bus.worst_load_a, read, scales),
        alone=alone,
        summary=_summary(alone, brown_out_v),
        path_resistance_mohm={
            r: _feed(f, read.ohm[r], scales[r]) if r in read.ohm else f for r, f in bus.path_resistance_mohm.items()
        },
    )


def _against(role: str, mah: Mapping[str, float], scales: Mapping[str, CurrentScale]) -> tuple[float, float]:
    """The others' scale over a pack's own, and its relative standard error; what they share drops out."""
    others = {r: max(q, 0.0) for r, q in mah.items() if r != role}
    whole = max(sum(others.values()), 1e-9)
    ratio = sum(scales[r].value * q for r, q in others.items()) / whole / scales[role].value
    errors = [scales[r].own_se * q / whole for r, q in others.items()]
    return ratio, float(np.linalg.norm([*errors, scales[role].own_se]))


def _worst(figure: Figure, read: AsRead, scales: Mapping[str, CurrentScale]) -> Figure:
    given = {r: scales[r].value * a for r, a in read.worst_a.items()}
    # The charger's part is the same in every sensor, the rest is each one's own.
    shared = sum(a * scales[r].shared_se for r, a in given.items())
    half = Z95 * float(np.linalg.norm([shared, *(a * scales[r].own_se for r, a in given.items())]))
    value = sum(given.values())
    return replace(figure, value=value, low=max(value - half, 0.0), high=value + half)


def _feed(figure: Figure, read: tuple[float, float], scale: CurrentScale) -> Figure:
    value, half = read
    shown = replace(figure, value=value, low=max(value - half, 0.0), high=value + half)
    return rescaled(shown, None, scale, -1)


def _share(role: str, mah: Mapping[str, float], scales: Mapping[str, CurrentScale]) -> Figure:
    part = 100.0 * mah[role] / max(sum(mah.values()), 1e-9)
    # A ratio of two sensors is as unsure as both together, but for what they share.
    half = Z95 * _against(role, mah, scales)[1] * max(part * (100.0 - part), 0.0) / 100.0
    label = say(PackCode.SHARE, pack=Part(f"pack.{role}"))
    how = say(PackCode.CHARGE_OVER_ALL)
    return Figure(label, part, "%", Method.INTEGRATED, low=part - half, high=part + half, how=how)


def _shift(roles: tuple[str, ...], currents: Mapping[str, FloatArray], total: FloatArray) -> Figure:
    first = currents[roles[0]] / np.maximum(total, 1e-9)
    thirds = np.array_split(np.flatnonzero(total > median(total)), 3)
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


def _survivor(role: str, pack: BusPack, load: _Load, path: FeedPath) -> Survivor:
    """A survivor by the sensors as they read; :func:`_judged` brings it to their scales."""
    now, now_readings, now_at = _failed_now(role, pack, load, path)
    before, before_readings, before_at, empty_at = _failed_before(role, pack, load, path)
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


def _judged(one: Survivor, ratio: float, relative_se: float, level: float | None) -> Survivor:
    """The same survivor where the others' currents are ``ratio`` times what they read, against its own."""
    now = _read(one.failed_now_v, one.now, ratio, relative_se)
    before = _read(one.failed_before_v, one.before, ratio, relative_se)
    return replace(one, failed_now_v=now, failed_before_v=before, carries=_carries((now, before), level))


def _read(figure: Figure, readings: Readings | None, ratio: float, relative_se: float) -> Figure:
    if readings is None:
        return figure
    value, low, high = readings.at(ratio, relative_se)
    # A pack that cannot give the load collapses towards nought and no further.
    return replace(figure, value=value, low=low, high=high).at_least(0.0)


def _carries(figures: tuple[Figure, ...], level: float | None) -> bool | None:
    """Whether every whole interval lies above the level, or any below it; else nobody knows."""
    if level is None:
        return None
    if any(f.high is not None and f.high < level for f in figures):
        return False
    return True if all(f.low is not None and f.low > level for f in figures) else None


def _failed_now(role: str, pack: BusPack, load: _Load, path: FeedPath) -> tuple[Figure, Readings, float]:
    """Lowest voltage over the flight one second after the others' load came onto this pack, and when."""
    c = pack.circuit
    # The fit stands on an even grid, where a peak between two of its instants is flattened.
    flattened = load.own_a - np.interp(load.time_s, c.time_s, np.interp(c.time_s, *pack.current))
    # The fitted voltage, not the sample: the lowest of many noisy samples is lower than the truth.
    fitted = np.interp(load.time_s, c.time_s, c.fitted_v) - c.r0_ohm * flattened
    every = [fitted - k * load.others_a * c.one_second_ohm - path.drop(load.own_a + k * load.others_a) for k in RATIOS]
    given = every[AS_READ]
    at = int(given.argmin())
    half = Z95 * float(np.linalg.norm([load.others_a[at] * c.one_second_se, c.scatter_v, path.se_v(load.alone()[at])]))
    label = say(PackCode.FAILED_NOW, pack=Part(f"pack.{role}"))
    how = say(PackCode.SURVIVOR_NOW, others_a=float(load.others_a[at]), at_s=float(load.time_s[at]), at_bus=path.known)
    unseen = load.unseen(np.interp(load.time_s, c.time_s, c.reference_v) - given)
    readings = Readings(tuple(float(v.min()) for v in every), float(np.hypot(half, unseen)), half)
    figure = Figure(label, float(given[at]), "V", Method.ESTIMATED, how=how, digits=2)
    return figure, readings, float(load.time_s[at])


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


def _spread(curves: Sequence[_Curve], lows: FloatArray, middle: float, pack: Pack) -> tuple[float, float]:
    """How far another make, and the capacities a make leaves possible, may reach below and above, V at 95 %."""
    by_make: dict[str, list[float]] = {}
    for curve, low in zip(curves, lows.tolist(), strict=True):
        by_make.setdefault(curve.make, []).append(low)
    middles = np.array([median(np.array(x)) for x in by_make.values()])
    if middles.size > 1:
        another = Z95 * of_another(middles)
    else:
        another = Z95 * pack.cells * ONE_CURVE_SE_V.get(pack.chemistry, 0.0)
    below = median(middles - np.array([min(x) for x in by_make.values()]))
    above = median(np.array([max(x) for x in by_make.values()]) - middles)
    # Makes that fall off a knee lie far below all others: the interval's upper end need not follow them.
    up = min(another, float(middles.max()) - middle + another / 2.0)
    return float(np.hypot(another, below)), float(np.hypot(up, above))


def _failed_before(
    role: str, pack: BusPack, load: _Load, path: FeedPath
) -> tuple[Figure, Readings | None, float | None, float | None]:
    """Lowest voltage had this pack carried everything since take-off, when, and when it would have run empty."""
    label = say(PackCode.FAILED_BEFORE, pack=Part(f"pack.{role}"))
    given = np.cumsum(load.own_a) * GRID_S / 3.6
    curves = list(_curves(pack, float(given[-1])))
    if not curves:
        known = pack.pack is not None and pack.pack.rated_mah is not None
        why = say(PackCode.NO_STATE_BEFORE if known else PackCode.NO_PACK_FACTS)
        return Figure.unavailable(label, "V", why), None, None, None
    flight = _Flight.of(pack.circuit, load, given)
    alone = flight.under(load, path)
    runs = [alone.lowest(curve) for curve in curves]
    lows = np.array([r.volts for r in runs])
    middle = runs[int(np.argsort(lows)[lows.size // 2])]
    curve = curves[runs.index(middle)]
    volts = tuple(middle.volts if k == 1.0 else flight.under(load, path, float(k)).lowest(curve).volts for k in RATIOS)
    c, rated = pack.circuit, pack.pack.rated_mah if pack.pack else None
    amps = float(load.alone()[middle.at])
    # What the fit took for rest voltage but is a slow drop grows with the load.
    slow = hidden_share(c) * c.settled_ohm * float(load.others_a.mean())
    sources = [amps * c.one_second_se, c.scatter_v, amps * middle.ohm * middle.ohm_se, path.se_v(amps), slow / Z95]
    own = Z95 * float(np.linalg.norm(sources))
    make_down, make_up = _spread(curves, lows, middle.volts, pack.pack or Pack(""))
    down = float(np.linalg.norm([own, make_down, load.unseen(middle.drop_v)]))
    warmed = amps * middle.ohm * _less_when_warm(pack, load, middle.at, rated)
    up = float(np.linalg.norm([own, make_up, warmed]))
    empty = float(load.time_s[middle.empty]) if middle.empty is not None else None
    how = say(PackCode.SURVIVOR_THROUGHOUT, at_s=float(load.time_s[middle.at]), at_bus=path.known)
    figure = Figure(label, middle.volts, "V", Method.ESTIMATED, how=how, digits=2)
    if empty is not None:
        figure = figure.with_doubt(say(PackCode.EMPTY_AT, pack=Part(f"pack.{role}"), at_s=empty))
    return figure, Readings(volts, down, up), float(load.time_s[middle.at]), empty


@dataclass(frozen=True, slots=True, eq=False)
class _Low:
    """The lowest moment of one continuation: voltage, position, resistance and charge state then, when empty.

    ``drop_v`` is what load and path took at every instant, V.
    """

    volts: float
    at: int
    ohm: float
    percent: float
    empty: int | None
    drop_v: FloatArray

    @property
    def ohm_se(self) -> float:
        """Relative standard error of the resistance: the makes differ in how it grows with the charge given."""
        makes = OVER_HALF_CHARGE.values()
        then = np.array([np.interp(self.percent, RESISTANCE_CHARGE_PERCENT, y) for y in makes])
        return float(then.std(ddof=1) / then.mean())


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
        rest = self.rest_v + curve.falls_v[0]
        beyond = self.charge_mah > end  # before, the curve is at its beginning
        rest[beyond] = self.rest_v[beyond] + np.interp(self.charge_mah[beyond] - end, curve.beyond_mah, curve.falls_v)
        percent = curve.after_percent + 100.0 * (end - self.charge_mah) / curve.capacity_mah
        flown = curve.after_percent + 100.0 * (end - self.flown_mah) / curve.capacity_mah
        as_flown = float(np.interp(flown, RESISTANCE_CHARGE_PERCENT, MEAN_OVER_HALF).mean())
        factor = np.interp(percent, RESISTANCE_CHARGE_PERCENT, MEAN_OVER_HALF) / as_flown
        lost = factor * self.drop_v + self.path_v
        volts = np.where(self.after, rest - lost, np.inf)
        at = int(volts.argmin())
        ohm = float(factor[at] * self.drop_v[at] / max(self.amps[at], 1e-9))
        gone = np.flatnonzero(percent <= 0.0)
        empty = int(gone[0]) if gone.size else None
        return _Low(float(volts[at]), at, ohm, float(percent[at]), empty, drop_v=lost)


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
