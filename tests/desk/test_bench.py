"""The bench on the desk: every procedure's form, readings from a log, slips told in a sentence, taken back."""

from __future__ import annotations

from pathlib import Path

import pytest

from analyser.bench.procedures import Procedure
from spooldown import register
from spooldown.bench.kept import bench_records
from tests.desk.conftest import Browser
from tests.spooldown.made import draft, source

LOADS = "Time (s),R1 Voltage (V),R1 Current (A)\n" + "".join(
    f"{i / 10:.1f},{8.2 - 0.05 * (a := 0.6 if i < 120 else 3.0):.3f},{a}\n" for i in range(200)
)


@pytest.fixture
def browser(browser: Browser) -> Browser:
    with browser.desk.book() as book:
        text = register.EXAMPLE.replace('name = "A1"\nrole = "rx1"', 'name = "R1"\nrole = "r1"')
        register.add(book, text.encode(), "heron.toml")
    return browser


def test_every_procedure_has_a_form(browser: Browser) -> None:
    assert browser.get("/bench").status_code == 200
    for procedure in Procedure:
        page = browser.get(f"/bench/{procedure.value}")
        assert page.status_code == 200
        assert 'name="remarks"' in page.text
    assert browser.get("/bench/juggling").status_code == 404


def test_what_it_is_about_is_chosen_from_what_is_described(browser: Browser) -> None:
    assert 'value="Heron/main"' in browser.get("/bench/flow").text
    assert 'value="/R1"' in browser.get("/bench/load").text
    assert 'value="Heron/"' in browser.get("/bench/supply").text
    typed = {"subject": "Heron/main", "measured_ml": "500", "sensor_ml": "520"}
    assert browser.post("/bench/flow", typed).status_code == 303
    with browser.desk.book() as book:
        (record,) = bench_records(book).values()
    assert (record.aircraft, record.subject) == ("Heron", "main")


def test_typed_kept_shown_and_taken_back(browser: Browser) -> None:
    typed = {"aircraft": "Heron", "of": "main", "measured_ml": "500", "sensor_ml": "520"}
    assert browser.post("/bench/flow", typed).status_code == 303
    page = browser.get("/bench").text
    assert "0.962" in page
    assert browser.post("/bench/records/1/remove").status_code == 303
    with browser.desk.book() as book:
        assert bench_records(book) == {}
    change = browser.get("/bench").text.partition('name="change" value="')[2].partition('"')[0]
    assert browser.post("/undo", {"change": change}).status_code == 303
    with browser.desk.book() as book:
        assert list(bench_records(book)) == ["1"]


def test_readings_come_from_the_log_recorded_meanwhile(browser: Browser, tmp_path: Path) -> None:
    log = tmp_path / "loads.csv"
    log.write_text(LOADS)
    done = browser.client.post(
        "/bench/load", data={"token": browser.token, "aircraft": "Heron", "of": "R1"},
        files={"log": ("loads.csv", log.read_bytes())},
    )  # fmt: skip
    assert done.status_code == 303, done.text
    with browser.desk.book() as book:
        (record,) = bench_records(book).values()
    assert record.log == "loads.csv"
    assert set(record.read) == set(record.values)
    assert record.value("second_a") == pytest.approx(3.0, abs=0.01)
    assert "50.0" in browser.get("/bench").text


@pytest.mark.parametrize(
    ("path", "typed", "said"),
    [
        ("flow", {"aircraft": "Heron", "of": "main", "measured_ml": "half"}, "write a number in mL"),
        ("flow", {"aircraft": "Heron", "of": "mian", "measured_ml": "500"}, "did you mean"),
        ("flow", {"aircraft": "Heron", "of": "main", "sensor_ml": "500"}, "measured volume: this reading is needed"),
        ("flow", {"of": "main", "measured_ml": "500"}, "say whose it is"),
        ("supply", {"aircraft": "Heron", "lowest_v": "-4"}, "outside all sense"),
        ("priming", {"aircraft": "Heron", "of": "main", "volume_ml": "500", "leaks": "gushes"}, "choose one of"),
        ("supply", {"aircraft": "Heron", "lowest_v": "6", "day": "2999-01-01"}, "has yet to come"),
        ("supply", {"aircraft": "Heron", "lowest_v": "6", "colour": "blue"}, "takes no"),
    ],
)
def test_a_slip_is_told_and_nothing_typed_is_lost(
    browser: Browser, path: str, typed: dict[str, str], said: str
) -> None:
    page = browser.post(f"/bench/{path}", typed)
    assert page.status_code == 422
    assert said in page.text
    for name, value in typed.items():
        if name in ("measured_ml", "lowest_v"):
            assert f'value="{value}"' in page.text
    with browser.desk.book() as book:
        assert bench_records(book) == {}


def test_a_log_that_is_none_is_refused_in_a_sentence(browser: Browser) -> None:
    done = browser.client.post(
        "/bench/load", data={"token": browser.token, "aircraft": "Heron", "of": "R1"},
        files={"log": ("notes.csv", b"this is no log at all")},
    )  # fmt: skip
    assert done.status_code == 422
    assert "Traceback" not in done.text


def test_without_its_token_nothing_is_kept(browser: Browser) -> None:
    assert browser.client.post("/bench/supply", data={"aircraft": "Heron", "lowest_v": "6"}).status_code == 403


def test_a_checklist_is_written_and_ticked(browser: Browser) -> None:
    page = browser.get("/checklist/Heron").text
    assert "common practice, without a source" in page
    assert browser.get("/checklist/Gull").status_code == 404
    wrong = browser.post("/checklist/Heron", {"items": "Tanks full\nTanks full"})
    assert (wrong.status_code, "is there twice" in wrong.text) == (422, True)
    assert browser.post("/checklist/Heron", {"items": "Tanks full\nHatches locked"}).status_code == 303
    with browser.desk.book() as book:
        (flight,) = book.add([source()], [draft()], aircraft="Heron")
    assert browser.get(f"/flights/{flight}/checklist").text.count('type="checkbox"') == 2
    assert browser.post(f"/flights/{flight}/checklist", {"item": ["Tanks full"]}).status_code == 303
    assert browser.get(f"/flights/{flight}/checklist").text.count(" checked") == 1
    assert browser.get("/flights/none/checklist").status_code == 404
