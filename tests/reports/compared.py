"""Invented packs of one type beside each other."""

from __future__ import annotations

from collections.abc import Mapping

from analyser.core.aircraft import Pack
from analyser.fleet.comparison import Fleet, Flown, compare
from analyser.fleet.kinds import kinds_of
from analyser.programme.measures import Row


def resistance(pack: str, value: float) -> Row:
    ends = (value - 2.0, value + 2.0)
    return Row("pack.resistance", "pack.rx1", pack, value, *ends, "mΩ", "estimated", doubtful=False)


def compared(levels: Mapping[str, float]) -> Fleet:
    known = {name: Pack(name, "li_ion", 2, 2600.0) for name in levels}
    flown = [
        Flown(f"{name}{n}", "Tern", "", (resistance(name, v + n / 9),)) for n in range(4) for name, v in levels.items()
    ]
    return compare(kinds_of({}, known), flown)
