"""The words of column headings, in English, German, French, Spanish and Italian, and the ideas they stand for.

A heading is taken apart into words; accents and case do not matter, and compounds come apart where all their parts
are known ("Empfängerspannung", "rxbatt"). Each idea is a plain name that :mod:`importers.meaning.columns` reasons with.
"""

from __future__ import annotations

import unicodedata
from bisect import bisect_left
from functools import lru_cache

_IDEAS: dict[str, str] = {
    # What is measured
    "voltage": "vlt potential spg spng voltios voltage volt volts u spannung tension voltaje voltagem tensao tensione "
    "voltaggio",
    "current": "draw cour assorb amperaje stromstarke laststrom entladestrom amperios current amp amps ampere "
    "amperage strom courant corriente corrente intensite intensidad stromaufnahme curr amperaggio assorbimento",
    "charge": "decharge descarga scarica discharge kap entladung charge capacity capacite capacidad kapazitat ladung "
    "carga consumption mah capacita carica consum",
    "used": "weg raus tires tire tirados sacados "
    "summe summiert somme suma somma acum usd entladen entladene discharged cumulative cumulated accumulated "
    "totaliser totalizer integrated assorbito assorbiti assorbita erogato erogati erogata extraida extraido cumulato "
    "usati usate usados usadas utilises kum entnahme entn brulee cumulee cumulata acumulado conso gone consumati "
    "consumate consumidos gastados verbrannt brule quemado bruciato bruciata used consumed verbraucht verbrauchte "
    "verbrauchter verbrauchtes verbrauch consomme consommee consommation consumido consumida consumo consumato "
    "consumata usado usada usato usata usage use entnommen drawn spent burned burnt utilise utilisee depense gastado "
    "gastada speso verbr",
    "remaining": "ubrig drin "
    "fullung restvolumen rimanenza vorrat qte rimane queda quedan restlich restlicher resttank remains "
    "remaining remain rem rest restmenge restant restante restanti reste residual residuo residua resto verbleibend "
    "level fullstand niveau nivel livello inhalt quantity qty menge quantite cantidad quantita verbleibende rimanente "
    "rimasto rimasta remanente contents content contenu contenuto contenido",
    "flow": "qv "
    "deb caud flw forder forderstrom fordermenge volumenstrom mdot vdot qf wf fflow zufluss flow durchfluss "
    "debit caudal flujo flusso portata fluss burn ff durchsatz gasto",
    "temperature": "heat temperaturen temperature temp temps temperatur temperatura tmp",
    "egt": "scar strahl ech exh abgastemp escap scarichi abg austritt auslass egt exhaust abgas abgastemperatur agt "
    "tgt escape echappement tge egttemp scarico jpt itt tot",
    "rpm": "welle tacho tachometer tachymetre tachimetro tacometro "
    "gir rot arbre drehz albero rotational umlaufe giros laufer dz touren tourenzahl nrot rotor core giro "
    "rotazione rotacion drz upm rpm drehzahl n1 regime revs revolutions umdrehungen revoluciones tours tour shaft "
    "spool wellendrehzahl vueltas giri rev rotation tr",
    "cell": "elt elts "
    "cel zell zellspannung cell cells zelle zellen cellule cellules element celda celdas celula cella celle "
    "elemento elementi",
    "rssi": "sign feldst sigstr pegel rsl empfangsstarke empfangspegel rssi signal strength feldstarke signalstarke "
    "senal segnale empfang puissance potencia potenza intensidadsenal rss field sig rx_level",
    "quality": "gute guete verbindungsgute lqi linkq quality qualitat qualite calidad lq qualita vtlq",
    "lost": "aussetzer caidos caidas dropout dropouts manques manquees manquantes manquants fehlende fehlend fehlt "
    "fehlten lossrate drop outages outage ausgefallene saltos mancanti mancati lost verlorene verlorener verlorenen "
    "loss losses missed dropped fades fade drops verloren verlust verluste perdu perdus perdue perdues perte pertes "
    "perdido perdidos perdida perdidas perso persi persa perse perdita perdite holds hold missing ausfalle",
    "frame": "telegramme telegramm datenpakete blocs frame frames rahmen packet packets paket pakete trame trames "
    "trama tramas paquet paquets paquete paquetes pacchetto pacchetti pkts pkt frm",
    "failsafe": "failsafe fs securite",
    "latitude": "latp glat latit latitude lat breite breitengrad latitud latitudine",
    "longitude": "lonp glon glng longit longitude lon long lng lange langengrad longitud longitudine",
    "altitude": "meereshohe meer ngf galt nn nhn slm snm mer mare mar seehohe altitude alt hohe altitud altura msl asl "
    "altitudine quota elevation amsl",
    "height": "ht ralt hagl radalt height agl altezza hgt hauteur high",
    "above": "terr terrain dessus patch strip depart start startpunkt startplatz decollaggio campo terreno gelande "
    "runway piste pista above over uber rel relative relativ relativa relativo platz boden takeoff launch decollage "
    "despegue decollo",
    "speed": "vit gspeed speed geschwindigkeit vitesse velocidad velocity vel spd gspd velocita geschw",
    "airspeed": "propre indic fahrtmesser badin kias kcas ktas eigengeschwindigkeit asi anemometrica aerodinamica "
    "anemometrique indiquee indicada indicata angezeigte staurohr fluggeschwindigkeit luftgeschwindigkeit indicated "
    "airspeed aspd ias tas staudruck fahrt anemometre anemometro cas eas pitot",
    "ground": "grnd terrestre gnd grd ground grund sol suelo gs groundspeed suolo sog",
    "track": "derrota ruta curso trayectoria traccia richtung flugrichtung trk track course kurs rumbo cog route "
    "trajectoire rotta crs",
    "satellites": "satellitenzahl sv nsv numsv satnum satinuse satellites sats sat satelliten satelites numsats "
    "numsat satellite satelliti svs nsat nsats",
    "roll": "gite hangewinkel querlage balanceo inclinaison schraglage sbandamento roll querneigung bank rollwinkel "
    "roulis alabeo rollen rollio",
    "pitch": "ptch assiette pitch langsneigung nick tangage cabeceo nickwinkel beccheggio",
    "heading": "head magnetkurs kompasskurs compas brujula mhdg heading yaw hdg gier lacet guinada azimuth steuerkurs "
    "compass kompass imbardata prua bussola gieren",
    "angle": "angle winkel angulo angolo",
    "vario": "asc ascensionnelle subida ivv steigwert vs vspd climbrate vv ascensional steiggeschw vario climb "
    "climbing steigen steigrate variometer verticalspeed vsi vspeed roc variometre variometro salita montee ascenso "
    "steig vz",
    "magnetic": "magn mag magnetic magnetique magnetisch magnetico magnetica",
    "sink": "sink sinken sinkrate sinkgeschwindigkeit descent descente descenso discesa",
    "oat": "oat",
    "vertical": "vertical vertikal verticale",
    "accel": "acel accel acceleration beschleunigung aceleracion acc accelerazione accelerometer beschl",
    "x": "x longitudinal forward",
    "y": "sideways lateralen laterale laterala y lateral",
    "z": "z normal",
    "pressure": "prs barometre barometro pres pressure druck luftdruck pression presion pressione press baro "
    "barometric barometrisch barometrique barometrico qfe barometer",
    "throttle": "accelerateur leistungshebel schubhebel gasgeber pla tla gasgriff throttlepos drossel "
    "throttle gas gasstellung gaz manette acelerador thr leistung power gashebel gasknuppel throt thro acceleratore "
    "manetta",
    "aileron": "aler aileron ailerons ail querruder aileronstick aleron alerones alettoni alettone",
    "elevator": "elv tiefenruder equilibratore elevator ele elev hohenruder profondeur elevador profundidad elevatore "
    "profondita",
    "rudder": "palonnier pedaliera pedales rudder rud seitenruder derive direction timon direzionale",
    "flap": "flp hypersustentateurs hypersustentateur hipersustentadores hipersustentador ipersostentatore landekl "
    "wolbklappe wolbklappen flap flaps klappe klappen landeklappen volet volets flaperon ipersostentatori",
    "brake": "brk radbremse radbremsen freinage frenata frenada brake brakes bremse bremsen frein freins freno frenos "
    "freni",
    "gear": "undercart uc ezfw retrattili retractil retrattile retractable escamotable ruota ruote wheels lgear "
    "ruedas roues atterrisseur gear wheel train fahrwerk undercarriage retract retracts tren traingear "
    "einziehfahrwerk landinggear carrello",
    "airbrake": "airbrake speedbrake speedbrakes spoiler spoilers storklappe aerofreno",
    # What it belongs to
    "pack": "pile pacco pila pilas packs acumulador zellenpack pack battery batt bat akku batterie bateria accu accus "
    "lipo bt batterij stromversorgung accumulateur batteria akkus batteries batterien baterias bty batteriepack liion "
    "lifepo life",
    "bus": "bordnetz bus rail",
    "rx": "receveur ric recepcion ricezione rec recv receptora ricevitori rx receiver reception empfanger recepteur "
    "receptor rcvr ricevente ricevitore empf rcv",
    "antenna": "antenna ant antenne antena aerial antennen antennas antenas",
    "fuel": "juice "
    "essence benzin benzina gasolina nafta gazole gasoil gasolio diesel combustibile durchflussmesser "
    "flowmeter debitmetre caudalimetro flussometro fuel kraftstoff sprit treibstoff carburant combustible kerosin "
    "kerosene carburante cherosene kero brennstoff jeta1 queroseno querosene kerosine paraffin",
    "tank": "tanque tk tnk kanister bidon tank reservoir deposito serbatoio tanks",
    "engine": "mot trb propulsion tw triebw reattori engine turbine motor moteur triebwerk reacteur turbina reactor "
    "motore reattore eng turb engines jet",
    "ecu": "centralina ecu fadec",
    "pump": "bom pom spritpumpe kraftstoffpumpe treibstoffpumpe pump pumpe pompe bomba pmp pompa fuelpump",
    "nozzle": "schubrohr strahlrohr nozzle duse tuyere tobera ugello tailpipe",
    "supply": "supply versorgung alimentation alimentacion alimentazione",
    "link": "ubertragung strecke strecken lien link funk funkstrecke liaison enlace radio verbindung telemetry "
    "telemetrie telemetria collegamento",
    "downlink": "descendante descendente downlink ruckkanal",
    "air": "auss afuera umg external atmosphere room raum draussen air luft aire ambient outside umgebung aussen "
    "exterieur exterieure externe atm atmospheric atmospherique atmosferica atmospharisch amb aria esterna ambiente "
    "ambiante exterior aussenluft",
    "gps": "gps gnss",
    # Which one
    "left": "gche gau lks lft izda izqda izqd backbord bb babor babord left links linke linkes linker linken linkem "
    "gauche izquierda izquierdo port lh sinistra sinistro sx izq li",
    "right": "dte drt dcha dcho drcha rts rgt rght steuerbord stb sb estribor tribord right rechts rechte rechtes "
    "rechter droite droit derecha derecho starboard rh destra destro dx der re stbd rechten rechtem",
    "main": "main haupt principal principale",
    "front": "front vorne vorn vorderer vorderes avant delantero delantera anteriore fore",
    "rear": "rear hinten hinterer hinteres arriere trasero trasera posteriore aft",
    "centre": "centre center mitte mittlerer milieu centro centrale mid middle",
    "header": "header hopper uat saugtank beruhigungstank",
    "wing": "wing flache flugel aile ala",
    "fuselage": "fuselage rumpf",
    "backup": "standby "
    "backup reserve secondary redundant notfall secours respaldo sekundar secondaire",
    "primary": "primary primar primaire primario",
    # When
    "time": "clk "
    "tps duree time zeit uhrzeit temps heure tiempo hora timestamp zeitstempel horodatage clock uhr timecode "
    "laufzeit tempo ora orario horloge reloj orologio",
    "date": "date datum fecha day tag jour giorno",
    "elapsed": "sek seg sg sec secs second seconds sekunde sekunden secondi secondo seconde secondes segundo segundos "
    "elapsed since seit depuis ecoule transcurrido uptime trascorso",
    "tick": "millisecondi milisegundos millisecondes millisekunden millisekunde milliseconds millisecond tick ticks "
    "millis micros counter zahler",
    "utc": "utc gmt zulu",
    # Long shape
    "sensor": "voie sensor channel kanal capteur sensorname parameter parametre parametro variable signalname sensors "
    "canal measurement messgrosse item sensore canale",
    "name": "name nom nombre label id bezeichnung nome",
    "value": "value wert valeur valor reading messwert valore",
    "unit": "uom "
    "unit units einheit unite unidad unita",
    # Not what is measured now: limits, settings, extremes, figures worked out
    "limit": "mindest mindestwert hochstwert impostato impostata impostati impostate regle reglee ajustado "
    "ajustada eingestellt "
    "zulassig zul erlaubt permitted allowed autorise autorisee permitida permitido massimale ammesso ammessa "
    "bingo trigger triggered abschaltung shutdown tripped richiesti richiesto solicitado demande demandee erwunscht "
    "wanted aim tankgrosse fassungsvermogen contenance groste grosste kleinste best bester record warngrenze grenz "
    "set sp ceiling plafond techo tetto trip limit limits limite limites grenze grenzwert threshold schwelle seuil "
    "umbral soglia cutoff redline max min maximum minimum maxi mini maximal minimal maximale minimale maximo minimo "
    "massimo massima minima maxima hochst hoch hottest coldest fastest slowest lim peak spitze pic pico picco highest "
    "lowest alarm alarme alarma allarme warn warning warnung alert avviso aviso alerta avertissement target soll "
    "sollwert zielwert ziel consigne obiettivo objetivo setpoint cible demand demanded desired commanded nominal "
    "rated nenn nominale ref reference referenz size taille tamano grosse groesse dimensione config setting "
    "einstellung reglage hochste niedrigste",
    "worked": "dist distance distanz entfernung abstand distancia distanza eloignement lejania range reichweite "
    "bearing peilung homedir average mean avg mittel mittelwert moyenne promedio media medio durchschnitt delta diff "
    "difference differenz spread std stddev sigma var variance rms trend ratio eff efficiency wirkungsgrad rendement "
    "smoothed predicted estimated predict forecast eta endurance autonomie autonomia ecart diferencia differenza "
    "deviation abweichung",
    "state": "switch switched switches schalter interrupteur commutateur interruttore interruptor "
    "aktiv active actif attivo activo activado activa attiva fsm stage running zustande state status zustand "
    "etat estado stato mode modus code flag flags phase fault event",
    # Other things on board or on the ground
    "other": "force fuerza forza kraft kerze zundung ignition igniter zund bujias candele bremsscheibe disc disk "
    "tracker disque disco gcs trasmittente soute innenraum kompressor kabine canopy fumigene fumogeno fumogena "
    "avertisseur ballon admission admision aspirazione ingresso lubrication lubricacion schmierung oilpress casing "
    "elektronik electronics electronica electronique elettronica wastegate trim trims trimmung voter mixer expo servo "
    "servos gyro kreisel giroscopio gyroscope glow gluh gluhkerze bougie bujia candela plug starter anlasser demarreur "
    "arranque avviatore avviamento smoke rauch fumee humo fumo smoker video vtx goggles camera kamera fpv cam osd bay "
    "inlet intake einlauf ansaug entree entrada presa ansaugung compressor oil ol huile aceite olio bearing lager "
    "palier cuscinetto board platine pcb cpu mcu chip prozessor light lights licht lampe luz luci landelicht regler "
    "esc bec regulator vib vibration vibrations parachute groundstation bodenstation base station tx sender "
    "transmitter emetteur emission emisora trasmettitore handset hydraulic hydraulik pneumatic pneumatik druckluft "
    "fan lufter ventilateur ballast modem sdcard logger display charger ladegerat chargeur humidity feuchte humedad "
    "humidite umidita wind vent viento vento co2 solenoid valve ventil vanne valvula valvola case gehause boitier "
    "carcasa winch tow schlepp thrust schub poussee empuje spinta torque drehmoment vector fix hdop pdop vdop dop "
    "accuracy genauigkeit precision",
    "lowered": "ausgef fuera fuori dn dwn lowered extended ausgefahren sorti extendido unten abajo bas estesa esteso "
    "deployed estratto giu",
    "down_signal": "retour retorno ritorno downstream",
    "up_signal": "uplink upstream",
    "fin": "fin seitenleitwerk leitwerk",
    "tail": "tail heck cola coda queue schwanz",
    "nose": "nose nase bug morro muso nez",
    "count": "anz zahl nbre number nr no num count anzahl numero nb",
    # Words that add nothing
    "command": "steuerung ansteuerung aussteuerung stellgrosse tastgrad pwm ciclo trabajo accionamiento azionamento "
    "mandos cde cmd command commande comando",
    "": "pv reales "
    "fuhler messfuhler sonde sonda thermocouple thermoelement termocoppia termopar tc "
    "saft drv spinning turning feeds feeding that which actifs si sw captes capte captados uberm past act "
    "effettive efectif "
    "land resp attit calibrated calibrada calibrata calibree controls elec sys adc dem den ges effettivi "
    "effettivo effettiva efectivo efectiva effectif effective exit minute cyclique allo akt outlet cycle inst inter "
    "braquage rentrant all dell nell sull dall uscita salida entlade pedals terminal klemmen surface "
    "stellung ausschlag posizione posicion posizion razon input control par dans tiree debite debitee rapport au "
    "sortie aterr lever applied suivi suivie geografische geografisches inputs qnh man geografisch "
    "duty drive axis achse axe asse eje stat geogr taken through fill filled reading_ geographisch geographisches "
    "geographique geografica geographic geodetic landing lande ldg atterrissage aterrizaje atterraggio on recibida "
    "recibido recue recu ricevuta ricevuto empfangen empfangene received by off point punto punkt agganciati visibles "
    "anwesend mech of take nav att true vera vraie verdadera wahre ddmm dddmm rateo ritmo taux tasa flug flight vol "
    "vuelo volo dal dalla from what is was noch still manche knuppel steuerknuppel leva joystick sobre respecto sul "
    "sulla sullo nel nella rispetto imu ahrs lage attitude actitud assetto real reel reelle reale reali misurati "
    "misurato mesuree mesures medidas medido medidos istwert istw cur momentan momentane momentaner aktuelles now "
    "instant instantaneous instantane instantanee instantaneo istantaneo onboard aboard bord bordo model modell "
    "modele modello modelo aircraft flugzeug flieger avion aereo tracked visible locked telem data log probe an with "
    "mit avec con oder pro je mando static statisch statischer statique estatica statica how so far seen my the in de "
    "du des la le les el los die das im von per et to at total actual aktuell ist current_value measured gemessen "
    "stick sticks position pos output out l_ en por percentage prozentsatz del della dello delle al alla il lo gli i "
    "di da e and und y_ aktueller aktuelle actuel actuelle attuale live over_ground uber_grund sur abs absolute "
    "absolut absolue on_board messung mesure medida misura gauge meter jauge messgerat gesamt totale spent_ meas "
    "lecture geometric filtered gefiltert filtre",
}  # fmt: skip
_SEVERAL: dict[str, tuple[str, ...]] = {
    "left": ("left", "remaining"),
    "quer": ("aileron", "y", ""),
    "langs": ("x", ""),
    "burn": ("flow", "used"),
    "z": ("z", "cell"),
    "jauge": ("", "remaining"),
    "gauge": ("", "remaining"),
    **dict.fromkeys(("intens",), ("current", "rssi")),
    "pot": ("rssi", "watts", "throttle"),
    **dict.fromkeys(("tel", "telem"), ("link", "down_signal", "")),
    "var": ("vario", "worked"),
    "lat": ("latitude", "y"),
    "long": ("longitude", "x"),
    "consum": ("used", "charge"),
    "gast": ("used", "flow"),
    "int": ("current", "rssi", "other"),
    "niv": ("remaining", ""),
    "str": ("current", "rssi"),
    "direz": ("rudder", "track"),
    "liv": ("remaining", ""),
    "reg": ("rpm", "other"),
    "stand": ("remaining", ""),
    "terra": ("ground", "other"),
    "tierra": ("ground", "other"),
    **dict.fromkeys(("menge", "quantity", "qty", "quantite", "qte", "quantita"), ("remaining", "")),
    "cantidad": ("remaining", "count"),
    "seite": ("rudder", ""),
    "ext": ("air", ""),
    "dep": ("tank", "above", ""),
    "est": ("air", "worked", ""),
    "res": ("remaining", "tank"),
    "cons": ("used", "charge"),
    "strom": ("current", "flow"),
    "fw": ("gear", ""),
    "lg": ("gear", ""),
    "agl": ("height", "above"),
    **dict.fromkeys(("direzione", "direccion"), ("rudder", "track")),
    **dict.fromkeys(("level", "niveau", "nivel", "livello"), ("remaining", "")),
    "intensidad": ("current", "rssi"),
    "intensite": ("current", "rssi"),
    "intensita": ("current", "rssi"),
    "ele": ("elevator", "altitude"),
    "use": ("used", ""),
    "telemetry": ("link", "down_signal", ""),
    "telemetrie": ("link", "down_signal", ""),
    "telemetria": ("link", "down_signal", ""),
    "cap": ("charge", "track"),
    **dict.fromkeys(("zahler", "counter"), ("tick", "used")),
    **dict.fromkeys(("compteur", "contador", "contatore"), ("", "used")),
    **dict.fromkeys(("lever", "hebel", "levier"), ("", "throttle")),
    "palanca": ("throttle", ""),
    "rate": ("flow", "vario", "worked"),
    "sat": ("satellites", "rx"),
    "satellite": ("satellites", "rx"),
    "der": ("", "right"),
    "motor": ("engine", "electric"),
    "moteur": ("engine", "electric"),
    "motore": ("engine", "electric"),
    "a": ("current", "#a", "accel"),
    "i": ("current", ""),
    "t": ("temperature", "time"),
    "l": ("left", "#l"),
    "r": ("right", "#r"),
    "capacity": ("charge", "limit"),
    "kapazitat": ("charge", "limit"),
    "capacite": ("charge", "limit"),
    "capacidad": ("charge", "limit"),
    "capacita": ("charge", "limit"),
    "c": ("cell", "#c"),
    "p": ("pressure", "rssi"),
    "v": ("speed", "voltage", ""),
    "n": ("rpm", ""),
    "h": ("height", ""),
    "q": ("flow", ""),
    "down": ("lowered", "z", "down_signal"),
    "up": ("raised", "z", "up_signal"),
    "debit": ("flow", "current"),
    "empfang": ("rssi", "rx"),
    "gas": ("throttle", "fuel", "egt"),
    "gases": ("egt", "throttle"),
    "gaz": ("throttle", "egt"),
    "reception": ("rx", "rssi"),
    "power": ("throttle", "supply", "watts"),
    "leistung": ("throttle", "watts"),
    **dict.fromkeys(("puissance", "potencia", "potenza"), ("rssi", "watts", "throttle")),
    "ground": ("ground", "other"),
    "life": ("pack", "worked"),
    "temps": ("time", "temperature"),
    "rest": ("remaining", "worked"),
    "reserve": ("remaining", "backup", "limit"),
    "field": ("rssi", "above"),
    "champ": ("rssi", ""),
    "aus": ("lowered", ""),
    "reservoir": ("tank", ""),
    "direction": ("rudder", "track"),
    **dict.fromkeys(("timon", "timone", "gouverne", "ruder"), ("rudder", "")),
    "consumption": ("charge", "used"),
    "regimen": ("rpm", ""),
    "nombre": ("name", "count"),
    "phi": ("roll", "latitude"),
    "lambda": ("longitude",),
    "theta": ("pitch", "temperature"),
    "psi": ("heading",),
    "home": ("worked", "home"),
    "campo": ("above", "rssi"),
    "pegel": ("rssi", "remaining"),
    "cur": ("current", ""),
    "volume": ("remaining", "limit", ""),
    "volumen": ("remaining", "limit", ""),
    "oat": ("oat",),
    "dir": ("track", "rudder"),
    "elevation": ("altitude", "angle"),
    "media": ("worked", ""),
    "tension": ("voltage", ""),
    "entrada": ("other", ""),
    "rem": ("remaining", ""),
    "hold": ("failsafe", "lost"),
    **dict.fromkeys(("mittlere", "mittlerer", "mittleres", "mittlerem", "mittleren"), ("worked", "centre")),
    **dict.fromkeys(("error", "errors", "fehler", "erreurs", "erreur", "errores", "errori"), ("lost", "state")),
    "tot": ("", "egt"),
    "re": ("right", ""),
    "li": ("left", ""),
}
"""Words that mean several things, the likeliest first; the rest of the heading, or the values, decide."""

