"""Any link trace at all gives finite figures or a stated "cannot": no exception, no warning of numpy's."""

from __future__ import annotations

import math
import warnings

import numpy as np
import pyarrow as pa
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from analyser.core.aircraft import FlightContext, Receiver
from analyser.core.figures import figures_of
from analyser.core.phases import Phases, find_phases
from analyser.core.quality import screen
from analyser.core.telemetry import Telemetry
from analyser.link.analysis import LinkResult, analyse_link
from reports.words.catalogue import text
from tests.analyser.link_flights import aircraft, context, fly, level, tail_null

TERN, OLD, _ = aircraft()
FLOWN = fly({"rx1.antenna1": level, "rx1.antenna2": tail_null(18.0)}, seed=2, seconds=60.0, rate_hz=5.0, counters=True)
QUANTITIES = {
    "antenna1_rssi_dbm": (-150.0, 30.0),
    "antenna2_rssi_dbm": (-150.0, 30.0),
    "antenna1_signal_percent": (0.0, 100.0),
    "antenna2_signal_counts": (0.0, 255.0),
    "rssi_dbm": (-150.0, 30.0),
    "link_quality_percent": (0.0, 100.0),
    "antenna1_lost": (0.0, 1e6),
    "lost_frames": (0.0, 1e9),
    "failsafe": (0.0, 1.0),
}


def holds(result: LinkResult) -> None:
    for path, figure in figures_of(result):
        for value in (figure.value, figure.low, figure.high):
            assert value is None or math.isfinite(value), path
        assert figure.value is not None or figure.missing, path
        assert figure.low is None or figure.high is None or figure.low <= figure.high, path
    for receiver in result.receivers:
        for events in (receiver.events, *(a.events for a in receiver.antennas)):
            assert all(
                math.isfinite(e.start_s) and e.end_s >= e.start_s and "nan" not in text(e.summary) for e in events
            )


def analysed(telemetry: Telemetry, phases: Phases | None, of: FlightContext) -> LinkResult:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        screened = screen(telemetry)
        return analyse_link(screened, phases or find_phases(screened), of)


@st.composite
def values(draw: st.DrawFn, n: int, low: float, high: float) -> np.ndarray:
    """Noise, a constant, steps or a count, with gaps of any size, or nothing at all."""
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    kind = draw(st.sampled_from(["noise", "constant", "steps", "count", "ends"]))
    middle = draw(st.floats(low, high))
    if kind == "constant":
        out = np.full(n, middle)
    elif kind == "noise":
        out = np.clip(rng.normal(middle, (high - low) / 20, n), low, high)
    elif kind == "steps":
        out = rng.choice([low, middle, high], n)
    elif kind == "count":
        out = np.cumsum(rng.poisson(draw(st.sampled_from([0.0, 0.01, 3.0])), n)) % max(high, 1.0)
    else:
        out = np.linspace(low, high, n)
    gone = draw(st.sampled_from([0.0, 0.3, 0.97, 1.0]))
    out = np.where(rng.random(n) < gone, np.nan, out)
    first, last = sorted((draw(st.integers(0, n)), draw(st.integers(0, n))))
    if draw(st.booleans()):
        out[first:last] = np.nan
    return out


@st.composite
def times(draw: st.DrawFn) -> np.ndarray:
    steps = st.sampled_from([1e-3, 0.02, 0.1, 1.0, 7.0, 400.0])
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    chosen = draw(st.lists(steps, min_size=1, max_size=3))
    n = draw(st.integers(1, 300))
    return np.r_[0.0, np.cumsum(rng.choice(chosen, n - 1) * rng.uniform(0.5, 1.5, n - 1))]


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.data())
def test_without_position(data: st.DataObject) -> None:
    t = data.draw(times())
    names = data.draw(st.lists(st.sampled_from(sorted(QUANTITIES)), min_size=1, max_size=4, unique=True))
    columns = {"time_s": pa.array(t)}
    for name in names:
        columns[f"link.rx1.{name}"] = pa.array(data.draw(values(t.size, *QUANTITIES[name])), from_pandas=True)
    end = float(t[-1])
    span = data.draw(st.sampled_from([None, Phases((), 0.0, end, end, ()), Phases((), end / 3, end / 2, end / 6, ())]))
    told = FlightContext(aircraft=replace(TERN, receivers=(Receiver("rx1", -95.0),)))
    holds(analysed(Telemetry(pa.table(columns)), span, told))


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.data())
def test_on_a_flown_path(data: st.DataObject) -> None:
    """A real path under any link, some of its own channels gone, holed or stuck."""
    table = FLOWN.telemetry.table
    n = table.num_rows
    columns: dict[str, pa.Array] = {"time_s": table.column("time_s")}
    for name in table.column_names[1:]:
        fate = data.draw(st.sampled_from(["kept", "kept", "kept", "gone", "holed", "stuck"]), label=name)
        own = table.column(name).to_numpy().astype(float).copy()
        if fate == "holed":
            a, b = sorted((data.draw(st.integers(0, n)), data.draw(st.integers(0, n))))
            own[a:b] = np.nan
        elif fate == "stuck":
            own[:] = own[n // 2]
        if fate != "gone":
            columns[name] = pa.array(own, from_pandas=True)
    for name in data.draw(st.lists(st.sampled_from(sorted(QUANTITIES)), max_size=3, unique=True)):
        columns[f"link.rx2.{name}"] = pa.array(data.draw(values(n, *QUANTITIES[name])), from_pandas=True)
    of = data.draw(st.sampled_from([context(OLD, TERN), FlightContext(aircraft=TERN), FlightContext()]))
    holds(analysed(Telemetry(pa.table(columns)), None, of))
