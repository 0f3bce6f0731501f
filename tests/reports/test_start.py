"""The start page answers in ten seconds: few words, short sentences, one line a fault, small pictures."""

from __future__ import annotations

import html
import re
from pathlib import Path

import pytest
from msgspec.structs import replace

from analyser.core.events import Attention, Level
from analyser.core.figures import Figure, Method
from reports.figures.sparks import spark
from reports.pages.start import verdict
from reports.site import build_site
from reports.words.catalogue import LANGUAGES, message, reading
from reports.words.reader import Reader
from tests.reports import invented


def start_page(folder: Path, language: str = "en") -> str:
    with reading(Reader(language)):
        build_site(invented.site(10), folder)
    return (folder / "index.html").read_text("utf-8")


def seen(page: str) -> str:
    """What a person sees before the flights table: folded text and scripts left out."""
    page = page[page.index("<main") : page.index('id="flight-table"')]
    page = re.sub(r"<script.*?</script>|<svg.*?</svg>", " ", page, flags=re.DOTALL)
    page = re.sub(r"</summary>.*?</details>", "</summary></details>", page, flags=re.DOTALL)
    return html.unescape(re.sub(r"<[^>]+>", " ", page))


@pytest.mark.parametrize("language", LANGUAGES)
def test_few_words_and_short_sentences(language: str, tmp_path: Path) -> None:
    text = seen(start_page(tmp_path, language))
    words = re.findall(r"[^\W\d_][\w'-]*", text)
    assert 40 < len(words) <= 250
    for sentence in re.split(r"(?<=[.!?])\s+|\s{3,}", text):
        assert len(re.findall(r"[^\W\d_][\w'-]*", sentence)) <= 20, sentence


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("key", ["act", "watch", "fine", "none"])
def test_a_verdict_has_at_most_six_words(language: str, key: str) -> None:
    with reading(Reader(language)):
        for matters in (1, 12):
            assert 2 <= len(message(f"start.verdict_{key}", matters=matters).split()) <= 6


def test_a_card_has_verdict_timer_packs_and_pictures(tmp_path: Path) -> None:
    page = start_page(tmp_path)
    card = page[page.index('<section class="plane"') : page.index("</section>")]
    text = html.unescape(re.sub(r"<[^>]+>", " ", card))
    one = invented.site(10).season.aircraft[0]
    assert one.fuel.timer is not None
    advised = one.fuel.timer.advised
    assert f"{advised.value:.{advised.digits}f}\u00a0min" in text
    assert "R2" in text
    assert len(re.findall('<svg class="spark"', card)) >= 2
    assert "script" not in card


def test_one_line_a_fault_with_other_witnesses_folded(tmp_path: Path) -> None:
    site = invented.site(3)
    ids = [f.record.flight_id for f in site.flights]
    witness = Attention(Level.WATCH, "pack.rx2", "sagged below its own level.", None, ids[0], 12.0)
    fault = Attention(
        Level.ACT, "link.rx1", "Receiver in failsafe for 0.6 s.", None, ids[0], 30.0, witnesses=(witness,)
    )
    build_site(replace(site, over=replace(site.said, season=replace(site.season, attention=(fault,)))), tmp_path)
    page = (tmp_path / "index.html").read_text("utf-8")
    assert page.count('<details class="fault"') == 1
    assert "sagged" not in seen(page)
    assert "sagged" in page
    assert "failsafe" in seen(page)
    assert "Act" in seen(page)


def test_nothing_to_tell_is_told(tmp_path: Path) -> None:
    site = invented.site(2)
    calm = replace(site, over=replace(site.said, season=replace(site.season, attention=())))
    build_site(calm, tmp_path)
    text = seen((tmp_path / "index.html").read_text("utf-8"))
    assert "Nothing asks for attention" in text
    assert "clears no aircraft for flight" in text


def test_a_small_picture_shows_the_limit_and_skips_what_is_missing() -> None:
    figures = [Figure("R", v, "mΩ", Method.ESTIMATED) for v in (40.0, 45.0)]
    gone = Figure.unavailable("R", "mΩ", "no current")
    made = spark("Resistance", {"": [figures[0], gone, None, figures[1]]}, "x.html", limit=50.0)
    assert made is not None
    assert 'class="limit"' in made.svg
    assert made.latest == "45.0\u00a0mΩ"
    path = re.search(r'<path d="(M[^"]*)" class="curve', made.svg)
    assert path is not None
    assert path[1].count("L") == 1
    far = spark("Resistance", {"": figures}, "x.html", limit=500.0)
    assert far is not None
    assert 'class="limit"' not in far.svg, "a limit far away would flatten the curve"
    assert spark("Resistance", {"": [gone, figures[0]]}, "x.html") is None


def test_a_verdict_does_not_say_its_badge_again() -> None:
    history = invented.site(3).season.packs[0]
    open_one = replace(history, level=Level.CANT_TELL, reasons=(), sentence="R1: can't tell yet: capacity 83 %.")
    assert verdict(replace(open_one, pack=replace(history.pack, name="R1"))) == "Capacity 83 %."
