"""What a table of text looks like: delimiter, decimal mark, header, unit row, preamble."""

from __future__ import annotations

import csv
import itertools
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property, lru_cache

from analyser.core.findings import say
from importers.meaning import units
from importers.refusal import Refusal
from importers.table.codes import TableCode, TableRefused
from importers.table.text import Encoding
from importers.table.twins import apart

NULLS = (
    "", "-", "--", "---", "nan", "NaN", "NAN", "-nan", "null", "NULL", "Null", "none", "None", "NONE",
    "NA", "N/A", "n/a", "na", "#N/A", "?", "*", "***", "n.a.", "k.A.", "s/o",
)  # fmt: skip
"""Cells that say: no value here."""
_NULLS = frozenset(NULLS)
TRUE = (
    "1", "1.0", "true", "True", "TRUE", "yes", "Yes", "YES", "on", "On", "ON", "y", "Y", "down", "Down", "DOWN",
    "active", "Active", "ACTIVE", "extended", "Extended", "ja", "Ja", "JA", "ein", "Ein", "EIN", "an", "An", "wahr",
    "Wahr", "WAHR", "aktiv", "Aktiv", "ausgefahren", "unten", "oui", "Oui", "OUI", "vrai", "Vrai", "VRAI", "sorti",
    "O", "actif", "si", "Si", "SI", "sí", "Sí", "SÍ", "verdadero", "Verdadero", "activo", "Activo", "abajo", "t", "T",
    "dn", "Dn", "DN", "Ausgefahren", "Unten", "Sorti", "SORTI", "bas", "Bas", "Abajo", "fuera", "Fuera", "bajado",
    "vero", "Vero", "VERO", "sì", "Sì", "SÌ", "giù", "Giù", "GIÙ", "giu", "Giu", "fuori", "Fuori", "esteso", "Esteso",
    "estratto", "Estratto", "aperto", "Aperto", "afuera", "Afuera", "sortis", "Sortis", "out", "Out", "OUT",
)  # fmt: skip
FALSE = (
    "0", "0.0", "false", "False", "FALSE", "no", "No", "NO", "off", "Off", "OFF", "n", "N", "up", "Up", "UP",
    "inactive", "Inactive", "INACTIVE", "retracted", "Retracted", "ok", "Ok", "OK", "nein", "Nein", "NEIN", "aus",
    "Aus", "AUS", "falsch", "Falsch", "FALSCH", "inaktiv", "Inaktiv", "eingefahren", "oben", "non", "Non", "NON",
    "faux", "Faux", "FAUX", "rentré", "inactif", "falso", "Falso", "inactivo", "Inactivo", "arriba", "f", "F",
    "Eingefahren", "Oben", "Rentré", "RENTRÉ", "rentre", "Rentre", "haut", "Haut", "Arriba", "dentro", "Dentro",
    "subido", "su", "Su", "SU", "retratto", "Retratto",
    "retratti", "chiuso", "Chiuso", "adentro", "Adentro", "rentrés", "Rentrés", "eingezogen", "Eingezogen",
    "in", "In", "IN",
)  # fmt: skip
FLAGS = frozenset((*TRUE, *FALSE))
FULL = ("100", "100.0", "100,0", "100.00", "100,00")
"""How a state that is given as a share is written where it holds."""
COMMENT_MARKS = ("#", "//", ";", "%", "*", "!")
_RULED = re.compile(r"[\s|+:=-]*[=-]{3,}[\s|+:=-]*")
"""A line that is drawn under a header."""
LINES = 4000
"""Lines looked at."""
_DELIMITERS = {"\t": 1.0, ";": 1.0, ",": 0.99, "|": 0.99, " ": 0.9}

