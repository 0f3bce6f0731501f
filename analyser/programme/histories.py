"""One figure of one part over an aircraft's flights: what steps, verdicts and the usual are told from."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import NamedTuple, TypeVar

import numpy as np
import numpy.typing as npt
from msgspec import Struct

from analyser.core.figures import FloatArray
from analyser.programme.measures import BY_ID, Measure, Row

Key = TypeVar("Key")

WINDOW = 200
"""So many newest flights are looked at: what happened before them was found when it was new (common practice)."""


class Flown(Struct, frozen=True):
    """One flight of an aircraft with its figures; ``number`` counts them from 1, ``day`` is when it was flown."""

    flight_id: str
    number: int
    day: date | None
    rows: tuple[Row, ...]


class History(Struct, frozen=True, eq=False):
    """One figure of one part, oldest flight first; flights whose log cannot support it are left out.

    Parameters
    ----------
    measure : Measure
    part, thing : str
        The part it is of; of a pack also its own name, and then ``part`` is where it sat last.
    flight_ids : tuple of str
    numbers : ndarray of float, shape (n,)
        Number of each flight.
    days : tuple of date or None
    values : ndarray, shape (n,)
    unit : str
    """

    measure: Measure
    part: str
    thing: str
    flight_ids: tuple[str, ...]
    numbers: FloatArray
    days: tuple[date | None, ...]
    values: FloatArray
    unit: str

    @property
    def key(self) -> tuple[str, str]:
        """Its figure and what it is of: the pack's own name where it has one, else the part."""
        return self.measure.id, self.thing or self.part

    def __len__(self) -> int:
        return len(self.flight_ids)

    def before(self, flight_id: str) -> History:
        """The same without that flight and all later ones."""
        return self._cut(slice(0, self.flight_ids.index(flight_id)))

    def _cut(self, where: slice) -> History:
        return History(
            self.measure, self.part, self.thing, self.flight_ids[where], self.numbers[where], self.days[where],
            self.values[where], self.unit,
        )  # fmt: skip

    def newest(self, count: int = WINDOW) -> History:
        """The same of the newest flights only."""
        return self if len(self) <= count else self._cut(slice(len(self) - count, None))

    @property
    def counts(self) -> bool:
        """Whether it counts things instead of measuring one."""
        return not self.unit and self.measure.digits == 0


class Kind(NamedTuple):
    """What rows are of: figure, part, name of the thing fitted and unit, as in :class:`Row`."""

    measure: str
    part: str
    thing: str
    unit: str

    @property
    def of(self) -> str:
        """What the figure is of: the pack's own name where it has one, else the part."""
        return self.thing or self.part


class FigureColumns(Struct, frozen=True, eq=False):
    """Rows of figures, those of one flight together, in the order of the flights; rows without a value are left out.

    Parameters
    ----------
    kinds : sequence of Kind
        In the order they first come.
    kind : ndarray of int, shape (n,)
        Which of them each row is.
    flight : ndarray of int, shape (n,)
        Place of each row's flight among those asked for, ascending.
    value, low, high : ndarray, shape (n,)
        NaN where an interval has no such end.
    """

    kinds: Sequence[Kind]
    kind: npt.NDArray[np.intp]
    flight: npt.NDArray[np.intp]
    value: FloatArray
    low: FloatArray
    high: FloatArray

    def groups(self, keys: Sequence[Key]) -> dict[Key, npt.NDArray[np.intp]]:
        """Places of the rows of each key, ascending; ``keys`` are one a kind, and come back as they first come."""
        number: dict[Key, int] = {}
        code = np.array([number.setdefault(key, len(number)) for key in keys], np.intp)[self.kind]
        order = np.argsort(code, kind="stable")
        ends = np.cumsum(np.bincount(code, minlength=len(number)))
        return dict(zip(number, np.split(order, ends[:-1]), strict=True)) if number else {}


def columns_of(flights: Sequence[Iterable[Row]]) -> FigureColumns:
    """Lay rows out as columns, one iterable a flight."""
    kinds: dict[Kind, int] = {}
    cells = [
        (kinds.setdefault(Kind(r.measure, r.part, r.thing, r.unit), len(kinds)), n, r.value, r.low, r.high)
        for n, rows in enumerate(flights)
        for r in rows
        if r.value is not None
    ]
    kind, flight, *values = zip(*cells, strict=True) if cells else ((), (), (), (), ())
    numbers = [np.array(v, float) for v in values]
    return FigureColumns(tuple(kinds), np.array(kind, np.intp), np.array(flight, np.intp), *numbers)


