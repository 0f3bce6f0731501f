"""A pack's resistance over its flights, every one carried to the same state, and how many times new it is today."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from analyser.core.aircraft import Pack
from analyser.core.figures import Figure, FloatArray, Method, values_of
from analyser.core.findings import Text, say
from analyser.core.statistics.endpoints import LATE, Standing, at_first, at_last
from analyser.core.statistics.trends import FEWEST, robust_trend, widened
from analyser.packs.analysis import PackResult
from analyser.packs.internal_resistance import LOGGED_SE_K, at_reference
from analyser.packs.reference_state import MAKES, Activation, coldness, learned_activation, makes_of
from analyser.record import FlightRecord
from analyser.season.lineup import IntArray, Lineup, Taught
from analyser.season.packs.codes import SeasonPackCode
from analyser.season.packs.uses import in_order, uses_of

TEACH = 40
"""So many flights teach how a pack's resistance follows temperature: the flight itself and those just before it."""
LESSONS = (5, 7, 10, 14, 20, 28, TEACH)
"""A pack's first flights learn together, anew whenever it has made so many flights."""
STATED_NEW_SE = 0.03
"""Relative error of a resistance that a charger or meter read when the pack was new (common practice, no source)."""
BY_FLIGHT, NOTED = SeasonPackCode.ROUTE_IN_FLIGHT, SeasonPackCode.ROUTE_NOTED


class ResistanceHistory(Struct, frozen=True):
    """Resistance flight by flight by one route, its trend, and today's over new.

    ``new_mohm`` is the resistance when new, ``None`` where nobody can say.
    """

    figures: tuple[Figure, ...]
    route: SeasonPackCode
    trend: Figure
    over_new: Figure
    new_mohm: float | None
    activation_kj_per_mol: Figure


def resistance_history(
    pack: Pack, results: Sequence[PackResult], order: FloatArray, sensors: Sequence[str]
) -> ResistanceHistory:
    """Follow a pack's resistance.

    Parameters
    ----------
    results : sequence of PackResult
        Oldest first, set right by :func:`correct_resistance`; ``order`` numbers them, NaN where a flight's place in
        time is not known.
    sensors : sequence of str
        Which current sensor each flight was read by.
    """
    route = _route(results)
    activation = _activation(results, order, pack) if route == BY_FLIGHT else MAKES
    figures = tuple(r.resistance.noted_mohm if route == NOTED else r.resistance.value_mohm for r in results)
    values = np.where(np.isfinite(order), values_of(figures), np.nan)
    cold = coldness(values_of(r.state.temperature_c for r in results))
    drift = activation.se * cold if route == BY_FLIGHT else np.zeros(values.size)
    trend = robust_trend(order, values, "mΩ", say(SeasonPackCode.RESISTANCE_TREND, pack=pack.name))
    trend = _with_drift(trend, order, values, drift)
    apart = sensor_errors(results, sensors) if route == BY_FLIGHT else {}
    for error in apart.values():
        # Packs move: what one sensor's scale is off by against another's is no trend.
        trend = _with_drift(trend, order, values, error)
    new, basis = _new(pack, values)
    now = at_last(order, values, trend)
    return ResistanceHistory(
        figures=figures,
        route=route,
        trend=trend,
        over_new=_over_new(pack, figures, values, now, base=(new, basis), drift=drift, apart=apart),
        new_mohm=new,
        activation_kj_per_mol=_learned_figure(pack, activation),
    )


def sensor_errors(results: Sequence[PackResult], sensors: Sequence[str]) -> dict[str, FloatArray]:
    """What each current sensor's scale may be off by against the others', by sensor: relative, 0 where not its flight.

    Nothing where one sensor read every flight: its error is the same in all of them.
    """
    if len(set(sensors)) < 2:
        return {}
    own = np.array([r.scale.applied.own_se for r in results])
    return {s: own * np.array([x == s for x in sensors], float) for s in dict.fromkeys(sensors)}


def correct_resistance(
    flights: Sequence[FlightRecord], only: Collection[str] | None = None
) -> tuple[FlightRecord, ...]:
    """The same flights with every pack's resistance carried as that pack's own flights teach.

    So a flight's page, a comparison and the pack's history show one value. Doing it twice changes nothing: each is
    carried from what the flight read. One flight more, later than all others, changes no other flight, but at the few
    counts in :data:`LESSONS`; the answer depends on the flights alone, not on the order they came in.

    Parameters
    ----------
    flights : sequence of FlightRecord
        Oldest first, of any aircraft: packs move.
    only : collection of str, optional
        Ids of the flights to correct; the others only teach.
    """
    own: dict[tuple[str, str], PackResult] = {}
    for uses in uses_of(flights):
        results = [use.result for use in uses]
        order = np.full(len(uses), np.nan)
        followed = in_order(uses)
        order[followed] = np.arange(1.0, len(followed) + 1.0)
        learned: dict[int, Activation] = {}
        firsts, lasts = _windows(len(uses))
        for use, first, last in zip(uses, firsts.tolist(), lasts.tolist(), strict=True):
            if only is not None and use.flight.flight_id not in only:
                continue
            if last not in learned:
                learned[last] = _activation(results[first:last], order[first:last], use.pack)
            value = _carried(use.result, learned[last])
            if value != use.result.resistance.value_mohm:
                resistance = replace(use.result.resistance, value_mohm=value)
                own[use.flight.flight_id, use.result.name] = replace(use.result, resistance=resistance)
    return tuple(_with_packs(flight, own) for flight in flights)


