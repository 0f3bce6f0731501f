"""Build the pages of a whole logbook into a folder, touching only what changed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from reports.model import Site


@dataclass(frozen=True, slots=True)
class Built:
    """What a build did: the start page, and how many pages were written, left as they were, and removed."""

    start: Path
    written: int
    kept: int
    removed: int


def build_site(site: Site, folder: Path, *, progress: Callable[[str, int, int], None] | None = None) -> Built:
    """Write every page under ``folder``; an interrupted build leaves the old pages whole."""
    raise NotImplementedError


def build_single_flight(site: Site, flight_id: str, file: Path) -> Path:
    """Write one flight's page as one self-contained file, plotting script included."""
    raise NotImplementedError


def build_comparison(site: Site, flight_ids: Sequence[str], folder: Path) -> Path:
    """Write a page that lays chosen flights side by side; returns its path."""
    raise NotImplementedError
