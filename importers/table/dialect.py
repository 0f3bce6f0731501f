"""What a table of text looks like: delimiter, decimal mark, header, unit row, preamble."""

from __future__ import annotations

import itertools
import re
from collections import Counter
from collections.abc import Sequence

from msgspec import Struct, field

from analyser.core.findings import say
from importers.refusal import Refusal
from importers.table.codes import TableCode, TableRefused
from importers.table.columns import Columns
from importers.table.decimals import decimal_and_thousands, marks_in
from importers.table.lines import Lines, numbered_lines, shapes_of
from importers.table.text import Encoding
from importers.table.top import (
    first_data_row,
    header_and_units,
    headings_in,
    in_runs,
    is_comment,
    preamble_in,
    under_groups,
    usual_width,
)
from importers.table.twins import apart
from importers.table.values import FLAG_WORDS, NO_VALUE, measured, typed

LONGEST_HEADING = 1000
_DELIMITERS = {"\t": 1.0, ";": 1.0, ",": 0.99, "|": 0.99, " ": 0.9}
_RULED = re.compile(r"[\s|+:=-]*[=-]{3,}[\s|+:=-]*")
"""A line that is drawn under a header."""


class Dialect(Struct, frozen=True):
    """How the rows of one file are written.

    Parameters
    ----------
    delimiter : str
        One character; a blank stands for runs of blanks and tabs.
    decimal : str
        ``.`` or ``,``.
    thousands : str
        Grouping mark inside numbers, or empty.
    headings : tuple of str
        A name for each column: its heading, with its place where several have one (:mod:`importers.table.twins`).
    written, unit_row : tuple of str
        Headings and units as written; ``unit_row`` is empty where there is none.
    first_row : int
        1-based line number of the first row of data.
    header : str
        The header line as written, to recognise it when it comes again.
    spare : int
        Fields beyond the headings that rows carry because they end in delimiters.
    pads : bool
        Short rows are usual: the missing fields at the end are empty.
    quoted, quoted_breaks : bool
        Quotes occur; line ends occur inside quotes.
    """

    encoding: Encoding
    delimiter: str
    decimal: str
    thousands: str
    headings: tuple[str, ...]
    written: tuple[str, ...]
    unit_row: tuple[str, ...]
    first_row: int
    header_row: int
    header: str
    preamble: dict[str, str] = field(default_factory=dict)
    spare: int = 0
    pads: bool = False
    quoted: bool = False
    quoted_breaks: bool = False
    decimal_unsure: bool = False

    def describe(self) -> str:
        """The dialect in one line, for a file's metadata."""
        marks = f"delimiter={self.delimiter!r} decimal={self.decimal!r}"
        return f"{self.encoding.name} {marks}" + (f" thousands={self.thousands!r}" if self.thousands else "")


def sniff(text: str, encoding: Encoding, file: str, *, decimal: str = "") -> tuple[Dialect, Columns]:
    """Tell how a file is written from its first lines.

    Parameters
    ----------
    decimal : str
        The decimal mark, where the user has said it.

    Returns
    -------
    dialect : Dialect
    columns : Columns
        The rows of data.

    Raises
    ------
    Refusal
        If no delimiter makes a table of it, or the table has no header.
    """
    rows = Lines([n for n in numbered_lines(text) if n[1][0].isdigit() or not _RULED.fullmatch(n[1])])
    rows.delimiter = delimiter = _delimiter(rows.lines)
    if not delimiter:
        raise Refusal(file, TableRefused.NO_TABLE)
    width = usual_width(rows.widths)
    start = first_data_row(rows, width)
    if start is None:
        raise Refusal(file, TableRefused.NO_ROW)
    header_at, unit_at = header_and_units(rows, start, width)
    if header_at is None:
        raise Refusal(file, TableRefused.NO_HEADER, line=rows.numbers[start])
    headings = headings_in(rows.lines[header_at], delimiter, width)
    if long := next((h for h in headings if len(h) > LONGEST_HEADING), ""):
        raise Refusal(file, TableRefused.LONG_HEADING, line=rows.numbers[header_at], characters=len(long))
    units_row = headings_in(rows.lines[unit_at], delimiter, width) if unit_at is not None else []
    header = rows.lines[header_at]
    data = _data(rows, start, header, width, cut=text.endswith(rows.lines[-1]))
    headings, group_at = _grouped(rows, header_at, _without_end(headings, rows, data))
    spare, pads = _ends(rows, data, len(headings), file)
    marks = marks_in(rows, data)
    if len(marks.decimal) > 1:
        marked = tuple(
            say(TableCode.MARK_IN_COLUMN, cell=c, column=headings[i] if i < len(headings) else i + 1)
            for c, i in marks.decimal.values()
        )
        raise Refusal(file, TableRefused.TWO_DECIMAL_MARKS, line=rows.numbers[start], where=marked)
    mark, thousands, unsure = decimal_and_thousands(marks, delimiter)
    dialect = Dialect(
        encoding=encoding,
        delimiter=delimiter,
        decimal=decimal or mark,
        thousands=thousands if not decimal or decimal == mark else mark if unsure else "",
        headings=apart(headings),
        written=tuple(headings),
        unit_row=tuple(units_row),
        first_row=rows.numbers[start],
        header_row=rows.numbers[header_at],
        header=header,
        preamble=preamble_in(rows.lines[:group_at], delimiter),
        spare=spare,
        pads=pads,
        quoted='"' in text,
        quoted_breaks='"' in text and any("\n" in c for i in data for c in rows[i]),
        decimal_unsure=unsure and not decimal,
    )
    return dialect, rows.columns([i for i in data if rows.widths[i] <= len(headings) + spare], len(headings), spare)


