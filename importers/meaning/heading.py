"""A column heading taken apart: its words, what each may stand for, and its unit."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator
from functools import lru_cache

from msgspec import Struct
from msgspec.structs import replace

from importers.meaning import units
from importers.meaning.spelling import mended, near
from importers.meaning.words import NUMBERS, ORDINALS, WORDS, abbreviated, compound, cut_short, fold, meanings

_SUFFIXES = "mV|MV|mA|MA|mAh|MAh|MAH|Pct|Rpm|RPM|Hz|Ms|DegC|Ml|ML|Dbm|dBm|V|A|Percent|KPa|HPa|Kmh|Mph|Kts|Ft|InHg"
_ENDING = (
    r"(.+?)(?:[_ .-]|(?<=[a-z])(?=[A-Z]))"
    r"((?i:[1ugtr]_min|tr_mi?n|rev_min|giri_min|ml_per_min|m_per_s|ft_per_min|l_per_h|fl_oz|m_s2|m_s|km_h|ml_min|ml_s|l_h|l_min|ft_min)"
    r"|(?<=[_ .-])[vcfagk])"
)
_SCALE = re.compile(
    r"\s*(?:(?<![a-z\dR])[x×*]\s?(10+)|(?<![a-z\d])div_?(10+)|(?<=[^\s\d])\s?/\s?(10+)"
    r"|(?<=[A-Za-z]\d)\s?[×*/]\s?(100+)|(?<=[a-z\d])X(10+))(?![^\W_]|\.)"
)
"""A power of ten beside the unit or the name: "x100", "/10"."""
_POWER = re.compile(r"(?i)(?:(?<=[\s_.])|\s?[*\u00d7]\s?)(?:x?(?:1e|10\^)-?[1-9]|e-?[3-9])$")
"""A power of ten at the end of a name: "lat_e7"."""
_MIDDLE = frozenset(
    [
        *("ml", "mah", "dbm", "kmh", "km/h", "kph", "mph", "hpa", "kpa", "krpm", "%", "°c", "ml/min", "m/s", "mv"),
        *("pct", "percent", "prozent", "pourcent", "millivolts", "milliamps", "celsius", "fahrenheit"),
        *("millilitres", "milliliters", "milliliter", "mililitros", "millilitri", "mls", "rpms"),
        *(
            "knots",
            "noeuds",
            "n\u0153uds",
            "nudos",
            "nodi",
            "knoten",
            "feet",
            "pieds",
            "piedi",
            "pies",
            "meter",
            "metres",
        ),
        *("meters", "metri", "metros", "degres", "degrees", "grad", "grados", "gradi"),
    ]
)
"""Units that may stand among the words, for they are no words themselves: "Fuel ml left"."""
_SPELLED_OUT = re.compile(
    r"(?i)(?<![^\W\d_])(?:milli(?:amp|ampere)s?[\s-]hours?|thousands?\s(?:of\s)?r(?:evolutions\sper\sminute|pm)"
    r"|revolutions\sper\sminute|(?:deg|degree)s?\.?\s(?:celsius|fahrenheit|[cf])|fluid\sounces)(?![^\W\d_])"
)
"""Units of several words, wherever they stand: "milliamp hours used"."""
_MIDDLE_CAMEL = re.compile(
    r"(?<=[a-z\d])(?:(?<=[a-z])[A-GLR])??"
    r"((?:Mv|Ma|Mah|MAh|mAh|Ml|Pct|Percent|Dbm|Celsius|Millivolts|Milliamps|Kmh|Mph|Kts|Hpa|Kpa)|(?<=[Tt]emp)[CF])"
    r"(?=(?:\d{1,2}|[A-GLR]|Left|Right)?$)|(?<=Rx|at|tt|cu|ck|mp)V(?=\d$)"
)
"""The same run together with capitals, with no more than the part's own name behind it: "fuelBurnedMl1"."""
_TENS = re.compile(r"(?:10+|0[.,]\d+|1/10+|1/(?!\d))(?![.,/\d])")
"""A number before a unit that is no part's: "0.1 V", "1/100 s", "1/min"."""
_GREEK = {
    "\u03c6": "phi",
    "\u03d5": "phi",
    "\u03bb": "lambda",
    "\u03b8": "theta",
    "\u03d1": "theta",
    "\u03c8": "psi",
    "\u03b4": "delta",
}
_SHARES = ((re.compile(r"(?<![\d.])0\s?(?:-|\u2013|\.\.\.?|to)\s?1(?![\d.])"), "fraction"),
           (re.compile(r"(?<![\d.])0\s?(?:-|\u2013|\.\.\.?|to)\s?100(?![\d.])"), "%"))  # fmt: skip
