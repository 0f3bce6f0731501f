"""The words of column headings and the ideas they stand for, in every language of :mod:`importers.meaning.languages`.

A heading is taken apart into words; accents and case do not matter, and compounds come apart where all their parts
are known ("Empfängerspannung", "rxbatt"). Each idea is a plain name that :mod:`importers.meaning.columns` reasons with.
"""

from __future__ import annotations

import unicodedata
from bisect import bisect_left
from functools import lru_cache

from importers.meaning.languages import SEVERAL, by_word, entries

NOTHING = "nothing"
"""What the languages' files call the idea of words that add nothing; '' elsewhere."""
_SEVERAL: dict[str, tuple[str, ...]] = {
    word: tuple("" if idea == NOTHING else idea for idea in ideas) for word, ideas in SEVERAL.items()
}
"""Words that mean several things, the likeliest first; the rest of the heading, or the values, decide."""
WORDS: dict[str, str] = {word: "" if idea == NOTHING else idea for word, idea in by_word("ideas").items()} | {
    word: ideas[0] for word, ideas in _SEVERAL.items() if len(word) > 1
}
"""Folded word → idea; the likeliest where there are several."""
_SORTED = sorted(WORDS)
_ROLES: dict[str, set[str]] = {}
for _role, _some in entries("roles"):
    _ROLES.setdefault(_role, set()).update(_some)
ROLES: dict[str, frozenset[str]] = {role: frozenset(words) for role, words in _ROLES.items()}
"""What sets a column apart from another of the same measurement: words that say which is the actual value, an extreme,
a smoothed copy, a setting, what a converter counted, what is worked out from it, or whether the value is good."""
SHORT_FORMS: dict[str, tuple[str, ...]] = {word: tuple(whole) for word, whole in entries("short_forms")}
"""Short forms of the trade that stand for two words. Common practice, no source."""
_SHORT_PARTS = frozenset({"rx", "ff", "n1"})
_FIRST_PARTS = frozenset({"ist", "flug"})
"""Words that add nothing, and yet begin a compound: "Istdrehzahl"."""
ORDINALS: dict[str, str] = by_word("ordinals")
NUMBERS: dict[str, str] = by_word("numbers")
"""Numbers in words, before and behind what they count."""


@lru_cache(maxsize=8192)
def fold(text: str) -> str:
    """Lower case without accents; ß becomes ss."""
    if text.isascii():
        return text.casefold()
    decomposed = unicodedata.normalize("NFKD", text.casefold())
    return "".join(c for c in decomposed if not unicodedata.combining(c))


@lru_cache(maxsize=4096)
def _single(word: str) -> str:
    """The known word that this is, or is a plural or another ending of; '' for none."""
    if word in WORDS:
        return word
    if len(word) < 5:
        return ""
    stems = [word[: -len(e)] for e in ("es", "en", "er", "em", "s", "n", "e") if word.endswith(e)]
    stems += [word[:-1] + e for e in ("o", "e", "a") if word[-1] in "aoei"]
    return next((s for s in stems if len(s) > 3 and s in WORDS and WORDS[s]), "")


@lru_cache(maxsize=4096)
def meanings(word: str) -> tuple[str, ...]:
    """All that a folded word may stand for, the likeliest first; nothing for a word that is not known.

    >>> meanings("cap"), meanings("spannung"), meanings("zorp")
    (('charge', 'track'), ('voltage',), ())
    """
    if word in _SEVERAL:
        return _SEVERAL[word]
    known = _single(word) or abbreviated(word)
    return (WORDS[known],) if known else ()


_ASIDE = frozenset({"", "limit", "worked", "state", "other", "electric", "watts"})
"""Ideas of columns that are kept aside."""


@lru_cache(maxsize=4096)
def cut_short(word: str) -> tuple[str, ...]:
    """Known words that one with a point behind it begins, alone or as the end of a compound; nothing for none.

    >>> cut_short("vites"), cut_short("restkraftst")
    (('vitesse',), ('rest', 'kraftstoff'))
    """
    if WORDS.get(word, "limit") not in _ASIDE - {""} or word in _SEVERAL or word in SHORT_FORMS:
        return ()
    if whole := abbreviated(word, 3) or _filler(word):
        return (whole,)
    if word[-1:] == "t" and WORDS.get(word[:-1]) == "air":
        return (word[:-1], "t")
    for at in range(len(word) - 3, 2, -1):
        tail = abbreviated(word[at:], 3) or _filler(word[at:])
        if tail and (head := next((h for end in ("", "s", "n", "en") if (h := _head(word[:at], end))), ())):
            return (*head, tail)
    return ()


