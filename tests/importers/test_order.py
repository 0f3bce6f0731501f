"""Late, repeated, swapped and bundled packets, counters that wrap, resets: time comes back exactly.

The disorder is made here by the rules of a store-and-forward radio link (a packet has one stamp, and arrives when it
arrives), not by those of the code; every row carries its own number, so that each stamp can be looked up.
"""

import io
from functools import partial

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from importers.plan import plan
from importers.read import read
from importers.refusal import Refusal
from importers.table import rows as table_rows

BLOCKS = table_rows.blocks
QUICK = settings(max_examples=25, deadline=None, derandomize=True, database=None,
                 suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture])  # fmt: skip


def flights(text, **answers):
    return [d.telemetry() for d in read(plan(io.BytesIO(text.encode()), name="log.csv", answers=answers))]


def table(stamps, numbers, heading="Time (ms)"):
    return f"{heading},Rx1 voltage (V),EGT (°C)\n" + "".join(
        f"{s},{6 + n % 7 / 10:.1f},{200 + n * 0.01:.2f}\n" for s, n in zip(stamps, numbers, strict=True)
    )


def numbered(telemetry):
    """Which row each is, and its time."""
    values = telemetry.series("engine.main.egt_c")
    return np.rint((values.values - 200) * 100).astype(int), values.time_s


