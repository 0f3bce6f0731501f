"""The held hands: other people, other words, another seed. They measure; nobody fits the importer to them.

Whoever works on the importer runs the scorer on this half and looks at the totals, not at the headings.
"""

from __future__ import annotations

from tests.importers.hands.pages import Bundle, Hand, Item

I = Item  # noqa: E741

LAB: tuple[Bundle, ...] = (
    (
        I("U_E1/V", "pack.rx1.voltage_v|bus.rx1.voltage_v|pack.e1.voltage_v", "V", 3, "abbreviation"),
        I("I_E1/A", "pack.rx1.current_a|bus.rx1.current_a|pack.e1.current_a", "A", 2, "abbreviation"),
    ),
    (I("n_T/min⁻¹", "?engine.main.speed_rpm", "rpm", 0, "abbreviation"), I("T_Abgas/°C", "engine.main.egt_c", "C", 1)),
    (
        I("m_Rest/ml", "?fuel.main.remaining_ml", "ml", 0, "abbreviation"),
        I("Q_Kraftstoff/(ml/min)", "?fuel.main.flow_ml_per_min", "ml/min", 0),
    ),
    (I("p_Luft/hPa", "air.pressure_pa", "hPa", 2), I("T_Luft/°C", "air.temperature_c", "C", 2)),
    (
        I("h_bar/m", "?motion.pressure_altitude_m|position.altitude_m|position.height_m", "m", 1),
        I("v_GPS/(m/s)", "position.ground_speed_m_s", "m/s", 2),
    ),
    (
        I("φ/°", "?position.latitude_deg", "deg", 6, "abbreviation"),
        I("λ/°", "?position.longitude_deg", "deg", 6, "abbreviation"),
    ),
    (I("U_Pumpe/V", "engine.main.pump_v", "V", 2),),
    (
        I("U_ECU/V", "pack.ecu.voltage_v|bus.ecu.voltage_v", "V", 2),
        I("I_ECU/A", "pack.ecu.current_a|bus.ecu.current_a", "A", 2),
    ),
    (I("n_Soll/min⁻¹", "-rpm_target", "", 0, "limit"), I("T_Grenz/°C", "-egt_limit", "", 0, "limit")),
    (I("U_Anlasser/V", "-starter_v", "", 2, "other system"), I("T_Rumpf/°C", "-bay_c", "", 1, "other system")),
    (I("F_Schub/N", "-thrust_n", "", 1),),
)

ITALIAN_TALK: tuple[Bundle, ...] = (
    (
        I("Batteria ricevente A (V)", "pack.rx_a.voltage_v", "V", 2),
        I("Batteria ricevente B (V)", "pack.rx_b.voltage_v", "V", 2),
    ),
    (
        I("Giri motore sinistro", "engine.left.speed_rpm", "rpm", 0),
        I("Giri motore destro", "engine.right.speed_rpm", "rpm", 0),
    ),
    (
        I("Temperatura scarico sinistro (°C)", "engine.left.egt_c", "C", 0),
        I("Temperatura scarico destro (°C)", "engine.right.egt_c", "C", 0),
    ),
    (
        I("Carburante rimasto serbatoio destro (ml)", "fuel.right.remaining_ml", "ml", 0),
        I("Carburante rimasto serbatoio sinistro (ml)", "fuel.left.remaining_ml", "ml", 0),
    ),
    (I("Altezza dal campo (m)", "position.height_m", "m", 1),),
    (
        I("Velocità GPS (km/h)", "position.ground_speed_m_s", "km/h", 1),
        I("Numero satelliti", "position.satellites", "1", 0),
    ),
    (I("Salita (m/s)", "motion.vario_m_s", "m/s", 1),),
    (I("Pressione (hPa)", "?air.pressure_pa", "hPa", 1), I("Temperatura esterna (°C)", "air.temperature_c", "C", 1)),
    (I("Qualità collegamento (%)", "link.main.link_quality_percent", "%", 0),),
    (
        I("Equilibratore (%)", "~control.elevator_percent", "%", 0, "abbreviation"),
        I("Timone (%)", "control.rudder_percent", "%", 0),
    ),
    (
        I("Soglia allarme carburante (ml)", "-fuel_alarm_ml", "", 0, "limit"),
        I("Temperatura massima scarico (°C)", "-egt_max", "", 0, "extreme"),
    ),
    (
        I("Corrente servocomandi (A)", "-servo_a", "", 2, "other system"),
        I("Tensione trasmittente (V)", "~other.tx_v>pack.tx.voltage_v", "V", 2, "other system"),
    ),
    (I("Temperatura presa d'aria (°C)", "-inlet_c", "", 1, "other system"),),
    (I("Fumo: livello (ml)", "-smoke_ml", "", 0, "other system"),),
)

SPANISH_ROWS: tuple[Bundle, ...] = (
    (
        I("Receptor 1|Tensión (V)", "pack.rx1.voltage_v|bus.rx1.voltage_v", "V", 2),
        I("Receptor 1|Corriente (A)", "pack.rx1.current_a|bus.rx1.current_a", "A", 2),
        I("Receptor 1|Señal (%)", "link.rx1.signal_percent", "%", 0),
    ),
    (
        I("Turbina|Régimen (rpm)", "engine.main.speed_rpm", "rpm", 0),
        I("Turbina|Temp. escape (°C)", "engine.main.egt_c", "C", 0),
    ),
    (
        I("Combustible|Restante (ml)", "fuel.main.remaining_ml", "ml", 0),
        I("Combustible|Caudal (ml/min)", "fuel.main.flow_ml_per_min", "ml/min", 0),
    ),
    (
        I("Receptor 2|Tensión (V)", "pack.rx2.voltage_v|bus.rx2.voltage_v", "V", 2),
        I("Receptor 2|Corriente (A)", "pack.rx2.current_a|bus.rx2.current_a", "A", 2),
        I("Receptor 2|Señal (%)", "link.rx2.signal_percent", "%", 0),
    ),
    (
        I("GPS|Latitud", "position.latitude_deg", "deg", 6),
        I("GPS|Longitud", "position.longitude_deg", "deg", 6),
        I("GPS|Velocidad (km/h)", "position.ground_speed_m_s", "km/h", 1),
    ),
    (I("Giróscopo|Ganancia (%)", "-gyro_gain", "", 0, "other system"),),
    (I("Umbrales|RPM", "-rpm_limit", "", 0, "limit"), I("Umbrales|Combustible (ml)", "-fuel_alarm_ml", "", 0, "limit")),
    (I("Bodega|Temperatura (°C)", "-bay_c", "", 1, "other system"),),
)

