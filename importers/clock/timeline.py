"""Which column is the clock, and how it is read."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from analyser.core.channels import VOCABULARY
from analyser.core.findings import Finding, Text, say
from importers.clock import beside, days, gps, pieces, rates
from importers.clock.codes import ClockCode
from importers.clock.forms import IN_ROW, NUMBER, Open, date_order, form_of, order_said, read_cells
from importers.clock.model import NUMBER_FORM, Clock
from importers.meaning import units
from importers.meaning.columns import Heading
from importers.meaning.words import compound, fold, meanings

_UNMARKED = re.compile(r"\s*([01]\d|2[0-3])([0-5]\d)([0-5]\d)(\.\d+)?\s*")
_SCALES = {"s": 1, "ms": 10**3, "us": 10**6, "ns": 10**9, "min": 1 / 60, "h": 1 / 3600, "d": 1 / 86_400}
_TELLING = ("s", "ms", "us", "ns")
"""Units that make a column a clock without a word: "min" may mean the least value, hours may be an engine's."""
_PART_OF_A_SECOND = re.compile(r"\d+(/\d+)? (s|ms|us)")
_OF_A_PART = {"engine", "electric", "pump", "pack", "fuel", "tank", "ecu", "rpm"}
"""What a time beside these counts is how long a part has run, not when a row was taken."""
_HOURS = frozenset({"hours", "stunden", "heures", "horas", "ore"})
_IDEAS = {"time", "elapsed", "tick", "utc", "date"}
_IN_A_TIME = re.compile(
    r"(?<=\w)(?:[\s_]+(?:per|par|pro|por|al|alla|all'|a|a\s?la|je|in\s(?:der|one|einer))[\s_]+|\s*/\s*)"
    r"(?:s|h|min|sec|second|sek|sekunde|seg|segundo|seconde|secondo|minute?|minuto|hour|stunde|heure|hora|ora)(?![^\W\d_])"
)
"""So many in a time, where that is no unit of its own: a rate, and no clock."""
_SINCE_START = re.compile(
    r"\W*(s|sec|secs|sek|seg|ms|msec|us|\u03bcs|usec|ns|min)\b\W*"
    r"(?:since|from|after|seit|ab|nach|depuis|apres|desde|despues|da|dal|dall|dalla|dopo)\b.*"
    r"(?:boot|start|power|reset|launch|begin|init|einschalten|anschalten|beginn|neustart|hochfahren|"
    r"demarrage|debut|allumage|tension|arranque|inicio|encendido|comienzo|avvio|inizio|accensione)"
)
"""A unit of time and the start that it is counted from, in five languages."""
_STILL_S, _STILL = 4.0, 4.0
"""A clock stands still for no longer, nor for so many of its usual waits: common practice, no source."""
_RUNS = 0.8
"""Least share of a clock's course that its rows tell, resets and late rows included: common practice, no source."""
_BARE = {
    "min": "min", "minutes": "min", "minuten": "min", "minutos": "min", "minuti": "min",
    "s": "s", "ms": "ms", "us": "us", "millis": "ms", "micros": "us", "ts": "", "timestamp": "", "timestamps": "",
    "uptime": "", "epoch": "", "unix": "", "unixtime": "", "unix_time": "",
    "tick": "", "ticks": "", "zeitstempel": "", "horodatage": "", "itow": "ms", "tow": "s",
}  # fmt: skip
"""Headings of one word that are clocks, with the unit they say."""
_WEEK = {"week", "woche", "semaine", "semana", "settimana", "wk", "wno"}
_BEHIND = 3.0
"""Row numbers come behind every other clock."""
_DISORDER = 32
_ROWS, _SHORT_S, _LONG_S = 100, 3.0, 7_200.0
"""So many rows of a flight take longer than the second, and no longer than the third: common practice, no source."""
_FAST_S, _SLOW_S = 0.0099, 1.5
"""A number without a unit whose rows would follow each other faster or slower, in seconds, may count something else:
common practice, no source."""
_SELDOM_S = 20.0
"""Nobody logs a flight with this long between rows: common practice, no source."""


def _per_second(unit: str | None) -> float | None:
    """How many units of time there are in a second, of "1/100 s" or "20 ms" too; None where it is no time."""
    if unit is None or unit in _SCALES:
        return None if unit is None else _SCALES[unit]
    if not unit.endswith(("s", "second")):
        return None
    made = units.conversion(unit, "s")
    return None if made is None or not made.num else float(1 / made.num)


