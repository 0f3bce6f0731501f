"""What was entered by hand, kept a second time beside the catalogue: a line of JSON for each change, only added to.

Flights can be read again from their own files; notes, owners, range checks and settings cannot. Where the catalogue is
lost, damaged or an older one, the lines it has not seen are entered again with the next change. The catalogue holds how
many bytes it has seen; a line is on the disk before its change is committed. The last entry of a line is a digest of
those before it: a line that is not what was written counts for nothing, and is told by :func:`damaged`.
"""

from __future__ import annotations

import hashlib
import json
import os
import sqlite3
import stat
from collections.abc import Iterator, Sequence
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from msgspec import Struct, field

from spooldown.logbook.catalogue import answers

FILE = "entered.jsonl"
ASIDE = "aside"
"""Folder for damaged catalogues and files that were replaced."""
SEEN = "entered_bytes"
"""Setting that holds how far the catalogue has seen the file."""

Entry = Sequence[Any]
"""``note``, flight, body or None; ``owner``, flight, aircraft; ``range_check`` and ``no_range_check``, its columns;
``record``, kind, name, body or None; ``setting``, name, value; ``gone``, flight: what was entered of it before is no
more, and its id may be another one's."""

GONE = "gone"
SUM = b', ["sum", "'
"""What stands before a line's digest."""
SUM_CHARS = 16
LONGEST_SIZE = 18
"""Digits of a file's size."""

RANGE_CHECK = "aircraft, day, receiver, antenna, distance_m, reduction_db, orientation, remarks"


def append(db: sqlite3.Connection, folder: Path, entries: Sequence[Entry]) -> None:
    """Add one line for one change, wait for the disk, and count it as seen.

    Where the file is not there, or too short to be the catalogue's own, it is written anew from the catalogue.
    """
    path = folder / FILE
    if not (size := size_of(folder)) or size < seen(db):
        write_anew(db, folder)
        return
    with path.open("ab") as file:
        file.write(line_of(entries))
        file.flush()
        os.fsync(file.fileno())
        _see(db, file.tell())


def take_back(folder: Path, size: int) -> None:
    """Cut off what a change added that was not committed."""
    path = folder / FILE
    with suppress(OSError):
        if size:
            os.truncate(path, size)
        else:
            path.unlink()


def size_of(folder: Path) -> int:
    """How long the file is, 0 where there is none, or what is no file: a folder, a pipe, a link to nothing."""
    try:
        state = (folder / FILE).stat()
    except OSError:
        return 0
    return state.st_size if stat.S_ISREG(state.st_mode) else 0


def is_there(folder: Path) -> bool:
    """Whether there is a file that can be read and holds something."""
    return bool(size_of(folder)) and os.access(folder / FILE, os.R_OK)


def _lines(folder: Path, size: int | None) -> list[bytes]:
    """The lines of the file, or of its first ``size`` bytes; none where it cannot be read."""
    if not size_of(folder):
        return []
    try:
        lines = (folder / FILE).read_bytes()[:size].split(b"\n")
    except OSError:
        return []
    return lines if lines[-1] else lines[:-1]


def catch_up(db: sqlite3.Connection, folder: Path, *, write: bool) -> int:
    """Enter what the catalogue has not seen; returns how many entries that were.

    Parameters
    ----------
    write : bool
        Whether a line that its writer did not finish may be cut off.
    """
    known, size = seen(db), size_of(folder)
    if size <= known or not is_there(folder):
        return 0
    with (folder / FILE).open("rb") as file:
        file.seek(known)
        data = file.read()
    whole = data[: data.rfind(b"\n") + 1]
    count = sum(_again(db, entry) for entry in _living([e for line in whole.splitlines() for e in _entries(line)]))
    if write:
        if len(whole) < len(data):  # the last writer died in the middle of its line
            take_back(folder, known + len(whole))
        _see(db, known + len(whole))
    return count


def _living(entries: Sequence[Entry]) -> Iterator[Entry]:
    """Leave out what was entered of flights that were deleted for good afterwards."""
    gone = {str(entry[1]): n for n, entry in enumerate(entries) if entry[0] == GONE and len(entry) == 2}
    for n, entry in enumerate(entries):
        if entry[0] != GONE and not (entry[0] in ("note", "owner") and n < gone.get(str(entry[1]), -1)):
            yield entry


def enter(db: sqlite3.Connection, entry: Entry) -> None:
    """Enter one thing into the catalogue.

    Raises
    ------
    ValueError
        If it is nothing that can be entered.
    sqlite3.Error
        If the catalogue does not take it.
    """
    match list(entry):
        case ["note", str(flight), None]:
            db.execute("DELETE FROM note WHERE flight_id = ?", (flight,))
        case ["note", str(flight), str(body)]:
            db.execute("INSERT OR REPLACE INTO note VALUES (?, ?)", (flight, body))
        case ["owner", str(flight), str(aircraft)]:
            db.execute("UPDATE flight SET aircraft = ? WHERE flight_id = ?", (aircraft, flight))
        case ["range_check", *values] if len(values) == 8:
            db.execute(f"INSERT OR IGNORE INTO range_check ({RANGE_CHECK}) VALUES (?, ?, ?, ?, ?, ?, ?, ?)", values)
        case ["no_range_check", *values] if len(values) == 8:
            db.execute(f"DELETE FROM range_check WHERE ({RANGE_CHECK}) = (?, ?, ?, ?, ?, ?, ?, ?)", values)
        case ["record", str(kind), str(name), None]:
            db.execute("DELETE FROM record WHERE (kind, name) = (?, ?)", (kind, name))
        case ["record", str(kind), str(name), str(body)]:
            db.execute("INSERT OR REPLACE INTO record VALUES (?, ?, ?)", (kind, name, body))
        case ["setting", str(name), str(value)]:
            db.execute("INSERT OR REPLACE INTO setting VALUES (?, ?)", (name, value))
        case ["gone", str()]:
            pass  # its row is deleted where its file is
        case _:
            raise ValueError(f"nothing that can be entered: {entry!r}")


