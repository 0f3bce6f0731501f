"""The sealed hands: a third set, written after the importer had been fitted, with words of its own. It reports only.

Nothing is changed in the importer for what stands here; what it shows goes to a hand of the open half first.
"""

from __future__ import annotations

from tests.importers.hands.pages import Bundle, Hand, Item

I = Item  # noqa: E741

COCKPIT: tuple[Bundle, ...] = (
    (I("Rx main batt (V)", "pack.rx.voltage_v", "V", 2), I("Rx backup batt (V)", "?pack.rx_backup.voltage_v", "V", 2)),
    (
        I("N1 (rpm)", "?engine.main.speed_rpm", "rpm", 0, "abbreviation"),
        I("TOT (°C)", "?engine.main.egt_c", "C", 0, "abbreviation"),
    ),
    (I("Fuel on board (ml)", "fuel.main.remaining_ml", "ml", 0), I("Fuel burned (ml)", "fuel.main.used_ml", "ml", 0)),
    (I("Burn rate (ml/min)", "?fuel.main.flow_ml_per_min", "ml/min", 0),),
    (I("IAS (kt)", "motion.airspeed_m_s", "kt", 0), I("GS (kt)", "position.ground_speed_m_s", "kt", 0)),
    (I("VS (ft/min)", "motion.vario_m_s", "ft/min", 0), I("TRK (°)", "position.track_deg", "deg", 0)),
    (I("Pressure altitude (ft)", "motion.pressure_altitude_m", "ft", 0), I("OAT (°C)", "air.temperature_c", "C", 1)),
    (I("Bank (°)", "?attitude.roll_deg", "deg", 1), I("Pitch (°)", "attitude.pitch_deg", "deg", 1)),
    (I("Bingo fuel (ml)", "-fuel_alarm_ml", "", 0, "limit"), I("Vne (kt)", "-stall_kmh", "", 0, "limit")),
    (I("EGT to spare (°C)", "-egt_alarm", "", 0, "limit"), I("N1 governor (rpm)", "-rpm_target", "", 0, "limit")),
    (I("Hydraulics (bar)", "-air_bar", "", 2, "other system"), I("Avionics bay (°C)", "-bay_c", "", 1, "other system")),
)

STUDENT: tuple[Bundle, ...] = (
    (I("batt_rx_v", "pack.rx.voltage_v", "V", 3), I("batt_rx_a", "pack.rx.current_a", "A", 2)),
    (I("turb_rpm", "engine.main.speed_rpm", "rpm", 0), I("turb_temp_c", "?engine.main.egt_c", "C", 0)),
    (I("fuel_left_ml", "?fuel.main.remaining_ml", "ml", 0, "side or remaining"),),
    (I("batt_ecu_v", "pack.ecu.voltage_v", "V", 3), I("batt_ecu_mah", "?pack.ecu.used_mah", "mAh", 0)),
    (
        I("lat_deg", "position.latitude_deg", "deg", 6),
        I("lon_deg", "position.longitude_deg", "deg", 6),
        I("alt_agl_m", "position.height_m", "m", 1),
    ),
    (
        I("spd_gnd_mps", "?position.ground_speed_m_s", "m/s", 2, "unit in a run of letters"),
        I("hdg_deg", "attitude.heading_deg", "deg", 0),
    ),
    (I("press_mbar", "air.pressure_pa", "hPa", 1), I("temp_air_c", "air.temperature_c", "C", 1)),
    (I("thr_cmd_pct", "control.throttle_percent", "%", 0), I("rud_cmd_pct", "control.rudder_percent", "%", 0)),
    (I("rssi_rx1_dbm", "link.rx1.rssi_dbm", "dBm", 0), I("rssi_rx2_dbm", "link.rx2.rssi_dbm", "dBm", 0)),
    (I("temp_board_c", "-cpu_c", "", 1, "other system"), I("vib_rms_g", "-vibration_g", "", 3, "other system")),
    (I("spd_max_mps", "-speed_max_ms", "", 1, "extreme"), I("rpm_red", "-rpm_limit", "", 0, "limit")),
)

