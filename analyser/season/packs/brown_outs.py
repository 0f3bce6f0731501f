"""A pack's brown-outs over its flights: those at its own terminals, and those of the bus it feeds, each counted once.

A brown-out of a shared bus is nobody's alone. It is counted beside a pack's own, unless the pack browned out itself at
that moment, and it speaks against the pack only where it let the others down: where it gave clearly less than its part
of the load (half of it, with two packs), although it is no stand-by that gives hardly anything in the whole flight. The
bus of one pack alone is that pack's, its leads and plugs included.
"""

from __future__ import annotations

from collections.abc import Sequence
from collections.abc import Set as AbstractSet
from typing import NamedTuple

import numpy as np
from msgspec import Struct

from analyser.core.channels import parse
from analyser.core.events import Event
from analyser.core.figures import Figure, Method
from analyser.core.findings import Text, say
from analyser.core.levels import COMMON_PRACTICE, Level
from analyser.packs.bus.brown_outs import BusDip, feeding
from analyser.packs.use import receiver_roles
from analyser.packs.voltage import brown_out_level
from analyser.season.packs.codes import SeasonPackCode
from analyser.season.packs.uses import PackUse

SAME_MOMENT_S = 0.5
"""Dips of a bus and of a pack's terminals this near are one."""
CLEARLY_LESS = 0.8
"""Of its even part: two sound packs are never quite alike, and the one that gave 45 % let nobody down."""
STAND_BY_PERCENT = 10.0
"""A pack with less of a flight's load is a stand-by: it did not let the bus down, it was not asked."""


class BrownOutCount(NamedTuple):
    """One pack's brown-outs in one flight, as :class:`BrownOuts` counts them."""

    own: int
    let_down: int
    carried: int
    untold: int
    packs: int
    judged: bool
    bus_logged: bool


class BrownOuts(Struct, frozen=True):
    """``own`` happened at the pack's terminals, so many ``times`` in all; ``lately`` if any did in its last flights.

    Of those of the bus beside them, ``let_down`` are those in which it gave clearly less than its part or was the only
    pack, ``carried`` those in which it gave about its part or more, ``untold`` those in which nobody can say or it
    stood by.
    ``packs`` is how many feed that bus. ``judged`` is whether any flight had a level to
    judge by, ``bus_logged`` whether any logged a bus.
    """

    own: tuple[Event, ...]
    times: int
    lately: bool
    let_down: int
    carried: int
    untold: int
    packs: int
    judged: bool
    bus_logged: bool

    @property
    def beside(self) -> int:
        """Brown-outs of the bus that are not the pack's own."""
        return self.let_down + self.carried + self.untold

    def reason(self) -> tuple[Level, Text] | None:
        """Why it deserves attention, if it does."""
        if not self.times:
            if not self.let_down:
                return None
            return COMMON_PRACTICE.matter("bus_let_down"), say(
                SeasonPackCode.LET_DOWN, times=self.let_down, packs=self.packs
            )
        usual = tuple(say(SeasonPackCode.CAUSE_COUNT, cause=c, times=n) for c, n in usual_causes(self.own))
        text = say(SeasonPackCode.BROWNED_OUT, times=self.times, causes=usual, let_down=self.let_down, packs=self.packs)
        return COMMON_PRACTICE.matter("pack_browned_out_lately" if self.lately else "pack_browned_out"), text

    def figures(self, pack: str) -> tuple[Figure, Figure]:
        """The pack's own, and those of its bus beside them."""
        labels = say(SeasonPackCode.BROWN_OUTS, pack=pack), say(SeasonPackCode.BUS_BROWN_OUTS, pack=pack)
        if not self.judged:
            own, beside = (Figure.unavailable(x, "", say(SeasonPackCode.NO_LEVEL)) for x in labels)
            return own, beside
        how = say(SeasonPackCode.OWN_DIPS)
        own = Figure(labels[0], float(self.times), "", Method.INTEGRATED, how=how, digits=0)
        if not self.bus_logged:
            return own, Figure.unavailable(labels[1], "", say(SeasonPackCode.NO_BUS))
        how = say(
            SeasonPackCode.BUS_DIPS, packs=self.packs, let_down=self.let_down, carried=self.carried, untold=self.untold
        )
        return own, Figure(labels[1], float(self.beside), "", Method.INTEGRATED, how=how, digits=0)


