"""What each antenna sees from which side of the airframe: planned, measured, and compared after a move."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analyser.figures import FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class DirectionBins:
    """One flight's samples of one antenna, sorted into equal-area bins of body directions.

    Sufficient for maps and comparisons over a season without going back to the samples.

    Parameters
    ----------
    edges_azimuth_deg : ndarray, shape (a + 1,)
        Body azimuth −180 … 180, 0° nose, 90° right wing.
    edges_sin_elevation : ndarray, shape (e + 1,)
        Sine of body elevation −1 … 1: equal steps make equal areas.
    residual_edges_db : ndarray, shape (h + 1,)
        Edges of the histogram of the residual after path loss, dB.
    histogram : ndarray of int, shape (a, e, h)
        Sample counts by direction and residual; all zero for a counter-only log.
    seconds, lost : ndarray, shape (a, e)
        Time seen from each bin, and packets lost in it.
    """

    edges_azimuth_deg: FloatArray
    edges_sin_elevation: FloatArray
    residual_edges_db: FloatArray
    histogram: npt.NDArray[np.int32]
    seconds: FloatArray
    lost: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class AntennaMap:
    """What one antenna sees from each body direction, measured over flights or planned from a layout.

    ``gain_db``, ``low_db``, ``high_db``, ``count`` have shape (a, e) on the bins of :class:`DirectionBins`; NaN where
    nothing was seen. ``unit`` is ``dB`` or, for counter-only logs, ``lost/s``.
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
    nulls: tuple[str, ...]
    sentence: str
