"""The logbook folder: what is in it, and the only way anything gets in.

Reading opens the catalogue read-only. Every change is one SQLite transaction with one writer at a time. A flight's
telemetry file is written under a temporary name and flushed, its row committed, and only then the file gets its name;
what a crash in between leaves is told apart by whether there is a row (:mod:`spooldown.logbook.unknown`). A file's
flights are committed together.
"""

from __future__ import annotations

import hashlib
import json
import os
import sqlite3
import time
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import ExitStack, closing, contextmanager, nullcontext, suppress
from dataclasses import fields, replace
from datetime import UTC, date, datetime
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any

from analyser.core.findings import Finding
from reports.addresses import hyphenated
from spooldown.logbook import bin, entered, texts
from spooldown.logbook.catalogue import (
    CATALOGUE,
    connect,
    identity,
    in_memory,
    make_sure_it_is_here,
    not_this_one,
    open_to_read,
    spoken,
)
from spooldown.logbook.flight import DamagedFile, Flight, Source, flight_of
from spooldown.logbook.schema import MIGRATIONS, is_empty, migrate, version_of
from spooldown.logbook.unknown import (
    ENDING,
    FLIGHTS,
    Disorder,
    disorder,
    give_name,
    holds_flights,
    is_left_over,
    other_owner,
    parts_of,
    settle,
    takes_its_place,
    utc_text,
)
from spooldown.problems import LogbookProblem, NotFoundProblem, UsageProblem, not_found

if TYPE_CHECKING:
    from analyser.core.telemetry import Telemetry
    from analyser.season.link.range_check import RangeCheck
    from importers.model import FlightDraft
    from spooldown.logbook.listing import Listing
    from spooldown.logbook.note import FlightNote

YOURS = frozenset({"register", "mappings", "limits"})
"""Folders of a logbook that may be there before it is one."""
LOOKS, WAIT_S = 3, 0.05
"""How often, and how far apart, what seems out of order is looked at again."""
JOURNAL = "DELETE"
"""How the catalogue is remembered as it was until a change is committed (SQLite's journal modes): on the disk."""
LATEST_ALIKE = 20
"""Flights that one more is held against where the clock does not tell them apart."""


def slug(text: str, otherwise: str = "") -> str:
    """Reduce a name to what is safe in a file name on every system: lower-case letters, digits and hyphens."""
    return hyphenated(text) or otherwise


def letters(index: int) -> str:
    """Count 0, 1 … 25, 26 as a, b … z, aa."""
    text = ""
    index += 1
    while index:
        index, digit = divmod(index - 1, 26)
        text = chr(ord("a") + digit) + text
    return text


def note_of(flight_id: str, body: str) -> FlightNote:
    """Read a flight's note as it is stored.

    Raises
    ------
    LogbookProblem
        If it holds what nobody stored there.
    """
    from spooldown.logbook.codec import from_json
    from spooldown.logbook.note import FlightNote

    try:
        return from_json(body, FlightNote)
    except Exception as error:  # whatever the codec says of what nobody stored there
        raise LogbookProblem(
            "logbook.repairable", what=Finding("logbook.note_damaged", {"flight": flight_id})
        ) from error


