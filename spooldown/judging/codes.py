"""Why a limits file is refused."""

from __future__ import annotations

from importers.refusal import Refused


class LimitsRefused(Refused):
    """What is wrong with a limits file; the words are in the catalogue under the same names."""

    UNREADABLE = "limits.refused.unreadable"
    EMPTY = "limits.refused.empty"
    NOT_UTF8 = "limits.refused.not_utf8"
    NO_TOML = "limits.refused.no_toml"
    UNKNOWN_KEY = "limits.refused.unknown_key"
    WRONG_KIND = "limits.refused.wrong_kind"
    OTHER_AIRCRAFT = "limits.refused.other_aircraft"
    NO_NAME = "limits.refused.no_name"
    NAMED_TWICE = "limits.refused.named_twice"
    SET_TWICE = "limits.refused.set_twice"
    ON_WHAT = "limits.refused.on_what"
    UNKNOWN_OF = "limits.refused.unknown_of"
    NO_NUMBER = "limits.refused.no_number"
    NOT_IN_ORDER = "limits.refused.not_in_order"
    CONTRADICT = "limits.refused.contradict"
    OTHER_UNIT = "limits.refused.other_unit"
    NO_CHOICE = "limits.refused.no_choice"
    NEGATIVE = "limits.refused.negative"
