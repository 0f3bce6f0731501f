"""Packs under load: open-circuit voltage per cell, ohmic and one RC resistance, and two packs sharing one bus."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from msgspec import Struct
from scipy.constants import R, zero_Celsius
from scipy.signal import lfilter

FloatArray = npt.NDArray[np.float64]

# Open-circuit voltage of a cell against state of charge: invented round numbers, each curve of the shape its chemistry
# has (common practice, no source).
_SOC = np.array([0.0, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0])
_OCV = {
    "li_ion": np.array([2.90, 3.22, 3.37, 3.50, 3.58, 3.64, 3.70, 3.79, 3.89, 3.98, 4.06, 4.17]),
    "lipo": np.array([3.27, 3.61, 3.69, 3.73, 3.77, 3.79, 3.82, 3.87, 3.95, 4.02, 4.11, 4.19]),
    "lifepo4": np.array([2.60, 3.00, 3.12, 3.21, 3.25, 3.27, 3.28, 3.29, 3.31, 3.325, 3.335, 3.42]),
}


def open_circuit_v(chemistry: str, soc: FloatArray) -> FloatArray:
    """Open-circuit voltage of one cell, V."""
    return np.asarray(np.interp(soc, _SOC, _OCV[chemistry]))


class CellState(Struct, frozen=True):
    """One cell on the day: resistances at 25 °C and half charge, capacity, charge at the start."""

    resistance_ohm: float
    rc_ohm: float
    capacity_mah: float
    soc: float


class PackState(Struct, frozen=True):
    """One pack on the day; ``lead_ohm`` (lead, plug, diode) lies between the pack's terminals and the bus."""

    name: str
    chemistry: str
    cells: tuple[CellState, ...]
    lead_ohm: float
    rc_s: float = 18.0

    @property
    def resistance_ohm(self) -> float:
        """Sum of the cells' ohmic resistances at 25 °C and half charge."""
        return sum(c.resistance_ohm for c in self.cells)

    @property
    def one_second_ohm(self) -> float:
        """What a load step shows after a second (as IEC 61960-3 measures it), at 25 °C and half charge."""
        relaxed = 1 - np.exp(-1.0 / self.rc_s)
        return float(sum(c.resistance_ohm + c.rc_ohm * relaxed for c in self.cells))

    @property
    def capacity_mah(self) -> float:
        """What the pack can give: its weakest cell's capacity."""
        return min(c.capacity_mah for c in self.cells)


class PackTrace(Struct, frozen=True):
    """One pack over the session, shape (n,) each; ``cells_v`` and ``scale``, of the cells' resistances, (cells, n)."""

    voltage_v: FloatArray
    cells_v: FloatArray
    current_a: FloatArray
    used_mah: FloatArray
    temperature_c: FloatArray
    scale: FloatArray
    ohmic_ohm: FloatArray


def warmth(temperature_c: FloatArray | float) -> FloatArray:
    """How resistance depends on temperature: Arrhenius' law with 14 kJ/mol (invented, of a plausible size)."""
    kelvin = np.asarray(temperature_c) + zero_Celsius
    return np.asarray(np.exp(14_000.0 / R * (1.0 / kelvin - 1.0 / (25.0 + zero_Celsius))))


def over_half_charge(soc: FloatArray) -> FloatArray:
    """How resistance depends on charge: flat, rising towards empty and a little when full (invented, plausible)."""

    def shape(q: FloatArray | float) -> FloatArray:
        return np.asarray(1.0 + 0.4 * np.exp(-np.asarray(q) / 0.1) + 0.08 * np.asarray(q) ** 6)

    return shape(soc) / shape(0.5)


def discharge(pack: PackState, current_a: FloatArray, step_s: float, air_c: float) -> PackTrace:
    """Discharge one pack with a known current; it warms by its own loss, and its resistances fall as it does."""
    used = np.cumsum(current_a) * step_s / 3.6
    keep = np.exp(-step_s / pack.rc_s)
    filtered = lfilter([1 - keep], [1, -keep], current_a)
    heat = np.cumsum(current_a**2 * pack.resistance_ohm * float(warmth(air_c))) * step_s
    temperature = air_c + heat / 130.0 * np.exp(-np.arange(len(used)) * step_s / 1800.0)
    charge = np.clip(np.stack([c.soc - used / c.capacity_mah for c in pack.cells]), 0, 1)
    scale = warmth(temperature) * over_half_charge(charge)
    ohmic, slow = (np.array(x)[:, None] for x in zip(*((c.resistance_ohm, c.rc_ohm) for c in pack.cells), strict=True))
    cells = open_circuit_v(pack.chemistry, charge) - (current_a * ohmic + filtered * slow) * scale
    return PackTrace(cells.sum(0), cells, current_a, used, temperature, scale, (ohmic * scale).sum(0))


def share(
    packs: tuple[PackState, PackState], load_a: FloatArray, step_s: float, air_c: float
) -> tuple[tuple[PackTrace, PackTrace], FloatArray]:
    """Let two packs feed one bus through their diodes; returns both and the bus voltage.

    The split follows from equal bus voltage; a pack below the bus gives nothing. Charge, relaxation and warming feed
    back slowly, so a few passes settle it.
    """
    z = [p.resistance_ohm * warmth(air_c) + p.lead_ohm + np.zeros_like(load_a) for p in packs]
    first = load_a * z[1] / (z[0] + z[1])
    for _ in range(12):
        split = (first, load_a - first)
        traces = [discharge(p, i, step_s, air_c) for p, i in zip(packs, split, strict=True)]
        z = [tr.ohmic_ohm + p.lead_ohm for p, tr in zip(packs, traces, strict=True)]
        source = [tr.voltage_v + tr.current_a * (zi - p.lead_ohm) for tr, zi, p in zip(traces, z, packs, strict=True)]
        both = (source[0] / z[0] + source[1] / z[1] - load_a) / (1 / z[0] + 1 / z[1])
        wanted = np.where(source[1] < both, load_a, np.clip((source[0] - both) / z[0], 0, load_a))
        first = 0.5 * (first + wanted)
    one, two = (discharge(p, i, step_s, air_c) for p, i in zip(packs, (first, load_a - first), strict=True))
    bus = np.maximum(one.voltage_v - first * packs[0].lead_ohm, two.voltage_v - (load_a - first) * packs[1].lead_ohm)
    return (one, two), bus
