# ruff: noqa: E501
"""Words of the grown hands: how people of five languages head a column, and what they write that is no channel.

Written down before looking at how the importer decides. ``{n}`` is a number, ``{x}`` a letter, ``{s}`` a side. A mark in
front says what is fair: ``?`` a question, ``!`` a question must come, ``~`` to keep it as no channel. Source: common
practice of the trade, no source.
"""

from __future__ import annotations

SIDES = {
    "en": ("left", "right"), "de": ("links", "rechts"), "fr": ("gauche", "droite"), "es": ("izquierda", "derecha"),
    "it": ("sinistra", "destra"),
}  # fmt: skip

UNITS: dict[str, tuple[tuple[str, str, int], ...]] = {
    "voltage": (("V", "V", 2), ("mV", "mV", 0), ("V", "V", 3)),
    "current": (("A", "A", 2), ("mA", "mA", 0)),
    "charge": (("mAh", "mAh", 0), ("Ah", "Ah", 3)),
    "speed": (("rpm", "rpm", 0), ("1/min", "rpm", 0), ("krpm", "krpm", 2), ("RPM", "rpm", 0)),
    "hot": (("°C", "C", 0), ("C", "C", 0), ("°F", "F", 0), ("degC", "C", 1)),
    "warm": (("°C", "C", 1), ("°F", "F", 1), ("degC", "C", 1)),
    "volume": (("ml", "ml", 0), ("l", "l", 3), ("cl", "cl", 1), ("fl oz", "floz", 2)),
    "flow": (("ml/min", "ml/min", 0), ("l/h", "l/h", 2), ("ml/s", "ml/s", 2)),
    "percent": (("%", "%", 0), ("pct", "%", 1)),
    "dbm": (("dBm", "dBm", 0),),
    "count": (("", "1", 0),),
    "degree": (("°", "deg", 6), ("deg", "deg", 6)),
    "angle": (("°", "deg", 1), ("deg", "deg", 0)),
    "metre": (("m", "m", 1), ("ft", "ft", 0), ("cm", "cm", 0)),
    "pace": (("km/h", "km/h", 1), ("m/s", "m/s", 2), ("kt", "kt", 1), ("mph", "mph", 1)),
    "climb": (("m/s", "m/s", 2), ("ft/min", "ft/min", 0)),
    "pressure": (("hPa", "hPa", 1), ("Pa", "Pa", 0), ("kPa", "kPa", 3), ("inHg", "inHg", 3), ("mbar", "hPa", 2)),
    "state": (("", "bool", 0),),
}
"""Kind → how its unit is written, what that is, and digits."""