COUNTED: tuple[Bundle, ...] = (
    (
        I("eng0.n_rpm", "engine.0.speed_rpm", "rpm", 0, "dotted"),
        I("eng1.n_rpm", "engine.1.speed_rpm", "rpm", 0, "dotted"),
        I("eng0.egt_c", "engine.0.egt_c", "C", 1, "dotted"),
        I("eng1.egt_c", "engine.1.egt_c", "C", 1, "dotted"),
    ),
    (
        I("bat0.v", "pack.0.voltage_v", "V", 3, "dotted"),
        I("bat0.a", "pack.0.current_a", "A", 2, "dotted"),
        I("bat1.v", "pack.1.voltage_v", "V", 3, "dotted"),
        I("bat1.a", "pack.1.current_a", "A", 2, "dotted"),
    ),
    (
        I("tank0.ml", "?fuel.0.remaining_ml", "ml", 0, "dotted"),
        I("tank1.ml", "?fuel.1.remaining_ml", "ml", 0, "dotted"),
    ),
    (
        I("nav.lat_deg", "position.latitude_deg", "deg", 6, "dotted"),
        I("nav.lon_deg", "position.longitude_deg", "deg", 6, "dotted"),
        I("nav.alt_m", "position.altitude_m", "m", 1, "dotted"),
        I("nav.speed_ms", "position.ground_speed_m_s", "m/s", 2, "dotted"),
    ),
    (
        I("att.roll", "?attitude.roll_deg", "deg", 2, "dotted"),
        I("att.pitch", "?attitude.pitch_deg", "deg", 2, "dotted"),
        I("att.yaw", "?attitude.heading_deg", "deg", 1, "dotted"),
    ),
    (I("baro.p_pa", "air.pressure_pa", "Pa", 0, "dotted"), I("baro.t_c", "?air.temperature_c", "C", 1, "dotted")),
    (
        I("in.thr_pct", "control.throttle_percent", "%", 1, "dotted"),
        I("in.rud_pct", "control.rudder_percent", "%", 1, "dotted"),
    ),
    (I("eng0.n_max", "-rpm_limit", "", 0, "limit"), I("eng0.n_cmd", "-rpm_target", "", 0, "limit")),
    (
        I("sys.load", "-cpu_percent", "", 0),
        I("sys.temp_c", "-cpu_c", "", 1, "other system"),
        I("sys.err", "-error", "", 0),
    ),
    (I("imu.gyro_x", "-gyro_dps", "", 2, "other system"), I("imu.vib_g", "-vibration_g", "", 3, "other system")),
)

BRITISH: tuple[Bundle, ...] = (
    (I("Port RPM", "engine.left.speed_rpm", "rpm", 0), I("Stbd RPM", "engine.right.speed_rpm", "rpm", 0)),
    (I("Port EGT (C)", "engine.left.egt_c", "C", 0), I("Stbd EGT (C)", "engine.right.egt_c", "C", 0)),
    (
        I("Port tank remaining (ml)", "fuel.left.remaining_ml", "ml", 0),
        I("Stbd tank remaining (ml)", "fuel.right.remaining_ml", "ml", 0),
    ),
    (
        I("Height (ft)", "position.height_m|position.altitude_m", "ft", 0),
        I("Airspeed (kts)", "motion.airspeed_m_s", "kt", 0),
    ),
    (I("Groundspeed (kts)", "position.ground_speed_m_s", "kt", 0), I("Track (deg)", "position.track_deg", "deg", 0)),
    (I("QFE (mbar)", "?air.pressure_pa", "hPa", 1), I("OAT (C)", "air.temperature_c", "C", 1)),
    (
        I("Rx volts A", "?pack.rx_a.voltage_v|bus.rx_a.voltage_v", "V", 2, "word of two meanings"),
        I("Rx volts B", "?pack.rx_b.voltage_v|bus.rx_b.voltage_v", "V", 2, "word of two meanings"),
    ),
    (
        I("Port ECU batt (V)", "pack.ecu_left.voltage_v", "V", 2),
        I("Stbd ECU batt (V)", "pack.ecu_right.voltage_v", "V", 2),
    ),
    (I("Fuel used port (ml)", "fuel.left.used_ml", "ml", 0), I("Fuel used stbd (ml)", "fuel.right.used_ml", "ml", 0)),
    (
        I("Redline RPM", "-rpm_limit", "", 0, "limit"),
        I("Peak EGT (C)", "-egt_max", "", 0, "extreme"),
        I("Mean EGT (C)", "-egt_mean", "", 0, "extreme"),
    ),
    (I("Glow volts", "-glow_v", "", 2, "other system"), I("Starter amps", "-starter_a", "", 1, "other system")),
    (
        I("Brake air (bar)", "-air_bar", "", 2, "other system"),
        I("Oil smoke left (ml)", "-smoke_ml", "", 0, "side or remaining"),
    ),
    (I("Gear down", "control.gear", "bool", 0, "word of two meanings"), I("Flaps (%)", "control.flap_percent", "%", 0)),
)

TWINNED: tuple[Bundle, ...] = (
    (
        I("Volt", "?pack.any1.voltage_v|bus.any1.voltage_v", "V", 2, "duplicate heading"),
        I("Curr", "?pack.any1.current_a|bus.any1.current_a", "A", 2, "duplicate heading"),
        I("Volt", "?pack.any2.voltage_v|bus.any2.voltage_v", "V", 2, "duplicate heading"),
        I("Curr", "?pack.any2.current_a|bus.any2.current_a", "A", 2, "duplicate heading"),
    ),
    (I("EGT °C", "engine.main.egt_c", "C", 0), I("RPM", "engine.main.speed_rpm", "rpm", 0)),
    (I("Rx1 RSSI (dBm)", "link.rx1.rssi_dbm", "dBm", 0), I("Rx2 RSSI (dBm)", "link.rx2.rssi_dbm", "dBm", 0)),
    (I("Fuel remaining ml", "fuel.main.remaining_ml", "ml", 0),),
    (I("GPS speed km/h", "position.ground_speed_m_s", "km/h", 0), I("Altitude m", "position.altitude_m", "m", 0)),
    (I("Note", "-error", "", 0), I("Note 2", "-error", "", 0)),
)

DOUBLED: tuple[Bundle, ...] = (
    (
        I("EGT", "?engine.any1.egt_c", "C", 0, "duplicate heading"),
        I("RPM", "?engine.any1.speed_rpm", "rpm", 0, "duplicate heading"),
        I("EGT", "?engine.any2.egt_c", "C", 0, "duplicate heading"),
        I("RPM", "?engine.any2.speed_rpm", "rpm", 0, "duplicate heading"),
    ),
    (I("Rx V", "pack.rx.voltage_v|bus.rx.voltage_v", "V", 2),),
    (
        I("Alt", "?position.altitude_m", "m", 0, "duplicate heading"),
        I("Alt", "?position.altitude_m", "ft", 0, "duplicate heading"),
    ),
    (I("Air temp °C", "air.temperature_c", "C", 1),),
)

