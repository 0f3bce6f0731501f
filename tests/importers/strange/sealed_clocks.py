"""Strange clocks of the second hand: somebody who joins data of loggers, bench rigs and satellite receivers."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np

from tests.importers.strange.truth import Flight, Log, Track
from tests.importers.strange.world import even, uneven
from tests.importers.strange.writing import PLACE, Sheet, log, number, sheet, stamps, text

BENCH = ("egt", "rpm", "flow", "throttle")
DAY = datetime(2025, 11, 23, 9, 41, 7, 40_000)


def _order(rows: list[list[str]], arrival: np.ndarray) -> list[list[str]]:
    return [rows[i] for i in np.argsort(arrival, kind="stable")]


def two_paths_merged(rng: np.random.Generator) -> Log:
    """Each packet comes over two radio paths of different delay; both copies are written when they arrive."""
    s = sheet(rng, time=uneven(rng, 140, 8))
    rows = s.rows([number(t, 3) for t in s.time])
    slow = s.time + rng.uniform(0.02, 0.55, s.time.size)
    heard = rng.random(s.time.size) < 0.5
    both = [*rows, *(r for r, h in zip(rows, heard, strict=True) if h)]
    return log("", text(("Sent (s)", *s.head), _order(both, np.concatenate([s.time, slow[heard]]))), s.flight())


def each_delayed_by_its_own(rng: np.random.Generator) -> Log:
    """Every packet has a delay of an exponential law, mean 0.3 s at 5 Hz."""
    s = sheet(rng, hz=5)
    rows = s.rows([str(9_000 + round(float(t) * 1000)) for t in s.time])
    arrival = s.time + rng.exponential(0.3, s.time.size)
    return log("", text(("sent_ms", *s.head), _order(rows, arrival)), s.flight())


def buffer_sent_backwards(rng: np.random.Generator) -> Log:
    """After each hole the device sends its buffer, newest first."""
    s = sheet(rng, hz=4)
    rows = s.rows(stamps(DAY, s.time, "%Y/%m/%d %H:%M:%S.%f"))
    for at in range(60, 660, 110):
        rows[at : at + 14] = rows[at : at + 14][::-1]
    return log("", text(("DateTime", *s.head), rows), s.flight())


def buffer_sent_again_later(rng: np.random.Generator) -> Log:
    """A whole minute comes again ninety seconds later."""
    s = sheet(rng, hz=4)
    rows = s.rows([str(round(float(t) * 1000)) for t in s.time])
    rows[560:560] = rows[120:360]
    return log("", text(("Uptime (ms)", *s.head), rows), s.flight())


def chunks_swapped(rng: np.random.Generator) -> Log:
    """Chunks of two seconds are written in the wrong order now and then."""
    s = sheet(rng, hz=10, seconds=120)
    rows = s.rows([number(t, 1) for t in s.time])
    for at in (200, 520, 860):
        rows[at : at + 40] = rows[at + 20 : at + 40] + rows[at : at + 20]
    return log("", text(("t", *s.head), rows), s.flight(), fair=("time_unit",), facts={"time_unit": "s"})


def the_first_rows_come_late(rng: np.random.Generator) -> Log:
    """The first two packets of the file were sent after the third."""
    s = sheet(rng, hz=5)
    rows = s.rows([str(500 + round(float(t) * 1000)) for t in s.time])
    rows[:4] = [rows[2], rows[3], rows[0], rows[1]]
    return log("", text(("Time (ms)", *s.head), rows), s.flight())


def the_last_rows_come_late(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=5)
    rows = s.rows([str(500 + round(float(t) * 1000)) for t in s.time])
    rows[-5:] = [rows[-1], rows[-3], rows[-5], rows[-2], rows[-4]]
    return log("", text(("Time (ms)", *s.head), rows), s.flight())


def late_with_uneven_and_holes(rng: np.random.Generator) -> Log:
    s = sheet(rng, time=uneven(rng, 150, 7, share=0.8))
    rows = s.rows(stamps(DAY, s.time, "%H:%M:%S.%f"))
    keep = np.ones(len(rows), bool)
    for at in (200, 500, 800):
        keep[at : at + int(rng.integers(5, 60))] = False
    arrival = s.time + np.where(rng.random(s.time.size) < 0.15, rng.uniform(0.2, 2.5, s.time.size), 0)
    kept = [rows[i] for i in np.argsort(arrival, kind="stable") if keep[i]]
    return log("", text(("Clock", *s.head), kept), s.flight(good=keep))


def repeated_with_holes_filled(rng: np.random.Generator) -> Log:
    """The copy of a packet has cells the first lacked (the slow sensor came in between)."""
    s = sheet(rng, ("volt", "amp", "egt", "rpm"), hz=5)
    rows = []
    for i, row in enumerate(s.rows([number(t, 1) for t in s.time])):
        if i % 6 == 3:
            rows += [[*row[:3], "", ""], [row[0], "", "", *row[3:]]]
        else:
            rows.append(row)
    return log("", text(("Time (s)", *s.head), rows), s.flight())


def long_repeated_and_late(rng: np.random.Generator) -> Log:
    s = sheet(rng, ("volt", "egt", "rpm", "rssi"), hz=4, seconds=120)
    rows, arrival = [], []
    for i, cells in enumerate(s.cells):
        for h, c in zip(s.head, cells, strict=True):
            for _ in range(2 if rng.random() < 0.1 else 1):
                rows.append([number(s.time[i], 2), h, c])
                arrival.append(s.time[i] + (rng.uniform(0.3, 2) if rng.random() < 0.1 else 0))
    return log("", text(("Time [s]", "Item", "Value"), _order(rows, np.array(arrival))), s.flight())


def counter_wraps_with_late(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=10, seconds=150)
    ticks = [str((round(float(t) * 1000) + 3_000) % 65536) for t in s.time]
    arrival = s.time + np.where(rng.random(s.time.size) < 0.1, rng.uniform(0.1, 0.9, s.time.size), 0)
    return log("", text(("Timer (ms)", *s.head), _order(s.rows(ticks), arrival)), s.flight())


def counter_wraps_at_24_bits(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=5)
    ticks = [str((round(float(t) * 1e6) + 2_000_000) % 2**24) for t in s.time]
    return log("", text(("Time (us)", *s.head), s.rows(ticks)), s.flight(), refusable=True)


def counter_wraps_at_a_round_number(rng: np.random.Generator) -> Log:
    """A field of five digits: 99.999 s, then 0.000 s."""
    s = sheet(rng, hz=5)
    ticks = [str((round(float(t) * 1000) + 37_000) % 100_000) for t in s.time]
    return log("", text(("Time (ms)", *s.head), s.rows(ticks)), s.flight(), refusable=True)


def hundredths_wrap_16_bits(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=5)
    ticks = [str((round(float(t) * 100) + 60_000) % 65536) for t in s.time]
    return log(
        "",
        text(("Time (10 ms)", *s.head), s.rows(ticks)),
        s.flight(0.006),
        refusable=True,
        fair=("time_unit", "unit.*"),
        facts={"time_unit": "x"},
    )


def signed_32_bits_us(rng: np.random.Generator) -> Log:
    s = sheet(rng, time=uneven(rng, 130, 5))
    ticks = [str((round(float(t) * 1e6) + 2_120_000_000 + 2**31) % 2**32 - 2**31) for t in s.time]
    return log("", text(("micros", *s.head), s.rows(ticks)), s.flight())


def hour_minute_only_fraction(rng: np.random.Generator) -> Log:
    """Only hours and minutes are printed; sixty rows share one: 09:41."""
    s = sheet(rng, hz=1, seconds=420)
    return log(
        "",
        text(("Time", *s.head), s.rows(stamps(DAY, s.time, "%H:%M"))),
        s.flight(60),
        fair=("minutes",),
        facts={"minutes": "hh:mm"},
        refusable=True,
    )


def seconds_of_the_minute(rng: np.random.Generator) -> Log:
    """Only seconds of the minute are printed; they wrap at sixty."""
    s = sheet(rng, hz=5)
    return log(
        "", text(("Sec", *s.head), s.rows([number((t + 21.4) % 60, 1) for t in s.time])), s.flight(), refusable=True
    )


def seconds_of_the_hour(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=5)
    return log(
        "",
        text(("Time (s)", *s.head), s.rows([number((t + 3500) % 3600, 1) for t in s.time])),
        s.flight(),
        refusable=True,
    )


def seconds_of_the_day_over_midnight(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=5)
    return log(
        "",
        text(("UTC seconds of day (s)", *s.head), s.rows([number((t + 86_330) % 86_400, 1) for t in s.time])),
        s.flight(),
        refusable=True,
    )


def midnight_in_columns(rng: np.random.Generator) -> Log:
    """The date column changes a row late."""
    s = sheet(rng, hz=2, lang="de")
    start = datetime(2025, 11, 23, 23, 58, 50)
    day = stamps(start, np.maximum(s.time - 0.5, 0), "%d.%m.%Y")
    return log(
        "", text(("Datum", "Uhrzeit", *s.head), s.rows(day, stamps(start, s.time, "%H:%M:%S.%f")), ";"), s.flight()
    )


def midnight_with_date_standing(rng: np.random.Generator) -> Log:
    """The date is that of the start, in every row."""
    s = sheet(rng, hz=2, lang="fr")
    start = datetime(2025, 11, 23, 23, 58, 50)
    clock = stamps(start, s.time, "%H:%M:%S.%f")
    return log("", text(("Date", "Heure", *s.head), s.rows(["2025-11-23"] * s.time.size, clock), ";"), s.flight())


def twelve_hours_without_pm(rng: np.random.Generator) -> Log:
    """12:59:59 then 1:00:00."""
    s = sheet(rng, hz=2)
    clock = [
        f"{(m.hour - 1) % 12 + 1}:{m:%M:%S}.{m.microsecond // 100_000}"
        for m in [datetime(2025, 11, 23, 12, 58, 50) + timedelta(seconds=float(t)) for t in s.time]
    ]
    return log("", text(("Time", *s.head), s.rows(clock)), s.flight(), refusable=True)


def newest_first_in_seconds_shared(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=4, lang="es")
    rows = s.rows(stamps(DAY, s.time, "%d/%m/%Y %H:%M:%S"))[::-1]
    return log(
        "", text(("Fecha", *s.head), rows, ";"), s.flight(0.26), fair=("date_order",), facts={"date_order": "day-first"}
    )


def newest_first_long(rng: np.random.Generator) -> Log:
    s = sheet(rng, ("volt", "egt", "rpm"), hz=2)
    rows = [[number(s.time[i], 1), h, c] for i, cells in enumerate(s.cells) for h, c in zip(s.head, cells, strict=True)]
    return log("", text(("Time (s)", "Sensor", "Value"), rows[::-1]), s.flight())


def locks_after_zeros(rng: np.random.Generator) -> Log:
    """Until the receiver locks the clock prints zeros; then the true date."""
    s = sheet(rng, PLACE, hz=5)
    clock = [
        c if i >= 100 else "0000-00-00 00:00:00" for i, c in enumerate(stamps(DAY, s.time, "%Y-%m-%d %H:%M:%S.%f"))
    ]
    good = np.arange(s.time.size) >= 100
    return log("", text(("GPS time", *s.head), s.rows(clock)), s.flight(good=good), refusable=True)


def locks_after_blanks(rng: np.random.Generator) -> Log:
    s = sheet(rng, PLACE, hz=5)
    clock = [c if i >= 100 else "" for i, c in enumerate(stamps(DAY, s.time, "%Y-%m-%d %H:%M:%S.%f"))]
    good = np.arange(s.time.size) >= 100
    return log("", text(("GPS time", *s.head), s.rows(clock)), s.flight(good=good))


def locks_columns_apart(rng: np.random.Generator) -> Log:
    """Date and time in two columns; the receiver starts on 06.01.1980 and jumps twice."""
    s = sheet(rng, PLACE, hz=5, lang="de")
    moments = [
        datetime(1980, 1, 6, 0, 0, 12) if i < 60 else DAY - timedelta(seconds=17) if i < 120 else DAY
        for i in range(s.time.size)
    ]
    made = [m + timedelta(seconds=float(t)) for m, t in zip(moments, s.time, strict=True)]
    day = [f"{m:%d.%m.%Y}" for m in made]
    clock = [f"{m:%H:%M:%S}.{m.microsecond // 1000:03d}" for m in made]
    return log(
        "", text(("Datum", "GPS Zeit", *s.head), s.rows(day, clock), ";"), s.flight(0.21), refusable=True, lost=0.15
    )


def epoch_from_1970_seconds(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=5)
    base = DAY.replace(tzinfo=UTC).timestamp()
    made = [number(t + (0 if i < 200 else base), 1) for i, t in enumerate(s.time)]
    return log(
        "",
        text(("epoch", *s.head), s.rows(made)),
        s.flight(0.21),
        refusable=True,
        fair=("time_unit",),
        facts={"time_unit": "s"},
    )


def clock_stepped_by_a_second(rng: np.random.Generator) -> Log:
    """The clock is set back by 0.8 s in flight; 5 Hz rows go on. No more than 5 rows may be doubtful."""
    s = sheet(rng, hz=5)
    made = stamps(DAY, s.time - np.where(s.time < 90, 0, 0.8), "%H:%M:%S.%f")
    return log("", text(("Time", *s.head), s.rows(made)), s.flight(0.81), lost=0.01)


def summer_time_ends_late_packets(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=4)
    made = stamps(datetime(2025, 10, 26, 2, 58, 30), s.time - np.where(s.time < 90, 0, 3600), "%Y-%m-%d %H:%M:%S.%f")
    arrival = s.time + np.where(rng.random(s.time.size) < 0.1, rng.uniform(0.3, 1, s.time.size), 0)
    return log("", text(("Local time", *s.head), _order(s.rows(made), arrival)), s.flight())


def summer_time_ends_of_the_day(rng: np.random.Generator) -> Log:
    """Clock of the day without a date: 01:59:59 then 01:00:00."""
    s = sheet(rng, hz=4)
    made = stamps(datetime(2025, 11, 2, 1, 58, 30), s.time - np.where(s.time < 90, 0, 3600), "%H:%M:%S.%f")
    return log("", text(("Time", *s.head), s.rows(made)), s.flight(), refusable=True)


def three_flights_newest_first(rng: np.random.Generator) -> Log:
    """The logger lists its newest flight first, each flight in order."""
    many = [sheet(rng, hz=4, seconds=100 + 20 * k) for k in range(3)]
    rows = []
    for k, s in reversed(list(enumerate(many))):
        rows += s.rows(stamps(DAY + timedelta(hours=k), s.time, "%Y-%m-%d %H:%M:%S.%f"))
    return log("", text(("Time", *many[0].head), rows), tuple(s.flight() for s in reversed(many)))


def flights_with_header_between(rng: np.random.Generator) -> Log:
    one, two = sheet(rng, hz=4, seconds=120), sheet(rng, hz=4, seconds=150)
    body = text(("Time (s)", *one.head), one.rows([number(t, 2) for t in one.time]))
    body += "\n" + text(("Time (s)", *two.head), two.rows([number(t, 2) for t in two.time]))
    return log("", body, (one.flight(), two.flight()))


def flight_numbers_in_a_column(rng: np.random.Generator) -> Log:
    one, two = sheet(rng, hz=4, seconds=120), sheet(rng, hz=4, seconds=150)
    rows = [["1", *r] for r in one.rows([number(t, 2) for t in one.time])] + [
        ["2", *r] for r in two.rows([number(t, 2) for t in two.time])
    ]
    return log("", text(("Flight", "Time (s)", *one.head), rows), (one.flight(), two.flight()))


def pause_of_fifty_seconds(rng: np.random.Generator) -> Log:
    instants = even(200, 4)
    instants = np.round(np.where(instants < 120, instants, instants + 50), 6)
    s = sheet(rng, time=instants)
    return log("", text(("Time", *s.head), s.rows(stamps(DAY, s.time, "%H:%M:%S.%f"))), s.flight())


def rates_in_one_file(rng: np.random.Generator) -> Log:
    """20 Hz in the air, 1 Hz on the ground."""
    instants = np.concatenate([np.arange(0, 30, 1.0), np.arange(30, 110, 0.05), np.arange(110, 160, 1.0)])
    s = sheet(rng, time=np.round(instants, 6))
    return log("", text(("Time (s)", *s.head), s.rows([number(t, 2) for t in s.time])), s.flight())


def hour_and_minute_columns_and_seconds(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=4, lang="es", comma=True)
    made = [
        stamps(DAY, s.time, "%H"),
        stamps(DAY, s.time, "%M"),
        [f"{f:%S},{f.microsecond // 10_000:02d}" for f in [DAY + timedelta(seconds=float(t)) for t in s.time]],
    ]
    return log("", text(("Hora", "Minuto", "Segundo", *s.head), s.rows(*made), ";"), s.flight())


def columns_day_month_year(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=4, lang="it")
    made = [stamps(DAY, s.time, f) for f in ("%d", "%m", "%y")]
    return log(
        "",
        text(("Giorno", "Mese", "Anno", "Ora", *s.head), s.rows(*made, stamps(DAY, s.time, "%H:%M:%S.%f")), ";"),
        s.flight(),
    )


def clock_and_milliseconds_apart(rng: np.random.Generator) -> Log:
    s = sheet(rng, time=uneven(rng, 140, 6))
    return log(
        "",
        text(
            ("Time", "Millis", *s.head),
            s.rows(stamps(DAY, s.time, "%H:%M:%S"), [str(int(c)) for c in stamps(DAY, s.time, "%f")]),
        ),
        s.flight(),
    )


def date_clock_and_milliseconds_apart(rng: np.random.Generator) -> Log:
    s = sheet(rng, time=uneven(rng, 140, 6), lang="de")
    made = stamps(DAY, s.time, "%Y-%m-%d"), stamps(DAY, s.time, "%H:%M:%S"), stamps(DAY, s.time, "%f")
    return log("", text(("Datum", "Zeit", "ms", *s.head), s.rows(*made), ";"), s.flight())


def epoch_and_milliseconds_apart(rng: np.random.Generator) -> Log:
    s = sheet(rng, time=uneven(rng, 140, 6))
    whole, part = divmod(np.round(s.time * 1000).astype(int) + 417, 1000)
    return log(
        "",
        text(("epoch_s", "epoch_ms", *s.head), s.rows([str(1_763_890_867 + w) for w in whole], [str(p) for p in part])),
        s.flight(),
    )


def zone_names_in_words(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=4)
    return log("", text(("Time", *s.head), s.rows(stamps(DAY, s.time, "%d %b %Y %H:%M:%S.%f UTC"))), s.flight())


def zone_without_colon(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=4)
    return log("", text(("Time", *s.head), s.rows(stamps(DAY, s.time, "%Y-%m-%d %H:%M:%S.%f -0700"))), s.flight())


def zone_in_the_heading(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=4)
    return log("", text(("Time (UTC+1)", *s.head), s.rows(stamps(DAY, s.time, "%Y-%m-%d %H:%M:%S.%f"))), s.flight())


def http_style(rng: np.random.Generator) -> Log:
    """As RFC 5322 writes dates: Sun, 23 Nov 2025 09:41:07 +0100."""
    s = sheet(rng, hz=1, seconds=260)
    return log(
        "", text(("Date", *s.head), s.rows(stamps(DAY, s.time, "%a, %d %b %Y %H:%M:%S +0100")), "\t"), s.flight()
    )


def german_month_names(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=4, lang="de", comma=True)
    made = stamps(DAY, s.time, lambda m: f"{m.day}. November {m.year} {m:%H:%M:%S},{m.microsecond // 1000:03d}")
    return log("", text(("Zeitpunkt", *s.head), s.rows(made), ";"), s.flight())


def german_uhr(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=1, seconds=260, lang="de")
    return log("", text(("Uhrzeit", *s.head), s.rows(stamps(DAY, s.time, "%H:%M:%S Uhr")), ";"), s.flight())


def points_between(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=4, lang="it", comma=True)
    return log("", text(("Ora", *s.head), s.rows(stamps(DAY, s.time, "%H.%M.%S,%f")), ";"), s.flight())


def four_colons(rng: np.random.Generator) -> Log:
    """Hours, minutes, seconds and milliseconds, colons between all."""
    s = sheet(rng, hz=4)
    return log("", text(("Time", *s.head), s.rows(stamps(DAY, s.time, "%H:%M:%S:%f"))), s.flight())


def frames_of_film(rng: np.random.Generator) -> Log:
    """Hours, minutes, seconds and frames of 25 a second (SMPTE ST 12-1)."""
    s = sheet(rng, hz=5)
    made = stamps(DAY.replace(microsecond=0), s.time, lambda m: f"{m:%H:%M:%S}:{round(m.microsecond / 40_000):02d}")
    return log("", text(("Timecode 25 fps", *s.head), s.rows(made)), s.flight(0.021), refusable=True)


def minutes_and_seconds_with_marks(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=4)
    made = [f"{int(t // 60)}'{t % 60:05.2f}\"" for t in s.time]
    return log("", text(("Elapsed", *s.head), s.rows(made), ";"), s.flight(0.006), refusable=True)


def words_for_hours(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=4)
    made = [f"{int(t // 60)} min {t % 60:.2f} s" for t in s.time]
    return log("", text(("Elapsed", *s.head), s.rows(made)), s.flight(0.006), refusable=True)


def short_units_together(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=4)
    made = [f"{int(t // 60)}m{t % 60:.2f}s" for t in s.time]
    return log("", text(("Elapsed", *s.head), s.rows(made)), s.flight(0.006), refusable=True)


def days_of_the_julian_count(rng: np.random.Generator) -> Log:
    """Julian date; eight places are a millisecond."""
    s = sheet(rng, hz=2)
    return log(
        "",
        text(("Julian date", *s.head), s.rows([number(2461002.9 + t / 86400, 8) for t in s.time])),
        s.flight(0.001),
        refusable=True,
    )


def days_of_the_year_fraction(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=2)
    return log(
        "",
        text(("Day of year", *s.head), s.rows([number(327.4 + t / 86400, 8) for t in s.time])),
        s.flight(0.001),
        refusable=True,
        fair=("time_unit",),
        facts={"time_unit": "d"},
    )


def spreadsheet_time_only(rng: np.random.Generator) -> Log:
    """A time of day as a share of the day."""
    s = sheet(rng, hz=2, lang="de", comma=True)
    return log(
        "",
        text(("Uhrzeit", *s.head), s.rows([number(0.4035 + t / 86400, 9, True) for t in s.time]), ";"),
        s.flight(0.001),
        refusable=True,
        fair=("time_unit",),
        facts={"time_unit": "d"},
    )


def week_and_milliseconds_one_column(rng: np.random.Generator) -> Log:
    """2394:034867.20"""
    s = sheet(rng, PLACE, hz=5)
    return log(
        "",
        text(("GPS week:tow", *s.head), s.rows([f"2394:{34_867.2 + t:09.2f}" for t in s.time])),
        s.flight(0.006),
        refusable=True,
    )


def seconds_since_1980(rng: np.random.Generator) -> Log:
    s = sheet(rng, PLACE, hz=5)
    return log(
        "", text(("GPS seconds (s)", *s.head), s.rows([number(1_447_925_000.4 + t, 1) for t in s.time])), s.flight()
    )


def seconds_since_2000(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=5)
    return log(
        "",
        text(("Time since 2000-01-01 (s)", *s.head), s.rows([number(817_206_067 + t, 1) for t in s.time])),
        s.flight(),
    )


def power_of_ten_stamps(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=5)
    return log("", text(("Time (s)", *s.head), s.rows([f"{t:.6e}" for t in s.time])), s.flight())


def epoch_ms_as_power_of_ten(rng: np.random.Generator) -> Log:
    """A spreadsheet has printed the epoch as 1.76389E+12: the time is lost."""
    s = sheet(rng, hz=5)
    return log(
        "",
        text(("timestamp", *s.head), s.rows([f"{1_763_890_867_040 + t * 1000:.5E}" for t in s.time])),
        s.flight(),
        refusable=True,
    )


def grouped_milliseconds(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=5)
    return log("", text(("Time (ms)", *s.head), s.rows([f"{round(float(t) * 1000):,}" for t in s.time])), s.flight())


def grouped_by_points(rng: np.random.Generator) -> Log:
    """Seconds with a decimal comma, thousands by a point: 1.012,4."""
    s = sheet(rng, hz=5, lang="de", comma=True)
    made = [f"{t + 950:,.1f}".replace(",", "_").replace(".", ",").replace("_", ".") for t in s.time]
    return log("", text(("Zeit (s)", *s.head), s.rows(made), ";"), s.flight())


def unit_behind_each_time(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=5)
    return log("", text(("Elapsed", *s.head), s.rows([f"{round(float(t) * 1000)}ms" for t in s.time])), s.flight())


def time_in_the_last_column(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=5)
    rows = [[*r, t] for r, t in zip(s.rows(), stamps(DAY, s.time, "%H:%M:%S.%f"), strict=True)]
    return log("", text((*s.head, "Logged at"), rows), s.flight())


def sent_and_received(rng: np.random.Generator) -> Log:
    """The device's own milliseconds and when the ground wrote them; packets come late."""
    s = sheet(rng, hz=5)
    lag = np.where(rng.random(s.time.size) < 0.12, rng.uniform(0.3, 1.4, s.time.size), 0.03)
    arrival = s.time + lag
    rows = s.rows(stamps(DAY, arrival, "%H:%M:%S.%f"), [str(44_000 + round(float(t) * 1000)) for t in s.time])
    return log(
        "",
        text(("Received", "Device time (ms)", *s.head), _order(rows, arrival)),
        s.flight(),
        fair=("clock",),
        facts={"clock": "Device time (ms)"},
    )


