"""Fade counts, mean durations and diversity outage on simulated Rayleigh fading against the closed forms.

Level-crossing rate N = √(2π)·f_d·ρ·e^(−ρ²), mean fade duration τ = (e^(ρ²) − 1)/(ρ·f_d·√(2π)), outage of M branches
(1 − e^(−ρ²))^M: Jakes; Rappaport, Wireless Communications, ch. 5. ρ is the threshold over the rms envelope.
"""

from __future__ import annotations

import numpy as np
import pytest

from analyser.core.events import find_dips

CHECKS = ("link.receivers.antennas.fades", "link.receivers.antennas.fade_seconds", "link.receivers.fades_together")

DOPPLER_HZ, RATE_HZ, SECONDS = 4.0, 200.0, 1500.0


def rayleigh(seed: int) -> tuple[np.ndarray, np.ndarray]:
    """Complex Gaussian noise with Jakes' spectrum, made in the frequency domain; power in dB about the mean power."""
    rng = np.random.default_rng(seed)
    n = int(RATE_HZ * SECONDS)
    f = np.fft.fftfreq(n, 1 / RATE_HZ)
    inside = np.abs(f) < DOPPLER_HZ * 0.9995
    shape = np.zeros(n)
    shape[inside] = (1 - (f[inside] / DOPPLER_HZ) ** 2) ** -0.25
    z = np.fft.ifft(shape * (rng.standard_normal(n) + 1j * rng.standard_normal(n)))
    power = np.abs(z) ** 2
    return np.arange(n) / RATE_HZ, 10 * np.log10(power / power.mean())


@pytest.mark.parametrize("threshold_db", [-3.0, -8.0, -12.0])
def test_rate_and_duration(threshold_db: float) -> None:
    t, level = rayleigh(3)
    dips = find_dips(t, level, threshold_db, 0.0)
    rho = 10 ** (threshold_db / 20)
    rate = np.sqrt(2 * np.pi) * DOPPLER_HZ * rho * np.exp(-(rho**2))
    duration = (np.exp(rho**2) - 1) / (rho * DOPPLER_HZ * np.sqrt(2 * np.pi))
    assert len(dips) / SECONDS == pytest.approx(rate, rel=0.06)
    # Each crossing is seen up to a sample late, in and out alike, so the mean is not biased.
    assert float((dips.end_s - dips.start_s).mean()) == pytest.approx(duration, rel=0.06)


def test_two_branches_fade_together_as_often_as_the_product_says() -> None:
    rho2 = 10 ** (-8.0 / 10)
    faded = [rayleigh(seed)[1] < -8.0 for seed in (11, 12)]
    one = 1 - np.exp(-rho2)
    assert float(faded[0].mean()) == pytest.approx(one, rel=0.08)
    assert float((faded[0] & faded[1]).mean()) == pytest.approx(one**2, rel=0.15)
