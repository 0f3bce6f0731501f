"""Pages onto the disk: each whole or not at all, and only those that changed."""

from __future__ import annotations

import hashlib
import os
import tempfile
import zlib
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from functools import cache
from pathlib import Path

import orjson
from msgspec import Struct

MARK_CHARS = 24
MANIFEST = ".pages.txt"
FORMAT = "spooldown pages 2"
EARLIER = ".pages.json"
"""The manifest of earlier versions, whose pages are all made anew."""
OTHERS = "others"
"""Group of the pages whose marks are told one by one."""
UNDONE = ".pages.undone"
"""Paths of pages that a build began to write, one a line: an interrupted build's manifest does not vouch for them."""


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


@contextmanager
def alone(root: Path, *, reading: bool = False) -> Iterator[None]:
    """Wait until no other build writes into a folder of pages, and keep others waiting, where the system can do that.

    Of two builds at once, the manifest of the one that ends last would vouch for pages of the other.

    Parameters
    ----------
    reading : bool
        Whether others may read beside.
    """
    try:
        import fcntl
    except ImportError:  # not on this system
        yield
        return
    if not reading:
        root.mkdir(parents=True, exist_ok=True)
    handle = os.open(root, os.O_RDONLY)
    try:
        with suppress(OSError):  # some shares have no locks
            fcntl.flock(handle, fcntl.LOCK_SH if reading else fcntl.LOCK_EX)
        yield
    finally:
        with suppress(OSError):  # processes that were forked meanwhile hold it, too, as long as they live
            fcntl.flock(handle, fcntl.LOCK_UN)
        os.close(handle)


def write_page(file: Path, content: str | bytes) -> str:
    """Write a page whole, or leave the old one; its checksum."""
    data = content.encode("utf-8", "replace") if isinstance(content, str) else content
    write_whole(file, data)
    return checksum(data)


class Job(Struct, frozen=True):
    """One page to make: its title, its place, how, a digest of its inputs (``None``: of its own text), its group."""

    title: str
    path: str
    make: Callable[[], str]
    mark: str | None = None
    group: str = OTHERS


class _Group(Struct, frozen=True):
    """Some pages of a build: one line of its manifest, taken apart when asked for.

    ``mark`` is a digest of all that any of them is made from, '' where nothing tells that.
    """

    name: str
    mark: str
    count: int
    line: bytes
    """Checksum of the rest, name, mark, count, and by path each page's mark and checksum as JSON."""

    @classmethod
    def of(cls, name: str, mark: str, pages: Mapping[str, str]) -> _Group:
        told = f"{name}\t{mark}\t{len(pages)}\t".encode() + orjson.dumps(pages, option=orjson.OPT_SORT_KEYS)
        return cls(name, mark, len(pages), checksum(told).encode() + b"\t" + told + b"\n")

    @classmethod
    def read(cls, line: bytes) -> _Group:
        """Raises ValueError where it is not what was written."""
        told, name, mark, count = (part.decode() for part in line[:200].split(b"\t", 4)[:4])
        if told != checksum(memoryview(line)[len(told) + 1 : -1]):
            raise ValueError("a line of the manifest is not what was written")
        return cls(name, mark, int(count), line)

    def taken_apart(self) -> dict[str, str]:
        try:
            found = orjson.loads(self.line.split(b"\t", 4)[4])
        except (ValueError, IndexError):
            return {}
        return {k: v for k, v in found.items() if isinstance(v, str)} if isinstance(found, dict) else {}


