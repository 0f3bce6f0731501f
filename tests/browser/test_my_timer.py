"""My timer answers at once, offline, what its tables say."""

from __future__ import annotations

import math

import pytest

from reports.site import build_site
from reports.words.catalogue import reading
from reports.words.reader import Reader
from tests.reports import invented

pytestmark = pytest.mark.browser


def logistic(minutes: float, even: float) -> float:
    """The rule the invented tables are drawn by."""
    return 1 / (1 + math.exp(4 * (minutes - even)))


def odds(page) -> float:  # type: ignore[no-untyped-def]
    return float(page.locator("[data-timer]").first.get_attribute("data-odds"))


def test_the_answer_follows_what_is_set_and_filled(built, open_page) -> None:
    opened = open_page(390, 844, has_touch=True).goto(built / "index.html")
    page = opened.page
    box = page.locator("[data-timer]").first
    box.locator("summary").click()
    minutes = box.locator("[data-minutes]")
    left, right = box.locator('[data-tank="left"]'), box.locator('[data-tank="right"]')
    assert minutes.input_value() == "6.1"
    assert left.input_value() == "2500"
    minutes.fill("6,5")
    assert odds(page) == pytest.approx(100 * logistic(6.5, 2000 / 300), abs=1.5)
    assert "the left tank" in box.locator("output").inner_text()
    right.fill("2250")
    assert odds(page) == pytest.approx(100 * logistic(6.5, 1750 / 280), abs=1.5)
    assert "the right tank" in box.locator("output").inner_text()
    left.fill("9000")
    assert "can tell" in box.locator("output").inner_text()
    left.fill("")
    assert "Enter" in box.locator("output").inner_text()
    minutes.fill("3")
    left.fill("2500")
    right.fill("2500")
    assert "over 99 in 100" in box.locator("output").inner_text()
    assert opened.complaints == []
    assert all(u.startswith("file:") for u in opened.requests)


def test_it_takes_the_readers_unit(tmp_path, open_page) -> None:
    with reading(Reader("en", units=frozenset({"fl oz"}))):
        build_site(invented.site(4), tmp_path)
    page = open_page().goto(tmp_path / "index.html").page
    box = page.locator("[data-timer]").first
    box.locator("summary").click()
    assert box.locator('[data-tank="left"]').input_value() == "84.5"
    box.locator("[data-minutes]").fill("6.5")
    box.locator('[data-tank="left"]').fill(f"{2000 / 29.5735:.2f}")
    assert odds(page) == pytest.approx(100 * logistic(6.5, 1500 / 300), abs=1.5)
