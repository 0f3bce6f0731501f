"""Flight files and catalogue rows brought together again: nothing that may be a flight is ever deleted.

A flight's file is written as ``<id>.parquet.part``; its row is committed; then the file gets its name. So after a crash

* a ``.part`` with a row is a whole flight that only wants its name,
* a ``.part`` without a row is what a dead writer left, or a flight taken out: it goes,
* a whole file without a row was never left by a crash. The catalogue is the wrong one (emptied, older, gone), and the
  flight is taken in again from what its file says of itself.
"""

from __future__ import annotations

import json
import os
import re
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from spooldown.logbook.store import Described

ENDING = ".parquet"
PART = ".parquet.part"
_ID = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*\Z")


class DamagedFile(ValueError):
    """A telemetry file whose bytes are not the ones that were stored."""


@dataclass(frozen=True, slots=True)
class Disorder:
    """What the folder of flights holds that the catalogue does not say, by flight id."""

    unnamed: tuple[str, ...] = ()
    """Flights with a row whose file still has its temporary name."""
    leftovers: tuple[str, ...] = ()
    """Temporary files without a row."""
    unknown: tuple[str, ...] = ()
    """Whole files of ours without a row."""

    def __bool__(self) -> bool:
        return bool(self.unnamed or self.leftovers or self.unknown)


def disorder(db: sqlite3.Connection, folder: Path) -> Disorder:
    """Compare the folder of flights with the catalogue; reads names only, and the metadata of unknown files."""
    try:
        names = os.listdir(folder)
    except OSError:
        return Disorder()
    rows = {row[0] for row in db.execute("SELECT flight_id FROM flight")}
    whole = {n.removesuffix(ENDING) for n in names if n.endswith(ENDING)}
    parts = {n.removesuffix(PART) for n in names if n.endswith(PART)}
    return Disorder(
        unnamed=tuple(sorted((parts & rows) - whole)),
        leftovers=tuple(sorted(parts - ((parts & rows) - whole))),
        unknown=tuple(sorted(i for i in whole - rows if _is_ours(folder, i))),
    )


def holds_flights(folder: Path) -> bool:
    """Whether a folder of flights holds any file of ours, so that a catalogue must have been there."""
    with suppress(OSError):
        return any(_is_ours(folder, n.removesuffix(ENDING)) for n in os.listdir(folder) if n.endswith(ENDING))
    return False


def settle(db: sqlite3.Connection, folder: Path, *, write: bool) -> list[str]:
    """Bring rows and files together, inside the one writer's transaction or in a copy in memory.

    Parameters
    ----------
    write : bool
        Whether files may be named and leftovers removed.

    Returns
    -------
    list of str
        What was found, in plain sentences.
    """
    found = disorder(db, folder)
    if write:
        for flight_id in found.unnamed:
            os.replace(folder / f"{flight_id}{PART}", folder / f"{flight_id}{ENDING}")
        for flight_id in found.leftovers:
            with suppress(OSError):
                (folder / f"{flight_id}{PART}").unlink()
    adopted = [flight_id for flight_id in found.unknown if _adopt(db, folder, flight_id)]
    if not adopted:
        return []
    some = ", ".join(adopted[:3]) + (f" and {len(adopted) - 3} more" if len(adopted) > 3 else "")
    return [
        f"The catalogue did not know {len(adopted)} flight{'s' if len(adopted) > 1 else ''} in the folder ({some}):"
        f" {'taken in' if write else 'read'} from what the file{'s' if len(adopted) > 1 else ''} say of themselves;"
        " what was noted or assigned by hand is not in there."
    ]


def _adopt(db: sqlite3.Connection, folder: Path, flight_id: str) -> bool:
    """Make a row from what a file says of itself; False where it is a copy of a known flight or does not read."""
    from spooldown.logbook.store import describe

    path = folder / f"{flight_id}{ENDING}"
    try:
        said = describe(path)
        when = datetime.fromtimestamp(path.stat().st_mtime, UTC).isoformat(timespec="seconds")
        row = (
            said.part,
            said.source,
            said.metadata.get("aircraft", ""),
            utc_text(said.utc_start),
            said.duration_s,
            said.rows,
            said.sha256,
            json.dumps(said.channels),
            json.dumps(said.notices, ensure_ascii=False),
            said.local_start,
        )
    except (OSError, ValueError, KeyError, TypeError):
        return False
    if db.execute("SELECT 1 FROM flight WHERE telemetry_sha256 = ?", (said.sha256,)).fetchone():
        return False
    import_id = _import_of(db, said, said.metadata.get("imported_at") or when)
    db.execute("INSERT INTO flight VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)", (flight_id, import_id, *row))
    return True


def _import_of(db: sqlite3.Connection, said: Described, when: str) -> int:
    """Find the import that a file's sources belong to, or make it."""
    found = [db.execute("SELECT import_id FROM source WHERE sha256 = ?", (d,)).fetchone() for d, *_ in said.sources]
    known = next((int(row[0]) for row in found if row), None)
    if known is None:
        known = int(db.execute("INSERT INTO import (imported_at) VALUES (?)", (when,)).lastrowid or 0)
    db.executemany(
        "INSERT OR IGNORE INTO source VALUES (?, ?, ?, ?)", [(d, known, name, size) for d, name, size in said.sources]
    )
    return known


def utc_text(moment: datetime | None) -> str | None:
    """Write an instant with a fixed width, so that the order of texts is the order of times."""
    return moment.astimezone(UTC).isoformat(timespec="microseconds") if moment else None


def parts_of(folder: Path, flight_ids: Sequence[str]) -> Iterator[tuple[Path, Path]]:
    """Temporary and final path of each flight's file."""
    for flight_id in flight_ids:
        yield folder / f"{flight_id}{PART}", folder / f"{flight_id}{ENDING}"


def _is_ours(folder: Path, flight_id: str) -> bool:
    import pyarrow.parquet as pq

    if not _ID.match(flight_id):
        return False
    try:
        found = pq.read_metadata(folder / f"{flight_id}{ENDING}").metadata or {}
    except (OSError, ValueError):
        return False
    return bool(found.get(b"format", b"").startswith(b"spooldown telemetry"))
