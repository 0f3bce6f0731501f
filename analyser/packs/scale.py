"""What a current sensor's ampere is worth: unknown within a prior until charges put back afterwards check it.

The factor ``k`` is true current over what the sensor says. Before any charge was noted it lies within 10 % of one at
95 % (common practice, no source) or within what the owner states for the aircraft. A charge put back tells it in one
flight; what many tell is drawn together by the inverse squares of their errors. Every charge of one charger shares the
charger's own scale, and every cell of a kind its charge efficiency: these do not average away, and they are all that
is left once enough charges were noted (JCGM 100:2008, 5.2.2; Gelman et al., Bayesian Data Analysis, 3rd ed., 2.5).

Charge, energy and power follow the factor, a resistance its inverse. What a load does to a voltage does not: a sensor
that reads a tenth high shows a resistance a tenth low, and their product is right.
"""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum
from functools import lru_cache

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from analyser.core.aircraft import Aircraft, Chemistry
from analyser.core.figures import Z95, Figure, FloatArray
from analyser.core.findings import Part, Text, say
from analyser.core.statistics.distributions import student_quantile
from analyser.core.statistics.robust import huber_mean
from analyser.packs.codes import PackCode

PRIOR_PERCENT = 10.0
"""Half width of the 95 % interval of a sensor's scale that nobody checked (common practice, no source)."""
SENSOR_SCALE_SE = PRIOR_PERCENT / 100.0 / Z95
CHARGER_SHARED_SE, CHARGER_OWN_SE = 0.0175, 0.01
"""Relative errors of a charger's charge count: its scale, the same every time, and what one charge adds: a charger is
right to 2 % (common practice, no source)."""
CHARGER_SE = float(np.hypot(CHARGER_SHARED_SE, CHARGER_OWN_SE))
EXCESS: dict[Chemistry, tuple[float, float]] = {
    "lipo": (0.01, 0.01),
    "li_ion": (0.01, 0.01),
    "lifepo4": (0.01, 0.01),
    "nimh": (0.20, 0.10),
}
"""Share of a charge put back that a cell does not return, and its standard error: a lithium cell returns all but about
a hundredth, and the charger's balancing takes some; a nickel cell is overcharged by a fifth or so (common practice, no
source)."""
BELIEVABLE = (0.6, 1.6)
"""Charge put back over charge by the sensor outside this is no sensor's scale: the pack was charged for storage, or a
flight is missing."""
DISAGREE = 0.15
"""Two routes to one charge that differ by more than this share are named, and neither corrects the other."""
USUAL_SCATTER = 0.0125
"""Relative scatter of such ratios that no sensor is better than (common practice, no source)."""
DRIFT_SE = 0.02
"""What a sensor's scale may drift from the middle of some thirty charges to either end (common practice, no source)."""
_PRIOR_CHARGES = 3
"""How many charges' worth of belief the usual scatter carries against the scatter seen."""


class ScaleBasis(StrEnum):
    """What set a pack's figures right."""

    PUT_BACK = "put_back"
    """The charge put back after this very flight, with what other flights teach."""
    FLIGHTS = "flights"
    """Charges put back after other flights of the same sensor."""
    UNCHECKED = "unchecked"
    """Nothing: no charge put back was ever noted for this sensor."""


class CurrentScale(Struct, frozen=True):
    """The factor that turns what a current sensor says into amperes.

    Parameters
    ----------
    basis : ScaleBasis
        Where the factor comes from.
    factor : Figure
        True current over what the sensor says, ×.
    flights : int
        How many charges put back it rests on.
    shared_se : float
        Part of its relative standard error that every sensor checked by the same charger has alike.
    """

    basis: ScaleBasis
    factor: Figure
    flights: int = 0
    shared_se: float = 0.0

    @property
    def checked(self) -> bool:
        """Whether a charge put back ever checked it."""
        return self.basis is not ScaleBasis.UNCHECKED

    @property
    def value(self) -> float:
        """The factor itself."""
        return self.factor.value or 1.0

    @property
    def relative_se(self) -> float:
        """Relative standard error of the factor, which all flights without a note of their own share."""
        return self.factor.relative_se

    @property
    def own_se(self) -> float:
        """The part of it that another sensor, checked by the same charger, does not have."""
        return float(np.sqrt(max(self.relative_se**2 - self.shared_se**2, 0.0)))

    def how(self, by_sensor: Text) -> Text:
        """Where a figure set right by it comes from."""
        if self.basis is ScaleBasis.UNCHECKED:
            return say(PackCode.NEVER_CHECKED, how=by_sensor, within=self.factor.half_width * 100.0)
        return say(PackCode.SCALED_BY_FLIGHTS, how=by_sensor, factor=self.factor, n=self.flights)


