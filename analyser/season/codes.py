"""What may be said of several flights, whatever the subject."""

from __future__ import annotations

from enum import StrEnum


class SeasonCode(StrEnum):
    """Codes of findings over flights; the words are in the report's catalogue under the same names."""

    PACK = "season.pack"
    FUEL = "season.fuel_system"
    WORST_OF = "season.worst_of"
    BELOW_RESERVE = "season.below_reserve"
    REASONS = "season.reasons"


class DayCode(StrEnum):
    """Codes of what is said of a flying day."""

    BURNED = "day.burned"
    PUT_IN = "day.put_in"
    USED = "day.used"
    LAYOUT = "day.layout"
    PACK = "day.pack"
