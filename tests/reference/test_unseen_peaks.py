"""What a quantity may have done between its samples, against draws whose unseen peaks are known.

Sources: the greatest of n independent exponentials, whose distribution is the product (1 − e^−x)^n; simulated loads
that switch and hold.
"""

from __future__ import annotations

import numpy as np
import pytest

from analyser.core.statistics.extremes import unseen_excess

CHECKS = ("packs.packs.voltage.deepest_sag_v", "packs.buses.alone.failed_now_v")


@pytest.mark.parametrize("every", [2, 5])
def test_unseen_exponentials_reach_as_far_as_their_closed_form_says(every: int) -> None:
    """Every so many of independent exponentials are seen: a 97.5 % bound of the unseen ones' greatest is known."""
    rng = np.random.default_rng(1)
    drawn = rng.exponential(1.0, (300, 2000))
    t = np.arange(2000.0)
    seen = drawn[:, ::every]
    bound = np.array([s.max() + unseen_excess(t[::every], s, 1.0) for s in seen])
    exact = -np.log1p(-(0.975 ** (1.0 / (2000 - seen.shape[1]))))
    # Where nothing unseen is told to go beyond, the greatest sample itself stands above the exact bound.
    assert np.median(bound) == pytest.approx(exact, rel=0.12)
    kept = np.mean(np.delete(drawn, np.s_[::every], axis=1).max(axis=1) <= bound)
    assert 0.94 <= kept <= 1.0


@pytest.mark.parametrize("period", [0.5, 1.0])
def test_a_switched_load_stays_within_what_its_samples_let_expect(period: float) -> None:
    """Loads of gamma-distributed size switch on at random and hold about a second; logged once a period."""
    rng = np.random.default_rng(2)
    kept = []
    t = np.arange(0.0, 300.0, 0.05)
    for _ in range(120):  # a loop over draws
        at = rng.uniform(0.0, 300.0, rng.poisson(150))
        off, size = at + 0.2 + rng.exponential(0.9, at.size), rng.gamma(2.0, 1.1, at.size)
        change = np.zeros(t.size + 1)
        np.add.at(change, np.searchsorted(t, at), size)
        np.add.at(change, np.searchsorted(t, off), -size)
        load = np.cumsum(change[:-1])
        seen = np.flatnonzero(np.isclose(t % period, 0.0, atol=1e-6) | np.isclose(t % period, period, atol=1e-6))
        kept.append(load.max() <= load[seen].max() + unseen_excess(t[seen], load[seen], 0.2))
    assert 0.93 <= np.mean(kept) <= 1.0


def test_what_is_sampled_finely_hides_next_to_nothing() -> None:
    t = np.arange(0.0, 100.0, 0.01)
    assert unseen_excess(t, np.sin(t), 0.2) < 0.02


def test_too_few_samples_tell_no_tail() -> None:
    assert unseen_excess(np.arange(10.0), np.arange(10.0), 0.2) == 0.0
    assert unseen_excess(np.arange(100.0), np.ones(100), 0.2) == 0.0
