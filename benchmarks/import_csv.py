"""How long an import takes beside a bare pyarrow read and write of the same file, in the same run.

``python benchmarks/import_csv.py [--mb 160] [--pairs 5] [--shape wide|comma|long|blocks]``. Every run is a process of
its own; peak memory is the process's maximum resident set. When busy, look at the processor time (user and system)
and at the lowest ratio, too: the bare pair reads and then writes, the import does both at once. Libraries are loaded
before the clock starts, pandas included: pyarrow loads it the first time an array passes to numpy (0.3 s, once).
"""

import argparse
import json
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.csv as pa_csv

BARE = """
import pyarrow.csv as c, pyarrow.parquet as q
x = c.read_csv(
    {src!r}, parse_options=c.ParseOptions(delimiter={sep!r}),
    convert_options=c.ConvertOptions(decimal_point={dec!r}))
q.write_table(x, {out!r}, compression='lz4')
"""
OURS = """
from pathlib import Path
from importers.plan import plan
from importers.read import read
from spooldown.logbook.flight import Source
from spooldown.logbook.store import write_flight
p = plan(Path({src!r}))
log = Source("log", "", 0)
for n, d in enumerate(read(p)):
    write_flight(Path({out!r} + str(n)), d, flight_id="f", aircraft="", sources=[log], imported_at="", more={{}})
"""
LOADS = "importers.plan, importers.read, spooldown.logbook.store"
TIMED = """
import json, resource, sys, time
import pandas, pyarrow.csv, pyarrow.parquet, pyarrow.compute
sys.path.insert(0, {root!r})
import {loads}
wall, cpu = time.perf_counter(), time.process_time()
{body}
print(json.dumps([time.perf_counter() - wall, time.process_time() - cpu,
                  resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024]))
"""


def one_after_the_other(path: Path, mb: float) -> None:
    """A long table that gives all of one sensor, then all of the next: rows must be sorted by time."""
    rng, rows = np.random.default_rng(1), int(mb * 1e6 / 240)
    with path.open("wb") as out:
        out.write(b"time_s,sensor,value\n")
        for i in range(10):
            columns = [np.round(np.arange(rows) / 50, 2), np.full(rows, f"Rx{i} RSSI"),
                       np.round(rng.normal(-60, 5, rows), 2)]  # fmt: skip
            pa_csv.write_csv(pa.table(columns, names=["time_s", "sensor", "value"]), out,
                             pa_csv.WriteOptions(include_header=False, quoting_style="none"))  # fmt: skip


def generate(path: Path, mb: float, shape: str) -> None:
    if shape == "blocks":
        one_after_the_other(path, mb)
        return
    rng = np.random.default_rng(1)
    done, row = 0, 0
    with path.open("wb") as out:
        while done < mb * 1e6:
            n = 20_000
            t = np.round((row + np.arange(n)) / 50, 2)
            if shape == "long":
                names = np.array([f"Rx{i} RSSI" for i in range(1, 11)])
                table = pa.table({"time_s": np.repeat(t, 10), "sensor": np.tile(names, n),
                                  "value": np.round(rng.normal(-60, 5, 10 * n), 2)})  # fmt: skip
            else:
                cols = {"Time (s)": t}
                for i in range(49):
                    cols[f"Pack P{i} voltage (V)"] = np.round(8 + np.cumsum(rng.normal(0, 0.01, n)), 3)
                table = pa.table(cols)
            sink = pa.BufferOutputStream()
            pa_csv.write_csv(table, sink, pa_csv.WriteOptions(include_header=row == 0, quoting_style="none"))
            text = sink.getvalue().to_pybytes()
            if shape == "comma":
                text = text.replace(b",", b";").replace(b".", b",")
            out.write(text)
            done, row = done + len(text), row + n


def run(body: str) -> tuple[float, float, float]:
    root = str(Path(__file__).resolve().parent.parent)
    done = subprocess.run(
        [sys.executable, "-c", TIMED.format(root=root, body=body, loads=LOADS)],
        check=True,
        capture_output=True,
        text=True,
    )
    seconds, cpu, mib = json.loads(done.stdout)
    return seconds, cpu, mib


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--mb", type=float, default=160)
    parser.add_argument("--pairs", type=int, default=5)
    parser.add_argument("--shape", choices=["wide", "comma", "long", "blocks"], default="wide")
    parser.add_argument("--only-ours", action="store_true", help="for files too large for the bare pair")
    said = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        src, out = Path(folder) / "log.csv", str(Path(folder) / "out.parquet")
        generate(src, said.mb, said.shape)
        sep, dec = (";", ",") if said.shape == "comma" else (",", ".")
        fill = {"src": str(src), "out": out, "sep": sep, "dec": dec}
        ratios, cpu_ratios, ours_mib = [], [], []
        for _ in range(said.pairs):
            bare = (float("nan"), float("nan"), 0.0) if said.only_ours else run(BARE.format(**fill))
            ours = run(OURS.format(**fill))
            ratios.append(ours[0] / bare[0])
            cpu_ratios.append(ours[1] / bare[1])
            ours_mib.append(ours[2])
            print(f"bare {bare[0]:.2f} s (processor {bare[1]:.2f} s, {bare[2]:.0f} MiB)   import {ours[0]:.2f} s "
                  f"(processor {ours[1]:.2f} s, {ours[2]:.0f} MiB)   ratio {ratios[-1]:.2f}", flush=True)  # fmt: skip
        print(f"{said.shape}, {src.stat().st_size / 1e6:.0f} MB: ratio median {statistics.median(ratios):.2f}, lowest "
              f"{min(ratios):.2f}; of processor time, median {statistics.median(cpu_ratios):.2f}; "
              f"peak {max(ours_mib):.0f} MiB")  # fmt: skip


if __name__ == "__main__":
    main()
