"""Words for levels, methods, event kinds and subjects, and the glossary, in the reader's language."""

from __future__ import annotations

import functools

from analyser.core.events import Level
from analyser.core.figures import Method
from reports.words.reader import reader
from reports.words.texts import message, texts, upper_first, word

_GROUPS = {"bus": "pack", "downlink": "link", "turbine": "engine", "quality": "data"}
_HEADS = {"position": "movement", "motion": "movement", "attitude": "movement"}


def level_word(level: Level | None) -> str:
    """The word of a level; of none where the log is silent."""
    return message("level.none" if level is None else f"level.{level.name.lower()}")


def level_means(level: Level) -> str:
    """What a level asks of the reader."""
    return message(f"level_means.{level.name.lower()}")


def method_word(method: Method) -> str:
    """How a figure was obtained, in one word."""
    return word("method", method.value)


def method_means(method: Method) -> str:
    """What that word says."""
    return message(f"method_means.{method.value.replace(' ', '_')}")


def kind_words(kind: str) -> str:
    """An event's or a doubtful span's kind as a heading: ``brown_out`` → ``Brown-out``."""
    return upper_first(word("kind", kind))


def group_of(subject: str) -> str:
    """Which subject a channel prefix belongs to: ``bus.main`` → ``pack``; ``other`` where it is none of them."""
    head = subject.partition(".")[0]
    head = _GROUPS.get(head, _HEADS.get(head, head))
    return head if head in ("fuel", "pack", "link", "engine", "data", "movement", "control") else "other"


def group_word(group: str) -> str:
    """The subject's word: ``pack`` → ``Packs``."""
    return message(f"group.{group}")


def cautions() -> tuple[str, ...]:
    """What stands under every page."""
    return tuple(map(message, _cautions(reader().language)))


@functools.cache
def _cautions(language: str) -> tuple[str, ...]:
    return tuple(code for code in texts(language) if code.startswith("caution."))


def glossary() -> dict[str, str]:
    """Words these pages use, with their meaning."""
    return _glossary(reader().language)


@functools.cache
def _glossary(language: str) -> dict[str, str]:
    every = texts(language)
    terms = {code.removeprefix("term."): words for code, words in every.items() if code.startswith("term.")}
    return {words: every[f"meaning.{key}"] for key, words in terms.items()}


def term_of(key: str) -> tuple[str, str]:
    """A glossary word and its meaning, by its key."""
    return message(f"term.{key}"), message(f"meaning.{key}")
