"""The catalogue's schema, as the migrations that lead to it from nothing.

A released migration is never edited; a change is a new one at the end. ``schema_version`` holds how many have run.
Each makes or changes a table or an index: so the tables tell as well how many have run, and a damaged number is known.
"""

from __future__ import annotations

import sqlite3
from contextlib import closing
from functools import cache

from analyser.core.findings import Finding
from spooldown.logbook.catalogue import answers, shown
from spooldown.problems import LogbookProblem

_V1 = (
    "CREATE TABLE schema_version (version INTEGER NOT NULL)",
    "INSERT INTO schema_version VALUES (0)",
    # One import is what one command read as one thing: a file, or several joined.
    "CREATE TABLE import (import_id INTEGER PRIMARY KEY, imported_at TEXT NOT NULL)",
    """CREATE TABLE source (
        sha256 TEXT PRIMARY KEY,
        import_id INTEGER NOT NULL REFERENCES import ON DELETE CASCADE,
        name TEXT NOT NULL,
        bytes INTEGER NOT NULL
    ) WITHOUT ROWID""",
    """CREATE TABLE flight (
        flight_id TEXT PRIMARY KEY,
        import_id INTEGER NOT NULL REFERENCES import ON DELETE CASCADE,
        part INTEGER NOT NULL,
        source TEXT NOT NULL,
        aircraft TEXT NOT NULL,
        utc_start TEXT,
        duration_s REAL NOT NULL,
        rows INTEGER NOT NULL,
        telemetry_sha256 TEXT NOT NULL,
        channels TEXT NOT NULL,
        notices TEXT NOT NULL
    ) WITHOUT ROWID""",
    """CREATE TABLE note (
        flight_id TEXT PRIMARY KEY REFERENCES flight ON DELETE CASCADE,
        body TEXT NOT NULL
    ) WITHOUT ROWID""",
    "CREATE TABLE setting (name TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID",
)

_V2 = (
    # Walked range checks; the same check written down twice is one.
    """CREATE TABLE range_check (
        range_check_id INTEGER PRIMARY KEY,
        aircraft TEXT NOT NULL,
        day TEXT NOT NULL,
        receiver TEXT NOT NULL,
        antenna INTEGER NOT NULL,
        distance_m REAL NOT NULL,
        reduction_db REAL NOT NULL,
        orientation TEXT NOT NULL,
        remarks TEXT NOT NULL,
        UNIQUE (aircraft, day, receiver, antenna, distance_m, reduction_db, orientation, remarks)
    )""",
)

_V3 = (
    # Day, or day and time, by the log's own clock where its zone is unknown: ISO 8601; '' where UTC is known.
    "ALTER TABLE flight ADD COLUMN local_start TEXT NOT NULL DEFAULT ''",
)

_V4 = (
    # Flights in the bin: their row, sources and note as JSON.
    "CREATE TABLE removed (flight_id TEXT PRIMARY KEY, removed_at TEXT NOT NULL, body TEXT NOT NULL) WITHOUT ROWID",
    # How what its files left open was answered, as JSON: they can be read again the same way.
    "ALTER TABLE import ADD COLUMN answers TEXT NOT NULL DEFAULT ''",
)

_V5 = (
    # Everything else a person enters: what kind of thing, its name among its kind, and what it says as JSON.
    """CREATE TABLE record (
        kind TEXT NOT NULL, name TEXT NOT NULL, body TEXT NOT NULL, PRIMARY KEY (kind, name)
    ) WITHOUT ROWID""",
)

_V6 = (
    # In a table as wide as what its logs hold, few flights are found without reading all; their ids and times alone.
    "CREATE INDEX flight_began ON flight (utc_start, local_start, import_id, part, aircraft)",
    "CREATE INDEX flight_import ON flight (import_id)",
    "CREATE INDEX source_import ON source (import_id)",
    "CREATE INDEX source_size ON source (bytes)",
)

