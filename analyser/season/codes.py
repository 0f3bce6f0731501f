"""What may be said of several flights."""

from __future__ import annotations

from enum import StrEnum


class SeasonCode(StrEnum):
    """Codes of findings over flights; the words are in the report's catalogue under the same names."""

    WORST_OF = "season.worst_of"
