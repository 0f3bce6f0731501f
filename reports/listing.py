"""Every flight as lists need it, kept as columns: a logbook holds tens of thousands, and a build asks for few."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from functools import cached_property
from typing import NamedTuple, overload

import numpy as np
import numpy.typing as npt

IntArray = npt.NDArray[np.intp]


class Listed(NamedTuple):
    """A flight as far as it needs no page put together: whose it is, its day as ``2031-04-05``, '' where not known.

    ``mark`` changes whenever anything the flight's page shows changes.
    """

    flight_id: str
    aircraft: str
    day: str
    mark: str


class Listing(Sequence[Listed]):
    """Flights, newest first.

    Parameters
    ----------
    ids, days : sequence of str
        n of each; days as ``2031-04-05``, '' where not known.
    owners : sequence of str
        Names of aircraft.
    owner : ndarray of int, shape (n,)
        Which of them each flight's is.
    marks : ndarray of uint64, shape (n, k)
        What changes whenever anything a flight's page shows changes.
    """

    def __init__(
        self,
        ids: Sequence[str],
        owners: Sequence[str],
        owner: IntArray,
        days: Sequence[str],
        marks: npt.NDArray[np.uint64],
    ) -> None:
        self.ids, self.owners, self.owner, self.days, self.marks = ids, owners, owner, days, marks

    @classmethod
    def of(cls, listed: Sequence[Listed]) -> Listing:
        """Lay flights out as columns."""
        number = {aircraft: n for n, aircraft in enumerate(dict.fromkeys(f.aircraft for f in listed))}
        told = b"".join(hashlib.sha256(f.mark.encode("utf-8", "surrogatepass")).digest() for f in listed)
        return cls(
            [f.flight_id for f in listed],
            list(number),
            np.array([number[f.aircraft] for f in listed], np.intp),
            [f.day for f in listed],
            np.frombuffer(told, "<u8").reshape(-1, 4),
        )

    def __len__(self) -> int:
        return len(self.ids)

    @overload
    def __getitem__(self, at: int) -> Listed: ...

    @overload
    def __getitem__(self, at: slice) -> list[Listed]: ...

    def __getitem__(self, at: int | slice) -> Listed | list[Listed]:
        if isinstance(at, slice):
            return [self[n] for n in range(*at.indices(len(self)))]
        owner = self.owners[int(self.owner[at])]
        return Listed(self.ids[at], owner, self.days[at], self.marks[at].tobytes().hex())

    @cached_property
    def at(self) -> dict[str, int]:
        """Each flight's place."""
        return dict(zip(self.ids, range(len(self.ids)), strict=True))

    @cached_property
    def of_year(self) -> dict[str, IntArray]:
        """Places of each year's flights, '' for those whose year is not known; years in the order they come."""
        number: dict[str, int] = {}
        which = np.array([number.setdefault(day[:4], len(number)) for day in self.days], np.intp)
        places = _groups(which, np.arange(len(self)))
        return {year: places[n] for year, n in number.items()}

    @cached_property
    def of_day(self) -> dict[str, list[int]]:
        """Places of each known day's flights."""
        out: dict[str, list[int]] = {}
        for at, day in enumerate(self.days):
            if day:
                out.setdefault(day, []).append(at)
        return out

    @cached_property
    def of_owner(self) -> dict[str, IntArray]:
        """Places of each aircraft's flights."""
        return {self.owners[n]: places for n, places in _groups(self.owner, np.arange(len(self))).items()}

    @cached_property
    def earlier(self) -> IntArray:
        """Place of the same aircraft's flight before each, −1 where there is none."""
        return self._before(np.arange(len(self)))

    @cached_property
    def later(self) -> IntArray:
        """Place of the same aircraft's flight after each, −1 where there is none."""
        out = np.full(len(self), -1)
        there = np.flatnonzero(self.earlier >= 0)
        out[self.earlier[there]] = there
        return out

    @cached_property
    def earlier_dated(self) -> IntArray:
        """The same as :attr:`earlier` among flights whose day is known."""
        return self._before(np.flatnonzero([bool(day) for day in self.days]))

    def _before(self, places: IntArray) -> IntArray:
        out = np.full(len(self), -1)
        for own in _groups(self.owner[places], places).values():
            out[own[:-1]] = own[1:]
        return out


def _groups(number: IntArray, places: IntArray) -> dict[int, IntArray]:
    """Places by their number, in the order the numbers come."""
    order = np.argsort(number, kind="stable")
    numbers, first = np.unique(number[order], return_index=True)
    each = dict(zip(numbers.tolist(), np.split(places[order], first[1:]), strict=False))
    return {n: each[n] for n in dict.fromkeys(number.tolist())}
