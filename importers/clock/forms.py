"""Times and dates as people write them, to nanoseconds."""

from __future__ import annotations

import functools
import re
from collections import Counter
from collections.abc import Callable, Sequence
from datetime import UTC, datetime, timedelta

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc
from msgspec import Struct

from analyser.core.findings import Finding, Text, say
from importers.clock.codes import ClockCode
from importers.meaning.words import fold

NUMBER = re.compile(r"[+-]?[0-9]+([.,][0-9]*)?([eE][+-]?[0-9]+)?")
_Z = r"(?P<z>Z|[+-]\d{2}:?\d{2})?"
_END = r"(?:[.,:](?P<f>\d+))?\s*(?P<p>[AaPp])?\.?[Mm]?\.?\s*" + _Z
_HMS = r"(?P<h>\d{1,3}):?(?P<m>\d{2}):?(?P<s>\d{2})" + _END
_HM = r"(?P<h>\d{1,2}):?(?P<m>\d{2})(?::?(?P<s>\d{2}))?" + _END
_DAY = r"(?P<a>\d{1,4})[-/.](?P<b>\d{1,2})[-/.](?P<c>\d{1,4})"
_FORMS = {
    "stamp": rf"^\s*{_DAY}[T ,_]+{_HM}\s*$",
    "hms": rf"^\s*{_HMS}\s*$",
    "ms": r"^\s*(?P<m>\d{1,4}):(?P<s>\d{2})(?:[.,](?P<f>\d+))?\s*$",
    "date": rf"^\s*{_DAY}\s*$",
}
_SHORT = r"^\s*(\d\d)(\d\d)(\d\d)[-_T ](\d\d):?(\d\d):?(\d\d)((?:[.,]\d+)?)\s*$"
"""Day and time of six digits each; in which order year, month and day come, :func:`date_order` tells."""
_FRAMES = r"^\s*(?P<h>\d{1,2}):(?P<m>\d{2}):(?P<s>\d{2})[:;](?P<frame>\d{2})\s*$"
"""Hours, minutes, seconds and frames (SMPTE ST 12-1; a semicolon where numbers are dropped to keep real time)."""
_UNMARKED = r"^\s*((?:19|20)\d\d)(0[1-9]|1[0-2])([0-2]\d|3[01])([01]\d|2[0-3])([0-5]\d)([0-5]\d)\.?(\d{1,6})?\s*$"
UNMARKED_DAY = r"^\s*((?:19|20)\d\d)(0[1-9]|1[0-2])(0[1-9]|[12]\d|3[01])"
_WEEKDAY = r"^\s*(?:[^\W\d_]{2,}\.?,?\s+)?"
_NAME = r"(?P<n>[^\W\d_]{3,})\.?"
_NAMED_DAY = rf"{_WEEKDAY}(?P<d>\d{{1,2}})\.?[-/. ]?\s*(?:de )?{_NAME},?[-/. ]?\s*(?:de )?(?P<y>\d{{4}}|\d{{2}})\b"
_MONTH_FIRST = rf"{_WEEKDAY}{_NAME}[- ](?P<d>\d{{1,2}})(?:st|nd|rd|th)?,?[- ]\s*(?P<y>\d{{4}})\b"
_DASHED = (
    r"^\s*(?P<y>\d{4})[-_.:](?P<n>\d{1,2})[-_.:](?P<d>\d{1,2})[-_T ]+"
    r"(?P<h>\d{1,2})[-_.:](?P<m>\d{1,2})[-_.:](?P<s>\d{1,2})(?:[-_](?P<f>\d{1,3}))?\s*$"
)
_LETTERED = (
    r"^(?P<r>.*?[\sT,]|)(?P<h>\d{1,3})\s*h\s*(?P<m>\d{1,2})\s*(?:m|min|mn|')?\s*"
    r"(?:(?P<s>\d{1,2})(?P<f>[.,]\d+)?\s*(?:(?:s|sec|sek)(?P<g>\d{1,3})?)?)?\s*$"
)
_DOTTED = r"^(?P<r>.*[\sT,]|)(?P<h>\d{1,2})\.(?P<m>[0-5]\d)\.(?P<s>[0-5]\d)(?P<f>[.,]\d+)?\s*$"
_YEAR_LAST = (
    rf"^\s*[^\W\d_]{{2,4}}\.?,?\s+{_NAME}\s+(?P<d>\d{{1,2}})\s+(?P<r>\d{{1,2}}:\d\d:\d\d(?:[.,]\d+)?)\s+"
    r"(?P<y>\d{4})\s*$"
)
_DAYS_AND = (
    r"^\s*(?P<d>\d{1,2})(?:\s*(?:days?|d|tage?|jours?|j|dias?|giorni|giorno|g)\s*,?\s*|\.)"
    r"(?P<h>\d{1,2}):(?P<m>\d\d):(?P<s>\d\d)(?:[.,](?P<f>\d+))?\s*$"
)
_LASTING = r"^\s*(?:PT|P(?P<d>\d{1,2})DT)(?:(?P<h>\d+)H)?(?:(?P<m>\d+)M)?(?:(?P<s>\d+)(?:[.,](?P<f>\d+))?S)?\s*$"
_CONTROLLER = (
    r"^\s*(?:L?T|L?TIME|l?t|l?time)#(?:(?P<d>\d+)[dD]_?)?(?:(?P<h>\d+)[hH]_?)?(?:(?P<m>\d+)[mM]_?)?"
    r"(?:(?P<s>\d+)(?:\.(?P<f>\d+))?[sS]_?)?(?:(?P<i>\d+)[mM][sS])?\s*$"
)
"""A duration as controllers write it (IEC 61131-3, duration literals): ``T#1m39s800ms``."""
_MINUTES_AND = (
    r"^\s*(?:(?P<h>\d{1,3})\s*h\s*)?(?P<m>\d{1,5})\s*(?:m|min|mn|['′])\s*(?P<s>\d{1,2})(?:[.,](?P<f>\d+))?\s*"
    r"(?:s|sec|sek|\"|''|″)?\s*$"
)
_SECONDS_SINCE = r"^\s*T\s*\+\s*(?P<s>\d+)(?:[.,](?P<f>\d+))?\s*s?\s*$"
_SINCE_START = r"^\s*T\s*\+\s*"
_ORDINAL = r"^\s*(?P<y>(?:19|20)\d\d)-(?P<n>[0-3]\d\d)[T ]+(?P<r>\d.*)$"
_ZONES = {
    "UTC": "Z", "GMT": "Z", "CET": "+01:00", "CEST": "+02:00", "MEZ": "+01:00", "MESZ": "+02:00", "WET": "+00:00",
    "WEST": "+01:00", "EET": "+02:00", "EEST": "+03:00", "EST": "-05:00", "EDT": "-04:00", "PST": "-08:00",
    "PDT": "-07:00", "Uhr": "", "uhr": "", "BST": "", "CST": "", "CDT": "", "MST": "", "MDT": "", "IST": "", "JST": "",
}  # fmt: skip
"""Letters behind a time, and the offset they say: nothing where several zones use them, or none."""
_ZONED = rf"\s*\(?\b({'|'.join(_ZONES)})\)?\s*$"
_SAID = "|".join(letters for letters, offset in _ZONES.items() if offset)
IN_ROW = re.compile(rf"(Z|:\d{{2}}(\.\d+)?\s*[+-]\d{{2}}:?\d{{2}}|\s\(?(?:{_SAID})\)?)\s*$")
"""A time that says its zone."""
_TOLD = {k: [v.replace(":?", ":").replace(_Z.replace(":?", ":"), _Z)] for k, v in _FORMS.items()}
_TOLD["stamp"] += [_SHORT, _DASHED, _YEAR_LAST, _ORDINAL, rf"{_TOLD['stamp'][0][:-1]}{_ZONED}",
                   *(rf"{day}.*\d\s*[:h.]\s*\d" for day in (_NAMED_DAY, _MONTH_FIRST)),
                   rf"^\s*{_DAY}[T ,_]+\d{{1,2}}\s*h\s*\d"]  # fmt: skip
