"""What a cell of text may hold: a number, a time, a date, a flag, or nothing."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import lru_cache

from importers.meaning import units
from importers.meaning.languages import entries

NULLS = (
    "", "-", "--", "---", "nan", "NaN", "NAN", "-nan", "null", "NULL", "Null", "none", "None", "NONE",
    "NA", "N/A", "n/a", "na", "#N/A", "?", "*", "***", "n.a.", "k.A.", "s/o",
)  # fmt: skip
"""Cells that say: no value here."""
NO_VALUE = frozenset(NULLS)
_CELLS = {"true": ["1", "1.0"], "false": ["0", "0.0"]}
for _said, _words in entries("cells"):
    _CELLS[_said] += [w for w in _words if w not in _CELLS[_said]]
TRUE, FALSE = tuple(_CELLS["true"]), tuple(_CELLS["false"])
"""Cells that say yes, and no, in every language."""
FLAGS = frozenset((*TRUE, *FALSE))
FULL = ("100", "100.0", "100,0", "100.00", "100,00")
"""How a state that is given as a share is written where it holds."""
PRINTED_MINUS = "\u2212\u2013"
"""What typesetters put for the minus sign: its own mark, and a dash."""
SIGNS = f"-+{PRINTED_MINUS}"
NUMBER = re.compile(rf"[{SIGNS}]?(\d+([.,]\d*)?|[.,]\d+)([eE][+-]?\d+)?\s?%?")
GROUPED = re.compile(r"[+-]?\d{1,3}([., '’\u00a0\u202f])\d{3}(\1\d{3})*([.,]\d+)?")
_CLOCK = re.compile(r"[T ]?\d{1,3}:\d{2}(:\d{2})?([.,:]\d+)?\s?([aApP]\.?[mM]\.?|Z|[+-]\d{2}:?\d{2})?")
_DATE = re.compile(
    r"(\d{4}([-/.])\d{1,2}\2\d{1,2}|\d{1,2}([-/.])\d{1,2}\3(\d{4}|\d{2})|\d{8})"
    r"([T ,]+\d{1,2}:[\d:.,]*\s?([aApP]\.?[mM]\.?|Z|[+-]\d{2}:?\d{2})?)?"
)
FLAG_WORDS = frozenset(w for w in (*TRUE, *FALSE) if len(w) > 1 and not w[0].isdigit())
NINES = str.maketrans("012345678", "999999999")
LONGEST_TYPED = 80
"""Characters of the longest number, time or date."""
_PLAIN = b"0123456789+-.,"


def typed(cell: str) -> bool:
    """Whether a cell looks like data: a number, a time, a date."""
    return len(cell) <= LONGEST_TYPED and _typed(cell.translate(NINES))


def measured(cell: str) -> bool:
    """Whether a cell looks like data, a number with its unit behind it included: ``7,98 V``."""
    return typed(cell) or (len(cell) <= LONGEST_TYPED and _with_unit(cell.translate(NINES)))


@lru_cache(maxsize=8192)
def _with_unit(shape: str) -> bool:
    found = re.fullmatch(r"(.*[\d.,])\s*([^\d\s.,:/-][^\d\s]{0,7}(?:/\w{1,4})?)", shape)
    return bool(found and NUMBER.fullmatch(found.group(1)) and units.understand(found.group(2)))


@lru_cache(maxsize=8192)
def _typed(shape: str) -> bool:
    """The same for a cell with a 9 for each digit: many cells have one shape."""
    return bool(
        NUMBER.fullmatch(shape) or _CLOCK.fullmatch(shape) or _DATE.fullmatch(shape) or GROUPED.fullmatch(shape)
    )


def plain_numbers(values: Sequence[str]) -> bool:
    """Whether cells hold digits, signs, points and commas alone: no unit, no letter, no time; looked at all at once."""
    return not "".join(values).encode("utf-8", "surrogatepass").translate(None, _PLAIN)


def without_nulls(column: list[str]) -> list[str]:
    """The same cells; what says that there is no value is empty."""
    marks = NO_VALUE.intersection(column) - {""}
    return ["" if cell in marks else cell for cell in column] if marks else column
