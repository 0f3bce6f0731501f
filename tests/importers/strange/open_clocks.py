"""Strange clocks of the first hand: somebody who watches radio packets on a field in five languages."""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np

from tests.importers.strange.truth import Log
from tests.importers.strange.world import even, uneven
from tests.importers.strange.writing import PLACE, RADIO, delayed, log, milli, number, sheet, stamps, text

START = datetime(2026, 6, 15, 14, 3, 11, 250_000)


def _ms(time: np.ndarray, first: int = 0) -> list[str]:
    return [str(round(float(t) * 1000) + first) for t in time]


def late_one_in_25(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=5)
    rows = delayed(rng, s.rows(_ms(s.time, 8123)), 0.04, (1, 4))
    return log("", text(("Time (ms)", *s.head), rows), s.flight())


def late_one_in_7(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=5)
    rows = delayed(rng, s.rows(_ms(s.time, 8123)), 0.14, (1, 6))
    return log("", text(("Time (ms)", *s.head), rows), s.flight())


def late_one_in_3_uneven(rng: np.random.Generator) -> Log:
    s = sheet(rng, time=uneven(rng, 150, 5))
    rows = delayed(rng, s.rows([number(t, 3) for t in s.time]), 0.33, (1, 5))
    return log("", text(("Time (s)", *s.head), rows), s.flight())


def blocks_delayed(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=5)
    rows = s.rows(_ms(s.time))
    for at in (100, 330, 610):
        block = rows[at : at + 12]
        rows[at : at + 12] = []
        rows[at + 25 : at + 25] = block
    return log("", text(("ms", *s.head), rows), s.flight())


def long_block_delayed(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=5)
    rows = s.rows(stamps(START, s.time, "%H:%M:%S.%f"))
    block = rows[200:260]
    rows[200:260] = []
    rows[500:500] = block
    return log("", text(("Time", *s.head), rows), s.flight())


def sent_again_after_reconnect(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=5)
    rows = s.rows(_ms(s.time))
    for at in (700, 430, 160):
        rows[at:at] = rows[at - 20 : at]
    return log("", text(("Time (ms)", *s.head), rows), s.flight())


def sent_again_with_other_cells(rng: np.random.Generator) -> Log:
    """A packet that comes twice has a receive counter and a signal of its own; the same device time."""
    s = sheet(rng, ("volt", "amp", "egt", "rpm", "alt"), hz=5)
    rows = s.rows(_ms(s.time))
    out = []
    for i, row in enumerate(rows):
        out.append(row)
        if i > 5 and rng.random() < 0.08:
            out.append(list(row))
    out = [[str(n), *r] for n, r in enumerate(out)]
    return log("", text(("Packet no", "Time (ms)", *s.head), out), s.flight())


def swapped_pairs(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=5)
    rows = s.rows([number(t, 2) for t in s.time])
    i = 4
    while i < len(rows) - 2:
        if rng.random() < 0.1:
            rows[i], rows[i + 1] = rows[i + 1], rows[i]
            i += 1
        i += 1
    return log("", text(("Time (s)", *s.head), rows), s.flight())


def _muddle(rng: np.random.Generator, rows: list[list[str]]) -> list[list[str]]:
    again = [r for row in rows for r in ([row, row] if rng.random() < 0.06 else [row])]
    late = delayed(rng, again, 0.08, (1, 5))
    i = 4
    while i < len(late) - 2:
        if rng.random() < 0.06:
            late[i], late[i + 1] = late[i + 1], late[i]
            i += 1
        i += 1
    return late


def late_repeated_swapped(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=5)
    return log("", text(("Time (ms)", *s.head), _muddle(rng, s.rows(_ms(s.time, 5000)))), s.flight())


def late_repeated_swapped_of_the_day(rng: np.random.Generator) -> Log:
    s = sheet(rng, time=uneven(rng, 150, 6))
    rows = _muddle(rng, s.rows(stamps(START, s.time, "%H:%M:%S.%f")))
    return log("", text(("Time", *s.head), rows, ";"), s.flight())


