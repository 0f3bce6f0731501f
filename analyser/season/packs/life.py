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
    starts = [use.flight.utc_start for use in uses]
    states = [(u.result.state.before_percent, u.result.state.after_percent) for u in uses]
    told, least, most = (
        days_stored_full(starts, np.array([x for x, _ in ends]), np.array([x for _, x in ends]))
        for ends in ([tuple(_end(f, which) for f in pair) for pair in states] for which in (0, -1, 1))
    )
    if told is None or least is None or most is None:
        return Figure.unavailable(label, "d", say(SeasonPackCode.NO_TWO_STATES))
    how = say(SeasonPackCode.BETWEEN_FLIGHTS, flights=told[2] + 1)
    return Figure(label, told[0], "d", Method.ESTIMATED, low=least[0], high=most[1], how=how, digits=0)


def _end(figure: Figure, which: int) -> float:
    """A figure's value (0), low end (−1) or high end (+1); NaN where it is not known."""
    end = {0: figure.value, -1: figure.low, 1: figure.high}[which]
    found = figure.value if end is None else end
    return np.nan if found is None else found


def _cycles(pack: Pack, results: Sequence[PackResult]) -> Figure:
    """Equivalent full cycles: before the log as stated, in the log by rainflow on the charge state."""
    before = values_of(r.state.before_percent for r in results)
    after = values_of(r.state.after_percent for r in results)
    good = np.isfinite(before) & np.isfinite(after)
    path = np.column_stack([before[good], after[good]]).ravel()
    counted = equivalent_full_cycles(path)
    before_log = pack.cycles_before_log
    how = say(SeasonPackCode.RAINFLOW, flights=int(good.sum()), before_log=before_log)
    label = say(SeasonPackCode.CYCLES, pack=pack.name)
    depth = float(np.abs(before[good] - after[good]).sum())
    if depth <= 0.0:
        return Figure(
            label, before_log + counted, "", Method.ESTIMATED, low=before_log, high=before_log + counted, how=how
        )
    # A make's curve is off the mean by the same in every flight: the errors of all depths add.
    halves = [np.hypot(r.state.before_percent.half_width, r.state.after_percent.half_width) for r in results]
    half = counted * float(np.sum(np.array(halves)[good])) / depth
    return Figure(
        label, before_log + counted, "", Method.ESTIMATED, low=before_log + max(counted - half, 0.0),
        high=before_log + counted + half, how=how,
    )  # fmt: skip
