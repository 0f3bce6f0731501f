"""The page of several aircraft: everything shown, in both languages, escaped, with a shape beside the colour."""

from __future__ import annotations

import re

import pytest

from analyser.fleet.comparison import compare
from reports.figures.standings import MOST
from reports.pages.programme.fleet import render
from reports.render import Shell
from reports.words.catalogue import Reader, reading
from tests.reports import invented
from tests.reports.compared import compared

EVIL = "<script>alert(1)</script>"
SHELL = Shell("Club", "")


@pytest.fixture(scope="module")
def site():
    return invented.site(3)


LEVELS = {f"P{n}": 50.0 + n for n in range(9)}


@pytest.mark.parametrize(
    ("language", "says"),
    [
        ("en", ("Fleet", "What stands out", "more than in 9 others of its type", "in 5 % of fleets at most", "Tern")),
        (
            "de",
            ("Flotte", "Was herausfällt", "mehr als bei 9 anderen seines Typs", "höchstens 5 % der Flotten"),
        ),
    ],
)
def test_what_stands_out_is_said_and_drawn_by_shape_too(site, language: str, says: tuple[str, ...]) -> None:
    with reading(Reader(language)):
        page = render(compared(LEVELS | {"Worn": 400.0}), site, SHELL).replace("\u00a0", " ")
    for words in says:
        assert words in page, words
    assert page.count('class="spot-odd"') == 1
    assert page.count('class="dot s0"') == 9
    assert re.search(r"<title>Worn: 40\d[.,]\d mΩ</title>", page)


def test_names_of_files_are_escaped(site) -> None:
    page = render(compared(LEVELS | {EVIL: 400.0}), site, SHELL)
    assert EVIL not in page
    assert "alert(1)" in page


def test_of_too_few_it_says_that_nobody_can_tell(site) -> None:
    page = render(compared({"A": 50.0, "B": 60.0}), site, SHELL).replace("\u00a0", " ")
    assert "Can't tell in 1 figure: fewer than 6 things of a type have it." in page.replace("&#39;", "'")
    assert 'class="spot-odd"' not in page
    assert "Nothing stands out" not in page


def test_a_hundred_things_are_drawn_in_part_and_said(site) -> None:
    page = render(compared({f"P{n:03}": 50.0 + n / 10 for n in range(100)}), site, SHELL).replace("\u00a0", " ")
    assert page.count('class="dot s0"') == MOST
    assert "70 in the middle not drawn" in page
    assert page.count('<th scope="row">P') == 100


def test_nothing_alike_says_what_would_be(site) -> None:
    assert "No two packs, engines or antenna layouts" in render(compare((), ()), site, SHELL)
