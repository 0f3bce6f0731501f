"""How low a pack went in one flight: lowest voltage and cell, cell spread, sag, brown-outs.

Sag events follow the dip rule of IEC 61000-4-30 (:func:`analyser.core.events.find_dips`): a dip begins below 90 % of a
load-free reference that follows the discharge, and ends 2 % above that. A brown-out event is absolute: a bus
below the level the owner states.
"""

from __future__ import annotations

import numpy as np
from msgspec import Struct
from scipy import ndimage

from analyser.core.aircraft import FlightContext, Pack
from analyser.core.coincidence import Causes
from analyser.core.events import Event, find_dips, happened
from analyser.core.figures import Figure, Method, Trace
from analyser.core.findings import Part, say
from analyser.core.statistics.extremes import unseen_excess
from analyser.core.statistics.robust import median
from analyser.core.statistics.sampling import usual_step_s
from analyser.core.statistics.smoothing import bin_means, integrate
from analyser.core.telemetry import Series
from analyser.packs.bus.load import QUICKEST_S
from analyser.packs.codes import PackCode
from analyser.packs.readings import PackLog
from analyser.packs.state_of_charge import VOLTAGE_SCALE, hidden_share
from analyser.packs.use import receiver_roles

SAG_SHARE = 0.90
HYSTERESIS_SHARE = 0.02
"""Dip threshold and hysteresis as shares of the reference: the usual setting of IEC 61000-4-30."""
BROWN_OUT_HYSTERESIS_V = 0.1
LONGEST_GAP_S = 2.0
UPPER_EDGE_V = 0.05
EDGE_S = 31
"""Seconds over which the voltage's upper edge is taken where no current is logged."""


class PackVoltage(Struct, frozen=True):
    """How low one pack went, at rest and under load; ``weak_cell`` is the cell that was lowest late in the flight."""

    lowest_v: Figure
    lowest_cell_v: Figure
    cell_spread_v: Figure
    weak_cell: int | None
    deepest_sag_v: Figure
    rest_before_v: Figure
    rest_after_v: Figure
    load_free: Trace | None


def lowest_voltage(log: PackLog) -> Figure:
    """The lowest sample."""
    label = say(PackCode.LOWEST, pack=log.part)
    if not log.voltage:
        return Figure.unavailable(label, "V", say(PackCode.NO_VOLTAGE))
    return Figure(
        label, float(log.voltage.values.min()), "V", Method.MEASURED, how=say(PackCode.LOWEST_SAMPLE), digits=2
    )


def lowest_cell(log: PackLog) -> Figure:
    """The lowest sample of any cell, and which cell that was."""
    label = say(PackCode.LOWEST_CELL, pack=log.part)
    low = [(float(c.values.min()), n) for n, c in log.cells.items() if c]
    if not low:
        return Figure.unavailable(label, "V", say(PackCode.NO_CELLS))
    value, number = min(low)
    return Figure(label, value, "V", Method.MEASURED, how=say(PackCode.LOWEST_SAMPLE_OF_CELL, cell=number), digits=2)


def cell_spread(log: PackLog, duration_s: float) -> tuple[Figure, int | None]:
    """Highest less lowest cell, median over the last third of the flight: there a weak cell shows. And which it is."""
    label = say(PackCode.SPREAD, pack=log.part)
    if len(log.cells) < 2:
        return Figure.unavailable(label, "V", say(PackCode.ONE_CELL)), None
    numbers, cells = list(log.cells), list(log.cells.values())
    air = log.phases.airborne_span or (0.0, duration_s)
    late = air[1] - (air[1] - air[0]) / 3.0
    t = cells[0].time_s
    t = t[(t >= late) & (t <= air[1])]
    if t.size < 3:
        return Figure.unavailable(label, "V", say(PackCode.FEW_CELL_SAMPLES)), None
    v = np.stack([np.interp(t, *c) for c in cells])
    spread = v.max(axis=0) - v.min(axis=0)
    weak = int(np.bincount(v.argmin(axis=0), minlength=len(numbers)).argmax())
    how = say(PackCode.LAST_THIRD)
    return Figure(label, median(spread), "V", Method.INTEGRATED, how=how, digits=3), numbers[weak]


def load_free(log: PackLog) -> Trace | None:
    """What the pack would have shown had nothing drawn on it."""
    label = say(PackCode.LOAD_FREE, pack=log.part)
    c = log.circuit
    if c is not None:
        return Trace(label, "V", c.time_s, c.reference_v, how=say(PackCode.FIT_WITHOUT_LOAD))
    if log.voltage.time_s.size < 10:
        return None
    # Without current: the upper edge of the voltage, which load can only pull down.
    t, v = bin_means(log.voltage.time_s, log.voltage.values, 1.0)
    upper = ndimage.percentile_filter(v, 90, size=min(EDGE_S, v.size | 1), mode="nearest")
    smooth = ndimage.uniform_filter1d(upper, min(EDGE_S, v.size | 1), mode="nearest")
    how = say(PackCode.UPPER_EDGE)
    return Trace(label, "V", t, np.asarray(smooth, float), how=how)


