"""What may be said of bench procedures."""

from __future__ import annotations

from enum import StrEnum


class BenchCode(StrEnum):
    """Codes of findings about bench procedures; the words are in the report's catalogue under the same names."""

    # Labels
    FLOW_SCALE = "bench.flow_scale"
    PUMP_DELIVERY = "bench.pump_delivery"
    CAPACITY = "bench.capacity"
    UNUSABLE = "bench.unusable"
    LOAD_RESISTANCE = "bench.load_resistance"
    CELL_RESISTANCE = "bench.cell_resistance"
    AT_REFERENCE = "bench.at_reference"
    PACK_CAPACITY = "bench.pack_capacity"
    OF_LABEL = "bench.of_label"
    CHARGER_RESISTANCE = "bench.charger_resistance"
    CELL_SPREAD = "bench.cell_spread"
    CHARGED = "bench.charged"
    ABOVE_BROWN_OUT = "bench.above_brown_out"
    READING = "bench.reading"
    CHANGE = "bench.change"
    AGAINST_FLIGHTS = "bench.against_flights"
    LEFT_RIGHT = "bench.left_right"
    # How
    MEASURED_VOLUME = "bench.measured_volume"
    RUNS = "bench.runs"
    TYPED = "bench.typed"
    TWO_LOADS = "bench.two_loads"
    DISCHARGE = "bench.discharge"
    BY_CHARGER = "bench.by_charger"
    NEEDS_BROWN_OUT = "bench.needs_brown_out"
    NEEDS_LABEL = "bench.needs_label"
    NEEDS_TEMPERATURE = "bench.needs_temperature"
    # Findings
    LEAKS = "bench.leaks"
    AIR = "bench.air"
    TRAP = "bench.trap"
    OTHER_THAN_FILE = "bench.other_than_file"
    SHARED = "bench.shared"
    BELOW_BROWN_OUT = "bench.below_brown_out"
    CARRIED_ALONE = "bench.carried_alone"
    NOT_CARRIED = "bench.not_carried"
    OVER_LIMIT = "bench.over_limit"
    UNUSUAL = "bench.unusual"
    UNEVEN = "bench.uneven"
    SWAPPED = "bench.swapped"
    NOTHING_MOVED = "bench.nothing_moved"
    OWN_MOVED = "bench.own_moved"
    NO_STEPS = "bench.no_steps"
    NO_CHANNEL = "bench.no_channel"
    CAUTION_FUEL = "bench.caution_fuel"
    CAUTION_PACK = "bench.caution_pack"
    CAUTION_ENGINE = "bench.caution_engine"
    CAUTION_SUPPLY = "bench.caution_supply"
