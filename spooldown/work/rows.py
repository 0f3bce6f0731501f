"""What is kept of every flight in one table: what its results were made from, and what lists and counts need of it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import orjson

from analyser.season.lineup import Facts
from spooldown.logbook.columns import FLIGHT, Columns


@dataclass(frozen=True, slots=True)
class Row:
    """One flight as the table holds it.

    ``stamp`` is the digest of all that is stored and registered of it, ``facts`` are what decides which flights it
    counts with, ``shown`` is the digest of what its page says besides its result. ``base`` is the digest of what its
    result depends on but for what others teach, ``own`` the same with its limits and marks, ``around`` that of all that
    may teach it, ``result`` the key of its result by itself and ``key`` that of the result as shown.
    """

    stamp: str
    facts: str
    shown: str
    base: str
    own: str
    around: str
    result: str
    key: str
    level: int
    airborne_s: float
    burned_ml: float | None
    burn_ml_per_min: float | None
    lowest_v: float | None
    fades: float | None
    totals: str


class Rows(Mapping[str, Row]):
    """The table's rows by flight, each made when it is asked for.

    Parameters
    ----------
    columns : Columns
        Where its files do not read, there are no rows, and all tables are to be made again.
    """

    def __init__(self, columns: Columns) -> None:
        names = list(Row.__slots__)
        try:
            table = columns.read("flights", names)
            self._cells = {name: table.column(name).to_pylist() for name in (FLIGHT, *names)}
        except (OSError, ValueError):
            columns.forget()
            self._cells = {name: [] for name in (FLIGHT, *names)}
        self._at = {flight_id: at for at, flight_id in enumerate(self._cells[FLIGHT])}

    def __len__(self) -> int:
        return len(self._at)

    def __iter__(self) -> Iterator[str]:
        return iter(self._at)

    def __contains__(self, flight_id: object) -> bool:
        return flight_id in self._at

    def __getitem__(self, flight_id: str) -> Row:
        at = self._at[flight_id]
        return Row(*(self._cells[name][at] for name in Row.__slots__))

    def column(self, name: str) -> dict[str, str]:
        """One cell of every row, by flight."""
        return dict(zip(self._cells[FLIGHT], self._cells[name], strict=True))


def facts_out(facts: Facts) -> str:
    """Write a flight's facts as they are kept."""
    return orjson.dumps(facts[:]).decode()


def facts_in(text: str) -> Facts:
    """Read what :func:`facts_out` wrote."""
    aircraft, layout, packs, noted, charged, learns = orjson.loads(text)
    return Facts(aircraft, layout, tuple(packs), tuple(noted), tuple(charged), learns)


def each_once(texts: Sequence[str]) -> list[Facts]:
    """Read the facts of many flights; those that are written alike are read once."""
    read = {text: facts_in(text) for text in dict.fromkeys(texts)}
    return [read[text] for text in texts]
