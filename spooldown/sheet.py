"""The field sheet: one CSV row a flight, written at the field, checked whole before anything of it is noted."""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import PurePosixPath

from analyser.aircraft import FuelNote, PackNote
from importers.refusal import Refusal
from spooldown.logbook.book import Flight
from spooldown.logbook.note import FlightNote, out_of_bounds
from spooldown.problems import nearest
from spooldown.register import Register

PLAIN = (
    "log_file",
    "part",
    "aircraft",
    "layout",
    "air_temperature_c",
    "pilot_latitude_deg",
    "pilot_longitude_deg",
    "pilot_altitude_m",
    "remarks",
)
PATTERNS: Mapping[str, str] = {
    "pack_temperature_<role>_c": r"pack_temperature_(?P<of>\w+)_c",
    "pack_<role>": r"pack_(?P<of>\w+)",
    "fuel_before_<tank>_ml": r"fuel_before_(?P<of>\w+)_ml",
    "fuel_put_in_<tank>_ml": r"fuel_put_in_(?P<of>\w+)_ml",
    "charged_<role>_mah": r"charged_(?P<of>\w+)_mah",
    "cell_resistance_<role>_mohm": r"cell_resistance_(?P<of>\w+)_mohm",
    "resistance_<role>_mohm": r"resistance_(?P<of>\w+)_mohm",
}
"""Columns named after a pack role or tank; the first that fits counts."""


@dataclass(frozen=True, slots=True)
class SheetNote:
    """One row: which flight, whose, and what was noted."""

    flight_id: str
    aircraft: str
    note: FlightNote


@dataclass(slots=True)
class _Row:
    packs: dict[str, str] = field(default_factory=dict)
    fuel: dict[str, dict[str, float]] = field(default_factory=dict)
    readings: dict[str, dict[str, float | tuple[float, ...]]] = field(default_factory=dict)


def is_sheet(head: bytes) -> bool:
    """Whether a file starts as a field sheet does."""
    return head.removeprefix(b"\xef\xbb\xbf").lstrip(b'"').startswith(b"log_file")


def read_sheet(data: bytes, name: str, flights: list[Flight], register: Register) -> list[SheetNote]:
    """Read a field sheet against what the logbook holds.

    Raises
    ------
    Refusal
        Naming line and column of the first thing wrong; nothing of the sheet is then used.
    """
    table = table_lines(data, name)
    headings = [c.strip() for c in next(table, (1, []))[1]]
    if "log_file" not in headings:
        raise Refusal(
            name, line=1, found="no column log_file", expected="a field sheet", remedy="put the log's file name there"
        )
    columns = [_column(c, name) for c in headings]
    seen: dict[str, int] = {}
    for heading in (c[0] for c in columns):
        seen[heading] = seen.get(heading, 0) + 1
        if heading and seen[heading] > 1:
            raise Refusal(
                name, line=1, column=heading, found="this column twice", expected="it once", remedy="merge them"
            )
    notes: list[SheetNote] = []
    lines: dict[str, int] = {}
    for line, cells in table:
        if not any(c.strip() for c in cells):
            continue
        if len(cells) > len(columns) and any(c.strip() for c in cells[len(columns) :]):
            raise Refusal(
                name,
                line=line,
                found=f"{len(cells)} cells",
                expected=f"{len(columns)}",
                remedy="quote cells that hold the delimiter",
            )
        noted = _note(name, line, columns, [c.strip() for c in cells], flights, register)
        if noted.flight_id in lines:
            raise Refusal(
                name,
                line=line,
                column="log_file",
                found=f"flight {noted.flight_id} a second time (first on line {lines[noted.flight_id]})",
                expected="one row a flight",
                remedy="fill in the column part, or merge the rows",
            )
        lines[noted.flight_id] = line
        notes.append(noted)
    return notes


def table_lines(data: bytes, name: str) -> Iterator[tuple[int, list[str]]]:
    """Yield a small CSV's rows, each with its line in the file; the first line tells the delimiter.

    Raises
    ------
    Refusal
        If the text is no table.
    """
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = data.decode("cp1252", errors="replace")
    if "\0" in text:
        raise Refusal(name, found="bytes that are no text", expected="a CSV file", remedy="save it as CSV")
    head = text.split("\n", 1)[0]
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=max(",;\t", key=head.count))
    try:
        for cells in reader:
            yield reader.line_num, cells
    except csv.Error as error:
        raise Refusal(
            name, line=reader.line_num, found=f"text that is no table ({error})", expected="rows of short cells",
            remedy="save it as CSV",
        ) from error  # fmt: skip


def _column(heading: str, name: str) -> tuple[str, str, str]:
    """Take a heading apart: itself, its pattern ('' where plain), and the role or tank in it."""
    if heading in PLAIN or not heading:
        return heading, "", ""
    for pattern, expression in PATTERNS.items():
        if match := re.fullmatch(expression, heading):
            return heading, pattern, match["of"]
    alike = nearest(heading, [*PLAIN, *PATTERNS])
    raise Refusal(
        name,
        line=1,
        column=heading,
        found="an unknown column",
        expected=repr(alike) if alike else f"one of {', '.join([*PLAIN, *PATTERNS])}",
        remedy="rename it or take it out",
    )


