"""The nasty logs, by rules: a line of ``open.txt`` or ``sealed.txt`` is a heading, its cells and what is true of them.

``HEADING :: EXPRESSION [@UNIT] [.DECIMALS] :: TRUTH [:: TRAP]``. The expression names signals of ``world.flight`` in
canonical units; the unit is what the cells are written in, whatever the heading says. The truth names channels apart by
``||``: ``none`` or ``-`` is no channel, ``must`` a question (or silence) that alone is right, ``~9999`` a number that
stands for no reading. A line with a trap may be asked about; one without is ordinary.

Both files were written before the importer's code was looked at. Since then fifteen truths were eased, where a
question about a unit that no heading says is fair, or where the values bear the heading out; none was made stricter.
"""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import numpy as np

from tests.importers.hands.flight import Floats
from tests.importers.hands.reader import look
from tests.importers.hands.score import Mark, line, marks, table
from tests.importers.hands.truth import SCALES, Accept, Clock, Column, Log
from tests.importers.nasty import world

_SCALES = SCALES | {"signed": (0.5, 50.0)}
_RULES = {name: getattr(world, name) for name in (
    "const", "highest", "lowest", "mean_so_far", "change", "flawed", "steps", "lagged")} | {"np": np}  # fmt: skip


def _truth(said: str, values: Floats, written: Floats, trap: str) -> tuple[tuple[Accept, ...], bool, str]:
    """The readings that are right, whether silence is, and whether a question is fair."""
    accepts, silent, ask = [], False, "may" if trap else "no"
    for part in said.split("||"):
        word = part.strip()
        if word.startswith("must"):
            ask, silent, word = "must", True, word[4:].strip()
        if word in ("-", "none"):
            silent = True
        elif word:
            target, _, gap = word.partition("~")
            accepts.append(Accept(target, np.where(written == float(gap), np.nan, values) if gap else values))
    if ask == "must" and "||" in said:  # other readings than a question are right too
        ask = "may"
    return tuple(accepts), silent, ask


def _column(line: str, signals: dict[str, Floats]) -> tuple[Column, list[str]]:
    heading, rule, said, *rest = (p.strip() for p in line.split("::"))
    trap = rest[0] if rest else ("other" if said == "-" else "")
    found = re.fullmatch(r"(.*?)(?:\s@(\S+))?\s\.(\d)", rule)
    assert found, line
    factor, offset = _SCALES[found[2] or ""]
    wanted = eval(found[1], {"__builtins__": {}} | _RULES, signals)
    cells = [f"{x:.{found[3]}f}" for x in (wanted - offset) / factor]
    if said == "clock":
        return Column(heading, clock=True), cells
    written = np.asarray(cells, dtype=float)
    accepts, silent, ask = _truth(said, written * factor + offset, written, trap)
    return Column(heading, accepts, extra=silent, ask=ask, trap=trap), cells


def _log(half: str, number: int, text: str) -> Log:
    head, *lines = text.strip().splitlines()
    name, language, marks = (p.strip() for p in head.split("|"))
    comma, *decimal = marks.split()
    signals = world.flight(number % 5 + (100 if half == "sealed" else 0))
    made = [_column(line, signals) for line in lines]
    rows = zip(*(cells for _, cells in made), strict=True)
    body = "\n".join(comma.join(row) for row in rows)
    if decimal:
        body = body.replace(".", decimal[0])
    heads = comma.join(f'"{c.heading}"' if comma in c.heading else c.heading for c, _ in made)
    clock = Clock("seconds", signals["t"], 0.1)
    data = f"{heads}\n{body}\n".encode()
    return Log(f"{half} {name}", name, half, language, data, tuple(c for c, _ in made), clock, {})


@cache
def nasty(half: str) -> tuple[Log, ...]:
    """Every log of one half, ``open`` or ``sealed``."""
    texts = re.split(r"^== ", Path(__file__).with_name(f"{half}.txt").read_text(encoding="utf-8"), flags=re.M)[1:]
    return tuple(_log(half, i, text) for i, text in enumerate(texts))


def score(half: str) -> list[Mark]:
    """How every column came out; numbers that stand for no reading are right if the analysis leaves them out."""
    out = []
    for log in nasty(half):
        gaps = any(c.trap in ("sentinel", "constant") for c in log.columns)
        out += [m for m in marks(log, look(log, screened=gaps)) if m.heading != "clock"]
    return out


if __name__ == "__main__":
    for part in ("open", "sealed"):
        some = score(part)
        print(part, table(some), *(line(m) for m in some if m.outcome in ("wrong", "needless")), sep="\n")
