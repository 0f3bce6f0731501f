"""The page of a flight that could not be worked out: it says so, and why, where its own page would be."""

from __future__ import annotations

from reports.model import FailedFlight
from reports.render import Shell, page


def render(flight: FailedFlight, shell: Shell) -> str:
    """Render the page."""
    return page("failed.html", shell, title=flight.title, flight=flight)
