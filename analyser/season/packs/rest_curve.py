"""A pack's capacity from its own rest curve: voltages at rest over the charge given, of flights of different depth.

One flight alone leaves open whether its pack has aged or is of another make. Several flights of different depth show
the curve itself, early ones the curve when the log began. They are set against every published make aged in every mode
(:mod:`analyser.packs.electrodes`), at every capacity a label may stand for, by Bayes' rule; what one more make's curve
may differ by is an error that flights of one depth share (a Gaussian process over the charge given; Rasmussen and
Williams, Gaussian Processes for Machine Learning, 2.2). The sensor's scale and the voltmeter's are carried along.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from msgspec import Struct
from scipy import linalg

from analyser.core.figures import FloatArray
from analyser.packs.electrodes import CHARGE_PERCENT, SEVERITIES, aged_cells

MODEL_SE_V, MODEL_REACH = 0.030, 0.12
"""How far one more make's curve lies from the nearest of the library, V a cell, and over how much of the charge state
that is alike; found on makes left out of the library (``tests/reference/test_own_curve.py``)."""
DEEP_V, DEEP_MORE = 3.75, 4.0
"""Below this rest voltage makes differ by so much more for each volt: their knees lie apart."""
STAYS = 0.7
"""Correlation of that error between a pack's early flights and its late ones."""
VOLTMETER_SE = 0.0025
"""Relative standard error of a voltmeter's scale (common practice, no source)."""
LEAST_SE_V = 0.004
LABEL, LABEL_SE = 0.97, 0.05
"""Capacity of a new pack over its label's, and its standard deviation (common practice, no source)."""
OVER_LABEL = np.linspace(0.83, 1.11, 11)
EARLY_SEVERITY = 0.15
"""An early flight's loss is seldom more than that (common practice, no source)."""
LEAST_LEFT = 0.35
MOST_POINTS = 8
WORST_FIT = 4.0
"""Mean square of the best fit's residuals over their errors beyond which the flights are no one pack's."""
BINS = np.linspace(0.3, 1.15, 341)
_NODES, _WEIGHTS = np.array([-np.sqrt(3.0), 0.0, np.sqrt(3.0)]), np.array([1.0, 4.0, 1.0]) / 6.0
"""Three-point Gauss–Hermite rule for the scale of the current sensor."""


class Point(Struct, frozen=True):
    """One flight: charge given, mAh, and rest voltages of a cell at its ends.

    Parameters
    ----------
    given_mah, relative_se : float
        By the sensor at its scale, and how surely that is known.
    after_v, se_v : float
        At rest after the flight, and its standard error.
    before_v : float or None
        At rest before; ``None`` where the pack was full.
    """

    given_mah: float
    relative_se: float
    after_v: float
    se_v: float
    before_v: float | None = None


class Told(Struct, frozen=True):
    """Low end, value and high end at 95 %: capacity now over the label's, and over that of the early flights."""

    over_label: tuple[float, float, float]
    over_early: tuple[float, float, float] | None
    flights: int


def told_by_curve(
    early: Sequence[Point], late: Sequence[Point], rated_mah: float, leave_out: tuple[str, ...] = ()
) -> Told | None:
    """Weigh every make, mode, loss and capacity by the flights.

    Parameters
    ----------
    early, late : sequence of Point
        A pack's first flights in the log and its last ones; either may be empty, not both.
    rated_mah : float
        The label's capacity.
    leave_out : tuple of str
        Makes to leave out of the library, for checks.

    Returns
    -------
    Told or None
        ``None`` where nothing in the library comes near the flights.
    """
    early, late = _spread(early), _spread(late)
    points = [*early, *late]
    if not late:
        return None
    library = aged_cells(leave_out)
    residuals = _residuals(points, library.left, library.rest_v, rated_mah)
    root = linalg.cholesky(_covariance(early, late), lower=True)
    white = linalg.solve_triangular(root, np.eye(len(points)), lower=True)
    a = residuals[..., : len(early)] @ white[:, : len(early)].T
    b = residuals[..., len(early) :] @ white[:, len(early) :].T
    # Shape (cells, early severity, late severity, capacities, scales).
    square = (a**2).sum(-1)[:, :, None] + (b**2).sum(-1)[:, None] + 2.0 * np.einsum("isckp,itckp->istck", a, b)
    if float(square.min()) > WORST_FIT * len(points) + WORST_FIT:
        return None
    weights = np.exp(-0.5 * (square - square.min())) * _prior(library.left)
    capacity = library.left[:, None, :, None, None] * OVER_LABEL[:, None]
    ratio = library.left[:, None, :] / library.left[:, :, None]
    over_early = _quantiles(ratio, weights.sum((3, 4))) if early else None
    return Told(_quantiles(np.broadcast_to(capacity, weights.shape), weights), over_early, len(points))


