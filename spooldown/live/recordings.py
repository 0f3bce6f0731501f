"""Where recordings lie, which of them runs, and the copy of one that the importer can read."""

from __future__ import annotations

import io
import itertools
import os
import re
import time
from collections import deque
from collections.abc import Iterator, Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from msgspec import Struct

from spooldown.live import journal
from spooldown.logbook.plain import files_in

FOLDER = "recordings"
MOST_BYTES = 8 << 30
"""Longer than any log: a recording ends here. Fourteen hours of 160 kB a second."""
HEAD_BYTES = 128 * 2**10
"""What is looked at to tell whether a recording knows its own date."""
STALE_S = 20.0
"""A journal that says nothing for so long is no longer written."""
_BREAKS = ("begin", "lost", "overrun")
"""Events at which the line before is not carried on by what comes after."""


class Recording(Struct, frozen=True):
    """One recorded file: where it is, what it came from, whether it still grows."""

    path: Path
    source: str
    begun: str
    bytes: int
    running: bool
    holes: int = 0
    aircraft: str = ""

    @property
    def name(self) -> str:
        """Its file's name."""
        return self.path.name


def folder_of(logbook: Path) -> Path:
    """Where the recordings of a logbook lie."""
    return logbook / FOLDER


def journal_of(path: Path) -> Path:
    """The side file of a recorded file."""
    return path.with_name(f"{path.name}.journal.jsonl")


def mended_of(path: Path) -> Path:
    """The copy that the importer reads where the recorded file itself will not do."""
    return path.with_name(f"{path.stem}.mended.csv")


def new_path(folder: Path, now: datetime, aircraft: str = "") -> Path:
    """A name for a new recording, by the aircraft and the time of day on its owner's clock."""
    from reports.addresses import slug

    first = f"{slug(aircraft)}-" if aircraft else "recorded-"
    stem = f"{first}{now:%Y-%m-%d-%H%M%S}"
    path, n = folder / f"{stem}.csv", 2
    while path.exists():
        path, n = folder / f"{stem}-{n}.csv", n + 1
    return path


def listed(folder: Path) -> list[Recording]:
    """Recordings in a folder, newest first."""
    found = [one for side in files_in(folder, ".journal.jsonl") if (one := look(_recorded_of(side)))]
    return sorted(found, key=lambda r: r.begun, reverse=True)


def look(path: Path) -> Recording | None:
    """What a recording's journal says of it; None where it has none."""
    side = journal_of(path)
    first = next(journal.read(side), None)
    if first is None or not path.is_file():
        return None
    last = _last(side)
    return Recording(
        path, str(first.get("source", "")), str(first.get("at", "")), path.stat().st_size,
        running=last.get("event") != "end" and _written_now(path, side),
        holes=int(last.get("holes", 0)) if isinstance(last.get("holes", 0), int) else 0,
        aircraft=str(first.get("aircraft", "")),
    )  # fmt: skip


def headings_of(path: Path) -> str:
    """The headings that were given for a recording; '' where its own first line holds them."""
    return next((str(e.get("headings", "")) for e in journal.read(journal_of(path)) if e.get("headings")), "")


def importable(path: Path) -> Path:
    """A file that the importer can read: the recorded one, or a copy that says more.

    The copy lies beside the recorded file, which stays as it came. It has the headings that were given, lines ended at
    holes, and, where neither clock nor lines above the headings know it, when the first row was received.
    """
    headings, breaks = headings_of(path), _mid_line_breaks(path)
    above = f"{headings.strip()}\n" if headings else ""
    if start := _start(path, headings):
        above = f"# Start: {start}\n{above}"
    if not above and not breaks:
        return path
    made = mended_of(path)
    part = made.with_suffix(".part")
    with path.open("rb") as file, part.open("wb") as out:
        out.write(above.encode())
        for until in [*breaks, None]:
            for data in _up_to(file, until):
                out.write(data)
            if until is not None:
                out.write(b"\n")
        out.flush()
        os.fsync(out.fileno())
    os.replace(part, made)
    return made


def _start(path: Path, headings: str) -> str:
    """When the first row of a live source was received, UTC; '' where the stream knows better, or nobody does."""
    from importers.plan import plan
    from importers.refusal import Refusal

    told = list(itertools.islice(journal.read(journal_of(path)), 50))
    live = bool(told and told[0].get("live"))
    came = next((e.get("came_at") for e in told if e["event"] == "first"), None)
    if not live or not isinstance(came, float | int) or told[0]["byte"]:
        return ""
    with path.open("rb") as file:
        head = file.read(HEAD_BYTES)
    try:
        found = plan(io.BytesIO((f"{headings.strip()}\n".encode() if headings else b"") + head), name="-")
    except Refusal:
        return ""
    if found.time.absolute or found.begin.timed or found.witness is not None:
        return ""
    return datetime.fromtimestamp(came, UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def _up_to(file: Any, until: int | None) -> Iterator[bytes]:
    while True:
        left = 1 << 20 if until is None else min(1 << 20, until - file.tell())
        if left <= 0 or not (data := file.read(left)):
            return
        yield data


def is_break(event: Mapping[str, Any]) -> bool:
    """Whether what comes after an event of a journal does not carry on the line before it."""
    return event["event"] in _BREAKS and not event.get("goes_on")


def _mid_line_breaks(path: Path) -> list[int]:
    """Places in the recorded file where a hole cut a line."""
    size = path.stat().st_size
    told = (e for e in journal.read(journal_of(path)) if is_break(e))
    places = {int(e["byte"]) for e in told if 0 < e["byte"] < size}
    out = []
    with path.open("rb") as file:
        for place in sorted(places):
            file.seek(place - 1)
            if file.read(1) not in b"\r\n":
                out.append(place)
    return out


def _recorded_of(side: Path) -> Path:
    return side.with_name(re.sub(r"\.journal\.jsonl$", "", side.name))


def _last(side: Path) -> dict[str, Any]:
    """The last whole line of a journal."""
    with side.open("rb") as file:
        file.seek(max(0, side.stat().st_size - 4 * journal.LONGEST_LINE))
        lines = deque((told for line in file if (told := journal.parse(line))), maxlen=1)
    return lines[0] if lines else {}


def _written_now(path: Path, side: Path) -> bool:
    """Whether a process still writes: it holds the file's lock, or its journal is fresh."""
    try:
        import fcntl
    except ImportError:
        return time.time() - side.stat().st_mtime < STALE_S
    with path.open("rb") as file:
        try:
            fcntl.flock(file, fcntl.LOCK_SH | fcntl.LOCK_NB)
        except OSError:
            return True
        fcntl.flock(file, fcntl.LOCK_UN)
    return False
