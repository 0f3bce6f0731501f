"""What is said of a whole file's columns; the words are in the report's catalogue."""

from __future__ import annotations

from enum import StrEnum

from importers.refusal import Refused


class LayoutRefused(Refused):
    """Why columns, a correction or a saved mapping are refused."""

    TWO_UNITS = "import.layout.two_units"
    OTHER_KIND = "import.layout.other_kind"
    UNKNOWN_CHANNEL = "import.layout.unknown_channel"
    UNKNOWN_UNIT = "import.layout.unknown_unit"
    MAPPING_UNREADABLE = "import.mapping.unreadable"
    MAPPING_KEY = "import.mapping.key"
    MAPPING_TABLE = "import.mapping.table"
    MAPPING_CHANNEL = "import.mapping.channel"
    MAPPING_ANSWER = "import.mapping.answer"
    MAPPING_UNIT = "import.mapping.unit"


class LayoutCode(StrEnum):
    """Why a column is what it is, and what must be asked."""

    MAPPED = "import.layout.mapped"
    AS_SAID = "import.layout.as_said"
    ALSO = "import.layout.also"
    NO_VALUE = "import.layout.no_value"
    HOLDS_TEXT = "import.layout.holds_text"
    FALLS = "import.layout.falls"
    TOO_LONG = "import.layout.too_long"
    MAY_BE_REMAINING = "import.layout.may_be_remaining"
    MAY_BE_USED = "import.layout.may_be_used"
    SIGNED_BESIDE = "import.layout.signed_beside"
    REMAINING_AS_SAID = "import.layout.remaining_as_said"
    LEFT_AS_SAID = "import.layout.left_as_said"
    OTHER_COLUMN = "import.layout.other_column"
    PAIR = "import.layout.pair"
    PART_AS_SAID = "import.layout.part_as_said"
    # What the columns of one file say of each other
    AGREE = "import.layout.agree"
    DISAGREE = "import.layout.disagree"
    ALL_AT_REST = "import.layout.all_at_rest"
    STANDS_STILL = "import.layout.stands_still"
    UNLIKE_IN_USE = "import.layout.unlike_in_use"
    UNLIKE_ITS_COUNTERPART = "import.layout.unlike_its_counterpart"
    FROM_THE_GROUND = "import.layout.from_the_ground"
    SUM_OF_OTHERS = "import.layout.sum_of_others"
    HELD_EVEN = "import.layout.held_even"
    NOSE_OR_WAY = "import.layout.nose_or_way"
    OF_THE_SHAFT = "import.layout.of_the_shaft"
    MAKE_UP_THE_PACK = "import.layout.make_up_the_pack"
    BESIDE_THE_PACK = "import.layout.beside_the_pack"
    OTHER_PUMP = "import.layout.other_pump"
    UNIT_BY_OTHERS = "import.layout.unit_by_others"
    CHANGED_PLACES = "import.layout.changed_places"
    OTHERS_ARE_WRONG = "import.layout.others_are_wrong"
    # Several columns under one heading
    NTH_OF_HEADING = "import.layout.nth_of_heading"
    MAY_BE_OF_ANOTHER = "import.layout.may_be_of_another"
    QUANTITY_BY_VALUES = "import.layout.quantity_by_values"
    QUANTITY_GUESSED = "import.layout.quantity_guessed"
    SAME_VALUES = "import.layout.same_values"
    OTHER_UNIT_OF = "import.layout.other_unit_of"
    # Columns of another one's measurement
    EXTREME_OF = "import.layout.extreme_of"
    SETTING_OF = "import.layout.setting_of"
    SMOOTHED_FROM = "import.layout.smoothed_from"
    GOODNESS_OF = "import.layout.goodness_of"
    COUNTS_OF = "import.layout.counts_of"
    CORRECTED_FROM = "import.layout.corrected_from"
    # Questions
    ASK_UNIT = "import.layout.ask_unit"
    ASK_UNITS = "import.layout.ask_units"
    ASK_UNIT_BESIDE = "import.layout.ask_unit_beside"
    ASK_UNIT_MAPPED = "import.layout.ask_unit_mapped"
    ASK_LEFT = "import.layout.ask_left"
    ASK_WHICH_COLUMN = "import.layout.ask_which_column"
    ASK_DOUBTFUL = "import.layout.ask_doubtful"
    DOUBTFUL_COLUMN = "import.layout.doubtful_column"
    # A log beside its aircraft's file
    PART_NOT_IN_FILE = "import.layout.part_not_in_file"
    # A saved mapping and a file that differs a little
    MAPPING_DIFFERS = "import.mapping.differs"
    MAPPING_MISSING = "import.mapping.missing"
    MAPPING_NEW = "import.mapping.new"
    MAPPING_MOVED = "import.mapping.moved"
    # Answers that no file has a use for
    ANSWER_VALUE = "import.answer.value"
    ANSWER_HEADING = "import.answer.heading"
    ANSWER_KEY = "import.answer.key"
    A_CORRECTION = "import.answer.correction"
