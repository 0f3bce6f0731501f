"""Names that are safe in a file name, and how many of a kind are told apart."""

from __future__ import annotations

from reports.addresses import hyphenated


def slug(text: str, otherwise: str = "") -> str:
    """Reduce a name to what is safe in a file name on every system: lower-case letters, digits and hyphens."""
    return hyphenated(text) or otherwise


def letters(index: int) -> str:
    """Count 0, 1 … 25, 26 as a, b … z, aa."""
    text = ""
    index += 1
    while index:
        index, digit = divmod(index - 1, 26)
        text = chr(ord("a") + digit) + text
    return text
