"""Writes ``docs/coverage.md``: how each figure is checked, made from the tests themselves.

``python -m tests.coverage.page`` runs the whole coverage table (some minutes) and lists the outside references by the
docstrings of ``tests/reference``; ``--references-only`` keeps the table that stands there and renews the list.
"""

from __future__ import annotations

import argparse
import ast
import re
from pathlib import Path

from tests.coverage.by_figure import by_figure
from tests.coverage.table import FULL, count
from tests.coverage.tally import Row, Tally, without_split

ROOT = Path(__file__).resolve().parents[2]
PAGE = ROOT / "docs" / "coverage.md"
BEGIN, END = "<!-- the coverage table begins -->", "<!-- the coverage table ends -->"
SUBJECTS = {
    "Take-off, landing and time in the air": ("phases.",),
    "Fuel of one flight": ("fuel.",),
    "Packs of one flight": ("packs.",),
    "Radio link of one flight": ("link.",),
    "Fuel and engines over a season": ("season.fuel.tanks", "season.fuel.imbalance", "season.engines"),
    "Packs over a season": ("season.packs",),
    "Antennas over a season": ("season.layouts",),
    "The timer's odds": ("season.fuel.timer",),
}
HEAD = f"""# How each figure is checked

This page is made by `python -m tests.coverage.page`; edit that, not this.

Every figure with an interval promises to hold the truth so often (95 % unless it says otherwise). Four simulators
that share no physics with the analysis, nor with the generator of the sample logs, fly aircraft whose truth is known;
the tables count how often the promise was kept.

- **kinematic** flies splines in wind: bank from the turn, thrust from drag and climb, a spool that lags, two-pair cells
  on published rest curves of other makes than the analyser's, log-normal shadow, Rician fading and a ground ray.
- **charging** flies nothing but currents: packs that move between two aircraft whose current sensors read off, drift or
  are exchanged, a charger that is off by the same share every time, an owner with habits.
- **event** chains states with steps between them: a table for the engine, loads that switch, wild tails, 1/f noise,
  counters that wrap, losses in bursts, unequal cells that relax over a ladder of time constants.
- **stepwise** marches forces step by step under a pilot who closes the loop: fuel by a power that is no cube, floats
  under a sloshing surface, cells of two wells of charge, servos that kick for a fifth of a second and stall, waves that
  lean with the bank, an altimeter with lag, drift and an error of airspeed, a log of one sensor's packet at a time.

All log unevenly with holes, at 1 to 20 Hz. Fuel sensors read some 4 to 5 % off (one standard deviation), current
sensors 1.5 to 2 %, the gauge leans with bank, the altimeter drifts by up to four metres, positions come up to
0.9 s late. Half of the flights have volumes and charges noted. The intervals were worked on with other draws than
these. Circuits, fading and books of the simulators are tested themselves in `tests/simulators/test_simulators.py`.

How to read a row: *n* intervals, of which *kept* held the truth, and the count's own error (Clopper and Pearson; looks
of one season count as one where they are alike, by their hits or by where in the interval the truth lay). *Short*:
surely less than promised. *Wide*: surely more.
Where the truth lay outside, it lay *below* the interval or *above* it so many times. Extremes (deepest sag, lowest
voltage of a pack alone) are those of any instant, not only of those at which the log has a sample. Half the interval
and the distance of the value from the truth are medians, in the figure's unit. *Enough* is the share of its width that
would have held the truth as often as promised.

Why a wide row is wide: *prior*: something stated is wide (a sensor's scale that nobody checked, 10 %; a filling, 1 %; a
voltmeter, half a percent) and the simulator's sensors are better; each flight is read a second time by sensors as far
off as is stated (`tests/coverage/stated.py`), and then the figure holds as often as it promises. *Elsewhere*: the same
figure needs its width on another simulator. *Unexplained*: neither; it could be narrower.

{BEGIN}
"""


def row_of(r: Row, reason: str = "") -> str:
    """One line of a table."""
    low, high = r.interval
    cells = [r.name, r.simulator, f"{r.n}", f"{100 * r.kept:.0f} %", f"{100 * low:.0f} to {100 * high:.0f} %"]
    outside = f"{r.below} / {r.above}" if r.half_widths else ""
    enough = "" if r.enough is None else f"{r.enough:.2f}"
    verdict = f"{r.verdict}: {reason}" if reason else r.verdict
    return f"| {' | '.join([*cells, f'{100 * r.promised:.0f} %', outside, *r.typical, enough, verdict])} |"


def tables(tally: Tally) -> str:
    """Every row under its subject, and what could not be judged."""
    rows = list(tally)
    short = sum(r.verdict == "short" for r in rows)
    why = {id(r): tally.reason(r) for r in rows}
    wide = [f"{sum(w == kind for w in why.values())} {kind}" for kind in ("prior", "elsewhere", "unexplained")]
    holds = sum(r.verdict == "holds" for r in rows)
    told = f"{len(rows)} rows; {holds} hold, short of their promise: {short}, the others are wide"
    out = [f"{told}: {', '.join(wide)}.", ""]
    head = ("figure", "simulator", "n", "kept", "its error", "promised", "below / above", "half", "off by", "enough",
            "verdict")  # fmt: skip
    for title, stems in SUBJECTS.items():
        own = [r for r in rows if r.name.startswith(stems)]
        out += [f"## {title}", "", f"| {' | '.join(head)} |", f"|{'---|' * 2}{'---:|' * 8}---|"]
        out += [*(row_of(r, why[id(r)]) for r in own), ""]
    if tally.silent:
        out += ["Seasons in which the timer gave no advice: "]
        out += [f"- {name.partition(', ')[2]}: {n}" for name, n in sorted(tally.silent.items())] + [""]
    if tally.unpromised:
        out += ["What the figure's own words leave out of its promise, counted all the same: "]
        out += [f"- {name}: kept {k} of {n}" for name, (k, n) in sorted(tally.unpromised.items())] + [""]
    missing = sorted(set(tally.untold) - {without_split(r.name) for r in rows})
    if missing:
        out += ["Figures with an interval whose truth the simulators do not define: " + ", ".join(missing) + ".", ""]
    return "\n".join(out)


def references() -> str:
    """What each module of ``tests/reference`` sets the analyser against, in its own words."""
    out = ["## Checks against something outside", ""]
    out += ["Standards, handbooks, published data and other people's libraries; each module names its source.", ""]
    for path in sorted((ROOT / "tests" / "reference").glob("test_*.py")):
        said = ast.get_docstring(ast.parse(path.read_text("utf-8"))) or ""
        out.append(f"- `{path.name}`: {' '.join(said.split())}")
    return "\n".join(out) + "\n"


def main(arguments: list[str] | None = None) -> None:
    """Write the page."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--references-only", action="store_true", help="keep the table that stands in the page")
    given = parser.parse_args(arguments)
    if given.references_only:
        table = PAGE.read_text("utf-8").partition(BEGIN)[2].partition(END)[0].strip("\n")
    else:
        table = tables(count(FULL))
    counted = re.findall(r"^\| ([^|]+) \|", table, re.MULTILINE)
    PAGE.write_text(f"{HEAD}\n{table}\n{END}\n\n{references()}\n{by_figure(counted)}\n", "utf-8")


if __name__ == "__main__":
    main()
