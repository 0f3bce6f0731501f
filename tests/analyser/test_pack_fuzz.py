"""Any trace of a pack gives finite figures or a stated "cannot", and never a warning."""

from __future__ import annotations

import warnings

import numpy as np
import pyarrow as pa
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from analyser.core.aircraft import Aircraft, FlightContext, Pack, PackNote
from analyser.core.figures import figures_of
from analyser.core.phases import find_phases
from analyser.core.quality import screen
from analyser.core.telemetry import Telemetry
from analyser.packs.analysis import analyse_packs

CHANNELS = (
    "pack.rx1.voltage_v",
    "pack.rx1.current_a",
    "pack.rx1.used_mah",
    "pack.rx1.cell1_v",
    "pack.rx1.cell3_v",
    "pack.rx1.temperature_c",
    "pack.rx2.voltage_v",
    "pack.rx2.current_a",
    "bus.main.voltage_v",
)
READINGS = {
    "voltage_v": (0.0, 75.0),
    "current_a": (-300.0, 300.0),
    "used_mah": (0.0, 9000.0),
    "temperature_c": (-40.0, 120.0),
    "cell1_v": (-1.0, 9.0),
    "cell3_v": (-1.0, 9.0),
}


@st.composite
def tables(draw: st.DrawFn) -> pa.Table:
    """Some channels, each lively, standing still, of one sample, or with holes; steps of any length."""
    rows = draw(st.integers(1, 200))
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    step = draw(st.sampled_from([0.01, 0.1, 0.5, 2.0]))
    time = np.cumsum(rng.choice([step, step, step, 20 * step], rows))
    columns: dict[str, object] = {"time_s": time - time[0]}
    for name in draw(st.lists(st.sampled_from(CHANNELS), min_size=1, unique=True)):
        low, high = READINGS[name.rpartition(".")[2]]
        shape = draw(st.sampled_from(["lively", "still", "single", "holes", "steps", "not a number"]))
        values = rng.uniform(low, high, rows)
        if shape in ("still", "single"):
            values = np.full(rows, draw(st.floats(low, high)))
        if shape == "steps":
            values = np.repeat(values[:: 1 + rows // 4], 1 + rows // 4)[:rows]
        if shape == "not a number":
            values = np.full(rows, np.nan)
        gone = rng.random(rows) < (0.7 if shape == "holes" else 0.0)
        if shape == "single":
            gone = np.arange(rows) != draw(st.integers(0, rows - 1))
        columns[name] = pa.array(values, pa.float64(), mask=gone)
    return pa.table(columns)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(tables(), st.sampled_from(["lipo", "li_ion", "lifepo4", "nimh"]), st.sampled_from([1, 2, 6]))
def test_any_trace_gives_finite_figures_or_a_reason(table: pa.Table, chemistry: str, cells: int) -> None:
    pack = Pack("R1", chemistry, cells, 3000.0, brown_out_v=6.0)  # type: ignore[arg-type]
    context = FlightContext(
        aircraft=Aircraft("invented", brown_out_v=6.0), packs={"rx1": pack}, air_temperature_c=15.0,
        pack_notes={"rx1": PackNote(charged_mah=500.0)},
    )  # fmt: skip
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        telemetry = screen(Telemetry(table))
        result = analyse_packs(telemetry, find_phases(telemetry), context)
    for path, figure in figures_of(result):
        if figure.value is None:
            assert figure.missing, path
            continue
        ends = [x for x in (figure.low, figure.value, figure.high) if x is not None]
        assert np.isfinite(ends).all(), path
        assert ends == sorted(ends), (path, ends)
