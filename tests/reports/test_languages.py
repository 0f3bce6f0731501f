"""Every word on a page comes from the catalogue, in the reader's language and units."""

from __future__ import annotations

import html
import json
import re
from collections.abc import Iterator, Mapping
from enum import StrEnum
from html.parser import HTMLParser
from pathlib import Path

import pytest
from babel import Locale
from msgspec import Struct

from analyser.core.figures import Figure, Method
from analyser.core.findings import Part
from reports import markup, render
from reports.site import build_site
from reports.words import names, vocabulary
from reports.words import texts as texts_module
from reports.words.catalogue import LANGUAGES, interval, quantity, reading, text, texts
from reports.words.names import Names
from reports.words.reader import Reader, negotiated, reader
from reports.words.times import when
from reports.words.units import conversion
from tests.reports import invented

OPEN, CLOSE = "⟦", "⟧"


@pytest.fixture
def marked(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """A language whose every text is English between brackets: what stands outside them came from nowhere."""
    real = texts("en")

    def bracketed(_: str) -> Mapping[str, str]:
        keep = ("script.separators", "time.long_day")
        return {code: words if code in keep else f"{OPEN}{words}{CLOSE}" for code, words in real.items()}

    forget()
    monkeypatch.setattr(texts_module, "texts", bracketed)
    monkeypatch.setattr(render, "texts", bracketed)
    monkeypatch.setattr(vocabulary, "texts", bracketed)
    yield
    forget()


def forget() -> None:
    texts_module._writer.cache_clear()
    texts_module.environment.cache_clear()
    texts_module._word.cache_clear()
    vocabulary._glossary.cache_clear()
    render._script_words.cache_clear()
    markup._glossary_pattern.cache_clear()
    markup._glossed.cache_clear()
    names._with.cache_clear()
    reader().written.clear()
    reader().said.clear()


class Words(HTMLParser):
    """What a person or a screen reader is given: text, and attributes that are read."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []
        self._silent = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._silent += tag in ("script", "style", "code", "option")
        self.found += [v for k, v in attrs if k in ("aria-label", "title", "placeholder", "alt") and v]

    def handle_endtag(self, tag: str) -> None:
        self._silent -= tag in ("script", "style", "code", "option")

    def handle_data(self, data: str) -> None:
        if not self._silent:
            self.found.append(data)


def outside(text: str) -> str:
    """The text without what stands between brackets, however deep."""
    while (shorter := re.sub(f"{OPEN}[^{OPEN}{CLOSE}]*{CLOSE}", " ", text)) != text:
        text = shorter
    return text


def strings_in(node: object) -> Iterator[str]:
    """Every text that a result holds: names, by the analyser's contract."""
    if isinstance(node, str) and not isinstance(node, StrEnum):
        yield node
    elif isinstance(node, Struct):
        for name in node.__struct_fields__:
            yield from strings_in(getattr(node, name))
    elif isinstance(node, Mapping):
        for key, value in node.items():
            yield from strings_in(key)
            yield from strings_in(value)
    elif isinstance(node, tuple | list):
        for value in node:
            yield from strings_in(value)


def test_every_word_on_every_page_is_from_the_catalogue(marked: None, tmp_path: Path) -> None:
    site = invented.site(4)
    build_site(site, tmp_path)
    given = " ".join([*strings_in(site), "ecu", "mL", "min", "mAh", "rpm", "UTC", "MHz", "dBm"])
    locale = Locale("en")  # months and weekdays come from Unicode's own tables (CLDR), by Babel
    given += " ".join([*locale.months["format"]["wide"].values(), *locale.days["format"]["wide"].values()])
    known = {w.lower() for w in re.findall(r"[^\W\d_]{3,}", given)}
    for page in sorted(tmp_path.rglob("*.html")):
        words = Words()
        words.feed(page.read_text("utf-8"))
        shown = outside(" ".join(words.found))
        stray = {w for w in re.findall(r"[^\W\d_]{3,}", shown) if w.lower() not in known}
        assert stray == set(), page.name


def test_a_page_says_its_language_and_changes_with_it(tmp_path: Path) -> None:
    site = invented.site(2)
    build_site(site, tmp_path)
    first = (tmp_path / "glossary.html").read_text("utf-8")
    with reading(Reader("de")):
        done = build_site(site, tmp_path)
    second = (tmp_path / "glossary.html").read_text("utf-8")
    assert done.kept < done.written, "pages of another language were left as they were"
    assert '<html lang="en">' in first
    assert '<html lang="de">' in second
    assert "Innenwiderstand" in second
    assert "Innenwiderstand" not in first


@pytest.mark.parametrize("language", LANGUAGES)
def test_scripts_have_their_words(language: str) -> None:
    known = {code.removeprefix("script.") for code in texts(language) if code.startswith("script.")}
    for name in ("plots.js", "tables.js", "timer.js", "compare.js", "airframe.js", "season.js"):
        source = (Path(__file__).parents[2] / "reports" / "assets" / name).read_text("utf-8")
        used = set(re.findall(r'\b(?:tell|say)\("(\w+)"', source))
        assert used <= known, (name, used - known)
        assert used or name == "season.js"


def test_units_are_the_readers() -> None:
    """Factors by hand: 1 US fluid ounce is 29.5735 mL, 1 ft is 0.3048 m exactly (NIST SP 811, appendix B.8)."""
    burn = Figure("Burn", 212.4, "mL/min", Method.ESTIMATED, 198.0, 226.1, digits=0)
    heat = Figure("Hottest", 100.0, "°C", Method.MEASURED, digits=0)
    with reading(Reader("en", units=frozenset({"fl oz", "°F", "ft"}))):
        assert quantity(burn) == "7.2\u00a0fl oz/min"
        assert interval(burn) == "6.7 to 7.6"
        assert quantity(heat) == "212\u00a0°F"
        assert conversion("m").value(100.0) == pytest.approx(100.0 / 0.3048)
        assert conversion("°C").value(10.0, difference=True) == pytest.approx(18.0)
        assert conversion("L").value(1.0) == pytest.approx(1000.0 / 29.5735295625 / 128.0)
        assert conversion("mAh").unit == "mAh"
        assert conversion("m/s²").unit == "m/s²"
    assert quantity(burn) == "212\u00a0mL/min"


def test_dates_and_clock_are_the_readers() -> None:
    start = invented.site(1).flights[0].record.utc_start
    assert start is not None
    start = start.replace(month=5, day=17, hour=14, minute=5)
    assert when(start) == f"{start.year}-05-17 14:05 UTC"
    with reading(Reader("en", clock="12", dates="local")):
        assert when(start) == f"May 17, {start.year} 2:05\u202fPM UTC".replace("\u202f", " ")
    with reading(Reader("de", dates="local")):
        assert when(start) == f"17.05.{start.year} 14:05 UTC"


@pytest.mark.parametrize(
    ("wanted", "language"),
    [(["de_DE.UTF-8"], "de"), (["fr", "de-AT"], "de"), (["C"], "en"), ([], "en"), (["pt_BR"], "en")],
)
def test_the_language_is_the_best_there_is(wanted: list[str], language: str) -> None:
    assert negotiated(wanted) == language


def test_names_follow_the_language() -> None:
    names = Names({"rx2.antenna2": "fin"})
    with reading(Reader("de", names)):
        assert text(Part("fuel.left")) == "Tank links"


def test_words_of_a_page_for_scripts_cannot_end_their_element(tmp_path: Path) -> None:
    build_site(invented.site(1), tmp_path)
    text = (tmp_path / "index.html").read_text("utf-8")
    found = re.search(r'<script type="application/json" id="words">(.*?)</script>', text, re.DOTALL)
    assert found
    assert json.loads(html.unescape(found[1]))["newest"] == "newest first"


def test_a_text_on_a_constant_is_worked_out_for_each_reader(tmp_path: Path) -> None:
    """Jinja folds filters of constants while it compiles a template; nothing of the first reader may stay."""
    site = invented.site(1)
    build_site(site, tmp_path)
    with reading(Reader("de")):
        build_site(site, tmp_path)
    text = next((tmp_path / "aircraft").glob("*.html")).read_text("utf-8")
    assert '<h2 id="engines">Triebwerke</h2>' in text
