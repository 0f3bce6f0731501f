"""What a pack holds: capacity by the charge it gave or got back, data that no pack fits, and flights left in it."""

from __future__ import annotations

import numpy as np

from analyser.core.events import Event, Level
from analyser.core.figures import Figure, Method
from analyser.packs.charge import DISAGREE, LEAST_MAH
from analyser.packs.chemistry import aged_curve_se
from analyser.packs.readings import PackLog
from analyser.packs.state_of_charge import CAPACITY_KEPT, NOT_NOTED, ChargeStates

LEAST_FALL_PERCENT = 15.0
WIDEST_CAPACITY = 0.5
"""A capacity is not stated where its interval reaches further than this share to either side."""
ABSURD_PERCENT = 112.0
"""A capacity whose whole interval lies above this share of the label's is an error of the data, not a good pack."""
MEASURED_SE = 0.02
"""Relative error of a charger's own charge count (common practice, no source)."""
SPENT_PERCENT = 40.0
"""One whose whole interval lies below this is an error of the data, or a pack that nobody would fly any more."""


def capacity(log: PackLog, used: Figure, states: ChargeStates) -> Figure:
    """Charge used over the fall of the state of charge: needs a fall worth measuring."""
    label = f"Capacity, {log.role}"
    before, after = states.before_percent, states.after_percent
    if used.value is None or before.value is None or after.value is None:
        return Figure.unavailable(label, "mAh", used.missing or before.missing or after.missing)
    fall = before.value - after.value
    half = float(np.hypot(before.half_width, after.half_width))
    how = f"charge used over a {fall:.0f} % fall of the rest-voltage charge state"
    return _over_fall(label, used, fall, half, how)


def capacity_put_back(log: PackLog, put_back: Figure, states: ChargeStates) -> Figure:
    """Charge put back over the share that was missing: free of the current sensor and of the curve's upper end."""
    label = f"Capacity by put-back, {log.role}"
    after = states.after_percent
    if put_back.value is None or log.pack is None:
        return Figure.unavailable(label, "mAh", "no put-back is noted" if put_back.value is None else NOT_NOTED)
    if log.pack.chemistry == "nimh":
        return Figure.unavailable(label, "mAh", "a nickel pack takes more charge than it stores")
    if not states.full:
        return Figure.unavailable(label, "mAh", "the pack did not start full, so it may not be charged full either")
    if after.value is None:
        return Figure.unavailable(label, "mAh", after.missing)
    how = f"charge put back over the {100 - after.value:.0f} % missing after the flight, taken as charged to full"
    return _over_fall(label, put_back, 100.0 - after.value, after.half_width, how)


def _over_fall(label: str, charge: Figure, fall: float, half: float, how: str) -> Figure:
    """A charge over the share of the capacity it was, with the share's interval; not stated where that is too wide."""
    if charge.value is None or charge.value < LEAST_MAH:
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
    # Makes differ, and an aged cell of any make differs from a new one: whichever is more.
    half = max(half, 2.0 * aged_curve_se(fall) * fall)
    value, low, high = (100.0 * charge.value / share for share in (fall, fall + half, fall - half))
    return Figure(label, value, "mAh", Method.ESTIMATED, low, high, how=how, digits=0).with_doubt(*charge.doubts)


def noted_capacity(log: PackLog) -> Figure:
    """What a charger's full discharge and charge gave, as the owner noted it."""
    label = f"Capacity measured, {log.role}"
    mah = log.note.capacity_mah
    if mah is None:
        return Figure.unavailable(label, "mAh", "no capacity measured by a charger is noted")
    half = 2.0 * MEASURED_SE * mah
    return Figure(label, mah, "mAh", Method.ENTERED, mah - half, mah + half, how="noted after the flight", digits=0)


