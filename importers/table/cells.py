"""A block of text lines to Arrow columns: typed at once where all is well, leniently and with a note where not."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from math import isfinite

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.csv as pa_csv
from msgspec import Struct, field

from importers.table.dialect import Dialect
from importers.table.prefetch import side_by_side
from importers.table.text import Block
from importers.table.values import FALSE, FULL, NULLS, PRINTED_MINUS, TRUE

_TYPES = {"number": pa.float64(), "bool": pa.bool_(), "text": pa.string(), "skip": pa.string(),
          "name": pa.dictionary(pa.int32(), pa.string())}  # fmt: skip


LISTED = 5
"""Line numbers named in a notice."""


class CellNotes(Struct):
    """What could not be read, counted; the first place of each kind kept."""

    ragged: int = 0
    ragged_at: list[int] = field(default_factory=list)
    unread: dict[str, int] = field(default_factory=dict)
    unread_first: dict[str, tuple[str, int]] = field(default_factory=dict)

    def count(self, column: pa.Array, bad: pa.Array, name: str, block: Block | None = None) -> None:
        """Count the ``bad`` cells of a column under ``name``."""
        if count := pc.sum(pc.fill_null(bad, False)).as_py():
            self.unread[name] = self.unread.get(name, 0) + int(count)
            if name not in self.unread_first:
                at = int(pc.index(bad, True).as_py())
                cell = str(column[at].as_py())
                line = _line_of(block, cell.encode(), skip=at) if block else 0
                self.unread_first[name] = (cell[:40], line)

    def add(self, later: CellNotes) -> None:
        """Take up what was noted of rows further on."""
        self.ragged += later.ragged
        self.ragged_at += later.ragged_at[: LISTED - len(self.ragged_at)]
        for name, count in later.unread.items():
            self.unread[name] = self.unread.get(name, 0) + count
            self.unread_first.setdefault(name, later.unread_first[name])


class Cells:
    """Reads the rows of one file.

    Parameters
    ----------
    kinds : sequence of str
        ``number``, ``bool``, ``text``, ``name`` (text of few kinds, as a dictionary) or ``skip``, one a column.
    endings : mapping of str to str, optional
        Column name (``c0`` …) to the unit that stands behind its numbers.
    """

    def __init__(
        self, dialect: Dialect, kinds: Sequence[str], notes: CellNotes, endings: Mapping[str, str] | None = None
    ) -> None:
        self.dialect, self.notes, self.endings = dialect, notes, endings or {}
        self.names = [f"c{i}" for i in range(len(kinds) + dialect.spare)]
        self.kinds = [*kinds, *["skip"] * dialect.spare]
        self.wanted = [n for n, k in zip(self.names, self.kinds, strict=True) if k != "skip"]
        self._header = dialect.header.encode()

    def read(self, block: Block) -> pa.Table:
        """Columns ``c0 … cn`` of a block, without the skipped ones."""
        table, found = self._read(block)
        self.notes.add(found)
        return table

    def read_all(self, blocks: Iterable[Block], *, beside: int = 0) -> Iterator[pa.Table]:
        """The same of many blocks, in their order, several at once; ``beside`` processors are busy otherwise."""
        for table, found in side_by_side(self._read, blocks, beside=beside):
            self.notes.add(found)
            yield table

    def _read(self, block: Block) -> tuple[pa.Table, CellNotes]:
        """Columns of a block, and what of it could not be read. Blocks may be read in several threads."""
        text, notes = self._tidy(block.text), CellNotes()
        if not text or text.isspace():
            return pa.table({n: pa.nulls(0, _TYPES[k]) for n, k in self._typed()}), notes
        if not self.dialect.thousands:
            try:
                table = self._parse(text, {n: _TYPES[k] for n, k in self._typed()}, block, notes)
                if all(map(_finite, table.columns)):
                    return table, notes
            except pa.ArrowInvalid:
                pass
            notes = CellNotes()
        # In one piece, so that a line may be as long as it likes.
        raw = self._parse(text, {n: pa.string() for n in self.wanted}, block, notes, len(text) + 1)
        columns = {n: self._lenient(raw.column(n).combine_chunks(), n, k, block, notes) for n, k in self._typed()}
        return pa.table(columns), notes

    def _typed(self) -> list[tuple[str, str]]:
        return [(n, k) for n, k in zip(self.names, self.kinds, strict=True) if k != "skip"]

    def _tidy(self, text: bytes) -> bytes:
        if self._header and self._header[:1] in text and self._header in text:
            text = re.sub(rb"(?m)^" + re.escape(self._header) + rb"[ \t]*\n", b"", text)
        if self.dialect.delimiter == " ":
            text = re.sub(rb"[ \t]+", b" ", text)
            text = re.sub(rb"(?m)^ | $", b"", text)
        if b"#" in text and (text[:1] == b"#" or b"\n#" in text):
            text = re.sub(rb"(?m)^#.*\n", b"", text)
        if self.dialect.quoted and not self.dialect.quoted_breaks and b'"' in text:
            text = _closed(text)
        if self.dialect.pads:
            text = _pad(text, self.dialect.delimiter.encode(), len(self.names))
        return text

    def _parse(
        self, text: bytes, types: dict[str, pa.DataType], block: Block, notes: CellNotes, piece: int = 2**20
    ) -> pa.Table:
        def ragged(row: pa_csv.InvalidRow) -> str:
            notes.ragged += 1
            if len(notes.ragged_at) < LISTED:
                notes.ragged_at.append(_line_of(block, row.text.encode(), but=notes.ragged_at))
            return "skip"

        return pa_csv.read_csv(
            pa.BufferReader(text),
            read_options=pa_csv.ReadOptions(column_names=self.names, block_size=piece, use_threads=False),
            parse_options=pa_csv.ParseOptions(
                delimiter=self.dialect.delimiter,
                quote_char='"' if self.dialect.quoted else False,
                newlines_in_values=self.dialect.quoted_breaks,
                invalid_row_handler=ragged,
            ),
            convert_options=pa_csv.ConvertOptions(
                column_types=types,
                include_columns=self.wanted,
                decimal_point=self.dialect.decimal,
                null_values=list(NULLS),
                true_values=[*TRUE, *FULL],
                false_values=list(FALSE),
                strings_can_be_null=True,
            ),
        )

    def lenient(self, column: pa.Array, name: str, kind: str) -> pa.Array:
        """Convert what can be converted; the rest becomes null and is counted under ``name``."""
        return self._lenient(column, name, kind, None, self.notes)

    def _lenient(self, column: pa.Array, name: str, kind: str, block: Block | None, notes: CellNotes) -> pa.Array:
        column = pc.utf8_trim_whitespace(column)
        column = pc.if_else(pc.is_in(column, pa.array(NULLS)), pa.scalar(None, pa.string()), column)
        if kind in ("text", "name"):
            return column.dictionary_encode() if kind == "name" else column
        if kind == "bool":
            yes, no = pc.is_in(column, pa.array((*TRUE, *FULL))), pc.is_in(column, pa.array(FALSE))
            good = pc.or_(yes, no)
            out = pc.if_else(good, yes, pa.scalar(None, pa.bool_()))
        else:
            plain = column
            if self.dialect.thousands:
                group = re.escape(self.dialect.thousands)
                plain = pc.replace_substring_regex(plain, rf"{group}(\d{{3}})", r"\1")
            if self.dialect.decimal == ",":
                plain = pc.replace_substring(plain, ",", ".")
            plain = pc.replace_substring_regex(plain, "^[+]", "")
            plain = pc.replace_substring_regex(plain, f"^[{PRINTED_MINUS}]", "-")
            ending = re.escape(self.endings.get(name, "%"))  # any other unit would be another quantity
            plain = pc.replace_substring_regex(plain, rf"\s*{ending}$", "")
            good = pc.fill_null(pc.match_substring_regex(plain, r"^-?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?$"), False)
            out = pc.cast(pc.if_else(good, plain, pa.scalar(None, pa.string())), pa.float64())
            good = pc.and_(good, pc.fill_null(pc.is_finite(out), False))
            out = pc.if_else(good, out, pa.scalar(None, pa.float64()))
        notes.count(column, pc.and_(pc.is_valid(column), pc.invert(good)), name, block)
        return out


def _line_of(block: Block, part: bytes, *, skip: int = 0, but: Sequence[int] = ()) -> int:
    """Number of the first line with a piece of text, from a block's ``skip``-th line on, lines ``but`` left out."""
    at = 0
    for _ in range(skip):
        at = block.text.find(b"\n", at) + 1
    while (found := block.text.find(part, at)) >= 0:
        line = block.line + block.text.count(b"\n", 0, found)
        if line not in but:
            return line
        at = block.text.find(b"\n", found) + 1 or len(block.text)
    return block.line


