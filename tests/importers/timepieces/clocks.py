"""Logs whose clock is the matter: radio packets in disorder, clocks that are set, forms of dates and times."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from datetime import datetime, timedelta

import numpy as np

from tests.importers.timepieces.flight import (
    ALT,
    LAT,
    LON,
    RSSI,
    USED,
    USUAL,
    VOLT,
    Array,
    Log,
    Sheet,
    Truth,
    across,
    body,
    steady,
)

DAY = datetime(2024, 6, 15, 14, 3, 5)


def moments(at: Array, start: datetime = DAY) -> list[datetime]:
    """The clock's readings at the instants."""
    return [start + timedelta(microseconds=round(second * 1e6)) for second in at.tolist()]


def written(at: Array, form: Callable[[datetime], str], start: datetime = DAY) -> list[str]:
    """The clock's readings as text."""
    return [form(moment) for moment in moments(at, start)]


def milli(moment: datetime, mark: str = ".") -> str:
    """A time of the day to the millisecond."""
    return f"{moment:%H:%M:%S}{mark}{moment.microsecond // 1000:03d}"


def plain(
    name: str,
    clock: str,
    times: Sequence[str],
    at: Array,
    *,
    language: str = "en",
    mark: str = ",",
    comma: bool = False,
    order: Sequence[int] | None = None,
    above: Sequence[str] = (),
    more: Sequence[tuple[str, Sequence[str]]] = (),
    names: Sequence[str] = USUAL,
    last: bool = False,
    paused: Array | None = None,
    **truth: object,
) -> Log:
    """A wide table with its clock in front (or last), its rows in the given order."""
    headings, columns, flight = body(at, language, names, comma)
    fronts = [clock, *(heading for heading, _ in more)]
    rows = across(times, *(cells for _, cells in more), *columns)
    headings = [*fronts, *headings]
    if last:
        rows = [[*row[1:], row[0]] for row in rows]
        headings = [*headings[1:], headings[0]]
    if order is not None:
        rows = [rows[place] for place in order]
    if (
        paused is not None
    ):  # where nothing but a count of rows is beside it, a pause is as likely as a clock that was set
        truth["or_else"] = ((Truth(flight.at + paused, flight.columns),),)
    return Log(name, Sheet(headings, rows, mark, list(above)).bytes(), (flight,), **truth)  # type: ignore[arg-type]


def late(count: int, every: int, by: int) -> list[int]:
    """An order in which one packet in ``every`` comes ``by`` places late."""
    keys = np.arange(count, dtype=float)
    keys[every - 1 :: every] += by + 0.5
    return [int(place) for place in np.argsort(keys, kind="stable")]


def repeated(count: int, every: int, by: int) -> list[int]:
    """An order in which one packet in ``every`` comes again ``by`` places later."""
    keys = [float(place) for place in range(count)]
    places = list(range(count))
    for place in range(every - 1, count - by, every):
        places.append(place)
        keys.append(place + by + 0.4)
    return [places[spot] for spot in np.argsort(np.array(keys), kind="stable")]


def swapped(count: int, every: int) -> list[int]:
    """An order in which one packet in ``every`` changes places with the next."""
    places = list(range(count))
    for place in range(every - 1, count - 1, every):
        places[place], places[place + 1] = places[place + 1], places[place]
    return places


