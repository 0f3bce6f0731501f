"""A flight reduced to what histories over flights read: no curves, no marks of a moment that asks for nothing.

A tenth of a whole result, so that many flights are read at once. Every history, and what needs attention, comes out the
same from briefs as from whole results.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from msgspec.structs import replace

from analyser.core.events import Event, Level
from analyser.flight import FlightResult
from analyser.fuel.burn import BurnRecord
from analyser.fuel.tank import TankResult
from analyser.link.analysis import LinkResult
from analyser.packs.analysis import PackResult, PacksResult
from analyser.record import FlightRecord

_NONE = np.empty(0)
_NO_RECORD = BurnRecord(_NONE, _NONE, _NONE, _NONE, rate_half_ml_per_min=0.0, window_s=0, added_ml=_NONE)
COUNTED = ("brown_out", "reserve_reached", "reserve_near")
"""Kinds of event that a history counts, whatever their level."""


def brief(flight: FlightRecord) -> FlightRecord:
    """The same flight without what only its own page shows.

    Parameters
    ----------
    flight : FlightRecord
        Corrected already by what others teach: a brief cannot be corrected again.
    """
    return replace(flight, result=brief_result(flight.result))


def brief_result(result: FlightResult) -> FlightResult:
    """The same result without what only the flight's own page shows."""
    fuel = replace(
        result.fuel, tanks=tuple(_tank(t) for t in result.fuel.tanks), events=_asking(result.fuel.events), missing=()
    )
    turbine = replace(
        result.turbine,
        engines=tuple(replace(e, events=_asking(e.events)) for e in result.turbine.engines),
        missing=(),
    )
    return replace(
        result,
        phases=replace(result.phases, missing=()),
        fuel=fuel,
        turbine=turbine,
        packs=_packs(result.packs),
        link=_link(result.link),
        suspects=(),
        passed=_asking(result.passed),
    )


def _asking(events: Iterable[Event]) -> tuple[Event, ...]:
    return tuple(e for e in events if e.level >= Level.WATCH or e.kind in COUNTED)


def _tank(tank: TankResult) -> TankResult:
    return replace(tank, phases=(), bands=(), burn_rate=None, remaining=None, record=_NO_RECORD)


def _packs(packs: PacksResult) -> PacksResult:
    return replace(packs, packs=tuple(_pack(p) for p in packs.packs), events=_asking(packs.events), missing=())


def _pack(pack: PackResult) -> PackResult:
    return replace(
        pack,
        charge=replace(pack.charge, phases=()),
        voltage=replace(pack.voltage, load_free=None),
        events=_asking(pack.events),
    )


def _link(link: LinkResult) -> LinkResult:
    receivers = tuple(
        replace(
            r,
            antennas=tuple(replace(a, residual=None, events=_asking(a.events)) for a in r.antennas),
            events=_asking(r.events),
        )
        for r in link.receivers
    )
    return replace(link, receivers=receivers, range_m=None, events=_asking(link.events), missing=(), left_out={})
