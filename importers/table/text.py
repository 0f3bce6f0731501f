"""Bytes to tidy text: any encoding to UTF-8, any line end to a line feed, in blocks that end where a line ends."""

from __future__ import annotations

import codecs
import re
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from msgspec import Struct, field

from analyser.core.findings import say
from importers.refusal import Refusal
from importers.table.codes import ContentCode, TableRefused
from importers.table.source import PIECE_BYTES, Reader, Source, packing

LONGEST_LINE = 16 * 2**20
"""Bytes without a line end beyond which a file is no table."""

_BOMS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF32_LE, "utf-32-le"),
    (codecs.BOM_UTF32_BE, "utf-32-be"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)
_CONTROLS = bytes(c for c in range(1, 32) if c not in (9, 10, 12, 13, 26, 27))
_SIGNATURES = (
    (b"\x89PNG", ContentCode.PICTURE),
    (b"\xff\xd8\xff", ContentCode.PICTURE),
    (b"GIF8", ContentCode.PICTURE),
    (b"%PDF-", ContentCode.PDF),
    (b"\x7fELF", ContentCode.PROGRAM),
    (b"MZ\x90", ContentCode.PROGRAM),
    (b"SQLite format 3", ContentCode.DATABASE),
    (b"PAR1", ContentCode.PARQUET),
    (b"\xd0\xcf\x11\xe0", ContentCode.OFFICE),
    (b"7z\xbc\xaf", ContentCode.ARCHIVE),
    (b"Rar!", ContentCode.ARCHIVE),
)


_MARKED_UP = (
    (re.compile(rb"\s*<(!doctype\s+html|html|head|body)\b", re.IGNORECASE), ContentCode.WEB_PAGE),
    (re.compile(rb"\s*<\?xml\b"), ContentCode.XML),
    (re.compile(rb"\s*(\[\s*)?\{\s*\"[^\"\n]*\"\s*:"), ContentCode.JSON),
)


class Encoding(NamedTuple):
    """A codec name and the length of the byte-order mark before the text."""

    name: str
    mark: int


def detect(head: bytes, file: str) -> Encoding:
    """Tell the encoding of a file from its first bytes: a mark, zero bytes in every second place, or what decodes.

    Raises
    ------
    Refusal
        If the bytes are no text.
    """
    for mark, name in _BOMS:
        if head.startswith(mark):
            return Encoding(name, len(mark))
    for signature, what in _SIGNATURES:
        if head.startswith(signature):
            raise _binary(file, what)
    for pattern, what in _MARKED_UP:
        if pattern.match(head):
            raise _binary(file, what)
    if len(head) >= 4:
        even, odd = head[0::2], head[1::2]
        if odd.count(0) > 0.4 * len(odd) and even.count(0) < 0.1 * len(even):
            return Encoding("utf-16-le", 0)
        if even.count(0) > 0.4 * len(even) and odd.count(0) < 0.1 * len(odd):
            return Encoding("utf-16-be", 0)
    text = head.replace(b"\0", b"")
    controls = len(text) - len(text.translate(None, _CONTROLS))
    if head and (not text or controls > 0.02 * len(text)):
        raise _binary(file, ContentCode.BINARY)
    try:
        codecs.getincrementaldecoder("utf-8")().decode(text)
        return Encoding("utf-8", 0)
    except UnicodeDecodeError:
        pass
    if sum(text.count(c) for c in range(128, 256)) > 0.3 * len(text):
        raise _binary(file, ContentCode.BINARY)
    return Encoding("cp1252", 0)


def _binary(file: str, what: ContentCode) -> Refusal:
    return Refusal(file, TableRefused.NO_TEXT, what=say(what))


class TextNotes(Struct):
    """What had to be mended in the bytes of a file."""

    nul_bytes: int = 0
    undecodable: int = 0
    unended: bool = False
    cut_line: int = 0
    cut_short: bool = False
    bytes_read: int = field(default=0)


class Block(NamedTuple):
    """Whole lines of UTF-8 text, each ended by a line feed, and the 1-based number of the first."""

    text: bytes
    line: int


def blocks(
    source: Source, encoding: Encoding, notes: TextNotes, *, size: int = PIECE_BYTES, quoted_breaks: bool = False
) -> Iterator[Block]:
    """Read a file as blocks of whole lines.

    Parameters
    ----------
    quoted_breaks : bool
        Line ends inside quotes do not end a block.

    Raises
    ------
    Refusal
        If a line never ends.
    """
    size = size if source.packed else max(1, min(size, source.size))
    reader = source.open()
    try:
        for block in _blocks(reader, source.name, encoding, notes, size, quoted_breaks):
            yield block._replace(text=_as_utf8(block.text))
    finally:
        notes.cut_short |= reader.cut_short
        reader.close()


