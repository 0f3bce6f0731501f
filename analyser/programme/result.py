"""Everything the programme says of one aircraft, as pages and screens show it."""

from __future__ import annotations

from collections.abc import Mapping

from msgspec import Struct

from analyser.core.levels import Limit
from analyser.programme.before import BeforeFlight
from analyser.programme.marks import Mark
from analyser.programme.service import ServiceState
from analyser.programme.snags import SnagState
from analyser.programme.steps import StepFound
from analyser.programme.unusual import Likeness


class ProgrammeResult(Struct, frozen=True):
    """One aircraft's programme.

    Parameters
    ----------
    aircraft : str
    flights, figures : int
        Flights that are followed closely, and histories of figures over them.
    snags : tuple of SnagState
        All of them, the open ones first, the newest first.
    offers : tuple of StepFound
        Steps that no snag or remedy explains.
    steps : tuple of StepFound
        Every step found, explained or not.
    unlike : Likeness or None
        The last flight beside the earlier ones.
    service : tuple of ServiceState
        Components that sit in it, the nearest due first.
    limits : tuple of Limit
        Those that hold, its own and common practice.
    own : tuple of str
        Names of its own.
    rates : mapping of str to tuple of int
        By limit: how many validated events were a nuisance or a sensor's fault, and how many were validated.
    astray : tuple of Mark
        Marks whose event is not there any more.
    before : BeforeFlight
    years : tuple of int
        Years with flights, the last first.
    """

    aircraft: str
    flights: int
    figures: int
    snags: tuple[SnagState, ...]
    offers: tuple[StepFound, ...]
    steps: tuple[StepFound, ...]
    unlike: Likeness | None
    service: tuple[ServiceState, ...]
    limits: tuple[Limit, ...]
    own: tuple[str, ...]
    rates: Mapping[str, tuple[int, int]]
    astray: tuple[Mark, ...]
    before: BeforeFlight
    years: tuple[int, ...]

    @property
    def open(self) -> tuple[SnagState, ...]:
        """Open snags."""
        return tuple(s for s in self.snags if s.snag.open)