def radio(hand: str) -> Iterator[Log]:
    """Packets that come late, again and swapped, with holes between."""
    first = hand == "a"
    at = steady(70, 10 if first else 20)
    seconds = [f"{s:.2f}" for s in at]
    if first:
        yield plain("late", "Time (s)", seconds, at, order=late(at.size, 13, 3))
        yield plain("again", "Time (s)", seconds, at, order=repeated(at.size, 9, 1))
        yield plain("swapped", "t [ms]", [f"{s * 1000:.0f}" for s in at], at, order=swapped(at.size, 7))
    else:
        clock = written(at, milli)
        yield plain("late", "Uhrzeit", clock, at, language="de", mark=";", order=late(at.size, 17, 5))
        yield plain("again", "heure", clock, at, language="fr", mark=";", order=repeated(at.size, 11, 4))
        yield plain("swapped", "hora", clock, at, language="es", mark="\t", order=swapped(at.size, 5))
    rng = np.random.default_rng(41 if first else 42)
    at = np.cumsum(rng.uniform(0.07, 0.14, 700)) if first else np.cumsum(rng.uniform(0.03, 0.06, 1200))
    at -= at[0]
    at = at[~(((at > 21) & (at < 27.5)) | ((at > 44) & (at < 46)))]
    at = np.round(at, 3)
    order = late(at.size, 19, 2)
    order = [order[place] for place in repeated(len(order), 23, 2)]
    order = [order[place] for place in swapped(len(order), 29)]
    times = [f"{1_250_000 + s * 1000:.0f}" for s in at] if first else [f"{s:.3f}" for s in at + 311]
    yield plain("late, again, swapped, holes", "millis" if first else "Seconds since power on", times, at, order=order)
    at = steady(80, 10 if first else 8)
    headings, columns, truth = body(at, "en" if first else "it", (*USUAL, RSSI))
    slow = 5 if first else 3
    for number in (3, 4):
        columns[number] = [cell if place % slow == 0 else "" for place, cell in enumerate(columns[number])]
        values = truth.columns[(*USUAL, RSSI)[number]].copy()
        values[np.arange(at.size) % slow != 0] = np.nan
        truth = Truth(truth.at, {**truth.columns, (*USUAL, RSSI)[number]: values})
    rows = across([f"{s:.3f}" for s in at], *columns)
    rows = [rows[place] for place in late(at.size, 16, 2)]
    yield Log(
        "several rates, some late",
        Sheet(["Time (s)" if first else "Tempo (s)", *headings], rows, "," if first else ";").bytes(),
        (truth,),
    )
    at = steady(90, 10)
    at = at[~((at > 30) & (at < (50 if first else 36.3)))]
    yield plain(
        "a hole",
        "Time (s)" if first else "Zeit [ms]",
        [f"{s:.1f}" if first else f"{s * 1000:.0f}" for s in at],
        at,
        language="en" if first else "de",
        mark="," if first else ";",
    )


