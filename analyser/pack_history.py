"""One pack over its cycles: capacity, resistance, cell spread, sag, and when its owner's rule retires it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analyser.aircraft import Pack
from analyser.chemistry import CHARGE_PERCENT, PUBLISHED
from analyser.cycles import days_stored_full, equivalent_full_cycles
from analyser.events import Event, Level
from analyser.figures import Figure, FloatArray, Method, values_of
from analyser.packs import PackResult
from analyser.record import FlightRecord
from analyser.trends import FEWEST, robust_trend

SWAP_RATIO = 1.6
"""Resistance away from both neighbours by this factor, and back: another pack may have been fitted."""
ABSURD_PERCENT = 112.0
"""A capacity whose whole interval lies above this share of the label's is an error of the data, not a good pack."""
PUT_BACK = "charge put back"
ONE_CURVE_SE = 0.05
"""Relative error of a capacity ratio where only one rest curve is known (common practice, no source)."""
RATIO_SE = 0.03
"""Relative error of a capacity ratio that no scatter shows: an unfinished rest that changes with age, and a make
whose curve is unlike all published ones (common practice, no source)."""
FEWEST_FORECAST = 5
"""Flights below which no forecast is made: with four, even a perfect order has a chance of 2/4! = 8 %."""
NEAR = 0.8
"""Share of the way to a retirement limit from which a pack is watched."""
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
    fitted: dict[str, list[tuple[FlightRecord, PackResult, Pack]]] = {}
    for flight in flights:
        for result in flight.result.packs.packs:
            pack = flight.context.packs.get(result.name)
            if pack is not None:
                fitted.setdefault(pack.name, []).append((flight, result, pack))
    histories = [_history(uses) for uses in fitted.values()]
    return tuple(sorted(histories, key=lambda h: (-h.level, -len(h.reasons), h.pack.name)))


def _history(uses: list[tuple[FlightRecord, PackResult, Pack]]) -> PackHistory:
    pack = uses[-1][2]
    results = [r for _, r, _ in uses]
    capacities, route = _capacities(results)
    resistances = tuple(_best_resistance(r) for r in results)
    spreads = tuple(r.cell_spread_v for r in results)
    followed = _in_order(uses)
    in_order = [uses[k] for k in followed]
    order = np.arange(1.0, len(followed) + 1.0)
    capacity_figures = tuple(capacities[k] for k in followed)
    resistance_figures = tuple(resistances[k] for k in followed)
    spread_values = values_of(spreads[k] for k in followed)
    capacity_trend = robust_trend(order, values_of(capacity_figures), "mAh", f"Trend of capacity, {pack.name}")
    resistance_trend = robust_trend(order, values_of(resistance_figures), "mΩ", f"Trend of resistance, {pack.name}")
    spread_trend = robust_trend(order, spread_values, "V", f"Trend of cell spread, {pack.name}", digits=4)
    now = _capacity_now(pack, order, capacity_figures, capacity_trend)
    bend = _curve_bend(pack, [r for _, r, _ in in_order], capacity_figures, route)
    against_first = _against_first(pack, order, capacity_figures, capacity_trend, bend)
    ratio = _resistance_ratio(pack, order, resistance_figures, resistance_trend)
    spread_now = _late(spread_values)
    weak = _weak_cell([r for _, r, _ in in_order])
    browns = [e for r in results for e in r.events if e.kind == "brown_out"]
    # A brown-out in a flight without a date counts as late: nobody can say that it was long ago.
    before = {f.flight_id for f, _, _ in in_order[:-3]}
    lately = any(e.kind == "brown_out" for f, r, _ in uses if f.flight_id not in before for e in r.events)
    level, reasons, by_rule = _judge(
        pack, now, against_first, ratio, spread_now, weak, browns, lately, _alone_lately(in_order)
    )
    to_go = _to_retirement(
        pack, now, against_first, ratio, capacity_trend, resistance_trend, spread_now, spread_trend,
        values_of(capacity_figures), values_of(resistance_figures), spread_values,
    )  # fmt: skip
    if to_go.value is not None and to_go.value <= 5 and level < Level.WATCH:
        level = Level.WATCH
        reasons = (*reasons, f"about {max(to_go.value, 0):.0f} flights to your retirement rule at this trend")
    full = days_stored_full(
        [f.utc_start for f, _, _ in uses],
        values_of(r.state_of_charge_before_percent for r in results),
        values_of(r.state_of_charge_after_percent for r in results),
    )
    return PackHistory(
        pack=pack,
        flight_ids=tuple(f.flight_id for f, _, _ in uses),
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
        level=level,
        reasons=reasons,
        questions=_questions(pack, in_order, values_of(resistance_figures), len(uses) - len(in_order)),
        sentence=_sentence(pack, level, reasons, by_rule, len(in_order)),
        capacity_against_first_percent=against_first,
        capacity_route=route,
    )


