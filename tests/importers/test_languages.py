"""The words of the languages: each says one thing, as headings are folded, and stands under a key that is used."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

import pytest

from importers.meaning.languages import LANGUAGES, SEVERAL, entries
from importers.meaning.words import NOTHING, fold, meanings

ROOT = Path(__file__).parents[2]
SECTIONS = ("ideas", "roles", "ordinals", "numbers", "short_forms", "cells")
ONE_MEANING = ("ideas", "ordinals", "numbers", "cells")
"""Sections in which a word stands under one key: it may well tell two roles apart."""

APART = {NOTHING, "airbrake"}
"""Ideas that no rule names: a word that adds nothing, and a control surface that has no channel."""


def test_every_language_has_words() -> None:
    assert set(LANGUAGES) >= {"de", "en", "es", "fr", "it", "trade"}
    for language in LANGUAGES:
        assert dict(entries("ideas", (language,)))["voltage"], language


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_word_comes_twice_in_a_language(language: str) -> None:
    for section in SECTIONS:
        for key, words in entries(section, (language,)):
            assert section == "short_forms" or len(set(words)) == len(words), key
        if section in ONE_MEANING:
            said = Counter(word for _, words in entries(section, (language,)) for word in words)
            assert {w for w, n in said.items() if n > 1} == set(), section


@pytest.mark.parametrize("section", ONE_MEANING)
def test_languages_agree_on_a_word_or_it_is_listed_with_all_its_meanings(section: str) -> None:
    keys: dict[str, set[str]] = {}
    for key, words in entries(section):
        for word in words:
            keys.setdefault(word, set()).add(key)
    assert {w: k for w, k in keys.items() if len(k) > 1} == {}
    if section == "ideas":
        assert {w for w in keys if w in SEVERAL and len(w) > 1} == set()


def test_words_of_several_meanings_have_each_once() -> None:
    assert [w for w, ideas in SEVERAL.items() if len(set(ideas)) < len(ideas)] == []
    assert meanings("gas") == ("throttle", "fuel", "egt")


@pytest.mark.parametrize("language", LANGUAGES)
def test_words_are_as_headings_are_folded(language: str) -> None:
    for section in SECTIONS:
        if section != "cells":  # these are compared as they are written
            for key, words in entries(section, (language,)):
                assert [w for w in (key, *words) if w != fold(w)] == [], key


def test_every_key_is_one_that_the_importer_uses() -> None:
    """A misspelt idea would be a word nobody asks for."""
    sources = "\n".join(p.read_text("utf-8") for p in sorted((ROOT / "importers").rglob("*.py")))
    known = set(re.findall(r"[\w#]+", " ".join(re.findall(r"\"([^\"\n]*)\"", sources))))
    ideas = {key for section in ("ideas", "roles", "cells") for key, _ in entries(section)}
    ideas |= {idea for some in SEVERAL.values() for idea in some}
    letters = {idea for idea in ideas if re.fullmatch("#[a-z]", idea)}  # the letter itself, as a pack may be called
    assert ideas - known - letters - APART == set()
