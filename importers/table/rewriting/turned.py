"""A table on its side: one row a sensor, the time along the columns."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import pyarrow as pa

from importers.meaning import units
from importers.table.codes import TableRefused
from importers.table.lines import split_line
from importers.table.rewriting.clocks import HEAD, of_time
from importers.table.rewriting.plain import Unread, delimiter_of, written_plain
from importers.table.values import typed

_LEAST_TIMES, _MOST_ROWS = 6, 500
"""Times along a table on its side at least, and its rows at most: a sensor each."""


def seems_turned(text: str) -> bool:
    """Whether the first lines hold a name each, perhaps a unit, and then numbers."""
    _, rows = _many_cells(text)
    at = next((i for i, c in enumerate(rows[0]) if typed(c)), 0) if rows else 0
    return at in (1, 2) and all(not any(map(typed, r[:at])) and all(typed(c) for c in r[at:] if c) for r in rows)


def turned(text: str) -> str | None:
    """Set a table upright; None where it is none of this form.

    Raises
    ------
    Unread
        If none of its rows is the time.
    """
    delimiter, first = _many_cells(text)
    at = next(i for i, c in enumerate(first[0]) if typed(c))
    rows = [split_line(line, delimiter) for line in text.split("\n", _MOST_ROWS + 1)]
    rows = [r for r in rows if len(r) > at + 1]
    width = max(map(len, rows))
    if not 2 <= len(rows) <= min(_MOST_ROWS, width - at - 1) or any(typed(r[0]) for r in rows):
        return None
    if not text.endswith("\n") and len(rows[-1]) < width:
        rows[-1].pop()  # it was cut there
    rows.sort(key=lambda r: not of_time(_with_unit(r[:at])))
    if not of_time(_with_unit(rows[0][:at])):
        raise Unread(TableRefused.TURNED_WITHOUT_TIME, names=tuple(r[0] for r in rows[:4]))
    columns = [pa.array([*r[at:], *[""] * (width - len(r))], pa.string()) for r in rows]
    above = "\n".join(itertools.takewhile(lambda x: x.count(delimiter) < _LEAST_TIMES, text[:HEAD].split("\n")))
    names = [_with_unit(r[:at]) for r in rows]
    return written_plain(columns, names, ended=True, above=above.replace(delimiter, "\t"))


def _many_cells(text: str) -> tuple[str, list[list[str]]]:
    """The delimiter of the first line that has many cells, and the first cells of it and of the next few lines.

    Nothing where no number follows its first two cells: then it is no row of numbers.
    """
    starts = [line[:4000] for line in text[:HEAD].split("\n", 12)[:12] if line.strip()]
    for n, start in enumerate(starts):
        delimiter = delimiter_of(start)
        if start.count(delimiter) >= _LEAST_TIMES:
            few = split_line(start[:400], delimiter)[1:3]
            return delimiter, [split_line(s, delimiter)[:-1] for s in starts[n:]] if any(map(typed, few)) else []
    return "", []


def _with_unit(cells: Sequence[str]) -> str:
    """A row's name: its first cell, and the unit in the second."""
    name, *rest = cells
    unit = rest[0] if rest else ""
    return f"{name} ({unit})" if unit and units.understand(unit) else f"{name} {unit}".strip()
