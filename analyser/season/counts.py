"""What one flight adds to the counts over an aircraft's, an engine's and a pack's life, as it is kept.

Of one flight they are tuples of plain numbers; a life has ten thousand of them, and they are counted by columns.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import date
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from msgspec import Struct

from analyser.core.figures import FloatArray
from analyser.record import FlightRecord

Ends = Sequence[float | None]
"""Low end, value and high end; the value thrice where there is no interval, ``None`` where there is no value."""
EngineTotal = tuple[str, float, int, int]
"""One engine in one flight: its name, minutes it ran, starts that succeeded and that failed."""
PackTotal = tuple[str, Ends, Ends, Sequence[int]]
"""One pack in one flight: its name, its state of charge before and after, percent, and the brown-outs it was part of
(:class:`~analyser.season.packs.brown_outs.BrownOutCount`)."""

DAY_S = 86_400.0
EPOCH = date(1970, 1, 1).toordinal()


class FlightTotals(NamedTuple):
    """One flight's part in every count.

    ``start_s`` is when it began, seconds since 1970 in UTC, NaN where not known. ``events`` counts what deserves a
    remark at least, by kind of event and by what it happened to.
    """

    flight_id: str
    start_s: float
    farthest_m: float | None
    engines: Sequence[EngineTotal]
    packs: Sequence[PackTotal]
    events: Sequence[tuple[str, str, int]]


def start_s(flight: FlightRecord) -> float:
    """When a flight began, seconds since 1970, NaN where not known."""
    return flight.utc_start.timestamp() if flight.utc_start else float("nan")


IntArray = npt.NDArray[np.intp]


class Rows(Struct, frozen=True, eq=False):
    """Rows of many flights, those of one flight together.

    Parameters
    ----------
    flight : ndarray of int, shape (m,)
        Place of each row's flight, ascending.
    name : sequence of str or of tuple of str
        The different names.
    which : ndarray of int, shape (m,)
        Which of them each row has.
    values : ndarray, shape (m, k)
        NaN where not known.
    """

    flight: IntArray
    name: Sequence[str] | Sequence[tuple[str, str]]
    which: IntArray
    values: FloatArray

    def of(self, name: str) -> tuple[IntArray, FloatArray]:
        """Flights and values of one name's rows."""
        rows = self.which == self.name.index(name) if name in self.name else np.zeros(self.which.size, bool)
        return self.flight[rows], self.values[rows]

    def among(self, place: IntArray) -> Rows:
        """Rows of some flights; ``place`` is each flight's new one, −1 for those left out."""
        moved = place[self.flight]
        rows = np.flatnonzero(moved >= 0)
        if (np.diff(moved[rows]) < 0).any():
            rows = rows[np.argsort(moved[rows], kind="stable")]
        elif rows.size == moved.size:  # as nearly always: all of them, in their order
            return Rows(moved, self.name, self.which, self.values)
        return Rows(moved[rows], self.name, self.which[rows], self.values[rows])


class Totals(Struct, frozen=True, eq=False):
    """The parts of many flights in every count, as columns.

    Parameters
    ----------
    flight_ids : sequence of str
        n flights.
    start_s, farthest_m : ndarray, shape (n,)
        NaN where not known.
    engines : Rows
        Minutes it ran, starts that succeeded and that failed.
    packs : Rows
        State of charge before and after, each its low end, value and high end, and the seven numbers of
        :class:`~analyser.season.packs.brown_outs.BrownOutCount`.
    events : Rows
        How often; their names are of kind and of what it happened to.
    """

    flight_ids: Sequence[str]
    start_s: FloatArray
    farthest_m: FloatArray
    engines: Rows
    packs: Rows
    events: Rows

    def __len__(self) -> int:
        return len(self.flight_ids)

    def among(self, places: IntArray) -> Totals:
        """Those of some flights, by their places."""
        place = np.full(len(self), -1)
        place[places] = np.arange(places.size)
        return Totals(
            [self.flight_ids[n] for n in places.tolist()],
            self.start_s[places],
            self.farthest_m[places],
            *(rows.among(place) for rows in (self.engines, self.packs, self.events)),
        )

    def counted(self) -> Counter[tuple[str, str]]:
        """How often each kind of event happened to what."""
        rows = self.events
        times = np.bincount(rows.which, weights=rows.values[:, 0], minlength=len(rows.name)).astype(int).tolist()
        there, first = np.unique(rows.which, return_index=True)
        names = [rows.name[n] for n in there[np.argsort(first)].tolist()]
        known = dict(zip(rows.name, times, strict=True))
        return Counter({name: known[name] for name in names})


def laid_out(totals: Sequence[FlightTotals]) -> Totals:
    """Lay flights' parts out as columns."""
    numbers = np.array([(t.start_s, t.farthest_m) for t in totals], float).reshape(-1, 2)
    packs = [
        (n, name, (*before, *after, *counts)) for n, t in enumerate(totals) for name, before, after, counts in t.packs
    ]
    return Totals(
        [t.flight_id for t in totals],
        numbers[:, 0],
        numbers[:, 1],
        _rows([(n, name, ran) for n, t in enumerate(totals) for name, *ran in t.engines], 3),
        _rows(packs, 13),
        _rows([(n, (kind, of), (times,)) for n, t in enumerate(totals) for kind, of, times in t.events], 1),
    )


def _rows(cells: Sequence[tuple[int, str | tuple[str, str], Sequence[float | None]]], wide: int) -> Rows:
    names: dict[str | tuple[str, str], int] = {}
    which = [names.setdefault(name, len(names)) for _, name, _ in cells]
    values = np.array([values for _, _, values in cells], float).reshape(-1, wide)
    flight = np.array([n for n, _, _ in cells], np.intp)
    return Rows(flight, list(names), np.array(which, np.intp), values)  # type: ignore[arg-type]
