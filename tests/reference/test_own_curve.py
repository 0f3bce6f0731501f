"""A pack's capacity by its own rest curve against aged cells of makes that the library then does not hold.

Source: PyBaMM (BSD 3-clause), half-cell potentials and inventories of its published parameter sets; a cell ages by the
three modes of Birkl et al. 2017 (J. Power Sources 341, 373). ``test_aged_cells.py`` works the aged cell out from PyBaMM
itself, the analyser from a table of its potentials; each make is told with itself, and its like, left out.
"""

from __future__ import annotations

from functools import cache
from itertools import product

import numpy as np
import pytest
from scipy import stats

from analyser.packs.electrodes import CHARGE_PERCENT, MODES, PUBLISHED
from analyser.season.packs.rest_curve import Point, Told, told_by_curve
from tests.reference.test_aged_cells import CHARGE_PERCENT as COARSE
from tests.reference.test_aged_cells import aged

CHECKS = ("season.packs.capacity.now_percent", "season.packs.capacity.against_first_percent")

RATED = 2600.0
LIKE = {"Chen2020": ("Chen2020", "ORegan2022"), "ORegan2022": ("Chen2020", "ORegan2022")}
"""Two parameter sets of one commercial cell."""
DEPTHS = {"shallow": (0.3,) * 4, "of different depth": (0.3, 0.45, 0.6, 0.7), "deep": (0.75, 0.8, 0.85)}


@pytest.mark.parametrize("make", [e.make for e in PUBLISHED])
@pytest.mark.parametrize("mode", list(MODES))
def test_the_table_ages_as_the_published_electrodes_do(make: str, mode: str) -> None:
    (electrodes,) = (e for e in PUBLISHED if e.make == make)
    new, new_left = aged(make, mode, 0.0), electrodes.aged(mode, 0.0)[0]
    for severity in (0.0, 0.1, 0.25):
        cell, (left, rest) = aged(make, mode, severity), electrodes.aged(mode, severity)
        # ORegan2022 is published full at 4.24 V, where a charger does not go.
        assert left / new_left == pytest.approx(cell.capacity / new.capacity, abs=0.016)
        if make != "ORegan2022":
            told = np.interp(COARSE[2:-1], CHARGE_PERCENT, rest)
            assert np.abs(told - cell.rest_v[2:-1]).max() < 0.02  # a third less than what another make is given


def flights(depths: tuple[float, ...], make: str, mode: str, severity: float, errors: np.ndarray) -> list[Point]:
    """Flights from full of a cell; ``errors`` are the voltmeter's, the sensor's and the fit's, the same in each."""
    (electrodes,) = (e for e in PUBLISHED if e.make == make)
    left, rest = electrodes.aged(mode, severity)
    mah = RATED * (0.97 + errors[3]) * left / electrodes.aged(mode, 0.0)[0]
    volts = np.interp(100.0 * (1.0 - np.array(depths)), CHARGE_PERCENT, rest) * (1.0 + errors[0]) + errors[2]
    return [Point(d * mah * (1.0 + errors[1]), 0.025, float(v), 0.012) for d, v in zip(depths, volts, strict=True)]


@cache
def looks(kind: str, young: bool) -> list[tuple[Told, float, float]]:
    """Every make, mode and loss; and the truth, over the label's and over the early flights'."""
    rng = np.random.default_rng(len(kind) + 100 * young)
    out = []
    for one, mode, severity in product(PUBLISHED, MODES, (0.09, 0.21)):
        left = one.aged(mode, severity)[0] / one.aged(mode, 0.0)[0]
        if not 0.6 < left < 0.985:
            continue
        errors = rng.normal(0.0, [0.0025, 0.025, 0.008, 0.04])
        late = flights(DEPTHS[kind], one.make, mode, severity, errors)
        early = flights(DEPTHS[kind], one.make, mode, 0.0, errors) if young else []
        told = told_by_curve(early, late, RATED, LIKE.get(one.make, (one.make,)))
        assert told is not None
        out.append((told, (0.97 + float(errors[3])) * left, left))
    return out


def kept(inside: list[bool]) -> None:
    """Surely less than 95 %, or wholly wrong, would show here (Clopper and Pearson 1934)."""
    assert len(inside) > 35
    assert stats.binomtest(sum(inside), len(inside)).proportion_ci(0.95, "exact").high >= 0.95


@pytest.mark.parametrize(("kind", "young"), [("shallow", False), ("of different depth", True), ("deep", False)])
def test_the_interval_holds_makes_nobody_published(kind: str, young: bool) -> None:
    found = looks(kind, young)
    kept([t.over_label[0] <= truth <= t.over_label[2] for t, truth, _ in found])
    if young:
        kept([t.over_early is not None and t.over_early[0] <= left <= t.over_early[2] for t, _, left in found])


def half_width(found: list[tuple[Told, float, float]], of_label: bool = True) -> float:
    ends = [t.over_label if of_label else t.over_early for t, _, _ in found]
    return float(np.median([(e[2] - e[0]) / 2.0 for e in ends if e is not None]))


def test_what_narrows_it() -> None:
    """Depth does most, different depths next, early flights next; shallow flights leave it to the label."""
    shallow, deep = half_width(looks("shallow", False)), half_width(looks("deep", False))
    mixed = half_width(looks("of different depth", True))
    assert deep < mixed < 0.7 * shallow
    assert half_width(looks("of different depth", True), of_label=False) < 0.16


def test_flights_that_no_pack_fits_tell_nothing() -> None:
    rising = [Point(300.0, 0.02, 3.6, 0.01), Point(1500.0, 0.02, 4.1, 0.01)]
    assert told_by_curve([], rising, RATED) is None
