"""Places on object storage by their address: told from a folder, opened, read.

Who may see what is the storage's matter: the access that the environment gives is used, and none is kept.
"""

from __future__ import annotations

import os
import re
from pathlib import Path
from typing import IO, Any, cast

_ADDRESS = re.compile(r"(s3|gs|gcs|abfs|abfss|hdfs|file):/+(.+)\Z", re.DOTALL)


def address_of(place: Path | str) -> str:
    """The address that a place names, '' for a folder; a path has lost one of its slashes.

    >>> address_of(Path("s3://club/logbook")), address_of("logbook")
    ('s3://club/logbook', '')
    """
    if not (found := _ADDRESS.match(os.fspath(place).replace("\\", "/"))):
        return ""
    scheme, rest = found.groups()
    return f"{scheme}:///{rest}" if scheme == "file" else f"{scheme}://{rest}"


def read_bytes(address: str) -> bytes:
    """Read one file by its address.

    Raises
    ------
    OSError
        If it is not there or may not be read.
    """
    with opened_at(address) as stream:
        return stream.read()


def opened_at(address: str) -> IO[bytes]:
    """Open one file by its address, to read it once.

    Raises
    ------
    OSError
        If it is not there or may not be read.
    """
    files, path = filesystem(address)
    return cast(IO[bytes], files.open_input_stream(path))


def filesystem(address: str) -> tuple[Any, str]:
    """The storage that an address is on, and the path there."""
    import pyarrow.fs as pafs

    files, path = pafs.FileSystem.from_uri(address)
    return files, path