BRACKETED: tuple[Bundle, ...] = (
    (
        I("Volts (Rx1)", "pack.rx1.voltage_v|bus.rx1.voltage_v", "V", 2, "place in brackets"),
        I("Amps (Rx1)", "pack.rx1.current_a|bus.rx1.current_a", "A", 2, "place in brackets"),
        I("Volts (Rx2)", "pack.rx2.voltage_v|bus.rx2.voltage_v", "V", 2, "place in brackets"),
        I("Amps (Rx2)", "pack.rx2.current_a|bus.rx2.current_a", "A", 2, "place in brackets"),
    ),
    (
        I("RPM (turbine)", "engine.main.speed_rpm", "rpm", 0, "place in brackets"),
        I("Temperature (exhaust)", "?engine.main.egt_c", "C", 0, "place in brackets"),
    ),
    (I("ml (fuel remaining)", "?fuel.main.remaining_ml", "ml", 0, "place in brackets"),),
    (
        I("dBm (Rx1)", "?link.rx1.rssi_dbm", "dBm", 0, "place in brackets"),
        I("dBm (Rx2)", "?link.rx2.rssi_dbm", "dBm", 0, "place in brackets"),
    ),
    (I("km/h (GPS)", "?position.ground_speed_m_s", "km/h", 0, "place in brackets"),),
    (I("Volts (smoke)", "-smoke_v", "", 2, "other system"), I("Temperature (nose)", "-bay_c", "", 1, "other system")),
    (I("RPM (max)", "-rpm_max", "", 0, "extreme"), I("Temperature (limit)", "-egt_limit", "", 0, "limit")),
)

COLONS: tuple[Bundle, ...] = (
    (
        I("RX1: V", "pack.rx1.voltage_v|bus.rx1.voltage_v", "V", 2),
        I("RX1: A", "pack.rx1.current_a|bus.rx1.current_a", "A", 2),
        I("RX1: dBm", "link.rx1.rssi_dbm", "dBm", 0),
    ),
    (I("TURBINE: rpm", "engine.main.speed_rpm", "rpm", 0), I("TURBINE: EGT °C", "engine.main.egt_c", "C", 0)),
    (
        I("RX2: V", "pack.rx2.voltage_v|bus.rx2.voltage_v", "V", 2),
        I("RX2: A", "pack.rx2.current_a|bus.rx2.current_a", "A", 2),
        I("RX2: dBm", "link.rx2.rssi_dbm", "dBm", 0),
    ),
    (I("TANK: ml", "?fuel.main.remaining_ml", "ml", 0),),
    (
        I("GPS: km/h", "?position.ground_speed_m_s", "km/h", 0),
        I("GPS: m", "?position.altitude_m", "m", 0),
        I("GPS: sats", "position.satellites", "1", 0),
    ),
    (I("AIR: °C", "?air.temperature_c", "C", 1), I("AIR: hPa", "?air.pressure_pa", "hPa", 1)),
    (I("GYRO: gain %", "-gyro_gain", "", 0, "other system"), I("SERVOS: A", "-servo_a", "", 2, "other system")),
    (I("VTX: V", "-video_v", "", 2, "other system"), I("GROUND: V", "-ground_v", "", 2, "other system")),
)

