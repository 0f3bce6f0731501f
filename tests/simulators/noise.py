"""Noise families of the simulators; every function takes an even grid of ``n`` steps of ``dt`` seconds."""

from __future__ import annotations

import numpy as np
from scipy import signal

from tests.simulators.flight import FloatArray


def smooth_wander(n: int, dt: float, sd: float, memory_s: float, rng: np.random.Generator) -> FloatArray:
    """Gauss–Markov noise: standard deviation ``sd``, correlation time ``memory_s``."""
    keep = np.exp(-dt / memory_s)
    drive = rng.normal(0.0, sd * np.sqrt(1.0 - keep**2), n)
    drive[0] = rng.normal(0.0, sd)
    return np.asarray(signal.lfilter([1.0], [1.0, -keep], drive), float)


def random_walk(n: int, dt: float, sd_per_root_s: float, rng: np.random.Generator) -> FloatArray:
    """A walk from nought; its standard deviation grows with the square root of time."""
    return np.asarray(np.r_[0.0, np.cumsum(rng.normal(0.0, sd_per_root_s * np.sqrt(dt), n - 1))], float)


def pink(n: int, sd: float, rng: np.random.Generator) -> FloatArray:
    """1/f noise by shaping a white spectrum."""
    spectrum = np.fft.rfft(rng.normal(size=n))
    spectrum[1:] /= np.sqrt(np.arange(1, spectrum.size))
    spectrum[0] = 0.0
    shaped = np.fft.irfft(spectrum, n)
    return np.asarray(sd * shaped / max(float(shaped.std()), 1e-12), float)


def heavy(n: int, sd: float, rng: np.random.Generator, freedom: float = 3.0) -> FloatArray:
    """Student's t, scaled to ``sd``; three degrees of freedom have wild tails and still a variance."""
    return np.asarray(rng.standard_t(freedom, n) * sd / np.sqrt(freedom / (freedom - 2.0)), float)


def lag(values: FloatArray, dt: float, tau_s: float) -> FloatArray:
    """First-order lag, settled at the first value."""
    keep = np.exp(-dt / tau_s)
    out, _ = signal.lfilter([1.0 - keep], [1.0, -keep], values, zi=[keep * values[0]])
    return np.asarray(out, float)


def bursts(n: int, bad_to_good: FloatArray | float, good_to_bad: float, rng: np.random.Generator) -> FloatArray:
    """Gilbert–Elliott states, 1 where bad: sojourns of geometric length, no loop over steps."""
    stay = max(float(np.mean(bad_to_good)), 1e-6)
    pairs = int(n * (good_to_bad + 1e-9)) + 50
    good, bad = rng.geometric(good_to_bad, pairs), rng.geometric(stay, pairs)
    lengths = np.column_stack([good, bad]).ravel()
    states = np.repeat(np.tile([0.0, 1.0], pairs), lengths)
    return states[:n] if states.size >= n else np.r_[states, np.zeros(n - states.size)]
