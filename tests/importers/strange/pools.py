"""The pools of strange logs, each by one invented person."""

from __future__ import annotations

import fnmatch
import zlib
from collections.abc import Callable, Iterator

import numpy as np

from tests.importers.strange import open_clocks, open_shapes, sealed_clocks, sealed_shapes, third_mixed
from tests.importers.strange.truth import Log

POOLS = {"open": (open_clocks, open_shapes), "sealed": (sealed_clocks, sealed_shapes), "third": (third_mixed,)}


_KIND = {"clocks": "clock", "shapes": "shape", "mixed": "both"}


def kinds(pool: str) -> dict[str, Callable[[np.random.Generator], Log]]:
    """The functions that draw a log, by name."""
    return {
        f"{_KIND[module.__name__.rpartition('_')[2]]} {name.replace('_', ' ')}": function
        for module in POOLS[pool]
        for name, function in vars(module).items()
        if getattr(function, "__module__", "") == module.__name__ and not name.startswith("_")
    }


def draw(pool: str, seed: int, only: str = "*") -> Iterator[Log]:
    """Each log of a pool, drawn anew for a seed; ``only`` those whose name fits a pattern."""
    for name, function in kinds(pool).items():
        if not fnmatch.fnmatchcase(name, only):
            continue
        made = function(np.random.default_rng([seed, zlib.crc32(name.encode())]))
        yield Log(name, made.data, made.flights, made.fair, made.facts, made.refusable, made.lost, made.file)
