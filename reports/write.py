"""Pages onto the disk: each whole or not at all, and only those that changed."""

from __future__ import annotations

import hashlib
import os
import tempfile
import zlib
from collections.abc import Callable, Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import orjson

MARK_CHARS = 24
MANIFEST = ".pages.json"
OWN = ""
"""Under which the manifest keeps its own checksum."""
UNDONE = ".pages.undone"
"""Paths of pages that a build began to replace, one a line: an interrupted build's manifest does not vouch for them."""


def fingerprint(*parts: str | bytes) -> str:
    """Digest of some text."""
    digest = hashlib.sha256()
    for part in parts:
        digest.update(part.encode("utf-8", "surrogatepass") if isinstance(part, str) else part)
        digest.update(b"\0")
    return digest.hexdigest()[:MARK_CHARS]


def write_whole(file: Path, content: str | bytes) -> None:
    """Write a file so that a reader (or a crash) sees either the old one or the new one, never a part."""
    file.parent.mkdir(parents=True, exist_ok=True)
    data = content.encode("utf-8", "replace") if isinstance(content, str) else content
    handle, name = tempfile.mkstemp(prefix=f".{file.name}.", dir=file.parent)
    try:
        with os.fdopen(handle, "wb") as out:
            out.write(data)
        os.chmod(name, 0o644)
        os.replace(name, file)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


@dataclass(frozen=True, slots=True)
class Job:
    """One page to make: its title, its place, how, and a digest of its inputs (``None``: of its own text)."""

    title: str
    path: str
    make: Callable[[], str]
    mark: str | None = None


class Folder:
    """A folder of pages with a manifest of what each was made from.

    Pages already there with the same fingerprint are left alone; pages that the manifest knows but nobody asked for
    again are removed by :meth:`finish`. Files the manifest does not know are never touched.
    """

    def __init__(self, root: Path) -> None:
        self.root = root
        self.written = self.kept = self.removed = 0
        self._old = self._read()
        self._new: dict[str, str] = {}

    def holds(self, path: str, mark: str) -> bool:
        """Whether a page is there that was made from this mark."""
        return self._old.get(path, "").startswith(f"{mark} ") and path in self._there

    @cached_property
    def _there(self) -> set[str]:
        """Paths of all files that were there at the first question, in folders that have pages."""
        out: set[str] = set()
        for folder in {path.rpartition("/")[0] for path in self._old}:
            with suppress(OSError):
                within = f"{folder}/" if folder else ""
                out.update(f"{within}{entry.name}" for entry in os.scandir(self.root / folder) if entry.is_file())
        return out

    def unkept(self, marks: Mapping[str, str]) -> list[str]:
        """Leave pages as they are where they were made from the same mark; paths of the others."""
        out = []
        for path, mark in marks.items():
            if (known := self._old.get(path)) is not None and known.startswith(f"{mark} ") and path in self._there:
                self._new[path] = known
            else:
                out.append(path)
        self.kept += len(marks) - len(out)
        return out

    def keeps(self, path: str, mark: str) -> bool:
        """Leave a page as it is where it was made from the same ``mark``; whether it could be."""
        if not self.holds(path, mark):
            return False
        self.kept += 1
        self._new[path] = self._old[path]
        return True

    def put(self, path: str, mark: str, make: Callable[[], str | bytes]) -> Path:
        """Write ``make()`` at ``path`` unless what is there was made from the same ``mark``."""
        file = self.root / path
        if self.keeps(path, mark):
            return file
        content = make()
        content = content.encode("utf-8", "replace") if isinstance(content, str) else content
        if self._old.pop(path, None) is not None:
            # Should this build be interrupted, the manifest must not vouch for a page of the build before. A line
            # says so: the whole manifest written for every page would cost more the longer it is.
            with (self.root / UNDONE).open("a", encoding="utf-8") as undone:
                undone.write(f"{path}\n")
        write_whole(file, content)
        self.written += 1
        self._new[path] = f"{mark} {checksum(content)}"
        return file

    def finish(self) -> None:
        """Remember this build, then remove pages nobody asked for any more."""
        if self._new != self._old or (self.root / UNDONE).exists():
            self._save(self._new)
            (self.root / UNDONE).unlink(missing_ok=True)
        for path in sorted(set(self._old) - set(self._new)):
            file = (self.root / path).resolve()
            if file.is_relative_to(self.root.resolve()) and file.is_file():
                file.unlink()
                self.removed += 1

    def _save(self, marks: dict[str, str]) -> None:
        whole = orjson.dumps({**marks, OWN: checksum(_plain(marks))}, option=orjson.OPT_SORT_KEYS)
        write_whole(self.root / MANIFEST, whole)

    def _read(self) -> dict[str, str]:
        undone = _undone(self.root)
        return {k: v for k, v in (_manifest(self.root) or {}).items() if k not in undone}


def checksum(data: bytes) -> str:
    """Checksum of some bytes, to tell a damaged file from a sound one."""
    return f"{zlib.crc32(data):08x}"


def _plain(marks: dict[str, str]) -> bytes:
    return orjson.dumps(marks, option=orjson.OPT_SORT_KEYS)


def _undone(root: Path) -> set[str]:
    try:
        return set((root / UNDONE).read_text("utf-8", "replace").splitlines())
    except OSError:
        return set()


def _manifest(root: Path) -> dict[str, str] | None:
    """What each page was made from, and its checksum; None where the manifest is not what was written."""
    try:
        found = orjson.loads((root / MANIFEST).read_bytes())
    except (OSError, ValueError):
        return None
    if not isinstance(found, dict):
        return None
    marks = {k: v for k, v in found.items() if isinstance(k, str) and isinstance(v, str)}
    own = marks.pop(OWN, None)
    return marks if own is None or own == checksum(_plain(marks)) else None  # earlier versions wrote none


def damaged(root: Path) -> list[str]:
    """Paths of built pages that are not what was written; the manifest's own name where that is damaged."""
    if not (root / MANIFEST).is_file():
        return []
    marks = _manifest(root)
    if marks is None:
        return [MANIFEST]
    undone, out = _undone(root), []
    for path, mark in sorted(marks.items()):
        told = mark.partition(" ")[2]
        if not told or path in undone:
            continue
        file = (root / path).resolve()
        try:
            sound = file.is_relative_to(root.resolve()) and checksum(file.read_bytes()) == told
        except OSError:
            sound = False
        if not sound:
            out.append(path)
    return out


def undo(root: Path, paths: Iterable[str]) -> None:
    """Say that these pages are to be made again by the next build."""
    with (root / UNDONE).open("a", encoding="utf-8") as file:
        file.writelines(f"{path}\n" for path in paths)
