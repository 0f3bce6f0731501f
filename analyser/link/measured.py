"""Maps of antennas measured over flights, from binned samples alone."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
from msgspec import Struct

from analyser.core.figures import Z95, FloatArray
from analyser.core.findings import say
from analyser.link.codes import LinkCode
from analyser.link.directions import LEVEL_EDGES_DB, DirectionBins, add_levels
from analyser.link.maps import NULL_DB, AntennaMap, find_nulls
from analyser.link.sphere import (
    AZIMUTHS,
    EDGES_AZIMUTH_DEG,
    EDGES_SIN_ELEVATION,
    ELEVATIONS,
    SHARP_DEG,
    bin_angles,
    bin_vectors,
    neighbours,
)

INDEPENDENT_PER_S = 2.0
"""Samples closer than half a second resemble each other; the interval of a bin counts no more than this per second."""
FEWEST_SECONDS = 1.0
FEWEST_SAMPLES = 5
USUAL_BETWEEN_DB = 1.5
"""How far one pass's or flight's level of a direction lies from another's, until flights tell (common practice, no
source)."""
FEWEST_TWICE = 10
"""Directions seen by two flights from which their own spread is told."""
SHARP_SECONDS = 5.0
"""Seconds in a bin (neighbours counted) from which sharply known directions stand alone."""
WITHIN_BIN_DEG = 6.0
"""Standard deviation of directions spread evenly over a bin, some 15° by 14°."""
NEAR_DEG = 22.0
"""Neighbouring bins' centres lie closer than this."""
USUAL_EXPONENT, USUAL_EXPONENT_HALF = 2.2, 0.4
"""How signals fall with distance over a field where no flight tells (common practice, no source)."""
RANGE_MIDDLES_M: FloatArray = np.array([50.0, 110.0, 210.0, 420.0, 800.0])
"""A usual range within each stretch of :data:`RANGE_EDGES_M`."""


class Levels(Struct, frozen=True, eq=False):
    """What flights heard of one antenna by direction, laid against nothing yet; arrays of shape (a, e).

    Parameters
    ----------
    level_db, low_db, high_db : ndarray
        Median level and its interval, dB above 1 mW as :data:`LEVEL_EDGES_DB`; NaN where too little was seen.
    seconds, samples : ndarray
    sharp_deg, wide_deg : float
        How sharply directions are known in the best flight and in the worst.
    calibrated : bool
        Whether a level of any flight came through an estimated calibration.
    counted_only : int
        Flights that counted losses and told no level.
    """

    level_db: FloatArray
    low_db: FloatArray
    high_db: FloatArray
    seconds: FloatArray
    samples: FloatArray
    sharp_deg: float
    wide_deg: float
    calibrated: bool
    counted_only: int


def levels_of(bins: Sequence[DirectionBins]) -> Levels | None:
    """Levels of one antenna over flights, from binned samples alone; ``None`` where there are none.

    The level in a bin is the median over its samples; the interval is that of a median (binomial order statistics) for
    no more than :data:`INDEPENDENT_PER_S` independent samples a second, widened by how much the map changes within the
    directions' uncertainty and by how much flights differ in one direction.
    """
    usable = [b for b in bins if b.histogram.any()]
    if not usable:
        return None
    seconds = np.sum([b.seconds for b in usable], axis=0)
    rate = float(np.sum([b.histogram.sum() for b in usable]) / max(float(seconds.sum()), 1e-9))
    # Where flights with sharp directions have seen enough, those known less sharply would only blur it.
    sharp = min(b.uncertainty_deg for b in usable)
    own = pool_histogram([b for b in usable if b.uncertainty_deg == sharp])
    clear = own.sum(axis=-1) / max(rate, 1e-9) >= SHARP_SECONDS
    histogram = np.where(clear[..., None], own, pool_histogram(usable))
    level, low, high = _medians(histogram, rate)
    if not np.isfinite(level).any():
        return None
    return Levels(
        *_widened(usable, clear, level, low, high),
        seconds,
        histogram.sum(axis=-1),
        sharp_deg=sharp,
        wide_deg=max(b.uncertainty_deg for b in usable),
        calibrated=any(b.calibrated for b in usable),
        counted_only=sum(1 for b in bins if b.counted and not b.histogram.any()),
    )


def map_of(antenna: str, layout: str, heard: Levels, reference_db: float | None = None) -> AntennaMap:
    """Map levels against ``reference_db``, the antenna's own median over seen directions where not given."""
    zero = float(np.nanmedian(heard.level_db)) if reference_db is None else reference_db
    gain, low, high = heard.level_db - zero, heard.low_db - zero, heard.high_db - zero
    nulls = find_nulls(gain, heard.seconds, low_db=low, high_db=high)
    sentence = say(
        LinkCode.MEASURED_MAP,
        seen=float(np.isfinite(gain).mean()),
        minutes=float(heard.seconds.sum()) / 60.0,
        sharp=heard.sharp_deg,
        wide=heard.wide_deg,
        weakest=nulls[:1],
        null_db=NULL_DB,
        calibrated=heard.calibrated,
        counted_only=heard.counted_only,
    )
    return AntennaMap(
        antenna, layout, "dB", EDGES_AZIMUTH_DEG, EDGES_SIN_ELEVATION, gain, low, high, heard.samples, nulls, sentence
    )