def rate_in_the_heading(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=20, seconds=60)
    return log(
        "",
        text(("Sample @20Hz", *s.head), s.rows([str(i + 1) for i in range(s.time.size)])),
        s.flight(),
        refusable=True,
    )


def interval_in_the_preamble(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=4, lang="de")
    return log(
        "",
        "Intervall: 250 ms\n" + text(("Nr", *s.head), s.rows([str(i + 1) for i in range(s.time.size)]), ";"),
        s.flight(),
        refusable=True,
    )


def steps_not_times(rng: np.random.Generator) -> Log:
    """Each row holds the time since the row before."""
    s = sheet(rng, time=uneven(rng, 140, 5))
    step = [0, *np.round(np.diff(s.time) * 1000).astype(int)]
    return log("", text(("dt (ms)", *s.head), s.rows([str(x) for x in step])), s.flight(), refusable=True)


def time_below_a_group(rng: np.random.Generator) -> Log:
    """The time stands in a row of its own, and the readings follow."""
    s = sheet(rng, ("volt", "egt", "rpm"), hz=2)
    rows = []
    for i, cells in enumerate(s.cells):
        rows.append([stamps(DAY, s.time[i : i + 1], "%H:%M:%S.%f")[0], "", "", ""])
        rows.append(["", *cells])
    return log("", text(("Time", *s.head), rows), s.flight(0.51), refusable=True)


