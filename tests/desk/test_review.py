"""The review of dropped logs: consequences of answers, units, two files on one clock, reading flights again."""

from __future__ import annotations

import math
import re
from pathlib import Path

import pytest

from analyser.core.aircraft import FuelNote
from spooldown.desk.review.consequences import track
from spooldown.desk.review.layouts import OFFERED_UNITS, units_for
from spooldown.logbook.note import FlightNote
from tests.desk.conftest import Browser


def csv(path: Path, header: str, rows: list[str]) -> Path:
    path.write_text("\n".join([header, *rows]) + "\n", "utf-8")
    return path


def flown_by_hand(seconds: int, seed: float = 0.0) -> list[float]:
    """A made-up signal that repeats nowhere within the record."""
    return [50 + 30 * math.sin((n + seed) / 17) + 12 * math.sin((n + seed) / 5.3) for n in range(seconds)]


def choices(page: str) -> dict[str, str]:
    """Each answer of the page's questions, with what stands in its label."""
    found = re.findall(
        r'<label class="choice"><input type="radio" name="answer:[^"]+" value="([^"]+)"[^>]*>(.*?)</label>', page
    )
    return dict(found)


def test_two_dates_are_shown_before_one_is_chosen(browser: Browser, tmp_path: Path) -> None:
    rows = [f"03/04/2026,10:{n // 60:02d}:{n % 60:02d},{7.4 + n / 1000:.3f}" for n in range(120)]
    page = browser.get(browser.drop(csv(tmp_path / "dates.csv", "Date,Time,RX1 Voltage (V)", rows))).text
    told = choices(page)
    assert "2026-04-03 10:00" in told["day-first"]
    assert "2026-03-04 10:00" in told["month-first"]
    assert "7.4" not in told["day-first"], "what is alike in all answers decides nothing"


def test_the_track_is_shown_on_either_reading(browser: Browser, tmp_path: Path) -> None:
    rows = [f"{n * 0.5},{47_100_000 + 3000 * n},{8_500_000 + 2000 * n},{7.5 - n / 1000:.3f}" for n in range(100)]
    page = browser.get(
        browser.drop(csv(tmp_path / "track.csv", "Time (s),Latitude,Longitude,RX1 Voltage (V)", rows))
    ).text
    told = choices(page)
    if not told:
        pytest.fail("the importer asked nothing; give it a log that leaves the unit open")
    assert all("reaches" in words and "<svg" in words for words in told.values())
    assert len(set(told.values())) == len(told)


def test_a_track_is_drawn_to_scale() -> None:
    """A degree of latitude is 111.2 km on a sphere of 6,371 km."""
    import numpy as np

    picture = track(np.array([47.0, 47.001, np.nan]), np.array([8.0, 8.0, 8.0]))
    assert "reaches 111 m across" in picture.replace("\u00a0", " ")
    assert track(np.array([np.nan, 47.0]), np.array([8.0, 8.0])) == ""


def test_units_are_offered_by_kind() -> None:
    assert {"V", "mV", "0.01 V"} <= set(units_for("pack.rx1.voltage_v"))
    assert not {"A", "m", "°C"} & set(units_for("pack.rx1.voltage_v"))
    assert {"°C", "°F"} <= set(units_for("engine.left.egt_c"))
    assert {"m", "ft"} <= set(units_for("position.altitude_m"))
    assert units_for("extra.what") == ()
    assert set(units_for("engine.left.speed_rpm")) < set(OFFERED_UNITS)


def settled(browser: Browser, where: str, **more: str) -> str:
    answer = browser.post(where, more)
    assert answer.status_code == 303, answer.text
    return browser.get(where).text


def mark_in(page: str) -> str:
    found = re.search(r'name="column:([^:]+):', page)
    assert found
    return found[1]


def test_a_unit_is_put_right_before_import(browser: Browser, tmp_path: Path) -> None:
    rows = [f"{n},{7400 - n},{n % 7}" for n in range(200)]
    where = browser.drop(csv(tmp_path / "mv.csv", "Time (s),RX1 Batt,Other", rows))
    mark = mark_in(browser.get(where).text)
    said = {f"column:{mark}:RX1 Batt": "pack.rx1.voltage_v", f"unit:{mark}:RX1 Batt": "mV"}
    page = settled(browser, where, **said)
    assert 'value="mV"' in page
    told = browser.finished(browser.post(where, {**said, "import": "1"}))
    assert told["failed"] == []
    with browser.desk.book() as book:
        (flight,) = book.flights()
        values = book.telemetry(flight.flight_id).series("pack.rx1.voltage_v").values
        assert values[0] == pytest.approx(7.4)
        assert book.answers(flight.flight_id)["unit of RX1 Batt"] == "mV"


@pytest.mark.parametrize(
    ("kind", "typed", "says"),
    [("column", "pack.rx1.voltag_v", "pack.rx1.voltage_v"), ("unit", "qqq/zz", "a unit such as")],
)
def test_a_wrong_channel_or_unit_is_told(browser: Browser, tmp_path: Path, kind: str, typed: str, says: str) -> None:
    rows = [f"{n},{7400 - n}" for n in range(50)]
    where = browser.drop(csv(tmp_path / "x.csv", "Time (s),RX1 Batt", rows))
    mark = mark_in(browser.get(where).text)
    answer = browser.post(where, {f"{kind}:{mark}:RX1 Batt": typed})
    assert answer.status_code == 422
    assert says in answer.text
    assert "RX1 Batt" in browser.get(where).text