_TOLD["hms"] += [_FRAMES, _SECONDS_SINCE]
_TOLD["hms"] += [_LETTERED.replace("(?P<r>.*?[\\sT,]|)", r"\s*"), _DAYS_AND, _LASTING, _CONTROLLER, _MINUTES_AND,
                 _DOTTED.replace("(?P<r>.*[\\sT,]|)", r"\s*").replace(")?\\s*$", r")\s*$"),
                 rf"{_TOLD['hms'][0][:-1]}{_ZONED}", _SINCE_START + _TOLD["hms"][0][1:]]  # fmt: skip
_TOLD["date"] += [rf"{_NAMED_DAY}\s*$", rf"{_MONTH_FIRST}\s*$"]
_TELLS = {form: [re.compile(p.replace(r"\d", "[0-9]").replace("W[0-9]", r"W\d")) for p in patterns]
          for form, patterns in _TOLD.items()}  # fmt: skip
"""How a form is told from the others: in times of day without marks any number might be one."""

FEW = 2000
"""Values that are looked at one by one sooner than all at once."""
_MONTHS = (
    "january januar janvier enero gennaio janner janv", "february februar fevrier febrero febbraio fevr",
    "march marz mars marzo maerz mrz", "april avril abril aprile", "may mai mayo maggio",
    "june juni juin junio giugno", "july juli juillet julio luglio", "august aout agosto",
    "september septembre septiembre settembre sept setiembre", "october oktober octobre octubre ottobre",
    "november novembre noviembre", "december dezember decembre diciembre dicembre",
)  # fmt: skip
_DAYS_IN = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])


