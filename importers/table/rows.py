"""The rows of data in a file: blocks of lines from the first row on, without a last line that may be cut."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator

from importers.table.dialect import Dialect
from importers.table.lines import split_line
from importers.table.source import Source
from importers.table.text import Block, TextNotes, blocks
from importers.table.values import typed

SPOOL_BYTES = 16 * 2**20
"""Beyond this a log that is turned round goes through the disk."""


def rows(origin: Source, dialect: Dialect, notes: TextNotes) -> Iterator[Block]:
    """Blocks of lines from the first row of data on; a last line that may be cut is left out."""
    before = b""
    for block in _from_first_row(origin, dialect, notes):
        if notes.unended and _may_be_cut(before + block.text, dialect):
            at = block.text.rfind(b"\n", 0, -1) + 1
            notes.cut_line = block.line + block.text.count(b"\n") - 1
            if at:
                yield Block(block.text[:at], block.line)
            return
        before = block.text[-8192:]
        yield block


def backwards(origin: Source, dialect: Dialect, notes: TextNotes) -> Iterator[Block]:
    """The same blocks, the last one first; between, they lie in a temporary file."""
    places: list[tuple[int, int, int]] = []
    with tempfile.SpooledTemporaryFile(max_size=SPOOL_BYTES) as spool:
        for block in rows(origin, dialect, notes):
            places.append((spool.tell(), len(block.text), block.line))
            spool.write(block.text)
        for at, length, line in reversed(places):
            spool.seek(at)
            yield Block(spool.read(length), line)


def _may_be_cut(text: bytes, dialect: Dialect) -> bool:
    """Whether a last line without a line end lacks fields, or its last cell could be longer going by those above it.

    Those above are the rows with the same texts, so that in a long table a sensor is compared with itself.
    """
    lines = text[-65536:].decode("utf-8", "replace").split("\n")[-200:-1]
    if lines[-1].endswith("\ufffd") or (not dialect.quoted_breaks and lines[-1].count('"') % 2):
        return True
    cells = [split_line(line, dialect.delimiter) for line in lines if line.strip()]
    if len(cells) < 3:
        return False
    *above, last = cells
    if len(last) < max(len(dialect.headings), min(map(len, above[1:]))):
        return True
    if not last[-1]:
        return False
    texts = [c for c in last[:-1] if not typed(c)]
    ends = [r[-1] for r in above[1:] if len(r) == len(last) and r[-1] and all(c in r for c in texts)][-40:]
    decimals = {len(c.partition(dialect.decimal)[2]) for c in ends}
    if len(decimals) == 1 and decimals != {0}:
        return decimals != {len(last[-1].partition(dialect.decimal)[2])}
    return len(last[-1]) < max(map(len, ends), default=len(last[-1]) + 1)


def _from_first_row(origin: Source, dialect: Dialect, notes: TextNotes) -> Iterator[Block]:
    for block in blocks(origin, dialect.encoding, notes, quoted_breaks=dialect.quoted_breaks):
        if block.line < dialect.first_row:
            skip, at = dialect.first_row - block.line, 0
            for _ in range(skip):
                at = block.text.find(b"\n", at) + 1
                if not at:
                    break
            if not at or at >= len(block.text):
                continue
            yield Block(block.text[at:], dialect.first_row)
        else:
            yield block
