"""Headings that say one of two things: a receiver's voltage, a course in French or Spanish.

A pack's voltage falls with its charge and sags with its load; a regulator keeps its output: common practice, no source.
A track is the direction of the way, computed by geographiclib; a heading differs from it by the angle of the wind.
"""

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from tests.importers.test_tags import ROWS, flight, planned

SHAFT = {"Turbine (rpm)": flight(6)["engine.main.speed_rpm"]}


def drawn(columns, step=0.5):
    """Channels of a log with a row each so many seconds, and the headings that are asked about."""
    made = planned({**SHAFT, **columns}, clock=np.arange(ROWS) * step)
    return {c.heading: c.channel for c in made.columns}, {h for q in made.questions for h in q.columns}


def volts(kind, seed=3):
    noise = np.random.default_rng(seed).normal(0, 0.012, ROWS)
    falls = {"pack": 0.0006 * np.arange(ROWS), "regulator": 0.0}[kind]
    return np.round(6.2 - falls - np.abs(noise), 2)


@pytest.mark.parametrize(
    "heading", ["Rx voltage (V)", "Tension r\u00e9cepteur (V)", "Spannung Empf\u00e4nger [V]", "U_rx / V"]
)
def test_a_receivers_voltage_that_never_falls_is_asked(heading):
    channels, asked = drawn({heading: volts("regulator")})
    assert heading in asked
    channels, asked = drawn({heading: volts("pack")})
    assert channels[heading] == "pack.rx.voltage_v"
    assert heading not in asked


def test_a_short_log_or_a_word_for_the_pack_is_not_asked():
    even = volts("regulator")
    assert not drawn({"Rx voltage (V)": even}, step=0.2)[1]
    assert not drawn({"Rx battery (V)": even})[1]


def way(wind):
    """Places 0.5 s apart of an aircraft that flies circles, the direction of its way and of its nose, in degrees."""
    nose = np.cumsum(np.full(ROWS, 2.4)) % 360
    east, north = (30 * f(np.radians(nose)) for f in (np.sin, np.cos))
    lat, lon, track = [47.2], [8.1], []
    for x, y in zip(east[1:] + wind, north[1:], strict=True):
        track.append(float(np.degrees(np.arctan2(x, y))))
        there = Geodesic.WGS84.Direct(lat[-1], lon[-1], track[-1], 0.5 * np.hypot(x, y))
        lat.append(there["lat2"])
        lon.append(there["lon2"])
    return np.round(lat, 7), np.round(lon, 7), np.round(np.array([track[0], *track]) % 360, 1), np.round(nose, 1)


@pytest.mark.parametrize("heading", ["Rumbo (\u00b0)", "Cap [\u00b0]"])
def test_a_course_that_is_not_the_way_is_asked(heading):
    lat, lon, track, nose = way(wind=4.0)
    channels, asked = drawn({"Lat": lat, "Lon": lon, heading: track})
    assert channels[heading] == "position.track_deg"
    assert heading not in asked
    assert heading in drawn({"Lat": lat, "Lon": lon, heading: nose})[1]


@pytest.mark.parametrize("heading", ["Rumbo (\u00b0)", "Cap [\u00b0]"])
def test_beside_attitude_and_without_places_it_is_the_nose(heading):
    roll = np.round(25 + 4 * np.sin(np.arange(ROWS) / 9), 1)
    pitch = np.round(5 * np.sin(np.arange(ROWS) / 14), 1)
    channels, asked = drawn({"Roll (\u00b0)": roll, "Pitch (\u00b0)": pitch, heading: way(0.0)[3]})
    assert channels[heading] == "attitude.heading_deg"
    assert heading not in asked