def _head(word: str, joint: str) -> tuple[str, ...]:
    """The known words of a compound's beginning, without what joins it to the rest; nothing for none."""
    if not word.endswith(joint) or len(word) - len(joint) < 3:
        return ()
    found = compound(word.removesuffix(joint) if joint else word) or ()
    return found if all(map(_part, found)) else ()


def _filler(word: str) -> str:
    """The word that adds nothing that one cut short begins, where nothing else begins so: "posit."."""
    whole = [w for w in WORDS if w.startswith(word) and len(w) <= 3 * len(word) + 1] if len(word) > 2 else []
    return min(whole, key=lambda w: (len(w), w)) if whole and all(WORDS[w] == "" for w in whole) else ""


@lru_cache(maxsize=4096)
def abbreviated(word: str, least: int = 4) -> str:
    """Give the known word that a folded one begins, where all such words mean one thing; else ''.

    ``least``: letters that it must have; three are enough where a point marks it as cut short.

    >>> abbreviated("fluggeschw"), abbreviated("comp")
    ('fluggeschwindigkeit', '')
    """
    if len(word) < least or not word.isalpha() or (least < 4 and WORDS.get(word, "limit") not in _ASIDE - {""}):
        return ""
    begun = _SORTED[bisect_left(_SORTED, word) : bisect_left(_SORTED, word + "{")]  # "{" follows "z"
    whole = [w for w in begun if len(w) <= 3 * len(word) + (least < 4)]
    if least < 4:  # cut short on purpose: what is measured is likelier than what is not
        whole = [w for w in whole if WORDS[w] not in _ASIDE]
    stem = min(whole, key=len, default="")
    alike = len({WORDS[w] for w in whole}) == 1 or (len(word) > 5 and all(w.startswith(stem) for w in whole))
    return stem if stem and alike and WORDS[stem] else ""


@lru_cache(maxsize=4096)
def compound(word: str) -> tuple[str, ...] | None:
    """Take a folded compound apart into known words; None unless every part is known.

    >>> compound("empfangerspannung")
    ('empfanger', 'spannung')
    """
    if word in SHORT_FORMS:
        return SHORT_FORMS[word]
    if word in WORDS:
        return (word,)
    if word in ("ax", "ay", "az"):
        return ("acc", word[1])
    if len(word) > 2 and word[-1] in "uv" and WORDS.get(word[:-1]) in ("pack", "rx", "ecu", "pump", "bus"):
        return (word[:-1], word[-1])  # "rxv"
    if word[0] in "uivt" and WORDS.get(word[1:]) in ("pack", "rx", "ecu", "pump", "egt", "bus"):
        return (word[0], word[1:])  # "ibat", "urx"
    if word[0] == "t" and WORDS.get(word[1:]) == "air":
        return (word[0], word[1:])  # "taussen"
    if word[0] == "a" and WORDS.get(word[1:]) in ("pack", "rx", "ecu"):
        return (word[0], word[1:])  # "arx"
    if word[0] == "v" and WORDS.get(word[1:]) in ("gps", "ground", "air"):
        return (word[0], word[1:])  # "vgps"
    if word.endswith("rx") and WORDS.get(word[:-2]) in ("quality", "failsafe", "rssi"):
        return (word[:-2], "rx")  # "lqrx"
    if word in ("pstat", "pstatic", "pamb"):
        return (word[0], word[1:])
    if word[0] == "p" and WORDS.get(word[1:]) in ("pressure", "air", "altitude"):
        return (word[0], word[1:])  # "pbaro"
    for cut in range(len(word) - 1, 1, -1):
        first = word[:cut]
        if _part(first):
            for skip in ("", "s", "n", "en"):
                rest = word[cut:]
                if rest.startswith(skip) and _part(rest[len(skip) :], last=False):
                    tail = compound(rest[len(skip) :])
                    if tail is not None and all(map(_part, tail)):
                        return (first, *tail)
    return None


def _part(word: str, *, last: bool = True) -> bool:
    """Whether a word may be part of a compound: short words, and those that add nothing, make chance finds."""
    if len(word) < 3:
        return word in _SHORT_PARTS
    return not last or word in _FIRST_PARTS or (word in WORDS and (WORDS[word] != "" or len(word) > 4))