def late_repeated_swapped_slow(rng: np.random.Generator) -> Log:
    s = sheet(rng, seconds=400, hz=1)
    rows = _muddle(rng, s.rows(stamps(START.replace(microsecond=0), s.time, "%Y-%m-%d %H:%M:%S")))
    return log("", text(("Time", *s.head), rows), s.flight())


def late_repeated_swapped_wrapping(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=5)
    rows = _muddle(rng, s.rows([str((round(float(t) * 1000) + 20_000) % 65536) for t in s.time]))
    return log("", text(("ms", *s.head), rows), s.flight())


def late_repeated_swapped_long(rng: np.random.Generator) -> Log:
    """The same in a long table: each reading is a packet."""
    s = sheet(rng, hz=2, seconds=120)
    rows = []
    for i, row in enumerate(s.cells):
        rows += [[str(round(float(s.time[i]) * 1000)), h, c] for h, c in zip(s.head, row, strict=True)]
    return log("", text(("Time (ms)", "Sensor", "Value"), _muddle(rng, rows)), s.flight())


def late_in_shared_seconds(rng: np.random.Generator) -> Log:
    """Five rows share a printed second; a late one is put back among its own."""
    s = sheet(rng, hz=5)
    rows = delayed(rng, s.rows(stamps(START, s.time, "%H:%M:%S")), 0.04, (5, 9))
    return log("", text(("Time", *s.head), rows), s.flight(1.01))


def whole_seconds_five_hertz(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=5)
    return log("", text(("Time", *s.head), s.rows(stamps(START, s.time, "%H:%M:%S"))), s.flight(0.21))


def sequence_rolls_over(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=5)
    numbers = [str((i + 200) % 256) for i in range(s.time.size)]
    return log("", text(("Seq", "Time (s)", *s.head), s.rows(numbers, [number(t, 1) for t in s.time])), s.flight())


def sequence_first_then_clock_late(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=5)
    numbers = [str((i + 200) % 256) for i in range(s.time.size)]
    rows = delayed(rng, s.rows(numbers, [number(t, 1) for t in s.time]), 0.08, (1, 3))
    return log("", text(("SeqNo", "Time (s)", *s.head), rows), s.flight())


def two_clocks_in_two_columns(rng: np.random.Generator) -> Log:
    s = sheet(rng, time=uneven(rng, 150, 4))
    gps = stamps(START - timedelta(hours=2), np.floor(s.time), "%H:%M:%S")
    return log("", text(("Time (ms)", "GPS clock", *s.head), s.rows(_ms(s.time), gps)), s.flight(), fair=("clock",))


def two_devices_two_clocks(rng: np.random.Generator) -> Log:
    """Rows of two devices in turn, each with its own clock: no one time for both can be known from one column."""
    s = sheet(rng, hz=4)
    rows = []
    for row in s.rows(_ms(s.time)):
        rows.append(["RX", *row])
        rows.append(["ECU", str(int(row[0]) + 5_000_123), *["" for _ in s.head]])
    return log("", text(("Device", "Time (ms)", *s.head), rows), s.flight(), refusable=True, fair=("*",))


def wraps_16_bits(rng: np.random.Generator) -> Log:
    s = sheet(rng, time=uneven(rng, 170, 5))
    ticks = [str((round(float(t) * 1000) + 60_000) % 65536) for t in s.time]
    return log("", text(("Time (ms)", *s.head), s.rows(ticks)), s.flight())


def wraps_32_bits_us(rng: np.random.Generator) -> Log:
    s = sheet(rng, time=uneven(rng, 150, 5, resolution=0.001))
    ticks = [str((round(float(t) * 1e6) + 4_250_000_000) % 2**32) for t in s.time]
    return log("", text(("Timestamp (us)", *s.head), s.rows(ticks)), s.flight())


def wraps_to_negative(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=5)
    ticks = [str((round(float(t) * 1000) + 2_147_400_000 + 2**31) % 2**32 - 2**31) for t in s.time]
    return log("", text(("millis", *s.head), s.rows(ticks)), s.flight())