class Open(Struct, frozen=True):
    """What about the clock the file does not settle."""

    key: str
    text: Finding
    answers: tuple[str, ...]


def form_of(values: Sequence[str], *, dates: bool = False) -> str:
    """Tell how a column's times are written: ``stamp``, ``hms``, ``ms``, ``date``, ``number``, or '' for none.

    Parameters
    ----------
    dates : bool
        Numbers such as 20260510 may be dates.
    """
    values = values[:: 1 + len(values) // 300]
    counts = Counter(values)
    if dates and all(re.match(f"{UNMARKED_DAY}\\s*$", v) for v in values):
        return "date"
    if all(re.match(rf"{UNMARKED_DAY}[T _]\d\d:?\d\d:?\d\d", v) or re.match(_UNMARKED, v) for v in values):
        return "stamp"
    if sum(map(counts.__getitem__, filter(NUMBER.fullmatch, counts))) > 0.8 * len(values):
        return "number"
    if all(re.match(_DAYS_AND, v) for v in values):  # "0 days 00:03" is no date
        return "hms"
    dotted = [m.group("s") for v in values if (m := re.match(_DOTTED, v)) and not m.group("r")]
    if len(set(dotted)) > 2 and len(dotted) > 0.8 * len(values):  # the third part of a day is a year, or keeps still
        return "hms"
    for form, patterns in _TELLS.items():
        if sum(any(p.match(v) for p in patterns) for v in values) > 0.8 * len(values):
            return form
    return ""


def month(name: str) -> int:
    """The month a name or its beginning stands for in English, German, French, Spanish or Italian; 0 where none does.

    >>> month("Jun"), month("MÄRZ"), month("juil"), month("ju")
    (6, 3, 7, 0)
    """
    plain = fold(name)
    found = {n for n, names in enumerate(_MONTHS, 1) if any(m.startswith(plain) for m in names.split())}
    return found.pop() if len(plain) >= 3 and len(found) == 1 else 0


def read_cells(
    cells: Sequence[str], form: str, order: str = "ymd", each: float = 1
) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.bool_]]:
    """Like :func:`read_text`, for the cells of a file's first rows: the same ones are asked for several times."""
    return _read_cells(tuple(cells), form, order, each)


@functools.lru_cache(maxsize=4)
def _read_cells(
    cells: tuple[str, ...], form: str, order: str, each: float
) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.bool_]]:
    ns, good = read_text(pa.array(cells, pa.string()), form, order, each)
    ns.flags.writeable = good.flags.writeable = False
    return ns, good


