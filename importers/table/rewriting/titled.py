"""Tables of single sensors one below the other, each under a title or with headings of its own."""

from __future__ import annotations

import re
from collections.abc import Sequence

from importers.meaning.heading import dissect
from importers.meaning.words import meanings
from importers.table.lines import split_line
from importers.table.rewriting.clocks import time_heading
from importers.table.rewriting.plain import cells_of, one_row_a_reading
from importers.table.values import typed

_PARTS = {"rx", "ecu", "engine", "pack", "tank", "fuel", "bus", "gps", "pump", "antenna"}
_Section = tuple[str, list[str], str]
"""Title, headings and body of a table."""


def seems_titled(text: str) -> bool:
    """Whether a header comes again, with other columns or under another title."""
    cell, delimiter = time_heading(text)
    at = text.find(f"{cell}{delimiter}") if cell else -1
    return at >= 0 and text.find(f"\n{cell}{delimiter}", at + 1) >= 0 and _of_sensors(_sections(text))


def titled(text: str) -> str | None:
    """Put tables one below the other into one, a row a reading; None where they are not of a sensor each."""
    some, (_, delimiter) = _sections(text), time_heading(text)
    if not _of_sensors(some):
        return None
    pieces = []
    for section in some:
        table = cells_of(section[2], delimiter, len(section[1]))
        pieces += [(table.column(0), name, table.column(i)) for i, name in enumerate(_names(section), 1)]
    above = text[: text.index(time_heading(text)[0] + delimiter)].replace(delimiter, "\t")
    return one_row_a_reading(pieces, some[0][1][0], ended=text.endswith("\n"), above=above)


def _sections(text: str) -> list[_Section]:
    """Each table whose header begins with the same name of the time."""
    cell, delimiter = time_heading(text)
    found = list(re.finditer(rf"(?m)^{re.escape(cell)}{re.escape(delimiter)}[^\n]*$", text))
    out = []
    for n, m in enumerate(found):
        before = text[found[n - 1].end() if n else 0 : m.start()]
        title = next((line for line in reversed(before.rsplit("\n", 4)[-4:]) if line.strip()), "")
        cells = [c for c in split_line(title, delimiter) if c]
        title = _bare_title(cells[0]) if len(cells) == 1 and not typed(cells[0]) else ""
        end = found[n + 1].start() if n + 1 < len(found) else len(text)
        out.append((title, split_line(m[0], delimiter), text[m.end() : end]))
    return out


def _bare_title(text: str) -> str:
    """A title without marks around it, and without a word that only says that one follows: "Sensor: EGT"."""
    text = text.strip("#[]*=-: ")
    said, _, rest = text.partition(":")
    return rest.strip() if rest and {"sensor", "name"} & set(dissect(said).ideas) else text


def _of_sensors(some: Sequence[_Section]) -> bool:
    """Whether tables are of a sensor or part each, not of a flight each."""
    names = [n for section in some for n in _names(section)]
    if len(some) < 2 or len(set(names)) < len(names) or any(typed(h) for _, headings, _ in some for h in headings):
        return False
    titles, headers = [title for title, _, _ in some], {tuple(headings) for _, headings, _ in some}
    if len(headers) == len(some) or all(_plain(h) for headings in headers for h in headings[1:] if h):
        return True
    return all(_PARTS & {m for w in dissect(t).words for m in meanings(w)} for t in titles)


def _plain(heading: str) -> bool:
    """Whether a heading says only that there are values below it."""
    return "value" in dissect(heading).ideas


def _names(section: _Section) -> list[str]:
    """What each column but the time is called: by the table's title and its own heading."""
    title, headings, _ = section
    return [title if title and _plain(h) and not dissect(h).unit else f"{title} {h}".strip() for h in headings[1:] if h]
