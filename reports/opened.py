"""One flight opened to be shown: its result and telemetry read, and what several of its pages are made from."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property

from msgspec import Struct

from analyser.core.events import Event
from analyser.core.figures import Figure, figures_of
from analyser.core.telemetry import Telemetry
from analyser.record import FlightRecord
from reports.events import EventGroup, grouped
from reports.figures.traces import Found, traces_of
from reports.headlines import SUBJECTS, Headline, headlines
from reports.key_figures import key_figures
from reports.model import FlightPage
from reports.tables import Matrix


class Opened(Struct, frozen=True, dict=True):
    """A flight's page, its card and its data for comparing read and work out these things once for all three.

    Each is worked out when it is first asked for, with the names of things in that flight.

    Raises
    ------
    Unreadable
        From whatever needs the result or the telemetry, if it cannot be read.
    """

    page: FlightPage

    @cached_property
    def record(self) -> FlightRecord:
        """The record with its result at hand."""
        return self.page.record.whole()

    @cached_property
    def telemetry(self) -> Telemetry:
        """The screened telemetry."""
        return self.page.telemetry()

    @cached_property
    def events(self) -> tuple[Event, ...]:
        """Everything that happened, in the order of time."""
        return tuple(self.record.result.events())

    @cached_property
    def grouped(self) -> tuple[list[tuple[int, Event]], list[EventGroup]]:
        """Events that stand alone, and the rest in a few lines."""
        return grouped(self.events, self.record.result.link.bridging)

    @cached_property
    def headlines(self) -> tuple[Headline, ...]:
        """One line a subject."""
        return headlines(self.record)

    @cached_property
    def key_figures(self) -> dict[str, tuple[Matrix, ...]]:
        """The figures a reader looks for first, by their subject."""
        return key_figures(self.record.result)

    @cached_property
    def figures(self) -> Mapping[str, tuple[tuple[str, Figure], ...]]:
        """Every figure with its path, by its subject; fields added later appear by themselves."""
        return {subject: tuple(figures_of(getattr(self.record.result, field))) for subject, field in SUBJECTS}

    @cached_property
    def traces(self) -> Mapping[str, tuple[Found, ...]]:
        """Every curve that the analyser worked out, by its subject."""
        return {subject: traces_of(subject, getattr(self.record.result, field)) for subject, field in SUBJECTS}
