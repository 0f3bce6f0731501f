"""The logbook folder: what is in it, and the only way anything gets in.

Reading opens the catalogue read-only. Every change is one SQLite transaction with one writer at a time. A flight's
telemetry file is written under a temporary name and flushed, its row committed, and only then the file gets its name;
what a crash in between leaves is told apart by whether there is a row (:mod:`spooldown.logbook.unknown`). A file's
flights are committed together.
"""

from __future__ import annotations

import json
import os
import re
import sqlite3
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any

from spooldown.logbook.catalogue import CATALOGUE, connect, identity, in_memory, open_to_read, spoken
from spooldown.logbook.schema import MIGRATIONS, is_empty, migrate, version_of
from spooldown.logbook.unknown import DamagedFile, disorder, holds_flights, parts_of, settle, utc_text
from spooldown.problems import LogbookProblem, NotFoundProblem, not_found

if TYPE_CHECKING:
    from analyser.core.telemetry import Telemetry
    from analyser.season.link.range_check import RangeCheck
    from importers.model import FlightDraft
    from spooldown.logbook.note import FlightNote

YOURS = frozenset({"register", "mappings"})
"""Folders of a logbook that may be there before it is one."""


@dataclass(frozen=True, slots=True)
class Source:
    """One file an import read: its name as shown, its content hash and its size."""

    name: str
    sha256: str
    size: int


@dataclass(frozen=True, slots=True)
class Flight:
    """One flight as the catalogue lists it."""

    flight_id: str
    import_id: int
    part: int
    source: str
    aircraft: str
    utc_start: datetime | None
    duration_s: float
    rows: int
    telemetry_sha256: str
    channels: tuple[str, ...]
    notices: tuple[str, ...]
    sources: tuple[str, ...] = ()
    """Names of all files it was read from: more than one where they were joined."""
    local_start: str = ""
    """Day, or day and time, by the log's own clock where its zone is unknown."""

    @property
    def day(self) -> date | None:
        """The day it began: in UTC, or by the log's own clock where its zone is unknown."""
        if self.utc_start:
            return self.utc_start.date()
        return date.fromisoformat(self.local_start[:10]) if self.local_start else None

    @property
    def when(self) -> str:
        """When it began, in UTC unless it says ``local``, as far as is known."""
        if self.utc_start:
            return f"{self.utc_start:%Y-%m-%d %H:%M}"
        day, _, time = self.local_start.partition("T")
        return f"{day} {time[:5]} local" if time else day or "undated"


def slug(text: str, otherwise: str = "") -> str:
    """Reduce a name to what is safe in a file name on every system: lower-case letters, digits and hyphens."""
    import unicodedata

    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:40].strip("-") or otherwise


def letters(index: int) -> str:
    """Count 0, 1 … 25, 26 as a, b … z, aa."""
    text = ""
    index += 1
    while index:
        index, digit = divmod(index - 1, 26)
        text = chr(ord("a") + digit) + text
    return text


def damaged(flight: Flight, error: Exception) -> str:
    """Word that a flight's telemetry file is not what was stored."""
    if isinstance(error, FileNotFoundError):
        what = "is missing"
    elif isinstance(error, OSError):
        what = f"cannot be read ({error.strerror or error})"
    else:
        what = f"is damaged ({error})"
    return (
        f"the telemetry of flight {flight.flight_id} (flights/{flight.flight_id}.parquet) {what}; restore the file from"
        f" a copy, or `spooldown remove {flight.flight_id}` and import the log again"
    )


