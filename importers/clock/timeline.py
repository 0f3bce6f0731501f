"""Time columns to seconds that only ever grow, and to UTC where the log knows it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

from importers.meaning.columns import Heading

FloatArray = npt.NDArray[np.float64]

GAP_S = 60.0
"""A silence this long ends a flight (or twenty usual steps, whichever is longer)."""
SMALL_STEP_BACK_S = 2.0
"""A clock set back by less than this was corrected; by more, it started anew."""

RESET = "the clock started anew"
"""Why a flight begins where a clock falls back far."""

_NUMBER = re.compile(r"[+-]?\d+([.,]\d*)?([eE][+-]?\d+)?")
_Z = r"(?P<z>Z|[+-]\d{2}:?\d{2})?"
_HMS = r"(?P<h>\d{1,3}):?(?P<m>\d{2}):?(?P<s>\d{2})(?:[.,:](?P<f>\d+))?\s*(?P<p>[AaPp])?\.?[Mm]?\.?\s*" + _Z
_DAY = r"(?P<a>\d{1,4})[-/.](?P<b>\d{1,2})[-/.](?P<c>\d{1,4})"
_FORMS = {
    "stamp": rf"^\s*{_DAY}[T ,]+{_HMS}\s*$",
    "hms": rf"^\s*{_HMS}\s*$",
    "ms": r"^\s*(?P<m>\d{1,4}):(?P<s>\d{2})(?:[.,](?P<f>\d+))?\s*$",
    "date": rf"^\s*{_DAY}\s*$",
}
_TOLD = {k: re.compile(v.replace(":?", ":")) for k, v in _FORMS.items()}
"""How a form is told from the others: in times of day without marks any number might be one."""
_UNMARKED_DAY = r"^\s*((?:19|20)\d\d)(0[1-9]|1[0-2])(0[1-9]|[12]\d|3[01])"
_UNMARKED = re.compile(r"\s*([01]\d|2[0-3])([0-5]\d)([0-5]\d)(\.\d+)?\s*")
_SCALES = {"s": 1, "ms": 10**3, "us": 10**6, "ns": 10**9, "min": 1 / 60, "h": 1 / 3600, "d": 1 / 86_400}
_TELLING = ("s", "ms", "us", "ns")
"""Units that make a column a clock without a word: "min" may mean the least value, hours may be an engine's."""
_IDEAS = {"time", "elapsed", "tick", "utc", "date"}


@dataclass(frozen=True, slots=True)
class Clock:
    """How the time of each row is read.

    ``form`` is ``number``, ``hms``, ``ms`` (minutes and seconds) or ``stamp``; ``per_second`` counts a number's units
    in a second; ``wraps`` are the values at which a counter starts anew; ``order`` is ``ymd``, ``dmy`` or ``mdy``.
    """

    column: int
    form: str
    per_second: float = 1
    wraps: tuple[int, ...] = ()
    date_column: int | None = None
    order: str = "ymd"
    zone: str = ""
    absolute: bool = False
    why: str = ""


@dataclass(frozen=True, slots=True)
class Open:
    """What about the clock the file does not settle."""

    key: str
    text: str
    answers: tuple[str, ...]


