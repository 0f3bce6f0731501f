"""Ten other hands: their single results stay unread until the importer is mended on the open ones."""
# ruff: noqa: E501 (a rule is one line)

from .rules import Hand

ONE = ("",)

HANDS = (
    Hand(  # Italian notebook; percent of gas.
        "foglio",
        """
        time | s | Tempo (s) || Tempo trascorso (s) || Secondi
        speed@e | rpm | Giri {e} (giri/min) || Regime turbina {e} (giri/min) || Giri turbina {e} (rpm)
        egt@e | degC | Temperatura scarico {e} (°C) || Temp. scarico {e} (°C) || Temp. gas di scarico {e} (°C)
        pump_v@e | V | Pompa {e} (V) || Tensione pompa {e} (V) || Pompa carburante {e} (V) | ?
        fuel_left@e | mL | Carburante residuo {e} (ml) || Serbatoio {e} residuo (ml) || Carburante rimasto {e} (ml)
        fuel_used@e | mL | Carburante consumato {e} (ml) || Consumo totale {e} (ml) || Carburante usato {e} (ml) | ?
        pack_v@r | V | Batteria ricevente {r} (V) || Tensione batteria ricevente {r} (V) || Batteria RX {r} (V)
        pack_a@r | A | Corrente ricevente {r} (A) || Corrente batteria ricevente {r} (A) || Assorbimento ricevente {r} (A)
        pack_mah@r | mAh | Consumo ricevente {r} (mAh) || Capacità usata ricevente {r} (mAh) || Batteria ricevente {r} consumata (mAh)
        rssi@r | dBm | Segnale ricevente {r} (dBm) || Livello segnale {r} (dBm) || Potenza segnale {r} (dBm)
        latitude | deg | Latitudine (°) || Latitudine
        longitude | deg | Longitudine (°) || Longitudine
        altitude | m | Altitudine (m) || Altitudine GPS (m) || Quota s.l.m. (m)
        ground_speed | km/hour | Velocità GPS (km/h) || Velocità al suolo (km/h) || Velocità suolo (km/h)
        track/heading | deg | Rotta (°) || Prua (°) || Direzione (°) | ?
        throttle | % | Gas (%) || Manetta (%) || Stick gas (%)
        aileron | % | Alettoni (%) || Alettone (%)
        elevator | % | Elevatore (%) || Equilibratore (%) || Profondità (%)
        rudder | % | Direzionale (%) || Timone (%) || Timone di direzione (%)
        gear | | Carrello || Carrello giù || Carrello fuori
        flap | % | Flap (%) || Ipersostentatori (%) || Flaps (%) | ?
        brake | % | Freni (%) || Freno (%) | ?
        air_temperature | degC | Temperatura esterna (°C) || Temperatura aria (°C) || Temp. esterna (°C) | ?
        """,
        engines=(ONE, ("sinistra", "destra"), ("sx", "dx"), ("1", "2")),
        receivers=(ONE, ("1", "2")),
        comma=True,
        yes=(("0", "1"), ("no", "sì"), ("su", "giù")),
    ),
    Hand(  # Tags of a test stand's control room.
        "control-room",
        """
        time | s | TIME.S || CLOCK.ELAPSED_S || RUN.TIME_S
        speed@e | rpm | ENG{e}.SPEED.RPM || TURB{e}.N.RPM || ENG{e}/SPEED
        egt@e | degC | ENG{e}.EGT.DEGC || TURB{e}.EGT.C || ENG{e}/EGT
        pump_percent@e | % | ENG{e}.PUMP.PCT || TURB{e}.PUMP.DUTY || ENG{e}/PUMP_PCT
        flow@e | mL/min | ENG{e}.FUEL.FLOW || TURB{e}.FUELFLOW.MLMIN || ENG{e}/FUEL_FLOW
        fuel_left@e | mL | TANK{e}.LEVEL.ML || TANK{e}.CONTENTS.ML || TANK{e}/REMAINING_ML
        ecu_v@q | V | ENG{e}.BATT.V || TURB{e}.BATT.VOLT || ENG{e}/BATT_V | ?
        pack_v@r | V | RX{r}.BATT.V || RXBAT{r}.VOLT || RX{r}/BATT_V
        pack_a@r | A | RX{r}.BATT.A || RXBAT{r}.AMP || RX{r}/BATT_A
        pack_t@r | degC | RX{r}.BATT.TEMP || RXBAT{r}.TEMP || RX{r}/BATT_TEMP | ?
        antenna@a | dBm | RX{r}.ANT{a}.DBM || RX{r}.ANT{a}.RSSI || RX{r}/ANT{a}_DBM
        antenna_lost@a | | RX{r}.ANT{a}.LOST || RX{r}.ANT{a}.MISSED || RX{r}/ANT{a}_LOST | ?
        latitude | deg | NAV.LAT || GPS.LAT || POS/LAT
        longitude | deg | NAV.LON || GPS.LON || POS/LON
        altitude | m | NAV.ALT.M || GPS.ALT_M || POS/ALT_M
        ground_speed | m/s | NAV.GS.MPS || GPS.SPEED.MPS || POS/SPEED_MPS
        airspeed | m/s | AIR.IAS.MPS || PITOT.AIRSPEED.MPS || AIR/SPEED_MPS
        air_pressure | Pa | AIR.PRESS.PA || BARO.PRESS.PA || AIR/PRESS_PA | ?
        state@e | | ENG{e}.STATE || TURB{e}.STATUS || ENG{e}/STATE
        limit | 700 | ENG.EGT.MAX || ALARM.EGT.HI || LIMIT/EGT | ?
        """,
        engines=(("1", "2"), ("_L", "_R"), ONE),
        receivers=(("1", "2"), ("A", "B"), ("1", "2", "3")),
        antennas=(("1", "2"), ("A", "B")),
    ),
    Hand(  # A flight stabiliser's memory: scaled integers, dotted groups.
        "stabiliser",
        """
        time | us | clock.us || time_us || t.us
        roll | deg | att.roll || attitude.roll_deg || att.phi_deg
        pitch | deg | att.pitch || attitude.pitch_deg || att.theta_deg
        heading | deg | att.yaw || attitude.yaw_deg || att.psi_deg
        latitude | e7 | gps.lat_e7 || nav.lat_1e7 || pos.lat_e7
        longitude | e7 | gps.lon_e7 || nav.lon_1e7 || pos.lon_e7
        altitude | milli | gps.alt_mm || nav.alt_mm || pos.alt_mm
        ground_speed | centi | gps.speed_cms || nav.gspeed_cm_s || pos.vel_cms
        satellites | | gps.nsat || nav.sats || pos.num_sv
        airspeed | m/s | air.ias || aspd.ias_mps || pitot.ias
        air_pressure | hPa | baro.press_hpa || baro.p_hpa || baro.hpa
        height | m | baro.height_m || baro.alt_agl || baro.rel_alt_m
        vario | centi | baro.climb_cms || baro.vz_cms || baro.vario_cm_s
        pack_v@r | mV | bat{r}.volt_mv || bat{r}.u_mv || bat{r}.mv
        pack_a@r | mA | bat{r}.curr_ma || bat{r}.i_ma || bat{r}.ma
        pack_mah@r | mAh | bat{r}.used_mah || bat{r}.mah || bat{r}.consumed_mah
        speed@e | rpm | eng{e}.rpm || turb{e}.rpm || jet{e}.n_rpm
        egt@e | degC | eng{e}.egt || turb{e}.egt_c || jet{e}.egt_degc
        fix | | gps.fix || nav.fixtype || pos.fix_type
        hdop | | gps.hdop || nav.hdop || pos.hdop
        """,
        engines=(ONE, ("0", "1"), ("1", "2")),
        receivers=(ONE, ("0", "1"), ("1", "2")),
    ),
    Hand(  # Radio with plugged sensors: name and unit in brackets, in English.
        "plugged",
        """
        time | clock | Time || Clock || Time of day
        pack_v@r | V | Receiver battery {r} [V] || Rx battery {r} [V] || RX{r} battery [V]
        pack_a@r | A | Receiver battery {r} [A] || Rx battery {r} [A] || RX{r} battery [A]
        pack_mah@r | mAh | Receiver battery {r} [mAh] || Rx battery {r} [mAh] || RX{r} battery [mAh]
        antenna@a | dBm | Receiver {r} antenna {a} [dBm] || Rx {r} ant. {a} [dBm] || RX{r} aerial {a} [dBm]
        quality@r | % | Receiver {r} link quality [%] || Rx {r} LQ [%] || RX{r} link quality [%]
        down@r | dBm | Telemetry signal {r} [dBm] || Downlink {r} [dBm] || Return link RSSI {r} [dBm] | ?~
        speed@e | rpm | Turbine {e} [rpm] || Engine {e} speed [rpm] || Turbine {e} speed [rpm]
        egt@e | degC | Turbine {e} [°C] || Engine {e} EGT [°C] || Turbine {e} exhaust [°C]
        fuel_left@e | mL | Tank {e} [ml] || Fuel {e} remaining [ml] || Fuel left, tank {e} [ml]
        flow@e | mL/min | Fuel {e} [ml/min] || Fuel flow {e} [ml/min] || Tank {e} flow [ml/min] | ?
        pump_v@e | V | Pump {e} [V] || Fuel pump {e} [V] || Turbine {e} pump [V] | ?
        altitude | m | GPS altitude [m] || Altitude MSL [m] || Altitude [m]
        ground_speed | km/hour | GPS speed [km/h] || Ground speed [km/h] || Speed over ground [km/h]
        airspeed | km/hour | Airspeed [km/h] || Pitot [km/h] || Air speed [km/h]
        vario | m/s | Vario [m/s] || Climb [m/s] || Vertical speed [m/s]
        latitude | deg | Latitude [°] || GPS latitude || Lat [°]
        longitude | deg | Longitude [°] || GPS longitude || Lon [°]
        throttle | % | Throttle [%] || Throttle stick [%]
        aileron | % | Aileron [%] || Ailerons [%]
        elevator | % | Elevator [%]
        rudder | % | Rudder [%]
        gear | | Gear || Landing gear || Gear down
        flap | % | Flaps [%] || Flap [%]
        servo_a | A | Servo current [A] || Servos [A] | ?
        """,
        engines=(ONE, ("left", "right"), ("1", "2"), ("L", "R")),
        receivers=(("1", "2"), ONE, ("1", "2", "3"), ("A", "B")),
        antennas=(("1", "2"), ("A", "B"), ("left", "right")),
        yes=(("0", "1"), ("up", "down")),
        cells=3,
    ),
    Hand(  # Feet, gallons' fractions and Fahrenheit.
        "imperial",
        """
        time | s | Elapsed (sec) || Time (s) || Seconds
        speed@e | rpm | {e} Turbine RPM || {e} Engine RPM || RPM {e}
        egt@e | degF | {e} EGT (°F) || {e} Turbine EGT (F) || EGT {e} (deg F)
        fuel_left@e | floz | {e} Fuel Remaining (fl oz) || {e} Tank Remaining (fl. oz.) || Fuel Remaining {e} (fl oz)
        fuel_used@e | floz | {e} Fuel Used (fl oz) || {e} Fuel Burned (fl. oz.) || Fuel Burned {e} (fl oz) | ?
        pack_v@r | V | Rx Batt {r} Volts || Receiver Pack {r} (V) || Rx Pack {r} Voltage
        pack_a@r | A | Rx Batt {r} Amps || Receiver Pack {r} (A) || Rx Pack {r} Current
        pack_mah@r | mAh | Rx Batt {r} mAh Used || Receiver Pack {r} Used (mAh) || Rx Pack {r} Consumed (mAh)
        signal@r | % | Rx {r} Signal (%) || Receiver {r} Signal Strength (%) || Rx {r} Signal Pct
        lost@r | | Rx {r} Frame Losses || Receiver {r} Missed Frames || Rx {r} Lost Frames
        altitude | foot | GPS Altitude (ft) || Altitude MSL (ft) || GPS Alt (feet)
        height | foot | Height AGL (ft) || Alt AGL (ft) || Height Above Ground (ft)
        airspeed | mile/hour | Airspeed (mph) || Pitot Airspeed (mph) || IAS (mph)
        ground_speed | mile/hour | GPS Speed (mph) || Ground Speed (mph) || GPS Groundspeed (mph)
        vario | foot/min | Climb Rate (ft/min) || Vertical Speed (fpm) || Rate of Climb (ft/min)
        latitude | deg | Latitude || GPS Lat
        longitude | deg | Longitude || GPS Long
        air_temperature | degF | OAT (°F) || Outside Air Temp (F) || Ambient Temp (deg F)
        air_pressure | inHg | Baro (inHg) || Pressure (inHg) || Static Pressure (in Hg) | ?
        accel_z | g_0 | Z Accel (G) || Accel Z (g) || Z-Axis Accel (g) | ?~
        gear | | Gear Down || Landing Gear || Gear
        brake | % | Brake (%) || Wheel Brakes (%) || Brakes (%) | ?
        """,
        engines=(("Left", "Right"), ("L", "R"), ONE, ("#1", "#2")),
        receivers=(("1", "2"), ("A", "B"), ONE, ("#1", "#2")),
        yes=(("0", "1"), ("N", "Y"), ("Up", "Down")),
    ),
    Hand(  # German builder's own shorthand, no units or glued ones.
        "kurz",
        """
        time | s | t || Zeit || Sek
        speed@e | rpm | Drehz_{e} || n_{e} || Upm_{e}
        egt@e | degC | AGT_{e} || Abgas_{e} || TAbgas_{e}
        fuel_left@e | mL | Tank_{e}_ml || RestKraftstoff_{e}_ml || Sprit_{e}_Rest_ml
        flow@e | mL/min | Fluss_{e}_mlmin || Durchfl_{e}_mlmin || Verbr_{e}_mlmin | ?
        pack_v@r | V | U_Akku{r} || Ubat{r} || AkkuU{r}
        pack_a@r | A | I_Akku{r} || Ibat{r} || AkkuI{r}
        pack_mah@r | mAh | Q_Akku{r}_mAh || mAh_Akku{r} || Akku{r}_mAh
        rssi@r | dBm | RSSI_{r} || Empf{r}_dBm || RX{r}_RSSI
        height | m | Hoehe || Hoehe_m || Hoehe_rel
        airspeed | m/s | Fahrt_ms || v_Luft_ms || Staurohr_ms | ?
        vario | m/s | Vario || Steig_ms || Vario_ms
        roll | deg | Rollwinkel || Querlage || Roll
        pitch | deg | Nickwinkel || Laengsneigung || Nick
        heading/track | deg | Gierwinkel || Kompass || Kurs
        latitude | deg | Breite || GPS_Breite || Lat
        longitude | deg | Laenge || GPS_Laenge || Lon
        gear | | Fahrw || Fahrwerk || FW_unten
        throttle | % | Gas || Gas_Proz || Gasknueppel
        air_temperature | degC | T_aussen || Taussen || TempAussen
        """,
        engines=(ONE, ("li", "re"), ("L", "R"), ("1", "2")),
        receivers=(("1", "2"), ONE, ("A", "B")),
        comma=True,
    ),
    Hand(  # French club, abbreviations.
        "aeroclub",
        """
        time | s | Tps (s) || T (s) || Temps [s]
        speed@e | rpm | Tr/min {e} || N {e} (tr/min) || Régime {e} [tr/min]
        egt@e | degC | EGT {e} (°C) || T. échap. {e} (°C) || Temp. échap. {e} [°C]
        fuel_left@e | mL | Réservoir {e} (ml) || Carb. restant {e} (ml) || Reste rés. {e} [ml]
        pack_v@r | V | Bat. RX{r} (V) || U récepteur {r} (V) || Accu RX{r} [V]
        pack_a@r | A | Bat. RX{r} (A) || I récepteur {r} (A) || Accu RX{r} [A]
        pack_mah@r | mAh | Bat. RX{r} (mAh) || Conso récepteur {r} (mAh) || Accu RX{r} [mAh]
        antenna@a | dBm | RX{r} antenne {a} (dBm) || Récepteur {r} ant. {a} (dBm) || Antenne {a} RX{r} [dBm]
        height | m | Hauteur (m) || Haut. sol (m) || Hauteur/sol [m]
        ground_speed | km/hour | Vit. sol (km/h) || Vit. GPS (km/h) || V. sol [km/h]
        airspeed | km/hour | Vit. air (km/h) || Badin (km/h) || Vitesse air [km/h] | ?
        vario | m/s | Vz (m/s) || Vario (m/s) || Taux montée [m/s]
        latitude | deg | Lat (°) || Latitude
        longitude | deg | Lon (°) || Longitude
        roll | deg | Roulis (°) || Inclinaison (°) || Roulis [°]
        pitch | deg | Tangage (°) || Assiette (°) || Tangage [°]
        heading/track | deg | Lacet (°) || Cap (°) || Cap mag. (°)
        throttle | % | Gaz (%) || Mnt gaz (%) || Gaz [%]
        gear | | Train || Train sorti || Train bas
        air_temperature | degC | T ext. (°C) || Temp. ext. (°C) || T° ext. [°C]
        air_pressure | hPa | Pression (hPa) || P. stat. (hPa) || Pression atm. [hPa] | ?
        """,
        engines=(ONE, ("G", "D"), ("gche", "dte"), ("1", "2")),
        receivers=(("1", "2"), ONE, ("A", "B")),
        antennas=(("1", "2"), ("A", "B")),
        tab=True,
        yes=(("0", "1"), ("non", "oui"), ("N", "O")),
    ),
    Hand(  # As few words as will do.
        "spare",
        """
        time | s | time || t || sec
        speed@e | rpm | rpm{e} || rpm {e} || n{e}
        egt@e | degC | egt{e} || egt {e} || exhaust{e}
        fuel_left@e | mL | fuel{e} ml || fuel {e} (ml) || tank{e} ml
        pack_v@r | V | volts{r} || v{r} || batt{r} v
        pack_a@r | A | amps{r} || a{r} || batt{r} a
        pack_mah@r | mAh | mah{r} || mah {r} || batt{r} mah
        altitude/height/pressure_altitude | m | alt || alt m || altitude
        ground_speed/airspeed | km/hour | speed km/h || spd kmh || speed (kmh)
        latitude | deg | lat || latitude
        longitude | deg | lon || long || longitude
        satellites | | sats || sat || nsats | ?
        rssi@r | dBm | rssi{r} || signal{r} dbm || rssi {r} dbm
        gear | | gear || wheels || u/c | ?
        throttle/engine_throttle@e | % | thr || throttle || thr %
        """,
        engines=(ONE, ("1", "2"), (" l", " r")),
        receivers=(ONE, ("1", "2")),
    ),
    Hand(  # A laboratory's table: name row, unit row, SI-minded.
        "bench",
        """
        time | s | Time || Elapsed time || Test time
        speed@e | rpm | Shaft speed {e} || Rotor speed {e} || Spool speed {e}
        egt@e | degC | Exhaust temperature {e} || Exhaust gas temperature {e} || EGT {e}
        flow@e | L/hour | Fuel flow {e} || Fuel flow rate {e} || Fuel consumption rate {e}
        fuel_used@e | L | Fuel used {e} || Fuel consumed {e} || Total fuel used {e} | ?
        pump_v@e | V | Pump voltage {e} || Fuel pump voltage {e} || Pump drive voltage {e}
        ecu_v@q | V | ECU pack voltage {e} || ECU battery voltage {e} || ECU supply battery {e}
        ecu_a@q | A | ECU pack current {e} || ECU battery current {e} || ECU battery current {e}
        ecu_mah@q | mAh | ECU pack charge used {e} || ECU battery capacity used {e} || ECU battery discharge {e} | ?
        ecu_t@q | degC | ECU pack temperature {e} || ECU battery temperature {e} || ECU pack temp. {e} | ?
        engine_throttle@e/throttle | % | Throttle demand {e} || Throttle setting {e} || Throttle {e}
        air_temperature | degC | Ambient temperature || Air temperature || Room temperature | ~
        air_pressure | kPa | Ambient pressure || Barometric pressure || Atmospheric pressure
        vibration | g_0 | Vibration || Casing vibration || Vibration level
        text | A | Operator || Run || Test cell | ?
        """,
        engines=(ONE, ("1", "2"), ("left", "right")),
        unit_row=True,
        tab=True,
    ),
    Hand(  # Numbered outputs beside the sensors; Spanish and Italian shorthand.
        "mezcla",
        """
        time | min | min || Minutos || T (min)
        pack_v@r | V | Bat{r} V || Bat. {r} (V) || Pila RX{r} (V)
        pack_a@r | A | Bat{r} A || Bat. {r} (A) || Pila RX{r} (A)
        pack_mah@r | mAh | Bat{r} mAh || Bat. {r} (mAh) || Pila RX{r} (mAh)
        cell@c | V | Bat{r} celda {c} V || Bat. {r} celda {c} (V) || Pila RX{r} celda {c} (V)
        speed@e | rpm | Turb{e} rpm || Turbina {e} (rpm) || Vueltas turbina {e} (rpm)
        egt@e | degC | Turb{e} EGT || Turbina {e} EGT (°C) || Temp. tobera {e} (°C)
        fuel_left@e | mL | Dep{e} ml || Depósito {e} (ml) || Combustible {e} (ml)
        kanal | aileron | Canal 1 || CH1 || Salida 1
        kanal | elevator | Canal 2 || CH2 || Salida 2
        kanal | throttle | Canal 3 || CH3 || Salida 3
        kanal | rudder | Canal 4 || CH4 || Salida 4
        altitude/height/pressure_altitude | m | Alt m || Alt. (m) || Altitud (m)
        ground_speed/airspeed | km/hour | Vel km/h || Vel. (km/h) || Velocidad (km/h)
        latitude | deg | Lat || Lat. || Latitud
        longitude | deg | Lon || Long. || Longitud
        gear | % | Tren % || Tren (%) || Tren retráctil (%)
        air_temperature | degC | T ext C || T. ext. (°C) || Temp. exterior (°C)
        """,
        engines=(ONE, ("1", "2"), ("izq", "dcha")),
        receivers=(ONE, ("1", "2")),
        cells=2,
    ),
)
