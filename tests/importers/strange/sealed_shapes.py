"""Strange shapes of the second hand: somebody who joins data of loggers, bench rigs and satellite receivers."""

from __future__ import annotations

from datetime import datetime

import numpy as np
from msgspec.structs import replace

from tests.importers.strange.truth import Flight, Log, Track
from tests.importers.strange.writing import PLACE, Sheet, log, number, sheet, stamps, text

DAY = datetime(2025, 11, 23, 9, 41, 7)
UNITS = ["V", "A", "dBm", "°C", "rpm", "m", "km/h", "%"]
KEYS = ["rx1_batt", "rx1_curr", "rx_rssi", "egt", "turbine_rpm", "gps_altitude", "gps_speed", "throttle"]


def _t(s: Sheet, decimals: int = 1) -> list[str]:
    return [number(t, decimals) for t in s.time]


def _good(s: Sheet, column: int, mask: np.ndarray, values: np.ndarray | None = None) -> Flight:
    tracks = list(s.tracks)
    t = tracks[column]
    tracks[column] = replace(t, time_s=t.time_s[mask], values=(t.values if values is None else values)[mask])
    return Flight(tuple(tracks))


def long_pairs_of_key_and_value(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2)
    rows = [
        [c, h, stamp]
        for stamp, cells in zip(stamps(DAY, s.time, "%Y-%m-%d %H:%M:%S.%f"), s.cells, strict=True)
        for h, c in zip(s.head, cells, strict=True)
    ]
    return log("", text(("value", "key", "timestamp"), rows), s.flight())


def long_with_quality(rng: np.random.Generator) -> Log:
    """Each reading with an id, a name, its value, its unit and a quality word."""
    s = sheet(rng, hz=2, mark="", lang="fr")
    rows = [
        [str(n * 8 + k), t, h, c, u, "GOOD"]
        for n, (t, cells) in enumerate(zip(_t(s), s.cells, strict=True))
        for k, (h, c, u) in enumerate(zip(s.head, cells, UNITS, strict=True))
    ]
    return log("", text(("id", "temps_s", "capteur", "valeur", "unité", "qualité"), rows, ";"), s.flight())


def long_spanish_blocks(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2, lang="es", comma=True)
    clock = stamps(DAY, s.time, "%H:%M:%S,%f")
    rows = [[h, t, r[c]] for c, h in enumerate(s.head) for t, r in zip(clock, s.cells, strict=True)]
    return log("", text(("Sensor", "Hora", "Valor"), rows, ";"), s.flight())


def long_rates_apart(rng: np.random.Generator) -> Log:
    s = sheet(rng, ("volt", "egt", "rpm", "rssi"), hz=10, seconds=90)
    rows, tracks = [], []
    every = (1, 5, 2, 10)
    for i, (t, cells) in enumerate(zip(_t(s), s.cells, strict=True)):
        rows += [[t, h, c] for h, c, e in zip(s.head, cells, every, strict=True) if i % e == 0]
    for track, e in zip(s.tracks, every, strict=True):
        tracks.append(replace(track, time_s=track.time_s[::e], values=track.values[::e]))
    return log("", text(("time_s", "signal", "value"), rows, "\t"), Flight(tuple(tracks)))


def long_unit_changes(rng: np.random.Generator) -> Log:
    """A sensor that reports in mV when it is small: one sensor in two units."""
    s = sheet(rng, ("volt", "egt"), hz=2, mark="")
    rows = []
    for i, (t, cells) in enumerate(zip(_t(s), s.cells, strict=True)):
        v = [s.head[0], cells[0], "V"] if i % 4 else [s.head[0], str(round(float(cells[0]) * 1000)), "mV"]
        rows += [[t, *v], [t, s.head[1], cells[1], "°C"]]
    return log("", text(("Time (s)", "Sensor", "Value", "Unit"), rows), s.flight(), refusable=True)


