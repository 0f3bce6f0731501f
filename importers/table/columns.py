"""The first rows of a table, column by column; the texts of cells are made when they are asked for."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import compress
from typing import overload

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.csv as csv_of_arrow

FloatArray = npt.NDArray[np.float64]

_BLANKS = tuple(c for c in map(chr, range(128)) if c.isspace())
_WHOLE_BYTES = 2**30
"""The rows are read in one block."""


class Columns(Sequence[list[str]]):
    """The cells of some rows, by number of their column from 0.

    Most columns of a log are plain numbers and are never looked at as texts: to make these takes longer than to read
    the numbers.

    Parameters
    ----------
    columns : list of list of str
        Their cells, where these have been made already.
    text : str
        The same as lines of ``width`` cells and perhaps some more, where nothing but the delimiter ``mark`` means
        anything in them; '' where there is no such text.

    Attributes
    ----------
    rows : int
        How many there are.
    numbers : dict of int to ndarray
        Columns of plain numbers with a decimal point, as Python reads them, NaN where a cell is empty, once
        :meth:`read_numbers` has been called. Not every column of plain numbers is among them.
    """

    def __init__(self, columns: Sequence[list[str]] = (), *, text: str = "", mark: str = "", width: int = 0) -> None:
        self._made: dict[int, list[str]] = dict(enumerate(columns))
        self._width = width or len(columns)
        self._text, self._mark = text, mark
        self._raw = np.frombuffer(text.encode("utf-8", "surrogatepass"), np.uint8)
        self._before = self._ends = np.empty((0, 0), np.int32)
        """Where the delimiters before and behind each cell stand in the text."""
        self.numbers: dict[int, FloatArray] = {}
        self.rows = len(columns[0]) if columns else 0
        if not columns and text.isascii():
            self._mark_out()

    @classmethod
    def of(cls, lines: Sequence[str], mark: str, width: int) -> Columns:
        """Columns of lines that have as many cells each, ``width`` of which count."""
        text, one = "\n".join([*lines, ""]), mark.join(lines)
        loose = _loose(one, mark)
        if text.isascii() and not loose:
            return cls(text=text, mark=mark, width=width)
        flat, whole = one.split(mark), lines[0].count(mark) + 1
        flat = list(map(str.strip, flat)) if loose else flat
        return cls([flat[i::whole] for i in range(width)], text=text, mark=mark)

    def _mark_out(self) -> None:
        """Find where each cell begins and ends."""
        ends = np.flatnonzero((self._raw == ord(self._mark)) | (self._raw == ord("\n")))
        self.rows = self._text.count("\n")
        bounds = np.concatenate([[-1], ends], dtype=np.int32, casting="same_kind")
        self._before, self._ends = bounds[:-1].reshape(self.rows, -1), bounds[1:].reshape(self.rows, -1)

    def __len__(self) -> int:
        return self._width

    @overload
    def __getitem__(self, i: int) -> list[str]: ...
    @overload
    def __getitem__(self, i: slice) -> list[list[str]]: ...
    def __getitem__(self, i: int | slice) -> list[str] | list[list[str]]:
        if isinstance(i, slice):
            return [self[n] for n in range(*i.indices(len(self)))]
        n = range(len(self))[i]
        if n not in self._made:
            self._made[n] = self._cut(self._before[:, n], self._ends[:, n])
        return self._made[n]

    def __setitem__(self, i: int, cells: list[str]) -> None:
        """Put other cells in a column's place: what is known of its numbers no longer holds."""
        self._made[i] = cells
        self.numbers.pop(i, None)

    def _cut(self, before: npt.NDArray[np.int32], ends: npt.NDArray[np.int32]) -> list[str]:
        text = self._text
        return [text[a + 1 : b] for a, b in zip(before.tolist(), ends.tolist(), strict=True)]

    def some(self, i: int, rows: Sequence[int] | npt.NDArray[np.intp]) -> list[str]:
        """The cells of a column in some rows."""
        if i in self._made:
            cells = self._made[i]
            return [cells[r] for r in rows]
        return self._cut(self._before[rows, i], self._ends[rows, i])

    def characters(self, i: int) -> npt.NDArray[np.uint8] | None:
        """The codes of a column's characters, where each cell is one or empty; those of empty ones mean nothing."""
        if i in self._made or (self._ends[:, i] - self._before[:, i]).max(initial=0) > 2:
            return None
        return np.asarray(self._raw[self._before[:, i] + 1])

    def filled(self, i: int) -> Sequence[str]:
        """The cells of a column that are not empty."""
        if i in self.numbers:
            return _Filled(self, i, np.flatnonzero(~np.isnan(self.numbers[i])))
        return list(filter(None, self[i]))

    def holds(self, i: int) -> bool:
        """Whether a column has a cell that is not empty."""
        return not np.isnan(self.numbers[i]).all() if i in self.numbers else any(self[i])

    def numeric(self, i: int) -> bool:
        """Whether a column is known to hold numbers, and nothing else."""
        return i in self.numbers and bool(np.isfinite(self.numbers[i]).any())

    def keep(self, rows: npt.NDArray[np.bool_]) -> None:
        """Leave out all other rows."""
        self._made = {i: list(compress(cells, rows)) for i, cells in self._made.items()}
        self.numbers = {i: numbers[rows] for i, numbers in self.numbers.items()}
        self._before, self._ends = (at[rows] if at.size else at for at in (self._before, self._ends))
        self.rows = int(np.count_nonzero(rows))

    def read_numbers(self) -> None:
        """Read the columns of plain numbers, all in one pass over the text: cell by cell that takes far longer."""
        if not self._text or any(c in self._text and f"0{c}" in self._text for c in "xX"):
            return  # Arrow takes 0x1F for a number
        first = self._text[: self._text.index("\n")]
        names = list(map(str, range(first.count(self._mark) + 1)))
        try:
            table = csv_of_arrow.read_csv(
                pa.BufferReader(pa.py_buffer(self._raw)),
                csv_of_arrow.ReadOptions(column_names=names, use_threads=False, block_size=_WHOLE_BYTES),
                csv_of_arrow.ParseOptions(delimiter=self._mark, quote_char=False, ignore_empty_lines=False),
                csv_of_arrow.ConvertOptions(null_values=[""], true_values=[], false_values=[]),
            )
        except pa.ArrowInvalid:
            return
        if table.num_rows != self.rows:
            return
        read = ((i, self._as_python_reads(i, table.column(i))) for i in range(len(self)))
        self.numbers = {i: numbers for i, numbers in read if numbers is not None}

    def _as_python_reads(self, i: int, column: pa.ChunkedArray) -> FloatArray | None:
        """Numbers that Arrow read, where Python reads the same; None where it may not."""
        if pa.types.is_integer(column.type):
            read = np.asarray(column.to_numpy(), float)
            return None if self._signed_nought(i, read) else read
        if not pa.types.is_floating(column.type):
            return None
        read = np.asarray(column.to_numpy(), float)
        return read if np.count_nonzero(np.isnan(read)) == column.null_count else None  # it reads "nan(ind)", too

    def _signed_nought(self, i: int, read: FloatArray) -> bool:
        """Whether a nought of a column is written with a sign, which Arrow's has not."""
        if i in self._made:
            return "-0" in self._made[i]
        return bool(((self._raw[self._before[:, i] + 1] == ord("-")) & (read == 0.0)).any())