ROLES: dict[str, frozenset[str]] = {
    role: frozenset(words.split())
    for role, words in {
        "actual": "act actual actuals live ist istwert now raw unfiltered instant inst meas measured pv value "
        "val eff effektiv effettivo effettiva effettivi effettive efectivo efectiva efectivos effectif "
        "effective aktuell actuel actuelle attuale attuali reel reelle real reales reale reali roh "
        "ungefiltert brut brute bruto grezzo grezza momentan mesure mesuree gemessen misurato misurata medido "
        "medida",
        "extreme": "hi lo hihi lolo high low hoch tief niedrig haut bas alto alta bajo baja basso bassa",
        "smooth": "lp lpf filt filtered filter smooth smoothed ema gefiltert filtre filtree filtrado filtrada filtrato "
        "filtrata geglattet lisse lissee suavizado suavizada livellato damped gedampft",
        "setting": "qnh qff qne setting reference ref nominal",
        "counted": "adc raw counts digits roh brut",
        "good": "valid validity good ok okay quality status fresh stale plausible gultig gueltig gultigkeit gute "
        "plausibel valide valido valida validita validite qualite qualita calidad qualitat valable bon buono",
    }.items()
}
"""What sets a column apart from another of the same measurement: words that say which is the actual value, an extreme,
a smoothed copy, a setting, what a converter counted, or whether the value is good."""
WORDS: dict[str, str] = {word: idea for idea, words in _IDEAS.items() for word in words.split()} | {
    word: ideas[0] for word, ideas in _SEVERAL.items() if len(word) > 1
}
"""Folded word → idea; the likeliest where there are several."""
_SORTED = sorted(WORDS)
SHORT_FORMS: dict[str, tuple[str, ...]] = {
    **dict.fromkeys(("vb", "vbat", "vbatt", "ubat", "ubatt"), ("volts", "battery")),
    **dict.fromkeys(("ib", "ibat", "ibatt"), ("amps", "battery")),
    "fqty": ("fuel", "quantity"),
    "fq": ("fuel", "quantity"),
    "accx": ("accel", "x"),
    "accy": ("accel", "y"),
    "accz": ("accel", "z"),
    "lqty": ("fuel", "quantity"),
    "fob": ("fuel", "remaining"),
    "fullstand": ("tank", "rest"),
    "bordspannung": ("bus", "spannung"),
    "bordstrom": ("bus", "strom"),
    "bordakku": ("akku",),
    "fu": ("fuel", "used"),
}
"""Short forms of the trade that stand for two words. Common practice, no source."""
_SHORT_PARTS = frozenset({"rx", "ff", "n1"})
_FIRST_PARTS = frozenset({"ist", "flug"})
"""Words that add nothing, and yet begin a compound: "Istdrehzahl"."""


