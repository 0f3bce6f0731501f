"""The open hands: whoever works on the importer may look. The other half is ``held.py``: measured, not read."""

from __future__ import annotations

from tests.importers.hands.pages import Bundle, Hand, Item

I = Item  # noqa: E741


BENCH: tuple[Bundle, ...] = (
    (
        I("U_rx1", "pack.rx1.voltage_v|bus.rx1.voltage_v", "V", 3),
        I("I_rx1", "pack.rx1.current_a|bus.rx1.current_a", "A", 2),
    ),
    (I("n krpm", "engine.main.speed_rpm", "krpm", 2), I("T_egt", "?engine.main.egt_c", "C", 0)),
    (
        I("U_rx2", "pack.rx2.voltage_v|bus.rx2.voltage_v", "V", 3),
        I("I_rx2", "pack.rx2.current_a|bus.rx2.current_a", "A", 2),
    ),
    (
        I("U_ecu", "pack.ecu.voltage_v|bus.ecu.voltage_v", "V", 2),
        I("I_ecu", "pack.ecu.current_a|bus.ecu.current_a", "A", 2),
    ),
    (I("U_pump", "engine.main.pump_v", "V", 2),),
    (I("V_fuel ml", "?fuel.main.remaining_ml", "ml", 0), I("ff ml/min", "fuel.main.flow_ml_per_min", "ml/min", 0)),
    (I("T_amb C", "air.temperature_c", "C", 1), I("p_amb hPa", "air.pressure_pa", "hPa", 2)),
    (I("h_baro m", "motion.pressure_altitude_m|position.altitude_m|position.height_m", "m", 1),),
    (I("v_gps km/h", "position.ground_speed_m_s", "km/h", 1), I("n_sat", "position.satellites", "1", 0)),
    (I("lat", "position.latitude_deg", "deg", 6), I("lon", "position.longitude_deg", "deg", 6)),
    (
        I("a_x g", "motion.accel_x_m_s2", "g", 3),
        I("a_y g", "motion.accel_y_m_s2", "g", 3),
        I("a_z g", "?motion.accel_z_m_s2", "g", 3),
    ),
    (I("P_rx1 dBm", "link.rx1.rssi_dbm", "dBm", 0),),
    (I("I_servo", "-servo_a", "A", 2, "other system"), I("T_servo", "-servo_c", "C", 1, "other system")),
    (I("T_bay", "-bay_c", "C", 1, "other system"), I("T_inlet", "-inlet_c", "C", 1, "other system")),
    (I("F_x N", "-thrust_n", "", 1), I("p_case kPa", "-case_kpa", "", 1, "other system")),
    (I("n_lim", "-rpm_limit", "", 0, "limit"), I("T_lim", "-egt_limit", "", 0, "limit")),
    (I("n_set krpm", "-rpm_target", "", 1, "limit"),),
)

CHATTY: tuple[Bundle, ...] = (
    (I("Rx pack A volts", "pack.rx_a.voltage_v", "V", 2), I("Rx pack B volts", "pack.rx_b.voltage_v", "V", 2)),
    (
        I("Right fuel left (ml)", "fuel.right.remaining_ml", "ml", 0, "side or remaining"),
        I("Left fuel left (ml)", "fuel.left.remaining_ml", "ml", 0, "side or remaining"),
    ),
    (
        I("Right engine RPM", "engine.right.speed_rpm", "rpm", 0),
        I("Left engine RPM", "engine.left.speed_rpm", "rpm", 0),
    ),
    (
        I("Right exhaust temperature °C", "engine.right.egt_c", "C", 0),
        I("Left exhaust temperature °C", "engine.left.egt_c", "C", 0),
    ),
    (I("Fuel used so far (ml)", "fuel.main.used_ml", "ml", 0),),
    (I("How high above the field (ft)", "position.height_m", "ft", 0, "sentence"),),
    (I("Ground speed (mph)", "position.ground_speed_m_s", "mph", 1),),
    (I("Climbing at (m/s)", "motion.vario_m_s", "m/s", 1, "sentence"),),
    (I("Outside air temp (°C)", "air.temperature_c", "C", 1),),
    (I("Satellites seen", "position.satellites", "1", 0),),
    (I("Ailerons %", "control.aileron_percent", "%", 0), I("Elevator %", "control.elevator_percent", "%", 0)),
    (I("Throttle stick %", "control.throttle_percent", "%", 0),),
    (I("Wheels down?", "control.gear", "bool", 0, "sentence", form="bool"),),
    (
        I("Signal receiver 1 (%)", "link.rx1.signal_percent", "%", 0),
        I("Signal receiver 2 (%)", "link.rx2.signal_percent", "%", 0),
    ),
    (I("Frames lost receiver 1", "link.rx1.lost_frames", "1", 0),),
    (
        I(
            "Battery in my transmitter (V)",
            "~other.tx_v>pack.tx.voltage_v|pack.transmitter.voltage_v",
            "V",
            2,
            "other system",
        ),
    ),
    (
        I("Smoke tank left (ml)", "-smoke_ml", "", 0, "side or remaining"),
        I("Smoke pump volts", "-smoke_v", "", 2, "other system"),
    ),
    (I("Highest so far (m)", "-height_max", "", 0, "extreme"),),
    (I("Fuel alarm at (ml)", "-fuel_alarm_ml", "", 0, "limit"), I("Tank size (ml)", "-tank_ml", "", 0, "limit")),
    (I("Hottest EGT", "-egt_max", "", 0, "extreme"),),
)

CHATTY_TANKS: tuple[Bundle, ...] = (
    (
        I("Fuel left 1", "?fuel.1.remaining_ml", "ml", 0, "side or remaining"),
        I("Fuel left 2", "?fuel.2.remaining_ml", "ml", 0, "side or remaining"),
    ),
    (I("EGT (C)", "engine.main.egt_c", "C", 0), I("RPM", "engine.main.speed_rpm", "rpm", 0)),
    (I("Pump volts", "engine.main.pump_v", "V", 2),),
    (
        I("Rx batt 1 volts", "pack.rx1.voltage_v|pack.1.voltage_v", "V", 2),
        I("Rx batt 2 volts", "pack.rx2.voltage_v|pack.2.voltage_v", "V", 2),
    ),
    (I("Turbine battery volts", "pack.ecu.voltage_v", "V", 2),),
    (I("Fuel flow ml per min", "fuel.main.flow_ml_per_min", "ml/min", 0),),
    (
        I("GPS altitude (m)", "position.altitude_m", "m", 0),
        I("GPS speed (knots)", "position.ground_speed_m_s", "kt", 1),
    ),
    (I("Airspeed (mph)", "motion.airspeed_m_s", "mph", 1),),
    (I("RSSI dBm", "link.main.rssi_dbm", "dBm", 0),),
    (I("Max RPM", "-rpm_max", "", 0, "extreme"), I("Max EGT (C)", "-egt_max", "", 0, "extreme")),
    (I("Servo volts", "-servo_v", "", 2, "other system"), I("Gyro gain", "-gyro_gain", "", 0, "other system")),
    (I("Low battery warning (V)", "-volt_alarm", "", 1, "limit"),),
    (I("Motor", "!engine.main.speed_rpm", "rpm", 0, "word of two meanings"),),
)

