"""What comes in comes out: dialects, clocks and shapes, and refusals in one sentence."""

import io

import numpy as np
import pytest

from importers.plan import plan
from importers.read import read
from importers.refusal import Refusal


def flights(text, encoding="utf-8", **answers):
    data = text if isinstance(text, bytes) else text.encode(encoding)
    p = plan(io.BytesIO(data), name="log.csv", answers={k.replace("__", "."): v for k, v in answers.items()})
    return [(d.telemetry(), d) for d in read(p)], p


def one(text, **kw):
    found, _ = flights(text, **kw)
    assert len(found) == 1
    return found[0][0]


ROWS = 40


def wide(time, header="Time", sep=",", dec="."):
    lines = [sep.join([header, "Rx1 A2 RSSI (dBm)", "rx_batt_mV", "Pack R1 Voltage (V)"])]
    for i, t in enumerate(time):
        lines.append(sep.join([t, str(-60 - i % 7), str(7400 - i), f"{7.4 - i / 1000:.3f}".replace(".", dec)]))
    return "\n".join(lines) + "\n"


CLOCKS = {
    "seconds": (["Time (s)", [f"{i * 0.02:.2f}" for i in range(ROWS)]], 0.02),
    "elapsed ms": (["Time [ms]", [str(i * 20) for i in range(ROWS)]], 0.02),
    "midnight": (
        ["Time", [f"23:59:59.{600 + i * 20:03d}" if i < 20 else f"00:00:00.{(i - 20) * 20:03d}" for i in range(ROWS)]],
        0.02,
    ),
    "iso": (["Time", [f"2024-05-17T12:00:{i:02d}.5Z" for i in range(ROWS)]], 1.0),
    "epoch ms": (["Time", [str(1_700_000_000_000 + i * 100) for i in range(ROWS)]], 0.1),
    "16-bit ms": (["tick (ms)", [str((65_000 + i * 50) % 65536) for i in range(ROWS)]], 0.05),
}


@pytest.mark.parametrize("name", CLOCKS)
@pytest.mark.parametrize(("sep", "dec"), [(",", "."), (";", ","), ("\t", "."), ("|", ",")])
def test_clocks_and_dialects(name, sep, dec):
    (header, times), step = CLOCKS[name]
    if header == "Time (s)":
        times = [t.replace(".", dec) for t in times]
    t = one(wide(times, header, sep, dec))
    np.testing.assert_allclose(t.time_s, np.arange(ROWS) * step, atol=1e-9)
    assert t.table.column("pack.rx.voltage_v").to_pylist() == [float(f"{(7400 - i) / 1000:.3f}") for i in range(ROWS)]
    assert t.table.column("pack.r1.voltage_v").to_pylist() == [float(f"{7.4 - i / 1000:.3f}") for i in range(ROWS)]
    assert t.series("link.rx1.antenna2_rssi_dbm").values[3] == -63


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "cp1252"])
def test_encodings(encoding):
    text = "Zeit (s);Abgastemperatur (°C)\r\n" + "".join(f"{i},0;{500 + i},5\r\n" for i in range(20))
    assert one(text, encoding=encoding).series("engine.main.egt_c").values[0] == 500.5


def test_utc_start_is_known_where_the_zone_is():
    t = one(wide(CLOCKS["iso"][0][1], "Time"))
    assert t.utc_start is not None
    assert t.utc_start.isoformat() == "2024-05-17T12:00:00.500000+00:00"


def test_unit_row_sparse_columns_preamble_and_cut_last_line():
    text = "# aircraft: Tern\n\nTime,EGT left,Mode,Fuel,Nothing\ns,°C,,mL,V\n"
    text += "".join(f"{i / 10:.1f},{500 + i},idle,{3000 - i if i % 10 == 0 else ''},\n" for i in range(50)) + "5.0,55"
    found, p = flights(text)
    t, draft = found[0]
    assert p.preamble["aircraft"] == "Tern"
    assert len(t.time_s) == 50
    assert t.series("fuel.main.remaining_ml").time_s.tolist() == [0, 1, 2, 3, 4]
    assert t.table.column("extra.mode")[0].as_py() == "idle"
    assert any("'Nothing'" in n and "dropped" in n for n in map(str, draft.notices))
    assert any("cut line" in n for n in map(str, draft.notices))