WORDY: tuple[Bundle, ...] = (
    (
        I("Motor", "!engine.main.speed_rpm", "rpm", 0, "word of two meanings"),
        I("Motor A", "!-starter_a", "A", 1, "word of two meanings"),
    ),
    (
        I("Rate", "!motion.vario_m_s", "m/s", 1, "word of two meanings"),
        I("Sat", "?position.satellites", "1", 0, "word of two meanings"),
    ),
    (
        I("Down", "!downlink.main.rssi_dbm", "dBm", 0, "word of two meanings"),
        I("Avg", "-egt_mean", "", 0, "word of two meanings"),
    ),
    (
        I("A", "!pack.main.current_a", "A", 2, "word of two meanings"),
        I("B", "-spare", "", 2, "word of two meanings"),
        I("C", "-spare", "", 1, "word of two meanings"),
    ),
    (I("der", "-derivative", "", 1, "word of two meanings"), I("Lag", "-spare", "", 2, "word of two meanings")),
    (
        I("Rx A", "!link.rx_a.signal_percent", "%", 0, "word of two meanings"),
        I("Rx B", "!link.rx_b.signal_percent", "%", 0, "word of two meanings"),
    ),
    (
        I("Speed", "!position.ground_speed_m_s", "km/h", 0, "no unit"),
        I("Height", "!position.height_m", "m", 0, "no unit"),
    ),
    (
        I("Fuel", "?fuel.main.remaining_ml", "ml", 0, "no unit"),
        I("Fuel 2", "!fuel.2.remaining_percent", "%", 0, "no unit"),
    ),
    (
        I("Fuel rate", "!fuel.main.flow_ml_per_min", "ml/min", 0, "no unit"),
        I("Frame rate", "-rate_hz", "", 0, "word of two meanings"),
    ),
    (I("Temp", "!engine.main.egt_c", "C", 0, "no unit"), I("Temp 2", "!air.temperature_c", "C", 1, "no unit")),
    (I("Voltage", "!pack.main.voltage_v", "V", 2, "no unit"), I("Voltage avg", "-volt_min", "", 2, "extreme")),
    (I("Rx1 V", "pack.rx1.voltage_v|bus.rx1.voltage_v", "V", 2), I("EGT °C", "engine.main.egt_c", "C", 0)),
)

FADES: tuple[Bundle, ...] = (
    (I("RX-A RSSI (dBm)", "link.rx_a.rssi_dbm", "dBm", 0), I("RX-B RSSI (dBm)", "link.rx_b.rssi_dbm", "dBm", 0)),
    (I("Receiver battery (V)", "pack.rx.voltage_v", "V", 2),),
    (I("Turbine speed (rpm)", "engine.main.speed_rpm", "rpm", 0), I("Exhaust (°C)", "engine.main.egt_c", "C", 0)),
    (I("Fuel remaining (%)", "fuel.main.remaining_percent", "%", 0),),
    (I("Altitude (m)", "position.altitude_m", "m", 0), I("Vario (m/s)", "motion.vario_m_s", "m/s", 1)),
    (
        I("RX-A antenna A1 (dBm)", "?link.rx_a.antenna:A1.rssi_dbm", "dBm", 0, "antenna by letter"),
        I("RX-A antenna A2 (dBm)", "?link.rx_a.antenna:A2.rssi_dbm", "dBm", 0, "antenna by letter"),
        I("RX-A antenna B1 (dBm)", "?link.rx_a.antenna:B1.rssi_dbm", "dBm", 0, "antenna by letter"),
    ),
    (I("RX-A losses", "?link.rx_a.lost_frames", "1", 0), I("RX-B losses", "?link.rx_b.lost_frames", "1", 0)),
    (I("RSSI threshold (dBm)", "-rssi_warning", "", 0, "limit"), I("Worst RSSI (dBm)", "-rssi_min", "", 0, "extreme")),
    (
        I("Camera link (%)", "-video_percent", "", 0, "other system"),
        I("Base battery (V)", "-ground_v", "", 2, "other system"),
    ),
)

AERIALS: tuple[Bundle, ...] = (
    (
        I("Antenna left RSSI", "?link.main.antenna:left.rssi_dbm", "dBm", 0, "antenna by letter"),
        I("Antenna right RSSI", "?link.main.antenna:right.rssi_dbm", "dBm", 0, "antenna by letter"),
    ),
    (
        I("1 (dBm)", "!link.main.antenna:1.rssi_dbm", "dBm", 0, "antenna by number"),
        I("2 (dBm)", "!link.main.antenna:2.rssi_dbm", "dBm", 0, "antenna by number"),
    ),
    (
        I("Rx V", "pack.rx.voltage_v|bus.rx.voltage_v", "V", 2),
        I("Link quality (%)", "link.main.link_quality_percent", "%", 0),
    ),
    (
        I("Uplink LQ (%)", "?link.main.link_quality_percent", "%", 0),
        I("Downlink RSSI (dBm)", "downlink.main.rssi_dbm", "dBm", 0),
    ),
    (
        I("Fade ant. 1", "?link.main.antenna:1.lost", "1", 0, "antenna by number"),
        I("Fade ant. 2", "?link.main.antenna:2.lost", "1", 0, "antenna by number"),
    ),
    (I("TX power (mW)", "-rate_hz", "", 0), I("Hop", "-packet", "", 0)),
    (I("Video RSSI (dBm)", "-video_dbm", "", 0, "other system"),),
)

FRENCH_TWIN: tuple[Bundle, ...] = (
    (
        I("Régime moteur gauche (tr/min)", "engine.left.speed_rpm", "rpm", 0),
        I("Régime moteur droit (tr/min)", "engine.right.speed_rpm", "rpm", 0),
    ),
    (
        I("T. échappement G (°C)", "engine.left.egt_c", "C", 0, "abbreviation"),
        I("T. échappement D (°C)", "engine.right.egt_c", "C", 0, "abbreviation"),
    ),
    (
        I("Rx A tension (V)", "pack.rx_a.voltage_v|bus.rx_a.voltage_v", "V", 2),
        I("Rx B tension (V)", "pack.rx_b.voltage_v|bus.rx_b.voltage_v", "V", 2),
    ),
    (
        I("Reste réservoir gauche (ml)", "fuel.left.remaining_ml", "ml", 0),
        I("Reste réservoir droit (ml)", "fuel.right.remaining_ml", "ml", 0),
    ),
    (
        I("Intensité Rx A (A)", "pack.rx_a.current_a|bus.rx_a.current_a", "A", 2),
        I("Intensité Rx B (A)", "pack.rx_b.current_a|bus.rx_b.current_a", "A", 2),
    ),
    (I("Consommé (ml)", "?fuel.main.used_ml", "ml", 0),),
    (
        I("Vitesse air (km/h)", "motion.airspeed_m_s", "km/h", 0),
        I("Taux de montée (m/s)", "motion.vario_m_s", "m/s", 1),
    ),
    (
        I("Altitude GPS (m)", "position.altitude_m", "m", 0),
        I("Vitesse GPS (km/h)", "position.ground_speed_m_s", "km/h", 0),
    ),
    (
        I("Ailerons (%)", "control.aileron_percent", "%", 0),
        I("Direction (%)", "control.rudder_percent", "%", 0, "word of two meanings"),
    ),
    (
        I("Signal Rx A (%)", "?link.rx_a.signal_percent", "%", 0),
        I("Signal Rx B (%)", "?link.rx_b.signal_percent", "%", 0),
    ),
    (I("Train sorti", "control.gear", "bool", 0),),
    (I("Consigne régime (tr/min)", "-rpm_target", "", 0, "limit"), I("T. max (°C)", "-egt_limit", "", 0, "limit")),
    (
        I("Pompe fumigène (V)", "-smoke_v", "", 2, "other system"),
        I("Gain gyro (%)", "-gyro_gain", "", 0, "other system"),
    ),
    (I("Tension servos (V)", "-servo_v", "", 2, "other system"),),
)

