"""Packs under load: open-circuit voltage per cell, ohmic and one RC resistance, and two packs sharing one bus."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.signal import lfilter

FloatArray = npt.NDArray[np.float64]

# Open-circuit voltage of a cell against state of charge: round numbers typical of the chemistry, from memory.
_SOC = np.array([0.0, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0])
_OCV = {
    "li_ion": np.array([2.90, 3.22, 3.37, 3.50, 3.58, 3.64, 3.70, 3.79, 3.89, 3.98, 4.06, 4.17]),
    "lipo": np.array([3.27, 3.61, 3.69, 3.73, 3.77, 3.79, 3.82, 3.87, 3.95, 4.02, 4.11, 4.19]),
    "lifepo4": np.array([2.60, 3.00, 3.12, 3.21, 3.25, 3.27, 3.28, 3.29, 3.31, 3.325, 3.335, 3.42]),
}


def open_circuit_v(chemistry: str, soc: FloatArray) -> FloatArray:
    """Open-circuit voltage of one cell, V."""
    return np.asarray(np.interp(soc, _SOC, _OCV[chemistry]))


@dataclass(frozen=True)
class CellState:
    """One cell on the day: resistances at 25 °C, capacity, charge at the start."""

    resistance_ohm: float
    rc_ohm: float
    capacity_mah: float
    soc: float


@dataclass(frozen=True)
class PackState:
    """One pack on the day; ``lead_ohm`` (lead, plug, diode) lies between the pack's terminals and the bus."""

    name: str
    chemistry: str
    cells: tuple[CellState, ...]
    lead_ohm: float
    rc_s: float = 18.0

    @property
    def resistance_ohm(self) -> float:
        """Sum of the cells' ohmic resistances at 25 °C."""
        return sum(c.resistance_ohm for c in self.cells)

    @property
    def capacity_mah(self) -> float:
        """What the pack can give: its weakest cell's capacity."""
        return min(c.capacity_mah for c in self.cells)


@dataclass(frozen=True)
class PackTrace:
    """One pack over the session; ``cells_v`` is (cells, n)."""

    voltage_v: FloatArray
    cells_v: FloatArray
    current_a: FloatArray
    used_mah: FloatArray
    temperature_c: FloatArray
    warm: float


def _warmth(temperature_c: float) -> float:
    """How resistance depends on temperature: −1.2 % a kelvin (invented, of a plausible size)."""
    return float(np.exp(-0.012 * (temperature_c - 25.0)))


def discharge(pack: PackState, current_a: FloatArray, step_s: float, air_c: float) -> PackTrace:
    """Discharge one pack with a known current."""
    used = np.cumsum(current_a) * step_s / 3.6
    keep = np.exp(-step_s / pack.rc_s)
    filtered = lfilter([1 - keep], [1, -keep], current_a)
    warm = _warmth(air_c)
    cells = np.stack(
        [
            open_circuit_v(pack.chemistry, np.clip(c.soc - used / c.capacity_mah, 0, 1))
            - current_a * c.resistance_ohm * warm
            - filtered * c.rc_ohm * warm
            for c in pack.cells
        ]
    )
    heat = np.cumsum(current_a**2 * pack.resistance_ohm) * step_s
    temperature = air_c + heat / 130.0 * np.exp(-np.arange(len(used)) * step_s / 1800.0)
    return PackTrace(cells.sum(0), cells, current_a, used, temperature, warm)


def share(
    packs: tuple[PackState, PackState], load_a: FloatArray, step_s: float, air_c: float
) -> tuple[tuple[PackTrace, PackTrace], FloatArray]:
    """Let two packs feed one bus through their diodes; returns both and the bus voltage.

    The split follows from equal bus voltage; a pack below the bus gives nothing. Charge and relaxation feed back
    slowly, so a few passes settle it.
    """
    warm = _warmth(air_c)
    z = [p.resistance_ohm * warm + p.lead_ohm for p in packs]
    split = [load_a * z[1] / (z[0] + z[1]), load_a * z[0] / (z[0] + z[1])]
    bus = np.zeros_like(load_a)
    for _ in range(12):
        traces = [discharge(p, i, step_s, air_c) for p, i in zip(packs, split, strict=True)]
        source = [tr.voltage_v + tr.current_a * (zi - p.lead_ohm) for tr, zi, p in zip(traces, z, packs, strict=True)]
        both = (source[0] / z[0] + source[1] / z[1] - load_a) / (1 / z[0] + 1 / z[1])
        first = np.clip((source[0] - both) / z[0], 0, load_a)
        first = np.where((source[1] - both) < 0, load_a, first)
        split = [0.5 * (split[0] + first), load_a - 0.5 * (split[0] + first)]
        bus = np.maximum(source[0] - split[0] * z[0], source[1] - split[1] * z[1])
    traces = [discharge(p, i, step_s, air_c) for p, i in zip(packs, split, strict=True)]
    return (traces[0], traces[1]), bus