_COUNTED = (
    ("1", "first 1st erster erste erstes ersten premier premiere primo prima primer primera", "one eins un uno"),
    (
        "2",
        "second 2nd zweiter zweite zweites zweiten deuxieme seconde secondo seconda segundo segunda",
        "two zwei deux dos due",
    ),
    (
        "3",
        "third 3rd dritter dritte drittes dritten troisieme terzo terza tercero tercera",
        "three drei trois tres tre",
    ),
    (
        "4",
        "fourth 4th vierter vierte viertes vierten quatrieme quarto cuarto cuarta",
        "four vier quatre cuatro quattro",
    ),
)
ORDINALS: dict[str, str] = {word: number for number, some, _ in _COUNTED for word in some.split()}
NUMBERS: dict[str, str] = {word: number for number, _, some in _COUNTED for word in some.split()}
"""Numbers in words, before and behind what they count."""


def fold(text: str) -> str:
    """Lower case without accents; ß becomes ss."""
    if text.isascii():
        return text.casefold()
    decomposed = unicodedata.normalize("NFKD", text.casefold())
    return "".join(c for c in decomposed if not unicodedata.combining(c))


@lru_cache(maxsize=4096)
def _single(word: str) -> str:
    """The known word that this is, or is a plural or another ending of; '' for none."""
    if word in WORDS:
        return word
    if len(word) < 5:
        return ""
    stems = [word[: -len(e)] for e in ("es", "en", "er", "em", "s", "n", "e") if word.endswith(e)]
    stems += [word[:-1] + e for e in ("o", "e", "a") if word[-1] in "aoei"]
    return next((s for s in stems if len(s) > 3 and s in WORDS and WORDS[s]), "")


