"""What a first build of many flights costs a flight: import, analysis, pages; on one core and on two, as a ratio.

``python benchmarks/first_build.py [--flights 60] [--pairs 2] [--cores 1 2] [--airborne 310]``. The logs are flights of
the invented scenario, Tern and Plover in turn, drawn anew with other seeds and written at 5 Hz; how many rows and
columns they have is printed (ten minutes and 29 to 51 columns; ``--airborne 190`` makes them eight minutes long). They
are cached in the system's temporary folder, and so are the compiled modules, as an installation has them. Each build is
one ``spooldown import --pages`` in a process of its own that may use so many cores. Wall time tells how long one waits;
processor time, all processes together, hardly depends on what else the machine does. Of both the shares of the stages
are printed, and which share of the processor's the first process has, which no core shares.
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
from collections.abc import Iterable
from datetime import timedelta
from pathlib import Path
from typing import NamedTuple
from unittest import mock

from msgspec.structs import replace

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

ROW_HZ = 5.0
AIRBORNE_S = 310.0


class Cost(NamedTuple):
    """Of one stage: how long one waits, what all processes together used, and what the first one did."""

    wall_s: float
    processor_s: float
    first_s: float


STAGES = ("import", "analysis", "pages")

BUILD = """
import json, resource, sys, time
import psutil
from contextlib import redirect_stdout

