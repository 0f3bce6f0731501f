"""What the log cannot know about a flight: ``spooldown note``."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated, Any

import typer

from analyser.core.findings import Text
from analyser.core.findings import say as say_of
from importers.refusal import Refused
from spooldown.commands.options import Book, DryRun, FlightWord, meant, owner_of, pair
from spooldown.commands.places import opened, read_file
from spooldown.commands.shell.completing import (
    aircraft_names,
    layout_names,
    pack_places,
    packs_fitted,
    tank_places,
)
from spooldown.problems import NotFoundProblem, Problem, UsageProblem, not_found
from spooldown.terminal import say, say_json, tell


def note(
    flight: FlightWord = "",
    sheet: Annotated[Path | None, typer.Option(help="Take the notes from a field sheet (CSV).")] = None,
    aircraft: Annotated[str, typer.Option(help="Whose flight it is.", autocompletion=aircraft_names)] = "",
    pack: Annotated[
        list[str] | None, typer.Option(metavar="ROLE=NAME", help="Pack fitted.", autocompletion=packs_fitted)
    ] = None,
    layout: Annotated[str, typer.Option(help="Antenna layout in use.", autocompletion=layout_names)] = "",
    fuel_before: Annotated[
        list[str] | None, typer.Option(metavar="TANK=ML", help="Fuel on board before.", autocompletion=tank_places)
    ] = None,
    fuel_put_in: Annotated[
        list[str] | None, typer.Option(metavar="TANK=ML", help="Fuel put in afterwards.", autocompletion=tank_places)
    ] = None,
    charged: Annotated[
        list[str] | None, typer.Option(metavar="ROLE=MAH", help="Charge put back.", autocompletion=pack_places)
    ] = None,
    capacity: Annotated[
        list[str] | None,
        typer.Option(
            metavar="ROLE=MAH",
            help="Capacity a charger measured, full to empty or back.",
            autocompletion=pack_places,
        ),
    ] = None,
    resistance: Annotated[
        list[str] | None, typer.Option(metavar="ROLE=MOHM", help="Resistance read.", autocompletion=pack_places)
    ] = None,
    cell_resistance: Annotated[
        list[str] | None,
        typer.Option(metavar="ROLE=MOHM/MOHM", help="Resistance read, cell by cell.", autocompletion=pack_places),
    ] = None,
    pack_temperature: Annotated[
        list[str] | None, typer.Option(metavar="ROLE=C", help="Pack temperature.", autocompletion=pack_places)
    ] = None,
    air_temperature: Annotated[str, typer.Option(metavar="C", help="Air temperature.")] = "",
    pilot: Annotated[str, typer.Option(metavar="LAT,LON[,ALT]", help="Where the pilot stood.")] = "",
    remarks: Annotated[str, typer.Option(help="Anything else.")] = "",
    blank: Annotated[
        bool, typer.Option("--blank", help="Print a field sheet to fill in: a row for each flight not yet noted.")
    ] = False,
    forget: Annotated[bool, typer.Option("--forget", help="First drop what was noted.")] = False,
    dry_run: DryRun = False,
    logbook: Book = None,
) -> None:
    """Note what the log cannot know: packs fitted, fuel, charge put back, resistance, weather, remarks."""
    from spooldown import register
    from spooldown.logbook.note import FlightNote
    from spooldown.sheets.field import apply_sheet, blank_sheet, read_sheet
    from spooldown.sheets.notes import note_of

    typed = _Typed()
    typed.take("--pack", "pack_{}", pack)
    typed.take("--fuel-before", "fuel_before_{}_ml", fuel_before)
    typed.take("--fuel-put-in", "fuel_put_in_{}_ml", fuel_put_in)
    typed.take("--charged", "charged_{}_mah", charged)
    typed.take("--capacity", "capacity_{}_mah", capacity)
    typed.take("--resistance", "resistance_{}_mohm", resistance)
    typed.take("--cell-resistance", "cell_resistance_{}_mohm", cell_resistance)
    typed.take("--pack-temperature", "pack_temperature_{}_c", pack_temperature)
    for option, text in {"layout": layout, "air_temperature_c": air_temperature, "remarks": remarks}.items():
        typed.put(f"--{option.removesuffix('_c').replace('_', '-')}", option, text)
    typed.take_place("--pilot", pilot)
    if blank:
        with opened(logbook) as book:
            noted = book.notes()
            say(blank_sheet([f for f in book.flights() if f.flight_id not in noted], register.load(book)).rstrip())
        return
    if bool(flight) == bool(sheet):
        raise UsageProblem("usage.flight_or_sheet")
    if sheet and (typed.cells or aircraft or forget):
        raise UsageProblem("usage.sheet_alone")
    with opened(logbook) as book:
        known = register.load(book)
        if sheet:
            data = read_file(sheet)
            if dry_run:
                touched = [r.flight_id for r in read_sheet(data, str(sheet), book.flights(), known)]
            else:
                touched = apply_sheet(book, known, data, str(sheet))
            tell("cli.would_note_sheet" if dry_run else "cli.noted_sheet", flights=tuple(touched))
            return
        which = book.flight(meant(book, flight))
        owner = owner_of(known, aircraft)
        newer = note_of(typed.cells, which, owner or which.aircraft, known, typed)
        if not dry_run and (owner or newer or forget):
            with book.writing():
                if owner:
                    book.assign([which.flight_id], owner)
                merged = book.note({which.flight_id: newer}, forget=forget)[which.flight_id]
        else:
            old = FlightNote() if forget else book.notes().get(which.flight_id, FlightNote())
            merged = old.updated(newer)
    tell("cli.would_be_noted" if dry_run else "cli.noted", flight=which.flight_id)
    say_json(_stated(merged))


class _Typed:
    """Options typed, as the cells of a field sheet they stand for; a slip is worded by its option."""

    def __init__(self) -> None:
        self.cells: dict[str, str] = {}
        self._options: dict[str, str] = {}

    def put(self, option: str, column: str, text: str) -> None:
        """Keep one option's text, if it has any."""
        if text.strip():
            text.encode()  # what is no UTF-8 stops here
            if column in self.cells:
                raise UsageProblem("usage.twice", option=option)
            self.cells[column] = text.strip()
            self._options[column] = option

    def take(self, option: str, pattern: str, items: Sequence[str] | None) -> None:
        """Keep every NAME=VALUE of one option."""
        for item in items or ():
            name, value = pair(item, option)
            self.put(option, pattern.format(name), value)

    def take_place(self, option: str, text: str) -> None:
        """Keep where the pilot stood."""
        words = text.split(",") if text.strip() else []
        if words and (len(words) not in (2, 3) or not all(w.strip() for w in words)):
            raise UsageProblem("usage.place", option=option, found=text)
        for column, word in zip(("pilot_latitude_deg", "pilot_longitude_deg", "pilot_altitude_m"), words, strict=False):
            self.put(option, column, word)

    def refuse(self, column: str, code: Refused, **values: Any) -> Problem:
        """Say what is wrong with an option's value."""
        found, expected = say_of(f"{code}.found", **values), say_of(f"{code}.expected", **values)
        return UsageProblem("usage.option_wants", option=self._options[column], found=found, expected=expected)

    def refuse_name(self, column: str, kind: str, word: str, known: Sequence[str], remedy: Text) -> Problem:
        """Say that a name is none of the known ones."""
        why = not_found(kind, word, known, remedy=remedy).finding
        return NotFoundProblem("problem.of_option", option=self._options[column], why=why)


def _stated(note: Any) -> dict[str, Any]:
    """Reduce a note to what it states."""
    from spooldown.logbook.codec import to_json

    def without_gaps(value: Any) -> Any:
        if not isinstance(value, dict):
            return value
        return {k: kept for k, v in value.items() if (kept := without_gaps(v)) not in (None, "", [], {})}

    return without_gaps(json.loads(to_json(note)))  # type: ignore[no-any-return]
