"""The catalogue of words: every code has a text in every language, filled by the same values, and none is left."""

from __future__ import annotations

import ast
import importlib
import pkgutil
import re
from enum import StrEnum
from pathlib import Path

import pytest

import analyser
import importers
import spooldown
from analyser.core.channels import VOCABULARY
from analyser.core.figures import Figure, Method
from analyser.core.findings import Part, say
from importers.refusal import Refused
from reports.words.catalogue import LANGUAGES, Reader, environment, names_in, number, reading, text, texts

ROOT = Path(__file__).parent.parent.parent


def codes() -> list[str]:
    """Every member of every enumeration of codes; of a refusal its three parts."""
    found: list[str] = []
    for package in (analyser, importers, spooldown):
        for module in pkgutil.walk_packages(package.__path__, f"{package.__name__}."):
            if module.name.rpartition(".")[2] != "codes":
                continue
            for item in vars(importlib.import_module(module.name)).values():
                if isinstance(item, type) and issubclass(item, StrEnum) and item.__module__ == module.name:
                    parts = (".found", ".expected", ".remedy") if issubclass(item, Refused) else ("",)
                    found.extend(f"{code}{part}" for code in item for part in parts)
    return found


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_code_has_a_text(language: str) -> None:
    assert set(codes()) - texts(language).keys() == set()


def test_all_languages_say_the_same_things_of_the_same_values() -> None:
    first, *others = LANGUAGES
    for other in others:
        assert texts(first).keys() == texts(other).keys()
        assert {c for c in texts(first) if names_in(first, c) != names_in(other, c)} == set()


def named_in_sources() -> tuple[set[str], re.Pattern[str]]:
    """What sources and templates name outright, and what their f-strings may come to."""
    outright: set[str] = set()
    patterns: set[str] = set()
    for package in ("analyser", "importers", "reports", "spooldown"):
        for path in (ROOT / package).rglob("*"):
            if path.suffix == ".py":
                for node in ast.walk(ast.parse(path.read_text("utf-8"))):
                    if isinstance(node, ast.Constant) and isinstance(node.value, str):
                        outright.add(node.value)
                    elif isinstance(node, ast.JoinedStr):
                        made = "".join(re.escape(v.value) if isinstance(v, ast.Constant) else ".+" for v in node.values)
                        if "\\." in made and not made.startswith(".+"):
                            patterns.add(f"(?:{made})")
            elif path.suffix in (".html", ".js"):
                outright |= set(re.findall(r"""["']([a-z_0-9.]+)["']""", path.read_text("utf-8")))
    return outright, re.compile("|".join(sorted(patterns)))


def test_no_text_is_left_that_nothing_says() -> None:
    """Each is named outright, made by an f-string, or the word for a value (``word("kind", …)`` names its table)."""
    outright, made = named_in_sources()
    said = set(codes())
    dead = [
        code for code in texts("en")
        if code not in said | outright and not made.fullmatch(code)
        and not {(table := code.rpartition(".")[0]), f"{table}."} & outright
    ]  # fmt: skip
    assert dead == []


def test_no_code_stands_for_two_things() -> None:
    assert len(codes()) == len(set(codes()))


def test_a_finding_is_written_as_each_language_writes_it() -> None:
    burned = Figure.within("x", 1234.5, 10.0, "mL")
    said = say("core.joined", parts=(burned, say("core.not_available")))
    assert environment().from_string("{{ a }}").render(a=burned) == "1\u202f234.5\u00a0mL"
    with reading(Reader("de")):
        assert environment().from_string("{{ a }}").render(a=burned) == "1\u202f234,5\u00a0mL"
        assert text(say("core.not_available")) == "nicht verfügbar"
    assert text(say("core.not_available")) == "not available"
    assert text(said) == "1\u202f234.5\u00a0mL; not available"


def test_a_part_is_written_by_its_given_name() -> None:
    with reading(Reader(name={"link.rx2.antenna2": "the fin antenna"}.__getitem__)):
        assert text(Part("link.rx2.antenna2")) == "the fin antenna"


@pytest.mark.parametrize(
    ("value", "digits", "written"), [(-0.001, 1, "0.0"), (-1234.0, 0, "−1\u202f234"), (0.5, 2, "0.50")]
)
def test_numbers(value: float, digits: int, written: str) -> None:
    assert number(value, digits) == written


def test_not_available() -> None:
    assert environment().from_string("{{ a }}").render(a=Figure("x", None, "mL", Method.NONE, missing="y")) == (
        "not available"
    )


def test_channels_have_the_same_words_wherever_they_are_named() -> None:
    for channel in VOCABULARY:
        assert texts("en")[f"channel.{channel.subject}.{channel.quantity}"] == channel.label
    for language in LANGUAGES:
        assert {f"channel.{c.subject}.{c.quantity}" for c in VOCABULARY} <= texts(language).keys()
