"""The half-wave dipole against Balanis, Antenna Theory, ch. 4: D = 2.15 dBi, half-power beamwidth 78°."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import integrate, optimize

from analyser.core.aircraft import Antenna, AntennaLayout, Shadow
from analyser.link.planned import axis_evenness, pattern_dbi, planned_best, planned_map
from analyser.link.sphere import unit_vector

CHECKS = ("season.layouts.planned",)

DIPOLE = Antenna("rx1", 1, (0.0, 0.0, 0.0), (0.0, 0.0, 1.0))


def gain(theta: float) -> float:
    return float(10 ** (pattern_dbi(DIPOLE, np.array([[np.sin(theta), 0.0, np.cos(theta)]]))[0] / 10))


def test_radiates_what_goes_in() -> None:
    """Gain integrated over the sphere is 4π for a lossless antenna: this ties 2.15 dBi to the shape."""
    total, _ = integrate.quad(lambda th: 2 * np.pi * gain(th) * np.sin(th), 0, np.pi)
    assert total / (4 * np.pi) == pytest.approx(1.0, abs=2e-3)


def test_peak_and_beamwidth() -> None:
    assert 10 * np.log10(gain(np.pi / 2)) == pytest.approx(2.15, abs=0.01)
    half = optimize.brentq(lambda th: gain(th) - gain(np.pi / 2) / 2, 0.1, np.pi / 2)
    assert np.degrees(np.pi - 2 * half) == pytest.approx(78.0, abs=0.2)


@pytest.mark.parametrize("axis", [(1.0, 0.0, 0.0), (0.0, 2.0, 0.0), (1.0, 1.0, 1.0)])
def test_nothing_off_the_ends_all_of_it_broadside(axis: tuple[float, float, float]) -> None:
    """Common practice in the trade, no source."""
    antenna = Antenna("rx1", 1, (0.0, 0.0, 0.0), axis)
    u = np.array(axis) / np.linalg.norm(axis)
    broadside = np.cross(u, [0.3, -0.5, 0.8])
    broadside /= np.linalg.norm(broadside)
    off = pattern_dbi(antenna, np.array([u, -u, broadside]))
    assert off[0] <= -25
    assert off[1] <= -25
    assert off[2] == pytest.approx(2.15, abs=0.01)


def test_bins_are_equal_area_and_keep_the_power() -> None:
    layout = AntennaLayout("a", (DIPOLE,))
    mean = float((10 ** (planned_map(layout, DIPOLE).gain_db / 10)).mean())
    assert mean == pytest.approx(1.0, abs=0.02)


def test_best_of_two_crossed_is_never_worse_than_either_and_a_shadow_takes_its_loss() -> None:
    across = Antenna("rx1", 2, (0.0, 0.0, 0.0), (0.0, 1.0, 0.0))
    shadow = Shadow("engine", 180.0, 0.0, 30.0, 20.0, "rx1", 2)
    layout = AntennaLayout("b", (DIPOLE, across))
    best = planned_best(layout)
    assert best is not None
    for antenna in layout.antennas:
        assert (best.gain_db >= planned_map(layout, antenna).gain_db - 1e-9).all()
    shaded = AntennaLayout("c", (DIPOLE, across), shadows=(shadow,))
    astern = unit_vector(np.array([180.0]), np.array([0.0]))
    from analyser.link.planned import planned_gain_db

    loss = planned_gain_db(layout, across, astern) - planned_gain_db(shaded, across, astern)
    assert loss[0] == pytest.approx(20.0)
    assert planned_gain_db(layout, DIPOLE, astern) == planned_gain_db(shaded, DIPOLE, astern)


def test_three_crossed_axes_are_even_and_parallel_ones_are_not() -> None:
    axes = np.eye(3)
    even = AntennaLayout("e", tuple(Antenna("r", i + 1, (0, 0, 0), tuple(a)) for i, a in enumerate(axes.tolist())))
    alike = AntennaLayout("p", tuple(Antenna("r", i + 1, (0, 0, 0), (1.0, 0.0, 0.0)) for i in range(3)))
    assert axis_evenness(even) == pytest.approx(1.0)
    assert axis_evenness(alike) == pytest.approx(0.0)
