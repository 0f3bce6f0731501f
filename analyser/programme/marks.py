"""What a person said of an event, and how it finds its event again after the flight was analysed or imported anew.

An event has no number that lasts: another version of the analyser finds one more, or moves its first second a little.
A mark is therefore of *what* the event is: its kind, its part, the limit it passed, and when.
"""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from analyser.core.events import Event, Level

NEAR_S = 3.0
"""How far an event's first second may move between two analyses and still be the same event."""


class Verdict(StrEnum):
    """What a person says of an event."""

    REAL = "real"
    NUISANCE = "nuisance"
    SENSOR = "sensor"


class Mark(Struct, frozen=True):
    """One event, validated.

    Parameters
    ----------
    flight_id : str
        The flight's name in the logbook when it was marked.
    sources : tuple of str
        Hashes of the files it was read from, and ``part`` its number among their flights: what a flight imported
        again is known by.
    kind, subject, limit : str
        As in :class:`analyser.core.events.Event`.
    start_s, end_s : float
        Seconds from the flight's first row.
    verdict : Verdict
        What it was.
    reason : str
        Why, in the owner's words.
    day : str
        When it was said, ISO 8601.
    """

    flight_id: str
    sources: tuple[str, ...]
    part: int
    kind: str
    subject: str
    limit: str
    start_s: float
    end_s: float
    verdict: Verdict
    reason: str = ""
    day: str = ""


def find_marked(marks: Sequence[Mark], events: Sequence[Event]) -> dict[int, int]:
    """Find each mark's event among those of its flight.

    Parameters
    ----------
    marks, events : sequences
        Of one flight.

    Returns
    -------
    dict of int to int
        From a mark's position to its event's. A mark whose event is no longer there is not in it; no event has two.

    Notes
    -----
    Marks and events of one kind, part and limit are paired so that their first seconds differ least in all
    (``scipy.optimize.linear_sum_assignment``); a pair that neither overlaps nor begins within :data:`NEAR_S` is none.
    """
    from scipy.optimize import linear_sum_assignment  # slow to load, and few flights have marks

    out: dict[int, int] = {}
    for key in dict.fromkeys((m.kind, m.subject, m.limit) for m in marks):
        mine = [i for i, m in enumerate(marks) if (m.kind, m.subject, m.limit) == key]
        there = [j for j, e in enumerate(events) if (e.kind, e.subject, e.limit) == key]
        if not there:
            continue
        begun = np.array([marks[i].start_s for i in mine]), np.array([events[j].start_s for j in there])
        ended = np.array([marks[i].end_s for i in mine]), np.array([events[j].end_s for j in there])
        apart = np.abs(begun[0][:, None] - begun[1][None, :])
        overlap = (begun[0][:, None] <= ended[1][None, :]) & (begun[1][None, :] <= ended[0][:, None])
        same = overlap | (apart <= NEAR_S)
        far = float(apart.max()) + 1.0
        # What is not the same costs more than all that is: it is only paired where nothing better is left.
        rows, columns = linear_sum_assignment(np.where(same, apart, far * (1 + len(mine))))
        out |= {mine[r]: there[c] for r, c in zip(rows.tolist(), columns.tolist(), strict=True) if same[r, c]}
    return out


def marked(event: Event, verdict: Verdict) -> Event:
    """The same event as a person validated it: what was a nuisance or a sensor's fault asks for nothing more."""
    return replace(event, mark=str(verdict), level=event.level if verdict is Verdict.REAL else Level.FINE)
