"""How often the timer's promise is kept, case by case, on seasons drawn by rules that are not the model's.

Every case draws seasons of flights with known needs, asks for the advised time and flies it once; the share of seasons
in which the reserve was kept stands beside the promise. Run as ``python -m benchmarks.timer_odds [SEASONS]``; its table
is in ``docs/method.md``.
"""

from __future__ import annotations

import sys
from collections.abc import Callable

import numpy as np
from msgspec import Struct

from analyser.core.figures import Figure, FloatArray, Method
from analyser.season.fuel.timer import PROMISE, PastFlights, timer_curve

START_ML, RESERVE_ML = 4000.0, 800.0
RATE, GROUND_ML = 320.0, 250.0
FLIGHTS = (3, 5, 8, 15, 30)
START = Figure("Start", START_ML, "mL", Method.ENTERED, how="stated")


class Case(Struct, frozen=True):
    """Needs of ``n`` flights and the next relative to the usual, and the number of each one's day."""

    draw: Callable[[np.random.Generator, int], tuple[FloatArray, FloatArray]]
    scale: float = 1.0
    shared_se: float = 0.005
    promise: float = PROMISE


def _each(n: int) -> FloatArray:
    return np.arange(n + 1)


def _even(rng: np.random.Generator, n: int) -> tuple[FloatArray, FloatArray]:
    return rng.normal(1.0, 0.03, n + 1), _each(n)


def _ragged(rng: np.random.Generator, n: int) -> tuple[FloatArray, FloatArray]:
    return 1.0 + 0.05 * rng.standard_t(4, n + 1), _each(n)


def _wear(rng: np.random.Generator, n: int) -> tuple[FloatArray, FloatArray]:
    return 1.01 ** _each(n) * rng.normal(1.0, 0.02, n + 1), _each(n)


def _step(ago: int) -> Callable[[np.random.Generator, int], tuple[FloatArray, FloatArray]]:
    def draw(rng: np.random.Generator, n: int) -> tuple[FloatArray, FloatArray]:
        return np.where(_each(n) >= n - ago, 1.08, 1.0) * rng.normal(1.0, 0.02, n + 1), _each(n)

    return draw


def _days(rng: np.random.Generator, n: int) -> tuple[FloatArray, FloatArray]:
    day = np.r_[np.arange(n) // 4, n]
    return np.exp(rng.normal(0.0, 0.04, n + 1)[day] + rng.normal(0.0, 0.012, n + 1)), day


def _hard(share: float, by: float) -> Callable[[np.random.Generator, int], tuple[FloatArray, FloatArray]]:
    def draw(rng: np.random.Generator, n: int) -> tuple[FloatArray, FloatArray]:
        hard = rng.uniform(size=n + 1) < share
        return np.where(hard, 1.0 + by, 1.0) * rng.normal(1.0, 0.025, n + 1), _each(n)

    return draw


def _random_scale(rng: np.random.Generator) -> float:
    return float(rng.normal(1.0, 0.05))


CASES: dict[str, Case] = {
    "flights alike, 3 %": Case(_even),
    "ragged flights (Student's t of 4, 5 %)": Case(_ragged),
    "unchecked sensor, 6 % low": Case(_even, scale=0.94, shared_se=0.051),
    "unchecked sensor, within 10 %": Case(_even, scale=float("nan"), shared_se=0.051),
    "wear of 1 % a flight": Case(_wear),
    "step of 8 % one flight ago": Case(_step(1)),
    "step of 8 % three flights ago": Case(_step(3)),
    "days of similar flights": Case(_days),
    "one flight in ten hard, by 15 %": Case(_hard(0.1, 0.15)),
    "one flight in five hard, by 35 %": Case(_hard(0.2, 0.35)),
}


def kept_share(case: str, flights: int, seasons: int, seed: int = 0) -> float:
    """Share of seasons whose advised time kept the reserve in the next flight."""
    rng = np.random.default_rng([seed, flights, *case.encode()])
    kept = 0
    for _ in range(seasons):
        kept += _season(CASES[case], flights, rng)[0]
    return kept / seasons


def _season(case: Case, flights: int, rng: np.random.Generator) -> tuple[bool, float]:
    """Whether the reserve was kept, and the advised time over the one that a mean flight would allow."""
    need, days = case.draw(rng, flights)
    scale = _random_scale(rng) if np.isnan(case.scale) else case.scale
    rate, ground = RATE * need, rng.normal(GROUND_ML, 25.0, flights + 1)
    past = PastFlights(
        scale * rate[:-1], scale * ground[:-1], np.full(flights, 20.0), days[:-1].astype(np.intp), case.shared_se
    )
    curve = timer_curve(past, START, RESERVE_ML, "main", promise=case.promise)
    assert curve is not None
    advised = curve.advised.value or 0.0
    filled = START_ML * float(rng.normal(1.0, 0.01))
    mean = (START_ML - RESERVE_ML - GROUND_ML) / RATE
    return bool(filled - ground[-1] - rate[-1] * advised >= RESERVE_ML), advised / mean


def table(seasons: int) -> str:
    """The table as Markdown: kept percent, and in brackets the median advised time over that of a mean flight."""
    lines = ["| case | " + " | ".join(f"{n} flights" for n in FLIGHTS) + " |", "| --- |" + " --- |" * len(FLIGHTS)]
    for name, case in CASES.items():
        cells = []
        for n in FLIGHTS:
            rng = np.random.default_rng([0, n, *name.encode()])
            found = [_season(case, n, rng) for _ in range(seasons)]
            cells.append(f"{100 * np.mean([k for k, _ in found]):.0f} % ({np.median([a for _, a in found]):.2f})")
        lines.append(f"| {name} | " + " | ".join(cells) + " |")
    return "\n".join(lines)


if __name__ == "__main__":
    seasons = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    print(f"Reserve kept, of {seasons} seasons each; promised {100 * PROMISE:.0f} %\n")
    print(table(seasons))
