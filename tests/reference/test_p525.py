"""Free-space loss against ITU-R P.525 (Lbf = 32.4 + 20 log f + 20 log d) and against (4πd/λ)², plus two-ray limits."""

from __future__ import annotations

import numpy as np
import pytest

from analyser.link.propagation import Alike, Distances, bulk, free_space_loss_db, two_ray_gain_db

CHECKS = ("link.receivers.antennas.distance_exponent", "link.receivers.antennas.fades", "season.layouts.measured")


@pytest.mark.parametrize(("mhz", "km"), [(35.0, 0.5), (868.0, 1.0), (2440.0, 0.1), (2440.0, 10.0)])
def test_closed_form(mhz: float, km: float) -> None:
    exact = 20 * np.log10(4 * np.pi * km * 1000 * mhz * 1e6 / 299_792_458.0)
    assert free_space_loss_db(np.array([km * 1000]), mhz)[0] == pytest.approx(exact, abs=0.06)  # 32.4 is 32.45 rounded


def test_ten_times_the_distance_is_twenty_db() -> None:
    near, far = free_space_loss_db(np.array([100.0, 1000.0]), 2440.0)
    assert far - near == pytest.approx(20.0)


def test_frequency_must_be_positive() -> None:
    with pytest.raises(ValueError, match="frequency"):
        free_space_loss_db(np.array([1.0]), 0.0)


def test_two_ray_falls_by_forty_db_a_decade_far_out() -> None:
    """Rappaport, ch. 4: beyond the break point 4·h1·h2/λ power falls as d⁻⁴; against free space 20 dB a decade more."""
    d = np.array([2e4, 2e5])
    gain = two_ray_gain_db(d, np.full(2, 2.0), 1.3, 2440.0, reflection=-1.0)
    assert gain[0] - gain[1] == pytest.approx(20.0, abs=0.3)


def test_two_ray_peaks_at_six_db() -> None:
    d = np.linspace(20, 400, 20000)
    assert two_ray_gain_db(d, np.full(d.size, 10.0), 1.3, 2440.0, reflection=-1.0).max() == pytest.approx(6.0, abs=0.15)


@pytest.mark.parametrize("exponent", [2.0, 2.6, 3.2])
def test_exponent_recovered_though_direction_goes_with_distance(exponent: float) -> None:
    rng = np.random.default_rng(7)
    n = 6000
    direction = rng.integers(0, 12, n)
    distance = np.exp(rng.normal(4.6 + 0.15 * (direction % 3), 0.5, n))
    level = -10 * (exponent - 2) * np.log10(distance) + direction * 1.5 + rng.normal(0, 3, n)
    alike = Alike.of(direction, np.arange(n) // 100)
    distances = Distances.of(distance, alike)
    assert distances is not None
    fit = distances.fit(alike.within(bulk(level)))
    assert fit is not None
    assert fit.exponent == pytest.approx(exponent, abs=0.15)
    assert fit.low < fit.high
    assert fit.high - fit.low < 0.4


def test_no_exponent_from_one_distance() -> None:
    n = 500
    assert Distances.of(np.full(n, 100.0), Alike.of(np.zeros(n, np.intp), np.arange(n) // 10)) is None


def test_an_unknown_height_leaves_no_ground_ray_in_the_mean() -> None:
    """Jensen's formula: the mean over the phase of log|1 + ρ·exp(jφ)| is zero for |ρ| < 1."""
    phase = np.linspace(0, 2 * np.pi, 100_000, endpoint=False)
    assert 20 * np.log10(np.abs(1 - 0.9 * np.exp(1j * phase))).mean() == pytest.approx(0.0, abs=1e-3)
    d, h = np.linspace(30, 60, 500), np.full(500, 40.0)
    assert np.abs(two_ray_gain_db(d, h, 1.3, 2440.0, height_error_m=3.0)).max() < 0.2
