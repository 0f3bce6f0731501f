"""Cells that are not the analyser's: other open-circuit curves, other relaxations, and the circuit solved directly.

Open-circuit curves, one volt a cell at 21 even charge states:

* ``polymer``: the closed form fitted to a lithium-polymer cell in Chen and Rincón-Mora 2006 (IEEE Trans. Energy
  Convers. 21, 504, eq. 2; constants as public implementations of it carry them), with the last tenth raised to the
  4.19 V a modern charger stops at;
* ``pouch``: parameter set ``Ecker2015`` of PyBaMM (BSD 3-clause; Ecker et al. 2015, J. Electrochem. Soc. 162, A1836)
  after losing 12 % of its lithium, as ``tests/reference/test_aged_cells.py`` ages a cell (Birkl et al. 2017);
* ``cylinder_a``, ``cylinder_b``: sets ``ORegan2022`` (O'Regan et al. 2022, Electrochim. Acta 425, 140700) and
  ``OKane2022`` (O'Kane et al. 2022, Phys. Chem. Chem. Phys. 24, 7909), opened to 3.0 V and 4.2 V.

None of the four stands in the analyser's own table of rest voltages. (``Marquis2019`` was tried and dropped: its cell
is full at 4.1 V, and opened to 4.2 V its cobalt-oxide curve is extrapolated.)
"""

from __future__ import annotations

import numpy as np
from msgspec import Struct
from scipy import integrate
from scipy.constants import R

from tests.simulators.flight import FloatArray
from tests.simulators.noise import lag

_Z = np.linspace(0.0, 1.0, 21)
_POLYMER = 3.685 - 1.031 * np.exp(-35.0 * _Z) + 0.2156 * _Z - 0.1178 * _Z**2 + 0.3201 * _Z**3
OPEN_CIRCUIT: dict[str, FloatArray] = {
    "polymer": _POLYMER + 0.087 * np.clip((_Z - 0.4) / 0.6, 0.0, 1.0) ** 2,
    "pouch": np.interp(
        _Z,
        [0.0, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 1.0],
        [2.500, 3.371, 3.565, 3.686, 3.732, 3.758, 3.805, 3.849, 3.907, 3.978, 4.089, 4.144, 4.200],
    ),
    "cylinder_a": np.array(
        [3.000, 3.205, 3.353, 3.409, 3.456, 3.513, 3.561, 3.597, 3.627, 3.658, 3.695,
         3.747, 3.821, 3.882, 3.923, 3.966, 4.017, 4.068, 4.094, 4.117, 4.200]
    ),
    "cylinder_b": np.array(
        [3.000, 3.233, 3.386, 3.471, 3.499, 3.555, 3.602, 3.643, 3.681, 3.719, 3.765,
         3.810, 3.850, 3.901, 3.953, 3.998, 4.045, 4.082, 4.096, 4.123, 4.200]
    ),
}  # fmt: skip
CHEMISTRY = {"polymer": "lipo", "pouch": "lipo", "cylinder_a": "li_ion", "cylinder_b": "li_ion"}


class Cells(Struct, frozen=True):
    """A pack of cells in series.

    Parameters
    ----------
    curve : str
        One of :data:`OPEN_CIRCUIT`.
    capacity_mah : tuple of float
        Of each cell.
    ohm : tuple of float
        Ohmic resistance of each cell at 25 °C and half charge.
    pairs : tuple of (float, float)
        Relaxations of one cell: resistance as a share of the ohmic one, and time constant in s. Two for one maker, a
        ladder of many (a power law) for the other.
    j_per_mol : float
        Activation energy of every resistance.
    knee : float
        How much the resistance has grown at empty, over half charge.
    """

    curve: str
    capacity_mah: tuple[float, ...]
    ohm: tuple[float, ...]
    pairs: tuple[tuple[float, float], ...]
    j_per_mol: float
    knee: float = 0.8

    @property
    def usable_mah(self) -> float:
        """What the pack holds: the first empty cell ends it."""
        return min(self.capacity_mah)

    def open_circuit(self, given_mah: FloatArray, full: float = 1.0) -> FloatArray:
        """Rest voltage of every cell, shape (cells, n), having given so much from a charge state ``full``."""
        return np.stack([self._volts(full - given_mah / c) for c in self.capacity_mah])

    def _volts(self, charge: FloatArray) -> FloatArray:
        return np.asarray(np.interp(charge, _Z, OPEN_CIRCUIT[self.curve]), float)

    def warmth(self, celsius: FloatArray | float) -> FloatArray:
        """Resistance over that at 25 °C (Arrhenius)."""
        kelvin = np.asarray(celsius, float) + 273.15
        return np.asarray(np.exp(self.j_per_mol / R * (1.0 / kelvin - 1.0 / 298.15)), float)

    def fullness(self, charge: FloatArray) -> FloatArray:
        """Resistance over that at half charge: flat, with a knee towards empty."""
        shape = 1.0 + self.knee * np.exp(-np.clip(charge, 0.0, 1.0) / 0.08)
        return np.asarray(shape / (1.0 + self.knee * np.exp(-0.5 / 0.08)), float)

    def waited(self, seconds: float) -> float:
        """Resistance so long after a step over the ohmic one."""
        return 1.0 + sum(share * (1.0 - np.exp(-seconds / tau)) for share, tau in self.pairs)

    def settled(self) -> float:
        """Resistance under a steady load over the ohmic one."""
        return 1.0 + sum(share for share, _ in self.pairs)

    def relaxing(self, drop: FloatArray, dt: float) -> FloatArray:
        """Part of the voltage drop that follows slowly, given the ohmic drop."""
        return sum((share * lag(np.r_[0.0, drop], dt, tau)[1:] for share, tau in self.pairs), np.zeros(drop.size))


