"""How much the next flight will need, told from an aircraft's own flights: a predictive distribution over flights.

Each past flight gives one need, the volume for ground and air, as a logarithm. Its model is a Gaussian process of a few
plain parts: a level; wear, a straight line over flights; at most one lasting step, from any flight on; a day's own
effect, shared by all flights of that day; and a flight's own scatter. Now and then a flight is flown hard, by 15 % or
so more. How strong each part is is not known: every combination on a coarse grid is weighed by how well it foretells
the flights there are (its marginal likelihood times its prior), and the next flight, on another day, is foretold by the
weighted mixture. So few flights make cautious odds, a found step or wear carries on, a step one flight ago that may as
well have been one hard flight counts for as much as it is likely, and recent flights weigh more wherever something
changes. How well the sensor's scale is known is an error that all flights share.

Sources: Rasmussen & Williams, Gaussian Processes for Machine Learning (2006), 2.2 (prediction), 2.7 (fixed basis
functions), 5.2 (Bayesian model selection); Adams & MacKay (2007), Bayesian Online Changepoint Detection, for the step's
prior by hazard; random effects as in Searle, Casella & McCulloch, Variance Components (1992), 3. With many even flights
the answer is the normal prediction bound of Hahn & Meeker, Statistical Intervals (1991), 4. Sizes on the grids: common
practice, no source.
"""

from __future__ import annotations

from itertools import product

import numpy as np
import numpy.typing as npt
from msgspec import Struct
from scipy import special

from analyser.core.figures import FloatArray

REMEMBERED = 40
"""So many last flights are looked at: older ones say nothing of how the engine is now that these do not."""
SCATTER = ((0.004, 0.8), (0.01, 1.0), (0.02, 1.2), (0.035, 1.0), (0.06, 0.7), (0.10, 0.3))
"""A flight's own relative scatter and the weight of each value before any flight is seen."""
DAY = ((0.0, 1.0), (0.015, 1.0), (0.03, 1.0), (0.06, 0.6))
"""A day's relative effect, likewise."""
WEAR = ((0.0, 1.0), (0.003, 0.6), (0.012, 0.4))
"""Relative change a flight, likewise."""
STEP_SD = 0.10
STEP_HAZARD = 1.0 / 25.0
"""Chance that a lasting step happens between two flights."""
HARD = ((0.15, 0.06, 0.65), (0.32, 0.10, 0.35))
"""How much more a hard flight needs (logarithm), how that scatters, and the weight of each kind beforehand."""
HARD_PRIOR = (1.0, 6.0)
"""Hard flights and other flights seen before any was logged: a beta prior, one in seven, worth seven flights (common
practice, no source). Eight flights without a hard one are no proof that none comes: one in five hides that often."""
FRESH_HAZARD = 0.08
"""The same for the last flight alone, which nothing after it has borne out yet: what is new is worth more heed."""
MOST_HARD = 8
LEVEL_SD = 1.0
KEPT_SHARE = 5e-4
"""Combinations that weigh less than this share of the weightiest are passed over."""


class Forecast(Struct, frozen=True, eq=False):
    """The next flight's need, as a mixture over combinations of causes.

    Parameters
    ----------
    weights : ndarray, shape (k,)
        They sum to one.
    on_flights : ndarray, shape (k, n)
        How each combination's mean rests on the flights' logarithms; every row sums to nearly one.
    offset, spread : ndarray, shape (k,)
        What is added to that mean, and the standard deviation about it, both of the logarithm.
    """

    weights: FloatArray
    on_flights: FloatArray
    offset: FloatArray
    spread: FloatArray

    def means(self, log_need: FloatArray) -> FloatArray:
        """Middle of each combination's foretelling, of the logarithm, shape (k, m).

        Parameters
        ----------
        log_need : ndarray, shape (n, m)
            Logarithm of the past flights' needs, in ``m`` cases.
        """
        return self.on_flights @ log_need + self.offset[:, None]

    def chance_below(self, means: FloatArray, log_limit: float, extra_sd: float) -> FloatArray:
        """Probability that the next need stays below a limit.

        Parameters
        ----------
        means : ndarray, shape (k, m)
            From :meth:`means`.
        log_limit : float
            Logarithm of the limit.
        extra_sd : float
            Standard error, of the logarithm, that all flights share.

        Returns
        -------
        ndarray, shape (m,)
        """
        z = (log_limit - means) / np.hypot(self.spread, extra_sd)[:, None]
        return np.asarray(self.weights @ special.ndtr(z), float)


