"""A clock whose hours, minutes, seconds, days or milliseconds stand in columns of their own."""

from __future__ import annotations

import itertools
import re
from collections.abc import Sequence
from functools import lru_cache

import numpy as np
import numpy.typing as npt
from msgspec.structs import replace

from analyser.core.findings import say
from importers.clock.codes import ClockCode
from importers.clock.forms import NUMBER, read_cells
from importers.clock.model import NO_COLUMN, NUMBER_FORM, Clock
from importers.meaning.columns import Heading
from importers.meaning.words import fold

FloatArray = npt.NDArray[np.float64]

_ROLES = {
    "year": "year yr yyyy yy jahr annee an ano anno",
    "month": "month mon monat mois mes mese",
    "day": "day dd tag jour dia giorno",
    "hour": "hour hours hr hrs h hh std stunde stunden heure heures hora horas ora ore",
    "minute": "minute minutes min mins mn minuten minuto minutos minuti",
    "second": "second seconds sec secs s ss sek sekunde sekunden seconde secondes segundo segundos seg secondo secondi",
    "milli": "ms msec millis milli millisecond milliseconds millisekunde millisekunden milliseconde millisecondes "
    "milisegundo milisegundos millisecondo millisecondi",
}
_MEANS = {word: role for role, words in _ROLES.items() for word in words.split()}
_BESIDE = {"time", "utc", "gps", "gnss", "local", "clock", "date", "epoch", "zeit", "uhr", "heure", "hora", "ora",
           "tempo", "temps", "tiempo", "datum", "fecha", "data", "t", "rtc"}  # fmt: skip
_RANGES = {"year": (0, 2200), "month": (1, 12), "day": (1, 31), "hour": (0, 23), "minute": (0, 59),
           "second": (0, 60.999_999_999), "milli": (0, 999)}  # fmt: skip
_SECONDS = {"hour": 3600.0, "minute": 60.0, "milli": 0.001}


def roles(headings: Sequence[Heading], cells: Sequence[Sequence[str]]) -> dict[str, int]:
    """The columns that hold one part of the time each, by part; the first of each that is one."""
    found: dict[str, int] = {}
    short = _by_neighbours([fold(h.plain).strip(" []()") for h in headings])
    for i, heading in enumerate(headings):
        words = (short[i],) if i in short else _words_in(f"{heading.text} {heading.unit_text}")
        said = list(dict.fromkeys(_MEANS[w] for w in words if w in _MEANS))
        beside = {w for w in words if w not in _MEANS}
        if len(said) == 2 and "hour" in said and {"heure", "hora", "ora"} & set(words):
            said.remove("hour")  # the hour of the day is "heure", and so is the time
        if len(said) != 1 or said[0] in found or beside - _BESIDE:
            continue
        x = numbers(cells[i])
        seen = x[np.isfinite(x)]
        low, high = _RANGES[said[0]]
        whole = said[0] == "second" or bool(np.all(seen == np.rint(seen)))
        if seen.size > 1 and whole and seen.min() >= low and seen.max() <= high:
            found[said[0]] = i
    return found


@lru_cache(maxsize=4096)
def _words_in(text: str) -> tuple[str, ...]:
    """Its words of plain letters; a plan asks for those of the same headings several times."""
    return tuple(re.findall("[a-z]+", fold(text)))


def _by_neighbours(texts: Sequence[str]) -> dict[int, str]:
    """Letters that only their neighbours tell: ``MM`` is a minute between hour and second, a month beside year or day.

    Examples
    --------
    >>> _by_neighbours(["yyyy", "mm", "dd", "hh", "mm", "ss", "mmm"])
    {1: 'month', 4: 'minute', 6: 'milli'}
    """
    out: dict[int, str] = {}
    for i, text in enumerate(texts):
        before, after = _MEANS.get(texts[i - 1], "") if i else "", _MEANS.get("".join(texts[i + 1 : i + 2]), "")
        if text in ("mm", "m", "mi") and before == "hour" and after == "second":
            out[i] = "minute"
        elif text in ("mm", "m", "mo") and {before, after} in ({"year", "day"}, {"year", ""}):
            out[i] = "month"
        elif text in ("mmm", "sss", "fff", "zzz", "000") and before == "second":
            out[i] = "milli"
    return out


