"""Columns of one file heard against each other: they bear each other out, contradict, or show that all is at rest."""

import io

import numpy as np
import pytest

from importers.meaning.certainty import ASK_BELOW
from importers.plan import plan
from importers.read import read
from importers.relations.together import some_rows

N = 400
T = np.arange(N) / 2
RNG = np.random.default_rng(11)
AMPS = 1.0 + np.abs(np.sin(T / 3)) * 3 + RNG.normal(0, 0.05, N)
VOLTS = 8.2 - T / 2000 - 0.03 * AMPS + RNG.normal(0, 0.003, N)
FLOW = 300 + 200 * np.sin(T / 7)
USED = np.concatenate([[0], np.cumsum((FLOW[1:] + FLOW[:-1]) / 2 * 0.5 / 60)])
RPM = 60_000 + 30_000 * np.sin(T / 7)
EGT = 520 + 80 * np.sin(T / 7)


def look(columns, answers=None):
    heads = ",".join(["Time (s)", *columns])
    rows = zip(T, *columns.values(), strict=True)
    text = heads + "\n" + "".join(",".join(f"{v:.9g}" for v in row) + "\n" for row in rows)
    made = plan(io.BytesIO(text.encode()), name="log.csv", answers=answers)
    return {c.heading: c for c in made.columns}, made


def sure(column):
    return column.confidence >= ASK_BELOW


def test_current_and_sag_and_sums_agree():
    columns, _ = look({"Rx1 (V)": VOLTS, "Rx1 current (A)": AMPS, "Fuel flow (ml/min)": FLOW, "Fuel used (ml)": USED})
    assert all(c.evidence.get("agrees") for h, c in columns.items() if h != "Time (s)")


def test_a_total_that_its_rate_denies_is_asked():
    columns, _ = look({"Fuel flow (ml/min)": FLOW, "Fuel used (ml)": 10 * USED})
    assert not sure(columns["Fuel flow (ml/min)"])
    assert not sure(columns["Fuel used (ml)"])


def test_a_voltage_that_rises_with_its_current_is_asked():
    columns, _ = look({"Rx1 (V)": 16 - VOLTS, "Rx1 current (A)": AMPS})
    assert not sure(columns["Rx1 (V)"])


@pytest.mark.parametrize(("heading", "values"), [
    ("Rx1 (V)", VOLTS / 1000), ("Shaft speed (rpm)", RPM / 1000), ("EGT (°C)", EGT / 1000),
    ("Rx1 RSSI (dBm)", 50 + 5 * np.sin(T)), ("Fuel remaining (ml)", 0 * T + 400), ("Altitude (m)", 0 * T + 120),
    ("Fuel used (ml)", 0 * T + 900), ("Fuel flow (ml/min)", 0 * T + 300), ("Flap (%)", np.where(T > 90, 50_000.0, 0)),
])  # fmt: skip
def test_what_no_aircraft_in_use_has_is_asked(heading, values):
    columns, made = look({heading: values})
    assert not sure(columns[heading]) or made.questions


def test_levels_at_rest_are_no_settings_where_all_is_at_rest():
    still = {"Fuel remaining (ml)": 0 * T + 2400, "EGT (°C)": 21 + 0.1 * np.sin(T), "Shaft speed (rpm)": 0 * T}
    columns, made = look(still | {"Altitude (m)": 0 * T + 311, "Ground speed (m/s)": 0.1 * np.abs(np.sin(T))})
    assert all(map(sure, columns.values()))
    assert not made.questions


def test_headings_that_changed_places_are_both_asked():
    columns, _ = look({"Altitude (m)": 47 + T / 1e5, "Latitude (°)": 400 + 60 * np.sin(T / 20)})
    assert not sure(columns["Altitude (m)"])
    assert not sure(columns["Latitude (°)"])


@pytest.mark.parametrize("factor", [1.0, 2.23694])
def test_latitude_and_longitude_that_changed_places_are_asked_whatever_the_speeds_unit(factor):
    course, speed = np.cumsum(0.08 * np.sin(T / 21) + 0.03), 30 + 8 * np.sin(T / 12)
    north, east = np.cumsum(speed * np.cos(course)) / 2, np.cumsum(speed * np.sin(course)) / 2
    # Longitude's degrees shrink with the cosine of latitude on a sphere: WGS 84's mean radius.
    lat, lon = 47.8 + north / 111_195, 11.2 + east / (111_195 * np.cos(np.radians(47.8)))

    def asked(one, other):
        rows = "".join(
            f"{t:.1f},{a:.7f},{b:.7f},{v:.3f}\n" for t, a, b, v in zip(T, one, other, factor * speed, strict=True)
        )
        text = "Time (s),Latitude,Longitude,Ground speed (m/s)\n" + rows
        return not sure(plan(io.BytesIO(text.encode()), name="log.csv").columns[1])

    assert asked(lon, lat)
    assert not asked(lat, lon)


