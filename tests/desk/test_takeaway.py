"""What is taken away, settings, and papers that are dropped beside logs."""

from __future__ import annotations

import io
import re
import zipfile
from pathlib import Path

import pandas as pd
import pytest

from analyser.core.aircraft import FuelNote
from spooldown import register
from spooldown.preferences import preferences
from tests.desk.conftest import SAMPLES, TERN, Browser, flight_of
from tests.desk.test_aircraft_form import form_in


def test_pages_for_a_stick_open_without_the_desk(flown: Browser) -> None:
    answer = flown.get("/take-away/pages.zip")
    assert answer.status_code == 200
    with zipfile.ZipFile(io.BytesIO(answer.content)) as archive:
        names = archive.namelist()
        assert "pages/index.html" in names
        assert f"pages/flights/{flight_of(flown)}.html" in names
        assert archive.testzip() is None
        start = archive.read("pages/index.html").decode()
    assert re.findall(r'(?:href|src)="(/[^"]*)"', start) == [], "no address from the root of a server"
    assert all(not n.startswith("/") and ".." not in n for n in names)


def test_without_pages_there_is_nothing_to_take(browser: Browser) -> None:
    assert browser.get("/take-away").status_code == 200
    answer = browser.get("/take-away/pages.zip")
    assert answer.status_code == 404
    assert "No pages are built yet" in answer.text


def test_one_flight_in_one_file(flown: Browser) -> None:
    answer = flown.get(f"/flights/{flight_of(flown)}/single.html")
    assert answer.status_code == 200
    assert "Tern" in answer.text
    assert '<link rel="stylesheet"' not in answer.text
    assert flown.get("/flights/nobody/single.html").status_code == 404


def test_telemetry_reads_back_with_pandas(flown: Browser) -> None:
    flight_id = flight_of(flown)
    csv = pd.read_csv(io.BytesIO(flown.get(f"/flights/{flight_id}/telemetry.csv").content))
    parquet = pd.read_parquet(io.BytesIO(flown.get(f"/flights/{flight_id}/telemetry.parquet").content))
    assert list(csv.columns) == list(parquet.columns)
    assert len(csv) == len(parquet) > 1000
    assert flown.get(f"/flights/{flight_id}/telemetry.exe").status_code == 404


def test_settings_are_the_logbooks_and_can_be_taken_back(flown: Browser) -> None:
    said = {"language": "de", "volume": "fl_oz", "clock": "12", "dates": "local", "title": "Unser Platz <1>"}
    assert flown.post("/settings", said).status_code == 303
    with flown.desk.book() as book:
        kept = preferences(book)
        assert (kept["language"], kept["volume"], kept["clock"]) == ("de", "fl_oz", "12")
        assert book.setting("title") == "Unser Platz <1>"
    page = flown.get("/settings").text
    assert 'lang="de"' in page
    assert "Unser Platz &lt;1&gt;" in page
    assert 'value="fl_oz" checked' in page
    undo = re.search(r'name="change" value="([0-9a-f]+)"', page)
    assert undo
    flown.post("/undo", {"change": undo[1]})
    with flown.desk.book() as book:
        assert preferences(book)["volume"] == ""
        assert book.setting("title") == ""


def test_a_setting_that_is_none_is_refused(flown: Browser) -> None:
    answer = flown.post("/settings", {"volume": "buckets"})
    assert answer.status_code == 422
    assert "ml, fl_oz" in answer.text


def test_aircraft_files_sheets_and_checks_are_dropped_beside_logs(browser: Browser, tmp_path: Path) -> None:
    sheet = tmp_path / "field_sheet.csv"
    sheet.write_text(f"log_file,aircraft,pack_rx1,fuel_put_in_left_ml\n{TERN.name},Tern,R1,1840\n", "utf-8")
    checks = tmp_path / "range.csv"
    checks.write_text(
        "day,receiver,antenna,distance_m,reduction_db,orientation\n2026-04-17,rx1,1,60,30,nose to pilot\n", "utf-8"
    )
    where = browser.drop(sheet, TERN, SAMPLES / "aircraft" / "tern.toml", checks, SAMPLES / "aircraft" / "packs.toml")
    page = browser.get(where).text
    for kind in ("it is registered", "its notes are kept", "they are kept for the aircraft"):
        assert kind in page
    told = browser.finished(browser.post(where, {"import": "1", "aircraft": "Tern"}))
    assert told["failed"] == []
    with browser.desk.book() as book:
        flight_id = flight_of(browser)
        assert set(register.load(book).aircraft) == {"Tern"}
        note = book.notes()[flight_id]
        assert note.fuel == {"left": FuelNote(put_in_ml=1840.0)}
        assert note.packs == {"rx1": "R1"}
        assert len(book.range_checks()) == 1
    assert browser.get("/take-away/range-checks.csv").text.count("rx1") >= 1
    assert "log_file" in browser.get("/take-away/field_sheet.csv").text
    undo = re.search(r'name="change" value="([0-9a-f]+)"', browser.get("/flights").text)
    assert undo, "an import can be taken back"
    browser.post("/undo", {"change": undo[1]})
    with browser.desk.book() as book:
        assert book.flights() == []
        assert [f.flight_id for f in book.removed()] == [flight_id], "it lies in the bin"


def test_a_wrong_paper_is_told_and_the_log_comes_in(browser: Browser, tmp_path: Path) -> None:
    bad = tmp_path / "bad.toml"
    bad.write_text("[aircraft]\nnam = 'x'\n", "utf-8")
    told = browser.finished(browser.post(browser.drop(bad, TERN), {"import": "1", "aircraft": "Tern"}))
    assert len(told["failed"]) == 1
    assert "bad.toml" in told["failed"][0]
    assert flight_of(browser)


def test_another_aircrafts_packs_are_folded_away(flown: Browser) -> None:
    page = flown.get(f"/flights/{flight_of(flown)}/note").text
    place = page[page.index('data-role="ecu_left"') : page.index('data-role="ecu_right"')]
    first, _, more = place.partition("<details")
    assert 'value="E1"' in first
    assert 'value="R1"' not in first
    assert 'value="R1"' in more
    assert set(form_in(page)) >= {"pilot_latitude_deg", "capacity_rx1_mah"}


@pytest.mark.parametrize("path", ["/take-away", "/settings"])
def test_german_says_all_of_it(flown: Browser, path: str) -> None:
    page = flown.get(path, headers={"accept-language": "de"}).text
    for english in ("Take away", "Field sheet", "How you read", "millilitres", "Pack labels"):
        assert english not in page