class Logbook:
    """A logbook folder, opened.

    A folder without a catalogue reads as an empty logbook; the first change creates it.

    Parameters
    ----------
    folder : Path
        Where it is or shall be.

    Raises
    ------
    LogbookProblem
        If the catalogue is damaged or written by a newer version.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.catalogue = folder / CATALOGUE
        self.flights_folder = folder / "flights"
        self.register_folder = folder / "register"
        self.mappings_folder = folder / "mappings"
        self.cache_folder = folder / "cache"
        self.said: list[str] = []
        """What was found out of order on opening, in plain sentences."""
        self._writing = self._settled = False
        self._parts: dict[str, bool] = {}  # flight id → whether its file is being added (or removed)
        with spoken(self.folder):
            self._open_to_read()

    def __enter__(self) -> Logbook:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the catalogue."""
        self._db.close()

    @property
    def exists(self) -> bool:
        """Whether the folder holds a catalogue, or flights that must have had one."""
        return self.catalogue.is_file() or holds_flights(self.flights_folder)

    # Reading

    def flights(self) -> list[Flight]:
        """Every flight, oldest first; flights without a day come last, in the order they were imported."""
        return self._flights("")

    def flight(self, flight_id: str) -> Flight:
        """Look one flight up.

        Raises
        ------
        NotFoundProblem
            Naming the nearest flight there is.
        """
        if found := self._flights("WHERE flight_id = ?", flight_id):
            return found[0]
        known = [row[0] for row in self._rows("SELECT flight_id FROM flight")]
        raise not_found("flight", flight_id, known, remedy="`spooldown flights` lists what there is")

    def known(self, sha256: str) -> list[str]:
        """Flights that came from a file with this content; empty where it was never imported."""
        found = self._rows(
            "SELECT flight_id FROM flight JOIN source USING (import_id) WHERE sha256 = ? ORDER BY part", sha256
        )
        return [row[0] for row in found]

    def notes(self) -> dict[str, FlightNote]:
        """Every flight's notes."""
        from spooldown.logbook.codec import from_json
        from spooldown.logbook.note import FlightNote

        return {k: from_json(body, FlightNote) for k, body in self._rows("SELECT flight_id, body FROM note")}

    def range_checks(self) -> list[tuple[int, str, RangeCheck]]:
        """Walked range checks, oldest first: the number to remove one by, whose, and the check."""
        from analyser.season.link.range_check import RangeCheck

        rows = self._rows(
            "SELECT range_check_id, aircraft, day, receiver, antenna, distance_m, reduction_db, orientation,"
            " remarks FROM range_check ORDER BY day, range_check_id"
        )
        return [(row[0], row[1], RangeCheck(date.fromisoformat(row[2]), *row[3:])) for row in rows]

    def setting(self, name: str) -> str:
        """One setting of this logbook, '' where never set."""
        rows = self._rows("SELECT value FROM setting WHERE name = ?", name)
        return str(rows[0][0]) if rows else ""

    def telemetry_path(self, flight_id: str) -> Path:
        """The flight's telemetry file, under its temporary name where a crash left it that."""
        ((part, final),) = parts_of(self.flights_folder, [flight_id])
        return part if not final.exists() and part.exists() else final

    def telemetry(self, flight_id: str) -> Telemetry:
        """Read one flight's telemetry as stored.

        Raises
        ------
        LogbookProblem
            If the file is gone, unreadable, or not what was stored.
        """
        from spooldown.logbook.store import read_telemetry

        flight = self.flight(flight_id)
        try:
            try:
                return read_telemetry(self.telemetry_path(flight_id), flight.telemetry_sha256)
            except FileNotFoundError:  # it may have got its name just now
                return read_telemetry(self.telemetry_path(flight_id), flight.telemetry_sha256)
        except (OSError, DamagedFile) as error:
            raise LogbookProblem(damaged(flight, error)) from error

    # Changing

    @contextmanager
    def writing(self) -> Iterator[sqlite3.Connection]:
        """Hold the one writer's transaction; an exception undoes everything, also the creation of the logbook."""
        if self._writing:
            yield self._db
            return
        from spooldown.logbook import store

        folders: list[Path] = []
        with spoken(self.folder):
            try:
                self._begin(folders)
                self._writing = True
                migrate(self._db)
                if not self._settled:
                    self.said = settle(self._db, self.flights_folder, write=True) or self.said
                yield self._db
                if self._parts:
                    store.flush_folder(self.flights_folder)
                self._db.execute("COMMIT")
            except BaseException:
                if self._db.in_transaction:
                    self._take_back()  # before anyone else may write
                    with suppress(sqlite3.Error):
                        self._db.execute("ROLLBACK")
                self._uncreate(folders)
                raise
            finally:
                self._writing = False
                named, self._parts, self._settled = self._parts, {}, False
            self._settled = self._name(named)

    def add(
        self,
        sources: Sequence[Source],
        drafts: Iterable[FlightDraft],
        *,
        aircraft: str = "",
        more: Mapping[str, str] | None = None,
    ) -> list[str]:
        """Store all flights of one import, or none.

        Parameters
        ----------
        sources : sequence of Source
            The files read, the main one first.
        drafts : iterable of FlightDraft
            As the importer yields them; each is streamed to its file.
        aircraft : str
            Whose flights these are, '' where unassigned.
        more : mapping of str to str
            Further metadata for the telemetry files.

        Returns
        -------
        list of str
            Flight ids in file order.

        Raises
        ------
        LogbookProblem
            If one of the sources is in the logbook already.
        """
        from spooldown.logbook import store

        added: list[str] = []
        with self.writing() as db:
            for source in sources:  # looked up before, but another process may have been quicker
                if there := self.known(source.sha256):
                    raise LogbookProblem(f"{source.name} is already in the logbook as {', '.join(there)}")
            self.flights_folder.mkdir(exist_ok=True)
            now = datetime.now(UTC).isoformat(timespec="seconds")
            import_id = db.execute("INSERT INTO import (imported_at) VALUES (?)", (now,)).lastrowid
            db.executemany(
                "INSERT INTO source VALUES (?, ?, ?, ?)", [(s.sha256, import_id, s.name, s.size) for s in sources]
            )
            for draft in drafts:
                local = draft.metadata.get("local_start") or draft.metadata.get("local_day", "")
                flight_id = self._free_id(aircraft, draft.utc_start, local)
                ((part, _),) = parts_of(self.flights_folder, [flight_id])
                self._parts[flight_id] = True
                writer = store.write_telemetry(part, draft.batches, draft.schema)
                written = writer.finish(
                    store.file_metadata(
                        flight_id=flight_id,
                        aircraft=aircraft,
                        utc_start=draft.utc_start,
                        sources=sources,
                        imported_at=now,
                        part=draft.part,
                        notices=draft.notices,
                        more={**(more or {}), **draft.metadata},
                    )
                )
                db.execute(
                    "INSERT INTO flight VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
                    (
                        flight_id,
                        import_id,
                        draft.part,
                        sources[0].name,
                        aircraft,
                        utc_text(draft.utc_start),
                        written.duration_s,
                        written.rows,
                        written.sha256,
                        json.dumps(written.channels),
                        json.dumps(draft.notices, ensure_ascii=False),
                        local,
                    ),
                )
                added.append(flight_id)
        return added

    def note(self, notes: Mapping[str, FlightNote], *, forget: bool = False) -> dict[str, FlightNote]:
        """Put these notes over what was noted for their flights, all or none; returns what is noted now.

        Reading and writing are one transaction: two who note different things of one flight at once both have them.

        Parameters
        ----------
        forget : bool
            Drop what was noted before.
        """
        from spooldown.logbook.codec import from_json, to_json
        from spooldown.logbook.note import FlightNote

        merged = {}
        with self.writing() as db:
            for flight_id, newer in notes.items():
                row = db.execute("SELECT body FROM note WHERE flight_id = ?", (flight_id,)).fetchone()
                before = from_json(row[0], FlightNote) if row and not forget else FlightNote()
                note = merged[flight_id] = before.updated(newer)
                if note:
                    db.execute("INSERT OR REPLACE INTO note VALUES (?, ?)", (flight_id, to_json(note).decode()))
                else:
                    db.execute("DELETE FROM note WHERE flight_id = ?", (flight_id,))
        return merged

    def set_notes(self, notes: Mapping[str, FlightNote]) -> None:
        """Put these notes in the place of what was noted for their flights; all or none."""
        self.note(notes, forget=True)

    def add_range_checks(self, checks: Iterable[tuple[str, RangeCheck]]) -> int:
        """Keep range checks, each with whose it is; returns how many were new. All or none."""
        with self.writing() as db:
            before = db.total_changes
            db.executemany(
                "INSERT OR IGNORE INTO range_check (aircraft, day, receiver, antenna, distance_m, reduction_db,"
                " orientation, remarks) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
                [
                    (who, c.day.isoformat(), c.receiver, c.number, c.distance_m, c.reduction_db, c.orientation, c.note)
                    for who, c in checks
                ],
            )
            return db.total_changes - before

    def remove_range_check(self, number: int) -> None:
        """Take one range check out.

        Raises
        ------
        NotFoundProblem
            If there is none with this number.
        """
        with self.writing() as db:
            if not db.execute("DELETE FROM range_check WHERE range_check_id = ?", (number,)).rowcount:
                raise NotFoundProblem(
                    f"there is no range check {number}; `spooldown range-checks` lists what there is."
                )

    def assign(self, flight_ids: Iterable[str], aircraft: str) -> None:
        """Say whose flights these are; their ids stay."""
        with self.writing() as db:
            db.executemany(
                "UPDATE flight SET aircraft = ? WHERE flight_id = ?",
                [(aircraft, flight_id) for flight_id in flight_ids],
            )

    def set_setting(self, name: str, value: str) -> None:
        """Set one setting of this logbook."""
        with self.writing() as db:
            db.execute("INSERT OR REPLACE INTO setting VALUES (?, ?)", (name, value))

    def remove(self, flight_ids: Iterable[str]) -> None:
        """Take flights out, with their notes; an import is forgotten with its last flight."""
        with self.writing() as db:
            for part, final in parts_of(self.flights_folder, flight_ids := list(flight_ids)):
                # Under its temporary name a file stays with its row, or goes with it.
                self._parts[final.stem] = False
                with suppress(FileNotFoundError):
                    os.replace(final, part)
            db.executemany("DELETE FROM flight WHERE flight_id = ?", [(i,) for i in flight_ids])
            db.execute("DELETE FROM import WHERE import_id NOT IN (SELECT import_id FROM flight)")
        with self.writing():  # what has no row now is swept
            pass

    # Inside

    def _name(self, parts: Mapping[str, bool]) -> bool:
        """Give committed files their names; returns whether nothing is left for the next writer to settle."""
        from spooldown.logbook.store import flush_folder

        for part, final in parts_of(self.flights_folder, [i for i, added in parts.items() if added]):
            with suppress(OSError):
                os.replace(part, final)
        if parts:
            with suppress(OSError):
                flush_folder(self.flights_folder)
        return all(parts.values()) and not any(p.exists() for p, _ in parts_of(self.flights_folder, list(parts)))

    def _take_back(self) -> None:
        """Drop what was to be added and name again what was to be removed."""
        for part, final in parts_of(self.flights_folder, list(self._parts)):
            with suppress(OSError):
                if self._parts[final.stem]:
                    part.unlink()
                else:
                    os.replace(part, final)

    def _free_id(self, aircraft: str, utc_start: datetime | None, local: str) -> str:
        day = utc_start.astimezone(UTC).strftime("%Y-%m-%d") if utc_start else local[:10] or "undated"
        stem = f"{slug(aircraft, 'flight')}-{day}-"
        taken = {row[0] for row in self._rows("SELECT flight_id FROM flight WHERE flight_id GLOB ?", f"{stem}*")}
        index = 0
        while (flight_id := stem + letters(index)) in taken or self.telemetry_path(flight_id).exists():
            index += 1
        return flight_id

    def _flights(self, where: str, *values: object) -> list[Flight]:
        rows = self._rows(
            "SELECT flight_id, import_id, part, source, aircraft, utc_start, duration_s, rows, telemetry_sha256,"
            " channels, notices, (SELECT json_group_array(name) FROM source WHERE source.import_id = flight.import_id),"
            " local_start, coalesce(utc_start, nullif(local_start, '')) AS began"
            f" FROM flight {where} ORDER BY began IS NULL, began, import_id, part",
            *values,
        )
        return [
            Flight(
                flight_id=row[0],
                import_id=row[1],
                part=row[2],
                source=row[3],
                aircraft=row[4],
                utc_start=datetime.fromisoformat(row[5]) if row[5] else None,
                duration_s=row[6],
                rows=row[7],
                telemetry_sha256=row[8],
                channels=tuple(json.loads(row[9])),
                notices=tuple(json.loads(row[10])),
                sources=tuple(json.loads(row[11])),
                local_start=row[12],
            )
            for row in rows
        ]

    def _rows(self, query: str, *values: object) -> list[Any]:
        with spoken(self.folder):
            return self._db.execute(query, values).fetchall()

    def _open_to_read(self) -> None:
        """Open the catalogue read-only; a copy in memory where it is not there, older, or lacks flights."""
        there = self.catalogue.is_file()
        self._identity: tuple[int, int] | None = None  # of the file open for writing
        self._db = open_to_read(self.catalogue) if there else connect(None)
        if version_of(self._db) == len(MIGRATIONS) and not disorder(self._db, self.flights_folder).unknown:
            return
        if there:
            self._db = in_memory(self._db)
        migrate(self._db)
        self.said = settle(self._db, self.flights_folder, write=False)

    def _begin(self, folders: list[Path]) -> None:
        """Begin the one writer's transaction on the catalogue that is in the folder now; adds the folders it makes.

        Another process may have made one since we found none, or taken an empty one away while we waited.
        """
        while True:
            if self._identity is None or self._identity != identity(self.catalogue):
                folders += self._create()
            self._db.execute("BEGIN IMMEDIATE")
            if self._identity == identity(self.catalogue):
                return
            self._db.execute("ROLLBACK")

    def _create(self) -> list[Path]:
        """Make the folder a logbook if it is none, and open it; returns the folders that were not there before."""
        made = [p for p in (self.folder, *self.folder.parents) if not p.exists()]
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            foreign = [] if self.exists else [p.name for p in self.folder.iterdir() if p.name not in YOURS]
        except OSError as error:
            raise LogbookProblem(
                f"the folder {self.folder} cannot be made or read ({error.strerror}); choose another folder"
            ) from error
        if foreign:
            raise LogbookProblem(
                f"{self.folder} is not a logbook and is not empty (it holds {sorted(foreign)[0]!r}); name an empty or"
                " new folder with --logbook"
            )
        self._db.close()
        self._db = connect(self.catalogue, write=True)
        self._identity = identity(self.catalogue)
        return made

    def _uncreate(self, folders: list[Path]) -> None:
        """Take a catalogue away again that never held anything, and the folders made for it."""
        with suppress(sqlite3.Error, OSError):
            if not is_empty(self._db):
                return
            try:
                self._db.execute("BEGIN EXCLUSIVE")  # whoever waits for it sees that the file has gone
            except sqlite3.OperationalError as error:
                if "full" not in str(error):  # on a full disk nobody else can have begun anything
                    raise
            if is_empty(self._db):
                self.catalogue.unlink()
        self._db.close()
        self._open_to_read()
        for folder in (self.flights_folder, *folders):
            with suppress(OSError):
                folder.rmdir()