PRINTED_MINUS = "\u2212\u2013"
"""What typesetters put for the minus sign: its own mark, and a dash."""
_SIGNS = f"-+{PRINTED_MINUS}"
_NUMBER = re.compile(rf"[{_SIGNS}]?(\d+([.,]\d*)?|[.,]\d+)([eE][+-]?\d+)?\s?%?")
_GROUPED = re.compile(r"[+-]?\d{1,3}([., '’\u00a0\u202f])\d{3}(\1\d{3})*([.,]\d+)?")
_CLOCK = re.compile(r"[T ]?\d{1,3}:\d{2}(:\d{2})?([.,:]\d+)?\s?([aApP]\.?[mM]\.?|Z|[+-]\d{2}:?\d{2})?")
_DATE = re.compile(
    r"(\d{4}([-/.])\d{1,2}\2\d{1,2}|\d{1,2}([-/.])\d{1,2}\3(\d{4}|\d{2})|\d{8})"
    r"([T ,]+\d{1,2}:[\d:.,]*\s?([aApP]\.?[mM]\.?|Z|[+-]\d{2}:?\d{2})?)?"
)
_WORDS = frozenset(w for w in (*TRUE, *FALSE) if len(w) > 1 and not w[0].isdigit())
_NINES = str.maketrans("012345678", "999999999")
_DIGITS = str.maketrans("12345678", "99999999")
LONGEST_TYPED = 80
"""Characters of the longest number, time or date."""
LONGEST_HEADING = 1000
_RATE = re.compile(
    r"(?<![\w.,])\d+(?:[.,]\d+)?\s*(?:k?Hz|sps|(?:samples?|rows?)(?:/s|\s*per\s+second))\b", re.IGNORECASE
)
"""How many rows there are in a second, where a line above the header says nothing else: "# 10 Hz"."""
_KEY_VALUE = re.compile(r"([^\W\d][\w .()/-]{0,39}?)\s*[:=]\s*(.*)")


@dataclass(frozen=True, slots=True)
class Dialect:
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


def typed(cell: str) -> bool:
    """Whether a cell looks like data: a number, a time, a date."""
    return len(cell) <= LONGEST_TYPED and _typed(cell.translate(_NINES))


def measured(cell: str) -> bool:
    """Whether a cell looks like data, a number with its unit behind it included: ``7,98 V``."""
    return typed(cell) or (len(cell) <= LONGEST_TYPED and _with_unit(cell.translate(_NINES)))


@lru_cache(maxsize=8192)
def _with_unit(shape: str) -> bool:
    found = re.fullmatch(r"(.*[\d.,])\s*([^\d\s.,:/-][^\d\s]{0,7}(?:/\w{1,4})?)", shape)
    return bool(found and _NUMBER.fullmatch(found.group(1)) and units.understand(found.group(2)))


@lru_cache(maxsize=8192)
def _typed(shape: str) -> bool:
    """The same for a cell with a 9 for each digit: many cells have one shape."""
    return bool(
        _NUMBER.fullmatch(shape) or _CLOCK.fullmatch(shape) or _DATE.fullmatch(shape) or _GROUPED.fullmatch(shape)
    )


_PLAIN = b"0123456789+-.,"


def plain_numbers(values: Sequence[str]) -> bool:
    """Whether cells hold digits, signs, points and commas alone: no unit, no letter, no time; looked at all at once."""
    return not "".join(values).encode("utf-8", "surrogatepass").translate(None, _PLAIN)


def without_nulls(column: list[str]) -> list[str]:
    """The same cells; what says that there is no value is empty."""
    marks = _NULLS.intersection(column) - {""}
    return ["" if cell in marks else cell for cell in column] if marks else column


