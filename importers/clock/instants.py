"""Several rows of one instant made one: readings of a long table, or rows that fill different columns."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

from importers.clock.order import COARSE_FROM, FloatArray


def pivot(
    times: FloatArray, codes: npt.NDArray[np.intp], values: pa.Array, sensors: int
) -> tuple[FloatArray, list[tuple[pa.Array, pa.Array | None]]]:
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
        Growing. A sensor that reports several times within one stamp has its readings spread up to the next, less those
        that came again where that is rare.
    columns : list of (values, at)
        One pair a sensor: its values, and the place among them of each stamp's, null where it did not report; None for
        the places where each stamp has one, in order.
    """
    if (regular := _regular(times, codes, values, sensors)) is not None:
        return regular
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
    if counts.max() > 1 and (again := _again(values, order, begins, counts)).any():
        left = np.delete(np.arange(times.size), order[again])
        return pivot(times[left], codes[left], values.take(pa.array(left)), sensors)
    if counts.max() > 1:
        rank = np.empty(times.size)
        rank[order] = (np.arange(times.size) - np.repeat(begins, counts)) / np.repeat(counts, counts)
        gaps = np.diff(stamps)
        usual = float(np.median(gaps)) if gaps.size else 1.0
        times = times + rank * np.minimum(np.append(gaps, usual), usual)[group]
        stamps, group = np.unique(times, return_inverse=True)
    columns: list[tuple[pa.Array, pa.Array | None]] = []
    for n in range(sensors):
        mine = np.flatnonzero(codes == n)
        at = np.full(stamps.size, -1)
        at[group[mine]] = np.arange(mine.size)
        columns.append((values.take(pa.array(mine)), pa.array(at, mask=at < 0)))
    return stamps, columns


def _again(
    values: pa.Array, order: npt.NDArray[np.intp], begins: npt.NDArray[np.intp], counts: npt.NDArray[np.intp]
) -> npt.NDArray[np.bool_]:
    """Readings that came again: sensor, stamp and value of one before, on a clock that tells most readings apart."""
    again = np.zeros(order.size, bool)
    if (counts > 1).mean() > COARSE_FROM:
        return again
    more = np.setdiff1d(np.arange(order.size), begins)
    first = np.repeat(begins, counts)[more]
    again[more] = pc.equal(values.take(pa.array(order[more])), values.take(pa.array(order[first])))
    return again


def _regular(
    times: FloatArray, codes: npt.NDArray[np.intp], values: pa.Array, sensors: int
) -> tuple[FloatArray, list[tuple[pa.Array, pa.Array | None]]] | None:
    """The same where all sensors report once a stamp, in one order: columns of a grid. None for any other table."""
    width = int(np.searchsorted(times, times[0], "right")) if times.size else 0
    if not 1 <= width == sensors or times.size % width or values.null_count or not pa.types.is_floating(values.type):
        return None
    grid, stamps = codes.reshape(-1, width), times.reshape(-1, width)
    first = grid[0]
    if (np.sort(first) != np.arange(sensors)).any() or (grid != first).any() or (stamps != stamps[:, :1]).any():
        return None
    each = stamps[:, 0].copy()
    if (np.diff(each) <= 0).any():
        return None
    table = values.to_numpy().reshape(-1, width)
    return each, [(pa.array(np.ascontiguousarray(table[:, n])), None) for n in np.argsort(first)]


def codes_of(names: pa.DictionaryArray, known: pa.Array) -> npt.NDArray[np.intp]:
    """For names in a dictionary, the place of each among the known ones, -1 for another or none."""
    places = pc.fill_null(pc.index_in(names.dictionary, known), -1).to_numpy()
    at = pc.fill_null(names.indices, len(places)).to_numpy(zero_copy_only=False)
    return np.asarray(np.append(places, -1).take(at), np.intp)


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
