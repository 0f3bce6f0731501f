"""How full a pack was at either end of a flight: rest voltage, and the charge state its chemistry's curve gives it."""

from __future__ import annotations

import numpy as np
from msgspec import Struct

from analyser.core.aircraft import Pack
from analyser.core.events import Event
from analyser.core.figures import Figure, FloatArray, Method
from analyser.core.findings import Text, say
from analyser.core.statistics.robust import median
from analyser.packs.charge import CAPACITY_LEAST
from analyser.packs.chemistry import FULL_V, PLAUSIBLE_REST_V, charge_percent, sources_of
from analyser.packs.circuit import Circuit
from analyser.packs.codes import PackCode
from analyser.packs.readings import PackLog, above_cells, most_volts

REST_S = 10.0
VOLTAGE_SCALE = 0.005
"""Share by which a voltage sensor may read high or low, at 95 % (common practice, no source)."""
CAPACITY_KEPT = (1.05, CAPACITY_LEAST)
"""What share of the label's capacity a pack in use may have (common practice, no source)."""
DROP_SHARE, SLOW_DROP_SHARE, SLOW_S = 0.35, 0.75, 25.0
"""How much of a load drop that is added back may be wrong, found on simulated flights of every published curve: a pair
slower than this is not well told from the discharge itself."""
READ_V = 0.005
OTHER_MAKE_V = 0.045
"""How far a cell of a make not published may rest off the published curves' mean, at 95 %: a table of rest voltages
common among fliers (from memory) lies up to 35 mV above it between 75 and 95 % charge. Where the charge used over the
label's capacity says more, that is taken."""


class PackState(Struct, frozen=True):
    """State of charge at either end of the flight, the surest that is known, and how warm the pack was."""

    before_percent: Figure
    after_percent: Figure
    temperature_c: Figure


class ChargeStates(Struct, frozen=True):
    """Both ends of a flight.

    ``before_percent`` and ``after_percent`` are by rest voltage alone. ``full`` is whether the pack came charged full,
    ``None`` where nobody can tell; ``remarks`` says where its rest voltage fits no pack of that description.
    """

    rest_before_v: Figure
    rest_after_v: Figure
    before_percent: Figure
    after_percent: Figure
    full: bool | None
    remarks: tuple[Event, ...]


def charge_states(log: PackLog) -> ChargeStates:
    """Read the charge state at either end from the voltage at rest."""
    before, after = _rest_voltages(log)
    full, remarks = _started_full(log, before)
    before, after = (f.with_doubt(*(e.summary for e in remarks)) for f in (before, after))
    return ChargeStates(
        rest_before_v=before,
        rest_after_v=after,
        before_percent=by_rest_voltage(say(PackCode.STATE_BEFORE, pack=log.part), log.pack, before),
        after_percent=by_rest_voltage(say(PackCode.STATE_AFTER, pack=log.part), log.pack, after),
        full=full,
        remarks=remarks,
    )


def _rest_voltages(log: PackLog) -> tuple[Figure, Figure]:
    """Voltage at rest at either end: the quietest ten seconds, with the remaining load's drop added back."""
    labels = (say(PackCode.REST_BEFORE, pack=log.part), say(PackCode.REST_AFTER, pack=log.part))
    if not log.voltage:
        before, after = (Figure.unavailable(x, "V", say(PackCode.NO_VOLTAGE)) for x in labels)
        return before, after
    t, v = log.voltage
    load = log.current.at(t) if log.current else np.zeros(t.size)
    drops, share = np.zeros((2, t.size)), 0.0
    if (c := log.circuit) is not None:
        # Before, the standing load has long settled; after, the pairs are still relaxing, as the fit followed them.
        drops = np.stack([c.settled_ohm * load, np.interp(t, c.time_s, c.reference_v - c.fitted_v)])
        share = hidden_share(c)
    out = []
    for label, inside, dropped in zip(labels, (t <= t[0] + REST_S, t >= t[-1] - REST_S), drops, strict=True):
        drop = median(dropped[inside])
        value = median(v[inside]) + drop
        if log.phases.airborne_span and _overlaps(log.phases.airborne_span, t[inside]):
            out.append(Figure.unavailable(label, "V", say(PackCode.NOT_AT_REST)))
            continue
        half = float(np.linalg.norm([share * drop, READ_V, VOLTAGE_SCALE * value]))
        how = say(PackCode.MEDIAN_AT_REST, drop_mv=1000.0 * drop)
        method = Method.ESTIMATED if drop else Method.MEASURED
        out.append(Figure(label, value, "V", method, low=value - half, high=value + half, how=how, digits=2))
    return out[0], out[1]


def hidden_share(circuit: Circuit) -> float:
    """How much of a settled drop a fit may have taken for rest voltage, or the other way round."""
    return SLOW_DROP_SHARE if max(circuit.tau_s, circuit.tau2_s) > SLOW_S else DROP_SHARE


def _overlaps(span: tuple[float, float], t: FloatArray) -> bool:
    return bool(((t >= span[0]) & (t <= span[1])).any())