GERMAN_TALK: tuple[Bundle, ...] = (
    (
        I("Sprit rechts übrig (ml)", "fuel.right.remaining_ml", "ml", 0),
        I("Sprit links übrig (ml)", "fuel.left.remaining_ml", "ml", 0),
    ),
    (
        I("Empfänger A Spannung (V)", "pack.rx_a.voltage_v|bus.rx_a.voltage_v", "V", 2),
        I("Empfänger B Spannung (V)", "pack.rx_b.voltage_v|bus.rx_b.voltage_v", "V", 2),
    ),
    (
        I("Turbine Drehzahl (U/min)", "engine.main.speed_rpm", "rpm", 0),
        I("Turbine Abgas (°C)", "engine.main.egt_c", "C", 0),
    ),
    (I("ECU-Akku (V)", "pack.ecu.voltage_v", "V", 2), I("ECU-Akku verbraucht (mAh)", "pack.ecu.used_mah", "mAh", 0)),
    (
        I("Fluggeschwindigkeit (km/h)", "motion.airspeed_m_s|position.ground_speed_m_s", "km/h", 0),
        I("Flughöhe (m)", "position.height_m|position.altitude_m", "m", 0),
    ),
    (I("GPS Breitengrad", "position.latitude_deg", "deg", 6), I("GPS Längengrad", "position.longitude_deg", "deg", 6)),
    (I("Empfangsqualität (%)", "link.main.link_quality_percent|link.main.signal_percent", "%", 0),),
    (I("verlorene Pakete", "link.main.lost_frames", "1", 0),),
    (I("Fahrwerk ausgefahren", "control.gear", "bool", 0), I("Klappen (%)", "control.flap_percent", "%", 0)),
    (I("Höhenruder (%)", "control.elevator_percent", "%", 0), I("Seitenruder (%)", "control.rudder_percent", "%", 0)),
    (I("Spritverbrauch (ml)", "fuel.main.used_ml", "ml", 0),),
    (I("Luft draußen (°C)", "air.temperature_c", "C", 1),),
    (
        I("Senderakku (V)", "~other.tx_v>pack.tx.voltage_v", "V", 2, "other system"),
        I("Servo Strom gesamt (A)", "-servo_a", "", 2, "other system"),
    ),
    (I("größte Höhe (m)", "-height_max", "", 0, "extreme"), I("Warnschwelle Akku (V)", "-volt_alarm", "", 1, "limit")),
    (
        I("Rauchöl übrig (ml)", "-smoke_ml", "", 0, "other system"),
        I("Temperatur Einlauf (°C)", "-inlet_c", "", 1, "other system"),
    ),
    (I("Drehzahl Soll (U/min)", "-rpm_target", "", 0, "limit"), I("Tank voll (ml)", "-tank_ml", "", 0, "limit")),
)

CELLS: tuple[Bundle, ...] = (
    (
        I("C1", "?pack.rx.cell1_v|pack.main.cell1_v", "V", 3, "abbreviation"),
        I("C2", "?pack.rx.cell2_v|pack.main.cell2_v", "V", 3, "abbreviation"),
        I("pack V", "?pack.rx.voltage_v|pack.main.voltage_v", "V", 2),
        I("curr A", "?pack.rx.current_a|pack.main.current_a", "A", 2, "abbreviation"),
        I("cap mAh", "?pack.rx.used_mah|pack.main.used_mah", "mAh", 0, "abbreviation"),
    ),
    (
        I("egt C", "engine.main.egt_c", "C", 0),
        I("rpm", "engine.main.speed_rpm", "rpm", 0),
        I("ff ml/min", "fuel.main.flow_ml_per_min", "ml/min", 0, "abbreviation"),
    ),
    (I("fuel ml", "?fuel.main.remaining_ml", "ml", 0),),
    (I("alt ft", "position.altitude_m", "ft", 0), I("spd kts", "?position.ground_speed_m_s", "kt", 1, "abbreviation")),
    (
        I("thr %", "control.throttle_percent|engine.main.throttle_percent", "%", 0),
        I("ail %", "control.aileron_percent", "%", 0),
        I("ele %", "control.elevator_percent", "%", 0),
    ),
    (I("pump %", "engine.main.pump_percent", "%", 0),),
    (I("pwr W", "-power_w", "", 1), I("rh %", "-humidity", "", 0)),
    (I("egt lim", "-egt_limit", "", 0, "limit"), I("rpm pk", "-rpm_max", "", 0, "extreme")),
    (I("esc C", "-servo_c", "", 0, "other system"), I("vtx V", "-video_v", "", 1, "other system")),
)

TENFOLD: tuple[Bundle, ...] = (
    (
        I("EGT x10", "?engine.main.egt_c", "dC", 0, "scale in the heading"),
        I("RPM (x1000)", "?engine.main.speed_rpm", "krpm", 1, "scale in the heading"),
    ),
    (I("Rx volts*100", "?pack.rx.voltage_v|bus.rx.voltage_v", "cV", 0, "scale in the heading"),),
    (
        I("Batt 0.1V", "?pack.main.voltage_v", "dV", 0, "scale in the heading"),
        I("Batt 10mA", "?pack.main.current_a", "cA", 0, "scale in the heading"),
    ),
    (
        I("Lat*1e6", "position.latitude_deg", "e6", 0, "scale in the heading"),
        I("Lon*1e6", "position.longitude_deg", "e6", 0, "scale in the heading"),
    ),
    (I("Alt (dm)", "position.altitude_m", "dm", 0), I("Climb (cm/s)", "motion.vario_m_s", "cm/s", 0)),
    (I("Pressure (0.1 hPa)", "?air.pressure_pa", "dhPa", 0, "scale in the heading"),),
    (
        I("Fuel flow (l/h)", "fuel.main.flow_ml_per_min", "l/h", 2),
        I("Fuel left (l)", "?fuel.main.remaining_ml", "l", 3, "side or remaining"),
    ),
    (I("Throttle 0-1", "?control.throttle_percent", "ratio", 3, "scale in the heading"),),
    (I("Roll (rad)", "attitude.roll_deg", "rad", 4), I("Pitch (rad)", "attitude.pitch_deg", "rad", 4)),
    (I("Air temp (K)", "air.temperature_c", "K", 2),),
    (I("Sound dB", "-sound_db", "", 1), I("Light", "-light", "", 0)),
    (I("Servo 1 (us)", "-servo_us", "", 0, "other system"), I("Target RPM (x1000)", "-rpm_target", "", 0, "limit")),
)

