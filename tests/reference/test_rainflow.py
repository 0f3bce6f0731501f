"""Equivalent full cycles against the worked example of ASTM E1049-85, 5.4.4 (figure 6).

The printed counts are those that the package ``rainflow`` documents as the standard's (its issue 4 quotes the table).
"""

from __future__ import annotations

import numpy as np
import pytest
import rainflow

from analyser.season.packs.cycles import equivalent_full_cycles

CHECKS = ("season.packs.life.cycles",)


@pytest.mark.parametrize("seed", range(3))
def test_half_of_all_rises_and_falls_is_what_rainflow_pairs(seed: int) -> None:
    path = np.random.default_rng(seed).uniform(0.0, 100.0, 400)
    paired = sum(span * count for span, count in rainflow.count_cycles(path.tolist()))
    assert equivalent_full_cycles(path) == pytest.approx(paired / 100.0)


def test_worked_example() -> None:
    history = np.array([-2, 1, -3, 5, -1, 3, -4, 4, -2], float)
    # Range: cycles — 3: 0.5, 4: 1.5, 6: 0.5, 8: 1.0, 9: 0.5.
    printed = 3 * 0.5 + 4 * 1.5 + 6 * 0.5 + 8 * 1.0 + 9 * 0.5
    assert equivalent_full_cycles(history) == pytest.approx(printed / 100.0)


def test_full_discharges_count_one_each() -> None:
    assert equivalent_full_cycles(np.array([100, 0, 100, 0, 100], float)) == pytest.approx(2.0)