GERMAN_SHEET: tuple[Bundle, ...] = (
    (I("Akku Empf. 1 [V]", "pack.rx1.voltage_v", "V", 2), I("Akku Empf. 2 [V]", "pack.rx2.voltage_v", "V", 2)),
    (
        I("Drehzahl links [1/min]", "engine.left.speed_rpm", "rpm", 0),
        I("Drehzahl rechts [1/min]", "engine.right.speed_rpm", "rpm", 0),
    ),
    (
        I("Abgastemp. links [°C]", "engine.left.egt_c", "C", 0),
        I("Abgastemp. rechts [°C]", "engine.right.egt_c", "C", 0),
    ),
    (I("Strom Empf. 1 [A]", "pack.rx1.current_a|bus.rx1.current_a", "A", 2),),
    (I("verbraucht Akku 1 [mAh]", "pack.rx1.used_mah|pack.1.used_mah", "mAh", 0),),
    (I("Restkraftstoff [ml]", "fuel.main.remaining_ml", "ml", 0),),
    (I("Durchfluss [ml/min]", "fuel.main.flow_ml_per_min", "ml/min", 0),),
    (I("Pumpenspannung [V]", "engine.main.pump_v", "V", 2),),
    (I("Höhe über Platz [m]", "position.height_m", "m", 1), I("Steigen [m/s]", "motion.vario_m_s", "m/s", 1)),
    (I("Geschwindigkeit GPS [km/h]", "position.ground_speed_m_s", "km/h", 1),),
    (I("Breite [°]", "position.latitude_deg", "deg", 6), I("Länge [°]", "position.longitude_deg", "deg", 6)),
    (I("Luftdruck [hPa]", "air.pressure_pa", "hPa", 1), I("Außentemperatur [°C]", "air.temperature_c", "C", 1)),
    (
        I("Feldstärke Antenne 1 [dBm]", "link.main.antenna:1.rssi_dbm", "dBm", 0),
        I("Feldstärke Antenne 2 [dBm]", "link.main.antenna:2.rssi_dbm", "dBm", 0),
    ),
    (
        I("Gas [%]", "control.throttle_percent|engine.main.throttle_percent", "%", 0),
        I("Querruder [%]", "control.aileron_percent", "%", 0),
    ),
    (
        I("Servostrom [A]", "-servo_a", "", 2, "other system"),
        I("Kreisel Empfindlichkeit [%]", "-gyro_gain", "", 0, "other system"),
    ),
    (
        I("Drehzahlgrenze [1/min]", "-rpm_limit", "", 0, "limit"),
        I("max. Abgastemp. [°C]", "-egt_max", "", 0, "extreme"),
    ),
    (I("Tankinhalt gesamt [ml]", "-tank_ml", "", 0, "limit"),),
    (I("Rumpftemperatur [°C]", "-bay_c", "", 1, "other system"),),
    (I("lfd. Nr.", "-row", "", 0),),
)

CONTROLLER: tuple[Bundle, ...] = (
    (
        I("vbat_x100", "?pack.main.voltage_v", "cV", 0, "scale in the heading"),
        I("ibat_x100", "?pack.main.current_a", "cA", 0, "scale in the heading"),
    ),
    (
        I("lat_e7", "position.latitude_deg", "e7", 0, "scale in the heading"),
        I("lon_e7", "position.longitude_deg", "e7", 0, "scale in the heading"),
    ),
    (
        I("egt_x10", "?engine.main.egt_c", "dC", 0, "scale in the heading"),
        I("rpm_div10", "?engine.main.speed_rpm", "rpm/10", 0, "scale in the heading"),
    ),
    (
        I("alt_cm", "position.altitude_m", "cm", 0),
        I("gspd_cms", "?position.ground_speed_m_s", "cm/s", 0, "unit in a run of letters"),
    ),
    (I("sats", "position.satellites", "1", 0), I("cog_x100", "?position.track_deg", "cdeg", 0, "scale in the heading")),
    (I("baro_pa", "air.pressure_pa", "Pa", 0), I("oat_x10", "?air.temperature_c", "dC", 0, "scale in the heading")),
    (
        I("rx1_mv", "pack.rx1.voltage_v|bus.rx1.voltage_v", "mV", 0),
        I("rx2_mv", "pack.rx2.voltage_v|bus.rx2.voltage_v", "mV", 0),
    ),
    (
        I("ecu_mv", "pack.ecu.voltage_v|bus.ecu.voltage_v", "mV", 0),
        I("ecu_ma", "pack.ecu.current_a|bus.ecu.current_a", "mA", 0),
    ),
    (I("rssi_dbm", "link.main.rssi_dbm", "dBm", 0), I("lq_pct", "link.main.link_quality_percent", "%", 0)),
    (
        I("fuel_ml", "?fuel.main.remaining_ml", "ml", 0),
        I("flow_mlmin", "?fuel.main.flow_ml_per_min", "ml/min", 0, "unit in a run of letters"),
    ),
    (
        I("roll_cd", "?attitude.roll_deg", "cdeg", 0, "scale in the heading"),
        I("pitch_cd", "?attitude.pitch_deg", "cdeg", 0, "scale in the heading"),
    ),
    (I("acc_z_mg", "motion.accel_z_m_s2", "mg", 0),),
    (I("loop_hz", "-loop_hz", "", 0), I("cpu_pct", "-cpu_percent", "", 0), I("free_kb", "-memory_kb", "", 0)),
    (I("hdop_x100", "-hdop", "", 2), I("fix", "-fix", "", 0)),
    (I("crc", "-checksum", "", 0), I("seq", "-packet", "", 0)),
    (I("mcu_temp", "-cpu_c", "", 1, "other system"), I("esc_temp_c", "-servo_c", "", 1, "other system")),
    (I("srv1_us", "-servo_us", "", 0, "other system"),),
)

