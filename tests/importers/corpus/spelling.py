"""One known telemetry table, written in any dialect: the table is invented, every digit of it is known."""

from __future__ import annotations

import gzip
import io
import zipfile
from datetime import UTC, datetime, timedelta
from decimal import Decimal

from msgspec import Struct

ROWS = 48
STEP_MS = 250
START = datetime(2024, 5, 4, 23, 59, 54, tzinfo=UTC)
"""Six seconds before midnight, on a day that is also a month."""

# channel: one written value a row ('' where the sensor was silent)
TRUTH: dict[str, list[str]] = {
    "link.rx1.antenna2_rssi_dbm": [str(-60 - i * 7 % 31) for i in range(ROWS)],
    "pack.rx1.voltage_v": [f"{Decimal(8124 - i * 3) / 1000:.3f}" for i in range(ROWS)],
    "engine.left.egt_c": [f"{Decimal(4987 + i * 13) / 10:.1f}" for i in range(ROWS)],
    "engine.left.speed_rpm": [str(33_000 + i * 1567) for i in range(ROWS)],
    "fuel.main.remaining_ml": [str(2950 - i * 5) if i % 6 == 0 else "" for i in range(ROWS)],
    "control.gear": [str(int(i > 30)) for i in range(ROWS)],
    "position.latitude_deg": [f"{Decimal(511234567 + i * 11) / 10**7:.7f}" for i in range(ROWS)],
    "extra.remark": ["idle" if i < 20 else "full, hot" for i in range(ROWS)],
}
TIMES = [i * STEP_MS / 1000 for i in range(ROWS)]
UNITS = {
    "link.rx1.antenna2_rssi_dbm": "dBm",
    "pack.rx1.voltage_v": "V",
    "engine.left.egt_c": "°C",
    "engine.left.speed_rpm": "rpm",
    "fuel.main.remaining_ml": "mL",
    "position.latitude_deg": "°",
}
HEADINGS: dict[str, dict[str, str]] = {
    "english": {
        "link.rx1.antenna2_rssi_dbm": "Rx1 Antenna 2 RSSI (dBm)",
        "pack.rx1.voltage_v": "Rx1 Battery Voltage (V)",
        "engine.left.egt_c": "EGT left (°C)",
        "engine.left.speed_rpm": "Left engine speed (rpm)",
        "fuel.main.remaining_ml": "Fuel (mL)",
        "control.gear": "Gear",
        "position.latitude_deg": "Latitude (°)",
        "extra.remark": "Remark",
    },
    "snake": {
        "link.rx1.antenna2_rssi_dbm": "rx1_ant2_rssi_dBm",
        "pack.rx1.voltage_v": "rx1_batt_mV",
        "engine.left.egt_c": "egt_left_degC",
        "engine.left.speed_rpm": "rpm_left",
        "fuel.main.remaining_ml": "fuel_mL",
        "control.gear": "gear",
        "position.latitude_deg": "latitude_deg",
        "extra.remark": "remark",
    },
    "german": {
        "link.rx1.antenna2_rssi_dbm": "Rx1 Antenne 2 Feldstärke [dBm]",
        "pack.rx1.voltage_v": "Rx1 Akku Spannung [V]",
        "engine.left.egt_c": "Abgastemperatur links [°C]",
        "engine.left.speed_rpm": "Drehzahl links [U/min]",
        "fuel.main.remaining_ml": "Kraftstoff [ml]",
        "control.gear": "Fahrwerk",
        "position.latitude_deg": "Breitengrad [°]",
        "extra.remark": "Remark",
    },
    "french": {
        "link.rx1.antenna2_rssi_dbm": "Rx1 antenne 2 puissance (dBm)",
        "pack.rx1.voltage_v": "Tension batterie Rx1 (V)",
        "engine.left.egt_c": "Température échappement gauche (°C)",
        "engine.left.speed_rpm": "Régime gauche (tr/min)",
        "fuel.main.remaining_ml": "Carburant restant (ml)",
        "control.gear": "Train",
        "position.latitude_deg": "Latitude (°)",
        "extra.remark": "Remark",
    },
    "spanish": {
        "link.rx1.antenna2_rssi_dbm": "Rx1 antena 2 señal (dBm)",
        "pack.rx1.voltage_v": "Voltaje batería Rx1 (V)",
        "engine.left.egt_c": "Temperatura escape izquierda (°C)",
        "engine.left.speed_rpm": "Revoluciones izquierda (rpm)",
        "fuel.main.remaining_ml": "Combustible (ml)",
        "control.gear": "Tren",
        "position.latitude_deg": "Latitud (°)",
        "extra.remark": "Remark",
    },
    "bare": {  # for a unit row
        "link.rx1.antenna2_rssi_dbm": "Rx1 Antenna 2 RSSI",
        "pack.rx1.voltage_v": "Rx1 Battery Voltage",
        "engine.left.egt_c": "EGT left",
        "engine.left.speed_rpm": "RPM left",
        "fuel.main.remaining_ml": "Fuel",
        "control.gear": "Gear",
        "position.latitude_deg": "Latitude",
        "extra.remark": "Remark",
    },
}
# clock: (headings with unit, whether the start is known in UTC, answers where the file leaves it open)
CLOCKS: dict[str, tuple[tuple[str, ...], bool, dict[str, str]]] = {
    "seconds": (("Time (s)",), False, {}),
    "milliseconds": (("Elapsed [ms]",), False, {}),
    "microseconds": (("time_us",), False, {}),
    "ticks, no unit": (("Time",), False, {"time_unit": "ms"}),
    "16-bit ms": (("tick (ms)",), False, {}),
    "32-bit us": (("micros",), False, {}),
    "clock": (("Time",), False, {}),
    "clock, comma": (("Uhrzeit",), False, {}),
    "clock, am and pm": (("Time",), False, {}),
    "whole seconds": (("Time",), False, {}),
    "ISO, Z": (("Timestamp",), True, {}),
    "ISO, offset": (("Timestamp",), True, {}),
    "ISO, no zone": (("Timestamp",), False, {}),
    "epoch s": (("Timestamp",), True, {}),
    "epoch ms": (("Timestamp",), True, {}),
    "epoch us": (("Timestamp",), True, {}),
    "date and time, dots": (("Datum", "Zeit"), False, {}),
    "date and time, slashes": (("Date", "Time"), False, {"date_order": "month-first"}),
    "date and time in UTC": (("Date", "UTC time"), True, {}),
}
PREAMBLES: dict[str, list[str]] = {
    "none": [],
    "comments": ["# aircraft: Tern", "# logger: bench unit 3"],
    "keys": ["aircraft: Tern", "logger: bench unit 3", ""],
    "slashes": ["// aircraft = Tern"],
    "prose": ["Telemetry of the third flight", ""],
}