def assembled(headings: Sequence[Heading], cells: Sequence[Sequence[str]], dates: Sequence[int]) -> Clock | None:
    """The clock of hours, minutes and seconds in columns of their own; None where there is none.

    Parameters
    ----------
    dates : sequence of int
        Columns that hold days.
    """
    part = roles(headings, cells)
    if "second" not in part or "minute" not in part:
        return None
    used = [p for p in ("hour", "minute", "milli") if p in part]
    shown = _names(headings, [part[p] for p in ("hour", "minute", "second", "milli") if p in part])
    clock = Clock(part["second"], NUMBER_FORM, pieces=tuple((part[p], _SECONDS[p]) for p in used),
                  wraps=(86_400, 43_200), why=say(ClockCode.PIECES, columns=shown))  # fmt: skip
    x = seconds(clock, cells)
    if not _ticks(x):
        return None
    clock = replace(clock, backwards=_backwards(x))
    if "hour" in part and dates:
        return replace(clock, date_column=dates[0], absolute=True, wraps=(86_400,))
    return dated(clock, headings, cells) if "hour" in part else replace(clock, wraps=(3600,))


def dated(clock: Clock, headings: Sequence[Heading], cells: Sequence[Sequence[str]]) -> Clock:
    """A clock of the day with the columns of year, month and day, where the file has them."""
    part = roles(headings, cells)
    if not {"year", "month", "day"} <= part.keys() or clock.absolute:
        return clock
    day = (part["year"], part["month"], part["day"])
    why = say(ClockCode.WITH_DATE, clock=clock.why, column=_names(headings, day)[0], order="")
    return replace(clock, day_columns=day, absolute=True, wraps=(86_400,), why=why)


def finer(clock: Clock, headings: Sequence[Heading], cells: Sequence[Sequence[str]]) -> Clock:
    """A clock of whole seconds with the column of milliseconds beside it, where that makes it finer."""
    at = roles(headings, cells).get("milli")
    if at is None or at == clock.column or clock.pieces or clock.per_second not in (1, 1.0):
        return clock
    x = seconds(clock, cells)
    seen = x[np.isfinite(x)]
    if seen.size < 3 or not np.all(np.abs(seen - np.rint(seen)) < 1e-6):
        return clock
    more = replace(clock, pieces=((at, _SECONDS["milli"]),),
                   why=say(ClockCode.WITH_MILLISECONDS, clock=clock.why, column=headings[at].text))  # fmt: skip
    y = seconds(more, cells)
    steps, finer_steps = np.diff(seen), np.diff(y[np.isfinite(y)])
    falls = min(int((finer_steps < 0).sum()), int((finer_steps > 0).sum()))
    return more if falls <= 0.2 * finer_steps.size and (finer_steps != 0).sum() > (steps != 0).sum() else clock


def seconds(clock: Clock, cells: Sequence[Sequence[str]], rows: Sequence[int] | None = None) -> FloatArray:
    """Seconds of some rows after the first that tells it, NaN where a cell tells no time; days are not counted on."""

    def column(i: int) -> list[str]:
        own = cells[i]
        return list(own) if rows is None else [own[r] for r in rows]

    if clock.column == NO_COLUMN:
        out = np.arange(len(cells[0]) if rows is None else len(rows)) / float(clock.per_second)
    elif clock.form == NUMBER_FORM:
        out = numbers(column(clock.column)) / float(clock.per_second)
    else:
        ns, good = read_cells(column(clock.column), clock.form, clock.order, clock.per_second)
        out = np.where(good, (ns - ns[int(good.argmax())]) / 1e9, np.nan)
    for i, each in clock.pieces:
        out = out + numbers(column(i)) * each
    there = np.isfinite(out)
    return np.asarray(out - out[int(there.argmax())] if there.any() else out)


SPARSE_FROM = 0.2
"""Where this share of rows has no time, that is how the log is written; where less, those rows are damaged."""
_LONGEST_RUN = 50


