"""Units no heading says, settled by other columns; ways by geographiclib, the atmosphere by ambiance."""

from __future__ import annotations

import io

import numpy as np
import pytest
from ambiance import Atmosphere
from geographiclib.geodesic import Geodesic

from importers.model import Plan
from importers.plan import plan

RATE = 5.0
ROWS = 800
KNOT, MILE_PER_HOUR, FOOT = 1852 / 3600, 1609.344 / 3600, 0.3048
"""Exact, by NIST SP 811, appendix B."""


def flown(rng: np.random.Generator) -> dict[str, np.ndarray]:
    """A way flown at changing speed, walked along the ellipsoid; a height and its pressure; a burn and its total."""
    t = np.arange(ROWS) / RATE
    speed = np.where((t > 20) & (t < 150), 38 + 22 * np.sin(t / 9) + 4 * np.sin(t / 2.3), 0.0)
    course = np.cumsum(40 * np.sin(t / 13) + rng.normal(0, 3, ROWS)) / RATE  # up to 40° a second, as in a tight turn
    lat, lon = [47.3], [8.9]
    for v, c in zip(speed[:-1], course[:-1], strict=True):
        step = Geodesic.WGS84.Direct(lat[-1], lon[-1], c % 360, v / RATE)
        lat.append(step["lat2"])
        lon.append(step["lon2"])
    height = np.where(speed > 0, 70 + 60 * np.sin(t / 17), 0.0)
    flow = 120 + 300 * np.clip(np.sin(t / 11), 0, 1)
    return {
        "t": t, "speed": speed, "lat": np.array(lat), "lon": np.array(lon), "height": height,
        "pressure": np.array(Atmosphere(430 + height).pressure), "flow": flow, "used": np.cumsum(flow) / 60 / RATE,
    }  # fmt: skip


FLOWN = flown(np.random.default_rng(17))


def looked_at(**columns: np.ndarray) -> Plan:
    names = {name.replace("_", " "): values for name, values in columns.items()}
    lines = [",".join(["Time (s)", *names])]
    lines += [
        ",".join(f"{float(v[i]):.9g}" for v in (FLOWN["t"], *names.values())) for i in range(ROWS)
    ]  # fmt: skip
    return plan(io.BytesIO("\n".join(lines).encode()), name="way.csv")


def factor(found: Plan, heading: str) -> float | None:
    """By how much a column's values are multiplied; None where that is asked."""
    asked = {h for q in found.questions for h in q.columns}
    column = next(c for c in found.columns if c.heading == heading)
    return None if heading in asked else float(column.factor.num)


@pytest.mark.parametrize("unit_m_s", [1.0, 1 / 3.6, KNOT, MILE_PER_HOUR])
def test_the_way_flown_tells_the_unit_of_a_speed(unit_m_s: float) -> None:
    found = looked_at(GPS_lat=FLOWN["lat"], GPS_lon=FLOWN["lon"], GPS_speed=np.round(FLOWN["speed"] / unit_m_s, 1))
    assert factor(found, "GPS speed") == pytest.approx(unit_m_s, rel=1e-9)
    assert "position.ground_speed_m_s" in {c.channel for c in found.columns}


@pytest.mark.parametrize("wrong", [1.073 / KNOT, 2.8, 0.02], ids=["between knots and miles", "no unit", "tiny"])
def test_a_speed_that_makes_the_way_in_no_unit_or_in_two_is_asked(wrong: float) -> None:
    found = looked_at(GPS_lat=FLOWN["lat"], GPS_lon=FLOWN["lon"], GPS_speed=FLOWN["speed"] * wrong)
    assert factor(found, "GPS speed") is None


def test_a_place_that_wanders_at_rest_tells_nothing() -> None:
    rng = np.random.default_rng(3)
    wander = np.cumsum(rng.normal(0, 2e-6, (2, ROWS)), axis=1)
    found = looked_at(GPS_lat=47.3 + wander[0], GPS_lon=8.9 + wander[1], GPS_speed=np.abs(rng.normal(0, 0.4, ROWS)))
    assert factor(found, "GPS speed") is None


@pytest.mark.parametrize("unit_m", [1.0, FOOT])
def test_the_pressure_tells_the_unit_of_a_height(unit_m: float) -> None:
    found = looked_at(Altitude=np.round(FLOWN["height"] / unit_m, 1), Pressure_hPa=FLOWN["pressure"] / 100)
    assert factor(found, "Altitude") == pytest.approx(unit_m, rel=1e-9)


@pytest.mark.parametrize(("unit_ml_min", "places"), [(1.0, 0), (60.0, 2), (1000 / 60, 2)])
def test_the_fuel_used_tells_the_unit_of_a_flow(unit_ml_min: float, places: int) -> None:
    found = looked_at(Fuel_used_ml=FLOWN["used"], Fuel_flow=np.round(FLOWN["flow"] / unit_ml_min, places))
    assert factor(found, "Fuel flow") == pytest.approx(unit_ml_min, rel=1e-9)


def test_a_noisy_place_and_a_course_that_turns_hard_still_tell_the_unit() -> None:
    """Independent noise of a metre at one place a second, held in between, as receivers write it."""
    rng = np.random.default_rng(11)
    held = np.arange(ROWS) // int(RATE) * int(RATE)
    noise = rng.normal(0, 1.0, (2, ROWS)) / 111_195.0
    lat = (FLOWN["lat"] + noise[0])[held]
    lon = (FLOWN["lon"] + noise[1] / np.cos(np.radians(47.3)))[held]
    found = looked_at(GPS_lat=lat, GPS_lon=lon, GPS_speed=np.round(FLOWN["speed"] / KNOT))
    assert factor(found, "GPS speed") == pytest.approx(KNOT, rel=1e-9)