def wraps_without_unit(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=5)
    ticks = [str((round(float(t) * 1000) + 40_000) % 65536) for t in s.time]
    return log("", text(("tick", *s.head), s.rows(ticks)), s.flight(), fair=("time_unit",), facts={"time_unit": "ms"})


def minutes_wrap_at_the_hour(rng: np.random.Generator) -> Log:
    """Only minutes, seconds and tenths are printed: 59:59.8, 00:00.0."""
    s = sheet(rng, hz=5)
    made = [f"{int(t // 60) % 60:02d}:{t % 60:04.1f}" for t in np.round(s.time + 3520, 1)]
    return log(
        "", text(("Time (mm:ss.s)", *s.head), s.rows(made)), s.flight(), fair=("minutes",), facts={"minutes": "mm:ss"}
    )


def minutes_beyond_sixty(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2)
    made = [f"{int(t // 60)}:{t % 60:04.1f}" for t in np.round(s.time + 3500, 1)]
    return log("", text(("Elapsed", *s.head), s.rows(made)), s.flight(), fair=("minutes",), facts={"minutes": "mm:ss"})


def over_midnight(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=4)
    return log(
        "",
        text(("Time", *s.head), s.rows(stamps(datetime(2026, 6, 15, 23, 58, 30), s.time, "%H:%M:%S.%f"))),
        s.flight(),
    )


def over_midnight_late(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=4)
    rows = s.rows(stamps(datetime(2026, 6, 15, 23, 58, 30), s.time, "%H:%M:%S.%f"))
    return log("", text(("Time", *s.head), delayed(rng, rows, 0.2, (1, 4))), s.flight())


def noon_with_pm(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=1, seconds=300)
    return log(
        "", text(("Time", *s.head), s.rows(stamps(datetime(2026, 6, 15, 11, 57), s.time, "%I:%M:%S %p"))), s.flight()
    )


def midnight_with_am(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=1, seconds=300)
    made = [
        m.lower().replace("am", "a.m.").replace("pm", "p.m.")
        for m in stamps(datetime(2026, 6, 15, 23, 57), s.time, "%I:%M:%S %p")
    ]
    return log("", text(("Time", *s.head), s.rows(made)), s.flight())


def newest_first_dated(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2, lang="de")
    rows = s.rows(stamps(START, s.time, "%d.%m.%Y %H:%M:%S.%f"))[::-1]
    return log("", text(("Zeit", *s.head), rows, ";"), s.flight())


def newest_first_elapsed(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2)
    return log("", text(("Time (s)", *s.head), s.rows([number(t, 1) for t in s.time])[::-1]), s.flight())


def newest_first_over_midnight(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2)
    rows = s.rows(stamps(datetime(2026, 6, 15, 23, 59), s.time, "%H:%M:%S.%f"))[::-1]
    return log("", text(("Time", *s.head), rows), s.flight())


def _locks(rng: np.random.Generator, wrong: datetime) -> Log:
    """The clock starts somewhere and jumps to the true date when the receiver locks; rows go on at 5 Hz."""
    s = sheet(rng, hz=5)
    early = stamps(wrong, s.time[:150], "%Y-%m-%d %H:%M:%S.%f")
    true = stamps(START, s.time[150:], "%Y-%m-%d %H:%M:%S.%f")
    return log("", text(("Time", *s.head), s.rows([*early, *true])), s.flight(0.21))


def starts_in_2000(rng: np.random.Generator) -> Log:
    return _locks(rng, datetime(2000, 1, 1))


def starts_in_1980(rng: np.random.Generator) -> Log:
    return _locks(rng, datetime(1980, 1, 6))


def starts_in_1970(rng: np.random.Generator) -> Log:
    return _locks(rng, datetime(1970, 1, 1))


def starts_in_2036_then_back(rng: np.random.Generator) -> Log:
    return _locks(rng, datetime(2036, 2, 7, 6, 28))


def epoch_locks(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=5)
    epoch = 1_781_532_191_250
    ticks = [str(round(float(t) * 1000) + (0 if i < 150 else epoch)) for i, t in enumerate(s.time)]
    return log("", text(("Unix time (ms)", *s.head), s.rows(ticks)), s.flight(0.21), refusable=True)