def kinds_in(
    words: Sequence[tuple[Sequence[str], npt.NDArray[np.intp]]],
) -> tuple[list[tuple[str, ...]], npt.NDArray[np.intp]]:
    """Tell rows of several words apart: the different ones, as they first come, and which of them each row is."""
    kinds: list[tuple[str, ...]] = [()]
    code = np.zeros(words[0][1].size, np.intp)
    for texts, which in words:
        code = code * len(texts) + which
        # Where each code first comes: of an index given twice the last assignment stays. There are few codes.
        first = np.full(len(kinds) * len(texts), code.size)
        first[code[::-1]] = np.arange(code.size)[::-1]
        seen = np.flatnonzero(first < code.size)
        seen = seen[np.argsort(first[seen])]
        place = np.empty(first.size, np.intp)
        place[seen] = np.arange(seen.size)
        kinds = [(*kinds[at // len(texts)], texts[at % len(texts)]) for at in seen.tolist()]
        code = place[code]
    return kinds, code


def columns_from(
    words: Sequence[tuple[Sequence[str], npt.NDArray[np.intp]]], flight: npt.NDArray[np.intp], values: FloatArray
) -> FigureColumns:
    """Lay a table's columns out.

    Parameters
    ----------
    words : sequence of (sequence of str, ndarray of int)
        Of figure, part, thing and unit: the different words, and which of them each row has.
    flight : ndarray of int, shape (n,)
        Place of each row's flight.
    values : ndarray, shape (3, n)
        Value, low and high end, NaN where there is none.
    """
    rows = np.flatnonzero(np.isfinite(values[0]))
    rows = rows[np.argsort(flight[rows], kind="stable")]
    kinds, which = kinds_in([(texts, codes[rows]) for texts, codes in words])
    return FigureColumns(tuple(Kind(*kind) for kind in kinds), which, flight[rows], *values[:, rows])


def histories(flights: Sequence[Flown], only: Iterable[str] | None = None) -> dict[tuple[str, str], History]:
    """Lay one aircraft's figures out by figure and part; a pack is followed by its own name, wherever it sat.

    Parameters
    ----------
    flights : sequence of Flown
        Oldest first.
    only : iterable of str, optional
        Ids of figures, where not all are wanted.

    Returns
    -------
    dict
        By :attr:`History.key`, in the order of the list of measures.
    """
    return histories_of(flights, columns_of([f.rows for f in flights]), only)


def histories_of(
    flights: Sequence[Flown], figures: FigureColumns, only: Iterable[str] | None = None
) -> dict[tuple[str, str], History]:
    """The same where the flights' figures are columns, and not rows of each flight."""
    wanted = None if only is None else set(only)
    kinds = figures.kinds
    order: Mapping[str, int] = {m: k for k, m in enumerate(BY_ID)}
    ids, days = [f.flight_id for f in flights], [f.day for f in flights]
    numbers = np.array([f.number for f in flights], float)
    groups = figures.groups([(order[k.measure], k.measure, k.of) for k in kinds])
    out = {}
    for key in sorted(groups):
        _, measure, of = key
        if wanted is not None and measure not in wanted:
            continue
        rows = groups[key]
        if not rows.size:  # a figure of other aircraft's flights
            continue
        last = kinds[figures.kind[rows[-1]]]
        # Signal strength may be logged in one unit now and in another before: only the last one's flights compare.
        same = np.array([k.unit == last.unit for k in kinds], bool)[figures.kind[rows]]
        rows = rows[same]
        at = figures.flight[rows]
        places = at.tolist()
        out[measure, of] = History(
            BY_ID[measure], last.part, last.thing, tuple(ids[n] for n in places), numbers[at],
            tuple(days[n] for n in places), figures.value[rows], last.unit,
        )  # fmt: skip
    return out


def likeness(residuals: FloatArray) -> float:
    """How alike one flight is to the next (lag-one correlation), never below nought, with the doubt given to likeness.

    Parameters
    ----------
    residuals : ndarray, shape (n,)
        About the level of each stretch.

    Notes
    -----
    The estimate is biased low by about (1 + 4ρ)/n (Kendall 1954; Marriott and Pope 1954) and scatters by 1/√n.
    """
    n = residuals.size
    square = float(residuals @ residuals)
    if n < 4 or square <= 0:
        return 0.0
    seen = float(residuals[1:] @ residuals[:-1]) / square
    unbiased = (n * seen + 1.0) / max(n - 4.0, 1.0)
    return float(np.clip(unbiased, 0.0, 0.9))


def neighbours_alike(values: FloatArray) -> float:
    """How alike one flight is to the next at most, by differences only, so that steps of level hardly count.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Of 8 or more.

    Notes
    -----
    Of a first-order autoregression the squared difference over two flights is 1 + ρ times that over one. A tenth of the
    largest is left out of both; 1.6/√n is added for their scatter (found by simulation).
    """
    near, far = (_trimmed_square(values[k:] - values[:-k]) for k in (1, 2))
    if near <= 0:
        return 0.0
    return float(np.clip(far / near - 1.0 + 1.6 / np.sqrt(values.size), 0.0, 0.9))


def _trimmed_square(differences: FloatArray) -> float:
    squares = np.sort(differences**2)
    return float(squares[: max(int(0.9 * squares.size), 1)].mean())
