"""Forms of dates and times, against dateutil, pandas, Babel's month names (CLDR) and the leap seconds of tzdata."""

import io
from datetime import UTC, datetime, timedelta
from importlib.resources import files

import numpy as np
import pandas as pd
import pyarrow as pa
import pytest
from babel import Locale
from dateutil import parser
from hypothesis import given
from hypothesis import strategies as st

from importers.clock import gps
from importers.clock.forms import form_of, month, read_text, utc
from importers.plan import plan
from importers.read import read
from importers.refusal import Refusal

HEAD = "Rx1 RSSI (dBm)"


def flights(text, name="log.csv", **answers):
    return [d.telemetry() for d in read(plan(io.BytesIO(text.encode()), name=name, answers=answers))]


def rows(times, header="Time"):
    return f"{header},{HEAD}\n" + "".join(f'"{t}",-{60 + i % 7}\n' for i, t in enumerate(times))


@pytest.mark.parametrize("written", [
    "15-Jun-2024 14:03", "15-Jun-2024 14:03:11", "15-Jun-2024 14:03:11.5", "15 June 2024 14:03:11", "2024-06-15 14:03",
    "Jun 15, 2024 2:03:11 PM", "Sat, 15 Jun 2024 14:03:11", "15-Jun-24 14:03:11", "20240615T140311",
    "2024-06-15T14:03:11.123456",
])  # fmt: skip
def test_dates_as_dateutil_reads_them(written):
    ns, good = read_text(pa.array([written]), "stamp")
    assert form_of([written]) == "stamp"
    assert good[0]
    assert utc(int(ns[0]), 0.0).replace(tzinfo=None) == parser.parse(written)


@pytest.mark.parametrize(("written", "seconds"), [
    ("14h03m11s", 50_591), ("14h03m11.5s", 50_591.5), ("14 h 03 min 11 s", 50_591), ("0h3m1s", 181),
])  # fmt: skip
def test_times_with_letters_as_pandas_reads_them(written, seconds):
    ns, good = read_text(pa.array([written]), "hms")
    assert form_of([written]) == "hms"
    assert good[0]
    assert ns[0] / 1e9 == seconds
    assert pd.Timedelta(written.replace("min", "m")).total_seconds() == seconds


@pytest.mark.parametrize("written", [
    "T#1m39s800ms", "T#0m0s0ms", "TIME#1h_2m_3.5s", "LT#1d2h", "t#1500ms", "T#12.25s", "time#3m",
])  # fmt: skip
def test_durations_of_controllers_as_pandas_reads_them(written):
    """Source: IEC 61131-3, duration literals (from memory)."""
    ns, good = read_text(pa.array([written]), "hms")
    assert form_of([written]) == "hms"
    assert good[0]
    assert ns[0] == pd.Timedelta(written.partition("#")[2].replace("_", "").lower().replace("d", "D")).value


@given(st.lists(st.datetimes(datetime(1901, 1, 1), datetime(2199, 12, 31)), min_size=1), st.sampled_from(" T"),
       st.sampled_from(["seconds", "milliseconds", "microseconds"]), st.sampled_from(["", "Z"]),
       st.sampled_from(["", "24:00", "2026-02-30T10:00:00", "2026-05-10", "10 May 2026 14:03:11", None]))  # fmt: skip
def test_iso_times_as_the_standard_library_reads_them(moments, between, digits, zone, odd):
    """Source: datetime.isoformat (ISO 8601). One that is written otherwise is read as if it stood alone."""
    written = [m.isoformat(between, digits) + zone for m in moments]
    exact = [int((datetime.fromisoformat(w.removesuffix("Z")) - datetime(1970, 1, 1)) / timedelta(microseconds=1))
             for w in written]  # fmt: skip
    ns, good = read_text(pa.array([*written, odd]), "stamp")
    assert good[:-1].all()
    assert [int(n) for n in ns[:-1]] == [1000 * e for e in exact]
    alone_ns, alone = read_text(pa.array([odd], pa.string()), "stamp")
    assert (good[-1], ns[-1] if good[-1] else 0) == (alone[0], alone_ns[0] if alone[0] else 0)
    of_day, good = read_text(pa.array([w[11:].removesuffix("Z") for w in written]), "hms")
    assert good.all()
    assert [int(n) for n in of_day] == [1000 * (e % 86_400_000_000) for e in exact]


def test_dashes_throughout():
    written = "2022-5-7--11-24-56-316"
    ns, _ = read_text(pa.array([written]), "stamp")
    assert utc(int(ns[0]), 0.0) == datetime.strptime(written + "000", "%Y-%m-%d--%H-%M-%S-%f").replace(tzinfo=UTC)
    stamps = [f"2022-5-7--11-24-{s}-{ms}" for s in range(9, 30) for ms in (7, 107, 207)]
    (telemetry,) = flights(rows(stamps))
    np.testing.assert_allclose(telemetry.time_s[:4], [0, 0.1, 0.2, 1.0], atol=1e-9)


@pytest.mark.parametrize("language", ["en", "de", "fr", "es", "it"])
def test_month_names_as_cldr_has_them(language):
    names = Locale(language).months["format"]
    for width in ("wide", "abbreviated"):
        for number, name in names[width].items():
            assert month(name.rstrip(".")) == number, name
            ns, good = read_text(pa.array([f"15. {name} 2024 14:03:11"]), "stamp")
            assert good[0], name
            assert utc(int(ns[0]), 0.0) == datetime(2024, number, 15, 14, 3, 11, tzinfo=UTC)


