"""What a script can tell from how a command ended."""

from __future__ import annotations

from enum import IntEnum


class ExitCode(IntEnum):
    """What a script can tell from how the command ended."""

    OK = 0
    BUG = 1
    USAGE = 2
    REFUSED = 3
    NOT_FOUND = 4
    QUESTION = 5
    LOGBOOK = 6
    PARTLY = 7
    INTERRUPTED = 130
    ENDED = 143


EXIT_CODES_TEXT = (
    "Exit codes: 0 done, 1 a fault in spooldown itself, 2 wrong usage, 3 input refused, 4 no such flight, pack, "
    "aircraft or logbook, 5 the file leaves a question open (see --answer), 6 the logbook cannot be used (busy, "
    "damaged or newer), 7 done, but some flights could not be worked out, 130 interrupted."
)
