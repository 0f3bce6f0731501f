"""How resistance follows temperature and charge: the tables against their sources, and against a measured cell.

Sources: PyBaMM (BSD 3-clause), full porous-electrode model with the parameter sets named in
``analyser/packs/reference_state.py``; and ``data/measured_pulses.csv``, whose head names its source and licence.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from analyser.core.figures import Z95
from analyser.packs.circuit import fit_circuit, step_resistances
from analyser.packs.reference_state import (
    ACTIVATION_J_PER_MOL,
    CHARGE_PERCENT,
    MAKES,
    OVER_HALF_CHARGE,
    coldness,
    learned_activation,
    over_half_charge,
    over_reference_temperature,
)

CHECKS = ("packs.packs.resistance.value_mohm", "season.packs.resistance.activation_kj_per_mol")

pybamm = pytest.importorskip("pybamm")
PULSES = pd.read_csv(Path(__file__).parent / "data" / "measured_pulses.csv", comment="#")
PULSE_A = 30.0


def modelled_ohm(name: str, charge: float, celsius: float = 25.0) -> float:
    """Resistance one second after the rated current sets in, from rest."""
    values = pybamm.ParameterValues(name)
    rated = values["Nominal cell capacity [A.h]"]
    values["Current function [A]"] = rated
    values["Ambient temperature [K]"] = values["Initial temperature [K]"] = celsius + 273.15
    simulation = pybamm.Simulation(pybamm.lithium_ion.DFN(), parameter_values=values)
    solution = simulation.solve([0.0, 1.0], initial_soc=charge / 100.0)
    rest = solution["Bulk open-circuit voltage [V]"].entries[0]
    return float((rest - solution["Voltage [V]"].entries[-1]) / rated)


@pytest.mark.parametrize("name", ["Ecker2015", "Mohtat2020", "Prada2013", "Marquis2019"])
def test_tables_are_the_models(name: str) -> None:
    half = modelled_ohm(name, 50.0)
    for charge in (10.0, 90.0):
        tabled = np.interp(charge, CHARGE_PERCENT, OVER_HALF_CHARGE[name])
        assert modelled_ohm(name, charge) / half == pytest.approx(tabled, rel=0.01)
    for celsius in (5.0, 45.0):
        # One energy for the whole range is itself an approximation.
        tabled = float(np.exp(ACTIVATION_J_PER_MOL[name] * coldness(celsius)))
        assert modelled_ohm(name, 50.0, celsius) / half == pytest.approx(tabled, rel=0.12)


def measured(celsius: int) -> pd.DataFrame:
    """One row a pulse: its charge state and the resistance after one second, from rest."""
    rows = []
    for charge, pulse in PULSES[PULSES.celsius == celsius].groupby("charge_percent"):
        rest = pulse.voltage_v[pulse.time_s <= 0.0].iloc[-1]
        rows.append((charge, (rest - np.interp(1.0, pulse.time_s, pulse.voltage_v)) / PULSE_A))
    return pd.DataFrame(rows, columns=["charge", "ohm"])


def test_the_measured_cell_is_in_the_tables() -> None:
    warm = measured(25)
    half = np.interp(50.0, warm.charge, warm.ohm)
    ohm = np.interp(CHARGE_PERCENT, warm.charge, warm.ohm)
    assert ohm / half == pytest.approx(OVER_HALF_CHARGE["measured"], abs=0.002)
    ohms = {c: np.interp(50.0, m.charge, m.ohm) for c, m in ((c, measured(c)) for c in (10, 25, 40))}
    for cold, hot in ((10, 25), (25, 40)):
        energy = np.log(ohms[cold] / ohms[hot]) / (coldness(cold) - coldness(hot))
        assert energy == pytest.approx(ACTIVATION_J_PER_MOL[f"measured, {cold} to {hot} °C"], abs=150.0)


@pytest.mark.parametrize("celsius", [10, 40])
def test_the_measured_cell_is_carried_within_the_stated_error(celsius: int) -> None:
    there, reference = measured(celsius), measured(25)
    factor, relative_se = over_reference_temperature(float(celsius))
    at_25 = np.interp(there.charge, reference.charge, reference.ohm)
    assert (np.abs(np.log(there.ohm / factor / at_25)) <= Z95 * relative_se).all()


@pytest.mark.parametrize("celsius", [10, 25, 40])
def test_the_fit_finds_the_measured_cells_resistance(celsius: int) -> None:
    for charge, pulse in PULSES[PULSES.celsius == celsius].groupby("charge_percent"):
        table = measured(celsius).set_index("charge").ohm
        t, v, i = (pulse[c].to_numpy() for c in ("time_s", "voltage_v", "current_a"))
        circuit = fit_circuit((t, v), (t, i))
        assert circuit is not None
        assert abs(circuit.one_second_ohm - table[charge]) <= Z95 * circuit.one_second_se + 0.05 * table[charge]
        assert float(np.median(step_resistances((t, v), (t, i)))) == pytest.approx(table[charge], rel=0.15)


@pytest.mark.parametrize("name", list(OVER_HALF_CHARGE))
@pytest.mark.parametrize(("before", "after"), [(100.0, 60.0), (100.0, 20.0), (60.0, 30.0)])
def test_every_make_lies_within_the_stated_error(name: str, before: float, after: float) -> None:
    mean, relative_se = over_half_charge(before, after)
    across = np.linspace(before, after, 50)
    own = np.interp(across, CHARGE_PERCENT, OVER_HALF_CHARGE[name]).mean()
    assert abs(own / mean - 1.0) <= Z95 * relative_se * 1.2


@pytest.mark.parametrize("energy", [10e3, 24e3, 40e3])
@pytest.mark.parametrize("span_k", [4.0, 18.0])
def test_a_packs_own_activation_is_learned_no_better_than_stated(energy: float, span_k: float) -> None:
    rng = np.random.default_rng(int(energy + span_k))
    held, widths = [], []
    for _ in range(200):
        celsius = 30.0 + span_k * rng.uniform(-0.5, 0.5, int(rng.integers(5, 15)))
        ageing = rng.uniform(0.0, 0.12) * np.arange(celsius.size)
        ohm = np.exp(energy * coldness(celsius) + ageing + 0.03 * rng.standard_normal(celsius.size))
        told = learned_activation(ohm, celsius + rng.normal(0.0, 1.0, celsius.size), 1.5)
        held.append(abs(told.j_per_mol - energy) <= 2.0 * told.se)
        widths.append(told.se)
    assert np.mean(held) >= 0.93
    # A season of one weather teaches nothing; one from cool to hot halves the makes' spread.
    assert np.median(widths) < 0.6 * MAKES.se if span_k > 10.0 else np.median(widths) > 0.9 * MAKES.se
