"""A whole logbook in one archive, and back: every file with its hash, verified before it counts.

The archive is a ZIP file that any program opens: the logbook's files as they are and ``manifest.json`` with the hash
and the size of each. Kept results and pages are left out: they are made again.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import shutil
import tempfile
import zipfile
import zlib
from collections.abc import Callable, Mapping
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import IO

from analyser.core.findings import Finding, say
from spooldown.addresses import opened_at
from spooldown.logbook import entered
from spooldown.logbook.book import Logbook
from spooldown.logbook.catalogue import CATALOGUE
from spooldown.logbook.plain import plain
from spooldown.logbook.store import flush_folder
from spooldown.logbook.unknown import ENDING, FLIGHTS
from spooldown.problems import LogbookProblem
from spooldown.scratch import owned, sweep

MANIFEST = "manifest.json"
FORMAT = "spooldown backup 1"
CHUNK = 1 << 20
_NAME = re.compile(
    rf"({re.escape(CATALOGUE)}|{re.escape(entered.FILE)}|(flights|bin)/[a-z0-9-]{{1,120}}\.parquet"
    r"|(register|mappings|limits)/[^/\\:\x00-\x1f]{1,120}\.toml)\Z"
)
"""What an archive may hold; anything else is none of ours."""

Progress = Callable[[str, int, int], None]


def back_up(book: Logbook, file: Path, *, progress: Progress | None = None) -> list[Finding]:
    """Write a logbook into one archive, read it back, and only then give it its name.

    Returns
    -------
    list of str
        What could not be taken along or is damaged, in plain sentences; the archive holds everything else.

    Raises
    ------
    LogbookProblem
        If the archive cannot be written, would take the place of something else, or does not read back as it was
        written.
    """
    if file.exists() and not file.is_file():
        raise LogbookProblem("backup.no_place", file=str(file))
    if not book.address and file.resolve().is_relative_to(book.folder.resolve()):
        raise LogbookProblem("backup.inside", file=str(file))
    if file.exists() and not _is_backup(file):
        raise LogbookProblem("backup.other_file", file=str(file))
    part = file.with_name(f"{file.name}.part")
    said: list[Finding] = []
    manifest: dict[str, list[object]] = {}
    try:
        catalogue, stored = book.at_one_moment()
        with zipfile.ZipFile(part, "w", zipfile.ZIP_STORED, allowZip64=True) as archive:
            archive.writestr(CATALOGUE, catalogue, zipfile.ZIP_DEFLATED)
            manifest[CATALOGUE] = [hashlib.sha256(catalogue).hexdigest(), len(catalogue)]
            for done, (flight_id, sha256) in enumerate(stored.items()):
                if progress:
                    progress(flight_id, done, len(stored))
                name = f"{FLIGHTS}/{flight_id}{ENDING}"
                try:
                    manifest[name] = _put(archive, name, book.telemetry_place(flight_id))
                except FileNotFoundError:
                    said.append(say("backup.flight_missing", flight=flight_id))
                except _Unreadable as error:
                    said.append(say("backup.file_unreadable", file=name, why=str(error)))
                else:
                    if manifest[name][0] != sha256:
                        said.append(say("backup.flight_damaged", flight=flight_id))
            for name, other in book.other_files():
                if not _NAME.match(name):
                    said.append(say("backup.foreign_file", file=name))
                    continue
                try:
                    manifest[name] = _put(archive, name, other, zipfile.ZIP_DEFLATED)
                except (FileNotFoundError, _Unreadable) as error:
                    said.append(say("backup.file_unreadable", file=name, why=str(error)))
            now = datetime.now(UTC).isoformat(timespec="seconds")
            archive.writestr(MANIFEST, json.dumps({"format": FORMAT, "made": now, "files": manifest}, indent=1))
        with part.open("rb+") as written:
            os.fsync(written.fileno())
        _verify(part)
        os.replace(part, file)
        flush_folder(file.resolve().parent)
    except OSError as error:
        raise LogbookProblem("backup.unwritable", file=str(file), why=str(error.strerror or error)) from error
    finally:
        with suppress(OSError):
            part.unlink()
    return said


def restore(file: Path, folder: Path, *, progress: Progress | None = None) -> int:
    """Unpack an archive into a new folder, verified file by file; returns how many flights it holds.

    Raises
    ------
    LogbookProblem
        If the archive is damaged or no backup, or the folder is not new. Then nothing is left of it.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise LogbookProblem("backup.folder_there", folder=str(folder))
    place: Path | None = None
    try:
        folder = folder.resolve()  # where a link leads
        manifest = _verify(file)
        folder.parent.mkdir(parents=True, exist_ok=True)
        sweep(folder.parent, f".{folder.name}.")  # what a restoring that was killed had unpacked
        place = Path(tempfile.mkdtemp(prefix=owned(f".{folder.name}."), dir=folder.parent))
        os.chmod(place, 0o755)  # as the folder of any logbook  # nosec B103
        with zipfile.ZipFile(file) as archive:
            for done, name in enumerate(manifest):
                if progress:
                    progress(name, done, len(manifest))
                target = place / name
                target.parent.mkdir(exist_ok=True)
                with target.open("wb") as out:
                    _hash(archive, name, manifest, out)
                    out.flush()
                    os.fsync(out.fileno())
        with Logbook(place) as book:
            count = len(book.flights())
        for inner in {p.parent for p in place.rglob("*")}:
            flush_folder(inner)
        if folder.exists():
            folder.rmdir()
        os.replace(place, folder)
        flush_folder(folder.parent)
    except OSError as error:
        raise LogbookProblem(
            "backup.not_restored", file=str(file), folder=str(folder), why=str(error.strerror or error)
        ) from error
    finally:
        if place is not None:
            shutil.rmtree(place, ignore_errors=True)
    return count