def _finite(column: pa.ChunkedArray) -> bool:
    """Whether a column is free of infinities: a sum is finite unless a value is not, or all of them are huge."""
    return not pa.types.is_floating(column.type) or isfinite(pc.sum(column).as_py() or 0.0)


def _closed(text: bytes) -> bytes:
    """Take the quotes out of lines in which one is opened and never closed: it would swallow the lines behind it."""
    raw = np.frombuffer(text, np.uint8)
    ends, quotes = np.flatnonzero(raw == 10), np.flatnonzero(raw == 34)
    if not quotes.size or not ends.size:
        return text
    line = np.searchsorted(ends, quotes)
    odd = np.flatnonzero(np.bincount(line, minlength=ends.size + 1) % 2)
    return text if not odd.size else np.delete(raw, quotes[np.isin(line, odd)]).tobytes()


def _pad(text: bytes, delimiter: bytes, width: int) -> bytes:
    """Give short lines the delimiters they lack."""
    raw = np.frombuffer(text, np.uint8)
    ends = np.flatnonzero(raw == 10)
    marks = np.flatnonzero(raw == delimiter[0])
    have = np.diff(np.concatenate([[0], np.searchsorted(marks, ends)]))
    lacking = np.clip(width - 1 - have, 0, None)
    lacking[have == 0] = 0
    return np.insert(raw, np.repeat(ends, lacking), delimiter[0]).tobytes()
