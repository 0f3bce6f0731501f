"""How much attention something deserves, and the limits that say so.

This is the only place in the code where levels stand. :data:`COMMON_PRACTICE` holds for every aircraft until its owner
states limits, and for whatever the owner's limits leave out. Its numbers have no published source: common practice.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from enum import IntEnum, StrEnum
from typing import Literal, TypeAlias

from msgspec import Struct, field


class Level(IntEnum):
    """How much attention something deserves. The page shows a word and a shape, never colour alone.

    ``CANT_TELL`` is no attention and no all-clear: what is known does not settle it yet.
    """

    CANT_TELL = -1
    FINE = 0
    NOTE = 1
    WATCH = 2
    ACT = 3


class Origin(StrEnum):
    """Where a limit comes from."""

    MAKER = "maker's manual"
    OWNER = "owner"
    PRACTICE = "common practice"


On: TypeAlias = Literal["event", "matter", "figure", "channel"]
"""What a limit is set on: an event of a flight, a matter of a season, a figure kept of every flight, a channel."""


class Limit(Struct, frozen=True):
    """One limit.

    Parameters
    ----------
    name : str
        Its name in the owner's file, unique there.
    on : str
        ``event``, ``matter``, ``figure`` or ``channel``.
    of : str
        Kind of event, matter, id of the figure (``tank.margin``), or channel (``engine.left.egt_c``; without the
        instance, ``engine.egt_c``, for all of them).
    level : Level
        What an event or a matter deserves whenever it is there; a figure or a channel needs a number.
    above, below : mapping of str to float
        Levels by their names (``note``, ``watch``, ``act``), each with the number that must be passed, in ``unit``.
    unit : str
        Unit of these numbers.
    part : str
        The only part it holds for (``engine.left``); ``""`` for every one.
    for_s : float
        How long an event, or a channel beyond the number, must last, s.
    phase : str
        The phase in which it holds (``flight``, ``start`` …), or ``airborne``; ``""`` for the whole log.
    source : Origin
        Where it comes from.
    note : str
        The owner's words.
    """

    name: str
    on: On
    of: str
    level: Level = Level.FINE
    above: Mapping[str, float] = field(default_factory=dict)
    below: Mapping[str, float] = field(default_factory=dict)
    unit: str = ""
    part: str = ""
    for_s: float = 0.0
    phase: str = ""
    source: Origin = Origin.PRACTICE
    note: str = ""

    def __hash__(self) -> int:
        return hash((self.name, self.on, self.of, self.part))

    def judge(self, value: float | None) -> Level:
        """What a value deserves: the gravest level whose number it passes.

        Examples
        --------
        >>> Limit("hot", "figure", "engine.highest_egt", above={"watch": 700.0, "act": 720.0}).judge(710.0)
        <Level.WATCH: 2>
        """
        if not (self.above or self.below):
            return self.level
        return max((self.level, *(level for level, _ in self.passed(value))))

    def passed(self, value: float | None) -> list[tuple[Level, float]]:
        """Every level whose number a value passes, with that number."""
        if value is None or not math.isfinite(value):
            return []
        out = [(Level[name.upper()], bound) for name, bound in self.above.items() if value > bound]
        out += [(Level[name.upper()], bound) for name, bound in self.below.items() if value < bound]
        return out


class Limits(Struct, frozen=True):
    """Limits that hold together; where two are of one thing, the later one holds.

    Examples
    --------
    >>> COMMON_PRACTICE.level_of("event", "brown_out")
    <Level.ACT: 3>
    """

    every: tuple[Limit, ...]

    def find(self, on: On, of: str, part: str = "") -> Limit | None:
        """The limit of a thing: one for that very part goes before one for all parts."""
        found = [x for x in self.every if x.on == on and x.of == of and x.part in ("", part)]
        return max(enumerate(found), key=lambda pair: (bool(pair[1].part), pair[0]))[1] if found else None

    def level_of(self, on: On, of: str, value: float | None = None, part: str = "") -> Level:
        """What a thing deserves; :attr:`Level.FINE` where no limit is set on it."""
        limit = self.find(on, of, part)
        return limit.judge(value) if limit else Level.FINE

    def matter(self, of: str, value: float | None = None) -> Level:
        """What a matter of a whole season deserves."""
        return self.level_of("matter", of, value)

    def with_own(self, own: Iterable[Limit]) -> Limits:
        """These with an owner's limits put over them: what the owner says nothing of stays."""
        return Limits((*self.every, *own))


