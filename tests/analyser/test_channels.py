"""The vocabulary: every entry can be named, taken apart again and told from every other."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analyser.core.channels import EXTRA, TIME, VOCABULARY, Between, Channel, label, parse

instances = st.from_regex(r"[a-z0-9][a-z0-9_]{0,12}", fullmatch=True)
numbers = st.integers(1, 99)


def name_of(channel: Channel, instance: str, number: int) -> str:
    quantity = channel.quantity.replace("<n>", str(number))
    return f"{channel.subject}.{instance}.{quantity}" if channel.has_instance else f"{channel.subject}.{quantity}"


@pytest.mark.parametrize("channel", VOCABULARY, ids=lambda c: f"{c.subject}.{c.quantity}")
@given(instance=instances, number=numbers)
@settings(max_examples=10)
def test_every_entry_round_trips(channel: Channel, instance: str, number: int) -> None:
    found = parse(name_of(channel, instance, number))
    assert found is not None
    assert found.channel is channel
    assert found.instance == (instance if channel.has_instance else "")
    assert found.number == (number if "<n>" in channel.quantity else None)


@pytest.mark.parametrize("channel", VOCABULARY, ids=lambda c: f"{c.subject}.{c.quantity}")
def test_every_entry_is_sound(channel: Channel) -> None:
    assert channel.low < channel.high
    assert channel.label
    assert (channel.unit == "bool") <= (channel.between is Between.HOLD)
    # fmt: off
    endings = {"V": "_v", "A": "_a", "mAh": "_mah", "°C": "_c", "mL": "_ml", "mL/min": "_ml_per_min", "rpm": "_rpm",
               "dBm": "_dbm", "%": "_percent", "m": "_m", "m/s": "_m_s", "m/s²": "_m_s2", "°": "_deg", "Pa": "_pa"}
    # fmt: on
    assert channel.quantity.endswith(endings.get(channel.unit, "")), "the unit lives in the name"


def test_no_two_entries_share_a_name() -> None:
    assert len({(c.subject, c.quantity) for c in VOCABULARY}) == len(VOCABULARY)


@pytest.mark.parametrize(
    "name",
    [TIME, f"{EXTRA}.thing", "", "pack.voltage_v", "pack.rx1.voltage", "pack.RX1.voltage_v", "pack._x.voltage_v",
     "pack.rx1.cell0_v", "pack.rx1.cell100_v", "pack.rx1.cell_v", "position.x.latitude_deg", "pack.rx1.voltage_v ",
     "pack.rx1.voltage_v\n", "xpack.rx1.voltage_v", "pack.a.b.voltage_v"],
)  # fmt: skip
def test_what_is_no_channel_is_none(name: str) -> None:
    assert parse(name) is None


@given(st.text(max_size=30))
def test_any_text_is_taken_without_complaint(text: str) -> None:
    assert parse(text) is None or "." in text
    assert label(text) == text.removeprefix(f"{EXTRA}.") or parse(text) is not None


def test_labels_are_plain_words() -> None:
    assert label("pack.rx1.cell2_v") == "Cell voltage 2, rx1"
    assert label("position.altitude_m") == "Altitude"
    assert label("extra.smoke") == "smoke"