def read_text(
    values: pa.Array, form: str, order: str = "ymd", each: float = 1
) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.bool_]]:
    """Text times to nanoseconds (since 1970 for dates, else since midnight) and which of them could be read.

    Parameters
    ----------
    each : float
        Seconds in a unit of the form ``ms`` (60 where it is hours and minutes); for ``hms`` the frames of film in a
        second where the fourth part counts these, else 1.

    Returns
    -------
    ns : ndarray of int64, shape (n,)
    good : ndarray of bool, shape (n,)
    """
    if (plain := _iso(values, form, order, each)) is not None:
        return plain
    if form == "stamp":
        values = pc.replace_substring_regex(values, _UNMARKED, r"\1-\2-\3 \4:\5:\6.\7")
        values = pc.replace_substring_regex(values, r"\.$", "")
        if _may_fit(values[:50], _SHORT):
            values = pc.replace_substring_regex(values, _SHORT, r"\1-\2-\3 \4:\5:\6\7")
    if form in ("date", "stamp"):
        values = pc.replace_substring_regex(values, UNMARKED_DAY, r"\1-\2-\3")
    if values.null_count == len(values):
        return np.zeros(len(values), np.int64), np.zeros(len(values), bool)
    found = pc.extract_regex(values, _FRAMES if form == "hms" and each > 1 else _FORMS[form])
    ns, good = _instants(found, form, order, each)
    if form != "ms" and not (form == "hms" and each > 1):
        odd = np.flatnonzero(np.asarray(values.is_valid()) & ~np.asarray(found.is_valid()))
        if odd.size:
            plain = _plain(values.take(pa.array(odd)))
            if plain.null_count < odd.size:
                ns[odd], good[odd] = _instants(pc.extract_regex(plain, _FORMS[form]), form, "ymd", each)
    return ns, good


_SHORTEST = {"stamp": len("2026-05-10T14:03"), "hms": len("14:03:07")}
_CALENDAR_NS = ((1901 - 1970) * 365 + 17) * 86_400 * 10**9, ((2200 - 1970) * 365 + 56) * 86_400 * 10**9
"""The beginnings of 1901 and 2200: years beyond are none of a log's."""


def _iso(
    values: pa.Array, form: str, order: str, each: float
) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.bool_]] | None:
    """Times written as ISO 8601 has them, all with Z or all without a zone; None where any is not.

    Arrow reads these many times faster than by a pattern.
    """
    shortest = pc.min(pc.binary_length(values)).as_py() if form in _SHORTEST and order == "ymd" and each == 1 else None
    if shortest is None or shortest < _SHORTEST[form]:
        return None
    zone = "UTC" if form == "stamp" and pc.all(pc.ends_with(values, "Z")).as_py() else None
    dated = values if form == "stamp" else pc.binary_join_element_wise("1970-01-01", values, " ")
    try:
        read = pc.cast(dated, pa.timestamp("ns", zone))
    except pa.ArrowInvalid:
        return None
    ns = np.asarray(pc.fill_null(read.cast(pa.int64()), 0)).copy()
    within = ns.min() >= _CALENDAR_NS[0] and ns.max() < _CALENDAR_NS[1]
    return (ns, np.asarray(values.is_valid()).copy()) if within else None


