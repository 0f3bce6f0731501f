"""One pack over its cycles: capacity, resistance, cell spread, sag, and when its owner's rule retires it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
from msgspec import Struct

from analyser.core.aircraft import Pack
from analyser.core.events import Level
from analyser.core.figures import Figure, values_of
from analyser.core.findings import Text, say
from analyser.core.statistics.endpoints import LATE
from analyser.season.packs.asking import capacity_ask
from analyser.season.packs.brown_outs import BrownOutCount, count_brown_outs
from analyser.season.packs.capacity import CapacityHistory, capacity_history
from analyser.season.packs.codes import SeasonPackCode
from analyser.season.packs.identity import foreign_flights, uneasy_rests
from analyser.season.packs.life import PackLife, pack_life
from analyser.season.packs.resistance import ResistanceHistory, resistance_history
from analyser.season.packs.retirement import Limit, flights_to_retirement
from analyser.season.packs.spread import SpreadHistory, spread_history
from analyser.season.packs.uses import Charges, PackUse, in_order
from analyser.season.packs.verdict import judge


class PackHistory(Struct, frozen=True):
    """One pack over the flights it was fitted in, oldest first; tuples run parallel to ``flight_ids``.

    Of a pack with many flights those are its first and its newest (:mod:`analyser.season.window`); ``flights`` is how
    many it has in all. ``asks`` is what its owner is asked to measure, ``matter`` the figure that its
    gravest reason rests on, if it is one. ``sags_v`` are those at a load of 10 A,
    ``lowest_v`` each flight's lowest voltage.
    """

    pack: Pack
    flight_ids: tuple[str, ...]
    roles: tuple[str, ...]
    capacity: CapacityHistory
    resistance: ResistanceHistory
    spread: SpreadHistory
    sags_v: tuple[Figure, ...]
    lowest_v: tuple[Figure, ...]
    life: PackLife
    flights_to_retirement: Figure
    level: Level
    reasons: tuple[Text, ...]
    questions: tuple[Text, ...]
    sentence: Text
    flights: int = 0
    asks: tuple[Text, ...] = ()
    matter: Figure | None = None


class WholeLife(Struct, frozen=True):
    """What is counted over every flight that a pack was ever fitted in, oldest first."""

    flight_ids: tuple[str, ...]
    charges: Charges
    brown_outs: BrownOutCount


def pack_history(uses: Sequence[PackUse], whole: WholeLife) -> PackHistory:
    """Follow one pack.

    Parameters
    ----------
    uses : sequence of PackUse
        Oldest first, with their resistance corrected; the flights that trends rest on.
    whole : WholeLife
        Of all its flights; their order is theirs in the log.
    """
    pack = uses[-1].pack
    results = [use.result for use in uses]
    followed = in_order(uses)
    dated = [uses[k] for k in followed]
    place = {flight_id: at + 1.0 for at, flight_id in enumerate(whole.flight_ids)}
    order = np.full(len(uses), np.nan)
    order[followed] = [place[use.flight.flight_id] for use in dated]
    sensors = [f"{use.flight.aircraft}/{use.result.name}" for use in uses]
    capacity, resistance = capacity_history(pack, results, order), resistance_history(pack, results, order, sensors)
    spread = spread_history(pack, results, order)
    limits = _limits(pack, followed, capacity, resistance, spread)
    # A brown-out in a flight without a date counts as late: nobody can say that it was long ago.
    browns = count_brown_outs(uses, whole.brown_outs, {use.flight.flight_id for use in dated[:-LATE]})
    to_go = flights_to_retirement(pack.name, limits)
    verdict = judge(limits, browns, _alone_lately(dated), to_go)
    ohms = values_of(resistance.figures)[followed]
    undated = int(np.isnan(whole.charges.start_s).sum())
    flights = len(whole.flight_ids)
    followed_in_all = flights if undated == flights else flights - undated
    return PackHistory(
        pack=pack,
        flight_ids=tuple(use.flight.flight_id for use in uses),
        roles=tuple(r.name for r in results),
        capacity=capacity,
        resistance=resistance,
        spread=spread,
        sags_v=tuple(r.resistance.sag_at_load_v for r in results),
        lowest_v=tuple(r.voltage.lowest_v for r in results),
        life=pack_life(pack, whole.charges, browns.figures(pack.name)),
        flights_to_retirement=to_go,
        level=verdict.level,
        reasons=verdict.reasons,
        questions=(*_undated(pack, flights - followed_in_all), *foreign_flights(dated, ohms), *uneasy_rests(dated)),
        sentence=verdict.sentence(pack.name, followed_in_all),
        flights=flights,
        asks=capacity_ask(pack, capacity, limits, verdict.level, flights),
        matter=verdict.figure,
    )


def by_urgency(histories: Iterable[PackHistory]) -> tuple[PackHistory, ...]:
    """The same, the one that needs attention most first."""
    return tuple(
        sorted(
            histories,
            key=lambda h: (-(0.5 if h.level is Level.CANT_TELL else float(h.level)), -len(h.reasons), h.pack.name),
        )
    )


def _limits(
    pack: Pack, followed: list[int], capacity: CapacityHistory, resistance: ResistanceHistory, spread: SpreadHistory
) -> tuple[Limit, ...]:
    """The owner's rules beside where the pack stands."""
    rule = pack.retire
    held, ohms, spreads = (values_of(x.figures)[followed] for x in (capacity, resistance, spread))
    return (
        Limit(
            of=SeasonPackCode.CAPACITY,
            what=SeasonPackCode.OF_LABEL,
            rule=SeasonPackCode.YOUR_PERCENT,
            now=capacity.now_percent,
            limit=rule.capacity_percent,
            fresh=100.0,
            values=held,
            trend=capacity.trend,
            scale=100.0 / pack.rated_mah if pack.rated_mah else None,
        ),
        Limit(
            of=SeasonPackCode.CAPACITY,
            what=SeasonPackCode.OF_FIRST,
            rule=SeasonPackCode.YOUR_PERCENT,
            now=capacity.against_first_percent,
            limit=rule.capacity_percent,
            fresh=100.0,
            values=held,
            trend=capacity.trend,
            scale=100.0 / capacity.first.value if capacity.first else None,
        ),
        Limit(
            of=SeasonPackCode.RESISTANCE,
            what=SeasonPackCode.TIMES_NEW,
            rule=SeasonPackCode.YOUR_RATIO,
            now=resistance.over_new,
            limit=rule.resistance_ratio,
            fresh=1.0,
            values=ohms,
            trend=resistance.trend,
            scale=1.0 / resistance.new_mohm if resistance.new_mohm else None,
            digits=1,
        ),
        Limit(
            of=SeasonPackCode.SPREAD,
            what=SeasonPackCode.SPREAD_LATE,
            rule=SeasonPackCode.YOUR_SPREAD,
            now=spread.now_v,
            limit=rule.cell_spread_v,
            fresh=0.0,
            values=spreads,
            trend=spread.trend,
            scale=1.0,
            shown=1000.0,
            cell=spread.weak_cell or 0,
        ),
    )


def _alone_lately(uses: list[PackUse]) -> Figure | None:
    """The lowest voltage this pack alone would have given in its latest flight, where it was surely too low.

    Only the weakest pack of a bus is told so: where none could carry the load, that is the bus's matter.
    """
    last = uses[-1]
    for bus in last.flight.result.packs.buses:
        weakest = min(bus.alone, key=lambda r: bus.alone[r].lowest_v.value or 0.0)
        if weakest == last.result.name and bus.alone[weakest].carries is False:
            return bus.alone[weakest].lowest_v
    return None


def _undated(pack: Pack, count: int) -> tuple[Text, ...]:
    """Ask for the dates that are missing among flights that have one."""
    return (say(SeasonPackCode.NO_DATE, pack=pack.name, flights=count),) if count else ()
