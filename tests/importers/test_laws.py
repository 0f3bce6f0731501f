"""Headings held against what their values must follow: those that traded places, or name another unit, are asked.

The flight is made here by kinematics of its own; none of its rules is the importer's.
"""

import io

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from importers.plan import plan
from importers.read import read
from tests.importers.test_together import EGT, RPM, T, look, sure

HEIGHT = np.clip(60 + 60 * np.sin(T / 15), 0, None) * np.clip((T - 30) / 10, 0, 1) * np.clip((170 - T) / 10, 0, 1)
# A jet rolls before it leaves the ground, and after it is back (common practice, no source).
SPEED = 40 * np.clip((T - 22) / 8, 0, 1) * np.clip((185 - T) / 12, 0, 1) + 8 * np.sin(T / 6) * (HEIGHT > 5)


@pytest.mark.parametrize(("one", "other"), [
    ({"Height (m)": HEIGHT}, {"Ground speed (m/s)": SPEED}),
    ({"GPS altitude (m)": HEIGHT + 480}, {"GPS speed (km/h)": 3.6 * SPEED}),
    ({"Height (m)": HEIGHT}, {"Climb (m/s)": np.gradient(HEIGHT, 0.5)}),
])  # fmt: skip
def test_headings_of_height_and_speed_that_traded_places_are_asked(one, other):
    (a, x), (b, y) = *one.items(), *other.items()
    moving = {"RPM": RPM, "EGT (°C)": EGT}
    right, _ = look(moving | one | other)
    assert sure(right[a])
    assert sure(right[b])
    traded, _ = look(moving | {a: y, b: x})
    assert not sure(traded[a])
    assert not sure(traded[b])
    assert sure(traded["RPM"])


def test_two_speeds_in_two_units_under_one_are_asked():
    good, _ = look({"Airspeed (km/h)": 3.6 * SPEED + 2, "GPS speed (km/h)": 3.6 * SPEED})
    assert all(map(sure, good.values()))
    bad, _ = look({"Airspeed (km/h)": SPEED + 0.5, "GPS speed (km/h)": 3.6 * SPEED})
    assert not any(sure(c) for h, c in bad.items() if h != "Time (s)")


def test_a_hot_exhaust_does_not_stand_behind_a_shaft_below_idle():
    columns, _ = look({"RPM": RPM / 10, "EGT (°C)": EGT})
    assert not sure(columns["RPM"]) or columns["RPM"].factor.num == 10


def test_a_flight_of_a_hundred_rows_in_three_seconds_is_asked():
    text = "Time (ms),RPM,EGT (C)\n" + "".join(
        f"{t:.1f},{r:.0f},{e:.0f}\n" for t, r, e in zip(T, RPM, EGT, strict=True)
    )
    made = plan(io.BytesIO(text.encode()), name="log.csv")
    assert [q.answers for q in made.questions] == [("s", "ms")]
    ((telemetry),) = [
        d.telemetry() for d in read(plan(io.BytesIO(text.encode()), name="log.csv", answers={"time_unit": "ms"}))
    ]
    assert telemetry.duration_s == pytest.approx(T[-1] / 1000)


def test_a_flight_of_half_a_day_with_a_row_a_minute_is_asked():
    text = "Time (s),RPM,EGT (C)\n" + "".join(
        f"{100 * n},{r:.0f},{e:.0f}\n" for n, (r, e) in enumerate(zip(RPM, EGT, strict=True))
    )
    made = plan(io.BytesIO(text.encode()), name="log.csv")
    assert [q.answers for q in made.questions] == [("ms", "s")]


@pytest.mark.parametrize("heading", ["h_MSL_m", "height MSL (m)", "Hoehe MSL [m]", "Hauteur msl (m)", "height asl (m)"])
def test_a_height_above_the_sea_is_no_height_above_take_off(heading):
    columns, _ = look({heading: 541 + 60 * np.sin(T / 40)})
    assert columns[heading].channel == "position.altitude_m"


@pytest.mark.parametrize(("heading", "values"), [
    ("Rx1 current (A)", 8.2 - T / 900),  # a voltage keeps its size, a load does not
    ("Rx1 current (A)", 3 * T), ("Fuel flow (ml/min)", 5 * T), ("Climb (m/s)", T / 8),  # totals under a rate
    ("Height (m)", 6 * np.sin(T / 4)),  # as much below the ground as above it
    ("Air temperature (°C)", 60 + np.sin(T / 9)),  # WMO: the highest measured is 56.7 °C
    ("RPM", RPM / 10), ("Fuel flow (ml/min)", 30 + 9 * np.sin(T / 7)),  # tens of turns; litres an hour
])  # fmt: skip
def test_what_its_channel_never_does_is_asked(heading, values):
    columns, made = look({heading: values, "Aileron (%)": 40 * np.sin(T)})
    assert not sure(columns[heading]) or made.questions


