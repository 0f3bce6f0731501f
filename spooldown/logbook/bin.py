"""Flights taken out: they wait in the bin, with their notes, until they are brought back or the bin is emptied."""

from __future__ import annotations

import hashlib
import json
import os
import re
import sqlite3
from collections.abc import Iterable, Mapping
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from msgspec import Struct

from analyser.core.findings import Finding
from spooldown.logbook.catalogue import answers, is_sound, shown
from spooldown.logbook.flight import is_id
from spooldown.problems import LogbookProblem

FOLDER = "bin"
_FRACTION = re.compile(r"\.\d+")
"""Of a second: it keeps an order and is not shown."""
NOT_KNOWN = ""
"""When a flight was put into the bin that lies there without an entry, as where the catalogue was lost."""
SUM = "sum"
"""What an entry calls its digest."""


class Removed(Struct, frozen=True):
    """One flight in the bin."""

    flight_id: str
    removed_at: str
    """When it was put there, ISO 8601; '' where that is not known."""
    aircraft: str
    source: str
    duration_s: float
    noted: bool
    why: str = ""
    """Why it was set aside; '' where it was taken out by hand."""
    sha256: str = ""
    """Hash of its file's bytes."""
    emptying: bool = False
    """Whether it is being deleted for good: its file may be gone before its entry."""


def now(db: sqlite3.Connection) -> str:
    """When flights are put into the bin: later than any that lie there, so that a clock set back changes no order."""
    last = "SELECT removed_at FROM removed WHERE typeof(removed_at) = 'text' ORDER BY removed_at DESC LIMIT 9"
    time = datetime.now(UTC).replace(microsecond=0)
    for (before,) in answers(db, last):
        with suppress(TypeError, ValueError, OverflowError):  # a damaged cell
            return max(time, datetime.fromisoformat(before) + timedelta(microseconds=1)).isoformat()
    return time.isoformat()


def put(db: sqlite3.Connection, flight_id: str, when: str, why: str = "") -> None:
    """Move a flight's row, its sources and its note into the bin's table; the caller moves the file.

    Parameters
    ----------
    when : str
        From :func:`now`, the same for all that one command takes out; or :data:`NOT_KNOWN`.
    """
    row = db.execute("SELECT * FROM flight WHERE flight_id = ?", (flight_id,)).fetchone()
    if row is None:
        return
    columns = [c[1] for c in db.execute("PRAGMA table_info(flight)")]
    kept = dict(zip(columns, row, strict=True))
    made = db.execute("SELECT imported_at, answers FROM import WHERE import_id = ?", (kept["import_id"],)).fetchone()
    note = db.execute("SELECT body FROM note WHERE flight_id = ?", (flight_id,)).fetchone()
    body = {
        "flight": kept,
        "imported_at": made[0] if made else "",
        "answers": made[1] if made else "",
        "sources": db.execute(
            "SELECT sha256, name, bytes FROM source WHERE import_id = ?", (kept["import_id"],)
        ).fetchall(),
        "note": note[0] if note else "",
        "why": why,
    }
    db.execute("DELETE FROM flight WHERE flight_id = ?", (flight_id,))
    db.execute("DELETE FROM import WHERE import_id NOT IN (SELECT import_id FROM flight)")
    _write(db, flight_id, when, body)


def _write(db: sqlite3.Connection, flight_id: str, when: str, body: Mapping[str, object]) -> None:
    text = json.dumps({**body, SUM: _digest(flight_id, when, body)}, ensure_ascii=False)
    db.execute("INSERT OR REPLACE INTO removed VALUES (?, ?, ?)", (flight_id, when, text))


def _digest(flight_id: str, when: str, body: Mapping[str, object]) -> str:
    """Digest of an entry, by which a flipped bit in it is told: nothing else says all of it a second time."""
    rest = {name: value for name, value in body.items() if name != SUM}
    return hashlib.sha256(json.dumps([flight_id, when, rest], sort_keys=True).encode()).hexdigest()[:16]


def spoilt(db: sqlite3.Connection) -> dict[str, str]:
    """Flights in the bin whose entry is not what was written; those of earlier versions have no digest.

    Returns
    -------
    dict of str to str
        By its name as it is shown, the bytes of it in hexadecimal: a damaged name may be no text.
    """
    out = {}
    for flight_id, when, name in answers(
        db, "SELECT flight_id, removed_at, hex(flight_id) FROM removed ORDER BY flight_id"
    ):
        try:
            if not (is_id(flight_id) and is_sound(when)):
                raise _damaged(flight_id)
            body = body_of(db, flight_id)
            if body.get(SUM, "") not in ("", _digest(flight_id, when, body)):
                out[flight_id] = name
        except LogbookProblem:
            out[shown(flight_id)] = name
    return out


def give_note(db: sqlite3.Connection, flight_id: str, note: str) -> None:
    """Give a flight in the bin the note it had; nothing where it is not there."""
    row = db.execute("SELECT removed_at FROM removed WHERE flight_id = ?", (flight_id,)).fetchone()
    if row:
        _write(db, flight_id, row[0], {**body_of(db, flight_id), "note": note})