GERMAN_ENGINE: tuple[Bundle, ...] = (
    (
        I("Akku A Spannung [V]", "pack.a.voltage_v|pack.rx_a.voltage_v", "V", 2),
        I("Akku B Spannung [V]", "pack.b.voltage_v|pack.rx_b.voltage_v", "V", 2),
    ),
    (
        I("Triebwerk Drehzahl [1/min]", "engine.main.speed_rpm", "rpm", 0),
        I("Triebwerk Temperatur [°C]", "?engine.main.egt_c", "C", 0),
    ),
    (
        I("Tankinhalt [ml]", "?fuel.main.remaining_ml", "ml", 0),
        I("Verbrauch [ml/min]", "?fuel.main.flow_ml_per_min", "ml/min", 0),
    ),
    (I("Fahrt [km/h]", "?motion.airspeed_m_s", "km/h", 0), I("Variometer [m/s]", "motion.vario_m_s", "m/s", 1)),
    (I("Höhe über Grund [m]", "position.height_m", "m", 1), I("Kurs [°]", "?position.track_deg", "deg", 0)),
    (
        I("Empfangspegel RX1 [dBm]", "link.rx1.rssi_dbm", "dBm", 0),
        I("Empfangspegel RX2 [dBm]", "link.rx2.rssi_dbm", "dBm", 0),
    ),
    (
        I("Umgebungstemperatur [°C]", "air.temperature_c", "C", 1),
        I("Umgebungsdruck [hPa]", "air.pressure_pa", "hPa", 1),
    ),
    (I("Landeklappen [%]", "control.flap_percent", "%", 0), I("Bremse [%]", "control.brake_percent", "%", 0)),
    (
        I("Höchstdrehzahl [1/min]", "-rpm_limit", "", 0, "limit"),
        I("Mindestspannung [V]", "-volt_alarm", "", 1, "limit"),
    ),
    (
        I("Rudermaschinen Strom [A]", "-servo_a", "", 2, "other system"),
        I("Kamera Akku [V]", "-video_v", "", 2, "other system"),
    ),
    (
        I("Schmieröl [ml]", "-smoke_ml", "", 0, "other system"),
        I("Lagertemperatur [°C]", "-bay_c", "", 1, "other system"),
    ),
)

FRENCH_COCKPIT: tuple[Bundle, ...] = (
    (I("Batterie Rx1 (V)", "pack.rx1.voltage_v", "V", 2), I("Batterie Rx2 (V)", "pack.rx2.voltage_v", "V", 2)),
    (
        I("Vitesse turbine (tr/min)", "engine.main.speed_rpm", "rpm", 0),
        I("Température des gaz (°C)", "?engine.main.egt_c", "C", 0),
    ),
    (
        I("Kérosène restant (ml)", "fuel.main.remaining_ml", "ml", 0),
        I("Kérosène brûlé (ml)", "?fuel.main.used_ml", "ml", 0),
    ),
    (
        I("Vitesse verticale (m/s)", "motion.vario_m_s", "m/s", 1),
        I("Vitesse indiquée (km/h)", "motion.airspeed_m_s", "km/h", 0),
    ),
    (
        I("Niveau réception Rx1 (dBm)", "link.rx1.rssi_dbm", "dBm", 0),
        I("Niveau réception Rx2 (dBm)", "link.rx2.rssi_dbm", "dBm", 0),
    ),
    (
        I("Température ambiante (°C)", "air.temperature_c", "C", 1),
        I("Pression statique (hPa)", "?air.pressure_pa", "hPa", 1),
    ),
    (I("Trames perdues Rx1", "link.rx1.lost_frames", "1", 0),),
    (I("Volets (%)", "control.flap_percent", "%", 0), I("Freins (%)", "control.brake_percent", "%", 0)),
    (
        I("Butée régime (tr/min)", "-rpm_limit", "", 0, "limit"),
        I("Température moyenne des gaz (°C)", "-egt_mean", "", 0, "extreme"),
    ),
    (I("Allumage (V)", "-glow_v", "", 2, "other system"), I("Caméra (V)", "-video_v", "", 2, "other system")),
)