class _Filled(Sequence[str]):
    """Some cells of a column, made into texts when they are asked for."""

    def __init__(self, columns: Columns, i: int, rows: npt.NDArray[np.intp]) -> None:
        self._columns, self._i, self._rows = columns, i, rows

    def __len__(self) -> int:
        return self._rows.size

    @overload
    def __getitem__(self, at: int) -> str: ...
    @overload
    def __getitem__(self, at: slice) -> Sequence[str]: ...
    def __getitem__(self, at: int | slice) -> str | Sequence[str]:
        if isinstance(at, slice):
            return _Filled(self._columns, self._i, self._rows[at])
        return self._columns.some(self._i, self._rows[[at]])[0]

    def __iter__(self) -> Iterator[str]:
        return iter(self._columns.some(self._i, self._rows))

    def different(self) -> set[str]:
        """The cells that differ; of single characters, as states often are, no text is made."""
        single = self._columns.characters(self._i)
        return set(self) if single is None else set(map(chr, np.unique(single[self._rows])))


def different(cells: Sequence[str]) -> set[str]:
    """The cells that differ."""
    return cells.different() if isinstance(cells, _Filled) else set(cells)


def turned(rows: Iterable[Sequence[str]], width: int) -> Columns:
    """Columns of rows of ``width`` cells each."""
    return Columns([list(column) for column in zip(*rows, strict=True)] or [[] for _ in range(width)])


def _loose(text: str, mark: str) -> bool:
    """Whether there are blanks beside the delimiters of a text, or at its ends."""
    if text.isascii() and not any(c in text for c in _BLANKS if c != mark):
        return False
    pieces = text.replace(mark, "\0").split() if mark.isspace() else text.split()
    end = "\0" if mark.isspace() else mark
    beside = any(p.endswith(end) for p in pieces[:-1]) or any(p.startswith(end) for p in pieces[1:])
    return beside or (text[:1] + text[-1:]).strip() != text[:1] + text[-1:]
