"""Each thing's newest flights beside those of all others of its type, figure by figure."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

import numpy as np
from msgspec import Struct

from analyser.core.events import Level
from analyser.core.figures import Figure, FloatArray, Method
from analyser.core.findings import Finding, say
from analyser.core.statistics.distributions import student_quantile
from analyser.core.statistics.robust import MEDIAN_SE, NORMAL_MAD
from analyser.fleet.codes import FleetCode
from analyser.fleet.kinds import Kind, Member, Sort
from analyser.fleet.odd import FEWEST, stand_out
from analyser.programme.codes import MeasureCode as M
from analyser.programme.measures import BY_ID, Measure, Row

NEWEST = 12
"""So many newest flights tell how a thing is now."""
FEWEST_FLIGHTS = 3
"""Flights below which a thing has no level (common practice, no source)."""
COMPARED: Mapping[Sort, tuple[M, ...]] = {
    "pack": (M.PACK_RESISTANCE, M.PACK_CAPACITY, M.PACK_CELL_SPREAD, M.PACK_DEEPEST_SAG),
    "engine": (
        M.TANK_BURN_RATE, M.ENGINE_START_TIME, M.ENGINE_START_EGT, M.ENGINE_IDLE_SPEED, M.ENGINE_HIGHEST_EGT,
        M.ENGINE_CHARGE_PER_START,
    ),
    "antenna": (M.ANTENNA_LEVEL, M.ANTENNA_LOWEST_MARGIN, M.ANTENNA_MISSED_PACKETS_RATE),
}  # fmt: skip
"""What is compared: figures that tell how a thing is, not how it was flown."""
MEASURES_READ = frozenset(str(code).removeprefix("measure.") for codes in COMPARED.values() for code in codes)
"""Ids of all that is compared."""


class Flown(Struct, frozen=True):
    """One flight: what it was of, and its kept figures."""

    flight_id: str
    aircraft: str
    layout: str
    rows: tuple[Row, ...]


class Standing(Struct, frozen=True):
    """Where one thing stands in one figure: the median of its newest flights, and what is said where it stands out."""

    member: Member
    level: Figure
    flights: int
    odd: Finding | None = None
    weight: Level = Level.FINE


class Compared(Struct, frozen=True):
    """One figure of all things of a type, lowest first, those that cannot be told last.

    ``usual`` is the median of the type with its interval, not available of too few; ``judged`` says whether anything
    could be found to stand out.
    """

    measure: Measure
    standings: tuple[Standing, ...]
    usual: Figure
    judged: bool


class Group(Struct, frozen=True):
    """One type, with what could be compared of it."""

    kind: Kind
    compared: tuple[Compared, ...]


class Fleet(Struct, frozen=True):
    """All types of a logbook.

    ``judged`` counts the figures in which something could be found to stand out, ``waiting`` those of too few things.
    """

    groups: tuple[Group, ...]
    judged: int
    waiting: int

    def odd(self) -> tuple[tuple[Group, Compared, Standing], ...]:
        """What stands out, the gravest first."""
        found = [(g, c, s) for g in self.groups for c in g.compared for s in c.standings if s.odd is not None]
        return tuple(sorted(found, key=lambda f: -f[2].weight))


def compare(kinds: Sequence[Kind], flights: Iterable[Flown]) -> Fleet:
    """Compare what is of one type.

    Parameters
    ----------
    kinds : sequence of Kind
        From :func:`analyser.fleet.kinds.kinds_of`.
    flights : iterable of Flown
        Newest first; of each thing the newest :data:`NEWEST` with a figure count.

    Returns
    -------
    Fleet
        Figures that no two things of a type have are left out. Doubtful ones do not count.
    """
    kept = _by_thing(flights)
    made: list[tuple[Kind, list[_Set]]] = []
    for kind in kinds:
        sets = [
            _Set(BY_ID[code.removeprefix("measure.")], [_level(m, code, kept) for m in kind.members])
            for code in map(str, COMPARED[kind.sort])
        ]
        made.append((kind, [s for s in sets if len(s.known) > 1]))
    every = [s for _, sets in made for s in sets]
    found = stand_out([(s.values, s.floor) for s in every])
    odd = {id(s): set(places) for s, places in zip(every, found, strict=True)}
    groups = tuple(Group(kind, tuple(_told(s, odd[id(s)]) for s in sets)) for kind, sets in made if sets)
    judged = sum(s.values.size >= FEWEST for s in every)
    return Fleet(groups, judged, len(every) - judged)


_Key = tuple[str, str, str, str, str]


def _by_thing(flights: Iterable[Flown]) -> dict[_Key, list[Row]]:
    """The newest sound rows of each figure of each thing."""
    out: dict[_Key, list[Row]] = {}
    for flight in flights:
        for row in flight.rows:
            if row.measure not in MEASURES_READ or row.value is None or row.doubtful:
                continue
            key = _key(row, flight)
            if key is not None and len(own := out.setdefault(key, [])) < NEWEST and row.unit == (own or [row])[0].unit:
                own.append(row)
    return out


def _key(row: Row, flight: Flown) -> _Key | None:
    of = BY_ID[row.measure].of
    if of == "pack":
        return (row.measure, "", row.thing, "", "") if row.thing else None
    return (row.measure, flight.aircraft, "", row.part, flight.layout if of == "antenna" else "")


def _level(member: Member, code: str, kept: Mapping[_Key, list[Row]]) -> tuple[Standing, float]:
    """Where a thing stands, and half the interval that the scatter of its flights alone gives."""
    measure = BY_ID[code.removeprefix("measure.")]
    part = f"fuel.{member.tank}" if measure.of == "tank" else member.part
    rows = kept.get((measure.id, member.aircraft, member.thing, part, member.layout), [])
    of = " ".join(word for word in (member.aircraft, member.layout, member.thing or part) if word)
    label = say(FleetCode.LEVEL, what=say(measure.code), of=of, flights=len(rows))
    if len(rows) < FEWEST_FLIGHTS:
        missing = say(FleetCode.TOO_FEW_FLIGHTS, flights=len(rows), fewest=FEWEST_FLIGHTS)
        return Standing(member, Figure.unavailable(label, measure.unit, missing), len(rows)), 0.0
    values = np.array([r.value for r in rows], float)
    own = [(r.high - r.low) / 2.0 for r in rows if r.low is not None and r.high is not None]
    # What a sensor has wrong in every flight does not become less with flights: the figures' own width stays.
    scatter = _median_half(values)
    half = max(scatter, float(np.median(own)) if own else 0.0)
    middle = float(np.median(values))
    low = max(middle - half, 0.0) if (values >= 0).all() and measure.unit != "dB" else middle - half
    figure = Figure(
        label, middle, rows[0].unit, Method.ESTIMATED, low, middle + half,
        how=say(FleetCode.HOW, flights=len(rows)), digits=measure.digits,
    )  # fmt: skip
    return Standing(member, figure, len(rows)), scatter


def _median_half(values: FloatArray) -> float:
    """Half the interval of a median at 95 %, by the median absolute deviation."""
    spread = float(np.median(np.abs(values - np.median(values)))) / NORMAL_MAD or float(np.std(values, ddof=1))
    return float(student_quantile(0.975, values.size - 1)) * MEDIAN_SE * spread / float(np.sqrt(values.size))


class _Set:
    """One figure of all things of one type."""

    def __init__(self, measure: Measure, found: Sequence[tuple[Standing, float]]) -> None:
        self.measure = measure
        known = [(s, half) for s, half in found if s.level.value is not None]
        unit = known[0][0].level.unit if known else measure.unit
        known = sorted((f for f in known if f[0].level.unit == unit), key=lambda f: f[0].level.value or 0.0)
        self.known = [s for s, _ in known]
        self.rest = [s for s, _ in found if s not in self.known]
        self.values = np.array([s.level.value for s in self.known], float)
        # What is not printed does not stand out, nor what the scatter of one thing's own flights would explain: half
        # of an interval is two standard deviations, and these are about the median distance between two values.
        self.floor = max(
            float(np.median([half for _, half in known])) / 2.0 if known else 0.0, 0.5 * 10.0**-measure.digits
        )


def _told(one: _Set, odd: set[int]) -> Compared:
    usual = _usual(one)
    standings = tuple(_judged(one, n, s, n in odd, usual) for n, s in enumerate(one.known))
    return Compared(one.measure, (*standings, *one.rest), usual, one.values.size >= FEWEST)


def _usual(one: _Set) -> Figure:
    label = say(FleetCode.USUAL, what=say(one.measure.code))
    unit, things = one.known[0].level.unit, one.values.size
    if things < FEWEST:
        return Figure.unavailable(label, unit, say(FleetCode.TOO_FEW_LIKE_IT, things=things, fewest=FEWEST))
    middle, half = float(np.median(one.values)), _median_half(one.values)
    return Figure(
        label, middle, unit, Method.ESTIMATED, middle - half, middle + half,
        how=say(FleetCode.USUAL_HOW, things=things), digits=one.measure.digits,
    )  # fmt: skip


def _judged(one: _Set, place: int, standing: Standing, odd: bool, usual: Figure) -> Standing:
    value = float(one.values[place])
    if not odd or usual.value is None:
        return standing
    more = value > usual.value
    worse = one.measure.worse == ("high" if more else "low")
    said = say(
        FleetCode.STANDS_OUT, what=say(one.measure.code), value=standing.level, usual=usual, more=more,
        things=int(one.values.size) - 1,
    )  # fmt: skip
    return Standing(standing.member, standing.level, standing.flights, said, Level.WATCH if worse else Level.NOTE)


def needed(flights: Iterable[tuple[str, str, str, Iterable[str]]]) -> Iterator[str]:
    """Which flights are to be read, so that each thing has its newest ones: ids, newest first.

    Parameters
    ----------
    flights : iterable of (flight id, aircraft, layout, names of packs)
        Newest first. Half as many again are read, for those whose figures are missing or doubtful.
    """
    most = NEWEST + NEWEST // 2
    seen: dict[tuple[str, str], int] = {}
    for flight_id, aircraft, layout, packs in flights:
        things = [(aircraft, layout), *(("", pack) for pack in packs)]
        if any(seen.get(thing, 0) < most for thing in things):
            yield flight_id
        for thing in things:
            seen[thing] = seen.get(thing, 0) + 1
