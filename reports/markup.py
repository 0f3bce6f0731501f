"""What stands on a page: texts escaped, with nothing left in them that acts unseen, and the small marks around them."""

from __future__ import annotations

import functools
import json
import re
from contextlib import suppress
from itertools import chain
from typing import Any

import orjson
from markupsafe import Markup, escape

from analyser.core.events import Level
from analyser.core.findings import Finding, Text
from reports.addresses import neutral
from reports.words.catalogue import reader
from reports.words.names import said
from reports.words.reader import Reader, reading
from reports.words.units import kept_together
from reports.words.vocabulary import glossary, level_word, term_of


def shown(value: Any) -> Markup:
    """Make something ready for a page: a finding worded, a text escaped.

    Nothing is left that hides or turns a line round, our own scripts and styles aside.
    """
    kind = type(value)
    if kind is str and len(value) < _LONGEST_TEXT:
        return _text(value)
    if kind is Finding:
        value = said(value)
    if not isinstance(value, str):
        return escape(value)
    if isinstance(value, Ready):
        return value
    if isinstance(value, Markup):
        plain = _plain(str(value)) if len(value) < _LONGEST_TEXT else neutral(value)
        return value if plain == value else Markup(plain)  # it was escaped before  # nosec B704
    return _text(str(value)) if len(value) < _LONGEST_TEXT else escape(neutral(value))


@functools.lru_cache(maxsize=8192)  # flights say most of their texts alike
def _plain(text: str) -> str:
    return kept_together(neutral(text))


@functools.lru_cache(maxsize=8192)
def _text(text: str) -> Markup:
    return escape(kept_together(neutral(text)))


_LONGEST_TEXT = 4_000
"""What is longer is data for a script, not a text."""


class Ready(Markup):
    """What was put together from what is ready for a page, and our own assets, whose hash the page's policy names."""

    __slots__ = ()


class Base64(str):
    """Numbers packed as text (RFC 4648, section 4): long, and with nothing in it to escape or to look for."""

    __slots__ = ()


_GAP = "\0"
"""Stands for packed numbers while the rest is looked through: JSON writes this character as its number."""


def script_json(data: Any, *, finite: bool = False) -> Markup:
    """JSON that cannot end the script element it stands in, and in which nothing hides or turns a line round.

    Raises
    ------
    ValueError
        If a number is not finite, unless ``finite`` says that the caller has left such out.
    """
    packed: list[str] = []

    def apart(value: object) -> object:
        if isinstance(value, Base64):
            packed.append(value)
            return orjson.Fragment(f'"{_GAP}"')
        if isinstance(value, str):
            return str(value)
        raise TypeError

    text = ""
    with suppress(TypeError):  # a name that is no UTF-8, a number of NumPy's
        text = orjson.dumps(data, apart, orjson.OPT_PASSTHROUGH_SUBCLASS).decode()
    if not text or (not finite and "null" in text):  # how the quick encoder would write what is not finite
        text, packed = json.dumps(data, ensure_ascii=False, separators=(",", ":"), allow_nan=False), []
    for char in "<>&\u2028\u2029":
        text = text.replace(char, f"\\u{ord(char):04x}")
    first, *rest = map(neutral, text.split(_GAP))
    text = "".join(chain([first], chain.from_iterable(zip(packed, rest, strict=True))))
    return Markup(text)  # nothing that could end the element is left in it  # nosec B704


def level_badge(level: Level | None) -> Markup:
    """Word and shape of a level; never colour alone."""
    key = "none" if level is None or level is Level.CANT_TELL else str(int(level))
    return _badge(key, level_word(level))


@functools.lru_cache(64)
def _badge(key: str, word: str) -> Markup:
    return Markup(
        '<span class="level level-{0}"><svg aria-hidden="true"><use href="#shape-{0}"/></svg>{1}</span>'
    ).format(key, word)


def term(key: str, shown: str = "") -> Markup:
    """A glossary word with its meaning on hover."""
    word, meaning = term_of(key)
    return Markup('<abbr title="{}">{}</abbr>').format(meaning, shown or word)


@functools.cache
def _glossary_pattern(language: str) -> re.Pattern[str]:
    with reading(Reader(language)):
        known = sorted((w for key in glossary() for w in key.split(", ")), key=len, reverse=True)
    return re.compile(r"(?<![\w-])(" + "|".join(re.escape(w) for w in known) + r")(s?)(?![\w-])", re.IGNORECASE)


def gloss(label: Text) -> Ready:
    """Put the meaning of the first glossary word behind it, to be read on hover; the text is escaped."""
    return _glossed(reader().language, str(said(label)))


@functools.lru_cache(1 << 12)
def _glossed(language: str, text: str) -> Ready:
    found = _glossary_pattern(language).search(text)
    if not found:
        return Ready(shown(text))
    with reading(Reader(language)):
        meanings = glossary()
    key = next(k for k in meanings if found[1].lower() in [w.lower() for w in k.split(", ")])
    before, after = text[: found.start()], text[found.end() :]
    term = Markup('{}<abbr title="{}">{}</abbr>{}').format(before, meanings[key], found[0], after)
    return Ready(shown(term))


def code(text: str) -> Markup:
    """Text with what stands between backticks set as code; everything is escaped."""
    parts = text.split("`")
    if len(parts) % 2 == 0:
        return escape(text)
    return Markup("").join(Markup("<code>{}</code>").format(p) if n % 2 else escape(p) for n, p in enumerate(parts))
