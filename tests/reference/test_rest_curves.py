"""The rest-voltage tables against the published parameter sets they are named after.

Source: PyBaMM's parameter sets (BSD 3-clause), whose docstrings cite the papers named in
``analyser/packs/chemistry.py``; each cell's open-circuit voltage is its positive less its negative electrode's
potential at 25 °C, over the
stoichiometry window that PyBaMM's own electrode state-of-health solver finds.
"""

from __future__ import annotations

import numpy as np
import pytest

from analyser.core.aircraft import Chemistry
from analyser.packs.chemistry import CHARGE_PERCENT, PUBLISHED, REST_V, charge_percent

CHECKS = ("packs.packs.state.before_percent", "packs.packs.state.after_percent")

pybamm = pytest.importorskip("pybamm")
SETS = [(chemistry, name) for chemistry, curves in PUBLISHED.items() for name in curves if name]


@pytest.mark.parametrize(("chemistry", "name"), SETS)
def test_table_is_the_published_curve(chemistry: Chemistry, name: str) -> None:
    parameters = pybamm.ParameterValues(name)
    x0, x100, y100, y0 = pybamm.lithium_ion.ElectrodeSOHSolver(parameters).get_min_max_stoichiometries()
    share = CHARGE_PERCENT / 100.0

    def potential(electrode: str, stoichiometry: np.ndarray) -> np.ndarray:
        symbol = parameters[f"{electrode} electrode OCP [V]"](pybamm.Vector(stoichiometry))
        return np.asarray(parameters.process_symbol(symbol).evaluate()).ravel()

    published = potential("Positive", y0 + (y100 - y0) * share) - potential("Negative", x0 + (x100 - x0) * share)
    assert np.abs(published - PUBLISHED[chemistry][name]).max() < 0.001


@pytest.mark.parametrize(("chemistry", "name"), SETS)
@pytest.mark.parametrize("true_percent", [25.0, 45.0, 65.0, 85.0, 97.0])
def test_interval_holds_every_published_make(chemistry: Chemistry, name: str, true_percent: float) -> None:
    volts = float(np.interp(true_percent, CHARGE_PERCENT, PUBLISHED[chemistry][name]))
    value, low, high = charge_percent(chemistry, volts)
    assert 0.0 <= low <= value <= high <= 100.0
    assert low <= true_percent <= high


@pytest.mark.parametrize("chemistry", list(PUBLISHED))
def test_curve_only_rises(chemistry: Chemistry) -> None:
    assert (np.diff(REST_V[chemistry]) > 0).all()