class Spelling(Struct, frozen=True):
    """How to write the table."""

    encoding: str = "utf-8"
    delimiter: str = ","
    decimal: str = "."
    thousands: str = ""
    clock: str = "seconds"
    headings: str = "english"
    unit_row: bool = False
    preamble: str = "none"
    line_end: str = "\n"
    long: bool = False
    blank: str = ""
    quoted: bool = False
    trailing: bool = False
    repeat_header: int = 0
    comment_every: int = 0
    nul_every: int = 0
    cut: int = 0
    """Bytes of the last line left out."""
    ended: bool = True
    """Whether the last line has its line end."""
    pack: str = ""
    stamp_decimals: int = 3


def clock_cells(form: str, decimal: str) -> list[tuple[str, ...]]:
    """The time of each row as written."""
    out: list[tuple[str, ...]] = []
    for i in range(ROWS):
        ms = i * STEP_MS
        now = START + timedelta(milliseconds=ms)
        hms, fraction = now.strftime("%H:%M:%S"), f"{now.microsecond // 1000:03d}"
        epoch_ms = int(START.timestamp()) * 1000 + ms
        out.append(
            {
                "seconds": (f"{Decimal(ms) / 1000:.2f}".replace(".", decimal),),
                "milliseconds": (str(ms),),
                "microseconds": (str(ms * 1000),),
                "ticks, no unit": (str(ms),),
                "16-bit ms": (str((60_000 + ms) % 2**16),),
                "32-bit us": (str((2**32 - 5_000_000 + ms * 1000) % 2**32),),
                "clock": (f"{hms}.{fraction}",),
                "clock, comma": (f"{hms},{fraction}",),
                "clock, am and pm": (f"{now.strftime('%I:%M:%S')}.{fraction} {now.strftime('%p')}",),
                "whole seconds": (hms,),
                "ISO, Z": (f"{now.strftime('%Y-%m-%dT')}{hms}.{fraction}Z",),
                "ISO, offset": ((now + timedelta(hours=2)).strftime("%Y-%m-%dT%H:%M:%S.") + fraction + "+02:00",),
                "ISO, no zone": (f"{now.strftime('%Y-%m-%d')} {hms}.{fraction}",),
                "epoch s": (f"{Decimal(epoch_ms) / 1000:.3f}".replace(".", decimal),),
                "epoch ms": (str(epoch_ms),),
                "epoch us": (str(epoch_ms * 1000),),
                "date and time, dots": (now.strftime("%d.%m.%Y"), f"{hms}.{fraction}"),
                "date and time, slashes": (now.strftime("%m/%d/%Y"), f"{hms}.{fraction}"),
                "date and time in UTC": (now.strftime("%Y-%m-%d"), f"{hms}.{fraction}"),
            }[form]
        )
    return out


