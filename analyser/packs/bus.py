"""Brown-outs of a bus that packs feed together, and what each of them gave at that moment."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from analyser.core.coincidence import Causes
from analyser.core.events import Event
from analyser.core.telemetry import Series
from analyser.packs.readings import PackLog
from analyser.packs.voltage import brown_outs

LOGGED_WITHIN_S = 1.0
"""A pack without a sample this near to a moment is said not to have been logged then."""
LEAST_LOAD_A = 0.2
"""A load below this is not worth sharing out."""


@dataclass(frozen=True, slots=True)
class BusDip:
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

    def sentence(self) -> str:
        """What each gave, in words; nothing where nothing was logged."""
        said = [self._gave(role) for role in self.packs if role in self.current_a or role in self.voltage_v]
        return f"At its lowest, at {self.at_s:.1f} s, {' and '.join(said)}." if said else ""

    def _gave(self, role: str) -> str:
        amps, volts, share = self.current_a.get(role), self.voltage_v.get(role), self.share(role)
        if amps is None:
            return f"{role} stood at {volts:.2f} V"
        part = f" ({100 * share:.0f} % of the load)" if share is not None else ""
        return f"{role} gave {amps:.1f} A{part}" + (f" at {volts:.2f} V" if volts is not None else "")


def feeding(bus: str, buses: Iterable[str], roles: Sequence[str]) -> tuple[str, ...]:
    """The packs that feed a bus: the one of the same name, or, if it is the only other bus, all receiver packs."""
    if bus in roles:
        return (bus,)
    if [b for b in buses if b not in roles] != [bus]:
        return ()
    return tuple(r for r in roles if r.startswith("rx"))


def bus_brown_outs(
    bus: str, voltage: Series, level: float | None, causes: Causes, packs: Sequence[PackLog]
) -> tuple[tuple[Event, ...], tuple[BusDip, ...]]:
    """Every brown-out of a bus, its text saying what each pack that feeds it gave, and the same in figures."""
    events, dips = [], []
    for event in brown_outs(f"bus.{bus}", voltage, level, causes):
        inside = (voltage.time_s >= event.start_s) & (voltage.time_s <= event.end_s)
        at = float(voltage.time_s[inside][voltage.values[inside].argmin()])
        dip = BusDip(
            bus,
            event.start_s,
            event.end_s,
            at,
            tuple(log.role for log in packs),
            {log.role: v for log in packs if (v := _at(log.voltage, at)) is not None},
            {log.role: a for log in packs if (a := _at(log.current, at)) is not None},
        )
        dips.append(dip)
        events.append(replace(event, summary=f"{event.summary} {dip.sentence()}".rstrip()))
    return tuple(events), tuple(dips)


def _at(series: Series, at_s: float) -> float | None:
    if not series or float(np.abs(series.time_s - at_s).min()) > LOGGED_WITHIN_S:
        return None
    return float(np.interp(at_s, *series))
