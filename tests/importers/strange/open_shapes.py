"""Strange shapes of the first hand: somebody who watches radio packets on a field in five languages."""

from __future__ import annotations

from datetime import datetime

import numpy as np
from msgspec.structs import replace

from tests.importers.strange.truth import Flight, Log, Track
from tests.importers.strange.world import even, fly
from tests.importers.strange.writing import PLACE, Sheet, log, number, sheet, stamps, text

START = datetime(2026, 6, 15, 14, 3, 11)


def _s(s: Sheet, comma: bool = False) -> list[str]:
    return [number(t, 2, comma) for t in s.time]


def _with(
    s: Sheet,
    column: int,
    *,
    channel: str | None = None,
    values: np.ndarray | None = None,
    within: float | None = None,
    good: np.ndarray | None = None,
) -> Flight:
    """The truth with one column's changed."""
    tracks = list(s.tracks)
    t = tracks[column]
    values = t.values if values is None else values
    mask = np.ones(values.size, bool) if good is None else good
    tracks[column] = Track(
        t.heading,
        t.channel if channel is None else channel,
        t.time_s[mask],
        values[mask],
        t.within if within is None else within,
    )
    return Flight(tuple(tracks))


def long_time_sensor_value(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2)
    rows = [[_s(s)[i], h, c] for i, row in enumerate(s.cells) for h, c in zip(s.head, row, strict=True)]
    return log("", text(("Time (s)", "Sensor", "Value"), rows), s.flight())


def long_with_units_apart(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2, mark="", lang="de", comma=True)
    unit = [("V"), ("A"), ("dBm"), ("°C"), ("1/min"), ("m"), ("km/h"), ("%")]
    rows = [
        [_s(s, True)[i], h, c, u] for i, row in enumerate(s.cells) for h, c, u in zip(s.head, row, unit, strict=True)
    ]
    return log("", text(("Zeit (s)", "Sensor", "Wert", "Einheit"), rows, ";"), s.flight())


def long_value_first(rng: np.random.Generator) -> Log:
    """Value, unit, name, time: another order, bars between."""
    s = sheet(rng, hz=2, mark="")
    unit = ["V", "A", "dBm", "°C", "rpm", "m", "km/h", "%"]
    clock = stamps(START, s.time, "%H:%M:%S.%f")
    rows = [[c, u, h, clock[i]] for i, row in enumerate(s.cells) for h, c, u in zip(s.head, row, unit, strict=True)]
    return log("", text(("reading", "unit", "name", "at"), rows, "|"), s.flight())


def long_with_unit_in_the_cell(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2, mark="")
    unit = ["V", "A", "dBm", "°C", "rpm", "m", "km/h", "%"]
    rows = [
        [_s(s)[i], h, f"{c} {u}"] for i, row in enumerate(s.cells) for h, c, u in zip(s.head, row, unit, strict=True)
    ]
    return log("", text(("t [s]", "channel", "value"), rows), s.flight())


def long_two_key_columns(rng: np.random.Generator) -> Log:
    """Device and quantity stand in two columns."""
    s = sheet(rng, ("volt", "amp", "egt", "rpm"), hz=2, mark="")
    keys = [("RX1", "Voltage", "V"), ("RX1", "Current", "A"), ("Turbine", "EGT", "°C"), ("Turbine", "Speed", "rpm")]
    rows = [[_s(s)[i], *k[:2], c, k[2]] for i, row in enumerate(s.cells) for k, c in zip(keys, row, strict=True)]
    return log(
        "", text(("Time (s)", "Device", "Quantity", "Value", "Unit"), rows), s.flight(), refusable=True, fair=("*",)
    )


def long_in_blocks(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2)
    rows = [[_s(s)[i], h, row[c]] for c, h in enumerate(s.head) for i, row in enumerate(s.cells)]
    return log("", text(("Time (s)", "Sensor", "Value"), rows), s.flight())


