"""Results kept in the logbook's cache: each under the digest of everything it depends on, made again when in doubt.

A file holds that digest, a checksum of what follows, and the result: a kept result that is not what was written counts
as none. A result is MessagePack, packed as a frame of Zstandard (RFC 8878); what stands before it is a frame that other
programs skip (section 3.1.2).
"""

from __future__ import annotations

import os
import re
import zlib
from collections.abc import Collection
from contextlib import suppress
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from spooldown.logbook.codec import from_bytes
from spooldown.logbook.plain import below, names_in, plain

if TYPE_CHECKING:
    import pyarrow as pa

T = TypeVar("T")

ENDING = ".json.zst"
"""Ending of a kept result's file, from when it was JSON: under another, all that was kept before would stay behind."""
BRIEF = ".brief"
"""What a brief's file has behind the flight's id."""
SEASON = "season"
"""Folder in the cache for what is said over flights."""
_KEY_AT = 4 + 4 + 8 + 1
"""The key stands behind the mark, the length and the checksum."""
_SKIPPED = bytes.fromhex("502a4d18")
"""A frame to be skipped begins so; four bytes with the length of the rest follow."""
_EARLIER = bytes.fromhex("28b52ffd")
"""A packed frame: an earlier version's files begin with one."""


@cache
def _codec() -> pa.Codec:
    import pyarrow as pa

    return pa.Codec("zstd")


def read(folder: Path, name: str) -> tuple[str, bytes]:
    """Key of a kept result, and the result.

    Raises
    ------
    OSError, ValueError
        If it is not there or does not read.
    """
    key, size, frame = _opened(folder, name)
    return key, _codec().decompress(frame, size, asbytes=True)


def _opened(folder: Path, name: str) -> tuple[str, int, memoryview]:
    """Key of a kept result, its size, and the result packed."""
    data = memoryview(plain(folder / f"{name}{ENDING}").read_bytes())
    end = 8 + int.from_bytes(data[4:8], "little")
    told, _, rest = bytes(data[8:end]).decode().partition(" ")
    if data[:4] != _SKIPPED or told != _checksum(rest.encode(), data[end:]):
        raise ValueError(f"the kept result {name} is not what was written")
    key, size, *_ = rest.split()  # an earlier version wrote sizes of several parts
    return key, int(size), data[end:]


def _checksum(told: bytes, body: bytes | memoryview) -> str:
    return f"{zlib.crc32(body, zlib.crc32(told)):08x}"


def has(folder: Path, name: str, key: str) -> bool:
    """Whether a result is kept under this key; whether it reads is another matter."""
    try:
        with plain(folder / f"{name}{ENDING}").open("rb") as file:
            return file.read(_KEY_AT + len(key))[_KEY_AT:] == key.encode()
    except OSError:
        return False


def load(folder: Path, name: str, key: str, kind: type[T]) -> T | None:
    """A kept result; ``None`` where there is none under this key."""
    try:
        found, size, frame = _opened(folder, name)
        return from_bytes(_codec().decompress(frame, size, asbytes=True), kind) if found == key else None
    except Exception:  # a cache that does not read is no cache: whatever is wrong with it, the result is made again
        return None


def last(folder: Path, name: str, kind: type[T]) -> T | None:
    """What was kept last, under whatever key; ``None`` where nothing is."""
    try:
        return from_bytes(read(folder, name)[1], kind)
    except Exception:  # a kept result that no longer reads is worked out again elsewhere
        return None


def write(folder: Path, name: str, key: str, data: bytes) -> None:
    """Write a result to be kept, whole or not at all.

    Raises
    ------
    OSError
        If it cannot be written; nothing half written is left.
    """
    body, rest = _codec().compress(data, asbytes=True), f"{key} {len(data)}".encode()
    told = f"{_checksum(rest, body)} ".encode() + rest
    path = folder / f"{name}{ENDING}"
    part = path.with_name(f"{path.name}.{os.getpid()}.part")
    try:
        folder.mkdir(exist_ok=True)  # never the logbook's own, which may have gone
        part.write_bytes(_SKIPPED + len(told).to_bytes(4, "little") + told + body)
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
    stray = {p for name in names_in(folder) if name not in live and (p := folder / name).is_file()}
    seasons = folder / SEASON
    return stray | {p for n in names_in(seasons) if not n.endswith(ENDING) and (p := seasons / n).is_file()}


def damaged(folder: Path) -> list[Path]:
    """Kept results, those over flights among them, that are not what was written.

    Those of earlier versions count as none and are made again, and nothing is damaged.

    Raises
    ------
    FolderClosed
        If one of their folders may not be looked into.
    """
    out = []
    there, closed = below(folder)
    if closed:
        raise closed[0]
    for path in sorted(path for path in there if path.name.endswith(ENDING)):
        try:
            with plain(path).open("rb") as file:
                earlier = file.read(4) == _EARLIER
            key = "" if earlier else _opened(path.parent, path.name[: -len(ENDING)])[0]
            sound = earlier or re.fullmatch(r"[0-9a-f]{64}", key) is not None
        except Exception:  # whatever is wrong with it, it does not read
            sound = False
        if not sound:
            out.append(path)
    return out
