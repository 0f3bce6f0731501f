"""A stream understood while it arrives says what the import will say; nothing that is unsure is shown."""

from __future__ import annotations

import gc
import random
import tracemalloc
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from importers.live import HEAD_BYTES, LONGEST_LINE, Live, Seen
from importers.plan import plan
from importers.read import read
from spooldown.live.session import Session
from spooldown.live.state import KEPT, Ring, State, burn
from spooldown.live.watch import Watch
from tests.live.conftest import HEADING, Scripted, kinds, line, recorded, until

SAMPLES = Path(__file__).parents[2] / "sample_logs"


def fed(live: Live, data: bytes, seed: int = 1, most: int = 3000) -> list[Seen]:
    """All rows of the last plan."""
    draw, at, last, rows = random.Random(seed), 0, None, []
    while at < len(data):
        some = data[at : at + draw.randrange(1, most)]
        at += len(some)
        for seen in live.feed(some):
            if live.plan is not last and live.from_start:
                rows = []
            last = live.plan
            rows.append(seen)
    return rows


@pytest.mark.parametrize(
    "name", ["tern-2026-05-24.csv", "tern-2026-06-06.csv", "tern-2026-07-18.csv", "tern-2026-08-01.csv"]
)
def test_the_same_values_as_the_import(name: str) -> None:
    """Units in a row of their own; one row a reading; German with decimal commas; tabs and epochs."""
    path = SAMPLES / "tern" / name
    live = Live(name)
    rows = fed(live, path.read_bytes(), most=30_000)
    imported = next(iter(read(plan(path)))).telemetry().table
    for channel in ("pack.rx1.voltage_v", "fuel.left.remaining_ml", "link.rx2.antenna1_rssi_dbm", "engine.left.egt_c"):
        theirs = imported.column(channel).drop_null().to_pylist()
        ours = [v for seen in rows for v in seen.table.column(channel).drop_null().to_pylist()]
        assert ours[: len(theirs)] == theirs
        assert len(ours) - len(theirs) in (0, 1), "the import leaves a last line out that may be cut"


def test_the_same_values_as_pandas_reads() -> None:
    path = SAMPLES / "tern" / "tern-2026-07-04.csv"
    rows = fed(Live("x"), path.read_bytes(), most=30_000)
    theirs = pd.read_csv(path, comment="#")["Rx2 Pack Voltage (V)"].dropna().to_numpy()
    ours = np.concatenate([s.table.column("pack.rx2.voltage_v").drop_null().to_numpy() for s in rows])
    assert ours.size in (theirs.size, theirs.size - 1)
    assert np.array_equal(ours, theirs[: ours.size])


@pytest.mark.parametrize("end", [b"\n", b"\r\n", b"\r"])
@pytest.mark.parametrize("most", [2, 4000])
def test_any_line_end_in_any_pieces(end: bytes, most: int) -> None:
    data = (HEADING + b"".join(line(n) for n in range(300))).replace(b"\n", end)
    rows = fed(Live("x"), data + end, most=most)
    assert sum(s.times_s.size for s in rows) in (299, 300)


def test_headings_that_were_given() -> None:
    live = Live("x", headings=HEADING.decode())
    rows = fed(live, b"".join(line(n) for n in range(300)))
    assert live.plan is not None
    assert sum(s.times_s.size for s in rows) == 300
    assert "pack.rx1.voltage_v" in rows[0].table.column_names


def test_without_headings_it_says_so() -> None:
    live = Live("x")
    assert fed(live, b"".join(line(n) for n in range(300))) == []
    assert live.plan is None
    assert live.why is not None
    assert "without a header" in str(live.why)


def egt(n: int) -> str:
    return f"{560 + 40 * np.sin(n / 900):.0f}"


