"""Logs whose shape is the matter: long tables, headings in several rows, units in cells, places, marks, encodings."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

import numpy as np

from tests.importers.timepieces.clocks import DAY, milli, written
from tests.importers.timepieces.flight import (
    ALT,
    EGT,
    LAT,
    LON,
    RPM,
    RSSI,
    USED,
    USUAL,
    VOLT,
    WORDS,
    Log,
    Sheet,
    Truth,
    across,
    body,
    cells,
    signals,
    steady,
)


def long(hand: str) -> Iterator[Log]:
    """One reading a row, and wide logs that look alike."""
    first = hand == "a"
    at = steady(60, 5)
    found = signals(at)
    whole = Truth(at, {name: found[name] for name in USUAL})
    if first:
        parts = {
            USED: ("Fuel meter", "Used", "ml"),
            RPM: ("ECU", "RPM", "rpm"),
            EGT: ("ECU", "EGT", "°C"),
            VOLT: ("Rx battery", "Voltage", "V"),
        }
        head = ["Time (s)", "Device", "Quantity", "Value", "Unit"]
    else:
        parts = {
            USED: ("Durchflussmesser", "verbraucht", "ml"),
            RPM: ("Turbine", "Drehzahl", "1/min"),
            EGT: ("Turbine", "Abgastemperatur", "°C"),
            VOLT: ("Empfängerakku", "Spannung", "V"),
        }
        head = ["Zeit [s]", "Gerät", "Messgröße", "Messwert", "Einheit"]
    mark = "," if first else ";"
    readings = {name: cells(found[name], 2 if name in (USED, VOLT) else 0, not first) for name in USUAL}
    stamp = [f"{s:.1f}" if first else f"{s:.1f}".replace(".", ",") for s in at]
    rows = [[stamp[i], parts[n][0], parts[n][1], readings[n][i], parts[n][2]] for i in range(at.size) for n in USUAL]
    yield Log("device and quantity", Sheet(head, rows, mark).bytes(), (whole,))
    rows = [[stamp[i], WORDS["en" if first else "de"][n], readings[n][i]] for i in range(at.size) for n in USUAL]
    late = [rows[p] for p in np.argsort([p + (9.5 if p % 31 == 30 else 0) for p in range(len(rows))], kind="stable")]
    yield Log(
        "quantity and value, some late",
        Sheet(["time_s", "name", "value"] if first else ["Zeit (s)", "Sensor", "Wert"], late, mark).bytes(),
        (whole,),
    )
    rows = [[stamp[i], WORDS["en" if first else "de"][n], readings[n][i]] for n in USUAL for i in range(at.size)]
    yield Log(
        "one sensor after the other",
        Sheet(["Time (s)", "Sensor", "Value"] if first else ["Zeit (s)", "Kanal", "Wert"], rows, mark).bytes(),
        (whole,),
    )
    states = ["OFF", "START", "RUN", "RUN", "RUN", "COOL"] if first else ["aus", "Anlauf", "Lauf", "Lauf", "Nachlauf"]
    state = [states[int(i * len(states) / at.size)] for i in range(at.size)]
    names = (USED, VOLT)
    headings, columns, truth = body(at, "en" if first else "de", names)
    head = ["Time (s)", "Status", *headings] if first else ["Zeit (s)", *headings, "Zustand"]
    rows = across(stamp, state, *columns) if first else across([t.replace(",", ".") for t in stamp], *columns, state)
    yield Log("wide with a status", Sheet(head, rows, mark).bytes(), (truth,))
    blocks = []
    used = (RPM, USED) if first else (USED, VOLT, EGT)
    for name in used:
        blocks += [f"Sensor: {WORDS['en'][name]}", f"Time (s){mark}{'Value' if first else 'Reading'}"]
        blocks += [*(t + mark + v for t, v in zip(stamp, readings[name], strict=True)), ""]
    yield Log(
        "a block a sensor",
        "\n".join(blocks).encode(),
        (Truth(at, {n: found[n] for n in used}),),
        open_to=frozenset({"refuse", "ask"}),
    )
    keyed = [
        [
            stamp[i].replace(",", "."),
            *(
                f"{label}={readings[n][i].replace(',', '.')}"
                for label, n in (("fuel_used_ml", USED), ("rpm", RPM), ("egt_c", EGT))
            ),
        ]
        for i in range(at.size)
    ]
    head = ["time_s", "", "", ""] if first else []
    yield Log(
        "name and value in each cell",
        Sheet(head, keyed, "," if first else " ").bytes(),
        (Truth(at, {n: found[n] for n in (USED, RPM, EGT)}),),
        open_to=frozenset({"refuse", "ask"}),
    )
    kept = USUAL if first else USUAL[:2]
    turned = [
        ["Time (s)", *(f"{s:.1f}" for s in at)],
        *([WORDS["en"][n], *(v.replace(",", ".") for v in readings[n])] for n in kept),
    ]
    yield Log(
        "one sensor a line",
        Sheet([], turned, "," if first else "\t").bytes(),
        (Truth(at, {n: found[n] for n in kept}),),
        open_to=frozenset({"refuse", "ask"}),
    )


def heads(hand: str) -> Iterator[Log]:
    """Headings in two rows, again, in blocks, twice the same, or none."""
    first = hand == "a"
    at = steady(60, 5)
    language = "en" if first else "de"
    mark = "," if first else ";"
    headings, columns, truth = body(at, language)
    stamp = [f"{s:.1f}" for s in at]
    rows = across(stamp, *columns)
    if first:
        sheet = Sheet(
            ["", "Fuel", "Turbine", "", "Rx battery"],
            [["Time (s)", "Used (ml)", "Speed (rpm)", "EGT (°C)", "Voltage (V)"], *rows],
        )
    else:
        sheet = Sheet(
            ["Zeit", "Kraftstoff verbraucht", "Drehzahl", "Abgastemperatur", "Empfängerakku Spannung"],
            [["s", "ml", "1/min", "°C", "V"], *rows],
            mark,
        )
    yield Log("two rows of headings", sheet.bytes(), (truth,))
    head = ["Time (s)" if first else "Zeit (s)", *headings]
    again = [*rows[:100], head, *rows[100:200], head, *rows[200:]]
    yield Log("headings again", Sheet(head, again, mark).bytes(), (truth,))
    second = steady(48, 5)
    _, more, other = body(second, language, shift=400.0)
    rows2 = across([f"{s:.1f}" for s in second], *more)
    if first:
        yield Log("two flights, the clock anew", Sheet(head, [*rows, *rows2]).bytes(), (truth, other))
        day = written(at, lambda m: f"{m:%Y-%m-%d} {milli(m)}") + written(
            second, lambda m: f"{m:%Y-%m-%d} {milli(m)}", DAY + timedelta(hours=2)
        )
        both = [[t, *row[1:]] for t, row in zip(day, [*rows, *rows2], strict=True)]
        yield Log("two flights, dated", Sheet(["Date time", *headings], both).bytes(), (truth, other), start=DAY)
    else:
        text = "\n".join(
            [
                "Flug 1",
                mark.join(head),
                *map(mark.join, rows),
                "",
                "Flug 2",
                mark.join(head),
                *map(mark.join, rows2),
                "",
            ]
        )
        yield Log("two flights with titles", text.encode(), (truth, other))
        text = "\n".join([mark.join(head), *map(mark.join, rows), "", "", *map(mark.join, rows2), ""])
        yield Log("two flights, empty lines", text.encode(), (truth, other))
    names = (USED, VOLT, RSSI)
    _, columns, truth = body(at, language, names)
    _, other_columns, _ = body(at, language, (VOLT,), shift=31.0)
    if first:
        head = ["Time (s)", "Fuel used (ml)", "Rx battery 1 voltage (V)", "Rx battery 2 voltage (V)", "RSSI (dBm)"]
        yield Log(
            "two alike",
            Sheet(head, across(stamp, columns[0], columns[1], other_columns[0], columns[2])).bytes(),
            (Truth(at, {USED: truth.columns[USED], RSSI: truth.columns[RSSI]}),),
        )
    else:
        head = ["Zeit (s)", "Kraftstoff verbraucht (ml)", "Empfängerakku (V)", "Empfängerakku (V)", "RSSI (dBm)"]
        yield Log(
            "two alike",
            Sheet(head, across(stamp, columns[0], columns[1], other_columns[0], columns[2]), mark).bytes(),
            (Truth(at, {USED: truth.columns[USED], RSSI: truth.columns[RSSI]}),),
        )
    yield Log("no headings", Sheet([], rows, mark).bytes(), (Truth(at, {}),), open_to=frozenset({"refuse", "ask"}))
    above = (
        ["Logger of the club", "Model: Plover, invented", "Pilot; nobody", ""]
        if first
        else ["Modell;Plover, erfunden", "Datum;15.06.2024", "Firmware;2.1", "Anzahl;300", ""]
    )
    _, columns, truth = body(at, language)
    yield Log(
        "lines above",
        Sheet(["Time (s)" if first else "Zeit (s)", *headings], across(stamp, *columns), mark, above).bytes(),
        (truth,),
    )


def inside(hand: str) -> Iterator[Log]:
    """Units, states and several numbers inside a cell; places in their many forms."""
    first = hand == "a"
    at = steady(60, 5)
    language, mark = ("en", ",") if first else ("de", ";")
    found = signals(at)
    stamp = [f"{s:.1f}" for s in at]
    told_at = cells(at, 1, not first)
    names = {USED: "ml", RPM: "rpm", EGT: "°C", VOLT: "V"}
    head = ["Time", *(WORDS[language][n].rsplit(" (", 1)[0] for n in names)]
    columns = [cells(found[n], 2 if n in (USED, VOLT) else 0, not first) for n in names]
    usual = Truth(at, {n: found[n] for n in names})
    gap = "" if first else " "
    united = [[cell + gap + unit for cell in column] for column, unit in zip(columns, names.values(), strict=True)]
    yield Log("units in cells", Sheet(head, across([t + gap + "s" for t in told_at], *united), mark).bytes(), (usual,))
    ok = ["OK", "OK", "OK", "LOW"] if first else ["gut", "gut", "gut", "niedrig"]
    told = [cell + gap + "V " + ok[i % 4] for i, cell in enumerate(columns[3])]
    yield Log(
        "unit and state in cells",
        Sheet(head, across([t + gap + "s" for t in told_at], *united[:3], told), mark).bytes(),
        (usual,),
    )
    lat, lon, alt = found[LAT], found[LON], found[ALT]
    where = Truth(at, {USED: found[USED], LAT: lat, LON: lon})
    place = Truth(at, {USED: found[USED], LAT: lat, LON: lon, ALT: alt})
    used = cells(found[USED], 2)
    base = ["Time (s)", "Fuel used (ml)"]
    if first:
        one = [f"{a:.6f},{o:.6f},{h:.1f}" for a, o, h in zip(lat, lon, alt, strict=True)]
        yield Log(
            "place in one cell",
            Sheet([*base, "lat,lon,alt"], across(stamp, used, one)).bytes(),
            (place,),
        )
        two = [f"{a:.6f} {o:.6f}" for a, o in zip(lat, lon, strict=True)]
        yield Log("place in one cell, spaces", Sheet([*base, "GPS"], across(stamp, used, two)).bytes(), (where,))
        minutes = [[f"{int(v) * 100 + (v - int(v)) * 60:.4f}" for v in column] for column in (lat, lon)]
        yield Log(
            "degrees and minutes",
            Sheet(
                [*base, "Latitude", "N/S", "Longitude", "E/W"],
                across(stamp, used, minutes[0], ["N"] * at.size, minutes[1], ["E"] * at.size),
            ).bytes(),
            (where,),
        )
        yield Log(
            "whole numbers of degrees",
            Sheet(
                [*base, "lat", "lon"],
                across(stamp, used, [f"{v * 1e7:.0f}" for v in lat], [f"{v * 1e7:.0f}" for v in lon]),
            ).bytes(),
            (where,),
        )
        yield Log(
            "letters in front",
            Sheet(
                [*base, "Latitude", "Longitude"],
                across(stamp, used, [f"N{v:.6f}" for v in lat], [f"E{v:.6f}" for v in lon]),
            ).bytes(),
            (where,),
        )
    else:
        one = [f"{a:.6f} {o:.6f} {h:.1f}" for a, o, h in zip(lat, lon, alt, strict=True)]
        yield Log(
            "place in one cell",
            Sheet([*base, "Position (lat lon alt)"], across(stamp, used, one), ";").bytes(),
            (place,),
        )
        two = [f"({a:.6f}, {o:.6f})" for a, o in zip(lat, lon, strict=True)]
        yield Log(
            "place in one cell, brackets",
            Sheet([*base, "Coordinates"], across(stamp, used, two), "\t").bytes(),
            (where,),
        )
        minutes = [
            [f"{int(v):0{w}d}°{(v - int(v)) * 60:07.4f}'{letter}" for v in column]
            for column, w, letter in ((lat, 2, "N"), (lon, 3, "E"))
        ]
        yield Log(
            "degrees and minutes",
            Sheet([*base, "Breite", "Länge"], across(stamp, used, *minutes), ";").bytes(),
            (where,),
        )
        yield Log(
            "whole numbers of degrees",
            Sheet(
                [*base, "lat_1e6", "lon_1e6"],
                across(stamp, used, [f"{v * 1e6:.0f}" for v in lat], [f"{v * 1e6:.0f}" for v in lon]),
            ).bytes(),
            (where,),
        )
        yield Log(
            "letters behind",
            Sheet(
                [*base, "Latitudine", "Longitudine"],
                across(stamp, used, [f"{v:.6f} N" for v in lat], [f"{v:.6f} W" for v in lon]),
                ";",
            ).bytes(),
            (Truth(at, {USED: found[USED], LAT: lat, LON: -lon}),),
        )
        seconds = [[f"{int(v)}°{int(v % 1 * 60)}'{v * 3600 % 60:.3f}\"" for v in column] for column in (lat, lon)]
        yield Log(
            "degrees, minutes, seconds",
            Sheet([*base, "Latitude", "Longitude"], across(stamp, used, *seconds), ";").bytes(),
            (where,),
            within=0.02,
        )


def marks(hand: str) -> Iterator[Log]:
    """Delimiters, quotes, encodings, ends of lines."""
    first = hand == "a"
    at = steady(50, 5)
    language = "en" if first else "fr"
    headings, columns, truth = body(at, language)
    head = ["Time (s)" if first else "Temps (s)", *headings]
    rows = across([f"{s:.1f}" for s in at], *columns)
    yield Log("quoted", Sheet(head, rows, "," if first else ";", quoted=True).bytes(), (truth,))
    yield Log("tabs" if first else "pipes", Sheet(head, rows, "\t" if first else "|").bytes(), (truth,))
    width = [max(len(row[c]) for row in [head, *rows]) + 2 for c in range(len(head))]
    fixed = [
        [cell.rjust(w) if first else cell.ljust(w) for cell, w in zip(row, width, strict=True)] for row in [head, *rows]
    ]
    yield Log("fixed width", "\n".join("".join(row) for row in fixed).encode(), (truth,))
    yield Log(
        "UTF-16",
        Sheet(head, rows, "," if first else "\t", end="\r\n").text().encode("utf-16" if first else "utf-16-be"),
        (truth,),
    )
    yield Log(
        "BOM" if first else "code page",
        Sheet(head, rows, ";", encoding="utf-8-sig" if first else "cp1252").bytes(),
        (truth,),
    )
    yield Log("ends of lines", Sheet(head, rows, end="\r" if first else "\r\n").bytes(), (truth,))
    yield Log("sep line", Sheet(head, rows, ";" if first else "\t", ["sep=;" if first else "sep=\t"]).bytes(), (truth,))
    yield Log(
        "mark behind" if first else "empty columns",
        Sheet(
            [*head, ""] if first else [*head[:2], "", *head[2:], "", ""],
            [[*row, ""] if first else [*row[:2], "", *row[2:], "", ""] for row in rows],
        ).bytes(),
        (truth,),
    )
    if first:
        yield Log("mark behind rows only", Sheet(head, [[*row, ""] for row in rows]).bytes(), (truth,))
    else:
        spaced = [[f"  {cell} " for cell in row] for row in [head, *rows]]
        yield Log("blanks around", Sheet([], spaced, ";").bytes(), (truth,))


def endings(hand: str) -> Iterator[Log]:
    """Comments, footers, cut lines, words for nothing, thousands, decimal commas."""
    first = hand == "a"
    at = steady(50, 5)
    language = "en" if first else "it"
    headings, columns, truth = body(at, language)
    head = ["Time (s)" if first else "Tempo (s)", *headings]
    rows = across([f"{s:.1f}" for s in at], *columns)
    mark = "," if first else ";"
    lines = [mark.join(row) for row in rows]
    sign = "#" if first else "//"
    noted = [
        sign + " take-off" if i == 60 else "" + sign + " landed; all good" if i == 200 else None
        for i in range(len(lines))
    ]
    text = [mark.join(head)]
    for line, note in zip(lines, noted, strict=True):
        text += [note] if note else []
        text.append(line)
    yield Log("comments between", ("\n".join(text) + "\n").encode(), (truth,))
    numbers = np.array([[float(cell) for cell in row] for row in rows])
    words = ("Min", "Max", "Mean") if first else ("Minimo", "Massimo", "Media")
    foot = [
        mark.join([word, *(f"{v:.2f}" for v in fold(numbers[:, 1:], axis=0))])
        for word, fold in zip(words, (np.min, np.max, np.mean), strict=True)
    ]
    yield Log(
        "statistics below",
        ("\n".join([mark.join(head), *lines, *(["", *foot] if first else foot)]) + "\n").encode(),
        (truth,),
    )
    cut = "\n".join([mark.join(head), *lines])[: -9 if first else -4]
    short = Truth(truth.at[:-1], {n: v[:-1] for n, v in truth.columns.items()})
    yield Log("cut last line", cut.encode(), (short,), or_else=((truth,),))
    nothing = (
        ["n/a", "NaN", "---", "no data", "invalid"]
        if first
        else ["n.d.", "k.A.", "sin dato", "non disponible", "ungültig"]
    )
    holes = {}
    gone = [list(row) for row in rows]
    for c, name in enumerate(USUAL):
        values = truth.columns[name].copy()
        for place in range(c + 3, at.size, 11 + c):
            if name != USED:
                gone[place][c + 1] = nothing[(place + c) % len(nothing)]
                values[place] = np.nan
        holes[name] = values
    yield Log("words for nothing", Sheet(head, gone, mark).bytes(), (Truth(at, holes),))
    thousands = [
        [f"{float(row[2]):,.1f}" if first else f"{float(row[2]):,.1f}".replace(",", " ").replace(".", ",")]
        for row in rows
    ]
    dressed = [
        [*row[:2], t[0], *row[3:]]
        if first
        else [*(c.replace(".", ",") for c in row[:2]), t[0], *(c.replace(".", ",") for c in row[3:])]
        for row, t in zip(rows, thousands, strict=True)
    ]
    yield Log("thousands", Sheet(head, dressed, mark).bytes(), (truth,))
    dotted = [
        [
            *(c.replace(".", ",") for c in row[:2]),
            f"{float(row[2]):,.0f}".replace(",", "." if first else "'"),
            *(c.replace(".", ",") for c in row[3:]),
        ]
        for row in rows
    ]
    yield Log("thousands, decimal comma", Sheet(head, dotted, ";" if first else "\t").bytes(), (truth,))
    commas = [[c.replace(".", ",") for c in row] for row in rows]
    yield Log("decimal comma", Sheet(head, commas, "\t" if first else ",").bytes(), (truth,))
    if first:
        bare = "\n".join([",".join(head), *(",".join(row) for row in commas)]) + "\n"
        yield Log("decimal comma, bare", bare.encode(), (truth,), open_to=frozenset({"refuse", "ask"}))
        signs = [[*row[:1], "+" + row[1], *row[2:]] for row in rows]
        yield Log("signs", Sheet(head, signs).bytes(), (truth,))
    else:
        power = [[*row[:2], f"{float(row[2]):.4E}", *row[3:]] for row in rows]
        yield Log("powers of ten", Sheet(head, power, mark).bytes(), (truth,))
        heads_, columns_, truth_ = body(at, "en", (USED, RSSI, VOLT))
        minus = [cell.replace("-", "\u2212") for cell in columns_[1]]
        yield Log(
            "typeset minus",
            Sheet(
                ["Time (s)", *heads_], across([f"{s:.1f}" for s in at], columns_[0], minus, columns_[2]), mark
            ).bytes(),
            (truth_,),
        )
    ragged = [row[:-1] if i in (40, 41) else [*row, "x"] if i == 120 else row for i, row in enumerate(rows)]
    volts = truth.columns[VOLT].copy()
    volts[[40, 41]] = np.nan
    keep = np.ones(at.size, bool)
    keep[[40, 41, 120]] = False
    some = Truth(at[keep], {n: v[keep] for n, v in truth.columns.items()})
    yield Log(
        "ragged rows",
        Sheet(head, ragged, mark).bytes(),
        (Truth(at, {**truth.columns, VOLT: volts}),),
        or_else=((some,),),
    )


KINDS = (long, heads, inside, marks, endings)
