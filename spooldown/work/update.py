"""The tables beside the logbook brought up to date: what is new worked out, the rest noted as it is."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from contextlib import suppress
from itertools import compress
from typing import Any

import pyarrow as pa
from msgspec.structs import replace

from analyser.flight import FlightResult
from analyser.record import FlightRecord
from analyser.season.teaching import settled, teachers_of, teaching_digests
from spooldown.logbook.book import Logbook
from spooldown.logbook.columns import FLIGHT
from spooldown.logbook.listing import Digests
from spooldown.processes.workers import spread
from spooldown.work import kept
from spooldown.work.current import Current
from spooldown.work.elsewhere import KeptFlight
from spooldown.work.prepared import Prepared
from spooldown.work.results import Results, taught_to
from spooldown.work.rows import Row, cells_of
from spooldown.work.settling import Settled, Task, rows_in, settle
from spooldown.work.settling import settled as settled_here

BLOCK = 100
"""So many new flights are read and corrected together."""
HELD = 512
"""So many briefs stay in memory."""


class Update:
    """One round over a logbook's flights: which changed, which those touch, and the rows of both."""

    def __init__(self, book: Logbook, prepared: Prepared, results: Results) -> None:
        self.book, self.prepared, self.results = book, prepared, results
        self.columns, self.kept = prepared.columns, prepared.rows
        self.own = prepared.own
        around = teaching_digests(prepared.lineup, prepared.taught, prepared.lessons, self.own.words)
        self.around = Digests(prepared.listing.at, around)
        same = (around == self.kept.digests(prepared.ids, "around")).all(axis=1)
        live = set(prepared.ids).intersection(self.kept)
        self.known = live - kept.lacking(book.cache_folder, live)
        self.rows = Current(self.kept, self.known.intersection(compress(prepared.ids, same.tolist())))
        self.unkept: dict[str, FlightRecord] = {}
        self._read: dict[str, tuple[str, FlightRecord]] = {}
        self._made: list[dict[str, Any]] = []
        self._tables: dict[str, list[pa.RecordBatch]] = {}
        self._told: set[str] = set()
        self._noted: set[str] = set()
        self._forgotten = len(live) < len(self.kept)

    def teacher(self, flight_id: str) -> FlightRecord | None:
        """The brief of a flight that is itself the same as when it was kept."""
        if flight_id in self.unkept:
            return self.unkept[flight_id]
        row = self.rows.get(flight_id) or self._known(flight_id)
        if row is None or row.own != self.own[flight_id]:
            return None
        if (known := self._read.get(flight_id)) is not None and known[0] == row.key:
            return known[1]
        record = read_brief(self.book, self.prepared, flight_id, row.key)
        if record is not None and len(self._read) < HELD:
            self._read[flight_id] = row.key, record
        return record

    def _known(self, flight_id: str) -> Row | None:
        return self.kept[flight_id] if flight_id in self.known else None

    def changed(self) -> list[str]:
        """Flights whose own data, context or analysis is another one, or that are not kept."""
        anew = {i for i in self.prepared.stale if i in self.kept and self.kept[i].own != self.own[i]}
        return self.prepared.in_order(anew.union(self.prepared.ids) - (self.known - anew))

    def touched(self, changed: Collection[str]) -> list[str]:
        """Flights that are the same themselves, but not all that may teach them."""
        return self.prepared.in_order(set(self.prepared.ids).difference(self.rows, changed))

    def unsettled(self, touched: Sequence[str]) -> list[str]:
        """Those of the touched flights that show something else now; the others are noted as they are."""
        if not touched:
            return []
        asked = teachers_of(self.prepared.lineup, self.prepared.taught, touched)
        lessons = self.prepared.lessons
        pupils = [i for i in touched if i in lessons]
        for flight_id in pupils:
            asked.update(lessons[flight_id])
        briefs = {}
        for flight_id in self.prepared.in_order(asked):
            if (record := self.teacher(flight_id)) is not None:
                briefs[flight_id] = record
            elif flight_id in self.known:
                return list(touched)
        changed = set()
        by_lesson: dict[int, list[str]] = {}
        for flight_id in pupils:
            by_lesson.setdefault(id(lessons[flight_id]), []).append(flight_id)
        for ids in by_lesson.values():
            self.results.teach(ids, [briefs[i] for i in lessons[ids[0]] if i in briefs])
            changed |= {i for i in ids if self.results.keys[i] != self.kept[i].result}
        same = settled(list(briefs.values())) - changed
        for flight_id in touched:
            if flight_id in same:
                self._note(flight_id, self._renewed(flight_id), None)
        return [i for i in touched if i not in same]

    def restamp(self) -> None:
        """Note of flights that show the same what else of them is stored or registered by now."""
        for flight_id in self.prepared.stale:
            if flight_id in self.rows and flight_id not in self._noted:
                self._note(flight_id, self._renewed(flight_id), None)

    def _renewed(self, flight_id: str) -> Row:
        """A flight's kept row with what is known of it now; what it shows is the same."""
        prepared = self.prepared
        return replace(
            self.kept.whole(flight_id),
            stamp=prepared.stamps[flight_id],
            facts=prepared.facts[flight_id],
            base=prepared.base[flight_id],
            own=self.own[flight_id],
            around=self.around[flight_id],
        )

    def add(self, flight_ids: Sequence[str]) -> None:
        """Work flights out and note what they came to."""
        if not flight_ids:
            return
        self.results.work_out(flight_ids)
        for start in range(0, len(flight_ids), BLOCK):
            block = flight_ids[start : start + BLOCK]
            found = taught_to(self.results, self.results.work_out(block), set(block))
            tasks = [
                Task(kept_flight(self.results, i, self.results.keys[i], key), corrections, key)
                for i, (corrections, key) in found.items()
            ]
            made = {done.item.key: done.value for done in spread(settle, tasks)}
            for flight_id, task in zip(found, tasks, strict=True):
                one = made[task.key] or settled_here(self._alone(flight_id), task)
                if one.brief is not None:
                    self.unkept[flight_id] = one.brief
                self._note(flight_id, self._row(flight_id, one), one)

    def _alone(self, flight_id: str) -> FlightRecord:
        """A flight's own result, that no other process could read."""
        record = self.results.record(flight_id)
        if record is None:
            raise self.results.problem(flight_id)
        return record

    def at_hand(self) -> dict[str, FlightRecord]:
        """Briefs that were read and are still right."""
        return {i: r for i, (key, r) in self._read.items() if (row := self.rows.get(i)) and row.key == key}

    def save(self) -> None:
        """Write the new rows; where that is not possible they are worked out again the next time."""
        self.kept.let_go()
        if self._made or self._forgotten:
            with suppress(OSError, ValueError):
                tables = {name: pa.Table.from_batches(batches) for name, batches in self._tables.items()}
                self.columns.extend({"flights": self._made, **tables}, self.own.keys(), self._told)

    def _row(self, flight_id: str, one: Settled) -> Row:
        return Row(
            stamp=self.prepared.stamps[flight_id],
            facts=self.prepared.facts[flight_id],
            shown=self.prepared.shown[flight_id],
            base=self.prepared.base[flight_id],
            own=self.own[flight_id],
            around=self.around[flight_id],
            result=self.results.keys[flight_id],
            key=one.key,
            **one.cells,
        )

    def _note(self, flight_id: str, row: Row, one: Settled | None) -> None:
        self.rows.add(flight_id, row)
        self._noted.add(flight_id)
        head = {
            FLIGHT: flight_id,
            "aircraft": self.prepared.lineup.facts(flight_id).aircraft,
            "utc_start": self.prepared.flight(flight_id).utc_start,
        }
        self._made.append(head | cells_of(row))
        if one is not None:
            self._told.add(flight_id)
            for table, rows in one.tables.items():
                self._tables.setdefault(table, []).append(rows_in(table, rows))


def kept_flight(results: Results, flight_id: str, result: str, key: str) -> KeptFlight:
    """Where one flight is kept, and under which keys: its own result, and its brief."""
    prepared = results.prepared
    return KeptFlight(
        results.book.cache_folder,
        results.book.telemetry_place(flight_id),
        prepared.flight(flight_id),
        prepared.numbers[flight_id],
        results.context(flight_id),
        result,
        key,
        prepared.limits.get(prepared.owner(flight_id)),
        tuple(prepared.marks.get(flight_id, ())),
    )


def read_brief(book: Logbook, prepared: Prepared, flight_id: str, key: str) -> FlightRecord | None:
    """A flight's brief as it is kept; ``None`` where it is not, or does not read."""
    result = kept.load(book.cache_folder, flight_id + kept.BRIEF, key, FlightResult)
    if result is None:
        return None
    flight, context = prepared.flight(flight_id), prepared.context(flight_id)
    return FlightRecord(flight_id, prepared.numbers[flight_id], flight.utc_start, context, result)
