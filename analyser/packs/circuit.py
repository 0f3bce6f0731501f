"""Internal resistance from a flight's own load steps.

Two ways, which should agree:

* the d.c. form of IEC 61960-3, ``R = (U1 − U2) / (I2 − I1)``, over every load step the trace holds, summed up
  by the median;
* an equivalent circuit, ``V = E(q) − R0 I − R1 (I ∗ h_τ)``: an open-circuit line over charge ``q``, straight between
  knots; an ohmic resistance; one resistance–capacitance pair. Linear least squares for every τ of a grid, the best
  kept. A second pair is fitted only where the data ask for it (Bayesian information criterion, samples counted as
  their autocorrelation allows).

Logs differ in sample rate, and a resistance grows the longer one waits. The figure compared over flights is
therefore the resistance *one second* after a step, ``R0 + R1 (1 − exp(−1 s / τ))``, whatever the rate. Of loads that
come and go between two samples a log shows the ohmic part alone: what a second adds to it is taken from other cells,
for as much of the load's movement as the log does not follow, with its doubt.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from msgspec import Struct
from scipy import linalg, ndimage

from analyser.core.figures import FloatArray
from analyser.core.statistics.robust import quantiles, robust_sd
from analyser.core.statistics.sampling import usual_step_s

TAUS_S = np.geomspace(2.0, 60.0, 18)
"""Time constants tried; neighbours differ by a fifth, less than any log tells apart."""
APART = 3.0
"""Two pairs must differ by this factor in time constant, or they are one."""
DOUBLES = np.argwhere(TAUS_S[None, :] >= APART * TAUS_S[:, None])
"""Positions in :data:`TAUS_S` of every two that may be fitted together."""
FIRSTS, SECONDS = np.ascontiguousarray(DOUBLES.T)
VERY_STRONG = 10.0
"""Fall of the Bayesian information criterion that justifies a second pair (Kass and Raftery 1995: very strong)."""
KNOTS = np.array([0.0, 0.04, 0.1, 0.2, 0.35, 0.5, 0.65, 0.8, 0.92, 1.0])
"""Shares of the charge given at which the open-circuit line may bend; denser at the ends, where cells have knees."""
UNSEEN_GROWTH, UNSEEN_GROWTH_SE = 0.06, 0.06
"""How much a cell's resistance grows in the first second after a step, and how unsure that is from cell to cell: 2 to
7 % from half a second to one in the pulses of ``tests/reference/data/measured_pulses.csv``, 3 to 21 % from a twentieth
of a second to one in porous-electrode models with four published parameter sets (``Chen2020``, ``Ecker2015``,
``Ai2020``, ``ORegan2022``); taken for loads that a log is too slow to follow."""
MODEL_SE = 0.004
"""Relative error of a cell taken for a circuit, found on simulated flights whose open-circuit line has other knots."""
FIXED = KNOTS.size + 1
"""Columns of the equations that every fit has: the open-circuit line's and one of the ohmic resistance."""
RIDGE = np.eye(FIXED + TAUS_S.size)
SHORTEST_S = 20.0
FINEST_S = 0.1
"""Quicker logs are fitted by their means over this long, a twentieth of the quickest time constant tried. Circuit and
mean are both linear, so means obey the same equations; what comes and goes within a mean is noise to them."""


class Circuit(Struct, frozen=True, eq=False):
    """A fitted equivalent circuit; resistances in Ω, ``se`` standard errors, voltages in V.

    ``reference_v`` is the load-free voltage on ``time_s``: what the pack would have shown had nothing drawn on it;
    ``fitted_v`` the voltage under the load there was. ``r2_ohm`` and ``tau2_s`` are nought with one pair.
    """

    r0_ohm: float
    r1_ohm: float
    tau_s: float
    one_second_ohm: float
    one_second_se: float
    scatter_v: float
    time_s: FloatArray
    reference_v: FloatArray
    fitted_v: FloatArray
    r2_ohm: float = 0.0
    tau2_s: float = 0.0

    @property
    def pairs(self) -> int:
        """How many resistance–capacitance pairs the data supported, 1 or 2."""
        return 2 if self.tau2_s > 0 else 1

    @property
    def settled_ohm(self) -> float:
        """Resistance once every pair has settled under a steady load, Ω."""
        return self.r0_ohm + max(self.r1_ohm, 0.0) + max(self.r2_ohm, 0.0)


