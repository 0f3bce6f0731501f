"""Changes that can be taken back: what was there before is kept until the desk stops."""

from __future__ import annotations

import secrets
from collections import OrderedDict
from collections.abc import Callable

from msgspec import Struct, field

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
