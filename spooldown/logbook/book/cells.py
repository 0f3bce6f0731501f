"""Cells of the catalogue that hold what a person entered, read: or told that they hold what nobody stored there."""

from __future__ import annotations

import json
from datetime import date
from typing import TYPE_CHECKING, Any

from analyser.core.findings import Finding
from spooldown.logbook.catalogue import is_sound
from spooldown.problems import LogbookProblem

if TYPE_CHECKING:
    from analyser.season.link.range_check import RangeCheck
    from spooldown.logbook.note import FlightNote


def note_of(flight_id: str, body: str) -> FlightNote:
    """Read a flight's note as it is stored.

    Raises
    ------
    LogbookProblem
        If it holds what nobody stored there.
    """
    from spooldown.logbook.codec import from_json
    from spooldown.logbook.note import FlightNote

    try:
        return from_json(body, FlightNote)
    except Exception as error:  # whatever the codec says of what nobody stored there
        raise LogbookProblem(
            "logbook.repairable", what=Finding("logbook.note_damaged", {"flight": flight_id})
        ) from error


def walked(_number: int, owner: Any, day: Any, receiver: Any, antenna: Any, *cells: Any) -> RangeCheck | None:
    """Read a range check as it is stored; None where it holds what nobody stored there."""
    from analyser.season.link.range_check import RangeCheck

    distance_m, reduction_db, *texts = cells
    if not (type(antenna) is int and all(map(is_sound, (owner, receiver, *texts)))):
        return None
    try:
        return RangeCheck(date.fromisoformat(day), receiver, antenna, float(distance_m), float(reduction_db), *texts)
    except (TypeError, ValueError):
        return None


def is_json(body: object) -> bool:
    """Whether a cell holds JSON."""
    try:
        json.loads(body)  # type: ignore[arg-type]
    except (TypeError, ValueError, RecursionError):
        return False
    return is_sound(body)