def disorder(rng, n, kinds, keep=12):
    """The order in which packets arrive: row numbers, some late, swapped, bundled or twice. The ends stay in order."""
    arrive = np.arange(n, dtype=float)
    inner = np.arange(keep, n - keep)
    extra = []
    if "late" in kinds:
        some = rng.choice(inner, n // 25, replace=False)
        arrive[some] += rng.integers(1, 12, some.size) + 0.5
    if "swapped" in kinds:
        some = rng.choice(inner, n // 40, replace=False)
        arrive[some] += 1.25
    if "burst" in kinds:
        for at in rng.choice(inner[: -2 * keep], max(n // 300, 1), replace=False):
            arrive[at : at + 8] += 10.0
    if "twice" in kinds:
        extra = rng.choice(inner, n // 30, replace=False).tolist()
    order = np.concatenate([np.arange(n), np.array(extra, int)])
    when = np.concatenate([arrive, np.array(extra, float) + rng.integers(0, 6, len(extra)) + 0.75])
    return order[np.argsort(when, kind="stable")]


@QUICK
@given(
    seed=st.integers(0, 10_000), step=st.sampled_from([20, 100, 200, 1000]), jitter=st.booleans(),
    kinds=st.sets(st.sampled_from(["late", "swapped", "burst", "twice"]), min_size=1),
    modulus=st.sampled_from([0, 2**32, 2**16]), small=st.booleans(),
)  # fmt: skip
def test_disorder_never_stretches_time(seed, step, jitter, kinds, modulus, small, monkeypatch):
    rng = np.random.default_rng(seed)
    n = 1000
    true = np.cumsum(rng.integers(int(0.8 * step), int(1.2 * step) + 1, n)) if jitter else step * np.arange(1, n + 1)
    if modulus == 2**16 and step > 200:
        return  # a second is too long a step to tell late from wrapped in a minute's counter
    stamps = (true + (modulus - 700 * step if modulus else 0)) % modulus if modulus else true
    order = disorder(rng, n, kinds)
    # In many blocks, what is late may come in the next one.
    monkeypatch.setattr(table_rows, "blocks", partial(BLOCKS, size=3000) if small else BLOCKS)
    found = flights(table(stamps[order], order))
    assert len(found) == 1
    numbers, times = numbered(found[0])
    own = times * 1000 - (true[numbers] - true[numbers[0]])
    again = np.concatenate([[False], numbers[1:] == numbers[:-1]])
    np.testing.assert_allclose(own[~again], 0, atol=1e-5)
    assert found[0].duration_s == pytest.approx((true[-1] - true[0]) / 1000, abs=1e-9)
    assert np.unique(numbers).size >= n - 2
    assert numbers.size <= n + 2


@QUICK
@given(seed=st.integers(0, 10_000), share=st.sampled_from([7, 25, 100]))
def test_garbled_stamps_are_left_out(seed, share):
    rng = np.random.default_rng(seed)
    n = 1000
    true = 100 * np.arange(n)
    stamps = true.astype(object)
    bad = rng.choice(np.arange(20, n - 20), n // share, replace=False)
    stamps[bad] = [int(x) for x in rng.integers(0, 10**9, bad.size)]
    found = flights(table(stamps, np.arange(n)))
    assert len(found) == 1
    numbers, times = numbered(found[0])
    good = ~np.isin(numbers, bad)
    np.testing.assert_allclose(times[good] * 1000 - true[numbers[good]], 0, atol=1e-6)
    assert found[0].duration_s == pytest.approx(true[-1] / 1000)
    assert good.sum() >= n - bad.size - 2


def test_resets_amid_late_packets_part_the_flights():
    rng = np.random.default_rng(5)
    text = "Time (ms),Rx1 voltage (V),EGT (°C)\n"
    for flight, start in enumerate((0, 40, 0)):
        order = disorder(rng, 900, {"late", "swapped"})
        text += table(100 * order + start, order + 1000 * flight).split("\n", 1)[1]
    found = flights(text)
    assert [round(f.duration_s, 6) for f in found] == [89.9, 89.9, 89.9]
    for f in found:
        numbers, times = numbered(f)
        np.testing.assert_allclose(times, numbers % 1000 / 10, atol=1e-9)


def test_a_log_of_balloon_packets_that_come_by_several_stations():
    """Long steps, packets up to ten places late, the same packet from two stations."""
    rng = np.random.default_rng(2)
    n = 700
    true = np.cumsum(rng.integers(14, 24, n))
    order = disorder(rng, n, {"late", "twice"})
    found = flights(table(true[order], order, "Time (s)"))
    assert len(found) == 1
    assert found[0].duration_s == true[-1] - true[0]


@pytest.mark.parametrize("form", ["seconds", "stamps", "long"])
def test_newest_first_is_turned_round(form, monkeypatch):
    n = 2000
    monkeypatch.setattr(table_rows, "blocks", partial(BLOCKS, size=5000))
    if form == "long":
        lines = [
            f"{i / 10:.1f},{s},{v + i % 9}" for i in range(n) for s, v in (("Rx1 RSSI (%)", 60), ("EGT (°C)", 560))
        ]
        head = "time_s,sensor,value"
    else:
        stamp = (lambda i: f"{i / 10:.1f}") if form == "seconds" else (
            lambda i: f"2026-05-10 10:{i // 600:02d}:{i // 10 % 60:02d}.{i % 10}00")  # fmt: skip
        lines = [f"{stamp(i)},{200 + i * 0.01:.2f}" for i in range(n)]
        head = "Time (s),EGT (°C)" if form == "seconds" else "Time,EGT (°C)"
    forwards = flights("\n".join([head, *lines, ""]))
    backwards = flights("\n".join([head, *reversed(lines), ""]))
    assert len(forwards) == len(backwards) == 1
    assert backwards[0].duration_s == forwards[0].duration_s == pytest.approx((n - 1) / 10)
    assert backwards[0].table.select(forwards[0].table.column_names).equals(forwards[0].table)
    assert backwards[0].utc_start == forwards[0].utc_start


@pytest.mark.parametrize(("before", "after"), [("01:59:{:02d}", "03:00:{:02d}"), ("02:59:{:02d}", "02:00:{:02d}")])
@pytest.mark.parametrize("day", ["", "2026-03-29 "])
def test_summer_time_in_mid_log(before, after, day):
    stamps = [day + before.format(i) for i in range(20, 60)] + [day + after.format(i) for i in range(40)]
    found = flights(table(stamps, range(80), "Time"))
    assert len(found) == 1
    assert found[0].time_s.tolist() == list(range(80))


def test_a_stamp_beyond_all_sense_is_left_out():
    stamps = [f"{i / 10:.1f}" for i in range(100)]
    stamps[50] = "1e300"
    found = flights(table(stamps, range(100), "Time (s)"))
    assert len(found) == 1
    assert found[0].duration_s == pytest.approx(9.9)
    assert found[0].time_s.size == 99


@pytest.mark.parametrize("step", [1e4, 1e5, 1e9])
def test_rows_hours_apart_are_no_flight(step):
    with pytest.raises(Refusal, match=r"log\.csv.*row"):
        flights(table([f"{i * step:.0f}" for i in range(50)], range(50), "Time (s)"))


def test_a_flight_of_days_is_refused():
    log = table([i * 30 for i in range(3000)], range(3000), "Time (s)")
    with pytest.raises(Refusal, match=r"lasts 90.000\.00 s.*time_unit=ms or s"):
        flights(log)
    with pytest.raises(Refusal, match=r"hours.*time_unit"):
        flights(log, time_unit="s")


def test_one_row_is_no_flight():
    with pytest.raises(Refusal, match="one row"):
        flights("Time (s),Rx1 voltage (V),EGT (°C)\n0.0,7.4,500\n")
    stamps = [*range(0, 3000, 100), 500_000, *range(900_000, 903_000, 100)]
    found = flights(table(stamps, range(len(stamps))))
    assert [f.time_s.size for f in found] == [30, 30]