def long_in_blocks_with_titles(rng: np.random.Generator) -> Log:
    """One block a sensor, its name alone on a line above its rows."""
    s = sheet(rng, hz=2)
    body = "".join(
        f"[{h}]\ntime_s,value\n" + text(None, ([_s(s)[i], r[c]] for i, r in enumerate(s.cells)))
        for c, h in enumerate(s.head)
    )
    return log("", body, s.flight(), refusable=True)


def wide_with_status_text(rng: np.random.Generator) -> Log:
    s = sheet(rng, ("volt",), hz=2)
    state = np.where(s.time < 20, "ready", np.where(s.time < 160, "running", "cooling"))
    return log("", text(("Time (s)", "Status", *s.head), s.rows(_s(s), list(state))), s.flight())


def wide_two_sensors_status_last(rng: np.random.Generator) -> Log:
    s = sheet(rng, ("egt", "rpm"), hz=2, lang="de")
    state = np.where(s.time < 20, "Start", np.where(s.time < 160, "Lauf", "Nachkühlen"))
    rows = [[*r, str(t)] for r, t in zip(s.rows(_s(s)), state, strict=True)]
    return log("", text(("Zeit (s)", *s.head, "Zustand"), rows, ";"), s.flight())


def wide_with_messages(rng: np.random.Generator) -> Log:
    """A text column that is mostly empty, with commas in its texts."""
    s = sheet(rng, ("volt", "rssi"), hz=2)
    said = [
        "" if rng.random() < 0.95 else rng.choice(["gear down, locked", 'pilot said "go"', "low fuel"]) for _ in s.time
    ]
    rows = [[*r, str(t)] for r, t in zip(s.rows(_s(s)), said, strict=True)]
    return log("", text(("Time (s)", *s.head, "Message"), rows), s.flight())


def dotted_headings(rng: np.random.Generator) -> Log:
    s = sheet(rng, ("volt", "amp", "egt", "rpm", "lat", "lon", "speed"), hz=2)
    head = (
        "rx1.voltage.V",
        "rx1.current.A",
        "turbine.egt.degC",
        "turbine.rpm",
        "gps.latitude",
        "gps.longitude",
        "gps.speed.kmh",
    )
    return log("", text(("log.time.s", *head), s.rows(_s(s))), s.flight())


def bracketed_headings(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2, mark="[%]")
    return log("", text(("Time[s]", *s.head), s.rows(_s(s))), s.flight())


def braces_and_at(rng: np.random.Generator) -> Log:
    s = sheet(rng, ("volt", "amp", "egt", "rpm"), hz=2)
    head = ("RX1/Voltage{V}", "RX1/Current{A}", "Turbine/EGT{°C}", "Turbine/RPM{1/min}")
    return log("", text(("Time{s}", *head), s.rows(_s(s))), s.flight())


def two_rows_group_above(rng: np.random.Generator) -> Log:
    s = sheet(rng, ("volt", "amp", "egt", "rpm", "lat", "lon"), hz=2)
    body = "Log,RX1,RX1,Turbine,Turbine,GPS,GPS\nTime (s),Voltage (V),Current (A),EGT (°C),RPM,Latitude,Longitude\n"
    return log("", body + text(None, s.rows(_s(s))), s.flight())


def two_rows_group_once(rng: np.random.Generator) -> Log:
    """The group's name stands above its first column only, as merged cells are saved."""
    s = sheet(rng, ("volt", "amp", "egt", "rpm", "lat", "lon"), hz=2)
    body = ",RX1,,Turbine,,GPS,\nTime (s),Voltage (V),Current (A),EGT (°C),RPM,Latitude,Longitude\n"
    return log("", body + text(None, s.rows(_s(s))), s.flight(), refusable=True)


def three_rows_name_unit_id(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2, mark="")
    unit = ["s", "V", "A", "dBm", "°C", "rpm", "m", "km/h", "%"]
    ids = ["", "0x11", "0x12", "0x30", "0x41", "0x42", "0x51", "0x52", "0x60"]
    body = text(("Time", *s.head), [unit, ids]) + text(None, s.rows(_s(s)))
    return log("", body, s.flight())


