"""One set of columns for each receiver or pack: by group names above the headings, or by a column that says whose."""

import io

import numpy as np
import pytest

from importers.plan import plan
from importers.read import read
from importers.refusal import Refusal


def drafts(text):
    data = text.encode()
    return [(d.telemetry(), d) for d in read(plan(io.BytesIO(data), name="log.csv"))]


@pytest.mark.parametrize("units", ["", "s,dBm,V,dBm,V\n"])
def test_group_names_above_the_headings(units):
    text = "# made up\n,Rx 1,,Rx 2,\nTime (s),RSSI (dBm),Voltage (V),RSSI (dBm),Voltage (V)\n" + units
    text += "".join(f"{i / 10},-6{i % 10},7.4,-7{i % 10},7.9\n" for i in range(30))
    ((telemetry, _),) = drafts(text)
    assert set(telemetry.channels) == {
        "link.rx1.rssi_dbm", "link.rx2.rssi_dbm", "pack.rx1.voltage_v", "pack.rx2.voltage_v",
    }  # fmt: skip
    assert telemetry.series("pack.rx2.voltage_v").values.tolist() == [7.9] * 30
    assert telemetry.series("link.rx2.rssi_dbm").values[3] == -73


@pytest.mark.parametrize("groups", [
    (",Engine L,,Engine R,,Pack Rx 1,", "engine.left", "engine.right", "pack.rx1"),
    (";Triebwerk links;;Triebwerk rechts;;Akku Empf. 2;", "engine.left", "engine.right", "pack.rx2"),
])  # fmt: skip
def test_short_names_below_groups_are_headings_and_no_units(groups):
    above, *parts = groups
    mark = above[0]
    rows = [["time (s)", "RPM", "EGT °C", "RPM", "EGT °C", "V", "A"]]
    rows += [[f"{i / 10}", 90_000 + i * 10, 520 + i % 9, 91_000 + i * 11, 530 + i % 7, 7.9, 1.2] for i in range(60)]
    text = above + "\n" + "\n".join(mark.join(map(str, r)) for r in rows)
    channels = {c.channel for c in plan(io.BytesIO(text.encode()), name="log.csv").columns}
    assert channels == {"time_s", *(f"{p}.{q}" for p in parts[:2] for q in ("speed_rpm", "egt_c")),
                        f"{parts[2]}.voltage_v", f"{parts[2]}.current_a"}  # fmt: skip


@pytest.mark.parametrize("spans", ["0..999,0..150,0..1000,0..9", "0…999,0…150,-40…+1000,0…9",
                                   "0-999 s,0-150 krpm,0-1000 C,0-9 V"])  # fmt: skip
def test_a_row_of_ranges_below_the_units_is_no_header(spans):
    text = f"Time,Rotor speed,Exhaust temp,Rx pack 1\ns,krpm,degC,V\n{spans}\n"
    text += "".join(f"{i / 10:.1f},{90 + i % 7 / 10:.2f},{520 + i % 9},7.{90 - i % 5}\n" for i in range(60))
    p = plan(io.BytesIO(text.encode()), name="log.csv")
    assert {c.heading: c.channel for c in p.columns} == {
        "Time": "time_s", "Rotor speed": "engine.main.speed_rpm", "Exhaust temp": "engine.main.egt_c",
        "Rx pack 1": "pack.rx1.voltage_v",
    }  # fmt: skip
    assert p.dialect.unit_row == ("s", "krpm", "degC", "V")


@pytest.mark.parametrize(("heading", "ids", "names"), [
    ("receiver", ("1", "2"), ("rx1", "rx2")), ("Rx Nr", ("Rx1", "Rx2"), ("rx1", "rx2")),
    ("Empfänger", ("1", "2"), ("rx1", "rx2")),
])  # fmt: skip
def test_a_column_that_says_whose_row_it_is(heading, ids, names):
    text = f"Time (s),{heading},RSSI (dBm),Lost frames,Altitude (m)\n"
    for i in range(40):
        text += f"{i / 10},{ids[0]},-6{i % 10},{i},\n{i / 10},{ids[1]},-7{i % 10},{2 * i},{i}\n"
    ((telemetry, draft),) = drafts(text)
    np.testing.assert_allclose(telemetry.time_s, np.arange(40) / 10)
    for name, tens, step in zip(names, (60, 70), (1, 2), strict=True):
        assert telemetry.series(f"link.{name}.rssi_dbm").values.tolist() == [-tens - i % 10 for i in range(40)]
        assert telemetry.series(f"link.{name}.lost_frames").values.tolist() == [step * i for i in range(40)]
    assert telemetry.series("position.altitude_m").values.size == 40
    assert any("40 row(s)" in n for n in map(str, draft.notices))


def test_a_receiver_that_comes_late_is_kept():
    text = "Time (s),receiver,RSSI (dBm)\n"
    text += "".join(f"{i / 100:.2f},{1 + i % 2},-60\n" for i in range(60_000)) + "600.01,3,-60\n600.02,1,-60\n"
    ((telemetry, draft),) = drafts(text)
    assert telemetry.channels == ("link.rx1.rssi_dbm", "link.rx2.rssi_dbm", "link.rx3.rssi_dbm")
    assert telemetry.series("link.rx3.rssi_dbm").time_s.tolist() == [600.01]
    assert not any("of others" in n for n in map(str, draft.notices))


def test_another_header_is_found_though_a_heading_is_a_word_of_every_row():
    from importers.table.dialect import sniff
    from importers.table.headers import changed
    from importers.table.text import Encoding

    text = "Sensor,Time (s),Value\n" + "".join(f"Sensor {i % 3} EGT,{i * 0.1:.1f},{500 + i % 50}\n" for i in range(900))
    dialect, _ = sniff(text, Encoding("utf-8", 0), "x")
    assert changed(text.encode(), dialect) is None
    assert changed((text + "Time (s),Sensor,Value\n").encode(), dialect) == (902, "Time (s),Sensor,Value")


@pytest.mark.parametrize("whole", [True, False])
def test_a_reading_is_named_by_its_device_and_its_quantity(whole):
    count = 3000 if not whole else 100
    rows = (("Rx 1", "Voltage", 8, "V"), ("Rx 2", "Voltage", 9, "V"), ("ECU", "EGT", 500, "°C"))
    text = "Time (s),Device,Quantity,Value,Unit\n" + "".join(
        f"{i / 10},{device},{what},{value + i % 9 / 100},{unit}\n"
        for i in range(count)
        for device, what, value, unit in rows
    )
    ((telemetry, _),) = drafts(text)
    assert {"pack.rx1.voltage_v", "pack.rx2.voltage_v", "engine.main.egt_c"} <= set(telemetry.channels)
    assert telemetry.series("pack.rx2.voltage_v").values[:3].tolist() == [9.0, 9.01, 9.02]
    assert telemetry.duration_s == pytest.approx((count - 1) / 10)


def test_tables_under_titles_are_refused_as_such():
    table = "Time (s),Zorp\n" + "".join(f"{i / 10},{i}\n" for i in range(50))
    with pytest.raises(Refusal, match=r"under a title such as 'Sensor: EGT \(°C\)'.*--join"):
        drafts(f"Sensor: EGT (°C)\n{table}\nSensor: RPM\n{table}")
