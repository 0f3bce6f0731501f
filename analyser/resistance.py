"""Internal resistance from a flight's own load steps.

Two ways, which should agree:

* the d.c. form of IEC 61960-3, ``R = (U1 − U2) / (I2 − I1)``, over every load step the trace holds, summed up
  by the median;
* an equivalent circuit, ``V = E0 − k q − R0 I − R1 (I ∗ h_τ)``: an open-circuit line falling with charge ``q``, an
  ohmic resistance and one resistance–capacitance pair; linear least squares for a given τ, τ by a bounded search.

Logs differ in sample rate, and a resistance grows the longer one waits. The figure compared over flights is
therefore the resistance *one second* after a step, ``R0 + R1 (1 − exp(−1 s / τ))``, whatever the rate.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import linalg, optimize, signal

from analyser.figures import FloatArray

TAU_S = (2.0, 60.0)
SHORTEST_S = 20.0
REFERENCE_C = 25.0
PER_KELVIN = 0.012
PER_KELVIN_SE = 0.005
"""Resistance falls by about 1.2 % a kelvin near room temperature (common practice, no source)."""


@dataclass(frozen=True, slots=True, eq=False)
class Circuit:
    """A fitted equivalent circuit; resistances in Ω, ``se`` standard errors, voltages in V.

    ``reference_v`` is the load-free voltage on ``time_s``: what the pack would have shown had nothing drawn on it.
    """

    r0_ohm: float
    r1_ohm: float
    tau_s: float
    one_second_ohm: float
    one_second_se: float
    scatter_v: float
    time_s: FloatArray
    reference_v: FloatArray


def even_grid(time_s: FloatArray, *series: tuple[FloatArray, FloatArray]) -> tuple[FloatArray, list[FloatArray]]:
    """An even grid at the median step of ``time_s`` (0.02 … 1 s) over the span all series share, and each on it."""
    step = float(np.clip(np.median(np.diff(time_s)), 0.02, 1.0))
    start = max(s[0][0] for s in series)
    stop = min(s[0][-1] for s in series)
    grid = np.arange(start, stop + step / 2, step)
    return grid, [np.interp(grid, t, v) for t, v in series]


def fit_circuit(voltage: tuple[FloatArray, FloatArray], current: tuple[FloatArray, FloatArray]) -> Circuit | None:
    """Fit the equivalent circuit to a voltage and a current trace.

    Parameters
    ----------
    voltage, current : (ndarray, ndarray), shapes (n,), (m,)
        Time in s and value in V or A (discharge positive); each at its own rate.

    Returns
    -------
    Circuit or None
        ``None`` where the traces share less than 20 s or the current hardly varies: no step, no resistance.
    """
    if voltage[0].size < 10 or current[0].size < 10:
        return None
    slower = voltage[0] if np.median(np.diff(voltage[0])) > np.median(np.diff(current[0])) else current[0]
    grid, (v, i) = even_grid(slower, voltage, current)
    if grid.size < 20 or grid[-1] - grid[0] < SHORTEST_S:
        return None
    noise = float(np.std(v - signal.medfilt(v, 5))) + 1e-4
    if float(np.ptp(np.quantile(i, [0.02, 0.98]))) < 0.05 or np.std(i) * 0.5 < 0.1 * noise:
        return None
    step = float(grid[1] - grid[0])
    charge = np.cumsum(i) * step
    scale = max(float(charge[-1]), 1e-9)
    x = charge / scale

    def design(tau: float) -> FloatArray:
        keep = np.exp(-step / tau)
        # Zero state at the first sample: the log mostly begins at rest.
        slow = signal.lfilter([1.0 - keep], [1.0, -keep], i)
        return np.column_stack([np.ones_like(x), -x, -(x**2), -(x**3), -i, -slow])

    def solve(tau: float) -> tuple[FloatArray, float]:
        a = design(tau)
        p = linalg.lstsq(a, v, lapack_driver="gelsy")[0]
        left = v - a @ p
        return np.asarray(p, float), float(np.mean(np.minimum(left**2, 9.0 * np.median(left**2) + 1e-12)))

    best = optimize.minimize_scalar(
        lambda u: solve(float(np.exp(u)))[1], bounds=(np.log(TAU_S[0]), np.log(TAU_S[1])), method="bounded",
        options={"xatol": 0.05},
    )  # fmt: skip
    tau = float(np.exp(best.x))
    a = design(tau)
    # Huber weights once: a spike of radio noise must not count as a step.
    p, _ = solve(tau)
    left = v - a @ p
    mad = 1.4826 * float(np.median(np.abs(left))) + 1e-6
    weight = np.sqrt(np.minimum(1.0, 2.0 * mad / np.maximum(np.abs(left), 1e-12)))
    p = linalg.lstsq(a * weight[:, None], v * weight, lapack_driver="gelsy")[0]
    left = v - a @ p
    r0, r1 = float(p[4]), float(p[5])
    wait = 1.0 - np.exp(-1.0 / tau)
    covariance = linalg.pinvh(a.T @ a) * float(np.mean(left**2)) * _inflation(left)
    direction = np.array([0, 0, 0, 0, 1.0, wait])
    se = float(np.sqrt(max(direction @ covariance @ direction, 0.0)))
    # Nobody knows when between two samples the load changed: one sample of waiting, at the slope after one second.
    se = float(np.hypot(se, step * abs(r1) / tau * np.exp(-1.0 / tau)))
    reference = a[:, :4] @ p[:4]
    return Circuit(r0, r1, tau, r0 + r1 * wait, se, mad, grid, np.asarray(reference, float))


def _inflation(left: FloatArray) -> float:
    """Residuals of neighbouring samples resemble each other; how many samples make one independent one."""
    if left.size < 8 or not left.any():
        return 1.0
    r = float(np.dot(left[1:], left[:-1]) / np.dot(left, left))
    r = min(max(r, 0.0), 0.98)
    return (1 + r) / (1 - r)


def step_resistances(
    voltage: tuple[FloatArray, FloatArray], current: tuple[FloatArray, FloatArray], *, least_a: float = 1.0
) -> FloatArray:
    """Every load step's d.c. resistance (IEC 61960-3: R = (U1 − U2)/(I2 − I1)), Ω, shape (steps,).

    A step is a change of at least ``least_a`` over one second, measured second against second before.
    """
    if voltage[0].size < 4 or current[0].size < 4:
        return np.empty(0)
    start, stop = max(voltage[0][0], current[0][0]), min(voltage[0][-1], current[0][-1])
    grid = np.arange(start, stop, 1.0)
    if grid.size < 2:
        return np.empty(0)
    v, i = np.interp(grid, *voltage), np.interp(grid, *current)
    dv, di = np.diff(v), np.diff(i)
    step = np.abs(di) >= least_a
    return np.asarray(-dv[step] / di[step], float)


def at_reference(resistance: float, temperature_c: float) -> tuple[float, float]:
    """Resistance carried to 25 °C, and the standard error that carrying adds (same unit)."""
    k = float(np.exp(PER_KELVIN * (temperature_c - REFERENCE_C)))
    return resistance * k, resistance * k * PER_KELVIN_SE * abs(temperature_c - REFERENCE_C)
