"""What may be said of a fleet; the words are in the report's catalogue under the same names."""

from __future__ import annotations

from enum import StrEnum


class FleetCode(StrEnum):
    """Codes of what is said over several aircraft."""

    PACKS_LIKE = "fleet.packs_like"
    ENGINES_LIKE = "fleet.engines_like"
    LAYOUTS_LIKE = "fleet.layouts_like"
    LEVEL = "fleet.level"
    HOW = "fleet.how"
    TOO_FEW_FLIGHTS = "fleet.too_few_flights"
    USUAL = "fleet.usual"
    USUAL_HOW = "fleet.usual_how"
    TOO_FEW_LIKE_IT = "fleet.too_few_like_it"
    STANDS_OUT = "fleet.stands_out"
