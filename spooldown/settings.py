"""Where the logbook is."""

from __future__ import annotations

import os
from pathlib import Path

from spooldown.problems import UsageProblem

LOGBOOK_VARIABLE = "SPOOLDOWN_LOGBOOK"
"""Environment variable that names the logbook folder."""


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
            raise UsageProblem("usage.folder_name", folder=str(place)) from error
        return place
    from platformdirs import user_data_path

    return user_data_path("spooldown", appauthor=False) / "logbook"
