"""Whether the pages still are what a build would make, told from names, sizes and times of files alone.

A build remembers the state of everything it read and wrote. Where that state is the same again, there is nothing to do,
and nothing of the analysis needs to be loaded to know it.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import spooldown
from spooldown.logbook.book import Logbook

FILE = ".built.json"
_PACKAGES = ("analyser", "reports", "spooldown")
_OWN = ("catalogue.sqlite", "flights", "register")


def counts_of_last(book: Logbook, out: Path) -> dict[str, int] | None:
    """What the last build of these pages counted, where nothing has changed since; None otherwise."""
    try:
        kept = json.loads((out / FILE).read_text("utf-8"))
        if kept["state"] == _state(book, out):
            return {"written": 0, "kept": int(kept["pages"]), "removed": 0}
    except (OSError, ValueError, KeyError, TypeError):
        pass
    return None


def remember(book: Logbook, out: Path, pages: int) -> None:
    """Remember that these pages are up to date; where that cannot be written, the next build looks again."""
    from spooldown.logbook.store import write_whole

    with suppress(OSError):
        write_whole(out / FILE, json.dumps({"state": _state(book, out), "pages": pages}).encode())


def _state(book: Logbook, out: Path) -> str:
    from reports.words.reader import reader

    digest = hashlib.sha256(reader().mark.encode())  # who the pages are written for
    here = Path(spooldown.__file__ or "").parent.parent
    places = [*(here / name for name in _PACKAGES), *(book.folder / name for name in _OWN), out]
    for place in places:
        digest.update(f"\n{place.resolve()}\n".encode("utf-8", "surrogateescape"))
        for line in sorted(_files(os.fspath(place))):
            digest.update(line.encode("utf-8", "surrogateescape"))
    return digest.hexdigest()


def _files(place: str) -> Iterator[str]:
    """One line a file: its path and whatever changes when it is written."""
    if os.path.isfile(place):
        found = os.stat(place)
        yield f"{found.st_mtime_ns} {found.st_size} {found.st_ino}\n"
        return
    try:
        with os.scandir(place) as entries:
            inside = list(entries)
    except OSError:
        return
    for entry in inside:
        if entry.is_dir(follow_symlinks=False):
            if entry.name != "__pycache__":
                yield from _files(entry.path)
        elif entry.name != FILE:
            found = entry.stat()
            yield f"{entry.path} {found.st_mtime_ns} {found.st_size} {found.st_ino}\n"
