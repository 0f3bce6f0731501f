"""What a pack holds: capacity by the charge it gave or got back, data that no pack fits, and flights left in it."""

from __future__ import annotations

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from analyser.core.aircraft import Pack
from analyser.core.events import Event
from analyser.core.figures import Z95, Figure, Method
from analyser.core.findings import Part, Text, say
from analyser.packs.charge import LEAST_MAH
from analyser.packs.chemistry import aged_curve_se
from analyser.packs.codes import PackCode
from analyser.packs.readings import PackLog
from analyser.packs.scale import CHARGER_SE, DISAGREE
from analyser.packs.state_of_charge import CAPACITY_KEPT, ChargeStates

LEAST_FALL_PERCENT = 15.0
WIDEST_CAPACITY = 0.5
"""A capacity is not stated where its interval reaches further than this share to either side."""
ABSURD_PERCENT = 112.0
"""A capacity whose whole interval lies above this share of the label's is an error of the data, not a good pack."""
SPENT_PERCENT = 40.0
"""One whose whole interval lies below this is an error of the data, or a pack that nobody would fly any more."""


class PackCapacity(Struct, frozen=True):
    """What one pack holds, by each route, and how many more such flights the charge left in it is enough for."""

    by_discharge_mah: Figure
    by_charge_mah: Figure
    measured_mah: Figure
    flights_left: Figure

    @property
    def told_mah(self) -> Figure:
        """The one that stands for this flight: as a charger measured it, else by discharge, else by put-back."""
        routes = (self.measured_mah, self.by_discharge_mah, self.by_charge_mah)
        return next((f for f in routes if f.value is not None), self.by_discharge_mah)


def capacity_by_discharge(pack: Pack | None, part: Part, used: Figure, before: Figure, after: Figure) -> Figure:
    """Charge used over the fall of the state of charge by rest voltage: needs a fall worth measuring."""
    label = say(PackCode.CAPACITY_BY_DISCHARGE, pack=part)
    if used.value is None or before.value is None or after.value is None:
        return Figure.unavailable(label, "mAh", used.missing or before.missing or after.missing)
    fall = before.minus(after, say(PackCode.STATE_AFTER, pack=part))
    held = _over_fall(label, used, fall, say(PackCode.CHARGE_OVER_FALL, fall_percent=fall.value or 0.0))
    return _by_label(held, pack)


def capacity_by_charge(log: PackLog, put_back: Figure, states: ChargeStates) -> Figure:
    """Charge put back over the share that was missing: free of the current sensor and of the curve's upper end."""
    label = say(PackCode.CAPACITY_BY_CHARGE, pack=log.part)
    after = states.after_percent
    if put_back.value is None:
        return Figure.unavailable(label, "mAh", say(PackCode.NO_PUT_BACK))
    if log.pack is None:
        return Figure.unavailable(label, "mAh", say(PackCode.NOT_NOTED_WHICH))
    if log.pack.chemistry == "nimh":
        return Figure.unavailable(label, "mAh", say(PackCode.NICKEL))
    if not states.full:
        return Figure.unavailable(label, "mAh", say(PackCode.NOT_FULL))
    if after.value is None:
        return Figure.unavailable(label, "mAh", after.missing)
    fall = Figure.within(label, 100.0 - after.value, after.half_width, "%")
    held = _over_fall(label, put_back, fall, say(PackCode.CHARGE_OVER_MISSING, missing_percent=100.0 - after.value))
    return _by_label(held, log.pack)


def _by_label(held: Figure, pack: Pack | None) -> Figure:
    """A capacity beside the label: no pack holds more than :data:`ABSURD_PERCENT` of it, so what says so is doubted.

    Where it does not say so, its interval ends there: above it would only repeat how little is known.
    """
    if held.value is None or pack is None or pack.rated_mah is None:
        return held
    most = ABSURD_PERCENT / 100.0 * pack.rated_mah
    if held.value > most:
        return held.with_doubt(say(PackCode.MORE_THAN_ANY, percent=100.0 * held.value / pack.rated_mah))
    return replace(held, high=min(held.high or most, most))


def _over_fall(label: Text, charge: Figure, fall: Figure, how: Text) -> Figure:
    """A charge over the share of the capacity it was, with the interval of both; not stated where that is too wide."""
    share, half = fall.value or 0.0, fall.half_width
    if charge.value is None or charge.value < LEAST_MAH:
        return Figure.unavailable(label, "mAh", charge.missing or say(PackCode.NO_CHARGE_LEFT))
    if share < LEAST_FALL_PERCENT:
        why = say(PackCode.SHALLOW, fall_percent=share, least_percent=LEAST_FALL_PERCENT)
        return Figure.unavailable(label, "mAh", why)
    if half > WIDEST_CAPACITY * share:
        return Figure.unavailable(label, "mAh", say(PackCode.FALL_UNSURE, fall_percent=share, half_percent=half))
    # Makes differ, and an aged cell of any make differs from a new one: whichever is more.
    half = max(half, 2.0 * aged_curve_se(share) * share)
    told, low, high = (100.0 * charge.value / x for x in (share, share + half, share - half))
    own = charge.half_width / charge.value
    low = told * float(np.exp(-np.hypot(np.log(told / low), own)))
    high = told * float(np.exp(np.hypot(np.log(high / told), own)))
    return Figure(label, told, "mAh", Method.ESTIMATED, low=low, high=high, how=how, digits=0).with_doubt(
        *charge.doubts
    )


