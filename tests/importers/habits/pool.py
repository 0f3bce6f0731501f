"""Logs of many habits: prose, codes, tags, paths, symbols, prefixes, words cut short; their truth column by column.

``python -m tests.importers.habits.pool [NAME]`` lists what is not understood. Written in seven draws, each before it
was tried: by the habits of people who log with anything that writes CSV, most of them in ways that no pool before had.
Values are those of the flight in :mod:`tests.importers.hands.flight`. Common practice, no source.
"""

from __future__ import annotations

import sys
import tomllib
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from tests.importers.hands.flight import Flight
from tests.importers.hands.truth import Accept, Clock, Column, Log

ROWS, STEP_S = 400, 0.3


@cache
def _written() -> list[dict[str, Any]]:
    return list(tomllib.loads(Path(__file__).with_name("logs.toml").read_text(encoding="utf-8"))["log"])


def pool(every: int = 1) -> list[Log]:
    """Every log, or every third, say, in the order of the file."""
    return [_log(number, written) for number, written in enumerate(_written()) if number % every == every - 1]


def _log(number: int, written: dict[str, Any]) -> Log:
    flight = Flight(np.random.default_rng((7, number)), ROWS, STEP_S)
    clock, unit = written["clock"]
    seconds = np.round(flight.t, 1)
    cells = [[f"{t * 1000:.0f}" if unit == "ms" else f"{t:.1f}" for t in seconds]]
    truth = [Column(clock, clock=True)]
    for column in written["columns"]:
        some, column_truth = _column(flight, column)
        cells.append(some)
        truth.append(column_truth)
    mark, decimal = written["mark"], written["decimal"]
    rows = [[c.heading for c in truth], *([written["units"]] if "units" in written else [])]
    rows = [[f'"{h}"' if mark in h else h for h in row] for row in rows]
    rows += [[c.replace(".", decimal) for c in row] for row in zip(*cells, strict=True)]
    data = "\n".join(mark.join(row) for row in rows) + "\n"
    return Log(written["name"], written["name"], "habits", written["language"], data.encode(), tuple(truth),
               Clock("elapsed", seconds, 0.1), {})  # fmt: skip


def _column(flight: Flight, column: dict[str, Any]) -> tuple[list[str], Column]:
    values, target = flight.get(column["is"]), column["is"]
    if target.startswith("other."):
        return [f"{v:.2f}" for v in values], Column(column["heading"], extra=True, trap="no channel")
    factor, offset, digits = column.get("factor", 1.0), column.get("offset", 0.0), column.get("digits", 2)
    raw = np.round((values - offset) / factor, digits)
    kept = values if "states" in column else raw * factor + offset
    cells = [column["states"][int(v)] for v in values] if "states" in column else [f"{v:.{digits}f}" for v in raw]
    return cells, Column(column["heading"], (Accept(target, kept),), ask="may" if column.get("ask") else "no")


def main(arguments: list[str]) -> None:
    """Count, and list what is not understood."""
    from tests.importers.hands.score import line, marks, table

    some = [log for log in pool() if not arguments or arguments[0] in log.name]
    every = [m for log in some for m in marks(log)]
    print("\n".join(line(m) for m in every if m.outcome != "right"))
    print(table(every, "language"))


if __name__ == "__main__":
    main(sys.argv[1:])
