"""One pack under the whole load: its voltage by circuit and curve at every instant."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
from msgspec import Struct

from analyser.core.figures import FloatArray
from analyser.core.statistics.smoothing import summed
from analyser.packs.bus.continuation import Curve
from analyser.packs.bus.feed_path import FeedPath
from analyser.packs.bus.load import GRID_S
from analyser.packs.bus.member import Load
from analyser.packs.circuit import Circuit, relaxing
from analyser.packs.reference_state import CHARGE_PERCENT as RESISTANCE_CHARGE_PERCENT
from analyser.packs.reference_state import OVER_HALF_CHARGE

GROWTH = np.mean(list(OVER_HALF_CHARGE.values()), axis=0)[::-1]
"""Resistance from full to empty, as a share of that at half charge: the mean of all makes."""


class Low(Struct, frozen=True, eq=False):
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


class Flown(Struct, frozen=True, eq=False):
    """What the circuit says of the flight as flown, on the load's grid: load-free voltage over charge given.

    Circuit and charge are linear in the load: ``amps``, ``drop_v`` and ``charge_mah`` hold what the pack's own load
    does and what the others' would, the latter from when these failed, which ``after`` marks. ``given_mah`` is the
    charge given as flown, which never falls.
    """

    given_mah: FloatArray
    rest_v: FloatArray
    after: npt.NDArray[np.bool_]
    amps: tuple[FloatArray, FloatArray]
    drop_v: tuple[FloatArray, FloatArray]
    charge_mah: tuple[FloatArray, FloatArray]

    @classmethod
    def of(cls, circuit: Circuit, load: Load, given_mah: FloatArray, rest_v: FloatArray) -> Flown:
        """Read on the load's grid, which charge given and load-free voltage are on."""
        own, others = load.own_a, load.taken_a
        return cls(
            np.maximum.accumulate(given_mah),
            rest_v,
            load.after,
            (own, others),
            (_drop(circuit, own), _drop(circuit, others)),
            (given_mah, np.cumsum(others) * GRID_S / 3.6),
        )

    def under(self, path: FeedPath, others_scale: float = 1.0) -> Alone:
        """The whole load on this pack alone, the others' sensors off by a factor at will."""
        every = (self.amps, self.charge_mah, self.drop_v)
        amps, charge, drop = (own + others_scale * others for own, others in every)
        rest = np.where(self.after, np.interp(charge, self.given_mah, self.rest_v), np.inf)
        return Alone(amps, charge - self.given_mah[-1], drop, path.drop(amps), rest)

    def growth(self, curves: Sequence[Curve]) -> FloatArray:
        """How the resistance grows with the charge given by each curve, from full to empty, over its mean as flown.

        Shape (curves, charge states): :data:`GROWTH` over its mean, straight between the charges at which it is known,
        summed up piece by piece.
        """
        end, size = self.given_mah[-1], self.given_mah.size
        given = end + np.stack([curve.knots_mah for curve in curves])
        at = np.searchsorted(self.given_mah, given)
        total = np.diff(summed(self.given_mah)[at])
        slope = np.diff(GROWTH) / np.diff(given)
        inside = GROWTH[:-1] * np.diff(at) + slope * (total - given[:, :-1] * np.diff(at))
        ends = GROWTH[0] * at[:, :1] + GROWTH[-1] * (size - at[:, -1:])
        return np.asarray(GROWTH * size / (ends + inside.sum(axis=1, keepdims=True)), float)


def _drop(circuit: Circuit, amps: FloatArray) -> FloatArray:
    """What a load on the circuit takes of its voltage, V."""
    ohms = np.array([max(circuit.r1_ohm, 0.0), circuit.r2_ohm][: circuit.pairs])
    taus = np.array([circuit.tau_s, circuit.tau2_s][: circuit.pairs])
    return np.asarray(circuit.r0_ohm * amps + ohms @ relaxing(amps, GRID_S, taus), float)


class Alone(Struct, frozen=True, eq=False):
    """One load on this pack alone, on the load's grid: current, what it drops and what the path does.

    ``beyond_mah`` is the charge given beyond all that was given as flown; ``rest_v`` the load-free voltage as far as
    the flight showed it, infinite until the others failed.
    """

    amps: FloatArray
    beyond_mah: FloatArray
    drop_v: FloatArray
    path_v: FloatArray
    rest_v: FloatArray

    def lowest(self, curve: Curve, growth: FloatArray) -> Low:
        """Solve the circuit by one continuation of its curve, as the resistance grows by it."""
        factor = np.interp(self.beyond_mah, curve.knots_mah, growth)
        lost = factor * self.drop_v + self.path_v
        volts = self.rest_v + np.interp(self.beyond_mah, curve.beyond_mah, curve.falls_v) - lost
        at = int(volts.argmin())
        ohm = float(factor[at] * self.drop_v[at] / max(self.amps[at], 1e-9))
        percent = curve.after_percent - 100.0 * float(self.beyond_mah[at]) / curve.capacity_mah
        gone = self.beyond_mah >= curve.after_percent / 100.0 * curve.capacity_mah
        first = int(gone.argmax())
        return Low(float(volts[at]), at, ohm, percent, first if gone[first] else None, drop_v=lost)
