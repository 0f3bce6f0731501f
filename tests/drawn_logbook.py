"""A logbook of two aircraft that a simulator drew: notes here and there, packs that move, flights of one day.

Every choice comes from a seed: which volumes and charges were noted, when two packs changed places, and when one pack
went over to the other aircraft.

``python -m tests.drawn_logbook SEED [SEED ...]`` draws a logbook for each seed, builds its pages and prints whatever
they, the terminal and the exports say differently (``tests/read_back.py``).
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Mapping
from datetime import date, datetime
from hashlib import sha256
from pathlib import Path
from typing import Any

import numpy as np
import tomli_w
from msgspec import to_builtins
from msgspec.structs import asdict, replace

from importers.model import FlightDraft
from spooldown import register
from spooldown.logbook.book import Logbook
from spooldown.logbook.flight import Source
from spooldown.logbook.note import FlightNote
from tests.simulators import event, kinematic, stepwise
from tests.simulators.flight import Aircraft, Maker, Pack, Simulated
from tests.simulators.season import Plan, conditions

NAMES = ("Curlew", "Dunlin")
PAIRS = ((stepwise, event), (kinematic, stepwise), (event, kinematic))


def draw(folder: Path, seed: int, flights: int = 4, minutes: float = 3.0) -> None:
    """Fill a fresh logbook by two simulators that the seed chooses."""
    fill(folder, PAIRS[seed % len(PAIRS)], seed, flights, minutes)


def fill(folder: Path, makers: tuple[Maker, Maker], seed: int, flights: int = 4, minutes: float = 3.0) -> None:
    """Draw two aircraft by two makers, fly each so many times, and keep it all in a fresh logbook."""
    rng = np.random.default_rng([seed, 71])
    with Logbook(folder) as book:
        book.set_setting("title", "Drawn")
        flown: dict[str, tuple[Mapping[str, Pack], list[tuple[Simulated, datetime]]]] = {}
        for name, maker in zip(NAMES, makers, strict=True):
            build = maker.build(rng, rate_hz=3.0, slim=False)
            mine = {role: replace(p, name=f"{name[0]}{role[-1]}") for role, p in build.packs.items()}
            aircraft = replace(build.aircraft, name=name)
            register.add(book, toml_of(aircraft, tuple(mine.values())), f"{name}.toml")
            plan = Plan(flights=flights, minutes=minutes, per_day=2, temperature_noted=bool(rng.random() < 0.5))
            flown[name] = mine, [(maker.fly(build, c, rng), c.start) for c in conditions(maker, build, plan, rng)]
        for name, (mine, found) in flown.items():
            (other,) = (packs for whose, (packs, _) in flown.items() if whose != name)
            _keep(book, name, found, mine, other, rng)


def _keep(
    book: Logbook,
    name: str,
    found: list[tuple[Simulated, datetime]],
    mine: Mapping[str, Pack],
    other: Mapping[str, Pack],
    rng: np.random.Generator,
) -> None:
    """Import one aircraft's flights and note some of what its owner could."""
    drafts = []
    for part, (one, begun) in enumerate(found, start=1):
        table = one.telemetry.table
        drafts.append(FlightDraft(table.schema, iter(table.to_batches()), begun, part, {}, []))
    ids = book.add([Source(f"{name}.csv", sha256(name.encode()).hexdigest(), 10)], iter(drafts), aircraft=name)
    swapped, lent = (int(k) for k in rng.integers(1, len(found) + 1, 2))
    notes = {}
    for k, (flight_id, (one, _)) in enumerate(zip(ids, found, strict=True)):
        fitted = {role: p.name for role, p in mine.items()}
        if k >= swapped and {"rx1", "rx2"} <= set(fitted):
            fitted["rx1"], fitted["rx2"] = fitted["rx2"], fitted["rx1"]
        if k >= lent and "rx1" in other and "rx1" in fitted:
            fitted["rx1"] = other["rx1"].name
        context = one.context
        notes[flight_id] = FlightNote(
            packs=fitted,
            layout=context.layout.name if context.layout else "",
            fuel={k: _plain(n) for k, n in context.fuel_notes.items() if rng.random() < 0.6},
            readings={k: _plain(n) for k, n in context.pack_notes.items() if rng.random() < 0.6},
            air_temperature_c=context.air_temperature_c,
            pilot_latitude_deg=context.pilot_latitude_deg,
            pilot_longitude_deg=context.pilot_longitude_deg,
            pilot_altitude_m=context.pilot_altitude_m,
        )
    book.note(notes)


def _plain(note: Any) -> Any:
    """The same note in plain numbers."""
    kept = {k: v if v is None or isinstance(v, tuple) else float(v) for k, v in asdict(note).items()}
    return type(note)(**{k: tuple(map(float, v)) if isinstance(v, tuple) else v for k, v in kept.items()})


def toml_of(aircraft: Aircraft, packs: tuple[Pack, ...]) -> bytes:
    """The aircraft's file."""
    told = _without_none(to_builtins(aircraft, builtin_types=[date]))
    parts = {key: told.pop(key, None) for key in ("engines", "tanks", "receivers", "layouts")}
    told.get("fuel", {}).pop("density_is_assumed", None)
    own = [_without_none(to_builtins(p, builtin_types=[date])) for p in packs]
    return tomli_w.dumps({"aircraft": told, **{k: v for k, v in parts.items() if v}, "packs": own}).encode()


def _without_none(tree: Any) -> Any:
    if isinstance(tree, dict):
        return {k: _without_none(v) for k, v in tree.items() if v is not None and v != ""}
    return [_without_none(v) for v in tree] if isinstance(tree, list | tuple) else tree


def main() -> None:
    """Draw logbooks and read them back."""
    from tests.read_back import flights, shown_in_terminal, strays
    from tests.spooldown.front import run

    for seed in map(int, sys.argv[1:]):
        with tempfile.TemporaryDirectory() as scratch:
            book, pages = Path(scratch, "logbook"), Path(scratch, "pages")
            draw(book, seed)
            run("pages", "--logbook", book, "--out", pages)
            figures, flown = (run("export", what, "--logbook", book).stdout for what in ("figures", "flights"))
            every = flights(figures, flown)
            found = list(strays(pages, every, every))
            for key, flight in every.items():
                shown = run("show", key, "--all", "--logbook", book).stdout
                found += [f"{key}: {x}" for x in shown_in_terminal(shown, flight)]
        print(f"{seed}: {sum(len(f.figures) for f in every.values())} figures, {len(found)} astray", *found, sep="\n  ")


if __name__ == "__main__":
    main()
