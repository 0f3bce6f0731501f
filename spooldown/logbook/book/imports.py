"""Flights of a log taken in: each streamed to its file, all of one import or none; copies of known flights are told."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from contextlib import ExitStack, suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from analyser.core.findings import Finding
from spooldown.logbook import texts
from spooldown.logbook.book.names import letters, slug
from spooldown.logbook.book.writing import Writer
from spooldown.logbook.flight import Flight, Source
from spooldown.logbook.unknown import parts_of, utc_text
from spooldown.problems import LogbookProblem, UsageProblem

if TYPE_CHECKING:
    from importers.model import FlightDraft
    from spooldown.logbook.store import EncodedDraft

LATEST_ALIKE = 20
"""Flights that one more is held against where the clock does not tell them apart."""


class Imports(Writer):
    """What takes flights in."""

    def __init__(self, folder: Path) -> None:
        self._beginnings: dict[str, dict[str, bytes]] = {}
        super().__init__(folder)

    def add(
        self,
        sources: Sequence[Source],
        drafts: Iterable[FlightDraft | EncodedDraft],
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
        drafts : iterable of FlightDraft or EncodedDraft
            As the importer yields them, each streamed to its file, or encoded in another process.
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
            now = self._now()
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
                written = store.write_flight(
                    part,
                    draft,
                    flight_id=flight_id,
                    aircraft=aircraft,
                    sources=sources,
                    imported_at=now,
                    more=more or {},
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

    def replace_telemetry(self, flight: Flight, draft: FlightDraft) -> None:
        """Write a flight's file anew from its log; the one that is there is set aside once that is committed."""
        from spooldown.logbook import store

        sources = self.sources(flight.flight_id)
        with self.writing() as db:
            ((part, _),) = parts_of(self.flights_folder, [flight.flight_id])
            self._added.append(flight.flight_id)
            written = store.write_flight(
                part,
                draft,
                flight_id=flight.flight_id,
                aircraft=flight.aircraft,
                sources=sources,
                imported_at=self._imported_at(flight.import_id),
                more={},
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

    def _copy_of(
        self, part: Path, sha256: str, draft: FlightDraft | EncodedDraft, local: str, import_id: int
    ) -> Flight | None:
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

    def _now(self) -> str:
        """When an import is, never before the last one: flights without a day are told in the order they came in."""
        now = datetime.now(UTC).isoformat(timespec="seconds")
        last = self.db.execute("SELECT imported_at FROM import ORDER BY import_id DESC LIMIT 1").fetchone()
        with suppress(TypeError, ValueError):  # none yet, or a damaged cell
            if datetime.fromisoformat(last[0]) > datetime.fromisoformat(now):  # the clock was set back
                return str(last[0])
        return now

    def _imported_at(self, import_id: int) -> str:
        found = self.db.execute("SELECT imported_at FROM import WHERE import_id = ?", (import_id,)).fetchone()
        return str(found[0]) if found else datetime.now(UTC).isoformat(timespec="seconds")

    def _free_id(self, aircraft: str, utc_start: datetime | None, local: str) -> str:
        day = utc_start.astimezone(UTC).strftime("%Y-%m-%d") if utc_start else local[:10] or "undated"
        stem = f"{slug(aircraft, 'flight')}-{day}-"
        taken = {row[0] for row in self.rows("SELECT flight_id FROM flight WHERE flight_id GLOB ?", f"{stem}*")}
        index = 0
        taken |= {row[0] for row in self.rows("SELECT flight_id FROM removed WHERE flight_id GLOB ?", f"{stem}*")}
        while (flight_id := stem + letters(index)) in taken or self.telemetry_path(flight_id).exists():
            index += 1
        return flight_id
