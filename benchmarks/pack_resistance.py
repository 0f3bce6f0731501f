"""How well a pack's resistance is recovered: error in percent over rate, voltage step and temperature.

Prints one row a case: median and worst error over ten seeded flights, and how often the 95 % interval held the
truth. The simulated cell's activation energy is deliberately not the makes' mean.
"""

from __future__ import annotations

import itertools

import numpy as np
from scipy.signal import lfilter

from analyser.core.figures import Z95
from analyser.packs.circuit import fit_circuit
from analyser.packs.reference_state import coldness, over_reference_temperature

R0_OHM, R1_OHM, TAU_S, FLIGHT_S = 0.045, 0.015, 15.0, 400.0
ENERGY_J_PER_MOL = 15_000.0


def one(rate_hz: float, step_v: float, temperature_c: float, seed: int) -> tuple[float, bool]:
    """Relative error of the resistance at 25 °C, and whether its interval holds the truth."""
    rng = np.random.default_rng(seed)
    fine = np.arange(0.0, FLIGHT_S, 0.02)
    current = 2.0 + np.repeat(rng.gamma(2.0, 1.5, int(FLIGHT_S)), 50)
    keep = np.exp(-0.02 / TAU_S)
    warm = np.exp(ENERGY_J_PER_MOL * coldness(temperature_c))
    slow = lfilter([1 - keep], [1, -keep], current)
    voltage = 8.3 - 0.4 * fine / FLIGHT_S - warm * (R0_OHM * current + R1_OHM * slow)
    every = int(50 / rate_hz)
    t, v, i = fine[::every], np.round(voltage[::every] / step_v) * step_v, current[::every]
    circuit = fit_circuit((t, v), (t, i))
    truth = R0_OHM + R1_OHM * (1 - np.exp(-1 / TAU_S))
    if circuit is None:
        return float("nan"), False
    factor, factor_se = over_reference_temperature(temperature_c)
    value = circuit.one_second_ohm / factor
    relative = float(np.hypot(circuit.one_second_se / circuit.one_second_ohm, factor_se))
    return value / truth - 1, abs(np.log(value / truth)) <= Z95 * relative


def main() -> None:
    """Print the table."""
    print("rate_hz step_mv temperature_c median_error_% worst_error_% interval_held_%")
    for rate, step, temperature in itertools.product((1.0, 5.0, 50.0), (0.010, 0.050, 0.100), (5.0, 25.0, 40.0)):
        cases = [one(rate, step, temperature, seed) for seed in range(10)]
        errors = 100 * np.abs([e for e, _ in cases])
        held = 100 * np.mean([h for _, h in cases])
        print(
            f"{rate:7.0f} {1000 * step:7.0f} {temperature:13.0f} "
            f"{np.median(errors):14.1f} {errors.max():13.1f} {held:15.0f}"
        )


if __name__ == "__main__":
    main()