SPOTS: tuple[Bundle, ...] = (
    (I("Position", "", "deg", 6, "two in one column", tail=" ", form="pair"),),
    (I("Height above ground (m)", "position.height_m", "m", 1), I("Elevation (m)", "?position.altitude_m", "m", 1)),
    (I("SOG (km/h)", "position.ground_speed_m_s", "km/h", 1), I("COG (°)", "position.track_deg", "deg", 0)),
    (I("Number of satellites", "position.satellites", "1", 0),),
    (
        I("Static pressure (inHg)", "air.pressure_pa", "inHg", 3),
        I("Static temperature (°F)", "?air.temperature_c", "F", 1),
    ),
    (I("Distance from pilot (m)", "-distance_m", "", 0), I("Top speed (km/h)", "-speed_max_ms", "", 0, "extreme")),
)

COMPASS: tuple[Bundle, ...] = (
    (
        I("Lat", "position.latitude_deg", "deg", 5, "hemisphere in the cell", form="letter NS"),
        I("Lon", "position.longitude_deg", "deg", 5, "hemisphere in the cell", form="letter EW"),
    ),
    *SPOTS[1:],
)

RAW_FIXES: tuple[Bundle, ...] = (
    (
        I("lat_ddmm", "position.latitude_deg", "deg", 5, "degrees and minutes", form="ddmm apart NS"),
        I("lon_dddmm", "position.longitude_deg", "deg", 5, "degrees and minutes", form="ddmm apart EW"),
    ),
    *SPOTS[1:],
)

UNIT_ROW: tuple[Bundle, ...] = (
    (I("Rx1 battery", "pack.rx1.voltage_v", "V", 2), I("Rx2 battery", "pack.rx2.voltage_v", "V", 2)),
    (I("Shaft speed", "engine.main.speed_rpm", "rpm", 0), I("Exhaust gas", "engine.main.egt_c", "C", 0)),
    (I("Airspeed", "motion.airspeed_m_s", "mph", 1), I("Ground speed", "position.ground_speed_m_s", "kt", 1)),
    (I("Ambient pressure", "air.pressure_pa", "kPa", 2), I("Outside air", "air.temperature_c", "F", 1)),
    (I("Fuel remaining", "fuel.main.remaining_ml", "ml", 0), I("Fuel flow", "fuel.main.flow_ml_per_min", "ml/min", 0)),
    (I("Altitude", "position.altitude_m", "ft", 0), I("Climb", "motion.vario_m_s", "ft/min", 0)),
    (
        I("Servo current", "-servo_a", "A", 2, "other system"),
        I("Inlet temperature", "-inlet_c", "C", 1, "other system"),
    ),
    (I("Fuel reserve", "-fuel_alarm_ml", "ml", 0, "limit"),),
)

NEIGHBOURS: tuple[Bundle, ...] = (
    (
        I("Receiver 1 supply [V]", "pack.rx1.voltage_v|bus.rx1.voltage_v", "V", 2),
        I("Tailpipe temperature [°C]", "engine.main.egt_c", "C", 0, "abbreviation"),
    ),
    (
        I("Receiver temperature [°C]", "-servo_c", "", 1, "other system"),
        I("Bearing temperature [°C]", "-bay_c", "", 1, "other system"),
    ),
    (
        I("Oil pressure [kPa]", "-oil_kpa", "", 1, "other system"),
        I("Air tank [bar]", "-air_bar", "", 2, "other system"),
    ),
    (I("Fuel pump current [A]", "-ground_a", "", 2, "other system"),),
    (
        I("Since start [s]", "-runtime_s", "", 0, "another clock"),
        I("Time left [s]", "-countdown", "", 0, "another clock"),
    ),
    (I("Headwind [m/s]", "-wind_ms", "", 1, "other system"),),
    (
        I("Commanded height [m]", "-height_limit", "", 0, "limit"),
        I("Never exceed speed [km/h]", "-stall_kmh", "", 0, "limit"),
    ),
    (I("Weakest cell [V]", "-cell_v", "", 3, "extreme"), I("Cell spread [mV]", "-cell_mv", "", 0)),
    (I("Consumed energy [Wh]", "-energy_wh", "", 2), I("Impedance [mΩ]", "-ohm", "", 1)),
    (
        I("Shaft speed [rpm]", "engine.main.speed_rpm", "rpm", 0),
        I("Shaft speed filtered [rpm]", "~engine.main.speed_rpm", "rpm", 0, "extreme"),
    ),
    (I("Ground speed [km/h]", "position.ground_speed_m_s", "km/h", 0), I("Position error [m]", "-hdop", "", 1)),
    (
        I("Winch current [A]", "-servo_a", "", 1, "other system"),
        I("Landing light [V]", "-servo_v", "", 2, "other system"),
    ),
    (I("Fuel level [ml]", "fuel.main.remaining_ml", "ml", 0), I("Minimum fuel [ml]", "-fuel_alarm_ml", "", 0, "limit")),
)

AGAINST: tuple[Bundle, ...] = (
    (I("Receiver 1 [V]", "!pack.rx1.voltage_v", "mV", 0, "values contradict the unit"),),
    (I("Fuel left [ml]", "?fuel.main.used_ml", "ml", 0, "values contradict the word"),),
    (
        I("Exhaust gas [°C]", "!engine.main.egt_c", "dC", 0, "values contradict the unit"),
        I("Shaft [rpm]", "engine.main.speed_rpm", "rpm", 0),
    ),
    (I("Consumed [mAh]", "-charge_left_mah", "", 0, "values contradict the word"),),
    (I("Throttle [%]", "-servo_us", "", 0, "values contradict the unit"),),
    (
        I("Lat", "?position.latitude_deg", "e6", 0, "scale in the values"),
        I("Lng", "?position.longitude_deg", "e6", 0, "scale in the values"),
    ),
    (I("Air pressure [kPa]", "!air.pressure_pa", "hPa", 1, "values contradict the unit"),),
    (I("Link quality [%]", "!link.main.signal_counts", "counts", 0, "values contradict the unit"),),
    (I("Number of satellites", "-light", "", 0, "values contradict the word"),),
    (I("Outside temp [°C]", "!air.temperature_c", "K", 1, "values contradict the unit"),),
    (
        I("Receiver 2 signal [dBm]", "link.rx2.rssi_dbm", "dBm", 0),
        I("Airspeed [km/h]", "motion.airspeed_m_s", "km/h", 0),
    ),
)

