"""A blank field sheet to print and fill in by hand; its rows are the columns of the field-sheet CSV."""

from __future__ import annotations

from dataclasses import replace

from reports.model import Site
from reports.render import Shell, page

FIXED: tuple[tuple[str, str], ...] = (
    ("log_file", "Log file"),
    ("part", "Part, where one log holds several flights"),
    ("aircraft", "Aircraft"),
    ("layout", "Antenna layout"),
)
CLOSING: tuple[tuple[str, str], ...] = (
    ("air_temperature_c", "Air temperature, °C"),
    ("pilot_latitude_deg", "Pilot's latitude, °"),
    ("pilot_longitude_deg", "Pilot's longitude, °"),
    ("pilot_altitude_m", "Pilot's altitude, m"),
    ("remarks", "Remarks"),
)


def columns(tanks: list[str], roles: list[str]) -> list[tuple[str, str]]:
    """Columns of the field sheet with their plain words, in order, for these tanks and pack roles."""
    out = list(FIXED)
    out += [(f"pack_{r}", f"Pack fitted as {r}") for r in roles]
    for t in tanks:
        out += [
            (f"fuel_before_{t}_ml", f"Fuel {t} before start, mL"),
            (f"fuel_put_in_{t}_ml", f"Fuel {t} put in afterwards, mL"),
        ]
    for r in roles:
        out += [
            (f"charged_{r}_mah", f"Charge put back into {r}, mAh"),
            (f"capacity_{r}_mah", f"Capacity of {r} measured by a charger, mAh"),
            (f"resistance_{r}_mohm", f"Resistance of {r}, mΩ"),
            (f"cell_resistance_{r}_mohm", f"Resistance of {r} cell by cell, mΩ"),
            (f"pack_temperature_{r}_c", f"Temperature of {r} after the flight, °C"),
        ]
    return out + list(CLOSING)


def render(site: Site, shell: Shell) -> str:
    """Make one sheet an aircraft; a plain one where none is known."""
    sheets = []
    for one in site.season.aircraft:
        flights = [f.record for f in site.flights if f.record.aircraft == one.aircraft.name]
        tanks = dict.fromkeys(
            [t.name for t in one.aircraft.tanks] + [t.name for r in flights for t in r.result.fuel.tanks]
        )
        engine_roles = [e.pack_role for e in one.aircraft.engines if e.pack_role]
        roles = dict.fromkeys([p.name for r in flights for p in r.result.packs.packs] + engine_roles)
        sheets.append((one.aircraft.name, columns(list(tanks) or ["main"], list(roles) or ["rx1"])))
    if not sheets:
        sheets.append(("", columns(["main"], ["rx1"])))
    return page("sheet.html", replace(shell, here="sheet"), title="Field sheet", sheets=sheets)
