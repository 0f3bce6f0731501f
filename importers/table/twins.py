"""Headings that stand over several columns: each column gets a name of its own, by its place among them."""

from __future__ import annotations

import re
from collections.abc import Sequence

from importers.meaning.words import fold

MARK = "#"
"""Between a heading and its place: ``Voltage#2`` is the second column headed ``Voltage``."""


def apart(headings: Sequence[str]) -> tuple[str, ...]:
    """A name for each column: its heading, and behind a mark its place where several have one heading.

    Case, accents and blanks make no other heading. No name is given twice, nor one that another column is headed by.

    >>> apart(["Time", "RPM", "EGT", "rpm", "EGT"])
    ('Time', 'RPM#1', 'EGT#1', 'rpm#2', 'EGT#2')
    """
    at = together(headings)
    if not at:
        return tuple(headings)
    out, written = list(headings), {fold(h) for h in headings}
    for some in at:
        mark = MARK
        while any(fold(f"{headings[i]}{mark}{n}") in written for n, i in enumerate(some, 1)):
            mark += MARK
        for n, i in enumerate(some, 1):
            out[i] = f"{headings[i]}{mark}{n}"
    return tuple(out)


def together(headings: Sequence[str]) -> list[list[int]]:
    """The places, from 0, of columns that have one heading, for each heading that several have."""
    if len(set(map(fold, headings))) == len(headings):
        return []
    seen: dict[str, list[int]] = {}
    for i, heading in enumerate(headings):
        if heading:
            seen.setdefault(fold(heading), []).append(i)
    return [some for some in seen.values() if len(some) > 1]


def as_exported(headings: Sequence[str]) -> list[str]:
    """The headings before a program that reads tables numbered those that come again.

    It leaves the first as it is and counts the others from 1, behind a point: ``RPM.1`` beside ``RPM`` was its second.

    >>> as_exported(["RPM", "EGT", "RPM.1", "EGT.1", "Flap.1"])
    ['RPM', 'EGT', 'RPM', 'EGT', 'Flap.1']
    """
    parted = [re.fullmatch(r"(.*\D)\.([1-9]\d?)", h) for h in headings]
    counts: dict[str, set[int]] = {}
    for m in filter(None, parted):
        counts.setdefault(m[1], set()).add(int(m[2]))
    there = {*headings}
    again = {h for h, some in counts.items() if h in there and some == set(range(1, len(some) + 1))}
    return [m[1] if m and m[1] in again else h for h, m in zip(headings, parted, strict=True)]
