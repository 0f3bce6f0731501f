"""What a heading says of time: whether a column may tell it, in which unit, and of what."""

from __future__ import annotations

import re
from functools import lru_cache

from analyser.core.channels import VOCABULARY
from importers.clock import days
from importers.meaning import units
from importers.meaning.columns import Heading
from importers.meaning.words import compound, fold, meanings

SCALES = {"s": 1, "ms": 10**3, "us": 10**6, "ns": 10**9, "min": 1 / 60, "h": 1 / 3600, "d": 1 / 86_400}
TELLING = ("s", "ms", "us", "ns")
"""Units that make a column a clock without a word: "min" may mean the least value, hours may be an engine's."""
_PART_OF_A_SECOND = re.compile(r"\d+(/\d+)? (s|ms|us)")
_OF_A_PART = {"engine", "electric", "pump", "pack", "fuel", "tank", "ecu", "rpm"}
"""What a time beside these counts is how long a part has run, not when a row was taken."""
HOURS = frozenset({"hours", "stunden", "heures", "horas", "ore"})
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
_BARE = {
    "min": "min", "minutes": "min", "minuten": "min", "minutos": "min", "minuti": "min",
    "s": "s", "ms": "ms", "us": "us", "millis": "ms", "micros": "us", "ts": "", "timestamp": "", "timestamps": "",
    "uptime": "", "epoch": "", "unix": "", "unixtime": "", "unix_time": "",
    "tick": "", "ticks": "", "zeitstempel": "", "horodatage": "", "itow": "ms", "tow": "s",
}  # fmt: skip
"""Headings of one word that are clocks, with the unit they say."""
WEEK = {"week", "woche", "semaine", "semana", "settimana", "wk", "wno"}
_CHANNEL_UNITS = tuple(dict.fromkeys(c.unit for c in VOCABULARY))
_RUNS_OUT = frozenset({
    "countdown", "remaining", "remain", "left", "until", "togo", "rest", "restzeit", "restlaufzeit", "verbleibend",
    "verbleibende", "restant", "restante", "restanti", "rimanente", "rimasto", "rimasta", "residuo", "residua",
})  # fmt: skip
"""Words of a time that runs out."""


def per_second(unit: str | None) -> float | None:
    """How many units of time there are in a second, of "1/100 s" or "20 ms" too; None where it is no time."""
    if unit is None or unit in SCALES:
        return None if unit is None else SCALES[unit]
    if not unit.endswith(("s", "second")):
        return None
    made = units.conversion(unit, "s")
    return None if made is None or not made.num else float(1 / made.num)


def of_another_kind(unit: str | None) -> bool:
    """Whether a unit says that a column is no time: millilitres, say. "m" may be minutes, "100 Hz" the ticks' rate."""
    if unit is None or unit in ("m", "1", "counts", "bool") or unit.endswith("rps") or per_second(unit) is not None:
        return False
    return any(units.conversion(unit, u) is not None for u in _CHANNEL_UNITS)


def counts_down(heading: Heading) -> bool:
    """Whether a heading speaks of the time that is left."""
    return bool(_RUNS_OUT & set(heading.words)) or "countdown" in "".join(heading.words)


def of_part(heading: Heading) -> bool:
    """Whether a heading's time is how long a part has run."""
    return bool(_OF_A_PART & {m for w in heading.words for m in meanings(w)})


@lru_cache(maxsize=2048)  # a plan asks several times, and the logs of a folder have few layouts
def timely(heading: Heading) -> bool:
    """Whether a heading speaks of time, and not of so many in a time: "packets per second"."""
    return not _a_rate(heading) and (
        bool(_IDEAS & set(heading.ideas))
        or since_start(heading) is not None
        or days.julian(heading)
        or fold_is_t(heading)
        or bare(heading) is not None
        or (of_week(heading) and heading.unit in (None, "s", "ms"))
    )


def since_start(heading: Heading) -> str | None:
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


def of_seconds(unit: str | None) -> bool:
    """Whether a unit makes a column a clock without a word: seconds, thousandths of them, "20 ms" or "1/100 s"."""
    return unit in TELLING or bool(unit and _PART_OF_A_SECOND.fullmatch(unit))


def of_week(heading: Heading) -> bool:
    """Whether a heading speaks of GPS seconds of the week."""
    words = set(re.findall("[a-z]+", fold(heading.plain)))
    week = words & WEEK and words & {"ms", "s", "sec", "second", "seconds", "sekunde", "sekunden", "time", "zeit",
                                         "seconde", "secondes", "segundo", "segundos", "secondi"}  # fmt: skip
    return bool(week or words & {"tow", "itow", "sow"}) or ("gps" in words and heading.unit in TELLING)


def bare(heading: Heading) -> str | None:
    """The unit that a heading of one word says, '' for none; None where it is no clock's."""
    text = re.sub(r"(?<=[a-z])_?(?:8|16|24|32|64)(?:[\s_]?bits?)?$", "", fold(heading.plain).strip(" []()_"))
    if len(text) < 20 and re.fullmatch(r"(unix|epoch)[a-z_ ]*", text) and not heading.unit:
        return ""
    return _BARE.get(text) if len(heading.plain) < 20 else None


def fold_is_t(heading: Heading) -> bool:
    """Whether a heading is a bare "t" or nothing but a unit of time; no heading at all may count rows, not time."""
    said = tuple(w for w in heading.words if meanings(w) != ("",))  # "Data.t"
    return said == ("t",) or (heading.words[:1] in ((), ("t",)) and of_seconds(heading.unit))


def worded(heading: Heading) -> str | None:
    """The unit of time that one of a heading's words names: "Minuten seit Start"; None for none, or for several."""
    said = {units.understand(w) for w in heading.words if len(w) > 2 and w != "min"} & SCALES.keys()
    return said.pop() if len(said) == 1 else None