def _is_backup(file: Path) -> bool:
    """Whether a file is an archive that could be one of ours, so that a new one may take its place."""
    try:
        with zipfile.ZipFile(file) as archive:
            return MANIFEST in archive.namelist()
    except (OSError, zipfile.BadZipFile, ValueError, NotImplementedError):
        return False


class _Unreadable(Exception):
    """A file of the logbook that cannot be opened, told from an archive that cannot be written."""


def _put(archive: zipfile.ZipFile, name: str, place: Path | str, how: int = zipfile.ZIP_STORED) -> list[object]:
    """Copy one file, named by its path or its address, into the archive, hashed as it is read."""
    digest, size = hashlib.sha256(), 0
    try:
        opened = opened_at(place) if isinstance(place, str) else plain(place).open("rb")
    except FileNotFoundError:
        raise
    except OSError as error:
        raise _Unreadable(error.strerror or error) from error
    with opened as file:
        if isinstance(place, str):
            info = zipfile.ZipInfo(name, datetime.now().timetuple()[:6])
        else:
            info = zipfile.ZipInfo.from_file(place, name, strict_timestamps=False)
        info.compress_type = how
        with archive.open(info, "w") as out:
            while data := file.read(CHUNK):
                digest.update(data)
                size += len(data)
                out.write(data)
    return [digest.hexdigest(), size]


def _verify(file: Path) -> dict[str, tuple[str, int]]:
    """Read a whole archive against its manifest; returns the manifest.

    Raises
    ------
    LogbookProblem
        Naming the first thing that is not as it was written.
    """
    try:
        with zipfile.ZipFile(file) as archive:
            manifest = _manifest(archive, file)
            for name in manifest:
                _hash(archive, name, manifest)
    except (zipfile.BadZipFile, KeyError, ValueError, EOFError, NotImplementedError, RuntimeError, zlib.error) as error:
        raise LogbookProblem("backup.damaged", file=str(file), why=str(error)) from error
    return manifest


def _manifest(archive: zipfile.ZipFile, file: Path) -> dict[str, tuple[str, int]]:
    if archive.getinfo(MANIFEST).file_size > 1 << 28:
        raise ValueError(say("backup.list_too_long"))
    said = json.loads(archive.read(MANIFEST))
    if not isinstance(said, Mapping) or not str(said.get("format", "")).startswith("spooldown backup "):
        raise ValueError(say("backup.no_list"))
    if said["format"] != FORMAT:
        raise LogbookProblem("backup.other_format", file=str(file), found=str(said["format"]), wanted=FORMAT)
    files = said.get("files")
    if not isinstance(files, Mapping) or CATALOGUE not in files:
        raise ValueError(say("backup.no_catalogue"))
    out = {}
    for name, value in files.items():
        if not _NAME.match(name) or not isinstance(value, list) or len(value) != 2 or not isinstance(value[1], int):
            raise ValueError(say("backup.holds_other", file=name[:80]))
        out[name] = (str(value[0]), value[1])
    return out


def _hash(
    archive: zipfile.ZipFile, name: str, manifest: Mapping[str, tuple[str, int]], out: IO[bytes] | None = None
) -> None:
    """Read one file of an archive against its hash and size; never more of it than its size."""
    wanted, size = manifest[name]
    digest, seen = hashlib.sha256(), 0
    with archive.open(name) as inside:
        while data := inside.read(CHUNK):
            digest.update(data)
            seen += len(data)
            if seen > size:
                break
            if out:
                out.write(data)
    if seen != size or digest.hexdigest() != wanted:
        raise ValueError(say("backup.not_as_stored", file=name))
