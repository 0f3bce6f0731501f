"""One pack over its cycles: capacity, resistance, cell spread, sag, and when its owner's rule retires it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analyser.aircraft import Pack
from analyser.chemistry import CHARGE_PERCENT, PUBLISHED
from analyser.cycles import days_stored_full, equivalent_full_cycles
from analyser.events import Level
from analyser.figures import Figure, FloatArray, Method, values_of
from analyser.pack_identity import foreign_flights
from analyser.pack_limit import Limit, flights_to_retirement
from analyser.pack_uses import PackUse, in_order, uses_of
from analyser.pack_verdict import judge
from analyser.packs import PackResult
from analyser.record import FlightRecord
from analyser.trends import FEWEST, robust_trend

ABSURD_PERCENT = 112.0
"""A capacity whose whole interval lies above this share of the label's is an error of the data, not a good pack."""
PUT_BACK = "charge put back"
ONE_CURVE_SE = 0.05
"""Relative error of a capacity ratio where only one rest curve is known (common practice, no source)."""
RATIO_SE = 0.03
"""Relative error of a capacity ratio that no scatter shows: an unfinished rest that changes with age, and a make
whose curve is unlike all published ones (common practice, no source)."""
LATE = 3
"""How many of its last flights count as lately."""
NOT_TOLD = Figure.unavailable("Capacity against its first flights", "%", "no flight tells capacity")


@dataclass(frozen=True, slots=True)
class PackHistory:
    """One pack over the flights it was fitted in, oldest first; tuples run parallel to ``flight_ids``."""

    pack: Pack
    flight_ids: tuple[str, ...]
    roles: tuple[str, ...]
    cycles: Figure
    days_stored_full: Figure
    capacities_mah: tuple[Figure, ...]
    resistances_mohm: tuple[Figure, ...]
    cell_spreads_v: tuple[Figure, ...]
    sags_v: tuple[Figure, ...]
    lowest_v: tuple[Figure, ...]
    brown_outs: Figure
    capacity_now_percent: Figure
    resistance_ratio: Figure
    capacity_trend: Figure
    resistance_trend: Figure
    spread_trend: Figure
    flights_to_retirement: Figure
    weak_cell: int | None
    level: Level
    reasons: tuple[str, ...]
    questions: tuple[str, ...]
    sentence: str
    capacity_against_first_percent: Figure = NOT_TOLD
    capacity_route: str = ""


def pack_histories(flights: Sequence[FlightRecord]) -> tuple[PackHistory, ...]:
    """Follow every pack over the flights it was fitted in; the one that needs attention most comes first.

    Parameters
    ----------
    flights : sequence of FlightRecord
        Oldest first, of any aircraft: packs move.
    """
    histories = [_history(uses) for uses in uses_of(flights)]
    return tuple(sorted(histories, key=lambda h: (-h.level, -len(h.reasons), h.pack.name)))