def blank_times_in_a_long_table(rng: np.random.Generator) -> Log:
    """Only the first reading of a moment has its time."""
    s = sheet(rng, ("volt", "egt", "rpm", "rssi"), hz=2)
    rows = [
        [number(s.time[i], 1) if k == 0 else "", h, c]
        for i, cells in enumerate(s.cells)
        for k, (h, c) in enumerate(zip(s.head, cells, strict=True))
    ]
    return log("", text(("Time (s)", "Sensor", "Value"), rows), s.flight(0.51), refusable=True)


def bad_bits_in_stamps(rng: np.random.Generator) -> Log:
    """A bit of the counter flips in one packet of forty; those packets may be put right or left out."""
    s = sheet(rng, hz=10, seconds=150)
    ticks = np.round(s.time * 1000).astype(np.int64) + 12_000
    flip = rng.random(ticks.size) < 0.025
    flip[:10] = flip[-10:] = False
    printed = np.where(flip, ticks ^ (1 << rng.integers(11, 28, ticks.size)), ticks)
    return log("", text(("Time (ms)", *s.head), s.rows([str(p) for p in printed])), s.flight(), lost=0.025)


def one_bad_stamp_first(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=5)
    made = ["2080-02-29 00:00:00.000", *stamps(DAY, s.time, "%Y-%m-%d %H:%M:%S.%f")[1:]]
    return log("", text(("Time", *s.head), s.rows(made)), s.flight(good=np.arange(s.time.size) > 0))