def _steps_of(unit: str | None, x: npt.NDArray[np.float64]) -> bool:
    """Whether all readings are multiples of a unit's own number: "20 ms" may then be the step of a clock in ms."""
    number = re.fullmatch(r"(\d+) .+", unit or "")
    return bool(number and int(number.group(1)) > 1 and not (x % int(number.group(1))).any())


def zoned(why: Text, zone: str) -> Text:
    """How a clock is read, with its zone where that was not known yet."""
    if not isinstance(why, Finding):
        return why
    inside = {name: zoned(value, zone) if isinstance(value, Finding) else value for name, value in why.values.items()}
    return Finding(why.code, {**inside, "zone": inside["zone"] or zone} if "zone" in inside else inside)


def find_clock(
    headings: Sequence[Heading], cells: Sequence[Sequence[str]], rows_estimate: float, answers: dict[str, str],
    numbers: Mapping[int, npt.NDArray[np.float64]] | None = None,
) -> tuple[Clock | None, list[Open], tuple[int, ...], Clock | None]:  # fmt: skip
    """Choose the clock among a file's columns.

    Parameters
    ----------
    numbers : mapping of int to ndarray, optional
        What columns of plain numbers hold, where that is known: most can be no clock, and are passed over.

    Returns
    -------
    clock : Clock or None
    open : list of Open
        Questions that must be answered before reading.
    spare : tuple of int
        Other columns that tell the time.
    witness : Clock or None
        One of them that knows the date, where the clock does not.
    """
    found: list[tuple[float, Clock, list[Open]]] = []
    dates: list[tuple[int, list[str]]] = []
    named = _named(headings, answers)
    whole = pieces.assembled(headings, cells, [])
    parts = set(whole.columns) if whole else set()
    for i, heading in enumerate(headings):
        if i in parts:
            continue
        told = i == named or (timely(heading) and not _counts_down(heading) and not _of_another_kind(heading.unit))
        if not told and not _of_seconds(heading.unit) and _of_few_digits((numbers or {}).get(i)):
            continue  # a number that nothing calls a time
        values = list(filter(None, cells[i]))
        if not values:
            continue
        of_part = _of_part(heading) and i != named
        form = form_of(values, dates="date" in heading.ideas)
        if not form or (form == "number" and not (told or _by_unit_alone(heading, values))):
            continue
        different = len(set(values))
        if len(values) > 1 and different == 1 and form != "date":
            continue  # it stands still
        fullness = len(values) / max(len(cells[i]), 1)
        fullness -= 0.25 * (1 - different / len(values))  # of two clocks the finer one
        if form == "date" and told and i != named:
            dates.append((i, values))
            continue
        if form in ("hms", "ms", "stamp"):
            clock, asks = _text_clock(i, form, heading, values, answers)
            found.append((2.0 * fullness + told + (0.3 if clock.absolute else 0) - 0.5 * bool(of_part), clock, asks))
        elif form == "number" and told and (unmarked := _unmarked(i, heading, values, answers)):
            found.append((2.0 * fullness + told, *unmarked))
        elif form == "number":
            numeric = _number_clock(i, heading, values, rows_estimate, answers)
            if numeric is not None:
                clock, asks = numeric
                clock = _weekly(clock, headings, cells)
                weight = 0.1 * bool(heading.unit) + 0.3 * (clock.week_column is not None)
                weight -= _BEHIND * (i != named and rates.counts_rows(heading, cells[i]))
                found.append((2.0 * fullness + told + weight - 0.5 * bool(of_part), clock, asks))
    if whole and (whole := pieces.assembled(headings, cells, [i for i, _ in dates])) and named in (None, *parts):
        order, asks = "ymd", []
        if whole.date_column is not None:
            order, asks = date_order(dates[0][1], headings[whole.date_column].text, answers)
        zone = "UTC" if any("utc" in headings[i].ideas for i in whole.columns) else answers.get("zone", "")
        found.append((3.0 + 0.3 * whole.absolute, replace(whole, order=order, zone=zone), asks))
    if not found and named is None and (unnamed := _unnamed(headings, cells, rows_estimate, answers)):
        found.append((1.0, *unnamed))
    if not found:
        return None, [], tuple(i for i, _ in dates), None
    found = [(weight, pieces.finer(c, headings, cells), asks) for weight, c, asks in found]
    parts = {n for _, c, _ in found for n in c.columns if n != c.column}
    found = [f for f in found if f[1].column not in parts]  # milliseconds of a second are no clock of their own
    found.sort(key=lambda f: (named not in (None, *f[1].columns), -f[0], f[1].column))
    found = [f for f in found if f is found[0] or not _counts_use(f[1], headings[f[1].column])]
    if named is None:
        found = _against(found, headings, cells)
    _, clock, asks = found[0]
    clock = pieces.dated(clock, headings, cells) if clock.form == "hms" and not dates else clock
    spare = [i for _, c, _ in found[1:] if _goes_on(clock, c, cells) for i in c.columns]
    if clock.form == "hms" and dates:
        column, values = dates[0]
        order, more = date_order(values, headings[column].text, answers)
        # A day that stays behind at midnight (the log's first) is carried on; one that does not leaves no step back.
        clock = replace(clock, wraps=(86400,), date_column=column, order=order, absolute=True,
                        why=say(ClockCode.WITH_DATE, clock=clock.why, column=headings[column].text,
                                order=order_said(values, order)))  # fmt: skip
        asks = [*asks, *more]
    if clock.backwards:
        clock = replace(clock, why=say(ClockCode.NEWEST_FIRST, clock=clock.why))
    against = {i for _, c, _ in found[1:] if c.backwards != clock.backwards and c.form == NUMBER_FORM
               for i in c.columns}  # fmt: skip
    spare = [i for i in spare if i not in against]  # what runs out while time goes on is a countdown
    spare += [i for i, _ in dates]
    spare = [i for i in dict.fromkeys(spare) if i not in clock.columns]
    witness = None if clock.absolute else next((c for _, c, _ in found[1:] if c.absolute), None)
    return clock, asks, tuple(spare), witness