def three_rows_id_name_unit(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2, mark="")
    unit = ["s", "V", "A", "dBm", "°C", "rpm", "m", "km/h", "%"]
    body = text([f"CH{i:02d}" for i in range(9)], [("Time", *s.head), unit]) + text(None, s.rows(_s(s)))
    return log("", body, s.flight())


def units_row_bracketed(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2, mark="", lang="es")
    unit = ["(s)", "(V)", "(A)", "(dBm)", "(°C)", "(rpm)", "(m)", "(km/h)", "(%)"]
    return log("", text(("Tiempo", *s.head), [unit]) + text(None, s.rows(_s(s))), s.flight())


def units_row_with_gaps(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2, mark="", lang="it")
    unit = ["s", "V", "A", "dBm", "°C", "", "m", "km/h", "%"]
    return log("", text(("Tempo", *s.head), [unit], ";") + text(None, s.rows(_s(s)), ";"), s.flight())


def headings_twice(rng: np.random.Generator) -> Log:
    """Two receivers with the same headings; which is which only their place tells."""
    s = sheet(rng, ("volt", "egt", "rpm"), hz=2, mark="")
    other = sheet(np.random.default_rng(5), ("volt",), time=s.time)
    rows = [[*r, o[0]] for r, o in zip(s.rows(_s(s)), other.cells, strict=True)]
    head = ("Time (s)", "RX voltage (V)", "EGT (°C)", "RPM", "RX voltage (V)")
    first, second = s.tracks[0], other.tracks[0]
    tracks = (replace(first, channel="pack.*.voltage_v"), *s.tracks[1:], replace(second, channel="pack.*.voltage_v"))
    return log(
        "",
        text(head, rows),
        Flight(tracks),
        fair=("doubtful", "column.*"),
        facts={"doubtful": "as-shown"},
    )


def headings_twice_by_unit(rng: np.random.Generator) -> Log:
    s = sheet(rng, ("volt", "amp", "alt"), hz=2)
    return log("", text(("Time (s)", "RX1 (V)", "RX1 (A)", "Altitude (m)"), s.rows(_s(s))), s.flight())


def place_in_one_cell(rng: np.random.Generator) -> Log:
    s = sheet(rng, ("volt", "rssi", "lat", "lon", "alt", "speed"), hz=2)
    rows = [[t, v, r, f"{a},{o}", h, k] for t, (v, r, a, o, h, k) in zip(_s(s), s.cells, strict=True)]
    return log("", text(("Time (s)", *s.head[:2], "GPS position", *s.head[4:]), rows), s.flight())


def place_in_one_cell_blank(rng: np.random.Generator) -> Log:
    s = sheet(rng, ("volt", "rssi", "lat", "lon", "alt", "speed"), hz=2)
    rows = [[t, v, r, f"{a} {o}", h, k] for t, (v, r, a, o, h, k) in zip(_s(s), s.cells, strict=True)]
    return log("", text(("Time (s)", *s.head[:2], "lat lon", *s.head[4:]), rows, ";"), s.flight())


def _minutes(value: str, east: bool, decimals: int = 4) -> tuple[str, float]:
    degrees = float(value)
    whole = int(degrees)
    printed = f"{whole:0{3 if east else 2}d}{(degrees - whole) * 60:0{3 + decimals}.{decimals}f}"
    return printed, whole + float(printed[3 if east else 2 :]) / 60


def degrees_and_minutes(rng: np.random.Generator) -> Log:
    s = sheet(rng, PLACE, hz=2)
    lat = [_minutes(r[2], False) for r in s.cells]
    lon = [_minutes(r[3], True) for r in s.cells]
    rows = [[t, *r[:2], a[0], "N", o[0], "E", *r[4:]] for t, r, a, o in zip(_s(s), s.cells, lat, lon, strict=True)]
    tracks = list(s.tracks)
    tracks[2] = replace(tracks[2], values=np.array([a[1] for a in lat]), within=2e-6)
    tracks[3] = replace(tracks[3], values=np.array([o[1] for o in lon]), within=2e-6)
    head = ("Time (s)", *s.head[:2], "Latitude", "N/S", "Longitude", "E/W", *s.head[4:])
    return log("", text(head, rows), Flight(tuple(tracks)))