FRENCH: tuple[Bundle, ...] = (
    (
        I("Tension accu réception 1 (V)", "pack.rx1.voltage_v", "V", 2),
        I("Tension accu réception 2 (V)", "pack.rx2.voltage_v", "V", 2),
    ),
    (
        I("Régime turbine (tr/min)", "engine.main.speed_rpm", "rpm", 0),
        I("T° tuyère (°C)", "?engine.main.egt_c", "C", 0, "abbreviation"),
    ),
    (I("Carburant restant (ml)", "fuel.main.remaining_ml", "ml", 0),),
    (I("Débit carburant (ml/min)", "fuel.main.flow_ml_per_min", "ml/min", 0),),
    (I("Tension pompe (V)", "engine.main.pump_v", "V", 2),),
    (I("Courant accu réception 1 (A)", "pack.rx1.current_a", "A", 2),),
    (I("Tension ECU (V)", "pack.ecu.voltage_v|bus.ecu.voltage_v", "V", 2),),
    (
        I("Vitesse sol (km/h)", "position.ground_speed_m_s", "km/h", 0),
        I("Cap (°)", "?position.track_deg|attitude.heading_deg", "deg", 0, "word of two meanings"),
    ),
    (I("Altitude (m)", "position.altitude_m", "m", 0), I("Vario (m/s)", "motion.vario_m_s", "m/s", 1)),
    (I("Hauteur (m)", "position.height_m", "m", 1),),
    (I("Latitude", "position.latitude_deg", "deg", 6), I("Longitude", "position.longitude_deg", "deg", 6)),
    (I("Qualité liaison (%)", "link.main.link_quality_percent", "%", 0),),
    (
        I("Température extérieure (°C)", "air.temperature_c", "C", 1),
        I("Pression atm. (kPa)", "air.pressure_pa", "kPa", 2),
    ),
    (
        I("Gaz (%)", "control.throttle_percent|engine.main.throttle_percent", "%", 0),
        I("Profondeur (%)", "control.elevator_percent", "%", 0),
    ),
    (I("Nb satellites", "position.satellites", "1", 0),),
    (
        I("Seuil carburant (ml)", "-fuel_alarm_ml", "", 0, "limit"),
        I("Régime maxi (tr/min)", "-rpm_limit", "", 0, "limit"),
    ),
    (
        I("Température soute (°C)", "-bay_c", "", 1, "other system"),
        I("Courant servos (A)", "-servo_a", "", 2, "other system"),
    ),
    (
        I("Tension démarreur (V)", "-starter_v", "", 2, "other system"),
        I("Bougie (V)", "-glow_v", "", 2, "other system"),
    ),
    (I("Capacité réservoir (ml)", "-tank_ml", "", 0, "limit"),),
    (I("Accu émission (V)", "~other.tx_v>pack.tx.voltage_v", "V", 2, "other system"),),
)

SPANISH: tuple[Bundle, ...] = (
    (I("Voltaje Rx1 (V)", "pack.rx1.voltage_v|bus.rx1.voltage_v", "V", 2),),
    (I("RPM izquierda", "engine.left.speed_rpm", "rpm", 0), I("RPM derecha", "engine.right.speed_rpm", "rpm", 0)),
    (
        I("Temp. escape izq. (°C)", "engine.left.egt_c", "C", 0),
        I("Temp. escape der. (°C)", "engine.right.egt_c", "C", 0, "word of two meanings"),
    ),
    (I("Combustible restante (ml)", "fuel.main.remaining_ml", "ml", 0),),
    (I("Combustible usado (ml)", "fuel.main.used_ml", "ml", 0),),
    (I("Caudal (ml/min)", "fuel.main.flow_ml_per_min", "ml/min", 0),),
    (I("Corriente Rx1 (A)", "pack.rx1.current_a|bus.rx1.current_a", "A", 2),),
    (I("Altura (m)", "position.height_m|position.altitude_m", "m", 1),),
    (I("Velocidad (km/h)", "position.ground_speed_m_s|motion.airspeed_m_s", "km/h", 1),),
    (I("Latitud", "position.latitude_deg", "deg", 6), I("Longitud", "position.longitude_deg", "deg", 6)),
    (I("Señal Rx1 (dBm)", "link.rx1.rssi_dbm", "dBm", 0), I("Señal Rx2 (dBm)", "link.rx2.rssi_dbm", "dBm", 0)),
    (I("Temperatura aire (°C)", "air.temperature_c", "C", 1), I("Presión (hPa)", "?air.pressure_pa", "hPa", 1)),
    (
        I("Acelerador (%)", "control.throttle_percent|engine.main.throttle_percent", "%", 0),
        I("Alerones (%)", "control.aileron_percent", "%", 0),
    ),
    (I("Límite RPM", "-rpm_limit", "", 0, "limit"), I("RPM objetivo", "-rpm_target", "", 0, "limit")),
    (I("Temp. bodega (°C)", "-bay_c", "", 1, "other system"),),
    (I("Altura máx. (m)", "-height_max", "", 1, "extreme"), I("Señal mín. (dBm)", "-rssi_min", "", 0, "extreme")),
    (I("Alarma combustible", "-fuel_alarm", "", 0, "limit"),),
    (
        I("Voltaje video (V)", "-video_v", "", 2, "other system"),
        I("Señal video (%)", "-video_percent", "", 0, "other system"),
    ),
)

ITALIAN: tuple[Bundle, ...] = (
    (
        I("Tensione Rx1 (V)", "pack.rx1.voltage_v|bus.rx1.voltage_v", "V", 2),
        I("Tensione Rx2 (V)", "pack.rx2.voltage_v|bus.rx2.voltage_v", "V", 2),
    ),
    (
        I("Giri turbina (giri/min)", "engine.main.speed_rpm", "rpm", 0),
        I("Temp. scarico (°C)", "engine.main.egt_c", "C", 0),
    ),
    (I("Carburante residuo (ml)", "fuel.main.remaining_ml", "ml", 0),),
    (I("Portata carburante (ml/min)", "fuel.main.flow_ml_per_min", "ml/min", 0),),
    (I("Corrente Rx1 (A)", "pack.rx1.current_a|bus.rx1.current_a", "A", 2),),
    (
        I("Quota (m)", "position.altitude_m|position.height_m", "m", 0),
        I("Velocità al suolo (km/h)", "position.ground_speed_m_s", "km/h", 0),
    ),
    (I("Latitudine", "position.latitude_deg", "deg", 6), I("Longitudine", "position.longitude_deg", "deg", 6)),
    (I("Segnale Rx1 (%)", "link.rx1.signal_percent", "%", 0), I("Segnale Rx2 (%)", "link.rx2.signal_percent", "%", 0)),
    (I("Satelliti", "position.satellites", "1", 0),),
    (I("Temperatura aria (°C)", "air.temperature_c", "C", 1),),
    (
        I("Manetta (%)", "control.throttle_percent|engine.main.throttle_percent", "%", 0),
        I("Alettoni (%)", "control.aileron_percent", "%", 0),
    ),
    (I("Carrello", "control.gear", "bool", 0),),
    (I("Tensione pompa (V)", "engine.main.pump_v", "V", 2),),
    (I("Limite giri", "-rpm_limit", "", 0, "limit"), I("Temp. max (°C)", "-egt_max", "", 0, "extreme")),
    (I("Capacità serbatoio (ml)", "-tank_ml", "", 0, "limit"),),
    (
        I("Temp. servo (°C)", "-servo_c", "", 1, "other system"),
        I("Tensione candela (V)", "-glow_v", "", 2, "other system"),
    ),
    (I("Temp. vano (°C)", "-bay_c", "", 1, "other system"),),
)

