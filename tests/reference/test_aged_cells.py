"""Capacity told from rest voltage against cells aged by the book: an aged cell's rest curve is not a new one's.

Source: PyBaMM (BSD 3-clause), electrode potentials and inventories of its published parameter sets. A cell ages by
the three modes of Birkl et al. 2017 (J. Power Sources 341, 373): loss of lithium, of positive and of negative active
material, which move the two electrodes' windows against each other; capacity and rest curve of the aged cell follow
from the electrodes alone.
"""

from __future__ import annotations

from functools import cache
from itertools import product

import numpy as np
import pytest
from msgspec import Struct

from analyser.core.aircraft import Chemistry
from analyser.packs.chemistry import CHARGE_PERCENT, REST_V, aged_curve_se

CHECKS = ("packs.packs.capacity.by_discharge_mah", "packs.packs.capacity.by_charge_mah", "season.packs.capacity.*")

pybamm = pytest.importorskip("pybamm")

MAKES: list[tuple[Chemistry, str]] = [
    ("lipo", "Ai2020"),
    ("lipo", "Ecker2015"),
    ("lipo", "Marquis2019"),
    ("li_ion", "Chen2020"),
    ("li_ion", "Mohtat2020"),
    ("li_ion", "NCA_Kim2011"),
    ("li_ion", "ORegan2022"),
    ("lifepo4", "Prada2013"),
]
"""Makes whose curves the tool's tables know, and two that it never saw: ORegan2022, and Marquis2019, full at 4.1 V.
Ramadass2004 is left out: its potentials are stated for the new cell's windows only.
"""
MODES = {
    "lithium": (0.0, 0.0, 1.0),
    "positive": (0.0, 1.0, 0.5),
    "negative": (1.0, 0.0, 0.4),
    "all": (0.5, 0.5, 1.0),
}
"""Shares of one severity: negative material lost, positive material lost, lithium lost (part of it with them)."""


class Cell(Struct, frozen=True):
    """Capacity in A h and rest voltage at :data:`CHARGE_PERCENT`."""

    capacity: float
    rest_v: np.ndarray


@cache
def electrodes(name: str) -> tuple[np.ndarray, np.ndarray, np.ndarray, float, float, float, float, float]:
    """Stoichiometry, positive and negative potential; inventories Q_n, Q_p, Q_Li in A h; lower and upper voltage."""
    values = pybamm.ParameterValues(name)
    x = np.linspace(1e-4, 1 - 1e-4, 4000)

    def potential(electrode: str) -> np.ndarray:
        symbol = values[f"{electrode} electrode OCP [V]"](pybamm.Vector(x))
        return np.asarray(values.process_symbol(symbol).evaluate()).ravel()

    up, un = potential("Positive"), potential("Negative")
    x0, x100, y100, y0 = pybamm.lithium_ion.ElectrodeSOHSolver(values).get_min_max_stoichiometries()
    parameters = pybamm.LithiumIonParameters()
    q_n, q_p = (float(values.evaluate(p.Q_init)) for p in (parameters.n, parameters.p))
    low = float(np.interp(y0, x, up) - np.interp(x0, x, un))
    high = float(np.interp(y100, x, up) - np.interp(x100, x, un))
    return x, up, un, q_n, q_p, x0 * q_n + y0 * q_p, low, high


def aged(name: str, mode: str, severity: float) -> Cell:
    """A make's cell after losing ``severity`` in one mode."""
    x, up, un, q_n, q_p, q_li, low, high = electrodes(name)
    lost_n, lost_p, lost_li = (1.0 - severity * share for share in MODES[mode])
    q_n, q_p, q_li = q_n * lost_n, q_p * lost_p, q_li * lost_li
    at = np.linspace(max(1e-4, (q_li - q_p) / q_n + 1e-6), min(1 - 1e-4, q_li / q_n), 4000)
    v = np.interp((q_li - at * q_n) / q_p, x, up) - np.interp(at, x, un)
    empty, full = np.interp([low, high], v, at)
    rest = np.interp(empty + (full - empty) * CHARGE_PERCENT / 100.0, at, v)
    return Cell(float(q_n * (full - empty)), rest)


def told_capacity(chemistry: Chemistry, cell: Cell, used: float) -> float:
    """Charge used from full over the fall of the charge state by the chemistry's own table."""
    after = 100.0 * (1.0 - used / cell.capacity)
    volts = np.interp([100.0, after], CHARGE_PERCENT, cell.rest_v)
    full, left = np.interp(volts, REST_V[chemistry], CHARGE_PERCENT)
    return 100.0 * used / (full - left)


def error(chemistry: Chemistry, name: str, mode: str, severity: float, depth: float) -> float | None:
    """Relative error of a capacity ratio, aged over new, where a flight takes the share ``depth`` of what is left.

    ``None`` for a cell that has hardly aged, or far beyond any owner's rule.
    """
    new, old = aged(name, mode, 0.0), aged(name, mode, severity)
    true = old.capacity / new.capacity
    if not 0.65 < true < 0.97:
        return None
    used = depth * old.capacity
    told = told_capacity(chemistry, old, used) / told_capacity(chemistry, new, used)
    return told / true - 1.0


def errors(depth: float) -> np.ndarray:
    cases = product(MAKES, MODES, (0.05, 0.10, 0.15, 0.20, 0.25))
    found = [error(chemistry, name, mode, severity, depth) for (chemistry, name), mode, severity in cases]
    return np.array([e for e in found if e is not None])


@pytest.mark.parametrize("depth", [0.2, 0.3, 0.5, 0.7, 0.9])
def test_stated_error_is_the_error_over_makes_and_modes(depth: float) -> None:
    e = errors(depth)
    assert e.size > 100
    stated = aged_curve_se(100.0 * depth)
    assert float(np.sqrt(np.mean(e**2))) == pytest.approx(stated, rel=0.1)
    assert float(np.mean(np.abs(e) <= 2.0 * stated)) >= 0.93
