"""Flights judged by an aircraft's limits: events anew, and figures and channels that passed one.

What a limit is and the levels of common practice are in :mod:`analyser.core.levels`. A figure that may lie on either
side of a limit by its interval is told so, a level lower: silence is better than a confident mistake.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from analyser.core.channels import parse
from analyser.core.events import Event, find_dips
from analyser.core.figures import Figure, FloatArray, Method
from analyser.core.findings import Part, say
from analyser.core.levels import Level, Limit, Limits
from analyser.core.phases import PhaseName, Phases
from analyser.core.telemetry import Telemetry
from analyser.flight import FlightResult
from analyser.programme.codes import LimitCode
from analyser.programme.measures import BY_ID, Row

AIRBORNE = "airborne"
PHASES = (AIRBORNE, *(p.value for p in PhaseName))
"""What a limit's ``phase`` may be."""
WHOLE_FLIGHT = "flight"
"""Subject of what is of no single part."""
LONGEST_GAP_S = 5.0
"""A hole in a channel longer than this ends what was beyond its limit: nobody saw what happened there."""


def with_events(result: FlightResult, change: Callable[[Event], Event]) -> FlightResult:
    """The same result with every one of its events changed, wherever in it they stand."""

    def anew(events: tuple[Event, ...]) -> tuple[Event, ...]:
        return tuple(change(e) for e in events)

    fuel, packs, link = result.fuel, result.packs, result.link
    engines = tuple(replace(e, events=anew(e.events)) for e in result.turbine.engines)
    receivers = tuple(
        replace(r, events=anew(r.events), antennas=tuple(replace(a, events=anew(a.events)) for a in r.antennas))
        for r in link.receivers
    )
    return replace(
        result,
        fuel=replace(fuel, events=anew(fuel.events)),
        turbine=replace(result.turbine, engines=engines),
        packs=replace(
            packs, events=anew(packs.events), packs=tuple(replace(p, events=anew(p.events)) for p in packs.packs)
        ),
        link=replace(link, events=anew(link.events), receivers=receivers),
        passed=anew(result.passed),
    )


def judged(result: FlightResult, limits: Limits, rows: Sequence[Row], crossed: Iterable[Event] = ()) -> FlightResult:
    """Judge a flight by its aircraft's limits.

    Parameters
    ----------
    result : FlightResult
        As the analyser told it.
    limits : Limits
        Common practice with the owner's over it.
    rows : sequence of Row
        Its figures (:func:`analyser.programme.measures.rows_of`).
    crossed : iterable of Event
        From :func:`crossings`: what its channels passed.

    Returns
    -------
    FlightResult
        Every event with the level that the limits give it, and an event for every limit of a figure that was passed.
    """
    again = with_events(replace(result, passed=()), lambda e: level_of(e, limits, result.phases))
    return replace(again, passed=(*crossed, *figures_passed(rows, limits, result.duration_s)))


def level_of(event: Event, limits: Limits, phases: Phases) -> Event:
    """The same event with the level that the limits give it."""
    limit = limits.find("event", event.kind, event.subject)
    if limit is None:
        return event
    too_short = event.duration_s < limit.for_s
    level = Level.FINE if too_short or not _within(event.start_s, phases, limit.phase) else limit.judge(event.size)
    return event if level is event.level else replace(event, level=level)


def _within(at_s: float, phases: Phases, phase: str) -> bool:
    return not phase or any(a <= at_s <= b for a, b in _spans(phases, phase))


def _spans(phases: Phases, phase: str) -> tuple[tuple[float, float], ...]:
    if phase == AIRBORNE:
        return (phases.airborne_span,) if phases.airborne_span else ()
    return phases.spans(PhaseName(phase))


def figures_passed(rows: Sequence[Row], limits: Limits, at_s: float) -> Iterator[Event]:
    """Iterate over what figures passed; each stands at the end of the flight, since it is of the whole of it.

    Parameters
    ----------
    at_s : float
        The flight's end, s.
    """
    held = _by_measure(limits)
    for row in rows:
        limit = held.get((row.measure, row.part)) or held.get((row.measure, row.thing or row.part)) or held.get(
            (row.measure, "")
        )  # fmt: skip
        if limit is None or (hit := passed(row, limit)) is None:
            continue
        measure = BY_ID[row.measure]
        figure = Figure(
            say(measure.code), row.value, row.unit, Method(row.method), row.low, row.high, digits=measure.digits
        )
        said = say(
            LimitCode.FIGURE_PASSED, figure=figure, what=say(measure.code), part=Part(row.part) if row.part else "",
            bound=_bound(hit.bound, row.unit, measure.digits), above=hit.above, sure=hit.sure, limit=limit.name,
            source=say(f"limit_source.{limit.source.name.lower()}"),
        )  # fmt: skip
        yield Event("limit", row.part or WHOLE_FLIGHT, at_s, at_s, hit.level, said, figure, (), row.value, limit.name)


