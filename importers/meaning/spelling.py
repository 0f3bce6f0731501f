"""Headings whose letters were damaged on the way, and abbreviations of several words."""

from __future__ import annotations

import re
from functools import lru_cache

from importers.meaning.words import compound, fold, meanings

_DAMAGED = re.compile("[\u00c2\u00c3\u00e2\u00c5\u00ce\u00cf]")
"""What the first bytes of accented letters, signs and Greek in UTF-8 look like in a Windows code page."""
_LOST = re.compile(r"[A-Za-z\u00c0-\u024f?\ufffd]*[?\ufffd][A-Za-z\u00c0-\u024f?\ufffd]*")
_LETTERS = ("a", "o", "u", "e", "i", "ss", "n", "c")
"""What accented letters of the five languages are without their accents."""
_SHORT: tuple[tuple[re.Pattern[str], str], ...] = tuple(
    (re.compile(pattern, re.IGNORECASE), words)
    for pattern, words in (
        (r"(?<!\w)(?:\u00fcber|ueber|uber)\s(?:nn|nhn|normalnull|(?:dem\s)?meer(?:esspiegel)?)(?!\w)", " msl "),
        (
            r"(?<!\w)(?:above\s(?:mean\s)?sea\s?level|(?:sobre|sul)\s(?:el\s)?(?:nivel|livello)\sdel\smare?)(?!\w)",
            " msl ",
        ),
        (r"(?<!\w)take[\s-]off(?:\s?point)?(?!\w)", " takeoff "),
        (r"(?<!\w)used\s+up(?!\w)", " used "),
        (r"(?<!\w)u/c(?!\w)", " undercarriage "),
        (r"(?<!\w)v/s(?!\w)", " vario "),
        (r"(?<!\w)(?:up\s?/\s?(?:down|dn)|(?:down|dn)\s?/\s?up)(?!\w)", " "),
        (r"(?<!\w)par\srapport\s(?:\u00e0|au?)(?!\w)", " "),
        (r"(?<!\w)s/(?=[a-z])", " sobre "),
        (r"(?:jet|tail)[\s_-]?pipe", " tailpipe "),
        (r"fail[\s_-]?safe", " failsafe "),
        (r"(?<!\w)K(IAS|CAS|TAS)(?!\w)", r"\1 kt"),
        (r"(?<!\w)(?:return\s(?:link|path|channel)|back\s?channel)(?!\w)", " downlink "),
        (r"(?<!\w)static(?=\s+temp)", "static air"),
        (r"(?<!\w)(?:[vVqQ]\u0307|m\u0307|\u1e41|\u1e7c)(?![a-z])", " mdot "),
        (r"(?<!\w)(?:on|an|a|\u00e0)[\s_-]?bo(?:ard|rdo|rd)(?!\w)", " "),
        (r"(?<!\w)(?:\u00fc|ue)\.?\s?(?:nn|nhn|n\.\s?n\.|m(?:eer(?:esspiegel)?)?)(?!\w)", " msl "),
        (r"(?<!\w)(?:m\.?)?s\.?\s?n\.?\s?m\.?(?!\w)|(?<!\w)s\.?\s?l\.?\s?m\.?(?!\w)", " msl "),
        (r"(?<!\w)a\.?\s?g\.?\s?l\.?(?!\w)", " agl "),
        (r"(?<!\w)\u00fc\.\s?(?=\w)", " \u00fcber "),
    )
)
"""Abbreviations of several words: above sea level, above ground, on board; "\u00fc." for \u00fcber."""


@lru_cache(maxsize=4096)
def mended(text: str) -> str:
    """Undo what a wrong code page did to a heading, and write its abbreviations out.

    Examples
    --------
    >>> mended("H\u00c3\u00b6he"), mended("Tuy?re (?C)")
    ('H\u00f6he', 'tuyere (?C)')
    """
    if _DAMAGED.search(text):
        for codec in ("cp1252", "latin-1"):
            try:
                text = text.encode(codec).decode("utf-8")
                break
            except UnicodeError:
                continue
    if "?" in text or "\ufffd" in text:
        text = _LOST.sub(_restored, text)
    for pattern, words in _SHORT:
        text = pattern.sub(words, text)
    return text


def _restored(match: re.Match[str]) -> str:
    """A word with its lost letters, where only one meaning comes of it."""
    whole = match.group()
    if len(whole) < 4 or whole.count("?") + whole.count("\ufffd") > 2:
        return whole
    made = [fold(whole)]
    for _ in range(2):
        made = [re.sub(r"[?\ufffd]", letters, w, count=1) for w in made for letters in _LETTERS]
    known = {w: parts for w in dict.fromkeys(made) if (parts := _meant(w))}
    return next(iter(known)) if len(set(known.values())) == 1 else whole


def _meant(word: str) -> tuple[str, ...]:
    """The likeliest ideas of a word or of the parts of a compound; none where it is not known."""
    parts = compound(word) or ((word,) if meanings(word) else ())
    return tuple(meanings(p)[0] for p in parts) if all(map(meanings, parts)) else ()
