"""What each antenna sees from which side of the airframe: planned from a layout, or measured over flights.

Directions are bins of equal area: equal steps of azimuth by equal steps of the sine of elevation (Archimedes).
Patterns: half-wave dipole cos(π/2·cosθ)/sinθ (Balanis, Antenna Theory, ch. 4), peak 2.15 dBi.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cache

import numpy as np
import numpy.typing as npt
from scipy import ndimage

from analyser.core.aircraft import Antenna, AntennaLayout
from analyser.core.figures import Z95, FloatArray
from analyser.core.findings import Finding, Text, say
from analyser.core.geometry import Seen
from analyser.core.late import Late
from analyser.link.codes import Direction, LinkCode

AZIMUTHS, ELEVATIONS = 24, 8
EDGES_AZIMUTH_DEG: FloatArray = np.linspace(-180.0, 180.0, AZIMUTHS + 1)
EDGES_SIN_ELEVATION: FloatArray = np.linspace(-1.0, 1.0, ELEVATIONS + 1)
LEVEL_EDGES_DB: FloatArray = np.linspace(-60.0, 40.0, 101)
"""Signal plus free-space loss, dB above 1 mW: what the transmitter would have to radiate isotropically."""
RANGE_EDGES_M: FloatArray = np.array([0.0, 75.0, 150.0, 300.0, 600.0, np.inf])
PEAK_DBI = 2.15
MONOPOLE_PEAK_DBI = 2.15
"""A short whip on a model has hardly any ground plane and is taken as one half of a dipole: same shape, same peak."""
FLOOR_DB = -30.0
"""An installed antenna never shows a perfect zero: scatter from the airframe fills it (common practice, no source)."""
INDEPENDENT_PER_S = 2.0
"""Samples closer than half a second resemble each other; the interval of a bin counts no more than this per second."""
SHARP_DEG = 7.5
"""Half a bin: a direction known this well is not spread over its neighbours."""
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
NULL_DB = 6.0
NEAR_DEG = 22.0
"""Neighbouring bins' centres lie closer than this."""
USUAL_EXPONENT, USUAL_EXPONENT_HALF = 2.2, 0.4
"""How signals fall with distance over a field where no flight tells (common practice, no source)."""
RANGE_MIDDLES_M: FloatArray = np.array([50.0, 110.0, 210.0, 420.0, 800.0])
"""A usual range within each stretch of :data:`RANGE_EDGES_M`."""


@dataclass(frozen=True, slots=True, eq=False)
class DirectionBins(Late):
    """One flight's samples of one antenna, sorted into equal-area bins of body directions.

    Sufficient for maps and comparisons over a season without going back to the samples.

    Parameters
    ----------
    edges_azimuth_deg : ndarray, shape (a + 1,)
        Body azimuth −180 … 180, 0° nose, 90° right wing.
    edges_sin_elevation : ndarray, shape (e + 1,)
        Sine of body elevation −1 … 1: equal steps make equal areas.
    residual_edges_db : ndarray, shape (h + 1,)
        Edges of the histogram of the residual after path loss, dB: the stretch of :data:`LEVEL_EDGES_DB` that was seen.
    histogram : ndarray of int, shape (a, e, h)
        Sample counts by direction and residual; all zero for a counter-only log.
    seconds, lost : ndarray, shape (a, e)
        Time seen from each bin, and packets lost in it.
    uncertainty_deg : float
        How far the directions may be off; a map pools bins this close to each other.
    range_edges_m : ndarray, shape (r + 1,)
        Edges of the ranges of the two arrays below.
    seconds_by_range, lost_by_range : ndarray, shape (a, e, r)
        The same by range: what a comparison of counters at equal range needs.
    counted : bool
        Whether a counter of lost packets stands behind ``lost``.
    calibrated : bool
        Whether the level came through an estimated calibration (percent or counts), not from dBm.
    calibration_signal, calibration_db : ndarray, shape (k,)
        That calibration; empty where the log gave dBm.
    late_deg : float
        How far, besides, directions may be off because positions come late; it widens a map's interval and pools
        nothing.
    exponent, exponent_half : float
        How the signal really fell with distance and half its 95 % interval; NaN where the flight does not tell.
    """

    edges_azimuth_deg: FloatArray
    edges_sin_elevation: FloatArray
    residual_edges_db: FloatArray
    histogram: npt.NDArray[np.int32]
    seconds: FloatArray
    lost: FloatArray
    uncertainty_deg: float = 5.0
    range_edges_m: FloatArray = field(default_factory=lambda: RANGE_EDGES_M)
    seconds_by_range: FloatArray = field(
        default_factory=lambda: np.zeros((AZIMUTHS, ELEVATIONS, RANGE_EDGES_M.size - 1))
    )
    lost_by_range: FloatArray = field(default_factory=lambda: np.zeros((AZIMUTHS, ELEVATIONS, RANGE_EDGES_M.size - 1)))
    counted: bool = False
    calibrated: bool = False
    calibration_signal: FloatArray = field(default_factory=lambda: np.empty(0))
    calibration_db: FloatArray = field(default_factory=lambda: np.empty(0))
    late_deg: float = 0.0
    exponent: float = float("nan")
    exponent_half: float = float("nan")


