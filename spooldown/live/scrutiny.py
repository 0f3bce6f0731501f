"""What the bytes of a stream look like: garbage, doubled lines, lines that never end. It reads no meaning into them."""

from __future__ import annotations

from typing import Any

import numpy as np
from msgspec import Struct, field

_TEXT = bytes(b for b in range(256) if b in (9, 10, 13, 27) or 32 <= b < 127 or b >= 0x80)
"""What may be text: printable ASCII, tab, line ends, escape, and bytes of other encodings."""
GARBAGE_SHARE = 0.05
"""More bytes than this that are no text: common practice, no source; a line of text has none."""
STRANGE_SHARE = 0.35
"""More bytes than this beyond ASCII: text of any Latin language has fewer, noise of a wrong rate about half."""
LEAST_BYTES = 64
NO_END_BYTES = 4 * 2**10
"""So much without a line end and nearly without digits is no row: a port read at half its speed gives letters."""
DIGITS_SHARE = 0.1
LONGEST_LINE = 64 * 2**10
_SHORT = 8
"""A line shorter than this may well come twice."""


class Scrutiny(Struct):
    """Looks at a stream chunk by chunk, in memory that does not grow.

    Attributes
    ----------
    garbage : int
        Bytes that came in chunks which are no text.
    doubled : int
        Lines that came twice in a row.
    unended : int
        Times that so much came without a line end that it is no line.
    """

    garbage: int = 0
    doubled: int = 0
    unended: int = 0
    _sample: bytes = b""
    _rest: bytes = b""
    _last: bytes = b""
    _told: tuple[int, int, int] = (0, 0, 0)
    _window: bytearray = field(default_factory=bytearray)

    def look(self, data: bytes) -> None:
        """Look at a chunk."""
        self._window += data
        if len(self._window) >= LEAST_BYTES:
            self._judge(bytes(self._window))
            self._window.clear()
        lines = (self._rest + data).split(b"\n")
        self._rest = lines.pop()
        if len(self._rest) > LONGEST_LINE:
            self.unended += 1
            self._rest = b""
        elif len(self._rest) > NO_END_BYTES and _no_numbers(self._rest):
            self.garbage += len(self._rest)
            self._sample, self._rest = self._rest[:12], b""
        if lines:
            row = np.empty(len(lines) + 1, object)
            row[0], row[1:] = self._last, lines
            same = np.asarray(row[1:] == row[:-1], bool)
            if same.any():
                long = np.fromiter(map(len, lines), np.intp, len(lines)) >= _SHORT
                self.doubled += int((same & long).sum())
            self._last = lines[-1]

    def broken(self) -> None:
        """Say that a hole is here."""
        self._rest = self._last = b""

    def news(self) -> list[tuple[str, dict[str, Any]]]:
        """What has come to light since the last time, as events with their values."""
        now = (self.garbage, self.doubled, self.unended)
        garbage, doubled, unended = (a - b for a, b in zip(now, self._told, strict=True))
        self._told = now
        out: list[tuple[str, dict[str, Any]]] = []
        if garbage:
            out.append(("garbage", {"n": garbage, "sample": self._sample.hex(" ")}))
        if doubled:
            out.append(("doubled", {"n": doubled}))
        if unended:
            out.append(("unended", {"n": unended}))
        return out

    def _judge(self, data: bytes) -> None:
        values = np.frombuffer(data, np.uint8)
        no_text = len(data.translate(None, _TEXT)) / len(data)
        wide = bool((values[::2] == 0).all()) != bool((values[1::2] == 0).all())  # UTF-16 of a Latin language
        strange = float((values >= 0x80).mean())
        if wide or (no_text <= GARBAGE_SHARE and (strange <= STRANGE_SHARE or _is_utf8(data))):
            return
        self.garbage += len(data)
        self._sample = data[:12]


def _no_numbers(data: bytes) -> bool:
    digits = len(data) - len(data.translate(None, b"0123456789"))
    return b"\r" not in data and digits < DIGITS_SHARE * len(data)


def _is_utf8(data: bytes) -> bool:
    try:
        data.decode()
    except UnicodeDecodeError as error:
        return error.start > len(data) - 4  # a letter cut at the end of the chunk
    return True
