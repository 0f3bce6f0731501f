"""All logs of the hands, in four parts.

``open`` to look at while working on the importer, ``held`` to measure with meanwhile, ``sealed`` to measure in the
end; ``fresh`` are those that are drawn anew with another seed. ``strangers`` and ``sealed strangers`` are a second
pool, with a flight and rules of its own (``tests/importers/strangers``).
"""

from __future__ import annotations

from functools import lru_cache

from msgspec.structs import replace

from tests.importers.hands.fresh import fresh
from tests.importers.hands.held import HELD
from tests.importers.hands.open import OPEN
from tests.importers.hands.pages import Hand, write
from tests.importers.hands.sealed import SEALED
from tests.importers.hands.truth import Log
from tests.importers.strangers import logs as strangers


def hands(half: str = "all", seed: int = 0) -> tuple[Hand, ...]:
    """The hands of ``open``, ``held``, ``sealed``, ``fresh`` or ``all``."""
    if half == "fresh":
        return fresh(seed)
    return {"open": OPEN, "held": HELD, "sealed": SEALED}.get(half, OPEN + HELD + SEALED + fresh(seed))


@lru_cache(maxsize=4)
def logs(half: str = "all", seed: int = 0) -> tuple[Log, ...]:
    """Every log of a half, in a fixed order; another seed gives other flights, columns and clocks."""
    if half.endswith("strangers"):
        return strangers.logs(half.partition(" ")[0] if " " in half else "open", seed)
    return tuple(write(replace(hand, seed=seed), n) for hand in hands(half, seed) for n in range(hand.logs))