def clock_set_by_three_minutes(rng: np.random.Generator) -> Log:
    """The clock of the day is set ahead by 3 min 20 s in flight; beside it an elapsed counter goes on."""
    s = sheet(rng, hz=5)
    day = stamps(START, s.time + np.where(np.arange(s.time.size) < 300, 0, 200), "%H:%M:%S.%f")
    return log(
        "",
        text(("Clock", "Elapsed (s)", *s.head), s.rows(day, [number(t, 1) for t in s.time])),
        s.flight(),
        fair=("clock",),
        facts={"clock": "Elapsed (s)"},
    )


def stands_still_then_goes_on(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=5)
    held = s.time.copy()
    held[400:440] = held[400]
    return log("", text(("Time (s)", *s.head), s.rows([number(t, 1) for t in held])), s.flight(0.21))


def summer_time_begins(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=4)
    start = datetime(2026, 3, 29, 1, 58, 40)
    day = stamps(start, s.time + np.where(s.time < 80, 0, 3600), "%Y-%m-%d %H:%M:%S.%f")
    return log("", text(("Time", *s.head), s.rows(day)), s.flight())


def summer_time_ends(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=4, lang="de")
    start = datetime(2026, 10, 25, 2, 58, 40)
    day = stamps(start, s.time - np.where(s.time < 80, 0, 3600), "%d.%m.%Y %H:%M:%S,%f")
    return log("", text(("Zeit", *s.head), s.rows(day), ";"), s.flight())


def pause_of_twenty_seconds(rng: np.random.Generator) -> Log:
    instants = even(180, 5)
    instants = np.round(np.where(instants < 70, instants, instants + 20), 6)
    s = sheet(rng, time=instants)
    return log("", text(("Time (s)", *s.head), s.rows([number(t, 1) for t in s.time])), s.flight())


def many_short_pauses(rng: np.random.Generator) -> Log:
    instants = even(180, 10)
    for _ in range(9):
        at = rng.uniform(10, 170)
        instants = instants[(instants < at) | (instants > at + rng.uniform(1, 6))]
    s = sheet(rng, time=instants - instants[0])
    return log("", text(("Time", *s.head), s.rows(stamps(START, s.time, "%H:%M:%S.%f"))), s.flight())


def two_flights_clock_anew(rng: np.random.Generator) -> Log:
    one, two = sheet(rng, hz=5, seconds=150), sheet(rng, hz=5, seconds=200)
    rows = one.rows(_ms(one.time)) + two.rows(_ms(two.time))
    return log("", text(("Time (ms)", *one.head), rows), (one.flight(), two.flight()))


def two_flights_by_date(rng: np.random.Generator) -> Log:
    one, two = sheet(rng, hz=5, seconds=150), sheet(rng, hz=5, seconds=200)
    rows = one.rows(stamps(START, one.time, "%Y-%m-%dT%H:%M:%S.%f"))
    rows += two.rows(stamps(START + timedelta(minutes=25), two.time, "%Y-%m-%dT%H:%M:%S.%f"))
    return log("", text(("Time", *one.head), rows), (one.flight(), two.flight()))


def two_flights_late_packets(rng: np.random.Generator) -> Log:
    one, two = sheet(rng, hz=5, seconds=150), sheet(rng, hz=5, seconds=200)
    rows = _muddle(rng, one.rows(_ms(one.time))) + _muddle(rng, two.rows(_ms(two.time)))
    return log("", text(("Time (ms)", *one.head), rows), (one.flight(), two.flight()), lost=0.002)


def columns_date_h_m_s_ms(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=5)
    made = [stamps(START, s.time, f) for f in ("%Y-%m-%d", "%H", "%M", "%S", "%f")]
    return log("", text(("Date", "Hour", "Minute", "Second", "Millisecond", *s.head), s.rows(*made)), s.flight())


def columns_h_min_s(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=5, lang="de", comma=True)
    day = (
        stamps(START, s.time, "%H"),
        stamps(START, s.time, "%M"),
        stamps(START, s.time, lambda m: f"{m:%S}{milli(m, ',')}"),
    )
    return log("", text(("Std", "Min", "Sek", *s.head), s.rows(*day), ";"), s.flight())


