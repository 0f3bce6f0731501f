"""Which figures are held against something outside, and by which module of ``tests/reference``.

Each of those modules names in ``CHECKS`` the figures it is about, as ``docs/coverage.md`` writes them: places of
results without the names of tanks, packs and receivers; ``*`` stands for any.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterable
from fnmatch import fnmatchcase
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
OVER_FLIGHTS = (
    "season.fuel.tanks.burn.step", "season.fuel.tanks.burn.trend", "season.fuel.tanks.normalised_rates",
    "season.fuel.imbalance.step", "season.fuel.imbalance.trend", "season.fuel.tanks.scale.factor", "season.fuel.timer",
    "season.packs.capacity.against_first_percent", "season.packs.capacity.now_percent", "season.packs.capacity.trend",
    "season.packs.flights_to_retirement", "season.packs.life.cycles", "season.packs.life.days_stored_full",
    "season.packs.resistance.activation_kj_per_mol", "season.packs.resistance.over_new",
    "season.packs.resistance.trend", "season.packs.scale", "season.packs.spread.trend",
    "season.engines.start_duration_trend", "season.layouts.comparisons", "season.layouts.measured",
    "season.layouts.planned", "programme.steps", "fleet.odd",
)  # fmt: skip
"""Figures over flights; those of one flight are listed in ``docs/figures.md``."""


def checks() -> dict[str, tuple[str, ...]]:
    """Module of ``tests/reference`` to the figures it is about."""
    out = {}
    for path in sorted((ROOT / "tests" / "reference").glob("test_*.py")):
        for node in ast.parse(path.read_text("utf-8")).body:
            if isinstance(node, ast.Assign) and getattr(node.targets[0], "id", "") == "CHECKS":
                out[path.stem] = tuple(ast.literal_eval(node.value))
    return out


def figures_of_flights() -> list[str]:
    """Every figure of one flight without the names of its parts."""
    page = (ROOT / "docs" / "figures.md").read_text("utf-8")
    return [re.sub(r"\.<[^>]+>", "", n) for n in re.findall(r"^\| `([^`]+)` \|", page, re.MULTILINE)]


def by_figure(counted: Iterable[str]) -> str:
    """Say of every figure which outside checks it has, and whether simulators that know its truth count it."""
    about = checks()
    known = {re.sub(r"\.(phases|bands)\..*\.", r".\1.", name.partition(",")[0].strip()) for name in counted}
    out = ["### By figure", "", "| figure | outside checks | truth known to simulators |", "|---|---|---|"]
    plain = []
    for figure in (*figures_of_flights(), *OVER_FLIGHTS):
        modules = [m.removeprefix("test_") for m, names in about.items() if any(fnmatchcase(figure, n) for n in names)]
        # The tables leave out receivers, too.
        in_tables = figure in known or figure.replace(".receivers", "") in known
        in_tables |= any(name.startswith(f"{figure} ") for name in known)
        if modules or in_tables:
            out.append(f"| `{figure}` | {', '.join(modules) or '–'} | {'yes' if in_tables else '–'} |")
        else:
            plain.append(f"`{figure}`")
    out += ["", "Neither: readings as they stand, counts, notes, and sums of the above, held by the tests of their"]
    out += [f"packages: {', '.join(plain)}."]
    return "\n".join(out)
