"""The top of a table: what stands above the data, its header and its units, and where the data begin."""

from __future__ import annotations

import itertools
import re
from collections import Counter
from collections.abc import Sequence, Set

from importers.meaning import units
from importers.table.lines import Lines, shapes_of, split_line
from importers.table.values import NO_VALUE, measured, typed

COMMENT_MARKS = ("#", "//", ";", "%", "*", "!")
_RATE = re.compile(
    r"(?<![\w.,])\d+(?:[.,]\d+)?\s*(?:k?Hz|sps|(?:samples?|rows?)(?:/s|\s*per\s+second))\b", re.IGNORECASE
)
"""How many rows there are in a second, where a line above the header says nothing else: "# 10 Hz"."""
_KEY_VALUE = re.compile(r"([^\W\d][\w .()/-]{0,39}?)\s*[:=]\s*(.*)")
_CODE = re.compile(
    r"0x[0-9a-f]+|#?\d{1,4}|(?:ch|id|col|pid|sid)?[-_ ]?\d{1,4}|u?int\d*(?:_t)?|float\d*|double|bool(?:ean)?|"
    r"str(?:ing)?|text|enum|datetime|timestamp|u\d+|i\d+|f\d+", re.IGNORECASE,
)  # fmt: skip
_RANGE = re.compile(
    r"[\[(]?[+\-\u2212]?\d+(?:[.,]\d+)?\s*(?:\.{2,3}|\u2026|\u2013|-|to|bis|\xe0|a|/)\s*[+\-\u2212]?\d+(?:[.,]\d+)?\s*\S{0,6}",
    re.IGNORECASE,
)
"""From where to where a sensor measures: "0..999", "-40 … +125"."""