def measured_capacity(log: PackLog) -> Figure:
    """What a charger's full discharge and charge gave, as the owner noted it."""
    label = say(PackCode.CAPACITY_MEASURED, pack=log.part)
    mah = log.note.capacity_mah
    if mah is None:
        return Figure.unavailable(label, "mAh", say(PackCode.NO_CAPACITY_NOTED))
    half = Z95 * CHARGER_SE * mah
    how = say(PackCode.NOTED)
    return Figure(label, mah, "mAh", Method.ENTERED, low=mah - half, high=mah + half, how=how, digits=0)


def impossible_charge(log: PackLog, integrated: Figure, put_back: Figure, states: ChargeStates) -> tuple[Event, ...]:
    """Remark where charge and rest voltages together fit no pack of this label, however its make's curve may run.

    The third route to a wrong current sensor, beside a reading that no pack gives and a second route to the charge.
    It looks at the most and the least that the charge state can have fallen, so it speaks in shallow flights too.
    """
    pack, before, after = log.pack, states.before_percent, states.after_percent
    used = integrated.value
    if pack is None or pack.rated_mah is None or not log.given or used is None or states.remarks:
        return ()
    if before.low is None or before.high is None or after.low is None or after.high is None:
        return ()
    most, least = (pack.rated_mah * max(x, 0.0) / 100.0 for x in (before.high - after.low, before.low - after.high))
    top, bottom = ABSURD_PERCENT / 100.0 * most, SPENT_PERCENT / 100.0 * least
    if bottom <= used <= top:
        return ()
    too_much = used > top
    bound = most if too_much else least
    believable = CAPACITY_KEPT[0] * most if too_much else CAPACITY_KEPT[1] * least
    text = say(
        PackCode.CHARGE_TOO_MUCH if too_much else PackCode.CHARGE_TOO_LITTLE,
        pack=log.part,
        by_current=bool(log.current),
        used_mah=used,
        rated_mah=pack.rated_mah,
        bound_mah=bound,
        charger_agrees=bool(put_back.value and abs(put_back.value - used) <= DISAGREE * used),
        error=_sensor_error(log, used, believable),
    )
    return (log.remark(text),)


def _sensor_error(log: PackLog, used: float, believable: float) -> Text:
    """How far off a sensor would turn a believable charge into this one."""
    offset = 0.0
    if log.current:
        offset = 3.6 * (used - believable) / max(float(log.current.time_s[-1] - log.current.time_s[0]), 1.0)
    return say(
        PackCode.SENSOR_ERROR,
        factor=used / max(believable, 1.0),
        by_current=bool(log.current),
        offset_a=offset,
        quiet_a=log.quiet_a,
        offset_seen=log.quiet_a >= 0.5 * offset,
    )


def flights_left(pack: Pack | None, part: Part, used: Figure, left: Figure, capacities: tuple[Figure, ...]) -> Figure:
    """How many more flights like this one the charge left holds above the owner's reserve.

    Its capacity is the surest known: this flight's own, by either route, or the label's with the share of it that a
    pack in use may have kept. The ends of the interval take the ends of charge state and capacity together, as a
    capacity read too high goes with a charge state read too high; the error of the charge used is another.

    Parameters
    ----------
    capacities : tuple of Figure
        A measured one, then those told by this flight.
    """
    label = say(PackCode.FLIGHTS_LEFT, pack=part)
    if pack is None:
        return Figure.unavailable(label, "", say(PackCode.NOT_NOTED_WHICH))
    if used.value is None or used.value < LEAST_MAH or left.value is None or left.low is None or left.high is None:
        return Figure.unavailable(label, "", used.missing or left.missing or say(PackCode.HARDLY_USED))
    told = [c for c in capacities if c.value is not None]
    if pack.rated_mah is not None:
        label_mah = label_capacity(pack.rated_mah)
        # A flight that shows less than a pack in use keeps, or more than any has, shows that the label is no guide.
        if all((label_mah.low or 0.0) <= (c.value or 0.0) <= (label_mah.high or 0.0) for c in told):
            told.append(label_mah)
    if not told:
        return Figure.unavailable(label, "", say(PackCode.NO_CAPACITY))
    holds = min(told, key=lambda c: c.half_width)
    value, low, high = (
        max((charge or 0.0) - pack.reserve_percent, 0.0) / 100.0 * (mah or 0.0) / used.value
        for charge, mah in ((left.value, holds.value), (left.low, holds.low), (left.high, holds.high))
    )
    # A capacity told by this flight's own charge is off as that charge is, so that its error drops out.
    own = 0.0 if any(holds is c for c in capacities[1:]) else used.half_width / used.value
    down, up = value * (1.0 - 1.0 / (1.0 + own)), value * (1.0 / max(1.0 - own, 0.05) - 1.0)
    low, high = max(value - float(np.hypot(value - low, down)), 0.0), value + float(np.hypot(high - value, up))
    how = say(PackCode.ABOVE_RESERVE, reserve_percent=pack.reserve_percent, capacity=holds, source=holds.how)
    figure = Figure(label, value, "", Method.ESTIMATED, low=low, high=high, how=how)
    return figure.with_doubt(*used.doubts, *left.doubts)


def label_capacity(rated_mah: float) -> Figure:
    """The label's capacity, with the share of it that a pack in use may have kept."""
    most, least = (rated_mah * kept for kept in CAPACITY_KEPT)
    kept = (100.0 * CAPACITY_KEPT[1], 100.0 * CAPACITY_KEPT[0])
    how = say(PackCode.RATED_KEPT, rated_mah=rated_mah, least_percent=kept[0], most_percent=kept[1])
    label = say(PackCode.CAPACITY_OF_LABEL)
    return Figure(label, rated_mah, "mAh", Method.ASSUMED, low=least, high=most, how=how, digits=0)
