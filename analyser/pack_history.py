"""One pack over its cycles: capacity, resistance, cell spread, sag, and when its owner's rule retires it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analyser.aircraft import Pack
from analyser.cycles import days_stored_full, equivalent_full_cycles
from analyser.events import Level
from analyser.figures import Figure, FloatArray, Method, values_of
from analyser.packs import PackResult
from analyser.record import FlightRecord
from analyser.trends import FEWEST, robust_trend

SWAP_RATIO = 1.6
"""Resistance away from both neighbours by this factor, and back: another pack may have been fitted."""
NEAR = 0.8
"""Share of the way to a retirement limit from which a pack is watched."""


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
    ids = tuple(f.flight_id for f, _, _ in uses)
    order = np.arange(1.0, len(uses) + 1.0)
    capacities = tuple(r.capacity_mah for r in results)
    resistances = tuple(_best_resistance(r) for r in results)
    spreads = tuple(r.cell_spread_v for r in results)
    capacity_trend = robust_trend(order, values_of(capacities), "mAh", f"Trend of capacity, {pack.name}")
    resistance_trend = robust_trend(order, values_of(resistances), "mΩ", f"Trend of resistance, {pack.name}")
    spread_trend = robust_trend(order, values_of(spreads), "V", f"Trend of cell spread, {pack.name}", digits=4)
    now = _capacity_now(pack, order, capacities, capacity_trend)
    ratio = _resistance_ratio(pack, order, resistances, resistance_trend)
    browns = [e for r in results for e in r.events if e.kind == "brown_out"]
    lately = sum(any(e.kind == "brown_out" for e in r.events) for r in results[-3:])
    spread_now = _late(values_of(spreads))
    weak = _weak_cell(results)
    level, reasons = _judge(pack, now, ratio, spread_now, weak, len(browns), lately, results)
    to_go = _to_retirement(
        pack, now, ratio, capacity_trend, resistance_trend, spread_now, spread_trend, values_of(resistances)
    )
    if to_go.value is not None and to_go.value <= 5 and level < Level.WATCH:
        level = Level.WATCH
        reasons = (*reasons, f"about {max(to_go.value, 0):.0f} flights to your retirement rule at this trend")
    full = days_stored_full(
        [f.utc_start for f, _, _ in uses],
        _filled(values_of(r.state_of_charge_before_percent for r in results), 100.0),
        _filled(values_of(r.state_of_charge_after_percent for r in results), 50.0),
    )
    return PackHistory(
        pack=pack,
        flight_ids=ids,
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
        questions=_questions(pack, uses, values_of(resistances)),
        sentence=_sentence(pack, level, reasons, len(uses)),
    )


def _stored(pack: Pack, days: float | None) -> Figure:
    label = f"Days stored full, {pack.name}"
    if days is None:
        return Figure.unavailable(label, "d", "needs dates of at least two flights")
    how = "days after flights that left it full"
    return Figure(label, days, "d", Method.ESTIMATED, 0.0, days, how=how, digits=0)


def _count(label: str, count: int, how: str) -> Figure:
    return Figure(label, float(count), "", Method.MEASURED, how=how, digits=0)


def _best_resistance(result: PackResult) -> Figure:
    """At 25 °C where a temperature is known, else as found, else the noted reading."""
    for figure in (result.resistance_normalised_mohm, result.resistance_mohm, result.resistance_noted_mohm):
        if figure.value is not None:
            return figure
    return result.resistance_mohm


def _filled(values: FloatArray, default: float) -> FloatArray:
    return np.where(np.isfinite(values), values, default)


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
    how = f"robust line through {n} flights' capacity over the rated {pack.rated_mah:.0f} mAh"
    return Figure(
        label, k * value, "%", Method.ESTIMATED, k * (value - 2 * se), k * (value + 2 * se), how=how, digits=0
    )


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
    best = max(set(cells), key=cells.count)
    return best if cells.count(best) > len(cells) / 2 else None


def _judge(
    pack: Pack,
    now: Figure,
    ratio: Figure,
    spread: float | None,
    weak: int | None,
    browns: int,
    lately: int,
    results: list[PackResult],
) -> tuple[Level, tuple[str, ...]]:
    rule = pack.retire
    reasons: list[tuple[Level, str]] = []
    if now.value is not None:
        if now.value < rule.capacity_percent:
            reasons.append(
                (Level.ACT, f"capacity {now.value:.0f} % of rated, below your {rule.capacity_percent:.0f} %")
            )
        elif now.value < 100 - NEAR * (100 - rule.capacity_percent):
            reasons.append(
                (Level.WATCH, f"capacity {now.value:.0f} % of rated, near your {rule.capacity_percent:.0f} %")
            )
    if ratio.value is not None:
        if ratio.value > rule.resistance_ratio:
            reasons.append(
                (Level.ACT, f"resistance {ratio.value:.1f} times new, above your {rule.resistance_ratio:.1f}")
            )
        elif ratio.value > 1 + NEAR * (rule.resistance_ratio - 1):
            reasons.append(
                (Level.WATCH, f"resistance {ratio.value:.1f} times new, near your {rule.resistance_ratio:.1f}")
            )
    if spread is not None and spread > rule.cell_spread_v:
        which = f", cell {weak} lowest" if weak else ""
        reasons.append((Level.ACT, f"cell spread {1000 * spread:.0f} mV late in flight{which}"))
    elif spread is not None and spread > NEAR * rule.cell_spread_v:
        reasons.append((Level.WATCH, f"cell spread {1000 * spread:.0f} mV late in flight, near your limit"))
    if browns:
        causes = [c for r in results for e in r.events if e.kind == "brown_out" for c in e.causes]
        why = f", mostly with {max(set(causes), key=causes.count)}" if causes else ""
        times = f"{browns} brown-out" + ("s" if browns > 1 else "")
        reasons.append((Level.ACT if lately else Level.WATCH, f"{times}{why}"))
    level = max((x for x, _ in reasons), default=Level.FINE)
    return level, tuple(text for _, text in sorted(reasons, key=lambda r: -r[0]))


def _to_retirement(
    pack: Pack,
    now: Figure,
    ratio: Figure,
    capacity_trend: Figure,
    resistance_trend: Figure,
    spread: float | None,
    spread_trend: Figure,
    resistances: FloatArray,
) -> Figure:
    """Flights until the first of the owner's limits, at the robust trends; the ends follow the trends' ends."""
    label = f"Flights to your retirement rule, {pack.name}"
    rule = pack.retire
    options: list[tuple[float, float, float, str]] = []
    if now.value is not None and capacity_trend.value is not None and pack.rated_mah:
        k = 100.0 / pack.rated_mah
        gap = now.value - rule.capacity_percent
        options += _when(
            gap, -k * capacity_trend.value, -k * (capacity_trend.high or 0), -k * (capacity_trend.low or 0), "capacity"
        )
    base = _new_resistance(pack, resistances)[0]
    if ratio.value is not None and resistance_trend.value is not None and base:
        slope, slow, fast = (
            x / base for x in (resistance_trend.value, resistance_trend.low or 0, resistance_trend.high or 0)
        )
        options += _when(rule.resistance_ratio - ratio.value, slope, slow, fast, "resistance")
    if spread is not None and spread_trend.value is not None:
        gap = rule.cell_spread_v - spread
        options += _when(gap, spread_trend.value, spread_trend.low or 0, spread_trend.high or 0, "cell spread")
    if not options:
        few = capacity_trend.value is None and resistance_trend.value is None
        why = "not enough flights for a trend" if few else "no trend towards a limit beyond chance"
        return Figure.unavailable(label, "flights", why)
    value, low, high, which = min(options)
    how = f"robust trend of {which} to your limit"
    return Figure(label, value, "flights", Method.ESTIMATED, low, high, how=how, digits=0)


def _when(gap: float, slope: float, slow: float, fast: float, which: str) -> list[tuple[float, float, float, str]]:
    if gap <= 0:
        return [(0.0, 0.0, 0.0, which)]
    if slope <= 0 or slow <= 0:
        return []  # a trend whose interval includes "no trend" forecasts nothing
    return [(gap / slope, gap / fast, gap / slow, which)]


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
    pack: Pack, uses: list[tuple[FlightRecord, PackResult, Pack]], resistance: FloatArray
) -> tuple[str, ...]:
    """Ask of a flight whose resistance stands apart from both neighbours whether another pack was fitted."""
    known = np.flatnonzero(np.isfinite(resistance))
    if known.size < 5:
        return ()
    y = resistance[known]
    around = np.sqrt(y[:-2] * y[2:])
    apart = np.maximum(y[1:-1] / around, around / y[1:-1])
    steady = np.maximum(y[:-2] / y[2:], y[2:] / y[:-2]) < 1.25
    odd = known[1:-1][(apart > SWAP_RATIO) & steady]
    return tuple(
        f"Was {pack.name} really fitted in {uses[k][0].flight_id}? Its resistance there ({resistance[k]:.0f} mΩ) "
        "is not this pack's."
        for k in odd.tolist()
    )


def _sentence(pack: Pack, level: Level, reasons: tuple[str, ...], flights: int) -> str:
    if level >= Level.ACT:
        return f"Retire {pack.name} by your rule: {'; '.join(reasons)}."
    if level == Level.WATCH:
        return f"Watch {pack.name}: {'; '.join(reasons)}."
    if flights < FEWEST:
        return f"{pack.name}: not enough flights for a trend ({flights})."
    return f"{pack.name}: nothing beyond its limits in {flights} flights."
