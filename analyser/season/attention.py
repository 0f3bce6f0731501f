"""What needs attention first, with the reason, the figure and the moment to look at.

Everything that points at one fault makes one entry: the gravest line leads and the others are its witnesses, so that
eighty fades do not bury a brown-out and a worn pack is not listed three times. A figure the log cannot support raises
nothing: absence is no alarm.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, TypeAlias

from msgspec import Struct
from msgspec.structs import replace

from analyser.core.events import Attention, Event, Level
from analyser.core.figures import Figure
from analyser.core.findings import Part, Text, say
from analyser.core.levels import COMMON_PRACTICE, Limits
from analyser.link.maps import exposed_null_db
from analyser.season.codes import SeasonCode
from analyser.season.link.codes import LayoutCode
from analyser.sense import believable

if TYPE_CHECKING:
    from analyser.record import FlightRecord
    from analyser.season.packs.history import PackHistory
    from analyser.season.result import AircraftSeason


RECENT = 3
"""How many of an aircraft's last flights count as "now"."""

Fault: TypeAlias = tuple[str, ...]
"""What a line is about: ``("pack", "R2")``, ``("fuel", "Tern")``, ``("link", "Tern", "rx2.antenna2")``."""


class _Line(Struct, frozen=True):
    """One line, the fault it is about, and where it ranks among lines of its level."""

    fault: Fault
    attention: Attention
    moment: int = 0
    """0 for what stands for a whole season, else the flight's position counted from 1."""

    @property
    def rank(self) -> tuple[int, int, int]:
        """Worst first; a whole season before a moment; later flights before earlier ones."""
        return (-self.attention.level, int(self.moment > 0), -self.moment)


class Watched(Struct, frozen=True):
    """What of one flight may need attention: packs by role, events, and margins (what was left less the reserve)."""

    flight_id: str
    number: int
    aircraft: str
    packs: dict[str, str]
    events: tuple[Event, ...]
    margins: tuple[tuple[str, Figure], ...]
    reserve_told: tuple[str, ...]
    touch_down_s: float | None


def watched(flight: FlightRecord) -> Watched:
    """Take from a flight what may need attention."""
    events = tuple(flight.result.events())
    return Watched(
        flight_id=flight.flight_id,
        number=flight.number,
        aircraft=flight.aircraft,
        packs={role: pack.name for role, pack in flight.context.packs.items()},
        events=tuple(e for e in events if e.level >= Level.WATCH),
        margins=tuple((t.name, t.margin) for t in flight.result.fuel.tanks if (believable(t.margin) or 0.0) < 0.0),
        reserve_told=tuple(sorted({e.subject for e in events if e.kind == "reserve_reached"})),
        touch_down_s=flight.result.phases.touch_down_s,
    )


def rank_attention(
    flights: Sequence[Watched], aircraft: Sequence[AircraftSeason], packs: Sequence[PackHistory],
    limits: Mapping[str, Limits] | None = None,
) -> tuple[Attention, ...]:  # fmt: skip
    """Rank everything in a season that its owner should look at, worst and latest first.

    Parameters
    ----------
    flights : sequence of Watched
        The newest flights of each aircraft, oldest first.
    aircraft : sequence of AircraftSeason
        Histories over those flights.
    packs : sequence of PackHistory
        Every pack's own verdict.
    limits : mapping of str to Limits, optional
        By aircraft; common practice for others.

    Returns
    -------
    tuple of Attention
        One for each fault, nothing below :attr:`Level.WATCH`. At one level, what stands for a whole season comes
        before single moments, later flights before earlier ones, and the order is stable for the same input.
    """
    limits = limits or {}
    suspected = {p.pack.name for p in packs if p.level >= Level.ACT}
    lines = [_pack_line(pack) for pack in packs]
    for season in aircraft:
        lines.extend(_season_lines(season, limits.get(season.aircraft.name, COMMON_PRACTICE)))
    lines.extend(_repeated_lines(flights, suspected))
    lines.extend(_margin_lines(flights, limits))
    faults: dict[Fault, list[_Line]] = {}
    for line in sorted((k for k in lines if k.attention.level >= Level.WATCH), key=lambda k: k.rank):
        faults.setdefault(line.fault, []).append(line)
    return tuple(
        replace(first.attention, witnesses=tuple(k.attention for k in rest)) for first, *rest in faults.values()
    )


def _pack_line(pack: PackHistory) -> _Line:
    reason: Text = say(SeasonCode.REASONS, parts=tuple(pack.reasons)) if pack.reasons else pack.sentence
    name = pack.pack.name
    subject = say(SeasonCode.PACK, name=name)
    return _Line(
        ("pack", name), Attention(Level(pack.level), subject, reason, figure=pack.matter, page=f"packs/{name}")
    )


