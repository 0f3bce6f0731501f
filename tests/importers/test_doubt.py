"""Data that could enter wrongly: asked, refused or left out with its line, never taken quietly."""

import io

import numpy as np
import pytest

from importers.plan import plan
from importers.read import read


def drafts(text, **answers):
    data = text.encode()
    p = plan(io.BytesIO(data), name="log.csv", answers={k.replace("__", "."): v for k, v in answers.items()})
    return [(d.telemetry(), d) for d in read(p)]


def one(text, **answers):
    ((telemetry, draft),) = drafts(text, **answers)
    return telemetry, draft.notices


def asked(text):
    return [q.key for q in plan(io.BytesIO(text.encode()), name="log.csv").questions]


def table(heading, values, more=""):
    head = f"time (s),{heading}{more}\n"
    return head + "".join(f"{i / 10:.1f},{v}{',1' if more else ''}\n" for i, v in enumerate(values))


FALLING = [3000 - i for i in range(30)]


def test_fuel_left_is_asked_unless_there_is_a_right():
    text = table("Fuel left (mL)", FALLING)
    assert asked(text) == ["meaning.fuel_left_ml"]
    assert one(text, meaning__fuel_left_ml="remaining")[0].channels == ("fuel.main.remaining_ml",)
    assert one(text, meaning__fuel_left_ml="left-side")[0].channels == ("fuel.left.remaining_ml",)
    assert asked(table("Fuel left (mL)", FALLING, ",Fuel right (mL)")) == []
    assert asked(table("Tank links (mL)", FALLING)) == []


def test_a_charge_that_falls_is_no_charge_used():
    text = table("Rx1 capacity (mAh)", FALLING, ",Rx1 RSSI (dBm)")
    assert one(text)[0].channels == ("link.rx1.rssi_dbm",)
    rising = table("Rx1 capacity (mAh)", FALLING[::-1])
    assert one(rising)[0].channels == ("pack.rx1.used_mah",)


def test_what_has_no_unit_is_said_aloud():
    _, notices = one(table("Throttle", range(30)))
    assert any("'Throttle'" in n and "taken as %" in n for n in notices)


def test_ragged_rows_are_named_by_line():
    lines = table("Rx1 RSSI (dBm)", [-60] * 40).splitlines()
    lines[7] = "0.6"
    lines[20] = "1.9,-60,17,4"
    telemetry, notices = one("\n".join(lines) + "\n")
    assert telemetry.time_s.size == 38
    assert any("2 row(s)" in n and "line 8, 21" in n for n in notices)


def test_a_column_that_stops_being_numbers_is_named_with_line_and_count():
    values = ["8.1"] * 20 + ["ERR"] * 3 + ["8.1"] * 20
    telemetry, notices = one("# a remark\n" + table("Rx1 voltage (V)", values, ",Rx1 RSSI (dBm)"))
    assert telemetry.series("pack.rx1.voltage_v").values.size == 40
    assert telemetry.series("link.rx1.rssi_dbm").values.size == 43
    assert any("3 cell(s) of column 'Rx1 voltage (V)'" in n and "'ERR' in line 23" in n for n in notices)


@pytest.mark.parametrize(("last", "kept"), [
    ("3.0,7.412", True), ("3.0,7.4", False), ("3.0,", True), ("3.0", False), ("3", False), ("3.0,7.412\n", True),
])  # fmt: skip
def test_a_last_line_that_may_be_cut_is_left_out_and_said(last, kept):
    text = table("Rx1 voltage (V)", ["7.412"] * 30) + last
    telemetry, notices = one(text)
    assert telemetry.time_s.size == 30 + kept
    assert any("line 32" in n for n in notices) is not kept


def test_a_cut_whole_number_is_left_out():
    telemetry, notices = one(table("EGT (°C)", [500 + i for i in range(30)]) + "3.0,53")
    assert telemetry.time_s.size == 30
    assert any("cut" in n for n in notices)


def test_rows_of_one_stamp_that_fill_different_columns_become_one():
    text = "time (ms),Rx1 RSSI (dBm),Rx1 voltage (V)\n"
    text += "".join(f"{i * 100},-60,\n{i * 100},,7.4\n" for i in range(30))
    telemetry, notices = one(text)
    np.testing.assert_allclose(telemetry.time_s, np.arange(30) / 10)
    assert telemetry.series("link.rx1.rssi_dbm").values.size == 30
    assert telemetry.series("pack.rx1.voltage_v").values.size == 30
    assert any("30 row(s)" in n for n in notices)


def test_rows_of_one_stamp_that_fill_the_same_column_are_spread():
    text = "time (s),Rx1 RSSI (dBm),Rx1 voltage (V)\n"
    text += "".join(f"{i // 5},-60,{'7.4' if i % 5 == 0 else ''}\n" for i in range(100))
    telemetry, _ = one(text)
    np.testing.assert_allclose(telemetry.time_s, np.arange(100) / 5)


def test_states_and_texts_in_a_long_table():
    text = "time_s,sensor,value\n"
    for i in range(30):
        text += f"{i / 10},RSSI rx1 (dBm),-6{i % 10}\n"
        if i % 5 == 0:
            text += f"{i / 10},Gear down,{'on' if i > 9 else 'off'}\n{i / 10},Mode,{'idle' if i < 9 else 'run'}\n"
    telemetry, _ = one(text)
    assert telemetry.series("link.rx1.rssi_dbm").values.size == 30
    assert telemetry.series("control.gear").values.tolist() == [0, 0, 1, 1, 1, 1]
    kept = [v for v in telemetry.table.column("extra.mode").to_pylist() if v]
    assert kept == ["idle"] * 2 + ["run"] * 4


def test_a_word_among_a_long_tables_numbers_is_said():
    text = "time_s,sensor,value\n"
    for i in range(30):
        text += f"{i / 10},RSSI rx1 (dBm),{'lost' if i == 20 else -60}\n{i / 10},Gear down,{'on' if i > 9 else 'off'}\n"
    telemetry, notices = one(text)
    assert telemetry.series("link.rx1.rssi_dbm").values.size == 29
    assert any("'lost'" in n for n in notices)
