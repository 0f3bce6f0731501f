"""How a lithium cell's rest curve and its capacity change together as it ages, by published electrodes.

A cell's rest voltage is its positive less its negative electrode's potential, and each electrode is used over a window
that moves as lithium or active material is lost (the modes of Birkl et al. 2017, J. Power Sources 341, 373). So the
curve over the charge given tells how much a cell has lost, as far as makes and modes differ.

Potentials over stoichiometry and inventories are those of PyBaMM's parameter sets (BSD 3-clause) under the names given
here: ``Ai2020``, ``Ecker2015``, ``Chen2020``, ``Mohtat2020``, ``NCA_Kim2011`` (:mod:`analyser.packs.chemistry` names
their papers) and ``ORegan2022`` (O'Regan et al. 2022, Electrochim. Acta 425, 140700), at 25 °C, straight between
points. A charger stops them all at 4.2 V.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from msgspec import Struct

from analyser.core.figures import FloatArray

CHARGE_PERCENT = np.array([0, 3, 6, 10, 15, 20, 25, 30, 35, 40, 45, 50, 55, 60, 65, 70, 75, 80, 85, 90, 95, 100], float)
MODES: dict[str, tuple[float, float, float]] = {
    "lithium": (0.0, 0.0, 1.0),
    "positive": (0.0, 1.0, 0.5),
    "negative": (1.0, 0.0, 0.4),
    "all": (0.5, 0.5, 1.0),
}
"""Shares of one severity: negative material lost, positive material lost, lithium lost (part of it with them)."""
SEVERITIES = np.arange(0.0, 0.501, 0.05)


class Electrodes(Struct, frozen=True):
    """Both electrodes of one make: potentials over stoichiometry, and inventories over the negative electrode's.

    ``lowest_v`` is where the new cell is empty, ``full_v`` where the charger stops.
    """

    make: str
    positive_over_negative: float
    lithium_over_negative: float
    lowest_v: float
    full_v: float
    negative_x: tuple[float, ...]
    negative_v: tuple[float, ...]
    positive_x: tuple[float, ...]
    positive_v: tuple[float, ...]

    def aged(self, mode: str, severity: float) -> tuple[float, FloatArray]:
        """Capacity over the negative electrode's when new, and rest voltage at :data:`CHARGE_PERCENT`, V."""
        negative, positive, lithium = (1.0 - severity * share for share in MODES[mode])
        q_p, q_li = positive * self.positive_over_negative, lithium * self.lithium_over_negative
        x = np.linspace(max(1e-4, (q_li - q_p) / negative + 1e-6), min(1.0 - 1e-4, q_li / negative), 800)
        volts = np.interp((q_li - x * negative) / q_p, self.positive_x, self.positive_v)
        volts = np.maximum.accumulate(volts - np.interp(x, self.negative_x, self.negative_v))
        empty, full = np.interp([self.lowest_v, self.full_v], volts, x)
        rest = np.interp(empty + (full - empty) * CHARGE_PERCENT / 100.0, x, volts)
        return float(negative * (full - empty)), np.asarray(rest, float)


class AgedCells(Struct, frozen=True, eq=False):
    """Every make aged in every mode: what is left of its capacity, and its rest curve, V at :data:`CHARGE_PERCENT`.

    Shapes (cells, severities) and (cells, severities, charges); ``makes`` names each row's make.
    """

    makes: tuple[str, ...]
    left: FloatArray
    rest_v: FloatArray


@cache
def aged_cells(leave_out: tuple[str, ...] = ()) -> AgedCells:
    """The library, without some makes: what is told of them then is told as of a make that nobody published."""
    makes, left, rest = [], [], []
    for one in PUBLISHED:
        if one.make in leave_out:
            continue
        for mode in MODES:
            found = [one.aged(mode, float(s)) for s in SEVERITIES]
            makes.append(one.make)
            left.append([c / found[0][0] for c, _ in found])
            rest.append([v for _, v in found])
    return AgedCells(tuple(makes), np.array(left, float), np.array(rest, float))