def test_a_sensor_that_wakes_up_later_is_shown() -> None:
    rows = [f"{n * 0.02:.2f},{8 + 0.001 * (n % 9):.3f},{'' if n < 60_000 else egt(n)}\n" for n in range(150_000)]
    live = Live("x")
    seen = fed(live, ("time_s,Rx1 Voltage (V),Left EGT (°C)\n" + "".join(rows)).encode(), most=400_000)
    assert "engine.left.egt_c" not in seen[0].table.column_names
    assert "engine.left.egt_c" in seen[-1].table.column_names


def test_a_sensor_that_wakes_up_later_and_is_not_sure_is_asked_about() -> None:
    volts = [8.2 - 2e-6 * n + 0.001 * (n % 9) for n in range(150_000)]
    rows = [f"{n * 0.02:.2f},{v:.3f},{'' if n < 60_000 else 20 + n % 5}\n" for n, v in enumerate(volts)]
    live = Live("x")
    seen = fed(live, ("time_s,Rx1 Voltage (V),Left EGT (°C)\n" + "".join(rows)).encode(), most=400_000)
    assert "engine.left.egt_c" not in seen[-1].table.column_names
    assert [q.columns for q in live.asks] == [("Left EGT (°C)",)]


def test_a_hole_makes_no_row_of_two_halves() -> None:
    live = Live("x")
    rows = fed(live, HEADING + b"".join(line(n) for n in range(200)))
    first, second = line(200), line(400)
    more = list(live.feed(first[:8]))
    live.broken()
    more += list(live.feed(second[8:] + line(401)))
    times = np.concatenate([s.times_s for s in [*rows, *more]])
    assert times[-1] == pytest.approx(401 * 0.02)
    assert times.size == 201


def test_what_is_asked_about_is_not_shown() -> None:
    """A mark before three digits: thousands or decimals. Nothing is shown until somebody says which."""
    data = b"time_s;Left Tank Fuel (mL);Right Tank Fuel (mL)\n" + b"".join(
        f"{n};3.{900 - n};3.{880 - n}\n".encode() for n in range(300)
    )
    live = Live("x")
    assert fed(live, data) == []
    assert [q.key for q in live.asks] == ["decimal"]
    answered = Live("x", answers={"decimal": "comma"})
    assert fed(answered, data)[0].table.column("fuel.left.remaining_ml")[0].as_py() == 3900.0


def test_a_line_that_never_ends_is_left_out() -> None:
    live = Live("x")
    fed(live, HEADING + b"".join(line(n) for n in range(200)))
    more = fed(live, b"8" * (3 * LONGEST_LINE) + b"\n" + line(200), most=9000)
    assert live.long_lines == 1
    assert sum(s.times_s.size for s in more) == 1


def test_bytes_of_any_kind_never_stop_it() -> None:
    draw = random.Random(7)
    live = Live("x")
    good = HEADING + b"".join(line(n) for n in range(300))
    at, state = 0, State()
    while at < len(good):
        some = bytearray(good[at : at + 400])
        at += len(some)
        for _ in range(draw.randrange(4)):
            some[draw.randrange(len(some))] = draw.randrange(256)
        if draw.random() < 0.2:
            some += bytes(draw.randrange(256) for _ in range(draw.randrange(300)))
        if draw.random() < 0.2:
            del some[draw.randrange(len(some)) :]
        for seen in live.feed(bytes(some)):
            state.push(seen.times_s, seen.table)
        if draw.random() < 0.1:
            live.broken()


def test_a_clock_that_jumps_neither_stretches_nor_folds_the_view(tmp_path: Path) -> None:
    rows = [HEADING, *(line(n) for n in range(100)), *(line(n) for n in range(500_000, 500_100)),
            *(line(n) for n in range(100, 200))]  # fmt: skip
    path = tmp_path / "a.csv"
    session = Session(Scripted(*rows), path)
    session.start()
    until(lambda: session.watch.state.rows == 300)
    until(lambda: "clock" in kinds(path), 5)
    session.recorder.source.pieces.append(None)  # type: ignore[attr-defined]
    session.stop()
    assert session.watch.state.now_s == pytest.approx(299 * 0.02, abs=0.1)
    assert path.read_bytes() == b"".join(rows)


