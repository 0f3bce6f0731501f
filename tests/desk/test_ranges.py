"""Walked range checks on the desk: what is to be walked, what was, and the form that a side opens."""

from __future__ import annotations

from pathlib import Path

from spooldown import register
from tests.desk.conftest import Browser

TERN = Path("sample_logs/aircraft/tern.toml")


def test_each_antenna_and_side_is_to_walk_until_it_was_walked(browser: Browser) -> None:
    with browser.desk.book() as book:
        register.add(book, TERN.read_bytes(), "tern.toml")
    page = browser.get("/range-checks").text
    to_walk = page.count("walk it</a>")
    assert to_walk >= 8
    address = page.partition('href="/range-checks?')[2].partition('"')[0].replace("&amp;", "&")
    form = browser.get(f"/range-checks?{address}").text
    assert 'value="nose to pilot"' in form
    cells = dict(pair.split("=") for pair in address.split("&"))
    typed = {
        "aircraft": "Tern", "receiver": cells["receiver"], "antenna": cells["antenna"], "orientation": "nose to pilot",
        "day": "2026-05-01", "distance_m": "50", "reduction_db": "40",
    }  # fmt: skip
    assert browser.post("/range-checks", typed).status_code == 303
    page = browser.get("/range-checks").text
    assert page.count("walk it</a>") == to_walk - 1
    assert "500\xa0m" in page  # 50 m at 40 dB below full power, by the steeper fall near the ground
    assert browser.post("/range-checks", {**typed, "day": "2026-05-02", "distance_m": "20"}).status_code == 303
    assert "dB" in browser.get("/range-checks").text
    wrong = browser.post("/range-checks", {**typed, "distance_m": "-3"})
    assert (wrong.status_code, 'value="-3"' in wrong.text) == (422, True)
