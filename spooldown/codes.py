"""Codes of refused files that describe aircraft and packs; the words are in the catalogue under the same names."""

from __future__ import annotations

from enum import StrEnum

from importers.refusal import Refused


class RegisterRefused(Refused):
    """Why a file of the register is refused."""

    NO_UTF8 = "register.no_utf8"
    NO_TOML = "register.no_toml"
    EMPTY = "register.empty"
    STRAY_PART = "register.stray_part"
    TWICE = "register.twice"
    UNKNOWN_KEY = "register.unknown_key"
    NO_TABLE = "register.no_table"
    KEY_MISSING = "register.key_missing"
    DO_NOT_FIT = "register.do_not_fit"
    NO_CHOICE = "register.no_choice"
    NO_LIST = "register.no_list"
    ITEMS = "register.items"
    NOT_FINITE = "register.not_finite"
    OUT_OF_BOUNDS = "register.out_of_bounds"
    NO_NAME = "register.no_name"
    UNFIT_NAME = "register.unfit_name"
    WRONG_KIND = "register.wrong_kind"


class ValueCode(StrEnum):
    """What a value in a TOML file is."""

    TRUTH = "register.kind.truth"
    WHOLE = "register.kind.whole"
    NUMBER = "register.kind.number"
    TEXT = "register.kind.text"
    LIST = "register.kind.list"
    TABLE = "register.kind.table"
    DAY = "register.kind.day"
    OTHER = "register.kind.other"
    ENDLESS_NESTING = "register.endless_nesting"
    ENDLESS_NUMBER = "register.endless_number"