def _of_few_digits(numbers: npt.NDArray[np.float64] | None) -> bool:
    """Whether plain numbers are too small for a day and time without marks between them, 20260510140307."""
    return numbers is not None and not bool((np.abs(numbers) >= 1e7).any())


_Found = list[tuple[float, Clock, list[Open]]]


def _against(found: _Found, headings: Sequence[Heading], cells: Sequence[Sequence[str]]) -> _Found:
    """Hear the best clock against one that only counts.

    Where the best one is set meanwhile, it leaps and the other goes on: that one is then the clock. A leap ahead beside
    a count that is even to the last digit is asked: it may count rows, and the leap be a pause. Where both agree, the
    count is kept to tell of leaps further on. A leap of a minute or more begins another flight.
    """
    weight, best, asks = found[0]
    if best.form == NUMBER_FORM and not best.absolute:
        return found
    x = pieces.seconds(best, cells)
    for n, (own, other, more) in enumerate(found[1:], 1):
        if other.form != NUMBER_FORM or other.absolute or other.pieces or more or _of_part(headings[other.column]):
            continue
        y = pieces.seconds(other, cells)
        both = np.isfinite(x) & np.isfinite(y)
        if both.sum() < _MANY or (np.diff(y[both]) < 0).any():
            continue
        leaps = beside.leaps(x[both], y[both], of_day=best.form == "hms")
        steps = np.diff(y[both])
        drift = float(np.diff(x[both] - y[both])[~leaps.at].sum()) if best.form != "hms" else 0.0
        if leaps.at.sum() > _MOST_LEAPS or abs(drift) > 1 + 0.01 * float(steps.sum()):
            continue
        even = bool(np.ptp(np.round(steps, 6)) == 0)
        if not leaps.at.any():
            kept = replace(best, beside=other.column, beside_per_second=other.per_second, beside_even=even)
            return [(weight, kept, asks), *found[1:]]
        by = tuple(float(s) for s in leaps.by[leaps.at])
        if even and max(by) > 0:
            ways = (headings[best.column].text, headings[other.column].text)
            asked = say(ClockCode.ASK_CLOCK, leaps=ways[0], goes_on=ways[1], seconds=by)
            return [(weight, best, [*asks, Open("clock", asked, ways)]), *found[1:]]
        why = say(ClockCode.STEADIER, clock=other.why, other=headings[best.column].text, seconds=by)
        return [(own, replace(other, why=why), more), *found[:n], *found[n + 1 :]]
    return found


_MOST_LEAPS = 3


def _of_another_kind(unit: str | None) -> bool:
    """Whether a unit says that a column is no time: millilitres, say. "m" may be minutes, "100 Hz" the ticks' rate."""
    if unit is None or unit in ("m", "1", "counts", "bool") or unit.endswith("rps") or _per_second(unit) is not None:
        return False
    return any(units.conversion(unit, u) is not None for u in _CHANNEL_UNITS)


