"""How hands write the time of a row: many forms, each with the truth of duration and start.

Spreadsheet days count from 1899-12-30 (ECMA-376 part 1, 18.17.4.1). GPS weeks count from 1980-01-06, and GPS time runs
18 s ahead of UTC since 2017 (IS-GPS-200; IERS Bulletin C 52).
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import numpy as np

from tests.importers.hands.flight import Floats
from tests.importers.hands.truth import Clock

MONTHS = {
    "en": ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"),
    "de": ("Jan", "Feb", "Mär", "Apr", "Mai", "Jun", "Jul", "Aug", "Sep", "Okt", "Nov", "Dez"),
    "fr": ("janv.", "févr.", "mars", "avr.", "mai", "juin", "juil.", "août", "sept.", "oct.", "nov.", "déc."),
    "es": ("ene", "feb", "mar", "abr", "may", "jun", "jul", "ago", "sep", "oct", "nov", "dic"),
    "it": ("gen", "feb", "mar", "apr", "mag", "giu", "lug", "ago", "set", "ott", "nov", "dic"),
}
"""Short names of the months, as the Unicode CLDR 44 gives them (German: three letters)."""

LEAP_S = 18
TRAPS = {
    "letters": "14h03m11s", "dashes": "date and time all in dashes", "month": "month in letters",
    "month_local": "month in letters of the language", "month_minutes": "minutes only",
    "excel": "spreadsheet day number", "day": "fraction of a day", "gps": "GPS week and second",
    "summer": "summer time ends or begins in mid-log", "hhmmss": "time of day in one number",
}  # fmt: skip


def _start(rng: np.random.Generator, day_over_12: bool = True) -> datetime:
    day = int(rng.integers(13, 28)) if day_over_12 else int(rng.integers(1, 12))
    return datetime(
        int(rng.integers(2019, 2027)), int(rng.integers(3, 11)), day,
        int(rng.integers(8, 19)), int(rng.integers(0, 60)), int(rng.integers(0, 50)),
        int(rng.integers(0, 10)) * 100_000,
    )  # fmt: skip


def _fraction(t: datetime, digits: int, mark: str = ".") -> str:
    return f"{mark}{t.microsecond // 10 ** (6 - digits):0{digits}d}" if digits else ""


def gps(utc: datetime) -> tuple[int, float]:
    """GPS week and second of an instant of UTC."""
    since = (utc.replace(tzinfo=None) + timedelta(seconds=LEAP_S) - datetime(1980, 1, 6)) / timedelta(seconds=1)
    return int(since // 604_800), since % 604_800


def write(
    form: str, rng: np.random.Generator, t: Floats, decimal: str = ".", language: str = "en"
) -> tuple[list[list[str]], Clock]:  # fmt: skip
    """Write a clock.

    Parameters
    ----------
    form : str
        One of the forms below, such as ``ms``, ``clock``, ``iso_z`` or ``date+clock``.
    t : array, s
        When each row was taken, from 0.

    Returns
    -------
    list of list of str, Clock
        The cells of one or two columns, and the truth.
    """
    step = float(np.median(np.diff(t)))
    digits = (
        0 if step >= 1.0 and abs(step - round(step)) < 1e-9 else (1 if abs(step * 10 - round(step * 10)) < 1e-6 else 3)
    )
    boot = float(rng.integers(0, 2) * np.round(rng.uniform(3.0, 400.0), 1))
    begin = _start(rng)
    if digits == 0:
        begin = begin.replace(microsecond=0)
    at = [begin + timedelta(seconds=float(x)) for x in t]
    utc: datetime | None = None
    local: datetime | None = None
    resolution, ask = 10.0**-digits, "no"

    def number(x: Floats, places: int) -> list[str]:
        return [f"{v:.{places}f}".replace(".", decimal) for v in x]

    def hms(x: datetime) -> str:
        return f"{x:%H:%M:%S}{_fraction(x, digits, decimal)}"

    if form == "s":
        cells = [number(t + boot, max(digits, 1))]
    elif form == "ms":
        cells = [number((t + boot) * 1e3, 0)]
        resolution = 1e-3
    elif form == "us":
        cells = [number((t + boot) * 1e6, 0)]
        resolution = 1e-6
    elif form == "min":
        cells = [number(t / 60.0, 5)]
        resolution = 6e-4
    elif form == "clock":
        cells = [[hms(x) for x in at]]
    elif form == "coarse":
        cells = [[f"{x:%H:%M:%S}" for x in at]]
        resolution = 1.0
    elif form == "ampm":
        cells = [[f"{x:%I:%M:%S}{_fraction(x, digits)} {x:%p}" for x in at]]
    elif form == "letters":
        cells = [[f"{x:%Hh%Mm%S}{_fraction(x, digits, decimal)}s" for x in at]]
    elif form == "hhmmss":
        cells = [[f"{x:%H%M%S}{_fraction(x, digits, decimal)}" for x in at]]
    elif form in ("iso", "iso_t", "iso_z", "iso_off"):
        gap = " " if form == "iso" else "T"
        off = int(rng.choice([-7, -4, 2, 10]))
        tail = {"iso_z": "Z", "iso_off": f"{off:+03d}:00"}.get(form, "")
        cells = [[f"{x:%Y-%m-%d}{gap}{x:%H:%M:%S}{_fraction(x, digits)}{tail}" for x in at]]
        if form == "iso_z":
            utc = begin.replace(tzinfo=UTC)
        elif form == "iso_off":
            utc = begin.replace(tzinfo=timezone(timedelta(hours=off))).astimezone(UTC)
        else:
            local = begin
    elif form == "dashes":
        cells = [[f"{x.year}-{x.month}-{x.day}--{x.hour}-{x.minute}-{x.second}-{x.microsecond // 1000}" for x in at]]
        local, resolution = begin, 1e-3
    elif form in ("month", "month_local"):
        names = MONTHS[language if form == "month_local" else "en"]
        join = " " if form == "month_local" and language in ("fr", "de") else "-"
        dot = "." if language == "de" and form == "month_local" else ""
        cells = [[f"{x.day:02d}{dot}{join}{names[x.month - 1]}{join}{x.year} {hms(x)}" for x in at]]
        local = begin
    elif form == "dots":
        cells = [[f"{x:%d.%m.%Y} {hms(x)}" for x in at]]
        local = begin
    elif form in ("slashes", "us_slashes", "slashes_open"):
        if form == "slashes_open":
            begin = begin.replace(day=int(rng.integers(1, 12)))
            at = [begin + timedelta(seconds=float(x)) for x in t]
            ask = "may" if begin.day == begin.month else "must"
        pattern = "%m/%d/%Y" if form == "us_slashes" else "%d/%m/%Y"
        cells = [[f"{x.strftime(pattern)} {hms(x)}" for x in at]]
        local = begin
    elif form == "date+clock":
        pattern = "%d.%m.%Y" if language == "de" else "%Y-%m-%d" if language == "en" else "%d/%m/%Y"
        cells = [[x.strftime(pattern) for x in at], [hms(x) for x in at]]
        local = begin
    elif form in ("epoch", "epoch_ms"):
        utc = begin.replace(tzinfo=UTC)
        since = np.array([(x - datetime(1970, 1, 1)) / timedelta(seconds=1) for x in at])
        cells = [number(since, digits) if form == "epoch" else number(since * 1e3, 0)]
    elif form == "excel":
        since = np.array([(x - datetime(1899, 12, 30)) / timedelta(days=1) for x in at])
        cells = [number(since, 8)]
        local, resolution = begin, 2e-3
    elif form == "day":
        since = np.array([(x - x.replace(hour=0, minute=0, second=0, microsecond=0)) / timedelta(days=1) for x in at])
        cells = [number(since, 8)]
        resolution, ask = 2e-3, "may"
    elif form == "month_minutes":
        cells = [[f"{x:%d}-{MONTHS['en'][x.month - 1]}-{x:%Y %H:%M}" for x in at]]
        local, resolution, ask = begin, 60.0, "may"
    elif form == "gps":
        both = np.array([gps(x) for x in at])
        cells = [number(both[:, 0], 0), number(both[:, 1], max(digits, 1))]
        utc = begin.replace(tzinfo=UTC)
    elif form == "summer":
        zone = ZoneInfo("Europe/Paris")
        # The last Sundays of October and March 2024: clocks go to 02:00 and 03:00 at 01:00 UTC (tz database, 2024a).
        change = datetime(2024, 10, 27, 1, tzinfo=UTC) if rng.random() < 0.5 else datetime(2024, 3, 31, 1, tzinfo=UTC)
        first = change - timedelta(seconds=float(np.round(t[-1] * 0.4)))
        walls = [(first + timedelta(seconds=float(x))).astimezone(zone) for x in t]
        cells = [[f"{x:%Y-%m-%d %H:%M:%S}{_fraction(x, digits)}" for x in walls]]
        local = walls[0].replace(tzinfo=None)
    else:
        raise KeyError(form)
    return cells, Clock(form, t - t[0], resolution, utc, local, ask, TRAPS.get(form, ""))