"""A range that says the unit of a share: "Throttle 0-1"."""
_CAMEL = re.compile(r"(?<=[a-z\u00e0-\u00ff])(?=[A-Z])")
_COUNTED = frozenset({"rx", "pack", "engine", "tank", "antenna", "ecu", "cell"})
"""What a number in words may count: before it an ordinal, behind it a number."""
_LETTERS = "VAsmh"
"""Letters that are a unit when they stand alone at the end."""


class Heading(Struct, frozen=True):
    """A column heading taken apart.

    ``text`` is the column's name, which is not as ``written`` where several columns have one heading; ``words`` are
    folded; ``ideas`` their likeliest meanings, '' where a word adds nothing or is not known; ``glued`` says of each
    word whether it stood together with the one before ("rx1"); ``unit_by`` is where the unit was found: ``brackets``,
    ``row``, ``tail`` (last word), ``suffix``, ``cells``, ``said`` or ''; ``scale`` the power of ten of a mark such as
    "x100" or "/10", whose direction only the values tell, 0 without one; ``slips`` the words as written that were read
    as known ones which are one letter off.
    """

    text: str
    unit_text: str
    unit: str | None
    words: tuple[str, ...]
    ideas: tuple[str, ...]
    glued: tuple[bool, ...] = ()
    unit_by: str = ""
    scale: int = 0
    written: str = ""
    slips: tuple[str, ...] = ()

    @property
    def plain(self) -> str:
        """The heading as written."""
        return self.written or self.text


@lru_cache(maxsize=4096)
def slug(text: str) -> str:
    """Plain lower-case name of letters, digits and underscores: ``"Flap pos. (%)"`` → ``flap_pos``."""
    plain = fold(text.replace("%", " percent "))
    return re.sub(r"[^a-z0-9]+", "_", plain).strip("_")[:60] or "unnamed"