def _in_order(uses: list[tuple[FlightRecord, PackResult, Pack]]) -> list[int]:
    """Positions of the flights whose place in time is known: a trend over flights out of order is none.

    Where no flight has a date at all, the logbook's order is the order.
    """
    dated = [k for k, (flight, _, _) in enumerate(uses) if flight.utc_start is not None]
    return dated or list(range(len(uses)))


def _alone_lately(uses: list[tuple[FlightRecord, PackResult, Pack]]) -> Figure | None:
    """The lowest voltage this pack alone would have given in its latest flight, where it was surely too low.

    Only the weakest pack of a bus is told so: where none could carry the load, that is the bus's matter.
    """
    flight, result, _ = uses[-1]
    for bus in flight.result.packs.buses:
        weakest = min(bus.alone_v, key=lambda r: bus.alone_v[r].value or 0.0)
        if weakest == result.name and bus.carries_alone.get(result.name) is False:
            return bus.alone_v[result.name]
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


def _late(values: FloatArray) -> float | None:
    """Median of the last three known values."""
    known = values[np.isfinite(values)][-3:]
    return float(np.median(known)) if known.size else None


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


def _judge(
    pack: Pack,
    now: Figure,
    against_first: Figure,
    ratio: Figure,
    spread: float | None,
    weak: int | None,
    browns: list[Event],
    lately: bool,
    alone: Figure | None,
) -> tuple[Level, tuple[str, ...], bool]:
    """How much attention, why, and whether the owner's retirement rule itself is met."""
    rule = pack.retire
    reasons: list[tuple[Level, str]] = []
    limit = rule.capacity_percent
    near = 100 - NEAR * (100 - limit)
    said = [
        _beside(figure, limit, near, f"capacity {{}} % {what}", f"your {limit:.0f} %", "below", 0)
        for figure, what in ((now, "of the label's"), (against_first, "of its own first flights'"))
    ]
    # Where one of the two settles it, the other's "perhaps" adds nothing.
    settled = [r for r in said if r and r[0][0] >= Level.ACT]
    reasons += [r for one in settled or said for r in one]
    limit = rule.resistance_ratio
    near = 1 + NEAR * (limit - 1)
    reasons += _beside(ratio, limit, near, "resistance {} times new", f"your {limit:.1f}", "above", 1)
    if spread is not None and spread > rule.cell_spread_v:
        which = f", cell {weak} lowest" if weak else ""
        reasons.append((Level.ACT, f"cell spread {1000 * spread:.0f} mV late in flight{which}"))
    elif spread is not None and spread > NEAR * rule.cell_spread_v:
        reasons.append((Level.WATCH, f"cell spread {1000 * spread:.0f} mV late in flight, near your limit"))
    by_rule = any(weight >= Level.ACT for weight, _ in reasons)
    if browns:
        usual = " and ".join(f"{cause} with {count}" for cause, count in _usual_causes(browns))
        times = f"{len(browns)} brown-out" + ("s" if len(browns) > 1 else "")
        why = f" ({usual})" if usual else ""
        reasons.append((Level.ACT if lately else Level.WATCH, f"{times}{why}"))
    if alone is not None and alone.value is not None:
        text = (
            f"would not have carried the receivers alone in its latest flight ({alone.value:.1f} V at the worst moment)"
        )
        reasons.append((Level.WATCH, text))
    level = max((x for x, _ in reasons), default=Level.FINE)
    return level, tuple(text for _, text in sorted(reasons, key=lambda r: -r[0])), by_rule


def _usual_causes(events: list[Event]) -> list[tuple[str, int]]:
    """The two things that went with most of some events (a fifth of them at least), and with how many."""
    counts = {c: sum(c in e.causes for e in events) for c in dict.fromkeys(c for e in events for c in e.causes)}
    usual = [(c, n) for c, n in counts.items() if n >= len(events) / 5]
    return sorted(usual, key=lambda x: -x[1])[:2]


def _beside(
    figure: Figure, limit: float, near: float, what: str, rule: str, side: str, digits: int
) -> list[tuple[Level, str]]:
    """Set a figure's whole interval beside a limit: act only where all of it lies beyond, watch where some may."""
    if figure.value is None:
        return []
    sign = 1.0 if side == "above" else -1.0
    low, _, high = _ends(figure)
    surest = low if side == "above" else high
    text = what.format(f"{figure.value:.{digits}f}")
    interval = f"{low:.{digits}f} to {high:.{digits}f}"
    if sign * (surest - limit) > 0:
        return [(Level.ACT, f"{text}, {side} {rule} with its whole interval ({interval})")]
    if sign * (figure.value - limit) > 0:
        return [(Level.WATCH, f"{text}, {side} {rule}, but its interval ({interval}) reaches back across it")]
    if sign * (figure.value - near) > 0 and sign * (surest - (100.0 if side == "below" else 1.0)) > 0:
        return [(Level.WATCH, f"{text} ({interval}), near {rule}")]
    return []