CHANNELS: dict[str, tuple[str, str, dict[str, tuple[str, ...]]]] = {
    "pack volts": ("pack.rx{n}.voltage_v|bus.rx{n}.voltage_v", "voltage", {
        "en": ("RX{n} voltage", "Receiver {n} battery", "Rx {n} volts", "Rx{n} supply voltage", "Battery voltage RX{n}"),
        "de": ("Empfängerakku {n}", "RX{n} Spannung", "Spannung Empfänger {n}", "Empfänger {n} Akkuspannung"),
        "fr": ("Tension récepteur {n}", "Accu récepteur {n}", "Tension RX{n}", "Batterie récepteur {n}"),
        "es": ("Tensión receptor {n}", "Voltaje RX{n}", "Batería receptor {n}", "Tensión batería RX{n}"),
        "it": ("Tensione ricevente {n}", "Batteria ricevente {n}", "Tensione RX{n}", "Voltaggio RX{n}"),
    }),
    "pack amps": ("pack.rx{n}.current_a|bus.rx{n}.current_a", "current", {
        "en": ("RX{n} current", "Receiver {n} amps", "Current RX{n}", "Rx {n} load current"),
        "de": ("RX{n} Strom", "Strom Empfänger {n}", "Empfänger {n} Stromaufnahme"),
        "fr": ("Courant récepteur {n}", "Courant RX{n}", "Intensité récepteur {n}"),
        "es": ("Corriente receptor {n}", "Corriente RX{n}", "Intensidad RX{n}"),
        "it": ("Corrente ricevente {n}", "Corrente RX{n}", "Assorbimento RX{n}"),
    }),
    "pack charge": ("pack.rx{n}.used_mah", "charge", {
        "en": ("RX{n} charge used", "Receiver {n} consumed", "RX{n} capacity used"),
        "de": ("RX{n} verbrauchte Ladung", "Verbrauchte Kapazität Empfänger {n}", "RX{n} entnommene Kapazität"),
        "fr": ("Charge consommée RX{n}", "Capacité consommée récepteur {n}"),
        "es": ("Carga consumida RX{n}", "Capacidad consumida receptor {n}"),
        "it": ("Carica consumata RX{n}", "Capacità consumata ricevente {n}"),
    }),
    "ecu volts": ("pack.ecu.voltage_v", "voltage", {
        "en": ("ECU battery voltage", "ECU batt", "ECU supply"),
        "de": ("ECU Akku", "ECU Spannung", "Spannung ECU-Akku"),
        "fr": ("Tension ECU", "Accu ECU"), "es": ("Tensión ECU", "Batería ECU"),
        "it": ("Tensione ECU", "Batteria ECU"),
    }),
    "shaft": ("engine.main.speed_rpm", "speed", {
        "en": ("Turbine speed", "Shaft speed", "Engine RPM", "Rotor speed", "Turbine revs"),
        "de": ("Turbinendrehzahl", "Drehzahl", "Drehzahl Turbine", "Wellendrehzahl"),
        "fr": ("Régime turbine", "Régime", "Vitesse de rotation turbine", "Tours turbine"),
        "es": ("Régimen turbina", "Revoluciones turbina", "RPM turbina", "Giro de la turbina"),
        "it": ("Giri turbina", "Regime turbina", "Numero giri turbina", "RPM turbina"),
    }),
    "exhaust": ("engine.main.egt_c", "hot", {
        "en": ("Exhaust gas temperature", "Exhaust temp", "EGT", "Tailpipe temperature", "Jet pipe temperature"),
        "de": ("Abgastemperatur", "Abgas", "Turbine Abgastemperatur", "AGT"),
        "fr": ("Température échappement", "Température tuyère", "T° échappement"),
        "es": ("Temperatura de escape", "Temperatura gases de escape", "Temp. escape"),
        "it": ("Temperatura gas di scarico", "Temperatura scarico", "Temp. scarico"),
    }),
    "pump": ("engine.main.pump_v", "voltage", {
        "en": ("Fuel pump voltage", "Pump volts", "Pump voltage"), "de": ("Pumpenspannung", "Spannung Kraftstoffpumpe"),
        "fr": ("Tension pompe", "Tension pompe carburant"), "es": ("Tensión bomba", "Tensión bomba de combustible"),
        "it": ("Tensione pompa", "Tensione pompa carburante"),
    }),
    "fuel left": ("fuel.main.remaining_ml", "volume", {
        "en": ("Fuel remaining", "Remaining fuel", "Fuel in tank", "Fuel quantity", "Fuel level"),
        "de": ("Kraftstoff Rest", "Restkraftstoff", "Tankinhalt", "Kerosin Restmenge", "Tankfüllung"),
        "fr": ("Carburant restant", "Reste carburant", "Quantité carburant", "Niveau carburant"),
        "es": ("Combustible restante", "Combustible disponible", "Nivel de combustible", "Combustible en depósito"),
        "it": ("Carburante rimanente", "Carburante residuo", "Livello carburante", "Carburante nel serbatoio"),
    }),
    "fuel used": ("fuel.main.used_ml", "volume", {
        "en": ("Fuel used", "Fuel consumed", "Fuel burnt", "Total fuel used"),
        "de": ("Kraftstoff verbraucht", "Verbrauchter Kraftstoff", "Kerosin verbraucht"),
        "fr": ("Carburant consommé", "Total carburant consommé"),
        "es": ("Combustible consumido", "Combustible gastado"),
        "it": ("Carburante consumato", "Carburante usato"),
    }),
    "fuel share": ("fuel.main.remaining_percent", "percent", {
        "en": ("Fuel remaining", "Tank level"), "de": ("Restkraftstoff", "Tankfüllstand"),
        "fr": ("Carburant restant", "Niveau réservoir"), "es": ("Combustible restante", "Nivel del depósito"),
        "it": ("Carburante residuo", "Livello serbatoio"),
    }),
    "flow": ("fuel.main.flow_ml_per_min", "flow", {
        "en": ("Fuel flow", "Fuel flow rate", "Fuel consumption rate"),
        "de": ("Kraftstoffdurchfluss", "Durchfluss Kraftstoff", "Kraftstofffluss"),
        "fr": ("Débit carburant", "Débit de kérosène"), "es": ("Caudal combustible", "Flujo de combustible"),
        "it": ("Portata carburante", "Flusso carburante"),
    }),
    "rssi": ("link.rx{n}.rssi_dbm", "dbm", {
        "en": ("RX{n} RSSI", "RSSI receiver {n}", "Signal strength RX{n}", "Rx{n} signal"),
        "de": ("RX{n} Empfangsstärke", "Signalstärke RX{n}", "RSSI Empfänger {n}"),
        "fr": ("Force du signal RX{n}", "RSSI RX{n}", "Signal récepteur {n}"),
        "es": ("Intensidad de señal RX{n}", "RSSI RX{n}", "Señal receptor {n}"),
        "it": ("Intensità segnale RX{n}", "RSSI RX{n}", "Segnale ricevente {n}"),
    }),
    "quality": ("link.rx{n}.link_quality_percent", "percent", {
        "en": ("RX{n} link quality", "RX{n} LQ", "Link quality receiver {n}"),
        "de": ("Verbindungsqualität RX{n}", "RX{n} Linkqualität"), "fr": ("Qualité liaison RX{n}", "Qualité du lien RX{n}"),
        "es": ("Calidad de enlace RX{n}",), "it": ("Qualità collegamento RX{n}", "Qualità link RX{n}"),
    }),
    "lost": ("link.rx{n}.lost_frames", "count", {
        "en": ("RX{n} frames lost", "RX{n} lost frames"), "de": ("RX{n} verlorene Frames", "Verlorene Pakete RX{n}"),
        "fr": ("Trames perdues RX{n}",), "es": ("Tramas perdidas RX{n}",), "it": ("Trame perse RX{n}", "Frame persi RX{n}"),
    }),
    "aerial": ("link.rx{n}.antenna:{x}.rssi_dbm", "dbm", {
        "en": ("?RX{n} antenna {x} RSSI", "?RX{n} ant {x}", "?RSSI RX{n} aerial {x}"),
        "de": ("?RX{n} Antenne {x} RSSI", "?RSSI RX{n} Antenne {x}"), "fr": ("?RSSI RX{n} antenne {x}", "?RX{n} antenne {x}"),
        "es": ("?RSSI RX{n} antena {x}",), "it": ("?RSSI RX{n} antenna {x}", "?RX{n} antenna {x}"),
    }),
    "latitude": ("position.latitude_deg", "degree", {
        "en": ("Latitude", "GPS latitude", "Lat"), "de": ("Breite", "Breitengrad", "GPS Breite"),
        "fr": ("Latitude", "Lat."), "es": ("Latitud", "Latitud GPS"), "it": ("Latitudine", "Latitudine GPS"),
    }),
    "longitude": ("position.longitude_deg", "degree", {
        "en": ("Longitude", "GPS longitude", "Lon"), "de": ("Länge", "Längengrad", "GPS Länge"),
        "fr": ("Longitude", "Long."), "es": ("Longitud", "Longitud GPS"), "it": ("Longitudine", "Longitudine GPS"),
    }),
    "altitude": ("position.altitude_m", "metre", {
        "en": ("GPS altitude", "Altitude", "Altitude MSL"), "de": ("GPS Höhe", "Höhe über NN", "Höhe MSL"),
        "fr": ("Altitude GPS", "Altitude"), "es": ("Altitud GPS", "Altitud"), "it": ("Altitudine GPS", "Quota GPS"),
    }),
    "ground speed": ("position.ground_speed_m_s", "pace", {
        "en": ("GPS speed", "Ground speed", "Speed over ground"), "de": ("GPS Geschwindigkeit", "Geschwindigkeit über Grund"),
        "fr": ("Vitesse GPS", "Vitesse sol"), "es": ("Velocidad GPS", "Velocidad suelo"),
        "it": ("Velocità GPS", "Velocità al suolo"),
    }),
    "airspeed": ("motion.airspeed_m_s", "pace", {
        "en": ("Airspeed", "Pitot speed", "Indicated airspeed"), "de": ("Fluggeschwindigkeit", "Luftgeschwindigkeit", "Staurohr"),
        "fr": ("Vitesse air", "Vitesse pitot"), "es": ("Velocidad aire", "Velocidad pitot"),
        "it": ("Velocità aria", "Velocità pitot"),
    }),
    "climb": ("motion.vario_m_s", "climb", {
        "en": ("Vario", "Vertical speed", "Climb rate"), "de": ("Vario", "Steigrate", "Steigen"),
        "fr": ("Vario", "Taux de montée"), "es": ("Vario", "Velocidad vertical"), "it": ("Vario", "Velocità verticale"),
    }),
    "course": ("position.track_deg", "angle", {
        "en": ("Course over ground", "Track", "GPS course"), "de": ("Kurs über Grund", "GPS Kurs"),
        "fr": ("Route sol", "Cap GPS"), "es": ("Rumbo GPS",), "it": ("Rotta GPS", "Rotta"),
    }),
    "satellites": ("position.satellites", "count", {
        "en": ("Satellites", "Sats in use", "GPS satellites"), "de": ("Satelliten", "Anzahl Satelliten"),
        "fr": ("Satellites", "Nombre de satellites"), "es": ("Satélites", "Número de satélites"),
        "it": ("Satelliti", "Numero satelliti"),
    }),
    "roll": ("attitude.roll_deg", "angle", {
        "en": ("Roll angle", "Roll"), "de": ("Rollwinkel", "Rollen"), "fr": ("Roulis", "Angle de roulis"),
        "es": ("Alabeo",), "it": ("Rollio", "Angolo di rollio"),
    }),
    "pitch": ("attitude.pitch_deg", "angle", {
        "en": ("Pitch angle", "Pitch"), "de": ("Nickwinkel",), "fr": ("Tangage", "Assiette"), "es": ("Cabeceo",),
        "it": ("Beccheggio",),
    }),
    "outside": ("air.temperature_c", "warm", {
        "en": ("Outside air temperature", "Ambient temperature", "Air temp"), "de": ("Außentemperatur", "Lufttemperatur"),
        "fr": ("Température extérieure", "Température de l'air"), "es": ("Temperatura exterior", "Temperatura del aire"),
        "it": ("Temperatura esterna", "Temperatura aria"),
    }),
    "air": ("air.pressure_pa", "pressure", {
        "en": ("Barometric pressure", "Static pressure", "Air pressure"), "de": ("Luftdruck", "Statischer Druck"),
        "fr": ("Pression atmosphérique", "Pression statique"), "es": ("Presión barométrica", "Presión atmosférica"),
        "it": ("Pressione barometrica", "Pressione atmosferica"),
    }),
    "throttle": ("?control.throttle_percent|engine.main.throttle_percent", "percent", {
        "en": ("Throttle", "Throttle stick", "Throttle command"), "de": ("Gas", "Gasstellung", "Gasknüppel"),
        "fr": ("Gaz", "Manche des gaz", "Commande des gaz"), "es": ("Gas", "Mando de gas", "Acelerador"),
        "it": ("Gas", "Comando gas", "Stick gas"),
    }),
    "rudder": ("control.rudder_percent", "percent", {
        "en": ("Rudder", "Rudder stick"), "de": ("Seitenruder",), "fr": ("Dérive", "Direction"), "es": ("Timón",),
        "it": ("Timone",),
    }),
    "elevator": ("control.elevator_percent", "percent", {
        "en": ("Elevator", "Elevator stick"), "de": ("Höhenruder",), "fr": ("Profondeur",), "es": ("Profundidad",),
        "it": ("Elevatore", "Equilibratore"),
    }),
    "side fuel": ("fuel.{side}.remaining_ml", "volume", {
        "en": ("?{s} tank remaining", "Fuel remaining {s}", "{s} fuel quantity"),
        "de": ("Tankinhalt {s}", "Restkraftstoff {s}"), "fr": ("Carburant restant {s}", "Niveau carburant {s}"),
        "es": ("Combustible restante {s}",), "it": ("Carburante residuo {s}", "Livello carburante {s}"),
    }),
    "side shaft": ("engine.{side}.speed_rpm", "speed", {
        "en": ("{s} engine speed", "RPM {s}", "{s} turbine RPM"), "de": ("Drehzahl {s}", "Drehzahl Turbine {s}"),
        "fr": ("Régime turbine {s}", "Tours turbine {s}"), "es": ("RPM turbina {s}", "Revoluciones turbina {s}"),
        "it": ("Giri turbina {s}", "RPM turbina {s}"),
    }),
    "side exhaust": ("engine.{side}.egt_c", "hot", {
        "en": ("{s} EGT", "Exhaust temp {s}"), "de": ("Abgastemperatur {s}",), "fr": ("Température échappement {s}",),
        "es": ("Temperatura escape {s}",), "it": ("Temperatura scarico {s}",),
    }),
}  # fmt: skip
"""Concept → channel, kind of unit, phrases of each language."""

