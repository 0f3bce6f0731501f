"""What may be said of an aircraft's fuel over its flights."""

from __future__ import annotations

from enum import StrEnum


class SeasonFuelCode(StrEnum):
    """Codes of findings about fuel over flights; the words are in the report's catalogue under the same names."""

    # Labels
    RATE_TREND = "season.fuel.rate_trend"
    RATE_STEP = "season.fuel.rate_step"
    COMMON_RATE = "season.fuel.common_rate"
    IMBALANCE_TREND = "season.fuel.imbalance_trend"
    IMBALANCE_STEP = "season.fuel.imbalance_step"
    CURVE_SPREAD = "season.fuel.curve_spread"
    USUAL_START = "season.fuel.usual_start"
    ADVISED = "season.fuel.advised"
    EVEN_ODDS = "season.fuel.even_odds"
    PER_100_ML = "season.fuel.per_100_ml"
    LONGEST = "season.fuel.longest"
    # Where a figure comes from
    STEP_HOW = "season.fuel.step_how"
    COMMON_RATE_HOW = "season.fuel.common_rate_how"
    CURVE_SPREAD_HOW = "season.fuel.curve_spread_how"
    FORECAST = "season.fuel.forecast"
    MEAN_RATE = "season.fuel.mean_rate"
    LONGEST_HOW = "season.fuel.longest_how"
    STATED_FILL = "season.fuel.stated_fill"
    LAST_STARTS = "season.fuel.last_starts"
    LAST_FULL = "season.fuel.last_full"
    TAKEN_FULL = "season.fuel.taken_full"
    # Why there is no figure
    SIX_FLIGHTS = "season.fuel.six_flights"
    FOUR_WITH_SPEED = "season.fuel.four_with_speed"
    THREE_WITH_SPEED = "season.fuel.three_with_speed"
    NO_SPEED = "season.fuel.no_speed"
    NO_PAIR = "season.fuel.no_pair"
    NO_SENSOR = "season.fuel.no_sensor"
    NO_CAPACITY = "season.fuel.no_capacity"
    NO_FUEL = "season.fuel.no_fuel"
    NO_RESERVE = "season.fuel.no_reserve"
    NO_RATE = "season.fuel.no_rate"
    NO_RESERVE_VOLUME = "season.fuel.no_reserve_volume"
    TOO_FEW = "season.fuel.too_few"
    TANK_NOT_MEASURED = "season.fuel.tank_not_measured"
    NEVER_EVEN = "season.fuel.never_even"
    # What is found
    BURN_CHANGED = "season.fuel.burn_changed"
    BURN_DRIFTS = "season.fuel.burn_drifts"
    BURN_STEADY = "season.fuel.burn_steady"
    BURN_UNTOLD = "season.fuel.burn_untold"
    BURNS_MORE_SINCE = "season.fuel.burns_more_since"
    BURNS_MORE = "season.fuel.burns_more"
    READS_MORE = "season.fuel.reads_more"
    ALIKE = "season.fuel.alike"
    TIMER = "season.fuel.timer"
    TIMER_NONE = "season.fuel.timer_none"
