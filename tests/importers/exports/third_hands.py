"""Fourteen further hands, written after the importer was mended on the open and the sealed ones, before they were run."""
# ruff: noqa: E501 (a rule is one line)

from .rules import Hand

ONE = ("",)

HANDS = (
    Hand(  # The mnemonics of full-size recorders.
        "flightdeck",
        """
        time | s | TIME_S || SECS || T_SEC
        speed@e | rpm | N_{e} || N1_{e} || NROT_{e}
        egt@e | degC | EGT_{e}_C || TGT_{e} || JPT_{e}
        flow@e | mL/min | FF_{e}_MLM || FFLOW_{e}_ML_MIN || WF_{e}_MLPM
        fuel_left@e | mL | FQ_{e}_ML || FQTY_{e}_ML || FUEL_{e}_ML
        engine_throttle@e/throttle | % | PLA_{e}_PCT || TLA_{e}_PCT || THR_{e}_PCT | ?
        airspeed | knot | CAS_KT || IAS_KTS || KIAS
        height | foot | RALT_FT || HAGL_FT || AGL_FT
        vario | foot/min | VSPD_FPM || ROC_FPM || IVV_FPM
        accel_z | g_0 | NZ_G || AZ_G || ACCZ_G | ?~x
        heading | deg | MHDG_DEG || HDG_DEG || HEADING_DEG
        track | deg | TRK_DEG || TRACK_DEG || COG_DEG
        ground_speed | knot | GSPD_KT || GS_KTS || SOG_KT
        roll | deg | ROLL_DEG || BANK_DEG || PHI_DEG
        pitch | deg | PTCH_DEG || PITCH_DEG || THETA_DEG
        latitude | deg | LATP || LAT_DEG || GPS_LAT
        longitude | deg | LONP || LON_DEG || GPS_LON
        air_temperature | degC | OAT_C || SAT_C || TAMB_C
        air_pressure | hPa | PS_HPA || PSTAT_HPA || BARO_HPA | ?
        bus_v@r/pack_v@r | V | VBUS{r} || BUS{r}_V || BUSV{r}
        flap | % | FLAP_PCT || FLAPS_PCT
        gear | | LG_DN || GEAR_DOWN || GEAR_DN
        limit | 98 | EGT_RED || N1_LIM || EGT_LIM | ?
        """,
        engines=(("1", "2"), ("L", "R"), ONE),
        receivers=(ONE, ("1", "2")),
        logs=5,
    ),
    Hand(  # A recorder that numbers its channels.
        "numbered",
        """
        time | ms | Time (ms) || Elapsed ms || Clock (ms)
        pack_v@r | V | Ch1{r} - Receiver pack {r} (V) || Ch1{r} - RX pack {r} volts || Ch1{r} - Rx {r} battery [V]
        pack_a@r | A | Ch2{r} - Receiver pack {r} (A) || Ch2{r} - RX pack {r} amps || Ch2{r} - Rx {r} battery [A]
        speed@e | rpm | Ch3{e} - Turbine {e} speed (rpm) || Ch3{e} - Turbine {e} RPM
        egt@e | degC | Ch4{e} - Turbine {e} exhaust (°C) || Ch4{e} - Turbine {e} EGT (°C)
        pump_v@e | V | Ch5{e} - Fuel pump {e} (V) || Ch5{e} - Pump {e} voltage (V)
        fuel_used@e | mL | Ch6{e} - Fuel used {e} (ml) || Ch6{e} - Fuel burned {e} (ml)
        airspeed | m/s | Ch70 - Airspeed (m/s) || Ch70 - Pitot (m/s)
        height | m | Ch71 - Height (m) || Ch71 - Baro height (m)
        air_temperature | degC | Ch72 - Outside temperature (°C) || Ch72 - Air temp (°C)
        servo_a | A | Ch73 - Servo current (A) || Ch73 - Servo rail (A) | ?
        vibration | g_0 | Ch74 - Vibration (g) || Ch74 - Vib (g) | ?
        """,
        engines=(ONE, ("1", "2")),
        receivers=(ONE, ("1", "2")),
        logs=4,
    ),
    Hand(  # German engineer: long names with underscores, units spelled out.
        "langname",
        """
        time | s | Zeit_s || Messzeit_s || Zeit_seit_Start_s
        speed@e | rpm | Drehzahl_Triebwerk_{e}_U_min || Wellendrehzahl_{e}_1_min || Drehzahl_{e}_rpm
        egt@e | degC | Temperatur_Abgas_{e}_Grad_C || Abgastemperatur_{e}_C || Abgastemp_{e}_degC
        pump_v@e | V | Spannung_Kraftstoffpumpe_{e}_Volt || Pumpenspannung_{e}_V || Spannung_Pumpe_{e}_V
        fuel_left@e | mL | Kraftstoffvorrat_{e}_ml || Tankinhalt_{e}_ml || Restkraftstoff_{e}_ml
        flow@e | mL/min | Kraftstoffdurchfluss_{e}_ml_min || Durchfluss_{e}_ml_min || Kraftstoffstrom_{e}_ml_min
        pack_v@r | V | Spannung_Empfaengerakku_{r}_V || Empfaengerakku_{r}_Spannung_V || Spannung_RX_Akku_{r}_Volt
        pack_a@r | A | Strom_Empfaengerakku_{r}_A || Empfaengerakku_{r}_Strom_A || Strom_RX_Akku_{r}_Ampere
        pack_mah@r | mAh | Ladung_Empfaengerakku_{r}_mAh || Empfaengerakku_{r}_entnommen_mAh || Entnahme_RX_Akku_{r}_mAh
        quality@r | % | Linkqualitaet_Empfaenger_{r}_Prozent || Verbindungsqualitaet_RX_{r}_Prozent || LQ_Empfaenger_{r}_Prozent
        height | m | Hoehe_ueber_Grund_m || Hoehe_ueber_Platz_m || Flughoehe_relativ_m
        ground_speed | km/hour | Geschwindigkeit_ueber_Grund_km_h || GPS_Geschwindigkeit_km_h || Grundgeschwindigkeit_kmh
        airspeed | km/hour | Fluggeschwindigkeit_km_h || Staurohr_Geschwindigkeit_km_h || Eigengeschwindigkeit_kmh
        vario | m/s | Steiggeschwindigkeit_m_s || Steigrate_m_s || Vertikalgeschwindigkeit_m_s
        roll | deg | Rollwinkel_Grad || Querneigung_Grad || Haengewinkel_Grad
        pitch | deg | Nickwinkel_Grad || Laengsneigung_Grad
        latitude | deg | Breitengrad || GPS_Breite_Grad || Geografische_Breite
        longitude | deg | Laengengrad || GPS_Laenge_Grad || Geografische_Laenge
        air_temperature | degC | Aussentemperatur_C || Umgebungstemperatur_Grad_C || Lufttemperatur_C
        air_pressure | hPa | Luftdruck_hPa || Umgebungsdruck_hPa || Druck_statisch_hPa
        gear | | Fahrwerk_ausgefahren || Fahrwerk_unten || Fahrwerk
        """,
        engines=(("links", "rechts"), ONE, ("1", "2")),
        receivers=(("1", "2"), ONE, ("A", "B")),
        logs=6,
    ),
    Hand(  # French programmer's camelCase.
        "chameau",
        """
        time | ms | tempsMs || horodatageMs || dureeMs
        speed@e | rpm | regimeTurbine{e} || regimeReacteur{e} || trMinTurbine{e}
        egt@e | degC | tempEchappement{e} || temperatureTuyere{e} || tempGazEchappement{e}
        fuel_left@e | mL | carburantRestant{e}Ml || resteCarburant{e}Ml || niveauReservoir{e}Ml
        pump_percent@e | % | pompe{e}Pct || commandePompe{e}Pct || pompeCarburant{e}Pct | ?
        pack_v@r | V | tensionAccuRx{r} || accuRx{r}Volts || tensionBatterieRx{r}
        pack_a@r | A | courantAccuRx{r} || accuRx{r}Amperes || courantBatterieRx{r}
        pack_mah@r | mAh | consoAccuRx{r}Mah || accuRx{r}ConsommeMah || consoBatterieRx{r}Mah
        rssi@r | dBm | rssiRx{r}Dbm || signalRx{r}Dbm || niveauRx{r}Dbm
        lost@r | | tramesPerduesRx{r} || paquetsPerdusRx{r} | ?
        altitude | m | altitudeGpsM || altitudeMetres || altitudeMerM
        ground_speed | km/hour | vitesseSolKmh || vitesseGpsKmh
        vario | m/s | vitesseVerticaleMs || varioMs || tauxMonteeMs
        roll | deg | roulisDeg || inclinaisonDeg
        pitch | deg | tangageDeg || assietteDeg
        latitude | deg | latitudeDeg || latitude || gpsLat
        longitude | deg | longitudeDeg || longitude || gpsLon
        throttle | % | mancheGazPct || gazPct || positionGazPct
        gear | | trainSorti || trainBas || trainAtterrissage
        board_t | degC | tempCarteC || tempProcesseurC | ?
        """,
        engines=(("Gauche", "Droite"), ("G", "D"), ONE, ("1", "2")),
        receivers=(("1", "2"), ONE),
        logs=5,
    ),
    Hand(  # Spanish snake_case.
        "culebra",
        """
        time | s | tiempo_s || segundos || tiempo_vuelo_s
        speed@e | rpm | rpm_turbina_{e} || revoluciones_{e} || vueltas_turbina_{e}_rpm
        egt@e | degC | temp_escape_{e}_c || temperatura_tobera_{e}_c || egt_{e}
        fuel_left@e | mL | combustible_{e}_ml || deposito_{e}_restante_ml || queroseno_{e}_ml
        flow@e | mL/min | caudal_{e}_ml_min || flujo_combustible_{e}_ml_min || consumo_{e}_ml_min | ?
        pack_v@r | V | bateria_rx{r}_v || voltaje_receptor{r}_v || tension_bat_rx{r}_v
        pack_a@r | A | corriente_rx{r}_a || intensidad_bat_rx{r}_a || amperios_rx{r}
        pack_mah@r | mAh | consumo_rx{r}_mah || gastado_bat_rx{r}_mah || capacidad_usada_rx{r}_mah
        antenna@a | dBm | rx{r}_antena{a}_dbm || receptor{r}_ant{a}_dbm || senal_rx{r}_antena_{a}_dbm
        height | m | altura_m || altura_sobre_pista_m || altura_relativa_m
        ground_speed | km/hour | velocidad_suelo_kmh || vel_gps_kmh || velocidad_gps_km_h
        track/heading | deg | rumbo_grados || rumbo || rumbo_gps_grados
        roll | deg | alabeo_grados || alabeo || balanceo_grados
        pitch | deg | cabeceo_grados || cabeceo
        latitude | deg | latitud || lat_grados
        longitude | deg | longitud || lon_grados
        throttle | % | gas_pct || acelerador_pct || mando_gas_pct
        elevator | % | profundidad_pct || elevador_pct
        aileron | % | alerones_pct || aleron_pct
        gear | | tren_abajo || tren_fuera || tren
        air_temperature | degC | temp_exterior_c || temp_aire_c || temp_ambiente_c
        """,
        engines=(("izq", "der"), ("izquierda", "derecha"), ONE, ("1", "2")),
        receivers=(("1", "2"), ONE),
        antennas=(("1", "2"),),
        logs=5,
    ),
    Hand(  # Italian, everything cut short.
        "corto",
        """
        time | s | t (s) || Sec. || Tempo (s)
        speed@e | rpm | Giri {e} || Giri turb. {e} || RPM {e}
        egt@e | degC | T. scar. {e} (°C) || Temp. scar. {e} (°C) || EGT {e} (°C)
        fuel_left@e | mL | Carb. {e} (ml) || Carb. res. {e} (ml) || Serb. {e} (ml)
        pack_v@r | V | Batt. RX{r} (V) || Batt. ric. {r} (V) || V ric. {r}
        pack_a@r | A | Batt. RX{r} (A) || Corr. ric. {r} (A) || A ric. {r}
        pack_mah@r | mAh | Batt. RX{r} (mAh) || Cons. ric. {r} (mAh) || mAh ric. {r}
        altitude | m | Quota GPS (m) || Alt. s.l.m. (m) || Quota slm (m)
        ground_speed | km/hour | Vel. GPS (km/h) || Vel. suolo (km/h) || V. suolo (km/h)
        vario | m/s | Vario (m/s) || Vel. vert. (m/s) || Salita (m/s)
        roll | deg | Rollio (°) || Inclin. (°) || Rollio
        pitch | deg | Beccheggio (°) || Becch. (°) || Beccheggio
        latitude | deg | Lat. || Latit. (°)
        longitude | deg | Lon. || Long. (°)
        throttle | % | Gas % || Gas (%) || Man. gas (%)
        aileron | % | Alett. (%) || Alettoni (%)
        elevator | % | Elev. (%) || Prof. (%)
        rudder | % | Direz. (%) || Tim. dir. (%)
        gear | | Carr. || Carrello
        flap | % | Flap (%) | ?
        air_temperature | degC | T. est. (°C) || Temp. est. (°C)
        """,
        engines=(ONE, ("sx", "dx"), ("1", "2")),
        receivers=(ONE, ("1", "2")),
        comma=True,
        logs=5,
        yes=(("0", "1"), ("su", "giù")),
    ),
    Hand(  # A British modeller's spreadsheet.
        "shed",
        """
        time | s | Secs || Time (secs) || Seconds from start
        speed@e | rpm | Jet RPM {e} || Turbine revs {e} || {e} jet revs
        egt@e | degC | Jet EGT {e} || Exhaust temp {e} (C) || {e} jet pipe temp (C)
        fuel_left@e | mL | Kero left {e} (ml) || Kerosene remaining {e} (ml) || {e} tank contents (ml)
        fuel_used@e | mL | Kero burnt {e} (ml) || Kerosene used {e} (ml) || {e} fuel gone (ml) | ?
        pack_v@r | V | Rx {r} pack volts || Receiver {r} pack V || Rx {r} batt volts
        pack_a@r | A | Rx {r} pack amps || Receiver {r} pack A || Rx {r} batt amps
        pack_mah@r | mAh | Rx {r} pack mAh used || Receiver {r} pack mAh || Rx {r} batt mAh taken
        antenna@a | dBm | Rx {r} aerial {a} dBm || Receiver {r} aerial {a} (dBm) || Rx {r} ant {a} signal dBm
        quality@r | % | Rx {r} LQ % || Receiver {r} link quality % || Rx {r} link %
        height | foot | Height ft || Height above patch (ft) || Ht AGL ft
        airspeed | mile/hour | Airspeed mph || Pitot mph || Air speed (mph)
        ground_speed | mile/hour | GPS speed mph || Ground speed mph || GPS mph
        throttle | % | Throttle % || Thr stick % || Throttle stick (%)
        elevator | % | Elevator % || Ele %
        aileron | % | Aileron % || Ail %
        rudder | % | Rudder % || Rud %
        gear | | Gear down || U/C down || Wheels down
        brake | % | Brakes % || Wheel brake % | ?
        flap | % | Flap % || Flaps %
        air_temperature | degC | Outside temp (C) || Air temp (C) || Ambient (C)
        text | fine | Weather || Notes | ?
        """,
        engines=(ONE, ("left", "right"), ("port", "starboard")),
        receivers=(("1", "2"), ONE, ("A", "B")),
        antennas=(("1", "2"), ("A", "B"), ("top", "bottom")),
        yes=(("no", "yes"), ("0", "1"), ("N", "Y")),
        logs=6,
    ),
    Hand(  # Device and quantity, units in brackets right behind.
        "device-dot",
        """
        time | s | Clock.Elapsed(s) || System.Time(s) || Log.Seconds(s)
        speed@e | rpm | Turbine_{e}.Speed(rpm) || Engine_{e}.RPM(1/min) || Jet_{e}.Shaft(rpm)
        egt@e | degC | Turbine_{e}.EGT(°C) || Engine_{e}.Exhaust(°C) || Jet_{e}.TailPipe(°C)
        pump_v@e | V | Turbine_{e}.PumpVoltage(V) || Engine_{e}.Pump(V) || Jet_{e}.FuelPump(V)
        flow@e | mL/min | Turbine_{e}.FuelFlow(ml/min) || Engine_{e}.Flow(ml/min) || Jet_{e}.FuelFlow(mL/min) | ?
        ecu_v@q | V | Turbine_{e}.Battery(V) || Engine_{e}.ECU_Battery(V) || Jet_{e}.EcuPack(V)
        fuel_left@e | mL | Tank_{e}.Remaining(ml) || FuelTank_{e}.Level(ml) || Tank_{e}.FuelLeft(ml)
        pack_v@r | V | RX{r}_Pack.Voltage(V) || Receiver{r}_Battery.Volts(V) || PackRX{r}.U(V)
        pack_a@r | A | RX{r}_Pack.Current(A) || Receiver{r}_Battery.Amps(A) || PackRX{r}.I(A)
        pack_mah@r | mAh | RX{r}_Pack.Used(mAh) || Receiver{r}_Battery.Consumed(mAh) || PackRX{r}.Q(mAh)
        cell@c | V | RX{r}_Pack.Cell{c}(V) || Receiver{r}_Battery.Cell_{c}(V) || PackRX{r}.Cell{c}(V) | ?
        antenna@a | dBm | RX{r}.Antenna{a}(dBm) || Receiver{r}.Ant{a}_RSSI(dBm) || RX{r}.Ant_{a}(dBm)
        lost@r | | RX{r}.LostFrames || Receiver{r}.FramesMissed || RX{r}.Dropouts
        failsafe@r | | RX{r}.Failsafe || Receiver{r}.FailSafe || RX{r}.FS | ?
        latitude | deg | GPS.Latitude(°) || GPS.Lat(deg) || Position.Latitude(°)
        longitude | deg | GPS.Longitude(°) || GPS.Lon(deg) || Position.Longitude(°)
        altitude | m | GPS.Altitude(m) || GPS.Alt(m) || Position.AltitudeMSL(m)
        ground_speed | m/s | GPS.Speed(m/s) || GPS.GroundSpeed(m/s) || Position.Speed(m/s)
        satellites | | GPS.Satellites || GPS.Sats || Position.SatCount | ?
        vario | m/s | Vario.Climb(m/s) || Baro.ClimbRate(m/s) || Vario.VerticalSpeed(m/s)
        height | m | Vario.Height(m) || Baro.Height(m) || Vario.RelAltitude(m)
        """,
        engines=(("Left", "Right"), ("1", "2"), ("L", "R")),
        receivers=(("1", "2"), ("1", "2", "3"), ("A", "B")),
        antennas=(("1", "2"), ("A", "B")),
        logs=6,
    ),
    Hand(  # The unit comes first.
        "unit-first",
        """
        time | s | s: elapsed || [s] time || (s) time
        speed@e | rpm | rpm: turbine {e} || [rpm] turbine {e} || (rpm) turbine {e}
        egt@e | degC | °C: exhaust {e} || [°C] exhaust {e} || (°C) exhaust gas {e}
        fuel_used@e | mL | ml: fuel used {e} || [ml] fuel used {e} || (ml) fuel consumed {e}
        pack_v@r | V | V: receiver pack {r} || [V] receiver pack {r} || (V) rx battery {r}
        pack_a@r | A | A: receiver pack {r} || [A] receiver pack {r} || (A) rx battery {r}
        pack_mah@r | mAh | mAh: receiver pack {r} || [mAh] receiver pack {r} || (mAh) rx battery {r}
        rssi@r | dBm | dBm: receiver {r} || [dBm] receiver {r} || (dBm) rx signal {r} | ~
        height | m | m: height above field || [m] height above field || (m) height over ground
        airspeed | m/s | m/s: airspeed || [m/s] airspeed || (m/s) indicated airspeed
        throttle | % | %: throttle stick || [%] throttle stick || (%) throttle
        air_temperature | degC | °C: outside air || [°C] outside air || (°C) ambient air
        """,
        engines=(ONE, ("left", "right"), ("1", "2")),
        receivers=(ONE, ("1", "2")),
        logs=4,
    ),
    Hand(  # German club, cut short with points.
        "verein",
        """
        time | s | Zeit [s] || Sek. || t [s]
        speed@e | rpm | Turb. {e} [U/min] || Drehz. {e} [U/min] || n Turb. {e} [1/min]
        egt@e | degC | AGT {e} [°C] || Abgast. {e} [°C] || Abgas {e} [°C]
        fuel_left@e | mL | Tank {e} Rest [ml] || Restkraftst. {e} [ml] || Sprit {e} Rest [ml]
        fuel_used@e | mL | Sprit {e} verbr. [ml] || Verbr. Kraftst. {e} [ml] || Kerosin {e} verbr. [ml] | ?
        pack_v@r | V | E-Akku {r} [V] || Empf.-Akku {r} [V] || Spg. Empf.-Akku {r} [V]
        pack_a@r | A | E-Akku {r} [A] || Empf.-Akku {r} [A] || Strom Empf.-Akku {r} [A]
        pack_mah@r | mAh | E-Akku {r} [mAh] || Empf.-Akku {r} [mAh] || Entn. Empf.-Akku {r} [mAh]
        antenna@a | dBm | Empf. {r} Ant. {a} [dBm] || RX{r} Antenne {a} [dBm] || Antenne {a} Empf. {r} [dBm]
        height | m | Höhe ü. Platz [m] || Höhe ü. Grund [m] || rel. Höhe [m]
        ground_speed | km/hour | Geschw. ü. Grund [km/h] || v ü. Grund [km/h] || GPS-Geschw. [km/h]
        airspeed | km/hour | Fahrt [km/h] || Fluggeschw. [km/h] || angez. Fahrt [km/h]
        vario | m/s | Vario [m/s] || Steigen [m/s] || Steigw. [m/s]
        throttle | % | Gas [%] || Gaskn. [%] || Gasst. [%]
        aileron | % | Querr. [%] || Quer. [%] || QR [%]
        elevator | % | Höhenr. [%] || HR [%]
        rudder | % | Seitenr. [%] || SR [%]
        gear | | Fahrw. || Fahrwerk || FW unten
        flap | % | Klapp. [%] || Landekl. [%] || Klappen [%]
        brake | % | Brems. [%] || Bremse [%] | ?
        air_temperature | degC | Außent. [°C] || Lufttemp. [°C] || T außen [°C]
        """,
        engines=(("li.", "re."), ONE, ("1", "2"), ("links", "rechts")),
        receivers=(("1", "2"), ONE),
        antennas=(("1", "2"), ("A", "B")),
        comma=True,
        yes=(("0", "1"), ("oben", "unten"), ("nein", "ja")),
        logs=6,
    ),
    Hand(  # Capitals and blanks.
        "shouting",
        """
        time | s | TIME SEC || ELAPSED SEC || SECONDS
        speed@e | rpm | TURBINE {e} RPM || ENG {e} RPM || {e} TURBINE RPM
        egt@e | degC | TURBINE {e} EGT C || ENG {e} EGT C || {e} TURBINE EGT DEG C
        fuel_left@e | mL | FUEL {e} REM ML || TANK {e} ML REMAINING || {e} FUEL REMAINING ML
        pump_percent@e | % | PUMP {e} PCT || ENG {e} PUMP % || {e} PUMP DUTY PCT | ?
        pack_v@r | V | RX BATT {r} V || RX PACK {r} VOLTS || RX{r} BATT VOLTAGE
        pack_a@r | A | RX BATT {r} A || RX PACK {r} AMPS || RX{r} BATT CURRENT
        pack_mah@r | mAh | RX BATT {r} MAH || RX PACK {r} MAH USED || RX{r} BATT CONSUMED MAH
        signal@r | % | RX {r} SIGNAL % || RX {r} SIG PCT || RX{r} SIGNAL STRENGTH %
        lost@r | | RX {r} LOST FRAMES || RX {r} FRAME LOSS || RX{r} MISSED FRAMES
        altitude | m | GPS ALT M || ALTITUDE MSL M || GPS ALTITUDE M
        ground_speed | km/hour | GPS SPD KMH || GROUND SPEED KM/H || GPS SPEED KPH
        latitude | deg | LAT || GPS LATITUDE
        longitude | deg | LON || GPS LONGITUDE
        gear | | GEAR DOWN || LANDING GEAR || GEAR
        brake | % | BRAKE % || BRAKES PCT | ?
        limit | 720 | EGT MAX C || MAX EGT C | ?
        """,
        engines=(ONE, ("L", "R"), ("1", "2"), ("LEFT", "RIGHT")),
        receivers=(ONE, ("1", "2"), ("A", "B")),
        yes=(("0", "1"), ("NO", "YES"), ("UP", "DOWN")),
        logs=5,
    ),
    Hand(  # A table of two heading rows' words in one: group, dash, name.
        "grouped",
        """
        time | s | Log - Time [s] || General: time [s] || Time > elapsed [s]
        speed@e | rpm | Engine {e} - Speed [rpm] || Engine {e}: speed [rpm] || Engine {e} > rotor speed [rpm]
        egt@e | degC | Engine {e} - EGT [°C] || Engine {e}: exhaust temperature [°C] || Engine {e} > EGT [°C]
        engine_throttle@e/throttle | % | Engine {e} - Throttle [%] || Engine {e}: throttle [%] || Engine {e} > throttle [%]
        fuel_percent@e | % | Fuel {e} - Level [%] || Fuel {e}: remaining [%] || Fuel {e} > level [%]
        flow@e | mL/min | Fuel {e} - Flow [ml/min] || Fuel {e}: flow [ml/min] || Fuel {e} > flow [ml/min]
        ecu_v@q | V | Engine {e} - Battery voltage [V] || Engine {e}: battery [V] || Engine {e} > ECU battery [V]
        ecu_mah@q | mAh | Engine {e} - Battery used [mAh] || Engine {e}: battery used [mAh] || Engine {e} > ECU battery used [mAh] | ?
        pack_v@r | V | Receiver {r} - Battery voltage [V] || Receiver {r}: battery [V] || Receiver {r} > battery voltage [V]
        pack_a@r | A | Receiver {r} - Battery current [A] || Receiver {r}: battery current [A] || Receiver {r} > battery current [A]
        quality@r | % | Receiver {r} - Link quality [%] || Receiver {r}: link quality [%] || Receiver {r} > link quality [%]
        antenna@a | dBm | Receiver {r} - Antenna {a} [dBm] || Receiver {r}: antenna {a} [dBm] || Receiver {r} > antenna {a} RSSI [dBm]
        antenna_lost@a | | Receiver {r} - Antenna {a} lost || Receiver {r}: antenna {a} lost packets || Receiver {r} > antenna {a} missed packets | ?
        roll | deg | Attitude - Roll [°] || Attitude: roll [°] || Attitude > roll [°]
        pitch | deg | Attitude - Pitch [°] || Attitude: pitch [°] || Attitude > pitch [°]
        heading | deg | Attitude - Heading [°] || Attitude: yaw [°] || Attitude > heading [°]
        height | m | Position - Height [m] || Position: height above ground [m] || Position > height [m]
        ground_speed | m/s | Position - Ground speed [m/s] || Position: ground speed [m/s] || Position > GPS speed [m/s]
        latitude | deg | Position - Latitude [°] || Position: latitude [°] || Position > latitude [°]
        longitude | deg | Position - Longitude [°] || Position: longitude [°] || Position > longitude [°]
        throttle | % | Sticks - Throttle [%] || Sticks: throttle [%] || Sticks > throttle [%]
        aileron | % | Sticks - Aileron [%] || Sticks: aileron [%] || Sticks > aileron [%]
        gear | | Switches - Gear || Switches: gear || Switches > gear
        """,
        engines=(("1", "2"), ("left", "right"), ONE),
        receivers=(("1", "2"), ONE, ("A", "B")),
        antennas=(("1", "2"), ("A", "B")),
        logs=5,
    ),
    Hand(  # French trade abbreviations.
        "atelier",
        """
        time | s | Temps || T[s] || Sec
        speed@e | rpm | N turb. {e} [tr/min] || Tours {e} [tr/mn] || Rég. turb. {e} [tr/min]
        egt@e | degC | T4 {e} [°C] || Temp. tuy. {e} [°C] || EGT {e} [°C]
        fuel_left@e | mL | Kéro. restant {e} [ml] || Carbu restant {e} [ml] || Qté carburant {e} [ml]
        flow@e | mL/min | Débit {e} [ml/min] || Débit carbu {e} [ml/min] || Débit carb. {e} [ml/mn] | ?
        pack_v@r | V | Batt. récep. {r} [V] || Accu réc. {r} [V] || U accu RX{r} [V]
        pack_a@r | A | Batt. récep. {r} [A] || Accu réc. {r} [A] || I accu RX{r} [A]
        pack_mah@r | mAh | Batt. récep. {r} [mAh] || Accu réc. {r} conso [mAh] || Q accu RX{r} [mAh]
        altitude | m | Alt. GPS [m] || Altitude/mer [m] || Alt. QNH [m]
        height | m | Haut. [m] || Hauteur/piste [m] || H sol [m]
        ground_speed | km/hour | V/sol [km/h] || Vit. sol [km/h] || Vitesse GPS [km/h]
        airspeed | km/hour | V. indiquée [km/h] || Vi [km/h] || Vit. indiquée [km/h]
        vario | m/s | Vz [m/s] || Var. [m/s] || Vario [m/s]
        latitude | deg | Lat. [°] || Latitude
        longitude | deg | Long. [°] || Longitude
        throttle | % | Gaz [%] || Man. gaz [%]
        aileron | % | Ail. [%] || Ailerons [%]
        elevator | % | Prof. [%] || Profondeur [%]
        rudder | % | Dir. [%] || Direction [%]
        flap | % | Volets [%] || Vol. [%] | ?
        gear | | Train || Train sorti
        air_temperature | degC | Text [°C] || T. ext. [°C] || T air [°C]
        """,
        engines=(ONE, ("G", "D"), ("G.", "D."), ("1", "2")),
        receivers=(ONE, ("1", "2")),
        tab=True,
        yes=(("0", "1"), ("non", "oui"), ("rentré", "sorti")),
        logs=5,
    ),
    Hand(  # Cells and everything in plain English, no capitals.
        "plain",
        """
        time | s | seconds || elapsed seconds || time in seconds
        speed@e | rpm | engine {e} speed rpm || turbine {e} rpm || engine {e} rpm
        egt@e | degC | engine {e} exhaust temp c || turbine {e} exhaust temperature || engine {e} egt
        fuel_left@e | mL | fuel tank {e} millilitres || tank {e} remaining millilitres || fuel tank {e} ml remaining
        pump_v@e | V | engine {e} pump volts || turbine {e} pump voltage || engine {e} fuel pump volts
        pack_v@r | V | receiver battery {r} volts || receiver {r} pack volts || rx battery {r} voltage
        pack_a@r | A | receiver battery {r} amps || receiver {r} pack amps || rx battery {r} current
        pack_mah@r | mAh | receiver battery {r} milliamp hours || receiver {r} pack mah || rx battery {r} used mah
        cell@c | V | receiver battery {r} cell {c} volts || receiver {r} pack cell {c} || rx battery {r} cell {c} voltage
        pack_t@r | degC | receiver battery {r} temperature || receiver {r} pack temp || rx battery {r} temp c
        signal@r | % | receiver {r} signal percent || receiver {r} signal strength percent || rx {r} signal percent
        height | m | height metres || height above ground metres || height in metres
        airspeed | m/s | airspeed metres per second || indicated airspeed m/s || airspeed m/s
        vario | m/s | climb rate metres per second || vertical speed m/s || climb m/s
        roll | deg | roll angle degrees || roll degrees || bank angle degrees
        pitch | deg | pitch angle degrees || pitch degrees
        heading | deg | heading degrees || compass heading || magnetic heading degrees
        air_temperature | degC | outside temperature c || air temperature celsius || ambient temperature
        air_pressure | hPa | air pressure hectopascal || barometric pressure hpa || static pressure hpa
        gear | | gear down || landing gear down || undercarriage down
        """,
        engines=(("1", "2"), ONE, ("left", "right")),
        receivers=(("1", "2"), ONE),
        cells=3,
        logs=5,
    ),
)
