"""Names from files made fit for file names and addresses, and for a reader's eye."""

from __future__ import annotations

import hashlib
import json
import re
import unicodedata
from collections.abc import Collection
from datetime import date

REPLACEMENT = "\N{REPLACEMENT CHARACTER}"
UNSEEN = (
    r"\x00-\x08\x0b-\x1f\x7f-\x9f\u00ad\u0600-\u0605\u061c\u06dd\u070f\u08e2\u180e\u200b-\u200f\u2028-\u202e"
    r"\u2060-\u2064\u2066-\u206f\ud800-\udfff\ue000-\uf8ff\ufeff\ufff9-\ufffb"
    r"\U000110bd\U0001d173-\U0001d17a\U000e0001\U000e0020-\U000e007f\U000f0000-\U0010fffd"
)
"""What can steer a terminal, hide, or turn the order of a line round, as a class of a regular expression.

The Unicode categories Cc (but tab and line feed), Cf, Cs, Co, Zl and Zp; Unicode Technical Report 36, section 3.
"""
LONGEST = 48
"""Characters of a file name's stem."""
_UNSEEN = re.compile(f"[{UNSEEN}]")


def neutral(text: str) -> str:
    """Put a visible replacement for every character that acts instead of being seen."""
    # Nothing that is printable is unseen (str.isprintable leaves out all of Unicode's "other" and "separator" but the
    # space): one quick look at a whole page's data, where the expression would weigh every character.
    if text.isprintable():
        return text
    seen = text if text.isascii() else text.replace("\u202f", "").replace("\u00a0", "")
    return text if seen.replace("\n", "").isprintable() else _UNSEEN.sub(REPLACEMENT, text)


def escaped(written: str) -> str:
    """JSON in which what acts instead of being seen is written as its number: a script reads the same."""
    return _UNSEEN.sub(lambda found: json.dumps(found[0])[1:-1].replace("\x7f", r"\u007f"), written)


LONGEST_NAME = 80
"""Characters of a name that a list, a cell and a heading have room for."""


def is_name(text: str) -> bool:
    """Whether a text can stand in a list and in a cell: one line, nothing unseen, not too long."""
    return text.isprintable() and len(text) <= LONGEST_NAME


def hyphenated(text: str) -> str:
    """Reduce a name to lower-case ASCII letters, digits and hyphens, at most 40; '' where nothing is left."""
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode("ascii").lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:40].strip("-")


def slug(name: str) -> str:
    """Make a file name of any text: lower-case ASCII letters, digits and hyphens, never empty.

    A name that is not already such a file name gets six hex digits of its hash, so that two names never share a page.
    """
    if re.fullmatch(r"[a-z0-9]+(?:-[a-z0-9]+)*", name) and len(name) <= LONGEST:
        return name
    digest = hashlib.sha256(name.encode("utf-8", "surrogatepass")).hexdigest()[:6]
    return f"{hyphenated(name) or 'unnamed'}-{digest}"


def slugs_of(names: Collection[str]) -> dict[str, str]:
    """The same of many names, quickly where all of them are such file names already."""
    lines = "".join(f"{name}\n" for name in names)
    if re.fullmatch(r"(?:[a-z0-9]+(?:-[a-z0-9]+)*\n)*", lines) and max(map(len, names), default=0) <= LONGEST:
        return {name: name for name in names}
    return {name: slug(name) for name in names}


def path_of_day(day: date) -> str:
    """Path of a flying day's page from the root of the pages."""
    return f"days/{day:%Y-%m-%d}.html"
