"""Rows of the tables beside the logbook that are up to date."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence

import numpy as np
import numpy.typing as npt

from analyser.core.figures import FloatArray
from analyser.season.counts import Totals
from spooldown.work.rows import Row, Rows


class Current:
    """Rows that are up to date: those kept, and those made since."""

    def __init__(self, found: Rows, current: Collection[str]) -> None:
        self._found, self._current = found, set(current)
        self._made: dict[str, Row] = {}

    def __len__(self) -> int:
        return len(self._current)

    def __iter__(self) -> Iterator[str]:
        return iter(self._current)

    def __contains__(self, flight_id: object) -> bool:
        return flight_id in self._current

    def __getitem__(self, flight_id: str) -> Row:
        if flight_id not in self._current:
            raise KeyError(flight_id)
        return self._made.get(flight_id) or self._found[flight_id]

    def get(self, flight_id: str) -> Row | None:
        """One row, None where there is none of now."""
        return self[flight_id] if flight_id in self._current else None

    def add(self, flight_id: str, row: Row) -> None:
        """Take a new row in the place of the old one."""
        self._made[flight_id] = row
        self._current.add(flight_id)

    def totals(self, flight_ids: Sequence[str]) -> Totals:
        """What some flights add to every count; nothing is said of when they began."""
        return self._found.totals(flight_ids, self._made)

    def digests(self, flight_ids: Sequence[str], at: Mapping[str, int], name: str) -> npt.NDArray[np.uint64]:
        """A digest of some flights' rows as numbers, one row a flight; ``at`` tells each flight's place among them."""
        words = self._found.digests(flight_ids, name)
        for flight_id, row in self._made.items():
            if (place := at.get(flight_id)) is not None:
                words[place] = np.frombuffer(bytes.fromhex(getattr(row, name)), "<u8")
        return words

    def numbers(self, flight_ids: Sequence[str], at: Mapping[str, int], name: str) -> FloatArray:
        """A number of some flights' rows, NaN where there is none."""
        values = self._found.numbers(flight_ids, name)
        for flight_id, row in self._made.items():
            if (place := at.get(flight_id)) is not None:
                value = getattr(row, name)
                values[place] = np.nan if value is None else value
        return values
