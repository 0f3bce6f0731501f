"""The dip rule of IEC 61000-4-30 (5.4) on constructed voltages with known answers."""

from __future__ import annotations

import numpy as np
import pytest

from analyser.core.events import find_dips

CHECKS = ("packs.packs.events.depth", "packs.packs.voltage.deepest_sag_v")


def test_depth_residual_and_duration_of_one_dip() -> None:
    t = np.arange(0.0, 10.0, 0.1)
    v = np.where((t > 2.95) & (t < 4.95), 6.8, 8.0)
    dips = find_dips(t, v, 0.90 * 8.0, 0.02 * 8.0)
    assert len(dips) == 1
    assert (dips.start_s[0], dips.end_s[0]) == (pytest.approx(3.0), pytest.approx(5.0))
    assert dips.residual[0] == 6.8
    assert dips.depth[0] == pytest.approx(0.4)


def test_hysteresis_keeps_a_chattering_dip_whole() -> None:
    t = np.arange(0.0, 6.0, 0.1)
    v = np.where((t > 1.95) & (t < 3.95), np.where(np.arange(t.size) % 2 == 0, 7.1, 7.3), 8.0)
    assert len(find_dips(t, v, 7.2, 0.16)) == 1
    assert len(find_dips(t, v, 7.2, 0.0)) > 5


def test_threshold_follows_the_discharge() -> None:
    t = np.arange(0.0, 100.0, 0.5)
    v = np.linspace(8.3, 7.0, t.size)
    assert len(find_dips(t, v, 0.9 * v, 0.02 * 8.0)) == 0
    assert len(find_dips(t, v, 0.9 * 8.3, 0.02 * 8.0)) == 1
