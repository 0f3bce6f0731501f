"""The logbook folder: what is in it, and the only way anything gets in.

Every change is one SQLite transaction with one writer at a time. A flight's telemetry file is written under a
temporary name and flushed, then the catalogue row is written, the file renamed, the folder flushed, and only then the
transaction committed. A crash before the commit leaves files without a row, which the next opening sweeps away; a crash
after it leaves the whole flight. A file's flights are committed together.
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

from spooldown.logbook.schema import MIGRATIONS, is_empty, migrate, version_of
from spooldown.problems import LogbookProblem, NotFoundProblem, not_found

if TYPE_CHECKING:
    from analyser.core.telemetry import Telemetry
    from analyser.season.link.range_check import RangeCheck
    from importers.model import FlightDraft
    from spooldown.logbook.note import FlightNote

CATALOGUE = "catalogue.sqlite"
YOURS = frozenset({"register", "mappings"})
"""Folders of a logbook that may be there before it is one."""
WAIT_S = 10.0
"""How long a writer waits for another one to finish."""
SYNCHRONOUS = "EXTRA"
"""A commit counts once it is on the disk, the folder's entry included."""


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
        self._writing = False
        with _spoken(self.folder):
            self._connect(self.catalogue if self.exists else None)
            if version_of(self._db) != len(MIGRATIONS):
                with self.writing():
                    pass
            self.sweep()

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
        """Whether the folder holds a catalogue."""
        return self.catalogue.is_file()

    # Reading

    def flights(self) -> list[Flight]:
        """Every flight, oldest first; flights without a day come last, in the order they were imported."""
        rows = self._rows(
            "SELECT flight_id, import_id, part, source, aircraft, utc_start, duration_s, rows, telemetry_sha256,"
            " channels, notices, (SELECT json_group_array(name) FROM source WHERE source.import_id = flight.import_id),"
            " local_start, coalesce(utc_start, nullif(local_start, '')) AS began"
            " FROM flight ORDER BY began IS NULL, began, import_id, part"
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

    def flight(self, flight_id: str) -> Flight:
        """Look one flight up.

        Raises
        ------
        NotFoundProblem
            Naming the nearest flight there is.
        """
        flights = {f.flight_id: f for f in self.flights()}
        if flight_id not in flights:
            raise not_found("flight", flight_id, flights, remedy="`spooldown flights` lists what there is")
        return flights[flight_id]

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
        """The flight's telemetry file."""
        return self.flights_folder / f"{flight_id}.parquet"

    def telemetry(self, flight_id: str) -> Telemetry:
        """Read one flight's telemetry as stored.

        Raises
        ------
        LogbookProblem
            If the file is gone or unreadable.
        """
        from spooldown.logbook.store import read_telemetry

        path = self.telemetry_path(flight_id)
        try:
            return read_telemetry(path)
        except (OSError, ValueError) as error:
            raise LogbookProblem(
                f"the telemetry of flight {flight_id} ({path.name}) is missing or damaged; restore the file from a"
                f" copy, or `spooldown remove {flight_id}` and import the log again"
            ) from error

    # Changing

    @contextmanager
    def writing(self) -> Iterator[sqlite3.Connection]:
        """Hold the one writer's transaction; an exception undoes everything, also the creation of the logbook."""
        if self._writing:
            yield self._db
            return
        folders: list[Path] = []
        with _spoken(self.folder):
            try:
                self._begin(folders)
                self._writing = True
                migrate(self._db)
                yield self._db
                self._db.execute("COMMIT")
            except BaseException:
                with suppress(sqlite3.Error):
                    self._db.execute("ROLLBACK")
                self._uncreate(folders)
                raise
            finally:
                self._writing = False

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
        files: list[tuple[Path, Path]] = []
        with self.writing() as db:
            for source in sources:  # looked up before, but another process may have been quicker
                if there := self.known(source.sha256):
                    raise LogbookProblem(f"{source.name} is already in the logbook as {', '.join(there)}")
            self.flights_folder.mkdir(exist_ok=True)
            try:
                now = datetime.now(UTC).isoformat(timespec="seconds")
                import_id = db.execute("INSERT INTO import (imported_at) VALUES (?)", (now,)).lastrowid
                db.executemany(
                    "INSERT INTO source VALUES (?, ?, ?, ?)", [(s.sha256, import_id, s.name, s.size) for s in sources]
                )
                for draft in drafts:
                    local = draft.metadata.get("local_start") or draft.metadata.get("local_day", "")
                    flight_id = self._free_id(aircraft, draft.utc_start, local)
                    final = self.telemetry_path(flight_id)
                    part = final.with_name(final.name + ".part")
                    files.append((part, final))
                    writer = store.write_telemetry(part, draft.batches, draft.schema)
                    written = writer.finish(
                        store.file_metadata(
                            flight_id=flight_id,
                            aircraft=aircraft,
                            utc_start=draft.utc_start,
                            source=sources[0].name,
                            source_sha256=[s.sha256 for s in sources],
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
                            _utc_text(draft.utc_start),
                            written.duration_s,
                            written.rows,
                            written.sha256,
                            json.dumps(written.channels),
                            json.dumps(draft.notices, ensure_ascii=False),
                            local,
                        ),
                    )
                    added.append(flight_id)
                for part, final in files:
                    os.replace(part, final)
                store.flush_folder(self.flights_folder)
            except BaseException:
                for path in (p for pair in files for p in pair):
                    with suppress(OSError):
                        path.unlink()
                raise
        return added

    def set_notes(self, notes: Mapping[str, FlightNote]) -> None:
        """Put these notes in the place of what was noted for their flights; all or none."""
        from spooldown.logbook.codec import to_json

        with self.writing() as db:
            for flight_id, note in notes.items():
                if note:
                    db.execute("INSERT OR REPLACE INTO note VALUES (?, ?)", (flight_id, to_json(note).decode()))
                else:
                    db.execute("DELETE FROM note WHERE flight_id = ?", (flight_id,))

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
        flight_ids = list(flight_ids)
        with self.writing() as db:
            db.executemany("DELETE FROM flight WHERE flight_id = ?", [(i,) for i in flight_ids])
            db.execute("DELETE FROM import WHERE import_id NOT IN (SELECT import_id FROM flight)")
        # Only now that no row names them; what a crash in between leaves is for the sweep.
        for flight_id in flight_ids:
            self.telemetry_path(flight_id).unlink(missing_ok=True)

    def sweep(self) -> None:
        """Remove what an interrupted import left, unless someone is importing right now."""
        if not self.exists or not self._orphans():
            return
        try:
            self._db.execute("PRAGMA busy_timeout = 0")
            self._db.execute("BEGIN IMMEDIATE")
        except sqlite3.OperationalError:
            return
        finally:
            self._db.execute(f"PRAGMA busy_timeout = {int(WAIT_S * 1000)}")
        try:
            for path in self._orphans():
                path.unlink(missing_ok=True)
        except OSError:
            pass
        finally:
            self._db.execute("ROLLBACK")

    # Inside

    def _orphans(self) -> list[Path]:
        if not self.flights_folder.is_dir():
            return []
        known = {f"{row[0]}.parquet" for row in self._rows("SELECT flight_id FROM flight")}
        found = []
        for path in self.flights_folder.iterdir():
            if path.name.endswith(".parquet.part") or (
                path.suffix == ".parquet" and path.name not in known and _is_ours(path)
            ):
                found.append(path)
        return found

    def _free_id(self, aircraft: str, utc_start: datetime | None, local: str) -> str:
        day = utc_start.astimezone(UTC).strftime("%Y-%m-%d") if utc_start else local[:10] or "undated"
        stem = f"{slug(aircraft, 'flight')}-{day}-"
        taken = {row[0] for row in self._rows("SELECT flight_id FROM flight WHERE flight_id GLOB ?", f"{stem}*")}
        index = 0
        while (flight_id := stem + letters(index)) in taken or self.telemetry_path(flight_id).exists():
            index += 1
        return flight_id

    def _rows(self, query: str, *values: object) -> list[Any]:
        with _spoken(self.folder):
            return self._db.execute(query, values).fetchall()

    def _connect(self, catalogue: Path | None) -> None:
        """Open the catalogue, or an empty one in memory where there is none yet."""
        self._db = sqlite3.connect(catalogue or ":memory:", timeout=WAIT_S, isolation_level=None)
        self._db.execute("PRAGMA foreign_keys = ON")
        self._db.execute(f"PRAGMA synchronous = {SYNCHRONOUS}")
        self._identity = _identity(catalogue) if catalogue else None
        if catalogue is None:
            migrate(self._db)

    def _begin(self, folders: list[Path]) -> None:
        """Begin the one writer's transaction on the catalogue that is in the folder now; adds the folders it makes.

        Another process may have made one since we found none, or taken an empty one away while we waited.
        """
        while True:
            if self._identity is None or self._identity != _identity(self.catalogue):
                folders += self._create()
            self._db.execute("BEGIN IMMEDIATE")
            if self._identity == _identity(self.catalogue):
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
        self._connect(self.catalogue)
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
        self._connect(None)
        for folder in (self.flights_folder, *folders):
            with suppress(OSError):
                folder.rmdir()


@contextmanager
def _spoken(folder: Path) -> Iterator[None]:
    """Turn the complaints of SQLite and of the disk into one sentence."""
    try:
        yield
    except OSError as error:
        what = os.strerror(error.errno) if error.errno else str(error)
        raise LogbookProblem(f"the logbook {folder} cannot be written ({what}); {_remedy(what)}") from error
    except sqlite3.OperationalError as error:
        if "locked" in str(error):
            raise LogbookProblem(
                f"another spooldown is writing to the logbook {folder}; wait for it and try again"
            ) from error
        raise LogbookProblem(f"the logbook {folder} cannot be used: {error}; {_remedy(str(error))}") from error
    except sqlite3.DatabaseError as error:
        raise LogbookProblem(
            f"the logbook's catalogue {folder / CATALOGUE} is damaged ({error}); restore it from a copy"
        ) from error


def _remedy(what: str) -> str:
    if "full" in what or "space" in what:
        return "free some space and try again"
    return "check the disk" if "I/O" in what or "Input/output" in what else "check the folder's permissions"


def _identity(path: Path) -> tuple[int, int] | None:
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_dev, found.st_ino


def _utc_text(moment: datetime | None) -> str | None:
    # Fixed width, so that text order is time order.
    return moment.astimezone(UTC).isoformat(timespec="microseconds") if moment else None


def _is_ours(path: Path) -> bool:
    import pyarrow.parquet as pq

    try:
        return bool((pq.read_metadata(path).metadata or {}).get(b"format", b"").startswith(b"spooldown telemetry"))
    except (OSError, ValueError):
        return False
