"""The certainty that is shown is honest: on logs it was not fitted on, what is taken unasked is as right as it says.

The shares are compared with ``sklearn.calibration.calibration_curve``; the intervals are those of Clopper and Pearson.
"""

import tomllib

import numpy as np
import pytest
from sklearn.calibration import calibration_curve

from importers.meaning import certainty, columns
from importers.meaning.witness import numbers
from tests.importers import certainty_fit


@pytest.fixture(scope="module")
def held():
    return certainty_fit.shown("fresh", every=2, seed=1)


def test_what_is_taken_unasked_is_as_right_as_it_says(held):
    sure, right = held
    taken = sure >= certainty.ASK_BELOW
    assert taken.sum() > 200
    for low, _, n, mean, _, _, high in certainty_fit.reliability(sure, right):
        if low >= certainty.ASK_BELOW:
            assert high >= mean, (low, n)
    assert right[taken].mean() >= sure[taken].mean() - 0.005


def test_what_is_asked_is_worth_asking(held):
    sure, right = held
    asked = sure < certainty.ASK_BELOW
    assert asked.sum() > 20
    assert right[asked].mean() < certainty.ASK_BELOW
    assert sure[right].mean() > sure[~right].mean() + 0.3


def test_what_is_shown_below_the_threshold_holds_as_well(held):
    below = [r for r in certainty_fit.reliability(*held) if r[1] <= certainty.ASK_BELOW]
    assert len(below) == 2
    for low, high, n, mean, share, least, most in below:
        assert least <= mean <= most, (low, high, n, share)


def test_the_shares_are_those_of_a_general_library(held):
    sure, right = held
    theirs, shown = calibration_curve(right, sure, n_bins=5, strategy="uniform")
    edges = np.linspace(0.0, 1.0, 6)
    at = np.clip(np.searchsorted(edges[1:-1], sure), 0, 4)  # as that function bins
    ours = [right[at == i].mean() for i in range(5) if (at == i).any()]
    means = [sure[at == i].mean() for i in range(5) if (at == i).any()]
    np.testing.assert_allclose(ours, theirs)
    np.testing.assert_allclose(means, shown)


def test_the_threshold_follows_from_what_a_wrong_column_costs():
    # At the threshold the expected loss of taking a column is that of one question.
    assert pytest.approx(1.0) == (1.0 - certainty.ASK_BELOW) * certainty.WRONG_COSTS


def test_the_weights_are_data_with_how_they_were_made():
    text = certainty_fit.TARGET.read_text(encoding="utf-8")
    assert "certainty_fit" in text
    made = tomllib.loads(text)
    assert made["bias"] > 0
    assert all(w <= 0 for k, w in made["weights"].items() if k not in certainty_fit.SPEAKS_FOR)
    for key in ("unknown", "foreign", "contradicted", "odd"):  # each alone takes a column below the threshold
        assert certainty.weights()({"unit_said": 1.0, key: 1.0}) < certainty.ASK_BELOW


def sure_of(heading, values):
    found = columns.match(columns.dissect(heading), seen=numbers(values))
    return found.channel, found.confidence >= certainty.ASK_BELOW and not found.ask


RISE = np.linspace(0.0, 1.0, 200)
WAVE = np.sin(9 * RISE)


@pytest.mark.parametrize(("heading", "values", "channel"), [
    ("Right fuel left (ml)", 2900 - 2000 * RISE, "fuel.right.remaining_ml"),
    ("rx2 B1 RSSI", -60 - 9 * WAVE, "link.rx2.antenna1_rssi_dbm"),
    ("Rx1 3 RSSI", -60 - 9 * WAVE, "link.rx1.antenna3_rssi_dbm"),
    ("Climb rate (m/s)", 8 * WAVE, "motion.vario_m_s"),
    ("RPM x100", 330 + 700 * RISE, "engine.main.speed_rpm"),
    ("Temperatura scarico sinistra (°C)", 520 + 90 * WAVE, "engine.left.egt_c"),
    ("Giri motore destro", 60_000 + 40_000 * WAVE, "engine.right.speed_rpm"),
    ("exhaustTempC", 520 + 90 * WAVE, "engine.main.egt_c"),
    ("Spannung Empfaenger 1 V", 8.2 - 0.5 * RISE, "pack.rx1.voltage_v"),
])  # fmt: skip
def test_plain_headings_are_taken(heading, values, channel):
    assert sure_of(heading, values) == (channel, True)


@pytest.mark.parametrize(("heading", "values"), [
    ("Zorp battery (V)", 8.2 - 0.5 * RISE), ("RSSI A", -60 - 9 * WAVE), ("Rx1 volts", 819 - 30 * RISE),
    ("Motor current (A)", 3 + WAVE), ("Fuel remaining (ml)", 20 + 2000 * RISE), ("EGT", 3000 + 900 * WAVE),
    ("Voltage", 8.2 - 0.5 * RISE), ("Rx1 RSSI (dBm)", 60 + 9 * WAVE),
])  # fmt: skip
def test_what_is_not_understood_or_contradicted_is_never_sure(heading, values):
    channel, sure = sure_of(heading, values)
    assert not channel.startswith("extra.")
    assert not sure


@pytest.mark.parametrize("heading", [
    "RPM limit", "Max EGT", "Tank size (ml)", "Fuel alarm", "Servo current (A)", "Gyro gain", "Starter rpm",
    "Smoke pump (V)",
    "Bay temp (°C)", "Temperatura massima scarico (°C)", "Grenzwert Drehzahl",
    "Température max (°C)", "Avg RSSI", "Roll rate (deg/s)",
])  # fmt: skip
def test_limits_and_other_systems_are_extras_with_their_reason(heading):
    found = columns.match(columns.dissect(heading), seen=numbers(500 + 40 * WAVE))
    assert found.channel.startswith("extra.")
    assert any(w in str(found.reason) for w in ("limit", "another system", "worked out"))
