"""What a pack's resistance would be at 25 °C and half charge, whatever it was read at.

Makes differ in how their resistance changes, so each factor is a mean over makes and *their spread is its error*.

Sources, all for the resistance one second after a load step:

* parameter sets of PyBaMM (BSD 3-clause) under the names given here, put through its full porous-electrode model at
  the rated current: ``Ai2020`` (Ai et al. 2019, J. Electrochem. Soc. 167, 013512), ``Ecker2015`` (Ecker et al. 2015,
  J. Electrochem. Soc. 162, A1836), ``Ramadass2004`` (Ramadass et al. 2004, J. Electrochem. Soc. 151, A196),
  ``Chen2020`` (Chen et al. 2020, J. Electrochem. Soc. 167, 080534), ``Mohtat2020`` (Mohtat et al. 2020, J.
  Electrochem. Soc. 167, 110561), ``NCA_Kim2011`` (Kim et al. 2011, J. Electrochem. Soc. 158, A955), ``Prada2013``
  (Prada et al. 2013, J. Electrochem. Soc. 160, A616), ``Marquis2019`` (Marquis et al. 2019, J. Electrochem. Soc.
  166, A3693), ``OKane2022`` (O'Kane et al. 2022, Phys. Chem. Chem. Phys. 24, 7909);
* ``measured``: one cell's pulses at 10, 25 and 40 °C and ten charge states (Wiggins, Allu and Wang 2019, Oak Ridge
  National Laboratory, doi:10.5281/zenodo.2580327).

They are lithium cells, one of them of iron phosphate. A pack of that chemistry, and a nickel pack more so, is carried
in the same way for want of a source, with errors widened (:data:`BEYOND_LITHIUM`).
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from msgspec import Struct
from scipy import linalg
from scipy.constants import R, convert_temperature

from analyser.core.aircraft import Chemistry
from analyser.core.figures import FloatArray
from analyser.core.findings import Text, say
from analyser.core.statistics.distributions import normal_quantile, student_quantile
from analyser.core.statistics.robust import robust_sd
from analyser.packs.codes import PackCode

REFERENCE_C = 25.0

ACTIVATION_J_PER_MOL: dict[str, float] = {
    "Ecker2015": 36_800.0,
    "Ramadass2004": 33_600.0,
    "Mohtat2020": 31_000.0,
    "NCA_Kim2011": 17_000.0,
    "Prada2013": 19_800.0,
    "Marquis2019": 24_000.0,
    "OKane2022": 15_200.0,
    "measured, 10 to 25 °C": 24_300.0,
    "measured, 25 to 40 °C": 200.0,
}
"""Activation energy of the resistance by Arrhenius' law, fitted over 5 … 45 °C through 25 °C; of the parameter sets,
those that state how they depend on temperature. The measured cell hardly gained above 25 °C, where tabs and contacts,
which the models lack, are what is left."""
CHARGE_PERCENT = np.array([5, 10, 20, 30, 40, 50, 60, 70, 80, 90, 95], float)
OVER_HALF_CHARGE: dict[str, tuple[float, ...]] = {
    "Ai2020": (1.704, 1.397, 1.193, 1.088, 1.030, 1.0, 0.992, 0.999, 1.021, 1.060, 1.092),
    "Ecker2015": (1.929, 1.503, 1.248, 1.122, 1.045, 1.0, 1.001, 1.040, 1.048, 1.106, 1.155),
    "Ramadass2004": (1.520, 1.266, 1.101, 1.040, 1.011, 1.0, 0.999, 1.008, 1.028, 1.069, 1.108),
    "Chen2020": (1.391, 1.255, 1.095, 1.044, 1.008, 1.0, 0.997, 1.016, 1.048, 1.093, 1.160),
    "Mohtat2020": (1.892, 1.460, 1.212, 1.073, 1.019, 1.0, 1.033, 1.037, 1.099, 1.220, 1.331),
    "NCA_Kim2011": (1.413, 1.275, 1.154, 1.074, 1.022, 1.0, 1.014, 1.057, 1.036, 1.055, 1.087),
    "Prada2013": (1.811, 1.454, 1.190, 1.097, 1.037, 1.0, 0.990, 1.003, 1.029, 1.075, 1.122),
    "Marquis2019": (1.423, 1.275, 1.152, 1.081, 1.041, 1.0, 0.978, 0.967, 0.965, 0.978, 1.037),
    "measured": (1.083, 1.060, 1.014, 1.006, 1.016, 1.0, 1.000, 1.005, 1.042, 1.049, 1.118),
    "contacts": (1.0,) * 11,
}
"""Resistance at :data:`CHARGE_PERCENT` over the resistance at half charge, 25 °C, by make; held beyond the ends.

