"""How often the comparison of two antenna layouts cries wolf, and what difference it finds, by number of flights.

Run ``python -m benchmarks.moved_antenna [draws]`` (a few minutes at the 1,000 draws quoted in ``docs/link.md``).
Flights are made up on the bins (``tests/reference/test_false_alarm.py``): days differ by 1 dB, or by 2 dB.
"""

from __future__ import annotations

import sys

import numpy as np

from analyser.link.directions import DirectionBins
from analyser.season.link.comparison import compare_bins
from reports.words.catalogue import text
from tests.reference.test_false_alarm import flight

DESIGNS = ((3, 3), (3, 9), (9, 3), (4, 4), (6, 6), (10, 10))
DIFFERENCES_DB = (1.5, 3.0, 6.0)


def row(before: int, after: int, plain: list[DirectionBins], moved: list[list[DirectionBins]], draws: int) -> str:
    """False alarms, intervals that leave the truth out, and how often each difference is told."""
    rng = np.random.default_rng(2)
    alarms, out, found = 0, 0, np.zeros(len(moved))
    for k in range(draws):
        drawn = rng.permutation(len(plain))
        old = [plain[i] for i in drawn[:before]]
        made = compare_bins("a", "x", "y", old, [plain[i] for i in drawn[before : before + after]])
        alarms += not text(made.verdict).startswith("Can't tell")
        low, high = made.difference_db.low, made.difference_db.high
        out += low is None or high is None or not low <= 0 <= high
        if k >= draws // 5:
            continue
        for j, side in enumerate(moved):
            told = compare_bins("a", "x", "y", old, [side[i] for i in drawn[before : before + after]]).verdict
            found[j] += text(told).startswith("Moving a helped")
    shares = " | ".join(f"{100 * f / (draws // 5):.0f} %" for f in found)
    return f"{before} and {after} | {100 * alarms / draws:.1f} % | {100 * out / draws:.1f} % | {shares}"


def main(draws: int) -> None:
    """Print the table."""
    head = " | ".join(f"{d:g} dB told" for d in DIFFERENCES_DB)
    print(f"| days differ by | flights | false alarm | interval leaves 0 out | {head} |")
    print("| --- " * (4 + len(DIFFERENCES_DB)) + "|")
    for day_db in (1.0, 2.0):
        rng = np.random.default_rng(1)
        plain = [flight(rng, 0.0, day_db) for _ in range(400)]
        moved = [[flight(rng, d, day_db) for _ in range(400)] for d in DIFFERENCES_DB]
        for before, after in DESIGNS:
            print(f"| {day_db:g} dB | {row(before, after, plain, moved, draws)} |", flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1000)
