"""What the catalogue says held against what else says it, and mended.

Rows are held against the flights' own files, what was entered against its second copy, the bin's entries against their
digests.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from msgspec import Struct

from analyser.core.findings import Finding
from spooldown.logbook import bin, entered, unknown
from spooldown.logbook.book.cells import walked
from spooldown.logbook.catalogue import answers, is_sound, shown, spoken

if TYPE_CHECKING:
    from spooldown.logbook.book import Logbook
    from spooldown.logbook.flight import Flight


def other_cells(book: Logbook, flight_id: str) -> list[str]:
    """Name the cells of a flight's row that do not say what its file says."""
    with spoken(book.folder):
        return unknown.differs(book.db, book.telemetry_path(flight_id), flight_id)


def remake(book: Logbook, flight_id: str) -> bool:
    """Make a flight's row anew from its file, its owner as entered; it goes where the file does not read either."""
    owner = entered.read(book.folder).owners.get(flight_id)
    with book.writing() as db:
        made = unknown.remake(db, book.telemetry_path(flight_id), flight_id)
        if not made:
            db.execute("DELETE FROM flight WHERE flight_id = ?", (flight_id,))
        elif owner is not None:
            entered.enter(db, ["owner", flight_id, owner])
    return made


class Owners:
    """Whose the flights are by what was entered, read once for all of them."""

    def __init__(self, book: Logbook) -> None:
        self._book = book
        self._read()

    def _read(self) -> None:
        size = entered.seen(self._book.db)
        self._seen = entered.read(self._book.folder, size).owners if size else None
        self._told = entered.read(self._book.folder).owners

    def wrong(self, flight: Flight, in_file: str, *, repair: bool) -> bool:
        """Whether a flight's owner is nobody's word: neither what was entered nor, before that, what its file says."""
        if self._is_known(flight, in_file):
            return False
        self._read()  # another process may have changed it since
        flight = self._book.flight(flight.flight_id)
        if self._is_known(flight, in_file):
            return False
        if repair:
            self._book.assign([flight.flight_id], self._wanted(flight, in_file))
        return True

    def _wanted(self, flight: Flight, in_file: str) -> str:
        return (self._seen or {}).get(flight.flight_id, in_file)

    def _is_known(self, flight: Flight, in_file: str) -> bool:
        wanted = self._wanted(flight, in_file)
        return self._seen is None or flight.aircraft in (wanted, self._told.get(flight.flight_id, wanted))


def spoilt_bin(book: Logbook) -> dict[str, str]:
    """Flights in the bin whose entry is not what was written."""
    with spoken(book.folder):
        return bin.spoilt(book.db)


def mend_bin(book: Logbook) -> None:
    """Drop damaged entries of the bin; those whose file is there are made anew from it, with what was noted."""
    notes = entered.read(book.folder).notes
    with book.writing() as db:
        bad = bin.spoilt(db)
        db.executemany("DELETE FROM removed WHERE hex(flight_id) = ?", [(name,) for name in bad.values()])
        book.settle_again()
    with book.writing() as db:
        for flight_id in bad:
            if note := notes.get(flight_id):
                bin.give_note(db, flight_id, note)


def changed_texts(book: Logbook) -> list[str]:
    """Files that a person may edit and that are not as they were kept: edited since, or damaged."""
    from spooldown.logbook.book import digest_of, texts_of

    found = ((name, known, digest_of(book.folder / name)) for name, known in texts_of(book).items())
    return [name for name, known, digest in found if digest not in ("", known["sha256"], known.get("before"))]


def forget_texts(book: Logbook, names: Iterable[str]) -> None:
    """No longer expect these files."""
    from spooldown.logbook.book import TEXT

    book.change_records(TEXT, lambda _: dict.fromkeys(names))


def mend_lines(book: Logbook, *, repair: bool) -> list[int]:
    """Numbers of the lines of what was entered that are not what was written, 0 for those that are missing.

    ``repair`` writes the file anew from the catalogue. Of a logbook on object storage they are not fetched.
    """
    if book.address:
        return []
    size = entered.seen(book.db)
    bad = entered.damaged(book.folder, size)
    if not bad and size and (entered.size_of(book.folder) < size or not entered.is_there(book.folder)):
        bad = [0]
    if bad and repair:
        with book.writing() as db:
            entered.write_anew(db, book.folder)
    return bad


class Wrong(Struct, frozen=True):
    """One thing in the catalogue that nobody entered so."""

    what: Finding
    entries: tuple[entered.Entry, ...]
    """What puts it right."""
    known: bool = True
    """Whether it is known how it was; otherwise it is taken out."""
    taken_out: tuple[str, tuple[object, ...]] | None = None
    """What deletes a row that was never entered, with its values."""


def mend_entries(book: Logbook, *, repair: bool) -> list[tuple[Finding, Finding | None]]:
    """Find notes, owners, settings, records and range checks that nobody entered so; mend them, or take them out.

    Returns
    -------
    list of (Finding, Finding or None)
        What is damaged, and what was done (None without ``repair``).
    """
    with _at_rest(book, repair) as db:
        told = entered.read(book.folder)
        # A line may be there of a change that is not committed: both what it says and what was before are right.
        seen = entered.read(book.folder, entered.seen(db))
        kinds = (_notes, _owners, _settings, _records, _range_checks)
        found = [wrong for kind in kinds for wrong in kind(db, told, seen)]
        if repair:
            for wrong in found:
                if wrong.taken_out:
                    db.execute(*wrong.taken_out)
                for entry in wrong.entries:
                    book.enter(entry)
    mended, out = Finding("logbook.mended", {"file": entered.FILE}), Finding("logbook.taken_out")
    return [(wrong.what, (mended if wrong.known else out) if repair else None) for wrong in found]


