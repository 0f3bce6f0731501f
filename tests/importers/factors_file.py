"""Makes ``importers/meaning/factors.csv`` from pint's registry: ``python -m tests.importers.factors_file``."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

from importers.meaning import units

FILE = Path("importers/meaning/factors.csv")


def made() -> str:
    """The file's text: every unit expression that the word list can yield, and its kind.

    ``kind`` is a unit of the same kind, ``size`` how much of it the unit is, ``nought`` what nought of the unit is in
    it.
    """
    registry = units.registry()
    every = units.expressions()
    firsts = [*(u for u in units.canonical() if u in every), *sorted(every, key=lambda u: (len(u), u))]
    lines = []
    for unit in every:
        kind = next(k for k in firsts if registry.Unit(k).is_compatible_with(unit))
        zero, one = (Fraction(registry.Quantity(Fraction(n), unit).to(kind).magnitude) for n in (0, 1))
        lines.append((firsts.index(kind), f"{unit},{kind},{one - zero},{zero}\n"))
    return "unit,kind,size,nought\n" + "".join(line for _, line in sorted(lines))


if __name__ == "__main__":
    FILE.write_text(made(), encoding="utf-8", newline="\n")
