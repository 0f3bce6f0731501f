"""Waveforms of known depth and duration through the dip rule.

Source: IEC 61000-4-30, 5.4 (voltage dip detection and evaluation): a dip begins when the quantity falls below the
threshold and ends when it is at or above the threshold plus the hysteresis; residual voltage is the lowest value,
duration the time between. The hysteresis is typically 2 % of the declared voltage (the same clause).
"""

from __future__ import annotations

import numpy as np
import pytest

from analyser.core.events import find_dips

CHECKS = ("packs.events.depth", "packs.packs.events.depth", "link.receivers.antennas.events.depth")


def test_rectangular_dip_of_known_depth_and_duration() -> None:
    t = np.arange(0.0, 10.0, 0.02)
    v = np.where((t >= 2.0) & (t < 3.5), 5.25, 7.5)
    dips = find_dips(t, v, 0.9 * 7.5, 0.02 * 7.5)
    assert len(dips) == 1
    assert dips.start_s[0] == pytest.approx(2.0, abs=0.021)
    assert dips.end_s[0] - dips.start_s[0] == pytest.approx(1.5, abs=0.021)
    assert dips.depth[0] == pytest.approx(0.9 * 7.5 - 5.25)
    assert dips.residual[0] == 5.25


def test_triangular_dip_starts_at_the_threshold_and_ends_above_it() -> None:
    t = np.arange(0.0, 4.0, 0.001)
    v = 8.0 - 2.0 * np.maximum(0.0, 1.0 - np.abs(t - 2.0))  # falls from 8 to 6 and back, 2 a second
    dips = find_dips(t, v, 7.2, 0.16)
    assert dips.start_s.tolist() == pytest.approx([2.0 - 0.6], abs=0.002)
    assert dips.end_s.tolist() == pytest.approx([2.0 + 0.68], abs=0.002)
    assert t[dips.lowest_index[0]] == pytest.approx(2.0)


@pytest.mark.parametrize("rate_hz", [5.0, 50.0, 200.0])
@pytest.mark.parametrize(("width_s", "low_v"), [(0.4, 5.0), (1.0, 6.5), (3.0, 6.9)])
def test_duration_is_right_to_one_sample_at_every_rate(rate_hz: float, width_s: float, low_v: float) -> None:
    t = np.arange(0.0, 20.0, 1.0 / rate_hz)
    starts = np.array([3.03, 9.01, 15.02])
    v = np.where((np.abs(t[:, None] - starts - width_s / 2) < width_s / 2).any(axis=1), low_v, 7.9)
    dips = find_dips(t, v, 7.1, 0.02 * 7.9)
    assert dips.start_s == pytest.approx(starts, abs=1.0 / rate_hz + 1e-9)
    assert dips.end_s - dips.start_s == pytest.approx([width_s] * 3, abs=1.0 / rate_hz + 1e-9)
    assert dips.depth == pytest.approx([7.1 - low_v] * 3)
