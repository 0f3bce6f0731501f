"""Extremes, smoothed copies, marks of goodness and raw counts beside a measurement are kept aside without a question.

The logs are drawn anew for each seed; words in five languages, common practice, no source.
"""

import random

import numpy as np
import pytest

from importers.layout.codes import LayoutCode
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


def test_values_contradict_what_is_no_extreme_and_no_copy():
    values = flight(8)
    one, other = values["pack.rx1.voltage_v"], values["pack.rx2.voltage_v"] + 3.0
    crossing = one + np.where(np.arange(ROWS) % 2, 0.4, -0.4)
    for heading, x in (("Rx voltage low (V)", crossing), ("Rx voltage filtered (V)", other)):
        p = planned({"Rx voltage (V)": one, heading: x})
        said = {c.heading: getattr(c.reason, "code", "") for c in p.columns}
        assert said[heading] not in (LayoutCode.EXTREME_OF, LayoutCode.SMOOTHED_FROM)