def trim_levels(histogram: npt.NDArray[np.int32]) -> tuple[npt.NDArray[np.int32], FloatArray]:
    """Leave out the levels nobody saw at either end: a flight spans some thirty of the hundred.

    Parameters
    ----------
    histogram : ndarray of int, shape (a, e, h)
        Over all of :data:`LEVEL_EDGES_DB`.

    Returns
    -------
    histogram, edges : ndarray, shapes (a, e, k) and (k + 1,)
    """
    used = np.flatnonzero(histogram.any(axis=(0, 1)))
    first, last = (int(used[0]), int(used[-1]) + 1) if used.size else (0, 1)
    return histogram[:, :, first:last].copy(), LEVEL_EDGES_DB[first : last + 1].copy()


def add_levels(total: FloatArray, bins: DirectionBins) -> None:
    """Add one flight's histogram, trimmed or not, to ``total`` (a, e, h) over all of :data:`LEVEL_EDGES_DB`."""
    first = round(float(bins.residual_edges_db[0] - LEVEL_EDGES_DB[0]))
    total[:, :, first : first + bins.histogram.shape[-1]] += bins.histogram


@dataclass(frozen=True, slots=True, eq=False)
class AntennaMap:
    """What one antenna sees from each body direction, measured over flights or planned from a layout.

    ``gain_db``, ``low_db``, ``high_db``, ``count`` have shape (a, e) on the bins of :class:`DirectionBins`; NaN where
    nothing was seen. ``unit`` is ``dB`` or, for counter-only logs, ``lost/s``.
    ``fade_azimuth_deg`` and ``fade_elevation_deg``, shape (fades,), are the directions of single fades, where measured.
    """

    antenna: str
    layout: str
    unit: str
    edges_azimuth_deg: FloatArray
    edges_sin_elevation: FloatArray
    gain_db: FloatArray
    low_db: FloatArray
    high_db: FloatArray
    count: FloatArray
    nulls: tuple[Finding, ...]
    sentence: Text
    fade_azimuth_deg: FloatArray | None = None
    fade_elevation_deg: FloatArray | None = None


def exposed_null_db(seen: AntennaMap, share: float = 0.05) -> float | None:
    """How far below the antenna's median the worst ``share`` of the time seen lies, dB; ``None`` without levels.

    A hole nobody looks into does not count, one that flights point at the pilot does.
    """
    if seen.unit != "dB":
        return None
    good = np.isfinite(seen.gain_db) & (seen.count > 0)
    if not good.any():
        return None
    depth = float(np.median(seen.gain_db[good])) - seen.gain_db[good]
    order = np.argsort(-depth)
    time = np.cumsum(seen.count[good][order])
    return float(depth[order][int(np.searchsorted(time, share * time[-1]))])


def unit_vector(azimuth_deg: FloatArray, elevation_deg: FloatArray) -> FloatArray:
    """Unit vectors in body axes (x forward, y right, z down), shape (..., 3)."""
    a, e = np.radians(azimuth_deg), np.radians(elevation_deg)
    return np.stack([np.cos(e) * np.cos(a), np.cos(e) * np.sin(a), -np.sin(e)], axis=-1)