IMPERIAL: tuple[Bundle, ...] = (
    (I("EGT (°F)", "engine.main.egt_c", "F", 0), I("RPM", "engine.main.speed_rpm", "rpm", 0)),
    (I("Fuel remaining (fl oz)", "fuel.main.remaining_ml", "floz", 1),),
    (I("Fuel flow (fl oz/min)", "fuel.main.flow_ml_per_min", "floz/min", 2),),
    (
        I("Altitude (ft)", "position.altitude_m", "ft", 0),
        I("Ground speed (mph)", "position.ground_speed_m_s", "mph", 1),
    ),
    (I("Airspeed (kts)", "motion.airspeed_m_s", "kt", 1), I("Climb (ft/min)", "motion.vario_m_s", "ft/min", 0)),
    (I("Baro (inHg)", "air.pressure_pa", "inHg", 3), I("OAT (°F)", "air.temperature_c", "F", 1)),
    (I("Rx pack (V)", "pack.rx.voltage_v", "V", 2), I("Rx pack used (mAh)", "pack.rx.used_mah", "mAh", 0)),
    (I("ECU batt (V)", "pack.ecu.voltage_v", "V", 2), I("ECU batt (A)", "pack.ecu.current_a", "A", 2)),
    (I("Pack temp (°F)", "?pack.main.temperature_c|pack.rx.temperature_c", "F", 1),),
    (I("Lat", "position.latitude_deg", "deg", 6), I("Long", "position.longitude_deg", "deg", 6)),
    (I("RSSI (dBm)", "link.main.rssi_dbm", "dBm", 0), I("LQ (%)", "link.main.link_quality_percent", "%", 0)),
    (I("Fuel used oz", "?fuel.main.used_ml", "floz", 1, "ounce"),),
    (
        I("Case pressure (psi)", "-case_kpa", "", 1, "other system"),
        I("Smoke oil (oz)", "-smoke_ml", "", 1, "other system"),
    ),
    (I("Bay temp (°F)", "-bay_c", "", 1, "other system"),),
    (I("EGT limit (°F)", "-egt_limit", "", 0, "limit"), I("Peak RPM", "-rpm_max", "", 0, "extreme")),
    (I("Tank (oz)", "?fuel.main.remaining_ml", "floz", 1, "ounce"),),
)

LINK: tuple[Bundle, ...] = (
    (
        I("Rx1 Ant A", "?link.rx1.antenna:A.rssi_dbm", "dBm", 0, "antenna by letter"),
        I("Rx1 Ant B", "?link.rx1.antenna:B.rssi_dbm", "dBm", 0, "antenna by letter"),
    ),
    (
        I("rx2 B1 RSSI", "?link.rx2.antenna:B1.rssi_dbm", "dBm", 0, "antenna by letter"),
        I("rx2 B2 RSSI", "?link.rx2.antenna:B2.rssi_dbm", "dBm", 0, "antenna by letter"),
    ),
    (
        I("Rx3 1 RSSI", "?link.rx3.antenna:1.rssi_dbm", "dBm", 0, "antenna by number"),
        I("Rx3 2 RSSI", "?link.rx3.antenna:2.rssi_dbm", "dBm", 0, "antenna by number"),
        I("Rx3 3 RSSI", "?link.rx3.antenna:3.rssi_dbm", "dBm", 0, "antenna by number"),
        I("Rx3 4 RSSI", "?link.rx3.antenna:4.rssi_dbm", "dBm", 0, "antenna by number"),
    ),
    (I("Rx1 LQ", "link.rx1.link_quality_percent", "%", 0), I("Rx2 LQ", "link.rx2.link_quality_percent", "%", 0)),
    (I("Rx1 lost frames", "link.rx1.lost_frames", "1", 0), I("Rx2 lost frames", "link.rx2.lost_frames", "1", 0)),
    (I("Rx1 failsafe", "link.rx1.failsafe", "bool", 0),),
    (
        I("Rx1 V", "pack.rx1.voltage_v|bus.rx1.voltage_v", "V", 2),
        I("Rx2 V", "pack.rx2.voltage_v|bus.rx2.voltage_v", "V", 2),
    ),
    (I("Downlink RSSI", "downlink.main.rssi_dbm", "dBm", 0),),
    (
        I("Rx1 A fades", "?link.rx1.antenna:A.lost", "1", 0, "antenna by letter"),
        I("Rx1 B fades", "?link.rx1.antenna:B.lost", "1", 0, "antenna by letter"),
    ),
    (I("Ground station RSSI", "-video_dbm", "", 0, "other system"),),
    (I("VTX RSSI", "-video_dbm", "", 0, "other system"), I("VTX temp", "-video_c", "", 1, "other system")),
    (I("Min RSSI", "-rssi_min", "", 0, "extreme"), I("RSSI warning", "-rssi_warning", "", 0, "limit")),
    (I("Packet rate", "-rate_hz", "", 0, "word of two meanings"), I("Packet no", "-packet", "", 0)),
    (I("Servo rail V", "-servo_v", "", 2, "other system"),),
)

