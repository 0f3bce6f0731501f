"""What is said of a column and its unit; the words are in the report's catalogue."""

from __future__ import annotations

from enum import StrEnum


class MeaningCode(StrEnum):
    """What a column is taken for and why, and what speaks against it."""

    CHANNEL_NAME = "import.meaning.channel_name"
    TAKEN = "import.meaning.taken"
    # The unit
    UNIT_SAID = "import.meaning.unit_said"
    COUNT = "import.meaning.count"
    NEGATIVE = "import.meaning.negative"
    UNIT_NOT_SAID = "import.meaning.unit_not_said"
    UNIT_BY_VALUES = "import.meaning.unit_by_values"
    UNIT_NOT_CLEAR = "import.meaning.unit_not_clear"
    UNIT_TAKEN = "import.meaning.unit_taken"
    UNIT_TAKEN_BY_VALUES = "import.meaning.unit_taken_by_values"
    # Doubts
    NOT_UNDERSTOOD = "import.meaning.not_understood"
    NOT_HERE = "import.meaning.not_here"
    UNUSUAL_VALUES = "import.meaning.unusual_values"
    IMPOSSIBLE_VALUES = "import.meaning.impossible_values"
    NOT_IN_USE = "import.meaning.not_in_use"
    OTHER_SYSTEM_PERHAPS = "import.meaning.other_system_perhaps"
    OTHER_NAME_PERHAPS = "import.meaning.other_name_perhaps"
    OTHER_CHANNEL_PERHAPS = "import.meaning.other_channel_perhaps"
    # Kept as it is
    KEPT = "import.meaning.kept"
    NO_CHANNEL = "import.meaning.no_channel"
    NO_CHANNEL_FITS = "import.meaning.no_channel_fits"
    LIMIT = "import.meaning.limit"
    WORKED_OUT = "import.meaning.worked_out"
    STATE = "import.meaning.state"
    OTHER_SYSTEM = "import.meaning.other_system"
    ELECTRIC = "import.meaning.electric"
    POWER = "import.meaning.power"
