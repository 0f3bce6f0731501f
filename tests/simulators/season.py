"""A season: what wears, what breaks, which days are alike, when it is cold; for any simulator."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
from msgspec import Struct

from tests.simulators.flight import Condition, Maker, Simulated


class Plan(Struct, frozen=True):
    """What happens over a season.

    ``wear`` is growth of every engine's burn a flight; ``step`` a jump of the first engine's burn from flight
    ``step_at`` (0-based) on; ``day_sd`` the spread that all flights of one day share; ``hard_share`` how many flights
    are flown ``hard`` harder. ``resistance`` and ``capacity`` are what the packs gain and lose a flight; the air goes
    from ``cold_c`` to ``warm_c``; from ``moved_at`` on the second layout flies, whose antennas hear ``moved_db`` more.
    """

    flights: int = 10
    minutes: float = 3.5
    wear: float = 0.0
    step: float = 0.0
    step_at: int = 0
    day_sd: float = 0.0
    per_day: int = 3
    hard_share: float = 0.0
    hard: float = 0.25
    noted: bool = True
    temperature_noted: bool = True
    cold_c: float = 18.0
    warm_c: float = 18.0
    resistance: float = 0.0
    capacity: float = 0.0
    moved_at: int | None = None
    moved_db: float = 0.0


def conditions(maker: Maker, build: Any, plan: Plan, rng: np.random.Generator, more: int = 0) -> list[Condition]:
    """Every flight's condition, and of ``more`` flights that the season has yet to fly."""
    n = plan.flights + more
    sides = tuple(e.name for e in build.aircraft.engines)
    days = np.arange(n) // plan.per_day
    shared = np.maximum(1.0 + rng.normal(0.0, plan.day_sd, days[-1] + 1), 0.7)[days]
    air = np.linspace(plan.cold_c, plan.warm_c, n) + rng.normal(0.0, 2.5, days[-1] + 1)[days]
    hard = plan.hard * (rng.random(n) < plan.hard_share)
    begin = datetime(2031, 3, 1, 9, 0, tzinfo=UTC)
    out = []
    for k in range(n):  # a loop over flights
        after = plan.step if plan.step_at and k >= plan.step_at else 0.0
        moved = plan.moved_at is not None and k >= plan.moved_at
        out.append(
            Condition(
                number=k + 1,
                start=begin + timedelta(days=7 * int(days[k]), hours=float(k % plan.per_day)),
                air_c=float(air[k]),
                minutes=plan.minutes,
                burn={s: (1.0 + plan.wear * k) * (1.0 + (after if i == 0 else 0.0)) for i, s in enumerate(sides)},
                day=float(shared[k]),
                hard=float(hard[k]),
                noted=plan.noted,
                temperature_noted=plan.temperature_noted,
                resistance=dict.fromkeys(("rx1", "rx2"), 1.0 + plan.resistance * k),
                capacity=dict.fromkeys(("rx1", "rx2"), 1.0 - plan.capacity * k),
                layout=build.aircraft.layouts[1 if moved else 0],
                antenna_db=dict.fromkeys(build.gain, plan.moved_db if moved else 0.0),
            )
        )
    return out


def fly_season(
    maker: Maker, build: Any, plan: Plan, rng: np.random.Generator, more: int = 0
) -> tuple[list[Condition], list[Simulated]]:
    """Fly a season and, if asked, a few flights more."""
    planned = conditions(maker, build, plan, rng, more)
    return planned, [maker.fly(build, c, rng) for c in planned]
