"""Where a table names its time."""

from __future__ import annotations

from importers.meaning.heading import dissect
from importers.meaning.words import fold
from importers.table.rewriting.plain import delimiter_of
from importers.table.values import typed

PREAMBLE, HEAD = 40, 2**15
"""Lines, and characters, among which the first header stands."""
_QUOTES = ' "#'


def of_time(heading: str) -> bool:
    """Whether a heading names the time."""
    plain = dissect(heading)
    return bool({"time", "elapsed"} & set(plain.ideas)) or plain.unit in ("s", "ms") or fold(heading) in ("t", "ms")


def time_heading(text: str) -> tuple[str, str]:
    """The first heading of the first line that begins with the name of the time, and the delimiter behind it."""
    for line in text[:HEAD].split("\n", PREAMBLE)[:PREAMBLE]:
        delimiter = delimiter_of(line)
        cell = line.partition(delimiter)[0]
        if delimiter in line and not typed(cell.strip(_QUOTES)) and of_time(cell.strip(_QUOTES)):
            return cell, delimiter
    return "", ""