def whole_degrees_e7(rng: np.random.Generator) -> Log:
    s = sheet(rng, PLACE, hz=2)
    rows = [
        [t, *r[:2], str(round(float(r[2]) * 1e7)), str(round(float(r[3]) * 1e7)), *r[4:]]
        for t, r in zip(_s(s), s.cells, strict=True)
    ]
    return log(
        "",
        text(("Time (s)", "RX1 voltage (V)", "RSSI (dBm)", "lat", "lon", "GPS altitude (m)", "GPS speed (km/h)"), rows),
        s.flight(),
        fair=("unit.*",),
        facts={"unit.*": "1e-7 deg"},
    )


def letters_of_the_hemisphere(rng: np.random.Generator) -> Log:
    s = sheet(rng, PLACE, hz=2)
    rows = [[t, *r[:2], f"{r[2]} N", f"{r[3]} E", *r[4:]] for t, r in zip(_s(s), s.cells, strict=True)]
    return log("", text(("Time (s)", *s.head), rows), s.flight())


def south_and_west(rng: np.random.Generator) -> Log:
    s = sheet(rng, PLACE, hz=2)
    rows = [[t, *r[:2], f"{r[2]}S", f"{r[3]}W", *r[4:]] for t, r in zip(_s(s), s.cells, strict=True)]
    tracks = list(s.tracks)
    tracks[2], tracks[3] = (replace(tracks[k], values=-tracks[k].values) for k in (2, 3))
    return log("", text(("Time (s)", *s.head), rows), Flight(tuple(tracks)))


def mixed_volts_and_millivolts(rng: np.random.Generator) -> Log:
    s = sheet(rng, ("volt", "egt", "rpm"), hz=2, mark="")
    rows = s.rows(_s(s))
    for i, r in enumerate(rows):
        r[1] = f"{r[1]}V" if i % 3 else f"{round(float(r[1]) * 1000)} mV"
    return log("", text(("Time (s)", *s.head), rows), s.flight())


def mixed_milliamps_below_one(rng: np.random.Generator) -> Log:
    """The unit goes with the size: 850 mA, 1.23 A."""
    s = sheet(rng, ("volt", "amp", "egt"), hz=2, mark="")
    rows = s.rows(_s(s))
    for r in rows:
        r[1], r[3] = f"{r[1]} V", f"{r[3]} °C"
        r[2] = f"{r[2]} A" if float(r[2]) >= 1 else f"{round(float(r[2]) * 1000)} mA"
    return log("", text(("Time (s)", *s.head), rows), s.flight())


def mixed_metres_and_feet(rng: np.random.Generator) -> Log:
    """Somebody changed the display in flight: 512.3 m, then 1680.8 ft."""
    s = sheet(rng, ("volt", "alt", "egt"), hz=2, mark="")
    rows, values = s.rows(_s(s)), s.tracks[1].values.copy()
    for i, r in enumerate(rows):
        if i < 150:
            r[2] = f"{r[2]} m"
        else:
            feet = round(values[i] / 0.3048, 1)
            r[2], values[i] = f"{feet} ft", feet * 0.3048
    return log("", text(("Time (s)", *s.head), rows), _with(s, 1, values=values))


def units_in_every_cell(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2, mark="", lang="fr", comma=True)
    unit = ["V", "A", "dBm", "°C", "tr/min", "m", "km/h", "%"]
    rows = [
        [f"{t} s", *(f"{c} {u}" for c, u in zip(r, unit, strict=True))]
        for t, r in zip(_s(s, True), s.cells, strict=True)
    ]
    return log("", text(("Temps", *s.head), rows, ";"), s.flight())