_CHANNEL_UNITS = tuple(dict.fromkeys(c.unit for c in VOCABULARY))
_RUNS_OUT = frozenset({
    "countdown", "remaining", "remain", "left", "until", "togo", "rest", "restzeit", "restlaufzeit", "verbleibend",
    "verbleibende", "restant", "restante", "restanti", "rimanente", "rimasto", "rimasta", "residuo", "residua",
})  # fmt: skip
"""Words of a time that runs out."""


def _counts_down(heading: Heading) -> bool:
    """Whether a heading speaks of the time that is left."""
    return bool(_RUNS_OUT & set(heading.words)) or "countdown" in "".join(heading.words)


def _of_part(heading: Heading) -> bool:
    """Whether a heading's time is how long a part has run."""
    return bool(_OF_A_PART & {m for w in heading.words for m in meanings(w)})


def _goes_on(clock: Clock, other: Clock, cells: Sequence[Sequence[str]]) -> bool:
    """Whether a number beside the clock runs on as that does: no age of a reading, and no time since an event."""
    if other.form != NUMBER_FORM or other.absolute or other.pieces or other.week_column is not None:
        return True
    x, y = (pieces.seconds(c, cells) for c in (clock, other))
    both = np.isfinite(x) & np.isfinite(y)
    x, y = pieces.steady(x[both]), y[both]
    if x.size < _MANY or (np.diff(x) < 0).any() or np.ptp(x) <= 0:
        return True
    moves = np.flatnonzero(np.diff(y))
    waits = np.diff(x[np.r_[0, moves + 1, x.size - 1]]) if moves.size else np.array([np.ptp(x)])
    still = max(_STILL_S, _STILL * float(np.median(waits)))
    return bool(waits.max() <= still and np.ptp(y) > 0 and np.corrcoef(x, y)[0, 1] ** 2 > _RUNS)


def _counts_use(clock: Clock, heading: Heading) -> bool:
    """Whether a number beside another clock is how long a part, or the aircraft, has run: hours are counted so."""
    hours = clock.per_second < 1 / 60 or _HOURS & set(heading.words)
    return clock.form == NUMBER_FORM and not clock.absolute and bool(_of_part(heading) or hours)


def _named(headings: Sequence[Heading], answers: Mapping[str, str]) -> int | None:
    """The column that the answer ``clock`` names."""
    said = answers.get("clock", "").strip()
    found = next((i for i, h in enumerate(headings) if said and fold(h.text) == fold(said)), None)
    by_number = found is None and said.isdecimal() and 0 < int(said) <= len(headings)
    return int(said) - 1 if by_number else found


def _unnamed(
    headings: Sequence[Heading], cells: Sequence[Sequence[str]], rows_estimate: float, answers: dict[str, str]
) -> tuple[Clock, list[Open]] | None:
    """A clock without a heading, where no other column is one: its unit is asked. Whole numbers may count rows."""
    for i, heading in enumerate(headings):
        values = [c for c in cells[i] if c]
        if heading.text.strip() or len(values) < _MANY or len(values) < len(cells[i]) or form_of(values) != "number":
            continue
        x = _numbers(values)
        if (np.diff(x) <= 0).any() or (x == np.rint(x)).all():
            continue
        numeric = _number_clock(i, heading, values, rows_estimate, answers)
        if numeric is None or "time_unit" in answers or numeric[0].absolute:
            return numeric
        asked = say(ClockCode.ASK_UNNAMED, number=i + 1, examples=tuple(values[:3]))
        return numeric[0], [Open("time_unit", asked, ("s", "ms", "us", "min", "h"))]
    return None


@lru_cache(maxsize=2048)  # a plan asks several times, and the logs of a folder have few layouts
def timely(heading: Heading) -> bool:
    """Whether a heading speaks of time, and not of so many in a time: "packets per second"."""
    return not _a_rate(heading) and (
        bool(_IDEAS & set(heading.ideas))
        or _since_start(heading) is not None
        or days.julian(heading)
        or fold_is_t(heading)
        or _bare(heading) is not None
        or (_of_week(heading) and heading.unit in (None, "s", "ms"))
    )


def _since_start(heading: Heading) -> str | None:
    """The unit of time that a heading begins with, where it goes on with the start: "ms since boot"."""
    found = _SINCE_START.match(fold(heading.plain))
    return units.understand(found.group(1)) if found else None