GROUPED: tuple[Bundle, ...] = (
    (
        I("Receiver 1|Voltage (V)", "pack.rx1.voltage_v|bus.rx1.voltage_v", "V", 2),
        I("Receiver 1|Current (A)", "pack.rx1.current_a|bus.rx1.current_a", "A", 2),
    ),
    (
        I("Turbine|RPM", "engine.main.speed_rpm", "rpm", 0),
        I("Turbine|EGT (°C)", "engine.main.egt_c", "C", 0),
        I("Turbine|Pump (V)", "engine.main.pump_v", "V", 2),
    ),
    (
        I("Receiver 2|Voltage (V)", "pack.rx2.voltage_v|bus.rx2.voltage_v", "V", 2),
        I("Receiver 2|Current (A)", "pack.rx2.current_a|bus.rx2.current_a", "A", 2),
    ),
    (
        I("Fuel|Remaining (ml)", "fuel.main.remaining_ml", "ml", 0),
        I("Fuel|Flow (ml/min)", "fuel.main.flow_ml_per_min", "ml/min", 0),
    ),
    (
        I("GPS|Latitude", "position.latitude_deg", "deg", 6),
        I("GPS|Longitude", "position.longitude_deg", "deg", 6),
        I("GPS|Altitude (m)", "position.altitude_m", "m", 1),
        I("GPS|Speed (km/h)", "position.ground_speed_m_s", "km/h", 1),
    ),
    (
        I("Link|RSSI (dBm)", "link.main.rssi_dbm", "dBm", 0),
        I("Link|Quality (%)", "link.main.link_quality_percent", "%", 0),
    ),
    (I("Air|Temp (°C)", "air.temperature_c", "C", 1), I("Air|Pressure (hPa)", "air.pressure_pa", "hPa", 1)),
    (
        I("Servo|Current (A)", "-servo_a", "", 2, "other system"),
        I("Servo|Voltage (V)", "-servo_v", "", 2, "other system"),
    ),
    (I("Starter|Current (A)", "-starter_a", "", 1, "other system"),),
)

DOTTED: tuple[Bundle, ...] = (
    (
        I("turbine.left.egt", "?engine.left.egt_c", "C", 0, "dotted"),
        I("turbine.right.egt", "?engine.right.egt_c", "C", 0, "dotted"),
        I("turbine.left.rpm", "engine.left.speed_rpm", "rpm", 0, "dotted"),
        I("turbine.right.rpm", "engine.right.speed_rpm", "rpm", 0, "dotted"),
    ),
    (
        I("power.rx1.volt", "pack.rx1.voltage_v|bus.rx1.voltage_v", "V", 3, "dotted"),
        I("power.rx1.amp", "pack.rx1.current_a|bus.rx1.current_a", "A", 2, "dotted"),
        I("power.rx2.volt", "pack.rx2.voltage_v|bus.rx2.voltage_v", "V", 3, "dotted"),
        I("power.rx2.amp", "pack.rx2.current_a|bus.rx2.current_a", "A", 2, "dotted"),
    ),
    (I("tank.main.ml", "?fuel.main.remaining_ml", "ml", 0, "dotted"),),
    (
        I("gps.lat", "position.latitude_deg", "deg", 6, "dotted"),
        I("gps.lon", "position.longitude_deg", "deg", 6, "dotted"),
        I("gps.alt_m", "position.altitude_m", "m", 1, "dotted"),
        I("gps.sats", "position.satellites", "1", 0, "dotted"),
    ),
    (
        I("link.rx1.rssi_dbm", "link.rx1.rssi_dbm", "dBm", 0, "dotted"),
        I("link.rx2.rssi_dbm", "link.rx2.rssi_dbm", "dBm", 0, "dotted"),
    ),
    (
        I("stick.throttle", "control.throttle_percent", "%", 1, "dotted"),
        I("stick.aileron", "control.aileron_percent", "%", 1, "dotted"),
    ),
    (I("air.press_hpa", "air.pressure_pa", "hPa", 1, "dotted"), I("air.temp_c", "air.temperature_c", "C", 1, "dotted")),
    (I("limit.rpm", "-rpm_limit", "", 0, "limit"), I("limit.egt", "-egt_limit", "", 0, "limit")),
    (I("sys.cpu", "-cpu_percent", "", 0), I("sys.temp", "-cpu_c", "", 1, "other system")),
    (I("servo.3.us", "-servo_us", "", 0, "other system"), I("gyro.gain", "-gyro_gain", "", 0, "other system")),
)

PLACES: tuple[Bundle, ...] = (
    (I("lat,lon", "", "deg", 6, "two in one column", tail=",", form="pair"),),
    (
        I("Alt MSL (m)", "position.altitude_m", "m", 1),
        I("Speed over ground (kn)", "position.ground_speed_m_s", "kt", 1),
    ),
    (I("Course (°)", "position.track_deg", "deg", 0), I("Sats", "position.satellites", "1", 0)),
    (
        I("Heading (°)", "attitude.heading_deg", "deg", 0),
        I("Roll (°)", "attitude.roll_deg", "deg", 1),
        I("Pitch (°)", "attitude.pitch_deg", "deg", 1),
    ),
    (I("AGL (m)", "position.height_m", "m", 1),),
    (I("Rx volts", "pack.rx.voltage_v|bus.rx.voltage_v", "V", 2),),
    (I("Distance (m)", "-distance_m", "", 0), I("HDOP", "-hdop", "", 2), I("Home distance (m)", "-distance_m", "", 0)),
    (I("Max alt (m)", "-height_max", "", 0, "extreme"), I("Max speed (m/s)", "-speed_max_ms", "", 1, "extreme")),
)

SENTENCES: tuple[Bundle, ...] = (
    (
        I("Latitude", "position.latitude_deg", "deg", 4, "degrees and minutes", form="ddmm apart NS"),
        I("Longitude", "position.longitude_deg", "deg", 4, "degrees and minutes", form="ddmm apart EW"),
    ),
    *PLACES[1:],
)

LETTERED: tuple[Bundle, ...] = (
    (
        I("GPS lat", "position.latitude_deg", "deg", 4, "hemisphere in the cell", form="minutes NS"),
        I("GPS lon", "position.longitude_deg", "deg", 4, "hemisphere in the cell", form="minutes EW"),
    ),
    *PLACES[1:],
)

