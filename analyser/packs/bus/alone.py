"""One pack under the whole load: its voltage by circuit and curve at every instant."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

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
"""Resistance at :data:`EMPTIED_PERCENT`, as a share of that at half charge: the mean of all makes."""
EMPTIED_PERCENT = np.array(RESISTANCE_CHARGE_PERCENT, float)[::-1]
"""Charge states of the makes' tables, from full to empty."""


@dataclass(frozen=True, slots=True, eq=False)
class Low:
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
class Flown:
    """What the circuit says of the flight as flown, on the load's grid: load-free voltage over charge given.

    Circuit and charge are linear in the load: ``drop_v`` and ``charge_mah`` hold what the pack's own load does and
    what the others' would, the latter from when these failed. ``given_sum``, shape (n + 1,), is the running sum of
    ``given_mah``.
    """

    circuit: Circuit
    given_mah: FloatArray
    given_sum: FloatArray
    rest_v: FloatArray
    drop_v: tuple[FloatArray, FloatArray]
    charge_mah: tuple[FloatArray, FloatArray]

    @classmethod
    def of(cls, circuit: Circuit, load: Load, given_mah: FloatArray) -> Flown:
        """Read on the load's grid."""
        own, others = load.own_a, load.alone() - load.own_a
        grown = np.maximum.accumulate(given_mah)
        return cls(
            circuit,
            grown,
            summed(grown),
            np.interp(load.time_s, circuit.time_s, circuit.reference_v),
            (_drop(circuit, own), _drop(circuit, others)),
            (given_mah, np.cumsum(others) * GRID_S / 3.6),
        )

    def under(self, load: Load, path: FeedPath, others_scale: float = 1.0) -> Alone:
        """The whole load on this pack alone, the others' sensors off by a factor at will."""
        amps = load.alone(others_scale)
        charge, drop = (own + others_scale * others for own, others in (self.charge_mah, self.drop_v))
        rest = np.interp(charge, self.given_mah, self.rest_v)
        after = load.time_s >= load.failed_s
        return Alone(self.given_mah, self.given_sum, amps, charge, drop, path.drop(amps), rest, after)


def _drop(circuit: Circuit, amps: FloatArray) -> FloatArray:
    """What a load on the circuit takes of its voltage, V."""
    ohms = np.array([max(circuit.r1_ohm, 0.0), circuit.r2_ohm][: circuit.pairs])
    taus = np.array([circuit.tau_s, circuit.tau2_s][: circuit.pairs])
    return np.asarray(circuit.r0_ohm * amps + ohms @ relaxing(amps, GRID_S, taus), float)


@dataclass(frozen=True, slots=True, eq=False)
class Alone:
    """One load on this pack alone, on the load's grid: current, charge given, what it drops and what the path does.

    ``flown_mah`` is the charge given as flown, which never falls, and ``flown_sum`` its running sum; ``rest_v`` the
    load-free voltage as far as the flight showed it; ``after`` is true from when the others failed.
    """

    flown_mah: FloatArray
    flown_sum: FloatArray
    amps: FloatArray
    charge_mah: FloatArray
    drop_v: FloatArray
    path_v: FloatArray
    rest_v: FloatArray
    after: npt.NDArray[np.bool_]

    def lowest(self, curve: Curve) -> Low:
        """Solve the circuit by one continuation of its curve."""
        end = float(self.flown_mah[-1])
        rest = self.rest_v + curve.falls_v[0]
        beyond = self.charge_mah > end  # before, the curve is at its beginning
        rest[beyond] = self.rest_v[beyond] + np.interp(self.charge_mah[beyond] - end, curve.beyond_mah, curve.falls_v)
        # The resistance grows with the charge given: the table, from full to empty, against its mean over the flight.
        given = end + (curve.after_percent - EMPTIED_PERCENT) / 100.0 * curve.capacity_mah
        factor = np.interp(self.charge_mah, given, GROWTH / self._mean_as_flown(given))
        lost = factor * self.drop_v + self.path_v
        volts = np.where(self.after, rest - lost, np.inf)
        at = int(volts.argmin())
        ohm = float(factor[at] * self.drop_v[at] / max(self.amps[at], 1e-9))
        percent = curve.after_percent + 100.0 * (end - float(self.charge_mah[at])) / curve.capacity_mah
        gone = self.charge_mah >= end + curve.after_percent / 100.0 * curve.capacity_mah
        first = int(gone.argmax())
        return Low(float(volts[at]), at, ohm, percent, first if gone[first] else None, drop_v=lost)

    def _mean_as_flown(self, given_mah: FloatArray) -> float:
        """Mean over the flight of :data:`GROWTH`, straight between these charges: summed up piece by piece."""
        at = np.concatenate(([0], np.searchsorted(self.flown_mah, given_mah), [self.flown_mah.size]))
        count, total = np.diff(at), np.diff(self.flown_sum[at])
        slope = np.diff(GROWTH) / np.diff(given_mah)
        inside = GROWTH[:-1] * count[1:-1] + slope * (total[1:-1] - given_mah[:-1] * count[1:-1])
        return float(GROWTH[0] * count[0] + inside.sum() + GROWTH[-1] * count[-1]) / self.flown_mah.size
