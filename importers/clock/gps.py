"""GPS week and second of week to UTC.

GPS time counts weeks and seconds since 1980-01-06 00:00:00 UTC and knows no leap seconds (IS-GPS-200, 3.3.4). UTC has
fallen behind it by one second at each of the dates below (IERS Bulletin C; the list ends with the last one announced).
"""

from __future__ import annotations

from datetime import date

EPOCH_S = 315_964_800
"""1980-01-06 in seconds since 1970."""
WEEK_S = 604_800
ROLLED = 1024
"""Weeks are sent as ten bits: a lower number may be of any of several epochs."""
_LEAPS = (
    date(1981, 7, 1), date(1982, 7, 1), date(1983, 7, 1), date(1985, 7, 1), date(1988, 1, 1), date(1990, 1, 1),
    date(1991, 1, 1), date(1992, 7, 1), date(1993, 7, 1), date(1994, 7, 1), date(1996, 1, 1), date(1997, 7, 1),
    date(1999, 1, 1), date(2006, 1, 1), date(2009, 1, 1), date(2012, 7, 1), date(2015, 7, 1), date(2017, 1, 1),
)  # fmt: skip


def leap_seconds(gps_s: float) -> int:
    """By how many seconds GPS time is ahead of UTC at a second of GPS time.

    >>> leap_seconds(2350 * WEEK_S)
    18
    """
    days = [(leap - date(1970, 1, 1)).days for leap in _LEAPS]
    return sum(gps_s + EPOCH_S - n >= day * 86_400 + 1 for n, day in enumerate(days))