FRENCH_NEIGHBOURS: tuple[Bundle, ...] = (
    (
        I("Accu récepteur 1 (V)", "pack.rx1.voltage_v", "V", 2),
        I("Température échappement (°C)", "engine.main.egt_c", "C", 0),
    ),
    (
        I("Régime (tr/min)", "engine.main.speed_rpm", "rpm", 0),
        I("Régime moyen (tr/min)", "-rpm_mean", "", 0, "extreme"),
    ),
    (
        I("Température servo (°C)", "-servo_c", "", 1, "other system"),
        I("Température carburant (°C)", "-bay_c", "", 1, "other system"),
    ),
    (I("Vitesse du vent (m/s)", "-wind_ms", "", 1, "other system"),),
    (
        I("Pression carburant (bar)", "-air_bar", "", 2, "other system"),
        I("Courant pompe (A)", "-ground_a", "", 2, "other system"),
    ),
    (I("Altitude cible (m)", "-height_limit", "", 0, "limit"), I("Alarme tension (V)", "-volt_alarm", "", 1, "limit")),
    (
        I("Carburant consommé (ml)", "fuel.main.used_ml", "ml", 0),
        I("Réserve carburant (ml)", "-fuel_alarm_ml", "", 0, "limit"),
    ),
    (I("Temps moteur (s)", "-runtime_s", "", 0, "another clock"), I("Puissance (W)", "-power_w", "", 1)),
    (
        I("Station sol (V)", "-ground_v", "", 2, "other system"),
        I("Liaison vidéo (%)", "-video_percent", "", 0, "other system"),
    ),
    (I("Vitesse sol (km/h)", "position.ground_speed_m_s", "km/h", 0), I("Satellites", "position.satellites", "1", 0)),
)

ITALIAN_NEIGHBOURS: tuple[Bundle, ...] = (
    (
        I("Batteria ricevitore 1 (V)", "pack.rx1.voltage_v", "V", 2),
        I("Temperatura gas di scarico (°C)", "engine.main.egt_c", "C", 0),
    ),
    (
        I("Regime turbina (rpm)", "engine.main.speed_rpm", "rpm", 0),
        I("Regime medio (rpm)", "-rpm_mean", "", 0, "extreme"),
    ),
    (
        I("Temperatura servo (°C)", "-servo_c", "", 1, "other system"),
        I("Pressione carburante (bar)", "-air_bar", "", 2, "other system"),
    ),
    (I("Velocità del vento (m/s)", "-wind_ms", "", 1, "other system"),),
    (
        I("Allarme tensione (V)", "-volt_alarm", "", 1, "limit"),
        I("Quota obiettivo (m)", "-height_limit", "", 0, "limit"),
    ),
    (
        I("Carburante consumato (ml)", "fuel.main.used_ml", "ml", 0),
        I("Riserva carburante (ml)", "-fuel_alarm_ml", "", 0, "limit"),
    ),
    (I("Tempo motore (s)", "-runtime_s", "", 0, "another clock"), I("Potenza (W)", "-power_w", "", 1)),
    (
        I("Stazione di terra (V)", "-ground_v", "", 2, "other system"),
        I("Segnale video (%)", "-video_percent", "", 0, "other system"),
    ),
    (I("Velocità GPS (km/h)", "position.ground_speed_m_s", "km/h", 0), I("Rotta (°)", "?position.track_deg", "deg", 0)),
    (I("Corrente ricevitore 1 (A)", "pack.rx1.current_a|bus.rx1.current_a", "A", 2),),
)

SPANISH_NEIGHBOURS: tuple[Bundle, ...] = (
    (
        I("Batería receptor 1 (V)", "pack.rx1.voltage_v", "V", 2),
        I("Temperatura de escape (°C)", "engine.main.egt_c", "C", 0),
    ),
    (
        I("Revoluciones (rpm)", "engine.main.speed_rpm", "rpm", 0),
        I("Revoluciones medias (rpm)", "-rpm_mean", "", 0, "extreme"),
    ),
    (
        I("Temperatura servo (°C)", "-servo_c", "", 1, "other system"),
        I("Presión de combustible (bar)", "-air_bar", "", 2, "other system"),
    ),
    (I("Velocidad del viento (m/s)", "-wind_ms", "", 1, "other system"),),
    (
        I("Aviso de voltaje (V)", "-volt_alarm", "", 1, "limit"),
        I("Capacidad del depósito (ml)", "-tank_ml", "", 0, "limit"),
    ),
    (
        I("Combustible consumido (ml)", "fuel.main.used_ml", "ml", 0),
        I("Reserva de combustible (ml)", "-fuel_alarm_ml", "", 0, "limit"),
    ),
    (I("Tiempo de motor (s)", "-runtime_s", "", 0, "another clock"), I("Potencia (W)", "-power_w", "", 1)),
    (
        I("Estación de tierra (V)", "-ground_v", "", 2, "other system"),
        I("Giróscopo (%)", "-gyro_gain", "", 0, "other system"),
    ),
    (I("Velocidad GPS (km/h)", "position.ground_speed_m_s", "km/h", 0), I("Satélites", "position.satellites", "1", 0)),
    (
        I("Alerón (%)", "control.aileron_percent", "%", 0),
        I("Timón de profundidad (%)", "control.elevator_percent", "%", 0),
    ),
)

SHOUTED: tuple[Bundle, ...] = (
    (
        I("RX1_VOLTS", "pack.rx1.voltage_v|bus.rx1.voltage_v", "V", 2),
        I("RX2_VOLTS", "pack.rx2.voltage_v|bus.rx2.voltage_v", "V", 2),
    ),
    (
        I("TURBINE_RPM", "engine.main.speed_rpm", "rpm", 0),
        I("TURBINE_EGT_C", "engine.main.egt_c", "C", 0),
        I("TURBINE_PUMP_V", "engine.main.pump_v", "V", 2),
    ),
    (I("TANK_ML_LEFT", "?fuel.main.remaining_ml", "ml", 0, "side or remaining"),),
    (
        I("GPS_LAT", "position.latitude_deg", "deg", 6),
        I("GPS_LON", "position.longitude_deg", "deg", 6),
        I("GPS_ALT_M", "position.altitude_m", "m", 1),
        I("GPS_SPEED_KT", "position.ground_speed_m_s", "kt", 1),
    ),
    (I("PITOT_KT", "?motion.airspeed_m_s", "kt", 1),),
    (I("RX1_LQ_PCT", "link.rx1.link_quality_percent", "%", 0), I("RX1_RSSI_DBM", "link.rx1.rssi_dbm", "dBm", 0)),
    (I("AIR_TEMP_C", "air.temperature_c", "C", 1), I("AIR_PRESS_KPA", "air.pressure_pa", "kPa", 2)),
    (
        I("STICK_ELEVATOR_PCT", "control.elevator_percent", "%", 0),
        I("STICK_RUDDER_PCT", "control.rudder_percent", "%", 0),
    ),
    (I("ECU_BATT_V", "pack.ecu.voltage_v", "V", 2), I("ECU_BATT_A", "pack.ecu.current_a", "A", 2)),
    (I("TURBINE_RPM_PEAK", "-rpm_max", "", 0, "extreme"), I("TURBINE_EGT_LIMIT_C", "-egt_limit", "", 0, "limit")),
    (I("GYRO_GAIN_PCT", "-gyro_gain", "", 0, "other system"), I("SERVO_RAIL_V", "-servo_v", "", 2, "other system")),
)

