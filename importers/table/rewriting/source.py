"""A log as it reads once it is rewritten."""

from __future__ import annotations

import io
import re
from typing import BinaryIO, cast

from analyser.core.findings import Finding
from importers.refusal import Refusal
from importers.table.codes import TableRefused
from importers.table.source import Reader, Source
from importers.table.text import Encoding, detect

MOST_BYTES = 128 * 2**20
"""A file that must be rewritten whole is held in memory: one that is larger is refused."""


class Rewritten(Source):
    """A file as a plain table; its name and the hash of its content are those of the file itself.

    ``told`` is what was done to it, one thing after the other.
    """

    def __init__(self, origin: Source, text: str, told: Finding) -> None:
        super().__init__(cast(BinaryIO, io.BytesIO(text.encode())), origin.name, origin.member)
        self.origin: Source = origin
        self.told: tuple[Finding, ...] = (*(origin.told if isinstance(origin, Rewritten) else ()), told)

    @property
    def text(self) -> str:
        """All of it."""
        return cast(io.BytesIO, self.stream).getvalue().decode()

    def stored_sha256(self) -> str:
        """SHA-256 of the stored bytes of the file itself."""
        return self.origin.stored_sha256()

    def _digest(self) -> str:
        return self.origin.content_sha256()

    def __getstate__(self) -> dict[str, object]:
        return {**super().__getstate__(), "stream": cast(io.BytesIO, self.stream).getvalue()}

    def __setstate__(self, state: dict[str, object]) -> None:
        self.__dict__.update(state)
        self.stream = cast(BinaryIO, io.BytesIO(cast(bytes, state["stream"])))


def whole_text(origin: Source) -> str:
    """Read all text of a log.

    Raises
    ------
    Refusal
        If it is larger than :data:`MOST_BYTES`.
    """
    reader: Reader = origin.open()
    try:
        data = reader.read(MOST_BYTES + 1)
        while len(data) <= MOST_BYTES and (more := reader.read(MOST_BYTES + 1 - len(data))):
            data += more
    finally:
        reader.close()
    if len(data) > MOST_BYTES:
        raise Refusal(origin.name, TableRefused.TOO_LARGE_TO_REWRITE, mib=MOST_BYTES // 2**20)
    encoding: Encoding = detect(data[: 512 * 1024], origin.name)
    text = data[encoding.mark :].decode(encoding.name, "replace").replace("\0", "").replace("\x1a", "")
    return re.sub(r"\r\n?", "\n", text)
