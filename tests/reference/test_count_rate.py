"""The two-factor count model against statsmodels' Poisson regression (independent solver of the same likelihood)."""

from __future__ import annotations

import numpy as np
import pytest
import statsmodels.api as sm
from msgspec.structs import replace

from analyser.link.count_rate import counter_map, dispersion, range_weights
from tests.reference.test_false_alarm import flight

CHECKS = ("link.receivers.antennas.lost_per_min", "season.layouts.measured")


def test_range_factor_agrees_with_a_regression() -> None:
    rng = np.random.default_rng(3)
    directions, ranges = 30, 4
    seconds = rng.gamma(2.0, 20.0, (directions, ranges))
    rate = np.exp(rng.normal(0, 0.6, directions))[:, None] * np.array([0.3, 0.8, 1.5, 4.0])
    lost = rng.poisson(seconds * rate).astype(float)
    d, r = (a.ravel() for a in np.indices(lost.shape))
    design = np.column_stack([np.eye(directions)[d], np.eye(ranges)[r][:, 1:]])
    fit = sm.GLM(lost.ravel(), design, sm.families.Poisson(), offset=np.log(seconds.ravel())).fit()
    ours = range_weights(lost, seconds)
    assert np.log(ours[1:] / ours[0]) == pytest.approx(fit.params[-3:], abs=0.01)


def test_dispersion_of_bursts() -> None:
    """A negative binomial with mean m and size k has variance m·(1 + m/k)."""
    rng = np.random.default_rng(4)
    mean, size = 4.0, 2.0
    counts = rng.negative_binomial(size, size / (size + mean), 20_000).astype(float)
    assert dispersion(counts, np.full(counts.size, mean)) == pytest.approx(1 + mean / size, rel=0.05)


def test_a_counter_names_no_direction_where_none_is_worse() -> None:
    """Made-up flights lose alike from everywhere, so every name is a false one: no more than one map in twenty."""
    rng = np.random.default_rng(6)
    named = 0
    for _ in range(60):
        made = counter_map("a", "l", [flight(rng) for _ in range(int(rng.integers(1, 6)))])
        assert made is not None
        named += bool(made.nulls)
    assert named <= 0.05 * 60 + 3 * np.sqrt(60 * 0.05 * 0.95), named


@pytest.mark.parametrize("flights", [1, 2, 4])
def test_bursts_alone_seldom_name_a_direction(flights: int) -> None:
    """Losses alike from everywhere but in bursts: a negative binomial of variance ten times its mean."""
    rng = np.random.default_rng(7)
    named, draws = 0, 40
    for _ in range(draws):
        bins = []
        for _ in range(flights):
            made = flight(rng)
            ranges = made.seconds_by_range.shape[-1]
            lost = rng.negative_binomial(np.maximum(0.5 * made.seconds / 9.0, 1e-9), 0.1).astype(float)
            by_range = np.repeat(lost[..., None] / ranges, ranges, axis=-1)
            bins.append(replace(made, lost_by_range=by_range, lost=lost))
        found = counter_map("a", "l", bins)
        assert found is not None
        named += bool(found.nulls)
    assert named <= 0.05 * draws + 3 * np.sqrt(draws * 0.05 * 0.95), named