def _to_retirement(
    pack: Pack,
    now: Figure,
    against_first: Figure,
    ratio: Figure,
    capacity_trend: Figure,
    resistance_trend: Figure,
    spread: float | None,
    spread_trend: Figure,
    capacities: FloatArray,
    resistances: FloatArray,
    spreads: FloatArray,
) -> Figure:
    """Flights until the first of the owner's limits, at the robust trends; the ends follow the trends' ends."""
    label = f"Flights to your retirement rule, {pack.name}"
    rule = pack.retire
    options: list[tuple[float, float, float, str]] = []
    enough = {
        name: int(np.isfinite(v).sum()) >= FEWEST_FORECAST
        for name, v in (("capacity", capacities), ("resistance", resistances), ("spread", spreads))
    }
    if enough["capacity"] and capacity_trend.value is not None:
        falling = (-capacity_trend.value, -(capacity_trend.high or 0.0), -(capacity_trend.low or 0.0))
        # The label's capacity where the log can be held against it, and the pack's own first flights: the sooner.
        for figure, whole in ((now, pack.rated_mah), (against_first, _first_three(capacities)[0])):
            if figure.value is not None and whole:
                gap = [x - rule.capacity_percent for x in _ends(figure)]
                options += _when(gap, [100.0 / whole * x for x in falling], "capacity")
    base = _new_resistance(pack, resistances)[0]
    if enough["resistance"] and ratio.value is not None and resistance_trend.value is not None and base:
        low, value, high = _ends(ratio)
        gap = [rule.resistance_ratio - x for x in (high, value, low)]
        options += _when(gap, [x / base for x in _slopes(resistance_trend)], "resistance")
    if enough["spread"] and spread is not None and spread_trend.value is not None:
        options += _when([rule.cell_spread_v - spread] * 3, _slopes(spread_trend), "cell spread")
    if not options:
        why = "no trend towards a limit beyond chance"
        if not any(enough.values()):
            why = f"not enough flights for a trend to tell from chance (at least {FEWEST_FORECAST})"
        return Figure.unavailable(label, "flights", why)
    value, low, high, which = min(options)
    how = f"robust trend of {which} to your limit" if high > 0 else f"{which} is already beyond your limit"
    return Figure(label, value, "flights", Method.ESTIMATED, low, high, how=how, digits=0)


def _ends(figure: Figure) -> tuple[float, float, float]:
    """Low end, value and high end; the value thrice where there is no interval."""
    value = figure.value or 0.0
    return (value if figure.low is None else figure.low, value, value if figure.high is None else figure.high)


def _slopes(trend: Figure) -> list[float]:
    """A rising trend's slope, its slow end and its fast end."""
    low, value, high = _ends(trend)
    return [value, low, high]


def _when(gap: list[float], slopes: list[float], which: str) -> list[tuple[float, float, float, str]]:
    """Flights until a gap (least, best, most) closes at a slope (best, slowest, fastest): best, least, most."""
    least, best, most = gap
    slope, slow, fast = slopes
    if most <= 0:
        return [(0.0, 0.0, 0.0, which)]
    if slope <= 0 or slow <= 0:
        return []  # a trend whose interval includes "no trend" forecasts nothing
    return [(max(best, 0.0) / slope, max(least, 0.0) / fast, most / slow, which)]


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


def _questions(
    pack: Pack, uses: list[tuple[FlightRecord, PackResult, Pack]], resistance: FloatArray, undated: int
) -> tuple[str, ...]:
    """Ask for missing dates, and of a flight whose resistance stands apart from its neighbours which pack it was."""
    asked: list[str] = []
    if undated:
        which = "A flight" if undated == 1 else f"{undated} flights"
        verb = "has" if undated == 1 else "have"
        asked.append(
            f"When was it? {which} of {pack.name} {verb} no date among others that have: left out of its trends."
        )
    known = np.flatnonzero(np.isfinite(resistance))
    if known.size < 5:
        return tuple(asked)
    y = resistance[known]
    # Either neighbour's resistance; at an end of the log the two next to it stand for both.
    left, right = np.r_[y[1], y[:-1]], np.r_[y[1:], y[-2]]
    left[0], right[-1] = y[2], y[-3]
    around = np.sqrt(left * right)
    apart = np.maximum(y / around, around / y)
    steady = np.maximum(left / right, right / left) < 1.25
    odd = known[(apart > SWAP_RATIO) & steady]
    return (
        *asked,
        *(
            f"Was {pack.name} really fitted in {uses[k][0].flight_id}? Its resistance there ({resistance[k]:.0f} mΩ) "
            "is not this pack's."
            for k in odd.tolist()
        ),
    )


def _sentence(pack: Pack, level: Level, reasons: tuple[str, ...], by_rule: bool, flights: int) -> str:
    if level >= Level.ACT and not by_rule:
        return f"Find out about {pack.name} before it flies again: {'; '.join(reasons)}."
    if level >= Level.ACT:
        return f"Retire {pack.name} by your rule: {'; '.join(reasons)}."
    if level >= Level.WATCH:
        return f"Watch {pack.name}: {'; '.join(reasons)}."
    if flights < FEWEST:
        return f"{pack.name}: not enough flights for a trend ({flights})."
    return f"{pack.name}: nothing beyond its limits in {flights} flights."
