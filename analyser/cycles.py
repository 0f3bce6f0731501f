"""A pack's charge cycles: equivalent full cycles by rainflow counting (ASTM E1049-85, 5.4.4), days stored full."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from datetime import datetime

import numpy as np
import rainflow

from analyser.figures import FloatArray


def equivalent_full_cycles(charge_percent: FloatArray) -> float:
    """Sum of rainflow ranges of the state of charge, in full cycles (a half cycle of 60 % counts 0.3).

    Parameters
    ----------
    charge_percent : ndarray, shape (n,)
        State of charge at the turning points of a pack's life, oldest first.
    """
    if charge_percent.size < 2:
        return 0.0
    return float(sum(span * count for span, count in rainflow.count_cycles(charge_percent.tolist())) / 100.0)


def days_stored_full(
    starts: Sequence[datetime | None], before: FloatArray, after: FloatArray, full_percent: float = 90.0
) -> float | None:
    """Days between flights spent above ``full_percent``, where the dates and charge states allow to say so.

    A pack found full at a flight is taken to have been charged the evening before when it left the last flight
    below full; only a pack that *stayed* full (flew little or not at all) was stored full.
    """
    known = [(s, b, a) for s, b, a in zip(starts, before, after, strict=True) if s is not None]
    if len(known) < 2:
        return None
    left_full = np.array([a for _, _, a in known[:-1]]) >= full_percent
    gaps = np.array([(n[0] - p[0]).total_seconds() / 86_400.0 for p, n in itertools.pairwise(known)])
    return float(gaps[left_full].sum())
