"""Strange clocks and shapes: nothing of them may be wrong and sure, and each interval between good samples exact."""

from __future__ import annotations

import io

import numpy as np
import pandas as pd
import pyarrow as pa
import pytest

from importers.clock.blocks import Blocks
from importers.clock.order import Order
from importers.clock.pieces import days_s
from importers.model import FlightDraft
from importers.plan import plan
from importers.read import read
from importers.refusal import Refusal
from tests.importers.strange import pools
from tests.importers.strange.score import judge
from tests.importers.strange.writing import sheet, text


def _only_flight(body: str) -> tuple[FlightDraft, pa.Table]:
    flights = read(plan(io.BytesIO(body.encode()), name="x.csv"))
    flight = next(flights)
    table = flight.telemetry().table
    assert next(flights, None) is None
    return flight, table


UNKNOWABLE = {"clock locks columns apart"}
"""A clock set forward by 17 s looks like a pause of 17 s."""


def test_no_strange_log_is_wrong_and_sure() -> None:
    """A twelfth of the logs, drawn with a number of their own; ``tests.importers.strange.score`` judges all."""
    named = [(pool, name) for pool in pools.POOLS for name in pools.kinds(pool) if name not in UNKNOWABLE][3::12]
    outcomes = {name: judge(next(pools.draw(pool, 11, name))) for pool, name in named}
    bad = {name: o.why for name, o in outcomes.items() if o.word in ("wrong", "crash", "lost")}
    assert not bad
    assert sum(o.word == "right" for o in outcomes.values()) >= 0.7 * len(outcomes)


@pytest.mark.parametrize("seed", range(8))
def test_late_repeated_and_swapped_rows_come_back_exactly(seed: int) -> None:
    rng = np.random.default_rng(seed)
    true = np.cumsum(rng.uniform(0.05, 0.4, 900)).round(3)
    again = np.sort(np.concatenate([np.arange(900), rng.choice(900, 60, replace=False)]))
    arrival = true[again] + np.where(rng.random(again.size) < 0.2, rng.exponential(1.0, again.size), 0)
    rows = again[np.argsort(arrival, kind="stable")]
    order = Order()
    settled = order.settle(order.unwrap(true[rows]), lambda at: rows[at].astype(np.uint64), begun=False, final=True)
    (part,) = settled.parts
    assert np.array_equal(part.times, true)
    assert np.array_equal(rows[part.rows], np.arange(900))


def test_julian_days_as_pandas_counts_them() -> None:
    start = pd.Timestamp("2025-11-23 09:41:07")
    body = "Julian date,RX1 voltage (V)\n" + "".join(
        f"{(start + pd.Timedelta(seconds=i)).to_julian_date():.8f},{8.2 - i / 1000:.3f}\n" for i in range(60)
    )
    flight, table = _only_flight(body)
    assert flight.utc_start is not None
    assert abs(pd.Timestamp(flight.utc_start).tz_localize(None) - start) < pd.Timedelta(milliseconds=2)
    assert np.allclose(table["time_s"], np.arange(60), atol=0.002)


def test_days_in_columns_as_numpy_counts_them() -> None:
    days = np.array(["1999-12-31", "2024-02-29", "2026-06-15"], "datetime64[D]")
    parts = [np.array(p, float) for p in zip(*[(d.year, d.month, d.day) for d in days.tolist()], strict=True)]
    assert np.array_equal(days_s(parts), days.astype("datetime64[s]").astype(float))
    assert np.isnan(days_s([np.array([2026.0]), np.array([2.0]), np.array([30.0])])).all()


def test_blocks_of_sensors_stay_in_order_over_midnight_and_flights() -> None:
    clock = np.array([86_398.0, 86_399, 0, 1, 86_398, 86_399, 0, 1])
    names = pa.array(["a"] * 4 + ["b"] * 4)
    keys = Blocks((86_400,), 1).keys(clock, names)
    assert np.array_equal(keys, [86_398, 86_399, 86_400, 86_401] * 2)
    two = np.array([0.0, 100, 200, 0, 100, 0, 100, 200, 0, 100])
    line = Blocks((), 1)
    first, second = line.keys(two[:4], pa.array(["a"] * 4)), line.keys(two[4:], pa.array(["a", *["b"] * 5]))
    assert np.array_equal(np.argsort(np.concatenate([first, second]), kind="stable"), [0, 5, 1, 6, 2, 7, 3, 8, 4, 9])


def test_a_clock_that_is_set_while_it_logs_joins_its_rows() -> None:
    s = sheet(np.random.default_rng(1), ("volt", "egt"), hz=5, seconds=60)
    day = [pd.Timestamp("1980-01-06" if t < 20 else "2026-06-15 12:00") + pd.Timedelta(seconds=t) for t in s.time]
    body = text(("Time (UTC)", *s.head), s.rows([f"{d:%Y-%m-%d %H:%M:%S}.{d.microsecond // 1000:03d}" for d in day]))
    flight, table = _only_flight(body)
    assert flight.utc_start is not None
    assert abs(pd.Timestamp(flight.utc_start).tz_localize(None) - pd.Timestamp("2026-06-15 12:00")) < pd.Timedelta("1s")
    assert np.allclose(table["time_s"], s.time, atol=1e-3)
    assert any("had not been set" in str(n) for n in flight.notices)


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("shape header again in another order", "line 182: found a header with other columns, or in another order"),
        ("shape records of two kinds", "rows of several kinds ('D1', 'D2')"),
        ("shape header again with one more", "line 182: found"),
    ],
)
def test_what_would_be_read_under_wrong_headings_is_refused(name: str, said: str) -> None:
    log = next(log for pool in pools.POOLS for log in pools.draw(pool, 1, name))
    with pytest.raises(Refusal) as refused:
        list(read(plan(io.BytesIO(log.data), name="log.csv")))
    assert said in str(refused.value)