def impossible_charge(log: PackLog, used: Figure, put_back: Figure, states: ChargeStates) -> tuple[Event, ...]:
    """Remark where charge and rest voltages together fit no pack of this label, however its make's curve may run.

    The third route to a wrong current sensor, beside a reading that no pack gives and a second route to the charge.
    It looks at the most and the least that the charge state can have fallen, so it speaks in shallow flights too.
    """
    pack, before, after = log.pack, states.before_percent, states.after_percent
    if pack is None or pack.rated_mah is None or not log.used or used.value is None or states.remarks:
        return ()
    if before.low is None or before.high is None or after.low is None or after.high is None:
        return ()
    most, least = (pack.rated_mah * max(x, 0.0) / 100.0 for x in (before.high - after.low, before.low - after.high))
    top, bottom = ABSURD_PERCENT / 100.0 * most, SPENT_PERCENT / 100.0 * least
    if bottom <= used.value <= top:
        return ()
    given = f"The current of {log.role} sums up to" if log.current else f"The running count of {log.role} rises by"
    suspects = "its rated capacity, cell count or chemistry is not as stated"
    if used.value > top:
        could = f"even a pack that held all its {pack.rated_mah:.0f} mAh can have given only {most:.0f} mAh"
        sensor = f"reads too much ({_size_of_error(log, used.value, CAPACITY_KEPT[0] * most)})"
    else:
        could = f"a pack that held its {pack.rated_mah:.0f} mAh would have given {least:.0f} mAh or more"
        sensor = f"reads too little ({_size_of_error(log, used.value, CAPACITY_KEPT[1] * least)})"
        suspects = f"it is worn out, or {suspects}"
    if put_back.value and abs(put_back.value - used.value) <= DISAGREE * used.value:
        told = f"The charge put back agrees, so the sensor is right: {suspects}."
    else:
        told = (
            f"{suspects[0].upper()}{suspects[1:]}, or the sensor {sensor}. "
            "The mAh put back by the charger, noted, would tell the sensor's error from the others."
        )
    text = f"{given} {used.value:.0f} mAh, but by its rest voltages before and after, {could}. {told}"
    return (log.remark(Level.WATCH, text),)


def _size_of_error(log: PackLog, used: float, believable: float) -> str:
    """How far off a sensor would turn a believable charge into this one."""
    factor = f"a factor of {used / max(believable, 1.0):.2g} would do"
    if not log.current:
        return factor
    offset = 3.6 * (used - believable) / max(float(log.current.time_s[-1] - log.current.time_s[0]), 1.0)
    if log.quiet_a < 0.5 * offset:
        return f"{factor}; an offset would show in its quietest ten seconds, which read {log.quiet_a:.2f} A"
    return f"{factor}, or {offset:+.1f} A throughout"


def flights_left(log: PackLog, used: Figure, left: Figure, capacities: tuple[Figure, ...]) -> Figure:
    """How many more flights like this one the charge left holds above the owner's reserve.

    Its capacity is the surest known: this flight's own, by either route, or the label's with the share of it that a
    pack in use may have kept. The ends of the interval take the ends of charge state and capacity together, as a
    capacity read too high goes with a charge state read too high.
    """
    label = f"More flights like this one, {log.role}"
    pack = log.pack
    if pack is None:
        return Figure.unavailable(label, "", NOT_NOTED)
    if used.value is None or used.value < LEAST_MAH or left.value is None or left.low is None or left.high is None:
        return Figure.unavailable(label, "", used.missing or left.missing or "hardly any charge was used")
    told = [c for c in capacities if c.value is not None]
    if pack.rated_mah is not None:
        most, least = (pack.rated_mah * kept for kept in CAPACITY_KEPT)
        how = (
            f"the rated {pack.rated_mah:.0f} mAh, of which {100 * CAPACITY_KEPT[1]:.0f} to "
            f"{100 * CAPACITY_KEPT[0]:.0f} % is assumed to be left"
        )
        told.append(Figure("", pack.rated_mah, "mAh", Method.ASSUMED, least, most, how=how))
    if not told:
        why = "needs the rated capacity, or a flight deep enough to tell it"
        return Figure.unavailable(label, "", why)
    holds = min(told, key=lambda c: c.half_width)
    flights = [
        max(charge - pack.reserve_percent, 0.0) / 100.0 * mah / used.value
        for charge, mah in ((left.value, holds.value), (left.low, holds.low), (left.high, holds.high))
        if mah is not None
    ]
    source = holds.how if holds.method is Method.ASSUMED else f"{holds.value:.0f} mAh, {holds.how}"
    how = f"charge above the {pack.reserve_percent:.0f} % reserve over this flight's use; capacity: {source}"
    figure = Figure(label, flights[0], "", Method.ESTIMATED, flights[1], flights[2], how=how)
    return figure.with_doubt(*used.doubts, *left.doubts)