def _number(text: str, spelling: Spelling, channel: str) -> str:
    if not text or channel in ("extra.remark", "control.gear"):
        return text or spelling.blank
    if spelling.headings == "snake" and channel == "pack.rx1.voltage_v":
        text = str(int(Decimal(text) * 1000))
    whole, _, fraction = text.partition(".")
    if spelling.thousands and len(whole.lstrip("-")) > 3:
        whole = f"{int(whole):,}".replace(",", spelling.thousands)
    return whole + (spelling.decimal + fraction if fraction else "")


def unit(spelling: Spelling, channel: str) -> str:
    """The unit a channel is written in."""
    milli = spelling.headings == "snake" and channel == "pack.rx1.voltage_v"
    return "mV" if milli else UNITS.get(channel, "")


def lines(spelling: Spelling) -> tuple[list[str], int]:
    """The text, line by line, and the 1-based number of the header line."""

    def join(cells: list[str]) -> str:
        if spelling.delimiter == " ":
            text = "  ".join((c or "-").replace(", ", "_") for c in cells)
        else:
            quote = spelling.quoted
            text = spelling.delimiter.join(f'"{c}"' if quote or spelling.delimiter in c else c for c in cells)
        return text + (spelling.delimiter if spelling.trailing else "")

    clock = list(CLOCKS[spelling.clock][0])
    names = HEADINGS[spelling.headings]
    times = clock_cells(spelling.clock, spelling.decimal)
    if spelling.delimiter == " ":
        clock, names = [c.replace(" ", "_") for c in clock], {k: v.replace(" ", "_") for k, v in names.items()}
        times = [tuple(c.replace(" ", "T") if spelling.clock.startswith("ISO") else c.replace(" ", "") for c in t)
                 for t in times]  # fmt: skip
    rows: list[list[str]] = []
    if spelling.long:
        header = [*clock, "Sensor", "Value", *(["Unit"] if spelling.unit_row else [])]
        for i in range(ROWS):
            for channel, values in TRUTH.items():
                if values[i] and channel != "extra.remark":
                    row = [*times[i], names[channel], _number(values[i], spelling, channel)]
                    rows.append([*row, unit(spelling, channel)] if spelling.unit_row else row)
    else:
        header = [*clock, *(names[c] for c in TRUTH)]
        rows = [[*times[i], *(_number(v[i], spelling, c) for c, v in TRUTH.items())] for i in range(ROWS)]
    out = list(PREAMBLES[spelling.preamble])
    out.append(join(header))
    at = len(out)
    if spelling.unit_row and not spelling.long:
        bare = {"Time (s)": "s", "Elapsed [ms]": "ms", "time_us": "us", "tick (ms)": "ms", "micros": "us"}
        out.append(join([*(bare.get(c, "") for c in clock), *(unit(spelling, c) for c in TRUTH)]))
    for n, row in enumerate(rows):
        if spelling.repeat_header and n and n % spelling.repeat_header == 0:
            out.append(join(header))
        if spelling.comment_every and n and n % spelling.comment_every == 0:
            out.append("# a remark in between, of no consequence")
        out.append(join(row))
    return out, at


def render(spelling: Spelling) -> bytes:
    """The file."""
    text = spelling.line_end.join(lines(spelling)[0])
    if spelling.cut:
        text = text[: -spelling.cut]
    elif spelling.ended:
        text += spelling.line_end
    if spelling.nul_every:
        parts = text.split(spelling.line_end)
        text = spelling.line_end.join("\0" + p if n % spelling.nul_every == 5 else p for n, p in enumerate(parts))
    return pack(text.encode(spelling.encoding), spelling.pack)


def pack(data: bytes, how: str) -> bytes:
    """Bytes, compressed."""
    if how == "gz":
        return gzip.compress(data, mtime=0)
    if how == "zip":
        out = io.BytesIO()
        with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
            archive.writestr("log.csv", data)
        return out.getvalue()
    if how == "zst":
        import pyarrow as pa

        return bytes(pa.compress(data, codec="zstd", asbytes=True))
    if how == "bz2":
        import bz2

        return bz2.compress(data)
    if how == "xz":
        import lzma

        return lzma.compress(data)
    return data


def expected(spelling: Spelling) -> dict[str, list[float | bool | str | None]]:
    """The table as it must come back: ``time_s`` and one list a channel."""
    n = ROWS - 1 if spelling.cut else ROWS
    out: dict[str, list[float | bool | str | None]] = {"time_s": list(TIMES[:n])}
    for channel, values in TRUTH.items():
        if channel == "extra.remark":
            if not spelling.long:
                blank = spelling.delimiter == " "
                out[channel] = [v.replace(", ", "_") if blank else v for v in values[:n]]
        elif channel == "control.gear":
            out[channel] = [v == "1" for v in values[:n]]
        else:
            out[channel] = [float(v) if v else None for v in values[:n]]
    return out
