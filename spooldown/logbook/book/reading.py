"""What is in a logbook: flights, their telemetry, notes and whatever else was entered. Reading writes nothing."""

from __future__ import annotations

import json
import sqlite3
import time
from collections.abc import Collection, Iterable, Iterator, Sequence
from contextlib import closing
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any, Self, TypeVar

from msgspec.structs import replace

from analyser.core.findings import Finding
from spooldown.logbook import bin, entered
from spooldown.logbook.book.cells import is_json, note_of, walked
from spooldown.logbook.catalogue import (
    CATALOGUE,
    answers,
    connect,
    identity,
    in_memory,
    is_sound,
    make_sure_it_is_here,
    not_this_one,
    open_to_read,
    shown,
    spoken,
)
from spooldown.logbook.flight import DamagedFile, Flight, Source, flight_of, is_id
from spooldown.logbook.plain import files_in
from spooldown.logbook.schema import MIGRATIONS, mend_number, migrate, version_of
from spooldown.logbook.unknown import (
    ENDING,
    FLIGHTS,
    Disorder,
    disorder,
    holds_flights,
    other_owner,
    parts_of,
    settle,
    takes_its_place,
)
from spooldown.problems import ChangedMeanwhile, LogbookProblem, NotFoundProblem, not_found

if TYPE_CHECKING:
    from analyser.core.telemetry import Telemetry
    from analyser.season.link.range_check import RangeCheck
    from spooldown.logbook.listing import Listing
    from spooldown.logbook.note import FlightNote

T = TypeVar("T")
LOOKS, WAIT_S = 3, 0.05
"""How often, and how far apart, what seems out of order is looked at again."""


def damaged(flight: Flight, error: Exception) -> Finding:
    """Say that a flight's telemetry file is not what was stored."""
    if isinstance(error, FileNotFoundError):
        return Finding("logbook.telemetry_missing", {"flight": flight.flight_id})
    if isinstance(error, OSError):
        why = str(error.strerror or error)
        return Finding("logbook.telemetry_unreadable", {"flight": flight.flight_id, "why": why})
    return Finding("logbook.telemetry_damaged", {"flight": flight.flight_id, "why": str(error)})


