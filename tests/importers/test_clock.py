"""When a log began: preamble, file name, clock columns, zones; and what stays open."""

import io
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from importers.clock.start import zone_named
from importers.plan import plan
from importers.read import read
from importers.refusal import Refusal

HEAD = "Rx1 RSSI (dBm)"


def drafts(text, name="log.csv", **answers):
    data = text.encode()
    p = plan(io.BytesIO(data), name=name, answers=answers)
    return [(d.telemetry(), d) for d in read(p)], p


def start(text, name="log.csv", **answers):
    return drafts(text, name, **answers)[0][0][0].utc_start


def rows(times, header="Time (s)", extra=""):
    return f"{header},{HEAD}\n" + "".join(f"{t},-{60 + i % 7}{extra}\n" for i, t in enumerate(times))


ELAPSED = rows([f"{i / 10:.1f}" for i in range(30)])
CLOCK = rows([f"10:15:{i:02d}.0" for i in range(30)], "Clock")
TICKS = rows([str(65_000 + 50 * i) for i in range(30)], "tick (ms)")
AT = datetime(2026, 5, 10, 9, 30, tzinfo=UTC)


@pytest.mark.parametrize("line", [
    "# Start: 2026-05-10T09:30:00Z", "# started: 2026-05-10 09:30:00Z", "Begin,2026-05-10T11:30:00+02:00",
    "# Beginn: 10.05.2026 11:30 +02:00", "# Début : 2026-05-10T09:30Z", "# Inicio: 2026-05-10T09:30:00Z",
    "# Recorded: 2026-05-10T09:30:00Z", "# Date: 2026-05-10\n# Time: 09:30:00\n# Time zone: UTC",
    "# Clock: UTC\n# Start: 2026-05-10T09:30:00", "# Zeitzone: Europe/Berlin\n# Datum: 10.05.2026\n# Uhrzeit: 11:30",
])  # fmt: skip
@pytest.mark.parametrize("table", [ELAPSED, TICKS])
def test_a_line_above_the_header_dates_a_log(line, table):
    assert start(f"{line}\n{table}") == AT


def test_a_day_above_the_header_dates_a_clock_past_midnight():
    text = "# Date: 2026-05-02\n# Clock: UTC\n"
    text += rows([f"23:59:{50 + i}.0" for i in range(10)] + [f"00:00:{i:02d}.0" for i in range(20)], "Clock")
    (telemetry, draft), *_ = drafts(text)[0]
    assert telemetry.utc_start == datetime(2026, 5, 2, 23, 59, 50, tzinfo=UTC)
    assert telemetry.duration_s == 29
    assert "date" in draft.metadata["utc_from"]


def test_local_time_without_a_zone_stays_local_until_the_zone_is_said():
    text = "# Start: 2026-05-10T11:30:00\n" + ELAPSED
    (telemetry, draft), *_ = drafts(text)[0]
    assert telemetry.utc_start is None
    assert draft.metadata["local_start"] == "2026-05-10T11:30:00"
    assert any("zone" in n for n in map(str, draft.notices))
    assert start(text, zone="Europe/Berlin") == AT
    assert start(text, zone="UTC+2") == AT
    stamps = rows([f"2026-05-10 11:30:{i:02d}" for i in range(30)], "Time")
    assert start(stamps) is None
    assert start(stamps, zone="+02:00") == AT


def test_an_unknown_zone_is_refused():
    with pytest.raises(Refusal, match="zone"):
        drafts(ELAPSED, zone="Middle/Earth")


def test_a_file_name_gives_a_day_and_never_a_time_of_day():
    (telemetry, draft), *_ = drafts(ELAPSED, "field-2026-05-10.csv")[0]
    assert telemetry.utc_start is None
    assert draft.metadata["local_day"] == "2026-05-10"
    assert draft.metadata["local_day_from"] == "import.clock.from_file_name"
    (_, clocked), *_ = drafts(CLOCK, "field-2026-05-10.csv")[0]
    assert clocked.metadata["local_start"] == "2026-05-10T10:15:00"
    assert start("# Clock: UTC\n" + CLOCK, "2026-05-10.csv") == datetime(2026, 5, 10, 10, 15, tzinfo=UTC)
    assert "local_day" not in drafts(ELAPSED, "field-20260510123.csv")[0][0][1].metadata


def test_after_a_reset_the_line_above_the_header_says_nothing_more():
    text = "# Start: 2026-05-10T09:30:00Z\n" + rows([i / 10 for i in range(30)] + [i / 10 for i in range(30)])
    found, _ = drafts(text)
    assert [t.utc_start for t, _ in found] == [AT, None]