def columns_y_m_d_h_m_s(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=1, seconds=300)
    made = [stamps(START, s.time, f) for f in ("%Y", "%m", "%d", "%H", "%M", "%S")]
    return log("", text(("Year", "Month", "Day", "Hour", "Min", "Sec", *s.head), s.rows(*made)), s.flight())


def columns_second_and_ms(rng: np.random.Generator) -> Log:
    s = sheet(rng, time=uneven(rng, 150, 6))
    whole, part = divmod(np.round(s.time * 1000).astype(int), 1000)
    return log(
        "", text(("Time (s)", "ms", *s.head), s.rows([str(w) for w in whole], [str(p) for p in part])), s.flight()
    )


def zone_suffix(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=4)
    return log(
        "",
        text(("Timestamp", *s.head), s.rows(stamps(START, s.time, lambda m: f"{m:%Y-%m-%dT%H:%M:%S}{milli(m)}+02:00"))),
        s.flight(),
    )


def zone_letters(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=4)
    return log("", text(("Timestamp", *s.head), s.rows(stamps(START, s.time, "%Y-%m-%d %H:%M:%S.%f CEST"))), s.flight())


def zone_changes_with_summer_time(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=4)
    first = stamps(datetime(2026, 10, 25, 2, 58, 40), s.time[:320], lambda m: f"{m:%Y-%m-%d %H:%M:%S}{milli(m)}+02:00")
    then = stamps(datetime(2026, 10, 25, 1, 58, 40), s.time[320:], lambda m: f"{m:%Y-%m-%d %H:%M:%S}{milli(m)}+01:00")
    return log("", text(("Timestamp", *s.head), s.rows([*first, *then])), s.flight())


def comma_clock_semicolons(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=4, lang="fr", comma=True)
    return log("", text(("Heure", *s.head), s.rows(stamps(START, s.time, "%H:%M:%S,%f")), ";"), s.flight())


def letters_between(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=4, lang="fr")
    return log("", text(("Heure", *s.head), s.rows(stamps(START, s.time, "%Hh%Mm%Ss%f"))), s.flight())


def t_plus(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=4)
    made = [f"T+{int(t // 3600):02d}:{int(t // 60) % 60:02d}:{t % 60:06.3f}" for t in s.time]
    return log("", text(("Mission time", *s.head), s.rows(made)), s.flight())


def t_minus_to_plus(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=4)
    made = [number(t - 25, 2) for t in s.time]
    return log("", text(("Time (s)", *s.head), s.rows(made)), s.flight())


def spreadsheet_days_comma(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=4, lang="de", comma=True)
    made = [number(46188.5 + t / 86400, 9, True) for t in s.time]
    return log("", text(("Datum/Zeit", *s.head), s.rows(made), ";"), s.flight(0.001))


def gps_week_and_second(rng: np.random.Generator) -> Log:
    s = sheet(rng, PLACE, hz=5)
    return log(
        "",
        text(("GPS week", "TOW (s)", *s.head), s.rows(["2423"] * s.time.size, [number(138191 + t, 1) for t in s.time])),
        s.flight(),
    )


def gps_week_rolls(rng: np.random.Generator) -> Log:
    s = sheet(rng, PLACE, hz=5)
    week = ["2423" if t < 60 else "2424" for t in s.time]
    tow = [str(round(((604_740 + t) % 604_800) * 1000)) for t in s.time]
    return log("", text(("GPS_Week", "GPS_TOW_ms", *s.head), s.rows(week, tow)), s.flight())


def german_dates_comma(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=4, lang="de", comma=True)
    return log(
        "",
        text(
            ("Datum", "Uhrzeit", *s.head),
            s.rows(stamps(START, s.time, "%d.%m.%y"), stamps(START, s.time, "%H:%M:%S,%f")),
            ";",
        ),
        s.flight(),
        fair=("date_order",),
        facts={"date_order": "day-first"},
    )