def test_a_signal_that_stands_still_in_flight_is_asked():
    moving = {"Shaft speed (rpm)": RPM, "EGT (°C)": EGT}
    assert not sure(look(moving | {"Rx1 RSSI (dBm)": 0 * T - 60})[0]["Rx1 RSSI (dBm)"])
    assert sure(look(moving | {"Rx1 RSSI (dBm)": -60 - 5 * np.sin(T)})[0]["Rx1 RSSI (dBm)"])


def test_agreement_never_lifts_a_doubt_of_the_name_or_of_the_scale():
    columns, _ = look({"Zorp (V)": VOLTS, "Zorp (A)": AMPS})
    assert not any(c.evidence.get("agrees") for c in columns.values() if c.evidence.get("unknown"))
    columns, _ = look({"Shaft speed (rpm)": RPM, "EGT": 1.8 * EGT + 32})  # degrees Fahrenheit without a word of it
    assert not columns["EGT"].evidence.get("agrees")


def test_some_rows_keep_their_order_and_no_rhythm():
    rows = some_rows(10_000)
    assert rows == sorted(set(rows))
    assert 300 <= len(rows) <= 400
    assert np.unique(np.diff(rows)).size > 5


def test_the_unit_of_several_columns_is_asked_once():
    some = {"Ground speed": 30 + 9 * np.sin(T), "GPS speed": 31 + 9 * np.sin(T), "Airspeed": 30 + 9 * np.sin(T)}
    _, made = look(some | {"Rx1 (V)": VOLTS})
    (question,) = [q for q in made.questions if q.key.startswith("unit.")]
    assert question.key == "unit.all.speed"
    assert {"Ground speed", "Airspeed"} <= {*question.columns}
    columns, _ = look({"Ground speed": some["Ground speed"], "Airspeed": some["Airspeed"]}, {"unit.all.speed": "km/h"})
    # SI Brochure, 9th edition: 1 km/h = 1/3.6 m/s
    assert float(columns["Airspeed"].factor.num) == float(columns["Ground speed"].factor.num) == pytest.approx(1 / 3.6)


def test_units_behind_every_number_of_a_file_are_read():
    rows = [f"{t:.1f} s;{v:.2f} V;{r:.0f} U/min" for t, v, r in zip(T, VOLTS, RPM, strict=True)]
    text = "Zeit;Spannung RX1;Drehzahl\n" + "".join(f"{r}\n".replace(".", ",") for r in rows)
    ((telemetry),) = [d.telemetry() for d in read(plan(io.BytesIO(text.encode()), name="log.csv"))]
    assert telemetry.duration_s == pytest.approx(T[-1])
    np.testing.assert_allclose(telemetry.series("pack.rx1.voltage_v").values, VOLTS.round(2))
    np.testing.assert_allclose(telemetry.series("engine.main.speed_rpm").values, RPM.round())


def test_sensors_one_after_the_other_are_one_flight():
    named = {"Rx1 voltage (V)": VOLTS, "EGT (°C)": EGT, "Rx1 RSSI (dBm)": -60 - 5 * np.sin(T)}
    text = "time (s),sensor,value\n" + "".join(
        f"{t},{name},{v:.3f}\n" for name, values in named.items() for t, v in zip(T, values, strict=True)
    )
    ((telemetry),) = [d.telemetry() for d in read(plan(io.BytesIO(text.encode()), name="log.csv"))]
    assert telemetry.duration_s == T[-1]
    np.testing.assert_allclose(telemetry.series("engine.main.egt_c").values, EGT.round(3))


def test_how_long_an_engine_ran_is_no_clock():
    text = "Time,Engine time (s),EGT (°C)\n" + "".join(
        f"10:{i // 60:02d}:{i % 60:02d},{max(0, i - 60)},{500 + i % 7}\n" for i in range(300)
    )
    ((telemetry),) = [d.telemetry() for d in read(plan(io.BytesIO(text.encode()), name="log.csv"))]
    assert telemetry.duration_s == 299.0


HEIGHT = 60 + 50 * np.sin(T / 15)
CLIMB = np.gradient(HEIGHT, 0.5)
PRESSURE = 101_325 * (1 - 2.25577e-5 * (HEIGHT + 200)) ** 5.25588  # ISO 2533, from memory
AHEAD = T / 9.0
SPEED = 30 + 12 * np.sin(T / 11)
LAT = 46.8 + np.concatenate([[0], np.cumsum((SPEED * np.cos(AHEAD))[1:])]) * 0.5 / 111_195
LON = 9.4 + np.concatenate([[0], np.cumsum((SPEED * np.sin(AHEAD))[1:])]) * 0.5 / (111_195 * np.cos(np.radians(46.8)))
COURSE = np.degrees(AHEAD) % 360


def doubted(columns):
    found, _ = look(columns)
    return {h for h, c in found.items() if h != "Time (s)" and not sure(c)}


def test_half_a_place_is_asked_with_its_other_half():
    pushed = 0.2 * np.sin(T)
    assert {"Lambda", "Push_Lat"} <= doubted({"Shaft speed (rpm)": RPM, "Lambda": 3 + pushed, "Push_Lat": pushed})
    assert doubted({"Phi": LAT, "Lambda": LON}) == set()


