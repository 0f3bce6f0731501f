"""Columns that were looked at once, remembered: the next file with the same headings is recognised."""

from __future__ import annotations

from collections.abc import Sequence

from importers.layout.mapping import to_toml
from importers.model import Plan
from spooldown.logbook.book import Logbook, slug
from spooldown.problems import UsageProblem


def remember(book: Logbook, name: str, plans: Sequence[Plan]) -> str:
    """Keep the columns of what was looked at; returns the file it lies in.

    Raises
    ------
    UsageProblem
        If the plans are not all of the same columns.
    """
    if not plans:
        raise UsageProblem("usage.save_mapping_known")
    if len({p.fingerprint for p in plans}) != 1:
        raise UsageProblem("usage.save_mapping_alike")
    path = book.mappings_folder / f"{slug(name, 'mapping')}.toml"
    book.keep_text(path, to_toml(plans[0], name).encode())
    return str(path)
