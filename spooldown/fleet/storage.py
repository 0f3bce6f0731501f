"""A logbook by its address on object storage, read only: the catalogue and the register as copies, flights from there.

Who may see whose flights is the storage's matter: the access that the environment gives is used, and none is kept.
"""

from __future__ import annotations

import hashlib
import os
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, Any

from spooldown.addresses import filesystem
from spooldown.logbook import bin, entered
from spooldown.logbook.book import Logbook
from spooldown.logbook.catalogue import CATALOGUE
from spooldown.logbook.unknown import ENDING, FLIGHTS
from spooldown.problems import LogbookProblem, NotFoundProblem

if TYPE_CHECKING:
    import sqlite3


TEXTS = ("register", "mappings", "limits")
"""Folders of a logbook that hold files a person may edit."""


class StoredLogbook(Logbook):
    """A logbook on object storage, opened to read.

    Parameters
    ----------
    address : str
        As pyarrow takes it: ``s3://bucket/folder``, ``gs://…``, ``abfs://…``.
    copies : Path or None
        Where copies of the catalogue and the register, and kept results, are; the user's cache folder where None.

    Raises
    ------
    NotFoundProblem
        If there is no logbook.
    LogbookProblem
        If the storage does not answer or refuses.
    """

    def __init__(self, address: str, copies: Path | None = None) -> None:
        self.address = address.rstrip("/")
        if copies is None:
            from platformdirs import user_cache_path

            name = hashlib.sha256(self.address.encode()).hexdigest()[:16]
            copies = user_cache_path("spooldown", appauthor=False) / "storage" / name
        with _spoken(self.address):
            self._copy(copies)
        super().__init__(copies)

    def telemetry_place(self, flight_id: str) -> Path | str:
        """Address of a flight's telemetry file."""
        return f"{self.address}/{FLIGHTS}/{flight_id}{ENDING}"

    def other_files(self) -> Iterator[tuple[str, Path | str]]:
        """What belongs to it besides the catalogue and the flights, by its name and its address."""
        import pyarrow.fs as pafs

        files, root = filesystem(self.address)
        names = []
        for folder in (*TEXTS, bin.FOLDER):
            for info in files.get_file_info(pafs.FileSelector(f"{root}/{folder}", allow_not_found=True)):
                ending = ENDING if folder == bin.FOLDER else ".toml"
                if info.type == pafs.FileType.File and info.base_name.endswith(ending):
                    names.append(f"{folder}/{info.base_name}")
        (told,) = files.get_file_info([f"{root}/{entered.FILE}"])
        if told.type == pafs.FileType.File and told.size:
            names.append(entered.FILE)
        for name in sorted(names):
            yield name, f"{self.address}/{name}"

    @contextmanager
    def writing(self) -> Iterator[sqlite3.Connection]:
        """Refuse: what is on object storage is read only.

        Raises
        ------
        LogbookProblem
            Always.
        """
        raise LogbookProblem("logbook.stored_read_only", address=self.address)
        yield  # type: ignore[unreachable]  # this makes it a generator, as its base is

    def _copy(self, copies: Path) -> None:
        import pyarrow.fs as pafs

        files, root = filesystem(self.address)
        (top,) = files.get_file_info([f"{root}/{CATALOGUE}"])
        if top.type != pafs.FileType.File:
            raise NotFoundProblem("problem.no_stored_logbook", address=self.address, catalogue=CATALOGUE)
        wanted = {CATALOGUE: top}
        for folder in TEXTS:
            for info in files.get_file_info(pafs.FileSelector(f"{root}/{folder}", allow_not_found=True)):
                if info.type == pafs.FileType.File and info.base_name.endswith(".toml"):
                    wanted[f"{folder}/{PurePosixPath(info.base_name).name}"] = info
        for name, info in wanted.items():
            _fetch(files, info, copies / name)
        for folder in TEXTS:
            for path in (copies / folder).glob("*.toml"):
                if f"{folder}/{path.name}" not in wanted:
                    path.unlink()


def _fetch(files: Any, info: Any, to: Path) -> None:
    """Copy one file, unless the copy is as new and as long."""
    from spooldown.logbook.store import write_whole

    when = info.mtime.timestamp() if isinstance(info.mtime, datetime) else 0.0
    if to.is_file() and to.stat().st_size == info.size and abs(to.stat().st_mtime - when) < 1e-3:
        return
    to.parent.mkdir(parents=True, exist_ok=True)
    with files.open_input_stream(info.path) as stream:
        write_whole(to, stream.read())
    # Storage tells whole seconds: of two changes within one, a copy of the first must not pass for the second.
    settled = when if abs(time.time() - when) > 2.0 else 0.0
    os.utime(to, (settled, settled))


@contextmanager
def _spoken(address: str) -> Iterator[None]:
    try:
        yield
    except (OSError, ValueError, NotImplementedError, ImportError) as error:
        what = " ".join(str(error).split())[:200]
        raise LogbookProblem("logbook.storage_unreadable", address=address, why=what) from error