def test_who_looks_on_later_sees_the_same(tmp_path: Path) -> None:
    recorded(Scripted(HEADING, *(line(n) for n in range(300)), None), tmp_path / "a.csv")
    watch = Watch(tmp_path / "a.csv")
    watch.catch_up()
    assert watch.ended
    assert watch.state.rows == 300
    assert watch.state.channels["pack.rx1.voltage_v"].lowest == pytest.approx(8.2 - 299e-4)


def test_burn_from_what_is_left() -> None:
    """A tank that empties at 300 mL/min, read by a gauge in steps of 10 mL: the line's own slope is the truth."""
    import pyarrow as pa

    state, t = State(), np.arange(0.0, 90.0, 0.2)
    left = np.round((4000 - 5.0 * t) / 10) * 10
    for at in range(0, t.size, 25):
        state.push(t[at : at + 25], pa.table({"fuel.left.remaining_ml": left[at : at + 25]}))
    told = burn(state, "left", "")
    assert told.value is not None
    assert told.low is not None
    assert told.high is not None
    assert told.low <= 300.0 <= told.high
    assert told.value == pytest.approx(300.0, rel=0.05)
    assert burn(state, "right", "").value is None


def test_a_ring_keeps_the_last_and_no_more() -> None:
    """Against a plain list that keeps everything."""
    ring, draw, t, kept = Ring(100), random.Random(1), 0.0, []
    for _ in range(200):
        n = draw.randrange(1, 160)
        times = t + np.arange(n)
        t += n
        ring.push(times, 2 * times)
        kept += times.tolist()
        some, values = ring.since(float("-inf"))
        assert some.tolist() == kept[-100:]
        assert values.tolist() == [2 * x for x in kept[-100:]]


def test_values_no_sensor_can_give_are_not_shown() -> None:
    import pyarrow as pa

    state = State()
    state.push(np.arange(4.0), pa.table({"pack.rx1.voltage_v": [8.1, 8100.0, -40.0, 8.0]}))
    now = state.channels["pack.rx1.voltage_v"]
    assert (now.lowest, now.highest, now.impossible) == (8.0, 8.1, 2)


def test_memory_does_not_grow(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Twice as much again, once the layout has been looked at as often as it will be: hardly a byte more."""
    monkeypatch.setattr("importers.live.HEAD_BYTES", HEAD_BYTES // 8)  # so that it settles sooner
    path, at = tmp_path / "a.csv", 0
    path.write_bytes(HEADING)
    watch = Watch(path)

    def grown_to(size: int) -> None:
        nonlocal at
        while path.stat().st_size < size:
            with path.open("ab") as file:
                file.write(b"".join(line(i) for i in range(at, at + 3000)))
            at += 3000
            watch.catch_up()

    grown_to(HEAD_BYTES)
    assert watch.state.rows > KEPT
    watch.live._next_later = 10**12
    tracemalloc.start()
    grown_to(2 * HEAD_BYTES)
    gc.collect()
    before = tracemalloc.get_traced_memory()[0]
    grown_to(4 * HEAD_BYTES)
    gc.collect()
    after = tracemalloc.get_traced_memory()[0]
    tracemalloc.stop()
    assert watch.state.rows == at
    assert after - before < 60_000


def test_a_long_table_may_send_what_it_never_sent_before() -> None:
    rows = "".join(f"{n / 10:.1f},{name},{8 + n % 3}\n" for n in range(200) for name in ("Rx1 Voltage", "Rx2 Voltage"))
    live = Live("x")
    assert fed(live, ("time_s,sensor,value\n" + rows).encode())
    assert fed(live, b"20.1,Something Else,7\n20.2,Something Else,8\n") == []
    (seen,) = fed(live, b"20.3,Rx1 Voltage,9\n")
    assert seen.table.column("pack.rx1.voltage_v").to_pylist() == [9.0]