def _grouped(whole: str, mark: str) -> str:
    head, dot, tail = whole.partition(".")
    return f"{int(head):,}".replace(",", mark) + dot + tail


def thousands_in_commas(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2)
    rows = [[_grouped(c, ",") if k in (5,) else c for k, c in enumerate(r)] for r in s.rows(_s(s))]
    return log("", text(("Time (s)", *s.head), rows), s.flight())


def thousands_in_points(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2, lang="de", comma=True)
    rows = [[_grouped(c, ".") if k == 5 else c for k, c in enumerate(r)] for r in s.rows(_s(s, True))]
    return log("", text(("Zeit (s)", *s.head), rows, ";"), s.flight())


def thousands_in_thin_blanks(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2, lang="fr", comma=True)
    rows = [[_grouped(c, "\u202f") if k == 5 else c for k, c in enumerate(r)] for r in s.rows(_s(s, True))]
    return log("", text(("Temps (s)", *s.head), rows, ";"), s.flight())


def byte_order_mark(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2, lang="de")
    return log("", b"\xef\xbb\xbf" + text(("Zeit (s)", *s.head), s.rows(_s(s)), ";", "\r\n").encode(), s.flight())


def utf16_without_mark(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2, lang="it")
    return log("", text(("Tempo (s)", *s.head), s.rows(_s(s)), "\t").encode("utf-16-le"), s.flight())


def utf16_with_mark(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2, lang="es")
    return log("", text(("Tiempo (s)", *s.head), s.rows(_s(s)), ";").encode("utf-16"), s.flight())


def pipes_as_a_table(rng: np.random.Generator) -> Log:
    """Bars at both ends and a ruled line, as a table in a text."""
    s = sheet(rng, hz=2)
    head = "| " + " | ".join(("Time (s)", *s.head)) + " |\n|" + "---|" * 9 + "\n"
    return log("", head + "".join("| " + " | ".join(r) + " |\n" for r in s.rows(_s(s))), s.flight())


def fixed_width(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2, mark="")
    head = ("Time_s", "RX1_volt_V", "RX1_curr_A", "RSSI_dBm", "EGT_C", "RPM", "GPS_alt_m", "GPS_kmh", "Throttle_%")
    line = "".join(f"{h:>12}" for h in head) + "\n"
    return log("", line + "".join("".join(f"{c:>12}" for c in r) + "\n" for r in s.rows(_s(s))), s.flight())


def fixed_width_names_with_blanks(rng: np.random.Generator) -> Log:
    """Headings hold blanks; only the columns' edges divide."""
    s = sheet(rng, hz=2)
    line = "".join(f"{h:>22}" for h in ("Time (s)", *s.head)) + "\n"
    return log("", line + "".join("".join(f"{c:>22}" for c in r) + "\n" for r in s.rows(_s(s))), s.flight())


def comments_between(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2)
    lines = text(("Time (s)", *s.head), s.rows(_s(s))).splitlines(keepends=True)
    for at in (220, 150, 40):
        lines.insert(at, rng.choice(["# gear down\n", "; marker 3\n", "// note: left circuit\n"]))
    return log("", "".join(lines), s.flight())


def footer_of_means(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2)
    foot = "\nMin," + ",".join(["0"] * 8) + "\nMax," + ",".join(["99"] * 8) + "\nMean," + ",".join(["50"] * 8) + "\n"
    return log("", text(("Time (s)", *s.head), s.rows(_s(s))) + foot, s.flight())


def footer_of_words(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2)
    return log("", text(("Time (s)", *s.head), s.rows(_s(s))) + "--- end of log ---\n360 records written\n", s.flight())


def header_again(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2)
    lines = text(("Time (s)", *s.head), s.rows(_s(s))).splitlines(keepends=True)
    lines.insert(180, lines[0])
    return log("", "".join(lines), s.flight())


