"""One flight on one sheet of paper: how it went and the figures that matter, nothing to click."""

from __future__ import annotations

from collections.abc import Sequence

from msgspec.structs import replace

from analyser.core.events import Level
from analyser.programme.snags import SnagState
from reports.opened import Opened
from reports.pages.flight import path_of
from reports.render import Shell, page
from reports.words.catalogue import message
from reports.words.names import names_in_flight, naming
from reports.words.vocabulary import group_word

_EVENTS = 4
_GROUPS = 6


def render(opened: Opened, snags: Sequence[SnagState], shell: Shell) -> str:
    """Make the card; it needs no telemetry."""
    with naming(names_in_flight(opened.record.context)):
        return _page(opened, snags, shell)


def _page(opened: Opened, snags: Sequence[SnagState], shell: Shell) -> str:
    flight, record = opened.page, opened.record
    alone, groups = opened.grouped
    return page(
        "card.html",
        replace(shell, labelled=flight.labelled or shell.labelled),
        title=message("card.title", flight=flight.title),
        flight=flight,
        record=record,
        headlines=opened.headlines,
        matrices=[(group_word(group), m) for group, found in opened.key_figures.items() for m in found],
        events=[e for _, e in alone][:_EVENTS],
        groups=[g for g in groups if g.level >= Level.NOTE][:_GROUPS],
        snags=[s.snag for s in snags],
        back=path_of(record.flight_id).rpartition("/")[2],
    )
