"""Which packs, engines and antenna layouts are of one type: by the owner's word, else by what the files state."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Literal, TypeAlias

from msgspec import Struct

from analyser.core.aircraft import Aircraft, AntennaLayout, Engine, Pack
from analyser.core.findings import Part, Text, say
from analyser.fleet.codes import FleetCode

Sort: TypeAlias = Literal["pack", "engine", "antenna"]
"""What is compared."""
PLACE_M, TURN_DEG = 0.05, 10.0
"""Antennas closer than this, and turned by no more, are fitted alike (common practice, no source)."""


class Member(Struct, frozen=True):
    """One thing of a type.

    Parameters
    ----------
    aircraft : str
        On which it is; ``""`` for a pack, which goes from one to another.
    thing : str
        A pack's name; ``""`` for what is part of an aircraft.
    part : str
        ``engine.left``, ``link.rx1.antenna2``; ``""`` for a pack.
    layout : str
        Name of an antenna's layout, ``""`` for all else.
    tank : str
        Name of the tank that an engine is fed from, ``""`` for all else.
    """

    aircraft: str
    thing: str = ""
    part: str = ""
    layout: str = ""
    tank: str = ""


class Kind(Struct, frozen=True):
    """One type: its name (the owner's word, or what its members have in common) and what belongs to it.

    ``place`` is what an antenna is called in its layout, ``""`` for all else: antennas are compared place by place.
    """

    sort: Sort
    name: Text
    members: tuple[Member, ...]
    place: Text = ""


def kinds_of(aircraft: Mapping[str, Aircraft], packs: Mapping[str, Pack]) -> tuple[Kind, ...]:
    """Gather what is of one type, in the order of packs, engines and antennas; what has no like is left out.

    Parameters
    ----------
    aircraft, packs : mapping of str to Aircraft, Pack
        By name.
    """
    found = [*_packs(packs.values()), *_engines(aircraft.values()), *_antennas(aircraft.values())]
    return tuple(kind for kind in found if len(kind.members) > 1)


def _folded(word: str) -> str:
    return " ".join(word.casefold().split())


def _packs(packs: Iterable[Pack]) -> list[Kind]:
    names: dict[tuple[object, ...], Text] = {}
    found: dict[tuple[object, ...], list[Member]] = {}
    for pack in sorted(packs, key=lambda p: p.name):
        if word := _folded(pack.type):
            key: tuple[object, ...] = (word,)
            name: Text = pack.type.strip()
        elif pack.rated_mah is not None:
            key = (pack.chemistry, pack.cells, pack.rated_mah)
            name = say(FleetCode.PACKS_LIKE, chemistry=pack.chemistry, cells=pack.cells, rated_mah=pack.rated_mah)
        else:
            continue
        names.setdefault(key, name)
        found.setdefault(key, []).append(Member("", thing=pack.name))
    return [Kind("pack", names[key], tuple(own)) for key, own in found.items()]


def _engines(aircraft: Iterable[Aircraft]) -> list[Kind]:
    names: dict[tuple[object, ...], Text] = {}
    found: dict[tuple[object, ...], list[Member]] = {}
    for one in sorted(aircraft, key=lambda a: a.name):
        for engine in one.engines:
            if word := _folded(engine.type):
                key: tuple[object, ...] = (word,)
                name: Text = engine.type.strip()
            elif engine.max_rpm is not None:
                key = (engine.max_rpm, engine.max_egt_c)
                name = say(FleetCode.ENGINES_LIKE, max_rpm=engine.max_rpm, max_egt_c=engine.max_egt_c)
            else:
                continue
            names.setdefault(key, name)
            member = Member(one.name, part=f"engine.{engine.name}", tank=_tank_of(one, engine))
            found.setdefault(key, []).append(member)
    return [Kind("engine", names[key], tuple(own)) for key, own in found.items()]


def _tank_of(aircraft: Aircraft, engine: Engine) -> str:
    """The tank that only this engine drinks from; ``""`` where that is not stated."""
    own = {t.name for t in aircraft.tanks if t.engine == engine.name} | ({engine.tank} if engine.tank else set())
    shared = {e.tank for e in aircraft.engines if e.name != engine.name}
    return own.pop() if len(own) == 1 and not own & shared else ""


def _antennas(aircraft: Iterable[Aircraft]) -> list[Kind]:
    """Layouts that are built alike, and in them antenna by antenna."""
    classes: list[tuple[str, AntennaLayout, list[tuple[str, AntennaLayout]]]] = []
    for one in sorted(aircraft, key=lambda a: a.name):
        for layout in one.layouts:
            word = _folded(layout.type)
            like = next(
                (c for c in classes if c[0] == word and (_same_set(c[1], layout) if word else _alike(c[1], layout))),
                None,
            )
            if like is None:
                classes.append((word, layout, [(one.name, layout)]))
            else:
                like[2].append((one.name, layout))
    out = []
    for word, first, own in classes:
        names = list(dict.fromkeys(layout.name for _, layout in own))
        name: Text = first.type.strip() if word else say(FleetCode.LAYOUTS_LIKE, names=tuple(names))
        for antenna in first.antennas:
            part = f"link.{antenna.receiver}.antenna{antenna.number}"
            members = tuple(Member(who, part=part, layout=layout.name) for who, layout in own)
            out.append(Kind("antenna", name, members, place=antenna.name or Part(part)))
    return out


def _same_set(one: AntennaLayout, other: AntennaLayout) -> bool:
    return {(a.receiver, a.number) for a in one.antennas} == {(a.receiver, a.number) for a in other.antennas}


def _alike(one: AntennaLayout, other: AntennaLayout) -> bool:
    """Whether every antenna of one has its like in the other: same receiver and number, place, kind and direction."""
    if not one.antennas or not _same_set(one, other) or one.shadows != other.shadows:
        return False
    there = {(a.receiver, a.number): a for a in other.antennas}
    for antenna in one.antennas:
        like = there[antenna.receiver, antenna.number]
        dot = sum(a * b for a, b in zip(antenna.axis, like.axis, strict=True))
        cosine = abs(dot) / (math.hypot(*antenna.axis) * math.hypot(*like.axis))  # an axis has no front
        if (
            antenna.kind != like.kind
            or math.dist(antenna.position_m, like.position_m) > PLACE_M
            or cosine < math.cos(math.radians(TURN_DEG))
        ):
            return False
    return True
