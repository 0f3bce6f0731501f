"""Several flights in one file, told apart by the ground between them."""

import io

import numpy as np
import pytest

from importers import split
from importers.plan import plan
from importers.read import read
from importers.table import text


def story(*spans, speed=True, rpm=True, height=False, rate=5, seed=3):
    """CSV text of spans (seconds, what): flying, standing, idling, taxiing."""
    rng = np.random.default_rng(seed)
    states = {"fly": (40, 90_000, 80), "stand": (0.3, 0, 0), "idle": (0.3, 35_000, 0), "taxi": (5, 40_000, 0)}
    rows = np.concatenate([np.tile(states[w], (int(s * rate), 1)) for s, w in spans])
    t = np.arange(len(rows)) / rate
    columns = {"time (s)": t, "Rx1 RSSI (dBm)": -60 - np.arange(len(rows)) % 5}
    if speed:
        columns["Ground Speed (m/s)"] = np.abs(rows[:, 0] + rng.normal(0, 0.4, len(rows))).round(2)
    if rpm:
        columns["Left Engine Speed (rpm)"] = rows[:, 1]
    if height:
        columns["GPS Altitude (m)"] = (rows[:, 2] + 100 + rng.normal(0, 1, len(rows))).round(1)
    return "\n".join([",".join(columns), *(",".join(f"{v:g}" for v in r) for r in zip(*columns.values(), strict=True))])


def flights(csv):
    data = (csv + "\n").encode()
    return [(d.telemetry(), d) for d in read(plan(io.BytesIO(data), name="log.csv"))]


TWO = ((60, "idle"), (120, "fly"), (30, "taxi"), (300, "stand"), (60, "idle"), (120, "fly"), (200, "stand"))


@pytest.mark.parametrize(("kinds", "first_s"), [
    ({}, 270), ({"height": True}, 270), ({"speed": False, "height": True}, 270), ({"rpm": False}, 390),
])  # fmt: skip
def test_a_standstill_between_two_flights_cuts(kinds, first_s):
    found = flights(story(*TWO, **kinds))
    assert len(found) == 2
    (first, _), (second, draft) = found
    assert first.duration_s == pytest.approx(first_s, abs=6)
    assert second.time_s[0] == 0
    assert first.time_s.size + second.time_s.size == 890 * 5
    assert any("standstill" in n for n in map(str, draft.notices))


@pytest.mark.parametrize("spans", [
    ((60, "idle"), (120, "fly"), (30, "taxi"), (300, "stand")),
    ((300, "stand"), (60, "idle"), (120, "fly"), (30, "taxi")),
    ((60, "idle"), (120, "fly"), (40, "stand"), (120, "fly")),
    ((120, "fly"), (300, "idle"), (120, "fly")),
    ((120, "fly"), (300, "stand"), (30, "taxi"), (5, "fly"), (300, "stand")),
])  # fmt: skip
def test_no_cut_without_engines_off_long_enough_between_two_flights(spans):
    assert len(flights(story(*spans))) == 1


def test_three_flights_through_many_small_blocks(monkeypatch):
    csv = story(*TWO, *TWO[3:])
    whole = flights(csv)
    small = text.blocks
    monkeypatch.setattr("importers.table.rows.blocks", lambda *a, **k: small(*a, **{**k, "size": 4096}))
    pieces = flights(csv)
    assert len(whole) == len(pieces) == 3
    assert [p[0].time_s.size for p in pieces] == [w[0].time_s.size for w in whole]
    np.testing.assert_allclose(pieces[2][0].time_s, whole[2][0].time_s, atol=1e-9)


def test_what_is_held_back_is_bounded(monkeypatch):
    monkeypatch.setattr(split, "HOLD_BYTES", 100_000)
    small = text.blocks
    monkeypatch.setattr("importers.table.rows.blocks", lambda *a, **k: small(*a, **{**k, "size": 4096}))
    found = flights(story((120, "fly"), (3000, "stand"), (30, "taxi")))
    assert len(found) == 2
    assert any("long standstill" in n for n in map(str, found[1][1].notices))