def one_bad_stamp_last(rng: np.random.Generator) -> Log:
    s = sheet(rng, hz=5)
    made = [*stamps(DAY, s.time, "%Y-%m-%d %H:%M:%S.%f")[:-1], "2080-02-29 00:00:00.000"]
    return log("", text(("Time", *s.head), s.rows(made)), s.flight(good=np.arange(s.time.size) < s.time.size - 1))


def drifting_pair(rng: np.random.Generator) -> Log:
    """Two elapsed clocks whose rates differ by one in 5,000: either is right, but not both."""
    s = sheet(rng, hz=5)
    return log(
        "",
        text(
            ("Logger time (s)", "ECU time (s)", *s.head),
            s.rows([number(t, 1) for t in s.time], [number(t * 1.0002 + 3, 2) for t in s.time]),
        ),
        s.flight(),
        fair=("clock",),
        facts={"clock": "Logger time (s)"},
    )


def two_readings_a_stamp(rng: np.random.Generator) -> Log:
    """Two readings of one sensor with one printed time and different values: 10 Hz on a clock of 0.2 s."""
    s = sheet(rng, hz=10, seconds=90)
    return log(
        "", text(("Time (s)", *s.head), s.rows([number(np.floor(t * 5 + 1e-6) / 5, 1) for t in s.time])), s.flight(0.11)
    )