@lru_cache(maxsize=4096)
def meanings(word: str) -> tuple[str, ...]:
    """All that a folded word may stand for, the likeliest first; nothing for a word that is not known.

    >>> meanings("cap"), meanings("spannung"), meanings("zorp")
    (('charge', 'track'), ('voltage',), ())
    """
    if word in _SEVERAL:
        return _SEVERAL[word]
    known = _single(word) or abbreviated(word)
    return (WORDS[known],) if known else ()


_ASIDE = frozenset({"", "limit", "worked", "state", "other", "electric", "watts"})
"""Ideas of columns that are kept aside."""


@lru_cache(maxsize=4096)
def cut_short(word: str) -> tuple[str, ...]:
    """Known words that one with a point behind it begins, alone or as the end of a compound; nothing for none.

    >>> cut_short("vites"), cut_short("restkraftst")
    (('vitesse',), ('rest', 'kraftstoff'))
    """
    if WORDS.get(word, "limit") not in _ASIDE - {""} or word in _SEVERAL or word in SHORT_FORMS:
        return ()
    if whole := abbreviated(word, 3) or _filler(word):
        return (whole,)
    if word[-1:] == "t" and WORDS.get(word[:-1]) == "air":
        return (word[:-1], "t")
    for at in range(len(word) - 3, 2, -1):
        tail = abbreviated(word[at:], 3) or _filler(word[at:])
        if tail and (head := next((h for end in ("", "s", "n", "en") if (h := _head(word[:at], end))), ())):
            return (*head, tail)
    return ()


