"""Compiled templates and parsed texts, kept from one run to the next in the user's own cache folder.

Making those of a build takes most of a second; they are read back in a few milliseconds. They are code: they are taken
only from a file of this user's that nobody else can write, made by this very program.
"""

from __future__ import annotations

import hashlib
import marshal
import os
import secrets
import stat
import sys
from collections.abc import Callable
from contextlib import suppress
from functools import cache
from importlib import metadata
from pathlib import Path
from typing import Any, TypeVar, cast

from jinja2 import BytecodeCache
from jinja2.bccache import Bucket
from platformdirs import user_cache_path

T = TypeVar("T")
ENDING = ".templates"
PACKAGES = ("analyser", "importers", "reports", "spooldown")
MOST = 4
"""Programs whose templates stay: several may be installed beside each other."""


class Compiled(BytecodeCache):
    """The code of every template that this program compiled, in one file.

    Parameters
    ----------
    folder : Path
        Made where something is to be kept.
    version : str
        Changes with the program: what another one compiled is not taken.
    """

    def __init__(self, folder: Path, version: str) -> None:
        self._folder = folder
        self.path = folder / f"{version}-{metadata.version('jinja2')}-{sys.implementation.cache_tag}{ENDING}"
        self._codes: dict[str, bytes] = self._read()
        self._new = False

    def kept(self, name: str, make: Callable[[], T]) -> T:
        """What takes long to make, made only where it is not kept; plain lists, mappings, texts and numbers."""
        if name in self._codes:
            with suppress(ValueError, EOFError, TypeError):
                found: T = marshal.loads(self._codes[name])  # see _read  # nosec B302
                return found
        made = make()
        self._codes[name] = marshal.dumps(cast(Any, made))
        self._new = True
        return made

    def load_bytecode(self, bucket: Bucket) -> None:
        """Give a template its code, where it is kept."""
        if (code := self._codes.get(bucket.key)) is not None:
            bucket.bytecode_from_string(code)

    def dump_bytecode(self, bucket: Bucket) -> None:
        """Keep a template's code until :meth:`save`."""
        self._codes[bucket.key] = bucket.bytecode_to_string()
        self._new = True

    def save(self) -> None:
        """Write what is new; where that is not possible it is compiled again the next time."""
        if not self._new:
            return
        self._new = False
        part = self.path.with_name(f".{secrets.token_hex(6)}.part")
        with suppress(OSError):
            self._folder.mkdir(parents=True, exist_ok=True, mode=0o700)
            self._codes = self._read() | self._codes  # another process may have kept others meanwhile
            try:
                with open(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
                    file.write(marshal.dumps(self._codes))
                os.replace(part, self.path)
            except OSError:
                part.unlink(missing_ok=True)
                raise
            for other in sorted(self._folder.glob(f"*{ENDING}"), key=lambda p: p.stat().st_mtime)[:-MOST]:
                other.unlink()

    def _read(self) -> dict[str, bytes]:
        try:
            with self.path.open("rb") as file:
                if not _own(os.fstat(file.fileno())):
                    return {}
                found = marshal.loads(file.read())  # a file of this user's own, as Python's compiled modules are  # nosec B302
        except (OSError, ValueError, EOFError, TypeError):
            return {}
        return found if isinstance(found, dict) else {}


def _own(found: os.stat_result) -> bool:
    """Whether a file is this user's, and nobody else may write it."""
    if not hasattr(os, "getuid"):
        return True
    return found.st_uid == os.getuid() and not found.st_mode & (stat.S_IWGRP | stat.S_IWOTH)


@cache
def compiled() -> Compiled:
    """The one store of this process."""
    place = Path(__file__).parent.parent.parent
    digest = hashlib.sha256(str(place).encode("utf-8", "surrogateescape"))
    for folder, _, names in (found for package in PACKAGES for found in os.walk(place / package)):
        for name in sorted(names):
            if name.endswith((".py", ".toml", ".html")):
                found = os.stat(os.path.join(folder, name))
                digest.update(f"{folder} {name} {found.st_mtime_ns} {found.st_size}".encode("utf-8", "surrogateescape"))
    return Compiled(user_cache_path("spooldown", appauthor=False) / "templates", digest.hexdigest()[:16])