def even_grid(time_s: FloatArray, *others_s: FloatArray) -> FloatArray:
    """An even grid at the median step of ``time_s`` (0.02 … 1 s) over the span that all times share."""
    step = min(max(usual_step_s(time_s), 0.02), 1.0)
    start = max(t[0] for t in (time_s, *others_s))
    stop = min(t[-1] for t in (time_s, *others_s))
    return np.arange(start, stop + step / 2, step)


class Load:
    """A current, with its terms in a circuit's equations: worked out once for all the voltages on one grid.

    Parameters
    ----------
    time_s, amps : ndarray, shape (m,)
        A current trace, discharge positive.
    """

    def __init__(self, time_s: FloatArray, amps: FloatArray) -> None:
        self.time_s, self.amps = time_s, amps
        self._terms: dict[tuple[int, float, float], _Terms] = {}

    def terms(self, grid: FloatArray) -> _Terms:
        """The terms on an even grid of two instants or more."""
        key = grid.size, float(grid[0]), float(grid[1])
        if key not in self._terms:
            self._terms[key] = _Terms.of(np.interp(grid, self.time_s, self.amps), float(grid[1] - grid[0]))
        return self._terms[key]


class _Terms(Struct, frozen=True, eq=False):
    """A current on an even grid, and what it makes of the equations.

    ``amps`` and ``share``, shape (n,), are the current and the charge given so far as a share of all. ``rows``, shape
    (terms, m), holds what is fitted: one row a term, ``every`` values of the grid taken together; ``gram`` the sums of
    their products, shape (terms, terms). ``span_a`` and ``sd_a`` say how much the current varies there.
    """

    amps: FloatArray
    share: FloatArray
    rows: FloatArray
    gram: FloatArray
    every: int
    span_a: float
    sd_a: float

    @classmethod
    def of(cls, amps: FloatArray, step: float) -> _Terms:
        """Work them out."""
        share = np.cumsum(amps) * step
        share /= max(float(share[-1]), 1e-9)
        every = max(1, int(FINEST_S / step + 0.01))
        some_a, some_share = _means(amps, every), _means(share, every)
        low, high = quantiles(some_a, 0.02, 0.98)
        rows = np.empty((FIXED + TAUS_S.size, some_a.size))
        rows[: FIXED - 1] = _hats(some_share)
        rows[FIXED - 1] = drawn = -some_a
        slow = relaxing(drawn, every * step, TAUS_S, rows[FIXED:])
        if every > 1:
            slow[:] = _means_of_relaxing(drawn, slow, every * step, TAUS_S)
        return cls(amps, share, rows, rows @ rows.T, every, high - low, float(np.std(some_a)))


def fit_circuit(
    voltage: tuple[FloatArray, FloatArray], current: tuple[FloatArray, FloatArray] | Load
) -> Circuit | None:
    """Fit the equivalent circuit to a voltage and a current trace.

    Parameters
    ----------
    voltage, current : (ndarray, ndarray), shapes (n,), (m,)
        Time in s and value in V or A (discharge positive); each at its own rate. A :class:`Load` stands for a current
        that several voltages are set against.

    Returns
    -------
    Circuit or None
        ``None`` where the traces share less than 20 s or the current hardly varies: no step, no resistance.
    """
    load = current if isinstance(current, Load) else Load(*current)
    if voltage[0].size < 10 or load.time_s.size < 10:
        return None
    slower = voltage[0] if usual_step_s(voltage[0]) > usual_step_s(load.time_s) else load.time_s
    grid = even_grid(slower, voltage[0], load.time_s)
    if grid.size < 20 or grid[-1] - grid[0] < SHORTEST_S:
        return None
    step = float(grid[1] - grid[0])
    v, known = np.interp(grid, *voltage), load.terms(grid)
    terms, every = known.rows, known.every
    some_v = _means(v, every)
    # A voltage's noise is at most all of its movement, which is told sooner.
    if known.span_a < 0.05 or all(known.sd_a * 0.5 < 0.1 * (of(some_v) + 1e-4) for of in (np.ptp, _noise)):
        return None
    sums = _Sums(known.gram, terms @ some_v, float(some_v @ some_v))
    best, p, left = _choose(terms, some_v, sums)
    # Huber weights once: a spike of radio noise must not count as a step.
    mad = robust_sd(left) + 1e-6
    weight = np.minimum(1.0, 2.0 * mad / np.maximum(np.abs(left), 1e-12))
    best, p, left = _choose(terms, some_v, sums.weighted(terms, some_v, weight))
    at = np.concatenate((np.arange(FIXED), FIXED + best))
    taus = TAUS_S[best]
    wait = 1.0 - np.exp(-1.0 / taus)
    variance = _along_inverse(sums.gram[at[:, None], at], np.concatenate((np.zeros(FIXED - 1), [1.0], wait)))
    se = float(np.sqrt(variance * float(left @ left) / left.size * _inflation(left)))
    slow = p[FIXED:]
    # Nobody knows when between two samples the load changed: one sample of waiting, at the slope after one second.
    se = float(np.hypot(se, step * float(np.abs(slow / taus) @ np.exp(-1.0 / taus))))
    r0 = float(p[FIXED - 1])
    fitted_ohm = r0 + float(slow @ wait)
    # Loads that come and go between two samples show the ohmic part alone, at the instant of the sample.
    unseen = unresolved(load.amps if slower is load.time_s else np.interp(slower, load.time_s, load.amps))
    one_second = fitted_ohm * (1.0 + UNSEEN_GROWTH * unseen)
    se = float(np.linalg.norm([se, MODEL_SE * fitted_ohm, UNSEEN_GROWTH_SE * unseen * fitted_ohm]))
    reference = np.interp(known.share, KNOTS, p[: FIXED - 1])
    fitted = v - left if every == 1 else reference - r0 * known.amps - slow @ relaxing(known.amps, step, taus)
    second = (float(slow[1]), float(taus[1])) if len(best) == 2 else (0.0, 0.0)
    return Circuit(
        r0_ohm=r0,
        r1_ohm=float(slow[0]),
        tau_s=float(taus[0]),
        one_second_ohm=one_second,
        one_second_se=se,
        scatter_v=mad if every == 1 else robust_sd(v - fitted) + 1e-6,
        time_s=grid,
        reference_v=np.asarray(reference, float),
        fitted_v=np.asarray(fitted, float),
        r2_ohm=second[0],
        tau2_s=second[1],
    )