class Folder:
    """A folder of pages with a manifest of what each was made from.

    Pages already there with the same fingerprint are left alone; pages that the manifest knows but nobody asked for
    again are removed by :meth:`finish`. Files the manifest does not know are never touched.

    Pages may stand in groups with a mark of their own, as a year's flights do: as long as that is the same, and nobody
    put a file into their folders or took one out, none of them is looked at. ``groups`` gives those marks by name: at
    the end, or at once where an earlier build left such groups.
    """

    def __init__(self, root: Path, groups: Callable[[], Mapping[str, str]] = dict) -> None:
        self.root = root
        self.written = self.kept = self.removed = 0
        self._groups = cache(groups)
        self._known, self._folders = _manifest(root) or ({}, {})
        self._begun = undone = _undone(root)
        sure = not undone and all(_changed(root / name) == at for name, at in self._folders.items())
        marked = {name: one.mark for name, one in self._known.items() if sure and one.mark}
        self.whole = frozenset(name for name, mark in marked.items() if mark == self._groups().get(name))
        """Names of the groups that are as they were: nothing of them is to be made."""
        self.kept += sum(self._known[name].count for name in self.whole)
        apart = (one.taken_apart() for name, one in self._known.items() if name not in self.whole)
        self._old = {path: mark for pages in apart for path, mark in pages.items() if path not in undone}
        self._new: dict[str, dict[str, str]] = {OTHERS: {}}
        self._unsettled: set[str] = set()

    def holds(self, path: str, mark: str) -> bool:
        """Whether a page is there that was made from this mark."""
        return self._old.get(path, "").startswith(f"{mark} ") and (self.root / path).is_file()

    def sound(self, path: str, start: str) -> str:
        """Text of a page that is there as it was written, from a mark with this start; '' where there is none."""
        mark, _, told = self._old.get(path, "").partition(" ")
        if not mark.startswith(start):
            return ""
        try:
            data = _page(self.root / path)
            return data.decode("utf-8") if checksum(data) == told else ""
        except (OSError, ValueError):
            return ""

    def keeps(self, path: str, mark: str, group: str = OTHERS) -> bool:
        """Leave a page as it is where it was made from the same ``mark``; whether it could be."""
        if not self.holds(path, mark):
            return False
        self.kept += 1
        self._new.setdefault(group, {})[path] = self._old[path]
        return True

    def put(
        self, path: str, mark: str, make: Callable[[], str | bytes], group: str = OTHERS, *, settled: bool = True
    ) -> Path:
        """Write ``make()`` at ``path`` unless what is there was made from the same ``mark``.

        Parameters
        ----------
        settled : bool
            Whether the group's mark tells of this page; where it does not, the next build looks at each of the group.
        """
        file = self.root / path
        if not settled:
            self._unsettled.add(group)
        if self.keeps(path, mark, group):
            return file
        content = make()
        self.replacing([path])
        self.wrote(path, mark, write_page(file, content), group)
        return file

    def replacing(self, paths: Iterable[str]) -> None:
        """Tell, before it is done, that these pages will be written or removed, here or by other processes.

        Should this build be interrupted, the manifest must not vouch for a page of the build before, and a page whose
        flight is then taken out is to go. A line says so: the whole manifest written for every page would cost more
        the longer it is.
        """
        undo(self.root, paths)

    def wrote(self, path: str, mark: str, told: str, group: str = OTHERS) -> None:
        """Remember a page that was written, with its checksum."""
        self.written += 1
        self._new.setdefault(group, {})[path] = f"{mark} {told}"

    def finish(self) -> None:
        """Remove pages nobody asked for any more, and remember this build."""
        asked = {path for pages in self._new.values() for path in pages}
        gone = sorted((self._old.keys() | self._begun) - asked)
        self.replacing(gone)
        for path in gone:
            file = _place(self.root, path)
            if file and file.is_file():
                file.unlink()
                self.removed += 1
        self._sweep()
        groups, marks = {name: self._known[name] for name in self.whole}, self._groups()
        for name, pages in self._new.items():
            mark = "" if name in self._unsettled else marks.get(name, "")
            groups[name] = _Group.of(name, mark, pages)
        grouped = (path for name, pages in self._new.items() if name in marks for path in pages)
        folders = {*self._folders, *(path.rpartition("/")[0] for path in grouped)}
        changed = {name: at for name in sorted(folders) if (at := _changed(self.root / name))}
        if groups != self._known or changed != self._folders or (self.root / UNDONE).exists():
            head = f"{FORMAT}\t".encode() + orjson.dumps(changed)
            first = checksum(head).encode() + b"\t" + head + b"\n"
            write_whole(self.root / MANIFEST, first + b"".join(groups[name].line for name in sorted(groups)))
            for left in (UNDONE, EARLIER):
                (self.root / left).unlink(missing_ok=True)

    def _sweep(self) -> None:
        """Take away the beginnings of pages that an interrupted build left; no other build is at work here."""
        begun: dict[Path, set[str]] = {}
        for path in self._begun:
            if file := _place(self.root, path):
                begun.setdefault(file.parent, set()).add(f".{file.name}")
        for folder, names in begun.items():
            with suppress(OSError):
                for entry in os.scandir(folder):
                    if entry.name.rpartition(".")[0] in names:
                        os.unlink(entry)


