"""How long the whole import into a logbook takes beside a bare pyarrow read and write of the same file.

``python benchmarks/logbook_import.py [--mb 150] [--pairs 3]``. Beside what ``import_csv.py`` measures, this counts the
hash of the content, the catalogue and the wait for the disk. Every run is a process of its own; the clock starts after
its imports. Peak memory is the process's maximum resident set.
"""

import argparse
import json
import shutil
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

from import_csv import BARE, TIMED, generate

OURS = """
from pathlib import Path
from spooldown.intake.adding import add_file, find_logs
from spooldown.logbook.book import Logbook
from spooldown.register import load
with Logbook(Path({out!r})) as book:
    outcome = add_file(book, find_logs([Path({src!r})])[0], load(book))
    assert outcome.state == "imported" and book.flights()[0].rows > 1000, outcome
"""


def run(body: str) -> tuple[float, float]:
    root = str(Path(__file__).resolve().parent.parent)
    script = TIMED.format(root=root, body=body, loads="spooldown.intake.adding")
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    wall_s, *_, peak_mib = json.loads(done.stdout)
    return wall_s, peak_mib


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--mb", type=float, default=150)
    parser.add_argument("--pairs", type=int, default=3)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        source = folder / "wide.csv"
        generate(source, options.mb, "wide")
        ratios, peaks, seconds = [], [], []
        for _ in range(options.pairs):
            bare, _ = run(BARE.format(src=str(source), out=str(folder / "bare.parquet"), sep=",", dec="."))
            ours, peak = run(OURS.format(src=str(source), out=str(folder / "book")))
            shutil.rmtree(folder / "book")
            ratios.append(ours / bare)
            peaks.append(peak)
            seconds.append(ours)
        print(
            f"{source.stat().st_size / 1e6:.0f} MB: {statistics.median(seconds):.2f} s,"
            f" {statistics.median(ratios):.2f} × bare (from {min(ratios):.2f} to {max(ratios):.2f}),"
            f" peak {max(peaks):.0f} MiB"
        )


if __name__ == "__main__":
    main()
