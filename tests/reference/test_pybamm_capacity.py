"""Capacity recovered from whole flights of PyBaMM's Thevenin model, an independent simulator, with a known capacity.

Source: PyBaMM (BSD 3-clause), ``equivalent_circuit.Thevenin``, parameter set ``ECM_Example`` with its circuit, capacity
and open-circuit curve replaced. The curve is of a make that the tool's tables do not know (``ORegan2022``), of a new
cell and of one that lost lithium.
"""

from __future__ import annotations

import numpy as np
import pyarrow as pa
import pytest

from analyser.core.aircraft import FlightContext, Pack
from analyser.core.phases import find_phases
from analyser.core.quality import screen
from analyser.core.telemetry import Telemetry
from analyser.packs.analysis import PackResult, analyse_packs
from analyser.packs.chemistry import CHARGE_PERCENT
from analyser.packs.reference_state import coldness
from tests.reference.test_aged_cells import Cell, aged

CHECKS = ("packs.packs.capacity.by_discharge_mah", "packs.packs.state.after_percent")

pybamm = pytest.importorskip("pybamm")
NEW_AH, CELLS, SECONDS = 3.0, 6, 600.0
PACK = Pack("simulated", "li_ion", CELLS, 1000.0 * NEW_AH)
CELL: dict[str, Cell] = {"new": aged("ORegan2022", "lithium", 0.0), "aged": aged("ORegan2022", "lithium", 0.15)}


def simulate(cell: Cell, amp_hours: float, celsius: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """A flight from (nearly) full at 50 Hz: a minute of rest, eight of uneven load, a minute of rest."""
    rng = np.random.default_rng(11)
    t = np.arange(0.0, SECONDS, 0.02)
    held = np.r_[0.1, rng.uniform(3.0, 20.0, 200)]
    current = np.interp(t, np.arange(0.0, 603.0, 3.0), held)
    current = np.where((t > 60.0) & (t < SECONDS - 60.0), current, 0.1)
    cold = float(np.exp(20_000.0 * coldness(celsius)))
    values = pybamm.ParameterValues("ECM_Example")
    changed = {
        "Current function [A]": pybamm.Interpolant(t, current, pybamm.t),
        "Cell capacity [A.h]": amp_hours,
        "Nominal cell capacity [A.h]": amp_hours,
        "Initial SoC": 0.999,
        "Ambient temperature [K]": celsius + 273.15,
        "Initial temperature [K]": celsius + 273.15,
        "R0 [Ohm]": 0.006 * cold,
        "R1 [Ohm]": 0.004 * cold,
        "C1 [F]": 3000.0 / cold,
        "Element-1 initial overpotential [V]": 0.0,
        "Lower voltage cut-off [V]": 1.0,
        "Upper voltage cut-off [V]": 5.0,
        "Open-circuit voltage [V]": lambda soc: pybamm.Interpolant(CHARGE_PERCENT / 100.0, cell.rest_v, soc),
    }
    values.update(changed, check_already_exists=False)
    model = pybamm.equivalent_circuit.Thevenin()
    solution = pybamm.Simulation(model, parameter_values=values).solve(t_eval=[0, float(t[-1])], t_interp=t)
    return t, CELLS * np.asarray(solution["Voltage [V]"](t)), current


@pytest.fixture(scope="module", params=[("new", 25.0), ("new", 5.0), ("aged", 25.0), ("aged", 5.0)])
def flight(request: pytest.FixtureRequest) -> tuple[tuple[np.ndarray, ...], float, float]:
    """A simulated flight, its pack's true capacity in A h and the temperature."""
    age, celsius = request.param
    amp_hours = NEW_AH * CELL[age].capacity / CELL["new"].capacity
    return simulate(CELL[age], amp_hours, celsius), amp_hours, celsius


@pytest.mark.parametrize("hz", [1, 5, 50])
@pytest.mark.parametrize("step_v", [0.010, 0.050, 0.100])
def test_capacity_lies_within_its_interval(
    hz: int, step_v: float, flight: tuple[tuple[np.ndarray, ...], float, float]
) -> None:
    (t, v, i), amp_hours, celsius = flight
    every = 50 // hz
    columns = {
        "time_s": t[::every],
        "pack.rx1.voltage_v": np.round(v[::every] / step_v) * step_v,
        "pack.rx1.current_a": np.round(i[::every], 2),
        "pack.rx1.temperature_c": np.full(t[::every].size, celsius),
    }
    telemetry = screen(Telemetry(pa.table(columns)))
    context = FlightContext(packs={"rx1": PACK})
    pack: PackResult = analyse_packs(telemetry, find_phases(telemetry), context).packs[0]
    used = float(np.trapezoid(i, t)) / 3.6
    assert pack.charge.used_mah.value == pytest.approx(used, rel=0.01)
    told = pack.capacity.by_discharge_mah
    assert told.value is not None, told.missing
    assert told.low is not None
    assert told.high is not None
    assert told.low <= 1000.0 * amp_hours <= told.high
    assert told.value == pytest.approx(1000.0 * amp_hours, rel=0.2)
    # A charge state of a tenth either way, at either end, is what the makes' spread leaves.
    left = pack.state.after_percent
    assert left.low is not None
    assert left.high is not None
    assert left.low <= 100.0 * (0.999 - used / (1000.0 * amp_hours)) <= left.high
