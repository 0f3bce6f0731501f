"""The logbook as everybody opens it: all that can be read, entered, taken in and taken out."""

from __future__ import annotations

from spooldown.logbook.book.entries import Entries
from spooldown.logbook.book.imports import Imports
from spooldown.logbook.book.removal import Removal


class Logbook(Imports, Entries, Removal):
    """A logbook folder, opened.

    A folder without a catalogue reads as an empty logbook; the first change creates it.

    Parameters
    ----------
    folder : Path
        Where it is or shall be.

    Raises
    ------
    LogbookProblem
        If the catalogue is damaged or written by a newer version.

    Examples
    --------
    >>> with Logbook(Path("logbook")) as book:  # doctest: +SKIP
    ...     book.latest(1)[0].flight_id
    'tern-2026-09-19-a'
    """
