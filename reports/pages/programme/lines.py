"""What the pages of a programme share: its address, and snags and service put in words."""

from __future__ import annotations

from msgspec import Struct

from analyser.programme.service import ServiceState
from analyser.programme.snags import Snag, SnagState
from reports.addresses import slug
from reports.model import Site
from reports.pages.flight import path_of as flight_path
from reports.words.catalogue import message, text
from reports.words.names import heading


def programme_path(aircraft: str) -> str:
    """Where an aircraft's programme is, from the root of the pages."""
    return f"programme/{slug(aircraft)}.html"


class SnagLine(Struct, frozen=True):
    """A snag as a page shows it: ``where`` in words, ``href`` of the flight it was seen in, each remedy's verdict."""

    snag: Snag
    where: str
    href: str
    remedies: tuple[tuple[str, str, str, str], ...]

    @property
    def last(self) -> str:
        """The last remedy's verdict in a word, '' where none was tried."""
        return self.remedies[-1][2] if self.remedies else ""


def snag_line(state: SnagState, site: Site, root: str) -> SnagLine:
    """Put a snag and how its remedies fared in words."""
    s = state.snag
    remedies = []
    for fared in state.fared:
        verdict = str(fared.comparison.verdict) if fared.comparison else "none"
        said = text(fared.comparison.sentence) if fared.comparison else message("remedies.no_comparison")
        remedies.append((f"{fared.remedy.day}", fared.remedy.what, message(f"verdict.{verdict}"), said))
    href = f"{root}{flight_path(s.flight_id)}" if s.flight_id in site.by_id else ""
    return SnagLine(s, s.thing or (heading(s.part) if s.part else s.aircraft), href, tuple(remedies))


def open_lines(name: str, site: Site, root: str = "") -> list[SnagLine]:
    """Open snags of an aircraft for pages that list them among other things."""
    programme = site.programmes.get(name)
    return [snag_line(s, site, root) for s in programme.open] if programme else []


def due_lines(states: tuple[ServiceState, ...]) -> list[tuple[ServiceState, list[str]]]:
    """Components with what is left to each of their intervals, in words."""
    return [(s, [text(d.sentence) for d in s.due]) for s in states if s.due]