def bring_back(db: sqlite3.Connection, flight_id: str) -> None:
    """Move a flight's row out of the bin's table again; the caller moves the file.

    Raises
    ------
    LogbookProblem
        If its log is in the logbook again by now.
    """
    body = body_of(db, flight_id)
    kept: Mapping[str, Any] = body["flight"]
    for digest, *_ in body["sources"]:
        again = db.execute(
            "SELECT flight_id FROM flight JOIN source USING (import_id) WHERE sha256 = ? AND part = ?",
            (digest, kept["part"]),
        ).fetchone()
        if again:
            raise LogbookProblem("logbook.imported_again", flight=flight_id, again=again[0])
    import_id = next(
        (
            row[0]
            for digest, *_ in body["sources"]
            if (row := db.execute("SELECT import_id FROM source WHERE sha256 = ?", (digest,)).fetchone())
        ),
        None,
    )
    if import_id is None:
        # Its own number where that is free: flights of one instant are told in the order they were imported.
        taken = db.execute("SELECT 1 FROM import WHERE import_id = ?", (kept["import_id"],)).fetchone()
        import_id = db.execute(
            "INSERT INTO import (import_id, imported_at, answers) VALUES (?, ?, ?)",
            (None if taken else kept["import_id"], body["imported_at"], body.get("answers", "")),
        ).lastrowid
    db.executemany(
        "INSERT OR IGNORE INTO source VALUES (?, ?, ?, ?)", [(d, import_id, n, size) for d, n, size in body["sources"]]
    )
    columns = {**kept, "import_id": import_id}
    db.execute(
        f"INSERT INTO flight ({', '.join(columns)}) VALUES ({', '.join('?' * len(columns))})", list(columns.values())
    )
    if body["note"]:
        db.execute("INSERT OR REPLACE INTO note VALUES (?, ?)", (flight_id, body["note"]))
    db.execute("DELETE FROM removed WHERE flight_id = ?", (flight_id,))


def listed(db: sqlite3.Connection) -> tuple[list[Removed], list[LogbookProblem]]:
    """What is in the bin, the last one put there first; and what says of it that its entry is damaged."""
    out: list[Removed] = []
    spoilt: list[LogbookProblem] = []
    for flight_id, when, _ in answers(db, "SELECT * FROM removed ORDER BY removed_at DESC, flight_id"):
        try:
            if not (is_id(flight_id) and is_sound(when)):
                raise _damaged(flight_id)
            body = body_of(db, flight_id)
        except LogbookProblem as problem:
            spoilt.append(problem)
            continue
        kept = body["flight"]
        out.append(
            Removed(
                flight_id, _FRACTION.sub("", when), str(kept.get("aircraft", "")), str(kept.get("source", "")),
                float(kept.get("duration_s") or 0.0), bool(body["note"]), str(body.get("why", "")),
                str(kept.get("telemetry_sha256", "")), bool(body.get("emptying")),
            )
        )  # fmt: skip
    return out, spoilt


def doom(db: sqlite3.Connection, flight_ids: Iterable[str]) -> None:
    """Mark what is about to be deleted for good: a kill between a file and its entry is no damage."""
    for flight_id in flight_ids:
        (when,) = db.execute("SELECT removed_at FROM removed WHERE flight_id = ?", (flight_id,)).fetchone()
        _write(db, flight_id, when, {**body_of(db, flight_id), "emptying": True})


def empty(db: sqlite3.Connection, folder: Path, flight_ids: Iterable[str]) -> None:
    """Delete for good; the files go first, so that a full disk has room for the rest."""
    for flight_id in flight_ids:
        with suppress(FileNotFoundError):
            os.unlink(folder / FOLDER / f"{flight_id}.parquet")
        db.execute("DELETE FROM removed WHERE flight_id = ?", (flight_id,))


def mark(db: sqlite3.Connection, flight_id: str, why: str) -> None:
    """Say why what lies in the bin is not as it was put there."""
    (when,) = db.execute("SELECT removed_at FROM removed WHERE flight_id = ?", (flight_id,)).fetchone()
    _write(db, flight_id, when, {**body_of(db, flight_id), "why": why})


def forget_results(cache: Path, flight_ids: Iterable[str]) -> None:
    """Take out what is kept of the results of flights that are deleted for good."""
    gone = set(flight_ids)
    with suppress(OSError):
        for entry in os.scandir(cache):
            if entry.name.partition(".")[0] in gone:
                os.unlink(entry.path)


def body_of(db: sqlite3.Connection, flight_id: str) -> dict[str, Any]:
    """What the bin's table says of a flight.

    Raises
    ------
    LogbookProblem
        If it is damaged.
    """
    rows = answers(db, "SELECT body FROM removed WHERE flight_id = ?", (flight_id,))
    try:
        body = json.loads(rows[0][0])
        if isinstance(body["flight"], dict) and isinstance(body["sources"], list) and isinstance(body["note"], str):
            return dict(body)
    except (TypeError, ValueError, KeyError, IndexError, RecursionError):
        pass
    raise _damaged(flight_id)


def _damaged(flight_id: object) -> LogbookProblem:
    return LogbookProblem("logbook.repairable", what=Finding("logbook.bin_entry_damaged", {"flight": shown(flight_id)}))
