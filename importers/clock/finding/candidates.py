"""One column as a clock: how its cells are read, and what about it is open."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

import numpy as np
import numpy.typing as npt
from msgspec.structs import replace

from analyser.core.findings import say
from importers.clock import days, gps
from importers.clock.codes import ClockCode
from importers.clock.finding.headings import (
    SCALES,
    WEEK,
    bare,
    of_seconds,
    of_week,
    per_second,
    since_start,
    worded,
)
from importers.clock.forms import IN_ROW, NUMBER, Open, date_order, order_said, read_cells
from importers.clock.model import Clock
from importers.meaning import units
from importers.meaning.columns import Heading
from importers.meaning.words import fold

_UNMARKED = re.compile(r"\s*([01]\d|2[0-3])([0-5]\d)([0-5]\d)(\.\d+)?\s*")
RUNS = 0.8
"""Least share of a clock's course that its rows tell, resets and late rows included: common practice, no source."""
_DISORDER = 32
_ROWS, _SHORT_S, _LONG_S = 100, 3.0, 7_200.0
"""So many rows of a flight take longer than the second, and no longer than the third: common practice, no source."""
_FAST_S, _SLOW_S = 0.0099, 1.5
"""A number without a unit whose rows would follow each other faster or slower, in seconds, may count something else:
common practice, no source."""
_SELDOM_S = 20.0
"""Nobody logs a flight with this long between rows: common practice, no source."""
_FILM = (24, 25, 30, 48, 50, 60)
"""Frames in a second (SMPTE ST 12-1 and 12-3)."""
_SEEN = 8
"""Seconds whose last frame is the highest of all: enough to know that no higher one exists."""
MANY = 50


def _steps_of(unit: str | None, x: npt.NDArray[np.float64]) -> bool:
    """Whether all readings are multiples of a unit's own number: "20 ms" may then be the step of a clock in ms."""
    number = re.fullmatch(r"(\d+) .+", unit or "")
    return bool(number and int(number.group(1)) > 1 and not (x % int(number.group(1))).any())


def by_unit_alone(heading: Heading, values: Sequence[str]) -> bool:
    """Whether a unit of time makes a clock of a column: its only word names nothing else, and its values run on.

    The width of a servo's pulse is in microseconds too.
    """
    if not of_seconds(heading.unit) or len(heading.words) > 1 or any(heading.ideas):
        return False
    x = numbers_in(values)
    place, steps = np.arange(x.size), np.diff(x)
    counts = (steps > 0).sum() > 4 * (steps < 0).sum()  # and may wrap
    return x.size < MANY or bool(np.ptp(x) > 0 and (counts or np.corrcoef(x, place)[0, 1] ** 2 > RUNS))


def weekly(clock: Clock, headings: Sequence[Heading], cells: Sequence[Sequence[str]]) -> Clock:
    """A clock of GPS seconds of the week with the column that counts the weeks."""
    if not of_week(headings[clock.column]) or clock.absolute:
        return clock
    length = gps.WEEK_S * clock.per_second
    x = numbers_in([c for c in cells[clock.column] if c])
    if not x.size or x.min() < 0 or x.max() > length or clock.per_second not in SCALES.values():
        return clock
    unit = next(u for u, each in SCALES.items() if each == clock.per_second)
    clock = replace(clock, wraps=(round(length),), why=say(ClockCode.GPS_OF_WEEK, unit=unit))
    for i, other in enumerate(headings):
        if not WEEK & set(re.findall("[a-z]+", fold(other.plain))):
            continue
        weeks = numbers_in([c for c in cells[i] if c])
        if weeks.size and (weeks == np.rint(weeks)).all() and weeks.min() >= gps.ROLLED and np.ptp(weeks) <= 1:
            first = float(weeks[0] * gps.WEEK_S + x[0] / clock.per_second)
            leaps = gps.leap_seconds(first)
            return replace(clock, wraps=(), week_column=i, zero_ns=(gps.EPOCH_S - leaps) * 10**9, absolute=True,
                           zone="UTC", why=say(ClockCode.GPS_WEEK, leaps=leaps))  # fmt: skip
    return clock


def _zone(heading: Heading, values: Sequence[str], answers: dict[str, str]) -> str:
    if "utc" in heading.ideas:
        return "UTC"
    return "row" if IN_ROW.search(values[0]) else answers.get("zone", "")


