"""Whether what is read is true: right, asked with cause, refused with cause, asked or refused without need, wrong.

Run ``python -m tests.importers.timepieces.score a`` for each log of a hand, ``b --totals`` for totals alone.
"""

from __future__ import annotations

import sys
import tempfile
from collections import Counter
from collections.abc import Iterator, Sequence
from datetime import UTC
from fnmatch import fnmatch
from pathlib import Path

import numpy as np

import spooldown
from tests.importers.timepieces import clocks, habits, shapes
from tests.importers.timepieces.flight import USED, Log, Truth

OUTCOMES = ("right", "asked", "refused", "needless", "turned away", "wrong")
"""Asked and refused: where the log gives cause. Needless, turned away: asked and refused where it can be read."""


def logs(hand: str) -> Iterator[Log]:
    """Every log of a hand."""
    for kind in habits.KINDS if hand == "c" else (*clocks.KINDS, *shapes.KINDS):
        yield from kind(hand)


def faults(flight: spooldown.Telemetry, truth: Truth, within: float) -> list[str]:
    """What is untrue of a flight as read."""
    table = flight.table
    found = []
    time = table.column("time_s").to_numpy()
    if not truth.columns:
        return (
            []
            if abs(time[-1] - truth.at[-1]) <= max(0.3, within)
            else [f"lasts {time[-1]:.2f} s, not {truth.at[-1]:.2f} s"]
        )

    def column(pattern: str) -> list[np.ndarray]:
        return [
            table.column(n).to_numpy(zero_copy_only=False).astype(float)
            for n in table.column_names
            if fnmatch(n, pattern)
        ]

    named = column(USED)
    if len(named) != 1:
        return [f"{len(named)} columns of fuel used: {table.column_names}"]
    used, true = named[0], truth.columns[USED]
    there = ~np.isnan(used)
    place = np.clip(np.searchsorted(true, used[there] - 1e-6), 0, true.size - 1)
    if np.any(np.abs(true[place] - used[there]) > 0.006):
        found.append(f"{int(np.sum(np.abs(true[place] - used[there]) > 0.006))} values that stand nowhere")
    off = time[there] - truth.at[place]
    off -= np.median(off)
    if np.max(np.abs(off)) > within:
        found.append(
            f"{int(np.sum(np.abs(off) > within))} of {off.size} rows misplaced, by up to {np.max(np.abs(off)):.2f} s"
        )
    missing = np.setdiff1d(np.arange(true.size), place).size
    if missing > 0.01 * true.size + 1:
        found.append(f"{missing} of {true.size} rows missing")
    if np.unique(place).size < place.size:
        found.append(f"{place.size - np.unique(place).size} rows twice")
    for name, values in truth.columns.items():
        got = column(name)
        if len(got) != 1:
            found.append(f"{len(got)} columns of {name}")
            continue
        mine = got[0][there]
        apart = np.abs(mine - values[place])
        size = 2e-6 if "deg" in name else 0.006 * max(1.0, float(np.nanmax(np.abs(values))) / 100)
        lost = int(np.sum(np.isnan(mine) & ~np.isnan(values[place])))
        if np.any(apart > size) or np.any(~np.isnan(mine) & np.isnan(values[place])):
            found.append(f"{name} has other values")
        if lost > 0.01 * mine.size + 1:
            found.append(f"{name} lacks {lost}")
    return found


def judge(log: Log, folder: Path) -> tuple[str, str]:
    """The outcome, and why."""
    path = folder / "log.csv"
    path.write_bytes(log.data)
    answers = {"zone": log.zone} if log.start else {}
    try:
        plan = spooldown.look_at(path, answers=answers)
        if plan.questions:
            why = "; ".join(q.key for q in plan.questions)
            return ("asked" if "ask" in log.open_to else "needless"), why
        flights = spooldown.read_log(path, answers=answers)
    except spooldown.Refusal as refusal:
        return ("refused" if "refuse" in log.open_to else "turned away"), spooldown.in_words(refusal) if hasattr(
            refusal, "says"
        ) else str(refusal)
    said: list[str] = []
    for reading in (log.flights, *log.or_else):
        said = untrue(log, flights, reading)
        if not said:
            return "right", ""
    return "wrong", "; ".join(said)


def untrue(log: Log, flights: Sequence[spooldown.Telemetry], reading: Sequence[Truth]) -> list[str]:
    """What is untrue of all flights as read."""
    if len(flights) != len(reading):
        return [f"{len(flights)} flights, not {len(reading)}"]
    said = [
        fault for flight, truth in zip(flights, reading, strict=True) for fault in faults(flight, truth, log.within)
    ]
    if log.start:
        start = flights[0].utc_start
        if start is None or abs((start - log.start.replace(tzinfo=UTC)).total_seconds()) > max(log.within, 0.05):
            said.append(f"starts {start}, not {log.start}")
    return said


def main(hand: str, *options: str) -> None:
    """Print the outcome of every log of a hand, or totals alone."""
    count: Counter[str] = Counter()
    with tempfile.TemporaryDirectory() as folder:
        for log in logs(hand):
            outcome, why = judge(log, Path(folder))
            count[outcome] += 1
            if "--totals" not in options and outcome != "right":
                print(f"{outcome:12} {log.name}: {why[:260]}")
    print(hand, sum(count.values()), "logs:", ", ".join(f"{count[outcome]} {outcome}" for outcome in OUTCOMES))


if __name__ == "__main__":
    main(*sys.argv[1:])
