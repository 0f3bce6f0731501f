"""Results kept in the logbook's cache: each under the digest of everything it depends on, made again when in doubt.

A file holds that digest, a checksum of what follows, and the result: a kept result that is not what was written counts
as none.
"""

from __future__ import annotations

import os
import re
import zlib
from collections.abc import Collection
from contextlib import suppress
from pathlib import Path
from typing import TypeVar

from spooldown.logbook.codec import from_json
from spooldown.logbook.plain import plain

T = TypeVar("T")

ENDING = ".json.zst"
"""Ending of a kept result's file."""
BRIEF = ".brief"
"""What a brief's file has behind the flight's id."""
SEASON = "season"
"""Folder in the cache for what is said over flights."""
KEY_CHARS = 64
LINE_CHARS = KEY_CHARS + 1
"""So long are the lines before a result at most."""


def read(folder: Path, name: str) -> tuple[str, memoryview]:
    """Key and body of a kept result.

    Raises
    ------
    OSError, ValueError
        If it is not there or does not read.
    """
    found, rest = _parted(folder / f"{name}{ENDING}")
    told, body = _first_line(rest)
    if told != _checksum(body):
        raise ValueError(f"the kept result {name} is not what was written")
    return found.decode(), body


def _parted(path: Path) -> tuple[bytes, memoryview]:
    """A kept result's first line, and what follows."""
    import pyarrow as pa

    with pa.input_stream(str(plain(path)), compression="zstd") as stream:
        return _first_line(memoryview(stream.read()))


def _first_line(data: memoryview) -> tuple[bytes, memoryview]:
    """The line that data begins with, and what follows, which may be long and is not copied."""
    line, end, _ = bytes(data[:LINE_CHARS]).partition(b"\n")
    return line, data[len(line) + len(end) :]


def _checksum(body: bytes | memoryview) -> bytes:
    return f"{zlib.crc32(body):08x}".encode()


def has(folder: Path, name: str, key: str) -> bool:
    """Whether a result is kept under this key; whether it reads is another matter."""
    import pyarrow as pa

    try:
        with pa.input_stream(str(plain(folder / f"{name}{ENDING}")), compression="zstd") as stream:
            return bool(stream.read(KEY_CHARS + 1) == f"{key}\n".encode())
    except (OSError, ValueError):
        return False


def load(folder: Path, name: str, key: str, kind: type[T]) -> T | None:
    """A kept result; ``None`` where there is none under this key."""
    try:
        found, body = read(folder, name)
        return from_json(body, kind) if found == key else None
    except Exception:  # a cache that does not read is no cache: whatever is wrong with it, the result is made again
        return None


def last(folder: Path, name: str, kind: type[T]) -> T | None:
    """What was kept last, under whatever key; ``None`` where nothing is."""
    try:
        return from_json(read(folder, name)[1], kind)
    except Exception:  # a kept result that no longer reads is worked out again elsewhere
        return None


def write(folder: Path, name: str, key: str, data: bytes) -> None:
    """Write a result to be kept, whole or not at all.

    Raises
    ------
    OSError
        If it cannot be written; nothing half written is left.
    """
    import pyarrow as pa

    path = folder / f"{name}{ENDING}"
    part = path.with_name(f"{path.name}.{os.getpid()}.part")
    try:
        folder.mkdir(exist_ok=True)  # never the logbook's own, which may have gone
        with pa.output_stream(str(part), compression="zstd") as stream:
            stream.write(key.encode() + b"\n" + _checksum(data) + b"\n")
            stream.write(data)
        os.replace(part, path)
    except OSError:
        with suppress(OSError):
            part.unlink()
        raise


def keep(folder: Path, name: str, key: str, data: bytes) -> bool:
    """Keep a result where that is possible; a logbook on a full disk or a read-only medium is analysed each time."""
    try:
        write(folder, name, key, data)
    except OSError:
        return False
    return True


def names(folder: Path) -> set[str]:
    """Names of everything kept in a folder."""
    try:
        return {name.removesuffix(ENDING) for name in os.listdir(folder) if name.endswith(ENDING)}
    except OSError:
        return set()


def lacking(folder: Path, flight_ids: Collection[str]) -> set[str]:
    """Which of some flights have no result or no brief kept."""
    try:
        there = set(os.listdir(folder))
    except OSError:
        return set(flight_ids)
    return {i for i in flight_ids if f"{i}{ENDING}" not in there or f"{i}{BRIEF}{ENDING}" not in there}


def strays(folder: Path, flight_ids: Collection[str]) -> set[Path]:
    """Kept results of flights that are no more, and temporary files beside them and beside those over flights."""
    live = {f"{flight_id}{what}{ENDING}" for flight_id in flight_ids for what in ("", BRIEF)}
    live.add(f"{SEASON}{ENDING}")  # all seasons in one file, as an earlier version kept them
    stray = {p for p in folder.glob("*") if p.is_file() and p.name not in live}
    return stray | {p for p in (folder / SEASON).glob("*") if p.is_file() and not p.name.endswith(ENDING)}


def damaged(folder: Path) -> list[Path]:
    """Kept results, those over flights among them, that are not what was written.

    Those of earlier versions have no checksum: they count as none and are made again, and nothing is damaged.
    """
    out = []
    for path in sorted(folder.rglob(f"*{ENDING}")):
        try:
            key, rest = _parted(path)
            earlier = bytes(rest[:1]) in (b"{", b"[")
            if not re.fullmatch(rb"[0-9a-f]{64}", key) or not (earlier or read(path.parent, path.name[: -len(ENDING)])):
                out.append(path)
        except Exception:  # whatever is wrong with it, it does not read
            out.append(path)
    return out