def text_clock(
    i: int, form: str, heading: Heading, values: Sequence[str], answers: dict[str, str]
) -> tuple[Clock, list[Open]]:
    """A clock of stamps, of times of day, or of minutes and seconds."""
    zone = _zone(heading, values, answers)
    order, asks = date_order(values, heading.text, answers) if form == "stamp" else ("ymd", [])
    ns, good = read_cells(values, form, order)
    turned = _falls(ns[good])
    if form == "stamp":
        return Clock(i, form, order=order, zone=zone, absolute=True, backwards=turned,
                     why=say(ClockCode.STAMP, order=order_said(values, order), zone=zone)), asks  # fmt: skip
    if form == "hms" and (most := _frames(values)):
        return _film(i, heading, values, most, answers)
    if form == "hms":
        return Clock(i, form, wraps=(86400, 43200), zone=zone, backwards=turned,
                     why=say(ClockCode.TIME_OF_DAY)), []  # fmt: skip
    if not any("." in v or "," in v for v in values) and answers.get("minutes") not in ("mm:ss", "hh:mm"):
        asked = say(ClockCode.ASK_MINUTES, heading=heading.text, example=values[0])
        asks = [Open("minutes", asked, ("mm:ss", "hh:mm"))]
    hours = answers.get("minutes") == "hh:mm"
    return Clock(i, "ms", per_second=60 if hours else 1, wraps=(86400,) if hours else (3600,), backwards=turned,
                 why=say(ClockCode.MINUTES_SECONDS)), asks  # fmt: skip


def _laps(per_second: float, whole: bool) -> tuple[int, ...]:
    """Round numbers at which a counter may start anew: minute, hour, day, digits that are full, 24 bits."""
    spans = tuple(round(s * per_second) for s in (60, 3600, 86_400) if per_second >= 1)
    return spans + ((10**5, 10**6, 10**7, 10**8, 2**24) if whole and per_second >= 1000 else ())


def _frames(values: Sequence[str]) -> int:
    """The highest frame of film in the fourth part of times; 0 where that counts hundredths."""
    parts = [m.group(1) for v in values if (m := re.search(r":\d\d:\d\d[:;](\d\d)$", v))]
    counts = len(parts) > MANY and len(parts) > 0.8 * len(values) and max(parts) < "60"
    return int(max(parts)) if counts else 0


def _film(
    i: int, heading: Heading, values: Sequence[str], most: int, answers: Mapping[str, str]
) -> tuple[Clock, list[Open]]:
    """A clock that counts frames, as many in a second as its highest frame tells; asked where it may tell several."""
    ways = [n for n in _FILM if n > most]
    whole = sum(v.endswith(f"{most:02d}") for v in values)
    said = answers.get("frames", "")
    told = re.search(r"(\d+)\s*(?:fps|frames|bilder|images|hz)\b", fold(heading.plain))
    if not said and told and int(told.group(1)) in ways:
        said = told.group(1)
    sure = most + 1 in _FILM and whole >= _SEEN
    rate = int(said) if said.isdecimal() and int(said) in ways else most + 1 if sure else ways[0]
    shown = tuple(map(str, ways))
    asked = say(ClockCode.ASK_FRAMES, heading=heading.text, example=values[0], most=most, ways=shown)
    asks = [] if sure or said in shown else [Open("frames", asked, shown)]
    ns, good = read_cells(values, "hms", "ymd", rate)
    return Clock(i, "hms", per_second=rate, wraps=(86400, 43200), backwards=_falls(ns[good]),
                 why=say(ClockCode.FRAMES, rate=rate)), asks  # fmt: skip


def _falls(x: npt.NDArray[np.int64] | npt.NDArray[np.float64]) -> bool:
    """Whether a clock runs backwards: the newest row comes first."""
    steps = np.diff(x)
    down = int((steps < 0).sum())
    return down >= 3 and down > 0.8 * int((steps != 0).sum())


def _rises(x: npt.NDArray[np.float64]) -> bool:
    """Whether a clock grows, but for resets, or rows that are out of their place by a few."""
    steps = np.diff(x)
    falls, rises = int((steps < 0).sum()), int((steps > 0).sum())
    if falls <= 0.2 * steps.size and 4 * falls <= 3 * rises:  # a late row falls once, and rises twice
        return True
    place = np.argsort(np.argsort(x, kind="stable"), kind="stable")
    off = np.abs(place - np.arange(x.size))
    grows = np.median(x[-_DISORDER:]) > np.median(x[:_DISORDER])
    return bool(x.size >= 4 * _DISORDER and np.percentile(off, 90) <= _DISORDER and grows)


def numbers_in(values: Sequence[str]) -> npt.NDArray[np.float64]:
    """The numbers among some cells."""
    return np.array([float(v.replace(",", ".")) for v in values if NUMBER.fullmatch(v)])


def unmarked(
    i: int, heading: Heading, values: Sequence[str], answers: dict[str, str]
) -> tuple[Clock, list[Open]] | None:
    """A clock of times of day in one number (140307 for 14:03:07), asked where it may as well count seconds."""
    said = answers.get("time_unit", "")
    if heading.unit or said in SCALES or len({len(v.partition(".")[0]) for v in values}) > 1:
        return None
    if not all(_UNMARKED.fullmatch(v) for v in values):
        return None
    clock, asks = text_clock(i, "hms", heading, values, answers)
    hours = {v[:4] for v in values}
    # Counted seconds would have shown a 60 within two minutes, and no leading nought at all.
    sure = said == "hhmmss" or "utc" in heading.ideas or len(hours) > 2 or any(h[0] == "0" for h in hours)
    if not sure:
        shown = f"{values[0][:2]}:{values[0][2:4]}:{values[0][4:]}"
        asked = say(ClockCode.ASK_TIME_OF_DAY, heading=heading.text, example=values[0], clock=shown)
        asks = [*asks, Open("time_unit", asked, ("hhmmss", "s", "ms"))]
    return clock, asks


