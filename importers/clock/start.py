"""When a log began, where its clock doesn't say: from the lines above the header, or from the file's name."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta, timezone
from pathlib import PurePath

import pyarrow as pa
from msgspec import Struct
from msgspec.structs import replace

from analyser.core.findings import Text, say
from importers.clock.codes import ClockCode
from importers.clock.forms import Open, date_order, order_said, read_text, utc
from importers.meaning.words import fold

DAY_NS = 86_400 * 10**9

_WORDS = {
    "begin": "start started begin began beginning recorded recording logged startzeit beginn begonnen aufgezeichnet "
    "aufnahme debut commence demarrage enregistre enregistrement inicio comienzo iniciado grabado grabacion",
    "day": "date day datum tag jour fecha dia",
    "time": "time zeit uhrzeit heure hora",
    "zone": "zone timezone clock zeitzone uhr fuseau zona huso utcoffset",
    "": "log of the at on de du der des del le la el utc gmt local lokal locale horaire horaria flight flug vol vuelo "
    "session file",
}  # fmt: skip
_MEANS = {word: meaning for meaning, words in _WORDS.items() for word in words.split()}
_NAMED = re.compile(r"(?<!\d)((?:19|20)\d\d)([-_])(0[1-9]|1[0-2])\2(0[1-9]|[12]\d|3[01])(?!\d)")


class Anchor(Struct, frozen=True):
    """The beginning of a log.

    Parameters
    ----------
    ns : int or None
        Nanoseconds since 1970 of its day's midnight, or of the instant where ``timed``, by the clock of ``zone``;
        None where nothing tells.
    zone : str
        As :func:`zone_named` gives it; '' where unknown.
    why : str
        Where it is from.
    """

    ns: int | None = None
    timed: bool = False
    zone: str = ""
    why: Text = ""

    def utc(self) -> datetime | None:
        """UTC of the beginning; None without a time of day or a zone."""
        return to_utc(self.ns, 0.0, self.zone) if self.timed and self.ns is not None else None


def zone_named(text: str) -> str | None:
    """Understand a zone: ``UTC``, an offset such as ``+02:00``, or a name of the time zone database; None if neither.

    >>> zone_named("GMT"), zone_named("UTC+2"), zone_named("-0530")
    ('UTC', '+02:00', '-05:30')
    """
    text = text.strip()
    if fold(text) in ("utc", "gmt", "z", "zulu", "ut", "utc+0", "utc+00:00", "gmt+0"):
        return "UTC"
    offset = re.fullmatch(r"(?:UTC|GMT)?\s*([+-−])(\d{1,2})(?::?(\d{2}))?", text, re.IGNORECASE)
    if offset:
        sign, hours, minutes = offset.groups()
        sign = "+" if sign == "+" else "-"
        return f"{sign}{int(hours):02d}:{minutes or '00'}" if int(hours) <= 14 and int(minutes or 0) < 60 else None
    if re.fullmatch(r"[A-Za-z_]+(/[A-Za-z_+-]+)+", text):
        from zoneinfo import ZoneInfo

        try:
            return ZoneInfo(text).key
        except (ValueError, KeyError, OSError):
            return None
    return None


def to_utc(base_ns: int, seconds: float, where: str, *, second: bool = False) -> datetime | None:
    """UTC of a local clock reading; None in an unknown zone or beyond all calendars.

    The hour that comes twice when a zone's summer ends is the first of the two, or the ``second``.
    """
    naive = utc(base_ns, seconds)
    if naive is None or not where:
        return None
    if where in ("UTC", "row"):
        return naive
    if where[0] in "+-":
        hours, minutes = map(int, where[1:].split(":"))
        shift = timedelta(hours=hours, minutes=minutes) * (-1 if where[0] == "-" else 1)
        return naive.replace(tzinfo=timezone(shift)).astimezone(UTC)
    from zoneinfo import ZoneInfo

    return naive.replace(tzinfo=ZoneInfo(where), fold=int(second)).astimezone(UTC)


def find_begin(preamble: Mapping[str, str], file: str, answers: dict[str, str]) -> tuple[Anchor, list[Open]]:
    """Find when a log began.

    Lines above the header win over the file's name; a time of day comes from nowhere else.

    Returns
    -------
    anchor : Anchor
    open : list of Open
        Asked where a day may be read two ways.
    """
    found = Anchor(zone=answers.get("zone", ""))
    asks: list[Open] = []
    clock_ns: int | None = None
    for key, written in preamble.items():
        means = {_MEANS.get(w, "?") for w in re.findall(r"[a-z]+", fold(key))} - {""}
        if not means or "?" in means:
            continue
        if "zone" in means:
            found = replace(found, zone=found.zone or zone_named(written) or "")
            continue
        value = re.sub(r"(?<![\d:+-])(\d{1,2}:\d{2})(?![\d:])", r"\1:00", written)
        form = "stamp" if ":" in value else "date"
        if found.ns is None or (form == "stamp" and not found.timed):
            order, more = date_order([value], key, answers)
            ns, good = read_text(pa.array([value]), form, order)
            if good[0]:
                mark = re.search(r"(Z|[+-]\d{2}:?\d{2})\s*$", value) if form == "stamp" else None
                where = "row" if mark else found.zone or ("UTC" if re.search(r"\b(utc|gmt)\b", fold(key)) else "")
                why = say(ClockCode.FROM_LINE, key=key, written=written, order=order_said([value], order))
                found = Anchor(int(ns[0]), form == "stamp", where, why)
                asks = more
                continue
        ns, good = read_text(pa.array([value]), "hms", "ymd")
        if good[0] and clock_ns is None:
            clock_ns = int(ns[0])
    if found.ns is not None and not found.timed and clock_ns is not None:
        found = replace(found, ns=found.ns + clock_ns, timed=True)
    if found.ns is None and (named := _NAMED.search(PurePath(file).name)):
        ns, good = read_text(pa.array(["-".join(named.group(1, 3, 4))]), "date", "ymd")
        if good[0]:
            found = replace(found, ns=int(ns[0]), why=say(ClockCode.FROM_FILE_NAME))
    return found, asks