def _data(rows: Lines, start: int, header: str, width: int, *, cut: bool) -> list[int]:
    """Which lines are rows of data, but for the last of several where it may be ``cut``: no ground to judge on."""
    last = len(rows.lines) - 1
    data = [
        i for i, row in enumerate(rows.lines[start:], start)
        if row != header and (row[0].isdigit() or not is_comment(rows, i, width))
    ]  # fmt: skip
    return data[:-1] if cut and len(data) > 3 and data[-1] == last else data


def _without_end(headings: list[str], rows: Lines, data: Sequence[int]) -> list[str]:
    """Headings without the empty ones behind the last, where the header ends in delimiters and no row has more."""
    while (
        len(headings) > 1
        and not headings[-1]
        and not any(rows[i][len(headings) - 1 :][:1] not in ([], [""]) for i in data)
    ):
        headings = headings[:-1]
    return headings


def _grouped(rows: Lines, header_at: int, headings: list[str]) -> tuple[list[str], int]:
    """Headings with the names of groups in the line above them, where that is one, and the first of these lines."""
    above = rows[header_at - 1] if header_at else []
    spread = re.search(r"[^\0]\0\0+[^\0]", "\0".join(above)) or in_runs(above)  # a name over several columns
    grouped = len(set(headings)) < len(headings) or (spread and len(above) <= len(headings) + 1)
    if grouped and len(above) >= len(headings) - 1 and not any(map(typed, above)):
        return under_groups(headings, above), header_at - 1
    return headings, header_at


def _ends(rows: Lines, data: Sequence[int], width: int, file: str) -> tuple[int, bool]:
    """How many empty fields rows have beyond the headings, and whether short rows are usual.

    Raises
    ------
    Refusal
        If rows do not fit the headings.
    """
    counts = Counter(map(rows.widths.__getitem__, data))
    most = counts.most_common(1)[0][0]
    spare = max(0, most - width)
    if spare and any("".join(rows[i][width:]) for i in data if rows.widths[i] == most):
        spare = 0
    short = sum(n for length, n in counts.items() if length < width)
    pads = short > 0.05 * len(data) and len(data) > 3
    fitting = sum(n for length, n in counts.items() if length <= width + spare)
    if fitting < 0.5 * len(data) or (most < width and not pads):
        line = next(rows.numbers[i] for i in range(data[0], len(rows.lines)) if rows.widths[i] == most)
        raise Refusal(file, TableRefused.FIELDS_DIFFER, line=line, fields=most, headings=width)
    return spare, pads


def _delimiter(lines: Sequence[str]) -> str:
    sample = lines[len(lines) // 3 :][:200] if len(lines) > 6 else lines[-3:]
    best, best_score = "", 0.0
    text = "\n".join(sample)
    for delimiter, weight in _DELIMITERS.items():
        if delimiter not in text and not (delimiter == " " and "\t" in text):
            continue
        rows = shapes_of(sample, delimiter)
        width, agreeing = Counter(len(r) for r in rows).most_common(1)[0]
        if width < 2:
            continue
        filled = {c: n for c, n in Counter(itertools.chain.from_iterable(rows)).items() if c not in NO_VALUE}
        known = sum(n for c, n in filled.items() if measured(c) or c in FLAG_WORDS)
        score = weight * (agreeing / len(rows)) * (0.15 + 0.85 * known / max(sum(filled.values()), 1))
        if delimiter == " " and any(":" in r[0] and not typed(r[0]) for r in rows[:20]):
            score *= 0.5
        if score > best_score + 1e-9:
            best, best_score = delimiter, score
    return best if best_score > 0.1 else ""