SPANISH_COCKPIT: tuple[Bundle, ...] = (
    (
        I("Batería Rx1 (V)", "pack.rx1.voltage_v", "V", 2),
        I("Consumo Rx1 (A)", "?pack.rx1.current_a|bus.rx1.current_a", "A", 2),
    ),
    (
        I("Vueltas turbina (rpm)", "engine.main.speed_rpm", "rpm", 0),
        I("Temperatura tobera (°C)", "?engine.main.egt_c", "C", 0),
    ),
    (
        I("Nivel combustible (ml)", "fuel.main.remaining_ml", "ml", 0),
        I("Flujo combustible (ml/min)", "fuel.main.flow_ml_per_min", "ml/min", 0),
    ),
    (
        I("Velocidad aire (km/h)", "motion.airspeed_m_s", "km/h", 0),
        I("Rumbo (°)", "?position.track_deg|attitude.heading_deg", "deg", 0),
    ),
    (
        I("Antena 1 (dBm)", "link.main.antenna:1.rssi_dbm", "dBm", 0),
        I("Antena 2 (dBm)", "link.main.antenna:2.rssi_dbm", "dBm", 0),
    ),
    (I("Variómetro (m/s)", "motion.vario_m_s", "m/s", 1), I("Altitud (m)", "position.altitude_m", "m", 0)),
    (
        I("Temperatura ambiente (°C)", "air.temperature_c", "C", 1),
        I("Presión atmosférica (hPa)", "air.pressure_pa", "hPa", 1),
    ),
    (I("Flaps (%)", "control.flap_percent", "%", 0), I("Freno (%)", "control.brake_percent", "%", 0)),
    (
        I("Tope de vueltas (rpm)", "-rpm_limit", "", 0, "limit"),
        I("Temperatura media tobera (°C)", "-egt_mean", "", 0, "extreme"),
    ),
    (I("Arrancador (A)", "-starter_a", "", 1, "other system"), I("Cámara (V)", "-video_v", "", 2, "other system")),
)

ITALIAN_COCKPIT: tuple[Bundle, ...] = (
    (
        I("Pacco batterie Rx1 (V)", "pack.rx1.voltage_v", "V", 2),
        I("Pacco batterie Rx2 (V)", "pack.rx2.voltage_v", "V", 2),
    ),
    (I("Velocità turbina (giri/min)", "engine.main.speed_rpm", "rpm", 0), I("EGT (°C)", "engine.main.egt_c", "C", 0)),
    (
        I("Livello carburante (ml)", "fuel.main.remaining_ml", "ml", 0),
        I("Flusso carburante (ml/min)", "fuel.main.flow_ml_per_min", "ml/min", 0),
    ),
    (I("Velocità aria (km/h)", "motion.airspeed_m_s", "km/h", 0), I("Prua (°)", "?attitude.heading_deg", "deg", 0)),
    (
        I("Antenna 1 (dBm)", "link.main.antenna:1.rssi_dbm", "dBm", 0),
        I("Antenna 2 (dBm)", "link.main.antenna:2.rssi_dbm", "dBm", 0),
    ),
    (I("Variometro (m/s)", "motion.vario_m_s", "m/s", 1), I("Altitudine (m)", "position.altitude_m", "m", 0)),
    (
        I("Temperatura ambiente (°C)", "air.temperature_c", "C", 1),
        I("Pressione atmosferica (hPa)", "air.pressure_pa", "hPa", 1),
    ),
    (I("Flap (%)", "control.flap_percent", "%", 0), I("Freni (%)", "control.brake_percent", "%", 0)),
    (
        I("Giri massimi (giri/min)", "-rpm_max", "", 0, "extreme"),
        I("Carburante minimo (ml)", "-fuel_alarm_ml", "", 0, "limit"),
    ),
    (
        I("Corrente avviatore (A)", "-starter_a", "", 1, "other system"),
        I("Tensione telecamera (V)", "-video_v", "", 2, "other system"),
    ),
)

