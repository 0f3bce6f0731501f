"""Header lines that come again in the middle of a file, and those that then say something else."""

from __future__ import annotations

from collections.abc import Sequence

from importers.table.dialect import Dialect
from importers.table.lines import split_line
from importers.table.values import typed

_WORD_OF_DATA = 100
"""A heading that stands in more lines is a word of the data, and tells no header: the other headings do."""


def changed(text: bytes, dialect: Dialect, first_line: int = 1) -> tuple[int, str] | None:
    """The first line that is a header with other columns than the file's, or the same in another order.

    What stands below such a line would be read under the wrong headings.

    Parameters
    ----------
    text : bytes
        Whole lines in UTF-8.
    first_line : int
        Number of the first of them, from 1.

    Returns
    -------
    tuple of (int, str) or None
        Number of the line, and the line.
    """
    own = [h for h in dialect.written if len(h) > 1 and not typed(h)] or [h for h in dialect.written if h]
    keys = list(dict.fromkeys((*own[:1], max(own, key=len, default=""))))
    for key in keys:  # grows while it is gone through
        found, misses = -1, 0
        word = key.encode()
        if not all(c in text for c in dict.fromkeys(word)):  # a byte is missed ten times faster than a word
            continue
        while key and (found := text.find(word, found + 1)) >= 0:
            start, end = text.rfind(b"\n", 0, found) + 1, text.find(b"\n", found)
            end = len(text) if end < 0 else end
            line = text[start:end].decode("utf-8", "replace").strip("\r")
            if _differs(line, dialect):
                return first_line + text.count(b"\n", 0, start), line
            found, misses = end, misses + 1
            if misses > _WORD_OF_DATA:
                keys += [h for h in own if h not in keys]
                break
    return None


def title(lines: Sequence[str], dialect: Dialect) -> str:
    """The first of the titles over tables one below the other, each with the file's header; '' where there are none."""
    at = [i for i, line in enumerate(lines) if line == dialect.header]
    above = [next((line for line in reversed(lines[max(0, i - 3) : i]) if line.strip()), "") for i in at]
    titled = [a for a in above if a and not any(map(typed, split_line(a, dialect.delimiter)))]
    return titled[0] if len(at) > 1 and len(set(titled)) == len(at) else ""


def _differs(line: str, dialect: Dialect) -> bool:
    """Whether a line is a header, but another than the file's."""
    if line == dialect.header:
        return False
    cells = [c.strip("\ufeff \"'") for c in split_line(line.lstrip("\ufeff#/;%*! "), dialect.delimiter)]
    named = [c for c in cells if c]
    known = [c for c in named if c in dialect.written]
    if len(known) < 2 or len(known) < 0.4 * len(named) or any(map(typed, named)):
        return False
    return named != [h for h in dialect.written if h]