def french_months(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2, lang="fr")
    return log(
        "",
        text(
            ("Date", *s.head), s.rows(stamps(START, s.time, lambda m: f"{m.day} juin {m.year} {m:%H:%M:%S}{milli(m)}"))
        ),
        s.flight(),
    )


def spanish_months(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2, lang="es")
    return log(
        "",
        text(
            ("Fecha", *s.head),
            s.rows(stamps(START, s.time, lambda m: f"{m.day:02d}-jun-{m.year} {m:%H:%M:%S}{milli(m)}")),
        ),
        s.flight(),
    )


def italian_months(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2, lang="it", comma=True)
    made = stamps(START, s.time, lambda m: f"{m.day} giugno {m.year}, {m:%H.%M.%S}{milli(m, ',')}")
    return log("", text(("Data e ora", *s.head), s.rows(made), ";"), s.flight())


def weekday_first(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=1, seconds=300)
    return log("", text(("Time", *s.head), s.rows(stamps(START, s.time, "%a %b %d %H:%M:%S %Y"))), s.flight())


def american_pm(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=4)
    made = stamps(START, s.time, lambda m: f"{m.month}/{m.day}/{m.year} {m:%I:%M:%S}{milli(m)} {m:%p}")
    return log("", text(("Time", *s.head), s.rows(made)), s.flight())


def iso_basic(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=4)
    return log(
        "", text(("utc", *s.head), s.rows(stamps(START, s.time, lambda m: f"{m:%Y%m%dT%H%M%S}{milli(m)}Z"))), s.flight()
    )


def digits_only(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=4)
    return log("", text(("utc", *s.head), s.rows(stamps(START, s.time, "%Y%m%d%H%M%S%f"))), s.flight(), refusable=True)


def marine_sentences(rng: np.random.Generator) -> Log:
    """Date and time as a satellite receiver writes them: 150626, 140311.25 (IEC 61162-1)."""
    s = sheet(rng, PLACE, hz=4)
    clock = stamps(START, s.time, lambda m: f"{m:%H%M%S}.{m.microsecond // 10000:02d}")
    return log(
        "",
        text(("UTC time", "UTC date", *s.head), s.rows(clock, ["150626"] * s.time.size)),
        s.flight(0.006),
        fair=("date_order", "time_unit"),
        facts={"date_order": "day-first", "time_unit": "hhmmss"},
    )


def date_in_the_preamble(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=4)
    body = "# Date: 2026-06-15\n# Pilot: nobody\n" + text(
        ("Time", *s.head), s.rows(stamps(START, s.time, "%H:%M:%S.%f"))
    )
    return log("", body, s.flight())


def seconds_of_the_day(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=4)
    return log(
        "",
        text(("Time", *s.head), s.rows([number(50591.25 + t, 2) for t in s.time])),
        s.flight(),
        fair=("time_unit",),
        facts={"time_unit": "s"},
    )


def epoch_nanoseconds(rng: np.random.Generator) -> Log:
    s = sheet(rng, time=uneven(rng, 150, 5))
    return log(
        "",
        text(
            ("timestamp_ns", *s.head), s.rows([str(1_781_532_191_250_000_000 + round(float(t) * 1e9)) for t in s.time])
        ),
        s.flight(),
    )


def epoch_seconds_with_parts(rng: np.random.Generator) -> Log:
    s = sheet(rng, time=uneven(rng, 150, 5))
    return log(
        "",
        text(
            ("ts", *s.head),
            s.rows([f"{1_781_532_191 + int(t * 1000 + 0.5) // 1000}.{int(t * 1000 + 0.5) % 1000:03d}" for t in s.time]),
        ),
        s.flight(),
    )


def hours_decimal(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=4)
    return log("", text(("Time (h)", *s.head), s.rows([number(t / 3600, 7) for t in s.time])), s.flight(0.001))


def minutes_decimal_comma(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=4, lang="it", comma=True)
    return log(
        "", text(("Tempo (min)", *s.head), s.rows([number(t / 60, 5, True) for t in s.time]), ";"), s.flight(0.001)
    )


