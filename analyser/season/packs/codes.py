"""What may be said of packs over flights; the words are in the report's catalogue under the same names."""

from __future__ import annotations

from enum import StrEnum


class SeasonPackCode(StrEnum):
    """Codes of a pack's history. Values: ``pack`` is the owner's name for it."""

    # Labels
    CYCLES = "season.packs.cycles"
    STORED_FULL = "season.packs.stored_full"
    BROWN_OUTS = "season.packs.brown_outs"
    BUS_BROWN_OUTS = "season.packs.bus_brown_outs"
    CAPACITY_NOW = "season.packs.capacity_now"
    CAPACITY_AGAINST_FIRST = "season.packs.capacity_against_first"
    CAPACITY_TREND = "season.packs.capacity_trend"
    OVER_NEW = "season.packs.over_new"
    RESISTANCE_TREND = "season.packs.resistance_trend"
    ACTIVATION = "season.packs.activation"
    SPREAD_NOW = "season.packs.spread_now"
    SPREAD_TREND = "season.packs.spread_trend"
    TO_RETIREMENT = "season.packs.to_retirement"

    # How a figure was obtained
    RAINFLOW = "season.packs.rainflow"
    BETWEEN_FLIGHTS = "season.packs.between_flights"
    MEDIAN_OF_LAST = "season.packs.median_of_last"
    OWN_DIPS = "season.packs.own_dips"
    BUS_DIPS = "season.packs.bus_dips"
    OVER_RATED = "season.packs.over_rated"
    LINE = "season.packs.line"
    SUREST = "season.packs.surest"
    READING = "season.packs.reading"
    OWN_CURVE = "season.packs.own_curve"
    LINE_OVER_FIRST = "season.packs.line_over_first"
    READING_OVER_FIRST = "season.packs.reading_over_first"
    LINE_OVER_NEW = "season.packs.line_over_new"
    STATED_NEW = "season.packs.stated_new"
    FIRST_FLIGHTS = "season.packs.first_flights"
    TREND_TO_LIMIT = "season.packs.trend_to_limit"
    ALREADY_BEYOND = "season.packs.already_beyond"

    # What is missing
    NO_TWO_STATES = "season.packs.no_two_states"
    NO_CELLS = "season.packs.no_cells"
    NO_LEVEL = "season.packs.no_level"
    NO_BUS = "season.packs.no_bus"
    NO_LABEL = "season.packs.no_label"
    NO_CAPACITY = "season.packs.no_capacity"
    LABEL_WRONG = "season.packs.label_wrong"
    FEW_CAPACITIES = "season.packs.few_capacities"
    NO_RESISTANCE = "season.packs.no_resistance"
    NO_NEW = "season.packs.no_new"
    NO_TREND = "season.packs.no_trend"
    FEW_FLIGHTS = "season.packs.few_flights"

    # Routes that a history may follow
    ROUTE_MEASURED = "season.packs.route_measured"
    ROUTE_CHARGER = "season.packs.route_charger"
    ROUTE_DISCHARGE = "season.packs.route_discharge"
    ROUTE_IN_FLIGHT = "season.packs.route_in_flight"
    ROUTE_NOTED = "season.packs.route_noted"

    # Limits
    CAPACITY = "season.packs.capacity"
    RESISTANCE = "season.packs.resistance"
    SPREAD = "season.packs.spread"
    OF_LABEL = "season.packs.of_label"
    OF_FIRST = "season.packs.of_first"
    TIMES_NEW = "season.packs.times_new"
    SPREAD_LATE = "season.packs.spread_late"
    YOUR_PERCENT = "season.packs.your_percent"
    YOUR_RATIO = "season.packs.your_ratio"
    YOUR_SPREAD = "season.packs.your_spread"
    BEYOND = "season.packs.beyond"
    PERHAPS_BEYOND = "season.packs.perhaps_beyond"
    NEAR = "season.packs.near"

    # Reasons and verdicts
    BROWNED_OUT = "season.packs.browned_out"
    CAUSE_COUNT = "season.packs.cause_count"
    LET_DOWN = "season.packs.let_down"
    NOT_ALONE = "season.packs.not_alone"
    SOON = "season.packs.soon"
    RETIRE = "season.packs.retire"
    FIND_OUT = "season.packs.find_out"
    WATCH = "season.packs.watch"
    TOO_FEW = "season.packs.too_few"
    CANT_TELL = "season.packs.cant_tell"
    OPEN = "season.packs.open"
    UNKNOWN = "season.packs.unknown"
    TELLS_CAPACITY = "season.packs.tells_capacity"
    TELLS_RESISTANCE = "season.packs.tells_resistance"
    ASK_NOW = "season.packs.ask_now"
    ASK_LATER = "season.packs.ask_later"
    NOTHING_BEYOND = "season.packs.nothing_beyond"

    # Questions
    NO_DATE = "season.packs.no_date"
    FOREIGN = "season.packs.foreign"
    TWO_PLACES = "season.packs.two_places"
    LOST_AT_REST = "season.packs.lost_at_rest"
    GAINED_TOO_FAST = "season.packs.gained_too_fast"
