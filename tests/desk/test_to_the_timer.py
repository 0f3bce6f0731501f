"""From an empty logbook to the timer's answer, no command typed: dropped on a phone, asked at a desk by keyboard."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.desk.conftest import SAMPLES
from tests.desk.real_desk import DESKTOP, PHONE, let_in, running_desk, screen

pytestmark = pytest.mark.browser
LOGS = ("tern-2026-04-18.csv", "tern-2026-04-18b.csv", "tern-2026-05-10.csv")


def dropped(folder: Path) -> list[str]:
    """Everything an owner has: the aircraft's and packs' files, logs, and the sheet filled in at the field."""
    header, *rows = (SAMPLES / "field_sheet.csv").read_text("utf-8").splitlines()
    sheet = folder / "field_sheet.csv"
    sheet.write_text("\n".join([header, *(r for r in rows if r.split(",")[0] in LOGS)]) + "\n", "utf-8")
    described = [SAMPLES / "aircraft" / "tern.toml", SAMPLES / "aircraft" / "packs.toml"]
    return [str(p) for p in (*described, *(SAMPLES / "tern" / n for n in LOGS), sheet)]


def test_from_an_empty_logbook_to_the_timer(chromium: Any, tmp_path: Path) -> None:
    with running_desk(tmp_path) as desk:
        state = let_in(desk, chromium, tmp_path)
        phone = screen(chromium, state, PHONE, has_touch=True)
        phone.page.goto(desk.url)
        assert "No flights yet" in phone.page.inner_text("main")
        phone.page.set_input_files("#files", dropped(tmp_path))
        phone.page.wait_for_url("**/logs/*")
        assert phone.fits()
        assert phone.axe() == []
        phone.page.tap("button[name=import]")
        phone.page.wait_for_url("**/flights", timeout=150_000)
        assert phone.page.locator("tbody tr").count() == len(LOGS)
        assert phone.page.locator("text=to note").count() == 0, "the sheet noted them all"
        phone.page.goto(f"{desk.url}/pages/")
        timer = phone.page.locator("[data-timer]").first
        timer.locator("summary").tap()
        timer.locator("[data-minutes]").fill("4")
        assert "keep the reserve" in timer.locator("output").inner_text()
        assert phone.complaints == []

        wide = screen(chromium, state, DESKTOP)
        wide.page.goto(f"{desk.url}/pages/")
        for _ in range(60):
            wide.page.keyboard.press("Tab")
            if wide.page.evaluate("!!document.activeElement.closest('[data-timer] summary')"):
                break
        wide.page.keyboard.press("Enter")
        wide.page.keyboard.press("Tab")
        assert wide.page.evaluate("document.activeElement.matches('[data-minutes]')")
        wide.page.keyboard.press("Control+A")
        wide.page.keyboard.type("30")
        assert wide.page.locator("[data-timer] output").first.inner_text() != timer.locator("output").inner_text()
        assert wide.complaints == []
        for path in ("/take-away", "/settings", "/aircraft", "/aircraft/new/form", "/bin"):
            wide.page.goto(desk.url + path)
            assert wide.axe() == [], path
