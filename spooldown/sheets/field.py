"""The field sheet: one CSV row a flight, written at the field, checked whole before anything of it is noted."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import PurePosixPath

from msgspec import Struct

from analyser.core.findings import say
from importers.refusal import Refusal
from spooldown.logbook.book import Logbook
from spooldown.logbook.flight import Flight
from spooldown.logbook.note import FlightNote
from spooldown.problems import nearest
from spooldown.register import Register
from spooldown.sheets.cells import encode_rows
from spooldown.sheets.codes import SheetRefused
from spooldown.sheets.notes import PATTERNS, PLAIN, note_of, pattern_of
from spooldown.sheets.rows import Row, number, read_rows

FIXED = ("log_file", "part", "aircraft", *PLAIN)
COLUMNS = (*FIXED, *PATTERNS)


class SheetNote(Struct, frozen=True):
    """One row: which flight, whose, and what was noted."""

    flight_id: str
    aircraft: str
    note: FlightNote


def is_sheet(head: bytes) -> bool:
    """Whether a file starts as a field sheet does."""
    return head.removeprefix(b"\xef\xbb\xbf").lstrip(b'"').startswith(b"log_file")


def read_sheet(data: bytes, name: str, flights: Sequence[Flight], register: Register) -> list[SheetNote]:
    """Read a field sheet against what the logbook holds.

    Raises
    ------
    Refusal
        Naming line and column of the first thing wrong; nothing of the sheet is then used.
    """
    notes: list[SheetNote] = []
    lines: dict[str, int | None] = {}
    for row in read_rows(data, name, needed=("log_file",), nearest_column=_nearest_column):
        flight = _flight(row, flights)
        if flight.flight_id in lines:
            first = lines[flight.flight_id]
            raise row.refuse("log_file", SheetRefused.FLIGHT_TWICE, flight=flight.flight_id, first=first)
        lines[flight.flight_id] = row.line
        owner = owner_in(row, register)
        notes.append(
            SheetNote(flight.flight_id, owner, note_of(row.cells, flight, owner or flight.aircraft, register, row))
        )
    if not notes:
        raise Refusal(name, SheetRefused.NO_FLIGHT)
    return notes


def apply_sheet(book: Logbook, register: Register, data: bytes, name: str) -> list[str]:
    """Note a whole field sheet; returns the flights it touched.

    Raises
    ------
    Refusal
        If anything in it is wrong; then nothing is noted.
    """
    rows = read_sheet(data, name, book.flights(), register)
    with book.writing():
        for row in rows:
            if row.aircraft:
                book.assign([row.flight_id], row.aircraft)
        book.note({r.flight_id: r.note for r in rows})
    return [r.flight_id for r in rows]


def blank_sheet(flights: Sequence[Flight], register: Register) -> str:
    """Write a sheet to fill in: a row a flight, a column for each tank and pack place of their logs and aircraft."""
    from reports.pages.sheet import columns

    aircraft = [a for f in flights if (a := register.find_aircraft(f.aircraft))]
    tanks = dict.fromkeys(
        [t.name for a in aircraft for t in a.tanks] + [t for f in flights for t in f.instances("fuel")]
    )
    places = dict.fromkeys(
        [r for f in flights for r in f.instances("pack")]
        + [e.pack_role for a in aircraft for e in a.engines if e.pack_role]
    )
    names = [name for name, _ in columns(list(tanks), list(places))]
    return encode_rows(names, ({"log_file": f.source, "part": f.part, "aircraft": f.aircraft} for f in flights))


def owner_in(row: Row, register: Register) -> str:
    """Settle a row's aircraft: as registered, '' where the row names none; before any is registered, any."""
    said = row.cells.get("aircraft", "")
    found = register.find_aircraft(said) if said else None
    if said and found is None and register.aircraft:
        raise row.refuse_name("aircraft", "aircraft", said, list(register.aircraft), say("remedy.register"))
    return found.name if found else said


def _nearest_column(heading: str) -> str | tuple[str, ...]:
    if heading in FIXED or pattern_of(heading)[0]:
        return heading
    return nearest(heading, COLUMNS) or COLUMNS


def _flight(row: Row, flights: Sequence[Flight]) -> Flight:
    log_file = row.cells.get("log_file", "")
    if not log_file:
        raise row.refuse("log_file", SheetRefused.NO_LOG_FILE)
    wanted = PurePosixPath(log_file.replace("\\", "/")).parts
    fitting = [f for f in flights if any(PurePosixPath(s).parts[-len(wanted) :] == wanted for s in f.sources)]
    if not fitting:
        # The sheet may say more of the path than the import was told.
        fitting = [f for f in flights if any(PurePosixPath(s).name == wanted[-1] for s in f.sources)]
    if not fitting:
        names = [PurePosixPath(s).name for f in flights for s in f.sources]
        alike = nearest(wanted[-1], names)
        raise row.refuse("log_file", SheetRefused.NEVER_IMPORTED, log=log_file, alike=alike)
    if len({f.import_id for f in fitting}) > 1:
        raise row.refuse("log_file", SheetRefused.SEVERAL_LOGS, log=log_file)
    parts = [f.part for f in fitting]
    if said := row.cells.get("part", ""):
        chosen = next((f for f in fitting if f.part == number(said)), None)
        if chosen is None:
            raise row.refuse("part", SheetRefused.NO_CHOICE, found=said, known=tuple(parts))
        return chosen
    if len(fitting) > 1:
        raise row.refuse("part", SheetRefused.SEVERAL_FLIGHTS, log=log_file, flights=len(fitting))
    return fitting[0]
