"""Slips of the pen in headings: read as the known word that is near, where the values bear it out; else asked.

The slips are drawn for each seed by rules of their own, not the code's: a letter doubled, dropped, replaced by its
neighbour on a keyboard, or two changed about.
"""

import random

import numpy as np
import pytest

from importers.meaning.spelling import near
from importers.meaning.words import meanings
from tests.importers.test_tags import SENSORS, flight, planned

WORDS = {
    "en": "temperature receiver exhaust latitude airspeed voltage battery", "de": "spannung drehzahl abgas empfanger",
    "fr": "temperature vitesse regime recepteur", "it": "pressione temperatura ricevente tensione",
    "es": "velocidad temperatura receptor tension",
}  # fmt: skip
BESIDE = dict(zip("qwertyuiopasdfghjklzxcvbnm", "wqewrtyuioasasdfghjxzxcvbn", strict=True))


def slip(word, rng):
    """The word with one slip behind its first letter."""
    at = rng.randrange(1, len(word) - 1)
    way = rng.choice(["double", "drop", "beside", "swap"])
    made = {
        "double": word[:at] + word[at] + word[at:], "drop": word[:at] + word[at + 1 :],
        "beside": word[:at] + BESIDE[word[at]] + word[at + 1 :],
        "swap": word[:at] + word[at + 1] + word[at] + word[at + 2 :],
    }  # fmt: skip
    return made[way]


@pytest.mark.parametrize("language", WORDS)
def test_a_slip_means_what_the_word_means_or_nothing(language):
    rng = random.Random(language)
    known = 0
    for word in WORDS[language].split() * 12:
        wrong = slip(word, rng)
        if wrong == word or meanings(wrong):
            continue
        read = near(wrong)
        assert not read or meanings(read) == meanings(word), (word, wrong, read)
        known += bool(read)
    assert known > 20


@pytest.mark.parametrize("language", SENSORS)
def test_values_bear_a_slip_out_or_it_is_asked(language):
    rng = random.Random(f"slips {language}")
    values, words = flight(4), SENSORS[language]
    for channel, (name, unit) in words.items():
        longest = max(name.split(), key=len)
        wrong = slip(longest.lower(), rng)
        heading = f"{name.replace(longest, wrong)} [{unit}]"
        right = planned({heading: values[channel], "Shaft (rpm)": flight(9)["engine.main.speed_rpm"]})
        at = {c.heading: c for c in right.columns}[heading]
        asked = any(heading in q.columns for q in right.questions)
        assert asked or at.channel == channel or at.channel.startswith("extra."), heading
    odd = planned({"Exaust temprature (C)": np.linspace(1, 9, 160), "Shaft (rpm)": values["engine.main.speed_rpm"]})
    at = {c.heading: c for c in odd.columns}["Exaust temprature (C)"]
    assert at.channel.startswith("extra.") or any(at.heading in q.columns for q in odd.questions)


@pytest.mark.parametrize(("heading", "channel"), [
    ("Empfängerspanung (V)", "pack.rx.voltage_v"), ("Wellendrehzal (1/min)", "engine.main.speed_rpm"),
    ("Abgastemperatr (°C)", "engine.main.egt_c"), ("Kraftstofdurchfluss (ml/min)", "fuel.main.flow_ml_per_min"),
])  # fmt: skip
def test_a_slip_in_a_part_of_a_compound(heading, channel):
    values = flight(6) | {"pack.rx.voltage_v": flight(6)["pack.rx1.voltage_v"]}
    assert {c.heading: c.channel for c in planned({heading: values[channel]}).columns}[heading] == channel


def test_no_word_is_so_long_that_it_takes_time():
    assert near("q" * 100_000) == near("voltag" * 200) == ""


def test_words_of_other_things_are_no_slips():
    for word in ("tower", "rover", "zorp", "plane", "clutch", "water"):
        assert near(word) == ""


def test_a_plural_may_have_a_slip_and_a_card_is_no_limit():
    assert meanings(near("consomes")) == ("used",)
    assert near("carte") == ""


@pytest.mark.parametrize(("heading", "channel"), [
    ("Qualité lien montant (%)", "link.main.link_quality_percent"), ("rssi_bajada_dBm", "downlink.main.rssi_dbm"),
    ("RSSI descendant (dBm)", "downlink.main.rssi_dbm"), ("RSSI discesa (dBm)", "downlink.main.rssi_dbm"),
    ("altitud_msnm", "position.altitude_m"), ("Vertical speed up (cm/s)", "motion.vario_m_s"),
    ("Vertikalgeschwindigkeit aufwärts (cm/s)", "motion.vario_m_s"),
])  # fmt: skip
def test_which_way_a_link_or_a_climb_goes_is_no_word_of_its_own(heading, channel):
    rng = np.random.default_rng(5)
    values = {"%": 92 + rng.integers(0, 8, 160), "m": -75 + rng.integers(0, 9, 160), "_": 480 + np.linspace(0, 90, 160),
              "s": 300 * np.sin(np.linspace(0, 20, 160))}  # fmt: skip
    kind = "%" if "%" in heading else "m" if "dBm" in heading else "_" if "_" in heading else "s"
    found = planned({heading: values[kind], "Shaft (rpm)": flight(9)["engine.main.speed_rpm"]})
    assert {c.heading: c.channel for c in found.columns}[heading] == channel
    assert not any(heading in q.columns for q in found.questions)
