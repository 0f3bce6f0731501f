"""The calendar and any figure over flights: filters stand in the address, and what is drawn is what was kept."""

from __future__ import annotations

import pytest

from analyser.programme.measures import rows_of
from tests.browser.conftest import one
from tests.reports import invented

pytestmark = pytest.mark.browser


def test_every_flying_day_is_marked_and_leads_to_its_page(built, open_page) -> None:
    here = open_page().goto(built / "season.html")
    page = here.page
    days = {f.record.utc_start.date().isoformat() for f in invented.site(10).flights if f.record.utc_start}
    cells = page.locator("[data-cell]")
    assert {cells.nth(n).get_attribute("data-cell") for n in range(cells.count())} == days
    first = cells.first.get_attribute("data-cell")
    cells.first.click()
    assert page.url.endswith(f"days/{first}.html")
    assert page.locator("table tbody tr").count() >= 1
    page.go_back()
    assert here.complaints == []


def test_filters_dim_the_calendar_and_stand_in_the_address(built, open_page) -> None:
    here = open_page().goto(built / "season.html")
    page = here.page
    page.locator("[data-tools=day-table] select[name=level]").select_option("0")
    here.until("location.hash.includes('level=0')")
    fitting = page.locator("#day-table tbody tr:visible").count()
    assert page.locator("[data-cell]:not(.off)").count() <= fitting
    page.locator("#over-measure").select_option("flight.airborne")
    kept = page.evaluate("location.hash")
    assert "level=0" in kept
    assert "m=flight.airborne" in kept
    again = open_page().goto(built / "season.html", kept).page
    assert again.locator("#over-measure").input_value() == "flight.airborne"
    assert again.locator("#day-table tbody tr:visible").count() == fitting


def test_what_is_drawn_is_what_was_kept(built, open_page) -> None:
    page = open_page().goto(built / "season.html", "#m=flight.airborne").page
    drawn = page.evaluate("document.getElementById('p-over').data[0].y")
    kept = [
        row.value
        for f in reversed(invented.site(10).flights)
        for row in rows_of(f.record.result)
        if row.measure == "flight.airborne" and row.value is not None
    ]
    assert drawn == pytest.approx(kept, abs=0.01)


def test_a_change_of_layout_is_a_line_with_a_number(built, open_page) -> None:
    page = open_page().goto(built / "season.html").page
    steps = page.locator("#over-steps li")
    lines = page.evaluate("document.getElementById('p-over').layout.shapes.length")
    assert steps.count() >= 1
    assert lines >= steps.count()
    assert one(built, "days/*.html").is_file()
