"""Where bytes come from: a file, standard input or an archive, opened as often as needed, never without bound."""

from __future__ import annotations

import gzip
import hashlib
import io
import lzma
import os
import stat
import tempfile
import zipfile
import zlib
from pathlib import Path
from typing import IO, BinaryIO, cast

from analyser.core.findings import Finding, say
from importers.refusal import Refusal
from importers.table.codes import PathCode, TableRefused
from importers.table.prefetch import Started

MAX_RATIO = 200
"""Expanded bytes allowed for each compressed byte, once past :data:`FREE_EXPANSION`."""
FREE_EXPANSION = 256 * 2**20
"""Expanded bytes allowed whatever the ratio: telemetry of constant values compresses very well."""

_MAGIC = (
    (b"\x1f\x8b", "gzip"), (b"\x28\xb5\x2f\xfd", "zstd"), (b"BZh", "bzip2"), (b"\xfd7zXZ\x00", "xz"),
    (b"PK\x03\x04", "zip"), (b"PK\x05\x06", "zip"),
)  # fmt: skip
_TEXT_SUFFIXES = (".csv", ".tsv", ".txt", ".log", ".dat", ".asc")


PIECE_BYTES = 8 * 2**20
"""Files are read in pieces of this size."""
MOST_BYTES = 8 * 2**30
"""Standard input that gives more than this never ends, as far as a log is concerned."""


def shown(path: Path | str) -> str:
    """A path as it can be shown and stored: a name may hold a line break, or bytes that are no UTF-8."""
    return " ".join(os.fsencode(path).decode("utf-8", "replace").splitlines())


def no_file(path: Path) -> Finding | None:
    """What a path is, if it is no plain file; None for one."""
    try:
        mode = path.stat().st_mode
    except FileNotFoundError:
        return say(PathCode.LOST_LINK if path.is_symlink() else PathCode.MISSING)
    except (OSError, ValueError) as error:  # too long a name, a loop of links, a name with a zero byte
        return say(PathCode.NOT_FOLLOWED, why=str(getattr(error, "strerror", None) or error))
    kinds = {stat.S_IFDIR: PathCode.FOLDER, stat.S_IFIFO: PathCode.PIPE, stat.S_IFSOCK: PathCode.SOCKET}
    return None if stat.S_ISREG(mode) else say(kinds.get(stat.S_IFMT(mode), PathCode.DEVICE))


class Source:
    """One input, readable from its start any number of times.

    Parameters
    ----------
    source : Path or binary file
        A stream that cannot seek (standard input) is first copied to a temporary file.
    name : str
        What to call it in messages; the path where empty.
    member : str
        Which file of a zip archive to read, where it holds several.

    Raises
    ------
    Refusal
        If the path is no readable file.
    """

    def __init__(self, source: Path | BinaryIO, name: str = "", member: str = "") -> None:
        self.member = member
        self._content = ""
        self._ahead: Started[str] | None = None
        self.stream: BinaryIO | None = None
        self.path: Path | None = None
        if isinstance(source, Path):
            self.path, self.name = source, name or shown(source)
            if found := no_file(source):
                raise Refusal(self.name, TableRefused.NO_FILE, what=found, pipe=found.code == PathCode.PIPE)
            self.size = source.stat().st_size
        else:
            self.name = name or str(getattr(source, "name", "") or "<stream>")
            self.stream = source if source.seekable() else _spool(source)
            self.size = self.stream.seek(0, io.SEEK_END)

    def raw(self) -> BinaryIO:
        """Open the bytes as they are stored, at their start."""
        if self.path is not None:
            try:
                return self.path.open("rb", buffering=0)
            except OSError as error:
                raise Refusal(self.name, TableRefused.CANNOT_OPEN, why=error.strerror) from None
        assert self.stream is not None
        self.stream.seek(0)
        return cast(BinaryIO, _Borrowed(self.stream))

    def stored_sha256(self) -> str:
        """SHA-256 of the stored bytes (FIPS 180-4), hexadecimal."""
        with self.raw() as raw:
            return hashlib.file_digest(cast(IO[bytes], raw), "sha256").hexdigest()  # type: ignore[arg-type]

    def content_sha256(self) -> str:
        """SHA-256 of the content, hexadecimal: the same for a log and any archive of it. Worked out once.

        Raises
        ------
        Refusal
            If an archive can't be expanded, or holds several files and none is named.
        """
        if not self._content:
            self._content = self._ahead.result() if self._ahead else self._digest()
            self._ahead = None
        return self._content

    @property
    def small(self) -> bool:
        """Whether it is read in one piece: no thread is worth its while."""
        return self.size <= PIECE_BYTES and not self.packed

    def hash_ahead(self) -> None:
        """Begin to work out the hash of the content beside whatever comes next; a stream has but one place."""
        if self.path is None or self.small:
            self.content_sha256()
        elif not self._content and self._ahead is None:
            self._ahead = Started(self._digest)

    def __getstate__(self) -> dict[str, object]:
        return {**self.__dict__, "_ahead": None}

    def _digest(self) -> str:
        reader = self.open()
        digest = hashlib.sha256()
        try:
            while data := reader.read(2**20):
                digest.update(data)
        finally:
            reader.close()
        return digest.hexdigest()

    @property
    def packed(self) -> bool:
        """Whether the stored bytes are an archive."""
        with self.raw() as raw:
            return packing(raw.read(6)) != ""

    def open(self) -> Reader:
        """Open the bytes expanded, at their start."""
        raw = self.raw()
        how = packing(raw.read(6))
        raw.seek(0)
        if how == "gzip":
            return Reader(self, raw, cast(BinaryIO, gzip.GzipFile(fileobj=raw)), packed=True)
        if how == "zstd":
            import pyarrow as pa

            return Reader(self, raw, cast(BinaryIO, pa.CompressedInputStream(pa.PythonFile(raw), "zstd")), packed=True)
        if how == "bzip2":
            import bz2

            return Reader(self, raw, cast(BinaryIO, bz2.BZ2File(raw)), packed=True)
        if how == "xz":
            return Reader(self, raw, cast(BinaryIO, lzma.LZMAFile(raw)), packed=True)
        if how == "zip":
            return Reader(self, raw, self._zip_member(raw), packed=True)
        return Reader(self, raw, raw, packed=False)

    def _zip_member(self, raw: BinaryIO) -> BinaryIO:
        try:
            archive = zipfile.ZipFile(raw)
            names = [n for n in archive.namelist() if n and not n.endswith("/") and not n.startswith("__MACOSX")]
            if {"[Content_Types].xml", "mimetype"} & set(names):
                raise Refusal(self.name, TableRefused.OFFICE)
            texts = [n for n in names if n.lower().endswith(_TEXT_SUFFIXES)] or names
            chosen = [n for n in names if n == self.member] or texts
            if len(chosen) != 1:
                raise Refusal(self.name, TableRefused.ARCHIVE_OF_SEVERAL, count=len(chosen), names=tuple(chosen[:6]))
            return cast(BinaryIO, archive.open(chosen[0]))
        except (zipfile.BadZipFile, NotImplementedError, RuntimeError, OSError, ValueError) as error:
            raise Refusal(self.name, TableRefused.ARCHIVE_UNREADABLE, why=str(error)) from None