def checksum(data: bytes | memoryview) -> str:
    """Checksum of some bytes, to tell a damaged file from a sound one."""
    return f"{zlib.crc32(data):08x}"


def _changed(folder: Path) -> int:
    """When a file was last put into a folder or taken out, nanoseconds; 0 where there is none."""
    try:
        return folder.stat().st_mtime_ns
    except OSError:
        return 0


def _place(root: Path, path: str) -> Path | None:
    """A page's file, links followed as far as they lead; None where that is outside of the folder."""
    file = Path(os.path.realpath(root / path))
    return file if file.is_relative_to(os.path.realpath(root)) else None


def _page(path: Path) -> bytes:
    """A page's bytes; none where something else, as a pipe, is in its place."""
    return path.read_bytes() if path.is_file() else b""


def _undone(root: Path) -> set[str]:
    try:
        return set(_page(root / UNDONE).decode("utf-8", "replace").splitlines())
    except OSError:
        return set()


def _manifest(root: Path) -> tuple[dict[str, _Group], dict[str, int]] | None:
    """Groups of pages by name, and when their folders last changed; None where the manifest is not what was written."""
    if not (root / MANIFEST).is_file():  # a pipe would be waited for
        return None
    try:
        with (root / MANIFEST).open("rb") as file:
            told, _, rest = file.readline().rstrip(b"\n").partition(b"\t")
            form, _, folders = rest.partition(b"\t")
            if told.decode() != checksum(rest) or form.decode() != FORMAT:
                return None
            when = {name: at for name, at in orjson.loads(folders).items() if isinstance(at, int)}
            return {one.name: one for one in map(_Group.read, file)}, when
    except (OSError, ValueError, AttributeError):
        return None


def built(root: Path) -> frozenset[str]:
    """Paths of all pages of the last build; none where the manifest is not what was written."""
    found = _manifest(root)
    return frozenset(path for group in found[0].values() for path in group.taken_apart()) if found else frozenset()


def damaged(root: Path) -> list[str]:
    """Paths of built pages that are not what was written; the manifest's own name where that is damaged."""
    if not os.path.lexists(root / MANIFEST):
        return []
    with alone(root, reading=True):
        return _unsound(root)


def _unsound(root: Path) -> list[str]:
    found, undone, out = _manifest(root), _undone(root), list[str]()
    if found is None:
        return [MANIFEST] if MANIFEST not in undone else []
    for path, mark in sorted(pair for group in found[0].values() for pair in group.taken_apart().items()):
        if path in undone:
            continue
        file = _place(root, path)
        try:
            sound = file is not None and checksum(_page(file)) == mark.partition(" ")[2]
        except OSError:
            sound = False
        if not sound:
            out.append(path)
    return out


def undo(root: Path, paths: Iterable[str]) -> None:
    """Say that these pages are to be made again by the next build."""
    root.mkdir(parents=True, exist_ok=True)
    if lines := [f"{path}\n" for path in paths]:
        if os.path.lexists(root / UNDONE) and not (root / UNDONE).is_file():
            (root / UNDONE).unlink()  # a pipe or a link in its place says nothing, and would be waited for
        with (root / UNDONE).open("a", encoding="utf-8") as file:
            file.writelines(lines)
