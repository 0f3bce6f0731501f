"""The lines of a text, and the cells in each."""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping, Sequence
from functools import cached_property

from importers.table.columns import Columns, turned
from importers.table.values import NINES

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
        numbered = [(n, line) for n, line in enumerate(text.split("\n"), 1) if line and not line.isspace()]
        return numbered[:limit]
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
        return _plain(self.lines, self.delimiter)

    @cached_property
    def widths(self) -> list[int]:
        """How many cells each line has."""
        if self.plain:
            return [1 + line.count(self.delimiter) for line in self.lines]
        return [len(self[i]) for i in range(len(self.lines))]

    def columns(self, at: Sequence[int], width: int, spare: int) -> Columns:
        """The cells of some lines, which have at most ``width + spare`` each, column by column."""
        if not self.plain or not at:
            cells = (self[i] for i in at)
            return turned((c[:width] + [""] * (width - len(c)) for c in cells), width)
        whole, mark = width + spare, self.delimiter
        return Columns.of([self.lines[i] + mark * (whole - self.widths[i]) for i in at], mark, width)


def _plain(lines: Sequence[str], delimiter: str) -> bool:
    """Whether nothing but the delimiter means anything in some lines."""
    text = "\n".join(lines)
    return delimiter != " " and '"' not in text and "\r" not in text and text.count("\n") + 1 == len(lines)


def shapes_of(lines: Sequence[str], delimiter: str, digits: Mapping[int, int] = NINES) -> list[list[str]]:
    """Cells with a 9 for each digit: whether one looks like data they tell as well, and few of them differ."""
    text = "\n".join(lines).translate(digits)
    if not _plain(lines, delimiter):
        return [split_line(line.translate(digits), delimiter) for line in lines]
    shapes = text.split("\n")
    cells = [shape.split(delimiter) for shape in shapes]
    return cells if text.split() == shapes else [list(map(str.strip, some)) for some in cells]