def _joined(a: Sheet, b: Sheet) -> Flight:
    return Flight((*a.tracks, *b.tracks))


def two_tables_side_by_side(rng: np.random.Generator) -> Log:
    """Each group of columns has a clock of its own, at its own rate, as an instrument exports them."""
    a, b = sheet(rng, ("volt", "amp"), hz=4, seconds=100), sheet(rng, ("egt", "rpm"), hz=2, seconds=200)
    left = a.rows([number(t, 2) for t in a.time])
    right = b.rows([number(t, 2) for t in b.time])
    rows = [[*x, *y] for x, y in zip(left, right, strict=True)]
    return log("", text(("Time (s)", *a.head, "Time (s)", *b.head), rows), _joined(a, b), refusable=True, fair=("*",))


def slow_rows_and_quick_cells(rng: np.random.Generator) -> Log:
    s = sheet(rng, BENCH, time=uneven(rng, 120, 12))
    rows, tracks = s.rows(stamps(DAY, s.time, "%H:%M:%S.%f")), []
    for c, track in enumerate(s.tracks):
        here = rng.random(s.time.size) < (1, 0.5, 0.2, 0.1)[c]
        for i in np.flatnonzero(~here):
            rows[i][c + 1] = "-"
        tracks.append(Track(track.heading, track.channel, track.time_s[here], track.values[here], track.within))
    return log("", text(("Time", *s.head), rows, "\t"), Flight(tuple(tracks)))
