"""Brown-outs of a bus that packs feed together, and what each of them gave at that moment."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from analyser.core.coincidence import Causes
from analyser.core.events import Event
from analyser.core.findings import Part, Text, say
from analyser.core.telemetry import Series
from analyser.packs.codes import PackCode
from analyser.packs.readings import PackLog
from analyser.packs.voltage import brown_outs

LOGGED_WITHIN_S = 1.0
"""A pack without a sample this near to a moment is said not to have been logged then."""
LEAST_LOAD_A = 0.2
"""A load below this is not worth sharing out."""


class BusDip(Struct, frozen=True):
    """What every pack that feeds a bus gave at the lowest moment of one of its brown-outs.

    ``packs`` are the roles that feed it; ``voltage_v`` at their own terminals and ``current_a`` hold those that were
    logged then.
    """

    bus: str
    start_s: float
    end_s: float
    at_s: float
    packs: tuple[str, ...]
    voltage_v: dict[str, float]
    current_a: dict[str, float]

    def share(self, role: str) -> float | None:
        """A pack's share of the load at that moment, 0 … 1; ``None`` where a pack's current is not known.

        A pack that took charge from the other carried none of the load.
        """
        given = {r: max(a, 0.0) for r, a in self.current_a.items()}
        total = sum(given.values())
        if set(given) != set(self.packs) or total < LEAST_LOAD_A:
            return None
        return given[role] / total

    def gave(self) -> tuple[Text, ...]:
        """What each gave at that moment; nothing where nothing was logged."""
        return tuple(self._gave(role) for role in self.packs if role in self.current_a or role in self.voltage_v)

    def _gave(self, role: str) -> Text:
        part = Part(f"pack.{role}")
        amps, volts, share = self.current_a.get(role), self.voltage_v.get(role), self.share(role)
        if amps is None:
            return say(PackCode.STOOD_AT, pack=part, volts=volts or 0.0)
        return say(
            PackCode.GAVE, pack=part, amps=amps, share_percent=-1.0 if share is None else 100.0 * share,
            volts=-1.0 if volts is None else volts,
        )  # fmt: skip


def feeding(bus: str, buses: Iterable[str], roles: Sequence[str], receivers: Sequence[str]) -> tuple[str, ...]:
    """The packs that feed a bus: the one of the same name, or, if it is the only other bus, all receiver packs."""
    if bus in roles:
        return (bus,)
    if [b for b in buses if b not in roles] != [bus]:
        return ()
    return tuple(r for r in roles if r in receivers)


def bus_brown_outs(
    bus: str, voltage: Series, level: float | None, causes: Causes, packs: Sequence[PackLog]
) -> tuple[tuple[Event, ...], tuple[BusDip, ...]]:
    """Find every brown-out of a bus: what each pack that feeds it gave, said and in figures."""
    events, dips = [], []
    for event in brown_outs(f"bus.{bus}", voltage, level, causes):
        inside = (voltage.time_s >= event.start_s) & (voltage.time_s <= event.end_s)
        at = float(voltage.time_s[inside][voltage.values[inside].argmin()])
        dip = BusDip(
            bus=bus,
            start_s=event.start_s,
            end_s=event.end_s,
            at_s=at,
            packs=tuple(log.role for log in packs),
            voltage_v={log.role: v for log in packs if (v := _at(log.voltage, at)) is not None},
            current_a={log.role: a for log in packs if (a := _at(log.current, at)) is not None},
        )
        dips.append(dip)
        events.append(replace(event, summary=_with_packs(event.summary, dip)))
    return tuple(events), tuple(dips)


def _with_packs(summary: Text, dip: BusDip) -> Text:
    gave = dip.gave()
    return say(PackCode.BUS_GAVE, summary=summary, at_s=dip.at_s, gave=gave) if gave else summary


def _at(series: Series, at_s: float) -> float | None:
    if not series or float(np.abs(series.time_s - at_s).min()) > LOGGED_WITHIN_S:
        return None
    return float(np.interp(at_s, *series))
