"""Walked range checks, written down as CSV: one row a distance, checked whole before anything of it is kept."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date

from analyser.aircraft import Aircraft
from analyser.range_check import RangeCheck
from importers.refusal import Refusal
from spooldown.problems import nearest
from spooldown.register import Register
from spooldown.sheet import table_lines

COLUMNS = ("aircraft", "day", "receiver", "antenna", "distance_m", "reduction_db", "orientation", "remarks")
NEEDED = ("day", "receiver", "distance_m", "reduction_db")
LONGEST_M = 20_000.0
LARGEST_REDUCTION_DB = 60.0
"""Nobody walks further, no radio has a check mode that deep: beyond these a slip of the pen is likelier."""

Refuse = Callable[[str, str, str, str], Refusal]


@dataclass(frozen=True, slots=True)
class RangeRow:
    """One row: whose aircraft, and the check."""

    aircraft: str
    check: RangeCheck


def is_range_sheet(head: bytes) -> bool:
    """Whether a file starts as a sheet of range checks does."""
    first = head.removeprefix(b"\xef\xbb\xbf").partition(b"\n")[0]
    return b"distance_m" in first and b"reduction_db" in first and b"receiver" in first


def as_sheet(cells: Mapping[str, str]) -> bytes:
    """One typed check as the sheet it would be, so that both ways in meet the same checks."""
    out = io.StringIO()
    csv.writer(out).writerows([list(cells), list(cells.values())])
    return out.getvalue().encode()


def read_range_sheet(data: bytes, name: str, register: Register, aircraft: str = "") -> list[RangeRow]:
    """Read range checks; ``aircraft`` is whose they are where the sheet has no column for it.

    Raises
    ------
    Refusal
        Naming line and column of the first thing wrong; nothing of the sheet is then used.
    """
    lines = table_lines(data, name)
    columns = _columns([c.strip() for c in next(lines, (1, []))[1]], name)
    rows = []
    for line, cells in lines:
        if not any(c.strip() for c in cells):
            continue

        def refuse(column: str, found: str, expected: str, remedy: str, line: int = line) -> Refusal:
            return Refusal(name, line=line, column=column or None, found=found, expected=expected, remedy=remedy)

        if any(c.strip() for c in cells[len(columns) :]):
            raise refuse("", f"{len(cells)} cells", f"{len(columns)}", "quote cells that hold the delimiter")
        said = {c: cell.strip() for c, cell in zip(columns, cells, strict=False) if c and cell.strip()}
        rows.append(_row(said, register, aircraft, refuse))
    if not rows:
        raise Refusal(name, found="no row with a check", expected="one row a walked distance", remedy="fill it in")
    return rows


def _columns(headings: list[str], name: str) -> list[str]:
    for heading in headings:
        if heading and heading not in COLUMNS:
            alike = nearest(heading, COLUMNS)
            raise Refusal(
                name, line=1, column=heading, found="an unknown column",
                expected=repr(alike) if alike else f"one of {', '.join(COLUMNS)}", remedy="rename it or take it out",
            )  # fmt: skip
        if heading and headings.count(heading) > 1:
            raise Refusal(
                name, line=1, column=heading, found="this column twice", expected="it once", remedy="merge them"
            )
    for needed in NEEDED:
        if needed not in headings:
            raise Refusal(
                name, line=1, column=needed, found="no such column", expected=f"the columns {', '.join(NEEDED)}",
                remedy="add it",
            )  # fmt: skip
    return headings


def _row(said: dict[str, str], register: Register, aircraft: str, refuse: Refuse) -> RangeRow:
    for needed in NEEDED:
        if needed not in said:
            raise refuse(needed, "an empty cell", "a value", "fill it in")
    owner = said.get("aircraft", "") or aircraft
    if not owner:
        raise refuse("aircraft", "no aircraft", "whose range check this is", "fill it in")
    known = register.find_aircraft(owner)
    if known is None and register.aircraft:
        alike = nearest(owner, register.aircraft)
        raise refuse(
            "aircraft", repr(owner), "a registered aircraft",
            f"did you mean {alike!r}" if alike else "register it first",
        )  # fmt: skip
    owner = known.name if known else owner
    if aircraft and owner.casefold() != aircraft.casefold():
        raise refuse("aircraft", repr(owner), repr(aircraft), "name the same aircraft in both places, or only in one")
    try:
        day = date.fromisoformat(said["day"])
    except ValueError:
        raise refuse("day", repr(said["day"]), "a date as year-month-day, 2026-05-17", "mend the cell") from None
    receiver, number = settle_antenna(known, said["receiver"], said.get("antenna", ""), refuse)
    check = RangeCheck(
        day=day,
        receiver=receiver,
        number=number,
        distance_m=_number(said["distance_m"], 0.1, LONGEST_M, "m", lambda *a: refuse("distance_m", *a)),
        reduction_db=_number(
            said["reduction_db"], 0.0, LARGEST_REDUCTION_DB, "dB", lambda *a: refuse("reduction_db", *a)
        ),
        orientation=said.get("orientation", ""),
        note=said.get("remarks", ""),
    )
    return RangeRow(owner, check)


def settle_antenna(known: Aircraft | None, receiver: str, antenna: str, refuse: Refuse) -> tuple[str, int]:
    """Check a receiver and an antenna number ('' is the receiver as a whole: number 0) against the register."""
    number = 0
    if antenna:
        if not (antenna.isascii() and antenna.isdigit() and int(antenna) > 0):
            raise refuse(
                "antenna", repr(antenna), "its number, 1 or more, or nothing for the whole receiver", "mend it"
            )
        number = int(antenna)
    if known is None:
        return receiver, number
    fitted = {(a.receiver, a.number) for layout in known.layouts for a in layout.antennas}
    names = {r.name for r in known.receivers} | {r for r, _ in fitted}
    by_folded = {n.casefold(): n for n in names}
    if names and receiver.casefold() not in by_folded:
        alike = nearest(receiver, names)
        raise refuse(
            "receiver", repr(receiver), f"a receiver of {known.name} ({', '.join(sorted(names))})",
            f"did you mean {alike!r}" if alike else "register it first",
        )  # fmt: skip
    receiver = by_folded.get(receiver.casefold(), receiver)
    numbers = sorted(n for r, n in fitted if r == receiver)
    if number and numbers and number not in numbers:
        raise refuse(
            "antenna",
            str(number),
            f"one of {', '.join(map(str, dict.fromkeys(numbers)))} on {receiver}",
            "mend the cell",
        )
    return receiver, number


def _number(text: str, low: float, high: float, unit: str, refuse: Callable[[str, str, str], Refusal]) -> float:
    try:
        value = float(text.replace(",", ".") if text.count(",") == 1 and "." not in text else text)
    except ValueError:
        value = math.nan
    if not low <= value <= high:
        raise refuse(repr(text), f"a number from {low:g} to {high:g} {unit}", "mend the cell")
    return value