def _instants(
    found: pa.Array, form: str, order: str, each: float
) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.bool_]]:
    """The parts of times to nanoseconds, and which of them can be."""
    size = len(found)
    good = np.asarray(found.is_valid()).copy()
    ns = np.zeros(size, np.int64)
    names = {found.type.field(i).name for i in range(found.type.num_fields)}

    def number(name: str) -> npt.NDArray[np.int64]:
        text = pc.struct_field(found, name)
        text = pc.if_else(pc.fill_null(pc.equal(text, ""), True), "0", text)
        return np.asarray(pc.cast(text, pa.int64()))

    if "m" in names:
        hours = number("h") if "h" in names else np.zeros(size, np.int64)
        if "p" in names:
            half = pc.fill_null(pc.utf8_lower(pc.struct_field(found, "p")), "")
            pm, am = np.asarray(pc.equal(half, "p")), np.asarray(pc.equal(half, "a"))
            hours = np.where(pm | am, hours % 12 + 12 * pm, hours)
        seconds = (
            (hours * 60 + number("m")) * 60 + number("s")
            if form != "ms"
            else (number("m") * 60 + number("s")) * int(each)
        )
        if "frame" in names:
            frames = number("frame")
            ns += seconds * 10**9 + np.rint(frames * (1e9 / each)).astype(np.int64)
            good &= frames < each
        else:
            fraction = pc.fill_null(pc.struct_field(found, "f"), "")
            fraction = pc.utf8_slice_codeunits(pc.utf8_rpad(fraction, 9, "0"), 0, 9)
            ns += seconds * 10**9 + np.asarray(pc.cast(fraction, pa.int64()))
        good &= number("m") < (10_000 if form == "ms" else 60)
        good &= number("s") <= 60
        if form == "stamp":
            good &= hours < 24
    if "a" in names:
        days, real = _days(found, number, order)
        good &= real
        ns += days * 86400 * 10**9
    if "z" in names:
        zone = pc.fill_null(pc.struct_field(found, "z"), "")
        if pc.any(pc.and_(pc.not_equal(zone, ""), pc.not_equal(zone, "Z"))).as_py():
            parts = pc.extract_regex(zone, r"(?P<sign>[+-])(?P<h>\d{2}):?(?P<m>\d{2})")
            hh = np.asarray(pc.fill_null(pc.cast(pc.struct_field(parts, "h"), pa.int64()), 0))
            mm = np.asarray(pc.fill_null(pc.cast(pc.struct_field(parts, "m"), pa.int64()), 0))
            minus = np.asarray(pc.fill_null(pc.equal(pc.struct_field(parts, "sign"), "-"), False))
            good &= (hh <= 14) & (mm < 60)
            ns -= np.where(minus, -1, 1) * (hh * 60 + mm) * 60 * 10**9
    return ns, good


def _days(
    found: pa.Array, number: Callable[[str], npt.NDArray[np.int64]], order: str
) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.bool_]]:
    """Days since 1970, and which of them are in the calendar. A year has two digits or four."""
    a, b, c = (number(n) for n in "abc")
    year, month_, day = {"ymd": (a, b, c), "dmy": (c, b, a), "mdy": (c, a, b)}[order]
    digits = pc.fill_null(pc.utf8_length(pc.struct_field(found, "a" if order == "ymd" else "c")), 0)
    short = np.asarray(pc.equal(digits, 2))
    year = np.where(short, year + np.where(year < 70, 2000, 1900), year)
    first, middle, last = (pc.fill_null(pc.utf8_length(pc.struct_field(found, n)), 0) for n in "abc")
    most = pc.max_element_wise(middle, last if order == "ymd" else first)
    real = (short | np.asarray(pc.equal(digits, 4))) & np.asarray(pc.less_equal(most, 2))
    real = real & (month_ >= 1) & (month_ <= 12) & (day >= 1) & (year > 1900) & (year < 2200)
    leap = (year % 4 == 0) & ((year % 100 != 0) | (year % 400 == 0)) & (month_ == 2)
    real = real & (day <= _DAYS_IN[np.where(real, month_ - 1, 0)] + leap)
    months = np.where(real, (year - 1970) * 12 + month_ - 1, 0)
    days = months.astype("datetime64[M]").astype("datetime64[D]").astype(np.int64) + np.where(real, day - 1, 0)
    return days, real


