"""The hands keep their own rules: the same bytes each time, whole truth, both halves of every kind.

How the importer does on them is measured by ``python -m tests.importers.hands.score``.
"""

from __future__ import annotations

import hashlib
from collections import Counter
from datetime import UTC, datetime

import numpy as np
import pint
import pytest

from analyser.core.channels import VOCABULARY
from tests.importers.hands.clocks import gps
from tests.importers.hands.logs import hands, logs
from tests.importers.hands.mutate import CHANGES, sheet
from tests.importers.hands.pages import write
from tests.importers.hands.score import same_values
from tests.importers.hands.truth import SCALES, Accept, fits

LOGS = logs("all")
COLUMNS = [c for log in LOGS for c in log.columns if not c.clock]


def test_there_are_enough_of_them():
    assert len(LOGS) >= 160
    assert len(COLUMNS) >= 1000
    assert len({log.name for log in LOGS}) == len(LOGS)
    assert len({h.name for h in hands()}) == len(hands())
    for half in ("open", "held", "sealed"):
        assert len(hands(half)) >= 15
        assert Counter(log.language for log in logs(half)).keys() >= {"en", "de", "fr", "es", "it"}
        columns = [c for log in logs(half) for c in log.columns if not c.clock]
        assert sum(not c.trap for c in columns) >= 500
        assert sum(bool(c.trap) for c in columns) >= 300


def test_the_same_number_gives_the_same_bytes():
    for hand in hands():
        again = write(hand, 1)
        assert hashlib.sha256(again.data).digest() == hashlib.sha256(write(hand, 1).data).digest()
        assert again.data != write(hand, 2).data


def test_truth_is_whole():
    known = {(c.subject, c.quantity) for c in VOCABULARY}
    ranges = {(c.subject, c.quantity): (c.low, c.high) for c in VOCABULARY}
    for log in LOGS:
        for c in log.columns:
            assert c.clock or c.extra or c.accepts, (log.name, c.heading)
            for a in c.accepts:
                quantity = f"antenna<n>_{a.quantity}" if a.antenna else a.quantity
                quantity = "cell<n>_v" if quantity.startswith("cell") else quantity
                assert (a.subject, quantity) in known, (log.name, a.target)
                low, high = ranges[a.subject, quantity]
                values = a.values[np.isfinite(a.values)]
                assert values.size >= 0.25 * a.values.size
                if not a.target.startswith("bus"):
                    assert low <= values.min() <= values.max() <= high, (log.name, c.heading)


def test_every_column_is_in_its_file():
    for log in LOGS:
        text = log.data.decode(next(h.encoding for h in hands() if h.name == log.hand))
        lines = text.splitlines()
        assert 60 <= len(lines) <= 400 * (10 if log.shape in ("long", "turns") else 1)
        for c in log.columns:
            assert c.heading.rpartition("|")[2] in text, (log.name, c.heading)


def test_clocks_run_and_their_truth_starts_at_nought():
    for log in LOGS:
        seconds = log.clock.seconds
        assert seconds[0] == 0.0
        assert np.all(np.diff(seconds) > 0)
        assert 5.0 < seconds[-1] < 500.0
        assert not (log.clock.utc and log.clock.local)


def test_gps_time_is_ahead_of_utc():
    """IS-GPS-200: weeks from Sunday 1980-01-06; 18 leap seconds since 2017 (IERS Bulletin C 52).

    Counted on the calendar: 2024-06-09 is a Sunday, 16,226 days or 2,318 weeks later; six and a half days on, it is
    561,600 s, and 18 more.
    """
    week, second = gps(datetime(2024, 6, 15, 12, tzinfo=UTC))
    assert week == 2318
    assert second == pytest.approx(561_618.0)


REGISTRY = pint.get_application_registry()
UNITS = {
    "mph": ("mile / hour", "m/s"), "kt": ("knot", "m/s"), "km/h": ("km / hour", "m/s"), "ft": ("foot", "m"),
    "ft/min": ("foot / minute", "m/s"), "floz": ("US_fluid_ounce", "mL"), "l/h": ("liter / hour", "mL/minute"),
    "inHg": ("inch_Hg", "Pa"), "psi": ("psi", "Pa"), "hPa": ("hPa", "Pa"), "kPa": ("kPa", "Pa"), "mmHg": ("mmHg", "Pa"),
    "F": ("degF", "degC"), "K": ("kelvin", "degC"), "g": ("standard_gravity", "m/s**2"), "rad": ("radian", "degree"),
    "Ah": ("Ah", "mAh"), "Hz": ("hertz", "1/minute"),
}  # fmt: skip


@pytest.mark.parametrize("unit", UNITS)
def test_our_factors_are_those_of_a_registry(unit):
    """Pint's registry, to the digits that its inch of mercury has."""
    written, canonical = UNITS[unit]
    factor, offset = SCALES[unit]
    got = REGISTRY.Quantity(250.0, written).to(canonical).magnitude
    assert 250.0 * factor + offset == pytest.approx(got, rel=2e-5)


@pytest.mark.parametrize(("subject", "said", "instance", "right"), [
    ("pack", "rx1", "rx1", True), ("pack", "rx1", "empf1", False), ("pack", "rx1", "rx2", False),
    ("pack", "rx_a", "rx_a", True), ("pack", "rx_a", "rx1", True), ("pack", "rx_a", "rx_b", False),
    ("fuel", "right", "right", True), ("fuel", "right", "right_left", False), ("fuel", "2", "2_left", False),
    ("engine", "main", "main", True), ("engine", "main", "limit", False), ("engine", "left", "l", True),
    ("pack", "ecu", "rx", False), ("pack", "ecu", "ecu", True), ("pack", "any1", "whatever", True),
])  # fmt: skip
def test_a_name_says_what_the_hand_said(subject, said, instance, right):
    assert fits(subject, said, instance) is right


def test_values_are_told_apart():
    true = np.linspace(0.0, 100.0, 200)
    assert same_values(true, true[::-1])
    assert same_values(true, np.delete(true, [50, 51, 120]))
    for wrong in (true * 1.05, true + 1.0, -true, true[:100], true * 10):
        assert not same_values(true, wrong)
    assert Accept("link.rx1.antenna:B1.rssi_dbm", true).antenna == "B1"


@pytest.mark.parametrize("kind", CHANGES)
def test_a_change_touches_what_it_says(kind):
    log = next(log for log in logs("open") if log.name == "imperial hobbyist 3")
    before = sheet(log)
    assert before.whole().data == log.data
    some = list(CHANGES[kind](before, np.random.default_rng(1)))
    assert some
    for after in some:
        lost = kind == "dropped"
        assert len(after.columns) == len(before.columns) - lost == len(after.rows[0])
        assert {c.heading for c in after.columns} == {*after.rows[0]}
        rest = [r[1:] for r in after.rows[1:]] if kind in ("renamed", "swapped") else []
        assert not rest or rest == [r[1:] for r in before.rows[1:]]
        assert after.whole().data != log.data