def _history(uses: list[PackUse]) -> PackHistory:
    pack = uses[-1].pack
    results = [use.result for use in uses]
    capacities, route = _capacities(results)
    resistances = tuple(_best_resistance(r) for r in results)
    spreads = tuple(r.cell_spread_v for r in results)
    followed = in_order(uses)
    dated = [uses[k] for k in followed]
    order = np.arange(1.0, len(followed) + 1.0)
    capacity_figures = tuple(capacities[k] for k in followed)
    resistance_figures = tuple(resistances[k] for k in followed)
    capacity, resistance = values_of(capacity_figures), values_of(resistance_figures)
    spread = values_of(spreads[k] for k in followed)
    capacity_trend = robust_trend(order, capacity, "mAh", f"Trend of capacity, {pack.name}")
    resistance_trend = robust_trend(order, resistance, "mΩ", f"Trend of resistance, {pack.name}")
    spread_trend = robust_trend(order, spread, "V", f"Trend of cell spread, {pack.name}", digits=4)
    now = _capacity_now(pack, order, capacity_figures, capacity_trend)
    bend = _curve_bend(pack, [use.result for use in dated], capacity_figures, route)
    against_first = _against_first(pack, order, capacity_figures, capacity_trend, bend)
    ratio = _resistance_ratio(pack, order, resistance_figures, resistance_trend)
    weak = _weak_cell([use.result for use in dated])
    rule = pack.retire
    first = _first_three(capacity)[0] if np.isfinite(capacity).any() else None
    new_ohm = _new_resistance(pack, resistance)[0]
    percent = f"your {rule.capacity_percent:.0f} %"
    limits = (
        Limit(
            "capacity", "capacity {} % of the label's", percent, now, rule.capacity_percent, 100.0,
            capacity, capacity_trend, 100.0 / pack.rated_mah if pack.rated_mah else None,
        ),
        Limit(
            "capacity", "capacity {} % of its own first flights'", percent, against_first, rule.capacity_percent, 100.0,
            capacity, capacity_trend, 100.0 / first if first else None,
        ),
        Limit(
            "resistance", "resistance {} times new", f"your {rule.resistance_ratio:.1f}", ratio,
            rule.resistance_ratio, 1.0, resistance, resistance_trend, 1.0 / new_ohm if new_ohm else None, digits=1,
        ),
        Limit(
            "cell spread", "cell spread {} mV late in flight" + (f", cell {weak} lowest" if weak else ""),
            f"your {1000 * rule.cell_spread_v:.0f} mV", _spread_now(pack, spread), rule.cell_spread_v, 0.0,
            spread, spread_trend, 1.0, shown=1000.0,
        ),
    )  # fmt: skip
    browns = [e for r in results for e in r.events if e.kind == "brown_out"]
    # A brown-out in a flight without a date counts as late: nobody can say that it was long ago.
    before = {use.flight.flight_id for use in dated[:-LATE]}
    lately = any(e.kind == "brown_out" for u in uses if u.flight.flight_id not in before for e in u.result.events)
    to_go = flights_to_retirement(pack.name, limits)
    verdict = judge(limits, browns, lately, _alone_lately(dated), to_go)
    full = days_stored_full(
        [use.flight.utc_start for use in uses],
        values_of(r.state_of_charge_before_percent for r in results),
        values_of(r.state_of_charge_after_percent for r in results),
    )
    return PackHistory(
        pack=pack,
        flight_ids=tuple(use.flight.flight_id for use in uses),
        roles=tuple(r.name for r in results),
        cycles=_cycles(pack, results),
        days_stored_full=_stored(pack, full),
        capacities_mah=capacities,
        resistances_mohm=resistances,
        cell_spreads_v=spreads,
        sags_v=tuple(r.normal_sag_v for r in results),
        lowest_v=tuple(r.min_voltage_v for r in results),
        brown_outs=_count(f"Brown-outs, {pack.name}", len(browns), "dips below the brown-out level"),
        capacity_now_percent=now,
        resistance_ratio=ratio,
        capacity_trend=capacity_trend,
        resistance_trend=resistance_trend,
        spread_trend=spread_trend,
        flights_to_retirement=to_go,
        weak_cell=weak,
        level=verdict.level,
        reasons=verdict.reasons,
        questions=(*_undated(pack, len(uses) - len(dated)), *foreign_flights(dated, resistance)),
        sentence=verdict.sentence(pack.name, len(dated)),
        capacity_against_first_percent=against_first,
        capacity_route=route,
    )


def _alone_lately(uses: list[PackUse]) -> Figure | None:
    """The lowest voltage this pack alone would have given in its latest flight, where it was surely too low.

    Only the weakest pack of a bus is told so: where none could carry the load, that is the bus's matter.
    """
    last = uses[-1]
    for bus in last.flight.result.packs.buses:
        weakest = min(bus.alone_v, key=lambda r: bus.alone_v[r].value or 0.0)
        if weakest == last.result.name and bus.carries_alone.get(weakest) is False:
            return bus.alone_v[weakest]
    return None


def _capacities(results: list[PackResult]) -> tuple[tuple[Figure, ...], str]:
    """Every flight's capacity by the one route that most flights have: two routes in one trend would be a step."""
    by_current = tuple(r.capacity_mah for r in results)
    by_charger = tuple(r.capacity_put_back_mah for r in results)
    known = [int(np.isfinite(values_of(route)).sum()) for route in (by_current, by_charger)]
    return (by_charger, PUT_BACK) if known[1] > known[0] else (by_current, "charge used")


def _stored(pack: Pack, told: tuple[float, float, int] | None) -> Figure:
    label = f"Days stored full, {pack.name}"
    if told is None:
        return Figure.unavailable(label, "d", "needs dates and charge states of two flights in a row")
    surely, perhaps, gaps = told
    how = f"between {gaps + 1} flights: left full by the last (least) or found full by the next (most)"
    return Figure(label, surely, "d", Method.ESTIMATED, surely, perhaps, how=how, digits=0)


def _count(label: str, count: int, how: str) -> Figure:
    return Figure(label, float(count), "", Method.MEASURED, how=how, digits=0)