def test_two_files_of_one_flight_are_laid_over_each_other(browser: Browser, tmp_path: Path) -> None:
    signal, late = flown_by_hand(600), 37
    one = csv(
        tmp_path / "a.csv", "Time (s),Throttle (%),RX1 Voltage (V)", [f"{n},{v:.3f},7.4" for n, v in enumerate(signal)]
    )
    two = csv(
        tmp_path / "b.csv", "Time (s),Throttle (%),EGT (°C)",
        [f"{n},{v:.3f},{400 + v:.1f}" for n, v in enumerate(signal[late:500])],
    )  # fmt: skip
    where = browser.drop(one, two)
    page = browser.get(f"{where}/together")
    assert page.status_code == 200, page.text
    offset = re.search(r'name="offset:0" value="([-0-9.]+)"', page.text)
    assert offset
    assert float(offset[1]) == pytest.approx(late, abs=0.2)
    assert page.text.count('class="overlay"') >= 1
    bad = browser.post(f"{where}/together", {"offset:0": "soon"})
    assert bad.status_code == 422
    assert "is no number of seconds" in bad.text
    assert browser.post(f"{where}/together", {"offset:0": "36,5"}).status_code == 303
    assert 'name="offset:0" value="36.5"' in browser.get(f"{where}/together").text
    told = browser.finished(browser.post(f"{where}/together", {"offset:0": "37", "import": "1"}))
    assert told["failed"] == []
    with browser.desk.book() as book:
        (flight,) = book.flights()
        egt = book.telemetry(flight.flight_id).series(next(c for c in flight.channels if c.endswith("egt_c")))
    assert egt.time_s[0] == pytest.approx(37.0)


def test_one_file_alone_is_laid_over_nothing(browser: Browser, tmp_path: Path) -> None:
    where = browser.drop(csv(tmp_path / "a.csv", "Time (s),RX1 Voltage (V)", [f"{n},7.4" for n in range(60)]))
    page = browser.get(f"{where}/together")
    assert page.status_code == 422
    assert "drop both together" in page.text


def test_a_flight_is_read_again_with_other_columns(browser: Browser, tmp_path: Path) -> None:
    log = csv(tmp_path / "log.csv", "Time (s),RX1 Voltage (V),Mystery", [f"{n},7.4,{n}" for n in range(200)])
    first = browser.drop(log)
    assert browser.finished(browser.post(first, {"import": "1"}))["failed"] == []
    with browser.desk.book() as book:
        (flight,) = book.flights()
        assert "fuel.main.used_ml" not in flight.channels
        book.note({flight.flight_id: FlightNote(fuel={"main": FuelNote(put_in_ml=5.0)})})
    where = browser.drop(log)
    assert "Look at its columns again" in browser.get(where).text
    page = settled(browser, where, again="0")
    assert "reads them again" in page
    mark = mark_in(page)
    said = {f"column:{mark}:Mystery": "fuel.main.used_ml", f"unit:{mark}:Mystery": "mL"}
    told = browser.finished(browser.post(where, {**said, "import": "1"}))
    assert told["failed"] == []
    assert any("read again" in line for line in told["lines"])
    with browser.desk.book() as book:
        (again,) = book.flights()
        assert again.flight_id == flight.flight_id
        assert "fuel.main.used_ml" in again.channels
        assert book.notes()[flight.flight_id].fuel == {"main": FuelNote(put_in_ml=5.0)}


def test_columns_are_remembered_for_the_next_file(browser: Browser, tmp_path: Path) -> None:
    rows = [f"{n},{7400 - n},7.5" for n in range(120)]
    where = browser.drop(csv(tmp_path / "one.csv", "Time (s),Front thing,RX2 Voltage (V)", rows))
    mark = mark_in(browser.get(where).text)
    said = {
        f"column:{mark}:Front thing": "pack.rx1.voltage_v", f"unit:{mark}:Front thing": "mV",
        f"remember:{mark}": "My logger", "import": "1",
    }  # fmt: skip
    told = browser.finished(browser.post(where, said))
    assert told["failed"] == []
    assert any("My logger" in line for line in told["lines"])
    page = browser.get(
        browser.drop(csv(tmp_path / "two.csv", "Time (s),Front thing,RX2 Voltage (V)", [*rows[5:], "200,7000,7.4"]))
    ).text
    assert 'placeholder="pack.rx1.voltage_v"' in page


def test_a_log_of_which_nothing_is_recognised_is_told_column_by_column(browser: Browser, tmp_path: Path) -> None:
    log = csv(tmp_path / "odd.csv", "Time (s),Front thing,Rear thing", [f"{n},{7400 - n},{n % 5}" for n in range(120)])
    where = browser.drop(log)
    page = browser.get(where).text
    assert "No column of this file is recognised" in page
    told = browser.finished(browser.post(where, {"import": "1"}))
    assert len(told["failed"]) == 1
    assert "odd.csv" in told["failed"][0]
    mark = mark_in(page)
    said = {f"column:{mark}:Front thing": "pack.rx1.voltage_v", f"unit:{mark}:Front thing": "mV"}
    assert "No column of this file" not in settled(browser, where, **said)
    assert browser.finished(browser.post(where, {**said, "import": "1"}))["failed"] == []
    with browser.desk.book() as book:
        (flight,) = book.flights()
    assert "pack.rx1.voltage_v" in flight.channels
