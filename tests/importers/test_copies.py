"""Extremes, smoothed copies, marks of goodness and raw counts beside a measurement are kept aside without a question.

The logs are drawn anew for each seed; words in five languages, common practice, no source.
"""

import io
import random

import numpy as np
import pytest

from importers.layout.codes import LayoutCode
from importers.plan import plan
from tests.importers.test_tags import ROWS, flight, found, planned

NAMES = {
    "en": ("Exhaust temp", "degC", "Shaft speed", "rpm"), "de": ("Abgastemperatur", "°C", "Wellendrehzahl", "1/min"),
    "fr": ("Température échappement", "°C", "Régime turbine", "tr/min"),
    "it": ("Temperatura scarico", "°C", "Giri turbina", "giri/min"),
    "es": ("Temperatura escape", "°C", "Revoluciones turbina", "rpm"),
}  # fmt: skip
WORDS = {
    "en": ("hi", "lo", "filtered", "valid", "live"), "de": ("hoch", "tief", "gefiltert", "gültig", "ist"),
    "fr": ("haut", "bas", "filtré", "valide", "réel"), "it": ("alta", "bassa", "filtrata", "valida", "effettiva"),
    "es": ("alta", "baja", "filtrada", "válida", "actual"),
}  # fmt: skip


@pytest.mark.parametrize("language", NAMES)
@pytest.mark.parametrize("seed", range(2))
def test_the_actual_value_is_the_measurement(language, seed):
    rng = random.Random(f"{language}{seed}")
    values, (exhaust, unit, shaft, rpm) = flight(seed), NAMES[language]
    high, low, smooth, valid, actual = WORDS[language]
    egt, n = values["engine.main.egt_c"], values["engine.main.speed_rpm"]
    smoothed = np.convolve(np.pad(egt, (4, 0), "edge"), np.full(5, 0.2), "valid").round(1)
    word = rng.choice([f" {actual}", ""])
    columns = {
        f"{exhaust}{word} ({unit})": egt, f"{exhaust} {high} ({unit})": np.maximum.accumulate(egt),
        f"{exhaust} {low} ({unit})": np.minimum.accumulate(egt), f"{exhaust} {smooth} ({unit})": smoothed,
        f"{exhaust} {valid}": np.ones(ROWS, int), f"{shaft} ({rpm})": n,
    }  # fmt: skip
    headings = list(columns)
    drawn = rng.sample(headings, len(headings))
    channels = found({h: columns[h] for h in drawn})
    assert channels[headings[0]] == "engine.main.egt_c"
    assert channels[headings[-1]] == "engine.main.speed_rpm"
    assert all(channels[h].startswith("extra.") for h in headings[1:-1])


def test_each_says_what_it_is_of_which_column():
    values = flight(7)
    egt = values["engine.main.egt_c"]
    p = planned({"EGT raw (C)": egt, "EGT lp (C)": np.round(egt, 0), "EGT adc": np.rint(egt * 3.1).astype(int),
                 "Shaft ok": np.ones(ROWS, int), "Shaft (rpm)": values["engine.main.speed_rpm"]})  # fmt: skip
    reasons = {c.heading: (c.reason.code, c.reason.values["heading"]) for c in p.columns if c.channel[:5] == "extra"}
    assert reasons == {
        "EGT lp (C)": (LayoutCode.SMOOTHED_FROM, "EGT raw (C)"), "EGT adc": (LayoutCode.COUNTS_OF, "EGT raw (C)"),
        "Shaft ok": (LayoutCode.GOODNESS_OF, "Shaft (rpm)"),
    }  # fmt: skip
    assert not p.questions


@pytest.mark.parametrize("words", [("Luftdruck", "hPa"), ("Static pressure", "hPa"), ("Pression air", "hPa")])
def test_a_pressure_that_is_set_is_no_measurement(words):
    name, unit = words
    air = 1013.2 - 0.05 * np.abs(np.arange(ROWS) - 80).round(1)
    channels = found({f"{name} QNH ({unit})": np.full(ROWS, 1019), f"{name} ({unit})": air})
    assert channels[f"{name} ({unit})"] == "air.pressure_pa"
    assert channels[f"{name} QNH ({unit})"].startswith("extra.")


def test_marks_of_goodness_are_read_as_what_they_are():
    egt = flight(3)["engine.main.egt_c"]
    for marks, kind in ((np.where(np.arange(ROWS) % 40, "Good", "Bad"), "text"), (np.arange(ROWS) % 2, "number")):
        p = planned({"EGT (C)": egt, "EGT quality": marks})
        at = {c.heading: c for c in p.columns}["EGT quality"]
        assert (at.channel, at.kind, at.reason.code) == ("extra.egt_quality", kind, LayoutCode.GOODNESS_OF)


@pytest.mark.parametrize("sensors", [("EGT", "EGT hi", "EGT valid"), ("Abgas", "Abgas hoch", "Abgas gültig")])
def test_so_it_is_in_a_long_table(sensors):
    exhaust, high, valid = sensors
    egt = flight(2)["engine.main.egt_c"]
    most = np.maximum.accumulate(egt)
    rows = [f"{i / 5};{name};{value};{unit}" for i in range(ROWS)
            for name, value, unit in ((exhaust, egt[i], "°C"), (high, most[i], "°C"), (valid, 1, ""))]  # fmt: skip
    text = "time s;sensor;value;uom\n" + "\n".join(rows)
    p = plan(io.BytesIO(text.encode()), name="long.csv")
    assert not p.questions
    found = {c.heading: (c.channel, getattr(c.reason, "code", "")) for c in p.columns}
    assert found[exhaust][0] == "engine.main.egt_c"
    assert found[high] == (f"extra.{high.lower().replace(' ', '_')}", LayoutCode.EXTREME_OF)
    assert found[valid][1] == LayoutCode.GOODNESS_OF


