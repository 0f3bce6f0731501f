"""The lines of a text, and the cells in each."""

from __future__ import annotations

import csv
import itertools
import re
from collections.abc import Sequence
from functools import cached_property

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.csv as csv_of_arrow

from importers.table.values import NINES

FloatArray = npt.NDArray[np.float64]

LINES = 4000
"""Lines looked at."""


def split_line(line: str, delimiter: str) -> list[str]:
    """Take one line apart; quotes respected, blanks around fields removed."""
    if delimiter == " ":
        line, delimiter = re.sub(r"[ \t]+", " ", line.strip()), " "
    if '"' not in line and "\r" not in line and "\n" not in line:  # nothing but the delimiter means anything
        cells = line.split(delimiter)
        return cells if line.split() == [line] else list(map(str.strip, cells)) if line else []
    try:
        cells = next(csv.reader([line], delimiter=delimiter), [])
    except csv.Error:
        cells = line.split(delimiter)
    return [c.strip() for c in cells]


def numbered_lines(text: str, limit: int = LINES) -> list[tuple[int, str]]:
    """Non-empty lines with their numbers; a line end inside quotes does not end a line."""
    if '"' not in text:
        numbered = enumerate(text.split("\n"), 1)
        return list(itertools.islice(((number, line) for number, line in numbered if line.strip()), limit))
    out: list[tuple[int, str]] = []
    held, held_at = "", 0
    for number, line in enumerate(text.split("\n"), 1):
        if held:
            held += "\n" + line
            if line.count('"') % 2:
                out.append((held_at, held))
                held = ""
            elif number - held_at > 4:  # a stray quote, not a long field
                out.extend((held_at + i, part) for i, part in enumerate(held.split("\n")) if part.strip())
                held = ""
        elif line.count('"') % 2:
            held, held_at = line, number
        elif line.strip():
            out.append((number, line))
        if len(out) >= limit:
            break
    if held:
        out.extend((held_at + i, part) for i, part in enumerate(held.split("\n")) if part.strip())
    return out


class Lines:
    """The lines of a text with their numbers, taken apart by a delimiter when their cells are asked for."""

    def __init__(self, numbered: Sequence[tuple[int, str]]) -> None:
        self.numbers, self.lines = [number for number, _ in numbered], [line for _, line in numbered]
        self.delimiter = ""

    def __getitem__(self, i: int) -> list[str]:
        return split_line(self.lines[i], self.delimiter)

    @cached_property
    def plain(self) -> bool:
        """Whether nothing but the delimiter means anything."""
        return self.delimiter != " " and not any('"' in line or "\r" in line or "\n" in line for line in self.lines)

    @cached_property
    def widths(self) -> list[int]:
        """How many cells each line has."""
        if self.plain:
            return [1 + line.count(self.delimiter) for line in self.lines]
        return [len(self[i]) for i in range(len(self.lines))]

    def sample(self, at: Sequence[int], width: int, spare: int) -> Sample:
        """The cells of some lines, which have at most ``width + spare`` each, column by column."""
        if not self.plain or not at:
            cells = (self[i] for i in at)
            return Sample(_turned([c[:width] + [""] * (width - len(c)) for c in cells], width))
        whole, mark = width + spare, self.delimiter
        rows = [self.lines[i] + mark * (whole - self.widths[i]) for i in at]
        text = mark.join(rows)
        flat = text.split(mark)
        if _loose(text, mark):
            flat = list(map(str.strip, flat))
        return Sample([flat[i::whole] for i in range(width)], rows, mark)


class Sample:
    """The first rows of a table, column by column.

    Parameters
    ----------
    columns : list of list of str
        Their cells.
    rows : sequence of str
        The same as lines of as many cells each, where nothing but the delimiter ``mark`` means anything in them.
    """

    def __init__(self, columns: list[list[str]], rows: Sequence[str] = (), mark: str = "") -> None:
        self.columns = columns
        self._rows, self._mark = rows, mark

    def numbers(self) -> dict[int, FloatArray]:
        """Columns of plain numbers with a decimal point, as Python reads them, by number from 0; NaN where empty.

        All are read in one pass over the text: cell by cell that takes a seventh of what the import of a log takes.
        Not every column of plain numbers is among them.
        """
        if not self._rows:
            return {}
        text = "\n".join([*self._rows, ""])
        if "0x" in text or "0X" in text:
            return {}  # Arrow takes it for a number
        names = list(map(str, range(self._rows[0].count(self._mark) + 1)))
        try:
            table = csv_of_arrow.read_csv(
                pa.BufferReader(text.encode()),
                csv_of_arrow.ReadOptions(column_names=names, use_threads=False, block_size=_WHOLE_BYTES),
                csv_of_arrow.ParseOptions(delimiter=self._mark, quote_char=False, ignore_empty_lines=False),
                csv_of_arrow.ConvertOptions(null_values=[""], true_values=[], false_values=[]),
            )
        except (pa.ArrowInvalid, UnicodeError):
            return {}
        if table.num_rows != len(self._rows):
            return {}
        read = ((i, _as_python_reads(table.column(i), cells)) for i, cells in enumerate(self.columns))
        return {i: numbers for i, numbers in read if numbers is not None}


_WHOLE_BYTES = 2**30
"""A sample is read in one block."""


def _as_python_reads(column: pa.ChunkedArray, cells: Sequence[str]) -> FloatArray | None:
    """Numbers that Arrow read, where Python reads the same; None where it may not."""
    if pa.types.is_integer(column.type):
        return None if "-0" in cells else np.asarray(column.to_numpy(), float)  # Arrow's nought has no sign
    if not pa.types.is_floating(column.type):
        return None
    read = np.asarray(column.to_numpy(), float)
    return read if np.count_nonzero(np.isnan(read)) == column.null_count else None  # it reads "nan(ind)", too


def _turned(rows: Sequence[Sequence[str]], width: int) -> list[list[str]]:
    return [list(column) for column in zip(*rows, strict=True)] or [[] for _ in range(width)]


def _loose(text: str, mark: str) -> bool:
    """Whether there are blanks beside the delimiters of a text, or at its ends."""
    pieces = text.replace(mark, "\0").split() if mark.isspace() else text.split()
    end = "\0" if mark.isspace() else mark
    beside = any(p.endswith(end) for p in pieces[:-1]) or any(p.startswith(end) for p in pieces[1:])
    return beside or (text[:1] + text[-1:]).strip() != text[:1] + text[-1:]


def shapes_of(lines: Sequence[str], delimiter: str) -> list[list[str]]:
    """Cells with a 9 for each digit: whether one looks like data they tell as well, and few of them differ."""
    return [split_line(line.translate(NINES), delimiter) for line in lines]