def _best_resistance(result: PackResult) -> Figure:
    """At 25 °C where a temperature is known, else as found, else the noted reading."""
    for figure in (result.resistance_normalised_mohm, result.resistance_mohm, result.resistance_noted_mohm):
        if figure.value is not None:
            return figure
    return result.resistance_mohm


def _spread_now(pack: Pack, values: FloatArray) -> Figure:
    """Median of the last three known values."""
    label = f"Cell spread now, {pack.name}"
    known = values[np.isfinite(values)][-3:]
    if not known.size:
        return Figure.unavailable(label, "V", "no flight logged at least two cells")
    how = f"median of the last {known.size} flights that tell it"
    return Figure(label, float(np.median(known)), "V", Method.MEASURED, how=how, digits=3)


def _level_now(order: FloatArray, values: FloatArray, trend: Figure) -> tuple[float, float, int] | None:
    """Today's value by the robust line (or the last three's median), its standard error, and how many it rests on."""
    good = np.isfinite(values)
    x, y = order[good], values[good]
    if y.size == 0:
        return None
    if trend.value is None:
        recent = y[-3:]
        spread = float(np.std(recent, ddof=1)) if recent.size > 1 else 0.1 * abs(float(recent[0]))
        return float(np.median(recent)), spread, int(y.size)
    line = float(np.median(y - trend.value * x)) + trend.value * x
    left = y - line
    spread = 1.4826 * float(np.median(np.abs(left))) * 2.0 / np.sqrt(y.size) * 1.2533
    return float(line[-1]), max(spread, 1e-9), int(y.size)


def _capacity_now(pack: Pack, order: FloatArray, figures: tuple[Figure, ...], trend: Figure) -> Figure:
    label = f"Capacity now, {pack.name}"
    if pack.rated_mah is None:
        return Figure.unavailable(label, "%", "the rated capacity is not stated (rated_mah)")
    now = _level_now(order, values_of(figures), trend)
    if now is None:
        why = "no flight used enough charge (15 % or more, with current and rest voltage) to tell capacity"
        return Figure.unavailable(label, "%", why)
    value, se, n = now
    # The rest-voltage curve is off by the same amount in every flight: more flights do not average that away.
    shared = float(np.median([f.half_width for f in figures if f.value is not None]))
    se = float(np.hypot(se, shared / 2.0))
    k = 100.0 / pack.rated_mah
    if k * (value - 2 * se) > ABSURD_PERCENT:
        why = (
            f"its charge states give {k * value:.0f} % of the rated {pack.rated_mah:.0f} mAh, which no pack has: "
            "the rated capacity, the cell count or the current sensor is not right"
        )
        return Figure.unavailable(label, "%", why)
    how = f"robust line through {n} flights' capacity over the rated {pack.rated_mah:.0f} mAh"
    return Figure(
        label, k * value, "%", Method.ESTIMATED, k * (value - 2 * se), k * (value + 2 * se), how=how, digits=0
    )


def _curve_bend(pack: Pack, results: list[PackResult], figures: tuple[Figure, ...], route: str) -> float:
    """How much a capacity *ratio* depends on the make's rest curve, as a relative standard error.

    A curve off by the same share everywhere drops out of a ratio; one of another shape does not, where late flights
    used another part of it than early ones. So the ratio is worked out with every published curve; their spread is it.
    """
    good = np.isfinite(values_of(figures))
    curves = PUBLISHED[pack.chemistry]
    if good.sum() < FEWEST or len(curves) < 2:
        return ONE_CURVE_SE
    after = values_of(r.rest_after_v for r in results)[good] / pack.cells
    before = values_of(r.rest_before_v for r in results)[good] / pack.cells
    used = values_of(r.charged_mah if route == PUT_BACK else r.used_mah for r in results)[good]
    ratios = []
    for curve in curves.values():
        start = 100.0 if route == PUT_BACK else np.interp(before, curve, CHARGE_PERCENT)
        capacity = used / np.maximum(start - np.interp(after, curve, CHARGE_PERCENT), 1.0)
        ratios.append(float(np.median(capacity[-3:]) / np.median(capacity[:3])))
    return float(np.std(ratios, ddof=1) / np.mean(ratios))


