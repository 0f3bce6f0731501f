"""A flight as the catalogue lists it, and the file it was read from."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from functools import lru_cache
from typing import Any

from analyser.core.findings import Finding, Text
from spooldown.logbook import texts
from spooldown.problems import LogbookProblem


class DamagedFile(ValueError):
    """A telemetry file whose bytes are not the ones that were stored."""


@dataclass(frozen=True, slots=True)
class Source:
    """One file an import read: its name as shown, its content hash and its size."""

    name: str
    sha256: str
    size: int


@dataclass(frozen=True, slots=True)
class Flight:
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


@lru_cache(maxsize=1 << 12)
def _texts(body: str) -> tuple[str, ...]:
    """A cell's list of texts; flights of one aircraft log the same channels."""
    return tuple(map(str, json.loads(body)))


def flight_of(row: Sequence[Any]) -> Flight:
    """Take a row apart.

    Raises
    ------
    LogbookProblem
        If a cell holds what nobody stored there.
    """
    try:
        return Flight(
            flight_id=row[0],
            import_id=row[1],
            part=int(row[2]),
            source=str(row[3]),
            aircraft=str(row[4]),
            utc_start=datetime.fromisoformat(row[5]) if row[5] else None,
            duration_s=float(row[6]),
            rows=int(row[7]),
            telemetry_sha256=str(row[8]),
            channels=_texts(row[9]),
            notices=texts.from_json(row[10]),
            sources=row[11],
            local_start=str(date.fromisoformat(row[12][:10]) and row[12]) if row[12] else "",
        )
    except (TypeError, ValueError, KeyError) as error:
        raise LogbookProblem(
            "logbook.repairable", what=Finding("logbook.row_damaged", {"flight": str(row[0]), "why": str(error)})
        ) from error