def bin_centres() -> tuple[FloatArray, FloatArray]:
    """Azimuth and elevation of every bin's centre, both of shape (a, e), degrees."""
    azimuth = (EDGES_AZIMUTH_DEG[:-1] + EDGES_AZIMUTH_DEG[1:]) / 2
    elevation = np.degrees(np.arcsin((EDGES_SIN_ELEVATION[:-1] + EDGES_SIN_ELEVATION[1:]) / 2))
    a, e = np.meshgrid(azimuth, elevation, indexing="ij")
    return a, e


def bin_of(azimuth_deg: FloatArray, elevation_deg: FloatArray) -> npt.NDArray[np.intp]:
    """Flat bin number (azimuth major) of each direction, shape (n,); the input must hold no NaN."""
    a = np.clip(((azimuth_deg + 180.0) / 360.0 * AZIMUTHS).astype(np.intp), 0, AZIMUTHS - 1)
    s = np.sin(np.radians(elevation_deg))
    e = np.clip(((s + 1.0) / 2.0 * ELEVATIONS).astype(np.intp), 0, ELEVATIONS - 1)
    return np.asarray(a * ELEVATIONS + e, np.intp)


def bins_of(seen: Seen) -> tuple[npt.NDArray[np.bool_], npt.NDArray[np.intp]]:
    """Which instants have a direction, and the flat bin number of each of those."""
    return seen.once("bins", _bins)


def _bins(seen: Seen) -> tuple[npt.NDArray[np.bool_], npt.NDArray[np.intp]]:
    told = np.isfinite(seen.body_azimuth_deg)
    return told, bin_of(seen.body_azimuth_deg[told], seen.body_elevation_deg[told])


_SIDES = (
    Direction.NOSE, Direction.RIGHT_OF_NOSE, Direction.RIGHT, Direction.RIGHT_OF_TAIL, Direction.TAIL,
    Direction.LEFT_OF_TAIL, Direction.LEFT, Direction.LEFT_OF_NOSE,
)  # fmt: skip


STRAIGHT_DEG, LEVEL_DEG = 65.0, 25.0
"""Elevations from which a direction is called straight, and up to which it is called level."""


def name_direction(azimuth_deg: float, elevation_deg: float) -> Finding:
    """Name a body direction: *tail-on*, *left wing, from below*, *straight from below*.

    Examples
    --------
    >>> name_direction(180.0, 0.0)
    Finding(direction.tail)
    """
    return name_directions(np.array([azimuth_deg]), np.array([elevation_deg]))[0]


def name_directions(azimuth_deg: FloatArray, elevation_deg: FloatArray) -> list[Finding]:
    """Name many body directions at once, both of shape (n,); the input must hold no NaN."""
    sides = np.round((azimuth_deg % 360.0) / 45.0).astype(int) % 8
    away = np.abs(elevation_deg)
    steep = np.where(away > STRAIGHT_DEG, 2, np.where(away < LEVEL_DEG, 0, 1))
    return list(map(_named, sides.tolist(), steep.tolist(), (elevation_deg > 0).tolist()))


@cache
def _named(side: int, steep: int, above: bool) -> Finding:
    """The few names there are, each made once: a flight may have thousands of fades."""
    if steep == 2:
        return say(Direction.STRAIGHT_ABOVE if above else Direction.STRAIGHT_BELOW)
    named = say(_SIDES[side])
    if steep == 0:
        return named
    return say(Direction.SIDE_FROM_ABOVE if above else Direction.SIDE_FROM_BELOW, side=named)


BEST = "best"
"""Name of the map of the best antenna in each direction."""
SECTORS = (Direction.NOSE, Direction.RIGHT, Direction.TAIL, Direction.LEFT, Direction.ABOVE, Direction.BELOW)
STEEP_DEG = 30.0
"""Beyond this elevation (half of the sphere) a direction is above or below rather than of a side."""


