"""What is in a pack: rest voltage at either end, charge state by the chemistry's curve, capacity, flights left."""

from __future__ import annotations

import numpy as np

from analyser.aircraft import Pack
from analyser.chemistry import FULL_V, PLAUSIBLE_REST_V, charge_percent, source_of
from analyser.events import Event, Level
from analyser.figures import Figure, FloatArray, Method
from analyser.pack_log import PackLog

REST_S = 10.0
LEAST_FALL_PERCENT = 15.0
WIDEST_CAPACITY = 0.5
"""A capacity is not stated where its interval reaches further than this share to either side."""
CAPACITY_KEPT = (1.05, 0.70)
"""What share of the label's capacity a pack in use may have (common practice, no source)."""
NOT_NOTED = "which pack was fitted is not noted"


def rest_voltages(log: PackLog) -> tuple[Figure, Figure]:
    """Voltage at rest at either end: the quietest ten seconds, with the remaining load's drop added back."""
    labels = (f"Rest voltage before, {log.role}", f"Rest voltage after, {log.role}")
    if not log.voltage:
        before, after = (Figure.unavailable(x, "V", "no pack voltage") for x in labels)
        return before, after
    t, v = log.voltage
    load = np.interp(t, *log.current) if log.current else np.zeros(t.size)
    drops = np.zeros((2, t.size))
    if (c := log.circuit) is not None:
        # Before, the standing load has long settled; after, the pairs are still relaxing, as the fit followed them.
        drops = np.stack([c.settled_ohm * load, np.interp(t, c.time_s, c.reference_v - c.fitted_v)])
    out = []
    for label, inside, dropped in zip(labels, (t <= t[0] + REST_S, t >= t[-1] - REST_S), drops, strict=True):
        drop = float(np.median(dropped[inside]))
        value = float(np.median(v[inside])) + drop
        if log.phases.airborne_span and _overlaps(log.phases.airborne_span, t[inside]):
            out.append(Figure.unavailable(label, "V", "the log begins or ends in flight, not at rest"))
            continue
        half = 0.25 * abs(drop) + 0.005
        how = "median of ten seconds" + (f", {1000 * drop:.0f} mV of load drop added back" if drop else "")
        method = Method.ESTIMATED if drop else Method.MEASURED
        out.append(Figure(label, value, "V", method, value - half, value + half, how=how, digits=2))
    return out[0], out[1]


def _overlaps(span: tuple[float, float], t: FloatArray) -> bool:
    return bool(((t >= span[0]) & (t <= span[1])).any())


def started_full(log: PackLog, before: Figure) -> tuple[bool | None, tuple[Event, ...]]:
    """Whether the pack came charged full; unknown, and remarked on, where no cell of its chemistry rests like that."""
    if log.pack is None or before.value is None:
        return None, ()
    low, high = PLAUSIBLE_REST_V[log.pack.chemistry]
    per_cell = before.value / log.pack.cells
    if low <= per_cell <= high:
        return per_cell >= FULL_V[log.pack.chemistry], ()
    text = (
        f"{log.pack.name} rests at {per_cell:.2f} V a cell, which {log.pack.chemistry} never does: "
        "is its cell count or chemistry right?"
    )
    return None, (log.remark(Level.WATCH, text),)


def charge_state(label: str, pack: Pack | None, rest: Figure) -> Figure:
    """State of charge by the chemistry's rest-voltage curve."""
    if pack is None:
        return Figure.unavailable(label, "%", NOT_NOTED)
    if rest.value is None:
        return Figure.unavailable(label, "%", rest.missing)
    per_cell = rest.value / pack.cells
    value, low, high = charge_percent(pack.chemistry, per_cell, rest.half_width / pack.cells)
    how = f"{pack.chemistry} rest voltage of {per_cell:.2f} V a cell, {source_of(pack.chemistry)}"
    return Figure(label, value, "%", Method.ESTIMATED, low, high, how=how, digits=0).with_doubt(*rest.doubts)