def _started_full(log: PackLog, before: Figure) -> tuple[bool | None, tuple[Event, ...]]:
    if log.pack is None or not log.voltage:
        return None, ()
    if before.value is None:
        above = log.voltage.values > most_volts(log.pack)
        if above.mean() <= 0.5:
            return None, ()
        worst = float(log.voltage.values.max())
        return None, (log.remark(above_cells(log.pack, log.role, int(above.sum()), worst, left_out=False)),)
    if log.cells and max(log.cells) > log.pack.cells:
        text = say(PackCode.CELL_TOO_MANY, pack=log.part, cell=max(log.cells), name=log.pack.name, cells=log.pack.cells)
        return None, (log.remark(text),)
    low, high = PLAUSIBLE_REST_V[log.pack.chemistry]
    per_cell = before.value / log.pack.cells
    if low <= per_cell <= high:
        return per_cell >= FULL_V[log.pack.chemistry], ()
    text = say(
        PackCode.REST_IMPOSSIBLE, name=log.pack.name, cell_v=per_cell, chemistry=log.pack.chemistry
    )  # fmt: skip
    return None, (log.remark(text),)


def by_rest_voltage(label: Text, pack: Pack | None, rest: Figure, make_v: float = 0.0) -> Figure:
    """State of charge by a rest voltage and the chemistry's curve.

    Parameters
    ----------
    make_v : float
        How much further off a make that nobody published may rest, V a cell; nought where the charger, which makes
        them agree, has just filled the pack.
    """
    if pack is None:
        return Figure.unavailable(label, "%", say(PackCode.NOT_NOTED_WHICH))
    if rest.value is None:
        return Figure.unavailable(label, "%", rest.missing)
    per_cell, half = rest.value / pack.cells, rest.half_width / pack.cells
    if make_v or per_cell < FULL_V[pack.chemistry]:
        # Below full the makes' own spread is wide enough to hold a sensor's scale too (by simulated flights); at full,
        # where the charger makes them agree, it is not.
        half = float(np.sqrt(max(half**2 - (VOLTAGE_SCALE * per_cell) ** 2, 0.0)))
        half = float(np.hypot(half, make_v))
    value, low, high = charge_percent(pack.chemistry, per_cell, half)
    how = say(
        PackCode.REST_CURVE, chemistry=pack.chemistry, cell_v=per_cell, sources=sources_of(pack.chemistry)
    )  # fmt: skip
    return Figure(label, value, "%", Method.ESTIMATED, low=low, high=high, how=how, digits=0).with_doubt(*rest.doubts)


def charge_left(label: Text, pack: Pack | None, before: Figure, rest_after: Figure, used: Figure) -> Figure:
    """State of charge after: by rest voltage and by charge used over the label's capacity, weighed by their errors.

    Neither knows of the other's error: one is a make's curve, the other what the pack has kept of its label. Where they
    lie further apart than both errors allow, one of them is wrong and nobody knows which: the interval holds both.
    """
    by_voltage = by_rest_voltage(label, pack, rest_after, OTHER_MAKE_V)
    if pack is None or pack.rated_mah is None or used.value is None or before.value is None:
        return by_voltage
    by_charge = _by_charge_used(label, pack.rated_mah, before, used).with_doubt(*rest_after.doubts)
    if by_voltage.value is None or by_charge.value is None:
        return by_charge
    halves = np.array([by_voltage.half_width, by_charge.half_width])
    if not (halves > 0.0).all():
        return by_voltage
    weights = halves**-2 / float((halves**-2).sum())
    both = np.array([[f.value, f.low, f.high] for f in (by_voltage, by_charge)], float)
    value = float(weights @ both[:, 0])
    down, up = (float(np.linalg.norm(weights * (both[:, k] - both[:, 0]))) for k in (1, 2))
    low, high = value - down, value + up
    if abs(both[0, 0] - both[1, 0]) > float(np.linalg.norm(halves)):
        low, high = float(both[:, 1].min()), float(both[:, 2].max())
    how = say(
        PackCode.STATES_WEIGHED, by_voltage=by_voltage.value, voltage_how=by_voltage.how, by_charge=by_charge.value,
        charge_how=by_charge.how,
    )  # fmt: skip
    figure = Figure(
        label, value, "%", Method.ESTIMATED, low=max(low, 0.0), high=min(high, 100.0), how=how, digits=0
    )  # fmt: skip
    return figure.with_doubt(*by_voltage.doubts, *by_charge.doubts)


def _by_charge_used(label: Text, rated_mah: float, before: Figure, used: Figure) -> Figure:
    """State of charge before less charge used, over what a pack in use may have kept of its label's capacity."""
    least, most = (100.0 * (used.value or 0.0) / rated_mah / share for share in CAPACITY_KEPT)
    kept = (most - least) / (most + least) if most > 0.0 else 0.0
    spent = (least + most) / 2.0
    own = used.half_width / max(used.value or 0.0, 1e-9)
    half = spent * float(np.hypot(kept, own))
    value = before.value or 0.0
    low = value - spent - float(np.hypot(half, value - (before.low or value)))
    high = value - spent + float(np.hypot(half, (before.high or value) - value))
    how = say(PackCode.CHARGE_OVER_LABEL, least_percent=100.0 * CAPACITY_KEPT[1], most_percent=100.0 * CAPACITY_KEPT[0])
    ends = (float(np.clip(x, 0.0, 100.0)) for x in (value - spent, low, high))
    middle, low, high = ends
    return Figure(label, middle, "%", Method.ESTIMATED, low=low, high=high, how=how, digits=0).with_doubt(*used.doubts)