# fmt: off
PUBLISHED: tuple[Electrodes, ...] = (
    Electrodes(
        make="Ai2020", positive_over_negative=1.5722, lithium_over_negative=1.5239, lowest_v=3.0, full_v=4.2,
        negative_x=(
            0.0001, 0.0004, 0.0006, 0.0009, 0.0011, 0.0014, 0.0016, 0.0021, 0.0039, 0.0049, 0.0064, 0.0094,
            0.0136, 0.0191, 0.0261, 0.0341, 0.0539, 0.0644, 0.0769, 0.1199, 0.2021, 0.3124, 0.5306, 0.6681,
            0.9519, 0.9824, 0.9959, 0.9999,
        ),
        negative_v=(
            3.578, 3.347, 2.716, 1.944, 1.288, 1.002, 1.013, 0.952, 0.828, 0.779, 0.723, 0.645, 0.569, 0.497,
            0.43, 0.371, 0.273, 0.245, 0.232, 0.223, 0.179, 0.148, 0.134, 0.107, 0.094, 0.073, 0.044, 0.024,
        ),
        positive_x=(
            0.3844, 0.4371, 0.4504, 0.5384, 0.6139, 0.6676, 0.7191, 0.7696, 0.8861, 0.9201, 0.9431, 0.9556,
            0.9676, 0.9836, 0.9911, 0.9944, 0.9956, 0.9966, 0.9976, 0.9984, 0.9991, 0.9999,
        ),
        positive_v=(
            4.438, 4.278, 4.252, 4.098, 4.002, 3.953, 3.919, 3.9, 3.881, 3.863, 3.835, 3.806, 3.764, 3.696,
            3.647, 3.606, 3.579, 3.547, 3.5, 3.451, 3.385, 3.301,
        ),
    ),
    Electrodes(
        make="Ecker2015", positive_over_negative=1.2177, lithium_over_negative=1.1349, lowest_v=2.5, full_v=4.2,
        negative_x=(
            0.0001, 0.0006, 0.0011, 0.0016, 0.0021, 0.0026, 0.0034, 0.0041, 0.0049, 0.0066, 0.0086, 0.0114,
            0.0149, 0.0204, 0.0269, 0.0339, 0.0414, 0.0496, 0.0589, 0.0691, 0.0809, 0.0994, 0.1236, 0.3504,
            0.5604, 0.6621, 0.9341, 0.9999,
        ),
        negative_v=(
            1.693, 1.562, 1.451, 1.357, 1.277, 1.208, 1.122, 1.053, 0.996, 0.898, 0.821, 0.747, 0.676, 0.588,
            0.507, 0.438, 0.381, 0.334, 0.295, 0.265, 0.241, 0.219, 0.204, 0.128, 0.122, 0.087, 0.082, 0.066,
        ),
        positive_x=(
            0.1974, 0.2551, 0.2776, 0.2996, 0.3234, 0.3496, 0.4149, 0.4476, 0.4761, 0.5026, 0.5284, 0.5764,
            0.6769, 0.7006, 0.7211, 0.7469, 0.7899, 0.8106, 0.8829, 0.9186, 0.9586, 0.9999,
        ),
        positive_v=(
            4.36, 4.246, 4.206, 4.171, 4.136, 4.102, 4.026, 3.992, 3.966, 3.946, 3.931, 3.913, 3.894, 3.884,
            3.868, 3.839, 3.775, 3.747, 3.662, 3.616, 3.56, 3.495,
        ),
    ),
    Electrodes(
        make="Chen2020", positive_over_negative=1.4984, lithium_over_negative=1.306, lowest_v=2.5, full_v=4.2,
        negative_x=(
            0.0036, 0.0056, 0.0079, 0.0099, 0.0121, 0.0144, 0.0169, 0.0219, 0.0271, 0.0329, 0.0389, 0.0456,
            0.0519, 0.0586, 0.0661, 0.0749, 0.0876, 0.1259, 0.1466, 0.1609, 0.1781, 0.2411, 0.3166, 0.3579,
            0.5666, 0.6351, 0.6669, 0.9999,
        ),
        negative_v=(
            2.122, 1.992, 1.857, 1.747, 1.633, 1.529, 1.424, 1.241, 1.085, 0.947, 0.832, 0.731, 0.659, 0.598,
            0.545, 0.499, 0.448, 0.32, 0.263, 0.241, 0.227, 0.2, 0.154, 0.14, 0.13, 0.099, 0.093, 0.092,
        ),
        positive_x=(
            0.2304, 0.2416, 0.2654, 0.2754, 0.2861, 0.2964, 0.3029, 0.3099, 0.3439, 0.3536, 0.3639, 0.3774,
            0.4101, 0.4284, 0.4504, 0.5144, 0.5341, 0.5776, 0.6049, 0.6361, 0.6809, 0.9999,
        ),
        positive_v=(
            4.396, 4.363, 4.287, 4.257, 4.23, 4.211, 4.202, 4.195, 4.18, 4.172, 4.16, 4.141, 4.089, 4.061,
            4.032, 3.953, 3.924, 3.855, 3.819, 3.786, 3.746, 3.487,
        ),
    ),
    Electrodes(
        make="Mohtat2020", positive_over_negative=0.9703, lithium_over_negative=0.8659, lowest_v=2.8, full_v=4.2,
        negative_x=(
            0.0001, 0.0021, 0.0041, 0.0064, 0.0086, 0.0111, 0.0136, 0.0164, 0.0194, 0.0224, 0.0259, 0.0296,
            0.0336, 0.0431, 0.0554, 0.0711, 0.1151, 0.1616, 0.1979, 0.2274, 0.4571, 0.4764, 0.5071, 0.5304,
            0.9169, 0.9646, 0.9829, 0.9999,
        ),
        negative_v=(
            0.931, 0.828, 0.74, 0.655, 0.584, 0.517, 0.462, 0.412, 0.368, 0.333, 0.301, 0.275, 0.254, 0.224,
            0.206, 0.198, 0.19, 0.154, 0.132, 0.123, 0.12, 0.115, 0.096, 0.092, 0.089, 0.078, 0.067, 0.052,
        ),
        positive_x=(
            0.0051, 0.0931, 0.1876, 0.2841, 0.3796, 0.4614, 0.5454, 0.8386, 0.9024, 0.9501, 0.9629, 0.9719,
            0.9789, 0.9844, 0.9869, 0.9891, 0.9911, 0.9931, 0.9949, 0.9966, 0.9984, 0.9999,
        ),
        positive_v=(
            4.337, 4.204, 4.082, 3.978, 3.894, 3.837, 3.793, 3.691, 3.648, 3.598, 3.572, 3.54, 3.492, 3.426,
            3.381, 3.33, 3.274, 3.205, 3.131, 3.042, 2.936, 2.826,
        ),
    ),
    Electrodes(
        make="NCA_Kim2011", positive_over_negative=0.9804, lithium_over_negative=1.032, lowest_v=2.7, full_v=4.2,
        negative_x=(
            0.0001, 0.0021, 0.0031, 0.0044, 0.0066, 0.0091, 0.0116, 0.0144, 0.0174, 0.0206, 0.0239, 0.0276,
            0.0316, 0.0359, 0.0406, 0.0461, 0.0524, 0.0596, 0.0761, 0.1184, 0.1759, 0.3129, 0.3736, 0.4691,
            0.5424, 0.8924, 0.9419, 0.9679,
        ),
        negative_v=(
            1.81, 1.615, 1.527, 1.426, 1.264, 1.112, 0.984, 0.867, 0.762, 0.671, 0.598, 0.532, 0.478, 0.435,
            0.399, 0.37, 0.347, 0.33, 0.31, 0.294, 0.248, 0.124, 0.09, 0.068, 0.042, 0.033, 0.023, 0.003,
        ),
        positive_x=(
            0.2774, 0.3464, 0.4661, 0.6289, 0.9486, 0.9731, 0.9796, 0.9839, 0.9856, 0.9871, 0.9884, 0.9894,
            0.9904, 0.9911, 0.9919, 0.9926, 0.9931, 0.9936, 0.9939, 0.9941, 0.9944, 0.9946,
        ),
        positive_v=(
            4.435, 4.229, 4.026, 3.806, 3.498, 3.391, 3.224, 2.937, 2.716, 2.433, 2.089, 1.705, 1.172, 0.631,
            -0.086, -1.056, -1.897, -2.951, -3.578, -4.286, -5.086, -5.995,
        ),
    ),
    Electrodes(
        make="ORegan2022", positive_over_negative=1.3767, lithium_over_negative=1.3474, lowest_v=2.5, full_v=4.2,
        negative_x=(
            0.0051, 0.0071, 0.0094, 0.0114, 0.0136, 0.0159, 0.0184, 0.0234, 0.0286, 0.0344, 0.0404, 0.0471,
            0.0534, 0.0601, 0.0676, 0.0761, 0.0884, 0.1271, 0.1479, 0.1616, 0.1786, 0.2411, 0.3169, 0.3584,
            0.5666, 0.6351, 0.6669, 0.9999,
        ),
        negative_v=(
            2.023, 1.901, 1.774, 1.67, 1.563, 1.465, 1.365, 1.193, 1.046, 0.915, 0.807, 0.712, 0.644, 0.586,
            0.536, 0.493, 0.445, 0.316, 0.261, 0.24, 0.226, 0.2, 0.154, 0.14, 0.13, 0.099, 0.093, 0.092,
        ),
        positive_x=(
            0.2266, 0.2406, 0.2656, 0.2754, 0.2861, 0.2964, 0.3029, 0.3099, 0.3439, 0.3536, 0.3639, 0.3774,
            0.4099, 0.4281, 0.4501, 0.5146, 0.5341, 0.5774, 0.6041, 0.6354, 0.6804, 0.9999,
        ),
        positive_v=(
            4.407, 4.366, 4.286, 4.257, 4.23, 4.211, 4.202, 4.195, 4.18, 4.172, 4.16, 4.141, 4.089, 4.062,
            4.032, 3.953, 3.924, 3.855, 3.82, 3.786, 3.747, 3.487,
        ),
    ),
)
# fmt: on
