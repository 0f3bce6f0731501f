"""Files on their way in: streamed to a temporary folder, looked at, and imported or thrown away.

A batch is what was dropped together. Names come from a browser and are only ever shown: files are stored under
numbers, and a batch is found by looking for its name among those there are.
"""

from __future__ import annotations

import re
import secrets
import shutil
from collections.abc import AsyncIterator
from pathlib import Path, PurePosixPath

from msgspec import Struct, field

from importers.table.source import Source as Origin
from reports.words.catalogue import message
from spooldown.intake.adding import LOG_SUFFIXES, LogFile
from spooldown.problems import UsageProblem

MOST_FILES = 2_000
MOST_BYTES = 8 << 30
"""What one batch may hold."""


class Arrival(Struct):
    """One file of a batch: where it lies and what it was called."""

    path: Path
    name: str
    size: int


class Batch(Struct):
    """What was dropped together, and what has been said of it so far.

    ``columns``, ``units`` and ``answers`` are kept by layout (the fingerprint of its headings).
    """

    folder: Path
    name: str = field(default_factory=lambda: secrets.token_hex(8))
    files: list[Arrival] = field(default_factory=list)
    answers: dict[str, dict[str, str]] = field(default_factory=dict)
    columns: dict[str, dict[str, str]] = field(default_factory=dict)
    units: dict[str, dict[str, str]] = field(default_factory=dict)
    remember: dict[str, str] = field(default_factory=dict)
    """The name to remember a layout's columns under, by layout."""
    aircraft: str = ""
    join: bool = False
    offsets: dict[int, float] = field(default_factory=dict)
    """Seconds to add to the time of each file after the first, where somebody said so."""
    again: set[int] = field(default_factory=set)
    """Files by number whose flights are there and shall be read again."""
    _origins: dict[Path, Origin] = field(default_factory=dict)

    @property
    def size(self) -> int:
        """Bytes so far."""
        return sum(f.size for f in self.files)

    def origin(self, file: LogFile) -> Origin:
        """The file as the importer reads it; kept, so that its content is hashed once."""
        return self._origins.setdefault(file.path, Origin(file.path, file.name))

    def logs(self) -> list[LogFile]:
        """The files as the importer takes them."""
        return [LogFile(f.path, f.name) for f in self.files]


class Incoming:
    """Every batch of a running desk."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._batches: dict[str, Batch] = {}

    def begin(self) -> Batch:
        """Begin a batch."""
        batch = Batch(self.folder)
        batch.folder = self.folder / batch.name
        batch.folder.mkdir(parents=True)
        self._batches[batch.name] = batch
        return batch

    def get(self, name: str) -> Batch | None:
        """The batch of that name."""
        return self._batches.get(name)

    def drop(self, batch: Batch) -> None:
        """Throw a batch away."""
        self._batches.pop(batch.name, None)
        shutil.rmtree(batch.folder, ignore_errors=True)

    async def take(self, batch: Batch, name: str, chunks: AsyncIterator[bytes]) -> Arrival:
        """Stream one file in, in bounded memory; a file that does not arrive whole is not kept.

        Raises
        ------
        UsageProblem
            If the batch holds too much, or the disk is full.
        """
        shown = shown_name(name)
        if len(batch.files) >= MOST_FILES:
            raise UsageProblem(message("desk.refused.most_files", name=shown, most=MOST_FILES))
        # The ending tells an archive from a text; nothing else of the name is used on the disk.
        ending = next((s for s in LOG_SUFFIXES if shown.lower().endswith(s)), ".csv")
        path = batch.folder / f"{len(batch.files):05d}{secrets.token_hex(4)}{ending}"
        size = 0
        try:
            with path.open("wb") as file:
                async for chunk in chunks:
                    size += len(chunk)
                    if batch.size + size > MOST_BYTES:
                        raise UsageProblem(message("desk.refused.most_bytes", name=shown, most=MOST_BYTES >> 30))
                    file.write(chunk)
        except OSError as error:
            path.unlink(missing_ok=True)
            raise UsageProblem(
                message("desk.refused.not_taken", name=shown, why=error.strerror or str(error))
            ) from error
        except BaseException:
            path.unlink(missing_ok=True)
            raise
        arrival = Arrival(path, shown, size)
        batch.files.append(arrival)
        return arrival


def shown_name(name: str) -> str:
    r"""Reduce a file's name to what is shown: the last parts of its path, on one line, without control characters.

    Examples
    --------
    >>> shown_name("../../etc/pass\nwd.csv")
    'etc/pass wd.csv'
    """
    plain = re.sub(r"[\x00-\x1f\x7f-\x9f\u200b-\u200f\u202a-\u202e\u2060-\u2069\ufeff]+", " ", name.replace("\\", "/"))
    parts = [p.strip() for p in PurePosixPath(plain).parts if p.strip(". /")]
    return "/".join(parts[-2:])[-120:] or "log.csv"
