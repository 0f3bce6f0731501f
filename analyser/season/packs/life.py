"""What a pack has been through: equivalent full cycles, days stored full, brown-outs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analyser.core.aircraft import Pack
from analyser.core.figures import Figure, Method, values_of
from analyser.core.findings import say
from analyser.packs.analysis import PackResult
from analyser.season.packs.codes import SeasonPackCode
from analyser.season.packs.cycles import days_stored_full, equivalent_full_cycles
from analyser.season.packs.uses import PackUse


@dataclass(frozen=True, slots=True)
class PackLife:
    """Cycles, storage and brown-outs of one pack, at its own terminals and on the bus beside them."""

    cycles: Figure
    days_stored_full: Figure
    brown_outs: Figure
    bus_brown_outs: Figure


def pack_life(pack: Pack, uses: Sequence[PackUse], brown_outs: tuple[Figure, Figure]) -> PackLife:
    """Sum up all uses of a pack, oldest first; ``brown_outs`` are its own and those of its bus."""
    return PackLife(_cycles(pack, [u.result for u in uses]), _stored(pack, uses), *brown_outs)


def _stored(pack: Pack, uses: Sequence[PackUse]) -> Figure:
    label = say(SeasonPackCode.STORED_FULL, pack=pack.name)
    told = days_stored_full(
        [use.flight.utc_start for use in uses],
        values_of(u.result.state.before_percent for u in uses),
        values_of(u.result.state.after_percent for u in uses),
    )
    if told is None:
        return Figure.unavailable(label, "d", say(SeasonPackCode.NO_TWO_STATES))
    surely, perhaps, gaps = told
    how = say(SeasonPackCode.BETWEEN_FLIGHTS, flights=gaps + 1)
    return Figure(label, surely, "d", Method.ESTIMATED, surely, perhaps, how=how, digits=0)


def _cycles(pack: Pack, results: Sequence[PackResult]) -> Figure:
    """Equivalent full cycles: before the log as stated, in the log by rainflow on the charge state."""
    before = values_of(r.state.before_percent for r in results)
    after = values_of(r.state.after_percent for r in results)
    good = np.isfinite(before) & np.isfinite(after)
    path = np.column_stack([before[good], after[good]]).ravel()
    counted = equivalent_full_cycles(path)
    before_log = pack.cycles_before_log
    how = say(SeasonPackCode.RAINFLOW, flights=int(good.sum()), before_log=before_log)
    low, high = before_log + 0.85 * counted, before_log + 1.15 * counted
    label = say(SeasonPackCode.CYCLES, pack=pack.name)
    return Figure(label, before_log + counted, "", Method.ESTIMATED, low, high, how=how)