def sniff(text: str, encoding: Encoding, file: str, *, decimal: str = "") -> tuple[Dialect, list[list[str]]]:
    """Tell how a file is written from its first lines.

    Parameters
    ----------
    decimal : str
        The decimal mark, where the user has said it.

    Returns
    -------
    dialect : Dialect
    columns : list of list of str
        The cells of the sample's rows of data, column by column.

    Raises
    ------
    Refusal
        If no delimiter makes a table of it, or the table has no header.
    """
    rows = _Rows([(number, line) for number, line in _lines(text) if not _RULED.fullmatch(line)])
    rows.delimiter = delimiter = _delimiter(rows.lines)
    if not delimiter:
        raise Refusal(file, TableRefused.NO_TABLE)
    width = _width(rows.widths)
    start = _first_data_row(rows, width)
    if start is None:
        raise Refusal(file, TableRefused.NO_ROW)
    header_at, unit_at = _header(rows, start, width)
    if header_at is None:
        raise Refusal(file, TableRefused.NO_HEADER, line=rows.numbers[start])
    headings = _strip_comment(rows.lines[header_at], delimiter, width)
    if long := next((h for h in headings if len(h) > LONGEST_HEADING), ""):
        raise Refusal(file, TableRefused.LONG_HEADING, line=rows.numbers[header_at], characters=len(long))
    units_row = _strip_comment(rows.lines[unit_at], delimiter, width) if unit_at is not None else []
    header, last = rows.lines[header_at], len(rows.lines) - 1
    data = [i for i in range(start, last + 1) if rows.lines[i] != header and not _is_comment(rows, i, width)]
    if len(data) > 3 and data[-1] == last and text.endswith(rows.lines[last]):
        data = data[:-1]  # without its line end it may be cut: no ground to judge on
    while (
        len(headings) > 1
        and not headings[-1]
        and not any(rows[i][len(headings) - 1 :][:1] not in ([], [""]) for i in data)
    ):
        headings = headings[:-1]  # the header, too, ends in a delimiter
    above = rows[header_at - 1] if header_at else []
    spread = re.search(r"[^\0]\0\0+[^\0]", "\0".join(above)) or _in_runs(above)  # a name over several columns
    if (
        (len(set(headings)) < len(headings) or (spread and len(above) <= len(headings) + 1))
        and len(above) >= len(headings) - 1
        and not any(map(typed, above))
    ):
        headings, group_at = _grouped(headings, above), header_at - 1
    else:
        group_at = header_at
    counts = Counter(rows.widths[i] for i in data)
    most = counts.most_common(1)[0][0]
    spare = max(0, most - len(headings))
    if spare and any("".join(rows[i][len(headings) :]) for i in data if rows.widths[i] == most):
        spare = 0
    short = sum(n for length, n in counts.items() if length < len(headings))
    pads = short > 0.05 * len(data) and len(data) > 3
    fitting = sum(n for length, n in counts.items() if length <= len(headings) + spare)
    if fitting < 0.5 * len(data) or (most < len(headings) and not pads):
        line = next(rows.numbers[i] for i in range(start, last + 1) if rows.widths[i] == most)
        raise Refusal(file, TableRefused.FIELDS_DIFFER, line=line, fields=most, headings=len(headings))
    marks = _marks(rows, data)
    if len(marks.decimal) > 1:
        marked = tuple(
            say(TableCode.MARK_IN_COLUMN, cell=c, column=headings[i] if i < len(headings) else i + 1)
            for c, i in marks.decimal.values()
        )
        raise Refusal(file, TableRefused.TWO_DECIMAL_MARKS, line=rows.numbers[start], where=marked)
    mark, thousands, unsure = _decimal(marks, delimiter)
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
        preamble=_preamble(rows.lines[:group_at], delimiter),
        spare=spare,
        pads=pads,
        quoted='"' in text,
        quoted_breaks='"' in text and any("\n" in c for i in data for c in rows[i]),
        decimal_unsure=unsure and not decimal,
    )
    return dialect, rows.columns([i for i in data if rows.widths[i] <= len(headings) + spare], len(headings), spare)


class _Rows:
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

    def columns(self, at: Sequence[int], width: int, spare: int) -> list[list[str]]:
        """The cells of some lines, which have at most ``width + spare`` each, column by column."""
        if not self.plain or not at:
            cells = (self[i] for i in at)
            return _turned([c[:width] + [""] * (width - len(c)) for c in cells], width)
        whole, mark = width + spare, self.delimiter
        text = mark.join(self.lines[i] + mark * (whole - self.widths[i]) for i in at)
        flat = text.split(mark)
        if _loose(text, mark):
            flat = list(map(str.strip, flat))
        return [flat[i::whole] for i in range(width)]


def _turned(rows: Sequence[Sequence[str]], width: int) -> list[list[str]]:
    return [list(column) for column in zip(*rows, strict=True)] or [[] for _ in range(width)]


