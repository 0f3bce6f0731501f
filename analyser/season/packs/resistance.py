"""A pack's resistance over its flights, every one carried to the same state, and how many times new it is today."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analyser.core.aircraft import Pack
from analyser.core.endpoints import LATE, Standing, at_first, at_last
from analyser.core.figures import Figure, FloatArray, Method, values_of
from analyser.core.findings import Text, say
from analyser.core.trends import FEWEST, robust_trend, widened
from analyser.packs.analysis import PackResult
from analyser.packs.internal_resistance import LOGGED_SE_K, at_reference
from analyser.packs.reference_state import MAKES, Activation, coldness, learned_activation
from analyser.season.packs.codes import SeasonPackCode

BY_FLIGHT, NOTED = SeasonPackCode.ROUTE_IN_FLIGHT, SeasonPackCode.ROUTE_NOTED


@dataclass(frozen=True, slots=True)
class ResistanceHistory:
    """Resistance flight by flight by one route, its trend, and today's over new.

    ``new_mohm`` is the resistance when new, ``None`` where nobody can say.
    """

    figures: tuple[Figure, ...]
    route: SeasonPackCode
    trend: Figure
    over_new: Figure
    new_mohm: float | None
    activation_kj_per_mol: Figure


def resistance_history(pack: Pack, results: Sequence[PackResult], order: FloatArray) -> ResistanceHistory:
    """Follow a pack's resistance.

    Parameters
    ----------
    results : sequence of PackResult
        Oldest first; ``order`` numbers them, NaN where a flight's place in time is not known.
    """
    route = _route(results)
    activation = _activation(results, order) if route == BY_FLIGHT else MAKES
    figures = tuple(_figure(r, route, activation) for r in results)
    values = np.where(np.isfinite(order), values_of(figures), np.nan)
    cold = coldness(values_of(r.state.temperature_c for r in results))
    drift = activation.se * cold if route == BY_FLIGHT else np.zeros(values.size)
    trend = robust_trend(order, values, "mΩ", say(SeasonPackCode.RESISTANCE_TREND, pack=pack.name))
    trend = _with_drift(trend, order, values, drift)
    new, basis = _new(pack, values)
    over_new = _over_new(pack, figures, values, at_last(order, values, trend), new, basis, drift)
    return ResistanceHistory(figures, route, trend, over_new, new, _told(pack, activation))


def _route(results: Sequence[PackResult]) -> SeasonPackCode:
    """One kind of reading for all flights: two in one trend would be a step."""
    carried, noted = (
        np.isfinite(values_of(f)).any()
        for f in ([r.resistance.value_mohm for r in results], [r.resistance.noted_mohm for r in results])
    )
    return BY_FLIGHT if carried or not noted else NOTED


def _activation(results: Sequence[PackResult], order: FloatArray) -> Activation:
    """How this pack's resistance follows temperature, from flights whose temperature somebody measured."""
    at_half = [r.resistance.value_mohm.value or np.nan for r in results]
    measured = [
        t.value
        if (t := r.state.temperature_c).method in (Method.MEASURED, Method.ENTERED) and t.value is not None
        else np.nan
        for r in results
    ]
    celsius = np.where(np.isfinite(order), np.array(measured, float), np.nan)
    # Undo the makes' carrying in temperature alone: what stays is the reading at half charge, as warm as it was.
    return learned_activation(np.array(at_half) * np.exp(MAKES.j_per_mol * coldness(celsius)), celsius, LOGGED_SE_K)


def _figure(result: PackResult, route: SeasonPackCode, activation: Activation) -> Figure:
    own, state = result.resistance, result.state
    if route == NOTED:
        return own.noted_mohm
    ends = (state.before_percent, state.after_percent)
    return at_reference(own.value_mohm.label, own.as_read_mohm, state.temperature_c, *ends, activation)


def _told(pack: Pack, activation: Activation) -> Figure:
    value, half = activation.j_per_mol / 1000.0, 2.0 * activation.se / 1000.0
    label = say(SeasonPackCode.ACTIVATION, pack=pack.name)
    return Figure.within(label, value, half, "kJ/mol", how=activation.how, digits=0)


def _with_drift(trend: Figure, order: FloatArray, values: FloatArray, drift: FloatArray) -> Figure:
    """Widen a trend by what a season that grew warmer, or colder, may feign: the same error in every flight."""
    known = np.isfinite(values) & np.isfinite(drift)
    slope = robust_trend(order[known], (values * drift)[known], "", "").value
    return trend if slope is None else widened(trend, 2.0 * slope)


def _over_new(
    pack: Pack, figures: Sequence[Figure], values: FloatArray, now: Standing | None, new: float | None, basis: Text,
    drift: FloatArray,
) -> Figure:  # fmt: skip
    label = say(SeasonPackCode.OVER_NEW, pack=pack.name)
    if now is None:
        return Figure.unavailable(label, "×", say(SeasonPackCode.NO_RESISTANCE))
    if new is None:
        return Figure.unavailable(label, "×", basis)
    ratio = now.value / new
    known = np.flatnonzero(np.isfinite(values))
    if pack.new_resistance_mohm is not None:
        # A stated reading was made by another instrument: what the log's own estimate may be off by stays in full.
        shared = float(np.median([f.half_width for f in figures if f.value is not None])) / 2.0 / now.value
        base_se = 0.0
    else:
        # In a ratio of the log's own, only a difference in temperature counts.
        shared = abs(float(np.median(drift[known[-LATE:]]) - np.median(drift[known[:LATE]])))
        first = at_first(values)
        base_se = first.se / first.value if first else 0.0
    factor = float(np.exp(2.0 * np.linalg.norm([now.se / now.value, shared, base_se])))
    how = say(SeasonPackCode.LINE_OVER_NEW, flights=now.flights, basis=basis)
    return Figure(label, ratio, "×", Method.ESTIMATED, ratio / factor, ratio * factor, how=how, digits=2)


def _new(pack: Pack, values: FloatArray) -> tuple[float | None, Text]:
    """Resistance when new, mΩ, and where it comes from; ``None`` and the reason where nobody can say."""
    if pack.new_resistance_mohm is not None:
        return pack.new_resistance_mohm, say(SeasonPackCode.STATED_NEW, mohm=pack.new_resistance_mohm)
    first = at_first(values)
    if first is None or first.flights < FEWEST:
        return None, say(SeasonPackCode.NO_NEW)
    return first.value, say(SeasonPackCode.FIRST_FLIGHTS, flights=LATE)
