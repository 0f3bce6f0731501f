"""Data that could enter wrongly: asked, refused or left out with its line, never taken quietly."""

import io

import numpy as np
import pytest

from importers.plan import plan
from importers.read import read
from importers.refusal import Refusal


def drafts(text, **answers):
    data = text if isinstance(text, bytes) else text.encode()
    p = plan(io.BytesIO(data), name="log.csv", answers={k.replace("__", "."): v for k, v in answers.items()})
    return [(d.telemetry(), d) for d in read(p)]


def one(text, **answers):
    ((telemetry, draft),) = drafts(text, **answers)
    return telemetry, list(map(str, draft.notices))


def asked(text):
    return [q.key for q in plan(io.BytesIO(text.encode()), name="log.csv").questions]


def table(heading, values, more=""):
    head = f"time (s),{heading}{more}\n"
    beside = (lambda i: f",{-60 - i % 5}") if "RSSI" in more else (lambda i: f",{2990 - i}")
    return head + "".join(f"{i / 10:.1f},{v}{beside(i) if more else ''}\n" for i, v in enumerate(values))


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


def test_ragged_rows_that_are_no_utf8_are_named_by_line():
    lines = table("Rx1 RSSI (dBm)", [-60] * 60_000).encode().splitlines()  # the first half million bytes tell UTF-8
    for n in (59_001, 59_101):
        lines[n - 1] += b",\xb0C"
    telemetry, notices = one(b"\n".join(lines) + b"\n")
    assert telemetry.time_s.size == 59_998
    assert any("2 row(s)" in n and "line 59001, 59101" in n for n in notices)


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


def refused(text, **answers):
    with pytest.raises(Refusal) as caught:
        drafts(text, **answers)
    return str(caught.value)


def test_a_clock_that_stands_still_tells_no_time():
    text = "Clock,Rx1 RSSI (dBm)\n" + "".join(f"00:00:00,{-60 - i % 5}\n" for i in range(400))
    assert "'Clock': found a clock that stands still" in refused(text)
    text = text.replace("Clock", "t (s)").replace("00:00:00", "0")
    assert "'t (s)': found a clock that stands still" in refused(text)


def test_a_clock_that_stands_still_for_a_while_is_spread_up_to_where_it_goes_on():
    stamps = [i // 10 if not 100 <= i < 200 else 10 for i in range(400)]
    telemetry, _ = one("time (s),Rx1 RSSI (dBm)\n" + "".join(f"{s},-60\n" for s in stamps))
    np.testing.assert_allclose(telemetry.time_s, np.arange(400) / 10, atol=1e-9)


def test_decimal_commas_beside_decimal_points_are_refused_with_both_named():
    text = "time (s);Rx1 Voltage (V);Ratio\n" + "".join(f"{i},5;7,{40 + i};1.{25 + i}\n" for i in range(40))
    said = refused(text)
    assert "'0,5' in column 'time (s)'" in said
    assert "'1.25' in column 'Ratio'" in said


def test_a_number_without_end_is_left_empty_and_counted():
    telemetry, notices = one(table("Rx1 voltage (V)", ["7.4"] * 20 + ["Inf", "-inf", "1e999"] + ["7.4"] * 20))
    assert telemetry.series("pack.rx1.voltage_v").values.tolist() == [7.4] * 40
    assert any("3 cell(s) of column 'Rx1 voltage (V)'" in n and "'Inf' in line 22" in n for n in notices)


def test_numbers_too_long_for_a_number_are_kept_as_they_are_written():
    telemetry, _ = one(table("Id", [2**63 + i for i in range(30)], ",Rx1 RSSI (dBm)"))
    assert telemetry.table.column("extra.id").to_pylist() == [str(2**63 + i) for i in range(30)]


def test_single_letters_are_no_states():
    telemetry, _ = one(table("Fix", ["N"] * 30, ",Rx1 RSSI (dBm)"))
    assert set(telemetry.table.column("extra.fix").to_pylist()) == {"N"}


def test_text_under_a_known_heading_is_said():
    _, notices = one(table("Rx1 voltage (V)", ["0x1F"] * 30, ",Rx1 RSSI (dBm)"))
    assert any("'Rx1 voltage (V)' holds text" in n and "'0x1F'" in n for n in notices)
    assert "column 'Rx1 voltage (V)': found text ('0x1F'" in refused(table("Rx1 voltage (V)", ["0x1F"] * 30))


def test_a_header_and_unit_row_that_come_again_cost_no_row():
    text = "time,Rx1 RSSI\ns,dBm\n0,-60\n1,-61\ntime,Rx1 RSSI\ns,dBm\n2,-62\n3,-60\n4,-60\n"
    telemetry, _ = one(text)
    assert telemetry.time_s.tolist() == [0, 1, 2, 3, 4]


@pytest.mark.parametrize(("letters", "sign"), [("SW", -1), ("NE", 1)])
def test_letters_say_which_hemisphere(letters, sign):
    text = "time (s),Latitude,N/S,Longitude,E/W\n"
    text += "".join(f"{i},33.85{i:02d},{letters[0]},151.2{i:02d},{letters[1]}\n" for i in range(40))
    telemetry, notices = one(text)
    assert telemetry.series("position.latitude_deg").values[7] == sign * 33.8507
    assert telemetry.series("position.longitude_deg").values[7] == sign * 151.207
    assert any("'N/S'" in n for n in notices)


def test_letters_say_nothing_where_the_degrees_have_their_signs():
    text = "time (s),Latitude,Longitude,E/W\n" + "".join(
        f"{i},{51.5 + i / 1000},{(i - 20) / 100},E\n" for i in range(40)
    )
    telemetry, _ = one(text)
    assert telemetry.series("position.longitude_deg").values[0] == -0.2


def test_known_headings_without_values_are_named():
    assert "no value under 'Rx1 RSSI (dBm)', 'EGT (°C)'" in refused(
        "time (s),Rx1 RSSI (dBm),EGT (°C)\n" + "".join(f"{i},,n/a\n" for i in range(20))
    )


def test_columns_without_headings_are_called_by_their_number():
    _, notices = one("time (s),,Rx1 RSSI (dBm),\n" + "".join(f"{i},abc,-60,\n" for i in range(20)))
    assert any("column 2 (without a heading) holds text" in n for n in notices)


@pytest.mark.parametrize("minus", ["\u2212", "\u2013"])
def test_a_printed_minus_is_a_minus(minus):
    telemetry, _ = one(table("Vario (m/s)", [f"{minus}1.5"] * 20))
    assert telemetry.series("motion.vario_m_s").values.tolist() == [-1.5] * 20
