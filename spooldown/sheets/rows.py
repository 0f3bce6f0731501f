"""Rows of a small CSV that a person filled in: read with their place in the file, so that a slip can be named."""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

from msgspec import Struct

from analyser.core.findings import Text, say
from importers.refusal import Refusal, Refused
from spooldown.problems import nearest
from spooldown.sheets.cells import as_written
from spooldown.sheets.codes import SheetRefused


class Row(Struct, frozen=True):
    """One filled-in row: where it stands, and its cells by column, empty ones left out."""

    file: str
    line: int | None
    cells: Mapping[str, str]

    def refuse(self, column: str, code: Refused, **values: Any) -> Refusal:
        """Say what is wrong with a cell."""
        return Refusal(self.file, code, line=self.line, column=column or None, **values)

    def refuse_name(self, column: str, kind: Text, word: str, known: Sequence[str], remedy: Text) -> Refusal:
        """Say that a name is none of the known ones; the nearest is offered.

        Parameters
        ----------
        kind : str or Finding
            What it would name: ``aircraft``, ``pack``, ``tank`` …
        remedy : Finding
            What to do where none is alike.
        """
        thing = say(f"thing.{kind}") if isinstance(kind, str) else kind
        return self.refuse(
            column, SheetRefused.UNKNOWN_NAME, kind=thing, word=word, known=tuple(known),
            alike=nearest(word, known), remedy=remedy,
        )  # fmt: skip


def read_rows(
    data: bytes, name: str, *, needed: Sequence[str], nearest_column: Callable[[str], str | tuple[str, ...]]
) -> Iterator[Row]:
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
        Takes a heading; returns it where it is a column, else the column that may be meant, or a tuple of all.

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
            raise head.refuse(heading, SheetRefused.UNKNOWN_COLUMN, meant=meant)
        if heading and columns.count(heading) > 1:
            raise head.refuse(heading, SheetRefused.COLUMN_TWICE)
    for column in needed:
        if column not in columns:
            raise head.refuse(column, SheetRefused.COLUMN_MISSING, needed=tuple(needed))
    for line, cells in lines:
        if any(c.strip() for c in cells[len(columns) :]):
            raise Row(name, line, {}).refuse("", SheetRefused.TOO_MANY_CELLS, cells=len(cells), columns=len(columns))
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
        raise Refusal(name, SheetRefused.NO_TEXT)
    head = text.split("\n", 1)[0]
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=max(",;\t", key=head.count))
    try:
        for cells in reader:
            yield reader.line_num, cells
    except csv.Error as error:
        raise Refusal(name, SheetRefused.NO_TABLE, line=reader.line_num, why=str(error)) from error  # fmt: skip
