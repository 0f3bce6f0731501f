"""The learned burn curve and the judgement of a start against others' arithmetic.

Sources: robust linear regression with Huber's loss as statsmodels has it (``RLM``, ``HuberT``) for the curve
``q = q0 + q3 (n / n_max)³``; the order statistics of a made temperature trace for a start's peak and duration.
"""

from __future__ import annotations

import numpy as np
import pyarrow as pa
import pytest

from analyser.core.aircraft import Aircraft, Engine, FlightContext
from analyser.core.burn_curve import fit_burn_curve
from analyser.core.telemetry import Telemetry
from analyser.flight import analyse_flight

CHECKS = ("season.fuel.tanks.normalised_rates", "fuel.tanks.by_sensor.burned", "turbine.engines.starts.*")


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_curve_is_the_robust_line_over_the_cube_of_speed(seed: int) -> None:
    models = pytest.importorskip("statsmodels.api")
    rng = np.random.default_rng(seed)
    speed = rng.uniform(35_000.0, 110_000.0, 600)
    burn = 60.0 + 420.0 * (speed / 110_000.0) ** 3 + 6.0 * rng.standard_t(4, 600)
    # A few seconds of nonsense: a robust fit must not follow them.
    burn[rng.integers(0, 600, 15)] += 150.0
    curve = fit_burn_curve("left", speed, burn)
    assert curve is not None
    fitted = models.RLM(burn, models.add_constant((speed / 110_000.0) ** 3), M=models.robust.norms.HuberT()).fit()
    at = np.array([40_000.0, 75_000.0, 105_000.0])
    theirs = fitted.predict(models.add_constant((at / 110_000.0) ** 3))
    assert curve.at(at) == pytest.approx(theirs, rel=0.02)
    assert curve.at(at) == pytest.approx(60.0 + 420.0 * (at / 110_000.0) ** 3, rel=0.03)


def test_a_start_is_told_as_its_trace_was_made() -> None:
    """From rest to idle in 30 s with a peak of 720 °C, then idle; hand-made, at 2 Hz."""
    t = np.arange(0.0, 240.0, 0.5)
    rpm = np.interp(t, [0, 20, 50, 200, 215], [0, 0, 33_000, 33_000, 0])
    egt = np.interp(t, [0, 20, 38, 55, 200, 235], [20, 20, 720, 480, 480, 120])
    table = pa.table({"time_s": t, "engine.main.speed_rpm": rpm, "engine.main.egt_c": egt})
    made = Aircraft("Plain", engines=(Engine("main", max_rpm=110_000.0, idle_rpm=33_000.0, max_egt_c=700.0),))
    result = analyse_flight(Telemetry(table), FlightContext(aircraft=made))
    (engine,) = result.turbine.engines
    (start,) = engine.starts
    assert start.peak_egt_c.value == pytest.approx(float(egt[(t > 20) & (t < 60)].max()), abs=1.0)
    # A straight rise: first turning is seen at 4 % of idle, idle reached at 85 % of it (both common practice).
    assert start.duration_s.value == pytest.approx(0.81 * 30.0, abs=0.5)
    # Above the maker's limit as entered, so it is told; common practice judges nothing here.
    assert any(e.kind == "hot_start" or e.kind == "over_temperature" for e in result.events())