def _loose(text: str, mark: str) -> bool:
    """Whether there are blanks beside the delimiters of a text, or at its ends."""
    pieces = text.replace(mark, "\0").split() if mark.isspace() else text.split()
    end = "\0" if mark.isspace() else mark
    beside = any(p.endswith(end) for p in pieces[:-1]) or any(p.startswith(end) for p in pieces[1:])
    return beside or (text[:1] + text[-1:]).strip() != text[:1] + text[-1:]


def _lines(text: str, limit: int = LINES) -> list[tuple[int, str]]:
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


def _delimiter(lines: Sequence[str]) -> str:
    sample = lines[len(lines) // 3 :][:200] if len(lines) > 6 else lines[-3:]
    best, best_score = "", 0.0
    for delimiter, weight in _DELIMITERS.items():
        if not any(delimiter in line or (delimiter == " " and "\t" in line) for line in sample):
            continue
        rows = _shapes(sample, delimiter)
        width, agreeing = Counter(len(r) for r in rows).most_common(1)[0]
        if width < 2:
            continue
        filled = [c for r in rows for c in r if c and c not in _NULLS]
        good = {c for c in set(filled) if measured(c) or c in _WORDS}
        known = sum(map(good.__contains__, filled))
        score = weight * (agreeing / len(rows)) * (0.15 + 0.85 * known / max(len(filled), 1))
        if delimiter == " " and any(":" in r[0] and not typed(r[0]) for r in rows[:20]):
            score *= 0.5
        if score > best_score + 1e-9:
            best, best_score = delimiter, score
    return best if best_score > 0.1 else ""


def _shapes(lines: Sequence[str], delimiter: str) -> list[list[str]]:
    """Cells with a 9 for each digit: whether one looks like data they tell as well, and few of them differ."""
    return [split_line(line.translate(_NINES), delimiter) for line in lines]


def _width(widths: Sequence[int]) -> int:
    tail = widths[len(widths) // 3 :] if len(widths) > 6 else widths[-3:]
    counts = Counter(tail)
    usual = counts.most_common(1)[0][0]
    return max(w for w, n in counts.items() if w == usual or n > 0.3 * len(tail))  # short rows may be as usual


def _is_data(cells: Sequence[str], width: int, firm: Sequence[int] = ()) -> bool:
    """Whether a line is a row of data: typed in most of the columns that hold nothing but data further down."""
    if len(cells) < 2 or not (width / 2 <= len(cells) <= width + 1):
        return False
    there = [cells[n] for n in firm if n < len(cells) and cells[n] and cells[n] not in _NULLS]
    if there:
        return sum(map(measured, there)) > 0.5 * len(there)
    filled = [c for c in cells if c and c not in _NULLS]
    return bool(filled) and sum(map(measured, filled)) >= 0.35 * len(filled)


def _first_data_row(rows: _Rows, width: int) -> int | None:
    firm, count = [], len(rows.lines)
    later = _shapes(rows.lines[count // 3 :: 1 + count // 300], rows.delimiter)
    for n in range(width if count > 4 else 0):
        below = [c[n] for c in later if len(c) > n and c[n] and c[n] not in _NULLS]
        good = {c for c in set(below) if measured(c)}
        if below and sum(map(good.__contains__, below)) > 0.9 * len(below):
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


def _header(rows: _Rows, start: int, width: int) -> tuple[int | None, int | None]:
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


_CODE = re.compile(
    r"0x[0-9a-f]+|#?\d{1,4}|(?:ch|id|col|pid|sid)?[-_ ]?\d{1,4}|u?int\d*(?:_t)?|float\d*|double|bool(?:ean)?|"
    r"str(?:ing)?|text|enum|datetime|timestamp|u\d+|i\d+|f\d+", re.IGNORECASE,
)  # fmt: skip


def _of_codes(cells: Sequence[str]) -> bool:
    """Whether a line holds numbers of channels, types of numbers or ranges, not names."""
    named = [c for c in cells if c]
    return len(named) > 1 and (all(map(_CODE.fullmatch, named)) or all(map(_RANGE.fullmatch, named)))


_RANGE = re.compile(
    r"[\[(]?[+\-\u2212]?\d+(?:[.,]\d+)?\s*(?:\.{2,3}|\u2026|\u2013|-|to|bis|\xe0|a|/)\s*[+\-\u2212]?\d+(?:[.,]\d+)?\s*\S{0,6}",
    re.IGNORECASE,
)
"""From where to where a sensor measures: "0..999", "-40 … +125"."""


def _below(cells: Sequence[str], above: Sequence[str]) -> bool:
    """Whether a line of short names stands below a line of groups: a name over several columns, with blanks beside it.

    "V, A, V, A" below "Pack 1, , Pack 2, " are headings of their own, not units of what stands above.
    """
    blank = [i for i, c in enumerate(cells) if c and not (i < len(above) and above[i])]
    own = [c for c in cells if c and units.understand(c.strip("[](){}")) is None]
    return bool(own) and len(blank) >= len(cells) / 3 and any(above)


def _in_runs(cells: Sequence[str]) -> bool:
    """Whether a line names groups: a name over several columns next to each other, at least twice."""
    runs = [sum(1 for _ in same) for name, same in itertools.groupby(cells) if name]
    return sum(n > 1 for n in runs) > 1 and len(set(cells) - {""}) == len(runs)


def _grouped(headings: Sequence[str], groups: Sequence[str]) -> list[str]:
    """Headings below a row of group names: each name stands over the columns up to the next."""
    out, group = [], ""
    for i, heading in enumerate(headings):
        group = (groups[i] if i < len(groups) else "") or group
        out.append(f"{group} {heading}".strip() if heading else heading)
    return out


def _strip_comment(line: str, delimiter: str, width: int) -> list[str]:
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


def _is_comment(rows: _Rows, i: int, width: int) -> bool:
    marked = rows.lines[i].lstrip().startswith(("#", "//", "%", "!"))
    return marked and not (rows.widths[i] == width and _is_data(rows[i], width))


def _preamble(lines: Sequence[str], delimiter: str) -> dict[str, str]:
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


@dataclass(slots=True)
class _Marks:
    """What the numbers of a sample say of the marks inside them."""

    decimal: dict[str, tuple[str, int]] = field(default_factory=dict)
    """A mark that must be a decimal mark, with the first cell that proves it and that cell's column."""
    group: str = ""
    """The first mark seen to group."""
    twice: set[str] = field(default_factory=set)
    """Points or commas that come twice in a number, and so group."""
    single: set[str] = field(default_factory=set)
    """Points or commas that stand alone in a number."""


def _marks(rows: _Rows, data: Sequence[int]) -> _Marks:
    found = _Marks()
    step = 1 + sum(rows.widths[i] for i in data[:1500]) // 20_000
    shapes: dict[str, tuple[str, int]] = {}
    for i in data[:1500:step]:
        shaped = split_line(rows.lines[i].translate(_DIGITS), rows.delimiter)
        if shapes.keys() >= set(shaped):
            continue
        row = rows[i]
        for column, shape in enumerate(shaped):
            if shape not in shapes:
                shapes[shape] = row[column], column
    for written, column in shapes.values():  # cells that differ by nothing but digits say the same
        bare = typed(written) or not measured(written)
        cell = written if bare else re.sub(r"[^\d.,].*$", "", written.lstrip(_SIGNS)).strip()
        if not cell or cell.isdecimal() or not cell[-1].isdecimal():
            continue
        if not _NUMBER.fullmatch(cell) and not _GROUPED.fullmatch(cell):
            continue
        marks = [c for c in cell if not c.isalnum() and c not in _SIGNS]
        if not marks:
            continue
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
            whole, _, fraction = cell.lstrip(_SIGNS).partition(last)
            if not (len(fraction) == 3 and fraction.isdecimal() and 1 <= len(whole) <= 3 and whole[0] != "0"):
                found.decimal.setdefault(last, (cell, column))
    return found


def _decimal(marks: _Marks, delimiter: str) -> tuple[str, str, bool]:
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
