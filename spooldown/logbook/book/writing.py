"""The one writer's transaction: the catalogue, the files of flights and the line of what was entered, all or none."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path

from spooldown.logbook import entered
from spooldown.logbook.book.reading import Reader
from spooldown.logbook.catalogue import connect, identity, spoken
from spooldown.logbook.schema import is_empty, migrate
from spooldown.logbook.unknown import give_name, is_left_over, parts_of, settle
from spooldown.problems import LogbookProblem

YOURS = frozenset({"register", "mappings", "limits"})
"""Folders of a logbook that may be there before it is one."""
JOURNAL = "DELETE"
"""How the catalogue is remembered as it was until a change is committed (SQLite's journal modes): on the disk."""


class Writer(Reader):
    """A logbook that can be changed; the first change creates it."""

    def __init__(self, folder: Path) -> None:
        self._journal = JOURNAL
        self._settled = self._stale = False
        self._added: list[str] = []  # flights whose file gets its name after the commit
        self._moved: list[tuple[Path, Path]] = []  # files moved, to be moved back where the commit fails
        self._entries: list[entered.Entry] = []
        super().__init__(folder)

    @contextmanager
    def writing(self) -> Iterator[sqlite3.Connection]:
        """Hold the one writer's transaction; an exception undoes everything, also the creation of the logbook."""
        if self._writing:
            yield self.db
            return
        from spooldown.logbook import store

        folders: list[Path] = []
        size: int | None = None
        with spoken(self.folder):
            try:
                self._begin(folders)
                self._writing = True
                migrate(self.db)
                if not self._settled:
                    self.said = settle(self.db, self.folder, write=True) or self.said
                size = entered.size_of(self.folder)
                yield self.db
                if self._added or self._moved:
                    store.flush_folder(self.flights_folder)
                if self._entries:
                    entered.append(self.db, self.folder, self._entries)
                self.db.execute("COMMIT")
                self._was_there = True
            except BaseException:
                if not self.db.in_transaction:  # SQLite undid it itself: an error of the disk, or no room
                    with suppress(sqlite3.Error):
                        self.db.execute("BEGIN IMMEDIATE")
                if self.db.in_transaction:
                    quicker = size is not None and not is_empty(self.db) and entered.seen(self.db) > size
                    self._take_back(None if quicker else size)  # before anyone else may write
                    with suppress(sqlite3.Error):
                        self.db.execute("ROLLBACK")
                self._uncreate(folders)
                raise
            finally:
                self._writing = False
                added, self._added, self._moved, self._entries, self._settled = self._added, [], [], [], False
                stale, self._stale = self._stale, False
            self._settled = self._name(added) and not stale

    def enter(self, entry: entered.Entry) -> None:
        """Enter one thing, in the catalogue and beside it."""
        entered.enter(self.db, entry)
        self._entries.append(entry)

    def settle_again(self) -> None:
        """Have the next change bring files and rows together anew, as on opening."""
        self._stale = True

    def still_there(self) -> None:
        """Make sure that the folder has not gone since it was opened, as a share does whose line broke.

        Raises
        ------
        LogbookProblem
            If it has: what was to be written would make another logbook in its place.
        """
        with spoken(self.folder):
            gone = not self.folder.is_dir() if self._was_there else identity(self._ground) != self._stood_on
        if gone:
            raise LogbookProblem("logbook.vanished", folder=str(self.folder))

    def _begin(self, folders: list[Path]) -> None:
        """Begin the one writer's transaction on the catalogue that is in the folder now; adds the folders it makes.

        Another process may have made one since we found none, or taken an empty one away while we waited.
        """
        while True:
            if self._identity is None or self._identity != identity(self.catalogue):
                folders += self._create()
            if self._journal != JOURNAL:
                self.db.execute(f"PRAGMA journal_mode = {self._journal}")
            self.db.execute("BEGIN IMMEDIATE")
            if self._identity == identity(self.catalogue):
                return
            self.db.execute("ROLLBACK")

    def _create(self) -> list[Path]:
        """Make the folder a logbook if it is none, and open it; returns the folders that were not there before."""
        self.still_there()
        made = [p for p in (self.folder, *self.folder.parents) if not p.exists()]
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            there = [] if self.exists else list(self.folder.iterdir())
            foreign = [p.name for p in there if p.name not in YOURS and not is_left_over(p)]
        except OSError as error:
            raise LogbookProblem("logbook.folder_unusable", folder=str(self.folder), why=error.strerror) from error
        if foreign:
            raise LogbookProblem("logbook.foreign", folder=str(self.folder), file=sorted(foreign)[0])
        self.db.close()
        self.db = connect(self.catalogue, write=True)
        self._identity = identity(self.catalogue)
        return made

    def _uncreate(self, folders: list[Path]) -> None:
        """Take a catalogue away again that never held anything, and the folders made for it."""
        with suppress(sqlite3.Error, OSError):
            if not is_empty(self.db):
                return
            try:
                self.db.execute("BEGIN EXCLUSIVE")  # whoever waits for it sees that the file has gone
            except sqlite3.OperationalError as error:
                if "full" not in str(error):  # on a full disk nobody else can have begun anything
                    raise
            if is_empty(self.db):
                self.catalogue.unlink()
        self.db.close()
        with suppress(OSError, sqlite3.Error, LogbookProblem):  # what made the change fail is told
            self._open_to_read()
        for folder in (self.flights_folder, *folders):
            with suppress(OSError):
                folder.rmdir()

    def _name(self, added: Sequence[str]) -> bool:
        """Give committed files their names; returns whether nothing is left for the next writer to settle."""
        from spooldown.logbook.store import flush_folder

        pairs = list(parts_of(self.flights_folder, added))
        for part, final in pairs:
            with suppress(OSError):
                give_name(part, final)
        if pairs:
            with suppress(OSError):
                flush_folder(self.flights_folder)
        return not any(part.exists() for part, _ in pairs)

    def _take_back(self, entered_bytes: int | None) -> None:
        """Drop what was to be added, put back what was moved, cut off what was entered.

        ``None`` where nothing was entered, or where another writer was quicker and has taken the line in.
        """
        for part, _ in parts_of(self.flights_folder, self._added):
            with suppress(OSError):
                part.unlink()
        for here, there in reversed(self._moved):
            with suppress(OSError):
                os.replace(there, here)
        if entered_bytes is not None and entered.size_of(self.folder) > entered_bytes:
            entered.take_back(self.folder, entered_bytes)

    def _move(self, here: Path, there: Path) -> None:
        there.parent.mkdir(exist_ok=True)
        with suppress(FileNotFoundError):
            os.replace(here, there)
            self._moved.append((here, there))

    @contextmanager
    def _without_room(self) -> Iterator[None]:
        """Let a change that only takes away need no room: how the catalogue was is kept in memory until its commit."""
        self._journal = "MEMORY"
        try:
            yield
        finally:
            self._journal = JOURNAL
            with suppress(sqlite3.Error):
                self.db.execute(f"PRAGMA journal_mode = {JOURNAL}")