def _a_rate(heading: Heading) -> bool:
    """Whether a heading speaks of so many in a time; a time before it is given in that unit: "Time / s"."""
    found = _IN_A_TIME.search(fold(heading.plain))
    before = re.findall("[a-z]+", fold(heading.plain)[: found.start()]) if found else []
    return bool(before) and before != ["t"] and not any(_IDEAS & set(meanings(p)) for w in before for p in _parts(w))


def _parts(word: str) -> tuple[str, ...]:
    return compound(word) or (word,)


def _by_unit_alone(heading: Heading, values: Sequence[str]) -> bool:
    """Whether a unit of time makes a clock of a column: its only word names nothing else, and its values run on.

    The width of a servo's pulse is in microseconds too.
    """
    if not _of_seconds(heading.unit) or len(heading.words) > 1 or any(heading.ideas):
        return False
    x = _numbers(values)
    place, steps = np.arange(x.size), np.diff(x)
    counts = (steps > 0).sum() > 4 * (steps < 0).sum()  # and may wrap
    return x.size < _MANY or bool(np.ptp(x) > 0 and (counts or np.corrcoef(x, place)[0, 1] ** 2 > _RUNS))


def _of_seconds(unit: str | None) -> bool:
    """Whether a unit makes a column a clock without a word: seconds, thousandths of them, "20 ms" or "1/100 s"."""
    return unit in _TELLING or bool(unit and _PART_OF_A_SECOND.fullmatch(unit))


def _of_week(heading: Heading) -> bool:
    """Whether a heading speaks of GPS seconds of the week."""
    words = set(re.findall("[a-z]+", fold(heading.plain)))
    of_week = words & _WEEK and words & {"ms", "s", "sec", "second", "seconds", "sekunde", "sekunden", "time", "zeit",
                                         "seconde", "secondes", "segundo", "segundos", "secondi"}  # fmt: skip
    return bool(of_week or words & {"tow", "itow", "sow"}) or ("gps" in words and heading.unit in _TELLING)


def _bare(heading: Heading) -> str | None:
    """The unit that a heading of one word says, '' for none; None where it is no clock's."""
    text = re.sub(r"(?<=[a-z])_?(?:8|16|24|32|64)(?:[\s_]?bits?)?$", "", fold(heading.plain).strip(" []()_"))
    if len(text) < 20 and re.fullmatch(r"(unix|epoch)[a-z_ ]*", text) and not heading.unit:
        return ""
    return _BARE.get(text) if len(heading.plain) < 20 else None


def _weekly(clock: Clock, headings: Sequence[Heading], cells: Sequence[Sequence[str]]) -> Clock:
    """A clock of GPS seconds of the week with the column that counts the weeks."""
    if not _of_week(headings[clock.column]) or clock.absolute:
        return clock
    length = gps.WEEK_S * clock.per_second
    x = _numbers([c for c in cells[clock.column] if c])
    if not x.size or x.min() < 0 or x.max() > length or clock.per_second not in _SCALES.values():
        return clock
    unit = next(u for u, each in _SCALES.items() if each == clock.per_second)
    clock = replace(clock, wraps=(round(length),), why=say(ClockCode.GPS_OF_WEEK, unit=unit))
    for i, other in enumerate(headings):
        if not _WEEK & set(re.findall("[a-z]+", fold(other.plain))):
            continue
        weeks = _numbers([c for c in cells[i] if c])
        if weeks.size and (weeks == np.rint(weeks)).all() and weeks.min() >= gps.ROLLED and np.ptp(weeks) <= 1:
            first = float(weeks[0] * gps.WEEK_S + x[0] / clock.per_second)
            leaps = gps.leap_seconds(first)
            return replace(clock, wraps=(), week_column=i, zero_ns=(gps.EPOCH_S - leaps) * 10**9, absolute=True,
                           zone="UTC", why=say(ClockCode.GPS_WEEK, leaps=leaps))  # fmt: skip
    return clock


def fold_is_t(heading: Heading) -> bool:
    """Whether a heading is a bare "t" or nothing but a unit of time; no heading at all may count rows, not time."""
    said = tuple(w for w in heading.words if meanings(w) != ("",))  # "Data.t"
    return said == ("t",) or (heading.words[:1] in ((), ("t",)) and _of_seconds(heading.unit))


def standing(headings: Sequence[Heading], cells: Sequence[Sequence[str]]) -> str:
    """Heading of a column that would tell the time if it did not stand still; '' where there is none."""
    for heading, column in zip(headings, cells, strict=True):
        values = [c for c in column if c]
        stands = timely(heading) and len(values) > 1 and len(set(values)) == 1
        if stands and form_of(values, dates=True) not in ("", "date"):
            return heading.text
    return ""


