"""Changes that can be taken back: what was there before is kept until the desk stops."""

from __future__ import annotations

import secrets
from collections import OrderedDict
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from msgspec import Struct, field

from spooldown.problems import UsageProblem

if TYPE_CHECKING:
    from spooldown.logbook.book import Logbook

KEPT = 100


class Change(Struct, frozen=True):
    """One change: how to take it back, and the page that shows it then."""

    back: Callable[[], None]
    to: str
    name: str = field(default_factory=lambda: secrets.token_hex(8))


class Undo(Struct):
    """The last changes, and which of them a browser has just made."""

    _changes: OrderedDict[str, Change] = field(default_factory=OrderedDict)
    _last: dict[str, str] = field(default_factory=dict)

    def keep(self, key: str, change: Change) -> Change:
        """Remember a change that this browser made."""
        self._changes[change.name] = change
        while len(self._changes) > KEPT:
            self._changes.popitem(last=False)
        self._last[key] = change.name
        return change

    def last(self, key: str) -> Change | None:
        """What this browser changed last, once: it is offered on the next page it sees."""
        return self._changes.get(self._last.pop(key, ""))

    def take(self, name: str) -> Change | None:
        """Take a change out of the list, to be undone."""
        return self._changes.pop(name, None)


def unless(changed: bool) -> None:
    """Take nothing back where somebody, at another desk or from the terminal, has changed it again since.

    Raises
    ------
    UsageProblem
        If it was changed.
    """
    if changed:
        raise UsageProblem("desk.refused.changed_since")


class Records(Struct):
    """What a change did to the logbook's records of one kind, as JSON by name; ``None`` where there was or is none."""

    kind: str
    was: dict[str, str | None] = field(default_factory=dict)
    now: dict[str, str | None] = field(default_factory=dict)

    def put_back(self, book: Logbook) -> None:
        """Put the records back as they were, all of them, where none was changed again.

        Raises
        ------
        UsageProblem
            If one was.
        """

        def change(there: dict[str, str]) -> dict[str, str | None]:
            unless(any(there.get(name) != body for name, body in self.now.items()))
            return self.was

        book.change_records(self.kind, change)


@contextmanager
def changing(book: Logbook, kind: str) -> Iterator[Records]:
    """Change records of one kind in one transaction; what comes of it can be put back."""
    found = Records(kind)
    with book.writing():
        before = book.records(kind)
        yield found
        after = book.records(kind)
    names = [name for name in {**before, **after} if before.get(name) != after.get(name)]
    found.was, found.now = {n: before.get(n) for n in names}, {n: after.get(n) for n in names}
