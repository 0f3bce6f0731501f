"""A blank field sheet to print and fill in by hand; its rows are the columns of the field-sheet CSV."""

from __future__ import annotations

from msgspec.structs import replace

from reports.model import Site
from reports.render import Shell, page
from reports.words.catalogue import message
from reports.words.names import slug_words

FIXED = ("log_file", "part", "aircraft", "layout")
CLOSING = ("air_temperature_c", "pilot_latitude_deg", "pilot_longitude_deg", "pilot_altitude_m", "remarks")


def columns(tanks: list[str], roles: list[str]) -> list[tuple[str, str]]:
    """Columns of the field sheet with their plain words, in order, for these tanks and pack roles."""
    out = [(key, message(f"sheet.{key}")) for key in FIXED]
    out += [(f"pack_{r}", message("sheet.pack", role=slug_words(r))) for r in roles]
    for t in tanks:
        out += [
            (f"fuel_{key}_{t}_ml", message(f"sheet.fuel_{key}", tank=slug_words(t))) for key in ("before", "put_in")
        ]
    for r in roles:
        out += [
            (name.format(r), message(f"sheet.{key}", role=slug_words(r)))
            for name, key in (
                ("charged_{}_mah", "charged"),
                ("capacity_{}_mah", "capacity"),
                ("resistance_{}_mohm", "resistance"),
                ("cell_resistance_{}_mohm", "cell_resistance"),
                ("pack_temperature_{}_c", "pack_temperature"),
            )
        ]
    return out + [(key, message(f"sheet.{key}")) for key in CLOSING]


def render(site: Site, shell: Shell) -> str:
    """Make one sheet an aircraft; a plain one where none is known."""
    sheets = []
    for one in site.season.aircraft:
        flights = [f.seen for f in site.newest(one.aircraft.name)]
        tanks = dict.fromkeys(
            [t.name for t in one.aircraft.tanks] + [t.name for r in flights for t in r.result.fuel.tanks]
        )
        engine_roles = [e.pack_role for e in one.aircraft.engines if e.pack_role]
        roles = dict.fromkeys([p.name for r in flights for p in r.result.packs.packs] + engine_roles)
        sheets.append((one.aircraft.name, columns(list(tanks) or ["main"], list(roles) or ["rx1"])))
    if not sheets:
        sheets.append(("", columns(["main"], ["rx1"])))
    return page("sheet.html", replace(shell, here="sheet"), title=message("page.sheet.title"), sheets=sheets)
