"""Whether the pages still are what a build would make, told from names, sizes and times of files, and a few texts.

A build remembers the state of everything it read, as it was when it began, and of what it wrote. Where that state is
the same again, there is nothing to do, and nothing of the analysis needs to be loaded to know it.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterable
from contextlib import suppress
from datetime import datetime
from pathlib import Path

import spooldown
from spooldown.logbook.book import Logbook
from spooldown.logbook.plain import files_in, plain

FILE = ".built.json"
_PACKAGES = ("analyser", "reports", "spooldown")
_OWN = ("catalogue.sqlite", "flights")
_TEXTS = ("register", "limits")
"""Folders of small files that a person may edit: of two changes within one tick of a disk's or a wrong clock, the
second would not show in their times."""


def counts_of_last(book: Logbook, out: Path, read: str = "") -> dict[str, int] | None:
    """What the last build of these pages counted, where nothing has changed since; None otherwise.

    Parameters
    ----------
    read : str
        From :func:`state_read`, where it was asked already.
    """
    try:
        kept = json.loads(plain(out / FILE).read_text("utf-8"))
        if kept["read"] == (read or state_read(book)) and kept["written"] == _state_written(out):
            return {"written": 0, "kept": int(kept["pages"]), "removed": 0}
    except (OSError, ValueError, KeyError, TypeError):
        pass
    return None


def remember(read: str, out: Path, pages: int) -> None:
    """Remember that these pages are up to date; where that cannot be written, the next build looks again.

    Parameters
    ----------
    read : str
        From :func:`state_read` before the build: what came meanwhile is for the next one.
    """
    from spooldown.logbook.store import write_whole

    with suppress(OSError):
        if os.path.lexists(out / FILE):
            plain(out / FILE)
        write_whole(out / FILE, json.dumps({"read": read, "written": _state_written(out), "pages": pages}).encode())


def state_read(book: Logbook) -> str:
    """Digest of the state of all that a build reads: the program, the logbook, for whom and on which day."""
    from reports.words.reader import reader

    here = Path(spooldown.__file__ or "").parent.parent
    places = [*(book.folder / name for name in _OWN), *(here / name for name in _PACKAGES)]
    # Service counts to today.
    more = hashlib.sha256(f"{reader().mark} {datetime.now().astimezone().date()}".encode())
    for folder in _TEXTS:
        for path in files_in(book.folder / folder, ""):
            with suppress(OSError):
                more.update(f"\n{folder}/{path.name}\n".encode("utf-8", "surrogateescape") + plain(path).read_bytes())
    return _state(places, more.hexdigest())


def _state_written(out: Path) -> str:
    """Digest of the state of the pages: of the folders that hold thousands, when something in them was last replaced.

    A build replaces files and never writes into them, and leaves a page that is there as it is; whether each is what
    was written is what `check` looks at.
    """
    digest = hashlib.sha256()
    with suppress(OSError), os.scandir(out) as entries:
        for entry in sorted(entries, key=lambda e: e.name):
            if entry.name != FILE:
                digest.update(f"{_line(entry)}\n".encode("utf-8", "surrogateescape"))
    return digest.hexdigest()


def _state(places: Iterable[Path], more: str = "") -> str:
    digest = hashlib.sha256(more.encode())
    for place in places:
        digest.update(f"\n{place.resolve()}\n".encode("utf-8", "surrogateescape"))
        _add(os.fspath(place), digest)
    return digest.hexdigest()


def _add(place: str, digest: hashlib._Hash) -> None:
    """Add a line a file: its name and whatever changes when it is written."""
    try:
        with os.scandir(place) as entries:
            inside = list(entries)
    except NotADirectoryError:
        found = os.stat(place)
        digest.update(f"{found.st_mtime_ns} {found.st_size} {found.st_ino}\n".encode())
        return
    except OSError:
        return
    lines, folders = [], []
    for entry in inside:
        if entry.is_dir(follow_symlinks=False):
            folders.append(entry.path)
        elif entry.name != FILE:
            lines.append(_line(entry))
    lines.sort()
    digest.update("\n".join(lines).encode("utf-8", "surrogateescape"))
    for folder in sorted(folders):
        if not folder.endswith("__pycache__"):
            digest.update(f"\n{folder}\n".encode("utf-8", "surrogateescape"))
            _add(folder, digest)


def _line(entry: os.DirEntry[str]) -> str:
    """A file's or a folder's name, and whatever changes when it is written."""
    try:
        found = entry.stat()
    except OSError:  # a link to nothing, or taken away meanwhile
        return f"{entry.name} -"
    return f"{entry.name} {found.st_mtime_ns} {0 if entry.is_dir() else found.st_size} {found.st_ino}"
