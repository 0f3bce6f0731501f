"""Resistance recovered from traces of PyBaMM's Thevenin model, an independent simulator, at known circuits.

Source: PyBaMM (BSD 3-clause), ``equivalent_circuit.Thevenin``, parameter set ``ECM_Example`` with its resistances and
capacitances replaced. Two temperatures (activation energy 15 kJ/mol there, deliberately not the makes' mean), sample
rates 1 to 50 Hz, voltage steps 10 to 100 mV over six cells in series.
"""

from __future__ import annotations

import numpy as np
import pytest
from msgspec import Struct

from analyser.core.figures import Z95
from analyser.packs.circuit import fit_circuit, step_resistances
from analyser.packs.reference_state import MAKES, coldness, over_reference_temperature

CHECKS = (
    "packs.packs.resistance.value_mohm",
    "packs.packs.resistance.as_read_mohm",
    "packs.packs.resistance.by_steps_mohm",
)

pybamm = pytest.importorskip("pybamm")
R0, R1, C1 = 0.015, 0.008, 1500.0
R2, C2 = 0.006, 400.0
CELLS = 6
ENERGY_J_PER_MOL = 15_000.0


class Trace(Struct, frozen=True):
    """One simulated cell at 50 Hz, and what it was made from."""

    time_s: np.ndarray
    voltage_v: np.ndarray
    current_a: np.ndarray
    one_second_ohm: float


def simulate(celsius: float, pairs: int) -> Trace:
    """Ten minutes of uneven load from rest."""
    rng = np.random.default_rng(3)
    t = np.arange(0.0, 600.0, 0.02)
    current = np.interp(t, np.arange(0.0, 606.0, 3.0), np.r_[0.0, rng.uniform(1.0, 14.0, 201)])
    warm = float(np.exp(ENERGY_J_PER_MOL * coldness(celsius)))
    elements = [(R0, 0.0), (R1, C1), (R2, C2)][: pairs + 1]
    values = pybamm.ParameterValues("ECM_Example")
    changed = {
        "Current function [A]": pybamm.Interpolant(t, current, pybamm.t),
        "R0 [Ohm]": R0 * warm,
        "Initial SoC": 0.8,
        "Ambient temperature [K]": celsius + 273.15,
        "Initial temperature [K]": celsius + 273.15,
    }
    for n, (ohm, farad) in enumerate(elements[1:], 1):
        # The capacitance grows as the resistance falls: the time constant stays.
        changed |= {f"R{n} [Ohm]": ohm * warm, f"C{n} [F]": farad / warm}
        changed[f"Element-{n} initial overpotential [V]"] = 0.0
    values.update(changed, check_already_exists=False)
    model = pybamm.equivalent_circuit.Thevenin(options={"number of rc elements": pairs})
    solution = pybamm.Simulation(model, parameter_values=values).solve(t_eval=[0, float(t[-1])], t_interp=t)
    truth = R0 + sum(ohm * (1 - np.exp(-1 / (ohm * farad))) for ohm, farad in elements[1:])
    return Trace(t, np.asarray(solution["Voltage [V]"](t)), current, warm * truth)


@pytest.fixture(scope="module")
def room() -> Trace:
    return simulate(25.0, 1)


@pytest.fixture(scope="module")
def cold() -> Trace:
    return simulate(5.0, 1)


@pytest.fixture(scope="module")
def two_pairs() -> Trace:
    return simulate(25.0, 2)


@pytest.mark.parametrize("hz", [1, 5, 50])
@pytest.mark.parametrize("step_v", [0.010, 0.050, 0.100])
@pytest.mark.parametrize("where", ["room", "cold"])
def test_resistance_at_the_reference_temperature(
    hz: int, step_v: float, where: str, request: pytest.FixtureRequest
) -> None:
    trace: Trace = request.getfixturevalue(where)
    every = 50 // hz
    t, i = trace.time_s[::every], trace.current_a[::every]
    v = np.round(CELLS * trace.voltage_v[::every] / step_v) * step_v
    circuit = fit_circuit((t, v), (t, i))
    assert circuit is not None
    there = CELLS * trace.one_second_ohm
    assert circuit.one_second_ohm == pytest.approx(there, rel=0.05)
    assert abs(circuit.one_second_ohm - there) <= Z95 * circuit.one_second_se
    celsius = 25.0 if where == "room" else 5.0
    warm = float(np.exp(ENERGY_J_PER_MOL * coldness(celsius)))
    factor, factor_se = over_reference_temperature(celsius)
    # The true activation energy lies within the makes' own uncertainty: so must the carried value.
    assert abs(ENERGY_J_PER_MOL - MAKES.j_per_mol) <= Z95 * MAKES.se
    relative = Z95 * float(np.hypot(circuit.one_second_se / circuit.one_second_ohm, factor_se))
    assert abs(np.log(circuit.one_second_ohm / factor / (there / warm))) <= relative + 0.01


def test_one_pair_is_found_with_its_time_constant_and_no_second(room: Trace) -> None:
    circuit = fit_circuit((room.time_s, room.voltage_v), (room.time_s, room.current_a))
    assert circuit is not None
    assert circuit.pairs == 1
    assert circuit.r0_ohm == pytest.approx(R0, rel=0.03)
    assert circuit.tau_s == pytest.approx(R1 * C1, rel=0.25)
    assert circuit.r1_ohm == pytest.approx(R1, rel=0.15)


def test_two_pairs_are_found_where_there_are_two(two_pairs: Trace) -> None:
    circuit = fit_circuit((two_pairs.time_s, two_pairs.voltage_v), (two_pairs.time_s, two_pairs.current_a))
    assert circuit is not None
    assert circuit.one_second_ohm == pytest.approx(two_pairs.one_second_ohm, rel=0.02)
    assert circuit.pairs == 2
    assert circuit.tau_s == pytest.approx(R2 * C2, rel=0.4)
    assert circuit.tau2_s == pytest.approx(R1 * C1, rel=0.4)
    assert circuit.settled_ohm == pytest.approx(R0 + R1 + R2, rel=0.08)


@pytest.mark.parametrize("step_v", [0.050, 0.100])
def test_a_coarse_log_does_not_invent_a_second_pair(room: Trace, step_v: float) -> None:
    t, i = room.time_s[::10], room.current_a[::10]
    circuit = fit_circuit((t, np.round(CELLS * room.voltage_v[::10] / step_v) * step_v), (t, i))
    assert circuit is not None
    assert circuit.pairs == 1


def test_steps_agree(room: Trace) -> None:
    t, v, i = room.time_s, room.voltage_v, room.current_a
    assert float(np.median(step_resistances((t, v), (t, i)))) == pytest.approx(room.one_second_ohm, rel=0.10)
