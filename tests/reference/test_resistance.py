"""The d.c. form of IEC 61960-3, R = (U1 − U2)/(I2 − I1), on a constructed discharge with a known answer."""

from __future__ import annotations

import numpy as np
import pytest

from analyser.packs.circuit import fit_circuit, step_resistances


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