def number_clock(
    i: int, heading: Heading, values: Sequence[str], rows_estimate: float, answers: dict[str, str]
) -> tuple[Clock, list[Open]] | None:
    """A clock that is a number, its unit asked where nothing tells it; None where it does not grow."""
    x = numbers_in(values)
    x = x[np.isfinite(x)]
    if x.size < 2:
        return (Clock(i, "number", why=say(ClockCode.SECONDS)), []) if x.size else None
    turned = _falls(x)
    x = x[::-1] if turned else x
    steps = np.diff(x)
    ahead = steps[steps > 0]
    if ahead.size == 0 or not _rises(x):
        return None
    clock = Clock(i, "number", backwards=turned)
    whole = bool(np.all(x == np.rint(x)))
    first = float(np.median(x))
    unit = heading.unit if per_second(heading.unit) and not _steps_of(heading.unit, x) else bare(heading) or None
    unit = unit or since_start(heading) or worded(heading)
    if unit is None and of_week(heading) and x.min() >= 0 and x.max() <= gps.WEEK_S * 1000:
        unit = "ms" if x.max() > gps.WEEK_S else "s" if np.median(ahead) < 20 else None
    for since, factor in (("s", 1), ("ms", 10**3), ("us", 10**6), ("ns", 10**9)):
        low = float(np.percentile(x, 2))
        if 9.4e8 * factor < first < 4.2e9 * factor and unit in (None, since) and low > 9e8 * factor:
            return replace(
                clock, per_second=factor, absolute=True, zone="UTC", why=say(ClockCode.SINCE_1970, unit=since)
            ), []
    if by_days := days.counted(clock, heading, x, x.size, _zone(heading, values, answers), answers):
        return by_days, []
    wraps = (2**16, 2**32, 2**31) if whole else ()
    if unit is None and heading.words and heading.words[-1] in ("millis", "micros"):
        unit = {"millis": "ms", "micros": "us"}[heading.words[-1]]
    said = answers.get("time_unit", "")
    unit = said if per_second(said) else unit
    scale = per_second(unit)
    clock = replace(clock, laps=_laps(scale or 1, whole))
    step = float(np.median(ahead))
    span = step * (ahead.size / steps.size) * max(rows_estimate, x.size)
    ways = ("s", "ms", "us") if whole else ("ms", "us", "min", "h", "d")
    fits = [u for u in ways if 5 <= span / SCALES[u] <= 24 * 3600]
    if unit is not None and scale is not None:
        longer = [u for u in ("s", "ms", "us") if _SHORT_S < span / SCALES[u] < _LONG_S]
        odd = span / scale < _SHORT_S or (span / scale > _LONG_S and step / scale >= _SELDOM_S)
        doubted = not said and x.size >= _ROWS and odd and bool(longer)
        shown, each = (longer[0], SCALES[longer[0]]) if doubted else (units.written(unit), scale)
        clock = replace(clock, per_second=each, wraps=wraps, why=say(ClockCode.ELAPSED, unit=shown))
        asked = say(ClockCode.ASK_UNIT_SAID, heading=heading.text, seconds=span / scale)
        return clock, [Open("time_unit", asked, (*longer, unit))] if doubted else []
    pace = float(np.mean(ahead))
    asked = say(ClockCode.ASK_PACE, heading=heading.text, seconds=pace)
    if not whole and step >= 2e-4 and span <= 24 * 3600:
        odd = pace < _FAST_S or (x.size >= _ROWS and span < _SHORT_S)
        asks = [Open("time_unit", asked, ("s", "ms", "min", "h"))] if odd else []
        return replace(clock, why=say(ClockCode.ELAPSED_BY_DECIMALS)), asks
    if len(fits) == 1:
        odd = fits == ["s"] and pace > _SLOW_S and x.size >= _ROWS
        asks = [Open("time_unit", asked, ("s", "100 ms", "10 ms", "ms"))] if odd else []
        return replace(clock, per_second=SCALES[fits[0]], wraps=wraps,
                       why=say(ClockCode.ELAPSED_BY_LENGTH, unit=fits[0])), asks  # fmt: skip
    asks = [Open("time_unit", say(ClockCode.ASK_UNIT, heading=heading.text), tuple(fits) or ("s", "ms", "us"))]
    return replace(clock, wraps=wraps, why=say(ClockCode.UNIT_UNKNOWN)), asks