@lru_cache(maxsize=4096)  # the logs of a folder have few layouts, and each heading is asked for again and again
def dissect(text: str, unit_row: str = "") -> Heading:
    """Take a heading apart into unit and words.

    The unit stands in brackets, after a comma, in a unit row, or as the last word ("rx_batt_mV", "Fuel %").
    """
    if index := re.fullmatch(r"(.*\w)\[(\d{1,2})\]", text):  # "rpm[0]"
        plain = dissect(index.group(1), unit_row)
        words, ideas = (*plain.words, index.group(2)), (*plain.ideas, "")
        return replace(plain, text=text, words=words, ideas=ideas, glued=(*plain.glued, True))
    whole, scale = text, 0
    text = mended(text)
    name, unit, unit_text, by = text, None, "", ""
    if (mark := _SCALE.search(text)) and not _is_unit(text, mark.start()):
        scale = int(next(g for g in mark.groups() if g))
        name = text = re.sub(r"[\[(]\s*[\])]", "", text[: mark.start()] + text[mark.end() :]).strip(" _.")
    for match in reversed(list(re.finditer(r"[\[({<]\s*([^\[\](){}<>]*?)\s*[\])}>]", text))):
        found, said, rest = _bracketed(match.group(1))
        if found is not None:
            unit, unit_text, by = found, said, "brackets"
            name = f"{text[: match.start()]} {rest} {text[match.end() :]}"
            break
    if unit is None and "/" in name and units.understand(name) == "rpm":
        unit, unit_text, by, name = "rpm", name.strip(), "tail", "rpm"  # a heading that is the unit itself
    if unit is None and (first := re.match(r"\s*([^\s:]{1,12})\s*:\s+(?=\S)", name)):
        unit = units.understand(first.group(1))  # "°C: exhaust"
        if unit is not None:
            unit_text, by, name = first.group(1), "brackets", name[first.end() :]
    for span, share in _SHARES:
        if unit is None and (found_at := span.search(name)):
            unit, unit_text, by = share, found_at.group(), "tail"
            name = name[: found_at.start()] + " " + name[found_at.end() :]
    ending = re.fullmatch(_ENDING, name.strip())
    if unit is None and ending:
        unit_text, by, name = ending.group(2), "tail", ending.group(1)
        unit = {"c": "degC", "f": "degF", "a": "A", "k": "K"}.get(unit_text) or units.understand(
            unit_text.replace("_per_", "/")
        )
        unit = unit or ("rpm" if unit_text.casefold() in ("1_min", "u_min", "tr_min") else None)
        unit = unit or units.understand(unit_text.replace("_", " ")) or units.understand(unit_text.replace("_", "/"))
        warm = (unit_text == "c" and _HEAT & _ideas(ending.group(1))) or (
            unit_text == "a" and _of_current(ending.group(1))
        )
        if (unit_text == "g" and not _an_axis(ending.group(1))) or (
            unit_text == "k" and not _HEAT & _ideas(ending.group(1))
        ):
            unit, unit_text, by, name = None, "", "", text
        if unit_text in "ac" and not warm and re.search(r"(?i)rss|signal|ant|lost|fade|rx|cell", ending.group(1)):
            unit, unit_text, by, name = None, "", "", text
    if unit is None and (spelled := _SPELLED_OUT.search(name)):
        unit, unit_text, by = units.understand(spelled.group()), spelled.group(), "tail"
        name = name[: spelled.start()] + name[spelled.end() :]
    if unit is None:
        unit, unit_text, name = _last_word(name)
        by = "tail" if unit else ""
    if unit is None:
        unit, unit_text, name = _among(name)
        by = "tail" if unit else ""
    if unit is None and (first := re.match(r"(mAh|mV|mA|dBm)(?=[A-Z][a-z])", name.strip())):
        unit, unit_text, by = units.understand(first.group()), first.group(), "suffix"
        name = name.strip()[first.end() :]
    if unit is None and (inner := _MIDDLE_CAMEL.search(name.strip())):
        unit, unit_text, by = units.understand(inner.group(1) or "V"), inner.group(1) or "V", "suffix"
        at = 1 if inner.group(1) else 0
        name = name.strip()[: inner.start(at)] + name.strip()[inner.end(at) :]
    if unit is None:
        unit, unit_text, name = _suffix(name)
        by = "suffix" if unit else ""
    if unit_row and (found := units.looks_up(unit_row.strip("[](){} "))) is not None:
        if (
            by in ("tail", "suffix")
            and len(unit_text) == 1
            and unit_text.isalpha()
            and not _one_kind(unit or "", found)
        ):
            name = text  # "Rx bat A" over V: a name, not amperes
        unit, unit_text, by = found, unit_row.strip("[](){} "), "row"
    if unit is None and fold(name.strip()) in WORDS and units.understand(name) == "s":
        unit, unit_text, by = "s", name.strip(), "tail"  # a heading that is the unit itself
    words, glued = split(_POWER.sub("", name.strip()))
    slips = {w: known for w in words if (known := near(w))}
    if slips:
        parts = [(compound(slips[w]) or (slips[w],)) if w in slips else (w,) for w in words]
        glued = tuple(g or n > 0 for some, g in zip(parts, glued, strict=True) for n in range(len(some)))
        words = tuple(itertools.chain.from_iterable(parts))
    ideas = tuple(
        "" if i.startswith("#") else i
        for i in ((meanings(w) or ("",))[0] if len(w) > 1 else WORDS.get(w, "") for w in words)
    )
    return Heading(whole, unit_text, unit, words, ideas, glued, by, scale, slips=tuple(slips))


def _bracketed(text: str) -> tuple[str | None, str, str]:
    """The unit in brackets, its text, and the words beside it there: "mAh used", "left, ml"."""
    if text and (whole := units.looks_up(text)) is not None:
        return whole, text, ""
    parts = re.split(r"[\s,;]+", text)
    for at in (0, -1) if len(parts) > 1 else ():
        rest = " ".join(parts[1:] if at == 0 else parts[:-1])
        if (found := units.understand(parts[at])) is not None and all(meanings(w) for w in split(rest)[0]):
            behind = at == 0 and fold(rest) == "left"  # "(ml left)": what is left, no side
            return found, parts[at], "remaining" if behind else rest
    return None, "", ""


