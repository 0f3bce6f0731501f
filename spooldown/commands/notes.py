"""What the log cannot know about a flight: ``spooldown note``."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from spooldown.commands.options import Book, DryRun, flight_names, number, owner_of, pair
from spooldown.commands.places import opened, read_file
from spooldown.problems import UsageProblem, not_found
from spooldown.terminal import say, say_json

if TYPE_CHECKING:
    from spooldown.logbook.note import FlightNote
    from spooldown.register import Register


def note(
    flight: Annotated[str, typer.Argument(help="Flight id.", autocompletion=flight_names)] = "",
    sheet: Annotated[Path | None, typer.Option(help="Take the notes from a field sheet (CSV).")] = None,
    aircraft: Annotated[str, typer.Option(help="Whose flight it is.")] = "",
    pack: Annotated[list[str] | None, typer.Option(metavar="ROLE=NAME", help="Pack fitted.")] = None,
    layout: Annotated[str, typer.Option(help="Antenna layout in use.")] = "",
    fuel_before: Annotated[list[str] | None, typer.Option(metavar="TANK=ML", help="Fuel on board before.")] = None,
    fuel_put_in: Annotated[list[str] | None, typer.Option(metavar="TANK=ML", help="Fuel put in afterwards.")] = None,
    charged: Annotated[list[str] | None, typer.Option(metavar="ROLE=MAH", help="Charge put back.")] = None,
    resistance: Annotated[list[str] | None, typer.Option(metavar="ROLE=MOHM", help="Resistance read.")] = None,
    cell_resistance: Annotated[
        list[str] | None, typer.Option(metavar="ROLE=MOHM/MOHM", help="Resistance read, cell by cell.")
    ] = None,
    pack_temperature: Annotated[list[str] | None, typer.Option(metavar="ROLE=C", help="Pack temperature.")] = None,
    air_temperature: Annotated[float | None, typer.Option(metavar="C", help="Air temperature.")] = None,
    pilot: Annotated[str, typer.Option(metavar="LAT,LON[,ALT]", help="Where the pilot stood.")] = "",
    remarks: Annotated[str, typer.Option(help="Anything else.")] = "",
    forget: Annotated[bool, typer.Option("--forget", help="First drop what was noted.")] = False,
    dry_run: DryRun = False,
    logbook: Book = None,
) -> None:
    """Note what the log cannot know: packs fitted, fuel, charge put back, resistance, weather, remarks."""
    from spooldown import register
    from spooldown.demo import apply_sheet
    from spooldown.logbook.note import FlightNote
    from spooldown.sheet import read_sheet

    if bool(flight) == bool(sheet):
        raise UsageProblem("name a flight, or a field sheet with --sheet, one of the two.")
    with opened(logbook) as book:
        known = register.load(book)
        if sheet:
            data = read_file(sheet)
            if dry_run:
                touched = [r.flight_id for r in read_sheet(data, str(sheet), book.flights(), known)]
            else:
                touched = apply_sheet(book, known, data, str(sheet))
            say(f"{'Would note' if dry_run else 'Noted'} {len(touched)} flights: {', '.join(touched)}.")
            return
        which = book.flight(flight)
        owner = owner_of(known, aircraft)
        newer = _typed_note(
            known, owner or which.aircraft, pack, layout, fuel_before, fuel_put_in, charged, resistance,
            cell_resistance, pack_temperature, air_temperature, pilot, remarks,
        )  # fmt: skip
        old = FlightNote() if forget else book.notes().get(flight, FlightNote())
        merged = old.updated(newer)
        if not dry_run and (owner or newer or forget):
            with book.writing():
                if owner:
                    book.assign([flight], owner)
                book.set_notes({flight: merged})
        say(f"{'Would be noted' if dry_run else 'Noted'} for {flight}:")
        from spooldown.logbook.codec import to_json

        say_json({k: v for k, v in json.loads(to_json(merged)).items() if v})


def _typed_note(
    known: Register,
    owner: str,
    pack: list[str] | None,
    layout: str,
    fuel_before: list[str] | None,
    fuel_put_in: list[str] | None,
    charged: list[str] | None,
    resistance: list[str] | None,
    cell_resistance: list[str] | None,
    pack_temperature: list[str] | None,
    air_temperature: float | None,
    pilot: str,
    remarks: str,
) -> FlightNote:
    """Check typed notes against the register."""
    from analyser.aircraft import FuelNote, PackNote
    from spooldown.logbook.note import FlightNote, out_of_bounds

    if layout:
        whose = known.find_aircraft(owner)
        names = [x.name for x in whose.layouts] if whose else []
        if layout not in names:
            raise not_found("antenna layout", layout, names, remedy="register it first")
    fuel: dict[str, dict[str, float]] = {}
    for items, key, option in (
        (fuel_before, "before_ml", "--fuel-before"),
        (fuel_put_in, "put_in_ml", "--fuel-put-in"),
    ):
        for item in items or []:
            tank, value = pair(item, option)
            fuel.setdefault(tank, {})[key] = number(value, option)
    readings: dict[str, dict[str, Any]] = {}
    for items, key, option in (
        (charged, "charged_mah", "--charged"),
        (resistance, "resistance_mohm", "--resistance"),
        (pack_temperature, "temperature_c", "--pack-temperature"),
    ):
        for item in items or []:
            role, value = pair(item, option)
            readings.setdefault(role, {})[key] = number(value, option, below_zero=option == "--pack-temperature")
    for item in cell_resistance or []:
        role, value = pair(item, "--cell-resistance")
        cells = tuple(number(v, "--cell-resistance") for v in value.split("/"))
        readings.setdefault(role, {})["cell_resistance_mohm"] = cells
    if air_temperature is not None and (wanted := out_of_bounds("air_temperature_c", air_temperature)):
        raise UsageProblem(f"--air-temperature wants {wanted}, got {air_temperature:g}.")
    place = [number(v, "--pilot", below_zero=True) for v in pilot.split(",")] if pilot else []
    if place and (len(place) not in (2, 3) or abs(place[0]) > 90 or abs(place[1]) > 180):
        raise UsageProblem("--pilot wants latitude,longitude or latitude,longitude,altitude in degrees and metres.")
    return FlightNote(
        packs={role: known.find_pack(name).name for role, name in (pair(i, "--pack") for i in pack or [])},
        layout=layout,
        fuel={k: FuelNote(**v) for k, v in fuel.items()},
        readings={k: PackNote(**v) for k, v in readings.items()},
        air_temperature_c=air_temperature,
        pilot_latitude_deg=place[0] if place else None,
        pilot_longitude_deg=place[1] if place else None,
        pilot_altitude_m=place[2] if len(place) > 2 else None,
        remarks=remarks,
    )