All but one are models of the electrodes alone, whose reaction slows towards either end. A pack also has tabs, leads and
plugs, which do not know its charge: one that consists of nothing else bounds them (it is why the measured cell varies
less than the models do)."""


FEWEST_LEARNED = 5
"""Flights with a measured temperature below which nothing is learned of a pack's own."""
FEWEST_CURVED = 8
"""Flights from which on ageing may bend."""
FAR_OFF = 4.0
LEAST_SCATTER = 0.02
"""Relative scatter from one flight's resistance to the next that no log is better than (common practice, no source)."""


class Activation(Struct, frozen=True):
    """How a resistance follows temperature: activation energy and standard error, J/mol, and where they come from.

    ``charge_se`` is the relative error of its way with the charge state beyond what published makes differ by.
    """

    j_per_mol: float
    se: float
    how: Text
    charge_se: float = 0.0


OTHER_MAKE_CHARGE_SE = 0.05
"""Relative error of a resistance carried to half charge beyond what published makes differ by: most of them are models
of one structure, and a make that nobody published may follow its charge otherwise (common practice, no source). Every
flight of a pack shares it, so that it is no part of a trend or of today's over new."""


def _of_makes() -> Activation:
    energies = np.array(list(ACTIVATION_J_PER_MOL.values()))
    return Activation(float(energies.mean()), of_another(energies), say(PackCode.AS_MAKES), OTHER_MAKE_CHARGE_SE)


def of_another(values: FloatArray) -> float:
    """Standard error of one more make's value guessed by the mean of a few: Student's prediction interval, at 95 %."""
    return float(_few(values.size - 1) * values.std(ddof=1) * np.sqrt(1.0 + 1.0 / values.size))


@lru_cache(maxsize=1024)
def _few(free: int) -> float:
    """Student's factor over the normal's, at 95 %."""
    return float(student_quantile(0.975, free) / normal_quantile(0.975))


MAKES = _of_makes()
BEYOND_LITHIUM: dict[Chemistry, tuple[float, float]] = {"lifepo4": (1.5, 0.08), "nimh": (2.5, 0.15)}
"""By how much the activation's error grows for a chemistry of which one make, or none, is published, and the relative
error of its way with the charge state (common practice, no source)."""


def makes_of(chemistry: Chemistry) -> Activation:
    """Of the published makes, with what a chemistry that is hardly among them may differ by."""
    if chemistry not in BEYOND_LITHIUM:
        return MAKES
    wider, charge_se = BEYOND_LITHIUM[chemistry]
    return Activation(MAKES.j_per_mol, wider * MAKES.se, say(PackCode.AS_OTHER_MAKES, chemistry=chemistry), charge_se)


def coldness(celsius: FloatArray | float) -> FloatArray:
    """Arrhenius' abscissa against 25 °C, ``(1/T − 1/T₀)/R``, mol/J: nought at 25 °C, positive in the cold."""
    kelvin, reference = (convert_temperature(c, "Celsius", "Kelvin") for c in (celsius, REFERENCE_C))
    return np.asarray((1.0 / kelvin - 1.0 / reference) / R, float)


