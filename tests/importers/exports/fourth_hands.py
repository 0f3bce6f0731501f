"""Eight last hands, written after the importer was mended on all the others, before they were run."""
# ruff: noqa: E501 (a rule is one line)

from .rules import Hand

ONE = ("",)

HANDS = (
    Hand(  # Numbers in square brackets, as programs print arrays.
        "array",
        """
        time | s | t || time || time_s
        speed@e | rpm | rpm[{e}] || engine_rpm[{e}] || turb_rpm[{e}]
        egt@e | degC | egt[{e}] || engine_egt[{e}] || turb_egt[{e}]
        flow@e | mL/min | fuel_flow_mlmin[{e}] || flow_ml_min[{e}] || fuel_rate_ml_min[{e}]
        pack_v@r | V | rx_batt_v[{r}] || batt_volts[{r}] || rx_pack_volt[{r}]
        pack_a@r | A | rx_batt_a[{r}] || batt_amps[{r}] || rx_pack_amp[{r}]
        pack_mah@r | mAh | rx_batt_mah[{r}] || batt_mah[{r}] || rx_pack_mah[{r}]
        rssi@r | dBm | rx_rssi_dbm[{r}] || rx_signal_dbm[{r}] | ~
        latitude | deg | gps_lat || lat
        longitude | deg | gps_lon || lon
        altitude | m | gps_alt_m || alt_msl_m
        ground_speed | m/s | gps_speed_mps || gs_mps
        roll | deg | roll_deg || att_roll
        pitch | deg | pitch_deg || att_pitch
        """,
        engines=(("0", "1"), ("1", "2")),
        receivers=(("0", "1"), ("1", "2")),
        logs=4,
    ),
    Hand(  # Paths through a tree.
        "path",
        """
        time | ms | meta.time_ms || header.timestamp_ms || sys.uptime_ms
        speed@e | rpm | engine.{e}.rpm || turbine.{e}.speed_rpm || propulsion.{e}.shaft.rpm
        egt@e | degC | engine.{e}.egt || turbine.{e}.egt_c || propulsion.{e}.exhaust.temp_c
        pump_percent@e | % | engine.{e}.pump.percent || turbine.{e}.pump_pct || propulsion.{e}.pump.duty_pct
        fuel_left@e | mL | fuel.{e}.remaining_ml || tank.{e}.remaining_ml || fuel.{e}.left_ml
        pack_v@r | V | receiver.{r}.battery.voltage || rx.{r}.pack.volts || radio.rx{r}.battery.voltage_v
        pack_a@r | A | receiver.{r}.battery.current || rx.{r}.pack.amps || radio.rx{r}.battery.current_a
        pack_mah@r | mAh | receiver.{r}.battery.used_mah || rx.{r}.pack.used_mah || radio.rx{r}.battery.used_mah
        antenna@a | dBm | receiver.{r}.antenna.{a}.rssi || rx.{r}.antenna.{a}.dbm || radio.rx{r}.antenna_{a}.rssi_dbm
        lost@r | | receiver.{r}.lost_frames || rx.{r}.frames.lost || radio.rx{r}.frames_lost
        latitude | deg | position.lat || gps.latitude || nav.position.latitude
        longitude | deg | position.lon || gps.longitude || nav.position.longitude
        height | m | position.height_m || baro.height_m || nav.height_agl_m
        ground_speed | m/s | position.ground_speed_ms || gps.speed_ms || nav.ground_speed_mps
        roll | deg | attitude.roll_deg || imu.roll || nav.attitude.roll
        pitch | deg | attitude.pitch_deg || imu.pitch || nav.attitude.pitch
        throttle | % | sticks.throttle || control.throttle_pct || input.throttle_pct
        gear | | switches.gear || control.gear_down || input.gear
        """,
        engines=(("left", "right"), ("1", "2"), ("l", "r")),
        receivers=(("1", "2"), ("a", "b")),
        antennas=(("1", "2"), ("a", "b")),
        logs=5,
    ),
    Hand(  # German short names, quantity letter last.
        "stellwerk",
        """
        time | s | t_s || zeit_s
        speed@e | rpm | turb_{e}_n || tw_{e}_drehzahl || turbine_{e}_n_umin
        egt@e | degC | turb_{e}_agt || tw_{e}_abgas || turbine_{e}_egt_c
        pump_v@e | V | turb_{e}_pumpe_u || tw_{e}_pumpe_v || turbine_{e}_pumpe_volt
        fuel_left@e | mL | tank_{e}_rest_ml || tank_{e}_ml || tank_{e}_inhalt_ml
        pack_v@r | V | akku_rx{r}_u || rx{r}_akku_v || rx{r}_akku_spannung
        pack_a@r | A | akku_rx{r}_i || rx{r}_akku_a || rx{r}_akku_strom
        pack_mah@r | mAh | akku_rx{r}_mah || rx{r}_akku_mah || rx{r}_akku_verbraucht_mah
        quality@r | % | rx{r}_lq_proz || rx{r}_linkqualitaet || rx{r}_verbindung_proz
        height | m | hoehe_rel_m || hoehe_grund_m || flughoehe_m
        vario | m/s | vario_ms || steigen_ms || steigrate_ms
        ground_speed | km/hour | geschw_gps_kmh || v_grund_kmh || gps_speed_kmh
        throttle | % | gas_proz || knueppel_gas_proz || gas
        gear | | fahrwerk_unten || fahrwerk
        air_temperature | degC | aussentemp_c || temp_aussen_c || lufttemp
        """,
        engines=(("l", "r"), ONE, ("li", "re")),
        receivers=(("1", "2"), ONE),
        logs=4,
    ),
    Hand(  # Italian camelCase.
        "cammello",
        """
        time | ms | tempoMs || timestampMs
        speed@e | rpm | giriTurbina{e} || regimeTurbina{e}Rpm || giriMotore{e}
        egt@e | degC | tempScarico{e} || temperaturaScarico{e} || egtTurbina{e}
        fuel_left@e | mL | carburanteResiduo{e}Ml || residuoSerbatoio{e}Ml || carburanteRimasto{e}Ml
        pack_v@r | V | tensioneBatteriaRx{r} || voltBatteriaRx{r} || batteriaRx{r}Volt
        pack_a@r | A | correnteBatteriaRx{r} || ampereBatteriaRx{r} || batteriaRx{r}Ampere
        pack_mah@r | mAh | consumoBatteriaRx{r}Mah || batteriaRx{r}Mah || mahBatteriaRx{r}
        rssi@r | dBm | segnaleRx{r}Dbm || potenzaRx{r}Dbm
        altitude | m | quotaGpsM || altitudineGpsM || quotaMetri
        ground_speed | km/hour | velocitaGpsKmh || velocitaSuoloKmh
        roll | deg | rollioGradi || angoloRollio
        pitch | deg | beccheggioGradi || angoloBeccheggio
        latitude | deg | latitudine || latGps
        longitude | deg | longitudine || lonGps
        throttle | % | gasPercento || manettaPct
        gear | | carrelloGiu || carrelloEstratto
        """,
        engines=(("Sx", "Dx"), ONE, ("1", "2")),
        receivers=(("1", "2"), ONE),
        logs=4,
    ),
    Hand(  # Quantity of thing.
        "of-thing",
        """
        time | s | Time of flight [s] || Time since launch [s]
        speed@e | rpm | Speed of {e} turbine [rpm] || Rotational speed of {e} engine [rpm] || RPM of {e} turbine
        egt@e | degC | Exhaust gas temperature of {e} turbine [°C] || EGT of {e} engine [°C] || Temperature of {e} exhaust [°C]
        fuel_left@e | mL | Remaining volume of {e} tank [ml] || Fuel in {e} tank [ml] || Contents of {e} tank [ml]
        flow@e | mL/min | Fuel flow of {e} turbine [ml/min] || Flow rate of {e} fuel pump [ml/min] || Fuel flow to {e} engine [ml/min]
        pack_v@r | V | Voltage of {r} receiver battery [V] || Voltage of battery, {r} receiver [V] || Voltage at {r} receiver pack [V]
        pack_a@r | A | Current of {r} receiver battery [A] || Current from battery, {r} receiver [A] || Current of {r} receiver pack [A]
        pack_mah@r | mAh | Charge used of {r} receiver battery [mAh] || Charge from battery, {r} receiver [mAh] || Charge of {r} receiver pack [mAh]
        signal@r | % | Signal strength of {r} receiver [%] || Signal of {r} receiver [%]
        height | m | Height of flight [m] || Height over runway [m] || Height above launch [m]
        airspeed | m/s | Speed of air [m/s] || Speed through air [m/s] || True airspeed [m/s]
        air_temperature | degC | Temperature of ambient air [°C] || Temperature of outside air [°C]
        air_pressure | hPa | Pressure of ambient air [hPa] || Pressure of atmosphere [hPa]
        """,
        engines=(("left", "right"), ("first", "second"), ("No. 1", "No. 2")),
        receivers=(("first", "second"), ("main", "backup")),
        logs=4,
    ),
    Hand(  # American, engines first, Fahrenheit and thousands.
        "hangar",
        """
        time | s | Time (sec) || Elapsed Time (s)
        speed@e | krpm | {e} Eng RPM (x1000) || {e} Engine KRPM || {e} Turbine Speed (kRPM)
        egt@e | degF | {e} Eng EGT (F) || {e} Engine EGT (deg F) || {e} Turbine EGT (°F)
        flow@e | floz/min | {e} Eng Fuel Flow (oz/min) || {e} Engine FF (oz/min) || {e} Turbine Fuel Flow (fl oz/min)
        fuel_left@e | floz | {e} Tank (oz) || {e} Fuel Qty (oz) || {e} Fuel Quantity (fl oz)
        pack_v@r | V | RX{r} Bat V || Rcvr {r} Batt (V) || RX Bat {r} (Volts)
        pack_a@r | A | RX{r} Bat A || Rcvr {r} Batt (A) || RX Bat {r} (Amps)
        pack_mah@r | mAh | RX{r} Bat mAh || Rcvr {r} Batt (mAh) || RX Bat {r} (mAh)
        quality@r | % | RX{r} LQ (%) || Rcvr {r} Link Qual (%) || RX {r} Link Quality (%)
        altitude | foot | MSL Alt (ft) || GPS Alt (ft) || Altitude (ft MSL)
        airspeed | knot | IAS (kts) || Airspeed (kt) || Indicated Airspeed (knots)
        ground_speed | knot | Gnd Spd (kts) || GS (kt) || GPS Gnd Speed (knots)
        vario | foot/min | V/S (fpm) || VSI (ft/min) || Vert Speed (fpm)
        roll | deg | Bank (deg) || Roll (deg)
        pitch | deg | Pitch (deg) || Pitch Att (deg)
        gear | | Gear || Gear Dn || LDG GR
        flap | % | Flaps (%) || Flap Pos (%)
        brake | % | Brakes (%) || Brake Cmd (%)
        air_temperature | degF | OAT (F) || Outside Temp (F)
        """,
        engines=(("L", "R"), ("LH", "RH"), ("Left", "Right")),
        receivers=(("1", "2"), ("A", "B")),
        yes=(("0", "1"), ("UP", "DN")),
        logs=5,
    ),
    Hand(  # Spanish club, abbreviations.
        "taller",
        """
        time | s | T. vuelo (s) || Seg. || Tiempo (s)
        speed@e | rpm | Turb. {e} (rpm) || Rev. turb. {e} (rpm) || Rég. turbina {e} (rpm)
        egt@e | degC | T. escape {e} (°C) || Temp. esc. {e} (°C) || EGT turb. {e} (°C)
        fuel_left@e | mL | Dep. {e} rest. (ml) || Comb. rest. {e} (ml) || Querosén rest. {e} (ml)
        pack_v@r | V | Bat. rec. {r} (V) || Bat. Rx {r} (V) || Tens. bat. Rx {r} (V)
        pack_a@r | A | Bat. rec. {r} (A) || Bat. Rx {r} (A) || Int. bat. Rx {r} (A)
        pack_mah@r | mAh | Bat. rec. {r} (mAh) || Bat. Rx {r} (mAh) || Cons. bat. Rx {r} (mAh)
        quality@r | % | Cal. enlace {r} (%) || LQ Rx {r} (%) || Calidad Rx {r} (%)
        height | m | Alt. s/pista (m) || Altura (m) || Alt. rel. (m)
        ground_speed | km/hour | Vel. GPS (km/h) || Vel. s/suelo (km/h) || Vel. suelo (km/h)
        airspeed | km/hour | Vel. aire (km/h) || Vel. indicada (km/h) || Anemómetro (km/h)
        vario | m/s | Vario (m/s) || Vel. vert. (m/s)
        throttle | % | Gas (%) || Pal. gas (%) || Acel. (%)
        aileron | % | Aler. (%) || Alerones (%)
        elevator | % | Prof. (%) || Elev. (%)
        rudder | % | Dir. (%) || Direc. (%) || Deriva (%)
        gear | | Tren || Tren abajo || Tren aterr.
        air_temperature | degC | T. ext. (°C) || Temp. amb. (°C) || T. aire (°C)
        """,
        engines=(("izq.", "der."), ONE, ("1", "2")),
        receivers=(("1", "2"), ONE),
        comma=True,
        yes=(("0", "1"), ("no", "sí"), ("arriba", "abajo")),
        logs=5,
    ),
    Hand(  # French prose.
        "phrases",
        """
        time | s | Temps depuis le décollage en secondes || Durée écoulée (secondes)
        speed@e | rpm | Vitesse de rotation de la turbine {e} (tours par minute) || Régime de la turbine {e} en tr/min || Nombre de tours de la turbine {e} (tr/min)
        egt@e | degC | Température des gaz d'échappement de la turbine {e} (°C) || Température de sortie de la turbine {e} en °C || Température d'échappement {e} en degrés
        fuel_left@e | mL | Carburant restant dans le réservoir {e} (ml) || Volume restant du réservoir {e} en ml || Quantité de kérosène restante {e} (ml)
        pack_v@r | V | Tension de l'accu du récepteur {r} (V) || Tension de la batterie du récepteur {r} en volts || Tension d'alimentation du récepteur {r} (V)
        pack_a@r | A | Courant de l'accu du récepteur {r} (A) || Courant débité par la batterie du récepteur {r} (A) || Intensité de l'accu du récepteur {r} (A)
        pack_mah@r | mAh | Capacité consommée de l'accu du récepteur {r} (mAh) || Charge consommée de la batterie du récepteur {r} (mAh) || Capacité tirée de l'accu du récepteur {r} (mAh)
        antenna@a | dBm | Niveau de l'antenne {a} du récepteur {r} (dBm) || Puissance reçue par l'antenne {a} du récepteur {r} (dBm) || Signal antenne {a} du récepteur {r} en dBm
        lost@r | | Nombre de trames perdues par le récepteur {r} || Trames perdues du récepteur {r}
        height | m | Hauteur au-dessus du terrain (m) || Hauteur par rapport à la piste en mètres || Hauteur au dessus du sol (m)
        airspeed | km/hour | Vitesse par rapport à l'air (km/h) || Vitesse indiquée en km/h || Vitesse air (km/h)
        ground_speed | km/hour | Vitesse par rapport au sol (km/h) || Vitesse sol en km/h || Vitesse au sol (km/h)
        throttle | % | Position du manche des gaz (%) || Position de la manette des gaz en %
        gear | | Train d'atterrissage sorti || Train sorti
        air_temperature | degC | Température de l'air extérieur (°C) || Température extérieure en °C
        """,
        engines=(("gauche", "droite"), ("1", "2")),
        receivers=(("1", "2"), ("A", "B")),
        antennas=(("1", "2"), ("A", "B")),
        tab=True,
        yes=(("0", "1"), ("non", "oui")),
        logs=4,
    ),
)
