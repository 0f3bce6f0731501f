"""Only plain files are read in a logbook's folder: a pipe would wait for its writer, and a device never ends."""

from __future__ import annotations

import errno
import os
import stat
from pathlib import Path

from spooldown.problems import LogbookProblem


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


CLOSED = "logbook.folder_closed"


class FolderClosed(LogbookProblem):
    """A folder that may not be looked into: what is in it is not known, which is another thing than nothing."""

    @classmethod
    def of(cls, error: OSError) -> FolderClosed:
        """Make it of what the system says."""
        return cls(CLOSED, folder=str(error.filename), why=error.strerror or str(error))


def names_in(folder: Path) -> list[str]:
    """Names of what is in a folder, in no order; none where there is no such folder.

    ``Path.glob`` gives none of a folder that may not be looked into: its files would be taken for gone.

    Raises
    ------
    FolderClosed
        If the folder cannot be looked into.
    """
    try:
        return os.listdir(folder)
    except (FileNotFoundError, NotADirectoryError):
        return []
    except OSError as error:
        raise FolderClosed.of(error) from error


def below(folder: Path) -> tuple[list[Path], list[FolderClosed]]:
    """Everything in a folder and in those below it, links not followed; and which of them may not be looked into.

    Raises
    ------
    FolderClosed
        If the folder itself cannot be looked into.
    """
    names_in(folder)
    closed: list[OSError] = []
    found = [
        Path(place, name)
        for place, folders, names in os.walk(folder, onerror=closed.append)
        for name in sorted((*folders, *names))
    ]
    gone = (FileNotFoundError, NotADirectoryError)
    return found, [FolderClosed.of(error) for error in closed if not isinstance(error, gone)]


def files_in(folder: Path, ending: str) -> list[Path]:
    """Paths in a folder by name, of names that end so; as :func:`names_in` does, without hidden ones."""
    return [folder / name for name in sorted(names_in(folder)) if name.endswith(ending) and not name.startswith(".")]
