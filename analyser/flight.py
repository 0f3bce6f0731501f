"""One flight from telemetry to result: the one composition."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack
from functools import partial

from msgspec import Struct

from analyser.core.aircraft import FlightContext
from analyser.core.codes import CoreCode
from analyser.core.events import Event
from analyser.core.figures import Missing
from analyser.core.findings import Part, say
from analyser.core.phases import Phases, find_phases
from analyser.core.quality import screen
from analyser.core.tables import Tabular
from analyser.core.telemetry import Suspect, Telemetry
from analyser.engines.analysis import TurbineResult, analyse_turbines
from analyser.fuel.analysis import FuelResult, analyse_fuel
from analyser.link.analysis import LinkResult, analyse_link
from analyser.packs.analysis import PacksResult, analyse_packs


class FlightResult(Tabular, Struct, frozen=True):
    """Everything the analyser says of one flight; ``passed`` are limits of figures and channels that it passed."""

    flight_id: str
    duration_s: float
    phases: Phases
    fuel: FuelResult
    turbine: TurbineResult
    packs: PacksResult
    link: LinkResult
    suspects: tuple[Suspect, ...]
    channels: tuple[str, ...]
    extras: tuple[str, ...]
    passed: tuple[Event, ...] = ()
    unsettled: tuple[str, ...] = ()
    """Parts (``fuel.aux``) that the log names and the aircraft's file does not: left out until that is settled."""

    def __repr__(self) -> str:
        parts = (
            (len(self.fuel.tanks), "tank"), (len(self.packs.packs), "pack"), (len(self.link.receivers), "receiver"),
            (len(self.turbine.engines), "engine"),
        )  # fmt: skip
        counts = "".join(f", {n} {what}{'' if n == 1 else 's'}" for n, what in parts)
        return f"FlightResult({self.duration_s / 60:.1f} min{counts})"

    def events(self) -> Iterator[Event]:
        """Every event of the flight, in time order."""
        found: list[Event] = [*self.fuel.events, *self.link.events, *self.passed]
        for engine in self.turbine.engines:
            found.extend(engine.events)
        found.extend(self.packs.events)
        for pack in self.packs.packs:
            found.extend(pack.events)
        for receiver in self.link.receivers:
            found.extend(receiver.events)
            for antenna in receiver.antennas:
                found.extend(antenna.events)
        return iter(sorted(found, key=lambda e: (e.start_s, e.subject)))

    def missing(self) -> tuple[Missing, ...]:
        """What the log or the notes did not hold, over all subjects."""
        return (
            *(_unsettled(self.flight_id, part) for part in self.unsettled),
            *self.phases.missing,
            *self.fuel.missing,
            *self.turbine.missing,
            *self.packs.missing,
            *self.link.missing,
        )


def _parts(context: FlightContext) -> set[str]:
    """Parts that the aircraft's file, and those of its packs, name by now."""
    aircraft = context.aircraft
    if aircraft is None:
        return set()
    tanks, engines, receivers = aircraft.tanks, aircraft.engines, aircraft.receivers
    return (
        {f"fuel.{t.name}" for t in tanks}
        | {f"engine.{e.name}" for e in engines}
        | {f"link.{r.name}" for r in receivers}
        | {f"pack.{role}" for role in context.packs}
    )


def _unsettled(flight: str, part: str) -> Missing:
    subject, _, name = part.partition(".")
    return Missing(
        subject,
        say(CoreCode.UNSETTLED_PART, part=Part(part), name=name),
        say(CoreCode.UNSETTLED_COST, part=Part(part)),
        say(CoreCode.UNSETTLED_REMEDY, flight=flight, key=f"part.{part}"),
    )


LONGEST_S = 48 * 3600.0
"""A flight that says it lasted longer is not analysed: grids over its time would grow without bound."""


LONG_ROWS = 50_000
"""From so many rows on the link is worked out beside the rest: most of it is arithmetic on long arrays, during which
another thread runs."""


def analyse_flight(telemetry: Telemetry, context: FlightContext) -> FlightResult:
    """Analyse one flight.

    Parameters
    ----------
    telemetry : Telemetry
        As stored; it is screened here.
    context : FlightContext
        What the log cannot know; gaps cost only the figures that need them.

    Raises
    ------
    ValueError
        If it lasts longer than :data:`LONGEST_S`.
    """
    if telemetry.duration_s > LONGEST_S:
        raise ValueError(f"it lasts {telemetry.duration_s / 3600:,.0f} hours, and no flight does: its clock is wrong")
    named = _parts(context)
    unsettled = tuple(p for p in telemetry.unsettled if p not in named)
    screened = screen(telemetry.without(unsettled))
    phases = find_phases(screened)
    with ExitStack() as stack:
        link: Callable[[], LinkResult] = partial(analyse_link, screened, phases, context)
        if screened.table.num_rows >= LONG_ROWS:
            beside = stack.enter_context(ThreadPoolExecutor(1, "link"))
            link = beside.submit(link).result
        fuel = analyse_fuel(screened, phases, context)
        turbine = analyse_turbines(screened, phases, context)
        packs = analyse_packs(screened, phases, context)
        heard = link()
    return FlightResult(
        flight_id=context.flight_id,
        duration_s=screened.duration_s,
        phases=phases,
        fuel=fuel,
        turbine=turbine,
        packs=packs,
        link=heard,
        suspects=screened.suspects,
        channels=screened.channels,
        extras=screened.extras,
        unsettled=unsettled,
    )
