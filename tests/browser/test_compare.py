"""Flights side by side in the browser: what is chosen stands in the address, and differences are the analyser's own."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from analyser.compare import compare_flights
from reports.figures.encode import unpack
from reports.pages.compare import binned, resolution
from tests.reports import invented

pytestmark = pytest.mark.browser
COMPARED = "document.documentElement.dataset.compared === '{}'"


def opened(open_page, built: Path, fragment: str, count: int, **more):  # type: ignore[no-untyped-def]
    return open_page(**more).goto(built / "compare.html", fragment).until(COMPARED.format(count))


def test_ticks_in_the_table_lead_to_the_comparison_and_back(built, open_page) -> None:
    start = open_page().goto(built / "index.html")
    page = start.page
    for title in ("Tern flight 9", "Tern flight 2", "Tern flight 4"):
        page.get_by_label(f"Tick for comparing: {title}", exact=True).check()
    assert page.evaluate("location.hash") == "#f=tern-009,tern-002,tern-004"
    page.get_by_role("link", name="Compare 3").click()
    start.until(COMPARED.format(3))
    assert page.locator("#chosen tbody tr").count() == 3
    assert page.locator("#plots-compared .plot .main-svg").count() > 0
    page.go_back()
    start.until("document.querySelectorAll('.tick:checked').length === 3")
    assert start.complaints == []


def test_what_is_chosen_stands_in_the_address(built, open_page) -> None:
    here = opened(open_page, built, "#f=tern-002,tern-005,tern-001", 3)
    page = here.page
    page.get_by_label("Reference: Tern flight 5").check()
    page.locator("#as").select_option("difference")
    page.locator("#align").select_option("landing")
    kept = page.evaluate("location.hash")
    assert kept == "#f=tern-002,tern-005,tern-001&r=tern-005&at=landing&as=difference"
    again = opened(open_page, built, kept, 3).page
    assert again.locator("input[name=reference]:checked").get_attribute("value") == "tern-005"
    assert again.locator("#as").input_value() == "difference"
    assert again.locator("#align").input_value() == "landing"
    # the reference is the line at zero, so two curves are left
    assert again.evaluate("document.querySelector('#plots-compared .plot').data.length") == 2


def test_an_address_names_no_script_but_a_flights(built, open_page) -> None:
    here = open_page().goto(built / "compare.html", "#f=../evil,https://example.org/x,tern-001,tern-002")
    here.until(COMPARED.format(2))
    assert all(u.startswith(built.as_uri()) for u in here.requests)
    assert not any("evil" in u for u in here.requests)


def test_differences_are_the_analysers(built, open_page) -> None:
    """The oracle is ``analyser.compare``, itself held to JCGM 100:2008 in its own tests."""
    records = [next(f.record for f in invented.site(10).flights if f.record.number == n) for n in (2, 5)]
    expected = {
        f"{row.path} {row.unit}": row.differences[0]
        for row in compare_flights(records, base=1).rows
        if row.differences[0]
    }
    page = opened(open_page, built, "#f=tern-002,tern-005&r=tern-005", 2).page
    page.evaluate("document.querySelectorAll('#figures-compared details').forEach(d => { d.open = true; })")
    page.wait_for_timeout(50)
    shown = dict(
        page.evaluate(
            "[...document.querySelectorAll('#figures-compared tr[data-figure]')].map(r =>"
            " [r.dataset.figure, (r.querySelector('[data-difference]') || {dataset: {}}).dataset.difference || ''])"
        )
    )
    compared = 0
    for path, figure in expected.items():
        if not shown.get(path):
            continue
        value, low, high = (float(x) if x else None for x in shown[path].split(" "))
        for got, wanted in ((value, figure.value), (low, figure.low), (high, figure.high)):
            assert (got is None) == (wanted is None), path
            if wanted is not None:
                assert got == pytest.approx(wanted, rel=1e-6, abs=1e-6), path
        compared += 1
    assert compared > 10


def test_a_curve_starts_where_zero_was_put(built, open_page) -> None:
    record = next(f.record for f in invented.site(10).flights if f.record.number == 2)
    page = opened(open_page, built, "#f=tern-002,tern-005&as=strips", 2).page
    first = page.evaluate("document.querySelector('#plots-compared .plot').data[0].x[0]")
    page.locator("#align").select_option("start")
    moved = page.evaluate("document.querySelector('#plots-compared .plot').data[0].x[0]")
    assert moved - first == pytest.approx(record.result.phases.take_off_s / 60, abs=1e-6)


def test_comparing_fits_a_phone(built, open_page) -> None:
    here = opened(open_page, built, "#f=tern-002,tern-005,tern-001", 3, width=390, height=800, color_scheme="dark")
    assert here.page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    assert here.complaints == []


def test_steps_keep_mean_and_extremes() -> None:
    rng = np.random.default_rng(5)
    time = np.sort(rng.uniform(0, 100, 5000))
    values = rng.normal(size=5000)
    mean, low, high = binned(time, values, 1.0, 101)
    for n in (0, 17, 99):
        inside = values[(time >= n) & (time < n + 1)]
        assert (mean[n], low[n], high[n]) == pytest.approx((inside.mean(), inside.min(), inside.max()))
    silent = np.r_[np.arange(0, 20, 0.5), np.arange(60, 80, 0.5)]
    holes = np.isnan(binned(silent, silent, 1.0, 80)[0])
    assert holes[20:60].all()
    assert not holes[:20].any()
    slow = binned(np.arange(0, 60, 5.0), np.arange(0, 60, 5.0), 1.0, 60)[0]
    assert np.allclose(slow[:56], np.arange(56))


@pytest.mark.parametrize(("step", "found"), [(0.1, 0.1), (0.25, 0.25), (None, None)])
def test_the_step_of_readings_is_found(step: float | None, found: float | None) -> None:
    values = np.random.default_rng(2).normal(7.4, 0.6, 4000)
    read = np.round(values / step) * step if step else values
    assert resolution(read) == (pytest.approx(found) if found else None)


def test_packed_means_are_unpacked_alike() -> None:
    from reports.figures.encode import pack_values

    values = np.array([7.4, np.nan, 7.1, 7.9])
    assert np.allclose(unpack(pack_values(values)), values, atol=1e-4, equal_nan=True)
