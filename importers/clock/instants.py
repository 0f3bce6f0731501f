"""Several rows of one instant made one: readings of a long table, or rows that fill different columns."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from importers.clock.order import FloatArray


def pivot(
    times: FloatArray, codes: npt.NDArray[np.intp], values: pa.Array, sensors: int
) -> tuple[FloatArray, list[tuple[pa.Array, pa.Array]]]:
    """One row a stamp from rows of (time, sensor, value).

    Parameters
    ----------
    times : ndarray, shape (n,)
    codes : ndarray of int, shape (n,)
        Which of the ``sensors`` each row is of, -1 for one that is not kept.
    values : Array, shape (n,)
        Rows without a value are left out.

    Returns
    -------
    stamps : ndarray, shape (m,)
        Growing. A sensor that reports several times within one stamp has its readings spread up to the next.
    columns : list of (values, at)
        One pair a sensor: its values, and the place among them of each stamp's, null where it did not report.
    """
    use = np.flatnonzero((codes >= 0) & np.asarray(values.is_valid()))
    times, codes = np.maximum.accumulate(times)[use], codes[use]
    if use.size < len(values):
        values = values.take(pa.array(use))
    if not times.size:
        return times, []
    stamps, group = np.unique(times, return_inverse=True)
    key = group * (sensors + 1) + codes
    order = np.argsort(key, kind="stable")
    ordered = key[order]
    begins = np.flatnonzero(np.diff(ordered, prepend=-1) > 0)
    counts = np.diff(begins, append=ordered.size)
    if counts.max() > 1:
        rank = np.empty(times.size)
        rank[order] = (np.arange(times.size) - np.repeat(begins, counts)) / np.repeat(counts, counts)
        gaps = np.diff(stamps)
        usual = float(np.median(gaps)) if gaps.size else 1.0
        times = times + rank * np.minimum(np.append(gaps, usual), usual)[group]
        stamps, group = np.unique(times, return_inverse=True)
    columns = []
    for n in range(sensors):
        mine = np.flatnonzero(codes == n)
        at = np.full(stamps.size, -1)
        at[group[mine]] = np.arange(mine.size)
        columns.append((values.take(pa.array(mine)), pa.array(at, mask=at < 0)))
    return stamps, columns


def merge(times: FloatArray, table: pa.Table) -> tuple[FloatArray, pa.Table] | None:
    """Make rows that share a stamp one row, where they fill different columns; None where any two fill the same."""
    times = np.maximum.accumulate(times)
    fresh = np.diff(times, prepend=-np.inf) > 0
    starts = np.flatnonzero(fresh)
    if starts.size == times.size or all(not c.null_count for c in table.columns):
        return None
    group = np.cumsum(fresh) - 1
    taken: dict[str, pa.Array] = {}
    for name in table.column_names:
        column = flat(table.column(name))
        filled = np.flatnonzero(np.asarray(column.is_valid()))
        owner = group[filled]
        if (np.diff(owner) == 0).any():
            return None
        at = np.full(starts.size, -1)
        at[owner] = filled
        taken[name] = column.take(pa.array(at, mask=at < 0))
    return times[starts], pa.table(taken)


def flat(column: pa.ChunkedArray) -> pa.Array:
    """A column as one array."""
    whole = column.combine_chunks()
    return pa.concat_arrays(whole.chunks) if isinstance(whole, pa.ChunkedArray) else whole