def _blocks(
    reader: Reader, file: str, encoding: Encoding, notes: TextNotes, size: int, quoted_breaks: bool
) -> Iterator[Block]:
    decoder = None if encoding.name == "utf-8" else codecs.getincrementaldecoder(encoding.name)(errors="replace")
    mark, rest, line, held = encoding.mark, b"", 1, b""
    buffer = bytearray(size)  # one for all: fresh memory takes longer to get than to fill
    plain = decoder is None and not quoted_breaks
    while True:
        length = reader.fill(buffer)
        ended = not length
        notes.bytes_read = reader.position()
        if plain and length and not (mark or held or len(rest) > size) and _tidy(buffer, length):
            cut = buffer.rfind(b"\n", 0, length) + 1
            block, rest = b"".join((rest, memoryview(buffer)[:cut])), bytes(memoryview(buffer)[cut:length])
            yield Block(block, line)
            line += _line_ends(block)
            continue
        data = bytes(memoryview(buffer)[:length])
        if mark and data:
            data, mark = data[mark:], 0
        if decoder is not None:
            text = decoder.decode(data, final=ended)
            notes.undecodable += text.count("\ufffd")
            data = text.encode("utf-8", "replace")
        if b"\0" in data:  # far quicker than to count what is hardly ever there
            notes.nul_bytes += data.count(0)
            data = data.replace(b"\0", b"")
        data, held = held + data if held else data, b""
        if not ended and data.endswith(b"\r"):
            data, held = data[:-1], b"\r"  # its line feed may come with the next read
        if b"\r" in data:
            data = data.replace(b"\r\n", b"\n")
            if b"\r" in data:
                data = data.replace(b"\r", b"\n")
        if len(rest) + len(data) > LONGEST_LINE:  # else no line is
            _refuse_endless(rest + data, file, line)
        if ended:
            data = (rest + data).replace(b"\x1a", b"")  # the end-of-text mark of old systems
            if data.strip():
                notes.unended = not data.endswith(b"\n")
                yield Block(data + b"\n" if notes.unended else data, line)
            return
        cut = data.rfind(b"\n") + 1
        block, rest = b"".join((rest, memoryview(data)[:cut])), data[cut:] if cut else rest + data
        if not cut:
            continue
        if quoted_breaks and block.count(b'"') % 2:
            cut = _even_cut(block, len(block))
            block, rest = block[:cut], block[cut:] + rest
        if block:
            yield Block(block, line)
            line += _line_ends(block)


def _as_utf8(text: bytes) -> bytes:
    """Text as it is, or, where bytes further on are no UTF-8 after all, read as Western European."""
    try:
        if not text.isascii():
            text.decode()
    except UnicodeDecodeError:
        return text.decode("cp1252", "replace").encode()
    return text


def _tidy(buffer: bytearray, length: int) -> bool:
    """Whether some bytes hold the end of a line and nothing to mend."""
    return not any(buffer.find(b, 0, length) >= 0 for b in (0, 13)) and buffer.rfind(b"\n", 0, length) >= 0


def _line_ends(text: bytes) -> int:
    """How many lines end in a text; in pieces that stay in the processor's cache."""
    raw = np.frombuffer(text, np.uint8)
    return sum(int(np.count_nonzero(raw[at : at + 2**18] == 10)) for at in range(0, raw.size, 2**18))


def _refuse_endless(data: bytes, file: str, line: int) -> None:
    for n, text in enumerate(data.split(b"\n"), line):
        if len(text) > LONGEST_LINE:
            raise Refusal(file, TableRefused.LINE_WITHOUT_END, line=n, mib=LONGEST_LINE // 2**20)


def _even_cut(data: bytes, cut: int) -> int:
    """Find the last line end with an even number of quotes before it; the very last where none is near."""
    at, odd = cut, True
    for _ in range(64):
        before = data.rfind(b"\n", 0, at - 1) + 1
        odd ^= bool(data.count(b'"', before, at) % 2)
        at = before
        if not odd or not at:
            break
    return at if at and not odd else cut


def head(source: Source, size: int = 512 * 1024) -> tuple[str, Encoding, bool]:
    """Return the first lines of a file as text, the encoding, and whether that was the whole file.

    Raises
    ------
    Refusal
        If there is nothing, or no text.
    """
    reader = source.open()
    try:
        first = reader.read(size)
        while len(first) < size and (more := reader.read(size - len(first))):
            first += more
        whole = not reader.read(1)
    finally:
        reader.close()
    if not first.strip(b"\0\r\n\t \x1a\xef\xbb\xbf\xff\xfe"):
        raise Refusal(source.name, TableRefused.EMPTY)
    if source.packed and (inner := packing(first)):
        raise Refusal(source.name, TableRefused.ARCHIVE_IN_ARCHIVE, packing=inner)
    encoding = detect(first, source.name)
    text = codecs.getincrementaldecoder(encoding.name)(errors="replace").decode(first[encoding.mark :], final=whole)
    text = text.replace("\0", "")
    text = re.sub(r"\r\n?", "\n", text) if "\r" in text else text
    if whole:
        text = text.replace("\x1a", "")
    elif "\n" in text:
        text = text[: text.rfind("\n") + 1]
    return text, encoding, whole
