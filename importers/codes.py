"""What the importer says of a whole file; the words are in the report's catalogue."""

from __future__ import annotations

from enum import StrEnum

from importers.refusal import Refused


class PlanRefused(Refused):
    """Why a file is refused once its table is known."""

    OTHER_MAPPING = "import.plan.other_mapping"
    CLOCK_TURNS = "import.plan.clock_turns"
    CLOCK_STANDS_STILL = "import.plan.clock_stands_still"
    NO_CLOCK = "import.plan.no_clock"
    SPLIT_HEADINGS = "import.plan.split_headings"
    NO_VALUE = "import.plan.no_value"
    TEXT_FOR_NUMBERS = "import.plan.text_for_numbers"
    TITLED_TABLES = "import.plan.titled_tables"
    NO_CHANNEL = "import.plan.no_channel"
    UNKNOWN_ZONE = "import.plan.unknown_zone"
    TWO_DECIMAL_MARKS = "import.plan.two_decimal_marks"
    TIMES_DIFFER = "import.plan.times_differ"
    NO_SUCH_TIME = "import.plan.no_such_time"
    TIMES_UNREAD = "import.plan.times_unread"
    TWO_CLOCKS = "import.plan.two_clocks"
    SENSOR_TWICE = "import.plan.sensor_twice"
    HEADER_CHANGES = "import.plan.header_changes"
    ROWS_OF_KINDS = "import.plan.rows_of_kinds"


class ReadRefused(Refused):
    """Why a file is refused while its rows are read."""

    OPEN_QUESTION = "import.read.open_question"
    LONE_ROWS = "import.read.lone_rows"
    NO_ROW = "import.read.no_row"
    TOO_LONG = "import.read.too_long"


class PlanCode(StrEnum):
    """What the proposal of a file says."""

    ASK_DECIMAL = "import.plan.ask_decimal"
    LEFT_OUT = "import.plan.left_out"
    DROPPED = "import.plan.dropped"
    KEPT_AS_EXTRA = "import.plan.kept_as_extra"
    SIGNED_BY_LETTERS = "import.plan.signed_by_letters"
    UNIT_TAKEN = "import.plan.unit_taken"
    SIGN_AS_LOGGED = "import.plan.sign_as_logged"
    OTHER_CLOCK = "import.plan.other_clock"
    DATING_CLOCK = "import.plan.dating_clock"
    DATE = "import.plan.date"
    PART_OF_TIME = "import.plan.part_of_time"
    WHOSE_ROW = "import.plan.whose_row"


class ReadCode(StrEnum):
    """What reading a file mended, left out or found."""

    RAGGED = "import.read.ragged"
    CUT_LINE = "import.read.cut_line"
    MERGED = "import.read.merged"
    OF_OTHERS = "import.read.of_others"
    ALONE = "import.read.alone"
    UNTIMED = "import.read.untimed"
    UNREAD_CELLS = "import.read.unread_cells"
    UNREAD_VALUES = "import.read.unread_values"
    ZERO_BYTES = "import.read.zero_bytes"
    UNDECODED = "import.read.undecoded"
    DAMAGED_ARCHIVE = "import.read.damaged_archive"
    NEW_FLIGHT = "import.read.new_flight"
    NO_ZONE = "import.read.no_zone"
    STANDSTILL = "import.read.standstill"
    STANDSTILL_ENGINES_OFF = "import.read.standstill_engines_off"
    LONG_STANDSTILL = "import.read.long_standstill"
    # Where a flight's UTC is known from
    UTC_CLOCK_COLUMN = "import.read.utc_clock_column"
    UTC_COLUMN = "import.read.utc_column"
    UTC_CLOCK_AND_DAY = "import.read.utc_clock_and_day"
    UTC_FIRST_ROW = "import.read.utc_first_row"
    ZONE_UNKNOWN = "import.read.zone_unknown"
    # How logs of one flight are put on one clock
    OFFSET_ENTERED = "import.join.entered"
    OFFSET_BY_UTC = "import.join.by_utc"
    OFFSET_BY_CHANNELS = "import.join.by_channels"
