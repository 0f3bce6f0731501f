"""One flight on one sheet of paper: the outcome and the figures that matter, nothing to click."""

from __future__ import annotations

from dataclasses import replace

from analyser.core.events import Level
from reports.called import called
from reports.model import FlightPage
from reports.outcome import outcomes
from reports.pages.flight import grouped, key_figures, path_of
from reports.render import Shell, page

_EVENTS = 4
_GROUPS = 6


def render(flight: FlightPage, shell: Shell) -> str:
    """Make the card; it needs no telemetry."""
    record = flight.record
    own = called(record.context)
    alone, groups = grouped(tuple(record.result.events()))
    return page(
        "card.html",
        replace(shell, labelled=flight.labelled or shell.labelled),
        title=f"Card: {flight.title}",
        flight=flight,
        record=record,
        outcomes=outcomes(record),
        own=own,
        matrices=[
            (name, m)
            for name, found in zip(
                ("Fuel", "Packs", "Radio link", "Engines"), key_figures(record.result, own).values(), strict=True
            )
            for m in found
        ],
        events=[e for _, e in alone][:_EVENTS],
        groups=[g for g in groups if g.level >= Level.NOTE][:_GROUPS],
        back=path_of(record.flight_id).rpartition("/")[2],
    )
