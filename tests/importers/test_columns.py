"""Headings in four languages and many habits to channels; what is ambiguous is asked."""

import io

import pytest

from importers.meaning import columns
from importers.plan import plan


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
        ("Gas generator speed (rpm)", 120_000.0, "engine.main.speed_rpm"),
        ("R.P.M.", 120_000.0, "engine.main.speed_rpm"),
        ("Vitesse de rotation de la turbine (tours/min)", 120_000.0, "engine.main.speed_rpm"),
        ("Engine revs in thousands per minute", 120.0, "engine.main.speed_rpm"),
        ("Température d'éjection en °C", 650.0, "engine.main.egt_c"),
        ("exhaust_gas_temp_k", 920.0, "engine.main.egt_c"),
        ("T° ambiante (°C)", 25.0, "air.temperature_c"),
        ("Current height (ft)", 400.0, "position.height_m"),
        ("Current revs", 120_000.0, "engine.main.speed_rpm"),
        ("Alt AGL (ft)", 400.0, "position.height_m"),
        ("link.downlink.rssi_dbm", -40.0, "downlink.main.rssi_dbm"),
        ("Telemetry RSSI at transmitter [dBm]", -40.0, "downlink.main.rssi_dbm"),
        ("Gasvorgabe Pilot (%)", 100.0, "control.throttle_percent"),
        ("Heading bug (deg)", 350.0, "extra.heading_bug_deg"),
        ("TOT margin (°C)", 300.0, "extra.tot_margin_c"),
        ("phone.pressure_hpa", 980.0, "extra.phone_pressure_hpa"),
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


@pytest.mark.parametrize(
    "heading",
    ["Simulated EGT left (C)", "EGT simulée (°C)", "Previous flight EGT (C)", "Abgas letzter Flug (°C)",
     "EGT vuelo anterior (°C)",
     "Selected heading", "speed bug (km/h)", "altitude preselect (m)", "gewählte Höhe (m)", "quota selezionata (m)",
     "ECU cut-out (V)", "Rx tension de coupure (V)", "brake pressure", "Temperatura freni (°C)",
     "Elevator servo current (A)",
     "Antenna in use", "verwendete Antenne", "antenna in uso"],
)  # fmt: skip
def test_what_is_not_measured_now_is_no_channel(heading):
    assert channel(heading, 1.0, 3.0).startswith("extra.")
    assert channel(heading, 250.0, 640.0).startswith("extra.")


@pytest.mark.parametrize(
    ("heading", "high", "wanted"),
    [("Own left EGT (C)", 650.0, "engine.left.egt_c"), ("eigene Höhe über Platz (m)", 120.0, "position.height_m"),
     ("Carburant utilisé ce vol (ml)", 900.0, "fuel.main.used_ml"),
     ("Verbrauch dieses Flugs (ml)", 900.0, "fuel.main.used_ml"),
     ("Volumenstrom volumetrisch Kraftstoff (ml/min)", 400.0, "fuel.main.flow_ml_per_min"),
     ("Geschwindigkeit gegenüber der Luft (m/s)", 60.0, "motion.airspeed_m_s"),
     ("speed relative to the air (m/s)", 60.0, "motion.airspeed_m_s"),
     ("rég. de montée (m/s)", 9.0, "motion.vario_m_s"),
     ("Régimen de descenso (m/s)", 9.0, "motion.vario_m_s"), ("Trw. links Abgas (°C)", 650.0, "engine.left.egt_c")],
)  # fmt: skip
def test_words_that_add_nothing_leave_the_rest_as_it_is(heading, high, wanted):
    assert channel(heading, 0.0, high) == wanted


def test_a_few_losses_of_an_antenna_are_losses():
    """Small whole numbers number the antennas in "Antenna in use", and count where losses are said."""
    lines = ["time_s,Antenna in use,Rx1 Antenna 2 Lost", *(f"{n / 5},{1 + n // 7 % 2},{n // 50}" for n in range(150))]
    made = plan(io.BytesIO("\n".join(lines).encode()), name="log.csv")
    found = {c.heading: c.channel for c in made.columns}
    assert found["Rx1 Antenna 2 Lost"] == "link.rx1.antenna2_lost"
    assert found["Antenna in use"].startswith("extra.")


@pytest.mark.parametrize("heading", ["Train dehors", "Fahrwerk draußen", "EZFW raus", "carrello fuori"])
def test_a_gear_that_is_out_is_down(heading):
    assert columns.match(columns.dissect(heading), flags=True).channel == "control.gear"


@pytest.mark.parametrize(
    ("heading", "values", "wanted", "factor"),
    [("oat_c_x10", [151, 160, 171], "air.temperature_c", 0.1),
     ("abgas_c_x10", [3300, 6100, 6400], "engine.main.egt_c", 0.1),
     ("pos_lon_x1e7", [112_000_000, 112_100_000], "position.longitude_deg", 1e-7)],
)  # fmt: skip
def test_a_factor_behind_the_unit_is_understood(heading, values, wanted, factor):
    lines = [f"time_s,shaft_rpm,{heading}", *(f"{n / 5},{70_000 + n},{values[n % len(values)]}" for n in range(60))]
    made = plan(io.BytesIO("\n".join(lines).encode()), name="log.csv")
    at = next(c for c in made.columns if c.heading == heading)
    assert (at.channel, float(at.factor.num)) == (wanted, pytest.approx(factor))
