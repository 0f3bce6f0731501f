"""One flight's samples and losses of one antenna, sorted into the bins of body directions."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from msgspec import Struct, field

from analyser.core.figures import FloatArray
from analyser.core.geometry import Seen
from analyser.core.telemetry import Series
from analyser.link.signal_level import LATE_S, SignalLevel, hole_s
from analyser.link.sphere import AZIMUTHS, EDGES_AZIMUTH_DEG, EDGES_SIN_ELEVATION, ELEVATIONS, bins_of

LEVEL_EDGES_DB: FloatArray = np.linspace(-60.0, 40.0, 101)
"""Signal plus free-space loss, dB above 1 mW: what the transmitter would have to radiate isotropically."""
RANGE_EDGES_M: FloatArray = np.array([0.0, 75.0, 150.0, 300.0, 600.0, np.inf])


class DirectionBins(Struct, frozen=True, eq=False):
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


_BINS = AZIMUTHS * ELEVATIONS
_RANGES = RANGE_EDGES_M.size - 1
_LEVELS = LEVEL_EDGES_DB.size - 1


def sort_by_direction(
    level: SignalLevel | None, running: Series, at_steps: Seen | None, uncertainty_deg: float, late_deg: float
) -> DirectionBins | None:
    """Sort levels and losses into body directions.

    Parameters
    ----------
    level : SignalLevel or None
        Where the antenna reports a signal.
    running : Series
        From :func:`analyser.link.losses.running_loss`, airborne; empty where it has no counter.
    at_steps : Seen or None
        The geometry in the middle of each step of that, shape (n − 1,).
    uncertainty_deg : float
        How far the directions may be off.
    late_deg : float
        From :func:`late_deg` where there is a level.

    Returns
    -------
    DirectionBins or None
        ``None`` where no sample has a direction.
    """
    histogram = np.zeros(_BINS * _LEVELS, np.int64)
    seconds, lost = np.zeros(_BINS * _RANGES), np.zeros(_BINS * _RANGES)
    counted = at_steps is not None and running.time_s.size > 1
    if level is not None and level.seen is not None:
        told, where = bins_of(level.seen)
        ok = np.isfinite(level.level_db) & told
        where = where[ok[told]]
        height = np.clip((level.level_db[ok] - LEVEL_EDGES_DB[0]).astype(np.intp), 0, _LEVELS - 1)
        histogram += np.bincount(where * _LEVELS + height, minlength=histogram.size)
        if not counted:
            held = np.minimum(np.diff(level.time_s, append=level.time_s[-1]), hole_s(level.time_s))
            seconds += np.bincount(_cells(where, level.seen.range_m[ok]), held[ok], seconds.size)
    if counted and at_steps is not None:
        step = np.diff(running.time_s)
        told, where = bins_of(at_steps)
        ok = told & (step <= hole_s(running.time_s))
        cells = _cells(where[ok[told]], at_steps.range_m[ok])
        seconds += np.bincount(cells, step[ok], seconds.size)
        lost += np.bincount(cells, np.diff(running.values)[ok], lost.size)
    if not seconds.any():
        return None
    shape = (AZIMUTHS, ELEVATIONS)
    by_range, lost_by_range = seconds.reshape(*shape, _RANGES), lost.reshape(*shape, _RANGES)
    seen_levels, edges = trim_levels(histogram.reshape(*shape, _LEVELS).astype(np.int32))
    calibration = level.calibration if level else None
    fit = level.fit if level else None
    return DirectionBins(
        EDGES_AZIMUTH_DEG,
        EDGES_SIN_ELEVATION,
        edges,
        seen_levels,
        by_range.sum(axis=-1),
        lost_by_range.sum(axis=-1),
        uncertainty_deg=uncertainty_deg,
        seconds_by_range=by_range,
        lost_by_range=lost_by_range,
        counted=counted,
        calibrated=calibration is not None,
        calibration_signal=calibration.signal if calibration else np.empty(0),
        calibration_db=calibration.level_db if calibration else np.empty(0),
        late_deg=late_deg,
        exponent=fit.exponent if fit else float("nan"),
        exponent_half=(fit.high - fit.low) / 2.0 if fit else float("nan"),
    )


def late_deg(time_s: FloatArray, seen: Seen) -> float:
    """How far the aircraft's direction from the pilot turns while a position is late, degrees (root mean square)."""
    bearing, up = np.radians(seen.bearing_deg), np.radians(seen.elevation_deg)
    here = np.stack([np.cos(up) * np.cos(bearing), np.cos(up) * np.sin(bearing), np.sin(up)])
    later = np.stack([np.interp(time_s + LATE_S, time_s, x) for x in here])
    length = np.linalg.norm(later, axis=0)
    turned = np.degrees(np.arccos(np.clip((here * later).sum(axis=0) / np.maximum(length, 1e-9), -1.0, 1.0)))
    told = np.isfinite(turned)
    return float(np.sqrt(np.mean(turned[told] ** 2))) if told.any() else 0.0


def _cells(direction: np.ndarray[tuple[int], np.dtype[np.intp]], range_m: FloatArray) -> FloatArray:
    return np.asarray(direction * _RANGES + np.digitize(range_m, RANGE_EDGES_M[1:-1]))
