"""Words of logs: a file a language (``de.toml``), and what all share (``trade.toml``); a further language is one more.

``several.toml`` has the words that mean several things, in one language or in two. Words are in small letters without
accents, as :func:`importers.meaning.words.fold` writes them.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from pathlib import Path

_READ = {path.stem: tomllib.loads(path.read_text("utf-8")) for path in Path(__file__).parent.glob("*.toml")}
SEVERAL: dict[str, tuple[str, ...]] = {
    word: tuple(ideas.split()) for ideas, words in _READ.pop("several").items() for word in words.split()
}
"""Words that mean several things: their ideas, the likeliest first."""
LANGUAGES: tuple[str, ...] = tuple(sorted(_READ))
"""Names of the languages, and ``trade`` for what all share."""


def entries(section: str, languages: tuple[str, ...] = LANGUAGES) -> Iterator[tuple[str, list[str]]]:
    """Keys of a section in all languages, each with its words.

    >>> dict(entries("numbers", ("de",)))["2"]
    ['zwei']
    """
    for language in languages:
        for key, words in _READ[language].get(section, {}).items():
            yield key, words.split()


def by_word(section: str) -> dict[str, str]:
    """Each word of a section, and the key it stands under.

    >>> by_word("ideas")["spannung"]
    'voltage'
    """
    return {word: key for key, words in entries(section) for word in words}
