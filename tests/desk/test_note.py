"""After the flight: charge left, every reading kept as it was written, what the form did not hold left alone."""

from __future__ import annotations

import re

import pytest

from analyser.core.aircraft import PackNote
from spooldown.desk.views.flights import written_plain
from spooldown.logbook.note import FlightNote
from spooldown.programme.snags import all_snags
from tests.desk.conftest import Browser, flight_of
from tests.desk.test_aircraft_form import form_in


def test_every_reading_goes_through_the_form_unchanged(flown: Browser) -> None:
    flight_id = flight_of(flown)
    where = f"/flights/{flight_id}/note"
    note = FlightNote(
        readings={"rx1": PackNote(512.25, 61.5, (30.125, 31.0), 24.5, 2480.0)},
        pilot_latitude_deg=47.1234567, pilot_longitude_deg=-8.7654321, pilot_altitude_m=431.5,
    )  # fmt: skip
    with flown.desk.book() as book:
        book.note({flight_id: note})
    form = form_in(flown.get(where).text)
    assert form["cell_resistance_rx1_mohm"] == "30.125/31"
    assert form["pilot_latitude_deg"] == "47.1234567"
    radios = {"pack_rx1": "", "pack_rx2": "", "pack_ecu_left": "", "pack_ecu_right": "", "layout": ""}
    assert flown.post(where, {**form, **radios, "remarks": "calm"}).status_code == 303
    with flown.desk.book() as book:
        kept = book.notes()[flight_id]
    assert kept.readings == note.readings
    assert (kept.pilot_latitude_deg, kept.pilot_longitude_deg) == (47.1234567, -8.7654321)
    assert kept.remarks == "calm"
    again = form_in(flown.get(where).text)
    assert flown.post(where, {**again, **radios, "cell_resistance_rx1_mohm": ""}).status_code == 303
    with flown.desk.book() as book:
        assert book.notes()[flight_id].readings["rx1"].cell_resistance_mohm == ()


def test_what_a_form_did_not_hold_stays(flown: Browser) -> None:
    flight_id = flight_of(flown)
    with flown.desk.book() as book:
        book.note({flight_id: FlightNote(readings={"rx2": PackNote(capacity_mah=2500.0)}, pilot_altitude_m=12.0)})
    assert flown.post(f"/flights/{flight_id}/note", {"remarks": "short"}).status_code == 303
    with flown.desk.book() as book:
        kept = book.notes()[flight_id]
    assert kept.readings["rx2"].capacity_mah == 2500.0
    assert kept.pilot_altitude_m == 12.0


def test_numbers_are_written_without_loss() -> None:
    assert written_plain(47.1234567) == "47.1234567"
    assert written_plain((12.5, 13.0)) == "12.5/13"
    assert [written_plain(v) for v in (None, "", (), 0.0)] == ["", "", "", "0"]


@pytest.mark.builds
def test_the_buttons_show_what_is_left(flown: Browser) -> None:
    flight_id = flight_of(flown)
    where = f"/flights/{flight_id}/note"
    assert flown.post(where, {"pack_rx1": "R1", "pack_rx2": "R2", "charged_rx2_mah": "480"}).status_code == 303
    flown.finished(flown.post("/build"))
    page = flown.get(where).text
    shown = dict(re.findall(r'value="(R\d)" data-usual="[^"]*"[^>]*> <span>.*?<small>([^<]+)</small>', page))
    assert re.fullmatch(r"\d+\D+%\D* left on 2026-04-18", shown["R1"]), shown
    assert shown["R2"] == "put on the charger since its last flight"


def test_a_snag_is_written_down_with_the_note_and_taken_back_with_it(flown: Browser) -> None:
    flight_id = flight_of(flown)
    where = f"/flights/{flight_id}/note"
    assert flown.post(where, {"remarks": "calm", "snag": "Left main gear slow"}).status_code == 303
    with flown.desk.book() as book:
        (snag,) = all_snags(book)
        assert (snag.title, snag.flight_id) == ("Left main gear slow", flight_id)
    change = re.search(r'name="change" value="([^"]+)"', flown.get(where).text)
    assert change
    assert flown.post("/undo", {"change": change[1]}).status_code == 303
    with flown.desk.book() as book:
        assert all_snags(book) == []
    wrong = flown.post(where, {"snag": "Left main gear slow", "air_temperature_c": "warm"})
    assert (wrong.status_code, "Left main gear slow" in wrong.text) == (422, True)
    with flown.desk.book() as book:
        assert all_snags(book) == []
