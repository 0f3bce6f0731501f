"""Ten hands whose single results may be looked at while the importer is mended."""
# ruff: noqa: E501 (a rule is one line)

from .rules import Hand

SIDES_EN = (("left", "right"), ("L", "R"), ("port", "stbd"))
ONE = ("",)

HANDS = (
    Hand(  # Own board, snake_case, units as suffixes.
        "snake",
        """
        time | ms | t_ms || time_ms || millis
        speed@e | rpm | rpm_{e} || turbine_{e}_rpm || eng_{e}_rpm
        egt@e | degC | egt_{e} || egt_{e}_c || turbine_{e}_egt_degc
        pump_v@e | V | pump_{e}_v || pump_{e}_volt || fuel_pump_{e}_volts | ?
        fuel_left@e | mL | fuel_{e}_remaining_ml || tank_{e}_ml || fuel_left_ml_{e}
        flow@e | mL/min | flow_{e}_ml_min || fuel_flow_{e}_mlpm || ff_{e}_ml_per_min | ?
        pack_v@r | V | {r}_batt_v || {r}_volt || batt_{r}_volts
        pack_a@r | A | {r}_batt_a || {r}_amp || batt_{r}_amps
        pack_mah@r | mAh | {r}_batt_mah || {r}_used_mah || batt_{r}_mah
        antenna@a | dBm | {r}_ant{a}_rssi_dbm || {r}_ant{a}_dbm || rssi_{r}_ant_{a}
        lost@r | | {r}_lost_frames || {r}_frames_lost || {r}_dropped_frames | ?
        latitude | deg | gps_lat || lat || lat_deg
        longitude | deg | gps_lon || lon || lon_deg
        height | m | height_m || alt_agl_m || baro_height_m
        ground_speed | m/s | gps_speed_ms || ground_speed_mps || gs_m_s
        heading/track | deg | heading_deg || hdg || yaw_deg
        roll | deg | roll_deg || roll || roll_angle
        pitch | deg | pitch_deg || pitch || pitch_angle
        throttle | % | stick_throttle_pct || throttle_percent || thr_pct
        gear | | gear_down || gear || gear_is_down
        board_t | degC | board_temp_c || cpu_temp || logger_temp_c | ?
        row | | seq || frame_no || sample | ?
        """,
        engines=(ONE, ("l", "r"), ("left", "right"), ("1", "2")),
        receivers=(("rx",), ("rx1", "rx2"), ("rx_a", "rx_b"), ("rx1", "rx2", "rx3")),
        antennas=(("1", "2"), ("a", "b")),
    ),
    Hand(  # A programmer's camelCase.
        "camel",
        """
        time | ms | timeMs || timestampMs || elapsedMs
        speed@e | rpm | engineRpm{e} || turbineSpeedRpm{e} || shaftRpm{e}
        egt@e | degC | exhaustTempC{e} || egtCelsius{e} || exhaustGasTemp{e}
        pump_percent@e | % | pumpPercent{e} || pumpDuty{e} || fuelPumpPct{e} | ?
        engine_throttle@e/throttle | % | engineThrottle{e} || throttlePct{e} || ecuThrottle{e} | ?
        fuel_used@e | mL | fuelUsedMl{e} || fuelBurnedMl{e} || consumedFuelMl{e}
        ecu_v@q | V | ecuBatteryVoltage{e} || ecuVolts{e} || ecuPackVoltage{e} | ?
        pack_v@r | mV | batteryMillivolts{r} || rxBattery{r}Mv || receiverPack{r}Millivolts
        pack_a@r | mA | batteryMilliamps{r} || rxBattery{r}Ma || receiverPack{r}Milliamps
        rssi@r | dBm | rssiDbm{r} || receiver{r}Rssi || rx{r}SignalDbm
        quality@r | % | linkQuality{r} || receiver{r}LinkQuality || rx{r}LqPercent
        failsafe@r | | failsafe{r} || receiver{r}Failsafe || isFailsafe{r} | ?
        latitude | deg | gpsLatitude || latitude || latDeg
        longitude | deg | gpsLongitude || longitude || lonDeg
        altitude | m | gpsAltitudeM || altitudeMsl || gpsAltMeters
        ground_speed | km/hour | gpsSpeedKmh || groundSpeedKmh || speedOverGroundKmh
        satellites | | gpsSatellites || numSats || satCount | ?
        hdop | | gpsHdop || hdop | ?
        airspeed | km/hour | airspeedKmh || pitotSpeedKmh || airSpeedKph | ?
        vario | m/s | climbRate || verticalSpeedMs || varioMps
        air_pressure | hPa | pressureHpa || baroPressureHpa || staticPressureHpa | ?
        air_temperature | degC | outsideTempC || airTemperature || ambientTempC | ?
        """,
        engines=(ONE, ("Left", "Right"), ("L", "R"), ("1", "2")),
        receivers=(ONE, ("1", "2"), ("A", "B")),
    ),
    Hand(  # German spreadsheet keeper.
        "tabelle",
        """
        time | s | Zeit [s] || Zeit in s || Flugzeit [s]
        speed@e | rpm | Drehzahl {e} [1/min] || Turbine {e} Drehzahl [U/min] || Drehzahl Turbine {e} [min-1]
        egt@e | degC | Abgastemperatur {e} [°C] || Turbine {e} Abgastemp. [°C] || Abgastemp. {e} [°C]
        pump_v@e | V | Pumpenspannung {e} [V] || Turbine {e} Pumpe [V] || Kraftstoffpumpe {e} [V] | ?
        fuel_left@e | mL | Restmenge Tank {e} [ml] || Tank {e} Rest [ml] || Kraftstoff {e} Rest [ml]
        flow@e | mL/min | Durchfluss {e} [ml/min] || Verbrauch {e} [ml/min] || Kraftstofffluss {e} [ml/min] | ?
        pack_v@r | V | Empfängerakku {r} [V] || Akku Empfänger {r} [V] || Spannung Empfängerakku {r} [V]
        pack_a@r | A | Strom Empfängerakku {r} [A] || Empfängerakku {r} Strom [A] || Stromaufnahme Empfänger {r} [A]
        pack_mah@r | mAh | Empfängerakku {r} entnommen [mAh] || Empfängerakku {r} verbraucht [mAh] || Kapazität entnommen Empfänger {r} [mAh]
        rssi@r | dBm | Empfang {r} [dBm] || Feldstärke Empfänger {r} [dBm] || Signalstärke Empfänger {r} [dBm]
        quality@r | % | Verbindungsqualität {r} [%] || Empfänger {r} Verbindungsgüte [%] || Link-Qualität Empfänger {r} [%] | ?
        latitude | deg | Breite [°] || Breitengrad || Geogr. Breite
        longitude | deg | Länge [°] || Längengrad || Geogr. Länge
        height | m | Höhe [m] || Höhe über Platz [m] || Flughöhe [m]
        ground_speed | km/hour | Geschw. über Grund [km/h] || GPS-Geschwindigkeit [km/h] || Geschwindigkeit GPS [km/h]
        track/heading | deg | Kurs [°] || Kurs über Grund [°] || Flugrichtung [°] | ?
        vario | m/s | Steigen [m/s] || Steigrate [m/s] || Vario [m/s]
        throttle | % | Gas [%] || Gasknüppel [%] || Gasstellung [%]
        aileron | % | Quer [%] || Querruder [%]
        elevator | % | Höhe [%] || Höhenruder [%]
        rudder | % | Seite [%] || Seitenruder [%]
        gear | | Fahrwerk || Fahrwerk ausgefahren || Fahrwerk unten
        flap | % | Klappen [%] || Landeklappen [%] || Wölbklappen [%] | ?
        air_temperature | degC | Außentemperatur [°C] || Lufttemperatur [°C] || Lufttemp. [°C] | ?
        row | | Nr. || lfd. Nr. || Messung | ?
        """,
        engines=(ONE, ("links", "rechts"), ("li", "re"), ("1", "2")),
        receivers=(ONE, ("1", "2"), ("A", "B")),
        comma=True,
        yes=(("0", "1"), ("nein", "ja")),
    ),
    Hand(  # French spreadsheet keeper.
        "tableur",
        """
        time | s | Temps (s) || Temps écoulé (s) || Chrono (s)
        speed@e | rpm | Régime {e} (tr/min) || Régime turbine {e} (tr/min) || Vitesse de rotation {e} (tr/min)
        egt@e | degC | Température échappement {e} (°C) || T° échappement {e} (°C) || Temp. tuyère {e} (°C)
        pump_v@e | V | Tension pompe {e} (V) || Pompe {e} (V) || Pompe carburant {e} (V) | ?
        fuel_left@e | mL | Carburant restant {e} (ml) || Reste carburant {e} (ml) || Kérosène restant {e} (ml)
        fuel_used@e | mL | Carburant consommé {e} (ml) || Conso carburant {e} (ml) || Kérosène consommé {e} (ml) | ?
        pack_v@r | V | Accu récepteur {r} (V) || Tension accu récepteur {r} (V) || Tension accu réception {r} (V)
        pack_a@r | A | Courant accu récepteur {r} (A) || Intensité accu récepteur {r} (A) || Courant récepteur {r} (A)
        pack_mah@r | mAh | Consommé accu récepteur {r} (mAh) || Capacité consommée récepteur {r} (mAh) || Accu récepteur {r} consommé (mAh)
        rssi@r | dBm | Signal récepteur {r} (dBm) || Niveau réception {r} (dBm) || Puissance reçue {r} (dBm)
        lost@r | | Trames perdues {r} || Trames perdues récepteur {r} || Paquets perdus {r} | ?
        latitude | deg | Latitude (°) || Latitude || Lat.
        longitude | deg | Longitude (°) || Longitude || Long.
        altitude | m | Altitude (m) || Altitude GPS (m) || Alt. (m)
        ground_speed | km/hour | Vitesse sol (km/h) || Vitesse GPS (km/h) || Vitesse/sol (km/h)
        track/heading | deg | Cap (°) || Route (°) || Cap suivi (°) | ?
        vario | m/s | Vario (m/s) || Vitesse verticale (m/s) || Taux de montée (m/s)
        throttle | % | Gaz (%) || Manche des gaz (%) || Manette des gaz (%)
        aileron | % | Ailerons (%) || Aileron (%)
        elevator | % | Profondeur (%) || Gouverne de profondeur (%)
        rudder | % | Direction (%) || Gouverne de direction (%) || Dérive (%)
        gear | | Train || Train sorti || Train d'atterrissage
        flap | % | Volets (%) || Volets | ?
        brake | % | Freins (%) || Frein (%) | ?
        air_temperature | degC | Température extérieure (°C) || Température air (°C) || T° air (°C) | ?
        text | RAS | Remarque || Commentaire | ?
        """,
        engines=(ONE, ("gauche", "droite"), ("G", "D"), ("1", "2")),
        receivers=(ONE, ("1", "2"), ("A", "B")),
        comma=True,
        yes=(("0", "1"), ("non", "oui"), ("rentré", "sorti")),
    ),
    Hand(  # Engine controller dump, few words, unit row.
        "dump",
        """
        time | s | Time || Run time || Elapsed
        speed@e | rpm | RPM{e} || RPM {e} || Speed {e}
        egt@e | degC | EGT{e} || EGT {e} || Temp {e}
        pump_v@e | V | Pump{e} || Pump {e} || Pump V {e}
        engine_throttle@e/throttle | % | Throttle{e} || Thr {e} || Throttle {e}
        ecu_v@q | V | Batt{e} || Battery {e} || ECU batt {e} | ~
        flow@e | mL/min | Flow{e} || Flow {e} || Fuel flow {e}
        fuel_used@e | mL | Fuel used{e} || Used {e} || Fuel used {e}
        state@e | text | State{e} || State {e} || Status {e}
        limit | 125000 | Max RPM || RPM limit | ?
        limit | 700 | EGT limit || Max EGT | ?
        """,
        engines=(ONE, ("1", "2"), ("L", "R"), ("A", "B")),
        unit_row=True,
        logs=7,
    ),
    Hand(  # Aircraft-type tags.
        "tags",
        """
        time | s | T || TIME || SEC
        speed@e | rpm | N1{e} || N1_{e} || N1 {e}
        egt@e | degC | EGT{e} || EGT_{e} || EGT {e}
        flow@e | mL/min | FF{e} || FF_{e} || FF {e}
        fuel_left@e | mL | FQTY{e} || FQTY_{e} || FQTY {e} | ~
        engine_throttle@e/throttle | % | TLA{e} || TLA_{e} || TLA {e} | ?~
        airspeed | knot | IAS_KT || IAS (kt) || IAS_kts
        altitude | foot | ALT_FT || ALT (ft) || ALT_MSL_FT
        vario | foot/min | VS_FPM || VS (fpm) || ROC_FPM
        heading | deg | HDG || HDG_DEG || HDG (deg)
        ground_speed | knot | GS_KT || GS (kt) || GS_kts
        track | deg | TRK || TRK_DEG || TRK (deg) | ?
        roll | deg | ROLL || BANK || ROLL_DEG
        pitch | deg | PITCH || PITCH_DEG || PITCH (deg)
        latitude | deg | LAT || LATITUDE
        longitude | deg | LON || LONG || LONGITUDE
        air_temperature | degC | OAT || OAT_C || OAT (C)
        pack_v@r | V | VB{r} || VBAT{r} || VBATT_{r}
        pack_a@r | A | IB{r} || IBAT{r} || IBATT_{r}
        flap | % | FLAP || FLAPS || FLAP_POS | ?
        gear | | GEAR || LDG_GEAR || GEAR_DN
        """,
        engines=(ONE, ("L", "R"), ("1", "2"), ("LH", "RH")),
        receivers=(ONE, ("1", "2")),
        yes=(("0", "1"), ("UP", "DN"), ("UP", "DOWN")),
        logs=7,
    ),
    Hand(  # A laboratory's quotients of symbol and unit.
        "symbols",
        """
        time | s | t / s || t in s || t [s]
        speed@e | rpm | n_{e} / min^-1 || n_{e} in 1/min || n_{e} [1/min]
        egt@e | degC | T_exh_{e} / °C || T_EGT_{e} in °C || T_exhaust_{e} [°C]
        pump_v@e | V | U_pump_{e} / V || U_pump_{e} in V || U_pump_{e} [V]
        flow@e | mL/min | Q_fuel_{e} / (ml/min) || Q_fuel_{e} in ml/min || Q_fuel_{e} [ml/min]
        fuel_left@e | mL | V_tank_{e} / ml || V_tank_{e} in ml || V_tank_{e} [ml]
        pack_v@r | V | U_{r} / V || U_{r} in V || U_{r} [V]
        pack_a@r | A | I_{r} / A || I_{r} in A || I_{r} [A]
        pack_mah@r | mAh | Q_{r} / mAh || Q_{r} in mAh || Q_{r} [mAh]
        pack_t@r | degC | T_{r} / °C || T_{r} in °C || T_{r} [°C] | ?~x
        air_pressure | hPa | p_amb / hPa || p_air in hPa || p_stat [hPa]
        air_temperature | degC | T_amb / °C || T_air in °C || T_ambient [°C]
        airspeed | m/s | v_air / (m/s) || v_IAS in m/s || v_air [m/s]
        height | m | h / m || h in m || h [m]
        accel_x | m/s^2 | a_x / (m/s²) || a_x in m/s² || a_x [m/s²] | ?
        accel_y | m/s^2 | a_y / (m/s²) || a_y in m/s² || a_y [m/s²] | ?
        roll | deg | phi / ° || roll in ° || phi [°]
        pitch | deg | theta / ° || pitch in ° || theta [°]
        vibration | g_0 | a_vib / g || vib in g || a_vib [g] | ?
        """,
        engines=(ONE, ("L", "R"), ("1", "2")),
        receivers=(("RX1", "RX2"), ("rx1", "rx2"), ("RXA", "RXB"), ("RX",)),
        tab=True,
    ),
    Hand(  # Club members who write whole sentences.
        "prose",
        """
        time | s | Seconds since switching on || Time since start of recording (seconds) || Elapsed time in seconds
        speed@e | krpm | {e} turbine speed in thousands of rpm || {e} turbine speed (rpm x 1000) || {e} turbine, thousand revolutions per minute
        egt@e | degC | {e} turbine exhaust temperature in degrees C || {e} turbine exhaust gas temperature (deg C) || {e} turbine, temperature of the exhaust gas in Celsius
        fuel_percent@e | % | Fuel remaining in {e} tank (percent) || {e} tank, percent of fuel left || {e} tank fill level in % | ?
        fuel_used@e | mL | Fuel used by {e} turbine in millilitres || {e} turbine, fuel burned so far (ml) || {e} tank, fuel used up (ml)
        pack_v@r | V | Battery of {r} receiver in volts || {r} receiver battery voltage (volts) || {r} receiver battery, volts
        pack_a@r | A | Current drawn from {r} receiver battery in amps || {r} receiver battery current (amps) || {r} receiver battery, amperes
        pack_mah@r | mAh | Charge taken from {r} receiver battery in mAh || {r} receiver battery used capacity (mAh) || {r} receiver battery, milliamp hours used
        antenna@a | dBm | {r} receiver antenna {a} signal in dBm || {r} receiver, signal strength of antenna {a} (dBm) || {r} receiver, antenna {a} level in dBm
        lost@r | | Frames missed by {r} receiver || Number of frames lost on {r} receiver || {r} receiver, missed frames so far
        height | foot | Height above the field in feet || Height above take-off (ft) || Altitude above ground, feet
        airspeed | mile/hour | Airspeed in miles per hour || Indicated airspeed (mph) || Speed through the air, mph
        throttle | % | Throttle stick position in percent || Position of throttle stick (%) || Throttle lever, percent
        gear | | Undercarriage down || Landing gear down? || Wheels down
        brake | % | Wheel brake in percent || Brakes applied (%) || Brake pressure, percent | ?
        air_temperature | degF | Outside air temperature in Fahrenheit || Outside temperature (deg F) || Air temperature, degrees F | ?
        text | Fenholt | Site || Flying field || Location | ?
        """,
        engines=(("Left", "Right"), ("Port", "Starboard")),
        receivers=(("first", "second"), ("front", "rear"), ("main", "backup")),
        antennas=(("A", "B"), ("one", "two"), ("1", "2")),
        yes=(("no", "yes"), ("N", "Y"), ("FALSE", "TRUE")),
    ),
    Hand(  # Spanish notebook.
        "hoja",
        """
        time | s | Tiempo (s) || Tiempo de vuelo (s) || Segundos
        speed@e | rpm | RPM {e} || Régimen {e} (rpm) || Revoluciones turbina {e} (rpm)
        egt@e | degC | EGT {e} (°C) || Temp. escape {e} (°C) || Temperatura de escape {e} (°C)
        pump_v@e | V | Bomba {e} (V) || Tensión bomba {e} (V) || Voltaje bomba {e} (V) | ?
        fuel_left@e | mL | Combustible restante {e} (ml) || Depósito {e} restante (ml) || Queroseno restante {e} (ml)
        pack_v@r | V | Batería receptor {r} (V) || Tensión batería receptor {r} (V) || Voltaje batería receptor {r} (V)
        pack_a@r | A | Corriente receptor {r} (A) || Intensidad batería receptor {r} (A) || Consumo receptor {r} (A)
        pack_mah@r | mAh | Consumido receptor {r} (mAh) || Batería receptor {r} consumido (mAh) || Capacidad consumida receptor {r} (mAh)
        rssi@r | dBm | Señal receptor {r} (dBm) || Nivel de señal {r} (dBm) || Intensidad de señal {r} (dBm)
        quality@r | % | Calidad de enlace {r} (%) || Calidad enlace receptor {r} (%) || Calidad del enlace {r} (%) | ?
        latitude | deg | Latitud (°) || Latitud
        longitude | deg | Longitud (°) || Longitud
        altitude | m | Altitud (m) || Altitud GPS (m) || Altitud sobre el mar (m)
        ground_speed | km/hour | Velocidad GPS (km/h) || Velocidad sobre el suelo (km/h) || Velocidad respecto al suelo (km/h)
        throttle | % | Gas (%) || Palanca de gas (%) || Acelerador (%)
        aileron | % | Alerones (%) || Alerón (%)
        elevator | % | Profundidad (%) || Timón de profundidad (%) || Elevador (%)
        rudder | % | Dirección (%) || Timón de dirección (%) || Timón de cola (%)
        gear | % | Tren (%) || Tren de aterrizaje (%) || Tren abajo (%)
        brake | % | Frenos (%) || Freno (%) | ?
        vario | m/s | Vario (m/s) || Velocidad vertical (m/s) || Tasa de ascenso (m/s)
        air_temperature | degC | Temperatura exterior (°C) || Temp. aire (°C) || Temperatura ambiente (°C) | ?
        """,
        engines=(ONE, ("izquierda", "derecha"), ("izq", "der"), ("1", "2")),
        receivers=(ONE, ("1", "2")),
        comma=True,
    ),
    Hand(  # A cheap logger: glued numbers, no units.
        "glued",
        """
        time | ms | Ms || TimeMs || TickMs
        pack_v@r | V | RxV{r} || VRx{r} || RxVolt{r}
        pack_a@r | A | RxA{r} || ARx{r} || RxAmp{r}
        pack_mah@r | mAh | RxmAh{r} || mAhRx{r} || RxMah{r}
        rssi@r | dBm | Rssi{r} || RxRssi{r} || RSSI{r}
        speed@e | rpm | Rpm{e} || RPM{e} || EngRpm{e}
        egt@e | degC | Egt{e} || EGT{e} || EngEgt{e}
        fuel_left@e | mL | FuelMl{e} || TankMl{e} || FuelLeftMl{e}
        latitude | deg | Lat || GpsLat
        longitude | deg | Lon || GpsLon || Lng
        altitude/height | m | Alt || AltM || GpsAlt
        ground_speed | m/s | GpsSpd || Gspd || GroundSpd | ~
        satellites | | Sats || NSat || GpsSats | ?
        roll | deg | Roll || RollDeg
        pitch | deg | Pitch || PitchDeg
        vario | m/s | Vario || VSpd || Climb
        throttle/engine_throttle@e | % | Thr || ThrPct || Throttle
        """,
        engines=(ONE, ("1", "2"), ("L", "R")),
        receivers=(("1", "2"), ("1", "2", "3", "4"), ONE),
    ),
)