def _event(of: str, level: Level, unit: str = "", **above: float) -> Limit:
    return Limit(of.replace("_", "-"), "event", of, level, above, unit=unit)


def _matter(
    of: str, level: Level, unit: str = "", above: Mapping[str, float] | None = None,
    below: Mapping[str, float] | None = None,
) -> Limit:  # fmt: skip
    return Limit(of.replace("_", "-"), "matter", of, level, above or {}, below or {}, unit=unit)


COMMON_PRACTICE = Limits(
    (
        # Events of one flight. What the number of each is held against is said where the event is made.
        _event("over_temperature", Level.ACT),
        _event("hot_start", Level.ACT),
        _event("failed_start", Level.WATCH),
        _event("flame_out", Level.ACT),
        _event("cool_down_cut", Level.WATCH),
        _event("reserve_reached", Level.ACT),
        _event("reserve_near", Level.WATCH),
        _event("refuel", Level.NOTE),
        _event("fuel_data", Level.WATCH),
        # 0 where the log was set right by itself, 1 where a figure suffers.
        _event("pack_data", Level.NOTE, watch=0.0),
        # How deep, percent of the voltage without load.
        _event("sag", Level.NOTE, "%", watch=15.0),
        _event("brown_out", Level.ACT),
        # One antenna's fade or thin margin is what the others are there for; fade_together tells when they were not.
        _event("fade", Level.NOTE),
        _event("low_margin", Level.NOTE),
        # How long, s.
        _event("fade_together", Level.NOTE, "s", watch=0.5),
        # How many.
        _event("lost_frames", Level.NOTE, watch=19.0),
        # How long of it in flight, s; on the ground too somebody has to find its cause.
        _event("failsafe", Level.ACT, "s"),
        _event("downlink_gap", Level.NOTE),
        # Matters of one flight or of a whole season.
        _matter("doubtful_spans", Level.NOTE),
        _matter("service_left", Level.FINE, "%", below={"watch": 10.0, "act": 0.0}),
        _matter("burn_step", Level.WATCH),
        _matter("burn_drift", Level.NOTE),
        _matter("imbalance_step", Level.WATCH),
        _matter("imbalance", Level.NOTE),
        # What a twentieth of the time is seen below the antenna's own median, dB.
        _matter("deep_null", Level.FINE, "dB", above={"watch": 10.0}),
        _matter("layout_worse", Level.WATCH),
        _matter("range_fell", Level.WATCH),
        _matter("landed_below", Level.ACT),
        _matter("landed_perhaps_below", Level.WATCH),
        _matter("pack_beyond", Level.ACT),
        _matter("pack_perhaps_beyond", Level.WATCH),
        _matter("pack_near", Level.WATCH),
        # Flights to the first of the owner's retirement rules.
        _matter("pack_flights_left", Level.FINE, "flights", below={"watch": 5.0}),
        _matter("pack_not_alone", Level.WATCH),
        _matter("pack_browned_out", Level.WATCH),
        _matter("pack_browned_out_lately", Level.ACT),
        _matter("bus_let_down", Level.WATCH),
        # What the bench showed.
        _matter("bench_leak", Level.ACT),
        _matter("bench_air", Level.WATCH),
        _matter("bench_air_trap", Level.WATCH),
        _matter("bench_tank_differs", Level.WATCH),
        _matter("bench_brown_out", Level.ACT),
        _matter("bench_swapped", Level.ACT),
        _matter("bench_nothing_moved", Level.WATCH),
        _matter("bench_over_limit", Level.ACT),
        _matter("bench_unusual", Level.WATCH),
    )
)
"""Until an owner states other limits (common practice, no source)."""
