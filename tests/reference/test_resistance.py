"""The d.c. form of IEC 61960-3, R = (U1 − U2)/(I2 − I1), on a constructed discharge with a known answer."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal

from analyser.packs.circuit import fit_circuit, step_resistances

CHECKS = ("packs.packs.resistance.by_steps_mohm",)


def test_two_loads_give_the_constructed_resistance() -> None:
    t = np.arange(0.0, 40.0, 1.0)
    i = np.where(t < 20.0, 0.2, 1.4)
    v = 8.0 - 0.055 * i
    steps = step_resistances((t, v), (t, i))
    assert steps == pytest.approx([0.055])


def test_even_load_gives_none() -> None:
    t = np.arange(0.0, 40.0, 0.5)
    v, i = np.full(t.size, 7.9), np.full(t.size, 2.0)
    assert step_resistances((t, v), (t, i)).size == 0
    assert fit_circuit((t, v), (t, i)) is None


def test_a_quick_log_keeps_the_constructed_resistance() -> None:
    """Fifty readings a second are fitted by their means; 20 draws by scipy's filter, a thousand steps a second.

    Source: ``scipy.signal.lfilter`` as the exact solution of τ x' = i − x under a load even over a millisecond.
    """
    kept = 0
    for seed in range(20):
        rng = np.random.default_rng(seed)
        load = np.repeat(0.3 + rng.gamma(1.5, 1.2, 60), rng.integers(200, 2500, 60))
        r0, r1, tau = rng.uniform(0.03, 0.08), rng.uniform(0.005, 0.03), rng.uniform(2.5, 30.0)
        keep = np.exp(-0.001 / tau)
        slow = signal.lfilter([1.0 - keep], [1.0, -keep], load)
        given = np.cumsum(load) / load.sum()
        rest = 8.2 - 0.6 * given - 0.2 * np.exp(-8.0 * given)
        v = np.round(rest - r0 * load - r1 * slow, 4)[19::20]
        v += rng.normal(0.0, 0.004, v.size)
        t = 0.02 * np.arange(v.size)
        made = fit_circuit((t, v), (t, load[19::20]))
        assert made is not None
        assert made.time_s.size == t.size
        true = r0 + r1 * (1.0 - np.exp(-1.0 / tau))
        assert made.one_second_se < 0.02 * true
        kept += abs(made.one_second_ohm - true) < 1.96 * made.one_second_se
    assert kept >= 17  # of 95 % intervals fewer are kept once in 60 times