def _plain(values: pa.Array) -> pa.Array:
    """Days with a month's name, times with letters or dashes: written with digits and colons; null where none."""
    zoned = _may_fit(values, _ZONED) and pc.any(pc.match_substring_regex(values, _ZONED)).as_py()
    for letters, offset in _ZONES.items() if zoned else ():
        values = pc.replace_substring_regex(values, rf"(\d)\s*\(?\b{letters}\)?\s*$", rf"\1{offset}")
    values = _rewritten(values, _SECONDS_SINCE, _lasting)
    if _may_fit(values, _SINCE_START):
        values = pc.replace_substring_regex(values, _SINCE_START, "")
    values = _rewritten(values, _YEAR_LAST, lambda p: _joined(_day(p), " ", p["r"]))
    values = _rewritten(values, _ORDINAL, lambda p: _joined(_ordinal(p), " ", p["r"]))
    for pattern in (_DAYS_AND, _LASTING, _CONTROLLER, _MINUTES_AND):
        values = _rewritten(values, pattern, _lasting)
    values = _rewritten(values, _DASHED, lambda p: _joined(
        _day(p), " ", p["h"], ":", pc.utf8_lpad(p["m"], 2, "0"), ":", pc.utf8_lpad(p["s"], 2, "0"), ".",
        pc.utf8_lpad(p["f"], 3, "0")))  # fmt: skip
    for pattern in (_NAMED_DAY, _MONTH_FIRST):
        if not _may_fit(values, pattern):
            continue
        rest = pc.replace_substring_regex(values, _re2(pattern), "")
        rest = pc.replace_substring_regex(
            rest, r"^[\s,T-]*(?:um |at |a las |à |alle ore |alle |ore )?[\s,T-]*(.)", r" \1"
        )
        values = _rewritten(values, pattern, lambda p, rest=rest: _joined(_day(p), rest))
    values = _rewritten(values, _DOTTED, lambda p: _joined(
        p["r"], p["h"], ":", p["m"], ":", p["s"], pc.replace_substring(p["f"], ",", ".")))  # fmt: skip
    return _rewritten(values, _LETTERED, lambda p: _joined(
        p["r"], p["h"], ":", pc.utf8_lpad(p["m"], 2, "0"), ":", pc.utf8_lpad(p["s"], 2, "0"),
        pc.replace_substring(p["f"], ",", "."),
        pc.if_else(pc.equal(p["g"], ""), "", _joined(".", pc.utf8_lpad(p["g"], 3, "0")))))  # fmt: skip


def _rewritten(values: pa.Array, pattern: str, write: Callable[..., pa.Array]) -> pa.Array:
    """Those values that fit a pattern, written anew."""
    if not _may_fit(values, pattern):
        return values
    found = pc.extract_regex(values, _re2(pattern))
    if found.null_count == len(found):
        return values
    parts = {found.type.field(i).name: pc.fill_null(pc.struct_field(found, i), "")
             for i in range(found.type.num_fields)}  # fmt: skip
    return pc.if_else(found.is_valid(), write(parts), values)


def _may_fit(values: pa.Array, pattern: str) -> bool:
    """Whether any of the values may fit a pattern: looked at where they are few, as a pattern takes long to prepare."""
    fits = _loose(pattern).search
    return len(values) > FEW or any(v is not None and fits(v) for v in values.to_pylist())


@functools.cache
def _loose(pattern: str) -> re.Pattern[str]:
    """A pattern that fits wherever it does in Arrow's expressions, whose words have ASCII edges."""
    return re.compile(pattern.replace(r"\b", ""))


def _re2(pattern: str) -> str:
    return pattern.replace(r"[^\W\d_]", r"\p{L}")


def _day(parts: dict[str, pa.Array]) -> pa.Array:
    names = parts["n"].dictionary_encode()
    numbers = [n if n.isdecimal() else str(month(n)) for n in names.dictionary.to_pylist()]
    year = parts["y"]
    short = pc.if_else(pc.less(year, "70"), pc.binary_join_element_wise("20", year, ""),
                       pc.binary_join_element_wise("19", year, ""))  # fmt: skip
    year = pc.if_else(pc.equal(pc.utf8_length(year), 2), short, year)
    return _joined(year, "-", pa.array(numbers, pa.string()).take(names.indices), "-", parts["d"])


