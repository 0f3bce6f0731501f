"""Any table of telemetry, written in any dialect the guide claims: read back to the printed digit."""

from __future__ import annotations

import io
from decimal import Decimal

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from importers.plan import plan
from importers.read import read
from tests.importers.corpus.spelling import pack

# heading, channel, least and greatest value
SENSORS = (
    ("Rx1 RSSI (dBm)", "link.rx1.rssi_dbm", -120, 0),
    ("Rx1 Battery Voltage (V)", "pack.rx1.voltage_v", 0, 12),
    ("Left EGT (°C)", "engine.left.egt_c", -20, 900),
    ("Left engine speed (rpm)", "engine.left.speed_rpm", 0, 130_000),
    ("Fuel (mL)", "fuel.main.remaining_ml", 0, 5000),
    ("Vario (m/s)", "motion.vario_m_s", -60, 60),
    ("Latitude (°)", "position.latitude_deg", -89, 89),
    ("Wibble", "extra.wibble", -(10**6), 10**6),
)


@st.composite
def tables(draw):
    rows = draw(st.integers(2, 40))
    step_ms = draw(st.sampled_from([20, 50, 100, 250, 1000]))
    columns = {SENSORS[0]: [Decimal(-60 - i % 7) for i in range(rows)]}
    for sensor in draw(st.lists(st.sampled_from(SENSORS[1:]), min_size=1, max_size=5, unique=True)):
        digits = draw(st.integers(0, 6))
        scale = 10**digits
        values = st.integers(sensor[2] * scale, sensor[3] * scale).map(lambda n, d=digits: Decimal(n).scaleb(-d))
        columns[sensor] = draw(
            st.lists(values | st.none() if draw(st.booleans()) else values, min_size=rows, max_size=rows)
        )
    return [Decimal(i * step_ms).scaleb(-3) for i in range(rows)], columns


@st.composite
def dialects(draw):
    decimal = draw(st.sampled_from(".,"))
    delimiter = draw(st.sampled_from([",", ";", "\t", "|"]))
    return {
        "decimal": decimal,
        "delimiter": delimiter,
        "quoted": (decimal == delimiter) or draw(st.booleans()),
        "end": draw(st.sampled_from(["\n", "\r\n", "\r"])),
        "encoding": draw(st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "cp1252"])),
        "pack": draw(st.sampled_from(["", "", "gz", "zip", "zst", "bz2", "xz"])),
        "blank": draw(st.sampled_from(["", "-", "nan", "N/A"])),
        "minus": draw(st.sampled_from("-\u2013")),
    }


def write(times, columns, d):
    def cell(value):
        if value is None:
            return d["blank"]
        text = f"{value:f}".replace(".", d["decimal"])
        return d["minus"] + text[1:] if text.startswith("-") else text

    lines = [["Time (s)", *(s[0] for s in columns)]]
    lines += [[cell(t), *(cell(v[i]) for v in columns.values())] for i, t in enumerate(times)]
    quote = '"' if d["quoted"] else ""
    text = "".join(d["delimiter"].join(f"{quote}{c}{quote}" for c in line) + d["end"] for line in lines)
    return pack(text.encode(d["encoding"]), d["pack"])


@settings(max_examples=250, deadline=None, derandomize=True, database=None,
          suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])  # fmt: skip
@given(tables(), dialects())
def test_any_table_comes_back(table, dialect):
    times, columns = table
    data = write(times, columns, dialect)
    proposal = plan(io.BytesIO(data), name="log.csv")
    answers = {}
    for _ in range(2):  # numbers that no aircraft has are doubted, once it is known what they are
        if proposal.questions:
            assert {q.key for q in proposal.questions} <= {"decimal", "doubtful"}
            answers |= {"doubtful": "as-shown"} if proposal.questions[0].key == "doubtful" else {
                "decimal": "comma" if dialect["decimal"] == "," else "point"}  # fmt: skip
            proposal = plan(io.BytesIO(data), name="log.csv", answers=answers)
    flights = [d.telemetry().table for d in read(proposal)]
    (got,) = flights
    filled = {s[1]: v for s, v in columns.items() if any(x is not None for x in v)}
    assert set(got.column_names) == {"time_s", *filled}
    assert got.column("time_s").to_pylist() == [float(t) for t in times]
    for channel, values in filled.items():
        wanted = [None if v is None else float(v) for v in values]
        assert got.column(channel).to_pylist() == wanted, channel
