import pytest
from made import draft, source

from analyser.core.aircraft import FuelNote, PackNote
from importers.refusal import Refusal
from spooldown import register
from spooldown.logbook.note import FlightNote
from spooldown.sheets.field import apply_sheet, blank_sheet

HEAD = "log_file,part,pack_rx1,fuel_before_main_ml,fuel_put_in_main_ml,charged_rx1_mah,cell_resistance_rx1_mohm,"
HEAD += "pack_temperature_rx1_c,air_temperature_c,layout,remarks\n"
GOOD = HEAD + 'day/heron.csv,2,a1,4000,2500.5,900,3.1/3.3,-2,18,first,"gusty, cold"\n,,,,,,,,,,\n'


@pytest.fixture
def book(heron):
    heron.add([source("day/heron.csv")], [draft(1), draft(2)], aircraft="Heron")
    return heron


def note(book, text, encoding="utf-8"):
    return apply_sheet(book, register.load(book), text.encode(encoding), "sheet.csv")


def test_a_row_is_noted(book):
    assert note(book, GOOD) == ["heron-2031-04-05-b"]
    assert book.notes() == {
        "heron-2031-04-05-b": FlightNote(
            packs={"rx1": "A1"},
            layout="first",
            fuel={"main": FuelNote(4000, 2500.5)},
            readings={"rx1": PackNote(charged_mah=900, cell_resistance_mohm=(3.1, 3.3), temperature_c=-2)},
            air_temperature_c=18,
            remarks="gusty, cold",
        )
    }


def test_a_measured_capacity_is_noted(book):
    note(book, "log_file,part,capacity_rx1_mah\nheron.csv,1,2480\n")
    assert book.notes()["heron-2031-04-05-a"].readings["rx1"].capacity_mah == 2480
    with pytest.raises(Refusal, match="a number from 1 to 100000 mAh"):
        note(book, "log_file,part,capacity_rx1_mah\nheron.csv,1,0\n")


def test_decimal_comma_and_semicolons(book):
    note(book, "log_file;part;charged_rx1_mah;remarks\r\nheron.csv;1;900,5;böig\r\n", "cp1252")
    kept = book.notes()["heron-2031-04-05-a"]
    assert kept.readings["rx1"].charged_mah == 900.5
    assert kept.remarks == "böig"


@pytest.mark.parametrize(
    ("old", "new", "line", "column", "says"),
    [
        ("a1", "A2", 2, "pack_rx1", "did you mean 'A1'"),
        ("4000", "four", 2, "fuel_before_main_ml", "a number from 0 to 100000 mL"),
        ("4000", "-4", 2, "fuel_before_main_ml", "a number from 0 to 100000 mL"),
        ("900", "nan", 2, "charged_rx1_mah", "expected a number"),
        ("heron.csv", "heran.csv", 2, "log_file", "did you mean 'heron.csv'"),
        (",2,", ",,", 2, "part", "holds 2 flights"),
        (",2,", ",7,", 2, "part", "one of 1, 2"),
        ("first", "frist", 2, "layout", "did you mean 'first'"),
        ("3.1/3.3", "3.1/x", 2, "cell_resistance_rx1_mohm", "expected a number"),
        ("remarks", "remark", 1, "remark", "expected 'remarks'"),
        ("4000", "3.5 L", 2, "fuel_before_main_ml", "expected a number"),
        ("4000", '"4,000"', 2, "fuel_before_main_ml", "expected a number"),
        ("-2", "-200", 2, "pack_temperature_rx1_c", "from -60 to 150 °C"),
        ("3.1/3.3", "3.1//3.3", 2, "cell_resistance_rx1_mohm", "expected a number"),
        ("fuel_before_main_ml", "fuel_before_mian_ml", 2, "fuel_before_mian_ml", "did you mean 'main'"),
        ("charged_rx1_mah", "charged_wing_mah", 2, "charged_wing_mah", "known here: rx1, ecu"),
        ("remarks", "layout", 1, "layout", "this column twice"),
        ("log_file", "file", 1, "file", "expected 'log_file'"),
    ],
)
def test_anything_wrong_notes_nothing(book, old, new, line, column, says):
    fine = "heron.csv,1,,1000,,,,,,,\n"
    with pytest.raises(Refusal) as refused:
        note(book, GOOD.replace(old, new, 1) + fine)
    assert says in str(refused.value)
    assert (refused.value.line, refused.value.column) == (line, column)
    assert book.notes() == {}


def test_one_flight_once(book):
    with pytest.raises(Refusal, match="second time"):
        note(book, GOOD + "heron.csv,2,,,,,,,,,\n")


def test_names_are_spelt_as_the_log_and_the_register_do(book):
    note(book, "log_file,part,pack_RX1,fuel_put_in_MAIN_ml\n" + "heron.csv,1,a1,2000\n")
    kept = book.notes()["heron-2031-04-05-a"]
    assert kept.packs == {"rx1": "A1"}
    assert set(kept.fuel) == {"main"}


def test_any_of_the_joined_files_finds_the_flight(book):
    added = book.add([source("radio.csv", "11"), source("day2/engine.csv", "12")], [draft()], aircraft="Heron")
    for name in ("radio.csv", "engine.csv", "day2/engine.csv", "/stick/day2/engine.csv"):
        assert note(book, f"log_file,remarks\n{name},x\n") == added


def test_a_blank_sheet_asks_for_what_the_log_and_the_aircraft_have(book):
    text = blank_sheet(book.flights(), register.load(book))
    head, *rows = text.splitlines()
    assert {"log_file", "part", "pack_rx1", "pack_ecu", "fuel_put_in_main_ml", "charged_rx1_mah"} <= set(
        head.split(",")
    )
    assert [row.rstrip(",") for row in rows] == ["day/heron.csv,1,Heron", "day/heron.csv,2,Heron"]
    assert note(book, text) == [f.flight_id for f in book.flights()]
    assert book.notes() == {}
    filled = text.replace("day/heron.csv,2,Heron,", "day/heron.csv,2,Heron,first")
    note(book, filled)
    assert book.notes()["heron-2031-04-05-b"].layout == "first"