BYSTANDERS: tuple[Bundle, ...] = (
    (I("Rx1 voltage (V)", "pack.rx1.voltage_v|bus.rx1.voltage_v", "V", 2), I("EGT (°C)", "engine.main.egt_c", "C", 0)),
    (I("Rx temp (°C)", "-servo_c", "", 1, "other system"), I("ECU temp (°C)", "-cpu_c", "", 1, "other system")),
    (I("Fuel temp (°C)", "-bay_c", "", 1, "other system"), I("Fuel pressure (bar)", "-air_bar", "", 2, "other system")),
    (I("Pump current (A)", "-ground_a", "", 2, "other system"), I("Pump rpm", "-loop_hz", "", 0, "other system")),
    (
        I("Engine run time (s)", "-runtime_s", "", 0, "another clock"),
        I("Timer 1", "-countdown", "", 0, "another clock"),
    ),
    (I("Wind speed (m/s)", "-wind_ms", "", 1, "other system"), I("Wind from (°)", "-wind_deg", "", 0, "other system")),
    (I("Target altitude (m)", "-height_limit", "", 0, "limit"), I("Stall speed (km/h)", "-stall_kmh", "", 0, "limit")),
    (I("Lowest cell (V)", "-cell_v", "", 3, "extreme"), I("Cell difference (mV)", "-cell_mv", "", 0)),
    (I("Power (W)", "-power_w", "", 1), I("Energy (Wh)", "-energy_wh", "", 2), I("Resistance (mΩ)", "-ohm", "", 1)),
    (I("Motor current (A)", "~other.servo_a>pack.motor.current_a", "A", 1, "other system"),),
    (I("RPM (1/min)", "engine.main.speed_rpm", "rpm", 0), I("RPM average", "-rpm_mean", "", 0, "extreme")),
    (I("GPS speed (km/h)", "position.ground_speed_m_s", "km/h", 0), I("GPS accuracy (m)", "-hdop", "", 1)),
    (
        I("Fuel remaining (ml)", "fuel.main.remaining_ml", "ml", 0),
        I("Fuel reserve (ml)", "-fuel_alarm_ml", "", 0, "limit"),
    ),
)

CONTRADICTED: tuple[Bundle, ...] = (
    (I("Rx1 (V)", "!pack.rx1.voltage_v", "cV", 0, "values contradict the unit"),),
    (I("Fuel remaining (ml)", "?fuel.main.used_ml", "ml", 0, "values contradict the word"),),
    (I("EGT (C)", "engine.main.egt_c", "C", 0), I("RPM", "engine.main.speed_rpm", "rpm", 0)),
    (I("Pack used (mAh)", "-charge_left_mah", "", 0, "values contradict the word"),),
    (I("Throttle (%)", "!control.throttle_percent", "permille", 0, "values contradict the unit"),),
    (I("Aileron (%)", "-servo_us", "", 0, "values contradict the unit"),),
    (
        I("Latitude", "?position.latitude_deg", "e7", 0, "scale in the values"),
        I("Longitude", "?position.longitude_deg", "e7", 0, "scale in the values"),
    ),
    (I("Baro (hPa)", "!air.pressure_pa", "Pa", 0, "values contradict the unit"),),
    (I("Rx1 RSSI (dBm)", "!link.rx1.signal_percent", "%", 0, "values contradict the unit"),),
    (I("Rx2 RSSI (dBm)", "link.rx2.rssi_dbm", "dBm", 0),),
    (I("Satellites", "-checksum", "", 0, "values contradict the word"),),
    (I("ECU volts", "!pack.ecu.voltage_v", "mV", 0, "values contradict the unit"),),
)

GERMAN_BYSTANDERS: tuple[Bundle, ...] = (
    (I("Empfänger 1 Akku (V)", "pack.rx1.voltage_v", "V", 2), I("Abgastemperatur (°C)", "engine.main.egt_c", "C", 0)),
    (
        I("Drehzahl (U/min)", "engine.main.speed_rpm", "rpm", 0),
        I("Drehzahl Mittel (U/min)", "-rpm_mean", "", 0, "extreme"),
    ),
    (
        I("Servotemperatur (°C)", "-servo_c", "", 1, "other system"),
        I("Steuergerät Temp. (°C)", "-cpu_c", "", 1, "other system"),
    ),
    (I("Windgeschwindigkeit (m/s)", "-wind_ms", "", 1, "other system"),),
    (
        I("Kraftstoffdruck (bar)", "-air_bar", "", 2, "other system"),
        I("Pumpenstrom (A)", "-ground_a", "", 2, "other system"),
    ),
    (
        I("Sollhöhe (m)", "-height_limit", "", 0, "limit"),
        I("Alarmschwelle Spannung (V)", "-volt_alarm", "", 1, "limit"),
    ),
    (
        I("Kraftstoff verbraucht (ml)", "fuel.main.used_ml", "ml", 0),
        I("Kraftstoff Reserve (ml)", "-fuel_alarm_ml", "", 0, "limit"),
    ),
    (I("Laufzeit (s)", "-runtime_s", "", 0, "another clock"), I("Leistung (W)", "-power_w", "", 1)),
    (I("Glühstrom (A)", "-glow_a", "", 2, "other system"), I("Bodenstation (V)", "-ground_v", "", 2, "other system")),
    (
        I("Geschwindigkeit über Grund (km/h)", "position.ground_speed_m_s", "km/h", 0),
        I("Kurs über Grund (°)", "position.track_deg", "deg", 0),
    ),
)

CAMEL: tuple[Bundle, ...] = (
    (
        I("rx1Voltage", "pack.rx1.voltage_v|bus.rx1.voltage_v", "V", 2),
        I("rx1Current", "pack.rx1.current_a|bus.rx1.current_a", "A", 2),
    ),
    (I("shaftSpeedRpm", "engine.main.speed_rpm", "rpm", 0), I("exhaustTempC", "engine.main.egt_c", "C", 0)),
    (
        I("fuelRemainingMl", "fuel.main.remaining_ml", "ml", 0),
        I("fuelFlowMlPerMin", "fuel.main.flow_ml_per_min", "ml/min", 0),
    ),
    (
        I("gpsLatitude", "position.latitude_deg", "deg", 6),
        I("gpsLongitude", "position.longitude_deg", "deg", 6),
        I("gpsAltitudeM", "position.altitude_m", "m", 1),
    ),
    (I("groundSpeedKmh", "position.ground_speed_m_s", "km/h", 1), I("airSpeedKmh", "motion.airspeed_m_s", "km/h", 1)),
    (I("rollDeg", "attitude.roll_deg", "deg", 1), I("pitchDeg", "attitude.pitch_deg", "deg", 1)),
    (I("rx1RssiDbm", "link.rx1.rssi_dbm", "dBm", 0), I("rx2RssiDbm", "link.rx2.rssi_dbm", "dBm", 0)),
    (I("airTempC", "air.temperature_c", "C", 1), I("airPressureHpa", "air.pressure_pa", "hPa", 1)),
    (
        I("throttlePercent", "control.throttle_percent|engine.main.throttle_percent", "%", 0),
        I("gearDown", "control.gear", "bool", 0),
    ),
    (I("maxRpm", "-rpm_max", "", 0, "extreme"), I("targetRpm", "-rpm_target", "", 0, "limit")),
    (I("servoCurrent", "-servo_a", "", 2, "other system"), I("bayTempC", "-bay_c", "", 1, "other system")),
)

