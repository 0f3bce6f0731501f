"""A pack's charge cycles: equivalent full cycles by rainflow counting (ASTM E1049-85, 5.4.4), days stored full."""

from __future__ import annotations

import numpy as np

from analyser.core.figures import FloatArray


def equivalent_full_cycles(charge_percent: FloatArray) -> float:
    """Sum of rainflow ranges of the state of charge, in full cycles (a half cycle of 60 % counts 0.3).

    Parameters
    ----------
    charge_percent : ndarray, shape (n,)
        State of charge at the turning points of a pack's life, oldest first.

    Notes
    -----
    Whichever cycles are paired, a full one takes twice its range out of the path and a half one its range: their sum
    is half of all rises and falls.
    """
    return float(np.abs(np.diff(charge_percent)).sum() / 200.0)


def days_stored_full(
    start_s: FloatArray, before: FloatArray, after: FloatArray, full_percent: float = 90.0
) -> tuple[float, float, int] | None:
    """Days between flights that a pack spent full, as far as dates and charge states tell.

    Only a pack that a flight *left* full was surely stored full; one found full at a flight and left below full
    by the last was charged at some time in between, which may have been the first evening or the last.

    Parameters
    ----------
    start_s : ndarray, shape (n,)
        When each flight began, seconds since 1970, NaN where not known; oldest first.
    before, after : ndarray, shape (n,)
        State of charge, percent; NaN where unknown.

    Returns
    -------
    (float, float, int) or None
        Least and most days, and how many gaps between flights were told; ``None`` where not one was: an unknown
        charge state counts neither way.
    """
    gap = np.diff(start_s) / 86_400.0
    left, found = after[:-1], before[1:]
    told = np.isfinite(gap) & np.isfinite(left) & np.isfinite(found)
    if not told.any():
        return None
    surely = float(gap[told & (left >= full_percent)].sum())
    perhaps = float(gap[told & (found >= full_percent)].sum())
    return surely, max(surely, perhaps), int(told.sum())
