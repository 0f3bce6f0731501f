"""What may be said of any subject: codes of findings that belong to no single one."""

from __future__ import annotations

from enum import StrEnum


class CoreCode(StrEnum):
    """Codes shared by all subjects; the words are in the report's catalogue under the same names."""

    GATHERED = "core.gathered"
    # Arithmetic and phases
    DIVISOR_MAY_BE_NOUGHT = "core.divisor_may_be_nought"
    JOINED = "core.joined"
    AIRBORNE = "core.airborne"
    NOT_TOLD_WITHOUT = "core.not_told_without"
    NEVER_AIRBORNE = "core.never_airborne"
    FROM_CHANNELS = "core.from_channels"
    ENDS_LESS_SHARP = "core.ends_less_sharp"
    HEIGHT = "core.height"
    GROUND_SPEED = "core.ground_speed"
    SPEED_AND_HEIGHT = "core.speed_and_height"
    LOG_ALTITUDE = "core.log_altitude"
    LOG_SPEED = "core.log_speed"
    LOG_GPS = "core.log_gps"
    AIRBORNE_BY_POWER = "core.airborne_by_power"
    AIRBORNE_NOT_TOLD = "core.airborne_not_told"
    # Parts of a log that the aircraft's file does not name
    UNSETTLED_PART = "core.unsettled_part"
    UNSETTLED_COST = "core.unsettled_cost"
    UNSETTLED_REMEDY = "core.unsettled_remedy"
    # What happened in the same moment
    GEAR_DOWN = "core.gear_down"
    GEAR_UP = "core.gear_up"
    BRAKES_ON = "core.brakes_on"
    FLAPS_MOVING = "core.flaps_moving"
    SURFACES_WORKING = "core.surfaces_working"
    ENGINE_START = "core.engine_start"
    LOAD = "core.load"
    # Doubtful samples
    IMPOSSIBLE_SAMPLES = "core.impossible_samples"
    NO_FIX = "core.no_fix"
    COUNT_LEAPT = "core.count_leapt"
    COUNT_FELL = "core.count_fell"
    SPIKES = "core.spikes"
    STUCK = "core.stuck"
    SATURATED = "core.saturated"
    # Where the pilot stood
    PILOT_ENTERED = "core.pilot_entered"
    PILOT_FROM_BEFORE = "core.pilot_from_before"
    PILOT_FROM_AFTER = "core.pilot_from_after"
    PILOT_FROM_BEGIN = "core.pilot_from_begin"
    # Which way the airframe pointed
    ATTITUDE_LOGGED = "core.attitude_logged"
    ATTITUDE_DERIVED = "core.attitude_derived"
    ATTITUDE_PARTLY = "core.attitude_partly"
    ANGLE_HEADING = "core.angle_heading"
    ANGLE_PITCH = "core.angle_pitch"
    ANGLE_ROLL = "core.angle_roll"
    HEADING_FROM_TRACK = "core.heading_from_track"
    PITCH_FROM_CLIMB = "core.pitch_from_climb"
    ROLL_FROM_TURNS = "core.roll_from_turns"
    # Why a direction is not known
    NO_ATTITUDE = "core.no_attitude"
    NO_POSITION = "core.no_position"
    NO_HEIGHT = "core.no_height"
    SLOW_FLIGHT = "core.slow_flight"
    STEEP = "core.steep"
    PULLS = "core.pulls"
    TIGHT_TURN = "core.tight_turn"
    ROLLS = "core.rolls"
    # Trends
    TREND_NEEDS = "core.trend_needs"
    THEIL_SEN = "core.theil_sen"


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
