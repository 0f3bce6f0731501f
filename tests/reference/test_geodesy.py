"""The local frame against geographiclib's geodesic distance and azimuth on WGS-84."""

from __future__ import annotations

import numpy as np
import pyarrow as pa
import pytest
from geographiclib.geodesic import Geodesic

from analyser.core.aircraft import FlightContext
from analyser.core.geometry import locate
from analyser.core.phases import find_phases
from analyser.core.telemetry import Telemetry

CHECKS = ("link.max_range_m",)


@pytest.mark.parametrize("latitude", [0.0, 47.0, -33.0, 65.0])
@pytest.mark.parametrize("longitude", [0.0, 179.9995])
def test_range_and_bearing(latitude: float, longitude: float) -> None:
    bearings, distances = np.meshgrid([0.0, 60.0, 135.0, 250.0], [50.0, 400.0, 1500.0])
    fixes = [
        Geodesic.WGS84.Direct(latitude, longitude, b, d)
        for b, d in zip(bearings.ravel(), distances.ravel(), strict=True)
    ]
    n = len(fixes)
    telemetry = Telemetry(
        pa.table(
            {
                "time_s": np.arange(n) * 1.0,
                "position.latitude_deg": [f["lat2"] for f in fixes],
                "position.longitude_deg": [f["lon2"] for f in fixes],
                "position.altitude_m": np.full(n, 101.3),
            }
        )
    )
    context = FlightContext(pilot_latitude_deg=latitude, pilot_longitude_deg=longitude, pilot_altitude_m=100.0)
    found = locate(telemetry, find_phases(telemetry), context)
    assert found is not None
    # Only at the fixes themselves: between two of them this "flight" jumps across the field.
    at = np.searchsorted(found.time_s, np.arange(n) - 1e-6)
    east, north = found.east_m[at], found.north_m[at]
    assert np.hypot(east, north) == pytest.approx(distances.ravel(), rel=1e-4)
    off = (np.degrees(np.arctan2(east, north)) - bearings.ravel() + 180) % 360 - 180
    assert np.abs(off).max() < 0.01
