"""Where the logbook is, and what the exit codes mean."""

from __future__ import annotations

import os
from enum import IntEnum
from pathlib import Path

LOGBOOK_VARIABLE = "SPOOLDOWN_LOGBOOK"
"""Environment variable that names the logbook folder."""


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


def logbook_folder(given: Path | None) -> Path:
    """Where the logbook is: as given (option or environment), else the user's data folder of this system.

    Raises
    ------
    UsageProblem
        If the folder's name holds bytes that are no UTF-8: files in it could not be named to other programs.
    """
    if given is not None:
        place = Path(os.path.expanduser(given))
        try:
            os.fspath(place.absolute()).encode()
        except UnicodeEncodeError as error:
            from spooldown.problems import UsageProblem

            raise UsageProblem("usage.folder_name", folder=str(place)) from error
        return place
    from platformdirs import user_data_path

    return user_data_path("spooldown", appauthor=False) / "logbook"
