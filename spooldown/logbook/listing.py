"""Every flight of a logbook in order: a digest of what is stored of each, its row taken apart only when asked for."""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt
import orjson

from analyser.core.findings import Finding
from spooldown.logbook.catalogue import answers, is_sound
from spooldown.problems import ChangedMeanwhile

if TYPE_CHECKING:
    from spooldown.logbook.flight import Flight

Row = Sequence[Any]

_BEGAN = "coalesce(utc_start, nullif(local_start, '')) AS began"
_CELLS = (
    "flight_id, import_id, part, source, aircraft, utc_start, duration_s, rows, telemetry_sha256, channels, notices,"
    f" local_start, {_BEGAN}"
)
# What the log said of its channels and its notices are in the telemetry file, whose hash stands here for both.
_BRIEFLY = (
    f"SELECT flight_id, import_id, part, aircraft, utc_start, {_BEGAN}, source, duration_s, rows, telemetry_sha256,"
    " local_start FROM flight"
)
_IMPORT, _PART, _AIRCRAFT, _UTC, _WHEN = range(1, 6)
TOGETHER = 64
"""So many flights that follow each other are read at once, or a share of so many: who asks for one asks for others."""


def rows_of(db: sqlite3.Connection, where: str = "", values: Sequence[object] = ()) -> list[Row]:
    """Rows of some flights as :func:`~spooldown.logbook.flight.flight_of` takes them, oldest first.

    Flights without a day come last, in the order they were imported.
    """
    order = "ORDER BY began IS NULL, began, import_id, part"
    found = answers(db, f"SELECT {_CELLS} FROM flight {where} {order}", values)
    imports = json.dumps([i for i in {row[_IMPORT] for row in found} if isinstance(i, int)])
    names: dict[Any, list[str]] = {}
    for import_id, name in answers(
        db, "SELECT import_id, name FROM source WHERE import_id IN (SELECT value FROM json_each(?))", (imports,)
    ):
        names.setdefault(import_id, []).append(name)
    return [(*row[:11], tuple(names.get(row[_IMPORT], ())), row[11]) for row in found]


def _digest(row: Row, note: str | None) -> bytes:
    """Digest of a flight's cells and its note as they are stored."""
    told = b"" if note is None else b"\0"
    try:
        return hashlib.sha256(b"%b%b%b" % (orjson.dumps(row), told, note.encode() if note else b"")).digest()
    except (TypeError, ValueError, AttributeError):  # a damaged cell holds what no JSON does
        return hashlib.sha256(ascii((row, note)).encode()).digest()


class Digests(Mapping[str, str]):
    """Digests by flight, 64 hexadecimal digits each, kept as numbers.

    Parameters
    ----------
    at : mapping of str to int
        Each flight's row.
    words : ndarray of uint64, shape (n, 4)
    """

    def __init__(self, at: Mapping[str, int], words: npt.NDArray[np.uint64]) -> None:
        self._at, self.words = at, words

    def __len__(self) -> int:
        return len(self._at)

    def __iter__(self) -> Iterator[str]:
        return iter(self._at)

    def __contains__(self, flight_id: object) -> bool:
        return flight_id in self._at

    def __getitem__(self, flight_id: str) -> str:
        digest: bytes = self.words[self._at[flight_id]].tobytes()
        return digest.hex()

    def __setitem__(self, flight_id: str, digest: str) -> None:
        self.words[self._at[flight_id]] = np.frombuffer(bytes.fromhex(digest), "<u8")


