"""What a cell's resting voltage says about its charge, by chemistry.

The curve of a chemistry is the mean of published open-circuit curves of different makes (positive less negative
electrode, at 25 °C), and *their spread is the error* of a charge state read from voltage: nobody measured the
curve of this very pack. At full charge the makes agree, because the charger stops at one voltage; on a plateau
they say next to nothing, and the interval shows it.

Sources, as collected in the parameter sets of PyBaMM (BSD 3-clause) under the names given here:

* pouch cells, taken for *lipo*: ``Ai2020`` (Ai et al. 2019, J. Electrochem. Soc. 167, 013512; cobalt oxide),
  ``Ecker2015`` (Ecker et al. 2015, J. Electrochem. Soc. 162, A1836; nickel–cobalt oxide), ``Ramadass2004``
  (Ramadass et al. 2004, J. Electrochem. Soc. 151, A196; cobalt oxide);
* *li_ion*: ``Chen2020`` (Chen et al. 2020, J. Electrochem. Soc. 167, 080534; nickel-rich, cylindrical),
  ``Mohtat2020`` (Mohtat et al. 2020, J. Electrochem. Soc. 167, 110561), ``NCA_Kim2011`` (Kim et al. 2011,
  J. Electrochem. Soc. 158, A955);
* *lifepo4*: ``Prada2013`` (Prada et al. 2013, J. Electrochem. Soc. 160, A616);
* *nimh*: common practice, no source.
"""

from __future__ import annotations

import numpy as np

from analyser.core.aircraft import Chemistry
from analyser.core.figures import FloatArray

CHARGE_PERCENT = np.array([0, 5, 10, 20, 30, 40, 50, 60, 70, 80, 90, 95, 100], float)
PUBLISHED: dict[Chemistry, dict[str, tuple[float, ...]]] = {
    "lipo": {
        "Ai2020": (3.000, 3.542, 3.640, 3.695, 3.733, 3.762, 3.793, 3.836, 3.909, 3.994, 4.088, 4.138, 4.200),
        "Ecker2015": (2.500, 3.294, 3.459, 3.587, 3.709, 3.770, 3.787, 3.815, 3.882, 3.987, 4.079, 4.135, 4.200),
        "Ramadass2004": (2.800, 3.446, 3.595, 3.706, 3.752, 3.788, 3.827, 3.874, 3.930, 3.998, 4.080, 4.131, 4.200),
    },
    "li_ion": {
        "Chen2020": (2.500, 3.109, 3.296, 3.485, 3.581, 3.667, 3.751, 3.841, 3.948, 4.042, 4.097, 4.124, 4.200),
        "Mohtat2020": (2.800, 3.462, 3.511, 3.585, 3.639, 3.671, 3.716, 3.797, 3.880, 3.971, 4.077, 4.136, 4.200),
        "NCA_Kim2011": (2.700, 3.194, 3.247, 3.372, 3.492, 3.598, 3.685, 3.768, 3.874, 3.980, 4.080, 4.135, 4.200),
    },
    "lifepo4": {
        "Prada2013": (2.000, 2.785, 2.978, 3.168, 3.206, 3.252, 3.266, 3.269, 3.274, 3.310, 3.314, 3.316, 3.600),
    },
    "nimh": {
        "": (1.00, 1.12, 1.17, 1.20, 1.22, 1.23, 1.24, 1.25, 1.26, 1.28, 1.32, 1.35, 1.42),
    },
}
"""Open-circuit voltage of one cell at :data:`CHARGE_PERCENT`, V, by chemistry and parameter set."""
LEAST_SE_V: dict[Chemistry, float] = {"lipo": 0.010, "li_ion": 0.010, "lifepo4": 0.015, "nimh": 0.030}
"""Temperature, an unfinished rest and, in iron phosphate and nickel, what was done to the cell before move its voltage
by this much (common practice, no source)."""
ONE_CURVE_SE_V: dict[Chemistry, float] = {"lifepo4": 0.025, "nimh": 0.040}
"""How far another make's curve may lie from the only one that is known here, V a cell (common practice, no source)."""


AGED_FALL_PERCENT = np.array([20, 30, 40, 50, 60, 70, 80, 90], float)
AGED_SE = np.array([0.27, 0.17, 0.14, 0.13, 0.115, 0.10, 0.08, 0.07])
"""Relative error of a capacity told by a *new* cell's curve over a fall of the charge state, where the cell has aged:
its electrodes have moved against each other, and its curve with them. Root mean square over eight published makes that
lost 3 to 35 % of their capacity in any of three ways; worked out in ``tests/reference/test_aged_cells.py``."""


def _spread(chemistry: Chemistry) -> FloatArray:
    curves = PUBLISHED[chemistry]
    v = np.array(list(curves.values()))
    made = v.std(axis=0, ddof=1) if len(v) > 1 else np.zeros(v.shape[1])
    return np.asarray(np.hypot(made, LEAST_SE_V[chemistry]), float)


REST_V: dict[Chemistry, FloatArray] = {
    k: np.array(list(curves.values())).mean(axis=0) for k, curves in PUBLISHED.items()
}
REST_SE_V: dict[Chemistry, FloatArray] = {k: _spread(k) for k in PUBLISHED}
"""How far one make's curve lies from the mean, one standard deviation, V a cell."""
PLAUSIBLE_REST_V: dict[Chemistry, tuple[float, float]] = {
    "lipo": (3.0, 4.38),
    "li_ion": (2.4, 4.28),
    "lifepo4": (2.4, 3.75),
    "nimh": (0.9, 1.60),
}
"""Rest voltage per cell a pack in use can show; outside, the cell count or the chemistry is wrong."""
FULL_V: dict[Chemistry, float] = {"lipo": 4.10, "li_ion": 4.08, "lifepo4": 3.33, "nimh": 1.35}
"""Rest voltage per cell above which a pack counts as charged full (common practice, no source)."""


def sources_of(chemistry: Chemistry) -> tuple[str, ...]:
    """Names of the parameter sets a chemistry's curve is the mean of; empty where it is common practice only."""
    return tuple(n for n in PUBLISHED[chemistry] if n)


def charge_percent(chemistry: Chemistry, rest_v_per_cell: float, half_v: float = 0.0) -> tuple[float, float, float]:
    """State of charge from one cell's rest voltage.

    Parameters
    ----------
    rest_v_per_cell, half_v : float
        Voltage at rest and the half width of its own 95 % interval, V a cell.

    Returns
    -------
    tuple of float
        Value, low and high, percent, 0 … 100, at 95 %: two standard deviations of the makes' curves and the
        voltage's own error, added as squares.
    """
    curve = REST_V[chemistry]
    band = np.hypot(2.0 * REST_SE_V[chemistry], half_v)
    value = np.interp(rest_v_per_cell, curve, CHARGE_PERCENT)
    low = np.interp(rest_v_per_cell, np.maximum.accumulate(curve + band), CHARGE_PERCENT)
    # Read from the right, so that where the lower edge is not monotone the interval stays the wider one.
    high = np.interp(rest_v_per_cell, np.minimum.accumulate((curve - band)[::-1])[::-1], CHARGE_PERCENT)
    return float(value), float(min(low, value)), float(max(high, value))


def aged_curve_se(fall_percent: float) -> float:
    """Relative standard error of a capacity because the cell may have aged (:data:`AGED_SE`), held beyond the ends."""
    return float(np.interp(fall_percent, AGED_FALL_PERCENT, AGED_SE))
