"""What may be said of flights side by side."""

from __future__ import annotations

from enum import StrEnum


class CompareCode(StrEnum):
    """Codes of a comparison; the words are in the report's catalogue under the same names."""

    DATE = "compare.date"
    AIRCRAFT = "compare.aircraft"
    LAYOUT = "compare.layout"
    AIR_TEMPERATURE = "compare.air_temperature"
    PACK_AS = "compare.pack_as"
    FUEL_BEFORE = "compare.fuel_before"
    FUEL_PUT_IN = "compare.fuel_put_in"
    REMARKS = "compare.remarks"
    DIFFERENCE = "compare.difference"
    DIFFERENCE_HOW = "compare.difference_how"