@pytest.mark.parametrize("written", [
    "2024-02-30 10:00:00", "2023-02-29 10:00:00", "2024-04-31 10:00:00", "1-01-01 10:00:00", "0001-01-01 10:00:00",
    "2024-02-03T10:00:00+99:99", "2024-02-03T10:00:00+15:00", "2024-02-03 25:00:00", "2024-02-03 10:61:00",
    "15-Foo-2024 10:00:00", "30-Feb-2024 10:00:00",
])  # fmt: skip
def test_what_is_in_no_calendar_is_not_read(written):
    assert not read_text(pa.array([written]), "stamp")[1][0]


@pytest.mark.parametrize(
    "written", ["2026-02-30 10:00:{:02d}", "2026-02-03T10:00:{:02d}+99:99", "001-01-01 10:00:{:02d}"]
)
def test_a_log_of_such_days_is_refused(written):
    with pytest.raises(Refusal, match=r"column 'Time'|no column that tells the time"):
        flights(rows([written.format(i) for i in range(40)]))


@pytest.mark.parametrize(("heading", "factor"), [("ms", 1000), ("ts", 1), ("timestamp", 1), ("timestamp", 1000)])
def test_bare_headings(heading, factor):
    (telemetry,) = flights(rows([i * factor // 2 if factor > 1 else i / 2 for i in range(200)], heading),
                           **({"time_unit": "ms"} if heading == "timestamp" and factor > 1 else {}))  # fmt: skip
    assert telemetry.duration_s == pytest.approx(99.5)


def test_spreadsheet_day_numbers():
    start = datetime(2026, 5, 10, 9, 30)
    days = [(start + timedelta(seconds=i / 5) - datetime(1899, 12, 30)) / timedelta(days=1) for i in range(600)]
    (telemetry,) = flights(rows([f"{d:.10f}" for d in days]), zone="UTC")
    assert abs(telemetry.utc_start - start.replace(tzinfo=UTC)) < timedelta(milliseconds=1)
    assert telemetry.utc_start.date() == pd.to_datetime(days[0], unit="D", origin="1899-12-30").date()
    np.testing.assert_allclose(telemetry.time_s, np.arange(600) / 5, atol=2e-5)


def test_leap_seconds_as_the_time_zone_database_lists_them():
    listed = files("tzdata").joinpath("zoneinfo/leapseconds").read_text()
    leaps = [line.split() for line in listed.splitlines() if line.startswith("Leap")]
    moments = [datetime.strptime(" ".join(x[1:4]), "%Y %b %d").replace(tzinfo=UTC) + timedelta(days=1) for x in leaps]
    epoch = datetime(1980, 1, 6, tzinfo=UTC)
    after = [m for m in moments if m > epoch]
    for n, moment in enumerate(after):
        since = (moment - epoch).total_seconds() + n
        assert gps.leap_seconds(since) == n
        assert gps.leap_seconds(since + 1) == n + 1
    assert gps.leap_seconds(2400 * gps.WEEK_S) == len(after)


@pytest.mark.parametrize(("heading", "factor"), [("GPS seconds (s)", 1), ("iTOW (ms)", 1000), ("GPS TOW", 1)])
def test_gps_week_and_second(heading, factor):
    """2026-05-10 09:30:00 UTC is a Sunday: 34,200 s into its week, and 18 s more in GPS time (IS-GPS-200, 3.3.4)."""
    week = (datetime(2026, 5, 10, tzinfo=UTC) - datetime(1980, 1, 6, tzinfo=UTC)).days // 7
    text = f"GPS week,{heading},{HEAD}\n"
    text += "".join(f"{week},{(34_218 + i) * factor},-60\n" for i in range(100))
    (telemetry,) = flights(text)
    assert telemetry.utc_start == datetime(2026, 5, 10, 9, 30, tzinfo=UTC)
    assert telemetry.duration_s == 99


def test_gps_time_past_the_end_of_a_week():
    text = f"GPS week,GPS TOW (s),{HEAD}\n"
    text += "".join(f"{2417 + (604_750 + i) // 604_800},{(604_750 + i) % 604_800},-60\n" for i in range(100))
    assert flights(text)[0].duration_s == 99
    text = f"GPS TOW (s),{HEAD}\n" + "".join(f"{(604_750 + i) % 604_800},-60\n" for i in range(100))
    (telemetry,) = flights(text)
    assert telemetry.duration_s == 99
    assert telemetry.utc_start is None


def test_a_week_of_ten_bits_says_no_date():
    text = f"GPS week,GPS TOW (s),{HEAD}\n" + "".join(f"300,{34_218 + i},-60\n" for i in range(100))
    (telemetry,) = flights(text)
    assert telemetry.utc_start is None
    assert telemetry.duration_s == 99


def test_the_clock_can_be_named():
    text = f"Time (s),Controller (ms),{HEAD}\n" + "".join(f"{i},{i * 500},-60\n" for i in range(100))
    assert flights(text)[0].duration_s == 99
    assert flights(text, clock="Controller (ms)")[0].duration_s == 49.5