class Reader:
    """A logbook folder, opened to read.

    A folder without a catalogue reads as an empty logbook.

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
        self.left_out: dict[Finding, None] = {}
        """What of the catalogue was met that nobody stored so, and what to do; it is left out of what was asked."""
        self._writing = self._was_there = False
        with spoken(self.folder):
            self._ground = next(p for p in (folder.absolute(), *folder.absolute().parents) if p.exists())
            self._stood_on = identity(self._ground)
            self._open_to_read()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the catalogue."""
        self.db.close()

    @property
    def exists(self) -> bool:
        """Whether the folder holds a catalogue, or flights that must have had one."""
        with spoken(self.folder):
            return self.catalogue.is_file() or holds_flights(self.folder) or bool(entered.size_of(self.folder))

    def flights(self) -> list[Flight]:
        """Every flight, oldest first; flights without a day come last, in the order they were imported."""
        return self._flights("")

    def listing(self) -> Listing:
        """Every flight, oldest first, and its note, read and taken apart only when asked for."""
        from spooldown.logbook.listing import Listing

        with spoken(self.folder):
            found = Listing(self.db, self._some)
        self._leave_out_notes(found.astray)
        return found

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
        found = self.rows("SELECT aircraft, count(*) FROM flight GROUP BY aircraft ORDER BY aircraft")
        return {name: count for name, count in found if is_sound(name)}

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
        return [Source(*row) for row in rows if is_sound(row[0]) and is_sound(row[1]) and isinstance(row[2], int)]

    def answers(self, flight_id: str) -> dict[str, str]:
        """How what a flight's file left open was answered when it was imported."""
        rows = self.rows("SELECT answers FROM import JOIN flight USING (import_id) WHERE flight_id = ?", flight_id)
        try:
            said = json.loads(rows[0][0]) if rows and rows[0][0] else {}
        except (TypeError, ValueError):
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
                    **{name: _both(getattr(first, name), getattr(again, name)) for name in first.__struct_fields__}
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
        """Every flight's notes, or those of some; one that is damaged is left out."""
        found, spoilt = self._notes(only)
        for what in spoilt.values():
            self.leave_out(what)
        return found

    def spoilt_notes(self, only: Collection[str]) -> dict[str, Finding]:
        """What is wrong with the notes of those of these flights whose note is damaged."""
        return self._notes(only)[1]

    def _notes(self, only: Collection[str] | None) -> tuple[dict[str, FlightNote], dict[str, Finding]]:
        """Notes by flight, and by flight what says that its note is damaged."""
        notes, spoilt = {}, {}
        if only is None:
            astray = "SELECT flight_id FROM note WHERE flight_id NOT IN (SELECT flight_id FROM flight)"
            self._leave_out_notes([row[0] for row in self.rows(astray)])
        which = "" if only is None else "WHERE flight_id IN (SELECT value FROM json_each(?))"
        values = () if only is None else (json.dumps(list(only)),)
        for flight_id, body in self.rows(f"SELECT flight_id, body FROM note {which}", *values):
            try:
                notes[flight_id] = note_of(flight_id, body)
            except LogbookProblem as problem:
                spoilt[flight_id] = problem.finding
        return notes, spoilt

    def _leave_out_notes(self, astray: Iterable[object]) -> None:
        for name in astray:
            self.leave_out(Finding("logbook.note_damaged", {"flight": shown(name)}))

    def range_checks(self) -> list[tuple[int, str, RangeCheck]]:
        """Walked range checks, oldest first: the number to remove one by, whose, and the check.

        What nobody stored so is left out.
        """
        rows = self.rows(
            "SELECT range_check_id, aircraft, day, receiver, antenna, distance_m, reduction_db, orientation,"
            " remarks FROM range_check ORDER BY day, range_check_id"
        )
        found = []
        for row in rows:
            if (one := walked(*row)) is not None:
                found.append((row[0], row[1], one))
            else:
                self.leave_out(Finding("logbook.check_damaged", {"number": row[0]}))
        return found

    def records(self, kind: str) -> dict[str, str]:
        """What was entered of one kind, as JSON by its name: ``{"2031-04-05-a": '{"volume_ml": 850.0}'}``.

        What nobody entered so is left out.
        """
        found, spoilt = self._records(kind)
        for what in spoilt:
            self.leave_out(what)
        return found

    def _records(self, kind: str) -> tuple[dict[str, str], list[Finding]]:
        """What was entered of one kind, and what in its place nobody entered so."""
        rows = self.rows("SELECT name, body FROM record WHERE kind = ? ORDER BY name", kind)
        spoilt = [name for name, body in rows if not (is_json(body) and is_sound(name))]
        found = {name: body for name, body in rows if name not in spoilt}
        return found, [Finding("logbook.record_damaged", {"kind": kind, "name": shown(name)}) for name in spoilt]

    def records_of(self, kind: str, made: type[T]) -> dict[str, T]:
        """The same, each as what it was made from."""
        from spooldown.logbook.codec import from_json

        found = {}
        for name, body in self.records(kind).items():
            try:
                found[name] = from_json(body, made)
            except Exception:  # whatever the codec says of what nobody stored there
                self.leave_out(Finding("logbook.record_damaged", {"kind": kind, "name": name}))
        return found

    def setting(self, name: str) -> str:
        """One setting of this logbook, '' where never set."""
        rows = self.rows("SELECT value FROM setting WHERE name = ?", name)
        if rows and not is_sound(rows[0][0]):
            self.leave_out(Finding("logbook.setting_damaged", {"name": name}))
            return ""
        return str(rows[0][0]) if rows else ""

    def leave_out(self, what: Finding) -> None:
        """Remember what nobody stored so, to be told: by itself it costs nothing else."""
        repairable = what if what.code == "logbook.repairable" else Finding("logbook.repairable", {"what": what})
        self.left_out[repairable] = None

    def in_bin(self) -> list[str]:
        """Ids of the flights in the bin."""
        return self._in_bin([])

    def removed(self) -> list[bin.Removed]:
        """What is in the bin, the last one put there first."""
        with spoken(self.folder):
            found, spoilt = bin.listed(self.db)
        for problem in spoilt:
            self.leave_out(problem.finding)
        return found

    def at_one_moment(self) -> tuple[bytes, dict[str, str]]:
        """The catalogue's bytes as they are at one moment, and the hash of every flight's file by then."""
        with spoken(self.folder), closing(connect(None)) as copy:
            self.db.backup(copy)  # whoever writes meanwhile
            return copy.serialize(), dict(answers(copy, "SELECT flight_id, telemetry_sha256 FROM flight"))

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
        found = [p for folder in self._text_folders for p in files_in(folder, ".toml")]
        found += files_in(self.bin_folder, ENDING)
        if entered.size_of(self.folder):
            found.append(self.folder / entered.FILE)
        for path in found:
            yield path.relative_to(self.folder).as_posix(), path

    def mapping_files(self) -> list[Path]:
        """Every saved column mapping, by name.

        Raises
        ------
        FolderClosed
            If their folder may not be looked into.
        """
        return files_in(self.mappings_folder, ".toml")

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

        if flight.damage:
            raise LogbookProblem(flight.damage)
        flight_id = flight.flight_id
        try:
            try:
                return read_telemetry(self.telemetry_place(flight_id), flight.telemetry_sha256)
            except (FileNotFoundError, DamagedFile):  # it may have got its name, or been replaced, just now
                if flight_id not in self._in_bin([]):
                    flight = self.flight(flight_id)
                return read_telemetry(self.telemetry_place(flight_id), flight.telemetry_sha256)
        except NotFoundProblem as problem:
            raise ChangedMeanwhile(Finding("logbook.taken_out_meanwhile", {"flight": flight_id})) from problem
        except (OSError, DamagedFile) as error:
            raise LogbookProblem(
                "logbook.telemetry_unusable", what=damaged(flight, error), flight=flight.flight_id
            ) from error

    def still_here(self) -> None:
        """Make sure that the catalogue has not gone since it was opened, as a share's does whose line broke.

        Raises
        ------
        LogbookProblem
            If it has: no flight that does not read is to be told as damaged then.
        """
        with spoken(self.folder):
            gone = self._was_there and not self.catalogue.exists()
        if gone:
            raise LogbookProblem("logbook.vanished", folder=str(self.folder))

    def still_as(self, flight_id: str, sha256: str = "") -> None:
        """Make sure that a flight which does not read was not changed since it was looked up.

        Parameters
        ----------
        sha256 : str
            Of its telemetry as it was then; '' where it need only be there.

        Raises
        ------
        ChangedMeanwhile
            If it was taken out of the logbook, or read again from its log.
        LogbookProblem
            If the whole logbook has gone.
        """
        self.still_here()
        found = self.rows("SELECT telemetry_sha256 FROM flight WHERE flight_id = ?", flight_id)
        if not found:
            raise ChangedMeanwhile(Finding("logbook.taken_out_meanwhile", {"flight": flight_id}))
        if sha256 not in ("", found[0][0]):
            raise ChangedMeanwhile(Finding("logbook.read_again_meanwhile", {"flight": flight_id}))

    def rows(self, query: str, *values: object) -> list[Any]:
        """What the catalogue answers."""
        with spoken(self.folder):
            return answers(self.db, query, values)

    def _in_bin(self, flight_ids: Iterable[str]) -> list[str]:
        """These flights of the bin, all of them where none is named."""
        there = [row[0] for row in self.rows("SELECT flight_id FROM removed")]
        chosen = list(dict.fromkeys(flight_ids))
        for flight_id in chosen:
            if flight_id not in there:
                raise not_found("removed_flight", flight_id, there, remedy="remedy.list_bin")
        return chosen or there

    def _some(self, flight_ids: Sequence[str]) -> list[tuple[Flight, str | None]]:
        """Some flights, each with its note's body."""
        which, ids = "WHERE flight_id IN (SELECT value FROM json_each(?))", json.dumps(flight_ids)
        bodies = dict(self.rows(f"SELECT flight_id, body FROM note {which}", ids))
        return [(flight, bodies.get(flight.flight_id)) for flight in self._flights(which, ids)]

    def _flights(self, where: str, *values: object) -> list[Flight]:
        from spooldown.logbook.listing import rows_of

        with spoken(self.folder):
            found = [flight_of(row) for row in rows_of(self.db, where, values)]
        for flight in found:
            if flight.damage:
                self.leave_out(flight.damage)
        return [f for f in found if not f.damage or is_id(f.flight_id)]

    def _open_to_read(self) -> None:
        """Open the catalogue read-only; a copy in memory where it is not there, older, or lacks flights."""
        there = make_sure_it_is_here(self.catalogue)
        self._was_there = self._was_there or there
        self._identity: tuple[int, int] | None = None  # of the file open for writing
        self.db = open_to_read(self.catalogue) if there else connect(None)
        version, wrong = self._version()
        if version == len(MIGRATIONS) and not wrong:
            found = disorder(self.db, self.folder)
            if not (found.unknown or found.nameless):
                return
        if there and version <= len(MIGRATIONS) and (why := other_owner(self.db, self.folder)):
            raise not_this_one(self.catalogue, why)
        if there and not wrong:
            self.db = in_memory(self.db)
        migrate(self.db)
        self.said = [*wrong, *settle(self.db, self.folder, write=False)]

    def _version(self) -> tuple[int, list[Finding]]:
        """Which schema the catalogue has; where the tables prove another number, a copy in memory gets that."""
        try:
            return version_of(self.db), []
        except sqlite3.DatabaseError as error:
            self.db = in_memory(self.db)
            if not (wrong := mend_number(self.db)):
                raise error from None
            what = Finding("logbook.catalogue_damaged", {"catalogue": str(self.catalogue), "why": wrong})
            return version_of(self.db), [Finding("logbook.repairable", {"what": what})]


def _both(first: tuple[str, ...], again: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(i for i in first if i in again)