def _head(word: str, joint: str) -> tuple[str, ...]:
    """The known words of a compound's beginning, without what joins it to the rest; nothing for none."""
    if not word.endswith(joint) or len(word) - len(joint) < 3:
        return ()
    found = compound(word.removesuffix(joint) if joint else word) or ()
    return found if all(map(_part, found)) else ()


def _filler(word: str) -> str:
    """The word that adds nothing that one cut short begins, where nothing else begins so: "posit."."""
    whole = [w for w in WORDS if w.startswith(word) and len(w) <= 3 * len(word) + 1] if len(word) > 2 else []
    return min(whole, key=len) if whole and all(WORDS[w] == "" for w in whole) else ""


@lru_cache(maxsize=4096)
def abbreviated(word: str, least: int = 4) -> str:
    """Give the known word that a folded one begins, where all such words mean one thing; else ''.

    ``least``: letters that it must have; three are enough where a point marks it as cut short.

    >>> abbreviated("fluggeschw"), abbreviated("comp")
    ('fluggeschwindigkeit', '')
    """
    if len(word) < least or not word.isalpha() or (least < 4 and WORDS.get(word, "limit") not in _ASIDE - {""}):
        return ""
    begun = _SORTED[bisect_left(_SORTED, word) : bisect_left(_SORTED, word + "{")]  # "{" follows "z"
    whole = [w for w in begun if len(w) <= 3 * len(word) + (least < 4)]
    if least < 4:  # cut short on purpose: what is measured is likelier than what is not
        whole = [w for w in whole if WORDS[w] not in _ASIDE]
    stem = min(whole, key=len, default="")
    alike = len({WORDS[w] for w in whole}) == 1 or (len(word) > 5 and all(w.startswith(stem) for w in whole))
    return stem if stem and alike and WORDS[stem] else ""