def _note(
    name: str,
    line: int,
    columns: list[tuple[str, str, str]],
    cells: list[str],
    flights: list[Flight],
    register: Register,
) -> SheetNote:
    said = {c[0]: cell for c, cell in zip(columns, cells, strict=False) if cell and c[0]}

    def refuse(column: str, found: str, expected: str, remedy: str) -> Refusal:
        return Refusal(name, line=line, column=column, found=found, expected=expected, remedy=remedy)

    def number(column: str) -> float | None:
        if column not in said:
            return None
        value = _number(said[column], lambda *a: refuse(column, *a))
        if wanted := out_of_bounds(column, value):
            raise refuse(column, repr(said[column]), wanted, "mend the cell or leave it empty")
        return value

    flight = _flight(said.get("log_file", ""), number("part"), flights, refuse)
    owner = said.get("aircraft", "")
    if owner:
        found = register.find_aircraft(owner)
        if found is None and register.aircraft:
            alike = nearest(owner, register.aircraft)
            raise refuse(
                "aircraft",
                repr(owner),
                "a registered aircraft",
                f"did you mean {alike!r}" if alike else "register it first",
            )
        owner = found.name if found else owner
    whose = register.find_aircraft(owner or flight.aircraft)
    layout = said.get("layout", "")
    if layout and layout not in (names := [x.name for x in whose.layouts] if whose else []):
        alike = nearest(layout, names)
        raise refuse(
            "layout", repr(layout), "a registered layout", f"did you mean {alike!r}" if alike else "register it first"
        )
    row = _Row()
    for heading, pattern, of in columns:
        if not pattern or heading not in said:
            continue
        if pattern == "pack_<role>":
            by_folded = {n.casefold(): n for n in register.packs}
            if said[heading].casefold() not in by_folded:
                alike = nearest(said[heading], register.packs)
                raise refuse(
                    heading,
                    f"pack {said[heading]!r}",
                    "a registered pack",
                    f"did you mean {alike!r}" if alike else "register it first",
                )
            row.packs[of] = by_folded[said[heading].casefold()]
        elif pattern == "cell_resistance_<role>_mohm":
            row.readings.setdefault(of, {})["cell_resistance_mohm"] = tuple(
                _number(v, lambda *a, h=heading: refuse(h, *a)) for v in re.split(r"[/ ]+", said[heading]) if v
            )
        else:
            value = number(heading)
            assert value is not None
            if value < 0 and pattern != "pack_temperature_<role>_c":
                raise refuse(heading, f"{said[heading]!r}", "zero or more", "mend the cell")
            if pattern.startswith("fuel_"):
                key = "before_ml" if pattern.startswith("fuel_before") else "put_in_ml"
                row.fuel.setdefault(of, {})[key] = value
            else:
                key = {
                    "pack_temperature_<role>_c": "temperature_c",
                    "charged_<role>_mah": "charged_mah",
                    "resistance_<role>_mohm": "resistance_mohm",
                }[pattern]
                row.readings.setdefault(of, {})[key] = value
    note = FlightNote(
        packs=row.packs,
        layout=layout,
        fuel={k: FuelNote(**v) for k, v in row.fuel.items()},
        readings={k: PackNote(**v) for k, v in row.readings.items()},  # type: ignore[arg-type]
        air_temperature_c=number("air_temperature_c"),
        pilot_latitude_deg=number("pilot_latitude_deg"),
        pilot_longitude_deg=number("pilot_longitude_deg"),
        pilot_altitude_m=number("pilot_altitude_m"),
        remarks=said.get("remarks", ""),
    )
    return SheetNote(flight.flight_id, owner, note)


def _number(text: str, refuse: Callable[[str, str, str], Refusal]) -> float:
    try:
        value = float(text.replace(",", ".") if text.count(",") == 1 and "." not in text else text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise refuse(repr(text), "a number", "mend the cell or leave it empty")
    return value


def _flight(
    log_file: str, part: float | None, flights: list[Flight], refuse: Callable[[str, str, str, str], Refusal]
) -> Flight:
    if not log_file:
        raise refuse("log_file", "an empty cell", "the log's file name", "fill it in")
    wanted = PurePosixPath(log_file.replace("\\", "/")).parts
    fitting = [f for f in flights if PurePosixPath(f.source).parts[-len(wanted) :] == wanted]
    if not fitting:
        # The sheet may say more of the path than the import was told.
        fitting = [f for f in flights if PurePosixPath(f.source).name == wanted[-1]]
    if not fitting:
        alike = nearest(wanted[-1], {PurePosixPath(f.source).name for f in flights})
        raise refuse(
            "log_file",
            f"{log_file!r}, which was never imported",
            "the file name of an imported log",
            f"did you mean {alike!r}" if alike else "import it first",
        )
    if len({f.import_id for f in fitting}) > 1:
        raise refuse("log_file", f"{log_file!r}, which fits several imported logs", "one", "give its folder too")
    if part is not None:
        parts = [f.part for f in fitting]
        if part not in parts:
            raise refuse("part", f"{part:g}", f"one of {', '.join(map(str, parts))}", "mend the cell")
        return next(f for f in fitting if f.part == part)
    if len(fitting) > 1:
        raise refuse("part", f"nothing, but {log_file!r} holds {len(fitting)} flights", "its part", "add a column part")
    return fitting[0]