def long_with_states(rng: np.random.Generator) -> Log:
    """Between readings stand words: the state of the turbine."""
    s = sheet(rng, ("volt", "egt", "rpm"), hz=2)
    rows = []
    for i, (t, cells) in enumerate(zip(_t(s), s.cells, strict=True)):
        rows += [[t, h, c] for h, c in zip(s.head, cells, strict=True)]
        if i % 60 == 0:
            rows.append([t, "ECU state", ("off", "ignite", "run", "run", "cool", "off")[min(i // 60, 5)]])
    return log("", text(("Time (s)", "Sensor", "Value"), rows), s.flight())


def long_wide_mixture(rng: np.random.Generator) -> Log:
    """One row a group of sensors: time, group, three values whose meaning the group tells."""
    s = sheet(rng, ("volt", "amp", "egt", "rpm"), hz=2)
    rows = [x for t, c in zip(_t(s), s.cells, strict=True) for x in ([t, "PWR", c[0], c[1]], [t, "TURB", c[2], c[3]])]
    return log("", text(("Time (s)", "Group", "A", "B"), rows), s.flight(), refusable=True, fair=("*",))


def wide_one_sensor_and_mode(rng: np.random.Generator) -> Log:
    s = sheet(rng, ("rssi",), hz=2, lang="it")
    mode = np.where(s.time < 60, "manuale", "assistito")
    return log(
        "",
        text(("Modo", "Tempo (s)", *s.head), [[str(m), *r] for m, r in zip(mode, s.rows(_t(s)), strict=True)], ";"),
        s.flight(),
    )


def wide_one_sensor_alone(rng: np.random.Generator) -> Log:
    s = sheet(rng, ("volt",), hz=2)
    return log("", text(("Time (s)", *s.head), s.rows(_t(s))), s.flight())


def wide_sensor_and_event_words(rng: np.random.Generator) -> Log:
    """Two columns of words, one of numbers: which could be taken for name, unit and value."""
    s = sheet(rng, ("egt",), hz=2)
    phase = np.where(s.time < 90, "climb", "cruise")
    who = np.where((s.time // 30) % 2 == 0, "pilot", "trainer")
    rows = [[t, str(p), str(w), c[0]] for t, p, w, c in zip(_t(s), phase, who, s.cells, strict=True)]
    return log("", text(("Time (s)", "Phase", "Hands", *s.head), rows), s.flight())


def path_headings(rng: np.random.Generator) -> Log:
    s = sheet(rng, ("volt", "amp", "egt", "rpm", "lat", "lon"), hz=2)
    head = ("/rx1/voltage", "/rx1/current", "/turbine/egt", "/turbine/rpm", "/gps/latitude", "/gps/longitude")
    return log(
        "",
        text(("/time", *head), s.rows(_t(s))),
        s.flight(),
        fair=("time_unit", "unit.*", "doubtful"),
        facts={
            "time_unit": "s",
            "unit.pack*voltage*": "V",
            "unit.*volt*": "V",
            "unit.*current*": "A",
            "unit.*egt*": "°C",
        },
    )


def arrow_headings(rng: np.random.Generator) -> Log:
    s = sheet(rng, ("volt", "amp", "egt", "rpm"), hz=2)
    head = ("RX1 > Voltage, V", "RX1 > Current, A", "Turbine > EGT, °C", "Turbine > RPM")
    return log("", text(("Log > Time, s", *head), s.rows(_t(s)), ";"), s.flight())


def index_in_brackets(rng: np.random.Generator) -> Log:
    s = sheet(rng, ("volt", "egt", "rpm"), hz=2)
    cells = [sheet(np.random.default_rng(k), ("volt",), time=s.time) for k in (8, 9)]
    half = [[number(float(c[0]) / 2 + 0.01 * k, 2) for c in s.cells] for k in range(2)]
    rows = [[t, *c, half[0][i], half[1][i]] for i, (t, c) in enumerate(zip(_t(s), s.cells, strict=True))]
    tracks = [*s.tracks]
    for k in range(2):
        values = np.array([float(h) for h in half[k]])
        tracks.append(Track(f"cell{k}", "pack.*.cell?_v", s.time, values, 0.003))
    assert len(cells) == 2
    head = ("Time (s)", "RX1 voltage (V)", "EGT (°C)", "RPM", "RX1 cell[1] (V)", "RX1 cell[2] (V)")
    return log("", text(head, rows), Flight(tuple(tracks)))


def unit_above_the_name(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2, mark="")
    return log("", text(["s", *UNITS], [["Time", *s.head], *s.rows(_t(s))]), s.flight())


def name_split_over_two_rows(rng: np.random.Generator) -> Log:
    """The heading is broken over two lines: RX1 / voltage [V]."""
    s = sheet(rng, ("volt", "amp", "egt", "rpm", "alt"), hz=2)
    top, low = (
        ("Time", "RX1", "RX1", "Turbine", "Turbine", "GPS"),
        ("[s]", "voltage [V]", "current [A]", "EGT [°C]", "speed [rpm]", "altitude [m]"),
    )
    return log("", text(top, [low, *s.rows(_t(s))], ";"), s.flight())


def three_rows_group_name_unit(rng: np.random.Generator) -> Log:
    s = sheet(rng, ("volt", "amp", "egt", "rpm", "alt"), hz=2)
    top = ("", "RX1", "RX1", "Turbine", "Turbine", "GPS")
    return log(
        "",
        text(
            top,
            [
                ("Time", "Voltage", "Current", "EGT", "RPM", "Altitude"),
                ("s", "V", "A", "°C", "1/min", "m"),
                *s.rows(_t(s)),
            ],
        ),
        s.flight(),
    )


def three_rows_name_type_unit(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2, mark="")
    return log("", text(["Time", *s.head], [["float"] * 9, ["s", *UNITS], *s.rows(_t(s))]), s.flight())


def headings_twice_two_engines(rng: np.random.Generator) -> Log:
    """EGT and RPM twice: two engines; nothing says which is which."""
    a, b = sheet(rng, ("egt", "rpm"), hz=2), sheet(np.random.default_rng(77), ("egt", "rpm"), hz=2)
    rows = [[*x, *y] for x, y in zip(a.rows(_t(a)), b.cells, strict=True)]
    return log(
        "", text(("Time (s)", *a.head, *b.head), rows), Flight((*a.tracks, *b.tracks)), refusable=True, fair=("*",)
    )


def names_differ_by_case(rng: np.random.Generator) -> Log:
    s = sheet(rng, ("volt", "amp", "alt"), hz=2)
    rows = [[*r, number(float(r[1]) - 0.02, 2)] for r in s.rows(_t(s))]
    head = ("Time (s)", "RX1 voltage (V)", "RX1 current (A)", "Altitude (m)", "Rx1 Voltage (V)")
    return log(
        "",
        text(head, rows),
        s.flight(),
        refusable=True,
        fair=("*",),
        facts={"column.*": "RX1 voltage (V)#1"},
    )


def place_with_semicolon_in_quotes(rng: np.random.Generator) -> Log:
    s = sheet(rng, ("volt", "rssi", "lat", "lon", "alt", "speed"), hz=2)
    rows = [[t, v, r, f"({a}; {o})", h, k] for t, (v, r, a, o, h, k) in zip(_t(s), s.cells, strict=True)]
    return log("", text(("Time (s)", *s.head[:2], "Position", *s.head[4:]), rows), s.flight(), refusable=True)


def place_lon_first(rng: np.random.Generator) -> Log:
    """As maps write it: longitude, then latitude; the heading says so."""
    s = sheet(rng, ("volt", "rssi", "lat", "lon", "alt", "speed"), hz=2)
    rows = [[t, v, r, f"{o},{a}", h, k] for t, (v, r, a, o, h, k) in zip(_t(s), s.cells, strict=True)]
    return log("", text(("Time (s)", *s.head[:2], "lon,lat", *s.head[4:]), rows), s.flight())


def place_with_height_in_one_cell(rng: np.random.Generator) -> Log:
    s = sheet(rng, ("volt", "rssi", "lat", "lon", "alt"), hz=2)
    rows = [[t, v, r, f"{a},{o},{h}"] for t, (v, r, a, o, h) in zip(_t(s), s.cells, strict=True)]
    return log("", text(("Time (s)", *s.head[:2], "lat,lon,alt"), rows), s.flight(), refusable=True)


def _dms(value: float) -> tuple[str, float]:
    total = round(value * 3600, 2)
    d, rest = divmod(total, 3600)
    m, sec = divmod(rest, 60)
    printed = f"{int(d)}°{int(m):02d}'{sec:05.2f}\""
    return printed, int(d) + int(m) / 60 + float(f"{sec:05.2f}") / 3600


def degrees_minutes_seconds(rng: np.random.Generator) -> Log:
    s = sheet(rng, PLACE, hz=2)
    lat, lon = [_dms(float(r[2])) for r in s.cells], [_dms(float(r[3])) for r in s.cells]
    rows = [[t, *r[:2], f"{a[0]}N", f"{o[0]}E", *r[4:]] for t, r, a, o in zip(_t(s), s.cells, lat, lon, strict=True)]
    tracks = list(s.tracks)
    tracks[2] = replace(tracks[2], values=np.array([a[1] for a in lat]), within=2e-6)
    tracks[3] = replace(tracks[3], values=np.array([o[1] for o in lon]), within=2e-6)
    return log("", text(("Time (s)", *s.head), rows, ";"), Flight(tuple(tracks)))


def letters_before_the_number(rng: np.random.Generator) -> Log:
    s = sheet(rng, PLACE, hz=2)
    rows = [[t, *r[:2], f"N{r[2]}", f"W{r[3]}", *r[4:]] for t, r in zip(_t(s), s.cells, strict=True)]
    tracks = list(s.tracks)
    tracks[3] = replace(tracks[3], values=-tracks[3].values)
    return log("", text(("Time (s)", *s.head), rows), Flight(tuple(tracks)))


def whole_degrees_e6(rng: np.random.Generator) -> Log:
    s = sheet(rng, PLACE, hz=2)
    rows = [
        [t, *r[:2], str(round(float(r[2]) * 1e6)), str(round(float(r[3]) * 1e6)), *r[4:]]
        for t, r in zip(_t(s), s.cells, strict=True)
    ]
    head = (
        "Time (s)",
        "RX1 voltage (V)",
        "RSSI (dBm)",
        "Latitude (1e-6 deg)",
        "Longitude (1e-6 deg)",
        "GPS altitude (m)",
        "GPS speed (km/h)",
    )
    return log("", text(head, rows), s.flight(), fair=("unit.*",), facts={"unit.*": "1e-6 deg"})


def mixed_kilometres_and_metres(rng: np.random.Generator) -> Log:
    """km/h and m/s by turns, as two firmware versions print it; lines of either sort follow each other."""
    s = sheet(rng, ("volt", "speed", "egt"), hz=2, mark="")
    rows, values = s.rows(_t(s)), s.tracks[1].values.copy()
    for i, r in enumerate(rows):
        if (i // 40) % 2:
            r[2] = f"{values[i]:.2f} m/s"
            values[i] = float(f"{values[i]:.2f}")
        else:
            r[2] = f"{r[2]} km/h"
    return log("", text(("Time (s)", *s.head), rows), _good(s, 1, np.ones(len(rows), bool), values))


def mixed_bare_and_with_unit(rng: np.random.Generator) -> Log:
    """Some cells have the unit, some none: 8.21 V, 8.20, 8.19 V. The bare ones may be anything."""
    s = sheet(rng, ("volt", "egt", "rpm"), hz=2, mark="")
    rows = s.rows(_t(s))
    for i, r in enumerate(rows):
        r[1] = f"{r[1]} V" if i % 5 else r[1]
    return log("", text(("Time (s)", *s.head), rows), s.flight(), refusable=True, fair=("*",), facts={"unit.*": "V"})


def mixed_units_of_two_kinds(rng: np.random.Generator) -> Log:
    """A column that shows volts or amperes by turns is no one channel."""
    s = sheet(rng, ("volt", "egt", "rpm"), hz=2, mark="")
    rows = [[*r, f"{r[1]} V" if i % 2 else "1.23 A"] for i, r in enumerate(s.rows(_t(s)))]
    return log("", text(("Time (s)", "RX1 voltage (V)", "EGT (°C)", "RPM", "Display"), rows), s.flight())


def mixed_celsius_and_fahrenheit(rng: np.random.Generator) -> Log:
    s = sheet(rng, ("volt", "egt", "rpm"), hz=2, mark="")
    rows, values = s.rows(_t(s)), s.tracks[1].values.copy()
    for i, r in enumerate(rows):
        if i >= 200:
            f = round(values[i] * 1.8 + 32)
            r[2], values[i] = f"{f} °F", (f - 32) / 1.8
        else:
            r[2] = f"{r[2]} °C"
    return log("", text(("Time (s)", *s.head), rows), _good(s, 1, np.ones(len(rows), bool), values))


def cells_with_unit_and_status(rng: np.random.Generator) -> Log:
    """8.21V OK"""
    s = sheet(rng, ("volt", "egt", "rpm"), hz=2, mark="")
    rows = [[t, f"{c[0]}V OK", *c[1:]] for t, c in zip(_t(s), s.cells, strict=True)]
    return log("", text(("Time (s)", *s.head), rows), s.flight(), refusable=True)


def apostrophes_and_blanks(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2, lang="de")
    rows = [[f"{int(c):,}".replace(",", "'") if k == 5 else c for k, c in enumerate(r)] for r in s.rows(_t(s))]
    return log("", text(("Zeit (s)", *s.head), rows, "\t"), s.flight())


def plus_signs(rng: np.random.Generator) -> Log:
    s = sheet(rng, ("volt", "alt", "roll", "rssi"), hz=2)
    rows = [[r[0], *(c if c.startswith("-") else f"+{c}" for c in r[1:])] for r in s.rows(_t(s))]
    return log("", text(("Time (s)", *s.head), rows), s.flight())


def numbers_padded(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2)
    rows = [[f"{c:>10}" if k % 2 else f"{c:<9}" for k, c in enumerate(r)] for r in s.rows(_t(s))]
    return log("", text(("Time (s)", *s.head), rows, " , "), s.flight())


def numbers_with_leading_noughts(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2)
    rows = [[c.zfill(7) if not c.startswith("-") else c for c in r] for r in s.rows(_t(s))]
    return log("", text(("Time (s)", *s.head), rows, ";"), s.flight())


def utf16_big_end(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2, lang="fr")
    return log(
        "", b"\xfe\xff" + text(("Temps (s)", *s.head), s.rows(_t(s)), ";", "\r\n").encode("utf-16-be"), s.flight()
    )


def western_page(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2, lang="fr", comma=True)
    rows = s.rows([number(t, 1, True) for t in s.time])
    return log("", text(("Temps (s)", *s.head), rows, ";", "\r\n").encode("cp1252"), s.flight())


def mark_in_mid_file(rng: np.random.Generator) -> Log:
    """Two files joined, each with its byte-order mark and header."""
    s = sheet(rng, hz=2)
    rows = s.rows(_t(s))
    head = ("Time (s)", *s.head)
    body = "\ufeff" + text(head, rows[:180]) + "\ufeff" + text(head, rows[180:])
    return log("", body.encode(), s.flight())


def doubled_blanks_between(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2)
    body = "  ".join(["t_s", *KEYS]) + "\n" + "".join("  ".join(r) + "\n" for r in s.rows(_t(s)))
    return log(
        "",
        body,
        s.flight(),
        fair=("unit.*", "doubtful"),
        facts={
            "unit.*batt*": "V",
            "unit.*curr*": "A",
            "unit.*rssi*": "dBm",
            "unit.*egt*": "°C",
            "unit.*alt*": "m",
            "unit.*speed*": "km/h",
            "unit.*throttle*": "%",
            "unit.all.speed": "km/h",
            "unit.all.temperature": "°C",
            "unit.*voltage*": "V",
        },
    )


def tabs_and_blanks_mixed(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2)
    return log("", text(("Time (s)", *s.head), s.rows(_t(s)), "\t ").replace("\t \n", "\n"), s.flight())


def ruled_fixed_width(rng: np.random.Generator) -> Log:
    """Columns by edges, a ruled line below the header."""
    s = sheet(rng, hz=2)
    head = ("Time (s)", *s.head)
    wide = [max(len(h), 8) for h in head]
    lines = ["  ".join(h.ljust(w) for h, w in zip(head, wide, strict=True)), "  ".join("-" * w for w in wide)]
    lines += ["  ".join(c.ljust(w) for c, w in zip(r, wide, strict=True)) for r in s.rows(_t(s))]
    return log("", "\n".join(lines) + "\n", s.flight())


def remarks_behind_rows(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2)
    lines = text(("Time (s)", *s.head), s.rows(_t(s))).splitlines()
    for i in range(20, 350, 47):
        lines[i] += "  # marker"
    good = np.array([not (i + 1 >= 20 and (i + 1 - 20) % 47 == 0 and i + 1 < 350) for i in range(len(s.time))])
    return log("", "\n".join(lines) + "\n", _good(s, 7, good), lost=0.03)


def total_row_at_the_foot(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2, lang="de")
    foot = "Summe;;" + ";".join(["123"] * 7) + "\nMittel;" + ";".join(["55"] * 8) + "\n"
    return log("", text(("Zeit (s)", *s.head), s.rows(_t(s)), ";") + foot, s.flight())


def numbers_at_the_foot(rng: np.random.Generator) -> Log:
    """Behind a blank line: a row of maxima under no name, with a number where the time was."""
    s = sheet(rng, hz=2)
    foot = "\nMaximum values\n0," + ",".join(["99"] * 8) + "\n"
    return log("", text(("Time (s)", *s.head), s.rows(_t(s))) + foot, s.flight(), refusable=True)


def fewer_columns_at_the_end(rng: np.random.Generator) -> Log:
    """A sensor is unplugged: the rows become shorter, and which column is gone nobody says."""
    s = sheet(rng, ("volt", "amp", "egt", "rpm"), hz=2)
    rows = s.rows(_t(s))
    rows = rows[:200] + [r[:2] + r[3:] for r in rows[200:]]
    good = np.arange(s.time.size) < 200
    return log("", text(("Time (s)", *s.head), rows), s.flight(good=good), refusable=True)


def header_for_each_minute(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2)
    head, rows = ("Time (s)", *s.head), s.rows(_t(s))
    return log("", "".join(text(head, rows[i : i + 120]) + "\n" for i in range(0, len(rows), 120)), s.flight())


def header_swapped_columns(rng: np.random.Generator) -> Log:
    """The second header has two columns changed, and the values with them."""
    s = sheet(rng, ("volt", "amp", "egt", "rpm"), hz=2)
    head, rows = ["Time (s)", *s.head], s.rows(_t(s))
    body = text(head, rows[:200]) + text(
        [head[0], head[2], head[1], *head[3:]], [[r[0], r[2], r[1], *r[3:]] for r in rows[200:]]
    )
    return log("", body, s.flight(), refusable=True)


def stacked_tables(rng: np.random.Generator) -> Log:
    """A table of the radio, then one of the turbine, each with its header and clock, of the same flight."""
    a, b = sheet(rng, ("volt", "amp", "rssi"), hz=2), sheet(rng, ("egt", "rpm", "throttle"), hz=2)
    body = text(("Time (s)", *a.head), a.rows(_t(a))) + "\n" + text(("Time (s)", *b.head), b.rows(_t(b)))
    return log("", body, Flight((*a.tracks, *b.tracks)), refusable=True)


def quotes_inside(rng: np.random.Generator) -> Log:
    s = sheet(rng, ("volt", "egt"), hz=2)
    rows = [[*r, 'say ""hello"", over' if i % 50 == 0 else ""] for i, r in enumerate(s.rows(_t(s)))]
    rows = [[*r[:-1], f'"{r[-1]}"' if r[-1] else ""] for r in rows]
    body = ",".join(("Time (s)", *s.head, "Remark")) + "\n" + "".join(",".join(r) + "\n" for r in rows)
    return log("", body, s.flight())


def line_ends_in_quotes(rng: np.random.Generator) -> Log:
    s = sheet(rng, ("volt", "egt"), hz=2)
    rows = [[*r, "two\nlines" if i % 70 == 0 else ""] for i, r in enumerate(s.rows(_t(s)))]
    return log("", text(("Time (s)", *s.head, "Remark"), rows), s.flight())


def quote_never_closed(rng: np.random.Generator) -> Log:
    s = sheet(rng, ("volt", "egt", "rpm"), hz=2)
    rows = [[*r, ""] for r in s.rows(_t(s))]
    body = (
        ",".join(("Time (s)", *s.head, "Remark"))
        + "\n"
        + "".join(",".join(r) + ('"oops' if i == 100 else "") + "\n" for i, r in enumerate(rows))
    )
    return log("", body, s.flight(), refusable=True, lost=0.01)


def many_trailing_separators(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2)
    body = text(("Time (s)", *s.head), s.rows(_t(s))).replace("\n", ",,,,,\n")
    return log("", body, s.flight())


def leading_separator(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2)
    return log("", text(("", "Time (s)", *s.head), [["", *r] for r in s.rows(_t(s))], ";"), s.flight())


def last_row_half(rng: np.random.Generator) -> Log:
    """The power fails in the middle of a row; zero bytes follow."""
    s = sheet(rng, hz=2)
    body = text(("Time (s)", *s.head), s.rows(_t(s)))
    return log("", body[:-20].encode() + b"\x00" * 900, s.flight(good=np.arange(s.time.size) < s.time.size - 1))


def carriage_returns_only(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2)
    return log("", text(("Time (s)", *s.head), s.rows(_t(s)), ",", "\r"), s.flight())


def line_ends_mixed(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2)
    lines = text(("Time (s)", *s.head), s.rows(_t(s))).splitlines()
    return log("", "".join(line + ("\r\n" if i % 3 else "\n") for i, line in enumerate(lines)), s.flight())


def garbage_lines(rng: np.random.Generator) -> Log:
    """Broken serial lines between good ones."""
    s = sheet(rng, hz=2)
    lines = text(("Time (s)", *s.head), s.rows(_t(s))).splitlines()
    good = np.ones(s.time.size, bool)
    for i in rng.choice(np.arange(30, 330), 8, replace=False):
        lines[i] = lines[i][: int(rng.integers(3, 15))] + "\x1b\x7f#!%"
        good[i - 1] = False
    return log("", "\n".join(lines) + "\n", s.flight(good=good), lost=0.001)


def two_lines_run_together(rng: np.random.Generator) -> Log:
    """A line end is lost: two rows stand in one line."""
    s = sheet(rng, hz=2)
    lines = text(("Time (s)", *s.head), s.rows(_t(s))).splitlines()
    lines[100] += lines.pop(101)
    good = np.ones(s.time.size, bool)
    good[[99, 100]] = False
    return log("", "\n".join(lines) + "\n", s.flight(good=good))


def checksum_behind_rows(rng: np.random.Generator) -> Log:
    s = sheet(rng, ("volt", "egt", "rpm"), hz=2)
    rows = [[*r, f"*{int(rng.integers(0, 256)):02X}"] for r in s.rows(_t(s))]
    return log("", text(("Time (s)", *s.head, "CRC"), rows), s.flight())


def sentences_of_a_satellite_receiver(rng: np.random.Generator) -> Log:
    s = sheet(rng, PLACE, hz=2)
    body = "".join(
        f"$GPRMC,{c},A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W*6A\n" for c in stamps(DAY, s.time, "%H%M%S.%f")
    )
    return log("", body, s.flight(), refusable=True)


def markdown_and_prose(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2)
    body = "Flight of Sunday\n================\n\nWind from the west, two circuits.\n\n" + text(
        ("Time (s)", *s.head), s.rows(_t(s))
    )
    return log("", body, s.flight())


def sensor_list_above(rng: np.random.Generator) -> Log:
    """A small table of the sensors stands above the table of the log."""
    s = sheet(rng, hz=2)
    top = (
        "No,Sensor,Unit\n"
        + "".join(f"{k},{h},{u}\n" for k, (h, u) in enumerate(zip(KEYS, UNITS, strict=True), 1))
        + "\n"
    )
    return log("", top + text(("Time (s)", *s.head), s.rows(_t(s))), s.flight())


def hexadecimal_values(rng: np.random.Generator) -> Log:
    """One column is printed in base sixteen; it is no number of ours."""
    s = sheet(rng, ("volt", "egt", "rpm"), hz=2)
    rows = [[*r, f"0x{int(rng.integers(0, 65536)):04X}"] for r in s.rows(_t(s))]
    return log("", text(("Time (s)", *s.head, "Flags"), rows), s.flight())


def percent_and_degree_signs_in_cells(rng: np.random.Generator) -> Log:
    s = sheet(rng, ("volt", "throttle", "egt", "roll"), hz=2, mark="")
    rows = [[t, f"{c[0]}V", f"{c[1]}%", f"{c[2]}°C", f"{c[3]}°"] for t, c in zip(_t(s), s.cells, strict=True)]
    return log("", text(("Time (s)", *s.head), rows), s.flight())
