"""What a pack's resistance is in figures: by the fit and by load steps, carried to one state, by cell, its leads."""

from __future__ import annotations

import numpy as np

from analyser.core.figures import Figure, Method
from analyser.core.findings import Text
from analyser.core.robust import MEDIAN_SE, robust_sd
from analyser.core.smoothing import Z95
from analyser.core.telemetry import Series
from analyser.packs.circuit import Circuit, fit_circuit, step_resistances
from analyser.packs.readings import PackLog
from analyser.packs.reference_state import MAKES, Activation, over_half_charge, over_reference_temperature

LOGGED_SE_K = 1.5
"""Error of a pack temperature sensor (common practice, no source)."""
WARMER_K = 5.0
"""How much warmer than the air a pack is taken to be where nobody measured it, and how unsure that is (assumed)."""
NORMAL_LOAD_A = 10.0
"""The load at which sag is compared over flights."""
USUAL_CHARGE_PERCENT = (100.0, 30.0)
"""The discharge a resistance is taken to be read over where the charge states are not known (assumed)."""
FEWEST_STEPS = 3
WIDEST = 2.0
"""A resistance known to a factor of seven (e²) either way is not carried anywhere."""


def _about(label: str, value: float, half: float, how: str, unit: str = "mΩ", digits: int = 1) -> Figure:
    return Figure(label, value, unit, Method.ESTIMATED, value - half, value + half, how=how, digits=digits)


def _one_second(label: str, circuit: Circuit, how: str) -> Figure:
    return _about(label, 1000.0 * circuit.one_second_ohm, 1000.0 * Z95 * circuit.one_second_se, how)


def fitted_resistance(log: PackLog) -> Figure:
    """The equivalent circuit's resistance one second after a step, as it was in this flight."""
    label = f"Resistance, {log.role}"
    c = log.circuit
    if c is None:
        return Figure.unavailable(label, "mΩ", "needs voltage and current with load steps")
    taus = f"τ = {c.tau_s:.0f} s" + (f" and {c.tau2_s:.0f} s" if c.pairs == 2 else "")
    how = f"equivalent-circuit fit, one second after a step ({taus})"
    return _one_second(label, c, how).with_doubt(*log.doubts)


def step_resistance(log: PackLog) -> Figure:
    """The d.c. form of IEC 61960-3, median over the flight's load steps."""
    label = f"Resistance by load steps, {log.role}"
    if log.circuit is None:
        return Figure.unavailable(label, "mΩ", "needs voltage and current with load steps")
    steps = 1000.0 * step_resistances(log.voltage, log.current)
    if steps.size < FEWEST_STEPS:
        return Figure.unavailable(label, "mΩ", "fewer than three load steps of 1 A in a second")
    middle = float(np.median(steps))
    half = Z95 * MEDIAN_SE * robust_sd(steps - middle) / float(np.sqrt(steps.size))
    return _about(label, middle, half, f"median of (U1 − U2)/(I2 − I1) over {steps.size} steps")


def cell_resistances(log: PackLog) -> tuple[Figure, ...]:
    """One figure for every logged cell."""
    if log.circuit is None:
        return ()
    return tuple(
        _cell(f"Resistance of cell {n}, {log.role}", fit_circuit(c, log.current)) for n, c in log.cells.items()
    )


def _cell(label: str, circuit: Circuit | None) -> Figure:
    if circuit is None:
        return Figure.unavailable(label, "mΩ", "the cell's samples show no load steps")
    return _one_second(label, circuit, "equivalent-circuit fit")


def lead_resistance(log: PackLog, bus: str, bus_voltage: Series) -> Figure:
    """Leads, plugs and switch between a pack and the bus that it alone feeds."""
    label = f"Lead and connector resistance, {log.role}"
    if not bus_voltage or log.circuit is None:
        return Figure.unavailable(label, "mΩ", f"needs a bus voltage for {log.role} alone beside the pack's own")
    c = fit_circuit(bus_voltage, log.current)
    if c is None:
        return Figure.unavailable(label, "mΩ", "the bus voltage shows no load steps")
    value = 1000.0 * (c.one_second_ohm - log.circuit.one_second_ohm)
    half = 1000.0 * Z95 * float(np.hypot(c.one_second_se, log.circuit.one_second_se))
    return _about(label, value, half, f"fit of the {bus} bus less the pack's own")