def wraps(hand: str) -> Iterator[Log]:
    """Counters that start anew at their end."""
    first = hand == "a"
    at = steady(90, 20)
    count = np.round(at * 1000).astype(np.int64)
    if first:
        yield plain("wrap at 16 bits", "Time (ms)", [str((n + 40_000) % 65_536) for n in count], at)
        yield plain("wrap at 32 bits", "time_us", [str((n * 1000 + 4_260_000_000) % 2**32) for n in count], at)
        yield plain("wrap of hundredths", "t (1/100 s)", [str((n // 10 + 62_000) % 65_536) for n in count], at)
    else:
        yield plain(
            "wrap at 16 bits", "Zeit [ms]", [str((n + 12_345) % 65_536) for n in count], at, language="de", mark=";"
        )
        yield plain("wrap at 32 bits", "uptime ms", [str((n + 2**32 - 33_000) % 2**32) for n in count], at, mark="\t")
        yield plain("wrap at a minute", "sec", [f"{(n / 1000 + 17) % 60:.2f}" for n in count], at)


def put_right(hand: str) -> Iterator[Log]:
    """Clocks that are set in flight."""
    first = hand == "a"
    at = steady(90, 10)
    ahead = np.where(at >= 40, 17.0, 0.0)
    number = [str(n) for n in range(1, at.size + 1)]
    stamp = (lambda m: f"{m:%Y-%m-%d} {milli(m)}") if first else (lambda m: f"{m:%d.%m.%Y} {milli(m)}")
    beside = ("Record", number) if first else ("Laufzeit (s)", [f"{s:.1f}" for s in at])
    yield plain(
        "set forward, told by another count",
        "Date time" if first else "Datum und Uhrzeit",
        written(at + ahead, stamp),
        at,
        language="en" if first else "de",
        mark="," if first else ";",
        more=[beside],
        open_to=frozenset({"ask"}),
        paused=ahead if first else None,
    )
    back = np.where(at >= 40, -3600.0, 0.0)
    yield plain(
        "set back by an hour",
        "Timestamp" if first else "Uhrzeit",
        written(at + back, stamp if first else milli),
        at,
        language="en" if first else "de",
        mark="," if first else ";",
        within=0.12,
    )
    leap = np.where(at >= 33, -18.0, 0.0)
    yield plain(
        "GPS leap seconds known late",
        "UTC" if first else "GPS time",
        written(at + leap, stamp),
        at,
        more=[("ms" if first else "elapsed_s", [f"{s * 1000:.0f}" if first else f"{s:.1f}" for s in at])],
        open_to=frozenset({"ask"}),
    )
    epoch = datetime(1980, 1, 6) if first else datetime(2000, 1, 1)
    clock = [*written(at[:120], stamp, epoch), *written(at[120:], stamp)]
    yield plain(
        "no day until the fix",
        "Time" if first else "Zeit",
        clock,
        at,
        language="en" if first else "de",
        mark="," if first else ";",
        start=DAY,
        within=0.12,
    )
    if first:
        stamps = [*["0"] * 6, *[f"{s * 1000:.0f}" for s in at[6:]]]
        headings, columns, truth = body(at)
        good = Truth(truth.at[6:] - truth.at[6], {name: values[6:] for name, values in truth.columns.items()})
        yield Log(
            "zeros until it runs",
            Sheet(["Time (ms)", *headings], across(stamps, *columns)).bytes(),
            (good,),
            or_else=((truth,),),
            within=0.11,
        )
    else:
        clock = [*written(at[:50], milli, datetime(2024, 6, 15)), *written(at[50:], milli)]
        yield plain("midnight until the fix", "Hora", clock, at, language="es", mark=";", within=0.12)
    summer = datetime(2024, 10, 27, 2, 59, 20) if first else datetime(2024, 3, 31, 1, 59, 20)
    shift = np.where(at >= 40, -3600.0 if first else 3600.0, 0.0)
    yield plain(
        "summer time",
        "Local time" if first else "Ortszeit",
        written(at + shift, stamp, summer),
        at,
        language="en" if first else "de",
        mark="," if first else ";",
        within=0.12,
    )


MONTHS = {
    "en": "January February March April May June July August September October November December",
    "de": "Januar Februar März April Mai Juni Juli August September Oktober November Dezember",
    "fr": "janvier février mars avril mai juin juillet août septembre octobre novembre décembre",
    "es": "enero febrero marzo abril mayo junio julio agosto septiembre octubre noviembre diciembre",
    "it": "gennaio febbraio marzo aprile maggio giugno luglio agosto settembre ottobre novembre dicembre",
}
WEEK = {"en": "MonTueWedThuFriSatSun", "de": "MoDiMiDoFrSaSo", "it": "lunmarmergiovensabdom"}
CLOCK = {"en": "Date and time", "de": "Zeitpunkt", "fr": "Date et heure", "es": "Fecha y hora", "it": "Data e ora"}


def days(hand: str) -> Iterator[Log]:
    """Days and times in the forms of five languages."""
    first = hand == "a"
    at = steady(60, 5)
    day = datetime(2024, 6, 15, 14, 3, 5) if first else datetime(2023, 2, 25, 9, 48, 51)

    def word(language: str, moment: datetime) -> str:
        return MONTHS[language].split(" ")[moment.month - 1]

    whole: dict[str, Callable[[datetime], str]] = {
        "en": lambda m: f"{m.day} {word('en', m)} {m.year} {milli(m)}",
        "de": lambda m: f"{m.day}. {word('de', m)} {m.year} {milli(m, ',')}",
        "fr": lambda m: f"{m.day} {word('fr', m)} {m.year} {m:%H}h{m:%M}m{m:%S}s{m.microsecond // 1000:03d}",
        "es": lambda m: f"{m.day} de {word('es', m)} de {m.year} {milli(m)}",
        "it": lambda m: f"{m.day} {word('it', m)} {m.year} {milli(m)}",
    }
    short: dict[str, Callable[[datetime], str]] = {
        "en": lambda m: f"{WEEK['en'][3 * m.weekday() :][:3]} {word('en', m)[:3]} {m.day:02d} {milli(m)} {m.year}",
        "de": lambda m: (
            f"{WEEK['de'][2 * m.weekday() :][:2]}, {m.day:02d}. {word('de', m)[:3]}. {m.year}, {milli(m)} Uhr"
        ),
        "fr": lambda m: f"{m.day:02d}-{word('fr', m)[:4]}.-{m.year} {milli(m)}",
        "es": lambda m: f"{m.day:02d}/{word('es', m)[:3]}/{m.year} {milli(m)}",
        "it": lambda m: f"{WEEK['it'][3 * m.weekday() :][:3]} {m.day} {word('it', m)[:3]} {m.year} ore {milli(m)}",
    }
    for language, form in (whole if first else short).items():
        yield plain(
            f"named month, {language}",
            CLOCK[language],
            written(at, form, day),
            at,
            language=language,
            mark=";",
            start=day,
        )
    numbers = (
        (lambda m: f"{m:%m/%d/%Y %I}:{m:%M:%S}.{m.microsecond // 1000:03d} {m:%p}")
        if first
        else (lambda m: f"{m:%y%m%d}-{m:%H%M%S}.{m.microsecond // 1000:03d}")
    )
    yield plain(
        "day in digits",
        "DateTime" if first else "stamp",
        written(at, numbers, day),
        at,
        start=day,
        open_to=frozenset() if first else frozenset({"ask"}),
    )
    iso = (
        (lambda m: f"{m.isoformat(timespec='milliseconds')}+02:00")
        if first
        else (lambda m: f"{m:%Y%m%dT%H%M%S}.{m.microsecond // 1000:03d}Z")
    )
    yield plain(
        "ISO 8601",
        "timestamp" if first else "time",
        written(at, iso, day),
        at,
        start=day - timedelta(hours=2 if first else 0),
    )
    unsure = datetime(2024, 6, 5, 14, 3, 5)
    yield plain(
        "day or month first",
        "Date/Time" if first else "Data e ora",
        written(at, lambda m: f"{m:%d/%m/%Y} {milli(m)}", unsure),
        at,
        language="en" if first else "it",
        start=unsure,
        open_to=frozenset({"ask"}),
    )
    night = datetime(2024, 6, 15, 23, 59, 30)
    form = milli if first else (lambda m: f"{m:%I:%M:%S}.{m.microsecond // 1000:03d} {m:%p}".lower())
    yield plain("midnight", "Time" if first else "Clock", written(at, form, night), at)
    if first:
        clock = [
            text if text >= "23" else text.replace("00:00:", "24:00:") if i < 200 else text
            for i, text in enumerate(written(at, milli, night))
        ]
        yield plain("twenty-four hours", "Time", clock, at)
    else:
        night = datetime(2016, 12, 31, 23, 59, 30)
        clock = written(at - np.where(at >= 31, 1.0, 0.0), lambda m: f"{m:%Y-%m-%d}T{milli(m)}Z", night)
        clock = [
            f"2016-12-31T23:59:60.{text[-4:-1]}Z" if 30 <= s < 31 else text for s, text in zip(at, clock, strict=True)
        ]
        yield plain("leap second", "UTC time", clock, at, start=night, within=1.02)


def parts(hand: str) -> Iterator[Log]:
    """A clock in several columns, in frames, day numbers, weeks and epochs."""
    first = hand == "a"
    at = steady(65, 10)
    now = moments(at)
    if first:
        more = [
            ("MM", [f"{m:%M}" for m in now]),
            ("SS", [f"{m:%S}" for m in now]),
            ("mmm", [f"{m.microsecond // 1000:03d}" for m in now]),
        ]
        yield plain("hours, minutes, seconds", "HH", [f"{m:%H}" for m in now], at, more=more)
        more = [
            (n, [f"{getattr(m, k)}" for m in now])
            for n, k in (("Month", "month"), ("Day", "day"), ("Hour", "hour"), ("Min", "minute"))
        ]
        more.append(("Sec", [f"{m.second + m.microsecond / 1e6:.1f}" for m in now]))
        yield plain("year to second", "Year", [str(m.year) for m in now], at, more=more, start=DAY)
    else:
        more = [
            ("Min", [str(m.minute) for m in now]),
            ("Sek", [str(m.second) for m in now]),
            ("ms", [str(m.microsecond // 1000) for m in now]),
        ]
        yield plain(
            "hours, minutes, seconds", "Std", [str(m.hour) for m in now], at, more=more, language="de", mark=";"
        )
        more = [
            ("Monat", [str(m.month) for m in now]),
            ("Jahr", [str(m.year) for m in now]),
            ("Uhrzeit", [milli(m, ",") for m in now]),
        ]
        yield plain(
            "year to second", "Tag", [str(m.day) for m in now], at, more=more, language="de", mark=";", start=DAY
        )
    rate = 25 if first else 30
    film = steady(50, rate)
    frames = [f"{m:%H:%M:%S}{':' if first else ';'}{round(m.microsecond * rate / 1e6):02d}" for m in moments(film)]
    yield plain("film frames", "Timecode" if first else "TC", frames, film, mark="," if first else "\t")
    serial = 45458 + (14 * 3600 + 3 * 60 + 5 + at) / 86400
    yield plain(
        "spreadsheet day",
        "Date" if first else "Datum/Zeit",
        [f"{d:.8f}" if first else f"{d:.8f}".replace(".", ",") for d in serial],
        at,
        language="en" if first else "de",
        mark="," if first else ";",
        comma=not first,
        start=DAY,
        within=0.01,
    )
    away = (DAY - datetime(1980, 1, 6)).total_seconds() + 18
    week, rest = divmod(away + at, 604_800)
    if first:
        yield plain(
            "GPS week",
            "GPS week",
            [f"{w:.0f}" for w in week],
            at,
            more=[("GPS second", [f"{s:.1f}" for s in rest])],
            start=DAY,
        )
    else:
        yield plain(
            "GPS week",
            "GPS ms of week",
            [f"{s * 1000:.0f}" for s in rest],
            at,
            more=[("Week", [f"{w:.0f}" for w in week])],
            start=DAY,
        )
    epoch = (DAY - datetime(1970, 1, 1)).total_seconds() + at
    forms = (("s", 1, 1), ("ms", 1e3, 0)) if first else (("us", 1e6, 0), ("ns", 1e9, 0))
    for unit, scale, decimals in forms:
        texts = [f"{s:.{decimals}f}" if unit == "s" else str(round(s * 1000) * int(scale // 1000)) for s in epoch]
        yield plain(f"epoch in {unit}", "timestamp" if first else f"unix_{unit}", texts, at, start=DAY)


def elapsed(hand: str) -> Iterator[Log]:
    """Time that runs from the start, or none at all."""
    first = hand == "a"
    at = steady(75, 10)
    headings, columns, truth = body(at, "en" if first else "de")
    mark = "," if first else ";"
    yield Log(
        "a rate above, no clock",
        Sheet(headings, across(*columns), mark, ["# 10 Hz"] if first else ["Abtastrate: 10 Hz"]).bytes(),
        (truth,),
    )
    number = [str(n) for n in range(at.size)]
    above = [] if first else ["# Interval: 0.1 s"]
    yield Log(
        "row numbers" + (" only" if first else " and an interval"),
        Sheet(["No" if first else "Nr.", *headings], across(number, *columns), mark, above).bytes(),
        (truth,),
        open_to=frozenset({"ask", "refuse"}) if first else frozenset(),
    )
    if first:
        yield Log(
            "no clock at all", Sheet(headings, across(*columns)).bytes(), (truth,), open_to=frozenset({"ask", "refuse"})
        )
    else:
        yield Log(
            "rate in the heading",
            Sheet(["Sample (20 ms)", *headings], across([str(5 * n) for n in range(at.size)], *columns), mark).bytes(),
            (truth,),
            open_to=frozenset({"ask", "refuse"}),
        )
    run = [f"{s:.1f}" for s in at]
    wall = written(at, lambda m: f"{m:%d.%m.%Y %H:%M:%S}" if not first else f"{m:%H:%M:%S}")
    pair = ("Wall clock", "Elapsed") if first else ("Zeit", "Laufzeit")
    yield plain(
        "wall and elapsed",
        pair[0],
        wall,
        at,
        more=[(pair[1], run)],
        language="en" if first else "de",
        mark=mark,
        start=None if first else DAY,
    )
    if first:
        yield plain("newest first", "Time (s)", run, at, order=range(at.size - 1, -1, -1))
        yield plain("whole seconds", "Time", written(at, lambda m: f"{m:%H:%M:%S}"), at, within=0.12)
        yield plain("minutes and seconds", "Elapsed", [f"{int(s // 60):02d}:{s % 60:04.1f}" for s in at], at)
        yield plain("in minutes", "Time (min)", [f"{s / 60:.5f}" for s in at], at)
        yield plain("before zero", "Time [s]", [f"{s - 5:.1f}" for s in at], at)
        yield plain("a coarse clock", "Time (s)", [f"{np.floor(s * 4) / 4:.2f}" for s in at], at, within=0.3)
        yield plain("clock last", "Time (s)", run, at, last=True)
    else:
        short = steady(60, 5)
        texts = written(short, lambda m: f"{m:%d.%m.%Y %H:%M:%S}")
        yield plain(
            "newest first",
            "Datum",
            texts,
            short,
            order=range(short.size - 1, -1, -1),
            language="de",
            mark=";",
            start=DAY,
            within=0.25,
        )
        yield plain(
            "whole seconds",
            "Heure",
            written(short, lambda m: f"{m:%H h %M min %S s}"),
            short,
            language="fr",
            mark=";",
            within=0.25,
        )
        yield plain("minutes and seconds", "Lap clock", [f"{int(s // 60)}'{s % 60:05.2f}\"" for s in at], at, mark="\t")
        yield plain(
            "in hours",
            "Laufzeit (h)",
            [f"{s / 3600:.7f}".replace(".", ",") for s in at],
            at,
            language="de",
            mark=";",
            comma=True,
        )
        yield plain("long since power on", "uptime_ms", [f"{987_654_321 + s * 1000:.0f}" for s in at], at)
        rng = np.random.default_rng(77)
        shaky = np.round(at + rng.uniform(-0.03, 0.03, at.size), 3)
        shaky = shaky - shaky[0]
        yield plain("shaky steps", "t", [f"{s:.3f}" for s in shaky], shaky)
        yield plain("clock without a heading", "", run, at, open_to=frozenset({"ask"}))
    headings, columns, truth = body(at, names=(USED, VOLT, LAT, LON, ALT))
    comma = [text.replace(".", ",") for text in written(at, milli)]
    yield Log(
        "comma in the clock",
        Sheet(["Time" if first else "Zeit", *headings], across(comma, *columns), ";" if first else "\t").bytes(),
        (truth,),
    )


KINDS = (radio, wraps, put_right, days, parts, elapsed)