PROSE: tuple[Bundle, ...] = (
    (
        I("Voltage of receiver battery 1 (V)", "pack.rx1.voltage_v", "V", 2),
        I("Voltage of receiver battery 2 (V)", "pack.rx2.voltage_v", "V", 2),
    ),
    (
        I("Temperature of the exhaust in °C", "engine.main.egt_c", "C", 0),
        I("Speed of the turbine in rpm", "engine.main.speed_rpm", "rpm", 0),
    ),
    (I("Fuel still in the tank (ml)", "fuel.main.remaining_ml", "ml", 0),),
    (I("Strength of the signal in dBm", "link.main.rssi_dbm", "dBm", 0),),
    (
        I("Speed over the ground in mph", "position.ground_speed_m_s", "mph", 1),
        I("Height over the runway in ft", "position.height_m", "ft", 0),
    ),
    (I("Rate of climb in ft/min", "motion.vario_m_s", "ft/min", 0),),
    (
        I("Pressure of the air in inHg", "air.pressure_pa", "inHg", 3),
        I("Temperature of the air in °F", "air.temperature_c", "F", 1),
    ),
    (
        I("Temperature of servo 3 in °C", "-servo_c", "", 1, "other system"),
        I("Voltage of the glow plug", "-glow_v", "", 2, "other system"),
    ),
    (
        I("Highest EGT allowed in °C", "-egt_limit", "", 0, "limit"),
        I("Size of the tank in ml", "-tank_ml", "", 0, "limit"),
    ),
    (
        I("Right tank, what is left (ml)", "fuel.right.remaining_ml", "ml", 0, "side or remaining"),
        I("Left tank, what is left (ml)", "fuel.left.remaining_ml", "ml", 0, "side or remaining"),
    ),
)

RAW: tuple[Bundle, ...] = (
    (
        I("vrx1_mV", "pack.rx1.voltage_v|bus.rx1.voltage_v", "mV", 0),
        I("irx1_mA", "pack.rx1.current_a|bus.rx1.current_a", "mA", 0),
    ),
    (
        I("gps_lat_1e7", "position.latitude_deg", "e7", 0, "scale in the heading"),
        I("gps_lng_1e7", "position.longitude_deg", "e7", 0, "scale in the heading"),
        I("gps_alt_mm", "position.altitude_m", "mm", 0),
    ),
    (I("gps_gs_cm_s", "position.ground_speed_m_s", "cm/s", 0), I("gps_nsat", "?position.satellites", "1", 0)),
    (
        I("egt_degC", "engine.main.egt_c", "C", 0),
        I("rpm", "engine.main.speed_rpm", "rpm", 0),
        I("pump_mV", "engine.main.pump_v", "mV", 0),
    ),
    (
        I("baro_Pa", "air.pressure_pa", "Pa", 0),
        I("oat_degC_x100", "?air.temperature_c", "cC", 0, "scale in the heading"),
    ),
    (I("fuel_used_uL", "!fuel.main.used_ml", "ml", 0, "values contradict the unit"),),
    (I("rssi_neg_dBm", "!link.main.antenna:1.rssi_dbm", "dBm", 0, "word of two meanings"),),
    (I("adc7", "-spare", "", 3), I("flags", "-state", "", 0), I("wdt", "-error", "", 0)),
    (I("srv_mA", "-servo_a", "", 2, "other system"), I("cpu_degC", "-cpu_c", "", 1, "other system")),
)

