"""Results kept in the logbook's cache: each under the digest of everything it depends on, made again when in doubt.

A file holds that digest, a checksum of what follows, and the result: a kept result that is not what was written counts
as none. A result is one line of JSON or several, each a frame of Zstandard (RFC 8878) of its own that is unpacked when
it is asked for; what stands before them is a frame that other programs skip (section 3.1.2).
"""

from __future__ import annotations

import os
import re
import zlib
from collections.abc import Collection, Sequence
from contextlib import suppress
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from spooldown.logbook.codec import from_json
from spooldown.logbook.plain import below, names_in, plain

if TYPE_CHECKING:
    import pyarrow as pa

T = TypeVar("T")

ENDING = ".json.zst"
"""Ending of a kept result's file."""
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


class Lines:
    """Lines of a kept result, each unpacked when it is asked for.

    Parameters
    ----------
    frames : sequence of memoryview
        Each line packed.
    sizes : sequence of int
        Bytes of each line.
    """

    def __init__(self, frames: Sequence[memoryview], sizes: Sequence[int]) -> None:
        self._frames, self._sizes = frames, sizes

    def __len__(self) -> int:
        return len(self._frames)

    def __getitem__(self, at: int) -> memoryview:
        return memoryview(_codec().decompress(self._frames[at], self._sizes[at]))


@cache
def _codec() -> pa.Codec:
    import pyarrow as pa

    return pa.Codec("zstd")


def read(folder: Path, name: str) -> tuple[str, Lines]:
    """Key and lines of a kept result.

    Raises
    ------
    OSError, ValueError
        If it is not there or does not read.
    """
    data = memoryview(plain(folder / f"{name}{ENDING}").read_bytes())
    end = 8 + int.from_bytes(data[4:8], "little")
    told, _, rest = bytes(data[8:end]).decode().partition(" ")
    if data[:4] != _SKIPPED or told != _checksum(rest.encode(), data[end:]):
        raise ValueError(f"the kept result {name} is not what was written")
    key, *lengths = rest.split()
    frames, sizes = [], []
    for packed, size in zip(map(int, lengths[::2]), map(int, lengths[1::2]), strict=True):
        frames.append(data[end : end + packed])
        sizes.append(size)
        end += packed
    return key, Lines(frames, sizes)


def _checksum(told: bytes, body: bytes | memoryview) -> str:
    return f"{zlib.crc32(body, zlib.crc32(told)):08x}"


def has(folder: Path, name: str, key: str) -> bool:
    """Whether a result is kept under this key; whether it reads is another matter."""
    try:
        with plain(folder / f"{name}{ENDING}").open("rb") as file:
            return file.read(_KEY_AT + len(key))[_KEY_AT:] == key.encode()
    except OSError:
        return False


def lines(folder: Path, name: str, key: str) -> Lines | None:
    """Lines of a kept result; ``None`` where there is none under this key."""
    try:
        found, told = read(folder, name)
    except (OSError, ValueError):
        return None
    return told if found == key else None


def load(folder: Path, name: str, key: str, kind: type[T]) -> T | None:
    """A kept result of one line; ``None`` where there is none under this key."""
    try:
        return None if (found := lines(folder, name, key)) is None else from_json(found[0], kind)
    except Exception:  # a cache that does not read is no cache: whatever is wrong with it, the result is made again
        return None


def last(folder: Path, name: str, kind: type[T]) -> T | None:
    """What was kept last, under whatever key; ``None`` where nothing is."""
    try:
        return from_json(read(folder, name)[1][0], kind)
    except Exception:  # a kept result that no longer reads is worked out again elsewhere
        return None


def write(folder: Path, name: str, key: str, data: bytes) -> None:
    """Write a result to be kept, one line or several, whole or not at all.

    Raises
    ------
    OSError
        If it cannot be written; nothing half written is left.
    """
    each = data.splitlines(keepends=True)
    frames = [_codec().compress(line, asbytes=True) for line in each]
    body = b"".join(frames)
    rest = " ".join([key, *(f"{len(frame)} {len(line)}" for frame, line in zip(frames, each, strict=True))]).encode()
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
            key = "" if earlier else read(path.parent, path.name[: -len(ENDING)])[0]
            sound = earlier or re.fullmatch(r"[0-9a-f]{64}", key) is not None
        except Exception:  # whatever is wrong with it, it does not read
            sound = False
        if not sound:
            out.append(path)
    return out
