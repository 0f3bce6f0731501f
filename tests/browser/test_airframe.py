"""The airframe that turns: what stands in the middle is the map's own value, by mouse, keys and address alike."""

from __future__ import annotations

import json
import re
from pathlib import Path

import numpy as np
import pytest
from msgspec.structs import replace

from reports.pages import antennas
from reports.render import SHARED, Shell, asset
from reports.write import write_whole
from tests.browser.conftest import one
from tests.reports import invented

pytestmark = pytest.mark.browser


def shown(page) -> tuple[int, int]:  # type: ignore[no-untyped-def]
    azimuth, elevation = page.locator("#airframe").get_attribute("data-view").split()
    return int(azimuth), int(elevation)


def test_the_middle_is_the_maps_own_value(built: Path, open_page) -> None:
    """The oracle is numpy's histogram on the map's edges, not the page's search."""
    here = open_page().goto(one(built, "antennas/tern-*.html"))
    page = here.page
    data = json.loads(page.locator("#airframe-data").inner_text() or page.locator("#airframe-data").text_content())
    key = page.locator("#airframe-antenna").input_value()
    chosen = data["antennas"][int(key)]["maps"][0]
    values = np.array([np.nan if v is None else v / 10 for v in chosen["g"]]).reshape(24, 8)
    rng = np.random.default_rng(3)
    for azimuth, elevation in [
        (0, 0),
        (180, 0),
        (-180, 10),
        (3, 89),
        (-100, -89),
        *rng.integers(-89, 89, (12, 2)).tolist(),
    ]:
        page.evaluate(
            f"location.hash = '#airframe={data['antennas'][int(key)]['key']},{chosen['id']},{azimuth},{elevation}'"
        )
        here.until(f"document.getElementById('airframe').dataset.view === '{azimuth} {elevation}'")
        a = min(int(np.searchsorted(data["azimuth"], azimuth, side="right")) - 1, 23)
        e = min(int(np.searchsorted(data["sine"], np.sin(np.radians(elevation)), side="right")) - 1, 7)
        words = page.locator("#airframe-here").inner_text()
        expected = values[a, e]
        if np.isnan(expected):
            assert "never seen" in words
        else:
            assert float(re.search(r": ([−\d.]+)", words)[1].replace("−", "-")) == pytest.approx(expected), (
                azimuth,
                elevation,
            )
    assert here.complaints == []


def test_it_turns_by_keys_sliders_and_mouse(built: Path, open_page) -> None:
    page = open_page().goto(one(built, "antennas/tern-*.html")).page
    page.get_by_role("button", name="Tail", exact=True).click()
    assert shown(page) == (-180, 0)
    page.locator("#airframe").focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowUp")
    assert shown(page) == (-165, 15)
    page.get_by_label("Up and down").focus()
    page.keyboard.press("ArrowDown")
    assert shown(page)[1] == 10
    box = page.locator("#airframe").bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 60, y + 30, steps=3)
    page.mouse.up()
    assert shown(page)[0] != -165
    page.wait_for_timeout(350)
    assert page.evaluate("location.hash").startswith("#airframe=")


def test_right_is_right_and_up_is_up(tmp_path: Path, open_page) -> None:
    """Seen from the tail the right wing is on the right, from the nose on the left; down is down (ISO 1151 axes)."""
    moved = replace(invented.LAYOUT_B.antennas[0], number=2, position_m=(0.1, 0.4, 0.3))
    layout = replace(invented.LAYOUT_B, antennas=(moved,))
    site = invented.site(2)
    season = invented.season(site.flights, replace(invented.TERN, layouts=(invented.LAYOUT_A, layout)))
    file = tmp_path / "antennas" / "tern.html"
    write_whole(file, antennas.render(season.aircraft[0], site, Shell("x", root="../")))
    for name in SHARED:
        write_whole(tmp_path / "assets" / name, asset(name))
    page = open_page().goto(file).page
    key = f"{moved.receiver}.antenna{moved.number}"
    data = json.loads(page.locator("#airframe-data").text_content())
    page.locator("#airframe-antenna").select_option(str([a["key"] for a in data["antennas"]].index(key)))

    def seen_from(side: str) -> tuple[float, float]:
        page.get_by_role("button", name=side, exact=True).click()
        spot = page.locator(".spot.own")
        return float(spot.get_attribute("cx")), float(spot.get_attribute("cy"))

    (right, low), (left, _), (above, forward) = seen_from("Tail"), seen_from("Nose"), seen_from("Above")
    assert right > 10
    assert left == pytest.approx(-right, abs=0.2)
    assert low > 10, "z is down, and the screen's y too"
    assert above == pytest.approx(right, abs=0.2)
    assert forward < -2, "seen from above the nose is up"
