"""Capacity of aged packs over a season: what one deep discharge, and what one measured capacity, narrows.

Source: cells aged by the book (``tests/reference/test_aged_cells.py``: electrode potentials of PyBaMM's parameter sets,
Birkl et al. 2017), flown as invented flights of different depth.
"""

from __future__ import annotations

from functools import cache
from itertools import product

import numpy as np
import pytest

from analyser.core.aircraft import Chemistry, Pack, PackNote
from analyser.core.figures import Figure
from analyser.season.analysis import pack_histories
from tests.analyser.pack_flights import Truth, record
from tests.reference.test_aged_cells import aged

CHECKS = ("season.packs.capacity.*",)

CASES: list[tuple[Chemistry, str, str, float]] = [
    *(("lipo", "Ai2020", mode, s) for mode, s in product(("lithium", "positive"), (0.1, 0.2))),
    *(("li_ion", "ORegan2022", mode, s) for mode, s in product(("lithium", "all"), (0.1, 0.2))),
]
RATED = 2600.0


@cache
def told(case: tuple[Chemistry, str, str, float], kind: str) -> tuple[Figure, float]:
    """Capacity now, percent of the label, and the truth; eight flights, shallow but for what ``kind`` adds."""
    chemistry, make, mode, severity = case
    new, old = aged(make, mode, 0.0), aged(make, mode, severity)
    mah = RATED * old.capacity / new.capacity
    pack = Pack("aged", chemistry, 2, RATED)
    flights = []
    for n in range(1, 9):
        truth = Truth(mah=mah, chemistry=chemistry, curve=tuple(old.rest_v))
        deep = kind == "deep" and n == 6
        note = PackNote(capacity_mah=mah * 1.01) if kind == "measured" and n == 6 else None
        flights.append(record(truth, pack, n, hz=1.0, minutes=17.0 if deep else 7.0, note=note))
    (history,) = pack_histories(flights)
    return history.capacity.now_percent, 100.0 * mah / RATED


def reach(figure: Figure) -> float:
    """How far the interval reaches below the value, in logarithms: above, what any pack holds ends it.

    A capacity not told at all is as wide as can be.
    """
    return float(np.log((figure.value or 1.0) / (figure.low or 1.0))) if figure.value else 10.0


def test_one_deep_discharge_narrows_what_shallow_ones_leave_open() -> None:
    narrower = [reach(told(case, "deep")[0]) / reach(told(case, "shallow")[0]) for case in CASES]
    assert float(np.median(narrower)) < 0.75
    assert max(narrower) <= 1.0 + 1e-9


def test_one_measured_capacity_settles_it() -> None:
    assert max(reach(told(case, "measured")[0]) for case in CASES) < 0.06


@pytest.mark.parametrize("kind", ["shallow", "deep", "measured"])
def test_the_interval_holds_the_aged_truth(kind: str) -> None:
    held = []
    for case in CASES:
        figure, truth = told(case, kind)
        if figure.value is not None:
            held.append((figure.low or 0.0) <= truth <= (figure.high or 0.0))
    # Of eight at 95 %, seven or more in all but 6 of 100 draws.
    assert held.count(False) <= 1
