"""Walked range checks, written down as CSV: one row a distance, checked whole before anything of it is kept."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING

from msgspec import Struct

from analyser.core.aircraft import Aircraft
from analyser.core.findings import say
from importers.refusal import Refusal
from spooldown.problems import nearest
from spooldown.register import Register
from spooldown.sheets.codes import SheetRefused
from spooldown.sheets.field import owner_in
from spooldown.sheets.rows import Row, number, read_rows

if TYPE_CHECKING:
    from analyser.season.link.range_check import RangeCheck

COLUMNS = ("aircraft", "day", "receiver", "antenna", "distance_m", "reduction_db", "orientation", "remarks")
NEEDED = ("day", "receiver", "distance_m", "reduction_db")


class RangeRow(Struct, frozen=True):
    """One row: whose aircraft, and the check."""

    aircraft: str
    check: RangeCheck


def is_range_sheet(head: bytes) -> bool:
    """Whether a file starts as a sheet of range checks does."""
    first = head.removeprefix(b"\xef\xbb\xbf").partition(b"\n")[0]
    return b"distance_m" in first and b"reduction_db" in first and b"receiver" in first


def read_range_sheet(data: bytes, name: str, register: Register, aircraft: str = "") -> list[RangeRow]:
    """Read range checks; ``aircraft`` is whose they are where the sheet has no column for it.

    Raises
    ------
    Refusal
        Naming line and column of the first thing wrong; nothing of the sheet is then used.
    """
    rows = [
        check_in(row, register, aircraft)
        for row in read_rows(data, name, needed=NEEDED, nearest_column=_nearest_column)
    ]
    if not rows:
        raise Refusal(name, SheetRefused.NO_CHECK)
    return rows


def _nearest_column(heading: str) -> str | tuple[str, ...]:
    return heading if heading in COLUMNS else nearest(heading, COLUMNS) or COLUMNS


def check_in(row: Row, register: Register, aircraft: str) -> RangeRow:
    """Read one row, or one check typed in, against the register.

    Raises
    ------
    Refusal
        Naming the first cell that is wrong.
    """
    said = row.cells
    for needed in NEEDED:
        if needed not in said:
            raise row.refuse(needed, SheetRefused.EMPTY_CELL)
    owner = owner_in(row, register) or aircraft
    if not owner:
        raise row.refuse("aircraft", SheetRefused.NO_AIRCRAFT)
    if aircraft and owner.casefold() != aircraft.casefold():
        raise row.refuse("aircraft", SheetRefused.OTHER_AIRCRAFT, found=owner, wanted=aircraft)
    # Slow to load, and every import asks what is a sheet.
    from analyser.season.link.range_check import LARGEST_REDUCTION_DB, LONGEST_M, RangeCheck

    known = register.find_aircraft(owner)
    if known is None and register.aircraft:
        raise row.refuse_name("aircraft", "aircraft", owner, list(register.aircraft), say("remedy.register"))
    try:
        day = date.fromisoformat(said["day"])
    except ValueError:
        raise row.refuse("day", SheetRefused.NO_DAY, found=said["day"]) from None
    if day > date.today() + timedelta(days=1):  # it may be tomorrow already where it was walked
        raise row.refuse("day", SheetRefused.DAY_TO_COME, day=f"{day}")
    receiver, antenna = _antenna(row, known)
    return RangeRow(
        known.name if known else owner,
        RangeCheck(
            day=day,
            receiver=receiver,
            number=antenna,
            distance_m=_number(row, "distance_m", 0.1, LONGEST_M, "m"),
            reduction_db=_number(row, "reduction_db", 0.0, LARGEST_REDUCTION_DB, "dB"),
            orientation=said.get("orientation", ""),
            note=said.get("remarks", ""),
        ),
    )


def _antenna(row: Row, known: Aircraft | None) -> tuple[str, int]:
    """Check receiver and antenna number (none is the receiver as a whole: number 0) against the register."""
    receiver, antenna = row.cells["receiver"], row.cells.get("antenna", "0")
    if not (antenna.isascii() and antenna.isdigit()) or ("antenna" in row.cells and int(antenna) == 0):
        raise row.refuse("antenna", SheetRefused.NO_ANTENNA, found=antenna)
    if known is None:
        return receiver, int(antenna)
    fitted = {(a.receiver, a.number) for layout in known.layouts for a in layout.antennas}
    names = sorted({r.name for r in known.receivers} | {r for r, _ in fitted})
    by_folded = {n.casefold(): n for n in names}
    if names and receiver.casefold() not in by_folded:
        raise row.refuse_name(
            "receiver", say("thing.receiver_of", aircraft=known.name), receiver, names, say("remedy.register")
        )
    receiver = by_folded.get(receiver.casefold(), receiver)
    numbers = sorted(n for r, n in fitted if r == receiver)
    if int(antenna) and numbers and int(antenna) not in numbers:
        raise row.refuse("antenna", SheetRefused.OTHER_ANTENNA, found=antenna, known=tuple(numbers), receiver=receiver)
    return receiver, int(antenna)


def _number(row: Row, column: str, low: float, high: float, unit: str) -> float:
    value = number(row.cells[column], three_decimals=unit != "m")
    if not low <= value <= high:
        raise row.refuse(column, SheetRefused.NO_NUMBER, found=row.cells[column], low=low, high=high, unit=unit)
    return value