@contextmanager
def _at_rest(book: Logbook, repair: bool) -> Iterator[sqlite3.Connection]:
    """Hold the catalogue as it is at one moment: no change is committed meanwhile."""
    if repair:
        with book.writing() as db:
            yield db
        return
    with spoken(book.folder):
        book.db.execute("BEGIN")
        try:
            yield book.db
        finally:
            book.db.execute("ROLLBACK")


def _notes(db: sqlite3.Connection, told: entered.Entered, seen: entered.Entered) -> Iterator[Wrong]:
    from spooldown.logbook.codec import from_json
    from spooldown.logbook.note import FlightNote

    for flight_id, body in answers(db, "SELECT flight_id, body FROM note"):
        wanted = told.notes.get(flight_id, body)
        try:
            from_json(wanted or b"", FlightNote)
        except Exception:  # as damaged there, or never entered there
            wanted = None
        if body != wanted and (wanted is None or body != seen.notes.get(flight_id, wanted)):
            what = Finding("logbook.note_damaged", {"flight": flight_id})
            yield Wrong(what, (["note", flight_id, wanted],), wanted is not None)


def _owners(db: sqlite3.Connection, told: entered.Entered, seen: entered.Entered) -> Iterator[Wrong]:
    for flight_id, aircraft in answers(db, "SELECT flight_id, aircraft FROM flight"):
        owner = told.owners.get(flight_id, aircraft)
        if flight_id in seen.owners and aircraft not in (owner, seen.owners[flight_id]):
            yield Wrong(Finding("logbook.owner_damaged", {"flight": flight_id}), (["owner", flight_id, owner],))


def _settings(db: sqlite3.Connection, told: entered.Entered, seen: entered.Entered) -> Iterator[Wrong]:
    rows = answers(db, "SELECT name, value, hex(name) FROM setting WHERE name != ?", (entered.SEEN,))
    there = {name: value for name, value, _ in rows}
    gone = {name: value for name, value in seen.settings.items() if name not in there}
    for name, value, place in rows:
        what = Finding("logbook.setting_damaged", {"name": shown(name)})
        right = next((k for k, v in gone.items() if v == value), None) if name not in told.settings else None
        if right or not is_sound(name):  # its name is damaged
            again = (["setting", right, gone.pop(right)],) if right else ()
            yield Wrong(what, again, bool(right), ("DELETE FROM setting WHERE hex(name) = ?", (place,)))
        elif value not in (said := told.settings.get(name, value), seen.settings.get(name, said)):
            yield Wrong(what, (["setting", name, said],))
    for name, value in gone.items():
        yield Wrong(Finding("logbook.setting_damaged", {"name": name}), (["setting", name, value],))


def _records(db: sqlite3.Connection, told: entered.Entered, seen: entered.Entered) -> Iterator[Wrong]:
    rows = answers(db, "SELECT kind, name, body, hex(kind), hex(name) FROM record")
    there = {(kind, name): body for kind, name, body, *_ in rows}
    place = {(kind, name): tuple(of_row) for kind, name, _, *of_row in rows}
    gone = {key: body for key, body in seen.records.items() if body and key not in there and told.records.get(key)}
    for (kind, name), body in there.items():
        wanted = told.records.get((kind, name), body)
        try:
            json.loads(wanted or "")
        except ValueError:  # as damaged there, or taken out there
            wanted = None
        what = Finding("logbook.record_damaged", {"kind": shown(kind), "name": shown(name)})
        if body != wanted and (wanted is None or body != seen.records.get((kind, name), wanted)):
            yield Wrong(what, (["record", kind, name, wanted],), wanted is not None)
        elif (kind, name) not in told.records:
            right = next((k for k, b in gone.items() if b == body), None)
            if right or not (is_sound(kind) and is_sound(name)):
                # What it says was entered under a name that is not there: the name is damaged.
                again = (["record", *right, gone.pop(right)],) if right else ()
                out = "DELETE FROM record WHERE hex(kind) = ? AND hex(name) = ?", place[kind, name]
                yield Wrong(what, again, bool(right), out)


def _range_checks(db: sqlite3.Connection, told: entered.Entered, seen: entered.Entered) -> Iterator[Wrong]:
    rows = answers(db, f"SELECT range_check_id, {entered.RANGE_CHECK} FROM range_check ORDER BY range_check_id")
    there = {tuple(map(str, values)) for _, *values in rows}
    gone = [columns for columns, kept in seen.range_checks.items() if kept and columns not in there]
    for number, *values in rows:
        columns = tuple(map(str, values))
        known = not told.range_checks or told.range_checks.get(columns) or seen.range_checks.get(columns)
        if not (known and walked(number, *values)):
            # One that was entered and is not there is the one that it was.
            again = (["range_check", *gone.pop(0)],) if gone else ()
            out = "DELETE FROM range_check WHERE range_check_id = ?", (number,)
            yield Wrong(Finding("logbook.check_damaged", {"number": number}), again, bool(again), out)