def days_then_clock(rng: np.random.Generator) -> Log:
    """As a data library prints a duration: 0 days 00:03:11.250000."""
    s = sheet(rng, hz=4)
    made = [f"0 days {int(t // 3600):02d}:{int(t // 60) % 60:02d}:{t % 60:09.6f}" for t in s.time]
    return log("", text(("Elapsed", *s.head), s.rows(made)), s.flight())


def iso_durations(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=4)
    return log(
        "", text(("Elapsed", *s.head), s.rows([f"PT{int(t // 60)}M{number(t % 60, 2)}S" for t in s.time])), s.flight()
    )


def day_of_the_year(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=4)
    return log("", text(("UTC", *s.head), s.rows(stamps(START, s.time, "%Y-%jT%H:%M:%S.%f"))), s.flight())


def rate_only_in_the_preamble(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=10, seconds=90)
    return log("", "# Sample rate: 10 Hz\n" + text(s.head, s.rows()), s.flight(), refusable=True)


def row_numbers_and_a_rate(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=10, seconds=90)
    return log(
        "",
        "# Sample rate: 10 Hz\n" + text(("Sample", *s.head), s.rows([str(i) for i in range(s.time.size)])),
        s.flight(),
        refusable=True,
        fair=("time_unit",),
    )


def time_in_the_first_row_of_a_group(rng: np.random.Generator) -> Log:
    """Each packet is several rows, one a sensor group; only the first of them has the time."""
    s = sheet(rng, hz=4)
    rows = []
    for i, row in enumerate(s.cells):
        rows.append([number(s.time[i], 2), *row[:4], "", "", "", ""])
        rows.append(["", "", "", "", "", *row[4:]])
    return log("", text(("Time (s)", *s.head), rows), s.flight())


def time_every_second_row(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=4)
    made = [number(t, 2) if i % 2 == 0 else "" for i, t in enumerate(s.time)]
    return log("", text(("Time (s)", *s.head), s.rows(made)), s.flight())


def nonsense_stamps(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=5)
    made = _ms(s.time, 7000)
    good = np.ones(s.time.size, bool)
    for i in rng.choice(np.arange(5, s.time.size - 5), 9, replace=False):
        made[i], good[i] = str(rng.choice(["0", "4294967295", "", "999999999", "-1"])), False
    return log("", text(("Time (ms)", *s.head), s.rows(made)), s.flight(good=good))


def nonsense_days(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=5)
    made = stamps(START, s.time, "%Y-%m-%d %H:%M:%S.%f")
    good = np.ones(s.time.size, bool)
    for i in rng.choice(np.arange(5, s.time.size - 5), 9, replace=False):
        made[i], good[i] = (
            str(rng.choice(["2080-01-06 00:00:00.000", "0000-00-00 00:00:00.000", "1980-01-06 00:00:18.000", ""])),
            False,
        )
    return log("", text(("Time", *s.head), s.rows(made)), s.flight(good=good))


def leap_second(rng: np.random.Generator) -> Log:
    """23:59:60 was printed at the end of 2016 (IERS Bulletin C 52); rows each second over it."""
    s = sheet(rng, hz=1, seconds=240)
    made = stamps(datetime(2016, 12, 31, 23, 58), s.time - (s.time > 120), "%Y-%m-%dT%H:%M:%SZ")
    made[120] = "2016-12-31T23:59:60Z"
    return log("", text(("Time", *s.head), s.rows(made)), s.flight(1.01))


def rates_differ_in_one_table(rng: np.random.Generator) -> Log:
    """Slow sensors leave cells empty; the rows are unevenly spaced."""
    from tests.importers.strange.truth import Flight, Track

    s = sheet(rng, RADIO, time=uneven(rng, 120, 10))
    rows, tracks = s.rows([number(t, 3) for t in s.time]), []
    for c, track in enumerate(s.tracks):
        every = (1, 2, 5, 10, 3, 7, 4, 1)[c]
        for i, row in enumerate(rows):
            if i % every:
                row[c + 1] = ""
        at = np.arange(s.time.size) % every == 0
        tracks.append(Track(track.heading, track.channel, track.time_s[at], track.values[at], track.within))
    return log("", text(("Time (s)", *s.head), rows), Flight(tuple(tracks)))
