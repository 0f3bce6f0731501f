"""What may be said of antenna layouts over flights and of walked range checks."""

from __future__ import annotations

from enum import StrEnum


class LayoutCode(StrEnum):
    """Codes of findings on layouts; the words are in the report's catalogue under the same names."""

    NOT_DESCRIBED = "layout.not_described"
    DEPARTS = "layout.departs"
    NONE_COVERS = "layout.none_covers"
    ANTENNAS = "layout.antennas"
    WEAKER_THAN_PLANNED = "layout.weaker_than_planned"
    LEVEL = "layout.level"
    LOST = "layout.lost"
    SECTOR = "layout.sector"
    NEEDS_FLIGHTS = "layout.needs_flights"
    LEVEL_HOW = "layout.level_how"
    LOST_HOW = "layout.lost_how"
    NEEDS_LEVEL = "layout.needs_level"
    NEEDS_COUNTER = "layout.needs_counter"
    CANT_TELL_FEW = "layout.cant_tell_few"
    CANT_TELL_SIDES = "layout.cant_tell_sides"
    HELPED = "layout.helped"
    WORSE = "layout.worse"
    TRADED = "layout.traded"
    CANT_TELL_YET = "layout.cant_tell_yet"
    CHANGE = "layout.change"


class RangeCode(StrEnum):
    """Codes of findings on range checks."""

    CAUTION = "range_check.caution"
    SHORTEST = "range_check.shortest"
    OF = "range_check.of"
    IMPLIED = "range_check.implied"
    CAUTIOUS = "range_check.cautious"
    TREND = "range_check.trend"
    AGAINST = "range_check.against"
    MOVED = "range_check.moved"
    EARLIER = "range_check.earlier"
    WALKED = "range_check.walked"
    IMPLIED_HOW = "range_check.implied_how"
    CAUTIOUS_HOW = "range_check.cautious_how"
    NEEDS_DAYS = "range_check.needs_days"
    NO_DISTANCE = "range_check.no_distance"
    AGAINST_HOW = "range_check.against_how"
    MOVED_HOW = "range_check.moved_how"
    NEEDS_EARLIER = "range_check.needs_earlier"
    EARLIER_HOW = "range_check.earlier_how"
    FELL_EARLIER = "range_check.fell_earlier"
    FELL_MOVED = "range_check.fell_moved"
    BEYOND_IMPLIED = "range_check.beyond_implied"
    BEYOND_CAUTIOUS = "range_check.beyond_cautious"
    WITHIN = "range_check.within"
