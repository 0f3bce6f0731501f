"""Values that are put together only when one of them is asked for: a season holds many more figures than it reads."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from typing import TYPE_CHECKING, Any, TypeVar

T = TypeVar("T")


class Late:
    """Base of a frozen dataclass with slots that :func:`later` may make; a value made as usual knows nothing of it."""

    __slots__ = ("_late",)

    if not TYPE_CHECKING:  # a type checker is to find a misspelt name

        def __getattr__(self, name: str) -> Any:
            """Fill the slots, all of them, where they are still empty."""
            try:
                fill, data = object.__getattribute__(self, "_late") if name in type(self).__slots__ else (None, None)
            except AttributeError:
                fill = None
            if fill is None:
                raise AttributeError(f"{type(self).__name__!r} object has no attribute {name!r}", name=name, obj=self)
            fill(self, data)
            with suppress(AttributeError):  # another thread was as fast
                object.__delattr__(self, "_late")
            return object.__getattribute__(self, name)


def later(kind: type[T], fill: Callable[[T, Any], None], data: Any) -> T:
    """Make a value of which nothing is known yet.

    Parameters
    ----------
    kind : type
        Derived from :class:`Late`.
    fill : callable
        Takes the value and ``data`` and sets each slot by ``object.__setattr__``; called once, at the first question.
    """
    made = object.__new__(kind)
    object.__setattr__(made, "_late", (fill, data))
    return made
