"""Headings in four languages and many habits to channels; what is ambiguous is asked."""

import pytest

from importers.meaning import columns


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


@pytest.mark.parametrize("heading", ["Capacity remaining (mAh)", "Restkapazität [mAh]", "Remaining charge (mAh)"])
def test_what_remains_of_a_charge_is_no_charge_used(heading):
    assert channel(heading, 0.0, 2600.0).startswith("extra.")


def test_a_stick_in_raw_counts_is_no_percentage():
    assert channel("Throttle", 0.0, 100.0) == "control.throttle_percent"
    assert channel("Throttle", 988.0, 2012.0) == "extra.throttle"
    found = columns.match(columns.dissect("Throttle"), 0.0, 0.87)
    assert found.ask == ("%", "fraction")


def test_a_tenth_receiver_is_no_factor_of_ten():
    assert columns.dissect("Rx10 RSSI").scale == 0
    assert columns.dissect("Rx10 RSSI").words == ("rx", "10", "rssi")
    assert columns.dissect("EGTx10").scale == 10


@pytest.mark.parametrize(
    ("heading", "high", "wanted"),
    [
        ("Drehzahl der linken Turbine in U/min", 120_000.0, "engine.left.speed_rpm"),
        ("Drehzahl der rechten Turbine in U/min", 120_000.0, "engine.right.speed_rpm"),
        ("Restmenge im linken Tank in ml", 3_600.0, "fuel.left.remaining_ml"),
        ("Kérosène restant à gauche (ml)", 3_600.0, "fuel.left.remaining_ml"),
        ("Millilitres of fuel left in right tank", 3_600.0, "fuel.right.remaining_ml"),
        ("Right motor turns per minute", 120_000.0, "engine.right.speed_rpm"),
        ("Tank 1 (ml left)", 3_600.0, "fuel.1.remaining_ml"),
        ("LH tank: contents (cc)", 3_600.0, "fuel.left.remaining_ml"),
        ("engine-1-egt-c", 650.0, "engine.1.egt_c"),
        ("rx-2-pack-v", 8.4, "pack.rx2.voltage_v"),
    ],
)
def test_words_inflected_or_written_out_are_understood(heading, high, wanted):
    assert channel(heading, 0.0, high) == wanted


@pytest.mark.parametrize(
    ("heading", "high", "wanted"),
    [
        ("Débit Rx B (A)", 4.0, "pack.rx_b.current_a"),
        ("Volumenstrom 1 / (ml/min)", 600.0, "fuel.1.flow_ml_per_min"),
        ("ASI (kts)", 120.0, "motion.airspeed_m_s"),
    ],
)
def test_the_unit_decides_between_two_meanings(heading, high, wanted):
    assert channel(heading, 0.0, high) == wanted
