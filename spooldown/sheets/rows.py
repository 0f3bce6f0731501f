"""Rows of a small CSV that a person filled in: read with their place in the file, so that a slip can be named."""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from importers.refusal import Refusal
from spooldown.problems import nearest
from spooldown.sheets.cells import as_written


@dataclass(frozen=True, slots=True)
class Row:
    """One filled-in row: where it stands, and its cells by column, empty ones left out."""

    file: str
    line: int | None
    cells: Mapping[str, str]

    def refuse(self, column: str, found: str, expected: str, remedy: str) -> Refusal:
        """Word what is wrong with a cell."""
        return Refusal(self.file, line=self.line, column=column or None, found=found, expected=expected, remedy=remedy)

    def refuse_name(self, column: str, kind: str, word: str, known: Sequence[str], remedy: str) -> Refusal:
        """Word that a name is none of the known ones; the nearest is offered."""
        alike = nearest(word, known)
        return self.refuse(
            column, f"{kind} {word!r}", f"one of {', '.join(known)}" if known else f"a registered {kind}",
            f"did you mean {alike!r}" if alike else remedy,
        )  # fmt: skip


def read_rows(data: bytes, name: str, *, needed: Sequence[str], nearest_column: Callable[[str], str]) -> Iterator[Row]:
    """Read a small CSV row by row; empty rows are left out.

    Parameters
    ----------
    data : bytes
        The file: UTF-8 or Windows-1252; the first line tells the delimiter.
    name : str
        The file as the user named it.
    needed : sequence of str
        Columns that must be there.
    nearest_column : callable
        Takes a heading; returns it where it is a column, else the column that may be meant, or all of them.

    Raises
    ------
    Refusal
        If the text is no table, a heading no column or there twice, or a row longer than the headings.
    """
    lines = _lines(data, name)
    columns = [c.strip() for c in next(lines, (1, []))[1]]
    head = Row(name, 1, {})
    for heading in columns:
        if heading and (meant := nearest_column(heading)) != heading:
            raise head.refuse(heading, "an unknown column", meant, "rename it or take it out")
        if heading and columns.count(heading) > 1:
            raise head.refuse(heading, "this column twice", "it once", "merge them")
    for column in needed:
        if column not in columns:
            raise head.refuse(column, "no such column", f"the columns {', '.join(needed)}", "add it")
    for line, cells in lines:
        if any(c.strip() for c in cells[len(columns) :]):
            raise Row(name, line, {}).refuse(
                "", f"{len(cells)} cells", f"{len(columns)}", "quote cells that hold the delimiter"
            )
        said = {c: as_written(cell.strip()) for c, cell in zip(columns, cells, strict=False) if c and cell.strip()}
        if said:
            yield Row(name, line, said)


def number(text: str, *, three_decimals: bool = True) -> float:
    """Read a number with a decimal point or comma; not a number where it is none.

    Parameters
    ----------
    three_decimals : bool
        Whether three decimals make sense here. Where not (millilitres, mAh, metres), a comma before three digits
        may as well mark thousands, and the number is none.
    """
    text = text.strip()
    if not three_decimals and re.fullmatch(r"[+-]?[1-9]\d{0,2},\d{3}", text):
        return math.nan
    try:
        value = float(text.replace(",", ".") if text.count(",") == 1 and "." not in text else text)
    except ValueError:
        return math.nan
    return value if math.isfinite(value) else math.nan


def _lines(data: bytes, name: str) -> Iterator[tuple[int, list[str]]]:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = data.decode("cp1252", errors="replace")
    if "\0" in text:
        raise Refusal(name, found="bytes that are no text", expected="a CSV file", remedy="save it as CSV")
    head = text.split("\n", 1)[0]
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=max(",;\t", key=head.count))
    try:
        for cells in reader:
            yield reader.line_num, cells
    except csv.Error as error:
        raise Refusal(
            name, line=reader.line_num, found=f"text that is no table ({error})", expected="rows of short cells",
            remedy="save it as CSV",
        ) from error  # fmt: skip