WRITTEN_OUT: tuple[Bundle, ...] = (
    (
        I("Receiver one battery, volts", "pack.rx1.voltage_v", "V", 2),
        I("Receiver two battery, volts", "pack.rx2.voltage_v", "V", 2),
    ),
    (
        I("Exhaust gas temperature, Celsius", "engine.main.egt_c", "C", 0),
        I("Turbine shaft, revolutions per minute", "engine.main.speed_rpm", "rpm", 0),
    ),
    (I("Fuel remaining, US fluid ounces", "fuel.main.remaining_ml", "floz", 1),),
    (
        I("Airspeed, kilometres per hour", "motion.airspeed_m_s", "km/h", 0),
        I("Altitude, metres", "position.altitude_m", "m", 0),
    ),
    (
        I("Air pressure, hectopascals", "air.pressure_pa", "hPa", 1),
        I("Air temperature, Celsius", "air.temperature_c", "C", 1),
    ),
    (
        I("Ground speed, metres per second", "position.ground_speed_m_s", "m/s", 1),
        I("Track, degrees", "position.track_deg", "deg", 0),
    ),
    (I("Satellites in use", "position.satellites", "1", 0),),
    (
        I("Pump, volts", "engine.main.pump_v", "V", 2),
        I("Throttle, percent", "control.throttle_percent|engine.main.throttle_percent", "%", 0),
    ),
    (
        I("Fuel tank capacity, US fluid ounces", "-tank_ml", "", 0, "limit"),
        I("Average exhaust gas temperature, Celsius", "-egt_mean", "", 0, "extreme"),
    ),
    (
        I("Servo current, amperes", "-servo_a", "", 2, "other system"),
        I("Ground station battery, volts", "-ground_v", "", 2, "other system"),
    ),
)

PLAIN_FRENCH: tuple[Bundle, ...] = (
    (
        I("Tension recepteur 1 V", "pack.rx1.voltage_v|bus.rx1.voltage_v", "V", 2),
        I("Tension recepteur 2 V", "pack.rx2.voltage_v|bus.rx2.voltage_v", "V", 2),
    ),
    (
        I("Regime turbine tr/min", "engine.main.speed_rpm", "rpm", 0),
        I("Temp echappement C", "engine.main.egt_c", "C", 0),
    ),
    (
        I("Carburant restant ml", "fuel.main.remaining_ml", "ml", 0),
        I("Debit ml/min", "?fuel.main.flow_ml_per_min", "ml/min", 0),
    ),
    (I("Altitude m", "position.altitude_m", "m", 0), I("Vitesse sol km/h", "position.ground_speed_m_s", "km/h", 0)),
    (
        I("Signal recepteur 1 %", "link.rx1.signal_percent", "%", 0),
        I("Signal recepteur 2 %", "link.rx2.signal_percent", "%", 0),
    ),
    (I("Latitude deg", "position.latitude_deg", "deg", 6), I("Longitude deg", "position.longitude_deg", "deg", 6)),
    (I("Temp air C", "air.temperature_c", "C", 1), I("Pression hPa", "?air.pressure_pa", "hPa", 1)),
    (
        I("Gaz %", "control.throttle_percent|engine.main.throttle_percent", "%", 0),
        I("Aileron %", "control.aileron_percent", "%", 0),
    ),
    (I("Regime max tr/min", "-rpm_limit", "", 0, "limit"), I("Temp soute C", "-bay_c", "", 1, "other system")),
)

ENGINES_IN_TURN: tuple[Bundle, ...] = (
    (I("Drehzahl [1/min]", "engine.{}.speed_rpm", "rpm", 0), I("Abgastemperatur [°C]", "engine.{}.egt_c", "C", 0)),
    (I("Pumpe [V]", "engine.{}.pump_v", "V", 2),),
    (
        I("Restkraftstoff [ml]", "fuel.{}.remaining_ml", "ml", 0),
        I("Durchfluss [ml/min]", "fuel.{}.flow_ml_per_min", "ml/min", 0),
    ),
)

CELL_UNITS: tuple[Bundle, ...] = (
    (
        I("Tensione Rx1", "pack.rx1.voltage_v|bus.rx1.voltage_v", "V", 2, tail=" V"),
        I("Corrente Rx1", "pack.rx1.current_a|bus.rx1.current_a", "A", 2, tail=" A"),
    ),
    (
        I("Giri turbina", "engine.main.speed_rpm", "rpm", 0, tail=" rpm"),
        I("Temperatura scarico", "engine.main.egt_c", "C", 0, tail=" °C"),
    ),
    (I("Carburante residuo", "fuel.main.remaining_ml", "ml", 0, tail=" ml"),),
    (
        I("Quota", "position.altitude_m", "m", 0, tail=" m"),
        I("Velocità GPS", "position.ground_speed_m_s", "km/h", 0, tail=" km/h"),
    ),
    (
        I("Segnale Rx1", "link.rx1.rssi_dbm", "dBm", 0, tail=" dBm"),
        I("Segnale Rx2", "link.rx2.rssi_dbm", "dBm", 0, tail=" dBm"),
    ),
    (
        I("Temperatura aria", "air.temperature_c", "C", 1, tail=" °C"),
        I("Manetta", "control.throttle_percent|engine.main.throttle_percent", "%", 0, tail=" %"),
    ),
    (
        I("Temperatura motore servo", "-servo_c", "", 1, "other system", tail=" °C"),
        I("Giri limite", "-rpm_limit", "", 0, "limit", tail=" rpm"),
    ),
)

