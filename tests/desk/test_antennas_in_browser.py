"""Antennas placed by mouse, touch and keyboard in a real Chromium; the script's map held against the analyser's."""

from __future__ import annotations

import random
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from analyser.core.aircraft import Antenna, AntennaLayout, Shadow
from analyser.link.planned import planned_best
from spooldown import register
from spooldown.logbook.book import Logbook
from tests.desk.conftest import SAMPLES
from tests.desk.real_desk import DESKTOP, PHONE, Running, let_in, running_desk, screen

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    folder = tmp_path_factory.mktemp("antennas")
    with Logbook(folder / "logbook") as book:
        register.add(book, (SAMPLES / "aircraft" / "tern.toml").read_bytes(), "tern.toml")
    with running_desk(folder) as made:
        yield made


@pytest.fixture(scope="module")
def state(running: Running, chromium: Any, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return let_in(running, chromium, tmp_path_factory.mktemp("state"))


def editor(running: Running, chromium: Any, state: Path, size: dict[str, int], **more: Any) -> Any:
    one = screen(chromium, state, size, **more)
    one.page.goto(f"{running.url}/aircraft/tern.toml/antennas?layout=0")
    one.page.wait_for_selector("form[data-ready]")
    return one


def random_layout(seed: int) -> AntennaLayout:
    chance = random.Random(seed)

    def three(spread: float) -> tuple[float, float, float]:
        return tuple(round(chance.uniform(-spread, spread), 3) for _ in range(3))  # type: ignore[return-value]

    antennas = tuple(
        Antenna(f"rx{1 + n // 2}", 1 + n % 2, three(1.5), three(1.0), chance.choice(("dipole", "monopole")))
        for n in range(4)
    )
    shadow = Shadow(
        "tube", round(chance.uniform(-180, 180), 1), round(chance.uniform(-60, 60), 1),
        round(chance.uniform(10, 60), 1),
        round(chance.uniform(3, 25), 1), *chance.choice((("rx2", 2), ("rx1", None), ("", None))),
    )  # fmt: skip
    return AntennaLayout("random", antennas, shadows=(shadow,))


def test_the_scripts_map_is_the_analysers(running: Running, chromium: Any, state: Path) -> None:
    one = editor(running, chromium, state, DESKTOP)
    for seed in range(12):
        layout = random_layout(seed)
        values = {}
        for n, a in enumerate(layout.antennas):
            values |= {f"antennas.{n}.{k}": v for k, v in zip(
                ("receiver", "number", "kind", "ax", "ay", "az"), (a.receiver, a.number, a.kind, *a.axis), strict=True
            )}  # fmt: skip
        s = layout.shadows[0]
        for k in ("what", "azimuth_deg", "elevation_deg", "half_width_deg", "loss_db", "receiver", "number"):
            values[f"shadows.0.{k}"] = "" if getattr(s, k) is None else getattr(s, k)
        seen = one.page.evaluate(
            """values => { const fields = document.getElementById('layout').elements;
                           for (const [k, v] of Object.entries(values)) fields[k].value = v;
                           return window.deskAntennas.gains(); }""",
            values,
        )
        best = planned_best(layout)
        assert best is not None
        assert np.abs(np.array(seen) - best.gain_db.ravel()).max() < 0.1, f"dB, seed {seed}"
    assert one.complaints == []


def test_the_map_follows_at_once(running: Running, chromium: Any, state: Path) -> None:
    one = editor(running, chromium, state, DESKTOP)
    each_ms = one.page.evaluate(
        """() => { const before = performance.now(); for (let n = 0; n < 50; n++) {
             document.getElementById('layout').elements['antennas.0.ax'].value = n / 50; window.deskAntennas.paint(); }
             return (performance.now() - before) / 50; }"""
    )
    assert each_ms < 50, "20 updates a second at least"


def test_a_dot_is_dragged_and_its_wire_turned(running: Running, chromium: Any, state: Path) -> None:
    one = editor(running, chromium, state, DESKTOP)
    page = one.page
    before = page.inner_text("#edited [data-worst]")
    place = page.locator("svg[data-view=side] g[data-antenna='3'] .hit[data-of=place]")
    box = place.bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    at = [float(page.input_value(f"[name='antennas.3.{k}']")) for k in "xyz"]
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x - 20, y - 30, steps=4)
    page.mouse.up()
    now = [float(page.input_value(f"[name='antennas.3.{k}']")) for k in "xyz"]
    assert now[0] > at[0] + 0.05, "seen from the left, forward is to the left"
    assert now[1] == at[1]
    assert now[2] < at[2] - 0.05
    turn = page.locator("svg[data-view=side] g[data-antenna='3'] .hit[data-of=turn]")
    box, centre = turn.bounding_box(), place.bounding_box()
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.mouse.down()
    page.mouse.move(centre["x"] + centre["width"] / 2, centre["y"] - 80, steps=5)
    page.mouse.up()
    axis = [float(page.input_value(f"[name='antennas.3.{k}']")) for k in ("ax", "ay", "az")]
    assert abs(axis[2]) > 0.95, "the wire stands upright now"
    page.wait_for_function("w => document.querySelector('#edited [data-worst]').textContent !== w", arg=before)
    assert one.complaints == []


def test_arrow_keys_move_and_turn(running: Running, chromium: Any, state: Path) -> None:
    one = editor(running, chromium, state, DESKTOP)
    page = one.page
    page.locator("svg[data-view=top] g[data-antenna='0'] .hit[data-of=place]").focus()
    y = float(page.input_value("[name='antennas.0.y']"))
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Shift+ArrowRight")
    assert float(page.input_value("[name='antennas.0.y']")) == pytest.approx(y + 0.11)
    page.locator("svg[data-view=front] g[data-antenna='0'] .hit[data-of=turn]").focus()
    for _ in range(18):
        page.keyboard.press("ArrowRight")
    axis = [float(page.input_value(f"[name='antennas.0.{k}']")) for k in ("ax", "ay", "az")]
    assert abs(axis[2]) == pytest.approx(1.0, abs=0.01), "18 times 5° turn a level wire upright"


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("where", ["antennas", "form"])
def test_the_screens_hold_on_a_phone(running: Running, chromium: Any, state: Path, scheme: str, where: str) -> None:
    one = screen(chromium, state, PHONE, color_scheme=scheme, has_touch=True)
    one.page.goto(f"{running.url}/aircraft/tern.toml/{where}")
    if where == "antennas":
        one.page.wait_for_selector("form[data-ready]")
    assert one.fits()
    assert one.axe() == []
    assert one.small_targets() == []
    assert one.complaints == []


def test_a_touch_drags_too(running: Running, chromium: Any, state: Path) -> None:
    one = editor(running, chromium, state, PHONE, has_touch=True)
    page = one.page
    place = page.locator("svg[data-view=top] g[data-antenna='1'] .hit[data-of=place]")
    place.scroll_into_view_if_needed()
    box = place.bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    before = page.input_value("[name='antennas.1.y']")
    session = page.context.new_cdp_session(page)
    session.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": [{"x": x, "y": y}]})
    for n in range(1, 5):
        session.send("Input.dispatchTouchEvent", {"type": "touchMove", "touchPoints": [{"x": x + 6 * n, "y": y}]})
    session.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    assert float(page.input_value("[name='antennas.1.y']")) > float(before) + 0.03