def _among(name: str) -> tuple[str | None, str, str]:
    """A unit among the words, its text, and the name without it."""
    for piece in re.finditer(r"[^\s_]+", name):
        whole = "/" in piece.group() and units.understand(piece.group()) is not None
        if whole or fold(piece.group()) in _MIDDLE:
            return units.understand(piece.group()), piece.group(), name[: piece.start()] + name[piece.end() :]
    return None, "", name


def _one_kind(one: str, other: str) -> bool:
    """Whether two units measure the same."""
    return one == other or units.conversion(one, other) is not None


_HEAT = {"temperature", "egt", "oat"}
_NO_CURRENT = {"lost", "quality", "failsafe", "frame", "voltage", "temperature", "egt", "cell", "rpm", "charge"}


def _ideas(name: str) -> set[str]:
    return {m for w in split(name)[0] for m in meanings(w)[:1]}


def _of_current(name: str) -> bool:
    """Whether a word, and no letter, says that a name is a current's."""
    return any(len(w) > 1 and meanings(w)[:1] == ("current",) for w in split(name)[0])


def _is_unit(text: str, at: int) -> bool:
    """Whether what stands around a place is a unit of its own ("rpm/1000")."""
    around = next(
        (m.group() for m in re.finditer(r"[^\s()\[\]]+|(?<=[(\[])[^()\[\]]+", text) if m.start() <= at < m.end()), ""
    )
    inside = next((m.group(1) for m in re.finditer(r"[(\[]([^()\[\]]*)[)\]]", text) if m.start() <= at < m.end()), "")
    return any(piece and units.understand(piece) is not None for piece in (around, inside))


@lru_cache(maxsize=4096)
def split(name: str) -> tuple[tuple[str, ...], tuple[bool, ...]]:
    """The folded words of a name, and which of them stood together with the one before."""
    name = re.sub(r"(?i)(?<![A-Za-z])(?:l|d|qu|un|(?:a|de|da|ne|su)ll)['\u2019](?=\w)", "", name)  # "de l'air"
    name = re.sub(r"(?<![A-Za-z])tr ?Min(?=[A-Z\d ])", "rpm ", name)
    name = re.sub(r"mAh(?![a-z])", "mah", name)
    name = re.sub(r"(?<![A-Za-z])([UIVTNQPHXYZ])([A-Z][a-z]{2,}[A-Za-z]*)", _symbol_apart, name)
    spaced = re.sub(r"([a-z\u00e0-\u00ff])([A-Z])", r"\1 \2", name)
    spaced = re.sub(r"([A-Z]{2,})([A-Z][a-z]{2,})", r"\1 \2", spaced)
    spaced = re.sub(r"(?<= )([A-GLR])([A-Z][a-z])", r"\1 \2", spaced)
    words: list[str] = []
    glued: list[bool] = []
    end = -1
    folded = fold(spaced)
    for letter, said in _GREEK.items():
        folded = folded.replace(letter, f" {said} ")
    for piece in re.finditer(r"(?<![a-z])n1(?!\d)|[a-z]+|\d+", folded):
        raw = piece.group()
        parts: tuple[str, ...] = ()
        if folded[piece.end() : piece.end() + 1] == "." and len(raw) > 2:
            parts = cut_short(raw)  # "Vit."
        if not parts and not abbreviated(raw) and not (words and raw in ("vb", "ib")):
            spellings = (raw, *_plains(raw))
            parts = next((p for p in map(compound, spellings) if p), ())
            parts = parts or tuple(filter(None, map(abbreviated, spellings)))[:1]
        parts = parts or (raw,)
        words += parts
        glued += [piece.start() == end, *[True] * (len(parts) - 1)]
        end = piece.end()
    for i, word in enumerate(words):
        beside = words[i + 1 : i + 2] if word in ORDINALS else words[i - 1 : i] if word in NUMBERS else ()
        if beside and meanings(beside[0])[:1] and meanings(beside[0])[0] in _COUNTED:
            words[i] = ORDINALS.get(word) or NUMBERS[word]
    elided = [
        i for i, w in enumerate(words[1:-1], 1) if w == "l" and words[i - 1] in ("de", "a", "au") and not glued[i]
    ]
    for i in reversed(elided):  # the same where the apostrophe is lost
        del words[i], glued[i]
    return tuple(words), tuple(glued)


