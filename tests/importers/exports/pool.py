"""The logs of the open and of the sealed hands."""

from collections.abc import Iterator

from . import open_hands, sealed_hands
from .rules import Log, log_of


def logs(half: str) -> Iterator[Log]:
    """Every log of one half, hand by hand."""
    for hand in {"open": open_hands, "sealed": sealed_hands}[half].HANDS:
        for number in range(1, hand.logs + 1):
            yield log_of(hand, number)
