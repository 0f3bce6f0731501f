"""Starts and exhaust temperatures judged beside the closed form of what was made.

Source: the step response of a first-order lag, ``1 − exp(−t / τ)`` (any text on control), for exhaust temperature under
a fire of known heat and length; the limits are the maker's as entered. Spells of turning are counted by
``scipy.ndimage.label``.
"""

from __future__ import annotations

import math

import numpy as np
import pyarrow as pa
import pytest
from scipy import ndimage

from analyser.core.aircraft import Aircraft, Engine, FlightContext
from analyser.core.telemetry import Telemetry
from analyser.flight import analyse_flight

CHECKS = ("turbine.engines.starts.*", "turbine.engines.events.depth", "turbine.engines.max_egt_c")

AIR_C, RUNNING_C, LAG_S, LIMIT_C = 20.0, 500.0, 4.0, 700.0
EACH_S, RAMP_S, RUN_S = 120.0, 24.0, 50.0
IDLE_RPM = 33_000.0


def made(fires_s: list[float], hertz: float, *, lit: list[bool]) -> tuple[pa.Table, list[float]]:
    """One log of many starts: how long each is fired at 1,000 °C while it spools up; and every start's true peak."""
    t = np.arange(0.0, EACH_S * len(fires_s) + 20.0, 1.0 / hertz)
    speed, egt, peaks = np.zeros(t.size), np.full(t.size, AIR_C), []
    for k, (fire, catches) in enumerate(zip(fires_s, lit, strict=True)):
        s = t - (20.0 + k * EACH_S)
        top = IDLE_RPM if catches else 0.4 * IDLE_RPM
        shape = np.interp(s, [0, RAMP_S, RAMP_S + RUN_S, RAMP_S + RUN_S + 12.0], [0.0, top, top, 0.0])
        speed += np.where(s > 0, shape, 0.0)
        # Heated towards 1,000 °C for a while, then towards what it runs at, then cooling.
        peak = AIR_C + (1000.0 - AIR_C) * (1.0 - math.exp(-fire / LAG_S))
        peaks.append(peak)
        begin, end = 6.0, RAMP_S + RUN_S
        after = RUNNING_C if catches else AIR_C
        hot = AIR_C + (1000.0 - AIR_C) * (1.0 - np.exp(-np.clip(s - begin, 0, fire) / LAG_S))
        settles = after + (peak - after) * np.exp(-np.clip(s - begin - fire, 0, None) / LAG_S)
        cools = AIR_C + (after - AIR_C) * np.exp(-np.clip(s - end, 0, None) / 8.0)
        own = np.where(s < begin + fire, hot, np.where(s < end, settles, cools))
        egt = np.where((s >= 0) & (s < EACH_S), own, egt)
    names = {"time_s": t, "engine.main.speed_rpm": speed, "engine.main.egt_c": egt}
    return pa.table(names), peaks


@pytest.mark.parametrize("hertz", [2.0, 10.0])
def test_every_start_is_judged_as_its_closed_form_says(hertz: float) -> None:
    fires = [3.0, 4.4, 4.9, 6.0, 4.0, 5.4]
    lit = [True, True, True, True, False, True]
    table, peaks = made(fires, hertz, lit=lit)
    engine = Engine("main", max_rpm=110_000.0, idle_rpm=IDLE_RPM, max_egt_c=900.0, max_start_egt_c=LIMIT_C)
    result = analyse_flight(Telemetry(table), FlightContext(aircraft=Aircraft("Plain", engines=(engine,))))
    (found,) = result.turbine.engines
    _, spells = ndimage.label(table["engine.main.speed_rpm"].to_numpy() > 0.04 * IDLE_RPM)
    assert len(found.starts) == spells == len(fires)
    assert [s.succeeded for s in found.starts] == lit
    # Between two samples a lag falls from its peak by no more than this.
    missed = (max(peaks) - RUNNING_C) * (1.0 - math.exp(-1.0 / (hertz * LAG_S)))
    for start, peak, fire in zip(found.starts, peaks, fires, strict=True):
        assert peak - missed - 1.0 <= (start.peak_egt_c.value or 0.0) <= peak + 1e-6, fire
    sure = [p for p in peaks if not LIMIT_C < p <= LIMIT_C + missed]
    assert len(sure) >= 5
    hot = [p for s, p in zip(found.starts, peaks, strict=True) if s.hot]
    assert all(p > LIMIT_C for p in hot)
    assert {p for p in peaks if p > LIMIT_C + missed} <= set(hot)
    kinds = [e.kind for e in result.events()]
    assert kinds.count("hot_start") == len(hot)
    assert kinds.count("failed_start") == lit.count(False)


def test_over_temperature_is_told_where_the_record_passes_the_limit() -> None:
    table, peaks = made([3.0, 5.0, 4.0], 10.0, lit=[True] * 3)
    top = float(np.max(table["engine.main.egt_c"].to_numpy()))
    for limit, told in ((top - 5.0, True), (top + 5.0, False)):
        engine = Engine("main", max_rpm=110_000.0, idle_rpm=IDLE_RPM, max_egt_c=limit)
        result = analyse_flight(Telemetry(table), FlightContext(aircraft=Aircraft("Plain", engines=(engine,))))
        events = [e for e in result.events() if e.kind == "over_temperature"]
        assert bool(events) is told
        assert result.turbine.engines[0].max_egt_c.value == pytest.approx(max(peaks), abs=20.0)
        hottest = float(table["time_s"].to_numpy()[np.argmax(table["engine.main.egt_c"].to_numpy())])
        assert all(e.start_s == pytest.approx(hottest, abs=0.2) for e in events)
