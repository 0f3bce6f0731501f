"""What a club's logbook costs: 1 worker against 2, and the cost per flight as it grows. Ratios, in one run.

``python benchmarks/fleet.py [--flights 24 96] [--aircraft 12] [--workers 1 2] [--seconds 60]``. Invented aircraft of
two types, built and flown by the tests' simulator: short flights of all kinds of sensors. Each logbook is a copy that
nothing was worked out of yet; ``spooldown fleet build`` runs as a process of its own on a local cluster of so many
workers. A larger logbook holds each flown flight many times, on other days. What grows with a logbook does not depend
on how long its flights are: ``--seconds 5`` cuts them, for logbooks whose whole flights would take hours. Processor
time is printed beside the clock's, which says little on a machine that does something else, too. ``--keep FOLDER``
leaves the last logbook there to look at.
"""

from __future__ import annotations

import argparse
import os
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from itertools import islice
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow.compute as pc
import tomli_w
from msgspec import to_builtins
from msgspec.structs import replace

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from analyser.core.aircraft import Aircraft, Pack  # noqa: E402
from importers.model import FlightDraft  # noqa: E402
from spooldown import register  # noqa: E402
from spooldown.logbook import catalogue  # noqa: E402
from spooldown.logbook.book import Logbook  # noqa: E402
from spooldown.logbook.flight import Source  # noqa: E402
from spooldown.logbook.note import FlightNote  # noqa: E402
from tests.simulators import kinematic  # noqa: E402
from tests.simulators.flight import Condition, Simulated  # noqa: E402

NAMES = (
    "Alder", "Birch", "Cedar", "Dogwood", "Elm", "Fir", "Ginkgo", "Hazel", "Ivy", "Juniper", "Larch", "Maple",
)  # fmt: skip
LABEL = "Invented data: no real aircraft, field or person"
THIRSTY, WORN = 4, 6
"""The one whose left engine burns twice as much and more, and the one of whose packs one has worn out."""


def fleet(aircraft: int, flown: int, seed: int = 2031) -> dict[str, tuple[Aircraft, tuple[Pack, ...], list[Simulated]]]:
    """Draw aircraft of two types and fly each some times."""
    out: dict[str, tuple[Aircraft, tuple[Pack, ...], list[Simulated]]] = {}
    for n in range(aircraft):
        rng = np.random.default_rng([seed, n])
        made = kinematic.build(rng, gauge="flow", curve="polymer", rate_hz=5.0, attitude=True)
        name = NAMES[n % len(NAMES)] + (f" {n // len(NAMES) + 1}" if n >= len(NAMES) else "")
        packs = {role: replace(p, name=f"{name[:2]}-{role[-1]}") for role, p in made.packs.items()}
        small = n % 4 == 3
        engines = tuple(replace(e, max_rpm=112_000.0 if not small else 124_000.0) for e in made.aircraft.engines)
        one = replace(made.aircraft, name=name, engines=engines, mass_kg=23.0 if not small else 14.0)
        made = replace(made, aircraft=one, packs=packs)
        burn = {"left": 2.2} if n == THIRSTY else {}
        resistance = {"rx1": 3.0} if n == WORN else {}
        layout = one.layouts[0]
        start = datetime(2031, 4, 1, 8, tzinfo=UTC) + timedelta(hours=n % 5)
        conditions = [
            Condition(
                k + 1, start + timedelta(days=7 * k), minutes=3.5, burn=burn, layout=layout, resistance=resistance
            )
            for k in range(flown)
        ]
        out[name] = one, tuple(packs.values()), [kinematic.fly(made, c, rng) for c in conditions]
    return out


def toml_of(aircraft: Aircraft, packs: tuple[Pack, ...]) -> bytes:
    """The aircraft's file."""
    told = without_none(to_builtins(aircraft, builtin_types=[date]))
    parts = {key: told.pop(key) for key in ("engines", "tanks", "receivers", "layouts") if told.get(key)}
    for key in ("engines", "tanks", "receivers", "layouts"):
        told.pop(key, None)
    told.get("fuel", {}).pop("density_is_assumed", None)
    own = [without_none(to_builtins(p, builtin_types=[date])) for p in packs]
    return tomli_w.dumps({"label": LABEL, "aircraft": told, **parts, "packs": own}).encode()


