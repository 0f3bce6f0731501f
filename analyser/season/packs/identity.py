"""Was it really this pack? Questions about flights whose readings do not fit the pack that is said to have flown.

A pack is known by its resistance, which hardly changes from one flight to the next, and by its charge, which it can
neither lose on the ground in a day nor regain faster than a charger gives it.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from analyser.core.figures import FloatArray
from analyser.core.findings import Text, say
from analyser.season.packs.codes import SeasonPackCode
from analyser.season.packs.uses import PackUse

SWAP_RATIO = 1.6
"""Resistance away from both neighbours by this factor, and back: another pack may have been fitted."""
STEADY_RATIO = 1.25
"""The neighbours themselves must agree this well."""
FEWEST = 5
SAME_DAY_H = 12.0
"""Over a longer time a pack may have been discharged for storage."""
LEAST_LOSS_PERCENT = 10.0
"""Charge that is gone after a rest of hours, beyond both readings' intervals, before anybody is asked."""
LEAST_GAIN_PERCENT = 20.0
FASTEST_CHARGE_PER_H = 400.0
"""No charger fills a pack faster than in a quarter of an hour (common practice, no source)."""


def foreign_flights(uses: Sequence[PackUse], resistance: FloatArray) -> tuple[Text, ...]:
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
        say(
            SeasonPackCode.FOREIGN,
            pack=uses[k].pack.name,
            flight=uses[k].flight.flight_id,
            mohm=float(resistance[k]),
        )
        for k in odd.tolist()
    )


def uneasy_rests(uses: Sequence[PackUse]) -> tuple[Text, ...]:
    """Ask of charge lost or gained between two flights of one day as no pack at rest or on a charger does.

    Parameters
    ----------
    uses : sequence of PackUse
        Oldest first; pairs without a date tell nothing.
    """
    asked: list[Text] = []
    for last, this in pairwise(uses):  # flights, never samples
        left, found = last.result.state.after_percent, this.result.state.before_percent
        if last.flight.utc_start is None or this.flight.utc_start is None:
            continue
        hours = (this.flight.utc_start - last.flight.utc_start).total_seconds() / 3600.0
        hours -= last.flight.result.duration_s / 3600.0
        name, before, now = this.pack.name, last.flight.flight_id, this.flight.flight_id
        if hours < 0.0:
            asked.append(say(SeasonPackCode.TWO_PLACES, pack=name, before=before, now=now))
            continue
        if left.low is None or left.high is None or found.low is None or found.high is None or hours > SAME_DAY_H:
            continue
        if left.low - found.high > LEAST_LOSS_PERCENT:
            code = SeasonPackCode.LOST_AT_REST
        elif found.low - left.high > max(LEAST_GAIN_PERCENT, FASTEST_CHARGE_PER_H * hours):
            code = SeasonPackCode.GAINED_TOO_FAST
        else:
            continue
        asked.append(say(code, pack=name, before=before, now=now, left=left, found=found, hours=hours))
    return tuple(asked)
