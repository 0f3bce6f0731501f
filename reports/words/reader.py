"""Who reads: the language, the units, the clock, and how things of the aircraft are named."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from contextvars import ContextVar
from functools import cached_property, partial
from typing import TYPE_CHECKING, Any

from msgspec import Struct

from analyser.core.findings import Finding

if TYPE_CHECKING:
    from babel import Locale

LANGUAGES = ("en", "de")
"""Every language there are words for; the first is used where the reader's own is not among them."""

CLOCKS = ("24", "12")
"""How the time of day may be written: ``14:05`` or ``2:05 PM``."""

DATES = ("iso", "local")
"""How a date may be written: ``2026-05-17``, or as the reader's language does."""

MOST_WRITTEN = 4096
"""So many texts, and findings, a reader remembers."""

_NAMING: list[Callable[[str], str]] = [str]


def named_by(name: Callable[[str], str]) -> None:
    """Name parts so for readers who bring no names: :mod:`reports.words.names` does it in plain words."""
    _NAMING[0] = name


def _plainly(part: str) -> str:
    return _NAMING[0](part)


class Reader(Struct, frozen=True, dict=True):
    """Who reads what is being written.

    Parameters
    ----------
    language : str
        One of :data:`LANGUAGES`.
    name : callable
        From a part (``link.rx2.antenna2``) to its name inside a sentence (``the fin antenna (rx2, antenna 2)``).
    units : frozenset of str
        Units the reader wants instead of those the analyser works in: of ``fl oz``, ``°F``, ``ft``.
    clock : str
        One of :data:`CLOCKS`.
    dates : str
        One of :data:`DATES`.
    """

    language: str = LANGUAGES[0]
    name: Callable[[str], str] = _plainly
    units: frozenset[str] = frozenset()
    clock: str = CLOCKS[0]
    dates: str = DATES[0]

    @cached_property
    def locale(self) -> Locale:
        """How the language writes dates."""
        from babel import Locale

        return Locale(self.language)

    @cached_property
    def written(self) -> dict[Any, str]:
        """Texts already written for this reader, by code and what fills them."""
        return {}

    @cached_property
    def said(self) -> dict[int, tuple[Finding, str]]:
        """Findings already put into words for this reader, by identity: most figures share how they were obtained."""
        return {}

    def remember(self, key: Any, words: str) -> str:
        """Keep a text that was written under ``key`` in :attr:`written`; the text."""
        if len(self.written) >= MOST_WRITTEN:
            self.written.clear()
        self.written[key] = words
        return words

    @property
    def mark(self) -> str:
        """What distinguishes this reader's pages from another's, as text."""
        return "|".join([self.language, *sorted(self.units), self.clock, self.dates])


_READER: ContextVar[Reader] = ContextVar("reader")

reader: Callable[[], Reader] = partial(_READER.get, Reader())
"""Who reads what is being written now; English with plain names until somebody says otherwise."""


class reading:
    r"""Write for this reader inside a ``with`` block.

    Examples
    --------
    >>> from reports.words.catalogue import number
    >>> with reading(Reader("de")):
    ...     number(1234.5, 1)
    '1\u202f234,5'
    """

    def __init__(self, who: Reader) -> None:
        self._who = who

    def __enter__(self) -> Reader:
        self._token = _READER.set(self._who)
        return self._who

    def __exit__(self, *_: object) -> None:
        _READER.reset(self._token)


def negotiated(wanted: Iterable[str]) -> str:
    """Choose the best language there are words for among those wanted, best first (RFC 4647 lookup, by Babel).

    Examples
    --------
    >>> negotiated(["fr_FR.UTF-8", "de_AT.UTF-8"])
    'de'
    >>> negotiated(["C.UTF-8"])
    'en'
    """
    from babel import negotiate_locale

    plain = [one.partition(".")[0].partition("@")[0].replace("-", "_") for one in wanted if one]
    return negotiate_locale(plain, LANGUAGES, sep="_") or LANGUAGES[0]