SPELLED: tuple[Bundle, ...] = (
    (I("Rx 1 Battery (Volts)", "pack.rx1.voltage_v", "V", 2), I("Rx 1 Battery (Amps)", "pack.rx1.current_a", "A", 2)),
    (
        I("Exhaust Gas (deg C)", "engine.main.egt_c", "C", 0),
        I("Turbine Speed (RPM)", "engine.main.speed_rpm", "rpm", 0),
    ),
    (I("Rx 1 Battery (milliamp hours)", "?pack.rx1.used_mah", "mAh", 0),),
    (
        I("Altitude (feet)", "position.altitude_m", "ft", 0),
        I("Ground Speed (knots)", "position.ground_speed_m_s", "kt", 1),
    ),
    (I("Height (meters)", "position.height_m", "m", 1),),
    (
        I("Fuel Remaining (millilitres)", "fuel.main.remaining_ml", "ml", 0),
        I("Fuel Flow (millilitres per minute)", "?fuel.main.flow_ml_per_min", "ml/min", 0),
    ),
    (
        I("Airspeed (miles per hour)", "motion.airspeed_m_s", "mph", 1),
        I("Climb (feet per minute)", "motion.vario_m_s", "ft/min", 0),
    ),
    (
        I("Outside Air (Fahrenheit)", "air.temperature_c", "F", 1),
        I("Barometer (inches Hg)", "air.pressure_pa", "inHg", 3),
    ),
    (
        I("Link Quality (percent)", "link.main.link_quality_percent", "%", 0),
        I("Signal (dBm)", "link.main.rssi_dbm", "dBm", 0),
    ),
    (
        I("Latitude (degrees)", "position.latitude_deg", "deg", 6),
        I("Longitude (degrees)", "position.longitude_deg", "deg", 6),
    ),
    (I("Gyro (degrees per second)", "-gyro_dps", "", 1, "other system"), I("Thrust (newtons)", "-thrust_n", "", 1)),
    (
        I("Fuel Capacity (millilitres)", "-tank_ml", "", 0, "limit"),
        I("Peak Exhaust Gas (deg C)", "-egt_max", "", 0, "extreme"),
    ),
)

PLAIN_GERMAN: tuple[Bundle, ...] = (
    (
        I("Spannung Empfaenger 1 V", "pack.rx1.voltage_v|bus.rx1.voltage_v", "V", 2),
        I("Spannung Empfaenger 2 V", "pack.rx2.voltage_v|bus.rx2.voltage_v", "V", 2),
    ),
    (
        I("Drehzahl Turbine U/min", "engine.main.speed_rpm", "rpm", 0),
        I("Abgastemperatur C", "engine.main.egt_c", "C", 0),
    ),
    (
        I("Hoehe m", "?position.height_m|position.altitude_m", "m", 1),
        I("Geschw. km/h", "?position.ground_speed_m_s|motion.airspeed_m_s", "km/h", 0),
    ),
    (I("Kraftstoff Rest ml", "fuel.main.remaining_ml", "ml", 0),),
    (
        I("Empfang 1 Prozent", "?link.rx1.signal_percent|link.1.signal_percent", "%", 0),
        I("Empfang 2 Prozent", "?link.rx2.signal_percent|link.2.signal_percent", "%", 0),
    ),
    (I("Laengengrad", "position.longitude_deg", "deg", 6), I("Breitengrad", "position.latitude_deg", "deg", 6)),
    (I("Querruder %", "control.aileron_percent", "%", 0), I("Hoehenruder %", "control.elevator_percent", "%", 0)),
    (I("Luftdruck hPa", "air.pressure_pa", "hPa", 1), I("Lufttemp. C", "air.temperature_c", "C", 1)),
    (I("ECU Spannung V", "pack.ecu.voltage_v|bus.ecu.voltage_v", "V", 2), I("Pumpe V", "engine.main.pump_v", "V", 2)),
    (I("Drehzahl Max U/min", "-rpm_max", "", 0, "extreme"), I("Temp. Innenraum C", "-bay_c", "", 1, "other system")),
)

TURNS: tuple[Bundle, ...] = (
    (I("Volts", "pack.{}.voltage_v", "V", 2), I("Amps", "pack.{}.current_a", "A", 2)),
    (I("RSSI (dBm)", "link.{}.rssi_dbm", "dBm", 0), I("Lost frames", "link.{}.lost_frames", "1", 0)),
    (I("Link quality (%)", "link.{}.link_quality_percent", "%", 0),),
)

IN_CELLS: tuple[Bundle, ...] = (
    (
        I("Rx1 voltage", "pack.rx1.voltage_v|bus.rx1.voltage_v", "V", 2, tail=" V"),
        I("Rx1 current", "pack.rx1.current_a|bus.rx1.current_a", "A", 2, tail=" A"),
    ),
    (
        I("EGT", "engine.main.egt_c", "C", 0, tail=" °C"),
        I("Shaft speed", "engine.main.speed_rpm", "rpm", 0, tail=" rpm"),
    ),
    (
        I("Altitude", "position.altitude_m", "ft", 0, tail=" ft"),
        I("Ground speed", "position.ground_speed_m_s", "mph", 1, tail=" mph"),
    ),
    (
        I("Fuel remaining", "fuel.main.remaining_ml", "ml", 0, tail=" ml"),
        I("Fuel flow", "fuel.main.flow_ml_per_min", "ml/min", 0, tail=" ml/min"),
    ),
    (
        I("Link quality", "link.main.link_quality_percent", "%", 0, tail="%"),
        I("RSSI", "link.main.rssi_dbm", "dBm", 0, tail=" dBm"),
    ),
    (
        I("Air pressure", "air.pressure_pa", "inHg", 3, tail=" inHg"),
        I("Air temperature", "air.temperature_c", "F", 1, tail=" °F"),
    ),
    (I("Gear down", "control.gear", "bool", 0, form="bool"), I("Flaps", "control.flap_percent", "%", 0, tail=" %")),
    (
        I("Servo current", "-servo_a", "", 2, "other system", tail=" A"),
        I("EGT limit", "-egt_limit", "", 0, "limit", tail=" °C"),
    ),
)