def _by_measure(limits: Limits) -> dict[tuple[str, str], Limit]:
    return {(x.of, x.part): x for x in limits.every if x.on == "figure"}


class Passed(Struct, frozen=True):
    """A limit that a figure passed: what that deserves, the number passed, and whether the whole interval did."""

    level: Level
    bound: float
    above: bool
    sure: bool


def passed(row: Row, limit: Limit) -> Passed | None:
    """Hold one figure against one limit; ``None`` where it keeps it."""
    hits = limit.passed(row.value)
    if not hits or row.value is None:
        return None
    level, bound = max(hits)
    above = row.value > bound
    surest = row.low if above else row.high
    sure_level = level if surest is None else max((x for x, _ in limit.passed(surest)), default=Level.FINE)
    sure = sure_level >= level
    return Passed(level if sure else max(sure_level, _milder(level)), bound, above, sure)


def _milder(level: Level) -> Level:
    """A level lower, but never none: something may have been passed."""
    return Level(max(level - 1, Level.FINE + 1))


def _bound(value: float, unit: str, digits: int) -> Figure:
    return Figure("", value, unit, Method.ENTERED, digits=digits)


def crossings(telemetry: Telemetry, phases: Phases, limits: Iterable[Limit]) -> tuple[Event, ...]:
    """Find where channels lay beyond their limits for long enough.

    Parameters
    ----------
    telemetry : Telemetry
        Screened.
    phases : Phases
        Of the same flight.
    limits : iterable of Limit
        Those on channels are held against; others are passed over.

    Returns
    -------
    tuple of Event
        One for each span beyond the mildest number of a limit that lasted; its level is the gravest whose own number
        was passed for as long inside it.
    """
    out = []
    for limit in limits:
        if limit.on != "channel":
            continue
        for channel in channels_of(limit, telemetry.channels):
            t, v = telemetry.series(channel)
            if limit.phase:
                inside = np.zeros(t.size, bool)
                for a, b in _spans(phases, limit.phase):
                    inside |= (t >= a) & (t <= b)
                t, v = t[inside], v[inside]
            if t.size:
                out += [*_beyond(channel, t, v, limit, above=True), *_beyond(channel, t, v, limit, above=False)]
    return tuple(sorted(out, key=lambda e: (e.start_s, e.subject)))


def channels_of(limit: Limit, channels: Iterable[str]) -> list[str]:
    """Channels that a limit holds for: the one it names, or that quantity of every part (``engine.egt_c``)."""
    out = []
    for name in channels:
        found = parse(name)
        of_all = found is not None and f"{found.channel.subject}.{found.channel.quantity}" == limit.of
        if (name == limit.of or of_all) and limit.part in ("", name.rpartition(".")[0]):
            out.append(name)
    return out


def _beyond(channel: str, t: FloatArray, v: FloatArray, limit: Limit, *, above: bool) -> Iterator[Event]:
    bounds: Mapping[str, float] = limit.above if above else limit.below
    ranked = sorted((Level[name.upper()], bound) for name, bound in bounds.items())
    if not ranked:
        return
    sign = -1.0 if above else 1.0
    gap = max(LONGEST_GAP_S, 5.0 * float(np.median(np.diff(t))) if t.size > 1 else 0.0)

    def spans(bound: float) -> list[tuple[float, float, float]]:
        dips = find_dips(t, sign * v, sign * bound, 0.0, min_duration_s=limit.for_s, max_gap_s=gap)
        return list(zip(dips.start_s.tolist(), dips.end_s.tolist(), (sign * dips.residual).tolist(), strict=True))

    graver = [(level, bound, spans(bound)) for level, bound in ranked[1:]]
    found = parse(channel)
    unit = found.channel.unit if found else ""
    for start, end, worst in spans(ranked[0][1]):
        level, bound = ranked[0]
        for higher, beyond, inner in graver:
            if any(a < end + 1e-9 and b > start - 1e-9 for a, b, _ in inner):
                level, bound = higher, beyond
        depth = Figure(say(LimitCode.WORST), worst, unit, Method.MEASURED, digits=1)
        said = say(
            LimitCode.CHANNEL_PASSED, channel=Part(channel), worst=depth, bound=_bound(bound, unit, 1), above=above,
            seconds=end - start, limit=limit.name, source=say(f"limit_source.{limit.source.name.lower()}"),
        )  # fmt: skip
        subject = channel.rpartition(".")[0]
        yield Event("limit", subject, start, end, level, said, depth, (), worst, limit.name)
