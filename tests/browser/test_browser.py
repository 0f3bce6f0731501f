"""The built pages in a real browser, from file://: what a person does with them."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from reports.site import build_comparison, build_single_flight, build_site
from tests.reports import invented

pytestmark = pytest.mark.browser

PAGES = (
    "index.html",
    "season.html",
    "compare.html",
    "glossary.html",
    "field-sheet.html",
    "flights/tern-003.html",
    "flights/tern-003-card.html",
    "packs/r2-*.html",
    "aircraft/tern-*.html",
    "antennas/tern-*.html",
    "compare/tern-*.html",
)


EVIL = (
    "<script>alert(1)</script></script><svg onload=alert(1)>../../x",
    "\"><img src=x onerror=alert(1)><b>x</b><a href='javascript:alert(1)'>y</a>",
)


def one(folder: Path, pattern: str) -> Path:
    return next(iter(sorted(folder.glob(pattern))))


@pytest.mark.parametrize("pattern", PAGES)
@pytest.mark.parametrize(("width", "scheme"), [(1280, "light"), (390, "dark")])
def test_every_page_opens_clean(built, open_page, pattern, width, scheme) -> None:
    opened = open_page(width, color_scheme=scheme).goto(one(built, pattern)).all_drawn()
    page = opened.page
    page.wait_for_timeout(150)
    assert opened.complaints == []
    assert all(u.startswith(("file:", "data:")) for u in opened.requests)
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth"), "the page scrolls sideways"
    plots = page.locator(".plot")
    for i in range(plots.count()):
        box = plots.nth(i)
        if box.evaluate("e => !e.closest('details:not([open])')"):
            assert box.locator("svg").count() > 0, f"plot {box.get_attribute('id')} is empty"


@pytest.mark.parametrize("pattern", PAGES)
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_nothing_serious_for_people_with_disabilities(built, open_page, pattern, scheme) -> None:
    axe_module = pytest.importorskip("axe_playwright_python.sync_playwright")
    opened = open_page(1280, color_scheme=scheme, bypass_csp=True).goto(one(built, pattern)).all_drawn()
    opened.page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    opened.page.wait_for_timeout(100)
    found = axe_module.Axe().run(opened.page).response["violations"]
    serious = [
        (v["id"], v["nodes"][0]["html"][:200], v["nodes"][0].get("failureSummary", "")[:300])
        for v in found
        if v["impact"] in ("serious", "critical")
    ]
    assert serious == []


def test_search_filter_and_sort(built, open_page) -> None:
    opened = open_page().goto(built / "index.html")
    page = opened.page
    rows = page.locator("#flight-table tbody tr:visible")
    assert rows.count() == 10
    page.locator("input[type=search]").fill("calm evening")
    opened.until("document.querySelectorAll('#flight-table tbody tr:not([hidden])').length === 1")
    assert "Tern flight 3" in rows.first.inner_text()
    page.locator("input[type=search]").fill("")
    page.get_by_role("button", name=re.compile("^Date")).click()
    assert "flight 1" in rows.first.inner_text().splitlines()[0]
    page.get_by_role("button", name=re.compile("^Date")).press("Enter")
    assert "flight 10" in rows.first.inner_text()
    assert page.locator("th[aria-sort]").get_attribute("aria-sort") == "descending"


def test_attention_leads_to_the_moment(built, open_page) -> None:
    opened = open_page().goto(built / "index.html")
    page = opened.page
    page.get_by_role("link", name="Tern flight 10 at 3:20.0").click()
    page.wait_for_load_state()
    opened.drawn()
    assert "flights/tern-010.html#t=200.00" in page.url
    view = page.evaluate("window.spooldown.view()")
    assert view[0] < 200.0 < view[1]
    assert view[1] - view[0] < 60
    assert "Sag" in page.locator("tr.here").inner_text()


def test_event_table_leads_to_the_plot_and_the_plot_back(built, open_page) -> None:
    opened = open_page().goto(built / "flights/tern-003.html").drawn().all_drawn()
    page = opened.page
    page.locator("tr[data-event]", has_text="Fade").get_by_role("link").click()
    opened.until("window.spooldown.view() !== null")
    view = page.evaluate("window.spooldown.view()")
    assert view[0] < 243.0 < 246.5 < view[1]
    assert page.locator("tr.here").count() == 1
    page.evaluate("window.spooldown.setView(null)")
    point = page.locator("#p-lane .scatterlayer .point").first
    point.scroll_into_view_if_needed()
    box = point.bounding_box()
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.wait_for_timeout(200)
    page.mouse.down()
    page.mouse.up()
    opened.until("document.querySelector('tr.here a') === document.activeElement")


def test_time_plots_zoom_together(built, open_page) -> None:
    opened = open_page().goto(built / "flights/tern-003.html").drawn().all_drawn()
    page = opened.page
    page.evaluate(
        "Plotly.relayout(document.querySelectorAll('.plot')[1], {'xaxis.range[0]': '2000-01-01 00:01:40', 'xaxis.range[1]': '2000-01-01 00:03:20'})"  # noqa: E501
    )
    assert page.evaluate("window.spooldown.view()") == [100, 200]
    ranges = page.evaluate(
        "[...document.querySelectorAll('.plot.js-plotly-plot')].filter(p => p.layout.xaxis.type === 'date').map(p => p.layout.xaxis.range.join())"  # noqa: E501
    )
    assert len(ranges) > 5
    assert len(set(ranges)) == 1
    page.get_by_role("button", name="Whole flight").click()
    assert page.evaluate("window.spooldown.view()") is None
    page.get_by_role("button", name="Closer").press("Enter")
    assert page.evaluate("window.spooldown.view()") == [105, 315]
    assert "1:45.0 to 5:15.0" in page.locator("#view-now").inner_text()


def test_the_cursor_is_shared(built, open_page) -> None:
    opened = open_page(1280, 1600).goto(built / "flights/tern-003.html").drawn().all_drawn()
    page = opened.page
    plots = page.locator(".plot .xy .plot, .plot .nsewdrag")
    page.evaluate("document.getElementById('plots-here').scrollIntoView()")
    drag = page.locator("#p-plot-0-0 .nsewdrag").first
    box = drag.bounding_box()
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.wait_for_timeout(500)
    assert page.locator(".plot .hoverlayer .legend").count() >= 2, plots.count()


def test_the_track_takes_another_colour(built, open_page) -> None:
    opened = open_page().goto(built / "flights/tern-003.html").drawn().all_drawn()
    page = opened.page
    colours = "document.getElementById('p-track').data[1].marker.color.slice(0, 40).join()"
    before = page.evaluate(colours)
    page.locator("#track-channel").select_option(label="Altitude")
    assert page.evaluate(colours) != before


def test_zoom_in_one_file_shows_finer_samples(tmp_path, open_page) -> None:
    site = invented.site(1)
    fine = replace(site.flights[0], telemetry=lambda: invented.telemetry(420.0, 50.0))
    file = build_single_flight(replace(site, flights=(fine,)), "tern-001", tmp_path / "one.html")
    opened = open_page().goto(file).drawn().all_drawn()
    page = opened.page
    assert opened.complaints == []
    assert [u for u in opened.requests if not u.startswith("data:")] == [file.resolve().as_uri()]
    count = "(() => { const p = [...document.querySelectorAll('.plot')].find(q => q.data && q.data.some(d => d.name === 'rx2' && d.mode === 'lines')); const d = p.data.find(d => d.name === 'rx2'); return [d.x.length, Math.min(...d.y.filter(v => v !== null))]; })()"  # noqa: E501
    whole, lowest = page.evaluate(count)
    assert whole <= 3002
    assert lowest < 6.7, "the sag of 0.6 s must be seen in the whole flight"
    page.evaluate("window.spooldown.setView([195, 205])")
    near, _ = page.evaluate(count)
    assert near >= 450, "ten seconds at 50 Hz, nearly all of it"


def test_evil_names_do_nothing(tmp_path, open_page) -> None:
    for n, evil in enumerate(EVIL):
        aircraft = replace(invented.TERN, name=f"T {evil}", note=evil)
        flights = tuple(
            invented.flight(
                k, title=f"{evil} {k}", flight_id=f"{evil}{k}", aircraft=aircraft, remarks=evil, notices=(evil,)
            )
            for k in (2, 1)
        )
        shared = flights[0].record.result
        evil_events = tuple(
            replace(e, summary=evil, subject=f"fuel.{evil}", causes=(evil,)) for e in shared.fuel.events
        )
        flights = tuple(
            replace(
                f,
                record=replace(
                    f.record, result=replace(f.record.result, fuel=replace(f.record.result.fuel, events=evil_events))
                ),
            )
            for f in flights
        )
        folder = tmp_path / str(n)
        site = replace(
            invented.site(1), title=evil, labelled=evil, flights=flights, season=invented.season(flights, aircraft)
        )
        build_site(site, folder)
        for file in sorted(folder.rglob("*.html")):
            opened = open_page().goto(file).all_drawn()
            assert opened.complaints == [], file
            assert opened.page.locator(".plot img, .plot a[*|href^='javascript'], main img").count() == 0
            assert opened.page.evaluate("document.querySelectorAll('script:not([src]):not([type])').length") == 0
            opened.page.context.close()


def test_pages_print_to_a4(built, open_page) -> None:
    for pattern, most in (
        ("flights/tern-003-card.html", 1),
        ("field-sheet.html", 2),
        ("index.html", 3),
        ("flights/tern-003.html", 20),
    ):
        opened = open_page(color_scheme="dark").goto(one(built, pattern))
        data = opened.page.pdf(format="A4", prefer_css_page_size=True)
        count = len(re.findall(rb"/Type\s*/Page[^s]", data))
        assert 1 <= count <= most, f"{pattern}: {count} sheets"


def test_comparison_hides_a_flight_everywhere(built, tmp_path, open_page) -> None:
    site = invented.site(3)
    file = build_comparison(site, ["tern-001", "tern-002", "tern-003"], tmp_path)
    opened = open_page().goto(file).all_drawn().drawn()
    page = opened.page
    page.get_by_label("Tern flight 2").uncheck()
    assert page.locator("[data-of='tern-002']:visible").count() == 0
    assert page.locator("[data-of='tern-001']:visible").count() > 0
    assert page.evaluate(
        "document.querySelector('.plot').data.filter(d => d.meta === 'tern-002').every(d => d.visible === false)"
    )


def test_a_thousand_flights_filter_without_lag(tmp_path, open_page) -> None:
    shared = invented.result("shared")
    flights = tuple(
        invented.flight(n, shared=shared, remarks="windy" if n % 7 == 0 else "") for n in range(1000, 0, -1)
    )
    from reports.pages import start
    from reports.render import SHARED, Shell, asset
    from reports.write import write_whole

    site = replace(invented.site(1), flights=flights, season=invented.season(flights[:20]))
    file = tmp_path / "index.html"
    text = start.render(site, Shell("Fenholt", invented.LABEL))
    assert len(text.encode()) < 1_000_000
    write_whole(file, text)
    for name in SHARED:
        write_whole(tmp_path / "assets" / name, asset(name))
    opened = open_page().goto(file)
    page = opened.page
    took = page.evaluate(
        """async () => { const q = document.querySelector('input[type=search]'); const worst = [];
        for (const text of ['w', 'wi', 'windy', 'flight 9', '']) { const t = performance.now(); q.value = text;
          q.dispatchEvent(new Event('input'));
          await new Promise(r => requestAnimationFrame(() => requestAnimationFrame(r)));
          worst.push(performance.now() - t); }
        return Math.max(...worst); }"""
    )
    assert took < 400, f"{took:.0f} ms for one keystroke"
    page.locator("input[type=search]").fill("windy")
    opened.until("document.querySelectorAll('#flight-table tbody tr:not([hidden])').length === 142")
