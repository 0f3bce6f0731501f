"""Every flight of a logbook in order, by the few facts that decide which flights count together.

A logbook holds tens of thousands of flights and few kinds of them: the same aircraft with the same packs and layout.
The facts are kept once a kind and each flight is a number, so that who belongs to whom is told by arrays.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Sequence
from functools import cached_property
from typing import NamedTuple, TypeVar

import numpy as np
import numpy.typing as npt

from analyser.core.aircraft import FlightContext

Key = TypeVar("Key", bound=Hashable)
IntArray = npt.NDArray[np.intp]


class Facts(NamedTuple):
    """What decides which flights one counts with.

    Parameters
    ----------
    aircraft : str
        Its name, '' where none.
    layout : str
        Name of the antenna layout in use, '' where none is known.
    packs : tuple of str
        Names of the packs fitted, one a place.
    noted : tuple of str
        Tanks whose volume put in afterwards was noted.
    charged : tuple of str
        Places whose pack's charge put back was noted, each with the pack's name, a line each.
    learns : bool
        Whether only a curve learned from other flights tells what it burned.
    """

    aircraft: str = ""
    layout: str = ""
    packs: tuple[str, ...] = ()
    noted: tuple[str, ...] = ()
    charged: tuple[str, ...] = ()
    learns: bool = False


def facts_of(context: FlightContext, *, learns: bool = False) -> Facts:
    """Take a flight's facts from its context."""
    return Facts(
        context.aircraft.name if context.aircraft else "",
        context.layout.name if context.layout else "",
        tuple(p.name for p in context.packs.values()),
        tuple(tank for tank, note in context.fuel_notes.items() if note.put_in_ml is not None),
        tuple(
            f"{role}\n{context.packs[role].name if role in context.packs else ''}"
            for role, note in context.pack_notes.items()
            if note.charged_mah is not None
        ),
        learns,
    )


class Taught(NamedTuple):
    """A group of flights of which some teach the others.

    ``pupils`` (n,) are the places of those that are taught, each by ``teachers[first:last]``; ``what`` tells what.
    """

    what: str
    pupils: IntArray
    teachers: IntArray
    first: IntArray
    last: IntArray


class Lineup:
    """Flights by their place, oldest first.

    Parameters
    ----------
    flights : iterable of (str, Facts)
        Id and facts of every flight, oldest first.
    """

    def __init__(self, flights: Iterable[tuple[str, Facts]]) -> None:
        told = list(flights)
        kinds: dict[Facts, int] = {}
        codes = [kinds.setdefault(facts, len(kinds)) for _, facts in told]
        self._take([flight_id for flight_id, _ in told], tuple(kinds), np.array(codes, np.intp))

    @classmethod
    def coded(cls, flight_ids: Sequence[str], kinds: Sequence[Facts], codes: IntArray) -> Lineup:
        """The same where each flight's facts are told by their number among some kinds, which may come twice."""
        number = {facts: n for n, facts in reversed(list(enumerate(kinds)))}
        codes = np.array([number[facts] for facts in kinds], np.intp)[codes]
        there, first = np.unique(codes, return_index=True)
        there = there[np.argsort(first)]  # in the order of the flights
        place = np.zeros(len(kinds), np.intp)
        place[there] = np.arange(there.size)
        made = cls(())
        made._take(list(flight_ids), tuple(kinds[n] for n in there.tolist()), place[codes])
        return made

    def _take(self, flight_ids: list[str], kinds: tuple[Facts, ...], codes: IntArray) -> None:
        self.ids, self.kinds, self.codes = flight_ids, kinds, codes
        self.at = {flight_id: at for at, flight_id in enumerate(flight_ids)}

    def __len__(self) -> int:
        return len(self.ids)

    def facts(self, flight_id: str) -> Facts:
        """The facts of one flight."""
        return self.kinds[int(self.codes[self.at[flight_id]])]

    def grouped(self, keys: Callable[[Facts], Iterable[Key]]) -> dict[Key, IntArray]:
        """Places of the flights that have each key, ascending; a flight that has it twice comes twice."""
        times: dict[Key, IntArray] = {}
        for code, facts in enumerate(self.kinds):
            for key in keys(facts):
                times.setdefault(key, np.zeros(len(self.kinds), np.intp))[code] += 1
        places = np.arange(len(self.ids))
        return {key: np.repeat(places, count[self.codes]) for key, count in times.items()}

    def named(self, places: IntArray) -> list[str]:
        """Ids of the flights at some places."""
        ids = self.ids
        return [ids[at] for at in places.tolist()]

    @cached_property
    def owned(self) -> dict[str, IntArray]:
        """Places of each aircraft's flights, '' for those of none."""
        return self.grouped(lambda f: (f.aircraft,))
