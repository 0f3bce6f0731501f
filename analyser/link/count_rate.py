"""Maps and comparisons from lost-packet counters alone: a count-rate model with overdispersion.

Losses come in bursts, so their variance exceeds a Poisson count's. The model is a quasi-Poisson regression: expected
losses = seconds × rate(direction) × rate(range), with a dispersion estimated from Pearson's χ² (McCullagh & Nelder,
Generalized Linear Models, 1989, ch. 6). Two crossed factors need no general solver: proportional fitting, margin after
margin, reaches the same maximum likelihood.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from analyser.core.figures import Z95, FloatArray
from analyser.core.findings import say
from analyser.link.codes import LinkCode
from analyser.link.directions import DirectionBins
from analyser.link.maps import AntennaMap
from analyser.link.measured import measured_map
from analyser.link.sides import name_direction
from analyser.link.sphere import AZIMUTHS, EDGES_AZIMUTH_DEG, EDGES_SIN_ELEVATION, ELEVATIONS, bin_centres, neighbours

FEWEST_SECONDS = 3.0
POOL_DEG = 12.0
"""Counts are thin: a direction borrows from its neighbours even where it is known sharply."""
UNTOLD_DISPERSION = 3.0
STANDS_OUT = 1.3
NAMED_SE = 3.1
"""Standard errors by which a direction must stand out to be named: one in a thousand, since some fifty independent
directions are looked at."""


def range_weights(lost: FloatArray, seconds: FloatArray) -> FloatArray:
    """How much likelier a loss is in each range than on average, direction held equal.

    Parameters
    ----------
    lost, seconds : ndarray, shape (d, r)
        Losses and exposure by direction and range.

    Returns
    -------
    ndarray, shape (r,)
        Rate ratios with exposure-weighted mean 1; all one where there are too few losses to tell.
    """
    used = seconds > 0
    ranges = np.flatnonzero((seconds.sum(axis=0) > 5.0) & (lost.sum(axis=0) > 0))
    ratio = np.ones(seconds.shape[1])
    if lost.sum() < 20 or ranges.size < 2:
        return ratio
    # Rates multiply: alternating proportional fitting is the Poisson maximum-likelihood fit of two factors.
    direction = lost.sum(axis=1) / np.maximum(seconds.sum(axis=1), 1e-9)
    for _ in range(50):
        ratio = (lost.sum(axis=0) + 0.5) / (np.where(used, seconds * direction[:, None], 0).sum(axis=0) + 0.5)
        direction = lost.sum(axis=1) / np.maximum((seconds * ratio).sum(axis=1), 1e-9)
    share = seconds.sum(axis=0) / seconds.sum()
    return np.asarray(ratio / float((ratio * share).sum()))


def dispersion(lost: FloatArray, expected: FloatArray, fitted: int = 1) -> float:
    """Pearson's χ² over degrees of freedom, from cells with a fair expectation; at least 1.

    ``fitted`` is how many numbers of the expectation came from these same counts; :data:`UNTOLD_DISPERSION` where too
    little is left to judge by.
    """
    fair = expected > 0.5
    freedom = int(fair.sum()) - fitted
    if freedom < 5:
        return UNTOLD_DISPERSION
    return float(max(1.0, (((lost - expected) ** 2) / np.maximum(expected, 1e-9))[fair].sum() / freedom))


def _dispersion_of(bins: Sequence[DirectionBins]) -> float:
    """Between flights, direction by direction; of a single flight, between neighbouring directions."""
    lost = np.array([b.lost.ravel() for b in bins])
    seconds = np.array([b.seconds.ravel() for b in bins])
    if len(bins) > 1:
        expected = seconds * lost.sum(axis=0) / np.maximum(seconds.sum(axis=0), 1e-9)
        return dispersion(lost, expected, int((expected > 0.5).any(axis=0).sum()))
    # A flight fits itself perfectly, which says nothing of its bursts.
    near = neighbours(POOL_DEG) - np.eye(AZIMUTHS * ELEVATIONS)
    around = seconds @ near
    return dispersion(lost, np.where(around > 0, seconds * (lost @ near) / np.maximum(around, 1e-9), 0.0))


def counter_map(antenna: str, layout: str, bins: Sequence[DirectionBins]) -> AntennaMap | None:
    """Lost packets a second by direction, range held equal; intervals widened by the overdispersion.

    Returns
    -------
    AntennaMap or None
        In ``lost/s``; ``None`` without a counter. NaN where a direction was seen less than :data:`FEWEST_SECONDS`.
    """
    if not bins:
        return None
    seconds = np.zeros((AZIMUTHS * ELEVATIONS, bins[0].seconds_by_range.shape[-1]))
    lost = np.zeros_like(seconds)
    for b in bins:
        near = neighbours(max(b.uncertainty_deg, POOL_DEG))
        seconds += near @ b.seconds_by_range.reshape(seconds.shape)
        lost += near @ b.lost_by_range.reshape(seconds.shape)
    weighted = (seconds * range_weights(lost, seconds)).sum(axis=1)
    total = float(lost.sum())
    if weighted.sum() <= 0:
        return None
    overall = total / float(weighted.sum())
    phi = _dispersion_of(bins)
    # Gamma prior worth two seconds at the overall rate keeps empty counts from claiming a rate of nothing.
    events = lost.sum(axis=1)
    prior_s = 2.0
    rate = (events + overall * prior_s) / (weighted + prior_s)
    half = Z95 * np.sqrt(phi * np.maximum(events, 1.0)) / np.maximum(weighted, 1e-9)
    thin = seconds.sum(axis=1) < FEWEST_SECONDS
    shape = (AZIMUTHS, ELEVATIONS)
    gain, low, high = (
        np.where(thin, np.nan, v).reshape(shape) for v in (rate, np.maximum(rate - half, 0.0), rate + half)
    )
    if not np.isfinite(gain).any():
        return None
    azimuth, elevation = bin_centres()
    usual = float(np.nanmedian(gain))
    surely = (rate - NAMED_SE / Z95 * half).reshape(shape)
    bad = np.isfinite(gain) & (surely > STANDS_OUT * usual)
    order = [i for i in np.argsort(-np.where(bad, gain, -np.inf), axis=None) if bad.flat[i]][:12]
    found = [name_direction(float(azimuth.flat[i]), float(elevation.flat[i])) for i in order]
    firsts = [k for k, one in enumerate(found) if one not in found[:k]][:4]
    worst = [found[k] for k in firsts]
    nulls = tuple(
        say(
            LinkCode.COUNTER_NULL,
            where=found[k],
            usual=usual,
            azimuth_deg=float(azimuth.flat[order[k]]),
            elevation_deg=float(elevation.flat[order[k]]),
        )
        for k in firsts
    )
    sentence = say(
        LinkCode.COUNTER_MAP,
        minutes=sum(float(b.seconds.sum()) for b in bins) / 60,
        dispersion=phi,
        most=tuple(worst[:1]),
        losses=total,
    )
    return AntennaMap(
        antenna,
        layout,
        "lost/s",
        EDGES_AZIMUTH_DEG,
        EDGES_SIN_ELEVATION,
        gain,
        low,
        high,
        seconds.sum(axis=1).reshape(shape),
        nulls,
        sentence,
    )


def seen_map(
    antenna: str, layout: str, bins: Sequence[DirectionBins], reference_db: float | None = None
) -> AntennaMap | None:
    """Map one antenna from its levels or, where no flight logged any, from its counter of lost packets."""
    if any(b.histogram.any() for b in bins):
        return measured_map(antenna, layout, bins, reference_db)
    return counter_map(antenna, layout, [b for b in bins if b.counted])