OPEN: tuple[Hand, ...] = (
    Hand(
        "bench engineer",
        "open",
        "en",
        BENCH,
        (("s", "t"), ("ms", "t_ms"), ("us", "t us"), ("epoch", "t_unix")),
        always=2,
        most=9,
    ),
    Hand(
        "chatty hobbyist",
        "open",
        "en",
        CHATTY,
        (("clock", "Time of day"), ("month", "When"), ("ampm", "Time"), ("s", "Seconds since start")),
        most=9,
        least=5,
    ),
    Hand(
        "chatty with tanks",
        "open",
        "en",
        CHATTY_TANKS,
        (("s", "Time (sec)"), ("iso", "Date and time"), ("slashes", "Timestamp")),
        most=8,
    ),
    Hand(
        "German spreadsheet",
        "open",
        "de",
        GERMAN_SHEET,
        (("excel", "Zeit"), ("dots", "Zeitpunkt"), ("date+clock", "Datum|Uhrzeit"), ("s", "Zeit [s]")),
        delimiter=";",
        decimal=",",
        least=5,
        most=9,
    ),
    Hand(
        "microcontroller",
        "open",
        "en",
        CONTROLLER,
        (("ms", "ms"), ("ms", "millis"), ("us", "us"), ("ms", "ts")),
        least=4,
        most=9,
    ),
    Hand(
        "French club",
        "open",
        "fr",
        FRENCH,
        (("letters", "Heure"), ("dots", "Horodatage"), ("month_local", "Date"), ("s", "Temps (s)")),
        delimiter=";",
        decimal=",",
        least=5,
        most=9,
        encoding="cp1252",
    ),
    Hand(
        "Spanish builder",
        "open",
        "es",
        SPANISH,
        (("clock", "Hora"), ("date+clock", "Fecha|Hora"), ("ms", "Tiempo (ms)")),
        delimiter=";",
        decimal=",",
        least=4,
        most=8,
    ),
    Hand(
        "Italian pilot",
        "open",
        "it",
        ITALIAN,
        (("clock", "Ora"), ("s", "Tempo (s)"), ("dots", "Data e ora"), ("ms", "Tempo [ms]")),
        delimiter=";",
        decimal=",",
        least=4,
        most=8,
    ),
    Hand(
        "imperial hobbyist",
        "open",
        "en",
        IMPERIAL,
        (("us_slashes", "Date/Time"), ("ampm", "Time"), ("s", "Time (s)")),
        least=4,
        most=8,
    ),
    Hand(
        "link watcher",
        "open",
        "en",
        LINK,
        (("s", "Time (s)"), ("ms", "timestamp"), ("iso_z", "UTC"), ("epoch_ms", "ts")),
        faults=("late", "repeated", "swapped"),
        least=4,
        most=7,
        gaps=0.08,
        steps=(0.1, 0.2, 0.5),
    ),
    Hand(
        "two-row tables",
        "open",
        "en",
        GROUPED,
        (("s", "Time (s)"), ("iso_t", "Time")),
        layout="two-row",
        least=3,
        most=6,
    ),
    Hand(
        "dotted names",
        "open",
        "en",
        DOTTED,
        (("us", "time_us"), ("dashes", "stamp"), ("epoch", "time.unix")),
        always=2,
        least=3,
        most=7,
    ),
    Hand("place in one cell", "open", "en", PLACES, (("iso_z", "time"), ("gps", "week|tow")), least=3, most=5, logs=4),
    Hand(
        "navigation sentences",
        "open",
        "en",
        SENTENCES,
        (("hhmmss", "UTC time"), ("iso_z", "UTC")),
        least=3,
        most=5,
        logs=4,
    ),
    Hand(
        "degrees with letters",
        "open",
        "en",
        LETTERED,
        (("clock", "Time"), ("iso", "Local time")),
        least=3,
        most=5,
        logs=4,
    ),
    Hand("late summer", "open", "en", CHATTY_TANKS, (("summer", "Local time"),), least=3, most=6, logs=4),
    Hand(
        "newest on top",
        "open",
        "en",
        CHATTY,
        (("iso", "Time"), ("s", "Time (s)")),
        faults=("newest",),
        least=3,
        most=6,
        logs=4,
    ),
    Hand(
        "long readings",
        "open",
        "en",
        BENCH[:10],
        (("iso_z", "time"), ("ms", "time_ms")),
        layout="long",
        least=3,
        most=6,
        logs=4,
        steps=(0.5, 1.0),
    ),
    Hand(
        "words beside numbers",
        "open",
        "en",
        ((I("Rx1 volts", "pack.rx1.voltage_v|bus.rx1.voltage_v", "V", 2),), *CHATTY_TANKS[1:3]),
        (("s", "Time (s)"), ("iso", "Time")),
        least=0,
        most=1,
        logs=4,
        status=("State", "standby", "starting", "running", "cooling"),
        steps=(0.5, 1.0),
    ),
    Hand(
        "bystanders",
        "open",
        "en",
        BYSTANDERS,
        (("s", "Time (s)"), ("iso", "Date")),
        least=4,
        most=8,
        preamble=("# aircraft: invented", "# logger: bench"),
    ),
    Hand(
        "contradicted",
        "open",
        "en",
        CONTRADICTED,
        (("s", "Time (s)"), ("clock", "Time")),
        always=0,
        least=3,
        most=6,
        delimiter="\t",
    ),
    Hand(
        "German bystanders",
        "open",
        "de",
        GERMAN_BYSTANDERS,
        (("s", "Zeit (s)"), ("clock", "Uhrzeit")),
        least=4,
        most=8,
        delimiter=";",
        decimal=",",
        quoted=True,
    ),
    Hand(
        "camel headings", "open", "en", CAMEL, (("ms", "timeMs"), ("iso_z", "utcTime"), ("s", "timeS")), least=4, most=8
    ),
    Hand(
        "spelled units",
        "open",
        "en",
        SPELLED,
        (("s", "Time (seconds)"), ("month_minutes", "Date"), ("s", "Elapsed (seconds)")),
        least=4,
        most=8,
        encoding="utf-8-sig",
        steps=(1.0,),
    ),
    Hand(
        "German without umlauts",
        "open",
        "de",
        PLAIN_GERMAN,
        (("day", "Zeit"), ("clock", "Uhrzeit"), ("s", "Zeit s")),
        delimiter=";",
        decimal=",",
        least=4,
        most=8,
    ),
    Hand(
        "sensors in turn",
        "open",
        "en",
        CHATTY_TANKS[1:],
        (("s", "Time (s)"), ("clock", "Time")),
        least=4,
        most=7,
        gaps=0.6,
        logs=6,
        steps=(0.1, 0.2),
    ),
    Hand(
        "receivers in turn",
        "open",
        "en",
        TURNS,
        (("s", "Time (s)"), ("iso_z", "UTC")),
        layout="turns",
        turns=("Receiver", "Rx1", "Rx2"),
        least=1,
        most=3,
        logs=4,
    ),
    Hand("units in cells", "open", "en", IN_CELLS, (("s", "Time (s)"), ("clock", "Time")), least=4, most=7),
)