def test_after_a_silence_it_still_does():
    text = "# Start: 2026-05-10T09:30:00Z\n" + rows([i / 10 for i in range(30)] + [600 + i / 10 for i in range(30)])
    found, _ = drafts(text)
    assert [t.utc_start for t, _ in found] == [AT, AT.replace(minute=40)]


def test_a_day_in_slashes_is_asked_and_one_in_dots_is_not():
    text = "# Start: 05/04/2026 09:30:00Z\n" + ELAPSED
    p = plan(io.BytesIO(text.encode()))
    assert [q.key for q in p.questions] == ["date_order"]
    assert start(text, date_order="month-first") == datetime(2026, 5, 4, 9, 30, tzinfo=UTC)
    assert start("# Start: 05.04.2026 09:30:00Z\n" + ELAPSED) == datetime(2026, 4, 5, 9, 30, tzinfo=UTC)


@pytest.mark.parametrize(("text", "wanted"), [
    ("UTC", "UTC"), ("gmt", "UTC"), ("UTC+2", "+02:00"), ("-0530", "-05:30"), ("Europe/Berlin", "Europe/Berlin"),
    ("400 MHz", None), ("Nowhere/Land", None), ("+99:00", None), ("../etc/passwd", None),
])  # fmt: skip
def test_zones(text, wanted):
    assert zone_named(text) == wanted


@pytest.mark.parametrize(("days", "keys"), [
    (["05/04/2026"], ["date_order"]), (["05/04/2026", "13/04/2026"], []), (["05/05/2026"], []), (["05.04.2026"], []),
    (["24-05-17"], ["date_order"]), (["24-05-42"], []), (["2026-04-05"], []), (["05-04-2026"], ["date_order"]),
])  # fmt: skip
def test_the_order_of_a_day_is_asked_wherever_two_readings_differ(days, keys):
    table = "Date,Time," + HEAD + "\n"
    table += "".join(f"{days[-1 if i else 0]},12:00:{i:02d},-60\n" for i in range(20))
    assert [q.key for q in plan(io.BytesIO(table.encode())).questions] == keys


def test_dotted_days_say_their_convention():
    table = rows([f"05.04.2026 12:00:{i:02d}Z" for i in range(20)], "Time")
    found, p = drafts(table)
    assert found[0][0].utc_start == datetime(2026, 4, 5, 12, tzinfo=UTC)
    assert "day first as is usual with dots" in str(p.clock)


def test_a_second_clock_dates_the_first_through_resets_and_late_fixes():
    text = f"Time (ms),UTC,{HEAD}\n"
    for base, minute in ((0, 30), (0, 45)):
        for i in range(60):
            fix = "" if i < 20 else f"2026-05-10T09:{minute}:{i // 10:02d}.{i % 10}00Z"
            text += f"{base + i * 100},{fix},-60\n"
    found, p = drafts(text)
    assert [t.utc_start for t, _ in found] == [AT, AT.replace(minute=45)]
    assert found[0][1].metadata["utc_from"] == "import.read.utc_column(column=UTC)"
    assert any(c.heading == "UTC" and "dates the first" in str(c.reason) for c in p.columns)


def test_a_second_clock_of_whole_seconds_dates_to_half_a_second():
    text = f"Time (ms),GPS time,{HEAD}\n"
    for i in range(200):
        text += f"{1_000 + i * 100},{f'2026-05-10 09:30:{i // 10:02d}Z' if i > 30 else '1980-01-06 00:00:00Z'},-60\n"
    assert abs((start(text) - AT).total_seconds()) <= 0.5


@pytest.mark.parametrize(
    ("heading", "step"),
    [("Minuten seit Start", 1 / 60), ("time (min)", 1 / 60), ("Zeit (h)", 1 / 3600), ("Time", 1 / 86_400), ("s", 1)],
)
def test_minutes_hours_and_days_count_time(heading, step):
    first = 46_000 if heading == "Time" else 0
    (telemetry, _), *_ = drafts(rows([f"{first + i * step:.9f}" for i in range(60)], heading))[0]
    np.testing.assert_allclose(telemetry.time_s, np.arange(60), atol=1e-4)


def test_decimals_do_not_make_milliseconds_seconds():
    (telemetry, _), *_ = drafts(rows([f"{i * 20.25:.2f}" for i in range(20_000)], "Time"))[0]
    assert telemetry.duration_s == pytest.approx(19_999 * 0.02025)


def test_a_date_that_stays_behind_at_midnight_is_carried_on():
    text = "Date,Time," + HEAD + "\n"
    text += "".join(f"2026-05-10,23:59:{40 + i},-60\n" for i in range(20))
    text += "".join(f"2026-05-10,00:00:{i:02d},-60\n" for i in range(20))
    (telemetry, _), *rest = drafts(text, zone="UTC")[0]
    assert not rest
    assert telemetry.time_s.tolist() == list(range(40))


