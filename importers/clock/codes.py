"""What is said of a file's clock; the words are in the report's catalogue."""

from __future__ import annotations

from enum import StrEnum


class ClockCode(StrEnum):
    """How time is read, what was mended, and what must be asked."""

    # How the time of a row is read
    SECONDS = "import.clock.seconds"
    ELAPSED = "import.clock.elapsed"
    ELAPSED_BY_DECIMALS = "import.clock.elapsed_by_decimals"
    ELAPSED_BY_LENGTH = "import.clock.elapsed_by_length"
    UNIT_UNKNOWN = "import.clock.unit_unknown"
    SINCE_1970 = "import.clock.since_1970"
    SPREADSHEET_DAYS = "import.clock.spreadsheet_days"
    GPS_OF_WEEK = "import.clock.gps_of_week"
    GPS_WEEK = "import.clock.gps_week"
    STAMP = "import.clock.stamp"
    TIME_OF_DAY = "import.clock.time_of_day"
    MINUTES_SECONDS = "import.clock.minutes_seconds"
    WITH_DATE = "import.clock.with_date"
    FRAMES = "import.clock.frames"
    JULIAN = "import.clock.julian"
    ROWS = "import.clock.rows"
    ROWS_AT = "import.clock.rows_at"
    SPARSE = "import.clock.sparse"
    PIECES = "import.clock.pieces"
    WITH_MILLISECONDS = "import.clock.with_milliseconds"
    STEADIER = "import.clock.steadier"
    NEWEST_FIRST = "import.clock.newest_first"
    DAY_FIRST = "import.clock.day_first"
    DAY_FIRST_DOTS = "import.clock.day_first_dots"
    MONTH_FIRST = "import.clock.month_first"
    # When the log began
    FROM_LINE = "import.clock.from_line"
    FROM_FILE_NAME = "import.clock.from_file_name"
    # Where a flight begins
    RESET = "import.clock.reset"
    SILENCE = "import.clock.silence"
    # What was mended
    LATE = "import.clock.late"
    AGAIN = "import.clock.again"
    FAR = "import.clock.far"
    BETWEEN = "import.clock.between"
    SET_BACK = "import.clock.set_back"
    LEAPT = "import.clock.leapt"
    SET = "import.clock.set"
    CARRIED = "import.clock.carried"
    HOURS_SET = "import.clock.hours_set"
    SUMMER_TIME = "import.clock.summer_time"
    # Questions
    ASK_DATE_ORDER = "import.clock.ask_date_order"
    ASK_CLOCK = "import.clock.ask_clock"
    ASK_FRAMES = "import.clock.ask_frames"
    ASK_MINUTES = "import.clock.ask_minutes"
    ASK_TIME_OF_DAY = "import.clock.ask_time_of_day"
    ASK_UNNAMED = "import.clock.ask_unnamed"
    ASK_UNIT = "import.clock.ask_unit"
    ASK_UNIT_SAID = "import.clock.ask_unit_said"
    ASK_PACE = "import.clock.ask_pace"
    ASK_RATE = "import.clock.ask_rate"