def sector_of(azimuth_deg: FloatArray, elevation_deg: FloatArray) -> npt.NDArray[np.intp]:
    """Which of :data:`SECTORS` each direction belongs to, shape as the input; no NaN."""
    side = (np.round((azimuth_deg % 360.0) / 90.0) % 4).astype(np.intp)
    return np.where(np.abs(elevation_deg) > STEEP_DEG, np.where(elevation_deg > 0, 4, 5), side)


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


def antenna_key(receiver: str, number: int) -> str:
    """Name of an antenna as results carry it; number 0 is a receiver that reports one signal for all."""
    return f"{receiver}.antenna{number}" if number else receiver


def sub_directions() -> FloatArray:
    """3 × 3 directions in every bin, shape (a, e, 9, 3): a bin's gain is the mean power over it."""
    step = np.array([-1 / 3, 0.0, 1 / 3])
    da, ds = 360.0 / AZIMUTHS, 2.0 / ELEVATIONS
    a, e = bin_centres()
    az = a[..., None] + np.repeat(step, 3) * da
    el = np.degrees(np.arcsin(np.sin(np.radians(e))[..., None] + np.tile(step, 3) * ds))
    return unit_vector(az, el)


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


def find_nulls(
    gain_db: FloatArray,
    seconds: FloatArray,
    *,
    worse_is_high: bool = False,
    most: int = 4,
    low_db: FloatArray | None = None,
    high_db: FloatArray | None = None,
) -> tuple[Finding, ...]:
    """Find connected directions well below the antenna's median, worst first.

    Ranked by depth times the square root of the share of time flights point it at the pilot: a hole nobody looks into
    matters less, but it is still told. With an interval of the gain, a direction counts only where its upper end is
    half as deep as well, and the depth is told with it.
    """
    seen = np.isfinite(gain_db)
    if not seen.any() or worse_is_high:
        return ()
    middle = float(np.median(gain_db[seen]))
    low = seen & (np.nan_to_num(gain_db, nan=np.inf) < middle - NULL_DB)
    if high_db is not None:
        low &= np.nan_to_num(high_db, nan=np.inf) < middle - NULL_DB / 2
    labels, _ = ndimage.label(low, structure=np.ones((3, 3)))
    for e0 in range(ELEVATIONS):
        for e1 in range(max(e0 - 1, 0), min(e0 + 2, ELEVATIONS)):
            first, last = labels[0, e0], labels[-1, e1]
            if first and last and first != last:
                labels[labels == last] = first
    a, e = bin_centres()
    total = float(seconds[seen].sum()) or 1.0
    found = []
    for k in set(np.unique(labels[labels > 0]).tolist()):
        inside = labels == k
        weight = np.where(inside, middle - np.nan_to_num(gain_db, nan=middle), 0.0)
        centre = (unit_vector(a, e) * weight[..., None]).sum(axis=(0, 1))
        azimuth = float(np.degrees(np.arctan2(centre[1], centre[0])))
        elevation = float(np.degrees(np.arctan2(-centre[2], np.hypot(centre[0], centre[1]))))
        deepest = np.unravel_index(int(np.argmin(np.where(inside, gain_db, np.inf))), gain_db.shape)
        depth = middle - float(gain_db[deepest])
        share = float(seconds[inside].sum()) / total
        known = low_db is not None and high_db is not None
        null = say(
            LinkCode.NULL,
            where=name_direction(azimuth, elevation),
            depth=depth,
            low=middle - float(high_db[deepest]) if known and high_db is not None else float("nan"),
            high=middle - float(low_db[deepest]) if known and low_db is not None else float("nan"),
            share=share if not np.all(seconds == seconds.flat[0]) else float("nan"),
            azimuth_deg=azimuth,
            elevation_deg=elevation,
        )
        found.append((depth * share**0.5, k, null))
    return tuple(null for _, _, null in sorted(found, key=lambda one: (-one[0], one[1]))[:most])


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


