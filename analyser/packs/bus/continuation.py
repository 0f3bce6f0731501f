"""How a pack's rest voltage goes on below what a flight showed: by every published make's curve."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from msgspec import Struct

from analyser.core.aircraft import Chemistry, Pack
from analyser.core.figures import Z95, FloatArray
from analyser.core.statistics.robust import median
from analyser.packs.bus.member import BusPack
from analyser.packs.capacity import ABSURD_PERCENT, LEAST_FALL_PERCENT, SPENT_PERCENT
from analyser.packs.chemistry import CHARGE_PERCENT, ONE_CURVE_SE_V, PUBLISHED, aged_curve_se
from analyser.packs.reference_state import CHARGE_PERCENT as RESISTANCE_CHARGE_PERCENT
from analyser.packs.reference_state import of_another
from analyser.packs.state_of_charge import CAPACITY_KEPT


class Curve(Struct, frozen=True, eq=False):
    """How the charge state goes on below what the flight showed, by one make and capacity.

    ``falls_v`` is the pack's rest voltage against that at the flight's end, at ``beyond_mah`` of charge given beyond
    it; ``after_percent`` the charge state at the flight's end.
    """

    make: str
    beyond_mah: FloatArray
    falls_v: FloatArray
    after_percent: float
    capacity_mah: float

    @property
    def knots_mah(self) -> FloatArray:
        """Charge given beyond the flight's end at the charge states of the makes' tables, from full to empty."""
        return (self.after_percent - EMPTIED_PERCENT) / 100.0 * self.capacity_mah


EMPTIED_PERCENT = RESISTANCE_CHARGE_PERCENT[::-1]
"""Charge states of the makes' tables of resistance, from full to empty."""


def curves_of(pack: BusPack, used_mah: float) -> Iterator[Curve]:
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
        percent = np.linspace(after, 0.0, 60)
        falls = cells * (np.interp(percent, CHARGE_PERCENT, volts) - np.interp(after, CHARGE_PERCENT, volts))
        for mah in possible.tolist():
            yield Curve(make, mah * (after - percent) / 100.0, falls, float(after), mah)


def _makes(chemistry: Chemistry) -> Iterator[tuple[str, tuple[float, ...]]]:
    """Published curves: a pouch pack and a cylindrical one may hold the same cell, so either's count for both."""
    alike: tuple[Chemistry, ...] = ("lipo", "li_ion") if chemistry in ("lipo", "li_ion") else (chemistry,)
    for one in alike:
        yield from PUBLISHED[one].items()


def makes_apart(curves: Sequence[Curve], lows: FloatArray, middle: float, pack: Pack) -> tuple[float, float]:
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
