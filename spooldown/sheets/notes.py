"""From filled-in cells to a flight's note: names settled, numbers read, whatever is wrong named by its cell.

A cell's name is a column of the field sheet (``fuel_put_in_left_ml``); what is typed after ``spooldown note`` goes the
same way.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any, Protocol

from analyser.core.aircraft import Aircraft, FuelNote, PackNote
from analyser.core.findings import Text, say
from importers.refusal import Refused
from spooldown.logbook.flight import Flight
from spooldown.logbook.note import BOUNDS, FlightNote
from spooldown.register import Register
from spooldown.sheets.codes import SheetRefused
from spooldown.sheets.rows import number

PLAIN = (
    "layout",
    "air_temperature_c",
    "pilot_latitude_deg",
    "pilot_longitude_deg",
    "pilot_altitude_m",
    "remarks",
)
PATTERNS: Mapping[str, tuple[str, str]] = {
    "pack_temperature_<role>_c": ("readings", "temperature_c"),
    "pack_<role>": ("packs", ""),
    "fuel_before_<tank>_ml": ("fuel", "before_ml"),
    "fuel_put_in_<tank>_ml": ("fuel", "put_in_ml"),
    "charged_<role>_mah": ("readings", "charged_mah"),
    "capacity_<role>_mah": ("readings", "capacity_mah"),
    "cell_resistance_<role>_mohm": ("readings", "cell_resistance_mohm"),
    "resistance_<role>_mohm": ("readings", "resistance_mohm"),
}
"""Cells named after a pack's role or a tank, and where in the note they go; the first that fits counts."""


class Slip(Protocol):
    """Words what is wrong with a cell; a row of a sheet does, and so do options typed."""

    def refuse(self, column: str, code: Refused, **values: Any) -> Exception:
        """Say what is wrong with a cell."""

    def refuse_name(self, column: str, kind: str, word: str, known: Sequence[str], remedy: Text) -> Exception:
        """Say that a name is none of the known ones."""


def pattern_of(column: str) -> tuple[str, str]:
    """Take a column apart: its pattern ('' where plain or unknown), and the role or tank in it."""
    for pattern in PATTERNS:
        before, _, after = re.sub("<.*>", "\0", pattern).partition("\0")
        if column not in PLAIN and (match := re.fullmatch(f"{before}(.+){after}", column)):
            return pattern, match[1]
    return "", ""


def note_of(cells: Mapping[str, str], flight: Flight, owner: str, register: Register, slip: Slip) -> FlightNote:
    """Read one flight's cells against its log and the register.

    Parameters
    ----------
    cells : mapping of str to str
        Column to text, without empty ones; columns that are no part of a note are left alone.
    owner : str
        Whose flight it is, '' where unknown.

    Raises
    ------
    Exception
        What ``slip`` words, at the first thing wrong.
    """
    aircraft = register.find_aircraft(owner) if owner else None
    layout = cells.get("layout", "")
    layouts = [x.name for x in aircraft.layouts] if aircraft else []
    if layout and layout not in layouts:
        raise slip.refuse_name("layout", "layout", layout, layouts, say("remedy.register"))
    places = _places(flight, aircraft, register)
    tanks = [*(t.name for t in (aircraft.tanks if aircraft else ())), *flight.instances("fuel")]
    packs: dict[str, str] = {}
    stated: dict[str, dict[str, dict[str, Any]]] = {"fuel": {}, "readings": {}}
    for column, text in cells.items():
        pattern, word = pattern_of(column)
        if not pattern:
            continue
        part, key = PATTERNS[pattern]
        name = _settle(column, *(("tank", word, tanks) if part == "fuel" else ("pack_place", word, places)), slip)
        if part == "packs":
            packs[name] = _pack(column, text, register, slip)
        elif key == "cell_resistance_mohm":
            values = text.split("/") if "/" in text else text.split()
            stated[part].setdefault(name, {})[key] = tuple(_number(column, v, key, slip) for v in values)
        else:
            stated[part].setdefault(name, {})[key] = _number(column, text, key, slip)
    return FlightNote(
        packs=packs,
        layout=layout,
        fuel={k: FuelNote(**v) for k, v in stated["fuel"].items()},
        readings={k: PackNote(**v) for k, v in stated["readings"].items()},
        remarks=cells.get("remarks", ""),
        **{k: _number(k, cells[k], k, slip) for k in PLAIN if k.endswith(("_c", "_deg", "_m")) and k in cells},
    )


def _places(flight: Flight, aircraft: Aircraft | None, register: Register) -> list[str]:
    """Where packs may sit: as the log names them, as the engines and the packs of the register do."""
    registered = [e.pack_role for e in aircraft.engines] if aircraft else []
    registered += [p.role for p in register.packs.values()]
    return list(dict.fromkeys([*flight.instances("pack"), *filter(None, registered)]))


def _settle(column: str, kind: str, word: str, known: Sequence[str], slip: Slip) -> str:
    """Spell a name as the log or the register does; where neither names any, as it was written."""
    by_folded = {k.casefold(): k for k in reversed(known)}
    if by_folded and word.casefold() not in by_folded:
        names = list(dict.fromkeys(known))
        raise slip.refuse_name(column, kind, word, names, say("remedy.name_part", known=tuple(names)))
    return by_folded.get(word.casefold(), word)


def _pack(column: str, text: str, register: Register, slip: Slip) -> str:
    by_folded = {n.casefold(): n for n in register.packs}
    if text.casefold() not in by_folded:
        raise slip.refuse_name(column, "pack", text, list(register.packs), say("remedy.register"))
    return by_folded[text.casefold()]


def _number(column: str, text: str, key: str, slip: Slip) -> float:
    """Read a number, and mind what its kind can be."""
    value = number(text, three_decimals=not key.endswith(("_ml", "_mah")))
    low, high, unit = BOUNDS[key]
    if not low <= value <= high:
        raise slip.refuse(column, SheetRefused.NO_NUMBER, found=text, low=low, high=high, unit=unit)
    return value
