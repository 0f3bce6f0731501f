"""Temporary folders: their names tell whose they are, so that those of killed processes can be taken away."""

from __future__ import annotations

import os
import shutil
import stat
import tempfile
import time
from contextlib import suppress
from pathlib import Path

OURS = "spooldown-"
"""What the names of our temporary folders begin with, before the number of the process."""
SETTLED_S = 60.0
"""A folder changed later than so long ago is left: what is left of its process may just be ending."""


def owned(name: str = OURS) -> str:
    """Begin a temporary folder's name so that it tells this process.

    Examples
    --------
    >>> owned() == f"spooldown-{os.getpid()}-"
    True
    """
    return f"{name}{os.getpid()}-"


def sweep(place: Path | None = None, name: str = OURS) -> None:
    """Take away what killed processes of this user left: folders named by :func:`owned`.

    Nothing is taken whose process lives, that somebody else owns, or that holds anything besides.

    Parameters
    ----------
    place : Path or None
        Where to look, the system's temporary folder where None.
    name : str
        What the names begin with.
    """
    if os.name != "posix":  # there a process cannot be asked whether it lives
        return
    with suppress(OSError):
        for entry in os.scandir(place or tempfile.gettempdir()):
            with suppress(OSError):
                if entry.name.startswith(name) and _is_left(entry, name):
                    shutil.rmtree(entry, ignore_errors=True)


def _is_left(entry: os.DirEntry[str], name: str) -> bool:
    found = entry.stat(follow_symlinks=False)
    old = time.time() - found.st_mtime > SETTLED_S
    if not old or found.st_uid != os.geteuid() or not stat.S_ISDIR(found.st_mode):
        return False
    return _is_dead(entry.name, name)


def _is_dead(called: str, name: str) -> bool:
    """Whether a name tells a process that is no more."""
    number = called.removeprefix(name).partition("-")[0]
    if not number.isdecimal():
        return False
    try:
        os.kill(int(number), 0)
    except ProcessLookupError:
        return True
    except (OSError, OverflowError):
        return False
    return False
