"""What a cell's resting voltage says about its charge, by chemistry.

The curves are typical rest voltages at room temperature (common practice, no source); one cell of a make lies
within about ±5 % of charge of them on the slopes and far wider on a plateau, which is why every state of charge
read from voltage carries an interval made from the curve's own slope.
"""

from __future__ import annotations

import numpy as np

from analyser.aircraft import Chemistry
from analyser.figures import FloatArray

CHARGE_PERCENT = np.array([0, 5, 10, 20, 30, 40, 50, 60, 70, 80, 90, 95, 100], float)
REST_V: dict[Chemistry, FloatArray] = {
    "lipo": np.array([3.27, 3.61, 3.69, 3.73, 3.77, 3.80, 3.84, 3.87, 3.95, 4.02, 4.11, 4.15, 4.20]),
    "li_ion": np.array([2.90, 3.22, 3.37, 3.50, 3.58, 3.64, 3.70, 3.79, 3.89, 3.98, 4.06, 4.11, 4.18]),
    "lifepo4": np.array([2.60, 3.00, 3.12, 3.21, 3.25, 3.27, 3.28, 3.29, 3.31, 3.32, 3.33, 3.35, 3.45]),
    "nimh": np.array([1.00, 1.12, 1.17, 1.20, 1.22, 1.23, 1.24, 1.25, 1.26, 1.28, 1.32, 1.35, 1.42]),
}
VOLTAGE_SE_V = 0.012
"""How far a make's curve lies from the typical one, per cell (common practice, no source)."""
PLAUSIBLE_REST_V: dict[Chemistry, tuple[float, float]] = {
    "lipo": (3.0, 4.38),
    "li_ion": (2.4, 4.28),
    "lifepo4": (2.4, 3.75),
    "nimh": (0.9, 1.60),
}
"""Rest voltage per cell a pack in use can show; outside, the cell count or the chemistry is wrong."""
FULL_V: dict[Chemistry, float] = {"lipo": 4.10, "li_ion": 4.05, "lifepo4": 3.34, "nimh": 1.35}
"""Rest voltage per cell above which a pack counts as stored full."""


def charge_percent(chemistry: Chemistry, rest_v_per_cell: float) -> tuple[float, float, float]:
    """State of charge from one cell's rest voltage.

    Returns
    -------
    tuple of float
        Value, low and high, percent, 0 … 100; the interval is ±2 standard errors of the curve's voltage.
    """
    curve = REST_V[chemistry]
    at = np.array([rest_v_per_cell, rest_v_per_cell - 2 * VOLTAGE_SE_V, rest_v_per_cell + 2 * VOLTAGE_SE_V])
    value, low, high = np.interp(at, curve, CHARGE_PERCENT)
    return float(value), float(low), float(high)


def rest_v(chemistry: Chemistry, charge: FloatArray) -> FloatArray:
    """Rest voltage of one cell at a state of charge in percent."""
    return np.asarray(np.interp(charge, CHARGE_PERCENT, REST_V[chemistry]), float)