def count_of(use: PackUse) -> BrownOutCount:
    """Count a pack's brown-outs in one flight."""
    beside = [dip for dip in use.flight.result.packs.bus_dips if _is_beside(use, dip)]
    parts = [_of_its_part(use, dip) for dip in beside]
    packs = max((len(dip.packs) for dip in beside), default=0)
    alone = packs == 1
    return BrownOutCount(
        own=sum(e.kind == "brown_out" for e in use.result.events),
        let_down=len(parts) if alone else sum(p is not None and p < CLEARLY_LESS for p in parts),
        carried=0 if alone else sum(p is not None and p >= CLEARLY_LESS for p in parts),
        untold=0 if alone else sum(p is None for p in parts),
        packs=packs,
        judged=brown_out_level(use.flight.context, use.pack) is not None,
        bus_logged=_logs_its_bus(use),
    )


def summed(counts: Sequence[Sequence[int]]) -> BrownOutCount:
    """Add flights' counts up; of packs that share a bus the most count."""
    table = np.array([*counts, BrownOutCount(0, 0, 0, 0, 0, judged=False, bus_logged=False)], np.int64)
    own, let_down, carried, untold = table[:, :4].sum(axis=0).tolist()
    packs, judged, bus_logged = table[:, 4:].max(axis=0).tolist()
    return BrownOutCount(own, let_down, carried, untold, packs, judged=bool(judged), bus_logged=bool(bus_logged))


def count_brown_outs(uses: Sequence[PackUse], count: BrownOutCount, long_ago: AbstractSet[str]) -> BrownOuts:
    """Count them over all flights of a pack.

    Parameters
    ----------
    uses : sequence of PackUse
        The flights that its history rests on.
    count : BrownOutCount
        Of every flight it was ever fitted in, from :func:`summed`.
    long_ago : set of str
        Ids of those uses that are not among its last ones.
    """
    own = [(use, e) for use in uses for e in use.result.events if e.kind == "brown_out"]
    return BrownOuts(
        own=tuple(e for _, e in own),
        times=count.own,
        lately=any(use.flight.flight_id not in long_ago for use, _ in own),
        let_down=count.let_down,
        carried=count.carried,
        untold=count.untold,
        packs=count.packs or 2,
        judged=count.judged,
        bus_logged=count.bus_logged,
    )


def _logs_its_bus(use: PackUse) -> bool:
    found = (parse(name) for name in use.flight.result.channels)
    buses = [p.instance for p in found if p and (p.channel.subject, p.channel.quantity) == ("bus", "voltage_v")]
    roles = [p.name for p in use.flight.result.packs.packs]
    receivers = receiver_roles(roles, use.flight.context)
    return any(use.result.name in feeding(bus, buses, roles, receivers) for bus in buses)


def _is_beside(use: PackUse, dip: BusDip) -> bool:
    return use.result.name in dip.packs and not any(
        e.kind == "brown_out" and e.start_s <= dip.end_s + SAME_MOMENT_S and e.end_s >= dip.start_s - SAME_MOMENT_S
        for e in use.result.events
    )


def _of_its_part(use: PackUse, dip: BusDip) -> float | None:
    """What it gave over its even part of the load; ``None`` where that is not known or it stood by the whole flight."""
    share = dip.share(use.result.name)
    if share is None:
        return None
    for bus in use.flight.result.packs.buses:
        whole = bus.share_percent.get(use.result.name)
        if whole is not None and whole.value is not None and whole.value < STAND_BY_PERCENT:
            return None
    return share * len(dip.packs)


def usual_causes(events: Sequence[Event]) -> list[tuple[Text, int]]:
    """The two things that went with most of some events (a fifth of them at least), and with how many."""
    counts = {c: sum(c in e.causes for e in events) for c in dict.fromkeys(c for e in events for c in e.causes)}
    usual = [(c, n) for c, n in counts.items() if n >= len(events) / 5]
    return sorted(usual, key=lambda x: -x[1])[:2]
