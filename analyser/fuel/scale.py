"""What a fuel sensor's millilitre is worth: unknown within a prior until volumes put in afterwards check it.

The factor ``k`` is true volume over what the sensor says. Before anything was noted it lies within 10 % of one
(:data:`PRIOR_PERCENT`, common practice, no source) or within what the owner states. A flight whose volume was noted has
its own factor; others take the one that the noted flights teach: their robust mean, its error from a pooled spread (a
scaled inverse chi-squared prior on the variance, Gelman et al., Bayesian Data Analysis, 3rd ed., 2.6 and 3.3), drawn
to the prior in proportion to the precisions (the same, 2.5). All flights without a note share the error of that factor.
"""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from analyser.core.figures import Z95, Figure, Method
from analyser.core.findings import Text, say
from analyser.core.statistics.distributions import student_quantile
from analyser.core.statistics.robust import huber_mean
from analyser.fuel.codes import FuelCode

PRIOR_PERCENT = 10.0
"""Half width of the 95 % interval of a sensor's scale that nobody checked (common practice, no source)."""
FILLING_SE = 0.01
"""Relative standard error of a volume put in with a marked can or pump counter (common practice, no source)."""
BELIEVABLE = (0.4, 2.5)
"""Volume put in over volume burned outside this was not put in to the same mark: no scale of any sensor."""
_PRIOR_FLIGHTS = 3
"""How many flights' worth of belief the usual scatter of a ratio carries against the scatter seen."""
_USUAL_SCATTER = 1.25 * FILLING_SE


class ScaleBasis(StrEnum):
    """What set a tank's figures right."""

    VOLUME = "volume"
    """The volume put in after this very flight."""
    FLIGHTS = "flights"
    """Volumes put in after other flights of the same sensor."""
    BENCH = "bench"
    """A measured volume pumped through the sensor on the bench."""
    UNCHECKED = "unchecked"
    """Nothing: no volume was ever noted for this sensor."""
    CURVE = "curve"
    """There is no sensor: the burn is told by a curve, which has a doubt of its own."""


class SensorScale(Struct, frozen=True):
    """The factor that turns what the sensor says into millilitres.

    Parameters
    ----------
    basis : ScaleBasis
        Where the factor comes from.
    factor : Figure
        True volume over what the sensor says, ×.
    flights : int
        How many noted flights it rests on.
    """

    basis: ScaleBasis
    factor: Figure
    flights: int = 0

    @property
    def checked(self) -> bool:
        """Whether a volume put in ever checked it."""
        return self.basis in (ScaleBasis.VOLUME, ScaleBasis.FLIGHTS, ScaleBasis.BENCH)

    @property
    def value(self) -> float:
        """The factor itself."""
        return self.factor.value or 1.0

    @property
    def relative_se(self) -> float:
        """Relative standard error of the factor, which all flights without a note of their own share."""
        return self.factor.relative_se

    def how(self, by_sensor: Text) -> Text:
        """Where a figure set right by it comes from."""
        if self.basis is ScaleBasis.CURVE:
            return by_sensor
        if self.basis is ScaleBasis.UNCHECKED:
            return say(FuelCode.NEVER_CHECKED, how=by_sensor, within=self.factor.half_width * 100.0)
        if self.basis is ScaleBasis.BENCH:
            return say(FuelCode.SCALED_ON_BENCH, how=by_sensor, factor=self.factor)
        if self.basis is ScaleBasis.VOLUME:
            return say(FuelCode.SCALED_BY_VOLUME, how=by_sensor, factor=self.factor)
        return say(FuelCode.SCALED_BY_FLIGHTS, how=by_sensor, factor=self.factor, n=self.flights)


def unchecked_scale(tank: str, percent: float | None, on_bench: Figure | None = None) -> SensorScale:
    """What is known before any volume was noted: the bench's factor, else one.

    Parameters
    ----------
    tank : str
        The tank's name.
    percent : float or None
        Half width of the 95 % interval about one as the owner states it; :data:`PRIOR_PERCENT` where not.
    on_bench : Figure or None
        The factor that a calibration on the bench gave, ×.
    """
    if on_bench is not None and on_bench.value is not None:
        return SensorScale(ScaleBasis.BENCH, replace(on_bench, label=say(FuelCode.SCALE, tank=tank)))
    stated = PRIOR_PERCENT if percent is None else percent
    how = say(FuelCode.PRIOR, within=stated, stated=percent is not None)
    label = say(FuelCode.SCALE, tank=tank)
    return SensorScale(ScaleBasis.UNCHECKED, Figure.within(label, 1.0, stated / 100.0, "×", how=how, digits=3))


def curve_scale(tank: str) -> SensorScale:
    """Of a burn told by a curve: one, without an error of its own."""
    label, how = say(FuelCode.SCALE, tank=tank), say(FuelCode.CURVE_SCALE)
    return SensorScale(ScaleBasis.CURVE, Figure(label, 1.0, "×", Method.ASSUMED, how=how, digits=3))


def learn_scale(
    tank: str, ratios: Sequence[Figure], percent: float | None = None, on_bench: Figure | None = None
) -> SensorScale:
    """Learn a sensor's scale from flights whose volume was noted.

    Parameters
    ----------
    tank : str
        The tank's name.
    ratios : sequence of Figure
        Volume put in over what the sensor said, one a flight; those without a value are passed over.
    percent : float or None
        Half width of the prior's 95 % interval as the owner states it; :data:`PRIOR_PERCENT` where not.
    on_bench : Figure or None
        The factor of a calibration on the bench, which then is the prior.

    Returns
    -------
    SensorScale
        The prior itself where no volume was noted. The interval is that of the factor in one more flight.
    """
    prior = unchecked_scale(tank, percent, on_bench)
    values = np.array([r.value for r in ratios if r.value is not None], float)
    if values.size == 0:
        return prior
    logs = np.log(values)
    own_se = np.array([r.relative_se for r in ratios if r.value], float)
    mean, weights = huber_mean(logs, least=FILLING_SE)
    n = values.size
    known = _PRIOR_FLIGHTS + n - 1
    usual = float(np.mean(np.maximum(own_se, _USUAL_SCATTER)))
    variance = (_PRIOR_FLIGHTS * usual**2 + float(np.sum(weights * (logs - mean) ** 2))) / known
    widen = float(student_quantile(0.975, known)) / Z95
    data_se = widen * float(np.sqrt(variance / max(float(weights.sum()), 1.0)))
    # What a ratio scatters by beyond its own error is the sensor's: it reads otherwise from flight to flight.
    wander = max(variance - float(np.mean(own_se**2)), 0.0) if n > 2 else 0.0
    prior_se, believed = prior.relative_se, float(np.log(prior.value))
    precision = 1.0 / data_se**2 + (1.0 / prior_se**2 if prior_se > 0 else np.inf)
    told = mean / data_se**2 + (believed / prior_se**2 if prior_se > 0 else 0.0)
    centre = float(np.exp(told / precision)) if np.isfinite(precision) else prior.value
    half = centre * Z95 * float(np.sqrt(1.0 / precision + wander))
    how = say(FuelCode.LEARNED_SCALE, n=n)
    factor = Figure.within(say(FuelCode.SCALE, tank=tank), centre, half, "×", how=how, digits=3)
    return SensorScale(ScaleBasis.FLIGHTS, factor, n)
