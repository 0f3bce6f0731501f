"""Was it really this pack? Questions about flights whose readings do not fit the pack that is said to have flown."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from analyser.figures import FloatArray
from analyser.pack_uses import PackUse

SWAP_RATIO = 1.6
"""Resistance away from both neighbours by this factor, and back: another pack may have been fitted."""
STEADY_RATIO = 1.25
"""The neighbours themselves must agree this well."""
FEWEST = 5


def foreign_flights(uses: Sequence[PackUse], resistance: FloatArray) -> tuple[str, ...]:
    """Ask of a flight whose resistance stands apart from its neighbours which pack it was."""
    known = np.flatnonzero(np.isfinite(resistance))
    if known.size < FEWEST:
        return ()
    y = resistance[known]
    # Either neighbour's resistance; at an end of the log the two next to it stand for both.
    left, right = np.r_[y[1], y[:-1]], np.r_[y[1:], y[-2]]
    left[0], right[-1] = y[2], y[-3]
    around = np.sqrt(left * right)
    apart = np.maximum(y / around, around / y)
    steady = np.maximum(left / right, right / left) < STEADY_RATIO
    odd = known[(apart > SWAP_RATIO) & steady]
    return tuple(
        f"Was {uses[k].pack.name} really fitted in {uses[k].flight.flight_id}? Its resistance there "
        f"({resistance[k]:.0f} mΩ) is not this pack's."
        for k in odd.tolist()
    )