def header_again_in_another_order(rng: np.random.Generator) -> Log:
    """After a reconnect the columns come in another order: the second header counts for its rows."""
    s = sheet(rng, hz=2)
    rows, order = s.rows(_s(s)), [0, 3, 1, 2, 8, 5, 4, 7, 6]
    head = ["Time (s)", *s.head]
    body = text(head, rows[:180]) + text([head[k] for k in order], [[r[k] for k in order] for r in rows[180:]])
    return log("", body, s.flight(), refusable=True)


def header_again_with_one_more(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2)
    rows, head = s.rows(_s(s)), ["Time (s)", *s.head]
    body = text(head[:-1], [r[:-1] for r in rows[:180]]) + text(head, rows[180:])
    good = np.arange(s.time.size) >= 180
    return log("", body, _with(s, 7, good=good), refusable=True)


def quoted_all(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2)
    q = [['"' + c + '"' for c in r] for r in s.rows(_s(s))]
    return log(
        "", text(None, [['"' + h + '"' for h in ("Time (s)", *s.head)], *q], ";").replace('"""', '"'), s.flight()
    )


def decimal_commas_quoted(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2, comma=True, lang="it")
    return log("", text(("Tempo (s)", *s.head), s.rows(_s(s, True))), s.flight())


def trailing_separators(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2)
    return log("", text(("Time (s)", *s.head, ""), [[*r, ""] for r in s.rows(_s(s))], ";"), s.flight())


def trailing_separator_in_rows_only(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2)
    return log("", text(("Time (s)", *s.head), [[*r, ""] for r in s.rows(_s(s))]), s.flight())


def last_row_cut(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2)
    body = text(("Time (s)", *s.head), s.rows(_s(s)))
    good = np.arange(s.time.size) < s.time.size - 1
    return log("", body[:-14], s.flight(good=good))


def last_cell_cut(rng: np.random.Generator) -> Log:
    """The file ends inside the last number: 38.4 may have been 38.47. All fields are there; no line end."""
    s = sheet(rng, ("volt", "egt", "rpm"), hz=2)
    body = text(("Time (s)", *s.head), s.rows(_s(s)))
    good = np.arange(s.time.size) < s.time.size - 1
    return log("", body[:-2], _with(s, 2, good=good), lost=0.003)


def zero_bytes(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2)
    body = text(("Time (s)", *s.head), s.rows(_s(s))).encode()
    return log("", body + b"\x00" * 4096, s.flight())


def zero_bytes_between(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2)
    lines = text(("Time (s)", *s.head), s.rows(_s(s))).encode().splitlines(keepends=True)
    lines.insert(120, b"\x00" * 513)
    return log("", b"".join(lines), s.flight(), lost=0.01)


def blank_lines_between(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2)
    return log("", text(("Time (s)", *s.head), s.rows(_s(s))).replace("\n", "\n\n"), s.flight())


def records_of_two_kinds(rng: np.random.Generator) -> Log:
    """Lines of two kinds, each with its own header, in turn."""
    s = sheet(rng, ("volt", "amp", "lat", "lon"), hz=2)
    body = "H1,time_s,RX1 voltage (V),RX1 current (A)\nH2,time_s,Latitude,Longitude\n"
    body += "".join(f"D1,{t},{r[0]},{r[1]}\nD2,{t},{r[2]},{r[3]}\n" for t, r in zip(_s(s), s.cells, strict=True))
    return log("", body, s.flight(), refusable=True, fair=("*",))


def a_word_before_each_row(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2)
    return log("", text(("Type", "Time (s)", *s.head), [["DATA", *r] for r in s.rows(_s(s))]), s.flight())


def sep_line_above(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2, comma=True, lang="de")
    return log("", "sep=;\r\n" + text(("Zeit (s)", *s.head), s.rows(_s(s, True)), ";", "\r\n"), s.flight())


