"""The logbook folder: what is in it, and the only way anything gets in.

Reading opens the catalogue read-only. Every change is one SQLite transaction with one writer at a time. A flight's
telemetry file is written under a temporary name and flushed, its row committed, and only then the file gets its name;
what a crash in between leaves is told apart by whether there is a row (:mod:`spooldown.logbook.unknown`). A file's
flights are committed together.

``reading`` is all that can be asked; ``writing`` the one writer's transaction; ``imports``, ``entries`` and ``removal``
are what changes a logbook, each by that transaction; ``logbook`` puts them together.
"""

from spooldown.logbook.book.cells import note_of
from spooldown.logbook.book.entries import TEXT, digest_of, lost_texts, texts_of
from spooldown.logbook.book.logbook import Logbook
from spooldown.logbook.book.names import letters, slug
from spooldown.logbook.book.reading import damaged

__all__ = ["TEXT", "Logbook", "damaged", "digest_of", "letters", "lost_texts", "note_of", "slug", "texts_of"]
