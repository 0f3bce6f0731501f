"""The words of column headings, in English, German, French and Spanish, and the ideas they stand for.

A heading is taken apart into words; accents and case do not matter, and compounds come apart where all their parts
are known ("Empfängerspannung", "rxbatt"). Each idea is a plain name that :mod:`importers.meaning.columns` reasons with.
"""

from __future__ import annotations

import unicodedata
from functools import lru_cache

_IDEAS: dict[str, str] = {
    # What is measured
    "voltage": "voltage volt volts u spannung tension voltaje voltagem tensao ubat vbat vbatt",
    "current": "current amp amps ampere amperage strom courant corriente intensite intensidad stromaufnahme",
    "charge": "charge capacity capacite capacidad kapazitat ladung carga consumption mah",
    "used": "used consumed verbraucht verbrauchte verbrauchter verbrauch consomme consommee consommation consumido consumida consumo usado usada "  # noqa: E501
    "usage entnommen drawn spent burned burnt",
    "remaining": "remaining remain rest restmenge restant restante reste residual resto verbleibend level fullstand "
    "niveau nivel inhalt quantity menge quantite cantidad verbleibende",
    "flow": "flow durchfluss debit caudal flujo fluss burn rate",
    "temperature": "temperature temp temperatur temperatura",
    "egt": "egt exhaust abgas abgastemperatur agt tgt escape echappement tge egttemp",
    "rpm": "rpm drehzahl n1 regime revs revolutions umdrehungen revoluciones tours shaft spool wellendrehzahl vueltas",
    "cell": "cell cells zelle zellen cellule element celda celula",
    "rssi": "rssi signal strength feldstarke signalstarke senal reception empfang puissance potencia intensidadsenal "
    "rss field sig",
    "quality": "quality qualitat qualite calidad lq",
    "lost": "lost verlorene verlorener verlorenen loss losses missed dropped fades drops verloren verlust verluste perdu perdus perdue perdues perte pertes "  # noqa: E501
    "perdido perdidos perdida perdidas errors error fehler holds hold",
    "frame": "frame frames rahmen packet packets paket pakete trame trames trama tramas paquet paquets paquete paquetes",  # noqa: E501
    "failsafe": "failsafe fs securite",
    "latitude": "latitude lat breite breitengrad latitud",
    "longitude": "longitude lon long lng lange langengrad longitud",
    "altitude": "altitude alt hohe altitud altura hauteur msl",
    "height": "height agl",
    "above": "above over uber rel relative relativ relativa",
    "speed": "speed geschwindigkeit vitesse velocidad velocity vel spd",
    "airspeed": "airspeed ias tas staudruck fahrt anemometre",
    "ground": "ground grund sol suelo gs groundspeed",
    "track": "track course kurs cap rumbo cog route trajectoire",
    "satellites": "satellites sats sat satelliten satelites numsats satellite svs",
    "roll": "roll querneigung bank rollwinkel roulis alabeo rollen",
    "pitch": "pitch langsneigung nick tangage cabeceo nickwinkel",
    "heading": "heading yaw hdg gier lacet guinada azimuth steuerkurs compass kompass",
    "angle": "angle winkel angulo",
    "vario": "vario climb steigen steigrate variometer verticalspeed vsi vspeed roc sinken variometre",
    "vertical": "vertical vertikal verticale",
    "accel": "accel acceleration beschleunigung aceleracion acc acceleration",
    "x": "x longitudinal forward",
    "y": "y lateral",
    "z": "z normal",
    "pressure": "pressure druck luftdruck pression presion press baro barometric barometrisch barometrique",
    "throttle": "throttle gas gasstellung gaz manette acelerador thr leistung power gashebel gasknuppel",
    "aileron": "aileron ailerons ail querruder aileronstick aleron alerones",
    "elevator": "elevator ele elev hohenruder profondeur elevador profundidad",
    "rudder": "rudder rud seitenruder derive direction timon direccion gouverne",
    "flap": "flap flaps klappe klappen landeklappen volet volets",
    "brake": "brake brakes bremse bremsen frein freins freno frenos",
    "gear": "gear train fahrwerk undercarriage retract retracts tren traingear einziehfahrwerk landinggear",
    "airbrake": "airbrake speedbrake speedbrakes spoiler spoilers storklappe aerofreno",
    # What it belongs to
    "pack": "pack battery batt bat akku batterie bateria accu accus lipo batterij stromversorgung accumulateur",
    "bus": "bus rail",
    "rx": "rx receiver empfanger recepteur receptor rcvr",
    "antenna": "antenna ant antenne antena aerial",
    "fuel": "fuel kraftstoff sprit treibstoff carburant combustible kerosin kerosene",
    "tank": "tank reservoir deposito hopper",
    "engine": "engine turbine motor moteur triebwerk reacteur turbina reactor",
    "ecu": "ecu",
    "pump": "pump pumpe pompe bomba pmp",
    "link": "link funk funkstrecke liaison enlace radio verbindung telemetry telemetrie",
    "downlink": "downlink ruckkanal",
    "air": "air luft aire ambient outside umgebung aussen exterieur oat",
    "gps": "gps gnss",
    # Which one
    "left": "left links linke linkes linker gauche izquierda izquierdo port lh",
    "right": "right rechts rechte rechtes rechter droite droit derecha derecho starboard rh",
    "main": "main haupt principal principale",
    # When
    "time": "time zeit uhrzeit temps heure tiempo hora timestamp zeitstempel horodatage clock uhr timecode laufzeit",
    "date": "date datum fecha day tag jour",
    "elapsed": "elapsed since seit depuis ecoule transcurrido uptime",
    "tick": "tick ticks millis micros counter zahler",
    "utc": "utc gmt zulu",
    # Long shape
    "sensor": "sensor channel kanal capteur sensorname parameter parametre parametro variable signalname sensors canal "
    "measurement messgrosse item",
    "name": "name nom nombre label id bezeichnung",
    "value": "value wert valeur valor reading messwert",
    "unit": "unit units einheit unite unidad",
    # Words that add nothing
    "": "of the in de du des la le les el los der die das im von per and to at total now actual aktuell ist current_value "  # noqa: E501
    "measured gemessen stick position pos output out state status zustand etat estado cmd command l_ en por avg mean "
    "down extended ausgefahren sorti extendido percentage prozentsatz number nr no num count anzahl nombre_de numero cantidad_de set",  # noqa: E501
}  # fmt: skip

WORDS: dict[str, str] = {word: idea for idea, words in _IDEAS.items() for word in words.split()}
"""Folded word → idea."""


def fold(text: str) -> str:
    """Lower case without accents; ß becomes ss."""
    decomposed = unicodedata.normalize("NFKD", text.casefold())
    return "".join(c for c in decomposed if not unicodedata.combining(c))


@lru_cache(maxsize=4096)
def compound(word: str) -> tuple[str, ...] | None:
    """Take a folded compound apart into known words; None unless every part is known.

    >>> compound("empfangerspannung")
    ('empfanger', 'spannung')
    """
    if word in WORDS:
        return (word,)
    for cut in range(len(word) - 1, 1, -1):
        first = word[:cut]
        if first in WORDS and len(first) >= 2:
            for skip in ("", "s", "n", "en"):
                rest = word[cut:]
                if rest.startswith(skip) and len(rest) - len(skip) >= 2:
                    tail = compound(rest[len(skip) :])
                    if tail is not None:
                        return (first, *tail)
    return None
