"""What the monitoring programme may say, and what its figures are called."""

from __future__ import annotations

from enum import StrEnum


class MeasureCode(StrEnum):
    """Names of the figures kept of every flight; the words are in the report's catalogue under the same names.

    What follows ``measure.`` is the figure's id: it is stored, so it never changes.
    """

    FLIGHT_DURATION = "measure.flight.duration"
    FLIGHT_AIRBORNE = "measure.flight.airborne"
    FLIGHT_LANDINGS = "measure.flight.landings"
    FLIGHT_LONGEST_RANGE = "measure.flight.longest_range"
    FLIGHT_DOUBTFUL_SPANS = "measure.flight.doubtful_spans"
    FLIGHT_FUEL_BURNED = "measure.flight.fuel_burned"
    FLIGHT_FUEL_MASS = "measure.flight.fuel_mass"
    FLIGHT_BURN_RATE = "measure.flight.burn_rate"
    FLIGHT_IMBALANCE = "measure.flight.imbalance"
    FLIGHT_ENDURANCE = "measure.flight.endurance"
    FLIGHT_DOWNLINK_GAPS = "measure.flight.downlink_gaps"
    FLIGHT_FADES_EVERYWHERE = "measure.flight.fades_everywhere"
    TANK_BURNED = "measure.tank.burned"
    TANK_BURNED_BEFORE_TAKE_OFF = "measure.tank.burned_before_take_off"
    TANK_BURNED_AIRBORNE = "measure.tank.burned_airborne"
    TANK_BURN_RATE = "measure.tank.burn_rate"
    TANK_BURN_RATE_BY_SENSOR = "measure.tank.burn_rate_by_sensor"
    TANK_AT_START = "measure.tank.at_start"
    TANK_LEFT = "measure.tank.left"
    TANK_MARGIN = "measure.tank.margin"
    TANK_ENDURANCE = "measure.tank.endurance"
    TANK_SCALE = "measure.tank.scale"
    ENGINE_RUN_TIME = "measure.engine.run_time"
    ENGINE_STARTS = "measure.engine.starts"
    ENGINE_FAILED_STARTS = "measure.engine.failed_starts"
    ENGINE_START_TIME = "measure.engine.start_time"
    ENGINE_START_EGT = "measure.engine.start_egt"
    ENGINE_IDLE_SPEED = "measure.engine.idle_speed"
    ENGINE_IDLE_SPREAD = "measure.engine.idle_spread"
    ENGINE_HIGHEST_SPEED = "measure.engine.highest_speed"
    ENGINE_FULL_SPEED_SPREAD = "measure.engine.full_speed_spread"
    ENGINE_HIGHEST_EGT = "measure.engine.highest_egt"
    ENGINE_COOL_DOWN = "measure.engine.cool_down"
    ENGINE_CHARGE_PER_START = "measure.engine.charge_per_start"
    ENGINE_FLAME_OUTS = "measure.engine.flame_outs"
    PACK_CHARGE_USED = "measure.pack.charge_used"
    PACK_CHARGE_PUT_BACK = "measure.pack.charge_put_back"
    PACK_ENERGY_USED = "measure.pack.energy_used"
    PACK_CHARGE_RATE = "measure.pack.charge_rate"
    PACK_ROUTES_DIFFER = "measure.pack.routes_differ"
    PACK_LOWEST_VOLTAGE = "measure.pack.lowest_voltage"
    PACK_LOWEST_CELL = "measure.pack.lowest_cell"
    PACK_CELL_SPREAD = "measure.pack.cell_spread"
    PACK_DEEPEST_SAG = "measure.pack.deepest_sag"
    PACK_SAGS = "measure.pack.sags"
    PACK_REST_BEFORE = "measure.pack.rest_before"
    PACK_REST_AFTER = "measure.pack.rest_after"
    PACK_STATE_BEFORE = "measure.pack.state_before"
    PACK_STATE_AFTER = "measure.pack.state_after"
    PACK_TEMPERATURE = "measure.pack.temperature"
    PACK_RESISTANCE = "measure.pack.resistance"
    PACK_RESISTANCE_AS_READ = "measure.pack.resistance_as_read"
    PACK_RESISTANCE_NOTED = "measure.pack.resistance_noted"
    PACK_LEAD_RESISTANCE = "measure.pack.lead_resistance"
    PACK_CAPACITY = "measure.pack.capacity"
    PACK_BUS_SHARE = "measure.pack.bus_share"
    PACK_LOWEST_ALONE = "measure.pack.lowest_alone"
    BUS_BROWN_OUTS = "measure.bus.brown_outs"
    BUS_WORST_LOAD = "measure.bus.worst_load"
    RECEIVER_MISSED_FRAMES = "measure.receiver.missed_frames"
    RECEIVER_MISSED_FRAMES_RATE = "measure.receiver.missed_frames_rate"
    RECEIVER_FAILSAFE = "measure.receiver.failsafe"
    RECEIVER_LOWEST_QUALITY = "measure.receiver.lowest_quality"
    RECEIVER_FADES_TOGETHER = "measure.receiver.fades_together"
    ANTENNA_MEDIAN_SIGNAL = "measure.antenna.median_signal"
    ANTENNA_LOWEST_SIGNAL = "measure.antenna.lowest_signal"
    ANTENNA_LOWEST_MARGIN = "measure.antenna.lowest_margin"
    ANTENNA_LEVEL = "measure.antenna.level"
    ANTENNA_MISSED_PACKETS_RATE = "measure.antenna.missed_packets_rate"
    ANTENNA_FADES = "measure.antenna.fades"
    ANTENNA_FADE_TIME = "measure.antenna.fade_time"


class LimitCode(StrEnum):
    """What is said where a limit was passed."""

    FIGURE_PASSED = "limit.figure_passed"
    CHANNEL_PASSED = "limit.channel_passed"
    WORST = "limit.worst"


class MarkCode(StrEnum):
    """What a person may say of an event."""

    REAL = "mark.real"
    NUISANCE = "mark.nuisance"
    SENSOR = "mark.sensor"


class UnusualCode(StrEnum):
    """What is said of a flight beside the aircraft's own flights."""

    USUAL = "unusual.usual"
    HOW = "unusual.how"
    UNLIKE = "unusual.unlike"


class RemedyCode(StrEnum):
    """How a remedy fared."""

    BEFORE = "remedy.before"
    AFTER = "remedy.after"
    CHANGE = "remedy.change"
    RATIO = "remedy.ratio"
    TRIMMED = "remedy.trimmed"
    RATES = "remedy.rates"
    NO_FLIGHTS = "remedy.no_flights"
    FEW_BEFORE = "remedy.few_before"
    FEW_AFTER = "remedy.few_after"
    NEVER_BEFORE = "remedy.never_before"
    WORKED = "remedy.worked"
    DID_NOT = "remedy.did_not"
    CANT_TELL = "remedy.cant_tell"
    DONE = "remedy.done"


class StepCode(StrEnum):
    """What is said of a figure that changed its level."""

    SIZE = "step.size"
    HOW = "step.how"
    CHANGED = "step.changed"


class ServiceCode(StrEnum):
    """What is said of a component's service."""

    LEFT = "service.left"
    FLIGHTS_LEFT = "service.flights_left"
    AT_RATE = "service.at_rate"
    DUE = "service.due"
    OVERDUE = "service.overdue"


class YearCode(StrEnum):
    """What is said of a year."""

    CHANGE = "year.change"
