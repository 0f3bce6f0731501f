"""The desk in a real Chromium: from an empty logbook to the pages with no command typed; phone, keyboard, axe."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.chromium import chromium_path
from tests.desk.real_desk import DESKTOP, PHONE, ROOT, Running, let_in, running_desk, screen

SAMPLES = ROOT / "sample_logs"
TERN = SAMPLES / "tern" / "tern-2026-04-18.csv"
pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    with running_desk(tmp_path_factory.mktemp("desk")) as made:
        yield made


@pytest.fixture(scope="module")
def state(running: Running, chromium: Any, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return let_in(running, chromium, tmp_path_factory.mktemp("state"))


def test_from_an_empty_logbook_to_the_pages(running: Running, chromium: Any, state: Path) -> None:
    one = screen(chromium, state, DESKTOP)
    page = one.page
    page.goto(running.url)
    assert "No flights yet" in page.inner_text("main")
    assert one.axe() == []
    # Describe the aircraft and its packs.
    for name in ("tern.toml", "packs.toml"):
        page.goto(f"{running.url}/aircraft/new")
        page.fill("textarea[name=text]", (SAMPLES / "aircraft" / name).read_text("utf-8"))
        page.wait_for_selector("[data-check-result].soft:not(:empty)")
        page.click("button.big")
        page.wait_for_url("**/aircraft")
    assert "Tern" in page.inner_text("main")
    assert one.axe() == []
    # Drop a log, look, import.
    page.goto(running.url)
    page.set_input_files("#files", str(TERN))
    page.wait_for_url("**/logs/*")
    assert one.axe() == []
    page.fill("input[name=aircraft]", "Tern")
    page.click("button[name=import]")
    page.wait_for_url("**/note", timeout=90_000)
    assert one.axe() == []
    # Note it, and read the page.
    page.fill("input[name=fuel_put_in_left_ml]", "1840")
    page.click("label.choice:has(input[name=pack_rx1][value=R1])")
    page.click("button.big")
    page.wait_for_selector(".flash")
    assert page.input_value("input[name=fuel_put_in_left_ml]") == "1840"
    page.click("text=see the flight")
    page.wait_for_url("**/pages/flights/*")
    assert "Tern" in page.inner_text("h1")
    assert one.complaints == []


@pytest.mark.parametrize("path", ["/", "/flights", "/aircraft", "/settings", "note"])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_every_screen_on_a_phone(running: Running, chromium: Any, state: Path, path: str, scheme: str) -> None:
    one = screen(chromium, state, PHONE, color_scheme=scheme, has_touch=True)
    if path == "note":
        one.page.goto(f"{running.url}/flights")
        path = one.page.get_attribute("tbody a[href$=note]", "href")
    one.page.goto(running.url + path)
    assert one.fits()
    assert one.axe() == []
    assert one.small_targets() == [], "targets for a thumb are at least 44 px high"


def test_half_typed_notes_survive_a_closed_browser(running: Running, chromium: Any, state: Path) -> None:
    context = chromium.new_context(viewport=PHONE, storage_state=state)
    page = context.new_page()
    page.goto(f"{running.url}/flights")
    where = running.url + page.get_attribute("tbody a[href$=note]", "href")
    page.goto(where)
    page.fill("textarea[name=remarks]", "gusty, long approach")
    page.close()
    again = context.new_page()
    again.goto(where)
    assert again.input_value("textarea[name=remarks]") == "gusty, long approach"
    context.close()


def test_with_the_keyboard_alone(running: Running, chromium: Any, state: Path) -> None:
    one = screen(chromium, state, DESKTOP)
    one.page.goto(f"{running.url}/flights")
    where = one.page.get_attribute("tbody a[href$=note]", "href")
    one.page.goto(running.url + where)
    for _ in range(60):
        one.page.keyboard.press("Tab")
        if one.page.evaluate("document.activeElement.name") == "remarks":
            break
    one.page.keyboard.type("by keyboard")
    for _ in range(5):
        one.page.keyboard.press("Tab")
        if one.page.evaluate("document.activeElement.className") == "big":
            break
    one.page.keyboard.press("Enter")
    one.page.wait_for_selector(".flash")
    assert one.page.input_value("textarea[name=remarks]") == "by keyboard"


def test_it_works_without_scripts(running: Running, chromium: Any, state: Path) -> None:
    one = screen(chromium, state, DESKTOP, java_script_enabled=False)
    one.page.goto(running.url)
    one.page.set_input_files("#files", str(TERN))
    one.page.click("noscript button, .drop button")
    assert "in the logbook already" in one.page.inner_text("main")


def test_a_second_desk_finds_the_first(running: Running) -> None:
    env = {**os.environ, "PYTHONPATH": str(ROOT), "XDG_CACHE_HOME": str(running.logbook.parent / "cache")}
    command = [sys.executable, "-m", "spooldown", "desk", "--no-browser", "--logbook", str(running.logbook)]
    done = subprocess.run(command, cwd=ROOT, env=env, capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 0
    assert running.url in done.stdout


def test_a_taken_port_is_told_in_a_sentence(running: Running, tmp_path: Path) -> None:
    port = running.url.rpartition(":")[2]
    command = [
        sys.executable,
        "-m",
        "spooldown",
        "desk",
        "--no-browser",
        "--port",
        port,
        "--logbook",
        str(tmp_path / "b"),
    ]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 2
    assert "name another with --port" in done.stderr
    assert "Traceback" not in done.stderr


def test_chromium_is_looked_for() -> None:
    assert chromium_path() is not None or os.environ.get("CI") != "true"


CAMERA = """
window.BarcodeDetector = class { async detect() { return [{ rawValue: window.labelSeen }]; } };
navigator.mediaDevices.getUserMedia = async () => document.createElement("canvas").captureStream(5);
HTMLMediaElement.prototype.play = async () => {};
"""
"""A browser that reads labels, and a camera that sees one: what a phone has and a headless browser lacks."""


def test_a_packs_label_is_read_with_the_camera(running: Running, chromium: Any, state: Path) -> None:
    one = screen(chromium, state, PHONE, has_touch=True)
    page = one.page
    page.add_init_script(CAMERA)
    page.goto(f"{running.url}/flights")
    page.goto(running.url + page.get_attribute("tbody a[href$=note]", "href"))
    page.evaluate("window.labelSeen = 'E2'")
    page.click("[data-scan]")
    page.wait_for_selector("[data-scan-state]:not(:empty)")
    assert page.is_checked("input[name=pack_ecu_right][value=E2]"), "ticked where it usually sits"
    page.evaluate("window.labelSeen = 'somebody else'")
    page.click("[data-scan]")
    page.wait_for_function("document.querySelector('[data-scan-state]').textContent.includes('no pack')")
    assert page.is_checked("input[name=pack_ecu_right][value=E2]")


def test_a_browser_that_reads_no_labels_says_so(running: Running, chromium: Any, state: Path) -> None:
    one = screen(chromium, state, PHONE)
    one.page.add_init_script("delete window.BarcodeDetector;")
    one.page.goto(f"{running.url}/flights")
    one.page.goto(running.url + one.page.get_attribute("tbody a[href$=note]", "href"))
    assert one.page.is_visible("[data-no-scan]")
    assert not one.page.is_visible("[data-scan]")
