"""A phone, a sheet of paper and a keyboard: what the accessibility checker does not look at."""

from __future__ import annotations

import re

import pytest

from tests.browser.conftest import one
from tests.reports import invented

pytestmark = pytest.mark.browser

OWN = ("index.html", "season.html", "flights/tern-003.html", "flights/tern-003-card.html", "aircraft/tern-*.html")
# Links inside a sentence may be as small as their words.
SMALL = """[...document.querySelectorAll('a, button, select, input, summary')].filter((e) => {
  const box = e.getBoundingClientRect();
  const inline = getComputedStyle(e).display === 'inline' && e.closest('p, dd, li, td, figcaption');
  return box.height > 0 && box.height < 44 && !inline && !e.classList.contains('skip');
}).map((e) => e.outerHTML.slice(0, 90))"""


@pytest.mark.parametrize("pattern", OWN)
def test_a_finger_finds_everything_and_nothing_scrolls_sideways(built, open_page, pattern) -> None:
    opened = open_page(360, 740, has_touch=True).goto(one(built, pattern))
    page = opened.page
    page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    opened.all_drawn()
    assert page.evaluate(SMALL) == []
    wide = "[...document.querySelectorAll('.scroll')].filter(s => s.scrollWidth > s.clientWidth).length"
    assert page.evaluate(wide) == 0, "a table scrolls sideways"


def test_the_story_of_a_flight_fits_the_first_screen_of_a_small_phone(built, open_page) -> None:
    page = open_page(360, 740, has_touch=True).goto(built / "flights/tern-003.html").page
    box = page.locator(".outcome > li").last.bounding_box()
    assert box["y"] + box["height"] <= 740


def test_what_a_pilot_needs_stands_in_the_first_screen_of_a_phone(built, open_page) -> None:
    page = open_page(390, 844, has_touch=True).goto(built / "index.html").page
    for part in (".plane .say", ".plane .timer", ".plane .left", ".plane .ways", ".fault >> nth=0"):
        box = page.locator(part).first.bounding_box()
        assert box["y"] + box["height"] <= 844, part


def test_flights_are_ordered_on_a_phone(built, open_page) -> None:
    page = open_page(360, 740).goto(built / "index.html").page
    page.get_by_label("Order").select_option(label="Date, rising")
    assert "flight 1" in page.locator("#flight-table tbody tr").first.inner_text()
    page.get_by_label("Order").select_option(label="newest first")
    assert "flight 10" in page.locator("#flight-table tbody tr").first.inner_text()


def test_every_stop_of_the_tab_key_is_seen(built, open_page) -> None:
    page = open_page().goto(built / "index.html").page
    seen = []
    for _ in range(25):
        page.keyboard.press("Tab")
        where = page.evaluate(
            """(() => { const e = document.activeElement, r = e.getBoundingClientRect(), s = getComputedStyle(e);
            return [e.outerHTML.slice(0, 80), parseFloat(s.outlineWidth), r.width > 0 && r.right > 0]; })()"""
        )
        assert where[1] >= 2, f"no outline: {where[0]}"
        assert where[2], f"out of sight: {where[0]}"
        seen.append(where[0])
    assert 'class="skip"' in seen[0]


def test_paper_has_plots_of_its_own_width_and_says_how_figures_came_about(built, open_page) -> None:
    opened = open_page(1400).goto(built / "flights/tern-003.html").drawn()
    page = opened.page
    page.evaluate("window.dispatchEvent(new Event('beforeprint'))")
    widths = page.evaluate(
        "[...document.querySelectorAll('.plot svg.main-svg')].map(s => s.getBoundingClientRect().width)"
    )
    assert len(widths) > 5
    assert max(widths) <= 704, "186 mm at 96 px an inch"
    page.emulate_media(media="print")
    assert page.locator(".paper", has_text="How obtained").first.is_visible()
    page.emulate_media(media="screen")
    page.evaluate("window.dispatchEvent(new Event('afterprint'))")
    assert page.evaluate("document.querySelector('.plot svg.main-svg').getBoundingClientRect().width") > 1000


def test_plots_are_told_in_words(built, open_page) -> None:
    opened = open_page().goto(built / "flights/tern-003.html").drawn().all_drawn()
    told = opened.page.evaluate(
        "[...document.querySelectorAll('.plot[role=img]')].map(p => p.getAttribute('aria-label'))"
    )
    assert len(told) > 5
    assert any("Fuel burn rate" in t and " to " in t for t in told)


PAPER = ("field-sheet.html", "labels.html", "flights/tern-003-card.html")


@pytest.mark.parametrize("pattern", PAPER)
def test_what_is_made_for_paper_fills_whole_sheets(built, open_page, pattern) -> None:
    """A card is one sheet, the field sheet one an aircraft; nothing runs over the paper's edge."""
    page = open_page(color_scheme="dark").goto(one(built, pattern)).page
    data = page.pdf(format="A4", prefer_css_page_size=True)
    sheets = len(re.findall(rb"/Type\s*/Page[^s]", data))
    expected = page.locator(".sheet section").count() if "sheet" in pattern else 1
    assert sheets == expected
    page.set_viewport_size({"width": 703, "height": 1000})  # A4 less its margins, at 96 px an inch
    page.emulate_media(media="print")
    over = """[...document.querySelectorAll('main td, main th, .stickers li')].filter((c) => {
      const r = c.getBoundingClientRect(); return r.width > 0 && r.right > 703.5; }).length"""
    assert page.evaluate(over) == 0
    cut = """[...document.querySelectorAll('main td, main th, .stickers li, .stickers span')].filter((c) =>
      c.scrollWidth > c.clientWidth + 1 && c.clientWidth > 0).map((c) => c.textContent.slice(0, 40))"""
    assert page.evaluate(cut) == []


def test_a_page_says_when_it_was_made(built, open_page) -> None:
    page = open_page().goto(built / "index.html").page
    assert invented.site(1).generated in page.locator("main").inner_text()
    assert "\N{REPLACEMENT CHARACTER}" not in page.locator("body").inner_text()


@pytest.mark.parametrize(("wish", "how"), [("reduce", "auto"), ("no-preference", "smooth")])
def test_nothing_glides_for_who_asked_for_calm(built, open_page, wish, how) -> None:
    opened = open_page(reduced_motion=wish).goto(built / "flights/tern-003.html").drawn()
    page = opened.page
    page.evaluate(
        "window.asked = []; Element.prototype.scrollIntoView = function (o) { window.asked.push(o.behavior); }; 0"
    )
    page.evaluate("document.querySelector('tr[data-event] a[data-moment]').click()")
    opened.until("window.asked.length > 0")
    assert page.evaluate("window.asked[0]") == how
    style = (built / "assets" / "style.css").read_text("utf-8")
    assert not re.search(r"\b(transition|animation)\b", style), "a style that moves must ask for that wish first"
