"""The timer's promise, case by case: fly the advised time after the season and see whether the reserve is kept."""

from __future__ import annotations

from typing import Any

import numpy as np
from msgspec.structs import replace

from analyser.season.analysis import analyse_season
from tests.coverage.seasons import records_of
from tests.coverage.tally import Tally
from tests.simulators.flight import Maker
from tests.simulators.season import Plan, fly_season

PLAIN = Plan(flights=8, minutes=3.0, day_sd=0.015, noted=True)
NEXT = 3
"""Flights flown on advice after each season."""
CASES: dict[str, tuple[Plan, dict[str, Any]]] = {
    "nothing special, checked sensor": (PLAIN, {}),
    "3 flights": (replace(PLAIN, flights=3), {}),
    "30 flights": (replace(PLAIN, flights=30), {}),
    "unchecked sensor, 6 % low": (replace(PLAIN, noted=False), {"scale": 0.94}),
    "unchecked sensor, drawn within 5 %": (replace(PLAIN, noted=False), {}),
    "wear of 1 % a flight": (replace(PLAIN, flights=12, wear=0.01), {}),
    "step of 8 % one flight ago": (replace(PLAIN, step=0.08, step_at=7), {}),
    "days of similar flights": (replace(PLAIN, day_sd=0.06), {}),
    "hard flights now and then": (replace(PLAIN, hard_share=0.2, hard=0.35), {}),
    "pilots of all kinds": (replace(PLAIN, hard_share=0.15, hard=0.25), {}),
}
HARD, ALL_KINDS = "hard flights now and then", "pilots of all kinds"
"""Drawn anew for every season: up to three flights in ten are flown hard, by 10 to 40 %."""


def count_odds(tally: Tally, maker: Maker, seasons: int, seed: int, cases: dict[str, Any] | None = None) -> None:
    """Count kept promises; a season without advice counts as one more silence."""
    for case, (usual, wanted) in (cases or CASES).items():
        number = max(6, seasons * 8 // max(usual.flights, 8))
        for k in range(number):  # a loop over seasons
            rng = np.random.default_rng([seed, k])
            plan = usual
            if case == ALL_KINDS:
                plan = replace(usual, hard_share=float(rng.uniform(0.0, 0.3)), hard=float(rng.uniform(0.1, 0.4)))
            build = maker.build(rng, slim=True, twin=False, rate_hz=1.0, **wanted)
            planned, flown = fly_season(maker, build, plan, rng, NEXT)
            past = plan.flights
            timer = analyse_season(records_of(planned[:past], flown[:past])).aircraft[0].fuel.timer
            name = f"season.fuel.timer advised, {case}"
            unseen = case == HARD and not any(c.hard for c in planned[:past])
            if case == HARD:
                name += ", none logged yet" if unseen else ", one logged"
            if timer is None or not timer.advised.value:
                tally.silent[name] = tally.silent.get(name, 0) + 1
                continue
            advised = timer.advised
            row = tally.row(name, maker.name, advised.confidence)
            side = timer.tank
            for c, x in zip(planned[past:], flown[past:], strict=True):
                state = x.truth.state
                needed = state[f"tank.{side}.need_ml"] + state[f"tank.{side}.rate"] * float(advised.value or 0.0)
                left = state[f"tank.{side}.filled_ml"] - needed
                kept = left >= 0.2 * build.tank_ml
                if unseen and c.hard:
                    # A harder kind that no logged flight shows: the advice says that it does not hold for it.
                    tally.leave_out(f"{name}, next flight hard", kept)
                else:
                    row.add_outcome(k, kept)