def pack_temperature(log: PackLog, air_c: float | None) -> Figure:
    """The pack's temperature: as logged, as noted, or guessed from the air's."""
    label = f"Pack temperature, {log.role}"

    def about(value: float, se_k: float, method: Method, how: str) -> Figure:
        return Figure(label, value, "°C", method, value - Z95 * se_k, value + Z95 * se_k, how=how, digits=0)

    if log.temperature:
        return about(float(np.median(log.temperature.values)), LOGGED_SE_K, Method.MEASURED, "median of the flight")
    if log.note.temperature_c is not None:
        return about(log.note.temperature_c, LOGGED_SE_K, Method.ENTERED, "noted after the flight")
    if air_c is not None:
        how = f"air temperature plus an assumed {WARMER_K:.0f} K"
        return about(air_c + WARMER_K, WARMER_K, Method.ASSUMED, how)
    return Figure.unavailable(label, "°C", "neither logged nor noted, and no air temperature is known")


def at_reference(
    label: Text, resistance: Figure, temperature: Figure, before: Figure, after: Figure, activation: Activation = MAKES
) -> Figure:
    """A resistance carried to 25 °C and half charge, its interval widened by what carrying may be off.

    Parameters
    ----------
    resistance, temperature : Figure
        As read, mΩ, and what it was read at, °C.
    before, after : Figure
        States of charge at either end of the reading, percent.
    activation : Activation
        How the resistance follows temperature.
    """
    if resistance.value is None:
        return Figure.unavailable(label, "mΩ", resistance.missing)
    if temperature.value is None:
        return Figure.unavailable(label, "mΩ", "no pack or air temperature is known")
    warmth, warmth_se = over_reference_temperature(temperature.value, temperature.half_width / Z95, activation)
    known = before.value is not None and after.value is not None
    start, end = (before.value, after.value) if known else USUAL_CHARGE_PERCENT
    charge, charge_se = over_half_charge(start or 0.0, end or 0.0)
    value = resistance.value / (warmth * charge)
    relative = np.hypot(resistance.half_width / resistance.value, Z95 * np.hypot(warmth_se, charge_se))
    how = (
        f"{resistance.how}; carried to 25 °C from {temperature.value:.0f} °C ({temperature.how}), {activation.how}, "
        f"and to half charge from {start:.0f} to {end:.0f} %" + ("" if known else " (assumed)")
    )
    if relative > WIDEST:
        return Figure.unavailable(label, "mΩ", "the flight's own load steps hardly tell the resistance")
    factor = float(np.exp(relative))
    figure = Figure(label, value, "mΩ", Method.ESTIMATED, value / factor, value * factor, how=how)
    return figure.with_doubt(*resistance.doubts)


def noted_resistance(log: PackLog) -> Figure:
    """The reading the owner noted, of the pack or summed over its cells."""
    label = f"Resistance reading, {log.role}"
    note = log.note
    value = note.resistance_mohm if note.resistance_mohm is not None else sum(note.cell_resistance_mohm) or None
    if value is None:
        return Figure.unavailable(label, "mΩ", "no reading was noted")
    return Figure(label, value, "mΩ", Method.ENTERED, how="noted after the flight")


def normal_sag(log: PackLog, resistance: Figure) -> Figure:
    """What the pack would sag at one load that is the same for every flight."""
    label = f"Sag at {NORMAL_LOAD_A:.0f} A, {log.role}"
    if resistance.value is None:
        return Figure.unavailable(label, "V", resistance.missing)
    k = NORMAL_LOAD_A / 1000.0
    return _about(label, k * resistance.value, k * resistance.half_width, "resistance times load", "V", 2)
