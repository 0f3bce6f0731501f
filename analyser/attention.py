"""What needs attention first, with the reason, the figure and the moment to look at."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from analyser.events import Attention

if TYPE_CHECKING:
    from analyser.pack_history import PackHistory
    from analyser.record import FlightRecord
    from analyser.season import AircraftSeason


def rank_attention(
    flights: Sequence[FlightRecord], aircraft: Sequence[AircraftSeason], packs: Sequence[PackHistory]
) -> tuple[Attention, ...]:
    """Rank everything in a season that its owner should look at, worst and latest first."""
    raise NotImplementedError