def over_reference_temperature(
    celsius: float, se_k: float = 0.0, activation: Activation = MAKES
) -> tuple[float, float]:
    """How many times its resistance at 25 °C a pack has at a temperature.

    Parameters
    ----------
    celsius, se_k : float
        Temperature, °C, and its own standard error, K.
    activation : Activation
        Of the makes, or the pack's own as :func:`learned_activation` found it.

    Returns
    -------
    (float, float)
        Factor and its relative standard error: the activation's and the temperature's errors, added as squares.
    """
    below, x, above = coldness(celsius + np.array([-0.5, 0.0, 0.5]))
    error = np.hypot(activation.se * x, activation.j_per_mol * (below - above) * se_k)
    return float(np.exp(activation.j_per_mol * x)), float(error)


@lru_cache(maxsize=1 << 16)  # histories ask it of every flight again, once for each flight that it teaches
def over_half_charge(before_percent: float, after_percent: float) -> tuple[float, float]:
    """How many times its resistance at half charge a pack has, on average over a discharge.

    Returns
    -------
    (float, float)
        Mean over the makes and its relative standard error for another make.
    """
    across = np.linspace(before_percent, after_percent, 50)
    means = np.array([np.interp(across, CHARGE_PERCENT, curve).mean() for curve in OVER_HALF_CHARGE.values()])
    return float(means.mean()), of_another(means) / float(means.mean())


def _slope(place: FloatArray, x: FloatArray, y: FloatArray, se_k: float) -> tuple[float, FloatArray, float]:
    """Slope of y over x beside smooth ageing, its residuals and standard error; infinite where x does not tell."""
    degree = 2 if x.size >= FEWEST_CURVED else 1
    smooth = np.vander(place, degree + 1)
    project = smooth @ linalg.pinv(smooth)
    dx, dy = x - project @ x, y - project @ y
    free = x.size - smooth.shape[1]
    seen = float(dx @ dx)
    true = seen - free * float(coldness(REFERENCE_C - se_k)) ** 2
    if true <= 0.0 or free < 2:
        return 0.0, dy, np.inf
    energy = float(dx @ dy) / true
    left = dy - energy * dx
    scatter = max(float(np.sqrt(left @ left / (free - 1))), LEAST_SCATTER)
    # Few degrees of freedom tell a scatter badly: Student's factor over the normal's.
    return energy, left, _few(free - 1) * scatter * float(np.sqrt(seen)) / true


def learned_activation(
    resistance: FloatArray, celsius: FloatArray, se_k: float, makes: Activation = MAKES
) -> Activation:
    """A pack's own activation energy from its flights, held to the makes' as far as the flights leave it open.

    Ageing is smooth and the weather is not: the logarithm of the resistance is a straight line over the flights (a
    parabola where there are enough) plus the activation energy times coldness, by least squares with the makes' spread
    as prior. Flights far off are left out once. The thermometer's error adds its variance to that of the temperatures
    and so flattens the slope; its expectation is taken out of the normal equations.

    Parameters
    ----------
    resistance, celsius : ndarray, shape (n,)
        Resistance at half charge as read and the *measured* temperature it was read at, oldest first; NaN where not
        known.
    se_k : float
        Standard error of those temperatures, K.
    makes : Activation
        What is believed before: :func:`makes_of` the chemistry.

    Returns
    -------
    Activation
        ``makes`` itself with fewer than five such flights, or where they are all about as warm.
    """
    known = np.isfinite(resistance) & np.isfinite(celsius) & (resistance > 0)
    if known.sum() < FEWEST_LEARNED:
        return makes
    x, y = coldness(celsius[known]), np.log(resistance[known])
    place = np.flatnonzero(known) / max(known.size - 1, 1)
    keep = np.ones(x.size, bool)
    for _ in range(2):
        energy, left, se = _slope(place[keep], x[keep], y[keep], se_k)
        if not np.isfinite(se):
            return makes
        spread = max(robust_sd(left), LEAST_SCATTER)
        near = np.abs(left) < FAR_OFF * spread
        if near.all() or near.sum() < FEWEST_LEARNED:
            break
        keep[np.flatnonzero(keep)[~near]] = False
    information = se**-2
    prior = makes.se**-2
    value = (information * energy + prior * makes.j_per_mol) / (information + prior)
    how = say(PackCode.AS_LEARNED, flights=int(known.sum()))
    return Activation(value, float((information + prior) ** -0.5), how, makes.charge_se)
