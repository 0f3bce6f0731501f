"""What a recorder puts around its headings: channel numbers, addresses, the ids of sensors, letters for types.

``CH01 Turbine rpm``, ``DB30.Akku_Empf_1.Spannung``, ``Dev1/ai0 EGT``, ``S02 Abgas``, ``fAltMslM``: what is different in
every column, or the same in all, and shaped as an id, names no part of the aircraft. It is left out before a heading is
read, unless two headings would be the same without it: then it tells parts apart (``R1 V`` beside ``R2 V``).
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Mapping, Sequence

from msgspec.structs import replace

from importers.meaning import units
from importers.meaning.heading import Heading, dissect, split
from importers.meaning.words import fold, meanings

_CHANNEL_NUMBER = re.compile(
    r"\s*(?:(?:ch|chan|channel|kanal|canal|canale|voie|col|spalte|s|sens|sensor|ai|in|input|eingang|entrada|ingresso)[\s_.#]*0*(\d{1,2})(?!\d)[\s_:.)\]-]*|0*(\d{1,2})\s*[:)\]-]\s*)",
    re.IGNORECASE,
)
"""A recorder's number in front of a heading."""
_COUNTS = (_CHANNEL_NUMBER, re.compile(r"\s*[#\[(]*0*(\d{1,6})(?!\d)[\s:._)\]-]+(?=\S)"),
           re.compile(r"\s*[\[(]?0[xX]([\da-fA-F]{1,8})[\s:._)\]-]+(?=\S)"),
           re.compile(r"(?i)\s*([a-z]{2,}[\s_.]?\d{0,2}[\s_.:/-]+(?:ch|chan|channel|kanal|canal|canale|voie|input|ai)"
                      r"[\s_.#]*\d{1,2})(?!\d)[\s_:.)\]-]*(?=\S)"))  # fmt: skip
"""The same, a number alone, an address, and a device's name before the number."""
_ID = re.compile(r"\s*[\[(#]?([A-Za-z]{1,4})[_-]?(\d{1,4})[\])]?(?:[\s_./:|\\>-]+|(?=[A-Z][a-z]))(?=\w)")
"""Letters and a number in front: of a sensor, a terminal, a block of data."""
_ID_BEHIND = re.compile(r"(.*\w)[\s_./:|\\>-]+[(\[#]?([A-Za-z]{2,4})(\d{1,4})[\])]?(\s*[\[(][^\])]*[\])])?\s*")
"""The same behind a name, before a unit in brackets or at the end."""
_PARTS = frozenset({"rx", "pack", "engine", "tank", "fuel", "ecu", "antenna", "cell", "bus", "pump", "left", "right"})
_QUANTITIES = frozenset(
    {"rpm", "egt", "temperature", "flow", "used", "voltage", "current", "charge", "pressure", "rssi"}
)
_TYPE = re.compile(r"(?:([fdb]|fl|dw|by|ui|ul|us|[ui](?:8|16|32|64)|f(?:32|64))|[inuswl])(?=[A-Z][A-Za-z])", re.ASCII)
"""Letters for the type of a value, as programmers put them before a name; those of the group are no symbols besides."""
_CALIBRATED = re.compile(r"(?i)(?<![a-z\d])cal(?:ib)?\d{0,8}(?![a-z\d.])[\s_.-]*")
_MOST, _FEW = 0.6, 3


def left_out(headings: Sequence[Heading]) -> list[Heading]:
    """Headings read without what the recorder put around them.

    >>> from importers.meaning.heading import dissect
    >>> some = [dissect(h) for h in ("S01 Shaft rpm", "S02 Exhaust C", "S03 Fuel flow", "S04 Rx pack V")]
    >>> [h.words for h in left_out(some)][:2]
    [('shaft',), ('exhaust',)]
    """
    before = {i: h.plain for i, h in enumerate(headings)}
    texts = dict(before)
    for way in (_numbers, _ids, _ids, _ids_behind, _types, _calibrated):
        texts |= way(texts)
    return [h if texts[i] == before[i] else _read(h, texts[i]) for i, h in enumerate(headings)]


def _read(h: Heading, rest: str) -> Heading:
    row = h.unit_text if h.unit_by == "row" else ""
    return replace(dissect(rest, row), text=h.text, written=h.written)


def _numbers(texts: Mapping[int, str]) -> dict[int, str]:
    """Without a recorder's own numbers in front, where they count up: "CH01 Turbine rpm", "2: Exhaust"."""
    for shape in _COUNTS:
        found = {i: m for i, t in texts.items() if (m := shape.match(t))}
        numbers = {next(g for g in m.groups() if g).casefold() for m in found.values()}
        rests = {i: texts[i][m.end() :] for i, m in found.items()}
        least = _FEW if shape is _CHANNEL_NUMBER else max(_FEW, len(texts) - 2)
        if len(found) >= least and _apart(rests, {}) and len(numbers) == len(found):
            return {i: rest for i, rest in rests.items() if rest.strip()}
    return {}


