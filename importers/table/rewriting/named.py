"""Cells that name their value: ``V=8.21``."""

from __future__ import annotations

import itertools
import re
from collections.abc import Sequence

import pyarrow as pa
import pyarrow.compute as pc

from importers.meaning import units
from importers.meaning.heading import dissect
from importers.meaning.words import fold, meanings
from importers.table.lines import split_line
from importers.table.rewriting.plain import DELIMITERS, written_plain
from importers.table.values import typed

_NAMED_CELL = r"\s*((?:[^\W\d_]|°)[^=:\n\"]{{0,40}}?)\s*{mark}\s*([^{stops}\n\"]*)"


def seems_named(text: str) -> bool:
    """Whether the eighth line holds a name, a mark and a number."""
    line = next(itertools.islice((x for x in text.split("\n", 40) if x.strip()), 8, None), "")
    return bool(re.search(r"(?:^|[\t;,| ])\s*\"?(?:[^\W\d_]|°)[^=:,;\t|]{0,40}[=:]\s*[-+]?\d", line[:2000]))


def named(text: str) -> str | None:
    """Take the names out of the cells into a header; None where not every row has them."""
    lines = re.findall(r"[^\n]*\S[^\n]*", text)
    some = lines[len(lines) // 3 :][:60]
    for delimiter in [d for d in DELIMITERS if all(d in line for line in some)] or [" "]:
        for mark in "=:":
            made = _without_names(lines, some, delimiter, mark)
            if made is not None:
                return made if text.endswith("\n") else made.removesuffix("\n")
    return None


def _without_names(lines: Sequence[str], some: Sequence[str], delimiter: str, mark: str) -> str | None:
    stops = delimiter if delimiter != " " else r"\s"
    cell = re.compile(_NAMED_CELL.format(mark=mark, stops=stops))
    rows = [[cell.fullmatch(c.strip(' "')) for c in split_line(line, delimiter)] for line in some]
    good = [[m for m in r if m] for r in rows]
    if not all(good) or sum(map(len, good)) < 0.5 * sum(map(len, rows)):
        return None
    if any(len({m[1] for m in r}) < len(r) for r in good):
        return None  # one name over two values of a row
    first = [c.strip(' "') for c in split_line(lines[0], delimiter)]
    headed = not any(cell.fullmatch(c) or typed(c) for c in first)
    plain = [n for n in range(len(rows[0])) if all(len(r) > n and r[n] is None for r in rows)]
    if headed and (len(first) != len(rows[0]) or delimiter == " "):
        return None
    if not headed and (plain not in ([], [0], [0, 1]) or not all(typed(split_line(x, delimiter)[n])
                                                                 for x in some for n in plain)):  # fmt: skip
        return None
    heads = {n: first[n] if headed else ("Date", "Time")[n - len(plain)] for n in plain}
    at: dict[str, set[int]] = {}
    for r in rows:
        for n, m in enumerate(r):
            if m:
                at.setdefault(m[1], set()).add(n)
    headings = {n: _named_heading(first[min(some)] if headed and len(some) == 1 else "", n) for n, some in at.items()}
    body = pa.array(lines[1:] if headed else lines, pa.string())
    gap = r"\s" if delimiter == " " else re.escape(delimiter)
    patterns = [rf"^(?:[^{stops}]*{gap}+){{{n}}}[ \"]*(?P<v>[^{stops}\"]*)" for n in plain]
    patterns += [rf'(?:^|{gap})[ "]*{re.escape(n)}\s*{mark}\s*(?P<v>[^{stops}"]*)' for n in at]
    found = [pc.struct_field(pc.extract_regex(body, p), "v") for p in patterns]
    beside, named = found[: len(plain)], found[len(plain) :]
    marks = sum(int(pc.sum(pc.count_substring(c, mark)).as_py() or 0) * sign for c, sign in
                [(body, 1), *((c, -1) for c in beside)])  # fmt: skip
    if "" in headings.values() or sum(len(f) - f.null_count for f in named) != marks:
        return None  # a name that the first lines have not, or one that the heading contradicts
    return written_plain(found, [*heads.values(), *headings.values()], ended=True)


def _named_heading(heading: str, name: str) -> str:
    """Heading and name of a value together: "Batt" and "V"; one alone where it says the other; '' where they differ."""
    unit, own = units.understand(name), dissect(heading)
    if not heading or fold(heading) == fold(name):
        return name
    if own.unit and unit:
        return heading if units.conversion(unit, own.unit) is not None else ""
    if fold(name) in own.words or not (unit or meanings(fold(name))):
        return heading
    return f"{heading} ({name})" if unit and not meanings(fold(name)) else f"{heading} {name}"
