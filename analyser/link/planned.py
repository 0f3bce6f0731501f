"""Maps of antennas from their layout alone.

Pattern: half-wave dipole cos(π/2·cosθ)/sinθ (Balanis, Antenna Theory, ch. 4), peak 2.15 dBi.
"""

from __future__ import annotations

import numpy as np

from analyser.core.aircraft import Antenna, AntennaLayout
from analyser.core.figures import FloatArray
from analyser.core.findings import Finding, say
from analyser.link.codes import LinkCode
from analyser.link.maps import BEST, AntennaMap, antenna_key, find_nulls
from analyser.link.sides import name_direction
from analyser.link.sphere import EDGES_AZIMUTH_DEG, EDGES_SIN_ELEVATION, bin_centres, sub_directions, unit_vector

PEAK_DBI = 2.15
MONOPOLE_PEAK_DBI = 2.15
"""A short whip on a model has hardly any ground plane and is taken as one half of a dipole: same shape, same peak."""
FLOOR_DB = -30.0
"""An installed antenna never shows a perfect zero: scatter from the airframe fills it (common practice, no source)."""


def pattern_dbi(antenna: Antenna, directions: FloatArray) -> FloatArray:
    """Free-space pattern of one antenna for unit directions (..., 3) in body axes, dBi.

    A half-wave dipole: nothing off the ends, all of it broadside. A monopole without a ground plane is taken alike.
    """
    axis = np.asarray(antenna.axis, float) / np.linalg.norm(antenna.axis)
    c = np.clip(directions @ axis, -1 + 1e-9, 1 - 1e-9)
    shape = np.cos(np.pi / 2 * c) ** 2 / (1 - c * c)
    peak = PEAK_DBI if antenna.kind == "dipole" else MONOPOLE_PEAK_DBI
    return np.asarray(np.maximum(peak + 10 * np.log10(np.maximum(shape, 1e-12)), FLOOR_DB))


def planned_gain_db(layout: AntennaLayout, antenna: Antenna, directions: FloatArray) -> FloatArray:
    """Pattern of one antenna of a layout, less what its shadows take, dBi; shape of ``directions`` less one."""
    gain = pattern_dbi(antenna, directions)
    for shadow in layout.shadows:
        if shadow.receiver not in ("", antenna.receiver) or shadow.number not in (None, antenna.number):
            continue
        towards = unit_vector(np.asarray(shadow.azimuth_deg), np.asarray(shadow.elevation_deg))
        inside = directions @ towards >= np.cos(np.radians(shadow.half_width_deg))
        gain = gain - shadow.loss_db * inside
    return np.asarray(np.maximum(gain, FLOOR_DB))


def planned_map(layout: AntennaLayout, antenna: Antenna) -> AntennaMap:
    """Map one antenna from its placement alone."""
    gain = _mean_power(planned_gain_db(layout, antenna, sub_directions()))
    return _planned(antenna_key(antenna.receiver, antenna.number), layout.name, gain, LinkCode.PLANNED_ONE)


def planned_best(layout: AntennaLayout) -> AntennaMap | None:
    """The best antenna in every direction: what is left when the receivers pick freely."""
    if not layout.antennas:
        return None
    where = sub_directions()
    gain = _mean_power(np.max([planned_gain_db(layout, a, where) for a in layout.antennas], axis=0))
    return _planned(BEST, layout.name, gain, LinkCode.PLANNED_BEST)


def _mean_power(gain_db: FloatArray) -> FloatArray:
    return np.asarray(10 * np.log10((10 ** (gain_db / 10)).mean(axis=-1)))


def _planned(name: str, layout: str, gain: FloatArray, what: LinkCode) -> AntennaMap:
    a, e = bin_centres()
    worst = np.unravel_index(int(np.argmin(gain)), gain.shape)
    where = name_direction(float(a[worst]), float(e[worst]))
    sentence = say(what, worst=float(gain.min()), where=where, best=float(gain.max()))
    nulls = find_nulls(gain, np.ones_like(gain))
    nan = np.full(gain.shape, np.nan)
    return AntennaMap(
        name,
        layout,
        "dB",
        EDGES_AZIMUTH_DEG,
        EDGES_SIN_ELEVATION,
        gain,
        nan,
        nan,
        np.zeros(gain.shape),
        nulls,
        sentence,
    )


def coverage_sentence(layout: AntennaLayout, within_db: float = 10.0) -> Finding:
    """How well a layout covers the sphere on paper: share covered, worst direction, evenness of the axes."""
    best = planned_best(layout)
    if best is None:
        return say(LinkCode.NO_ANTENNA_DESCRIBED)
    a, e = bin_centres()
    gain = best.gain_db
    worst = np.unravel_index(int(np.argmin(gain)), gain.shape)
    share = float((gain > PEAK_DBI - within_db).mean())
    spread = axis_evenness(layout)
    return say(
        LinkCode.COVERAGE,
        share=share,
        within_db=within_db,
        where=name_direction(float(a[worst]), float(e[worst])),
        gain=float(gain[worst]),
        evenness=float(spread),
    )


def axis_evenness(layout: AntennaLayout) -> float:
    """0 where some direction lies along every axis' blind line or plane, 1 where the axes cover space evenly.

    Three times the smallest eigenvalue of the mean of the axes' outer products; two antennas reach at most 0, so the
    middle eigenvalue (doubled) stands in for fewer than three.
    """
    axes = np.array([a.axis for a in layout.antennas], float)
    axes /= np.linalg.norm(axes, axis=1, keepdims=True)
    values = np.sort(np.linalg.eigvalsh(axes.T @ axes / len(axes)))
    return float(np.clip(3 * values[0] if len(axes) >= 3 else 2 * values[1], 0.0, 1.0))
