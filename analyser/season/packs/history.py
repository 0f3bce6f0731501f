"""One pack over its cycles: capacity, resistance, cell spread, sag, and when its owner's rule retires it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analyser.core.aircraft import Pack
from analyser.core.endpoints import LATE
from analyser.core.events import Level
from analyser.core.figures import Figure, FloatArray, Method, values_of
from analyser.core.trends import robust_trend
from analyser.packs.analysis import PackResult
from analyser.packs.cycles import days_stored_full, equivalent_full_cycles
from analyser.record import FlightRecord
from analyser.season.packs.brown_outs import count_brown_outs
from analyser.season.packs.capacity import capacity_history
from analyser.season.packs.identity import foreign_flights, uneasy_rests
from analyser.season.packs.resistance import resistance_history
from analyser.season.packs.retirement import Limit, flights_to_retirement
from analyser.season.packs.uses import PackUse, in_order, uses_of
from analyser.season.packs.verdict import judge

NOT_LEARNED = Figure.unavailable("Activation energy of its resistance", "kJ/mol", "no flight tells resistance")
NOT_FED = Figure.unavailable("Brown-outs of the bus beside its own", "", "no bus voltage is logged")
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
    resistance_route: str = ""
    activation_kj_per_mol: Figure = NOT_LEARNED
    bus_brown_outs: Figure = NOT_FED


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
    followed = in_order(uses)
    dated = [uses[k] for k in followed]
    order = np.full(len(uses), np.nan)
    order[followed] = np.arange(1.0, len(followed) + 1.0)
    capacity, resistance = capacity_history(pack, results, order), resistance_history(pack, results, order)
    spreads = tuple(r.cell_spread_v for r in results)
    spread = values_of(spreads)[followed]
    spread_trend = robust_trend(order[followed], spread, "V", f"Trend of cell spread, {pack.name}", digits=4)
    weak = _weak_cell([use.result for use in dated])
    rule = pack.retire
    percent = f"your {rule.capacity_percent:.0f} %"
    values, ohms = (values_of(x.figures)[followed] for x in (capacity, resistance))
    per_label = 100.0 / pack.rated_mah if pack.rated_mah else None
    per_new = 1.0 / resistance.new_mohm if resistance.new_mohm else None
    per_first = 100.0 / capacity.first.value if capacity.first else None
    limits = (
        Limit(
            "capacity", "capacity {} % of the label's", percent, capacity.now_percent, rule.capacity_percent, 100.0,
            values, capacity.trend, per_label,
        ),
        Limit(
            "capacity", "capacity {} % of its own first flights'", percent, capacity.against_first_percent,
            rule.capacity_percent, 100.0, values, capacity.trend, per_first,
        ),
        Limit(
            "resistance", "resistance {} times new", f"your {rule.resistance_ratio:.1f}", resistance.over_new,
            rule.resistance_ratio, 1.0, ohms, resistance.trend, per_new, digits=1,
        ),
        Limit(
            "cell spread", "cell spread {} mV late in flight" + (f", cell {weak} lowest" if weak else ""),
            f"your {1000 * rule.cell_spread_v:.0f} mV", _spread_now(pack, spread), rule.cell_spread_v, 0.0,
            spread, spread_trend, 1.0, shown=1000.0,
        ),
    )  # fmt: skip
    # A brown-out in a flight without a date counts as late: nobody can say that it was long ago.
    long_ago = {use.flight.flight_id for use in dated[:-LATE]}
    browns = count_brown_outs(uses, long_ago)
    own_browns, bus_browns = browns.figures(pack.name)
    to_go = flights_to_retirement(pack.name, limits)
    verdict = judge(limits, browns, _alone_lately(dated), to_go)
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
        capacities_mah=capacity.figures,
        resistances_mohm=resistance.figures,
        cell_spreads_v=spreads,
        sags_v=tuple(r.normal_sag_v for r in results),
        lowest_v=tuple(r.min_voltage_v for r in results),
        brown_outs=own_browns,
        capacity_now_percent=capacity.now_percent,
        resistance_ratio=resistance.over_new,
        capacity_trend=capacity.trend,
        resistance_trend=resistance.trend,
        spread_trend=spread_trend,
        flights_to_retirement=to_go,
        weak_cell=weak,
        level=verdict.level,
        reasons=verdict.reasons,
        questions=(*_undated(pack, len(uses) - len(dated)), *foreign_flights(dated, ohms), *uneasy_rests(dated)),
        sentence=verdict.sentence(pack.name, len(dated)),
        capacity_against_first_percent=capacity.against_first_percent,
        capacity_route=capacity.route,
        resistance_route=resistance.route,
        activation_kj_per_mol=resistance.activation_kj_per_mol,
        bus_brown_outs=bus_browns,
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


def _stored(pack: Pack, told: tuple[float, float, int] | None) -> Figure:
    label = f"Days stored full, {pack.name}"
    if told is None:
        return Figure.unavailable(label, "d", "needs dates and charge states of two flights in a row")
    surely, perhaps, gaps = told
    how = f"between {gaps + 1} flights: left full by the last (least) or found full by the next (most)"
    return Figure(label, surely, "d", Method.ESTIMATED, surely, perhaps, how=how, digits=0)


def _spread_now(pack: Pack, values: FloatArray) -> Figure:
    """Median of the last three known values."""
    label = f"Cell spread now, {pack.name}"
    known = values[np.isfinite(values)][-3:]
    if not known.size:
        return Figure.unavailable(label, "V", "no flight logged at least two cells")
    how = f"median of the last {known.size} flights that tell it"
    return Figure(label, float(np.median(known)), "V", Method.MEASURED, how=how, digits=3)


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