class PackScale(Struct, frozen=True):
    """What checks a pack's current sensor in one flight, and what set its figures right.

    ``own`` is charge put back over charge by the sensor, ×, unavailable where the note tells no scale, and
    ``shared_se`` the part of its relative standard error that charges have alike. ``outside_mah`` is what the model is
    taken to have drawn outside the log, ``zero_se_mah`` the standard error of the charge by the sensor's zero.
    """

    own: Figure
    applied: CurrentScale
    shared_se: float = 0.0
    outside_mah: float = 0.0
    zero_se_mah: float = 0.0


def unchecked_scale(role: str, aircraft: Aircraft | None) -> CurrentScale:
    """What is known of the sensor at a place before any charge was noted: one, within the prior or what is stated."""
    stated = aircraft.current_scale_percent if aircraft else None
    percent = PRIOR_PERCENT if stated is None else stated
    how = say(PackCode.SCALE_PRIOR, within=percent, stated=stated is not None)
    label = say(PackCode.SCALE, pack=Part(f"pack.{role}"))
    return CurrentScale(
        ScaleBasis.UNCHECKED, Figure.within(label, 1.0, percent / 100.0, "×", how=how, digits=3)
    )  # fmt: skip


class Learned(Struct, frozen=True):
    """What charges put back tell of one sensor beside its prior, in logarithms of the factor.

    ``weights`` and ``logs`` hold one entry a charge; ``inflation`` is how much more they scatter than their errors let
    expect (a variance ratio), ``wander`` the standard deviation from flight to flight that is the sensor's own;
    ``drift`` is what the sensor gains from the middle of the charges to either end, with its standard error.
    """

    prior: CurrentScale
    logs: FloatArray
    weights: FloatArray
    inflation: float
    wander: float
    shared_se: float
    drift: tuple[float, float] = (0.0, 0.0)

    def reached(self, along: float) -> Learned:
        """The same where a flight lies so far along: −1 at the first charge, 1 at the last."""
        gain, se = self.drift
        return replace(self, logs=self.logs + gain * along, drift=(gain, se * along))

    def without(self, at: int | None = None) -> tuple[float, float, float]:
        """Logarithm of the factor, its variance, and how much the charges count in it (0 … 1).

        With ``at``, the charge at that position is left out.
        """
        keep = np.ones(self.logs.size, bool)
        if at is not None:
            keep[at] = False
        weights = self.weights[keep]
        prior_variance = self.prior.relative_se**2
        believed = float(np.log(self.prior.value))
        total = float(weights.sum())
        if total <= 0.0 or prior_variance <= 0.0:
            return believed, prior_variance, 0.0
        known = _PRIOR_CHARGES + weights.size - 1
        few = _few(known)
        told = few**2 * self.inflation / total + self.shared_se**2 + self.drift[1] ** 2
        mean = float(weights @ self.logs[keep]) / total
        share = prior_variance / (prior_variance + told)
        return believed + share * (mean - believed), share * told, share


@lru_cache(maxsize=256)
def _few(known: int) -> float:
    """Student's factor over the normal's, at 95 %."""
    return float(student_quantile(0.975, known)) / Z95


def learn(
    prior: CurrentScale, ratios: Sequence[Figure], shared: FloatArray, along: FloatArray | None = None
) -> Learned:
    """Draw together what charges put back tell of one sensor.

    Parameters
    ----------
    prior : CurrentScale
        From :func:`unchecked_scale`.
    ratios : sequence of Figure
        Charge put back over charge by the sensor, one a charge, intervals with the charger's shared error.
    shared : ndarray, shape (n,)
        The part of each one's relative standard error that all of them have alike.
    along : ndarray, shape (n,), optional
        Where each charge lies, −1 … 1: a drift is then taken out, drawn to none by :data:`DRIFT_SE`, and has to be put
        back with :meth:`Learned.reached`.
    """
    values = np.array([r.value for r in ratios], float)
    own = np.array([r.relative_se for r in ratios], float)
    own = np.maximum(np.sqrt(np.maximum(own**2 - shared**2, 0.0)), USUAL_SCATTER)
    logs = np.log(values)
    if not logs.size:
        return Learned(prior, logs, own, 1.0, 0.0, 0.0)
    drift = _drift(logs, own, along) if along is not None and logs.size > 2 else (0.0, 0.0)
    logs = logs - drift[0] * along if along is not None else logs
    mean, bulk = huber_mean(logs, least=float(np.median(own)), weights=own**-2.0)
    off = float(bulk @ ((logs - mean) / own) ** 2)
    inflation = (_PRIOR_CHARGES + off) / (_PRIOR_CHARGES + logs.size - 1)
    wander = float(np.sqrt(max(inflation - 1.0, 0.0)) * np.median(own)) if logs.size > 2 else 0.0
    weights = bulk * own**-2.0
    return Learned(prior, logs, weights, inflation, wander, float(weights @ shared / weights.sum()), drift)