def without_none(tree: Any) -> Any:
    """What TOML can hold of it."""
    if isinstance(tree, dict):
        return {k: without_none(v) for k, v in tree.items() if v is not None and v != ""}
    return [without_none(v) for v in tree] if isinstance(tree, list | tuple) else tree


def drafts(flights: list[Simulated], times: int, seconds: float) -> Iterator[FlightDraft]:
    """Every flight so many times, each on a day of its own; only its first seconds where they are limited."""
    for k in range(times):
        for n, one in enumerate(flights):
            table = one.telemetry.table
            if seconds:
                table = table.filter(pc.less_equal(table.column("time_s"), seconds))
            start = datetime(2031, 4, 1, 8, tzinfo=UTC) + timedelta(days=7 * (k * len(flights) + n))
            yield FlightDraft(table.schema, iter(table.to_batches()), start, k * len(flights) + n + 1, {}, [])


def fill(folder: Path, aircraft: int, flights: int, seconds: float, flown: int = 4) -> None:
    """Make a logbook of so many flights of so many aircraft."""
    each = max(flights // aircraft, 1)
    flown = min(flown, each)
    with Logbook(folder) as book:
        book.set_setting("title", "Club")
        for n, (name, (one, packs, made)) in enumerate(fleet(aircraft, flown).items()):
            register.add(book, toml_of(one, packs), f"{name}.toml")
            found = islice(drafts(made, -(-each // flown), seconds), each)
            ids = book.add([Source(f"{name}.csv", f"{n:064x}", 10)], found, aircraft=name)
            notes = {}
            for k, flight_id in enumerate(ids):
                context = made[k % len(made)].context
                notes[flight_id] = FlightNote(
                    packs={role: p.name for role, p in context.packs.items()},
                    layout=one.layouts[0].name,
                )
            book.note(notes)


def processor_s() -> float:
    """Processor seconds of every process that was started from here and has ended."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def build(folder: Path, workers: int) -> tuple[float, float]:
    """Wall-clock and processor seconds of ``spooldown fleet build``, its workers included."""
    env = {**os.environ, "PYTHONPATH": str(ROOT)}
    words = [sys.executable, "-m", "spooldown", "fleet", "build", "--workers", str(workers), "--logbook", str(folder)]
    start, used = time.perf_counter(), processor_s()
    done = subprocess.run(words, env=env, capture_output=True, text=True, check=False)
    if done.returncode:
        raise SystemExit(f"fleet build ended with {done.returncode}: {done.stderr}")
    return time.perf_counter() - start, processor_s() - used


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--flights", type=int, nargs="+", default=[24, 96])
    parser.add_argument("--aircraft", type=int, default=12)
    parser.add_argument("--workers", type=int, nargs="+", default=[1, 2])
    parser.add_argument("--seconds", type=float, default=0.0, help="cut every flight to so many seconds")
    parser.add_argument("--keep", type=Path)
    chosen = parser.parse_args()
    catalogue.SYNCHRONOUS = "OFF"
    first: dict[int, float] = {}
    print(
        f"{'flights':>8} {'workers':>8} {'seconds':>8} {'ms a flight':>12} {'of fewest':>10} {'of 1 worker':>12}"
        f" {'processor ms a flight':>22}"
    )
    with tempfile.TemporaryDirectory() as scratch:
        for flights in chosen.flights:
            source = Path(scratch, f"{flights}")
            fill(source, chosen.aircraft, flights, chosen.seconds)
            alone = 0.0
            for workers in chosen.workers:
                copy = Path(scratch, "copy")
                shutil.copytree(source, copy)
                seconds, used = build(copy, workers)
                alone = alone or seconds
                each = 1000.0 * seconds / flights
                first.setdefault(workers, each)
                print(
                    f"{flights:>8} {workers:>8} {seconds:>8.1f} {each:>12.1f} {each / first[workers]:>10.2f}"
                    f" {alone / seconds:>11.2f}x {1000.0 * used / flights:>22.1f}",
                    flush=True,
                )
                if chosen.keep:
                    shutil.rmtree(chosen.keep, ignore_errors=True)
                    shutil.copytree(copy, chosen.keep)
                shutil.rmtree(copy)
            shutil.rmtree(source)


if __name__ == "__main__":
    main()
