"""Tables of single sensors side by side, each with a time of its own."""

from __future__ import annotations

import itertools

import pyarrow as pa
import pyarrow.compute as pc

from importers.meaning.heading import dissect
from importers.meaning.words import fold
from importers.table.lines import split_line
from importers.table.rewriting.clocks import HEAD, PREAMBLE, of_time, time_heading
from importers.table.rewriting.plain import cells_of, one_row_a_reading


def seems_beside(text: str) -> bool:
    """Whether one header names several times, and something behind each."""
    _, cells, at = _clocks(text)
    return len(at) > 1 and all(n - i > 1 for i, n in itertools.pairwise([*at, len(cells)]))


def beside(text: str) -> str | None:
    """Put tables side by side into one, a row a reading; None where they have one time, or times that do not meet."""
    line, cells, at = _clocks(text)
    table = cells_of(text[text.index(line) + len(line) :], time_heading(text)[1], len(cells))
    clocks = [dissect(cells[i]) for i in at]
    if all(table.column(i).equals(table.column(at[0])) for i in at) or len({c.unit for c in clocks}) > 1:
        return None  # the same clock again, or clocks of several kinds
    spans = [_span(table.column(i)) for i in at]
    shared = min(last for _, last in spans) - max(first for first, _ in spans)
    if not all(shared >= 0.5 * (last - first) for first, last in spans if last - first == min(b - a for a, b in spans)):
        return None  # clocks that begin elsewhere are not of one flight's time
    pieces = [
        (table.column(start), cells[i], table.column(i))
        for start, end in itertools.pairwise([*at, len(cells)])
        for i in range(start + 1, end)
        if cells[i]
    ]
    names = [name for _, name, _ in pieces]
    if len(set(names)) < len(names):
        return None
    clock = f"Time ({clocks[0].unit_text})" if clocks[0].unit else "Time"
    above = text[: text.index(line)].replace(time_heading(text)[1], "\t")
    return one_row_a_reading(pieces, cells[0] if cells[0] == cells[at[1]] else clock, ended=True, above=above)


def _clocks(text: str) -> tuple[str, list[str], list[int]]:
    """The header line, its cells, and the places of those that tell the time of the columns behind them.

    They have one heading, or each the name of the column behind it: ``RPM time, RPM, EGT time, EGT``.
    """
    cell, delimiter = time_heading(text)
    line = next((x for x in text[:HEAD].split("\n", PREAMBLE) if cell and x.startswith(f"{cell}{delimiter}")), "")
    cells = split_line(line, delimiter) if line else []
    at = [i for i, c in enumerate(cells) if fold(c) == fold(cells[0])]
    if len(at) < 2:
        at = [i for i, (c, behind) in enumerate(itertools.pairwise(cells)) if _time_of(c, behind)]
    return line, cells, at if at[:1] == [0] else []


def _time_of(heading: str, behind: str) -> bool:
    """Whether a heading says that it is the time of the column behind it."""
    plain = dissect(heading)
    own = {w for w, i in zip(plain.words, plain.ideas, strict=True) if i not in ("time", "elapsed", "")}
    return "time" in plain.ideas and bool(own) and own <= set(dissect(behind).words) and not of_time(behind)


def _span(times: pa.ChunkedArray) -> tuple[float, float]:
    """First and last of some times, s, where they are plain numbers; all the same where they are not."""
    plain = pc.replace_substring(times, ",", ".")
    plain = plain.filter(pc.match_substring_regex(plain, r"^\s*-?\d+\.?\d*\s*$"))
    return (float(plain[0].as_py()), float(plain[-1].as_py())) if len(plain) > 1 else (0.0, 0.0)