LETTERS: tuple[Bundle, ...] = (
    (
        I("RSSI A (dBm)", "?link.main.antenna:A.rssi_dbm|link.a.rssi_dbm", "dBm", 0, "antenna by letter"),
        I("RSSI B (dBm)", "?link.main.antenna:B.rssi_dbm|link.b.rssi_dbm", "dBm", 0, "antenna by letter"),
    ),
    (
        I("Rx1 aerial L (dBm)", "?link.rx1.antenna:L.rssi_dbm", "dBm", 0, "antenna by letter"),
        I("Rx1 aerial R (dBm)", "?link.rx1.antenna:R.rssi_dbm", "dBm", 0, "antenna by letter"),
    ),
    (
        I("Rx2 antenna top (dBm)", "?link.rx2.antenna:top.rssi_dbm", "dBm", 0, "antenna by letter"),
        I("Rx2 antenna tail (dBm)", "?link.rx2.antenna:tail.rssi_dbm", "dBm", 0, "antenna by letter"),
        I("Rx2 antenna nose (dBm)", "?link.rx2.antenna:nose.rssi_dbm", "dBm", 0, "antenna by letter"),
    ),
    (
        I("Rx1 link quality (%)", "link.rx1.link_quality_percent", "%", 0),
        I("Rx2 link quality (%)", "link.rx2.link_quality_percent", "%", 0),
    ),
    (
        I("Rx1 volts", "pack.rx1.voltage_v|bus.rx1.voltage_v", "V", 2),
        I("Rx2 volts", "pack.rx2.voltage_v|bus.rx2.voltage_v", "V", 2),
    ),
    (I("Telemetry RSSI (dBm)", "?downlink.main.rssi_dbm", "dBm", 0, "word of two meanings"),),
    (
        I("RSSI floor (dBm)", "-rssi_warning", "", 0, "limit"),
        I("Goggles RSSI (dBm)", "-video_dbm", "", 0, "other system"),
    ),
)

ODDS: tuple[Bundle, ...] = (
    (I("Rx 1 pack (V)", "!pack.rx1.voltage_v", "dV", 0, "values contradict the unit"),),
    (I("Exhaust temperature (°C)", "engine.main.egt_c", "C", 0), I("Shaft (rpm)", "engine.main.speed_rpm", "rpm", 0)),
    (I("Air pressure (Pa)", "!air.pressure_pa", "hPa", 1, "values contradict the unit"),),
    (I("Fuel used (ml)", "?fuel.main.remaining_ml", "ml", 0, "values contradict the word"),),
    (I("Elevator (%)", "-servo_us", "", 0, "values contradict the unit"),),
    (I("Altitude (km)", "!position.altitude_m", "m", 0, "values contradict the unit"),),
    (I("Rx 2 signal (dBm)", "-state", "", 0, "values contradict the unit"),),
    (I("Shaft speed (krpm)", "!engine.left.speed_rpm", "rpm", 0, "values contradict the unit"),),
    (I("Longitude", "position.longitude_deg", "deg", 6), I("Latitude", "position.latitude_deg", "deg", 6)),
    (I("Ground speed (km/h)", "position.ground_speed_m_s", "km/h", 0),),
)

ROWS: tuple[Bundle, ...] = (
    (
        I("Empfänger 1|Spannung [V]", "pack.rx1.voltage_v|bus.rx1.voltage_v", "V", 2),
        I("Empfänger 1|Strom [A]", "pack.rx1.current_a|bus.rx1.current_a", "A", 2),
    ),
    (
        I("Turbine|Drehzahl [1/min]", "engine.main.speed_rpm", "rpm", 0),
        I("Turbine|Abgas [°C]", "engine.main.egt_c", "C", 0),
    ),
    (
        I("Empfänger 2|Spannung [V]", "pack.rx2.voltage_v|bus.rx2.voltage_v", "V", 2),
        I("Empfänger 2|Strom [A]", "pack.rx2.current_a|bus.rx2.current_a", "A", 2),
    ),
    (
        I("Servos|Spannung [V]", "-servo_v", "", 2, "other system"),
        I("Servos|Strom [A]", "-servo_a", "", 2, "other system"),
    ),
    (I("Grenzwerte|Drehzahl [1/min]", "-rpm_limit", "", 0, "limit"),),
    (
        I("GPS|Höhe [m]", "position.altitude_m", "m", 0),
        I("GPS|Geschwindigkeit [km/h]", "position.ground_speed_m_s", "km/h", 0),
    ),
)