class Discharge(Struct, frozen=True, eq=False):
    """One pack over one flight, arrays of shape (n,) or (cells, n)."""

    current_a: FloatArray
    given_mah: FloatArray
    cell_v: FloatArray
    rest_v: FloatArray
    ohmic_ohm: FloatArray
    cell_ohm: FloatArray

    @property
    def volts(self) -> FloatArray:
        return np.asarray(self.cell_v.sum(axis=0), float)


def discharge(cells: Cells, current_a: FloatArray, dt: float, celsius: FloatArray, full: float = 1.0) -> Discharge:
    """Discharge a pack by a current; states follow the current, so nothing is stepped."""
    given = np.asarray(integrate.cumulative_trapezoid(current_a, dx=dt, initial=0.0) / 3.6, float)
    rest = cells.open_circuit(given, full)
    warm = cells.warmth(celsius)
    ohm = np.stack(
        [r * warm * cells.fullness(full - given / c) for r, c in zip(cells.ohm, cells.capacity_mah, strict=True)]
    )
    drop = ohm * current_a
    cell_v = rest - drop - np.stack([cells.relaxing(d, dt) for d in drop])
    return Discharge(current_a, given, cell_v, rest.sum(axis=0), ohm.sum(axis=0), ohm)


def share_load(
    packs: tuple[Cells, Cells], load_a: FloatArray, dt: float, celsius: FloatArray, path_ohm: tuple[float, float],
    diode_v: tuple[float, float], full: tuple[float, float] = (1.0, 1.0),
) -> tuple[Discharge, Discharge, FloatArray]:  # fmt: skip
    """Two packs behind diodes on one bus: who carries what, and the bus voltage.

    The instantaneous split is Kirchhoff's, solved in closed form; the slow states follow the split, so both are
    repeated until they agree (waveform relaxation, in the slow states a contraction).
    """
    first = 0.5 * load_a
    for _ in range(12):
        a, b = (discharge(p, i, dt, celsius, f) for p, i, f in zip(packs, (first, load_a - first), full, strict=True))
        ra, rb = a.ohmic_ohm + path_ohm[0], b.ohmic_ohm + path_ohm[1]
        ea = a.volts + a.ohmic_ohm * a.current_a - diode_v[0]
        eb = b.volts + b.ohmic_ohm * b.current_a - diode_v[1]
        split = np.clip((ea - eb + rb * load_a) / (ra + rb), 0.0, load_a)
        if float(np.abs(split - first).max()) < 1e-3:
            break
        first = 0.5 * first + 0.5 * split
    a, b = (discharge(p, i, dt, celsius, f) for p, i, f in zip(packs, (split, load_a - split), full, strict=True))
    bus = np.maximum(a.volts - diode_v[0] - path_ohm[0] * a.current_a, b.volts - diode_v[1] - path_ohm[1] * b.current_a)
    return a, b, bus


def one_second_ohm(cells: Cells, flown: Discharge) -> FloatArray:
    """Resistance of the whole pack one second after a step, at each instant, ohm."""
    return np.asarray(flown.ohmic_ohm * cells.waited(1.0), float)


def weighted_ohm(ohm: FloatArray, current_a: FloatArray) -> float:
    """What a flight's load steps see on average: weighted by how much the current moves there."""
    moves = np.diff(current_a, prepend=current_a[:1]) ** 2
    return float(np.average(ohm, weights=moves + 1e-12))


def alone_now(cells: Cells, flown: Discharge, other_a: FloatArray, dt: float) -> FloatArray:
    """The pack's voltage at each instant had the other pack failed one second before, V: the circuit itself.

    The other's current of the last second comes on top: at once through the ohmic resistances, and through each
    relaxation as far as a second lets it.
    """
    extra = flown.cell_ohm * np.maximum(other_a, 0.0)
    delay = round(1.0 / dt)
    volts = flown.volts - extra.sum(axis=0)
    for share, tau in cells.pairs:  # a loop over relaxations
        slow = np.stack([lag(np.r_[0.0, e], dt, tau)[1:] for e in extra]).sum(axis=0)
        before = np.r_[np.zeros(delay), slow[:-delay]]
        volts = volts - share * (slow - np.exp(-delay * dt / tau) * before)
    return np.asarray(volts, float)


def alone_throughout(cells: Cells, load_a: FloatArray, dt: float, celsius: FloatArray, full: float) -> FloatArray:
    """The pack's voltage at each instant had the other been dead from the start, V: the circuit with all the load."""
    return discharge(cells, load_a, dt, celsius, full).volts