def steady(x: FloatArray) -> FloatArray:
    """Seconds without the leaps of a clock that is set: one of an hour or more is a usual step."""
    there = np.flatnonzero(np.isfinite(x))
    steps = np.diff(x[there])
    if not (np.abs(steps) >= LEAP_S).any():
        return x
    out = x.copy()
    usual = float(np.median(steps))
    out[there[1:]] = x[there[0]] + np.cumsum(np.where(np.abs(steps) >= LEAP_S, usual, steps))
    return out


LEAP_S = 3600.0


def sparse(times: Sequence[str]) -> bool:
    """Whether only some rows have a time, those below each sharing it."""
    if "" not in times:
        return False
    timed = [bool(t) for t in times]
    if not any(timed) or timed.count(False) < SPARSE_FROM * len(timed):
        return False
    runs = [sum(1 for _ in same) for there, same in itertools.groupby(timed[timed.index(True) :]) if not there]
    return bool(runs) and max(runs) <= _LONGEST_RUN and len(runs) > 0.02 * len(timed)


def carried(cells: Sequence[str]) -> list[str]:
    """Cells, the empty ones filled with the last above them."""
    out: list[str] = []
    for own in cells:  # a file's first rows, not all of it
        out.append(own or (out[-1] if out else ""))
    return out


def another(clock: Clock, spare: Sequence[int], headings: Sequence[str], cells: Sequence[Sequence[str]]) -> int | None:
    """A second column under the clock's own heading that runs at another rate: the columns beside it are on it."""
    if clock.column == NO_COLUMN:
        return None
    own = seconds(clock, cells)
    for i in spare:
        if headings[i] != headings[clock.column] or not headings[i]:
            continue
        other = seconds(replace(clock, column=i, pieces=(), day_columns=None), cells)
        both = np.isfinite(own) & np.isfinite(other)
        if both.sum() > 2 and abs(np.ptp(own[both]) - np.ptp(other[both])) > 0.02 * np.ptp(own[both]):
            return i
    return None


def days_s(parts: Sequence[npt.NDArray[np.float64]]) -> FloatArray:
    """Seconds since 1970 of the midnight of days given as year, month and day; NaN where there is no such day.

    >>> days_s([np.array([1970.0, 70.0]), np.array([1.0, 2.0]), np.array([2.0, 1.0])])
    array([  86400., 2678400.])
    """
    year, month, day = parts
    good = np.isfinite(year) & np.isfinite(month) & np.isfinite(day) & (month >= 1) & (month <= 12) & (day >= 1)
    year = np.where(year < 70, year + 2000, np.where(year < 100, year + 1900, year))
    months = np.where(good, (np.nan_to_num(year) - 1970) * 12 + np.nan_to_num(month) - 1, 0).astype(np.int64)
    first = months.astype("datetime64[M]").astype("datetime64[D]")
    length = ((months + 1).astype("datetime64[M]").astype("datetime64[D]") - first).astype(np.int64)
    good &= day <= length
    return np.where(good, (first.astype(np.int64) + np.nan_to_num(day) - 1) * 86_400.0, np.nan)


def _names(headings: Sequence[Heading], columns: Sequence[int]) -> tuple[str, ...]:
    return tuple(headings[i].text for i in columns)


def _ticks(x: FloatArray) -> bool:
    """Whether a column of seconds runs, but for where it wraps."""
    steps = np.diff(x[np.isfinite(x)])
    ahead, back = int((steps > 0).sum()), int((steps < 0).sum())
    return steps.size > 0 and ahead != back and min(ahead, back) <= 0.35 * (ahead + back)


def _backwards(x: FloatArray) -> bool:
    steps = np.diff(x[np.isfinite(x)])
    down = int((steps < 0).sum())
    return down >= 3 and down > 0.8 * int((steps != 0).sum())


def numbers(values: Sequence[str]) -> FloatArray:
    """Cells as numbers, NaN where one is none."""
    return np.array([float(v.replace(",", ".")) if NUMBER.fullmatch(v) else np.nan for v in values])