REPEATS: tuple[Bundle, ...] = (
    (
        I("Temp (°C)", "~?engine.any1.egt_c", "C", 0, "duplicate heading"),
        I("Temp (°C)", "~?air.temperature_c", "C", 1, "duplicate heading"),
        I("Temp (°C)", "-servo_c", "", 1, "duplicate heading"),
    ),
    (I("Rx1 (V)", "pack.rx1.voltage_v|bus.rx1.voltage_v", "V", 2), I("RPM", "engine.main.speed_rpm", "rpm", 0)),
    (I("Airspeed (km/h)", "motion.airspeed_m_s", "km/h", 0),),
)

SEALED: tuple[Hand, ...] = (
    Hand(
        "cockpit words",
        "sealed",
        "en",
        COCKPIT,
        (("s", "Elapsed (s)"), ("iso_z", "UTC"), ("clock", "Local time")),
        least=4,
        most=8,
    ),
    Hand(
        "student",
        "sealed",
        "en",
        STUDENT,
        (("s", "time_s"), ("epoch", "timestamp_s"), ("ms", "time_ms")),
        least=4,
        most=8,
    ),
    Hand("places in brackets", "sealed", "en", BRACKETED, (("s", "Time (s)"), ("month", "Time")), least=3, most=6),
    Hand("colons", "sealed", "en", COLONS, (("ms", "Time: ms"), ("clock", "Time")), least=4, most=7, delimiter="\t"),
    Hand(
        "German engine",
        "sealed",
        "de",
        GERMAN_ENGINE,
        (("s", "Zeit [s]"), ("dots", "Datum/Zeit"), ("excel", "Zeitpunkt")),
        delimiter=";",
        decimal=",",
        least=4,
        most=8,
    ),
    Hand(
        "French cockpit",
        "sealed",
        "fr",
        FRENCH_COCKPIT,
        (("s", "Temps (s)"), ("letters", "Heure")),
        delimiter=";",
        decimal=",",
        least=4,
        most=8,
    ),
    Hand(
        "Spanish cockpit",
        "sealed",
        "es",
        SPANISH_COCKPIT,
        (("s", "Tiempo (s)"), ("date+clock", "Fecha|Hora")),
        delimiter=";",
        decimal=",",
        least=4,
        most=8,
    ),
    Hand(
        "Italian cockpit",
        "sealed",
        "it",
        ITALIAN_COCKPIT,
        (("s", "Tempo (s)"), ("date+clock", "Data|Ora")),
        delimiter=";",
        decimal=",",
        least=4,
        most=8,
    ),
    Hand(
        "prose",
        "sealed",
        "en",
        PROSE,
        (("s", "Seconds"), ("ampm", "Time of day"), ("iso", "Logged at")),
        least=4,
        most=8,
    ),
    Hand(
        "raw structures", "sealed", "en", RAW, (("ms", "uptime_ms"), ("us", "tick_us"), ("ms", "t_ms")), least=4, most=7
    ),
    Hand(
        "aerials by letter",
        "sealed",
        "en",
        LETTERS,
        (("s", "Time (s)"), ("ms", "Time (ms)"), ("iso_z", "UTC")),
        least=3,
        most=5,
        faults=("late", "swapped"),
        steps=(0.2, 0.5),
    ),
    Hand("odds", "sealed", "en", ODDS, (("s", "Time (s)"), ("iso", "Time")), always=0, least=4, most=7),
    Hand(
        "German rows",
        "sealed",
        "de",
        ROWS,
        (("s", "Zeit [s]"), ("clock", "Uhrzeit")),
        layout="two-row",
        delimiter=";",
        decimal=",",
        least=3,
        most=5,
    ),
    Hand(
        "three temperatures", "sealed", "en", REPEATS, (("s", "Time (s)"), ("clock", "Time")), least=2, most=3, logs=4
    ),
    Hand(
        "bad reception",
        "sealed",
        "en",
        COCKPIT,
        (("clock", "Time"), ("ms", "Uptime (ms)"), ("iso", "Date and time")),
        least=3,
        most=6,
        faults=("late", "repeated"),
        gaps=0.2,
        steps=(0.2, 0.5, 1.0),
    ),
)