def brown_out_level(context: FlightContext, pack: Pack | None) -> float | None:
    """A pack's own level; for a bus the aircraft's, else the highest of its receiver packs'."""
    if pack is not None and pack.brown_out_v is not None:
        return pack.brown_out_v
    if context.aircraft is not None and context.aircraft.brown_out_v is not None:
        return context.aircraft.brown_out_v
    receivers = receiver_roles(context.packs, context)
    stated = [p.brown_out_v for role, p in context.packs.items() if role in receivers and p.brown_out_v]
    return max(stated, default=None)


def sags(log: PackLog, reference: Trace | None, causes: Causes) -> tuple[tuple[Event, ...], Figure]:
    """Every dip below the load-free voltage, and the deepest."""
    label = say(PackCode.DEEPEST_SAG, pack=log.part)
    if not log.voltage or reference is None:
        return (), Figure.unavailable(label, "V", say(PackCode.NO_VOLTAGE))
    t, v = log.voltage
    level = np.interp(t, reference.time_s, reference.values)
    gap = max(5.0 * usual_step_s(t), LONGEST_GAP_S) if t.size > 1 else LONGEST_GAP_S
    dips = find_dips(t, v, SAG_SHARE * level, HYSTERESIS_SHARE * max(median(level), 0.0), max_gap_s=gap)
    events = []
    for k in range(len(dips)):
        at = int(dips.lowest_index[k])
        start, end = float(dips.start_s[k]), float(dips.end_s[k])
        depth = float(level[at] - v[at])
        found = causes.near(start)
        text = say(
            PackCode.SAGGED, pack=log.part, depth_v=depth, to_v=float(v[at]), seconds=end - start,
            joules=_energy_drawn(log, start, end), causes=found,
        )  # fmt: skip
        figure = Figure(say(PackCode.SAG_DEPTH), depth, "V", Method.ESTIMATED, how=reference.how, digits=2)
        share = 100.0 * depth / max(float(level[at]), 1e-3)
        events.append(happened("sag", f"pack.{log.role}", (start, end), text, size=share, depth=figure, causes=found))
    below = level - v
    at = int(below.argmax())
    worst = float(below[at])
    spread = UPPER_EDGE_V
    if (c := log.circuit) is not None:
        # Relaxations slower than the fit's own hide in its load-free line, as deep as the load is steady.
        steady = float(np.mean(log.current.values)) * c.settled_ohm
        spread = float(np.linalg.norm([2.0 * c.scatter_v, hidden_share(c) * steady, VOLTAGE_SCALE * worst]))
    up = float(np.hypot(spread, unseen_excess(t, below, QUICKEST_S)))
    how = say(PackCode.REFERENCE_LESS_VOLTAGE, at_s=float(t[at]))
    return tuple(events), Figure(
        label, worst, "V", Method.ESTIMATED, low=worst - spread, high=worst + up, how=how, digits=2
    ).at_least(0.0)


def _energy_drawn(log: PackLog, start: float, end: float) -> float:
    """Energy given in a span, J; nought where the current does not tell."""
    if not log.current:
        return 0.0
    t = log.current.time_s
    inside = (t >= start) & (t <= end)
    if inside.sum() < 2:
        return 0.0
    power = log.current.values[inside] * np.interp(t[inside], *log.voltage)
    return float(integrate(t[inside], power)[-1])


def brown_outs(subject: str, voltage: Series, level: float | None, causes: Causes) -> tuple[Event, ...]:
    """Dips of a bus or a receiver pack (``bus.main``, ``pack.rx1``) below the absolute level."""
    if level is None or not voltage:
        return ()
    dips = find_dips(*voltage, level, BROWN_OUT_HYSTERESIS_V, max_gap_s=LONGEST_GAP_S)
    label = say(PackCode.BROWN_OUT_DEPTH)
    out = []
    for k in range(len(dips)):
        start, end = float(dips.start_s[k]), float(dips.end_s[k])
        found = causes.near(start)
        text = say(
            PackCode.FELL_BELOW,
            subject=Part(subject),
            to_v=float(dips.residual[k]),
            level_v=level,
            seconds=end - start,
            causes=found,
        )
        figure = Figure(label, float(dips.depth[k]), "V", Method.INTEGRATED, how=say(PackCode.LOWEST_SAMPLE), digits=2)
        deep = float(dips.depth[k])
        out.append(happened("brown_out", subject, (start, end), text, size=deep, depth=figure, causes=found))
    return tuple(out)
