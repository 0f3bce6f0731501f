"""Flights out and back, range checks, tables, backup and check: what the commands do, by clicks."""

from __future__ import annotations

import io
import re
import zipfile

import pandas as pd
import pytest

from tests.desk.conftest import Browser, flight_of, made  # noqa: F401 - fixtures


def ids(browser: Browser) -> list[str]:
    with browser.desk.book() as book:
        return [f.flight_id for f in book.flights()]


def test_a_flight_goes_into_the_bin_and_comes_back(flown: Browser) -> None:
    flight_id = flight_of(flown)
    assert flown.post(f"/flights/{flight_id}/remove").status_code == 303
    assert ids(flown) == []
    change = re.search(r'name="change" value="([0-9a-f]+)"', flown.get("/flights").text)
    assert change, "removing can be taken back at once"
    assert flown.post("/undo", {"change": change[1]}).status_code == 303
    assert ids(flown) == [flight_id]
    flown.post(f"/flights/{flight_id}/remove")
    assert flight_id in flown.get("/bin").text
    assert flown.post("/bin/empty").status_code == 303
    assert flight_id in flown.get("/bin").text, "without the tick nothing is deleted"
    assert flown.post(f"/bin/{flight_id}/restore").status_code == 303
    assert ids(flown) == [flight_id]
    flown.post(f"/flights/{flight_id}/remove")
    flown.post("/bin/empty", {"sure": "on"})
    assert "The bin is empty" in flown.get("/bin").text
    assert flown.post("/flights/nothing-there/remove").status_code == 404


@pytest.mark.parametrize("what", ["figures", "events", "flights"])
def test_tables_are_taken_away(flown: Browser, what: str) -> None:
    csv = pd.read_csv(io.BytesIO(flown.get(f"/export/{what}.csv").content))
    parquet = pd.read_parquet(io.BytesIO(flown.get(f"/export/{what}.parquet").content))
    assert len(csv) == len(parquet) > 0
    assert list(csv.columns) == list(parquet.columns)


def test_events_alike_are_one_row_unless_each_is_asked_for(flown: Browser) -> None:
    each = pd.read_csv(io.BytesIO(flown.get("/export/events.csv?all=1").content))
    lines = pd.read_csv(io.BytesIO(flown.get("/export/events.csv").content))
    assert lines["times"].sum() == len(each)
    assert len(lines) < len(each)


@pytest.mark.parametrize("path", ["/export/passwd.csv", "/export/figures.exe", "/export/telemetry.csv"])
def test_no_other_table_is_there(flown: Browser, path: str) -> None:
    assert flown.get(path).status_code == 404


def test_a_backup_holds_the_flight(flown: Browser) -> None:
    flight_id = flight_of(flown)
    archive = zipfile.ZipFile(io.BytesIO(flown.get("/backup").content))
    assert archive.testzip() is None
    assert any(flight_id in name for name in archive.namelist())


def test_every_file_is_verified(flown: Browser) -> None:
    whole = flown.finished(flown.post("/check"))
    assert (whole["state"], whole["failed"]) == ("finished", [])
    with flown.desk.book() as book:
        path = book.telemetry_path(flight_of(flown))
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 1
    path.write_bytes(bytes(data))
    assert flown.finished(flown.post("/check"))["failed"] != []


def test_a_range_check_is_kept_and_a_slip_is_told(flown: Browser) -> None:
    cells = {
        "aircraft": "Tern", "day": "2026-09-18", "receiver": "rx1", "antenna": "1", "distance_m": "60",
        "reduction_db": "30",
    }  # fmt: skip
    assert flown.post("/range-checks", cells).status_code == 303
    assert "2026-09-18" in flown.get("/range-checks").text
    with flown.desk.book() as book:
        ((_, who, check),) = book.range_checks()
    assert (who, check.distance_m, check.reduction_db) == ("Tern", 60.0, 30.0)
    wrong = flown.post("/range-checks", {**cells, "distance_m": "far"})
    assert wrong.status_code == 422
    assert 'class="problem"' in wrong.text
    assert 'value="far"' in wrong.text