def _symbol_apart(match: re.Match[str]) -> str:
    """A letter for a quantity or an axis before a name that begins with a capital: "VLuft", "XAcceleration"."""
    whole = fold(match.group())
    if compound(whole) or abbreviated(whole) or meanings(whole):
        return match.group()
    return f"{match.group(1)} {match.group(2)}"


def _plains(word: str) -> Iterator[str]:
    """German written without its own letters: "empfaenger" as "empfanger", "steuerknueppel" as "steuerknuppel"."""
    at = [m.end() - 1 for m in re.finditer(r"[aou]e", word)][:4]
    for some in itertools.chain.from_iterable(itertools.combinations(at, n) for n in range(1, len(at) + 1)):
        yield "".join(c for i, c in enumerate(word) if i not in some)


def _last_word(name: str) -> tuple[str | None, str, str]:
    """The unit as the last word or the last few, its text, and the name without it; the longest unit counts."""
    name = name.strip()
    if name.endswith("%"):
        return "%", "%", name[:-1]
    for gap in re.finditer(r"[\s_,/:@.-]+", name):
        head, tail = name[: gap.start()], name[gap.end() :]
        if not head or len(re.split(r"[\s_]+", tail)) > 3:
            continue
        found = units.understand(tail.replace("_per_", "/")) or units.understand(tail.replace("_", " "))
        if found is None or (len(tail) == 1 and tail.isalpha() and not _a_letter_unit(head, tail)):
            continue
        if len(tail) == 1 and tail.isalpha() and _among(head)[0]:
            continue  # "fuel_left_ml_l": a name
        if tail[0].isdigit() and not _TENS.match(tail):
            continue  # "Receiver 1 V" is of the first receiver, "Cell 1.2 V" of the second cell
        if fold(tail) in ("n", "bar", "rev"):
            continue
        return found, tail, re.sub(r" (?:in|en)$", "", head)
    return None, "", name


def _a_letter_unit(head: str, letter: str) -> bool:
    """Whether a letter at the end is a unit: V and A, but not the A of an antenna; C and F behind a temperature."""
    if letter in "CFK":
        return bool(_HEAT & _ideas(head)) or head.casefold() in ("sat", "tat")
    if letter == "g":
        return _an_axis(head)
    if letter in "lLN" and re.search(r" (?:in|en)$", head):
        return True
    if letter in "lL":
        return bool({"fuel", "tank"} & _ideas(head)) and bool({"left", "right"} & _ideas(head))
    if letter == "M":
        return bool({"altitude", "height", "agl"} & _ideas(head))
    if letter == "A" and (
        (_NO_CURRENT & _ideas(head) and not _of_current(head)) or re.search(r"(?i)rss|signal|ant|lost|fade", head)
    ):
        return False
    return letter in _LETTERS


def _an_axis(name: str) -> bool:
    """Whether a name is that of an acceleration along an axis: what stands behind it is g."""
    said = [meanings(w) for w in split(name)[0]]
    return any("accel" in m for m in said) and any({"x", "y", "z"} & set(m) for m in said)


def _suffix(name: str) -> tuple[str | None, str, str]:
    """The unit run together with the last word: "VoltagemV" ends in mV, "gpsAltitudeM" in m."""
    for grip in ("?", ""):  # the shorter name wins if it is a word
        camel = re.fullmatch(rf"(.*{grip}[a-z\d])({_SUFFIXES})", name.strip())
        if camel and (found := units.understand(camel.group(2))) is not None:
            if grip and not any(meanings(w) for w in split(camel.group(1))[0][-1:]):
                continue
            if camel.group(2) == "A" and not _a_letter_unit(camel.group(1), "A"):
                continue
            return found, camel.group(2), camel.group(1)
    spaced = _CAMEL.sub(" ", name.strip())
    return _last_word(spaced) if spaced != name.strip() else (None, "", name)
