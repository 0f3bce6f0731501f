"""What flies: registering aircraft and packs, and listing them with their engines and antenna layouts."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from analyser.core.findings import say as say_of
from spooldown.commands.options import AsJson, Book, DryRun, OnlyAircraft, only_of
from spooldown.commands.places import opened, read_file
from spooldown.problems import UsageProblem
from spooldown.terminal import headings, say, say_json, table, tell

if TYPE_CHECKING:
    from analyser.core.aircraft import Aircraft


def register_files(
    files: Annotated[
        list[Path] | None, typer.Argument(help="TOML files: an aircraft with its parts, packs, or both.")
    ] = None,
    example: Annotated[bool, typer.Option("--example", help="Print a file to start from.")] = False,
    dry_run: DryRun = False,
    logbook: Book = None,
) -> None:
    """Register aircraft, engines, tanks, packs and antenna layouts from TOML files."""
    from spooldown import register

    if example:
        say(register.EXAMPLE.rstrip())
        return
    if not files:
        raise UsageProblem("usage.toml_file")
    with opened(logbook, must_exist=False) as book:
        known = register.load(book)
        found = []
        for path in files:  # all are checked before the first is kept
            data = read_file(path)
            file = register.parse(data, str(path))
            addition = register.check(book, known, file, data)
            known = addition.register
            found.append((file, addition))
        for file, addition in found:
            if not dry_run:
                register.keep(book, addition)
            names = [say_of("cli.the_aircraft", name=file.aircraft.name)] if file.aircraft else []
            names += [say_of("cli.the_pack", name=p.name) for p in file.packs]
            tell("cli.registered", what=tuple(names), outcome=addition.outcome, dry=dry_run, copy=addition.copy_name)


def aircraft(as_json: AsJson = False, logbook: Book = None) -> None:
    """List the registered aircraft."""
    from spooldown import register

    with opened(logbook) as book:
        known = register.readable(book)
        owners = [f.aircraft for f in book.flights()]
    rows = [
        {
            "name": a.name,
            "engines": [e.name for e in a.engines],
            "tanks": [t.name for t in a.tanks],
            "receivers": [r.name for r in a.receivers],
            "layouts": [x.name for x in a.layouts],
            "flights": owners.count(a.name),
        }
        for a in known.aircraft.values()
    ]
    if as_json:
        say_json(rows)
    elif rows:
        table(
            headings(*rows[0]),
            [[", ".join(v) if isinstance(v, list) else v for v in r.values()] for r in rows],
            numeric=(5,),
        )
    else:
        tell("cli.no_aircraft")


def engines(aircraft: OnlyAircraft = "", as_json: AsJson = False, logbook: Book = None) -> None:
    """List the registered engines, aircraft by aircraft, with the tank each drinks from and its makers' limits."""
    _list_parts(
        logbook,
        aircraft,
        lambda a: [
            {
                "engine": e.name,
                "tank": e.tank,
                "tank mL": next((t.capacity_ml for t in a.tanks if t.name == e.tank), None),
                "pack place": e.pack_role,
                "max rpm": e.max_rpm,
                "max EGT °C": e.max_egt_c,
                "service every h": e.service_interval_h,
            }
            for e in a.engines
        ],
        numeric=(3, 5, 6, 7),
        as_json=as_json,
    )


def layouts(aircraft: OnlyAircraft = "", as_json: AsJson = False, logbook: Book = None) -> None:
    """List the registered antenna layouts, antenna by antenna: where each sits and which way it points."""
    _list_parts(
        logbook,
        aircraft,
        lambda a: [
            {
                "layout": layout.name,
                "since": layout.since.isoformat() if layout.since else None,
                "receiver": antenna.receiver,
                "antenna": antenna.number,
                "name": antenna.name,
                "forward, right, down m": antenna.position_m,
                "points": antenna.axis,
            }
            for layout in a.layouts
            for antenna in layout.antennas
        ],
        numeric=(4,),
        as_json=as_json,
    )


def packs(as_json: AsJson = False, logbook: Book = None) -> None:
    """List the registered packs and the flights they were noted in."""
    from spooldown import register

    with opened(logbook) as book:
        known = register.readable(book)
        noted = [name for n in book.notes().values() for name in n.packs.values()]
    rows = [
        {
            "name": p.name,
            "usual place": p.role,
            "chemistry": p.chemistry,
            "cells": p.cells,
            "rated mAh": p.rated_mah,
            "since": p.in_service_since.isoformat() if p.in_service_since else None,
            "noted in": noted.count(p.name),
        }
        for p in known.packs.values()
    ]
    if as_json:
        say_json(rows)
    elif rows:
        table(headings(*map(key_of, rows[0])), [list(r.values()) for r in rows], numeric=(3, 4, 6))
    else:
        tell("cli.no_packs")


def _list_parts(
    logbook: Path | None,
    word: str,
    rows_of: Callable[[Aircraft], list[dict[str, Any]]],
    *,
    numeric: tuple[int, ...],
    as_json: bool,
) -> None:
    """List one kind of part over all aircraft."""
    from spooldown import register

    with opened(logbook) as book:
        known = register.readable(book)
        chosen = only_of(book, word, ())
    rows = [
        {"aircraft": a.name, **row} for a in known.aircraft.values() if chosen in ("", a.name) for row in rows_of(a)
    ]
    if as_json:
        say_json(rows)
    elif rows:
        table(headings(*map(key_of, rows[0])), [[_plain(v) for v in r.values()] for r in rows], numeric=numeric)
    else:
        tell("cli.none_registered")


def key_of(name: str) -> str:
    """The key of a heading in the catalogue: ``tank mL`` is ``tank_ml``."""
    return re.sub(r"\W+", "_", name.casefold()).strip("_")


def _plain(value: Any) -> Any:
    """Write a value for a table's cell."""
    if isinstance(value, tuple):
        return ", ".join(map(_plain, value))
    return f"{value:g}" if isinstance(value, float) and abs(value) < 1e6 else value