MIGRATIONS: tuple[tuple[str, ...], ...] = (_V1, _V2, _V3, _V4, _V5, _V6)


def version_of(connection: sqlite3.Connection) -> int:
    """How many migrations a catalogue has seen; 0 for an empty one.

    Raises
    ------
    sqlite3.DatabaseError
        If it says nothing that is a number of migrations, or another number than its tables.
    """
    known = connection.execute(
        "SELECT 1 FROM sqlite_master WHERE type = 'table' AND name = 'schema_version'"
    ).fetchone()
    if not known:
        return 0
    rows = answers(connection, "SELECT * FROM schema_version")
    if rows == [(len(MIGRATIONS),)]:
        return len(MIGRATIONS)
    if wrong := _wrong_number(connection, rows):
        raise sqlite3.DatabaseError(str(wrong))
    if len(rows) != 1 or len(rows[0]) != 1 or not isinstance(rows[0][0], int) or rows[0][0] < 0:
        raise sqlite3.DatabaseError(str(Finding("logbook.no_schema")))
    return int(rows[0][0])


def _wrong_number(connection: sqlite3.Connection, rows: list[tuple[object, ...]]) -> Finding | None:
    """Say that the number is another one than the tables prove; None where it may be right."""
    there = _texts(connection)
    proven = next((n for n in range(len(MIGRATIONS), 0, -1) if _made(n) <= there), 0)
    found = rows[0][0] if len(rows) == 1 else None
    if not proven or found == proven:
        return None
    if isinstance(found, int) and found > proven and there != _made(proven):  # a newer one adds something
        return None
    return Finding("logbook.schema_number", {"found": "" if found is None else shown(found), "proven": proven})


def mend_number(connection: sqlite3.Connection) -> Finding | None:
    """Write the number of the schema that the tables prove in the place of another one; what was wrong.

    Inside the caller's transaction.
    """
    wrong = _wrong_number(connection, answers(connection, "SELECT * FROM schema_version"))
    if wrong:
        connection.execute("DELETE FROM schema_version")
        connection.execute("INSERT INTO schema_version VALUES (?)", (wrong.values["proven"],))
    return wrong


@cache
def _made(version: int) -> frozenset[tuple[str, ...]]:
    """What the first migrations write into an empty database, as SQLite keeps it: kind, name, table, text."""
    with closing(sqlite3.connect(":memory:")) as fresh:
        for statement in (s for statements in MIGRATIONS[:version] for s in statements):
            fresh.execute(statement)
        return _texts(fresh)


def _texts(connection: sqlite3.Connection) -> frozenset[tuple[str, ...]]:
    rows = connection.execute("SELECT type, name, tbl_name, coalesce(sql, '') FROM sqlite_master")
    return frozenset(tuple(" ".join(str(cell).split()) for cell in row) for row in rows)


def altered(connection: sqlite3.Connection) -> list[str]:
    """Name the tables and indices whose text is not what the migrations wrote; others may lie beside them."""
    version = version_of(connection)
    if not 0 < version <= len(MIGRATIONS):
        return []
    return sorted({row[1] for row in _made(version) - _texts(connection)})


def is_empty(connection: sqlite3.Connection) -> bool:
    """Whether a database holds nothing at all, of whatever program."""
    return connection.execute("SELECT 1 FROM sqlite_master").fetchone() is None


def migrate(connection: sqlite3.Connection) -> None:
    """Bring a catalogue to the present schema, inside the caller's transaction.

    Raises
    ------
    LogbookProblem
        If a newer version of this program has written it.
    """
    version = version_of(connection)
    if version > len(MIGRATIONS):
        raise LogbookProblem("logbook.newer", found=version, known=len(MIGRATIONS))
    if not version and not is_empty(connection):
        raise LogbookProblem("logbook.other_database")
    for statements in MIGRATIONS[version:]:
        for statement in statements:
            connection.execute(statement)
    if version < len(MIGRATIONS):
        connection.execute("UPDATE schema_version SET version = ?", (len(MIGRATIONS),))
