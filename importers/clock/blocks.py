"""The order of rows in a table that gives one sensor after the other, each on the same clock from its beginning."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

APART_S = 1e7
"""Added to the key of each further flight of a sensor, so that flights stay one after the other."""
ANEW_S = 60.0
"""A sensor's clock that falls back by more, and stays there, begins another flight."""


class Blocks:
    """Keys that put the rows of such a table in order of time, block by block.

    Parameters
    ----------
    wraps : sequence of int
        Values at which the clock starts anew by itself, in its own units.
    per_second : float
        Of these units.
    """

    def __init__(self, wraps: tuple[int, ...], per_second: float) -> None:
        self.wraps, self.per_second = wraps, per_second
        self._sensor: str | None = None
        self._last = np.nan
        self._moved = 0.0

    def keys(self, raw: npt.NDArray[np.float64], names: pa.Array) -> npt.NDArray[np.float64]:
        """A key for each row, NaN where it has no time.

        Parameters
        ----------
        raw : ndarray, shape (n,)
            Readings of the clock.
        names : Array of str or of dictionary
            Which sensor each row is of.
        """
        at = np.flatnonzero(np.isfinite(raw))
        out = np.full(raw.size, np.nan)
        if not at.size:
            return out
        plain = names.cast(pa.string()) if pa.types.is_dictionary(names.type) else names
        own = pc.fill_null(plain, "").take(pa.array(at))
        x = raw[at]
        before = np.concatenate([[self._last], x[:-1]])
        fresh = np.concatenate([[own[0].as_py() != self._sensor],
                                np.asarray(pc.not_equal(own[1:], own[:-1])).astype(bool)])  # fmt: skip
        d = np.where(fresh, 0.0, np.nan_to_num(x - before))
        after = np.append(x[1:], x[-1])
        moves = np.zeros(x.size)
        for modulus in self.wraps:
            moves[(d < -0.5 * modulus) & (d >= -modulus) & (moves == 0)] = modulus
        anew = (moves == 0) & (d < -ANEW_S * self.per_second) & (after - before < -ANEW_S * self.per_second)
        moves[anew] = APART_S * self.per_second
        total = np.cumsum(moves)
        starts = np.where(fresh, np.arange(x.size), -1)
        last = np.maximum.accumulate(starts)
        base = np.where(last >= 0, total[np.maximum(last, 0)], -self._moved)
        out[at] = x + total - base
        self._moved = float((total - base)[-1])
        self._last, self._sensor = float(x[-1]), own[-1].as_py()
        return out