def used():
    first, ended = (resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    first, ended = first.ru_utime + first.ru_stime, ended.ru_utime + ended.ru_stime
    working = [p.cpu_times() for p in psutil.Process().children()]
    return time.time(), first + ended + sum(t.user + t.system for t in working), first

def main(began, logs, place):
    marks = [(began, 0.0, 0.0)]
    from spooldown.cli import main as command
    from spooldown.commands import results

    def marked(name):
        do = getattr(results, name)
        def begin(*given):
            marks.append(used())
            return do(*given)
        setattr(results, name, begin)

    marked("bring_up_to_date")  # the import has ended
    marked("_build")  # every flight is analysed
    sys.argv = ["spooldown", "import", logs, "--pages", "--logbook", place]
    with redirect_stdout(sys.stderr):
        try:
            command()
        except SystemExit as end:
            assert not end.code, end.code
    marks.append(used())
    print(json.dumps([[b - a for a, b in zip(m, n)] for m, n in zip(marks, marks[1:])]))

if __name__ == "__main__":
    main(float(sys.argv[1]), *sys.argv[2:])
"""


def logs(cache: Path, flights: int, airborne_s: float) -> Path:
    """A folder of logs and owners' files."""
    from sample_logs.generator import dialects, scenario
    from sample_logs.generator.files import aircraft_files
    from sample_logs.generator.sensors import record
    from sample_logs.generator.session import play

    made = hashlib.sha256(f"{ROW_HZ} {airborne_s}".encode())
    for path in sorted((ROOT / "sample_logs" / "generator").glob("*.py")):
        made.update(path.read_bytes())
    place = cache / f"logs-{flights}-{made.hexdigest()[:12]}"
    if place.exists():
        return place
    part = place.with_suffix(".part")
    shutil.rmtree(part, ignore_errors=True)
    for name, text in aircraft_files().items():
        (part / name).parent.mkdir(parents=True, exist_ok=True)
        (part / name).write_text(text, encoding="utf-8")
    models = [s for s in (*scenario.tern(), *scenario.plover()) if s.dialect != "fast"]
    for n in range(flights):
        model = models[n % len(models)]
        plan = replace(model.plan, seed=model.plan.seed + 1000 * n, airborne_s=airborne_s)
        sortie = replace(model, plan=plan, start=model.start + timedelta(days=200 * (n // len(models))))
        with mock.patch.object(dialects, "ROW_HZ", ROW_HZ):
            text = dialects.write("plain", sortie.start, record(sortie, play(plan)), sortie.aircraft)
        file = part / "logs" / sortie.aircraft / f"{sortie.aircraft.lower()}-{n:04}.csv"
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(text, encoding="utf-8")
    part.rename(place)
    return place


def build(folder: Path, cores: int) -> dict[str, Cost]:
    """What each stage of a build in a new logbook costs."""
    allowed = ",".join(map(str, sorted(os.sched_getaffinity(0))[:cores]))
    env = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONPYCACHEPREFIX": str(folder.parent / "compiled")}
    env.pop("PYTHONDONTWRITEBYTECODE", None)
    with tempfile.TemporaryDirectory() as scratch:
        script, place = Path(scratch, "build.py"), Path(scratch, "book")
        script.write_text(BUILD)
        for file in sorted((folder / "aircraft").glob("*.toml")):
            words = [sys.executable, "-m", "spooldown", "register", str(file), "--logbook", str(place)]
            subprocess.run(words, env=env, check=True, capture_output=True)
        words = [
            "taskset",
            "-c",
            allowed,
            sys.executable,
            str(script),
            str(time.time()),
            str(folder / "logs"),
            str(place),
        ]
        done = subprocess.run(words, env=env, capture_output=True, text=True, check=False)
    if done.returncode:
        raise SystemExit(done.stderr)
    return dict(zip(STAGES, (Cost(*both) for both in json.loads(done.stdout)), strict=True))


def shape(folder: Path) -> str:
    """How large the logs are, in words."""
    found = sorted((folder / "logs").rglob("*.csv"))
    texts = [file.read_text("utf-8").splitlines() for file in found]
    rows = [len(lines) - 1 for lines in texts]
    columns = sorted({len(lines[0].split(",")) for lines in texts})
    return f"{len(found)} logs of {min(rows):,} to {max(rows):,} rows, {' or '.join(map(str, columns))} columns"


def summed(costs: dict[str, Cost], stages: Iterable[str]) -> Cost:
    return Cost(*map(sum, zip(*(costs[s] for s in stages), strict=True)))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--flights", type=int, default=60)
    parser.add_argument("--pairs", type=int, default=2)
    parser.add_argument("--cores", type=int, nargs="+", default=[1, 2])
    parser.add_argument("--airborne", type=float, default=AIRBORNE_S, metavar="SECONDS")
    parser.add_argument("--cache", type=Path, default=Path(tempfile.gettempdir()) / "spooldown-first-build")
    chosen = parser.parse_args()
    folder = logs(chosen.cache, chosen.flights, chosen.airborne)
    print(shape(folder))
    best: dict[int, dict[str, Cost]] = {}
    for _ in range(chosen.pairs):
        for cores in chosen.cores:
            for what, cost in build(folder, cores).items():
                known = best.setdefault(cores, {}).setdefault(what, cost)
                best[cores][what] = Cost(*map(min, zip(known, cost, strict=True)))
    for costs in best.values():
        costs["analysis + pages"] = summed(costs, STAGES[1:])
        costs["all"] = summed(costs, STAGES)
    print(f"ms a flight, {chosen.flights} flights; the processor's in brackets")
    print("cores " + "".join(f"{what:>20}" for what in best[chosen.cores[0]]))
    for cores, costs in best.items():
        each = ([1000 * seconds / chosen.flights for seconds in cost[:2]] for cost in costs.values())
        print(f"{cores:>5} " + "".join(f"{f'{wall:.0f} ({processor:.0f})':>20}" for wall, processor in each))
    for cores, costs in best.items():
        whole = costs["all"]
        shares = (
            f"{100 * cost.wall_s / whole.wall_s:.0f} % ({100 * cost.processor_s / whole.processor_s:.0f} %)"
            for cost in costs.values()
        )
        print(f"{cores:>5} " + "".join(f"{share:>20}" for share in shares))
        first = (f"{100 * cost.first_s / max(cost.processor_s, 1e-9):.0f} % first" for cost in costs.values())
        print(" " * 6 + "".join(f"{share:>20}" for share in first))
    one = best[chosen.cores[0]]
    for cores, costs in list(best.items())[1:]:
        print(f"{cores:>4} × " + "".join(f"{one[what].wall_s / cost.wall_s:>20.2f}" for what, cost in costs.items()))


if __name__ == "__main__":
    main()