def forecast(log_need: FloatArray, days: npt.NDArray[np.intp]) -> Forecast:
    """Weigh all combinations of causes by past flights.

    Parameters
    ----------
    log_need : ndarray, shape (n,)
        Logarithm of each flight's need, oldest first; n ≥ 2.
    days : ndarray of int, shape (n,)
        Flights of one day share a number.
    """
    n = log_need.size
    y = log_need - np.median(log_need)
    same_day = (days[:, None] == days[None, :]).astype(float)
    # Counted back from the next flight, so that wear is none there and the level is that of the next flight.
    ago = np.arange(n, 0, -1.0)
    wear = np.outer(ago, ago)
    configs, counts = _hard_flights(y)
    parts = list(product(SCATTER, DAY, WEAR))
    prior = np.log([a[1] * b[1] * c[1] for a, b, c in parts])
    base = np.stack(
        [a[0] ** 2 * np.eye(n) + b[0] ** 2 * same_day + c[0] ** 2 * wear + LEVEL_SD**2 for a, b, c in parts]
    )
    ahead = np.array([a[0] ** 2 + b[0] ** 2 for a, b, _ in parts])
    # Steps: none, or from flight c on, the next flight always after it.
    step = np.tril(np.ones((n, n)))[:, 1:] if n > 1 else np.zeros((n, 0))
    step_prior = np.log(np.r_[(1.0 - STEP_HAZARD) ** n, np.full(n, STEP_HAZARD * (1.0 - STEP_HAZARD) ** (n - 1))])
    blocks = np.concatenate([np.zeros((n, 1)), step, np.zeros((n, 1))], axis=1)
    # The last column is a step between the last flight and the next: nothing logged shows it.
    to_next = np.r_[0.0, np.full(n, STEP_SD**2)]
    if n > 1:
        step_prior[n - 1] = np.log(FRESH_HAZARD)
    plain = np.linalg.inv(base), np.linalg.slogdet(base)[1]
    most = -np.inf
    logs, maps, offsets, spreads = [], [], [], []
    for (hard, count), (hard_mean, hard_sd, hard_share) in product(zip(configs, counts, strict=True), HARD):
        extra = np.where(hard, hard_mean, 0.0)
        inverse, logdet = _widened(*plain, np.flatnonzero(hard), hard_sd**2)
        si = inverse @ blocks  # (p, n, c)
        quad = np.einsum("nc,pnc->pc", blocks, si)
        gain = STEP_SD**2 / (1.0 + STEP_SD**2 * quad)
        alpha = inverse @ (y - extra)  # (p, n)
        along = alpha @ blocks  # (p, c)
        fit = (alpha @ (y - extra))[:, None] - gain * along**2
        evidence = -0.5 * (fit + logdet[:, None] + np.log1p(STEP_SD**2 * quad))
        a, b = HARD_PRIOR
        chance = float(special.betaln(a + count, b + n - count) - special.betaln(a, b))
        log_weight = evidence + prior[:, None] + step_prior[None, :] + chance + np.log(hard_share)
        p_hard = (a + count) / (a + b + n)
        nexts = ((np.log(1.0 - p_hard), 0.0, 0.0), (np.log(p_hard), hard_mean, hard_sd**2))
        # Few of the combinations weigh anything: the others are not followed to the next flight.
        likeliest = log_weight + max(share for share, *_ in nexts)
        most = max(most, float(likeliest.max()))
        at, step_at = np.nonzero(likeliest > most + np.log(KEPT_SHARE))
        if not at.size:
            continue
        # Cross-covariance of the next flight with those logged: level, and the step where there is one.
        li = inverse[at].sum(axis=2) * LEVEL_SD**2  # (k, n)
        along_step, inverse_step = blocks.T[step_at], si[at, :, step_at]  # (k, n)
        # (cov + s b b')^-1 (level + s b) by Sherman and Morrison.
        quad, gain = quad[at, step_at], gain[at, step_at]
        more = STEP_SD**2 - gain * (li * along_step).sum(axis=1) - STEP_SD**2 * gain * quad
        map_ = li + inverse_step * more[:, None]
        known = (map_ * (LEVEL_SD**2 + STEP_SD**2 * along_step)).sum(axis=1)
        var = np.maximum(LEVEL_SD**2 + to_next[step_at] + ahead[at] - known, 1e-12)
        for share, shift, wider in nexts:
            logs.append(log_weight[at, step_at] + share)
            maps.append(map_)
            offsets.append(shift - map_ @ extra)
            spreads.append(np.sqrt(var + wider))
    log_all = np.concatenate(logs)
    weights = np.exp(log_all - log_all.max())
    keep = weights > KEPT_SHARE
    weights = weights[keep]
    return Forecast(
        weights / weights.sum(),
        np.concatenate(maps)[keep],
        np.concatenate(offsets)[keep],
        np.concatenate(spreads)[keep],
    )


def _widened(
    inverse: FloatArray, logdet: FloatArray, at: npt.NDArray[np.intp], variance: float
) -> tuple[FloatArray, FloatArray]:
    """Inverse and log determinant of covariances whose flights ``at`` scatter more (Woodbury, determinant lemma)."""
    if not at.size:
        return inverse, logdet
    cross = inverse[:, :, at]
    inner = inverse[:, at[:, None], at] + np.eye(at.size) / variance
    less = cross @ np.linalg.solve(inner, np.swapaxes(cross, 1, 2))
    return inverse - less, logdet + at.size * np.log(variance) + np.linalg.slogdet(inner)[1]


def _hard_flights(y: FloatArray) -> tuple[list[npt.NDArray[np.bool_]], list[int]]:
    """Which flights may have been flown hard: none, the neediest, the two neediest, and so on."""
    order = np.argsort(-y)
    configs, counts = [np.zeros(y.size, bool)], [0]
    for count in range(1, min(MOST_HARD, y.size // 2) + 1):
        hard = np.zeros(y.size, bool)
        hard[order[:count]] = True
        configs.append(hard)
        counts.append(count)
    return configs, counts