def packing(start: bytes) -> str:
    """How bytes that begin so are compressed; '' where they are not."""
    return next((how for magic, how in _MAGIC if start.startswith(magic)), "")


class Reader:
    """Expanded bytes with a watch on how many there are."""

    def __init__(self, source: Source, raw: BinaryIO, inner: BinaryIO, *, packed: bool) -> None:
        self._source, self._raw, self._inner, self._packed = source, raw, inner, packed
        self._given = 0
        self.cut_short = False

    def read(self, size: int) -> bytes:
        """Up to ``size`` bytes; empty at the end. A damaged archive ends where it can still be read.

        Raises
        ------
        Refusal
            If a compressed file expands beyond all telemetry, or holds nothing readable.
        """
        if not self._packed:
            data = self._take(size)
        else:  # in small steps, so that damage costs only what lies behind it
            parts: list[bytes] = []
            while size > 0 and not self.cut_short and (part := self._take(min(size, 2**16))):
                parts.append(part)
                size -= len(part)
            data = b"".join(parts)
        if self._packed and self._given > max(FREE_EXPANSION, MAX_RATIO * self._source.size):
            raise Refusal(self._source.name, TableRefused.EXPANDS_WITHOUT_END, times=MAX_RATIO)
        return data

    def fill(self, buffer: bytearray) -> int:
        """Read into a buffer from its start, and tell how many bytes; 0 at the end. Else like :meth:`read`."""
        if self._packed:
            data = self.read(len(buffer))
            buffer[: len(data)] = data
            return len(data)
        try:
            return cast(io.RawIOBase, self._inner).readinto(buffer) or 0
        except OSError:
            raise Refusal(self._source.name, TableRefused.UNREADABLE) from None

    def _take(self, size: int) -> bytes:
        """Read once, or note that there is no more to be had."""
        once = getattr(self._inner, "read1", self._inner.read) if self._packed else self._inner.read
        try:
            data = bytes(once(size))
        except (EOFError, OSError, zlib.error, lzma.LZMAError, zipfile.BadZipFile, ValueError, NotImplementedError):
            if not self._packed or self._given == 0:
                raise Refusal(self._source.name, TableRefused.UNREADABLE) from None
            self.cut_short = True
            return b""
        self._given += len(data)
        return data

    def position(self) -> int:
        """Stored bytes consumed so far."""
        try:
            return self._raw.tell()
        except ValueError:
            return self._source.size

    def close(self) -> None:
        """Close what was opened; a borrowed stream stays open."""
        if self._inner is not self._raw:
            self._inner.close()
        self._raw.close()


class _Borrowed(io.RawIOBase):
    """A caller's stream that closing does not close."""

    def __init__(self, stream: BinaryIO) -> None:
        self._stream = stream

    def readable(self) -> bool:
        return True

    def seekable(self) -> bool:
        return True

    def readinto(self, buffer: bytearray | memoryview) -> int:  # type: ignore[override]
        data = self._stream.read(len(buffer))
        buffer[: len(data)] = data
        return len(data)

    def seek(self, offset: int, whence: int = io.SEEK_SET) -> int:
        return self._stream.seek(offset, whence)

    def tell(self) -> int:
        return self._stream.tell()


def _spool(stream: BinaryIO) -> BinaryIO:
    spool = cast(BinaryIO, tempfile.SpooledTemporaryFile(max_size=64 * 2**20))  # noqa: SIM115 - lives as long as the plan
    copy(stream, spool, str(getattr(stream, "name", "") or "<stream>"))
    spool.seek(0)
    return spool


def copy(stream: BinaryIO, into: BinaryIO, name: str) -> None:
    """Copy a stream that may never end.

    Raises
    ------
    Refusal
        If it gives more than any log, or more than there is room for.
    """
    size = 0
    try:
        while data := stream.read(2**20):
            size += len(data)
            if size > MOST_BYTES:
                raise Refusal(name, TableRefused.STREAM_WITHOUT_END, mib=MOST_BYTES // 2**20)
            into.write(data)
    except OSError as error:
        raise Refusal(name, TableRefused.NO_ROOM, mib=size / 2**20, why=str(error.strerror or error)) from None