def _season_lines(season: AircraftSeason, limits: Limits) -> Iterator[_Line]:
    name = season.aircraft.name

    def line(
        fault: Fault, level: Level, subject: Text, reason: Text, figure: Figure | None = None, page: str = "aircraft"
    ) -> _Line:
        return _Line(fault, Attention(level, subject, reason, figure=figure, page=f"{page}/{name}", aircraft=name))

    for engine in season.engines:
        due = engine.hours_to_service if engine.hours_to_service.value is not None else None
        part = Part(f"engine.{engine.name}")
        yield line(("engine", name, engine.name), Level(engine.level), part, engine.verdict, due)
    fuel = season.fuel
    for tank in fuel.tanks:
        # The history's own level: it has paid for looking at every possible flight of change.
        yield line(("fuel", name), tank.burn.level, Part(f"fuel.{tank.name}"), tank.burn.verdict, tank.burn.step)
    figure = next((f for f in reversed(fuel.imbalance.values) if f.value is not None), None)
    yield line(("fuel", name), fuel.imbalance.level, say(SeasonCode.FUEL), fuel.imbalance.verdict, figure)
    current = season.layouts.flown
    for seen in current.measured if current else ():
        # Against its plan, where there is one: a dipole's own null is no defect.
        departs = next((d for d in current.departures if d.antenna == seen.antenna), None) if current else None
        level = limits.matter("deep_null", exposed_null_db(departs or seen))
        reason = departs.sentence if departs else seen.sentence
        if level > Level.FINE and reason:
            antenna = Part(f"link.{seen.antenna}")
            yield line(("link", name, seen.antenna), level, antenna, reason, page="antennas")
    if current and current.best and current.best.sentence:
        level = limits.matter("deep_null", exposed_null_db(current.best))
        yield line(("link", name), level, say(LayoutCode.ANTENNAS), current.best.sentence, page="antennas")
    for comparison in season.layouts.comparisons:
        # After less before: fewer decibels or more lost packets are worse, and only a whole interval counts.
        weaker, lossier = comparison.difference_db, comparison.difference_lost_per_min
        worse = [f for f in (weaker,) if f.high is not None and f.high < 0.0]
        worse += [f for f in (lossier,) if f.low is not None and f.low > 0.0]
        if worse:
            antenna = Part(f"link.{comparison.antenna}")
            fault = ("link", name, comparison.antenna)
            yield line(fault, limits.matter("layout_worse"), antenna, comparison.verdict, worse[0], "antennas")
    for check in season.range.lines:
        fallen = next((f for f in (check.earlier_db, check.moved_db) if f is not None and (f.high or 0.0) < 0.0), None)
        antenna = Part(f"link.{check.antenna}")
        yield line(("link", name, check.antenna), check.level, antenna, check.fell, fallen, "antennas")


def _repeated_lines(flights: Sequence[Watched], suspected: set[str]) -> Iterator[_Line]:
    """One line for each kind of event of each part of an aircraft, over all its flights.

    What has not happened in the aircraft's last :data:`RECENT` flights has perhaps been mended: it ranks a level lower,
    but for a failsafe, which stays what it was until its cause is found.
    """
    groups: dict[tuple[Fault, str, str, str], list[tuple[int, Watched, Event]]] = {}
    for k, flight in enumerate(flights):
        for event in flight.events:
            key = (_fault_of(event, flight, suspected), flight.aircraft, event.kind, event.subject)
            groups.setdefault(key, []).append((k, flight, event))
    last = {f.aircraft: f.number for f in flights}
    for (fault, aircraft, kind, subject), found in groups.items():
        recent = [one for one in found if one[1].number > last[aircraft] - RECENT]
        k, flight, worst = max(recent or found, key=lambda one: _badness(one[2]))
        keeps = bool(recent) or kind == "failsafe"
        yield _Line(
            fault,
            Attention(
                worst.level if keeps else Level(worst.level - 1),
                Part(subject),
                _with_count(worst.summary, [f for _, f, _ in found], last[aircraft]),
                figure=worst.depth,
                flight_id=flight.flight_id,
                at_s=worst.start_s,
                aircraft=aircraft,
            ),
            k + 1,
        )


def _fault_of(event: Event, flight: Watched, suspected: set[str]) -> Fault:
    """What an event points at: the pack that was fitted, an antenna, a receiver, an engine, a tank's reserve.

    A bus that browned out while a pack that is to be retired fed it points at that pack.
    """
    kind, _, rest = event.subject.partition(".")
    packs = flight.packs
    if kind == "pack" and rest in packs:
        return ("pack", packs[rest])
    if kind == "bus" and event.kind == "brown_out":
        worn = sorted(suspected & set(packs.values()))
        if len(worn) == 1:
            return ("pack", worn[0])
    if kind == "fuel" and event.kind in RESERVE:
        return ("reserve", flight.aircraft, rest)
    return (kind, flight.aircraft, rest)


RESERVE = ("reserve_reached", "reserve_near")
"""Kinds of event that are about the reserve of a tank, not about its sensor or its engine."""


def _with_count(summary: Text, flights: Sequence[Watched], last: int) -> Text:
    times = len(flights)
    if times == 1:
        return summary
    numbers = sorted({f.number for f in flights})
    return say(
        SeasonCode.WORST_OF,
        summary=summary,
        times=times,
        flights=len(numbers),
        last_seen=numbers[-1],
        quiet=numbers[-1] <= last - RECENT,
        last_flown=last,
    )


def _margin_lines(flights: Sequence[Watched], limits: Mapping[str, Limits]) -> Iterator[_Line]:
    for k, flight in enumerate(flights):
        for tank, margin in flight.margins:
            subject = Part(f"fuel.{tank}")
            if subject not in flight.reserve_told:
                sure = margin.high is None or margin.high < 0.0
                yield _Line(
                    ("reserve", flight.aircraft, tank),
                    Attention(
                        limits.get(flight.aircraft, COMMON_PRACTICE).matter(
                            "landed_below" if sure else "landed_perhaps_below"
                        ),
                        subject,
                        say(SeasonCode.BELOW_RESERVE, margin=margin),
                        figure=margin,
                        flight_id=flight.flight_id,
                        at_s=flight.touch_down_s,
                        aircraft=flight.aircraft,
                    ),
                    k + 1,
                )


def _badness(event: Event) -> tuple[int, float, float]:
    depth = event.depth.value if event.depth is not None and event.depth.value is not None else 0.0
    return (int(event.level), depth, event.duration_s)