def find(
    headings: Sequence[Heading], cells: Sequence[Sequence[str]], rows_estimate: float, answers: dict[str, str]
) -> tuple[Clock | None, list[Open], tuple[int, ...], Clock | None]:
    """Choose the clock among a file's columns.

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
    for i, heading in enumerate(headings):
        values = [c for c in cells[i] if c]
        if not values:
            continue
        timely = bool(_IDEAS & set(heading.ideas)) or fold_is_t(heading)
        form = _form(values, dates="date" in heading.ideas)
        if len(values) > 1 and len(set(values)) == 1 and form != "date":
            continue  # it stands still
        fullness = len(values) / max(len(cells[i]), 1)
        fullness -= 0.25 * (1 - len(set(values)) / len(values))  # of two clocks the finer one
        if form == "date" and timely:
            dates.append((i, values))
            continue
        if form in ("hms", "ms", "stamp"):
            clock, asks = _text_clock(i, form, heading, values, answers)
            found.append((2.0 * fullness + timely + (0.3 if clock.absolute else 0), clock, asks))
        elif form == "number" and timely and (told := _unmarked(i, heading, values, answers)):
            found.append((2.0 * fullness + timely, *told))
        elif form == "number" and (timely or (heading.unit in _TELLING and len(heading.words) <= 1)):
            numeric = _number_clock(i, heading, values, rows_estimate, answers)
            if numeric is not None:
                clock, asks = numeric
                found.append((2.0 * fullness + timely + 0.1 * bool(heading.unit), clock, asks))
    if not found:
        return None, [], tuple(i for i, _ in dates), None
    found.sort(key=lambda f: (-f[0], f[1].column))
    _, clock, asks = found[0]
    spare = [c.column for _, c, _ in found[1:]]
    if clock.form == "hms" and dates:
        column, values = dates[0]
        order, more = date_order(values, headings[column].text, answers)
        # A day that stays behind at midnight (the log's first) is carried on; one that does not leaves no step back.
        clock = Clock(clock.column, "hms", 1, (86400,), column, order, clock.zone, absolute=True,
                      why=f"{clock.why}; date from {headings[column].text!r}{order_said(values, order)}")  # fmt: skip
        asks = [*asks, *more]
    spare += [i for i, _ in dates if i != clock.date_column]
    witness = None if clock.absolute else next((c for _, c, _ in found[1:] if c.absolute), None)
    return clock, asks, tuple(spare), witness


def fold_is_t(heading: Heading) -> bool:
    """Whether a heading is a bare "t" or nothing but a unit of time; no heading at all may count rows, not time."""
    return heading.words == ("t",) or (heading.words[:1] in ((), ("t",)) and heading.unit in _TELLING)


def still(headings: Sequence[Heading], cells: Sequence[Sequence[str]]) -> str:
    """Heading of a column that would tell the time if it did not stand still; '' where there is none."""
    for heading, column in zip(headings, cells, strict=True):
        values = [c for c in column if c]
        timely = _IDEAS & set(heading.ideas) or fold_is_t(heading)
        if timely and len(values) > 1 and len(set(values)) == 1 and _form(values, dates=True) not in ("", "date"):
            return heading.text
    return ""


def _form(values: Sequence[str], *, dates: bool = False) -> str:
    values = values[:: 1 + len(values) // 300]
    if dates and all(re.match(f"{_UNMARKED_DAY}\\s*$", v) for v in values):
        return "date"
    if all(re.match(rf"{_UNMARKED_DAY}[T ]\d\d:?\d\d:?\d\d", v) for v in values):
        return "stamp"
    for form, pattern in _TOLD.items():
        if sum(bool(pattern.match(v)) for v in values) > 0.8 * len(values):
            return form
    return "number" if sum(bool(_NUMBER.fullmatch(v)) for v in values) > 0.8 * len(values) else ""


def _zone(heading: Heading, values: Sequence[str], answers: dict[str, str]) -> str:
    if "utc" in heading.ideas:
        return "UTC"
    return "row" if re.search(r"(Z|:\d{2}(\.\d+)?[+-]\d{2}:?\d{2})\s*$", values[0]) else answers.get("zone", "")


def _text_clock(
    i: int, form: str, heading: Heading, values: Sequence[str], answers: dict[str, str]
) -> tuple[Clock, list[Open]]:
    zone = _zone(heading, values, answers)
    if form == "stamp":
        order, asks = date_order(values, heading.text, answers)
        where = "zone in each row" if zone == "row" else zone or "zone unknown"
        return Clock(i, form, order=order, zone=zone, absolute=True,
                     why=f"date and time{order_said(values, order)}, {where}"), asks  # fmt: skip
    if form == "hms":
        return Clock(i, form, wraps=(86400, 43200), zone=zone, why="clock time, may pass midnight"), []
    asks = []
    if not any("." in v or "," in v for v in values) and answers.get("minutes") not in ("mm:ss", "hh:mm"):
        asks = [Open("minutes", f"does {heading.text!r} ({values[0]}) count minutes:seconds or hours:minutes?",
                     ("mm:ss", "hh:mm"))]  # fmt: skip
    hours = answers.get("minutes") == "hh:mm"
    return Clock(
        i, "ms", per_second=60 if hours else 1, wraps=(86400,) if hours else (3600,), why="minutes and seconds"
    ), asks


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
        asks = [*asks, Open("time_unit", f"does {heading.text!r} ({values[0]}) count seconds, or is it {shown}?",
                            ("hhmmss", "s", "ms"))]  # fmt: skip
    return clock, asks


_ORDERS = {"day-first": "dmy", "month-first": "mdy", "year-first": "ymd"}


def date_order(values: Sequence[str], heading: str, answers: dict[str, str]) -> tuple[str, list[Open]]:
    """Order of day, month and year: seen where a part settles it, asked where none does.

    Days divided by dots are written day first (DIN 1355-1); with other marks the order differs by country.
    """
    parts = [m.groups() for v in values if (m := re.match(r"\s*(\d{1,4})([-/.])(\d{1,2})[-/.](\d{1,4})", v))]
    if not parts or any(len(a) == 4 for a, *_ in parts):
        return "ymd", []
    said = _ORDERS.get(answers.get("date_order", ""))
    if said:
        return said, []
    short = any(len(c) < 3 for *_, c in parts)
    read: dict[str, set[tuple[int, ...]]] = {}
    for order in ("dmy", "mdy", *(["ymd"] if short else [])):
        dates = {tuple(int(dict(zip(order, (a, b, c), strict=True))[k]) for k in "ymd") for a, _, b, c in parts}
        if all(1 <= m <= 12 and 1 <= d <= 31 for _, m, d in dates):
            read[order] = dates
    if "dmy" in read and all(mark == "." for _, mark, *_ in parts):
        return "dmy", []
    if len({frozenset(d) for d in read.values()}) <= 1:
        return next(iter(read), "dmy"), []
    a, mark, b, c = parts[0]
    ways = tuple(k for k, v in _ORDERS.items() if v in read)
    return next(iter(read)), [Open("date_order", f"is {a}{mark}{b}{mark}{c} in {heading!r} written "
                                   f"{' or '.join(w.replace('-', ' ') for w in ways)}?", ways)]  # fmt: skip


def order_said(values: Sequence[str], order: str) -> str:
    """Say how days are read, where they could be read otherwise; else ''."""
    if order == "ymd" or not any(re.match(r"\s*\d{1,2}[-/.]", v) for v in values):
        return ""
    if order == "mdy":
        return ", month first"
    return ", day first" + (" as is usual with dots" if any(re.match(r"\s*\d{1,2}\.", v) for v in values) else "")


def _number_clock(
    i: int, heading: Heading, values: Sequence[str], rows_estimate: float, answers: dict[str, str]
) -> tuple[Clock, list[Open]] | None:
    x = np.array([float(v.replace(",", ".")) for v in values if _NUMBER.fullmatch(v)])
    if x.size < 2:
        return (Clock(i, "number", why="seconds"), []) if x.size else None
    steps = np.diff(x)
    ahead = steps[steps > 0]
    if ahead.size == 0 or (steps < 0).sum() > 0.2 * steps.size:
        return None
    whole = bool(np.all(x == np.rint(x)))
    first = float(np.median(x))
    for since, factor in (("s", 1), ("ms", 10**3), ("us", 10**6), ("ns", 10**9)):
        if 9.4e8 * factor < first < 4.2e9 * factor and heading.unit in (None, since) and x.min() > 9e8 * factor:
            return Clock(i, "number", factor, absolute=True, zone="UTC", why=f"{since} since 1970, UTC"), []
    wraps = (2**16, 2**32, 2**31) if whole else ()
    unit = heading.unit if heading.unit in _SCALES else None
    if unit is None and heading.words and heading.words[-1] in ("millis", "micros"):
        unit = {"millis": "ms", "micros": "us"}[heading.words[-1]]
    said = answers.get("time_unit", "")
    unit = said if said in _SCALES else unit
    if unit is not None:
        return Clock(i, "number", _SCALES[unit], wraps, why=f"elapsed {unit}"), []
    step = float(np.median(ahead))
    span = step * (ahead.size / steps.size) * max(rows_estimate, x.size)
    if not whole and step >= 2e-4 and span <= 24 * 3600:
        return Clock(i, "number", 1, (), why="elapsed seconds: the numbers have decimals"), []
    units = ("s", "ms", "us") if whole else ("ms", "us", "min", "h", "d")
    fits = [u for u in units if 5 <= span / _SCALES[u] <= 24 * 3600]
    if len(fits) == 1:
        return Clock(
            i, "number", _SCALES[fits[0]], wraps, why=f"elapsed {fits[0]}: only so the log lasts as long as a flight"
        ), []
    asks = [Open("time_unit", f"in which unit does {heading.text!r} count time?", tuple(fits) or ("s", "ms", "us"))]
    return Clock(i, "number", 1, wraps, why="unit unknown"), asks


def read_text(
    values: pa.Array, form: str, order: str = "ymd", minutes: float = 1
) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.bool_]]:
    """Text times to nanoseconds (since 1970 for dates, else since midnight) and which of them could be read.

    Returns
    -------
    ns : ndarray of int64, shape (n,)
    good : ndarray of bool, shape (n,)
    """
    if form in ("date", "stamp"):
        values = pc.replace_substring_regex(values, _UNMARKED_DAY, r"\1-\2-\3")
    if values.null_count == len(values):
        return np.zeros(len(values), np.int64), np.zeros(len(values), bool)
    found = pc.extract_regex(values, _FORMS[form])
    good = np.asarray(found.is_valid())
    ns = np.zeros(len(values), np.int64)
    names = {found.type.field(i).name for i in range(found.type.num_fields)}

    def number(name: str) -> npt.NDArray[np.int64]:
        text = pc.struct_field(found, name)
        text = pc.if_else(pc.fill_null(pc.equal(text, ""), True), "0", text)
        return np.asarray(pc.cast(text, pa.int64()))

    if "m" in names:
        hours = number("h") if "h" in names else 0
        if "p" in names:
            half = pc.fill_null(pc.utf8_lower(pc.struct_field(found, "p")), "")
            pm, am = np.asarray(pc.equal(half, "p")), np.asarray(pc.equal(half, "a"))
            hours = np.where(pm | am, hours % 12 + 12 * pm, hours)
        seconds = (
            (hours * 60 + number("m")) * 60 + number("s")
            if form != "ms"
            else (number("m") * 60 + number("s")) * int(minutes)
        )
        fraction = pc.fill_null(pc.struct_field(found, "f"), "")
        fraction = pc.utf8_slice_codeunits(pc.utf8_rpad(fraction, 9, "0"), 0, 9)
        ns += seconds * 10**9 + np.asarray(pc.cast(fraction, pa.int64()))
        good &= number("m") < (10_000 if form == "ms" else 60)
        good &= number("s") <= 60
    if "a" in names:
        a, b, c = number("a"), number("b"), number("c")
        year, month, day = {"ymd": (a, b, c), "dmy": (c, b, a), "mdy": (c, a, b)}[order]
        year = np.where(year < 100, year + np.where(year < 70, 2000, 1900), year)
        good &= (month >= 1) & (month <= 12) & (day >= 1) & (day <= 31) & (year > 1900) & (year < 2200)
        safe = np.where(good, (year - 1970) * 12 + month - 1, 0)
        days = safe.astype("datetime64[M]").astype("datetime64[D]").astype(np.int64) + np.where(good, day - 1, 0)
        ns += days * 86400 * 10**9
    if "z" in names:
        zone = pc.fill_null(pc.struct_field(found, "z"), "")
        if pc.any(pc.and_(pc.not_equal(zone, ""), pc.not_equal(zone, "Z"))).as_py():
            parts = pc.extract_regex(zone, r"(?P<sign>[+-])(?P<h>\d{2}):?(?P<m>\d{2})")
            hh = np.asarray(pc.fill_null(pc.cast(pc.struct_field(parts, "h"), pa.int64()), 0))
            mm = np.asarray(pc.fill_null(pc.cast(pc.struct_field(parts, "m"), pa.int64()), 0))
            minus = np.asarray(pc.fill_null(pc.equal(pc.struct_field(parts, "sign"), "-"), False))
            ns -= np.where(minus, -1, 1) * (hh * 60 + mm) * 60 * 10**9
    return ns, good


@dataclass(slots=True)
class Timeline:
    """Raw clock readings, block by block, to growing seconds; counters unwrapped, resets and silences found.

    Feed it every block's readings in native units, from one common zero; then spread the rows that share a stamp.
    """

    per_second: float = 1
    wraps: tuple[int, ...] = ()
    offset: float = 0.0
    last: float | None = None
    step: float = 0.0
    notes: dict[str, int] = field(default_factory=dict)

    def feed(self, raw: FloatArray) -> tuple[FloatArray, list[tuple[int, str]]]:
        """Return times in seconds (one running line, still with equal stamps) and where new flights begin.

        Parameters
        ----------
        raw : ndarray, shape (n,)
            No NaN.
        """
        if raw.size == 0:
            return raw, []
        before = np.concatenate([[raw[0] if self.last is None else self.last], raw[:-1]])
        d = raw - before
        ahead = d[d > 0]
        if ahead.size:
            self.step = float(np.median(ahead))
        unit = float(self.per_second)
        shift = np.zeros(raw.size)
        cuts: list[tuple[int, str]] = []
        late = np.zeros(raw.size, bool)
        gap = max(GAP_S * unit, 20 * self.step)
        for i in np.flatnonzero((d < 0) | (d > gap)):  # a handful: clock events, not samples
            if len(cuts) > 1000:
                break
            jump = float(d[i])
            if jump > 0:
                if late[i - 1] if i else False:
                    continue
                cuts.append((int(i), f"a silence of {jump / unit:.0f} s"))
                continue
            wrap = next((m for m in self.wraps if 0 <= jump + m <= self._reach(m)), None)
            if wrap is not None:
                shift[i] = wrap
                self._note("clock counter started anew and was carried on")
            elif -jump <= SMALL_STEP_BACK_S * unit and not (raw[i] == 0 and before[i] > unit):
                if i + 1 < raw.size and raw[i + 1] > before[i]:
                    late[i] = True
                    self._note("row whose clock stepped back, placed between its neighbours")
                else:
                    shift[i] = -jump + self.step
                    self._note("clock set back, later times moved up")
            else:
                cuts.append((int(i), RESET))
        times = raw + self.offset + np.cumsum(shift)
        self.offset += float(shift.sum())
        self.last = float(raw[-1])
        spots = np.flatnonzero(late)
        if spots.size:
            previous = np.maximum(spots - 1, 0)
            times[spots] = (times[previous] + times[np.minimum(spots + 1, raw.size - 1)]) / 2
        return times / unit, cuts

    def _reach(self, modulus: int) -> float:
        """How long a step across a wrap may be and still be one."""
        if modulus in (86400, 43200):
            return 6 * 3600.0 if modulus == 86400 else 600.0
        return max(
            0.05 * modulus if modulus < 10**6 else 0.0, 50 * self.step, 2.0 * self.per_second if modulus > 10**6 else 0
        )

    def _note(self, what: str) -> None:
        self.notes[what] = self.notes.get(what, 0) + 1


def spread(times: FloatArray, rows_before: int = 0) -> FloatArray:
    """Spread rows that share a stamp evenly up to the next stamp; a partial first group ends where the next begins.

    A gap longer than usual is not filled, unless more rows than usual come before it: a clock that stood still.

    Parameters
    ----------
    times : ndarray, shape (n,)
        Not falling.
    rows_before : int
        Rows the stamp before the first one had; 0 where the first is the very first.
    """
    if times.size < 2:
        return times
    times = np.maximum.accumulate(times)
    starts = np.flatnonzero(np.concatenate([[True], np.diff(times) > 0]))
    counts = np.diff(np.concatenate([starts, [times.size]]))
    if counts.max() == 1:
        return times
    stamps = times[starts]
    gaps = np.diff(stamps)
    usual = float(np.median(gaps)) if gaps.size else 1.0
    width = counts.astype(float)
    room = np.minimum(np.append(gaps, usual), usual * np.maximum(width / np.median(width), 1.0))
    lead = np.zeros(counts.size)
    if counts.size > 1:
        if not rows_before and counts[0] < counts[1]:
            width[0], lead[0] = counts[1], counts[1] - counts[0]
        width[-1] = max(counts[-1], counts[-2])
    group = np.repeat(np.arange(counts.size), counts)
    rank = np.arange(times.size) - starts[group]
    out = times + (rank + lead[group]) * (room / width)[group]
    return np.asarray(out, float)


def utc(base_ns: int, seconds: float) -> datetime | None:
    """UTC of a nanosecond count since 1970 plus seconds; None beyond all calendars."""
    try:
        return datetime(1970, 1, 1, tzinfo=UTC) + timedelta(microseconds=base_ns // 1000) + timedelta(seconds=seconds)
    except OverflowError:
        return None
