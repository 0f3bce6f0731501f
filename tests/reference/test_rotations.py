"""Body directions against scipy.spatial.transform.Rotation (heading, pitch, roll about z, y, x; ISO 1151-1 axes)."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from analyser.core.geometry import body_direction
from analyser.link.sphere import unit_vector

CHECKS = ("season.layouts.measured", "link.directions_left_out_s")


def test_agrees_with_scipy_everywhere() -> None:
    rng = np.random.default_rng(1)
    n = 2000
    enu = rng.normal(size=(n, 3)) * 100
    psi, theta, phi = rng.uniform(-180, 360, n), rng.uniform(-89, 89, n), rng.uniform(-180, 180, n)
    azimuth, elevation = body_direction(*enu.T, psi, theta, phi)
    ned = np.column_stack([enu[:, 1], enu[:, 0], -enu[:, 2]])
    body = Rotation.from_euler("ZYX", np.column_stack([psi, theta, phi]), degrees=True).inv().apply(ned)
    body /= np.linalg.norm(body, axis=1, keepdims=True)
    assert unit_vector(azimuth, elevation) == pytest.approx(body, abs=1e-9)


@pytest.mark.parametrize(
    ("enu", "attitude", "expected"),
    [
        ((0, 100, 0), (0, 0, 0), (0, 0)),
        ((100, 0, 0), (0, 0, 0), (90, 0)),
        ((0, -100, 0), (0, 0, 0), (180, 0)),
        ((0, 0, -100), (0, 0, 0), (None, -90)),
        ((0, 0, -100), (0, 0, 90), (90, 0)),  # right wing down: the ground is off the right wing
        ((0, 0, -100), (0, -90, 0), (0, 0)),  # nose straight down
    ],
)
def test_by_hand(enu: tuple[float, ...], attitude: tuple[float, ...], expected: tuple[float | None, float]) -> None:
    azimuth, elevation = body_direction(*(np.array([float(v)]) for v in (*enu, *attitude)))
    assert elevation[0] == pytest.approx(expected[1], abs=1e-6)
    if expected[0] is not None:
        assert abs((azimuth[0] - expected[0] + 180) % 360 - 180) < 1e-6