def test_height_in_another_unit_is_told_by_the_pressure_and_alone_is_asked():
    log = {"Height (m)": HEIGHT / 0.3048, "Pressure (hPa)": PRESSURE / 100, "Vario (m/s)": CLIMB}
    assert doubted(log) == {"Height (m)"}
    assert doubted(log | {"Height (m)": HEIGHT}) == set()


def test_height_and_climb_that_changed_places_are_asked():
    assert doubted({"Height (m)": CLIMB, "Vario (m/s)": HEIGHT}) == {"Height (m)", "Vario (m/s)"}


def test_a_speed_in_another_unit_is_told_by_the_way():
    place = {"Latitude (°)": LAT, "Longitude (°)": LON}
    assert doubted({**place, "Ground speed (km/h)": SPEED * 3600 / 1852}) == {"Ground speed (km/h)"}
    assert doubted({**place, "Ground speed (km/h)": SPEED * 3.6}) == set()


def test_places_that_changed_places_are_told_by_where_the_aircraft_points():
    assert doubted({"Latitude (°)": LON, "Longitude (°)": LAT, "Track (°)": COURSE}) == {
        "Latitude (°)",
        "Longitude (°)",
    }
    assert doubted({"Latitude (°)": LAT, "Longitude (°)": LON, "Track (°)": COURSE}) == set()
    assert doubted({"Latitude (°)": LAT, "Longitude (°)": LON, "Track (°)": 30 * np.sin(T)}) == {"Track (°)"}


def test_an_exhaust_that_is_hot_and_still_before_the_start_is_in_another_unit():
    shaft = np.where(T > 20, RPM, 0)
    heat = np.where(T > 20, EGT, 15)
    assert doubted({"Shaft speed (rpm)": shaft, "EGT (°C)": heat}) == set()
    assert doubted({"Shaft speed (rpm)": shaft, "EGT (°C)": heat + 273.15}) == {"EGT (°C)"}


def test_the_sum_of_two_packs_is_no_third():
    log = {"Rx1 (A)": AMPS, "Rx2 (A)": AMPS[::-1], "Battery (A)": AMPS + AMPS[::-1]}
    assert "Battery (A)" in doubted(log)
    assert doubted({"Tank left (ml)": 2000 - USED, "Tank right (ml)": 2100 - USED, "Fuel used total (ml)": USED}) == {
        "Fuel used total (ml)"
    }


def test_a_column_that_a_third_bears_out_is_not_blamed():
    log = {"Fuel flow (ml/min)": FLOW, "Fuel used (ml)": USED / 1000, "Fuel remaining (ml)": 3000 - USED}
    assert doubted(log) == {"Fuel used (ml)"}


def test_a_unit_that_the_values_chose_needs_another_column_to_bear_it_out():
    # 20 to 26 under "RPM" could be thousands; beside an exhaust that goes its own way they are not.
    assert doubted({"RPM": 23 + 3 * np.sin(T / 29), "EGT (°C)": EGT}) == {"RPM"}
    assert doubted({"RPM": RPM / 1000, "EGT (°C)": EGT}) == set()


@pytest.mark.parametrize(("heading", "values"), [
    ("Pump (%)", 0.3 + 0.2 * np.sin(T)), ("OAT (°C)", 66 + 2 * np.sin(T)), ("EGT (°C)", 1000 + 180 * np.sin(T)),
    ("Heading (°)", 3.1 + 3 * np.sin(T)),
])  # fmt: skip
def test_values_that_another_unit_explains_are_asked(heading, values):
    columns, made = look({heading: values, "Airspeed (m/s)": SPEED})
    assert not sure(columns[heading]) or any(heading in q.columns for q in made.questions)


def test_a_word_that_columns_share_may_be_another_system():
    columns, made = look({"Zorp (V)": VOLTS, "Zorp (A)": AMPS, "RPM": RPM})
    assert {h for q in made.questions for h in q.columns} == {"Zorp (V)", "Zorp (A)"}
    assert sure(columns["RPM"])


@pytest.mark.parametrize(("heading", "no", "yes", "asked"), [
    ("Gear", "0", "1", False), ("Gear", "1", "0", True), ("Gear up", "1", "0", True), ("Gear up", "0", "1", True),
    ("Fahrwerk", "aus", "ein", False), ("Fahrwerk", "ein", "aus", True), ("Tren (%)", "0", "100", False),
])  # fmt: skip
def test_an_aircraft_stands_on_its_gear(heading, no, yes, asked):
    """Down while the aircraft stands, up while it flies fast; the other way round is asked, never taken."""
    seconds = np.arange(200) * 0.5
    flying = (seconds > 30) & (seconds < 80)
    speed = np.where(flying, 40.0 + 5.0 * np.sin(seconds), 0.0)
    rows = [f"{t:.1f},{no if f else yes},{s:.1f}" for t, f, s in zip(seconds, flying, speed, strict=True)]
    text = "\n".join([f"time_s,{heading},Airspeed (m/s)", *rows])
    made = plan(io.BytesIO(text.encode()), name="log.csv")
    gear = next(c for c in made.columns if c.heading == heading)
    assert gear.channel == "control.gear"
    assert any(heading in q.columns for q in made.questions) is asked
