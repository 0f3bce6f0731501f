"""One capacity measurement asked of the owner: only where it would decide something, and by when."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from analyser.core.aircraft import Pack
from analyser.core.events import Level
from analyser.core.findings import Text, say
from analyser.season.packs.capacity import AGEING_PER_FLIGHT, MEASURED, RECENT, CapacityHistory
from analyser.season.packs.codes import SeasonPackCode
from analyser.season.packs.retirement import Limit

SOON = 20
"""A measurement that is due within so many flights is named."""


def capacity_ask(
    pack: Pack, capacity: CapacityHistory, limits: Sequence[Limit], level: Level, flights: int
) -> tuple[Text, ...]:
    """Ask for a capacity measured by a charger, or say nothing.

    It is asked for now where no look at the capacity settles on which side of the owner's limit the pack is, unless one
    was noted in the last :data:`RECENT` flights; and ahead of time where what the pack may lose a flight
    (:data:`AGEING_PER_FLIGHT`) will soon let what is known reach the limit. A pack that is surely beyond, or to be
    retired for another reason, is not asked for: nothing would change.

    Parameters
    ----------
    limits : sequence of Limit
        Of the pack; those on capacity are looked at.
    level : Level
        The pack's verdict.
    flights : int
        How many it has flown in all.
    """
    looks = [one for one in limits if one.of is SeasonPackCode.CAPACITY]
    known = [one for one in looks if one.now.value is not None]
    if level >= Level.ACT or any((one.now.high or one.now.value or 0.0) < one.limit for one in known):
        return ()
    settled = [one for one in known if one.settled]
    if not settled:
        if _measured_lately(capacity):
            return ()
        low, high = (-1.0, -1.0) if not known else (known[0].now.low or 0.0, known[0].now.high or 0.0)
        return (
            say(
                SeasonPackCode.ASK_NOW, pack=pack.name, flights=flights, low=low, high=high,
                limit=pack.retire.capacity_percent,
            ),
        )  # fmt: skip
    margin = max((one.now.low or 0.0) - one.limit for one in settled)
    due = int(margin / (100.0 * AGEING_PER_FLIGHT))
    if due > SOON:
        return ()
    return (
        say(
            SeasonPackCode.ASK_LATER, pack=pack.name, due=max(due, 1), flight=flights + max(due, 1),
            limit=pack.retire.capacity_percent,
        ),
    )  # fmt: skip


def _measured_lately(capacity: CapacityHistory) -> bool:
    if capacity.route != MEASURED:
        return False
    known = np.flatnonzero([f.value is not None for f in capacity.figures])
    return bool(known.size) and len(capacity.figures) - int(known[-1]) <= RECENT
