"""A pack's cell spread over its flights, and which cell is the weak one."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from msgspec import Struct

from analyser.core.aircraft import Pack
from analyser.core.figures import Figure, FloatArray, Method, values_of
from analyser.core.findings import say
from analyser.core.statistics.endpoints import LATE
from analyser.core.statistics.trends import robust_trend, widened
from analyser.packs.analysis import PackResult
from analyser.season.packs.codes import SeasonPackCode

CELL_STEP_V = 0.01
"""Resolution of most cell sensors (common practice, no source)."""
WORTH_NAMING_V = 0.02
"""A spread below this is no weak cell's."""


class SpreadHistory(Struct, frozen=True):
    """Cell spread flight by flight, today's, its trend, and the cell that is lowest of late (``None``: none is)."""

    figures: tuple[Figure, ...]
    now_v: Figure
    trend: Figure
    weak_cell: int | None


def spread_history(pack: Pack, results: Sequence[PackResult], order: FloatArray) -> SpreadHistory:
    """Follow a pack's cell spread.

    Parameters
    ----------
    results : sequence of PackResult
        Oldest first; ``order`` numbers them, NaN where a flight's place in time is not known.
    """
    figures = tuple(r.voltage.cell_spread_v for r in results)
    values = np.where(np.isfinite(order), values_of(figures), np.nan)
    trend = robust_trend(order, values, "V", say(SeasonPackCode.SPREAD_TREND, pack=pack.name), digits=4)
    # Spreads that stand still within a sensor's step may hide a step's worth of change.
    trend = widened(trend, CELL_STEP_V / max(int(np.isfinite(values).sum()) - 1, 1))
    followed = [r for r, place in zip(results, order, strict=True) if np.isfinite(place)]
    return SpreadHistory(figures, _now(pack, values), trend, _weak_cell(followed))


def _now(pack: Pack, values: FloatArray) -> Figure:
    """Median of the last three known values."""
    label = say(SeasonPackCode.SPREAD_NOW, pack=pack.name)
    known = values[np.isfinite(values)][-LATE:]
    if not known.size:
        return Figure.unavailable(label, "V", say(SeasonPackCode.NO_CELLS))
    how = say(SeasonPackCode.MEDIAN_OF_LAST, flights=int(known.size))
    return Figure(label, float(np.median(known)), "V", Method.INTEGRATED, how=how, digits=3)


def _weak_cell(results: Sequence[PackResult]) -> int | None:
    """The cell that is lowest in most of the last flights, where the spread is worth the name."""
    lowest = [
        cell
        for r in results[-5:]
        if (cell := r.voltage.weak_cell) is not None and (r.voltage.cell_spread_v.value or 0.0) > WORTH_NAMING_V
    ]
    if len(lowest) < 2:
        return None
    best = max(lowest, key=lowest.count)
    return best if lowest.count(best) > len(lowest) / 2 else None