def _ids(texts: Mapping[int, str]) -> dict[int, str]:
    """Without ids in front."""
    found = {i: (m[1], m[2], t[m.end() :]) for i, t in texts.items() if (m := _ID.match(t))}
    letters, numbers = {a for a, _, _ in found.values()}, {n for _, n, _ in found.values()}
    one = len(letters) == 1 and len(min(letters)) == 1 and len(numbers) == len(found)  # "V1" to "V13" of a bench
    nameless = {i: (a + n, rest) for i, (a, n, rest) in found.items()
                if _nameless(a, n) or ((one or a in "Aa") and _measured(rest))}  # fmt: skip
    return _without(texts, nameless)


def _measured(rest: str) -> bool:
    """Whether a heading says what is measured without a letter before it, which may be an analog input then."""
    plain = dissect(rest)
    return plain.unit is not None or bool(_QUANTITIES & set(plain.ideas))


def _ids_behind(texts: Mapping[int, str]) -> dict[int, str]:
    """Without ids behind."""
    found = {i: m for i, t in texts.items() if (m := _ID_BEHIND.fullmatch(t)) and _nameless(m[2], m[3])}
    return _without(texts, {i: (m[2] + m[3], m[1] + (m[4] or "")) for i, m in found.items()})


def _without(texts: Mapping[int, str], found: Mapping[int, tuple[str, str]]) -> dict[int, str]:
    """The rests of headings, where most have an id, and the ids tell nothing that the rests do not."""
    rests = {i: rest for i, (_, rest) in found.items()}
    others = {i: t for i, t in texts.items() if i not in found}
    if len(found) < max(_FEW, _MOST * (len(texts) - 1)) or not _apart(rests, others) or not _telling(rests):
        return {}
    turns: dict[str, set[str]] = defaultdict(set)
    shared: dict[str, int] = defaultdict(int)
    for tag, rest in found.values():
        turns[fold(re.split(r"[\s_./:|\\>-]+", rest.strip())[0])].add(fold(tag))
        shared[fold(tag)] += 1
    some = [n for n in shared.values() if n > 1]
    if (
        len(shared) > 1 and some and not all(_loop(tag) for tag in shared)
    ):  # an id that several columns share, and not all, may be a part's own name
        kinds = {re.sub(r"\d", "", tag) for tag in shared}
        if any(len(tags) > 1 for tags in turns.values()) or len(kinds) > 1 or len(next(iter(kinds))) < 2:
            return {}
    return rests


def _types(texts: Mapping[int, str]) -> dict[int, str]:
    """Without a letter for the type in front of each: "fAltMslM", "u8Sats"."""
    found = {i: m for i, t in texts.items() if (m := _TYPE.match(t))}
    rests = {i: texts[i][m.end() :] for i, m in found.items()}
    plain = sum(m[1] is not None for m in found.values())
    if len(found) < max(_FEW, 0.7 * len(texts)) or 2 * plain < len(found):
        return {}
    return rests if _apart(rests, {i: t for i, t in texts.items() if i not in found}) else {}


def _calibrated(texts: Mapping[int, str]) -> dict[int, str]:
    """Without a mark that says that, or when, a sensor was calibrated."""
    rests = {i: _CALIBRATED.sub("", t).rstrip("_ .-") for i, t in texts.items() if _CALIBRATED.search(t)}
    others = {i: t for i, t in texts.items() if i not in rests}
    return rests if len(rests) > 1 and all(rests.values()) and _apart(rests, others) else {}


def _apart(rests: Mapping[int, str], others: Mapping[int, str]) -> bool:
    """Whether no two headings would be the same."""
    every = [fold(t).strip() for t in (*rests.values(), *others.values())]
    return len(set(every)) == len(every)


def _telling(rests: Mapping[int, str]) -> bool:
    """Whether most rests say something beside a unit."""
    said = [any(meanings(w)[:1] not in ((), ("",)) for w in split(r)[0]) and units.understand(r) is None
            for r in rests.values()]  # fmt: skip
    return sum(said) >= _MOST * len(said)


def _loop(tag: str) -> bool:
    """Whether letters and a number are those of an instrument loop (ANSI/ISA-5.1, 4; from memory): "LI-101"."""
    return bool(re.fullmatch(r"[A-Za-z]{2,4}\d{3,4}", tag))


def _nameless(letters: str, number: str) -> bool:
    """Whether letters before a number name no part and no quantity."""
    if _loop(letters + number):
        return True
    said = meanings(fold(letters))
    padded = number[0] == "0" and len(number) > 1
    return not _PARTS & set(said) and (said[:1] in ((), ("",), ("sensor",)) or padded)
