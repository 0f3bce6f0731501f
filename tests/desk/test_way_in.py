"""From an empty logbook to a noted flight, without a command typed and without scripts."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from analyser.core.aircraft import FuelNote
from reports.write import undo
from spooldown.logbook.note import FlightNote
from tests.desk.conftest import TERN, Browser, flight_of


def test_an_empty_logbook_says_how_to_begin(browser: Browser) -> None:
    page = browser.get("/").text
    assert "No flights yet" in page
    assert not browser.desk.folder.exists(), "looking makes nothing"


def test_dropped_files_are_reviewed_before_anything_is_kept(browser: Browser) -> None:
    review = browser.get(browser.drop(TERN)).text
    assert "1 file of this layout" in review.replace("\u00a0", " ")
    assert 'class="spark"' in review
    assert "pack.rx1.voltage_v" in review
    assert not browser.desk.folder.exists()


def test_a_plain_form_does_what_the_script_does(browser: Browser) -> None:
    answer = browser.client.post(
        "/logs/drop", data={"token": browser.token}, files={"files": (TERN.name, TERN.read_bytes())}
    )
    assert answer.status_code == 303
    assert TERN.name in browser.get(answer.headers["location"]).text


def test_import_leads_to_the_note_and_the_pages(flown: Browser) -> None:
    flight_id = flight_of(flown)
    assert flight_id in flown.get("/flights").text
    page = flown.get(f"/pages/flights/{flight_id}.html")
    assert page.status_code == 200
    assert f"/flights/{flight_id}/note" in page.text, "the desk's bar leads to the note"
    assert flown.get("/pages/assets/style.css").status_code == 200


def test_the_same_log_again_is_known(flown: Browser) -> None:
    assert "in the logbook already" in flown.get(flown.drop(TERN)).text


def test_a_note_is_kept_shown_and_taken_back(flown: Browser) -> None:
    flight_id = flight_of(flown)
    where = f"/flights/{flight_id}/note"
    cells = {"pack_rx1": "R1", "fuel_put_in_left_ml": "1840", "charged_rx1_mah": "512", "remarks": "=calm <evening>"}
    assert flown.post(where, cells).status_code == 303
    page = flown.get(where)
    assert 'value="1840"' in page.text
    assert "&lt;evening&gt;" in page.text
    assert "Undo" in page.text
    with flown.desk.book() as book:
        note = book.notes()[flight_id]
    assert note.fuel == {"left": FuelNote(put_in_ml=1840.0)}
    assert note.packs == {"rx1": "R1"}
    change = re.search(r'name="change" value="([0-9a-f]+)"', page.text)
    assert change
    assert flown.post("/undo", {"change": change[1]}).status_code == 303
    with flown.desk.book() as book:
        assert book.notes().get(flight_id, FlightNote()) == FlightNote()
    assert flown.post("/undo", {"change": change[1]}).status_code == 409


@pytest.mark.parametrize(
    ("cells", "says"),
    [
        ({"fuel_put_in_left_ml": "much"}, "Tank left, Put in afterwards"),
        ({"fuel_put_in_left_ml": "-5"}, "a number from 0 to 100000 mL"),
        ({"pack_rx1": "R99"}, "there is no pack"),
        ({"layout": "Z"}, "there is no antenna layout"),
        ({"air_temperature_c": "400"}, "-60 to 60"),
    ],
)
def test_a_slip_is_told_in_a_sentence_and_what_was_typed_stays(
    flown: Browser, cells: dict[str, str], says: str
) -> None:
    answer = flown.post(f"/flights/{flight_of(flown)}/note", {**cells, "remarks": "windy"})
    assert answer.status_code == 422
    assert says in answer.text
    assert "windy" in answer.text
    with flown.desk.book() as book:
        assert book.notes() == {}


def test_a_form_saved_over_newer_data_says_so_and_shows_both(flown: Browser) -> None:
    flight_id = flight_of(flown)
    where = f"/flights/{flight_id}/note"
    mark = re.search(r'name="mark" value="([0-9a-f]+)"', flown.get(where).text)
    assert mark
    with flown.desk.book() as book:  # the command line, meanwhile
        book.note({flight_id: FlightNote(remarks="from the other one")})
    answer = flown.post(where, {"mark": mark[1], "remarks": "from this one"})
    assert answer.status_code == 409
    assert "from the other one" in answer.text
    assert "from this one" in answer.text
    with flown.desk.book() as book:
        assert book.notes()[flight_id].remarks == "from the other one"
    fresh = re.search(r'name="over" value="([0-9a-f]+)"', answer.text)
    assert fresh
    again = {"mark": fresh[1], "over": fresh[1], "remarks": "from this one"}
    assert flown.post(where, again).status_code == 303
    with flown.desk.book() as book:
        assert book.notes()[flight_id].remarks == "from this one"


def test_an_aircraft_file_is_checked_as_typed_and_saved_with_its_comments(flown: Browser) -> None:
    with flown.desk.book() as book:
        name = next(p.name for p in book.register_folder.glob("*.toml") if "tern" in p.name)
        text = (book.register_folder / name).read_text("utf-8")
    wrong = flown.post(f"/aircraft/{name}/check", {"text": text.replace("mass_kg", "mas_kg", 1)}).json()
    assert "mass_kg" in wrong["problem"], "the nearest valid key"
    assert flown.post(f"/aircraft/{name}/check", {"text": text}).json()["holds"] == ["Tern"]
    mark = re.search(r'name="mark" value="([0-9a-f]+)"', flown.get(f"/aircraft/{name}").text)
    assert mark
    changed = "# my own remark\n" + text
    assert flown.post(f"/aircraft/{name}", {"text": changed, "mark": mark[1]}).status_code == 303
    with flown.desk.book() as book:
        assert (book.register_folder / name).read_text("utf-8") == changed
    late = flown.post(f"/aircraft/{name}", {"text": text, "mark": mark[1]})
    assert late.status_code == 409
    assert "my own remark" in late.text


def test_what_is_no_log_is_refused_in_a_sentence(browser: Browser, tmp_path: Path) -> None:
    bad = tmp_path / "bad.csv"
    bad.write_bytes(b"\x00\x01\x02 nothing")
    page = browser.get(browser.drop(bad)).text
    assert 'class="problem"' in page
    assert "bad.csv" in page
    assert "Traceback" not in page


@pytest.mark.parametrize("name", ["../../x.csv", "<script>alert(1)</script>.csv", "a\u202egpj.csv", "x" * 400, ""])
def test_names_from_outside_are_only_ever_shown(browser: Browser, name: str) -> None:
    headers = {"X-Token": browser.token}
    batch = browser.client.post("/logs", headers=headers).json()["batch"]
    put = browser.client.put(f"/logs/{batch}/file", params={"name": name}, content=TERN.read_bytes(), headers=headers)
    assert put.status_code == 200
    page = browser.get(f"/logs/{batch}").text
    assert "<script>alert" not in page
    assert "\u202e" not in page
    inside = {p.resolve() for p in browser.desk.incoming.folder.rglob("*") if p.is_file()}
    assert all(p.is_relative_to(browser.desk.incoming.folder.resolve()) for p in inside)
    assert all(len(p.name) < 60 for p in inside)


def test_german_is_complete_where_the_browser_asks_for_it(flown: Browser) -> None:
    german = {"accept-language": "de-AT,de;q=0.9,en;q=0.5"}
    for path in ("/", "/flights", "/aircraft", "/settings", f"/flights/{flight_of(flown)}/note"):
        page = flown.get(path, headers=german).text
        assert 'lang="de"' in page
        for english in ("Settings", "After the flight", "Devices", "Undo", "Save"):
            assert english not in page, (path, english)


def test_a_page_can_be_read_while_it_is_built_anew(flown: Browser) -> None:
    where = f"pages/flights/{flight_of(flown)}.html"
    assert flown.get(f"/{where}").status_code == 200
    undo(flown.desk.pages, [where.removeprefix("pages/")])  # as a build does before it writes a page
    assert flown.get(f"/{where}").status_code == 200
    (flown.desk.folder / where).unlink()
    assert flown.get(f"/{where}").status_code == 404