@cache
def neighbours(uncertainty_deg: float) -> FloatArray:
    """Which bins to pool for a direction known to ``uncertainty_deg``: weights, shape (bins, bins).

    A bin counts fully itself and its neighbours by a Gaussian of the angle; a sharp direction pools almost nothing.
    """
    if uncertainty_deg <= SHARP_DEG:
        return np.eye(AZIMUTHS * ELEVATIONS)
    a, e = bin_centres()
    where = unit_vector(a, e).reshape(-1, 3)
    angle = np.degrees(np.arccos(np.clip(where @ where.T, -1, 1)))
    weights = np.exp(-0.5 * (angle / uncertainty_deg) ** 2)
    return np.where(weights > 0.3, weights, 0.0)


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
    a, e = bin_centres()
    where = unit_vector(a, e).reshape(-1, 3)
    angle = np.degrees(np.arccos(np.clip(where @ where.T, -1, 1)))
    weight = np.exp(-0.5 * (angle / np.hypot(uncertainty_deg, WITHIN_BIN_DEG)) ** 2)
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
    a, e = bin_centres()
    where = unit_vector(a, e).reshape(-1, 3)
    angle = np.degrees(np.arccos(np.clip(where @ where.T, -1, 1)))
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


def measured_map(
    antenna: str, layout: str, bins: Sequence[DirectionBins], reference_db: float | None = None
) -> AntennaMap | None:
    """Map one antenna over flights, from binned samples alone.

    The level in a bin is the median over its samples, against ``reference_db`` (the antenna's own median over seen
    directions where not given); the interval is that of a median (binomial order statistics) for no more than
    :data:`INDEPENDENT_PER_S` independent samples a second, widened by how much the map changes within the directions'
    uncertainty and by how much flights differ in one direction. ``None`` without levels; see
    :func:`analyser.link.count_rate.seen_map` for logs that only count.
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
    samples = histogram.sum(axis=-1)
    equivalent_s = samples / max(rate, 1e-9)
    independent = np.maximum(np.minimum(samples, equivalent_s * INDEPENDENT_PER_S), 1.0)
    half = Z95 * 0.5 / np.sqrt(independent)
    level = quantile_of_histogram(histogram, LEVEL_EDGES_DB, 0.5)
    low = quantile_of_histogram(histogram, LEVEL_EDGES_DB, np.clip(0.5 - half, 0.0, 1.0))
    high = quantile_of_histogram(histogram, LEVEL_EDGES_DB, np.clip(0.5 + half, 0.0, 1.0))
    empty = (equivalent_s < FEWEST_SECONDS) | (samples < FEWEST_SAMPLES)
    level, low, high = (np.where(empty, np.nan, v) for v in (level, low, high))
    if not np.isfinite(level).any():
        return None
    wide = max(b.uncertainty_deg for b in usable)
    late = float(np.median([b.late_deg for b in usable]))
    slope = _spread(level, float(np.hypot(sharp, late)))
    if wide > sharp:
        slope = np.where(clear, slope, _spread(level, float(np.hypot(wide, late))))
    moved, doubt = _by_range(usable)
    level, low, high = level + moved, low + moved, high + moved
    slope = np.linalg.norm([slope, doubt, _borrowed(usable, level)], axis=0)
    # Samples of one flight share its day, and those of one pass its fading: flights are what is independent.
    spread_db, flights = _between_flights(usable)
    slope = np.hypot(slope, Z95 * spread_db / np.sqrt(flights))
    low, high = level - np.hypot(level - low, slope), level + np.hypot(high - level, slope)
    zero = float(np.nanmedian(level)) if reference_db is None else reference_db
    gain = level - zero
    nulls = find_nulls(gain, seconds, low_db=low - zero, high_db=high - zero)
    seen = float(np.isfinite(gain).mean())
    sentence = say(
        LinkCode.MEASURED_MAP,
        seen=seen,
        minutes=float(seconds.sum()) / 60.0,
        sharp=sharp,
        wide=wide,
        weakest=nulls[:1],
        null_db=NULL_DB,
        calibrated=any(b.calibrated for b in usable),
        counted_only=sum(1 for b in bins if b.counted and not b.histogram.any()),
    )
    return AntennaMap(
        antenna,
        layout,
        "dB",
        EDGES_AZIMUTH_DEG,
        EDGES_SIN_ELEVATION,
        gain,
        low - zero,
        high - zero,
        samples,
        nulls,
        sentence,
    )