def _spread(points: Sequence[Point]) -> list[Point]:
    """At most :data:`MOST_POINTS`, of every depth."""
    ordered = sorted(points, key=lambda p: p.given_mah)
    if len(ordered) <= MOST_POINTS:
        return ordered
    return [ordered[k] for k in np.linspace(0, len(ordered) - 1, MOST_POINTS).round().astype(int)]


def _residuals(points: Sequence[Point], left: FloatArray, rest_v: FloatArray, rated_mah: float) -> FloatArray:
    """Voltage after a flight less what each would show; shape (cells, severities, capacities, scales, points)."""
    given = np.array([p.given_mah for p in points])
    after = np.array([p.after_v for p in points])
    full = np.array([p.before_v is None for p in points])
    before = np.array([p.before_v or 0.0 for p in points])
    scale = 1.0 + np.outer(_NODES, [p.relative_se for p in points])
    fall = 100.0 * given * scale / (rated_mah * OVER_LABEL[:, None, None])
    cells, losses = left.shape
    out = np.empty((cells, losses, *fall.shape))
    for i in range(cells):  # a loop over the library
        for s in range(losses):
            curve = rest_v[i, s]
            start = np.where(full, 100.0, np.interp(before, curve, CHARGE_PERCENT))
            out[i, s] = after - np.interp(start - fall / left[i, s], CHARGE_PERCENT, curve)
    return out


def _covariance(early: Sequence[Point], late: Sequence[Point]) -> FloatArray:
    """Errors of the points' voltages, V²: model, voltmeter, and each reading's own."""
    points = [*early, *late]
    volts = np.array([p.after_v for p in points])
    depth = np.array([p.given_mah for p in points])
    place = depth / max(float(depth.max()), 1e-9)
    epoch = np.r_[np.zeros(len(early)), np.ones(len(late))]
    alike = np.exp(-0.5 * ((place[:, None] - place) / (MODEL_REACH / 0.7)) ** 2)
    alike = alike * np.where(epoch[:, None] == epoch, 1.0, STAYS)
    meter = VOLTMETER_SE * volts
    own = np.array([max(p.se_v, LEAST_SE_V) for p in points])
    # What a fit hides of a slow drop is much the same in every flight of a pack.
    hidden = 0.7 * np.outer(own, own) + 0.3 * np.diag(own**2)
    model = MODEL_SE_V * (1.0 + DEEP_MORE * np.maximum(DEEP_V - volts, 0.0))
    return np.asarray(np.outer(model, model) * alike + np.outer(meter, meter) + hidden, float)


def _prior(left: FloatArray) -> FloatArray:
    """Weight of everything before a flight was seen; shape as the squares' in :func:`told_by_curve`."""
    early = np.exp(-SEVERITIES / EARLY_SEVERITY)
    grown = (SEVERITIES[None, :] >= SEVERITIES[:, None]) * early[:, None]
    label = np.exp(-0.5 * ((OVER_LABEL - LABEL) / LABEL_SE) ** 2)
    seen = left[:, None, :, None, None] >= LEAST_LEFT
    return np.asarray(seen * grown[None, :, :, None, None] * label[:, None] * _WEIGHTS, float)


def _quantiles(values: FloatArray, weights: FloatArray) -> tuple[float, float, float]:
    """Low end, median and high end at 95 %, straight within bins of :data:`BINS`."""
    share = np.cumsum(np.histogram(values, BINS, weights=weights)[0])
    low, middle, high = np.interp(np.array([0.025, 0.5, 0.975]) * share[-1], share, BINS[1:])
    return float(low), float(middle), float(high)
