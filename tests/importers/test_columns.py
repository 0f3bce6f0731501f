"""Headings in four languages and many habits to channels; what is ambiguous is asked."""

import pytest

from importers import columns


def channel(heading, low=0.0, high=5.0, **kw):
    return columns.match(columns.dissect(heading), low, high, **kw).channel


@pytest.mark.parametrize("heading", [
    "Bus Voltage (V)", "Empfängerbus Spannung [V]", "Empfänger Bus Spannung [V]", "Bus récepteur tension (V)",
    "Tension bus (V)", "Voltaje bus (V)", "bus_voltage_V",
])  # fmt: skip
def test_the_bus_is_one_channel_in_every_language(heading):
    assert channel(heading) == "bus.main.voltage_v"


def test_a_numbered_receivers_bus_keeps_its_number():
    assert channel("Rx2 bus voltage (V)") == "bus.rx2.voltage_v"


@pytest.mark.parametrize(
    "heading", ["Vertical Acceleration (m/s²)", "Beschleunigung vertikal [g]", "Acceleration Z [g]"]
)
def test_vertical_acceleration(heading):
    assert channel(heading) == "motion.accel_z_m_s2"


@pytest.mark.parametrize("heading", ["VoltageMV", "voltage_mV", "VoltagemV", "Voltage [mV]", "rx_batt_mV"])
def test_millivolts_as_a_suffix(heading):
    found = columns.match(columns.dissect(heading), 7000.0, 8400.0)
    assert found.channel.startswith("pack.")
    assert found.channel.endswith(".voltage_v")
    assert found.conversion.apply(7400.0) == 7.4
