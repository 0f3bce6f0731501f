"""One flight's figures against the truth: every figure that shows an interval, found by walking the result."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from typing import Any

import numpy as np
from msgspec import Struct

from analyser.core.figures import Figure, figures_of
from analyser.core.phases import PhaseName
from analyser.flight import FlightResult, analyse_flight
from analyser.fuel.shares import RUNNING
from tests.coverage.stated import as_stated
from tests.coverage.tally import SPLIT, Row, Tally
from tests.simulators.flight import Condition, Maker, Simulated, Truth

_INSTANCE = re.compile(
    r"(?<!\.content)\.(rx\.antenna\d|main\.antenna\d|left|right|port|starboard|rx1|rx2|rx|main|receivers|\d+)(?=[.,]|$)"
)


def common_name(path: str) -> str:
    """A figure's path without the names of this or that tank, pack or antenna."""
    return _INSTANCE.sub("", _INSTANCE.sub("", path)).replace("..", ".")


class Look(Struct, frozen=True):
    """One figure of one flight beside its truth; the truth is ``None`` where the simulator cannot know it."""

    path: str
    figure: Figure
    truth: float | None


def looks_of(flown: Simulated, result: FlightResult) -> list[Look]:
    """Every figure of a flight that has a value and an interval."""
    found: dict[str, Figure] = dict(figures_of(result))
    found["phases.airborne_min"] = result.phases.airborne_min
    told = flown.truth.figures | _in_phases(flown.truth, result) | _in_bands(flown, result)
    for path, more in flown.truth.state.items():
        if path.endswith(".more_flights"):
            told[f"packs.packs.{path.split('.')[1]}.capacity.flights_left"] = more
    out = [Look(path, f, told.get(path)) for path, f in found.items() if _has_interval(f)]
    for path, at, between in (
        ("phases.take_off_s", result.phases.take_off_s, result.phases.take_off_between_s),
        ("phases.touch_down_s", result.phases.touch_down_s, result.phases.touch_down_between_s),
    ):
        if at is not None and between is not None:
            figure = Figure(path, at, "s", _any_method(found), between[0], between[1])
            out.append(Look(path, figure, told[path]))
    return out


def _any_method(found: dict[str, Figure]) -> Any:
    return next(iter(found.values())).method


def _has_interval(figure: Figure) -> bool:
    return figure.value is not None and figure.low is not None and figure.high is not None


def _in_phases(truth: Truth, result: FlightResult) -> dict[str, float]:
    """What was truly burned, or given, in the spans that the analyser found for each phase."""
    out: dict[str, float] = {}
    for owner, totals, stem, field, per in (
        (result.fuel.tanks, truth.burned, "fuel.tanks", "burned", "rate"),
        (result.packs.packs, truth.charge, "packs.packs", "used_mah", "rate_mah_per_min"),
    ):
        for one in owner:
            if one.name not in totals:
                continue
            for phase in one.charge.phases if stem == "packs.packs" else one.phases:
                spans = result.phases.spans(PhaseName(phase.name))
                given = sum(float(np.diff(np.interp(s, *totals[one.name]))[0]) for s in spans)
                minutes = sum(b - a for a, b in spans) / 60.0
                group = ".charge" if stem == "packs.packs" else ""
                path = f"{stem}.{one.name}{group}.phases.{phase.name}"
                out[f"{path}.{field}"] = given
                out[f"{path}.{per}"] = given / max(minutes, 1e-9)
    return out


def _in_bands(flown: Simulated, result: FlightResult) -> dict[str, float]:
    """What was truly burned in each band of speed; burn and the cube of speed averaged over a quarter minute alike.

    Seconds count that the analyser found to be running time, as a phase's truth is what was burned in the found spans.
    """
    out: dict[str, float] = {}
    weight = 1.0 - np.linspace(-1.0, 1.0, 17)[1:-1] ** 2
    aircraft = flown.context.aircraft
    spans = result.phases.spans(*RUNNING)
    for name, (t, total) in flown.truth.burned.items():
        engine = aircraft.engine(name) if aircraft else None
        if engine is None or engine.max_rpm is None:
            continue
        grid = np.arange(0.0, t[-1], 1.0)
        cube = np.interp(grid, *flown.truth.speed[name]) ** 3
        runs = np.any([(grid >= a) & (grid <= b) for a, b in spans], axis=0) if spans else np.zeros(grid.size, bool)
        share = 100.0 * np.cbrt(np.convolve(cube, weight / weight.sum(), "same")) / engine.max_rpm
        burned = np.diff(np.interp(np.r_[grid - 0.5, grid[-1] + 0.5], t, total))
        burned = np.convolve(burned, weight / weight.sum(), "same")
        for low in (0, 20, 40, 60, 80):
            inside = runs & (share >= low) & (share < (low + 20 if low < 80 else 101))
            path = f"fuel.tanks.{name}.bands.{low}-{low + 20}"
            out[f"{path}.burned"] = float(burned[inside].sum())
            out[f"{path}.rate"] = 60.0 * float(burned[inside].sum()) / max(int(inside.sum()), 1)
    return out


BY_NOTES = re.compile(
    r"fuel\.(burned|rate|mass|endurance|imbalance)|fuel\.tanks\.(burn|content)\..*|packs\.packs\.capacity\..*"
    r"|packs\.packs\.charge\.(used_mah|airborne_mah_per_min)|packs\.packs\.resistance\.(as_read|value)_mohm"
)
"""Figures that a volume or charge put back sets right: counted apart where it was noted and where it never was."""


def count_flights(
    tally: Tally, maker: Maker, flights: int, seed: int, conditions: Callable[[np.random.Generator], Condition],
    *, stated: bool = False,
) -> None:  # fmt: skip
    """Fly single flights of aircraft drawn anew each time; ``stated``: and read them again as badly as is stated."""
    for k in range(flights):  # a loop over flights
        rng = np.random.default_rng([seed, k])
        condition = conditions(rng)
        flown = maker.fly(maker.build(rng), condition, rng)
        for read in (flown, as_stated(flown, maker.name, rng)) if stated else (flown,):
            row = tally.row if read is flown else tally.as_stated
            looks = looks_of(read, analyse_flight(read.telemetry, read.context))
            count_looks(tally, row, maker.name, k, looks, noted=condition.noted)


def count_looks(
    tally: Tally, row: Callable[[str, str, float], Row], simulator: str, group: int, looks: Iterable[Look], *,
    noted: bool,
) -> None:  # fmt: skip
    """Count every interval of one flight in the rows that ``row`` gives."""
    for look in looks:
        name = common_name(look.path)
        if look.truth is None:
            tally.untold[name] = tally.untold.get(name, 0) + 1
            continue
        if BY_NOTES.fullmatch(name):
            name += SPLIT[0] if noted else SPLIT[1]
        f = look.figure
        assert f.value is not None
        assert f.low is not None
        assert f.high is not None
        row(name, simulator, f.confidence).add(group, f.value, f.low, f.high, look.truth)


def any_condition(rng: np.random.Generator) -> Condition:
    """An ordinary flight: some cold, some warm, some noted, some not."""
    return Condition(
        number=1,
        air_c=float(rng.uniform(4.0, 32.0)),
        minutes=float(rng.uniform(3.0, 7.0)),
        noted=bool(rng.random() < 0.5),
        temperature_noted=bool(rng.random() < 0.7),
        day=float(rng.normal(1.0, 0.03)),
    )
