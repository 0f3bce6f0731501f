"""What a pack feeds: the receivers, an engine, or something else; as the owner declares it."""

from __future__ import annotations

import re
from collections.abc import Iterable

from msgspec import Struct

from analyser.core.aircraft import FlightContext, PackUse

USUAL_ROLES: dict[str, PackUse] = {"rx": "receiver", "receiver": "receiver", "ecu": "engine", "turbine": "engine"}
"""What a log's own name for a place usually means (common practice, no source); used where nobody declares a use."""


class Use(Struct, frozen=True):
    """What a pack feeds (a ``PackUse``), ``""`` where nobody can say, and whether the owner declared it."""

    feeds: str
    declared: bool


def use_of(role: str, context: FlightContext) -> Use:
    """What the pack at a role feeds.

    The fitted pack's declared use comes first, then an engine of the aircraft that names the role as its own, then
    what the log's name for the role usually means.

    Examples
    --------
    >>> use_of("rx1", FlightContext())
    Use(feeds='receiver', declared=False)
    >>> use_of("rxb", FlightContext())
    Use(feeds='', declared=False)
    """
    pack = context.packs.get(role)
    if pack is not None and pack.use:
        return Use(pack.use, True)
    if context.aircraft is not None and any(e.pack_role == role for e in context.aircraft.engines):
        return Use("engine", True)
    word = re.split(r"[\d_\-. ]", role.lower(), maxsplit=1)[0]
    return Use(USUAL_ROLES.get(word, ""), False)


def receiver_roles(roles: Iterable[str], context: FlightContext) -> tuple[str, ...]:
    """Those of some roles whose packs feed the receivers."""
    return tuple(r for r in roles if use_of(r, context).feeds == "receiver")
