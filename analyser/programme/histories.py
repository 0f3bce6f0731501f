"""One figure of one part over an aircraft's flights: what steps, verdicts and the usual are told from."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from analyser.core.figures import FloatArray
from analyser.programme.measures import BY_ID, Measure, Row

WINDOW = 200
"""So many newest flights are looked at: what happened before them was found when it was new (common practice)."""


@dataclass(frozen=True, slots=True)
class Flown:
    """One flight of an aircraft with its figures; ``number`` counts them from 1, ``day`` is when it was flown."""

    flight_id: str
    number: int
    day: date | None
    rows: tuple[Row, ...]


@dataclass(frozen=True, slots=True, eq=False)
class History:
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
    wanted = None if only is None else set(only)
    found: dict[tuple[str, str], list[tuple[Flown, Row]]] = {}
    for flight in flights:
        for row in flight.rows:
            if row.value is not None and (wanted is None or row.measure in wanted):
                found.setdefault((row.measure, row.thing or row.part), []).append((flight, row))
    order: Mapping[str, int] = {m: k for k, m in enumerate(BY_ID)}
    out = {}
    for key in sorted(found, key=lambda k: (order[k[0]], k[1])):
        pairs = found[key]
        # Signal strength may be logged in one unit now and in another before: only the last one's flights compare.
        unit = pairs[-1][1].unit
        pairs = [(f, r) for f, r in pairs if r.unit == unit]
        last = pairs[-1][1]
        out[key] = History(
            BY_ID[key[0]], last.part, last.thing, tuple(f.flight_id for f, _ in pairs),
            np.array([f.number for f, _ in pairs], float), tuple(f.day for f, _ in pairs),
            np.array([r.value for _, r in pairs], float), unit,
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
