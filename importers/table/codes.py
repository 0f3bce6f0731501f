"""What the reading of a file's bytes and table has to say; the words are in the report's catalogue."""

from __future__ import annotations

from enum import StrEnum

from importers.refusal import Refused


class TableRefused(Refused):
    """Why a file is refused."""

    NO_FILE = "import.table.no_file"
    CANNOT_OPEN = "import.table.cannot_open"
    OFFICE = "import.table.office"
    ARCHIVE_OF_SEVERAL = "import.table.archive_of_several"
    ARCHIVE_UNREADABLE = "import.table.archive_unreadable"
    EXPANDS_WITHOUT_END = "import.table.expands_without_end"
    UNREADABLE = "import.table.unreadable"
    STREAM_WITHOUT_END = "import.table.stream_without_end"
    NO_ROOM = "import.table.no_room"
    NO_TEXT = "import.table.no_text"
    LINE_WITHOUT_END = "import.table.line_without_end"
    EMPTY = "import.table.empty"
    ARCHIVE_IN_ARCHIVE = "import.table.archive_in_archive"
    NO_TABLE = "import.table.no_table"
    NO_ROW = "import.table.no_row"
    NO_HEADER = "import.table.no_header"
    LONG_HEADING = "import.table.long_heading"
    FIELDS_DIFFER = "import.table.fields_differ"
    TWO_DECIMAL_MARKS = "import.table.two_decimal_marks"
    TURNED_WITHOUT_TIME = "import.table.turned_without_time"
    TOO_LARGE_TO_REWRITE = "import.table.too_large_to_rewrite"


class PathCode(StrEnum):
    """What a path is that is no plain file."""

    LOST_LINK = "import.path.lost_link"
    MISSING = "import.path.missing"
    NOT_FOLLOWED = "import.path.not_followed"
    FOLDER = "import.path.folder"
    PIPE = "import.path.pipe"
    SOCKET = "import.path.socket"
    DEVICE = "import.path.device"


class ContentCode(StrEnum):
    """What bytes are that are no table of text."""

    PICTURE = "import.content.picture"
    PDF = "import.content.pdf"
    PROGRAM = "import.content.program"
    DATABASE = "import.content.database"
    PARQUET = "import.content.parquet"
    OFFICE = "import.content.office"
    ARCHIVE = "import.content.archive"
    WEB_PAGE = "import.content.web_page"
    XML = "import.content.xml"
    JSON = "import.content.json"
    BINARY = "import.content.binary"


class TableCode(StrEnum):
    """How a table is written."""

    MARK_IN_COLUMN = "import.dialect.mark_in_column"
    # How a file was rewritten as a table of rows
    UNWRAPPED = "import.dialect.unwrapped"
    TURNED = "import.dialect.turned"
    TITLED = "import.dialect.titled"
    BESIDE = "import.dialect.beside"
    NAMED = "import.dialect.named"
    NUMBERED = "import.dialect.numbered"
