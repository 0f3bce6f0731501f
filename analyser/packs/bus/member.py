"""A pack that shares a bus, and the load on it."""

from __future__ import annotations

from functools import cached_property

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


class Load(Struct, frozen=True, eq=False, dict=True):
    """One pack's own current and the others', A, on an even grid.

    ``after`` is true from when the others fail, ``read`` where some pack was read since.
    """

    time_s: FloatArray
    own_a: FloatArray
    others_a: FloatArray
    after: npt.NDArray[np.bool_]
    read: npt.NDArray[np.bool_]

    @cached_property
    def taken_a(self) -> FloatArray:
        """What the pack takes over from the others, A."""
        return np.where(self.after, self.others_a, 0.0)

    def unseen(self, drop_v: FloatArray) -> float:
        """How much deeper than at any instant read the voltage may have dropped between two of them, V."""
        return unseen_excess(self.time_s[self.read], drop_v[self.read], QUICKEST_S)
