"""Only plain files are read in a logbook's folder: a pipe would wait for its writer, and a device never ends."""

from __future__ import annotations

import errno
import stat
from pathlib import Path


def plain(path: Path) -> Path:
    """The same path, where it may be opened to be read.

    Raises
    ------
    OSError
        If a pipe, a socket or a device is in the file's place, or nothing.
    """
    mode = path.stat().st_mode
    if not (stat.S_ISREG(mode) or stat.S_ISDIR(mode)):  # opening a folder fails by itself
        from importers.table.source import no_file

        raise OSError(errno.EINVAL, str(no_file(path)), str(path))
    return path
