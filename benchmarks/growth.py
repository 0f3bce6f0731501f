"""What one flight more costs as a logbook grows, in time and memory, as ratios to a logbook of 20 flights.

``python benchmarks/growth.py [--sizes 20 200 2000 10000] [--aircraft Tern] [--pairs 2] [--cache FOLDER] [--two]``.
A flight more is ``spooldown import LOG --pages``; with ``--two`` the two commands apart. Logbooks are made fast from
flights of the invented scenario: each further flight is one of them on another day, its telemetry file linked, its
results and its rows in the tables kept under its own key. They are kept in the cache folder (in the system's temporary
one) under the digest of the program, so that only the first run waits: about a minute for 10,000. Each figure is the
best of some runs of the commands, each in a process of its own, in processor seconds; the program's modules are
compiled before, as an installation does.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from unittest import mock

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

import numpy as np  # noqa: E402
import pyarrow as pa  # noqa: E402

from reports.flights import Text  # noqa: E402
from reports.site import build_site  # noqa: E402
from spooldown import demo, register  # noqa: E402
from spooldown.logbook import catalogue, columns  # noqa: E402
from spooldown.logbook.book import Logbook  # noqa: E402
from spooldown.site import site_of  # noqa: E402
from spooldown.work import kept, overview, results  # noqa: E402
from spooldown.work.prepared import prepare  # noqa: E402
from spooldown.work.update import Update  # noqa: E402

WHOLE = ROOT / "sample_logs" / "tern" / "tern-2026-07-04.csv"
"""A flight with everything in it: two tanks, engines, four packs, two receivers, position; 8 min at 5 Hz."""
SHORT = "Time (s),RX1 Voltage (V),RX1 Current (A),Wibble\n" + "".join(
    f"{i / 5},{8 - i / 9000 + i % 7 / 100},{1 + i % 11 / 10},{i}\n" for i in range(2400)
)


def digest() -> str:
    found = hashlib.sha256()
    for package in ("analyser", "reports", "spooldown"):
        for path in sorted((ROOT / package).rglob("*.py")):
            found.update(path.read_bytes())
    found.update(Path(__file__).read_bytes())
    return found.hexdigest()[:12]


def template(cache: Path) -> Path:
    """The invented scenario, imported and analysed once."""
    place = cache / "template"
    if not place.exists():
        part = cache / "template.part"
        shutil.rmtree(part, ignore_errors=True)
        part.mkdir(parents=True)
        with demo.fresh(part) as book:
            demo.fill(book, demo.sample_folder())
            overview.overview(book, register.load(book))
        part.rename(place)
    return place / "logbook"


def copied(table: pa.Table, models: Sequence[str], ids: pa.Array, begun: pa.Array) -> pa.Table:
    """Rows of a table, those of each flight copied from its model, under its own id and time."""
    known = table.column("flight").to_pylist()
    rows = {name: np.flatnonzero(np.array(known, object) == name) for name in dict.fromkeys(models)}
    taken = table.take(np.concatenate([rows[name] for name in models]))
    which = np.repeat(np.arange(len(models)), [rows[name].size for name in models])
    for name, values in (("flight", ids), ("utc_start", begun)):
        at = taken.schema.get_field_index(name)
        taken = taken.set_column(at, taken.schema.field(name), values.take(which).cast(taken.schema.field(name).type))
    return taken


def grown(cache: Path, flights: int, aircraft: str) -> Path:
    """A logbook of so many flights of one aircraft, results kept, pages built."""
    place = cache / f"{aircraft}-{flights}"
    if place.exists():
        return place
    source = template(cache)
    part = cache / f"{aircraft}-{flights}.part"
    shutil.rmtree(part, ignore_errors=True)
    with Logbook(part) as made:
        made.set_setting("title", "Grown")
    (part / "flights").mkdir()
    shutil.copytree(source / "register", part / "register")
    with Logbook(source) as book:
        own = [f for f in book.flights() if f.aircraft == aircraft and f.utc_start]
        notes = book.notes()
        rows = {r[0]: r[1:] for r in book.rows("SELECT * FROM flight")}
        with Logbook(part) as made, made.writing() as db:
            for n in range(flights):
                model = own[n % len(own)]
                start = datetime(2026, 4, 1, 9, tzinfo=UTC) - timedelta(days=flights - n)
                flight_id = f"{aircraft.lower()}-{start:%Y-%m-%d}-a"
                os.link(book.telemetry_path(model.flight_id), made.telemetry_path(flight_id))
                db.execute("INSERT INTO import (import_id, imported_at) VALUES (?, ?)", (n + 1, start.isoformat()))
                db.execute("INSERT INTO source VALUES (?, ?, ?, ?)", (f"{n:064x}", n + 1, f"{n}.csv", 1))
                cells = list(rows[model.flight_id])
                cells[0], cells[1], cells[2] = n + 1, 1, f"{n}.csv"
                cells[4] = start.isoformat(timespec="microseconds")
                db.execute(f"INSERT INTO flight VALUES ({', '.join('?' * (len(cells) + 1))})", (flight_id, *cells))
                if note := notes.get(model.flight_id):
                    made.note({flight_id: note})
    with Logbook(part) as book:
        known = register.load(book)
        prepared = prepare(book, known)
        models = [own[n % len(own)].flight_id for n in range(flights)]
        tables = {table: columns.Columns(source).read(table) for table in columns.SCHEMAS}
        keys = dict(zip(*(tables["flights"].column(name).to_pylist() for name in ("flight", "key")), strict=True))
        bodies = {
            (model, what): kept.read(source / "cache", f"{model}{what}")[1]
            for model in dict.fromkeys(models)
            for what in ("", kept.BRIEF)
        }
        for flight_id, model in zip(prepared.ids, models, strict=True):
            for what, key in (("", prepared.base[flight_id]), (kept.BRIEF, keys[model].hex())):
                body = bodies[model, what].replace(model.encode(), flight_id.encode())
                kept.write(book.cache_folder, f"{flight_id}{what}", key, body)
        update = Update(book, prepared, results.Results(book, prepared))
        ids = pa.array(prepared.ids, pa.string())
        begun = pa.array([f.utc_start for f in book.flights()], pa.timestamp("us", "UTC"))
        made_tables = {table: copied(found, models, ids, begun) for table, found in tables.items()}
        told = {name: getattr(prepared, name) for name in ("facts", "shown", "base", "own")}
        told |= {"stamp": prepared.stamps, "around": update.around, "result": prepared.base}
        for name, of in told.items():
            table = made_tables["flights"]
            at = table.schema.get_field_index(name)
            kind = table.schema.field(name).type
            values = pa.array([of[i] if pa.types.is_string(kind) else bytes.fromhex(of[i]) for i in prepared.ids], kind)
            made_tables["flights"] = table.set_column(at, table.schema.field(name), values)
        columns.Columns(part).extend(made_tables)
        # What a flight's files show does not matter here: only that they are there and known.
        with (
            mock.patch("reports.flights.make", lambda work: dict.fromkeys(work.wanted, Text("made"))),
            mock.patch("reports.pages.days.render", return_value="made"),
        ):
            build_site(site_of(book, known), part / "pages")
    part.rename(place)
    return place


WATCHED = """
import json, resource, subprocess, sys
done = subprocess.run([sys.executable, "-m", "spooldown", *sys.argv[1:]], stdout=subprocess.DEVNULL)
used = resource.getrusage(resource.RUSAGE_CHILDREN)
print(json.dumps([done.returncode, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024]))
"""


def run(compiled: Path, *words: str) -> tuple[float, float]:
    """Processor seconds, all its processes together, and peak MiB of the command in a process of its own.

    A small process starts it: a large one's own peak would count as the command's.
    """
    # As it is installed: modules are compiled once.
    env = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONPYCACHEPREFIX": str(compiled)}
    env.pop("PYTHONDONTWRITEBYTECODE", None)
    out = subprocess.run([sys.executable, "-c", WATCHED, *words], env=env, capture_output=True, text=True, check=True)
    code, seconds, peak = json.loads(out.stdout)
    if code:
        raise SystemExit(f"spooldown {' '.join(words)} ended with {code}: {out.stderr}")
    return seconds, peak


def measure(place: Path, pairs: int, compiled: Path, at_once: bool) -> dict[str, tuple[float, float]]:
    out = {"nothing to do": min(run(compiled, "pages", "--logbook", str(place)) for _ in range(pairs + 1))}
    with tempfile.TemporaryDirectory() as folder:
        # The first flight settles its neighbours, whose results were put there and not worked out together.
        for n, (what, text) in enumerate(logs(place, pairs + 1)):
            log = Path(folder, "log.csv")
            log.write_text(text, "utf-8")
            whole = ("--aircraft", "Tern", "--logbook", str(place))
            if at_once:
                found = run(compiled, "import", str(log), "--pages", *whole)
            else:
                seconds, peak = run(compiled, "import", str(log), *whole)
                more, higher = run(compiled, "pages", "--logbook", str(place))
                found = seconds + more, max(peak, higher)
            if n > 1:
                out[what] = min(out.get(what, found), found)
    return out


def logs(place: Path, pairs: int) -> Iterator[tuple[str, str]]:
    """Logs that no import has seen: a whole flight, later than all there are, and one pack in a flight of no date."""
    with Logbook(place) as book:
        newest = max(f.utc_start for f in book.flights() if f.utc_start)
    whole = WHOLE.read_text("utf-8")
    for n in range(pairs):
        day = newest + timedelta(days=n + 1)
        yield "one whole flight more", whole.replace("2026-07-04T", f"{day:%Y-%m-%d}T")
        yield "one short flight more", SHORT.replace("Wibble", f"Wibble{time.time_ns()}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sizes", "--flights", dest="flights", type=int, nargs="+", default=[20, 200, 2000, 10000])
    parser.add_argument("--aircraft", default="Tern")
    parser.add_argument("--pairs", type=int, default=2)
    parser.add_argument("--cache", type=Path, default=Path(tempfile.gettempdir()) / "spooldown-growth")
    parser.add_argument(
        "--two", dest="at_once", action="store_false", help="`import` and `pages`, not `import --pages`"
    )
    chosen = parser.parse_args()
    cache = chosen.cache / digest()
    catalogue.SYNCHRONOUS = "OFF"
    first: dict[str, tuple[float, float]] = {}
    print(f"{'flights':>8} {'what':<22} {'seconds':>8} {'ratio':>6} {'MiB':>7} {'ratio':>6}")
    for flights in chosen.flights:
        place = grown(cache, flights, chosen.aircraft)
        for what, (seconds, peak) in measure(place, chosen.pairs, cache / "compiled", chosen.at_once).items():
            first.setdefault(what, (seconds, peak))
            by_s, by_mib = seconds / first[what][0], peak / first[what][1]
            print(f"{flights:>8} {what:<22} {seconds:>8.2f} {by_s:>6.2f} {peak:>7.0f} {by_mib:>6.2f}", flush=True)


if __name__ == "__main__":
    main()