@lru_cache(maxsize=4096)
def compound(word: str) -> tuple[str, ...] | None:
    """Take a folded compound apart into known words; None unless every part is known.

    >>> compound("empfangerspannung")
    ('empfanger', 'spannung')
    """
    if word in SHORT_FORMS:
        return SHORT_FORMS[word]
    if word in WORDS:
        return (word,)
    if word in ("ax", "ay", "az"):
        return ("acc", word[1])
    if len(word) > 2 and word[-1] in "uv" and WORDS.get(word[:-1]) in ("pack", "rx", "ecu", "pump", "bus"):
        return (word[:-1], word[-1])  # "rxv"
    if word[0] in "uivt" and WORDS.get(word[1:]) in ("pack", "rx", "ecu", "pump", "egt", "bus"):
        return (word[0], word[1:])  # "ibat", "urx"
    if word[0] == "t" and WORDS.get(word[1:]) == "air":
        return (word[0], word[1:])  # "taussen"
    if word[0] == "a" and WORDS.get(word[1:]) in ("pack", "rx", "ecu"):
        return (word[0], word[1:])  # "arx"
    if word[0] == "v" and WORDS.get(word[1:]) in ("gps", "ground", "air"):
        return (word[0], word[1:])  # "vgps"
    if word.endswith("rx") and WORDS.get(word[:-2]) in ("quality", "failsafe", "rssi"):
        return (word[:-2], "rx")  # "lqrx"
    if word in ("pstat", "pstatic", "pamb"):
        return (word[0], word[1:])
    if word[0] == "p" and WORDS.get(word[1:]) in ("pressure", "air", "altitude"):
        return (word[0], word[1:])  # "pbaro"
    for cut in range(len(word) - 1, 1, -1):
        first = word[:cut]
        if _part(first):
            for skip in ("", "s", "n", "en"):
                rest = word[cut:]
                if rest.startswith(skip) and _part(rest[len(skip) :], last=False):
                    tail = compound(rest[len(skip) :])
                    if tail is not None and all(map(_part, tail)):
                        return (first, *tail)
    return None


def _part(word: str, *, last: bool = True) -> bool:
    """Whether a word may be part of a compound: short words, and those that add nothing, make chance finds."""
    if len(word) < 3:
        return word in _SHORT_PARTS
    return not last or word in _FIRST_PARTS or (word in WORDS and (WORDS[word] != "" or len(word) > 4))