HELD: tuple[Hand, ...] = (
    Hand(
        "laboratory",
        "held",
        "de",
        LAB,
        (("s", "t/s"), ("dots", "Zeit"), ("ms", "t/ms")),
        delimiter="\t",
        decimal=",",
        least=4,
        most=8,
    ),
    Hand(
        "Italian talker",
        "held",
        "it",
        ITALIAN_TALK,
        (("month_local", "Data e ora"), ("date+clock", "Data|Ora"), ("s", "Secondi")),
        delimiter=";",
        decimal=",",
        least=4,
        most=8,
    ),
    Hand(
        "Spanish rows",
        "held",
        "es",
        SPANISH_ROWS,
        (("s", "Tiempo (s)"), ("clock", "Hora")),
        layout="two-row",
        delimiter=";",
        decimal=",",
        least=3,
        most=6,
    ),
    Hand(
        "counted from nought",
        "held",
        "en",
        COUNTED,
        (("us", "t.us"), ("epoch_ms", "t.unix_ms"), ("ms", "t_boot_ms")),
        always=2,
        least=3,
        most=8,
    ),
    Hand(
        "British twin",
        "held",
        "en",
        BRITISH,
        (("slashes", "Date and time"), ("clock", "Time"), ("month", "Local time"), ("min", "Time (min)")),
        least=4,
        most=9,
    ),
    Hand("same words twice", "held", "en", TWINNED, (("s", "Time (s)"), ("clock", "Time")), least=3, most=5, logs=4),
    Hand(
        "two engines, same words",
        "held",
        "en",
        DOUBLED,
        (("s", "Time (s)"), ("ms", "Time (ms)")),
        least=3,
        most=4,
        logs=4,
        shuffled=False,
    ),
    Hand("words of two meanings", "held", "en", WORDY, (("s", "Time (s)"), ("iso", "Time")), always=0, least=4, most=7),
    Hand(
        "late packets",
        "held",
        "en",
        FADES,
        (("s", "Time (s)"), ("iso", "Time"), ("ms", "Timestamp"), ("clock", "Clock")),
        faults=("late",),
        least=3,
        most=7,
        gaps=0.15,
        blank="-",
        steps=(0.1, 0.25, 0.5, 1.0),
    ),
    Hand(
        "repeated packets",
        "held",
        "en",
        FADES,
        (("ms", "ms"), ("epoch", "Unix time")),
        faults=("repeated",),
        least=3,
        most=6,
        logs=4,
        steps=(0.2, 0.5),
    ),
    Hand(
        "swapped packets",
        "held",
        "en",
        AERIALS,
        (("s", "t"), ("iso_off", "time")),
        faults=("swapped",),
        least=2,
        most=5,
        logs=6,
    ),
    Hand(
        "French twin",
        "held",
        "fr",
        FRENCH_TWIN,
        (("excel", "Date"), ("letters", "Heure"), ("ms", "Temps (ms)")),
        delimiter=";",
        decimal=",",
        least=4,
        most=8,
    ),
    Hand(
        "German talker",
        "held",
        "de",
        GERMAN_TALK,
        (("month_local", "Zeitstempel"), ("clock", "Uhrzeit"), ("s", "Sekunden")),
        delimiter=";",
        decimal=",",
        least=4,
        most=8,
        encoding="cp1252",
    ),
    Hand("cell logger", "held", "en", CELLS, (("s", "sec"), ("ms", "ms"), ("hhmmss", "utc")), least=3, most=7),
    Hand("tenfold numbers", "held", "en", TENFOLD, (("ms", "Time (ms)"), ("s", "Time (s)")), least=4, most=8),
    Hand(
        "spots", "held", "en", SPOTS, (("gps", "GPS week|GPS second"), ("iso_t", "Timestamp")), least=3, most=5, logs=4
    ),
    Hand("compass letters", "held", "en", COMPASS, (("dashes", "Time"), ("iso_z", "UTC")), least=3, most=5, logs=4),
    Hand("raw fixes", "held", "en", RAW_FIXES, (("hhmmss", "time_utc"), ("s", "t_s")), least=3, most=5, logs=4),
    Hand(
        "row of units",
        "held",
        "en",
        UNIT_ROW,
        (("s", "Elapsed"), ("iso", "Date and time")),
        layout="units",
        least=3,
        most=6,
    ),
    Hand("autumn night", "held", "en", BRITISH, (("summer", "Time"),), least=3, most=5, logs=4),
    Hand(
        "last row first",
        "held",
        "en",
        FADES,
        (("clock", "Time"), ("iso", "Date time"), ("ms", "ms")),
        faults=("newest",),
        least=3,
        most=5,
        logs=6,
    ),
    Hand(
        "German readings",
        "held",
        "de",
        GERMAN_TALK[:8],
        (("dots", "Zeit"), ("s", "Zeit (s)")),
        layout="long",
        delimiter=";",
        decimal=",",
        least=3,
        most=6,
        logs=4,
        steps=(0.5, 1.0),
    ),
    Hand(
        "states and one sensor",
        "held",
        "en",
        (FADES[1],),
        (("clock", "Time"), ("ms", "ms")),
        least=0,
        most=1,
        logs=4,
        steps=(0.5, 1.0),
        status=("Event", "boot", "armed", "start", "run", "stop"),
    ),
    Hand(
        "neighbours",
        "held",
        "en",
        NEIGHBOURS,
        (("s", "Time [s]"), ("iso", "Time")),
        least=4,
        most=8,
        delimiter=";",
        blank="NaN",
        gaps=0.05,
    ),
    Hand("against", "held", "en", AGAINST, (("s", "Time [s]"), ("clock", "Time")), always=0, least=3, most=6),
    Hand(
        "French neighbours",
        "held",
        "fr",
        FRENCH_NEIGHBOURS,
        (("s", "Temps (s)"), ("clock", "Heure")),
        least=4,
        most=8,
        delimiter=";",
        decimal=",",
    ),
    Hand(
        "Italian neighbours",
        "held",
        "it",
        ITALIAN_NEIGHBOURS,
        (("s", "Tempo (s)"), ("clock", "Ora")),
        least=4,
        most=8,
        delimiter=";",
        decimal=",",
    ),
    Hand(
        "Spanish neighbours",
        "held",
        "es",
        SPANISH_NEIGHBOURS,
        (("s", "Tiempo (s)"), ("clock", "Hora")),
        least=4,
        most=8,
        delimiter=";",
        decimal=",",
    ),
    Hand(
        "shouted names", "held", "en", SHOUTED, (("ms", "TIME_MS"), ("hhmmss", "UTC"), ("s", "TIME_S")), least=4, most=8
    ),
    Hand(
        "written out",
        "held",
        "en",
        WRITTEN_OUT,
        (("s", "Time, seconds"), ("month_minutes", "Date and time"), ("ms", "Time, milliseconds")),
        least=4,
        most=7,
        delimiter=";",
        steps=(1.0,),
    ),
    Hand(
        "French without accents",
        "held",
        "fr",
        PLAIN_FRENCH,
        (("s", "Temps s"), ("day", "Heure"), ("clock", "Heure")),
        delimiter=";",
        decimal=",",
        least=4,
        most=8,
    ),
    Hand(
        "sensors by turns",
        "held",
        "en",
        UNIT_ROW,
        (("s", "Time (s)"), ("iso", "Time")),
        layout="units",
        least=4,
        most=7,
        gaps=0.6,
        logs=6,
        steps=(0.1, 0.2),
    ),
    Hand(
        "engines in turn",
        "held",
        "de",
        ENGINES_IN_TURN,
        (("s", "Zeit [s]"), ("clock", "Uhrzeit")),
        layout="turns",
        turns=("Triebwerk", "links", "rechts"),
        delimiter=";",
        decimal=",",
        least=1,
        most=3,
        logs=4,
    ),
    Hand(
        "Italian units in cells",
        "held",
        "it",
        CELL_UNITS,
        (("s", "Tempo (s)"), ("clock", "Ora")),
        delimiter=";",
        decimal=",",
        least=4,
        most=6,
    ),
)