def test_a_longitude_with_minutes_beside_a_latitude_without_is_asked():
    lat, lon = 48.1001 + SPEED / 1e5, 1128.0123 + SPEED / 1e3
    columns, made = look({"Lat": lat, "Lon": lon})
    assert made.questions
    assert not sure(columns["Lon"])


def test_a_pump_and_what_does_not_follow_the_shaft_that_traded_places_are_asked():
    pump, stick = 20 + 40 * (RPM / RPM.max()) ** 2, np.clip(100 * np.sin(T / 7), 0, 100)
    assert all(map(sure, look({"RPM": RPM, "Pump (%)": pump, "Throttle (%)": stick})[0].values()))
    columns, _ = look({"RPM": RPM, "Pump (%)": stick, "Throttle (%)": pump})
    assert not sure(columns["Pump (%)"])
    ecu = 12.4 - T / 4000 - 0.4 * (RPM / RPM.max()) ** 2
    assert not sure(look({"RPM": RPM, "Pump (V)": ecu})[0]["Pump (V)"])


def test_a_unit_that_nothing_bears_out_is_asked_where_several_others_are_wrong():
    wrong = {"Rx1 (mV)": 8.2 - T / 5000, "Pressure (hPa)": 95_000 + T, "EGT (kRPM)": EGT, "Rx2 (mV)": 8.1 - T / 5000}
    assert sure(look({"Ground speed (km/h)": SPEED})[0]["Ground speed (km/h)"])
    assert not sure(look({"Ground speed (km/h)": SPEED} | wrong)[0]["Ground speed (km/h)"])


BANK = np.where(SPEED > 20, 40 + 10 * np.sin(T / 4), 0.0)


@pytest.mark.parametrize("heading", ["Heading (°)", "Track (deg)", "COG"])
def test_a_direction_that_never_goes_round_is_asked(heading):
    """Whoever comes back has pointed everywhere; a bank swings about nought."""
    circuits = np.cumsum(np.where(SPEED > 20, 6.0, 0.0)) % 360 + 0.01
    assert sure(look({"RPM": RPM, "EGT (°C)": EGT, heading: circuits})[0][heading])
    assert not sure(look({"RPM": RPM, "EGT (°C)": EGT, heading: BANK})[0][heading])


@pytest.mark.parametrize("heading", ["Alt (m)", "Height (m)"])
def test_a_height_that_goes_deeper_than_it_rises_is_asked(heading):
    climb = np.gradient(HEIGHT, 0.5)
    assert sure(look({"RPM": RPM, "EGT (°C)": EGT, heading: HEIGHT})[0][heading])
    assert not sure(look({"RPM": RPM, "EGT (°C)": EGT, heading: climb})[0][heading])


@pytest.mark.parametrize("coordinate", ["Latitude", "Longitude"])
def test_one_coordinate_alone_tells_that_a_speed_is_in_another_unit(coordinate):
    """The flight goes to and fro along the coordinate; lengths of a degree by GeographicLib."""
    north = 1 if coordinate == "Latitude" else 0
    way = np.concatenate([[0], np.cumsum(np.diff(T) * SPEED[1:])])
    there = np.abs((way + 600) % 1200 - 600)
    metres = Geodesic.WGS84.Inverse(47.0, 9.0, 47.0 + 0.1 * north, 9.1 - 0.1 * north)["s12"] / 0.1
    place = {coordinate: (47.0 if north else 9.0) + there / metres}
    good, _ = look({"RPM": RPM, "EGT (°C)": EGT, **place, "GPS speed (km/h)": 3.6 * SPEED})
    assert sure(good["GPS speed (km/h)"])
    bad, _ = look({"RPM": RPM, "EGT (°C)": EGT, **place, "GPS speed (km/h)": SPEED})
    assert not sure(bad["GPS speed (km/h)"])


def test_a_pump_that_stays_as_a_pack_does_is_asked():
    steady = 12.4 - T / 2000
    assert not sure(look({"RPM": RPM, "Fuel pump V": steady})[0]["Fuel pump V"])
    assert sure(look({"RPM": RPM, "Fuel pump V": RPM / 40_000})[0]["Fuel pump V"])