def nothing_said_in_many_ways(rng: np.random.Generator) -> Log:
    s = sheet(rng, ("volt", "egt", "rpm", "rssi"), hz=2)
    rows, mask = s.rows(_s(s)), np.ones(s.time.size, bool)
    for i in rng.choice(s.time.size, 40, replace=False):
        rows[i][2], mask[i] = str(rng.choice(["---", "NaN", "n/a", "null", "?", "-", "#N/A", "inf", "none"])), False
    return log("", text(("Time (s)", *s.head), rows), _with(s, 1, good=mask))


def out_of_range_words(rng: np.random.Generator) -> Log:
    """A sensor that is away prints 65535; no exhaust is that hot."""
    s = sheet(rng, ("volt", "egt", "rpm", "rssi"), hz=2)
    rows, mask = s.rows(_s(s)), np.ones(s.time.size, bool)
    for i in rng.choice(s.time.size, 25, replace=False):
        rows[i][2], mask[i] = "65535", False
    return log(
        "",
        text(("Time (s)", *s.head), rows),
        _with(s, 1, good=mask),
        fair=("doubtful", "column.*", "unit.*"),
        refusable=True,
    )


def index_without_heading(rng: np.random.Generator) -> Log:
    """A row number stands before each row, and the header has no name for it."""
    s = sheet(rng, hz=2)
    return log("", text(("", "Time (s)", *s.head), [[str(i), *r] for i, r in enumerate(s.rows(_s(s)))]), s.flight())


def header_one_short(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2)
    return log(
        "", text(("Time (s)", *s.head), [[str(i), *r] for i, r in enumerate(s.rows(_s(s)))]), s.flight(), refusable=True
    )


def settings_table_below(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2)
    body = text(("Time (s)", *s.head), s.rows(_s(s))) + "\nSetting,Value\nlow voltage,7.2\nmax EGT,720\nreserve,400\n"
    return log("", body, s.flight())


def transposed(rng: np.random.Generator) -> Log:
    """One row a sensor, one column an instant."""
    s = sheet(rng, hz=1, seconds=200)
    body = text(("Time (s)", *_s(s)), [[h, *(r[c] for r in s.cells)] for c, h in enumerate(s.head)])
    return log("", body, s.flight(), refusable=True)


def names_in_the_cells(rng: np.random.Generator) -> Log:
    """Each cell says its own name: volt=8.21."""
    s = sheet(rng, ("volt", "egt", "rpm"), hz=2)
    body = "".join(
        f"t={t} rx1_voltage_V={r[0]} egt_degC={r[1]} rpm={r[2]}\n" for t, r in zip(_s(s), s.cells, strict=True)
    )
    return log("", body, s.flight(), refusable=True)


def json_lines(rng: np.random.Generator) -> Log:
    s = sheet(rng, ("volt", "egt", "rpm"), hz=2)
    body = "".join(
        f'{{"time_s": {t}, "rx1_voltage_v": {r[0]}, "egt_c": {r[1]}, "rpm": {r[2]}}}\n'
        for t, r in zip(_s(s), s.cells, strict=True)
    )
    return log("", body, s.flight(), refusable=True)


def two_receivers_one_column_each_row(rng: np.random.Generator) -> Log:
    """A column says whose row it is."""
    s = sheet(rng, ("volt", "rssi"), hz=2)
    other = fly(np.random.default_rng(3), even(180, 2))
    rows = []
    for i, (t, r) in enumerate(zip(_s(s), s.cells, strict=True)):
        rows += [[t, "RX1", *r], [t, "RX2", number(other["volt"].iloc[i], 2), number(other["rssi"].iloc[i], 0)]]
    v2 = np.array([float(r[2]) for r in rows[1::2]])
    q2 = np.array([float(r[3]) for r in rows[1::2]])
    a, b = s.tracks
    tracks = (
        replace(a, channel="pack.rx1.voltage_v"),
        replace(b, channel="link.rx1.rssi_dbm"),
        replace(a, channel="pack.rx2.voltage_v", values=v2),
        replace(b, channel="link.rx2.rssi_dbm", values=q2),
    )
    return log("", text(("Time (s)", "Receiver", "Voltage (V)", "RSSI (dBm)"), rows), Flight(tracks))