def _again(db: sqlite3.Connection, entry: Entry) -> bool:
    """Enter what was entered before; False where it does not fit any more, as a note of a flight that is gone."""
    try:
        enter(db, entry)
    except (ValueError, sqlite3.IntegrityError, sqlite3.InterfaceError, sqlite3.ProgrammingError):
        return False
    return True


class Entered(Struct, frozen=True):
    """What all lines come to: bodies of notes and records, owners and settings by name, and the range checks kept."""

    notes: dict[str, str | None] = field(default_factory=dict)
    owners: dict[str, str] = field(default_factory=dict)
    settings: dict[str, str] = field(default_factory=dict)
    range_checks: dict[tuple[Any, ...], bool] = field(default_factory=dict)
    records: dict[tuple[str, str], str | None] = field(default_factory=dict)


def read(folder: Path, size: int | None = None) -> Entered:
    """Read the file, or its first ``size`` bytes."""
    out = Entered()
    for entry in (e for line in _lines(folder, size) for e in _entries(line)):
        match list(entry):
            case ["note", str(flight), str() | None as body]:
                out.notes[flight] = body
            case ["owner", str(flight), str(aircraft)]:
                out.owners[flight] = aircraft
            case ["gone", str(flight)]:
                out.notes.pop(flight, None)
                out.owners.pop(flight, None)
            case ["record", str(kind), str(name), str() | None as body]:
                out.records[kind, name] = body
            case ["setting", str(name), str(value)]:
                out.settings[name] = value
            case ["range_check" | "no_range_check" as kind, *values]:
                out.range_checks[tuple(map(str, values))] = kind == "range_check"
    return out


def line_of(entries: Sequence[Entry]) -> bytes:
    """One change as its line, with its digest."""
    body = json.dumps(entries, ensure_ascii=False).encode("utf-8", "surrogatepass")[:-1]
    return body + SUM + _digest(body) + b'"]]\n'


def _digest(body: bytes) -> bytes:
    return hashlib.sha256(body).hexdigest()[:SUM_CHARS].encode()


def _entries(line: bytes) -> list[Entry]:
    """What a line enters; nothing where it is not what was written. Lines of earlier versions have no digest."""
    body, summed, told = line.rpartition(SUM)
    try:
        found = json.loads(line)
    except ValueError:
        return []
    if not isinstance(found, list) or (summed and told != _digest(body) + b'"]]'):
        return []
    return [e for e in found if isinstance(e, list) and len(e) > 1 and e[0] != "sum"]


def damaged(folder: Path, size: int) -> list[int]:
    """Numbers of the lines, from 1, in the file's first ``size`` bytes that are not what was written."""
    lines = _lines(folder, size)
    summed = [SUM in line for line in lines]
    # Once lines have digests, a later one without has lost it.
    first = summed.index(True) if any(summed) else len(lines)
    return [n + 1 for n, line in enumerate(lines) if not _entries(line) or (n > first and not summed[n])]


def seen(db: sqlite3.Connection) -> int:
    """How many bytes of the file the catalogue has seen."""
    rows = answers(db, "SELECT value FROM setting WHERE name = ?", (SEEN,))
    text = str(rows[0][0]) if rows else ""
    return int(text) if text.isdecimal() and len(text) <= LONGEST_SIZE else 0


def _see(db: sqlite3.Connection, size: int) -> None:
    db.execute("INSERT OR REPLACE INTO setting VALUES (?, ?)", (SEEN, str(size)))


def write_anew(db: sqlite3.Connection, folder: Path) -> None:
    """Write the file anew from the catalogue, inside the one writer's transaction; what it held is kept aside."""
    from spooldown.logbook.store import write_whole

    path = folder / FILE
    if os.path.lexists(path):
        aside = folder / ASIDE / f"entered-{datetime.now(UTC):%Y%m%d-%H%M%S-%f}.jsonl"
        aside.parent.mkdir(exist_ok=True)
        if is_there(folder):  # the catalogue may be another logbook's
            write_whole(aside, path.read_bytes())
        else:
            os.replace(path, aside)
    entries: list[Entry] = [
        *(["note", *row] for row in db.execute("SELECT flight_id, body FROM note ORDER BY flight_id")),
        *(["owner", *row] for row in db.execute("SELECT flight_id, aircraft FROM flight WHERE aircraft != ''")),
        *(
            ["range_check", *row]
            for row in db.execute(f"SELECT {RANGE_CHECK} FROM range_check ORDER BY range_check_id")
        ),
        *(["record", *row] for row in db.execute("SELECT kind, name, body FROM record ORDER BY kind, name")),
        *(["setting", *row] for row in db.execute("SELECT name, value FROM setting WHERE name != ?", (SEEN,))),
    ]
    line = line_of(entries) if entries else b""
    if line:
        write_whole(path, line)
    else:  # nothing is entered any more: there is no line that says so
        path.unlink(missing_ok=True)
    _see(db, len(line))
