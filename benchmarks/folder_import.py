"""How long a folder of small logs takes to import, beside a bare pyarrow read and write of each in turn.

``python benchmarks/folder_import.py [--logs 300] [--pairs 2]``. Both are whole processes, start-up included. The import
looks at each file, reads it in one of several processes, compares it with what is there and waits for the disk; the
bare pair does none of this. Processor time is that of the process and its workers.
"""

import argparse
import resource
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

ROWS = 1100
HEAD = (
    "Time (s),Rx1 voltage (V),Rx2 voltage (V),Fuel remaining (mL),Rx1 antenna 1 RSSI (dBm),Rx1 antenna 2 RSSI (dBm),"
    "EGT (°C),Shaft speed (rpm),GPS speed (m/s),Altitude (m)\n"
)
BARE = """
import sys
from pathlib import Path
import pyarrow.csv as c, pyarrow.parquet as q
for n, path in enumerate(sorted(Path({src!r}).glob("*.csv"))):
    q.write_table(c.read_csv(path), f"{out}/{{n}}.parquet", compression="zstd")
"""


def generate(folder: Path, logs: int) -> None:
    rng = np.random.default_rng(3)
    for n in range(logs):
        time_s = np.arange(ROWS) / 5
        sag = np.cumsum(rng.random(ROWS)) * 1e-3
        columns = (
            time_s, 8 - sag, 7.9 - sag, 3000 - np.cumsum(rng.random(ROWS)), rng.integers(-90, -50, ROWS),
            rng.integers(-90, -50, ROWS), 500 + rng.integers(0, 100, ROWS), rng.integers(30_000, 120_000, ROWS),
            rng.random(ROWS) * 60, 100 + 120 * np.sin(np.pi * time_s / time_s[-1]) + rng.random(ROWS),
        )  # fmt: skip
        digits = (1, 3, 3, 1, 0, 0, 0, 0, 2, 1)
        cells = ([f"{v:.{d}f}" for v in column] for column, d in zip(columns, digits, strict=True))
        lines = (",".join(row) for row in zip(*cells, strict=True))
        (folder / f"log{n:04d}.csv").write_text(HEAD + "\n".join(lines) + "\n")


def run(*words: str) -> tuple[float, float]:
    before, begun = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    subprocess.run([sys.executable, *words], check=True, stdout=subprocess.DEVNULL)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    cpu = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return time.perf_counter() - begun, cpu


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--logs", type=int, default=300)
    parser.add_argument("--pairs", type=int, default=2)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        logs, out, book = (Path(scratch) / name for name in ("logs", "out", "book"))
        logs.mkdir()
        out.mkdir()
        generate(logs, options.logs)
        size = statistics.mean(p.stat().st_size for p in logs.iterdir())
        ours, ratios = [], []
        for _ in range(options.pairs):
            bare, _ = run("-c", BARE.format(src=str(logs), out=str(out)))
            ours.append(run("-m", "spooldown", "import", str(logs), "--logbook", str(book)))
            ratios.append(ours[-1][0] / bare)
            shutil.rmtree(book)
        print(f"{options.logs} logs of {size / 1000:.0f} kB: {min(w for w, _ in ours):.1f} s (processor "
              f"{min(c for _, c in ours):.1f} s), {min(ratios):.1f} × bare, "
              f"{1000 * min(w for w, _ in ours) / options.logs:.0f} ms a log")  # fmt: skip


if __name__ == "__main__":
    main()
