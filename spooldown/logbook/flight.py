"""A flight as the catalogue lists it, and the file it was read from."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable, Sequence
from datetime import date, datetime
from functools import lru_cache
from typing import Any

from msgspec import Struct

from analyser.core.findings import Finding, Text
from spooldown.logbook import texts
from spooldown.logbook.catalogue import is_sound, shown


class DamagedFile(ValueError):
    """A telemetry file whose bytes are not the ones that were stored."""


class Source(Struct, frozen=True):
    """One file an import read: its name as shown, its content hash and its size."""

    name: str
    sha256: str
    size: int


class Flight(Struct, frozen=True):
    """One flight as the catalogue lists it."""

    flight_id: str
    import_id: int
    part: int
    source: str
    aircraft: str
    utc_start: datetime | None
    duration_s: float
    rows: int
    telemetry_sha256: str
    channels: tuple[str, ...]
    notices: tuple[Text, ...]
    sources: tuple[str, ...] = ()
    """Names of all files it was read from: more than one where they were joined."""
    local_start: str = ""
    """Day, or day and time, by the log's own clock where its zone is unknown."""
    damage: Finding | None = None
    """What of its row holds what nobody stored there, and what to do; those cells are empty here."""

    @property
    def day(self) -> date | None:
        """The day it began: in UTC, or by the log's own clock where its zone is unknown."""
        if self.utc_start:
            return self.utc_start.date()
        return date.fromisoformat(self.local_start[:10]) if self.local_start else None

    @property
    def when(self) -> str:
        """When it began, in UTC unless it says ``local``, as far as is known."""
        if self.utc_start:
            return f"{self.utc_start:%Y-%m-%d %H:%M}"
        day, _, time = self.local_start.partition("T")
        return f"{day} {time[:5]} local" if time else day or "undated"

    def instances(self, subject: str) -> list[str]:
        """Names that its log gives to its packs, tanks (``fuel``), engines or receivers (``link``), sorted."""
        return list(_instances(self.channels, subject))


@lru_cache(maxsize=1 << 12)
def _instances(channels: tuple[str, ...], subject: str) -> tuple[str, ...]:
    """Names of one subject's parts among channels, which are the same in most of an aircraft's logs."""
    from analyser.core.channels import parse

    parsed = (parse(c) for c in channels)
    return tuple(sorted({p.instance for p in parsed if p and p.instance and p.channel.subject == subject}))


def is_id(flight_id: object) -> bool:
    """Whether this may be a flight's id: it names files."""
    return isinstance(flight_id, str) and len(flight_id) <= LONGEST_ID and bool(_ID.match(flight_id))


_ID = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*\Z")
_SHA256 = re.compile(r"[0-9a-f]{64}\Z")
LONGEST_ID = 200
LONGEST_TEXT = 4096
"""A path; no name is longer."""
LONGEST_S = 1e9
"""Seconds in some thirty years: no flight is longer, whatever its log's clock says."""
MOST_ROWS = 1 << 40


@lru_cache(maxsize=1 << 12)
def _channels(body: str) -> tuple[str, ...]:
    """A cell's list of channels; flights of one aircraft log the same ones."""
    found = json.loads(body)
    if not isinstance(found, list) or not all(map(is_sound, found)):
        raise ValueError(body)
    return tuple(found)


def _count(cell: object) -> int:
    if type(cell) is not int or not 0 <= cell <= MOST_ROWS:
        raise ValueError(cell)
    return cell


def _text(cell: Any) -> str:
    if not is_sound(cell) or len(cell) > LONGEST_TEXT:
        raise ValueError
    return str(cell)


def _instant(cell: Any) -> datetime | None:
    found = datetime.fromisoformat(cell) if cell is not None else None
    if found is not None and found.tzinfo is None:
        raise ValueError(cell)
    return found


def _seconds(cell: object) -> float:
    if type(cell) not in (int, float) or not 0 <= cell <= LONGEST_S or not math.isfinite(cell):  # type: ignore[operator, arg-type]
        raise ValueError(cell)
    return float(cell)  # type: ignore[arg-type]


def _sha256(cell: Any) -> str:
    if not _SHA256.match(cell):
        raise ValueError(cell)
    return str(cell)


def _local(cell: Any) -> str:
    return str(date.fromisoformat(cell[:10]) and _text(cell)) if cell != "" else ""


def _names(cell: Any) -> tuple[str, ...]:
    return tuple(map(_text, cell))


_CELLS: tuple[tuple[str, Callable[[Any], Any], Any], ...] = (
    ("import_id", _count, 0),
    ("part", _count, 0),
    ("source", _text, ""),
    ("aircraft", _text, ""),
    ("utc_start", _instant, None),
    ("duration_s", _seconds, 0.0),
    ("rows", _count, 0),
    ("telemetry_sha256", _sha256, ""),
    ("channels", _channels, ()),
    ("notices", texts.from_json, ()),
    ("sources", _names, ()),
    ("local_start", _local, ""),
)
"""A row's cells behind the id: each one's reader, and what stands for one that holds what nobody stored there."""


def flight_of(row: Sequence[Any]) -> Flight:
    """Take a row apart; a cell that holds what nobody stored there costs its flight alone."""
    found: dict[str, Any] = {}
    bad = [] if is_id(row[0]) else ["flight_id"]
    for (name, read, empty), cell in zip(_CELLS, row[1:], strict=True):
        try:
            found[name] = read(cell)
        except (TypeError, ValueError, KeyError, AttributeError, RecursionError):
            found[name] = empty
            bad.append(name)
    if bad:
        what = Finding("logbook.row_damaged", {"flight": shown(row[0]), "cells": tuple(bad)})
        found["damage"] = Finding("logbook.repairable", {"what": what})
    return Flight(flight_id=row[0], **found)
