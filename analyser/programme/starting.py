"""The limits an owner is offered to start from: what holds anyway, written out, and a few on figures.

Numbers that come from the aircraft's own file are the maker's; all others are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from analyser.core.aircraft import Aircraft
from analyser.core.levels import COMMON_PRACTICE, Limit, Origin

NEAR_MAX_EGT = 0.97
"""Share of the maker's highest exhaust temperature from which a flight is worth a look."""


def starting_set(aircraft: Aircraft) -> tuple[Limit, ...]:
    """Limits to begin with, for one aircraft.

    Examples
    --------
    >>> [x.name for x in starting_set(Aircraft("Heron"))][-1]
    'thin-margin'
    """
    return (*COMMON_PRACTICE.every, *_of_engines(aircraft), *OFFERED)


def _of_engines(aircraft: Aircraft) -> Iterator[Limit]:
    for engine in aircraft.engines:
        part = f"engine.{engine.name}"
        if engine.max_egt_c is not None:
            watch, act = round(NEAR_MAX_EGT * engine.max_egt_c), engine.max_egt_c
            yield Limit(
                f"egt-{engine.name}", "figure", "engine.highest_egt", above={"watch": float(watch), "act": act},
                unit="°C", part=part, source=Origin.MAKER,
            )  # fmt: skip
        if engine.max_start_egt_c is not None:
            yield Limit(
                f"start-egt-{engine.name}", "figure", "engine.start_egt", above={"act": engine.max_start_egt_c},
                unit="°C", part=part, source=Origin.MAKER,
            )  # fmt: skip


OFFERED: tuple[Limit, ...] = (
    Limit("low-charge", "figure", "pack.state_after", below={"watch": 30.0, "act": 20.0}, unit="%"),
    Limit("uneven-cells", "figure", "pack.cell_spread", above={"watch": 0.05, "act": 0.1}, unit="V"),
    Limit("slow-start", "figure", "engine.start_time", above={"watch": 60.0}, unit="s"),
    Limit("thin-margin", "figure", "antenna.lowest_margin", below={"watch": 6.0}, unit="dB"),
)
