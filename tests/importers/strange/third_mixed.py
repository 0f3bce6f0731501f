"""Strange clocks and shapes at once, of a third hand: written after the importer had been mended on the other two."""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np
from msgspec.structs import replace

from tests.importers.strange.truth import Flight, Log
from tests.importers.strange.world import even, uneven
from tests.importers.strange.writing import PLACE, Sheet, delayed, log, number, sheet, stamps, text

NOON = datetime(2024, 9, 8, 12, 30, 5, 300_000)
NIGHT = datetime(2024, 9, 8, 23, 58, 40)
UNITS = ["V", "A", "dBm", "°C", "rpm", "m", "km/h", "%"]


def _muddled(rng: np.random.Generator, s: Sheet, rows: list[list[str]]) -> list[list[str]]:
    """Copies and delays by time on the way, not by places."""
    extra = rng.choice(len(rows) - 4, len(rows) // 15, replace=False) + 2
    sent = np.concatenate([s.time, s.time[extra]])
    way = np.where(rng.random(sent.size) < 0.12, rng.gamma(2.0, 0.5, sent.size), 0.01)
    way[:3] = 0.0
    all_rows = [*rows, *(rows[i] for i in extra)]
    return [all_rows[i] for i in np.argsort(sent + way, kind="stable")]


def locks_with_late_packets(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=5)
    day = [
        *stamps(datetime(2000, 1, 1), s.time[:100], "%Y-%m-%d %H:%M:%S.%f"),
        *stamps(NOON, s.time[100:], "%Y-%m-%d %H:%M:%S.%f"),
    ]
    return log("", text(("Time", *s.head), delayed(rng, s.rows(day), 0.08, (1, 3))), s.flight(0.21), lost=0.005)


def locks_on_whole_seconds(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=1, seconds=300)
    day = [
        *stamps(datetime(1970, 1, 1), s.time[:40], "%d/%m/%Y %H:%M:%S"),
        *stamps(datetime(2024, 9, 28, 12), s.time[40:], "%d/%m/%Y %H:%M:%S"),
    ]
    return log("", text(("UTC", *s.head), s.rows(day)), s.flight(1.01))


def locks_in_columns(rng: np.random.Generator) -> Log:
    s = sheet(rng, PLACE, hz=4, lang="de")
    made = [datetime(1980, 1, 6, 0, 0, 3) if t < 25 else NOON for t in s.time]
    made = [m + timedelta(seconds=float(t)) for m, t in zip(made, s.time, strict=True)]
    rows = s.rows([f"{m:%d.%m.%Y}" for m in made], [f"{m:%H:%M:%S},{m.microsecond // 1000:03d}" for m in made])
    return log("", text(("Datum", "Uhrzeit", *s.head), rows, ";"), s.flight(0.26))


def newest_first_and_muddled(rng: np.random.Generator) -> Log:
    s = sheet(rng, time=uneven(rng, 140, 5))
    rows = _muddled(rng, s, s.rows(stamps(NOON, s.time, "%Y-%m-%dT%H:%M:%S.%fZ")))
    return log("", text(("time", *s.head), rows[::-1]), s.flight())


def newest_first_wraps(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=5)
    rows = s.rows([str((round(float(t) * 1000) + 30_000) % 65536) for t in s.time])
    return log("", text(("Time (ms)", *s.head), rows[::-1]), s.flight(), refusable=True)


def newest_first_summer_time(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2)
    day = stamps(datetime(2024, 10, 27, 2, 58, 50), s.time - np.where(s.time < 70, 0, 3600), "%Y-%m-%d %H:%M:%S.%f")
    return log("", text(("Time", *s.head), s.rows(day)[::-1]), s.flight())


def columns_over_midnight(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2, lang="it", comma=True)
    made = stamps(NIGHT, s.time, "%H"), stamps(NIGHT, s.time, "%M"), stamps(NIGHT, s.time, "%S,%f")
    return log("", text(("Ore", "Minuti", "Secondi", *s.head), s.rows(*made), ";"), s.flight(), fair=("doubtful",))


def columns_with_late(rng: np.random.Generator) -> Log:
    s = sheet(rng, time=uneven(rng, 150, 5))
    made = [stamps(NOON, s.time, f) for f in ("%d.%m.%Y", "%H", "%M", "%S", "%f")]
    rows = _muddled(rng, s, s.rows(*made))
    return log("", text(("Date", "HH", "MM", "SS", "ms", *s.head), rows), s.flight(), refusable=True)


def long_over_midnight_late(rng: np.random.Generator) -> Log:
    s = sheet(rng, ("volt", "egt", "rpm", "rssi"), hz=2, seconds=150)
    clock = stamps(NIGHT, s.time, "%H:%M:%S.%f")
    rows = [[clock[i], h, c] for i, cells in enumerate(s.cells) for h, c in zip(s.head, cells, strict=True)]
    return log("", text(("Time", "Sensor", "Value"), delayed(rng, rows, 0.1, (1, 9))), s.flight())


def long_newest_first_dated_units(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2, mark="", lang="fr", comma=True)
    clock = stamps(NOON, s.time, "%d/%m/%Y %H:%M:%S,%f")
    rows = [
        [clock[i], h, c, u] for i, cells in enumerate(s.cells) for h, c, u in zip(s.head, cells, UNITS, strict=True)
    ]
    return log(
        "",
        text(("Date", "Capteur", "Valeur", "Unité"), rows[::-1], ";"),
        s.flight(),
        fair=("date_order",),
        facts={"date_order": "day-first"},
    )


def long_with_a_footer(rng: np.random.Generator) -> Log:
    s = sheet(rng, ("volt", "egt", "rpm"), hz=2)
    rows = [[number(s.time[i], 1), h, c] for i, cells in enumerate(s.cells) for h, c in zip(s.head, cells, strict=True)]
    return log("", text(("Time (s)", "Sensor", "Value"), rows) + "Total,RX1 voltage (V),999\nEnd of file\n", s.flight())


def long_shared_seconds(rng: np.random.Generator) -> Log:
    s = sheet(rng, ("volt", "egt", "rpm"), hz=5, seconds=100)
    clock = stamps(NOON.replace(microsecond=0), s.time, "%H:%M:%S")
    rows = [[clock[i], h, c] for i, cells in enumerate(s.cells) for h, c in zip(s.head, cells, strict=True)]
    return log("", text(("Time", "Sensor", "Value"), rows), s.flight(0.21))


def long_two_flights(rng: np.random.Generator) -> Log:
    many = [sheet(rng, ("volt", "egt", "rpm"), hz=2, seconds=100 + 30 * k) for k in range(2)]
    rows = [
        [number(s.time[i], 1), h, c]
        for s in many
        for i, cells in enumerate(s.cells)
        for h, c in zip(s.head, cells, strict=True)
    ]
    return log("", text(("Time (s)", "Sensor", "Value"), rows), tuple(s.flight() for s in many))


def blocks_over_midnight(rng: np.random.Generator) -> Log:
    s = sheet(rng, ("volt", "egt", "rpm"), hz=2)
    clock = stamps(NIGHT, s.time, "%H:%M:%S.%f")
    rows = [[clock[i], h, row[c]] for c, h in enumerate(s.head) for i, row in enumerate(s.cells)]
    return log("", text(("Time", "Sensor", "Value"), rows), s.flight())


def blocks_of_two_flights(rng: np.random.Generator) -> Log:
    many = [sheet(rng, ("volt", "egt", "rpm"), hz=2, seconds=120 + 30 * k) for k in range(2)]
    rows = [
        [number(s.time[i], 1), h, row[c]]
        for c, h in enumerate(many[0].head)
        for s in many
        for i, row in enumerate(s.cells)
    ]
    return log("", text(("Time (s)", "Sensor", "Value"), rows), tuple(s.flight() for s in many))


def two_flights_over_midnight(rng: np.random.Generator) -> Log:
    one, two = sheet(rng, hz=2, seconds=140), sheet(rng, hz=2, seconds=160)
    rows = one.rows(stamps(NIGHT, one.time, "%H:%M:%S.%f")) + two.rows(
        stamps(NIGHT + timedelta(minutes=12), two.time, "%H:%M:%S.%f")
    )
    return log("", text(("Time", *one.head), rows), (one.flight(), two.flight()))


def wraps_and_pauses(rng: np.random.Generator) -> Log:
    instants = even(170, 5)
    instants = np.round(np.where(instants < 61, instants, instants + 8), 6)
    s = sheet(rng, time=instants)
    return log(
        "",
        text(("Time (ms)", *s.head), s.rows([str((round(float(t) * 1000) + 3_000) % 65536) for t in s.time])),
        s.flight(),
    )


def zone_and_late(rng: np.random.Generator) -> Log:
    s = sheet(rng, time=uneven(rng, 150, 5))
    rows = s.rows(stamps(NOON, s.time, lambda m: f"{m:%Y-%m-%d %H:%M:%S}.{m.microsecond // 1000:03d} +02:00"))
    return log("", text(("Zeitstempel", *s.head), _muddled(rng, s, rows)), s.flight())


def pm_and_late(rng: np.random.Generator) -> Log:
    s = sheet(rng, seconds=300, hz=1)
    rows = s.rows(stamps(datetime(2024, 9, 28, 12, 57), s.time, "%m/%d/%Y %I:%M:%S %p"))
    return log("", text(("Time", *s.head), _muddled(rng, s, rows)), s.flight())


def sheet_days_and_late(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2, lang="es", comma=True)
    rows = s.rows([number(45543.51 + t / 86400, 8, True) for t in s.time])
    return log("", text(("Fecha y hora", *s.head), delayed(rng, rows, 0.1, (1, 3)), ";"), s.flight(0.002))


def week_and_late(rng: np.random.Generator) -> Log:
    s = sheet(rng, PLACE, hz=5)
    rows = s.rows(["2330"] * s.time.size, [number(45_005.2 + t, 1) for t in s.time])
    return log("", text(("week", "tow_s", *s.head), _muddled(rng, s, rows)), s.flight())


def epoch_in_two_languages_of_numbers(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=4, lang="de", comma=True)
    rows = s.rows([f"{1_725_798_605 + t:.3f}".replace(".", ",") for t in s.time])
    return log("", text(("Unixzeit", *s.head), rows, ";"), s.flight())


def wide_utf16_groups_and_units(rng: np.random.Generator) -> Log:
    s = sheet(rng, ("volt", "amp", "egt", "rpm", "alt"), hz=2, comma=True)
    top = [
        ("", "RX1", "RX1", "Turbine", "Turbine", "GPS"),
        ("Time", "Voltage", "Current", "EGT", "RPM", "Altitude"),
        ("s", "V", "A", "°C", "rpm", "m"),
    ]
    body = text(top[0], [*top[1:], *s.rows([number(t, 1, True) for t in s.time])], "\t", "\r\n")
    return log("", body.encode("utf-16"), s.flight())


def units_and_thousands_in_cells(rng: np.random.Generator) -> Log:
    s = sheet(rng, ("volt", "egt", "rpm"), hz=2, mark="")
    rows = [
        [t, f"{c[0]} V", f"{c[1]} °C", f"{int(c[2]):,} rpm"]
        for t, c in zip([number(x, 1) for x in s.time], s.cells, strict=True)
    ]
    return log("", text(("Time (s)", *s.head), rows), s.flight())


def header_again_and_late(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=5)
    lines = text(
        ("Time (ms)", *s.head), _muddled(rng, s, s.rows([str(round(float(t) * 1000)) for t in s.time]))
    ).splitlines(True)
    for at in (700, 400):
        lines.insert(at, lines[0])
    return log("", "".join(lines), s.flight())


def mark_sep_and_remarks(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2, lang="fr", comma=True)
    body = "\ufeffsep=;\r\n# Vol du dimanche\r\n# Pilote : personne\r\n" + text(
        ("Heure", *s.head), s.rows(stamps(NOON, s.time, "%H:%M:%S,%f")), ";", "\r\n"
    )
    return log("", body.encode(), s.flight())


def status_between(rng: np.random.Generator) -> Log:
    s = sheet(rng, ("egt", "rpm"), hz=2, lang="de")
    state = np.where(s.time < 30, "Aus", np.where(s.time < 150, "Lauf", "Kühlen"))
    rows = [[c, str(w), *r] for c, w, r in zip(stamps(NOON, s.time, "%H:%M:%S.%f"), state, s.cells, strict=True)]
    return log("", text(("Zeit", "Status", *s.head), rows, ";"), s.flight())


def blanks_inside_the_time(rng: np.random.Generator) -> Log:
    """Columns by runs of blanks, and a blank between date and time."""
    s = sheet(rng, ("volt", "egt", "rpm"), hz=2, mark="")
    head = "Date        Time          RX1_voltage_V  EGT_C  RPM"
    rows = s.rows(stamps(NOON, s.time, "%Y-%m-%d"), stamps(NOON, s.time, "%H:%M:%S.%f"))
    return log("", head + "\n" + "".join("  ".join(r) + "\n" for r in rows), s.flight())


def minutes_without_letters(rng: np.random.Generator) -> Log:
    s = sheet(rng, PLACE, hz=2)
    tracks, rows = list(s.tracks), []
    for t, r in zip([number(x, 1) for x in s.time], s.cells, strict=True):
        rows.append([t, *r[:2], *(f"{int(float(v))}{(float(v) % 1) * 60:08.5f}" for v in r[2:4]), *r[4:]])
    for k in (2, 3):
        whole = np.array([int(float(r[k])) for r in s.cells])
        minute = np.array([float(f"{(float(r[k]) % 1) * 60:08.5f}") for r in s.cells])
        tracks[k] = replace(tracks[k], values=whole + minute / 60, within=2e-6)
    return log(
        "", text(("Time (s)", *s.head), rows), Flight(tuple(tracks)), fair=("unit.*", "doubtful"), refusable=True
    )


def seventh_degrees_in_a_long_table(rng: np.random.Generator) -> Log:
    s = sheet(rng, ("volt", "lat", "lon"), hz=2, mark="")
    rows = []
    for t, c in zip([number(x, 1) for x in s.time], s.cells, strict=True):
        rows += [
            [t, "RX1 voltage", c[0], "V"],
            [t, "Latitude", str(round(float(c[1]) * 1e7)), "deg*1e7"],
            [t, "Longitude", str(round(float(c[2]) * 1e7)), "deg*1e7"],
        ]
    return log(
        "",
        text(("Time (s)", "Sensor", "Value", "Unit"), rows),
        s.flight(),
        fair=("unit.*", "doubtful"),
        refusable=True,
        facts={"unit.*": "1/10000000 °"},
    )


def kilovolt_sign_by_turns(rng: np.random.Generator) -> Log:
    """Amperes and milliamperes by turns, decimal commas, late packets."""
    s = sheet(rng, ("volt", "amp", "egt"), hz=4, mark="", lang="de", comma=True)
    rows = s.rows([number(t, 2, True) for t in s.time])
    for i, r in enumerate(rows):
        r[2] = f"{r[2]} A" if i % 3 else f"{round(float(r[2].replace(',', '.')) * 1000)} mA"
    return log("", text(("Zeit (s)", *s.head), delayed(rng, rows, 0.1, (1, 3)), ";"), s.flight())


def one_sensor_repeats_in_a_stamp(rng: np.random.Generator) -> Log:
    """A long table whose voltage comes four times in each printed second, the rest once."""
    quick, slow = sheet(rng, ("volt",), hz=4, seconds=150), sheet(rng, ("egt", "rpm"), hz=1, seconds=150)
    rows = []
    for k in range(150):
        second = str(k)
        rows += [[second, quick.head[0], quick.cells[4 * k + j][0]] for j in range(4)]
        rows += [[second, h, c] for h, c in zip(slow.head, slow.cells[k], strict=True)]
    return log("", text(("Time (s)", "Sensor", "Value"), rows), Flight((*quick.tracks, *slow.tracks), 0.26))


def truncated_in_utf16(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2, lang="it")
    body = text(("Tempo (s)", *s.head), s.rows([number(t, 1) for t in s.time]), ";")[:-17]
    return log("", body.encode("utf-16"), s.flight(good=np.arange(s.time.size) < s.time.size - 1), fair=("doubtful",))


def comma_seconds_in_a_comma_table(rng: np.random.Generator) -> Log:
    """Decimal commas unquoted in a table of commas: it cannot be read."""
    s = sheet(rng, ("volt", "egt", "rpm"), hz=2, comma=True)
    body = (
        ",".join(("Time (s)", *s.head))
        + "\n"
        + "".join(",".join(r) + "\n" for r in s.rows([number(t, 1, True) for t in s.time]))
    )
    return log("", body, s.flight(), refusable=True)


def clock_stops_at_the_end(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=5)
    held = np.where(np.arange(s.time.size) < 860, s.time, s.time[860])
    return log("", text(("Time (s)", *s.head), s.rows([number(t, 1) for t in held])), s.flight(0.21))


def set_back_three_seconds(rng: np.random.Generator) -> Log:
    """The clock of the day is set back by 2.6 s in flight."""
    s = sheet(rng, hz=5)
    day = stamps(NOON, s.time - np.where(s.time < 80, 0, 2.6), "%Y-%m-%d %H:%M:%S.%f")
    return log("", text(("Time", *s.head), s.rows(day)), s.flight(0.21), lost=0.02)


def sensor_hours_beside_the_clock(rng: np.random.Generator) -> Log:
    """An hour meter of the turbine is no clock."""
    s = sheet(rng, ("egt", "rpm", "volt"), hz=2)
    rows = s.rows([number(12.31 + t / 3600, 4) for t in s.time], stamps(NOON, s.time, "%H:%M:%S.%f"))
    return log("", text(("Turbine run time (h)", "Time", *s.head), rows), s.flight())


def timer_that_counts_down(rng: np.random.Generator) -> Log:
    """A flight timer runs down beside the clock."""
    s = sheet(rng, ("volt", "rssi"), hz=2)
    down = [f"{int(max(300 - t, 0) // 60):02d}:{int(max(300 - t, 0) % 60):02d}" for t in s.time]
    return log("", text(("Timer", "Time (s)", *s.head), s.rows(down, [number(t, 1) for t in s.time])), s.flight())
