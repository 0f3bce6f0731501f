"""Codes of refused sheets and of single cells; the words are in the catalogue under the same names."""

from __future__ import annotations

from importers.refusal import Refused


class SheetRefused(Refused):
    """Why a filled-in sheet, or one cell of it, is refused."""

    NO_TEXT = "sheet.no_text"
    NO_TABLE = "sheet.no_table"
    UNKNOWN_COLUMN = "sheet.unknown_column"
    COLUMN_TWICE = "sheet.column_twice"
    COLUMN_MISSING = "sheet.column_missing"
    TOO_MANY_CELLS = "sheet.too_many_cells"
    UNKNOWN_NAME = "sheet.unknown_name"
    NO_NUMBER = "sheet.no_number"
    EMPTY_CELL = "sheet.empty_cell"
    NO_CHOICE = "sheet.no_choice"
    # Field sheets
    FLIGHT_TWICE = "sheet.flight_twice"
    NO_FLIGHT = "sheet.no_flight"
    NO_LOG_FILE = "sheet.no_log_file"
    NEVER_IMPORTED = "sheet.never_imported"
    SEVERAL_LOGS = "sheet.several_logs"
    SEVERAL_FLIGHTS = "sheet.several_flights"
    # Range checks
    NO_CHECK = "sheet.no_check"
    NO_AIRCRAFT = "sheet.no_aircraft"
    OTHER_AIRCRAFT = "sheet.other_aircraft"
    NO_DAY = "sheet.no_day"
    DAY_TO_COME = "sheet.day_to_come"
    NO_ANTENNA = "sheet.no_antenna"
    OTHER_ANTENNA = "sheet.other_antenna"