def test_the_hour_that_comes_twice_in_autumn_is_one_flight():
    text = rows([f"2026-10-25 02:59:{40 + i}" for i in range(20)] + [f"2026-10-25 02:00:{i:02d}" for i in range(20)],
                "Time")  # fmt: skip
    found, _ = drafts(text, zone="Europe/Berlin")
    assert [t.utc_start for t, _ in found] == [datetime(2026, 10, 25, 0, 59, 40, tzinfo=UTC)]
    assert found[0][0].time_s.tolist() == list(range(40))


def test_a_flight_after_summer_time_ended_is_dated_in_the_second_hour():
    hours = [f"2026-10-25 02:59:{40 + i}" for i in range(20)] + [f"2026-10-25 02:00:{i:02d}" for i in range(20)]
    later = [f"2026-10-25 02:30:{i:02d}" for i in range(20)]
    found, _ = drafts(rows([*hours, *later], "Time"), zone="Europe/Berlin")
    assert [t.utc_start for t, _ in found] == [
        datetime(2026, 10, 25, 0, 59, 40, tzinfo=UTC), datetime(2026, 10, 25, 1, 30, 0, tzinfo=UTC),
    ]  # fmt: skip


def hms(n, start=100_050):
    """Times of day in one number, as receivers of time signals write them."""
    return [f"{start // 10_000:02d}{(s := start % 10_000 // 100 * 60 + start % 100 + i) // 60:02d}{s % 60:02d}"
            for i in range(n)]  # fmt: skip


def test_times_of_day_in_one_number():
    (telemetry, _), *_ = drafts(rows(hms(300), "UTC"), "2026-05-10.csv")[0]
    assert telemetry.time_s.tolist() == list(range(300))
    assert telemetry.utc_start == datetime(2026, 5, 10, 10, 0, 50, tzinfo=UTC)
    (telemetry, _), *_ = drafts(rows([f"{t}.25" for t in hms(300, 50)], "UTC"), "2026-05-10.csv")[0]
    assert telemetry.utc_start == datetime(2026, 5, 10, 0, 0, 50, 250_000, tzinfo=UTC)


def test_a_number_that_may_be_a_time_of_day_is_asked():
    text = rows(hms(10, 100_010), "Time")
    assert [q.key for q in plan(io.BytesIO(text.encode())).questions] == ["time_unit"]
    assert drafts(text, time_unit="s")[0][0][0].duration_s == 9
    (_, draft), *_ = drafts(text, "2026-05-10.csv", time_unit="hhmmss")[0]
    assert draft.metadata["local_start"] == "2026-05-10T10:00:10"


@pytest.mark.parametrize("stamp", ["20260510,10:00:{:02d}", "20260510,1000{:02d}", "20260510T1000{:02d}Z,1"])
def test_dates_without_marks(stamp):
    text = f"Date,UTC time,{HEAD}\n" + "".join(f"{stamp.format(i)},-60\n" for i in range(40))
    (telemetry, _), *_ = drafts(text)[0]
    assert telemetry.utc_start == datetime(2026, 5, 10, 10, tzinfo=UTC)
    assert telemetry.duration_s == 39


def test_dates_in_several_orders_are_refused():
    days = ("05/04/2026", "04/05/2026", "2026/05/04")
    text = rows([f"{days[i % 3]} 10:00:{i:02d}" for i in range(40)], "Time")
    with pytest.raises(Refusal, match=r"column 'Time'.*'05/04/2026 10:00:00'.*one way"):
        drafts(text)


@pytest.mark.parametrize("stamp", ["31.04.2026 10:00:{:02d}", "2026-02-30 10:00:{:02d}", "10:61:{:02d}"])
def test_a_day_or_time_that_there_is_none_of_is_said_to_be_so(stamp):
    with pytest.raises(Refusal, match=rf"column 'Time': found '{stamp.format(0)}', which no calendar or clock has"):
        drafts(rows([stamp.format(i) for i in range(40)], "Time"))


def test_years_months_and_days_that_are_no_day_are_refused():
    text = f"Year,Month,Day,Time,{HEAD}\n" + "".join(f"2026,2,30,10:00:{i:02d},-60\n" for i in range(40))
    with pytest.raises(Refusal, match=r"column 'Year': found '2026-2-30'"):
        drafts(text)


