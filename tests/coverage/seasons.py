"""Histories over flights against the truth: sensor scale, trends, steps, packs and how long they last."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import pairwise
from typing import Any

import numpy as np
from msgspec.structs import replace
from scipy import stats

from analyser.core.figures import Figure, figures_of
from analyser.flight import analyse_flight
from analyser.record import FlightRecord
from analyser.season.analysis import analyse_season
from reports.words.catalogue import text
from tests.coverage.flights import common_name
from tests.coverage.tally import Tally
from tests.simulators.flight import Condition, Maker, Simulated
from tests.simulators.season import Plan, fly_season

SEASON_RATE_HZ = {"event": 2.0}
"""At what rate a season's logs are written; 4 Hz for makers not named."""


def records_of(planned: list[Condition], flown: list[Simulated]) -> list[FlightRecord]:
    """Analyse every flight of a season."""
    return [
        FlightRecord(f.context.flight_id, c.number, c.start, f.context, analyse_flight(f.telemetry, f.context))
        for c, f in zip(planned, flown, strict=True)
    ]


def draw_plan(rng: np.random.Generator) -> Plan:
    """A season of one of four kinds: nothing changes, wear, a step in the middle, a move of antennas."""
    flights = int(rng.integers(8, 13))
    plan = Plan(
        flights=flights,
        minutes=float(rng.uniform(3.0, 4.5)),
        day_sd=0.02,
        noted=bool(rng.random() < 0.6),
        cold_c=float(rng.uniform(5.0, 15.0)),
        warm_c=float(rng.uniform(18.0, 28.0)),
        resistance=float(rng.choice([0.0, 0.02, 0.05])),
        capacity=float(rng.choice([0.0, 0.01, 0.02])),
    )
    kind = rng.integers(0, 3)
    if kind == 1:
        return replace(plan, wear=0.01)
    if kind == 2:
        return replace(plan, step=0.08, step_at=flights // 2)
    return plan


def slope_of(values: list[float]) -> float:
    """The slope a robust trend of exact values has."""
    return float(stats.theilslopes(values, np.arange(1.0, len(values) + 1.0)).slope)


def count_seasons(
    tally: Tally, maker: Maker, seasons: int, seed: int, plan_of: Callable[[np.random.Generator], Plan] = draw_plan
) -> None:
    """Fly seasons and count every interval that their histories show."""
    for k in range(seasons):  # a loop over seasons
        rng = np.random.default_rng([seed, k])
        plan, build = plan_of(rng), maker.build(rng, rate_hz=SEASON_RATE_HZ.get(maker.name, 4.0))
        planned, flown = fly_season(maker, build, plan, rng)
        count_season(tally, maker.name, k, plan, build, planned, flown)


def count_season(
    tally: Tally, simulator: str, group: int, plan: Plan, build: Any, planned: list[Condition], flown: list[Simulated]
) -> None:
    """Count the intervals of one season's histories."""
    result = analyse_season(records_of(planned, flown))
    season = result.aircraft[0]
    told = dict(_fuel_truths(season.fuel, plan, planned, flown))
    _count(tally, simulator, group, "season.fuel", season.fuel, told)
    _count(tally, simulator, group, "season.engines", season.engines, {
        f".{e.name}.start_duration_trend": 0.0 for e in season.engines
    })  # fmt: skip
    for history in result.packs:
        role = history.roles[-1]
        _count(tally, simulator, group, "season.packs", history, _pack_truths(history, role, planned, flown))


def _count(tally: Tally, simulator: str, group: int, stem: str, node: Any, told: dict[str, float]) -> None:
    for path, f in figures_of(node):
        if f.value is None or f.low is None or f.high is None:
            continue
        name = common_name(f"{stem}.{path}")
        truth = told.get(path)
        if truth is None:
            tally.untold[name] = tally.untold.get(name, 0) + 1
            continue
        label = f"{name} (none happened)" if path in told.get("_none", ()) else name  # type: ignore[operator]
        tally.row(label, simulator, f.confidence).add(group, f.value, f.low, f.high, truth)


def _level(history: Any, factors: list[float]) -> float:
    """Burn at factor 1 by the histories' own basis, so that a trend in percent is one in mL/min."""
    basis = history.normalised_rates
    if sum(f.value is not None for f in basis) < 4:
        basis = history.rates
    values = [f.value / x for f, x in zip(basis, factors, strict=True) if f.value is not None]
    return float(np.median(values)) if values else float("nan")


def _fuel_truths(fuel: Any, plan: Plan, planned: list[Condition], flown: list[Simulated]) -> Iterator[tuple[str, Any]]:
    none: list[str] = []
    factors: dict[str, list[float]] = {}
    for history in fuel.tanks:
        name = history.name
        f = factors[name] = [x.truth.state[f"tank.{name}.burn"] for x in flown]
        scale = 1.0 / flown[0].truth.state[f"tank.{name}.scale"]
        # Where nothing was put in, the histories stand on the sensor's own scale, and so must the truth of a trend.
        level = _level(history, f)
        stem = f"tanks.{name}"
        yield f"{stem}.scale.factor", scale
        days = [v * c.day for v, c in zip(f, planned, strict=True)]
        shared = _level(history, days)
        for k, v in enumerate(days):
            yield f"{stem}.normalised_rates.{k}", shared * v
        for k, x in enumerate(flown):
            yield f"{stem}.rates.{k}", x.truth.figures[f"fuel.tanks.{name}.burn.rate"]
        if not plan.step or len(set(f)) == 1:
            yield f"{stem}.burn.trend", slope_of([level * v for v in f])
        if len(set(f)) == 1:
            none.append(f"{stem}.burn.step")
            yield f"{stem}.burn.step", 0.0
        elif plan.step:
            yield f"{stem}.burn.step", level * plan.step
    if len(fuel.tanks) == 2:
        for k, x in enumerate(flown):
            yield f"imbalance.values.{k}", x.truth.figures["fuel.imbalance"]
        if not plan.step:
            none.append("imbalance.step")
            yield "imbalance.trend", 0.0
            yield "imbalance.step", 0.0
        else:
            a = np.array([x.truth.figures["fuel.imbalance"] for x in flown])
            yield "imbalance.step", float(np.median(a[plan.step_at :]) - np.median(a[: plan.step_at]))
    yield "_none", tuple(none)


def _pack_truths(history: Any, role: str, planned: list[Condition], flown: list[Simulated]) -> dict[str, float]:
    state = [x.truth.state for x in flown]
    ohm = [s[f"pack.{role}.reference_mohm"] for s in state]
    mah = [s[f"pack.{role}.capacity_mah"] for s in state]
    rated = history.pack.rated_mah
    out = {
        "life.cycles": sum(s[f"pack.{role}.depth"] for s in state),
        "resistance.trend": slope_of(ohm),
        "capacity.trend": slope_of(mah),
        "capacity.now_percent": 100.0 * mah[-1] / rated,
        "capacity.against_first_percent": 100.0 * mah[-1] / float(np.median(mah[:3])),
        "resistance.over_new": ohm[-1] / float(np.median(ohm[:3])),
        # Charged in the morning before the first flight, left as flown.
        "life.days_stored_full": _days_full(role, planned, flown),
        "resistance.activation_kj_per_mol": state[0][f"pack.{role}.kj_per_mol"],
    }
    for k, x in enumerate(flown):
        out[f"capacity.figures.{k}"] = mah[k]
        out[f"resistance.figures.{k}"] = ohm[k]
        out[f"sags_v.{k}"] = x.truth.figures[f"packs.packs.{role}.resistance.sag_at_load_v"]
    if f"pack.{role}.spread_v" in state[0]:
        out["spread.trend"] = slope_of([s[f"pack.{role}.spread_v"] for s in state])
    forecast: Figure = history.flights_to_retirement
    if forecast.value is not None and "resistance" in text(forecast.how) and ohm[-1] > ohm[0]:
        grows = (ohm[-1] - ohm[0]) / (len(ohm) - 1)
        out["flights_to_retirement"] = max((2.0 * ohm[0] - ohm[-1]) / grows, 0.0)
    if forecast.value is not None and "capacity" in text(forecast.how) and mah[-1] < mah[0]:
        falls = (mah[0] - mah[-1]) / (len(mah) - 1)
        out["flights_to_retirement"] = max((mah[-1] - 0.8 * max(rated, mah[0])) / falls, 0.0)
    return out


def _days_full(role: str, planned: list[Condition], flown: list[Simulated]) -> float:
    """Days between flights with the pack left at nine tenths or more."""
    days = [(b.start - a.start).total_seconds() / 86_400.0 for a, b in pairwise(planned)]
    left = [x.truth.figures[f"packs.packs.{role}.state.after_percent"] for x in flown]
    return sum(d for d, charge in zip(days, left, strict=False) if charge >= 90.0)