def _zone(heading: Heading, values: Sequence[str], answers: dict[str, str]) -> str:
    if "utc" in heading.ideas:
        return "UTC"
    return "row" if IN_ROW.search(values[0]) else answers.get("zone", "")


def _text_clock(
    i: int, form: str, heading: Heading, values: Sequence[str], answers: dict[str, str]
) -> tuple[Clock, list[Open]]:
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
    counts = len(parts) > _MANY and len(parts) > 0.8 * len(values) and max(parts) < "60"
    return int(max(parts)) if counts else 0


_FILM = (24, 25, 30, 48, 50, 60)
"""Frames in a second (SMPTE ST 12-1 and 12-3)."""
_SEEN = 8
"""Seconds whose last frame is the highest of all: enough to know that no higher one exists."""


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


_MANY = 50


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


def _worded(heading: Heading) -> str | None:
    """The unit of time that one of a heading's words names: "Minuten seit Start"; None for none, or for several."""
    said = {units.understand(w) for w in heading.words if len(w) > 2 and w != "min"} & _SCALES.keys()
    return said.pop() if len(said) == 1 else None


def _numbers(values: Sequence[str]) -> npt.NDArray[np.float64]:
    return np.array([float(v.replace(",", ".")) for v in values if NUMBER.fullmatch(v)])


def _unmarked(
    i: int, heading: Heading, values: Sequence[str], answers: dict[str, str]
) -> tuple[Clock, list[Open]] | None:
    """A clock of times of day in one number (140307 for 14:03:07), asked where it may as well count seconds."""
    said = answers.get("time_unit", "")
    if heading.unit or said in _SCALES or len({len(v.partition(".")[0]) for v in values}) > 1:
        return None
    if not all(_UNMARKED.fullmatch(v) for v in values):
        return None
    clock, asks = _text_clock(i, "hms", heading, values, answers)
    hours = {v[:4] for v in values}
    # Counted seconds would have shown a 60 within two minutes, and no leading nought at all.
    sure = said == "hhmmss" or "utc" in heading.ideas or len(hours) > 2 or any(h[0] == "0" for h in hours)
    if not sure:
        shown = f"{values[0][:2]}:{values[0][2:4]}:{values[0][4:]}"
        asked = say(ClockCode.ASK_TIME_OF_DAY, heading=heading.text, example=values[0], clock=shown)
        asks = [*asks, Open("time_unit", asked, ("hhmmss", "s", "ms"))]
    return clock, asks


def _number_clock(
    i: int, heading: Heading, values: Sequence[str], rows_estimate: float, answers: dict[str, str]
) -> tuple[Clock, list[Open]] | None:
    x = _numbers(values)
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
    unit = heading.unit if _per_second(heading.unit) and not _steps_of(heading.unit, x) else _bare(heading) or None
    unit = unit or _since_start(heading) or _worded(heading)
    if unit is None and _of_week(heading) and x.min() >= 0 and x.max() <= gps.WEEK_S * 1000:
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
    unit = said if _per_second(said) else unit
    scale = _per_second(unit)
    clock = replace(clock, laps=_laps(scale or 1, whole))
    step = float(np.median(ahead))
    span = step * (ahead.size / steps.size) * max(rows_estimate, x.size)
    ways = ("s", "ms", "us") if whole else ("ms", "us", "min", "h", "d")
    fits = [u for u in ways if 5 <= span / _SCALES[u] <= 24 * 3600]
    if unit is not None and scale is not None:
        longer = [u for u in ("s", "ms", "us") if _SHORT_S < span / _SCALES[u] < _LONG_S]
        odd = span / scale < _SHORT_S or (span / scale > _LONG_S and step / scale >= _SELDOM_S)
        doubted = not said and x.size >= _ROWS and odd and bool(longer)
        shown, each = (longer[0], _SCALES[longer[0]]) if doubted else (units.written(unit), scale)
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
        return replace(clock, per_second=_SCALES[fits[0]], wraps=wraps,
                       why=say(ClockCode.ELAPSED_BY_LENGTH, unit=fits[0])), asks  # fmt: skip
    asks = [Open("time_unit", say(ClockCode.ASK_UNIT, heading=heading.text), tuple(fits) or ("s", "ms", "us"))]
    return replace(clock, wraps=wraps, why=say(ClockCode.UNIT_UNKNOWN)), asks
