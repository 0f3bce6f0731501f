"""Rows put in order by a key, through the disk where they are many."""

from __future__ import annotations

import itertools
import os
from collections.abc import Iterable, Iterator
from contextlib import ExitStack
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import numpy.typing as npt
import pyarrow as pa

Keys = npt.NDArray[np.float64]

MOST_BYTES = 64 * 2**20
"""Rows that take more memory than this are sorted piece by piece and merged from the disk."""
PIECE_ROWS = 2**13
"""Rows read from the disk at once."""
MERGED_ROWS = 2**17
"""Rows merged at once, about."""
_KEY = "sorted by"


def in_order(tables: Iterable[tuple[pa.Table, Keys]]) -> Iterator[pa.Table]:
    """Yield the rows of several tables in order of their keys; rows of one key stay in the order they came in.

    Parameters
    ----------
    tables : iterable of (Table, ndarray)
        All of one schema, each with a key a row; none is NaN.

    Yields
    ------
    Table
        Rows of one key are never in two of them.
    """
    held: list[pa.Table] = []
    runs: list[_Run] = []
    with ExitStack() as stack:
        folder: Path | None = None
        for table, keys in tables:
            held.append(table.append_column(_KEY, pa.array(keys)))
            if folder is None and sum(t.nbytes for t in held) > MOST_BYTES:
                folder = Path(stack.enter_context(TemporaryDirectory(prefix=f"spooldown-{os.getpid()}-")))
            while folder and held:
                runs.append(_Run(folder / f"{len(runs)}.arrow", _sorted([held.pop(0)])))
        if held:
            yield _sorted(held).drop_columns([_KEY])
        edges = [-np.inf, *_edges(runs)] if runs else []
        for low, high in itertools.zip_longest(edges, edges[1:]):
            some = [rows for run in runs if (rows := run.between(low, high)) is not None]
            if some:
                yield _sorted(some).drop_columns([_KEY])


def _sorted(tables: list[pa.Table]) -> pa.Table:
    table = pa.concat_tables(tables, promote_options="permissive").unify_dictionaries()
    order = np.argsort(table.column(_KEY).to_numpy(), kind="stable")
    return table.take(pa.array(order)).combine_chunks()


def _edges(runs: list[_Run]) -> list[float]:
    """Keys between which about so many rows lie as are merged at once."""
    starts = np.sort(np.concatenate([run.starts for run in runs]))
    return [float(key) for key in np.unique(starts[MERGED_ROWS // PIECE_ROWS :: MERGED_ROWS // PIECE_ROWS])]


class _Run:
    """Sorted rows in a file."""

    def __init__(self, path: Path, table: pa.Table) -> None:
        self.path = path
        self.starts: Keys = table.column(_KEY).to_numpy()[::PIECE_ROWS].copy()  # a view would hold all of them
        with pa.ipc.new_file(path, table.schema) as file:
            file.write_table(table, max_chunksize=PIECE_ROWS)

    def between(self, low: float, high: float | None) -> pa.Table | None:
        """Rows from one key up to, without, another; to the end where there is none. None where there are no rows."""
        first = max(int(np.searchsorted(self.starts, low)) - 1, 0)
        stop = self.starts.size if high is None else int(np.searchsorted(self.starts, high))
        if first >= stop:
            return None
        with pa.OSFile(str(self.path)) as file:
            reader = pa.ipc.open_file(file)
            table = pa.Table.from_batches([reader.get_batch(n) for n in range(first, stop)], reader.schema)
        keys = table.column(_KEY).to_numpy()
        begin = int(np.searchsorted(keys, low))
        end = keys.size if high is None else int(np.searchsorted(keys, high))
        return table.slice(begin, end - begin) if end > begin else None
