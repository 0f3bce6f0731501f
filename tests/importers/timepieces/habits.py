"""Further habits, by a third hand, written once the logs of the first two were read right."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta

import numpy as np

from tests.importers.timepieces.clocks import DAY, late, milli, moments, plain, written
from tests.importers.timepieces.flight import (
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

ASK = frozenset({"ask"})
NO = frozenset({"ask", "refuse"})


def clocks(hand: str) -> Iterator[Log]:
    """Clocks in the habits of recorders and spreadsheets."""
    at = steady(60, 5)
    now = moments(at)
    run = [f"{s:.1f}" for s in at]
    day = [f"{m:%d.%m.%y}" for m in now]
    yield plain(
        "date and time apart, short year",
        "Datum",
        day,
        at,
        language="de",
        mark=";",
        more=[("Zeit", written(at, milli))],
        start=DAY,
    )
    yield plain(
        "day above", "Uhrzeit", written(at, milli), at, language="de", mark=";", above=["Datum: 15.06.2024"], start=DAY
    )
    yield plain(
        "hundredths apart",
        "Time",
        written(at, lambda m: f"{m:%H:%M:%S}"),
        at,
        more=[("1/100 s", [f"{m.microsecond // 10_000:02d}" for m in now])],
    )
    yield plain("zulu time alone", "GPS time", written(at, lambda m: milli(m) + "Z"), at)
    yield plain("hours without a leading nought", "Elapsed", [f"0:{int(s // 60):02d}:{s % 60:04.1f}" for s in at], at)
    yield plain("since take-off", "T", [f"T+{s:.1f}" for s in at], at, open_to=ASK)
    yield plain("plus before", "Time (s)", [f"+{s:.1f}" for s in at], at)
    yield plain("powers of ten", "time/s", [f"{s:.4E}" for s in at], at)
    in_words = {
        "de": "Zeit in Sekunden",
        "fr": "Temps écoulé en secondes",
        "es": "Tiempo transcurrido [s]",
        "it": "Secondi dall'inizio",
    }
    for language, heading in in_words.items():
        yield plain(f"in words, {language}", heading, run, at, language=language, mark=";")
    yield plain(
        "flight time and time of day",
        "Flugzeit",
        [f"{int(s // 60):02d}:{int(s % 60):02d}" for s in at],
        at,
        language="de",
        mark=";",
        more=[("Uhrzeit", written(at, milli))],
    )
    whole = written(at, lambda m: f"{m:%Y-%m-%d %H:%M:%S}")
    yield plain("whole seconds, some late", "Timestamp", whole, at, order=late(at.size, 17, 2), start=DAY, within=0.9)
    gone = [t if i % 9 else "" for i, t in enumerate(run)]
    keep = np.arange(at.size) % 9 != 0
    headings, columns, truth = body(at)
    some = Truth(at[keep], {n: v[keep] for n, v in truth.columns.items()})
    yield Log(
        "times missing here and there",
        Sheet(["Time (s)", *headings], across(gone, *columns)).bytes(),
        (Truth(some.at - some.at[0], some.columns),),
        or_else=((truth,),),
        within=0.25,
    )
    sparse = [t if i % 5 == 0 else "" for i, t in enumerate(written(at, lambda m: f"{m:%H:%M:%S}"))]
    yield Log("a time each second", Sheet(["Time", *headings], across(sparse, *columns)).bytes(), (truth,), within=1.0)
    yield Log(
        "wrap at 24 bits",
        Sheet(
            ["time (ms)", *headings], across([str((int(s * 1000) + 2**24 - 20_000) % 2**24) for s in at], *columns)
        ).bytes(),
        (truth,),
    )
    yield plain("day of the year", "UTC", written(at, lambda m: f"{m:%Y-%j} {milli(m)}"), at, start=DAY)
    yield plain(
        "year last",
        "time",
        written(at, lambda m: f"{m:%H:%M:%S}.{m.microsecond // 1000:03d} {m:%d/%m/%Y}"),
        at,
        start=DAY,
        open_to=NO,
    )
    yield plain(
        "underscores",
        "time",
        written(at, lambda m: f"{m:%Y_%m_%d_%H_%M_%S}_{m.microsecond // 1000:03d}"),
        at,
        start=DAY,
    )
    seconds_of_day = [f"{m.hour * 3600 + m.minute * 60 + m.second + m.microsecond / 1e6:.1f}" for m in now]
    yield plain("seconds of the day", "Sekunden seit Mitternacht", seconds_of_day, at, language="de", mark=";")
    yield plain(
        "fractions of a day",
        "Zeit",
        [f"{(s + 50585) / 86400:.9f}" for s in at],
        at,
        language="de",
        mark=";",
        open_to=ASK,
    )
    step = np.where(at >= 25, timedelta(hours=2).total_seconds(), 0.0)
    yield plain(
        "zone chosen in flight", "Time", written(at + step, lambda m: f"{m:%Y-%m-%d} {milli(m)}"), at, within=0.25
    )
    turn = written(at, lambda m: f"{m:%d.%m.%Y} {milli(m)}", datetime(2023, 12, 31, 23, 59, 40))
    yield plain("new year", "Zeitpunkt", turn, at, language="de", mark=";", start=datetime(2023, 12, 31, 23, 59, 40))


def tables(hand: str) -> Iterator[Log]:
    """Tables in the habits of recorders and spreadsheets."""
    at = steady(60, 5)
    headings, columns, truth = body(at)
    head = ["Time (s)", *headings]
    rows = across([f"{s:.1f}" for s in at], *columns)
    lines = [",".join(row) for row in [head, *rows]]
    yield Log("header behind a mark", ("# " + "\n".join(lines) + "\n").encode(), (truth,))
    ruled = ["| " + " | ".join(row) + " |" for row in [head, ["---"] * 5, *rows]]
    yield Log("bars at both ends", ("\n".join(ruled) + "\n").encode(), (truth,))
    yield Log(
        "formulas",
        "\n".join([",".join(head), *(",".join(f'="{c}"' for c in row) for row in rows), ""]).encode(),
        (truth,),
        open_to=NO,
    )
    yield Log("ends with words", ("\n".join([*lines, "", "End of log", "300 rows written"]) + "\n").encode(), (truth,))
    broken = [[*row[:4], "ERR" if i in (70, 71) else "overflow" if i == 200 else row[4]] for i, row in enumerate(rows)]
    volts = truth.columns[VOLT].copy()
    volts[[70, 71, 200]] = np.nan
    yield Log("errors in cells", Sheet(head, broken).bytes(), (Truth(at, {**truth.columns, VOLT: volts}),))
    yield Log(
        "headings over two lines", Sheet([h.replace(" (", "\n(") for h in head], rows, quoted=True).bytes(), (truth,)
    )
    yield Log(
        "sep, mark and ends",
        ("\ufeffsep=,\r\n" + "\r\n".join(line + "," for line in lines) + "\r\n").encode(),
        (truth,),
    )
    yield Log(
        "units in brackets below",
        Sheet(
            ["Time", "Fuel used", "Shaft speed", "EGT", "Rx battery voltage"],
            [["[s]", "[ml]", "[rpm]", "[°C]", "[V]"], *rows],
        ).bytes(),
        (truth,),
    )
    yield Log("empty lines between", "\n\n".join(lines).encode() + b"\n", (truth,))
    yield Log("exported twice", ("\n".join([*lines, *lines[1:]]) + "\n").encode(), (truth,), or_else=((truth, truth),))
    found = signals(at)
    share = {USED: cells(found[USED], 2), RSSI: [f"{v:.0f} dBm" for v in found[RSSI]]}
    yield Log(
        "one column with its unit",
        Sheet(["Time (s)", "Fuel used (ml)", "RSSI"], across([r[0] for r in rows], share[USED], share[RSSI])).bytes(),
        (Truth(at, {USED: found[USED], RSSI: found[RSSI]}),),
    )
    lat, lon = found[LAT], found[LON]
    split = [
        [f"{int(v)}" for v in lat],
        [f"{(v - int(v)) * 60:.5f}" for v in lat],
        [f"{int(v)}" for v in lon],
        [f"{(v - int(v)) * 60:.5f}" for v in lon],
    ]
    yield Log(
        "degrees and minutes apart",
        Sheet(
            ["Time (s)", "Fuel used (ml)", "Lat deg", "Lat min", "Lon deg", "Lon min"],
            across([r[0] for r in rows], share[USED], *split),
        ).bytes(),
        (Truth(at, {USED: found[USED], LAT: lat, LON: lon}),),
        open_to=NO,
    )
    comma = [[c.replace(".", ",") for c in cells(v, 6)] for v in (lat, lon)]
    yield Log(
        "places with decimal comma",
        Sheet(
            ["Zeit (s)", "Kraftstoff verbraucht (ml)", "Breite", "Länge"],
            across([r[0].replace(".", ",") for r in rows], [u.replace(".", ",") for u in share[USED]], *comma),
            ";",
        ).bytes(),
        (Truth(at, {USED: found[USED], LAT: lat, LON: lon}),),
    )
    slow = steady(60, 2)
    other = signals(slow)
    pairs = [
        [f"{at[i]:.1f}", share[USED][i], *([f"{slow[i]:.1f}", f"{other[EGT][i]:.0f}"] if i < slow.size else ["", ""])]
        for i in range(at.size)
    ]
    yield Log(
        "a clock a sensor",
        Sheet(["Time (s)", "Fuel used (ml)", "Time (s)", "EGT (°C)"], pairs).bytes(),
        (Truth(at, {USED: found[USED]}),),
        open_to=NO,
    )
    long = [
        [f"{at[i]:.1f}", WORDS["en"][n], cells(found[n], 2 if n in (USED, VOLT) else 0)[i]]
        for i in range(at.size - 1, -1, -1)
        for n in USUAL
    ]
    yield Log("newest first, a reading a row", Sheet(["Time (s)", "Channel", "Value"], long).bytes(), (truth,))
    three = [
        [f"{at[i]:.1f}", g, n2, v]
        for i in range(at.size)
        for g, n2, v in (
            ("Engine", "RPM", cells(found[RPM], 0)[i]),
            ("Engine", "EGT (°C)", cells(found[EGT], 0)[i]),
            ("Tank", "Fuel used (ml)", share[USED][i]),
        )
    ]
    yield Log(
        "group and signal",
        Sheet(["Time (s)", "Group", "Signal", "Value"], three).bytes(),
        (Truth(at, {n: found[n] for n in (USED, RPM, EGT)}),),
    )
    dashes = "\n".join([lines[0], "-" * 60, *lines[1:], "-" * 60, "rows: 300"]) + "\n"
    yield Log("drawn lines", dashes.encode(), (truth,))
    spaced = [[*row[:2], f"{float(row[2]):,.0f}".replace(",", "\u202f"), *row[3:]] for row in rows]
    yield Log("narrow blanks in numbers", Sheet(head, spaced, ";").bytes(), (truth,))


KINDS = (clocks, tables)
