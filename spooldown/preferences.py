"""How the owner of a logbook wants to read: language, units, clock, dates; remembered in the logbook."""

from __future__ import annotations

import os
from collections.abc import Mapping
from typing import TYPE_CHECKING

from reports.words.reader import CLOCKS, DATES, LANGUAGES, Reader, negotiated
from spooldown.problems import UsageProblem

if TYPE_CHECKING:
    from spooldown.logbook.book import Logbook

LANGUAGE_VARIABLE = "SPOOLDOWN_LANGUAGE"
"""Environment variable that names the language."""

CHOICES: dict[str, tuple[str, ...]] = {
    "language": LANGUAGES,
    "volume": ("ml", "fl_oz"),
    "temperature": ("c", "f"),
    "length": ("m", "ft"),
    "clock": CLOCKS,
    "dates": DATES,
}
"""What may be chosen, the default first; the language's default is the system's."""

_UNITS = {"fl_oz": "fl oz", "f": "°F", "ft": "ft"}


def preferences(book: Logbook) -> dict[str, str]:
    """What is remembered, by name; '' where nothing was chosen."""
    return {name: book.setting(name) for name in CHOICES}


def remember(book: Logbook, chosen: Mapping[str, str]) -> None:
    """Remember choices in the logbook.

    Raises
    ------
    UsageProblem
        If a value is none of those that may be chosen.
    """
    for name, value in chosen.items():
        _checked(name, value)
    with book.writing():
        for name, value in chosen.items():
            book.set_setting(name, value)


def reader_of(book: Logbook | None, language: str = "") -> Reader:
    """Who reads: by what was asked for, else by what the logbook remembers, else by the system.

    Raises
    ------
    UsageProblem
        If there are no words in the language asked for.
    """
    known = preferences(book) if book is not None and book.exists else dict.fromkeys(CHOICES, "")
    chosen = language or os.environ.get(LANGUAGE_VARIABLE, "") or known["language"]
    return Reader(
        language=_checked("language", chosen) if chosen else negotiated(system_languages()),
        units=frozenset(_UNITS[known[name]] for name in ("volume", "temperature", "length") if known[name] in _UNITS),
        clock=known["clock"] or CLOCKS[0],
        dates=known["dates"] or DATES[0],
    )


def system_languages() -> list[str]:
    """Languages the system is set to, best first (POSIX, Internationalization Variables, with GNU's LANGUAGE list)."""
    found = [v for name in ("LC_ALL", "LC_MESSAGES", "LANG") if (v := os.environ.get(name))][:1]
    if found and found[0].partition(".")[0] in ("C", "POSIX"):
        return []
    if not found:
        import locale

        found = [locale.getlocale()[0] or ""]
    return [*os.environ.get("LANGUAGE", "").split(":"), *found]


def _checked(name: str, value: str) -> str:
    if value not in CHOICES[name]:
        raise UsageProblem("usage.one_of", option=f"--{name}", choices=CHOICES[name], found=value)
    return value
