"""Every flight of a logbook in order, each taken apart only when somebody asks for it."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from spooldown.logbook.flight import Flight

IMPORT, PART, AIRCRAFT, UTC, BEGAN, NOTE = 1, 2, 4, 5, 13, 14
"""Places in a row of what is read of every flight."""


class Listing:
    """Flights by their ids, oldest first.

    Parameters
    ----------
    rows : iterable of tuple
        Of the catalogue, in any order: a flight's cells, when it began and its note's body, None where it has none.
    decode : callable
        Takes a row apart.
    """

    def __init__(self, rows: Iterable[Sequence[Any]], decode: Callable[[Sequence[Any]], Flight]) -> None:
        same: dict[str, tuple[str, str]] = {}  # flights of one aircraft log the same channels: kept and hashed once
        self._shared: dict[str, str] = {}
        found = []
        for row in rows:
            channels = row[9]
            if channels not in same:
                same[channels] = channels, hashlib.sha256(repr(channels).encode()).hexdigest()
            found.append((*row[:9], same[channels][0], *row[10:]))
            self._shared[row[0]] = same[channels][1]
        # Sooner than by the catalogue, which would sort the rows with all that they hold.
        try:
            found.sort(key=lambda row: (row[BEGAN] is None, row[BEGAN] or "", row[IMPORT], row[PART]))
        except TypeError:  # a damaged cell holds a word where a number was
            found.sort(key=lambda row: (row[BEGAN] is None, *(str(row[at]) for at in (BEGAN, IMPORT, PART))))
        self._rows: dict[str, Sequence[Any]] = {row[0]: row for row in found}
        self._decode = decode
        self._flights: dict[str, Flight] = {}

    @property
    def ids(self) -> list[str]:
        """Every flight's id, oldest first."""
        return list(self._rows)

    def __contains__(self, flight_id: object) -> bool:
        return flight_id in self._rows

    def __getitem__(self, flight_id: str) -> Flight:
        if flight_id not in self._flights:
            self._flights[flight_id] = self._decode(self._rows[flight_id])
        return self._flights[flight_id]

    def note(self, flight_id: str) -> str | None:
        """The body of its note."""
        body = self._rows[flight_id][NOTE]
        return None if body is None else str(body)

    def owners(self) -> set[str]:
        """Names of aircraft as the flights have them, '' among them."""
        return {row[AIRCRAFT] for row in self._rows.values()}

    def imports(self) -> dict[str, int]:
        """The import each flight came with."""
        return {flight_id: row[1] for flight_id, row in self._rows.items()}

    def days(self) -> list[str]:
        """The day each began as ``2031-04-05``, '' where it is not known, in order."""
        return [str(row[BEGAN] or "")[:10] for row in self._rows.values()]

    def utc_days(self) -> dict[str, str]:
        """The day each flight began in UTC as ``2031-04-05``, '' where that is not known."""
        return {i: str(row[UTC] or "")[:10] for i, row in self._rows.items()}

    def starts(self) -> dict[str, float | None]:
        """When each flight began, seconds since 1970, None where UTC is not known."""
        read = datetime.fromisoformat
        return {i: read(row[UTC]).timestamp() if row[UTC] else None for i, row in self._rows.items()}

    def stamps(self, common: bytes, more: Callable[[str], bytes]) -> dict[str, str]:
        """Digest of each flight's cells and note as they are stored, with what all have in common.

        Parameters
        ----------
        more : callable
            What else belongs to a flight, by its id.
        """
        start, shared, out = hashlib.sha256(common), self._shared, {}
        for flight_id, row in self._rows.items():
            digest = start.copy()
            digest.update(f"{row[:9]}{shared[flight_id]}{row[10:]}".encode("utf-8", "backslashreplace"))
            digest.update(more(flight_id))
            out[flight_id] = digest.hexdigest()
        return out