def _with_packs(flight: FlightRecord, own: Mapping[tuple[str, str], PackResult]) -> FlightRecord:
    packs = flight.result.packs
    right = tuple(own.get((flight.flight_id, p.name), p) for p in packs.packs)
    if all(a is b for a, b in zip(right, packs.packs, strict=True)):
        return flight
    return replace(flight, result=replace(flight.result, packs=replace(packs, packs=right)))


def resistance_taught(lineup: Lineup) -> Iterator[Taught]:
    """Which flights teach which how a pack's resistance follows temperature, for every pack."""
    for name, places in lineup.grouped(lambda f: f.packs).items():
        yield Taught(f"pack {name}", places, places, *_windows(places.size))


def _windows(count: int) -> tuple[IntArray, IntArray]:
    """First of the flights that teach each of a pack's, and the one behind their last, by place.

    A flight learns from itself and those just before it, so that a later one changes nothing; the first ones from as
    many of them as the last lesson had.
    """
    place = np.arange(count)
    lesson = max((n for n in LESSONS if n <= count), default=0)
    early = place < TEACH
    return np.where(early, 0, place + 1 - TEACH), np.where(early, lesson, place + 1)


def _route(results: Sequence[PackResult]) -> SeasonPackCode:
    """One kind of reading for all flights: two in one trend would be a step."""
    carried, noted = (
        np.isfinite(values_of(f)).any()
        for f in ([r.resistance.value_mohm for r in results], [r.resistance.noted_mohm for r in results])
    )
    return BY_FLIGHT if carried or not noted else NOTED


def _activation(results: Sequence[PackResult], order: FloatArray, pack: Pack) -> Activation:
    """How this pack's resistance follows temperature, from flights whose temperature somebody measured."""
    at_half = np.array([r.resistance.by_sensor_mohm for r in results], float)
    measured = [
        t.value
        if (t := r.state.temperature_c).method in (Method.MEASURED, Method.ENTERED) and t.value is not None
        else np.nan
        for r in results
    ]
    celsius = np.where(np.isfinite(order), np.array(measured, float), np.nan)
    return learned_activation(at_half, celsius, LOGGED_SE_K, makes_of(pack.chemistry))


def _carried(result: PackResult, activation: Activation) -> Figure:
    own = result.resistance
    return at_reference(
        own.value_mohm.label, own.as_read_mohm, result.state.temperature_c, *_ends(result), activation
    )  # fmt: skip


def _ends(result: PackResult) -> tuple[Figure, Figure]:
    return result.state.before_percent, result.state.after_percent


def _learned_figure(pack: Pack, activation: Activation) -> Figure:
    value, half = activation.j_per_mol / 1000.0, 2.0 * activation.se / 1000.0
    label = say(SeasonPackCode.ACTIVATION, pack=pack.name)
    return Figure.within(label, value, half, "kJ/mol", how=activation.how, digits=0)


def _with_drift(trend: Figure, order: FloatArray, values: FloatArray, drift: FloatArray) -> Figure:
    """Widen a trend by what a season that grew warmer, or colder, may feign: the same error in every flight."""
    known = np.isfinite(values) & np.isfinite(drift)
    slope = robust_trend(order[known], (values * drift)[known], "", "").value
    return trend if slope is None else widened(trend, 2.0 * slope)


def _over_new(
    pack: Pack, figures: Sequence[Figure], values: FloatArray, now: Standing | None, *, base: tuple[float | None, Text],
    drift: FloatArray, apart: Mapping[str, FloatArray],
) -> Figure:  # fmt: skip
    new, basis = base
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
        base_se = STATED_NEW_SE
    else:
        # In a ratio of the log's own, only a difference in temperature counts.
        moved = [float(np.median(e[known[-LATE:]]) - np.median(e[known[:LATE]])) for e in (drift, *apart.values())]
        shared = float(np.linalg.norm(moved))
        first = at_first(values)
        base_se = first.se / first.value if first else 0.0
    factor = float(np.exp(2.0 * np.linalg.norm([now.se / now.value, shared, base_se])))
    how = say(SeasonPackCode.LINE_OVER_NEW, flights=now.flights, basis=basis)
    return Figure(label, ratio, "×", Method.ESTIMATED, low=ratio / factor, high=ratio * factor, how=how, digits=2)


def _new(pack: Pack, values: FloatArray) -> tuple[float | None, Text]:
    """Resistance when new, mΩ, and where it comes from; ``None`` and the reason where nobody can say."""
    if pack.new_resistance_mohm is not None:
        return pack.new_resistance_mohm, say(SeasonPackCode.STATED_NEW, mohm=pack.new_resistance_mohm)
    first = at_first(values)
    if first is None or first.flights < FEWEST:
        return None, say(SeasonPackCode.NO_NEW)
    return first.value, say(SeasonPackCode.FIRST_FLIGHTS, flights=LATE)
