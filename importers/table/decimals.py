"""Which mark is the decimal one, and which groups thousands."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import lru_cache

from msgspec import Struct, field

from importers.table.lines import Lines, shapes_of
from importers.table.values import GROUPED, NUMBER, SIGNS, measured, typed

_DIGITS = str.maketrans("12345678", "99999999")


class Marks(Struct):
    """What the numbers of a sample say of the marks inside them."""

    decimal: dict[str, tuple[str, int]] = field(default_factory=dict)
    """A mark that must be a decimal mark, with the first cell that proves it and that cell's column."""
    group: str = ""
    """The first mark seen to group."""
    twice: set[str] = field(default_factory=set)
    """Points or commas that come twice in a number, and so group."""
    single: set[str] = field(default_factory=set)
    """Points or commas that stand alone in a number."""


def marks_in(rows: Lines, data: Sequence[int]) -> Marks:
    """Look at the marks inside the numbers of some lines; cells that differ by digits alone are looked at once."""
    found = Marks()
    step = 1 + sum(rows.widths[i] for i in data[:1500]) // 20_000
    shapes: dict[str, tuple[str, int]] = {}
    some = data[:1500:step]
    for i, shaped in zip(some, shapes_of([rows.lines[i] for i in some], rows.delimiter, _DIGITS), strict=True):
        if all(map(shapes.__contains__, shaped)):
            continue
        row = rows[i]
        for column, shape in enumerate(shaped):
            if shape not in shapes:
                shapes[shape] = row[column], column
    for shape, (written, column) in shapes.items():
        marks = _marks(shape)
        if not marks:
            continue
        cell = _number(written)
        last = marks[-1]
        if len(marks) > 1:
            found.group = found.group or marks[0]
            if len(set(marks)) > 1:
                found.decimal.setdefault(last, (cell, column))
            elif last in ".,":
                found.twice.add(last)
        elif last not in ".,":
            found.group = found.group or last
        else:
            found.single.add(last)
            whole, _, fraction = cell.lstrip(SIGNS).partition(last)
            if not (len(fraction) == 3 and fraction.isdecimal() and 1 <= len(whole) <= 3 and whole[0] != "0"):
                found.decimal.setdefault(last, (cell, column))
    return found


def _number(cell: str) -> str:
    """The number in a cell, without the unit behind it."""
    bare = typed(cell) or not measured(cell)
    return cell if bare else re.sub(r"[^\d.,].*$", "", cell.lstrip(SIGNS)).strip()


@lru_cache(maxsize=8192)
def _marks(shape: str) -> str:
    """The marks inside the number in a cell: cells that differ by nothing but digits have the same."""
    cell = _number(shape)
    if not cell or cell.isdecimal() or not cell[-1].isdecimal():
        return ""
    if not NUMBER.fullmatch(cell) and not GROUPED.fullmatch(cell):
        return ""
    return "".join(c for c in cell if not c.isalnum() and c not in SIGNS)


def decimal_and_thousands(marks: Marks, delimiter: str) -> tuple[str, str, bool]:
    """Decimal mark, thousands mark, and whether the sample leaves the two open."""
    if len(marks.decimal) == 1:
        (decimal,) = marks.decimal
        other = "." if decimal == "," else ","
        return decimal, other if other in marks.single | marks.twice else marks.group.strip(decimal), False
    if marks.group and marks.group not in ".,":
        return "," if marks.single == {","} else ".", marks.group, False
    if marks.twice:
        return ("." if "," in marks.twice else ","), marks.group, False
    if marks.single == {","}:
        return ",", "", True
    if marks.single == {"."}:
        return ".", "", delimiter in ";\t|"
    return ".", "", False