NO_CHANNELS: tuple[tuple[str, str, str, dict[str, tuple[str, ...]]], ...] = (
    ("rpm_limit", "speed", "limit", {
        "en": ("Max allowed speed", "Overspeed threshold", "RPM ceiling"), "de": ("Drehzahlgrenze", "Maximal zulässige Drehzahl"),
        "fr": ("Régime maximal autorisé", "Seuil survitesse"), "es": ("Régimen máximo permitido", "Umbral RPM"),
        "it": ("Regime massimo ammesso", "Soglia giri"),
    }),
    ("rpm_target", "speed", "limit", {
        "en": ("Commanded RPM", "RPM setpoint", "Demanded speed", "RPM reference"), "de": ("Solldrehzahl", "Drehzahl Soll"),
        "fr": ("Consigne régime", "Régime demandé"), "es": ("Consigna RPM", "RPM objetivo"),
        "it": ("Giri richiesti", "Setpoint giri"),
    }),
    ("rpm_max", "speed", "extreme", {
        "en": ("Peak RPM", "RPM peak hold", "Highest RPM"), "de": ("Spitzendrehzahl", "Drehzahl Maximum"),
        "fr": ("Régime maxi", "Pic de régime"), "es": ("RPM máximas", "Pico de RPM"), "it": ("Giri max", "Picco giri"),
    }),
    ("egt_limit", "hot", "limit", {
        "en": ("EGT redline", "Exhaust temp limit", "EGT trip"), "de": ("Abgastemperatur Grenze", "Max. zul. Abgastemperatur"),
        "fr": ("Limite température échappement", "Seuil EGT"), "es": ("Límite de temperatura de escape", "EGT máxima admisible"),
        "it": ("Limite temperatura scarico", "Soglia EGT"),
    }),
    ("egt_max", "hot", "extreme", {
        "en": ("EGT peak", "Hottest exhaust temp"), "de": ("Abgastemperatur Spitze", "Höchste Abgastemperatur"),
        "fr": ("EGT maxi", "Température échappement maxi"), "es": ("EGT pico",), "it": ("EGT di picco", "Massima temperatura scarico"),
    }),
    ("fuel_alarm_ml", "volume", "limit", {
        "en": ("Fuel reserve", "Reserve fuel", "Low fuel threshold", "Minimum landing fuel", "Fuel warning level"),
        "de": ("Kraftstoffreserve", "Reservemenge", "Kraftstoff Warnschwelle"),
        "fr": ("Réserve carburant", "Seuil bas carburant", "Carburant mini"),
        "es": ("Combustible de reserva", "Umbral de combustible"), "it": ("Riserva carburante", "Soglia carburante"),
    }),
    ("tank_ml", "volume", "limit", {
        "en": ("Tank capacity", "Fuel capacity", "Fuel at start", "Fuel loaded"), "de": ("Tankvolumen", "Tankgröße", "Kraftstoff Startmenge"),
        "fr": ("Capacité réservoir", "Carburant embarqué"), "es": ("Capacidad del depósito", "Combustible inicial"),
        "it": ("Capacità serbatoio", "Carburante iniziale"),
    }),
    ("capacity_mah", "charge", "limit", {
        "en": ("Pack rated capacity", "Battery size"), "de": ("Akkukapazität", "Nennkapazität"), "fr": ("Capacité nominale accu",),
        "es": ("Capacidad nominal batería",), "it": ("Capacità nominale batteria",),
    }),
    ("charge_left_mah", "charge", "limit", {
        "en": ("RX1 charge left", "Battery remaining"), "de": ("Restkapazität", "RX1 Restladung"), "fr": ("Charge restante RX1",),
        "es": ("Carga restante RX1",), "it": ("Carica residua RX1",),
    }),
    ("volt_alarm", "voltage", "limit", {
        "en": ("Cutoff voltage", "RX1 low voltage alarm", "Voltage alarm level"), "de": ("Spannungswarnung", "Abschaltspannung"),
        "fr": ("Alarme tension basse", "Tension de coupure"), "es": ("Alarma tensión baja", "Tensión de corte"),
        "it": ("Allarme tensione", "Tensione di taglio"),
    }),
    ("volt_min", "voltage", "extreme", {
        "en": ("RX1 lowest voltage", "RX1 voltage min"), "de": ("RX1 Spannung Minimum", "Tiefste Spannung RX1"),
        "fr": ("Tension mini RX1",), "es": ("Tensión mínima RX1",), "it": ("Tensione minima RX1",),
    }),
    ("rssi_min", "dbm", "extreme", {
        "en": ("Worst RSSI", "RX1 RSSI min"), "de": ("RSSI Minimum RX1", "Schlechtester RSSI"), "fr": ("RSSI mini RX1",),
        "es": ("RSSI mínimo RX1",), "it": ("RSSI minimo RX1",),
    }),
    ("rssi_warning", "dbm", "limit", {
        "en": ("RSSI warning level", "RSSI critical"), "de": ("RSSI Warnschwelle",), "fr": ("Seuil RSSI",),
        "es": ("Umbral RSSI",), "it": ("Soglia RSSI",),
    }),
    ("height_max", "metre", "extreme", {
        "en": ("Peak altitude", "Max height reached"), "de": ("Maximale Höhe", "Gipfelhöhe"), "fr": ("Altitude maxi",),
        "es": ("Altitud máxima",), "it": ("Quota massima",),
    }),
    ("height_limit", "metre", "limit", {
        "en": ("Altitude ceiling", "Geofence height"), "de": ("Höhenbegrenzung", "Flughöhe Grenze"), "fr": ("Plafond altitude",),
        "es": ("Techo de altitud",), "it": ("Tetto di quota", "Limite quota"),
    }),
    ("speed_max_ms", "climb", "extreme", {
        "en": ("Top speed", "Max ground speed"), "de": ("Höchstgeschwindigkeit",), "fr": ("Vitesse maxi",),
        "es": ("Velocidad máxima",), "it": ("Velocità massima",),
    }),
    ("egt_mean", "hot", "average", {
        "en": ("EGT mean", "Average exhaust temp", "EGT rolling avg"), "de": ("Mittlere Abgastemperatur", "Abgas Durchschnitt"),
        "fr": ("EGT moyenne",), "es": ("EGT promedio",), "it": ("EGT media",),
    }),
    ("servo_a", "current", "other system", {
        "en": ("Servo bus current", "Aileron servo current", "Flap servo amps"), "de": ("Servostrom", "Strom Querruderservo"),
        "fr": ("Courant servos", "Courant servo volets"), "es": ("Corriente servos",), "it": ("Corrente servi", "Corrente servocomandi"),
    }),
    ("servo_c", "warm", "other system", {
        "en": ("Servo temperature", "Elevator servo temp"), "de": ("Servotemperatur",), "fr": ("Température servo",),
        "es": ("Temperatura servo",), "it": ("Temperatura servo",),
    }),
    ("gyro_dps", "angle", "other system", {
        "en": ("Gyro X rate", "Roll rate"), "de": ("Kreisel Rollrate", "Drehrate Rollen"), "fr": ("Gyro roulis", "Vitesse de roulis"),
        "es": ("Giróscopo alabeo",), "it": ("Giroscopio rollio",),
    }),
    ("glow_v", "voltage", "other system", {
        "en": ("Glow plug volts", "Igniter voltage"), "de": ("Glühkerze Spannung", "Zünder Spannung"), "fr": ("Tension bougie",),
        "es": ("Tensión bujía",), "it": ("Tensione candela", "Tensione candeletta"),
    }),
    ("starter_a", "current", "other system", {
        "en": ("Starter motor current", "Starter amps"), "de": ("Anlasser Strom", "Starterstrom"), "fr": ("Courant démarreur",),
        "es": ("Corriente arranque", "Corriente motor de arranque"), "it": ("Corrente starter", "Corrente motorino avviamento"),
    }),
    ("tx_v", "voltage", "other system", {
        "en": ("Transmitter battery", "TX voltage", "Handset battery"), "de": ("Senderakku", "Senderspannung"),
        "fr": ("Tension émetteur", "Batterie émetteur"), "es": ("Batería emisora", "Tensión emisora"),
        "it": ("Batteria trasmittente", "Tensione trasmittente"),
    }),
    ("ground_v", "voltage", "other system", {
        "en": ("Ground unit voltage", "Base station battery"), "de": ("Bodenstation Spannung",), "fr": ("Tension station sol",),
        "es": ("Tensión estación de tierra",), "it": ("Tensione stazione di terra",),
    }),
    ("video_dbm", "dbm", "other system", {
        "en": ("Video RSSI", "FPV signal"), "de": ("Videosignal", "Video Empfangsstärke"), "fr": ("Signal vidéo",),
        "es": ("Señal de vídeo",), "it": ("Segnale video",),
    }),
    ("smoke_ml", "volume", "other system", {
        "en": ("Smoke oil remaining", "Smoke tank level"), "de": ("Rauchöl Rest", "Rauchtank Füllstand"),
        "fr": ("Huile fumigène restante", "Réservoir fumigène"), "es": ("Aceite de humo restante",),
        "it": ("Olio fumogeno residuo", "Serbatoio fumogeno"),
    }),
    ("bay_c", "warm", "other system", {
        "en": ("Equipment bay temperature", "Fuselage temp", "Gearbox temp"), "de": ("Rumpftemperatur", "Getriebetemperatur"),
        "fr": ("Température fuselage", "Température compartiment"), "es": ("Temperatura fuselaje",),
        "it": ("Temperatura fusoliera", "Temperatura vano"),
    }),
    ("cpu_c", "warm", "other system", {
        "en": ("Logger temperature", "Board temp", "Processor temperature"), "de": ("Platinentemperatur", "Loggertemperatur"),
        "fr": ("Température carte",), "es": ("Temperatura placa",), "it": ("Temperatura scheda",),
    }),
    ("case_kpa", "pressure", "other system", {
        "en": ("Compressor pressure", "Case pressure", "P3"), "de": ("Verdichterdruck", "Gehäusedruck"), "fr": ("Pression compresseur",),
        "es": ("Presión compresor",), "it": ("Pressione compressore",),
    }),
    ("distance_m", "metre", "worked out", {
        "en": ("Distance from pilot", "Range to home"), "de": ("Entfernung", "Abstand zum Piloten"), "fr": ("Distance pilote",),
        "es": ("Distancia al piloto",), "it": ("Distanza dal pilota",),
    }),
    ("wind_ms", "climb", "other system", {
        "en": ("Wind speed", "Headwind"), "de": ("Windgeschwindigkeit",), "fr": ("Vitesse du vent",),
        "es": ("Velocidad del viento",), "it": ("Velocità del vento",),
    }),
    ("derivative", "speed", "worked out", {
        "en": ("RPM change", "RPM derivative"), "de": ("Drehzahländerung",), "fr": ("Variation de régime",),
        "es": ("Variación RPM",), "it": ("Variazione giri",),
    }),
)  # fmt: skip
"""Signal, kind of unit, trap, phrases of each language: what a logger writes beside, and no channel is meant for."""

AGAINST: tuple[tuple[str, str, str, int, str], ...] = (
    ("volts in thousandths", "pack.rx1.voltage_v", "kV", 5, "V"), ("speed in thousandths", "engine.main.speed_rpm", "krpm", 3, "rpm"),
    ("positive strength", "-positive_dbm", "", 0, "dBm"), ("flat fuel", "-fuel_alarm_ml", "", 0, "ml"),
    ("rising rest", "fuel.main.used_ml", "ml", 0, "ml"), ("flat height", "-height_limit", "", 0, "m"),
    ("cold exhaust", "-bay_c", "", 1, "°C"), ("pressure of a case", "-case_kpa", "", 2, "hPa"),
)  # fmt: skip
"""What the values say against a plain heading: name, signal, unit of the numbers, digits, unit of the heading."""

PLAIN = {
    "volts in thousandths": "pack volts", "speed in thousandths": "shaft", "positive strength": "rssi", "flat fuel": "fuel left",
    "rising rest": "fuel left", "flat height": "altitude", "cold exhaust": "exhaust", "pressure of a case": "air",
}  # fmt: skip
"""Each of them under a plain heading of this concept."""
