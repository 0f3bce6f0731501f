"""Moments, lengths of time and dates as a reader wants them."""

from __future__ import annotations

import math
from datetime import date, datetime

from reports.words.reader import reader
from reports.words.texts import MINUS, add_filters, message, number, written_day, written_hour


def clock(seconds: float | None) -> str:
    """Write seconds from the log's first row as ``m:ss.s`` or ``h:mm:ss.s``."""
    if seconds is None or not math.isfinite(seconds):
        return message("time.unknown")
    sign = MINUS if seconds < 0 else ""
    tenths = round(abs(seconds) * 10)
    minutes, rest = divmod(tenths, 600)
    hours, minutes = divmod(minutes, 60)
    head = f"{hours}:{minutes:02d}" if hours else f"{minutes}"
    return f"{sign}{head}:{'0' if rest < 100 else ''}{number(rest / 10, 1)}"


def span(seconds: float) -> str:
    """Write a length of time in plain words: ``a moment``, ``0.4 s``, ``12 s``, ``8 min 04 s``."""
    if seconds < 0.05:
        return message("time.moment")
    if seconds < 10:
        return f"{number(seconds, 1)} s"
    whole = round(seconds)
    if whole < 60:
        return f"{whole} s"
    minutes, rest = divmod(whole, 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours} h {minutes:02d} min" if hours else f"{minutes} min {rest:02d} s"


def long_day(day: date) -> str:
    """Write a date with its month in words: ``17 May 2026``."""
    from babel.dates import format_date

    return format_date(day, message("time.long_day"), locale=reader().locale)


def when(start: datetime | None) -> str:
    """Write a date and the time of day, in UTC."""
    return f"{written_day(start.date())} {written_hour(start)} UTC" if start else message("time.no_date")


add_filters(moment=clock)