def _lasting(parts: dict[str, pa.Array]) -> pa.Array:
    """A time that lasts (days, hours, minutes, seconds in any number) as hours, minutes and seconds."""
    total = np.zeros(len(parts["s"]), np.int64)
    for name, each in (("d", 86_400), ("h", 3600), ("m", 60), ("s", 1)):
        if name in parts:
            text = pc.if_else(pc.equal(parts[name], ""), "0", parts[name])
            total = total + np.asarray(pc.cast(text, pa.int64())) * each
    fraction = parts["f"]
    if "i" in parts:  # milliseconds of their own
        milli = np.asarray(pc.cast(pc.if_else(pc.equal(parts["i"], ""), "0", parts["i"]), pa.int64()))
        total = total + milli // 1000
        rest = pc.utf8_lpad(pc.cast(pa.array(milli % 1000), pa.string()), 3, "0")
        fraction = pc.if_else(pc.equal(parts["i"], ""), fraction, rest)
    hours, minutes, seconds = (pc.cast(pa.array(x), pa.string())
                               for x in (total // 3600, total // 60 % 60, total % 60))  # fmt: skip
    fraction = pc.if_else(pc.equal(fraction, ""), "", _joined(".", fraction))
    return _joined(hours, ":", pc.utf8_lpad(minutes, 2, "0"), ":", pc.utf8_lpad(seconds, 2, "0"), fraction)


def _ordinal(parts: dict[str, pa.Array]) -> pa.Array:
    """Year and day of the year as a day (ISO 8601-1, 5.2.3)."""
    years = np.asarray(pc.cast(pc.if_else(pc.equal(parts["y"], ""), "1970", parts["y"]), pa.int64()))
    days = np.asarray(pc.cast(pc.if_else(pc.equal(parts["n"], ""), "1", parts["n"]), pa.int64()))
    first = (years - 1970).astype("datetime64[Y]")
    made = first.astype("datetime64[D]") + (days - 1)
    whole = np.where(made.astype("datetime64[Y]") == first, np.datetime_as_string(made), "0000-00-00")
    return pa.array(whole.astype(str), pa.string())


def _joined(*parts: pa.Array | str) -> pa.Array:
    return pc.binary_join_element_wise(*parts, "")


_YEAR_FIRST = re.compile(r"\s*\d{4}[-/.]\d{1,2}[-/.]\d{1,4}")
_ORDERS = {"day-first": "dmy", "month-first": "mdy", "year-first": "ymd"}


def date_order(values: Sequence[str], heading: str, answers: dict[str, str]) -> tuple[str, list[Open]]:
    """Order of day, month and year: seen where a part settles it, asked where none does.

    Days divided by dots are written day first (DIN 1355-1); with other marks the order differs by country.
    """
    if any(map(_YEAR_FIRST.match, values)):
        return "ymd", []
    spelled = (re.sub(_SHORT, r"\1-\2-\3 \4:\5:\6", v) for v in values)
    parts = [m.groups() for v in spelled if (m := re.match(r"\s*(\d{1,4})([-/.])(\d{1,2})[-/.](\d{1,4})", v))]
    if not parts:
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
    asked = say(ClockCode.ASK_DATE_ORDER, date=f"{a}{mark}{b}{mark}{c}", heading=heading, ways=ways)
    return next(iter(read)), [Open("date_order", asked, ways)]


def order_said(values: Sequence[str], order: str) -> Text:
    """Say how days are read, where they could be read otherwise; else ''."""
    if order == "ymd" or not any(re.match(r"\s*\d{1,2}[-/.]", v) for v in values):
        return ""
    if order == "mdy":
        return say(ClockCode.MONTH_FIRST)
    dots = any(re.match(r"\s*\d{1,2}\.", v) for v in values)
    return say(ClockCode.DAY_FIRST_DOTS if dots else ClockCode.DAY_FIRST)


def utc(base_ns: int, seconds: float) -> datetime | None:
    """UTC of a nanosecond count since 1970 plus seconds; None beyond all calendars."""
    try:
        return datetime(1970, 1, 1, tzinfo=UTC) + timedelta(microseconds=base_ns // 1000) + timedelta(seconds=seconds)
    except OverflowError:
        return None