def charge_state_after(log: PackLog, rest: Figure, before: Figure, used: Figure) -> Figure:
    """By rest voltage or by charge used over the rated capacity, whichever is the surer of the two."""
    label = f"State of charge after, {log.role}"
    pack = log.pack
    by_voltage = charge_state(label, pack, rest)
    if pack is None or pack.rated_mah is None or used.value is None or before.value is None:
        return by_voltage
    spent = 100.0 * used.value / pack.rated_mah
    least, most = (spent / share for share in CAPACITY_KEPT)
    value = max(before.value - spent, 0.0)
    low, high = max((before.low or 0.0) - most, 0.0), max((before.high or 100.0) - least, 0.0)
    if by_voltage.value is not None and by_voltage.half_width <= (high - low) / 2.0:
        return by_voltage
    how = (
        f"state before less charge used over rated capacity, of which {100 * CAPACITY_KEPT[1]:.0f} to "
        f"{100 * CAPACITY_KEPT[0]:.0f} % is assumed to be left"
    )
    figure = Figure(label, value, "%", Method.ESTIMATED, min(low, value), max(high, value), how=how, digits=0)
    return figure.with_doubt(*rest.doubts, *used.doubts)


def capacity(log: PackLog, used: Figure, before: Figure, rest_after: Figure) -> Figure:
    """Charge used over the fall of the state of charge: needs a fall worth measuring."""
    label = f"Capacity, {log.role}"
    after = charge_state("", log.pack, rest_after)
    if used.value is None or before.value is None or after.value is None:
        return Figure.unavailable(label, "mAh", used.missing or before.missing or after.missing)
    fall = before.value - after.value
    half = float(np.hypot(before.half_width, after.half_width))
    how = f"charge used over a {fall:.0f} % fall of the rest-voltage charge state"
    return _over_fall(label, used, fall, half, how)


def capacity_put_back(log: PackLog, put_back: Figure, rest_after: Figure, full: bool | None) -> Figure:
    """Charge put back over the share that was missing: free of the current sensor and of the curve's upper end."""
    label = f"Capacity by put-back, {log.role}"
    if put_back.value is None or log.pack is None:
        return Figure.unavailable(label, "mAh", "no put-back is noted" if put_back.value is None else NOT_NOTED)
    if log.pack.chemistry == "nimh":
        return Figure.unavailable(label, "mAh", "a nickel pack takes more charge than it stores")
    if not full:
        return Figure.unavailable(label, "mAh", "the pack did not start full, so it may not be charged full either")
    after = charge_state("", log.pack, rest_after)
    if after.value is None:
        return Figure.unavailable(label, "mAh", after.missing)
    how = f"charge put back over the {100 - after.value:.0f} % missing after the flight, taken as charged to full"
    return _over_fall(label, put_back, 100.0 - after.value, after.half_width, how)


def _over_fall(label: str, charge: Figure, fall: float, half: float, how: str) -> Figure:
    """A charge over the share of the capacity it was, with the share's interval; not stated where that is too wide."""
    if charge.value is None or charge.value <= 0:
        return Figure.unavailable(label, "mAh", charge.missing or "no charge left the pack by this log")
    if fall < LEAST_FALL_PERCENT:
        why = f"the charge fell by only {fall:.0f} %; a capacity needs a fall of {LEAST_FALL_PERCENT:.0f} % or more"
        return Figure.unavailable(label, "mAh", why)
    if half > WIDEST_CAPACITY * fall:
        why = (
            f"the fall of the charge state, {fall:.0f} %, is uncertain by {half:.0f} % because makes differ in their "
            "rest voltage; a deeper discharge would supply it"
        )
        return Figure.unavailable(label, "mAh", why)
    value, low, high = (100.0 * charge.value / share for share in (fall, fall + half, fall - half))
    return Figure(label, value, "mAh", Method.ESTIMATED, low, high, how=how, digits=0).with_doubt(*charge.doubts)


def flights_left(log: PackLog, used: Figure, after: Figure) -> Figure:
    """How many more flights like this one the charge left holds above the owner's reserve."""
    label = f"More flights like this one, {log.role}"
    pack = log.pack
    if pack is None or pack.rated_mah is None:
        return Figure.unavailable(label, "", "the fitted pack and its rated capacity are not known")
    if used.value is None or used.value <= 0 or after.value is None:
        return Figure.unavailable(label, "", used.missing or after.missing or "no charge was used")
    share = 100.0 * used.value / pack.rated_mah
    at = [
        max(x - pack.reserve_percent, 0.0) / share for x in (after.value, after.low or 0.0, after.high or after.value)
    ]
    how = f"charge above the {pack.reserve_percent:.0f} % reserve over this flight's use"
    return Figure(label, at[0], "", Method.ESTIMATED, at[1], at[2], how=how)
