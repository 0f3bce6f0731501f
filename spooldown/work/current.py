"""Rows of the tables beside the logbook that are up to date."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

from analyser.season.counts import Totals
from spooldown.work.rows import Row, Rows


class Current:
    """Rows that are up to date: those kept, and those made since."""

    def __init__(self, found: Rows, current: Collection[str]) -> None:
        self._found, self._current = found, set(current)
        self._made: dict[str, Row] = {}
        self._columns: dict[str, dict[str, str]] = {}

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
        self._columns.clear()

    def totals(self, flight_ids: Sequence[str]) -> Totals:
        """What some flights add to every count; nothing is said of when they began."""
        return self._found.totals(flight_ids, self._made)

    def column(self, name: str) -> Mapping[str, str]:
        """One cell of every row, by flight; of flights that have no row of now too."""
        if name not in self._columns:
            made = {flight_id: getattr(row, name) for flight_id, row in self._made.items()}
            self._columns[name] = self._found.column(name) | made
        return self._columns[name]