def test_a_timecode_is_asked_for_its_frames_where_no_second_shows_them_all():
    text = rows([f"10:00:{i // 10:02d}:{i % 10 * 2:02d}" for i in range(200)], "Timecode")
    asked = plan(io.BytesIO(text.encode())).questions
    assert [(q.key, q.answers) for q in asked] == [("frames", ("24", "25", "30", "48", "50", "60"))]
    telemetry = drafts(text, frames="25")[0][0][0]
    np.testing.assert_allclose(telemetry.time_s[:11], [*(0.08 * n for n in range(10)), 1.0], atol=1e-9)


@pytest.mark.parametrize(
    ("by", "even", "mended"), [(-18, True, True), (-40, False, True), (17, False, True), (17, True, False)]
)
def test_a_clock_set_late_in_a_log_is_told_by_the_one_beside_it(by, even, mended):
    """Far behind the rows that are looked at first; a leap ahead beside an even count may be a pause and stays."""
    count, set_at = 9000, 7000
    run = np.arange(count) / 10
    run = run if even else np.round(run + np.random.default_rng(3).uniform(-0.02, 0.02, count), 3)
    told = run + by * (np.arange(count) >= set_at)
    first = datetime(2024, 6, 15, 14, tzinfo=UTC)
    text = f"Timestamp,Elapsed (s),{HEAD}\n" + "".join(
        f"{first + timedelta(seconds=float(a)):%Y-%m-%d %H:%M:%S.%f}Z,{b:.3f},-{60 + i % 9}\n"
        for i, (a, b) in enumerate(zip(told, run, strict=True))
    )
    ((telemetry, draft),) = drafts(text)[0]
    expected = run - run[0] if mended else told - told[0]
    np.testing.assert_allclose(telemetry.time_s, expected, atol=2e-6)
    assert any(n.code == "import.clock.leapt" for n in draft.notices) is mended


RUN = [round(0.1 * n, 2) for n in range(200)]
SHAFT = [80_000 + 50 * (n % 7) for n in range(200)]
PULSE = [1100 + 800 * (n // 60 % 2) + (n % 40 == 3) for n in range(200)]


def channel_of(heading, values, clock="Time (s)"):
    """What a column beside a clock and a shaft is taken for, and whether it is asked about."""
    lines = [f"{clock};{heading};Turbine rpm", *(f"{t};{v};{n}" for t, v, n in zip(RUN, values, SHAFT, strict=True))]
    made = plan(io.BytesIO("\n".join(lines).encode()), name="log.csv")
    return next(c.channel for c in made.columns if c.heading == heading), {h for q in made.questions for h in q.columns}


@pytest.mark.parametrize(
    "heading", ["rudder_us", "Querruder (µs)", "Train [us]", "freno_us", "Palanca_us", "Kanal (ms)", "impulse_us"]
)
def test_the_width_of_a_pulse_is_no_clock(heading):
    assert channel_of(heading, PULSE)[0].startswith("extra.")


@pytest.mark.parametrize(
    "heading",
    ["Heures turbine", "Betriebsstunden", "Engine time (h)", "Ore di volo", "Horas de la turbina", "Airframe hours"],
)
def test_hours_that_a_part_has_run_are_no_second_clock(heading):
    assert channel_of(heading, [round(57.3 + t / 3600, 5) for t in RUN])[0].startswith("extra.")


@pytest.mark.parametrize(
    "heading",
    ["Trames reçues par seconde", "Messages per second", "Telegramme pro Sekunde", "Mensajes por segundo",
     "Messaggi al secondo", "updates_per_sec", "Datagramme je Minute", "packets/sec"],
)  # fmt: skip
@pytest.mark.parametrize("values", [[95 + n // 50 for n in range(200)], [95 + n % 3 for n in range(200)]])
def test_so_many_in_a_second_are_no_clock(heading, values):
    channel, asked = channel_of(heading, values)
    assert channel.startswith("extra.") or heading in asked


def test_a_measured_time_that_goes_up_and_down_is_no_clock():
    assert channel_of("Loop time ms", [20 + (n % 9 == 0) for n in range(200)])[0].startswith("extra.")


def test_the_age_of_a_reading_and_the_time_since_an_event_are_no_clock():
    assert channel_of("GPS age (s)", [round(t % 1.0, 1) for t in RUN])[0].startswith("extra.")
    assert channel_of("Burn time (s)", [max(round(t - 8, 1), 0) for t in RUN])[0].startswith("extra.")


@pytest.mark.parametrize("heading", ["Zeit / s", "t/ms", "Elapsed (ms)", "boot_ms", "Uptime, s"])
def test_a_second_clock_stays_one(heading):
    assert channel_of(heading, [round(1000 * t) + 12 for t in RUN])[0] == "time_s"
