"""A pack that shares a bus, and the load on it."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from msgspec import Struct

from analyser.core.aircraft import Pack
from analyser.core.figures import FloatArray
from analyser.core.statistics.extremes import unseen_excess
from analyser.core.telemetry import Series
from analyser.packs.bus.load import QUICKEST_S
from analyser.packs.circuit import Circuit


class BusPack(Struct, frozen=True, eq=False):
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


class Load(Struct, frozen=True, eq=False):
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
