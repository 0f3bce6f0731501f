"""The invented flight every log of this pool tells of, and the truth that is kept of it.

Signals are sums of sines that no code of the importer knows. Fuel used rises strictly from row to row, so that its
value tells which instant a row belongs to, whatever became of its clock.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime

import numpy as np
import numpy.typing as npt
from msgspec import Struct, field

Array = npt.NDArray[np.float64]

USED, RPM, EGT, VOLT, RSSI = (
    "fuel.*.used_ml",
    "engine.*.speed_rpm",
    "engine.*.egt_c",
    "pack.*.voltage_v",
    "link.*.rssi_dbm",
)
LAT, LON, ALT = "position.latitude_deg", "position.longitude_deg", "position.altitude_m"
DECIMALS = {USED: 2, RPM: 0, EGT: 0, VOLT: 2, RSSI: 0, LAT: 6, LON: 6, ALT: 1}


def signals(at: Array, shift: float = 0.0) -> dict[str, Array]:
    """Every quantity at the instants ``at`` (s), rounded as a log writes it."""
    s = at + shift
    raw = {
        USED: 12.0 + 5.2 * at + 9.0 * np.sin(at / 7.0) / 7.0 * 3.0,
        RPM: 82_000 + 21_000 * np.sin(s / 6.1) + 7_000 * np.sin(s / 1.9),
        EGT: 585 + 62 * np.sin(s / 6.1 - 0.4) + 9 * np.sin(s / 2.3),
        VOLT: 8.21 - 0.0011 * at + 0.06 * np.sin(s / 3.7) + 0.03 * np.sin(s / 0.9),
        RSSI: -63 + 13 * np.sin(s / 5.3) + 5 * np.sin(s / 1.3),
        LAT: 48.123400 + 0.0016 * np.sin(s / 9.0),
        LON: 11.456700 + 0.0023 * np.cos(s / 9.0),
        ALT: 562.0 + 48 * np.sin(s / 11.0),
    }
    return {name: np.round(values, DECIMALS[name]) for name, values in raw.items()}


def cells(values: Array, decimals: int, comma: bool = False) -> list[str]:
    """Numbers as a log writes them."""
    texts = [f"{value:.{decimals}f}" for value in values.tolist()]
    return [text.replace(".", ",") for text in texts] if comma else texts


WORDS: dict[str, dict[str, str]] = {
    "en": {
        USED: "Fuel used (ml)",
        RPM: "Shaft speed (rpm)",
        EGT: "EGT (°C)",
        VOLT: "Rx battery voltage (V)",
        RSSI: "RSSI (dBm)",
        LAT: "Latitude",
        LON: "Longitude",
        ALT: "GPS altitude (m)",
    },
    "de": {
        USED: "Kraftstoff verbraucht (ml)",
        RPM: "Drehzahl (1/min)",
        EGT: "Abgastemperatur (°C)",
        VOLT: "Empfängerakku Spannung (V)",
        RSSI: "RSSI (dBm)",
        LAT: "Breitengrad",
        LON: "Längengrad",
        ALT: "GPS-Höhe (m)",
    },
    "fr": {
        USED: "Carburant consommé (ml)",
        RPM: "Régime turbine (tr/min)",
        EGT: "Température échappement (°C)",
        VOLT: "Tension accu récepteur (V)",
        RSSI: "RSSI (dBm)",
        LAT: "Latitude",
        LON: "Longitude",
        ALT: "Altitude GPS (m)",
    },
    "es": {
        USED: "Combustible consumido (ml)",
        RPM: "Régimen turbina (rpm)",
        EGT: "Temperatura escape (°C)",
        VOLT: "Tensión batería receptor (V)",
        RSSI: "RSSI (dBm)",
        LAT: "Latitud",
        LON: "Longitud",
        ALT: "Altitud GPS (m)",
    },
    "it": {
        USED: "Carburante consumato (ml)",
        RPM: "Giri turbina (giri/min)",
        EGT: "Temperatura scarico (°C)",
        VOLT: "Tensione batteria ricevitore (V)",
        RSSI: "RSSI (dBm)",
        LAT: "Latitudine",
        LON: "Longitudine",
        ALT: "Quota GPS (m)",
    },
}
"""Plain headings: this pool is about clocks and shapes, not about words."""

USUAL = (USED, RPM, EGT, VOLT)


class Truth(Struct, frozen=True):
    """One flight: when its good samples were taken (s), and what stood there (NaN where the log has no cell)."""

    at: Array
    columns: Mapping[str, Array]


class Log(Struct, frozen=True):
    """A log and what is true of it.

    ``start`` is the clock's reading at the first good sample (its own zone, told by ``zone``); ``within`` how far (s)
    an instant may be off, by the clock's own resolution; ``open_to`` what else than reading it is right: ``"ask"``,
    ``"refuse"``; ``or_else`` further readings that are as good.
    """

    name: str
    data: bytes
    flights: Sequence[Truth]
    start: datetime | None = None
    zone: str = "UTC"
    within: float = 0.02
    open_to: frozenset[str] = frozenset()
    or_else: Sequence[Sequence[Truth]] = ()
    skip: int = 0


class Sheet(Struct):
    """A table under way: headings, rows of cells, and how to write them down."""

    headings: list[str]
    rows: list[list[str]]
    mark: str = ","
    above: list[str] = field(default_factory=list)
    below: list[str] = field(default_factory=list)
    end: str = "\n"
    encoding: str = "utf-8"
    quoted: bool = False

    def line(self, row: Sequence[str]) -> str:
        """One row, quoted where its cells need it."""
        if self.quoted:
            return self.mark.join('"' + cell.replace('"', '""') + '"' for cell in row)
        return self.mark.join(
            '"' + cell.replace('"', '""') + '"' if self.mark in cell or '"' in cell else cell for cell in row
        )

    def text(self) -> str:
        """The whole log."""
        lines = [*self.above]
        if self.headings:
            lines.append(self.line(self.headings))
        lines += [self.line(row) for row in self.rows]
        return self.end.join([*lines, *self.below]) + self.end

    def bytes(self) -> bytes:
        """The whole log in its encoding."""
        return self.text().encode(self.encoding)


def body(
    at: Array, language: str = "en", names: Sequence[str] = USUAL, comma: bool = False, shift: float = 0.0
) -> tuple[list[str], list[list[str]], Truth]:
    """Headings, columns of cells and truth of a flight at the instants ``at``."""
    found = signals(at, shift)
    headings = [WORDS[language][name] for name in names]
    columns = [cells(found[name], DECIMALS[name], comma) for name in names]
    return headings, columns, Truth(at - at[0], {name: found[name] for name in names})


def across(*columns: Sequence[str]) -> list[list[str]]:
    """Columns to rows."""
    return [list(row) for row in zip(*columns, strict=True)]


def steady(seconds: float, rate: float) -> Array:
    """Instants at a steady rate (Hz)."""
    return np.arange(int(seconds * rate)) / rate