class Listing:
    """Flights by their ids, oldest first.

    Parameters
    ----------
    db : sqlite3.Connection
        The catalogue, read now; of what is asked for later, ``read`` is asked.
    read : callable
        Gives flights, each with its note's body, by their ids; those that are no more are left out.
    """

    def __init__(
        self, db: sqlite3.Connection, read: Callable[[Sequence[str]], Iterable[tuple[Flight, str | None]]]
    ) -> None:
        self._read = read
        self._known: dict[str, tuple[Flight, str | None]] = {}
        rows = answers(db, _BRIEFLY)
        # Sooner than by the catalogue, which would sort the rows with all that they hold.
        try:
            rows.sort(key=lambda row: (row[_WHEN] is None, row[_WHEN] or "", row[_IMPORT], row[_PART]))
        except TypeError:  # a damaged cell holds a word where a number was
            rows.sort(key=lambda row: (row[_WHEN] is None, *(str(row[at]) for at in (_WHEN, _IMPORT, _PART))))
        notes = dict(answers(db, "SELECT flight_id, body FROM note"))
        self._digests = [_digest(row, notes.get(row[0])) for row in rows]
        self._imports, self._utc = [row[_IMPORT] for row in rows], [row[_UTC] for row in rows]
        self._days = [str(row[_WHEN] or "")[:10] for row in rows]
        self._owners = set(filter(is_sound, {row[_AIRCRAFT] for row in rows}))
        self.ids: list[str] = [row[0] for row in rows]
        """Every flight's id, oldest first."""
        self.at = {flight_id: at for at, flight_id in enumerate(self.ids)}
        """Each flight's place among them."""
        self.astray: list[Any] = list(notes.keys() - self.at.keys())
        """Under which names notes stand that are no flight's here."""

    def __contains__(self, flight_id: object) -> bool:
        return flight_id in self.at

    def __getitem__(self, flight_id: str) -> Flight:
        return self._of(flight_id)[0]

    def note(self, flight_id: str) -> str | None:
        """The body of its note."""
        return self._of(flight_id)[1]

    def _of(self, flight_id: str) -> tuple[Flight, str | None]:
        if flight_id not in self._known:
            many = max(TOGETHER, len(self.ids) // TOGETHER)
            first = self.at[flight_id] // many * many
            wanted = [i for i in self.ids[first : first + many] if i not in self._known]
            self._known |= {one[0].flight_id: one for one in self._read(wanted)}
        if flight_id not in self._known:  # taken out meanwhile
            raise ChangedMeanwhile(Finding("logbook.taken_out_meanwhile", {"flight": flight_id}))
        return self._known[flight_id]

    def owners(self) -> set[str]:
        """Names of aircraft as the flights have them, '' among them."""
        return self._owners

    def imports(self) -> Sequence[int]:
        """The import each came with, in order."""
        return self._imports

    def days(self) -> list[str]:
        """The day each began as ``2031-04-05``, '' where it is not known, in order."""
        return self._days

    def utc_days(self) -> list[str]:
        """The day each began in UTC as ``2031-04-05``, '' where that is not known, in order."""
        return [str(utc or "")[:10] for utc in self._utc]

    def starts(self) -> dict[str, float | None]:
        """When each flight began, seconds since 1970, None where UTC is not known."""
        read = datetime.fromisoformat
        try:
            return {i: read(utc).timestamp() if utc else None for i, utc in zip(self.ids, self._utc, strict=True)}
        except (TypeError, ValueError):  # a damaged cell; its flight is left out
            begins = (self[i].utc_start for i in self.ids)
            return {i: utc.timestamp() if utc else None for i, utc in zip(self.ids, begins, strict=True)}

    def stamps(self, common: bytes, more: Mapping[str, bytes]) -> Digests:
        """Digest of each flight's cells and note as they are stored, with what all have in common.

        Parameters
        ----------
        more : mapping of str to bytes
            What else belongs to some flights, by their ids.
        """
        digests = self._digests.copy()
        for flight_id, said in more.items():
            if (at := self.at.get(flight_id)) is not None:
                digests[at] = hashlib.sha256(digests[at] + said).digest()
        words = np.frombuffer(b"".join(digests), "<u8").reshape(-1, 4)
        return Digests(self.at, words ^ np.frombuffer(hashlib.sha256(common).digest(), "<u8"))
