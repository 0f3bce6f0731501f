"""Ordinary columns in five languages, printed with their truth, and small helpers to write tables."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from datetime import datetime, timedelta

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from tests.importers.strange.truth import Flight, Log, Track
from tests.importers.strange.world import even, fly

# key: channel pattern, unit as printed, decimals, what makes the printed number SI (or the channel's unit)
COLUMNS = {
    "volt": ("pack.rx1.voltage_v|pack.rx.voltage_v|pack.receiver*.voltage_v", "V", 2, 1.0),
    "amp": ("pack.rx1.current_a|pack.rx.current_a|pack.receiver*.current_a", "A", 2, 1.0),
    "charge": ("pack.rx1.used_mah|pack.rx.used_mah|pack.receiver*.used_mah", "mAh", 0, 1.0),
    "rpm": ("engine.*.speed_rpm", "rpm", 0, 1.0),
    "egt": ("engine.*.egt_c", "°C", 0, 1.0),
    "flow": ("fuel.*.flow_ml_per_min", "ml/min", 0, 1.0),
    "left": ("fuel.*.remaining_ml", "ml", 0, 1.0),
    "used": ("fuel.*.used_ml", "ml", 0, 1.0),
    "speed": ("position.ground_speed_m_s", "km/h", 1, 1 / 3.6),
    "alt": ("position.altitude_m|position.height_m", "m", 1, 1.0),
    "lat": ("position.latitude_deg", "°", 6, 1.0),
    "lon": ("position.longitude_deg", "°", 6, 1.0),
    "track": ("position.track_deg", "°", 1, 1.0),
    "rssi": ("link.*.rssi_dbm", "dBm", 0, 1.0),
    "throttle": ("control.throttle_percent|engine.*.throttle_percent", "%", 1, 1.0),
    "roll": ("attitude.roll_deg", "°", 1, 1.0),
}
NAMES = {
    "en": {
        "volt": "RX1 voltage", "amp": "RX1 current", "charge": "RX1 capacity used", "rpm": "Turbine RPM", "egt": "EGT",
        "flow": "Fuel flow", "left": "Fuel remaining", "used": "Fuel used", "speed": "GPS speed", "alt": "GPS altitude",
        "lat": "Latitude", "lon": "Longitude", "track": "Course", "rssi": "RSSI", "throttle": "Throttle",
        "roll": "Roll", "time": "Time", "date": "Date",
    },
    "de": {
        "volt": "RX1 Spannung", "amp": "RX1 Strom", "charge": "RX1 verbrauchte Kapazität", "rpm": "Drehzahl",
        "egt": "Abgastemperatur", "flow": "Kraftstofffluss", "left": "Restkraftstoff", "used": "Kraftstoff verbraucht",
        "speed": "GPS Geschwindigkeit", "alt": "GPS Höhe", "lat": "Breitengrad", "lon": "Längengrad", "track": "Kurs",
        "rssi": "RSSI", "throttle": "Gas", "roll": "Rollwinkel", "time": "Zeit", "date": "Datum",
    },
    "fr": {
        "volt": "Tension RX1", "amp": "Courant RX1", "charge": "Capacité consommée RX1", "rpm": "Régime turbine",
        "egt": "Température échappement", "flow": "Débit carburant", "left": "Carburant restant",
        "used": "Carburant consommé", "speed": "Vitesse GPS", "alt": "Altitude GPS", "lat": "Latitude",
        "lon": "Longitude", "track": "Cap", "rssi": "RSSI", "throttle": "Gaz", "roll": "Roulis",
        "time": "Temps", "date": "Date",
    },
    "es": {
        "volt": "Voltaje RX1", "amp": "Corriente RX1", "charge": "Capacidad consumida RX1", "rpm": "RPM turbina",
        "egt": "Temperatura escape", "flow": "Flujo combustible", "left": "Combustible restante",
        "used": "Combustible consumido", "speed": "Velocidad GPS", "alt": "Altitud GPS", "lat": "Latitud",
        "lon": "Longitud", "track": "Rumbo", "rssi": "RSSI", "throttle": "Acelerador",
        "roll": "Alabeo", "time": "Tiempo", "date": "Fecha",
    },
    "it": {
        "volt": "Tensione RX1", "amp": "Corrente RX1", "charge": "Capacità consumata RX1", "rpm": "Giri turbina",
        "egt": "Temperatura scarico", "flow": "Flusso carburante", "left": "Carburante rimanente",
        "used": "Carburante consumato", "speed": "Velocità GPS", "alt": "Altitudine GPS", "lat": "Latitudine",
        "lon": "Longitudine", "track": "Rotta", "rssi": "RSSI", "throttle": "Gas", "roll": "Rollio", "time": "Tempo",
        "date": "Data",
    },
}  # fmt: skip
RADIO = ("volt", "amp", "rssi", "egt", "rpm", "alt", "speed", "throttle")
PLACE = ("volt", "rssi", "lat", "lon", "alt", "speed")


def number(value: float, decimals: int, comma: bool = False) -> str:
    """A number as printed; no negative nought."""
    text = f"{value:.{decimals}f}"
    text = text.lstrip("-") if float(text) == 0 else text
    return text.replace(".", ",") if comma else text


class Sheet(Struct, frozen=True):
    """A flight printed: headings, cells by row, and the tracks these cells tell; instants from 0."""

    time: np.ndarray
    keys: tuple[str, ...]
    head: tuple[str, ...]
    cells: tuple[tuple[str, ...], ...]
    tracks: tuple[Track, ...]

    def flight(self, tick: float = 0.0006, good: Sequence[bool] | np.ndarray | None = None) -> Flight:
        """The truth, of the good rows only where some are not."""
        if good is None:
            return Flight(self.tracks, tick)
        mask = np.asarray(good, bool)
        return Flight(tuple(replace(t, time_s=t.time_s[mask], values=t.values[mask]) for t in self.tracks), tick)

    def rows(self, *stamps: Sequence[str]) -> list[list[str]]:
        """The rows behind these columns of time."""
        return [[*(s[i] for s in stamps), *cells] for i, cells in enumerate(self.cells)]


def sheet(
    rng: np.random.Generator, keys: Sequence[str] = RADIO, *, lang: str = "en", seconds: float = 180, hz: float = 4,
    time: np.ndarray | None = None, comma: bool = False, mark: str = " (%)",
) -> Sheet:  # fmt: skip
    """One flight printed in ordinary columns; ``mark`` is how a unit stands behind its heading (``%`` is the unit)."""
    instants = even(seconds, hz) if time is None else time
    world = fly(rng, instants)
    head, columns, tracks = [], [], []
    for key in keys:
        channel, unit, decimals, factor = COLUMNS[key]
        printed = [number(v / factor, decimals, comma) for v in world[key]]
        values = np.array([float(p.replace(",", ".")) for p in printed]) * factor
        name = NAMES[lang][key] + (mark.replace("%", unit) if mark else "")
        head.append(name)
        columns.append(printed)
        tracks.append(Track(name, channel, instants - instants[0], values, 0.02 * 10**-decimals * factor + 1e-9))
    cells = tuple(zip(*columns, strict=True))
    return Sheet(instants - instants[0], tuple(keys), tuple(head), cells, tuple(tracks))


def text(head: Sequence[str] | None, rows: Iterable[Sequence[str]], sep: str = ",", end: str = "\n") -> str:
    """A table as text; a cell that holds the separator or a line end is quoted."""

    def cell(word: str) -> str:
        if sep.strip() and (sep in word or "\n" in word or '"' in word):
            return '"' + word.replace('"', '""') + '"'
        return word

    lines = [] if head is None else [sep.join(map(cell, head))]
    return end.join([*lines, *(sep.join(map(cell, r)) for r in rows)]) + end


def log(name: str, body: str | bytes, flight: Flight | Sequence[Flight], **more: object) -> Log:
    """A log of one or more flights."""
    data = body if isinstance(body, bytes) else body.encode()
    flights = (flight,) if isinstance(flight, Flight) else tuple(flight)
    return Log(name, data, flights, **more)  # type: ignore[arg-type]


def moments(start: datetime, time: np.ndarray) -> list[datetime]:
    """Calendar times of instants."""
    return [start + timedelta(microseconds=round(float(t) * 1e6)) for t in time]


def milli(moment: datetime, mark: str = ".") -> str:
    """The milliseconds of a moment, as they are printed behind its second."""
    return f"{mark}{moment.microsecond // 1000:03d}"


def stamps(start: datetime, time: np.ndarray, form: str | Callable[[datetime], str]) -> list[str]:
    """Clock texts by a ``strftime`` form (``%f`` cut to milliseconds) or a function."""
    made = moments(start, time)
    if callable(form):
        return [form(m) for m in made]
    return [m.strftime(form.replace("%f", f"{m.microsecond // 1000:03d}")) for m in made]


def delayed(rng: np.random.Generator, rows: list[list[str]], share: float, by: tuple[int, int]) -> list[list[str]]:
    """Rows, some of which come a few places later than they were sent."""
    keys = np.arange(len(rows), dtype=float)
    late = rng.random(len(rows)) < share
    late[:3] = False
    keys[late] += rng.integers(by[0], by[1] + 1, int(late.sum())) + 0.5
    return [rows[i] for i in np.argsort(keys, kind="stable")]
