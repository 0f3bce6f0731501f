"""Every kind of page in a real browser, from file://: clean console, nothing fetched, readable by everyone."""

from __future__ import annotations

from pathlib import Path

import pytest
from msgspec.structs import replace

from reports.model import OverFlights
from reports.site import build_site
from tests.browser.conftest import one
from tests.reports import invented

pytestmark = pytest.mark.browser

PAGES = (
    "index.html",
    "season.html",
    "compare.html",
    "glossary.html",
    "field-sheet.html",
    "labels.html",
    "fleet.html",
    "days/2*.html",
    "flights/tern-003.html",
    "flights/tern-003-card.html",
    "packs/r2-*.html",
    "aircraft/tern-*.html",
    "antennas/tern-*.html",
    "programme/tern-*.html",
    "before/tern-*.html",
    "year/tern-*.html",
)

EVIL = (
    "<script>alert(1)</script></script><svg onload=alert(1)>../../x"
    "\"><img src=x onerror=alert(1)><b>x</b><a href='javascript:alert(1)'>y</a>"
)

UNDRAWN = "[...document.querySelectorAll('.plot')].filter(p => !p.querySelector('svg')).map(p => p.id)"


@pytest.mark.parametrize("pattern", PAGES)
@pytest.mark.parametrize(("width", "scheme"), [(1280, "light"), (390, "dark")])
def test_every_page_opens_clean_and_is_readable_by_everyone(built, open_page, pattern, width, scheme) -> None:
    axe = pytest.importorskip("axe_playwright_python.sync_playwright")
    opened = open_page(width, color_scheme=scheme).goto(one(built, pattern))
    page = opened.page
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth"), "the page scrolls sideways"
    page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    opened.all_drawn()
    page.wait_for_timeout(100)
    assert page.evaluate(UNDRAWN) == []
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth"), "scrolls sideways when unfolded"
    assert opened.complaints == []
    assert all(u.startswith(("file:", "data:")) for u in opened.requests)
    found = axe.Axe().run(page).response["violations"]
    serious = [
        (v["id"], v["nodes"][0]["html"][:200], v["nodes"][0].get("failureSummary", "")[:300])
        for v in found
        if v["impact"] in ("serious", "critical")
    ]
    assert serious == []


def test_evil_names_do_nothing(tmp_path: Path, open_page) -> None:
    aircraft = replace(invented.TERN, name=f"T {EVIL}", note=EVIL)
    flights = tuple(
        invented.flight(
            k, title=f"{EVIL} {k}", flight_id=f"{EVIL}{k}", aircraft=aircraft, remarks=EVIL, notices=(EVIL,)
        )
        for k in (2, 1)
    )
    events = tuple(
        replace(e, summary=EVIL, subject=f"fuel.{EVIL}", causes=(EVIL,)) for e in flights[0].record.result.fuel.events
    )

    def spoilt(flight):  # type: ignore[no-untyped-def]
        result = flight.record.result
        return replace(
            flight, record=replace(flight.record, result=replace(result, fuel=replace(result.fuel, events=events)))
        )

    flights = tuple(spoilt(f) for f in flights)
    site = replace(
        invented.site(1),
        title=EVIL,
        labelled=EVIL,
        flights=flights,
        over=OverFlights(invented.season(flights, aircraft)),
    )
    build_site(site, tmp_path)
    opened = open_page()
    seen = 0
    for file in sorted(tmp_path.rglob("*.html")):
        opened.goto(file).all_drawn()
        assert opened.complaints == [], file
        assert opened.page.locator(".plot img, .plot a[*|href^='javascript'], main img").count() == 0
        assert opened.page.evaluate("document.querySelectorAll('script:not([src]):not([type])').length") == 0
        seen += 1
    assert seen >= 12
