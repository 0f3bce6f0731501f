"""What the aircraft's file forbids: for lists and sums, which have no room for a doubt beside a number."""

from __future__ import annotations

from analyser.core.figures import Figure
from analyser.core.findings import Finding
from analyser.fuel.codes import FuelCode
from analyser.packs.codes import PackCode

CANNOT_BE = frozenset({FuelCode.MORE_THAN_HOLDS, PackCode.REST_IMPOSSIBLE, PackCode.ABOVE_CELLS})
"""Doubts that say what the aircraft's file forbids."""


def believable(figure: Figure) -> float | None:
    """A figure's value for lists without room for a doubt; ``None`` where the aircraft's file says it cannot be."""
    return None if any(isinstance(d, Finding) and d.code in CANNOT_BE for d in figure.doubts) else figure.value