def measured_map(
    antenna: str, layout: str, bins: Sequence[DirectionBins], reference_db: float | None = None
) -> AntennaMap | None:
    """Map one antenna over flights, from binned samples alone: :func:`levels_of` against a reference.

    ``None`` without levels; see :func:`analyser.link.count_rate.seen_map` for logs that only count.
    """
    heard = levels_of(bins)
    return None if heard is None else map_of(antenna, layout, heard, reference_db)


def _medians(histogram: FloatArray, rate: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Median level of each direction and its interval, dB, of shape (a, e); NaN where too little was seen.

    Parameters
    ----------
    rate : float
        Samples a second.
    """
    samples = histogram.sum(axis=-1)
    equivalent_s = samples / max(rate, 1e-9)
    independent = np.maximum(np.minimum(samples, equivalent_s * INDEPENDENT_PER_S), 1.0)
    half = Z95 * 0.5 / np.sqrt(independent)
    empty = (equivalent_s < FEWEST_SECONDS) | (samples < FEWEST_SAMPLES)
    level, low, high = (
        np.where(empty, np.nan, quantile_of_histogram(histogram, LEVEL_EDGES_DB, share))
        for share in (0.5, np.clip(0.5 - half, 0.0, 1.0), np.clip(0.5 + half, 0.0, 1.0))
    )
    return level, low, high


def _widened(
    bins: Sequence[DirectionBins],
    clear: npt.NDArray[np.bool_],
    level: FloatArray,
    low: FloatArray,
    high: FloatArray,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Levels set right by range, and their intervals widened by all that a median's own interval leaves out.

    Parameters
    ----------
    clear : ndarray of bool, shape (a, e)
        Directions that flights with the sharpest directions tell alone.
    """
    sharp, wide = (end(b.uncertainty_deg for b in bins) for end in (min, max))
    late = float(np.median([b.late_deg for b in bins]))
    slope = _spread(level, float(np.hypot(sharp, late)))
    if wide > sharp:
        slope = np.where(clear, slope, _spread(level, float(np.hypot(wide, late))))
    moved, doubt = _by_range(bins)
    level, low, high = level + moved, low + moved, high + moved
    slope = np.linalg.norm([slope, doubt, _borrowed(bins, level)], axis=0)
    # Samples of one flight share its day, and those of one pass its fading: flights are what is independent.
    spread_db, flights = _between_flights(bins)
    slope = np.hypot(slope, Z95 * spread_db / np.sqrt(flights))
    return level, level - np.hypot(level - low, slope), level + np.hypot(high - level, slope)


def quantile_of_histogram(histogram: FloatArray, edges: FloatArray, share: FloatArray | float) -> FloatArray:
    """Quantile along the last axis of a histogram, interpolated within a bin; NaN where it is empty.

    Parameters
    ----------
    histogram : ndarray, shape (..., h)
    edges : ndarray, shape (h + 1,)
    share : float or ndarray, shape (...)
        0 … 1.
    """
    total = histogram.sum(axis=-1)
    cumulated = np.cumsum(histogram, axis=-1)
    target = np.clip(share, 1e-9, 1.0) * total
    at = np.minimum((cumulated < target[..., None]).sum(axis=-1), histogram.shape[-1] - 1)
    here = np.take_along_axis(histogram, at[..., None], -1)[..., 0]
    before = np.take_along_axis(cumulated, at[..., None], -1)[..., 0] - here
    with np.errstate(invalid="ignore", divide="ignore"):
        inside = np.where(here > 0, (target - before) / here, 0.5)
    value = edges[at] + inside * (edges[at + 1] - edges[at])
    return np.where(total > 0, value, np.nan)


def pool_histogram(bins: Sequence[DirectionBins]) -> FloatArray:
    """Histograms of several flights, each widened by its own uncertainty, summed: shape (a, e, h)."""
    total = np.zeros((AZIMUTHS, ELEVATIONS, LEVEL_EDGES_DB.size - 1))
    for spread in {b.uncertainty_deg for b in bins}:
        summed = np.zeros_like(total)
        for b in bins:
            if b.uncertainty_deg == spread:
                add_levels(summed, b)
        if spread <= SHARP_DEG:
            total += summed
            continue
        total += (neighbours(spread) @ summed.reshape(AZIMUTHS * ELEVATIONS, -1)).reshape(total.shape)
    return total


def _spread(level_db: FloatArray, uncertainty_deg: float) -> FloatArray:
    """How much the map itself changes within the reach of a direction's uncertainty: half width of an interval, dB.

    A level may belong that far to one side; where the map is flat that costs nothing, at the edge of a null a lot.
    """
    weight = np.exp(-0.5 * (bin_angles() / np.hypot(uncertainty_deg, WITHIN_BIN_DEG)) ** 2)
    level = level_db.ravel()
    weight = weight * np.isfinite(level)
    total = weight.sum(axis=1)
    filled = np.nan_to_num(level)
    mean = weight @ filled / total
    variance = np.maximum(weight @ filled**2 / total - mean**2, 0.0)
    return np.asarray(np.sqrt(variance).reshape(level_db.shape))


def _between_flights(bins: Sequence[DirectionBins]) -> tuple[float, FloatArray]:
    """How far one flight's median of a direction lies from another's, dB, and how many flights saw each, shape (a, e).

    One standard deviation over all directions that two flights or more saw, by medians' differences from their mean;
    :data:`USUAL_BETWEEN_DB` where there are hardly any.
    """
    seen = np.zeros((AZIMUTHS, ELEVATIONS))
    total, square = np.zeros_like(seen), np.zeros_like(seen)
    for b in bins:  # a loop over flights
        told = b.histogram.sum(axis=-1) >= FEWEST_SAMPLES
        median = quantile_of_histogram(b.histogram[told], b.residual_edges_db, 0.5)
        seen += told
        total[told] += median
        square[told] += median**2
    freedom = np.maximum(seen - 1.0, 0.0)
    if freedom.sum() < FEWEST_TWICE:
        return USUAL_BETWEEN_DB, np.maximum(seen, 1.0)
    about = np.maximum(square - total**2 / np.maximum(seen, 1.0), 0.0)
    return float(np.sqrt(about[freedom > 0].sum() / freedom.sum())), np.maximum(seen, 1.0)


def _borrowed(bins: Sequence[DirectionBins], level_db: FloatArray) -> FloatArray:
    """Half an interval, dB, for directions told by neighbours that lie to one side of them, shape (a, e).

    How far the samples' middle lies from the bin's, times how steeply levels usually change between directions.
    """
    where, angle = bin_vectors(), bin_angles()
    held = np.zeros(where.shape[0])
    pooled = np.zeros((where.shape[0], 3))
    for spread in {b.uncertainty_deg for b in bins}:
        count = np.sum([b.histogram.sum(axis=-1).ravel() for b in bins if b.uncertainty_deg == spread], axis=0)
        held += count
        pooled += (neighbours(spread) * count) @ where
    length = np.linalg.norm(pooled, axis=1)
    off = np.degrees(np.arccos(np.clip((pooled * where).sum(axis=1) / np.maximum(length, 1e-9), -1, 1)))
    level = np.where(held > 0, level_db.ravel(), np.nan)
    near = np.argwhere(np.triu((angle > 0) & (angle < NEAR_DEG)))
    rise = (level[near[:, 0]] - level[near[:, 1]]) / angle[near[:, 0], near[:, 1]]
    rise = rise[np.isfinite(rise)]
    steep = float(np.sqrt(np.mean(rise**2))) if rise.size else 0.0
    return np.asarray(Z95 * steep * off.reshape(level_db.shape), float)


def _by_range(bins: Sequence[DirectionBins]) -> tuple[FloatArray, FloatArray]:
    """What a fall with distance other than free space's makes of each direction, dB, and half its interval, (a, e).

    Directions are flown at ranges of their own; set right is by how far each direction's mean range, in decades, lies
    from that of all. The exponent is the flights' own, weighed by their intervals, or the usual one.
    """
    fitted = np.array([(b.exponent, b.exponent_half) for b in bins if np.isfinite(b.exponent) and b.exponent_half > 0])
    exponent, half = USUAL_EXPONENT, USUAL_EXPONENT_HALF
    if fitted.size:
        weight = np.r_[fitted[:, 1], half] ** -2.0
        exponent = float(weight @ np.r_[fitted[:, 0], exponent] / weight.sum())
        # Flights over one field err alike: no better than the best of them.
        half = float(min(fitted[:, 1].min(), half))
    seconds = np.sum([b.seconds_by_range for b in bins], axis=0)
    decades = np.log10(RANGE_MIDDLES_M)
    total = seconds.sum(axis=-1)
    own = np.where(total > 0, seconds @ decades / np.maximum(total, 1e-9), np.nan)
    off = np.nan_to_num(own - float(np.nansum(own * total) / max(total.sum(), 1e-9)))
    return 10.0 * (exponent - 2.0) * off, 10.0 * half * np.abs(off)