def test_long_format():
    text = "time_s,sensor,value,unit\n"
    for i in range(30):
        text += f"{i / 10},RSSI rx1,{-60 - i},dBm\n" + (f"{i / 10},Rx1 battery,{7400 - i},mV\n" if i % 5 == 0 else "")
    t = one(text)
    assert t.series("link.rx1.rssi_dbm").values[:2].tolist() == [-60, -61]
    assert t.series("pack.rx1.voltage_v").values.tolist() == [(7400 - i) / 1000 for i in range(0, 30, 5)]


def test_several_flights_by_silence_and_reset():
    rows = [i / 10 for i in range(100)] + [500 + i / 10 for i in range(50)] + [i / 10 for i in range(30)]
    found, _ = flights("t (s),Rx1 RSSI (dBm)\n" + "".join(f"{x:.1f},-60\n" for x in rows))
    assert [len(t.time_s) for t, _ in found] == [100, 50, 30]
    assert all(t.time_s[0] == 0 for t, _ in found)


def test_rows_of_one_whole_second_are_spread():
    text = "Time,Rx1 RSSI (dBm)\n" + "".join(f"12:00:{i // 5:02d},-6{i % 10}\n" for i in range(50))
    np.testing.assert_allclose(one(text).time_s, np.arange(50) / 5, atol=1e-9)


def test_ambiguous_dates_are_asked_then_answered():
    text = "Date,Time,Rx1 RSSI (dBm)\n" + "".join(f"05/04/2024,12:00:{i:02d},-60\n" for i in range(20))
    p = plan(io.BytesIO(text.encode()))
    assert [q.key for q in p.questions] == ["date_order"]
    assert len(one(text, date_order="day-first").time_s) == 20


REFUSED = {
    "empty": b"",
    "binary": bytes(range(256)) * 20,
    "no time": b"Rx1 RSSI (dBm),Pack R1 Voltage (V)\n-60,7.4\n-61,7.3\n-61,7.4\n",
    "no channel": b"time (s),foo,bar\n0,1,2\n1,2,3\n2,2,4\n",
    "duplicate": b"time (s),Rx1 voltage (V),Rx1 voltage (V)\n0,1,2\n1,2,3\n2,2,4\n",
    "no rows": b"time (s),Rx1 voltage (V)\n",
    "prose": b"Dear all,\nthe weather was fine.\n",
}


@pytest.mark.parametrize("name", REFUSED)
def test_refusals_are_one_sentence(name):
    with pytest.raises(Refusal) as caught:
        flights(REFUSED[name])
    assert "found" in str(caught.value)
    assert "\n" not in str(caught.value)
    assert str(caught.value).startswith("log.csv")


TWO = "t (s),Rx1 RSSI (dBm)\n" + "".join(f"{x},-60\n" for x in [*range(50), *range(500, 530)])


def test_a_flight_outlives_the_iterator_it_came_from():
    draft = next(read(plan(io.BytesIO(TWO.encode()))))
    assert draft.telemetry().time_s.size == 50


def test_a_flight_is_read_once_and_before_the_next():
    first, second = read(plan(io.BytesIO(TWO.encode())))
    for draft, part in ((first, 1), (second, 2)):
        with pytest.raises(RuntimeError, match=f"flight {part} must be read before" if part == 1 else "already"):
            draft.telemetry()
    flights = read(plan(io.BytesIO(TWO.encode())))
    draft = next(flights)
    assert draft.telemetry().time_s.size == 50
    with pytest.raises(RuntimeError, match="already"):
        draft.telemetry()
    assert next(flights).telemetry().time_s.size == 30