def _drift(logs: FloatArray, own: FloatArray, along: FloatArray) -> tuple[float, float]:
    """Slope of the logarithms over −1 … 1 and its standard error, drawn to none; odd charges count less."""
    _, bulk = huber_mean(logs, least=2.0 * float(np.median(own)))
    weights = bulk * own**-2.0
    x = along - float(weights @ along / weights.sum())
    squares = float(weights @ x**2)
    slope = float(weights @ (x * logs)) / (squares + DRIFT_SE**-2.0)
    left = logs - float(weights @ logs / weights.sum()) - slope * x
    inflation = max(float(weights @ left**2) / max(logs.size - 2, 1), 1.0)
    return slope, float(np.sqrt(1.0 / (squares / inflation + DRIFT_SE**-2.0)))


def scale_for_others(learned: Learned) -> CurrentScale:
    """The factor in a flight without a charge of its own; the prior itself where no charge was noted."""
    if not learned.logs.size:
        return learned.prior
    log, variance, share = learned.without()
    how = say(PackCode.LEARNED_SCALE, n=int(learned.logs.size))
    return CurrentScale(
        ScaleBasis.FLIGHTS,
        _factor(learned.prior, log, variance + learned.wander**2, how),
        int(learned.logs.size),
        share * min(learned.shared_se, CHARGER_SHARED_SE),
    )


def scale_in_flight(
    prior: CurrentScale, own: Figure, learned: Learned | None = None, at: int | None = None
) -> CurrentScale:
    """The factor in a flight: its own charge weighed against what the other charges teach.

    Where the two are further apart than :data:`DISAGREE`, one of them is wrong, and nobody knows which: the flight's
    own is left out.

    Parameters
    ----------
    prior : CurrentScale
        From :func:`unchecked_scale`.
    own : Figure
        The flight's own ratio; without a value only the others count.
    learned : Learned, optional
        From :func:`learn`; nothing but the prior where not given.
    at : int, optional
        The flight's position among those that taught; ``None`` where it is not among them.
    """
    learned = learned or learn(prior, (), np.empty(0))
    if own.value is None:
        return scale_for_others(learned)
    log, variance, share = learned.without(at)
    own_log, own_variance = float(np.log(own.value)), own.relative_se**2
    others = learned.logs.size - (at is not None)
    if abs(own_log - log) > DISAGREE:
        return scale_for_others(learned)
    variance += learned.wander**2
    both = share * learned.shared_se**2
    spread = variance + own_variance - 2.0 * both
    weight = float(np.clip((variance - both) / spread, 0.0, 1.0)) if spread > 0.0 else 0.0
    middle = log + weight * (own_log - log)
    left = (1.0 - weight) ** 2 * variance + weight**2 * own_variance + 2.0 * weight * (1.0 - weight) * both
    how = say(PackCode.OWN_AND_LEARNED, n=others) if others else say(PackCode.OWN_CHARGE)
    shared = CHARGER_SHARED_SE * (weight + (1.0 - weight) * share)
    return CurrentScale(ScaleBasis.PUT_BACK, _factor(prior, middle, left, how), others + 1, shared)


def _factor(prior: CurrentScale, log: float, variance: float, how: Text) -> Figure:
    centre = float(np.exp(log))
    half = centre * Z95 * float(np.sqrt(variance))
    return Figure.within(prior.factor.label, centre, half, "×", how=how, digits=3)


def rescaled(figure: Figure, old: CurrentScale | None, new: CurrentScale, power: int = 1) -> Figure:
    """A figure brought from one scale of its sensor to another: its value, and the scale's part of its interval.

    Parameters
    ----------
    figure : Figure
        As by ``old``, whose error its interval holds in quadrature; ``None`` for what the sensor itself shows, without
        any error of its scale.
    power : int
        1 for what follows the current, −1 for a resistance.
    """
    factor = (new.value / (old.value if old else 1.0)) ** power
    return moved(figure, factor, Z95 * old.relative_se if old else 0.0, Z95 * new.relative_se)


def moved(figure: Figure, factor: float, before: float, after: float) -> Figure:
    """A figure times a factor, one relative error of its interval (half widths) taken out and another put in."""
    value, low, high = figure.value, figure.low, figure.high
    if value is None or low is None or high is None:
        return figure
    # An end that its quantity's bound has cut off says nothing: the other side does.
    sides = [high - value if low <= 0.0 < value else value - low, high - value]
    down, up = (factor * float(np.hypot(np.sqrt(max(s**2 - (before * value) ** 2, 0.0)), after * value)) for s in sides)
    bound = 0.0 if low >= 0.0 else -np.inf
    return figure.set_to(factor * value, max(factor * value - down, bound), factor * value + up)
