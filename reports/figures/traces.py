"""Everything inside a result that pages draw: traces beside the figures that the analyser itself walks."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Any

from msgspec import Struct

from analyser.core.events import Event
from analyser.core.figures import LEAVES, Figure, Trace, holding
from analyser.core.findings import Finding
from reports.words.catalogue import word
from reports.words.names import heading


class Found(Struct, frozen=True):
    """A trace with its place: the result's own part (``fuel``), whose it is (``left``) and the field's name."""

    subject: str
    owner: str
    field: str
    trace: Trace


def traces_of(subject: str, result: Any) -> tuple[Found, ...]:
    """Walk a result and give every trace in it, in declaration order."""
    found: list[Found] = []
    _gather(subject, ("", ""), result, found)
    return tuple(found)


def _gather(subject: str, place: tuple[str, str], node: Any, found: list[Found]) -> None:
    owner, name = place
    if isinstance(node, Trace):
        found.append(Found(subject, owner, name, node))
    elif isinstance(node, Figure | Finding | Event):
        return
    elif names := holding(node):
        own = getattr(node, "name", "")
        owner = own if isinstance(own, str) and own else owner
        for field in names:
            value = getattr(node, field)
            if type(value) not in LEAVES:
                _gather(subject, (owner, field), value, found)
    elif isinstance(node, dict):
        for key, value in node.items():
            _gather(subject, (owner, str(key)), value, found)
    elif isinstance(node, tuple):
        for value in node:
            _gather(subject, place, value, found)


class Group(Struct, frozen=True):
    """Figures under one heading; ``path`` is the dotted place they share."""

    path: str
    heading: str
    figures: tuple[Figure, ...]


def owner_of(path: str) -> str:
    """Whose a figure is, by its dotted path: ``tanks.left.burn.rate`` → ``left``; ``''`` where it is the whole's."""
    parts = path.split(".")[:-1]
    kept = [
        p
        for i, p in enumerate(parts)
        if p not in _PLURAL and not p.isdigit() and ((i and parts[i - 1] in _PLURAL) or "antenna" in p)
    ]
    # receivers.rx1.antennas.rx1.antenna2 names its receiver twice
    return ".".join(dict.fromkeys(kept))


def groups_of(figures: Iterable[tuple[str, Figure]]) -> tuple[Group, ...]:
    """Figures of a result by their paths, grouped by the part of it that holds them.

    Figures of events are left out: the event table has them.
    """
    found: dict[str, list[Figure]] = {}
    for path, figure in figures:
        parts = path.split(".")
        if "events" in parts or "bins" in parts:
            continue
        found.setdefault(".".join(parts[:-1]), []).append(figure)
    return tuple(Group(path, _heading(path), tuple(figures)) for path, figures in found.items())


_PLURAL = frozenset(
    {
        *("tanks", "packs", "receivers", "antennas", "engines", "phases", "bands", "buses", "starts", "rates"),
        *("comparisons", "sectors", "layouts", "aircraft"),
    }
)
_OF = {"tanks": "fuel", "packs": "pack", "receivers": "link", "engines": "engine", "buses": "bus"}


def _heading(path: str) -> str:
    """The part a path leads to, in words: ``tanks.left`` is ``Left tank``; deeper places follow after a comma."""
    parts = [p for p in path.split(".") if p]
    shown: list[str] = []
    for i, part in enumerate(parts):
        before = parts[i - 1] if i else ""
        if part in _PLURAL and i + 1 < len(parts):
            continue
        if re.fullmatch(r"antenna\d+", part) and before not in _PLURAL:
            shown = [heading(f"link.{before}.{part}")]  # receivers.rx1.antennas.rx1.antenna2 names its receiver twice
        elif part.isdigit():
            shown.append(f"{word('part', before)} {int(part) + 1}")
        elif before in _OF:
            shown.append(heading(f"{_OF[before]}.{part}"))
        elif before == "phases":
            shown.append(word("phase", part))
        else:
            shown.append(word("part", part))
    return ", ".join(dict.fromkeys(shown))
