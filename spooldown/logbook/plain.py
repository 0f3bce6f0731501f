"""Only plain files are read in a logbook's folder: a pipe would wait for its writer, and a device never ends."""

from __future__ import annotations

import errno
import os
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


def files_in(folder: Path, ending: str) -> list[Path]:
    """Paths in a folder by name, of names that end so; none where there is no such folder.

    ``Path.glob`` gives none of a folder that may not be looked into: its files would be taken for gone.

    Raises
    ------
    OSError
        If the folder cannot be looked into.
    """
    try:
        names = os.listdir(folder)
    except (FileNotFoundError, NotADirectoryError):
        return []
    return [folder / name for name in sorted(names) if name.endswith(ending) and not name.startswith(".")]
