"""What the pages are made from. The application fills it; nothing here is computed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Literal

from analyser.bench.analysis import BenchResult
from analyser.core.findings import Text
from analyser.core.telemetry import Telemetry
from analyser.record import FlightRecord
from analyser.season.result import SeasonResult


class Unreadable(Exception):
    """A flight's telemetry cannot be read; the text is one sentence that says why and what to do."""


@dataclass(frozen=True, slots=True)
class FlightPage:
    """One flight as pages need it.

    ``telemetry`` loads the screened telemetry when (and only when) the page is really built; it may raise
    :class:`Unreadable`. ``fingerprint`` changes
    whenever anything the page shows changes. ``title`` is for people; ``notices`` is what the import recorded.
    """

    record: FlightRecord
    title: str
    source: str
    notices: tuple[Text, ...]
    fingerprint: str
    telemetry: Callable[[], Telemetry]
    labelled: str = ""
    checklist: tuple[tuple[str, bool], ...] = ()
    """The owner's list, each item with whether it was ticked before this flight."""


@dataclass(frozen=True, slots=True)
class FailedFlight:
    """A flight that could not be worked out; ``why`` is one sentence that says what to do."""

    flight_id: str
    title: str
    source: str
    why: str
    labelled: str = ""


@dataclass(frozen=True, slots=True)
class Step:
    """Something that changed before a flight: a line in what is drawn over flights, and a remark on its day.

    ``kind`` is ``change`` (noted: a layout, a pack), ``remedy`` (something was mended) or ``step`` (a figure changed by
    itself). ``measure`` is the figure it concerns, '' where any.
    """

    flight_id: str
    kind: Literal["change", "remedy", "step"]
    text: Text
    measure: str = ""


@dataclass(frozen=True, slots=True)
class Site:
    """A whole logbook as pages need it; flights newest first. ``labelled`` is printed on every page (invented data).

    ``steps`` are what an owner mended and what the analyser found changed; what the notes tell of layouts and packs
    is added by the pages.
    """

    title: str
    flights: tuple[FlightPage, ...]
    season: SeasonResult
    generated: str
    labelled: str = ""
    failed: tuple[FailedFlight, ...] = ()
    bench: dict[str, BenchResult] = field(default_factory=dict)
    """What was proved on the ground, by aircraft; '' for packs that were in none."""
    steps: tuple[Step, ...] = ()