def _noise(v: FloatArray) -> float:
    """Standard deviation about the running median of five."""
    return float(np.std(v - ndimage.median_filter(v, 5, mode="constant")))


def _means(x: FloatArray, every: int) -> FloatArray:
    """Means of so many values each; the last few that fill no mean are left out."""
    return x if every == 1 else x[: x.size // every * every].reshape(-1, every).mean(axis=1)


def _means_of_relaxing(current: FloatArray, at_end: FloatArray, step_s: float, taus_s: FloatArray) -> FloatArray:
    """Relaxing currents' means over steps of even current, from their values at the steps' ends, shape (taus, n)."""
    shares = step_s / taus_s
    kept = (1.0 - np.exp(-shares)) / shares  # the mean of the decaying part, as a share of its begin
    out = np.empty_like(at_end)
    for row, ends, share in zip(out, at_end, kept.tolist(), strict=True):
        row[0] = -current[0]
        np.subtract(ends[:-1], current[1:], out=row[1:])
        np.multiply(row, share, out=row)
        np.add(row, current, out=row)
    return out


def unresolved(current: FloatArray) -> float:
    """Share of a load's movement that comes and goes between two samples: its semivariogram carried to no distance.

    Nought for a load that lasts over several samples, 1 for one whose samples know nothing of each other.
    """
    whole = float(np.var(current))
    if current.size < 4 or not whole > 0.0:
        return 0.0
    near, far = (0.5 * float(np.mean((current[k:] - current[:-k]) ** 2)) for k in (1, 2))
    return min(max(2.0 * near - far, 0.0) / whole, 1.0)


def _hats(x: FloatArray) -> FloatArray:
    """Piecewise straight line over :data:`KNOTS` of the charge given: one row a knot (its value there)."""
    hats, every = np.zeros((KNOTS.size, x.size)), np.arange(x.size)
    place = np.interp(x, KNOTS, np.arange(KNOTS.size))
    left = np.minimum(place.astype(np.intp), KNOTS.size - 2)
    share = place - left
    hats[left, every], hats[left + 1, every] = 1.0 - share, share
    return hats


def relaxing(current: FloatArray, step_s: float, taus_s: FloatArray, out: FloatArray | None = None) -> FloatArray:
    """The currents that resistors of resistance–capacitance pairs carry, shape (taus, n); at rest at the first sample.

    Most logs begin at rest. They are written to ``out`` where that is given.
    """
    out = np.empty((taus_s.size, current.size)) if out is None else out
    band = np.empty((current.size, 2))
    for row, keep in zip(out, np.exp(-step_s / taus_s).tolist(), strict=True):
        # Each value less what is kept of the one before: a triangle of two diagonals, the main one of ones.
        band[:, 1] = -keep
        row[:] = linalg.blas.dtbsv(1, band.T, (1.0 - keep) * current, lower=1, diag=1, overwrite_x=1)
    return out


class _Sums(Struct, frozen=True, eq=False):
    """Sums of products, weighted or not: of terms with each other, with the voltage, and of the voltage itself."""

    gram: FloatArray
    right: FloatArray
    total: float

    def weighted(self, terms: FloatArray, v: FloatArray, weight: FloatArray) -> _Sums:
        """The sums where each value counts by a weight of at most 1; what the few that count less lose is taken off."""
        at = np.flatnonzero(weight < 1.0)
        some, some_v, lost = terms[:, at], v[at], 1.0 - weight[at]
        return _Sums(
            self.gram - (some * lost) @ some.T,
            self.right - some @ (lost * some_v),
            self.total - float(some_v @ (lost * some_v)),
        )


def _along_inverse(gram: FloatArray, direction: FloatArray) -> float:
    """``direction @ pinv(gram) @ direction`` of a Gram matrix: a variance where the residuals' is 1."""
    values, vectors = np.linalg.eigh(gram)
    known = values > values.size * np.finfo(float).eps * values[-1]
    return float((np.square(direction @ vectors[:, known]) / values[known]).sum())


def _choose(terms: FloatArray, v: FloatArray, sums: _Sums) -> tuple[npt.NDArray[np.intp], FloatArray, FloatArray]:
    """One pair or two, and their time constants: the least squares of every choice from one Gram matrix.

    Returns the chosen terms' positions in :data:`TAUS_S`, parameters and residuals.
    """
    gram, right = sums.gram, sums.right
    gram = gram + 1e-9 * np.trace(gram) / len(gram) * RIDGE
    # What every fit has is taken off once (Schur complement); of each choice one or two unknowns are left.
    fixed, slow = slice(FIXED), slice(FIXED, None)
    by_fixed = np.linalg.solve(gram[fixed, fixed], np.column_stack((gram[fixed, slow], right[fixed])))
    rest_gram = gram[slow, slow] - gram[slow, fixed] @ by_fixed[:, :-1]
    rest_right = right[slow] - gram[slow, fixed] @ by_fixed[:, -1]
    a, b = FIRSTS, SECONDS
    own, both = rest_gram.diagonal(), rest_gram[a, b]
    det = own[a] * own[b] - both**2
    first = (own[b] * rest_right[a] - both * rest_right[b]) / det
    second = (own[a] * rest_right[b] - both * rest_right[a]) / det
    # A second pair must be a resistor, or it mends the fit with something that is no cell.
    gains = np.where((first > 0) & (second > 0), first * rest_right[a] + second * rest_right[b], -np.inf)

    def fitted(choice: npt.NDArray[np.intp], ohms: FloatArray) -> tuple[FloatArray, float]:
        p = np.concatenate((by_fixed[:, -1] - by_fixed[:, choice] @ ohms, ohms))
        return p, sums.total - float(p[fixed] @ right[fixed] + ohms @ right[slow][choice])

    def residuals(choice: npt.NDArray[np.intp], p: FloatArray) -> FloatArray:
        return np.asarray(v - p[fixed] @ terms[fixed] - p[slow] @ terms[FIXED + choice], float)

    best = (rest_right**2 / own).argmax(keepdims=True)
    p, lost = fitted(best, rest_right[best] / own[best])
    left = residuals(best, p)
    at = int(gains.argmax())
    if np.isfinite(gains[at]):
        p_two, lost_two = fitted(DOUBLES[at], np.array([first[at], second[at]]))
        independent, floor = v.size / _inflation(left), 1e-9 * v.size
        gain = independent * np.log(max(lost, floor) / max(lost_two, floor))
        # Two parameters more (a resistance, a time constant) cost 2 ln n in the Bayesian information criterion.
        if gain - 2.0 * np.log(max(independent, 2.0)) > VERY_STRONG:
            return DOUBLES[at], p_two, residuals(DOUBLES[at], p_two)
    return best, p, left


def _inflation(left: FloatArray) -> float:
    """Residuals of neighbouring samples resemble each other; how many samples make one independent one."""
    square = float(np.dot(left, left))
    if left.size < 8 or not square > 0.0:
        return 1.0
    r = float(np.dot(left[1:], left[:-1])) / square
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