def _both(first: tuple[str, ...], again: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(i for i in first if i in again)


def digest_of(path: Path) -> str:
    """SHA-256 of a file's content, '' where there is none to read."""
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError:
        return ""


def damaged(flight: Flight, error: Exception) -> Finding:
    """Say that a flight's telemetry file is not what was stored."""
    if isinstance(error, FileNotFoundError):
        return Finding("logbook.telemetry_missing", {"flight": flight.flight_id})
    if isinstance(error, OSError):
        why = str(error.strerror or error)
        return Finding("logbook.telemetry_unreadable", {"flight": flight.flight_id, "why": why})
    return Finding("logbook.telemetry_damaged", {"flight": flight.flight_id, "why": str(error)})


TEXT = "text"
"""Kind of the records that hold digests of files a person may edit."""


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

    address = ""
    """Where it is on object storage, '' for a folder."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.catalogue = folder / CATALOGUE
        self.flights_folder = folder / FLIGHTS
        self.bin_folder = folder / bin.FOLDER
        self.register_folder = folder / "register"
        self.mappings_folder = folder / "mappings"
        self.limits_folder = folder / "limits"
        self._text_folders = (self.register_folder, self.mappings_folder, self.limits_folder)
        self.cache_folder = folder / "cache"
        self.said: list[Finding] = []
        """What was found out of order on opening, in plain sentences."""
        self._journal = JOURNAL
        self._writing = self._settled = self._stale = self._was_there = False
        self._beginnings: dict[str, dict[str, bytes]] = {}
        self._added: list[str] = []  # flights whose file gets its name after the commit
        self._moved: list[tuple[Path, Path]] = []  # files moved, to be moved back where the commit fails
        self._entries: list[entered.Entry] = []
        with spoken(self.folder):
            self._open_to_read()

    def __enter__(self) -> Logbook:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def settle_again(self) -> None:
        """Have the next change bring files and rows together anew, as on opening."""
        self._stale = True

    def close(self) -> None:
        """Let go of the catalogue."""
        self.db.close()

    @property
    def exists(self) -> bool:
        """Whether the folder holds a catalogue, or flights that must have had one."""
        return self.catalogue.is_file() or holds_flights(self.folder) or bool(entered.size_of(self.folder))

    # Reading

    def flights(self) -> list[Flight]:
        """Every flight, oldest first; flights without a day come last, in the order they were imported."""
        return self._flights("")

    def listing(self) -> Listing:
        """Every flight, oldest first, and its note, read and taken apart only when asked for."""
        from spooldown.logbook.listing import Listing

        with spoken(self.folder):
            return Listing(self.db, self._some)

    def flight(self, flight_id: str) -> Flight:
        """Look one flight up.

        Raises
        ------
        NotFoundProblem
            Naming the nearest flight there is.
        """
        if found := self._flights("WHERE flight_id = ?", flight_id):
            return found[0]
        known = [row[0] for row in self.rows("SELECT flight_id FROM flight")]
        raise not_found("flight", flight_id, known, remedy="remedy.list_flights")

    def latest(self, count: int, *, skip: int = 0, aircraft: str | None = None) -> list[Flight]:
        """The newest flights, newest first, without reading the others; ``skip`` leaves out as many of the newest."""
        whose, values = ("", ()) if aircraft is None else ("WHERE aircraft = ?", (aircraft,))
        newest = (
            "SELECT flight_id FROM (SELECT flight_id, import_id, part,"
            f" coalesce(utc_start, nullif(local_start, '')) AS began FROM flight {whose})"
            " ORDER BY began IS NULL DESC, began DESC, import_id DESC, part DESC LIMIT ? OFFSET ?"
        )
        return self._flights(f"WHERE flight_id IN ({newest})", *values, count, skip)[::-1]

    def owners(self) -> dict[str, int]:
        """How many flights each aircraft has, by name; '' for those that are not assigned."""
        return dict(self.rows("SELECT aircraft, count(*) FROM flight GROUP BY aircraft ORDER BY aircraft"))

    def noted(self) -> set[str]:
        """Ids of the flights that have a note."""
        return {row[0] for row in self.rows("SELECT flight_id FROM note")}

    def flight_ids(self) -> list[str]:
        """Every flight's id, sorted."""
        return [row[0] for row in self.rows("SELECT flight_id FROM flight ORDER BY flight_id")]

    def sources(self, flight_id: str) -> list[Source]:
        """Files that a flight was read from."""
        rows = self.rows(
            "SELECT name, sha256, bytes FROM source JOIN flight USING (import_id) WHERE flight_id = ? ORDER BY sha256",
            flight_id,
        )
        return [Source(*row) for row in rows]

    def answers(self, flight_id: str) -> dict[str, str]:
        """How what a flight's file left open was answered when it was imported."""
        rows = self.rows("SELECT answers FROM import JOIN flight USING (import_id) WHERE flight_id = ?", flight_id)
        try:
            said = json.loads(rows[0][0]) if rows and rows[0][0] else {}
        except ValueError:
            return {}
        return {str(k): str(v) for k, v in said.items()} if isinstance(said, dict) else {}

    def disorder(self) -> Disorder:
        """What files and catalogue do not agree on now, and still not when they were looked at again.

        What another process has in hand at this moment is in order: a change is under way while there is a journal that
        no reader has to undo, and a file gets its name just behind the commit.
        """
        with spoken(self.folder):
            first = disorder(self.db, self.folder)
            if first == Disorder() or self._writing:
                return first
            on_disk = self.db.execute("PRAGMA database_list").fetchone()[2]
            for _ in range(LOOKS):
                time.sleep(WAIT_S)
                if on_disk and self.catalogue.with_name(f"{CATALOGUE}-journal").exists():
                    first = replace(first, leftovers=())
                again = disorder(self.db, self.folder)
                first = Disorder(
                    **{f.name: _both(getattr(first, f.name), getattr(again, f.name)) for f in fields(first)}
                )
        return first

    def known(self, sha256: str) -> list[str]:
        """Flights that came from a file with this content; empty where it was never imported."""
        found = self.rows(
            "SELECT flight_id FROM flight JOIN source USING (import_id) WHERE sha256 = ? ORDER BY part", sha256
        )
        return [row[0] for row in found]

    def has_size(self, size: int) -> bool:
        """Whether a file of so many bytes was imported: one of another size has another content."""
        return bool(self.rows("SELECT 1 FROM source WHERE bytes = ? LIMIT 1", size))

    def notes(self, only: Collection[str] | None = None) -> dict[str, FlightNote]:
        """Every flight's notes, or those of some."""
        notes = {}
        which = "" if only is None else "WHERE flight_id IN (SELECT value FROM json_each(?))"
        values = () if only is None else (json.dumps(list(only)),)
        for flight_id, body in self.rows(f"SELECT flight_id, body FROM note {which}", *values):
            notes[flight_id] = note_of(flight_id, body)
        return notes

    def range_checks(self) -> list[tuple[int, str, RangeCheck]]:
        """Walked range checks, oldest first: the number to remove one by, whose, and the check."""
        from analyser.season.link.range_check import RangeCheck

        rows = self.rows(
            "SELECT range_check_id, aircraft, day, receiver, antenna, distance_m, reduction_db, orientation,"
            " remarks FROM range_check ORDER BY day, range_check_id"
        )
        try:
            return [(row[0], row[1], RangeCheck(date.fromisoformat(row[2]), *row[3:])) for row in rows]
        except (TypeError, ValueError) as error:
            raise LogbookProblem(
                "logbook.repairable", what=Finding("logbook.range_check_damaged", {"why": str(error)})
            ) from error

    def records(self, kind: str) -> dict[str, str]:
        """What was entered of one kind, as JSON by its name: ``{"2031-04-05-a": '{"volume_ml": 850.0}'}``."""
        return dict(self.rows("SELECT name, body FROM record WHERE kind = ? ORDER BY name", kind))

    def setting(self, name: str) -> str:
        """One setting of this logbook, '' where never set."""
        rows = self.rows("SELECT value FROM setting WHERE name = ?", name)
        return str(rows[0][0]) if rows else ""

    def at_one_moment(self) -> tuple[bytes, dict[str, str]]:
        """The catalogue's bytes as they are at one moment, and the hash of every flight's file by then."""
        with spoken(self.folder), closing(connect(None)) as copy:
            self.db.backup(copy)  # whoever writes meanwhile
            return copy.serialize(), dict(copy.execute("SELECT flight_id, telemetry_sha256 FROM flight"))

    def telemetry_path(self, flight_id: str) -> Path:
        """The flight's telemetry file, wherever a crash may have left it."""
        ((part, final),) = parts_of(self.flights_folder, [flight_id])
        others = (part, self.bin_folder / final.name)
        if final.exists() and part.exists() and takes_its_place(self.db, self.flights_folder, flight_id):
            return part
        return final if final.exists() else next((p for p in others if p.exists()), final)

    def telemetry_place(self, flight_id: str) -> Path | str:
        """Where a flight's telemetry is read from: its path; an address where the logbook is on object storage."""
        return self.telemetry_path(flight_id)

    def other_files(self) -> Iterator[tuple[str, Path | str]]:
        """What belongs to it besides the catalogue and the flights: name in the logbook, and path or address."""
        found = [p for folder in self._text_folders for p in sorted(folder.glob("*.toml"))]
        found += sorted(self.bin_folder.glob(f"*{ENDING}"))
        if entered.size_of(self.folder):
            found.append(self.folder / entered.FILE)
        for path in found:
            yield path.relative_to(self.folder).as_posix(), path

    def telemetry(self, flight_id: str) -> Telemetry:
        """Read one flight's telemetry as stored.

        Raises
        ------
        LogbookProblem
            If the file is gone, unreadable, or not what was stored.
        """
        return self.telemetry_of(self.flight(flight_id))

    def telemetry_of(self, flight: Flight) -> Telemetry:
        """Read the telemetry of a flight that was looked up before, also where it was put into the bin meanwhile.

        Raises
        ------
        LogbookProblem
            If the file is gone, unreadable, or not what was stored.
        """
        from spooldown.logbook.store import read_telemetry

        flight_id = flight.flight_id
        try:
            try:
                return read_telemetry(self.telemetry_place(flight_id), flight.telemetry_sha256)
            except (FileNotFoundError, DamagedFile):  # it may have got its name, or been replaced, just now
                if flight_id not in self._in_bin([]):
                    flight = self.flight(flight_id)
                return read_telemetry(self.telemetry_place(flight_id), flight.telemetry_sha256)
        except NotFoundProblem as problem:
            raise LogbookProblem("logbook.taken_out_meanwhile", flight=flight_id) from problem
        except (OSError, DamagedFile) as error:
            raise LogbookProblem(
                "logbook.telemetry_unusable", what=damaged(flight, error), flight=flight.flight_id
            ) from error

    # Changing

    @contextmanager
    def writing(self) -> Iterator[sqlite3.Connection]:
        """Hold the one writer's transaction; an exception undoes everything, also the creation of the logbook."""
        if self._writing:
            yield self.db
            return
        from spooldown.logbook import store

        folders: list[Path] = []
        size: int | None = None
        with spoken(self.folder):
            try:
                self._begin(folders)
                self._writing = True
                migrate(self.db)
                if not self._settled:
                    self.said = settle(self.db, self.folder, write=True) or self.said
                size = entered.size_of(self.folder)
                yield self.db
                if self._added or self._moved:
                    store.flush_folder(self.flights_folder)
                if self._entries:
                    entered.append(self.db, self.folder, self._entries)
                self.db.execute("COMMIT")
            except BaseException:
                if not self.db.in_transaction:  # SQLite undid it itself: an error of the disk, or no room
                    with suppress(sqlite3.Error):
                        self.db.execute("BEGIN IMMEDIATE")
                if self.db.in_transaction:
                    quicker = size is not None and not is_empty(self.db) and entered.seen(self.db) > size
                    self._take_back(None if quicker else size)  # before anyone else may write
                    with suppress(sqlite3.Error):
                        self.db.execute("ROLLBACK")
                self._uncreate(folders)
                raise
            finally:
                self._writing = False
                added, self._added, self._moved, self._entries, self._settled = self._added, [], [], [], False
                stale, self._stale = self._stale, False
            self._settled = self._name(added) and not stale

    def add(
        self,
        sources: Sequence[Source],
        drafts: Iterable[FlightDraft],
        *,
        aircraft: str = "",
        more: Mapping[str, str] | None = None,
        held: dict[str, Finding] | None = None,
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
        held : dict of str to Finding, optional
            Takes flights that are there already, whole or as a longer copy, and what was recognised; they are left out.
            Without it nothing is looked for.

        Returns
        -------
        list of str
            Flight ids in file order.

        Raises
        ------
        LogbookProblem
            If one of the sources is in the logbook already.
        UsageProblem
            If a flight is a longer copy of one that is there.
        """
        from spooldown.logbook import store

        added: list[str] = []
        with self.writing() as db, ExitStack() as undone:
            for source in sources:  # looked up before, but another process may have been quicker
                if there := self.known(source.sha256):
                    raise LogbookProblem("logbook.source_known", source=source.name, flights=tuple(there))
            self.flights_folder.mkdir(exist_ok=True)
            undone.callback(self._undo_import, len(self._added))
            db.execute("SAVEPOINT one_import")
            now = datetime.now(UTC).isoformat(timespec="seconds")
            answers = (more or {}).get("answers", "")
            import_id = db.execute("INSERT INTO import (imported_at, answers) VALUES (?, ?)", (now, answers)).lastrowid
            db.executemany(
                "INSERT INTO source VALUES (?, ?, ?, ?)", [(s.sha256, import_id, s.name, s.size) for s in sources]
            )
            for draft in drafts:
                local = draft.metadata.get("local_start") or draft.metadata.get("local_day", "")
                flight_id = self._free_id(aircraft, draft.utc_start, local)
                ((part, _),) = parts_of(self.flights_folder, [flight_id])
                self._added.append(flight_id)
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
                if held is not None and (twin := self._copy_of(part, written.sha256, draft, local, import_id or 0)):
                    if written.rows > twin.rows:
                        raise UsageProblem(
                            "logbook.longer_copy", log=sources[0].name, rows=twin.rows, flight=twin.flight_id
                        )
                    rows = 0 if written.rows == twin.rows else written.rows
                    held[twin.flight_id] = Finding("intake.copy", {"rows": rows, "flight": twin.flight_id})
                    self._added.remove(flight_id)
                    part.unlink()
                    continue
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
                        texts.to_json(draft.notices),
                        local,
                    ),
                )
                added.append(flight_id)
            if not added:
                db.execute("DELETE FROM import WHERE import_id = ?", (import_id,))
            db.execute("RELEASE one_import")
            undone.pop_all()
        return added

    def _undo_import(self, before: int) -> None:
        """Take back one import and nothing else of a transaction that holds more."""
        if not self.db.in_transaction:
            return
        self.db.execute("ROLLBACK TO one_import")
        self.db.execute("RELEASE one_import")
        for part, _ in parts_of(self.flights_folder, self._added[before:]):
            with suppress(OSError):
                part.unlink()
        del self._added[before:]

    def _copy_of(self, part: Path, sha256: str, draft: FlightDraft, local: str, import_id: int) -> Flight | None:
        """Find a flight of another import that begins, or that this one begins, with the same rows."""
        from spooldown.logbook.store import same_beginning

        start = utc_text(draft.utc_start)
        if start:
            which, values = "utc_start = ?", (start, import_id, LATEST_ALIKE)
        else:
            which, values = "utc_start IS NULL AND local_start = ?", (local, import_id, LATEST_ALIKE)
        latest = f"SELECT flight_id FROM flight WHERE {which} AND import_id != ? ORDER BY import_id DESC LIMIT ?"
        alike = self._flights(f"WHERE flight_id IN ({latest})", *values)
        if not alike:
            return None
        mine = self._beginning(part, sha256)
        # Where no clock tells flights apart, the latest ones are looked at: a copy follows its original closely.
        for flight in alike:
            ((early, late),) = parts_of(self.flights_folder, [flight.flight_id])
            path = early if flight.flight_id in self._added else late
            with suppress(OSError, ValueError):
                theirs = self._beginning(path, flight.telemetry_sha256)
                shared = mine.keys() & theirs.keys()
                if shared and all(mine[n] == theirs[n] for n in shared) and same_beginning(part, path):
                    return flight
        return None

    def _beginning(self, path: Path, sha256: str) -> dict[str, bytes]:
        """What a flight's first rows are; remembered, because a folder of logs is compared with itself."""
        from spooldown.logbook.store import beginning

        if sha256 not in self._beginnings:
            if len(self._beginnings) >= 8 * LATEST_ALIKE:
                self._beginnings.clear()
            self._beginnings[sha256] = beginning(path)
        return self._beginnings[sha256]

    def replace_telemetry(self, flight: Flight, draft: FlightDraft) -> None:
        """Write a flight's file anew from its log; the one that is there is set aside once that is committed."""
        from spooldown.logbook import store

        sources = self.sources(flight.flight_id)
        with self.writing() as db:
            ((part, _),) = parts_of(self.flights_folder, [flight.flight_id])
            self._added.append(flight.flight_id)
            written = store.write_telemetry(part, draft.batches, draft.schema).finish(
                store.file_metadata(
                    flight_id=flight.flight_id,
                    aircraft=flight.aircraft,
                    utc_start=draft.utc_start,
                    sources=sources,
                    imported_at=self._imported_at(flight.import_id),
                    part=draft.part,
                    notices=draft.notices,
                    more=draft.metadata,
                )
            )
            db.execute(
                "UPDATE flight SET duration_s = ?, rows = ?, telemetry_sha256 = ?, channels = ?, notices = ?,"
                " utc_start = ?, local_start = ? WHERE flight_id = ?",
                (
                    written.duration_s,
                    written.rows,
                    written.sha256,
                    json.dumps(written.channels),
                    texts.to_json(draft.notices),
                    utc_text(draft.utc_start),
                    draft.metadata.get("local_start") or draft.metadata.get("local_day", ""),
                    flight.flight_id,
                ),
            )

    def _imported_at(self, import_id: int) -> str:
        found = self.db.execute("SELECT imported_at FROM import WHERE import_id = ?", (import_id,)).fetchone()
        return str(found[0]) if found else datetime.now(UTC).isoformat(timespec="seconds")

    def keep_text(self, path: Path, data: bytes) -> None:
        """Write a file of the logbook that a person may edit, whole or not at all, and remember its digest."""
        from spooldown.logbook.store import write_whole

        name = path.relative_to(self.folder).as_posix()
        # The digest first, beside that of what is there: a kill in between leaves a file that is one of the two.
        for write in (False, True):
            with self.writing():
                before = digest_of(path)
                if write:
                    path.parent.mkdir(exist_ok=True)
                    write_whole(path, data)
                body = {"sha256": hashlib.sha256(data).hexdigest(), "before": before}
                self.enter(["record", TEXT, name, json.dumps(body)])

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
                self.enter(["note", flight_id, to_json(note).decode() if note else None])
        return merged

    def set_notes(self, notes: Mapping[str, FlightNote]) -> None:
        """Put these notes in the place of what was noted for their flights; all or none."""
        self.note(notes, forget=True)

    def change_records(self, kind: str, change: Callable[[dict[str, str]], Mapping[str, str | None]]) -> None:
        """Change what was entered of one kind; reading and writing are one transaction, all or none.

        Parameters
        ----------
        kind : str
            A word for the kind: ``snag``, ``load test``.
        change : callable
            Given what there is, JSON by name, returns what to put: JSON by name, ``None`` to take one out. What it
            raises undoes everything.
        """
        with self.writing():
            for name, body in change(self.records(kind)).items():
                self.enter(["record", kind, name, body])

    def add_range_checks(self, checks: Iterable[tuple[str, RangeCheck]]) -> int:
        """Keep range checks, each with whose it is; returns how many were new. All or none."""
        with self.writing() as db:
            before = db.execute("SELECT count(*) FROM range_check").fetchone()[0]
            for who, c in checks:
                day = c.day.isoformat()
                self.enter(
                    ["range_check", who, day, c.receiver, c.number, c.distance_m, c.reduction_db, c.orientation, c.note]
                )
            return int(db.execute("SELECT count(*) FROM range_check").fetchone()[0] - before)

    def remove_range_check(self, *numbers: int) -> None:
        """Take range checks out, all or none.

        Raises
        ------
        NotFoundProblem
            If there is none with such a number.
        """
        with self.writing() as db:
            for number in numbers:
                row = db.execute(
                    f"SELECT {entered.RANGE_CHECK} FROM range_check WHERE range_check_id = ?", (number,)
                ).fetchone()
                if row is None:
                    raise NotFoundProblem("problem.no_range_check", number=number)
                self.enter(["no_range_check", *row])

    def assign(self, flight_ids: Iterable[str], aircraft: str) -> None:
        """Say whose flights these are; their ids stay."""
        with self.writing():
            for flight_id in flight_ids:
                self.enter(["owner", flight_id, aircraft])

    def set_setting(self, name: str, value: str) -> None:
        """Set one setting of this logbook."""
        with self.writing():
            self.enter(["setting", name, value])

    def remove(self, flight_ids: Iterable[str], *, why: str = "") -> None:
        """Put flights into the bin, with their notes; an import is forgotten with its last flight.

        Parameters
        ----------
        why : str
            Why they are set aside, '' where someone wants them out.
        """
        with self.writing() as db:
            for flight_id in flight_ids:
                bin.put(db, flight_id, why)
                self._move(self.telemetry_path(flight_id), self.bin_folder / f"{flight_id}{ENDING}")

    def delete(self, flight_ids: Iterable[str]) -> None:
        """Delete flights for good: through the bin, where a kill in between leaves them whole or being deleted.

        A full disk has no room for that; there the files go before the change is committed, so that there is room.
        """
        flight_ids = list(flight_ids)
        try:
            with self.writing() as db:
                known = set(self.flight_ids())
                there = [i for i in flight_ids if i in known]
                self.remove(there)
                bin.doom(db, there)
        except LogbookProblem as problem:
            if problem.finding.code not in ("logbook.unusable", "logbook.unwritable"):
                raise
        else:
            if there:
                self.empty_bin(there)
            return
        bin.forget_results(self.cache_folder, flight_ids)
        with self._without_room(), self.writing() as db:
            db.executemany("DELETE FROM flight WHERE flight_id = ?", [(i,) for i in flight_ids])
            db.execute("DELETE FROM import WHERE import_id NOT IN (SELECT import_id FROM flight)")
            for flight_id in flight_ids:
                self.enter([entered.GONE, flight_id])
                self.telemetry_path(flight_id).unlink(missing_ok=True)

    def in_bin(self) -> list[str]:
        """Ids of the flights in the bin."""
        return self._in_bin([])

    def removed(self) -> list[bin.Removed]:
        """What is in the bin, the last one put there first."""
        with spoken(self.folder):
            return bin.listed(self.db)

    def mark_removed(self, flight_id: str, why: str) -> None:
        """Say why a flight in the bin is not as it was put there."""
        with self.writing() as db:
            bin.mark(db, flight_id, why)

    def bring_back(self, flight_ids: Iterable[str]) -> None:
        """Take flights out of the bin, with their notes; all or none.

        Raises
        ------
        NotFoundProblem
            If one is not in the bin.
        LogbookProblem
            If its log was imported again, or its file is gone.
        """
        with self.writing() as db:
            for flight_id in self._in_bin(chosen) if (chosen := list(flight_ids)) else ():
                bin.bring_back(db, flight_id)
                file = self.bin_folder / f"{flight_id}{ENDING}"
                if not file.is_file():
                    raise LogbookProblem("logbook.not_in_bin", flight=flight_id, file=str(file))
                self._move(file, self.flights_folder / file.name)

    def empty_bin(self, flight_ids: Iterable[str] = ()) -> list[str]:
        """Delete flights in the bin for good, all of them where none is named; returns which.

        Raises
        ------
        NotFoundProblem
            If one is not in the bin.
        """
        named, chosen, room = list(flight_ids), None, False
        with suppress(LogbookProblem):  # a full disk has no room for marks
            with self.writing() as db:
                chosen = self._in_bin(named)
                bin.doom(db, chosen)
            room = True
        with nullcontext() if room else self._without_room(), self.writing() as db:
            # Nothing that somebody else puts there meanwhile.
            there = set(self.in_bin())
            chosen = self._in_bin(named) if chosen is None else [i for i in chosen if i in there]
            bin.empty(db, self.folder, chosen)
            for flight_id in chosen:
                self.enter([entered.GONE, flight_id])
        bin.forget_results(self.cache_folder, chosen)
        return sorted(chosen)

    @contextmanager
    def _without_room(self) -> Iterator[None]:
        """Let a change that only takes away need no room: how the catalogue was is kept in memory until its commit."""
        self._journal = "MEMORY"
        try:
            yield
        finally:
            self._journal = JOURNAL
            with suppress(sqlite3.Error):
                self.db.execute(f"PRAGMA journal_mode = {JOURNAL}")

    def _in_bin(self, flight_ids: Iterable[str]) -> list[str]:
        """These flights of the bin, all of them where none is named."""
        there = [row[0] for row in self.rows("SELECT flight_id FROM removed")]
        chosen = list(dict.fromkeys(flight_ids))
        for flight_id in chosen:
            if flight_id not in there:
                raise not_found("removed_flight", flight_id, there, remedy="remedy.list_bin")
        return chosen or there

    # Inside

    def _name(self, added: Sequence[str]) -> bool:
        """Give committed files their names; returns whether nothing is left for the next writer to settle."""
        from spooldown.logbook.store import flush_folder

        pairs = list(parts_of(self.flights_folder, added))
        for part, final in pairs:
            with suppress(OSError):
                give_name(part, final)
        if pairs:
            with suppress(OSError):
                flush_folder(self.flights_folder)
        return not any(part.exists() for part, _ in pairs)

    def _take_back(self, entered_bytes: int | None) -> None:
        """Drop what was to be added, put back what was moved, cut off what was entered.

        ``None`` where nothing was entered, or where another writer was quicker and has taken the line in.
        """
        for part, _ in parts_of(self.flights_folder, self._added):
            with suppress(OSError):
                part.unlink()
        for here, there in reversed(self._moved):
            with suppress(OSError):
                os.replace(there, here)
        if entered_bytes is not None and entered.size_of(self.folder) > entered_bytes:
            entered.take_back(self.folder, entered_bytes)

    def enter(self, entry: entered.Entry) -> None:
        """Enter one thing, in the catalogue and beside it."""
        entered.enter(self.db, entry)
        self._entries.append(entry)

    def _move(self, here: Path, there: Path) -> None:
        there.parent.mkdir(exist_ok=True)
        with suppress(FileNotFoundError):
            os.replace(here, there)
            self._moved.append((here, there))

    def _free_id(self, aircraft: str, utc_start: datetime | None, local: str) -> str:
        day = utc_start.astimezone(UTC).strftime("%Y-%m-%d") if utc_start else local[:10] or "undated"
        stem = f"{slug(aircraft, 'flight')}-{day}-"
        taken = {row[0] for row in self.rows("SELECT flight_id FROM flight WHERE flight_id GLOB ?", f"{stem}*")}
        index = 0
        taken |= {row[0] for row in self.rows("SELECT flight_id FROM removed WHERE flight_id GLOB ?", f"{stem}*")}
        while (flight_id := stem + letters(index)) in taken or self.telemetry_path(flight_id).exists():
            index += 1
        return flight_id

    def _some(self, flight_ids: Sequence[str]) -> list[tuple[Flight, str | None]]:
        """Some flights, each with its note's body."""
        which, ids = "WHERE flight_id IN (SELECT value FROM json_each(?))", json.dumps(flight_ids)
        bodies = dict(self.rows(f"SELECT flight_id, body FROM note {which}", ids))
        return [(flight, bodies.get(flight.flight_id)) for flight in self._flights(which, ids)]

    def _flights(self, where: str, *values: object) -> list[Flight]:
        from spooldown.logbook.listing import rows_of

        with spoken(self.folder):
            return [flight_of(row) for row in rows_of(self.db, where, values)]

    def rows(self, query: str, *values: object) -> list[Any]:
        """What the catalogue answers."""
        with spoken(self.folder):
            return self.db.execute(query, values).fetchall()

    def _open_to_read(self) -> None:
        """Open the catalogue read-only; a copy in memory where it is not there, older, or lacks flights."""
        there = make_sure_it_is_here(self.catalogue)
        self._was_there = self._was_there or there
        self._identity: tuple[int, int] | None = None  # of the file open for writing
        self.db = open_to_read(self.catalogue) if there else connect(None)
        version = version_of(self.db)
        if version == len(MIGRATIONS) and not disorder(self.db, self.folder).unknown:
            return
        if there and version <= len(MIGRATIONS) and (why := other_owner(self.db, self.folder)):
            raise not_this_one(self.catalogue, why)
        if there:
            self.db = in_memory(self.db)
        migrate(self.db)
        self.said = settle(self.db, self.folder, write=False)

    def _begin(self, folders: list[Path]) -> None:
        """Begin the one writer's transaction on the catalogue that is in the folder now; adds the folders it makes.

        Another process may have made one since we found none, or taken an empty one away while we waited.
        """
        while True:
            if self._identity is None or self._identity != identity(self.catalogue):
                folders += self._create()
            if self._journal != JOURNAL:
                self.db.execute(f"PRAGMA journal_mode = {self._journal}")
            self.db.execute("BEGIN IMMEDIATE")
            if self._identity == identity(self.catalogue):
                return
            self.db.execute("ROLLBACK")

    def still_there(self) -> None:
        """Make sure that the folder has not gone since it was opened, as a share does whose line broke.

        Raises
        ------
        LogbookProblem
            If it has: what was to be written would make another logbook in its place.
        """
        if self._was_there and not self.folder.is_dir():
            raise LogbookProblem("logbook.vanished", folder=str(self.folder))

    def _create(self) -> list[Path]:
        """Make the folder a logbook if it is none, and open it; returns the folders that were not there before."""
        self.still_there()
        made = [p for p in (self.folder, *self.folder.parents) if not p.exists()]
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            there = [] if self.exists else list(self.folder.iterdir())
            foreign = [p.name for p in there if p.name not in YOURS and not is_left_over(p)]
        except OSError as error:
            raise LogbookProblem("logbook.folder_unusable", folder=str(self.folder), why=error.strerror) from error
        if foreign:
            raise LogbookProblem("logbook.foreign", folder=str(self.folder), file=sorted(foreign)[0])
        self.db.close()
        self.db = connect(self.catalogue, write=True)
        self._identity = identity(self.catalogue)
        return made

    def _uncreate(self, folders: list[Path]) -> None:
        """Take a catalogue away again that never held anything, and the folders made for it."""
        with suppress(sqlite3.Error, OSError):
            if not is_empty(self.db):
                return
            try:
                self.db.execute("BEGIN EXCLUSIVE")  # whoever waits for it sees that the file has gone
            except sqlite3.OperationalError as error:
                if "full" not in str(error):  # on a full disk nobody else can have begun anything
                    raise
            if is_empty(self.db):
                self.catalogue.unlink()
        self.db.close()
        self._open_to_read()
        for folder in (self.flights_folder, *folders):
            with suppress(OSError):
                folder.rmdir()
