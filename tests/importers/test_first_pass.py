"""What a long file shows only beyond its first lines: late columns, late sensors, late units."""

import io

import pytest

from importers.plan import plan
from importers.read import read
from importers.refusal import Refusal

ROWS = 60_000
SMALL = 8_000
"""Rows of a file that is small, but not so small that all its lines are looked at."""


def one(text, **answers):
    ((telemetry, draft),) = [(d.telemetry(), d) for d in read(plan(io.BytesIO(text.encode()), answers=answers))]
    return telemetry, list(map(str, draft.notices))


def wide(heading, value, rows=ROWS):
    return f"time (s),Rx1 RSSI (dBm),{heading}\n" + "".join(
        f"{i / 100:.2f},-60,{value(i) if i > rows * 2 // 3 else ''}\n" for i in range(rows)
    )


@pytest.mark.parametrize("rows", [SMALL, ROWS])
def test_a_column_that_fills_late_is_judged_by_its_values(rows):
    telemetry, _ = one(wide("Gear", lambda i: "down" if i % 2 else "up", rows))
    assert telemetry.table.column("control.gear").to_pylist()[-2:] == [False, True]
    telemetry, notices = one(wide("Mode", lambda _: "hover", rows))
    assert telemetry.table.column("extra.mode").to_pylist()[-1] == "hover"
    assert not any("could not be read" in n for n in notices)
    telemetry, _ = one(wide("EGT", lambda i: f"{500 + i % 5} °C", rows))
    assert telemetry.table.column("engine.main.egt_c").to_pylist()[-1] == 500.0 + (rows - 1) % 5


def test_a_column_that_is_empty_throughout_a_long_file_is_dropped():
    telemetry, notices = one(wide("Mode", lambda _: ""))
    assert telemetry.channels == ("link.rx1.rssi_dbm",)
    assert any("'Mode' holds no value" in n for n in notices)


def long(sensor, value, unit="V", rows=ROWS):
    cells = [("Rx1 batt", "7.4", "V"), ("Rx1 RSSI", "-60", "dBm")]
    late = [*cells, (sensor, value, unit)]
    return "time (s),sensor,value,unit\n" + "".join(
        f"{i / 100:.2f},{','.join(late[i % 3] if i > rows * 2 // 3 else cells[i % 2])}\n" for i in range(rows)
    )


@pytest.mark.parametrize("rows", [SMALL, ROWS])
def test_a_sensor_that_comes_late_is_judged_by_its_values(rows):
    telemetry, _ = one(long("Gear", "down", "", rows))
    assert set(telemetry.table.column("control.gear").drop_null().to_pylist()) == {True}


@pytest.mark.parametrize("rows", [SMALL, ROWS])
def test_a_unit_that_changes_late_is_refused(rows):
    with pytest.raises(Refusal, match="'Rx1 batt' in two units, 'V' and 'mV'"):
        one(long("Rx1 batt", "7400", "mV", rows))