def test_of_two_speeds_the_one_that_the_way_bears_out_counts():
    x = np.arange(ROWS)
    speed = 20 + 8 * np.sin(x / 15)
    course = x / 25
    lat = 47 + np.cumsum(speed * np.cos(course)) * 0.2 / 111_195
    lon = 8 + np.cumsum(speed * np.sin(course)) * 0.2 / (111_195 * np.cos(np.radians(47)))
    p = planned({"Lat": np.round(lat, 7), "Lon": np.round(lon, 7), "GS (km/h)": np.round(speed * 3.6, 2),
                 "Gs": np.round(1 + 0.4 * np.sin(x / 9), 2)})  # fmt: skip
    channels = {c.heading: c.channel for c in p.columns}
    assert channels["GS (km/h)"] == "position.ground_speed_m_s"
    assert channels["Gs"].startswith("extra.")
    assert not p.questions


def test_values_contradict_what_is_no_extreme_and_no_copy():
    values = flight(8)
    one, other = values["pack.rx1.voltage_v"], values["pack.rx2.voltage_v"] + 3.0
    crossing = one + np.where(np.arange(ROWS) % 2, 0.4, -0.4)
    for heading, x in (("Rx voltage low (V)", crossing), ("Rx voltage filtered (V)", other)):
        p = planned({"Rx voltage (V)": one, heading: x})
        said = {c.heading: getattr(c.reason, "code", "") for c in p.columns}
        assert said[heading] not in (LayoutCode.EXTREME_OF, LayoutCode.SMOOTHED_FROM)


AIRSPEEDS = [
    ("IAS (m/s)", "CAS (m/s)"), ("Airspeed indicated (m/s)", "Airspeed true (m/s)"),
    ("Fahrt (m/s)", "wahre Fahrt (m/s)"),
    ("Velocità indicata (m/s)", "Velocità vera (m/s)"), ("KIAS", "KTAS"), ("Vitesse air m/s", "Vitesse vraie m/s"),
]  # fmt: skip


@pytest.mark.parametrize(("shown", "corrected"), AIRSPEEDS)
def test_of_two_airspeeds_the_indicated_one_is_the_measurement(shown, corrected):
    fast = flight(4)["motion.airspeed_m_s"]
    p = planned({corrected: np.round(1.04 * fast, 1), shown: fast})
    at = {c.heading: c for c in p.columns}
    assert not p.questions
    assert at[shown].channel == "motion.airspeed_m_s"
    assert at[corrected].reason.code == LayoutCode.CORRECTED_FROM


def test_a_true_airspeed_alone_is_the_airspeed():
    fast = flight(4)["motion.airspeed_m_s"]
    assert found({"TAS (m/s)": fast})["TAS (m/s)"] == "motion.airspeed_m_s"
    assert found({"Vitesse vraie (m/s)": fast})["Vitesse vraie (m/s)"] == "motion.airspeed_m_s"


OTHER_UNITS = [
    ("alt_m", "alt_ft", 1 / 0.3048, 0.0), ("Höhe [m]", "Höhe [ft]", 1 / 0.3048, 0.0), ("OAT C", "OAT F", 1.8, 32.0),
    ("ground_speed_ms", "ground_speed_kmh", 3.6, 0.0), ("Rx1 V", "Rx1 mV", 1000.0, 0.0),
]  # fmt: skip


@pytest.mark.parametrize(("heading", "again", "times", "more"), OTHER_UNITS)
@pytest.mark.parametrize("first", [True, False])
def test_the_same_in_another_unit_is_no_second_measurement(heading, again, times, more, first):
    x = np.round(22 + 6 * np.sin(np.arange(ROWS) / 11), 2)
    both = {heading: x, again: np.round(times * x + more, 1)}
    p = planned(both if first else dict(reversed(both.items())))
    kept = [c for c in p.columns if c.channel.startswith("extra.")]
    assert not p.questions
    assert [c.reason.code for c in kept] == [LayoutCode.OTHER_UNIT_OF]


def test_what_differs_beyond_the_unit_is_asked():
    x = np.round(322 + 60 * np.sin(np.arange(ROWS) / 11), 2)
    p = planned({"alt_m": x, "alt_ft": np.round(x / 0.3048 + 300, 1)})
    assert {h for q in p.questions for h in q.columns} == {"alt_m", "alt_ft"}


@pytest.mark.parametrize("word", ["adc", "counts", "digits"])
def test_counts_of_a_converter_are_so_however_near_the_value(word):
    egt = flight(5)["engine.main.egt_c"]
    p = planned({"EGT (C)": egt, f"EGT {word}": np.rint(egt * 1.04 + 11).astype(int)})
    assert not p.questions
    assert {c.heading: getattr(c.reason, "code", "") for c in p.columns}[f"EGT {word}"] == LayoutCode.COUNTS_OF
