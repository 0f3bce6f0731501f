"""What may be said of any subject: codes of findings that belong to no single one."""

from __future__ import annotations

from enum import StrEnum


class CoreCode(StrEnum):
    """Codes shared by all subjects; the words are in the report's catalogue under the same names."""

    DIVISOR_MAY_BE_NOUGHT = "core.divisor_may_be_nought"
    JOINED = "core.joined"