def usual_width(widths: Sequence[int]) -> int:
    """How many cells a row of data has: the most that are usual, because short rows may be as usual as full ones."""
    tail = widths[len(widths) // 3 :] if len(widths) > 6 else widths[-3:]
    counts = Counter(tail)
    usual = counts.most_common(1)[0][0]
    return max(w for w, n in counts.items() if w == usual or n > 0.3 * len(tail))  # short rows may be as usual


def first_data_row(rows: Lines, width: int) -> int | None:
    """Index of the first line of data, None where there is none: most of the three lines behind it are data, too."""
    firm, count = [], len(rows.lines)
    later = shapes_of(rows.lines[count // 3 :: 1 + count // 300], rows.delimiter)
    columns = itertools.islice(itertools.zip_longest(*later, fillvalue=""), width if count > 4 else 0)
    for n, cells in enumerate(columns):
        kinds = set(cells) - NO_VALUE
        good = {c for c in kinds if measured(c)}
        if good and (good == kinds or _count(good, cells) > 0.9 * _count(kinds, cells)):
            firm.append(n)
    above: set[str] = set()  # lines that come again are the header's
    for i, line in enumerate(rows.lines):
        if _is_data(rows[i], width, firm):
            behind = (k for k in range(i + 1, min(i + 20, count)) if rows.lines[k] not in above)
            following = [_is_data(rows[k], width, firm) for k in itertools.islice(behind, 3)]
            if sum(following) >= 0.5 * len(following):
                return i
        above.add(line)
    return None


def _count(kinds: Set[str], cells: Sequence[str]) -> int:
    """How many cells are of some kinds."""
    return sum(map(kinds.__contains__, cells))


def _is_data(cells: Sequence[str], width: int, firm: Sequence[int] = ()) -> bool:
    """Whether a line is a row of data: typed in most of the columns that hold nothing but data further down."""
    if len(cells) < 2 or not (width / 2 <= len(cells) <= width + 1):
        return False
    there = [cells[n] for n in firm if n < len(cells) and cells[n] and cells[n] not in NO_VALUE]
    if there:
        return sum(map(measured, there)) > 0.5 * len(there)
    filled = [c for c in cells if c and c not in NO_VALUE]
    return bool(filled) and sum(map(measured, filled)) >= 0.35 * len(filled)


def header_and_units(rows: Lines, start: int, width: int) -> tuple[int | None, int | None]:
    """Index of the header line and of a unit row below it, both above the first row of data."""
    candidates: list[int] = []
    for i in range(start - 1, max(-1, start - 4), -1):
        line, cells = rows.lines[i], rows[i]
        if not width - 1 <= len(cells) <= width + 2 and len(cells) < width / 2:
            break
        if width > 2 and len([c for c in cells if c]) < 2:
            break
        if (
            line.lstrip().startswith(COMMENT_MARKS)
            and _KEY_VALUE.match(line.lstrip("#/;%*! "))
            and width > 2
            and (len(cells) < width - 1)
        ):
            break
        if sum(map(typed, cells)) > 0.3 * len(cells):
            break
        candidates.append(i)
    if not candidates:
        return None, None
    in_units = [
        i for i in candidates if _of_units(rows[i]) and not (i - 1 in candidates and _below(rows[i], rows[i - 1]))
    ]
    in_codes = [i for i in candidates if rows.widths[i] >= width - 1 and _of_codes(rows[i])]
    named = [i for i in candidates if i not in in_units and i not in in_codes]
    if not named:
        named = candidates[bool(in_units) and len(candidates) > 1 :]
    header = named[0]
    beside = [i for i in in_units if i != header and (i > header or rows.widths[i] >= width - 1)]
    return header, beside[0] if beside else None


def _of_units(cells: Sequence[str]) -> bool:
    """Whether a line holds units: of most of its cells that hold anything."""
    named = [c for c in (c.strip("[](){}") for c in cells) if c]
    known = sum(units.understand(c) is not None or c in ("-", "1") for c in named)
    return bool(named) and known >= 0.6 * len(named) and known >= 1


def _of_codes(cells: Sequence[str]) -> bool:
    """Whether a line holds numbers of channels, types of numbers or ranges, not names."""
    named = [c for c in cells if c]
    return len(named) > 1 and (all(map(_CODE.fullmatch, named)) or all(map(_RANGE.fullmatch, named)))


def _below(cells: Sequence[str], above: Sequence[str]) -> bool:
    """Whether a line of short names stands below a line of groups: a name over several columns, with blanks beside it.

    "V, A, V, A" below "Pack 1, , Pack 2, " are headings of their own, not units of what stands above.
    """
    blank = [i for i, c in enumerate(cells) if c and not (i < len(above) and above[i])]
    own = [c for c in cells if c and units.understand(c.strip("[](){}")) is None]
    return bool(own) and len(blank) >= len(cells) / 3 and any(above)


def in_runs(cells: Sequence[str]) -> bool:
    """Whether a line names groups: a name over several columns next to each other, at least twice."""
    runs = [sum(1 for _ in same) for name, same in itertools.groupby(cells) if name]
    return sum(n > 1 for n in runs) > 1 and len(set(cells) - {""}) == len(runs)


def under_groups(headings: Sequence[str], groups: Sequence[str]) -> list[str]:
    """Headings below a row of group names: each name stands over the columns up to the next."""
    out, group = [], ""
    for i, heading in enumerate(headings):
        group = (groups[i] if i < len(groups) else "") or group
        out.append(f"{group} {heading}".strip() if heading else heading)
    return out


def headings_in(line: str, delimiter: str, width: int) -> list[str]:
    """Headings in a line, without a comment mark before them."""
    stripped = line.lstrip(" ")  # a tab may stand for an empty first field
    for mark in COMMENT_MARKS:
        if stripped.startswith(mark) and mark != delimiter:
            stripped = stripped[len(mark) :].lstrip(mark).lstrip(" ")
            break
    if delimiter == " ":
        wide = [c.strip() for c in re.split(r"\t| {2,}", stripped.strip())]
        if len(wide) == width:
            return wide
    cells = split_line(stripped, delimiter)
    return [re.sub(r"\s+", " ", c).strip().strip("\ufeff") for c in cells]


def is_comment(rows: Lines, i: int, width: int) -> bool:
    """Whether a line among the data is a comment."""
    marked = rows.lines[i].lstrip().startswith(("#", "//", "%", "!"))
    return marked and not (rows.widths[i] == width and _is_data(rows[i], width))


def preamble_in(lines: Sequence[str], delimiter: str) -> dict[str, str]:
    """What the lines above a table say, by key in small letters: ``# model: Heron``, ``model;Heron``, ``# 10 Hz``."""
    found: dict[str, str] = {}
    for raw in lines:
        line = raw.strip().lstrip("#/;%*!").strip().rstrip(delimiter).strip().strip('"')
        match = _KEY_VALUE.fullmatch(line)
        if match:
            key, value = match.groups()
        else:
            cells = [c for c in split_line(line, delimiter) if c]
            if len(cells) == 1 and len(rates := _RATE.findall(line)) == 1:
                cells = ["rate", rates[0]]
            if len(cells) != 2:
                continue
            key, value = cells
        value = value.strip().strip(delimiter + "\"' ")
        if value:
            found.setdefault(re.sub(r"\s+", " ", key.strip(" \"'")).casefold(), value[:500])
    return found