def _against_first(pack: Pack, order: FloatArray, figures: tuple[Figure, ...], trend: Figure, bend: float) -> Figure:
    """Capacity over its own first three flights: the curve's shared error and a wrong label drop out of the ratio."""
    label = f"Capacity against its first flights, {pack.name}"
    values = values_of(figures)
    now = _level_now(order, values, trend)
    known = values[np.isfinite(values)]
    if now is None or known.size < FEWEST:
        why = f"needs at least {FEWEST} flights that tell capacity, there are {known.size}"
        return Figure.unavailable(label, "%", why)
    base, base_se = _first_three(values)
    value, se, n = now
    ratio = 100.0 * value / base
    half = 2.0 * ratio * float(np.linalg.norm([se / max(value, 1e-9), base_se / base, bend, RATIO_SE]))
    how = f"robust line through {n} flights' capacity over the median of its first three"
    return Figure(label, ratio, "%", Method.ESTIMATED, ratio - half, ratio + half, how=how, digits=0)


def _first_three(values: FloatArray) -> tuple[float, float]:
    """Median of the first three known values and its standard error, by the scatter from one flight to the next."""
    known = values[np.isfinite(values)]
    first = known[:3]
    # Half the squared differences of neighbours: a trend adds nothing to it.
    step = np.diff(known)
    scatter = 1.4826 * float(np.median(np.abs(step - np.median(step)))) / np.sqrt(2.0) if step.size > 1 else 0.0
    return float(np.median(first)), 1.2533 * scatter / float(np.sqrt(first.size))


def _resistance_ratio(pack: Pack, order: FloatArray, figures: tuple[Figure, ...], trend: Figure) -> Figure:
    label = f"Resistance over new, {pack.name}"
    values = values_of(figures)
    now = _level_now(order, values, trend)
    if now is None:
        return Figure.unavailable(
            label, "×", "no flight shows its resistance (needs voltage and current with load steps)"
        )
    base, basis = _new_resistance(pack, values)
    if base is None:
        return Figure.unavailable(label, "×", basis)
    value, se, n = now
    if pack.new_resistance_mohm is None:
        se = float(np.hypot(se, value / base * _first_three(values)[1]))
    else:
        # A stated reading was made by another instrument: what the log's own estimate may be off by stays in full.
        se = float(np.hypot(se, float(np.median([f.half_width for f in figures if f.value is not None])) / 2.0))
    how = f"robust line through {n} flights over {basis}"
    return Figure(
        label, value / base, "×", Method.ESTIMATED, (value - 2 * se) / base, (value + 2 * se) / base, how=how, digits=2
    )


def _new_resistance(pack: Pack, values: FloatArray) -> tuple[float | None, str]:
    """Resistance when new, mΩ, and where it comes from; ``None`` and the reason where nobody can say."""
    if pack.new_resistance_mohm is not None:
        return pack.new_resistance_mohm, "the stated new resistance"
    known = values[np.isfinite(values)]
    if known.size < FEWEST:
        return None, "the resistance when new is not stated and the flights are few"
    return float(np.median(known[:3])), "its first three logged flights"


def _weak_cell(results: list[PackResult]) -> int | None:
    """The cell that is lowest in most of the last flights, where the spread is worth the name."""
    late = [r for r in results[-5:] if r.weak_cell is not None and (r.cell_spread_v.value or 0.0) > 0.02]
    if len(late) < 2:
        return None
    cells = [r.weak_cell for r in late]
    best = max(cells, key=cells.count)
    return best if cells.count(best) > len(cells) / 2 else None


def _cycles(pack: Pack, results: list[PackResult]) -> Figure:
    """Equivalent full cycles: before the log as stated, in the log by rainflow on the charge state."""
    before = values_of(r.state_of_charge_before_percent for r in results)
    after = values_of(r.state_of_charge_after_percent for r in results)
    good = np.isfinite(before) & np.isfinite(after)
    path = np.column_stack([before[good], after[good]]).ravel()
    counted = equivalent_full_cycles(path)
    label = f"Equivalent full cycles, {pack.name}"
    before_log = pack.cycles_before_log
    how = f"rainflow on the charge state of {int(good.sum())} flights, plus {before_log} stated before the log"
    low, high = before_log + 0.85 * counted, before_log + 1.15 * counted
    return Figure(label, before_log + counted, "", Method.ESTIMATED, low, high, how=how)


def _undated(pack: Pack, count: int) -> tuple[str, ...]:
    """Ask for the dates that are missing among flights that have one."""
    if not count:
        return ()
    which, verb = ("A flight", "has") if count == 1 else (f"{count} flights", "have")
    return (f"When was it? {which} of {pack.name} {verb} no date among others that have: left out of its trends.",)
