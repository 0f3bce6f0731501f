"""Resistance recovered from a trace of PyBaMM's Thevenin model, an independent simulator, at known R0, R1, C1."""

from __future__ import annotations

import numpy as np
import pytest

from analyser.resistance import fit_circuit, step_resistances

pybamm = pytest.importorskip("pybamm")
R0, R1, C1 = 0.015, 0.008, 1500.0


@pytest.fixture(scope="module")
def trace() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Ten minutes of uneven load at 0.1 s: time, voltage, current."""
    rng = np.random.default_rng(3)
    t = np.arange(0.0, 600.0, 0.1)
    current = np.interp(t, np.arange(0.0, 606.0, 3.0), rng.uniform(1.0, 14.0, 202))
    values = pybamm.ParameterValues("ECM_Example")
    values.update(
        {
            "Current function [A]": pybamm.Interpolant(t, current, pybamm.t),
            "R0 [Ohm]": R0,
            "R1 [Ohm]": R1,
            "C1 [F]": C1,
            "Element-1 initial overpotential [V]": 0.0,
            "Initial SoC": 0.8,
        }
    )
    simulation = pybamm.Simulation(pybamm.equivalent_circuit.Thevenin(), parameter_values=values)
    solution = simulation.solve(t_eval=[0, float(t[-1])], t_interp=t)
    return t, np.asarray(solution["Voltage [V]"](t)), current


@pytest.mark.parametrize("every", [1, 10])
@pytest.mark.parametrize("step_v", [0.001, 0.01])
def test_resistance_is_recovered(trace: tuple[np.ndarray, ...], every: int, step_v: float) -> None:
    t, v, i = (x[::every] for x in trace)
    circuit = fit_circuit((t, np.round(v / step_v) * step_v), (t, i))
    truth = R0 + R1 * (1 - np.exp(-1 / (R1 * C1)))
    assert circuit is not None
    assert circuit.one_second_ohm == pytest.approx(truth, rel=0.08)


def test_steps_agree(trace: tuple[np.ndarray, ...]) -> None:
    t, v, i = trace
    assert float(np.median(step_resistances((t, v), (t, i)))) == pytest.approx(R0, rel=0.10)
