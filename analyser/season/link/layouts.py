"""Antenna layouts of one aircraft: planned maps, measured maps, and which antennas moved from one to the next."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date
from functools import partial
from itertools import pairwise
from typing import Protocol, TypeVar

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from analyser.core.aircraft import Aircraft, Antenna, AntennaLayout
from analyser.core.figures import FloatArray
from analyser.core.findings import Finding, Part, Text, say
from analyser.link.count_rate import counter_map
from analyser.link.directions import LEVEL_EDGES_DB, DirectionBins, add_levels
from analyser.link.maps import BEST, AntennaMap, antenna_key, find_nulls
from analyser.link.measured import Levels, levels_of, map_of, quantile_of_histogram
from analyser.link.planned import coverage_sentence, planned_best, planned_map
from analyser.link.sides import SECTORS, sector_of
from analyser.link.sphere import AZIMUTHS, ELEVATIONS, bin_centres
from analyser.record import FlightRecord
from analyser.season.link.codes import LayoutCode
from analyser.season.link.comparison import LayoutComparison, compare_bins

T = TypeVar("T")
DISAGREE_DB = 8.0
NO_LAYOUT = "–"
"""Name of the layout of flights for which none is stated."""


class LayoutMaps(Struct, frozen=True):
    """Planned and measured maps of one layout, antenna by antenna; ``disagreements`` says where the two differ most."""

    layout: str
    flight_ids: tuple[str, ...]
    measured: tuple[AntennaMap, ...]
    planned: tuple[AntennaMap, ...]
    planned_best: AntennaMap | None
    coverage_sentence: Text
    disagreements: tuple[Finding, ...] = ()
    departures: tuple[AntennaMap, ...] = ()
    """Measured less planned, dB, of antennas that have both; an antenna's own null is planned and no departure."""
    best: AntennaMap | None = None
    """What the best antenna hears in each direction; its nulls are directions that none covers."""


class LayoutsResult(Struct, frozen=True):
    """All layouts of one aircraft, those flown in the order of their flights, then those planned."""

    layouts: tuple[LayoutMaps, ...]
    comparisons: tuple[LayoutComparison, ...]

    @property
    def flown(self) -> LayoutMaps | None:
        """The layout of the last flights; one that is planned and has not flown yet takes nothing from it."""
        return next((x for x in reversed(self.layouts) if x.flight_ids), None)


class AntennaSeen(Struct, frozen=True, eq=False):
    """What flights under one layout tell of one antenna: ``heard`` where any logged levels, else ``counted`` losses.

    ``calibrated`` says that a flight's levels are no dBm; the last two are directions of single fades, shape (fades,).
    """

    antenna: str
    heard: Levels | None
    counted: AntennaMap | None
    calibrated: bool
    fade_azimuth_deg: FloatArray
    fade_elevation_deg: FloatArray


class LayoutSeen(Struct, frozen=True, eq=False):
    """What flights under one layout tell, whatever was flown with others; ``levels``, shape (h,), counts their dBm."""

    layout: str
    flight_ids: tuple[str, ...]
    antennas: tuple[AntennaSeen, ...]
    levels: FloatArray


class Moved(Struct, frozen=True):
    """One layout compared with the next."""

    comparisons: tuple[LayoutComparison, ...]


class Keep(Protocol):
    """Gives what was made before of some flights, by its name and theirs, or makes it."""

    def __call__(self, name: str, flight_ids: Sequence[str], kind: type[T], make: Callable[[], T], /) -> T:
        """Give it."""
        ...


def anew(_name: str, _flight_ids: Sequence[str], _kind: type[T], make: Callable[[], T]) -> T:
    """Keep nothing."""
    return make()


def analyse_layouts(flights: Sequence[FlightRecord], aircraft: Aircraft) -> LayoutsResult:
    """Map every layout of one aircraft over its flights and compare successive ones.

    Works without any flight: then only the planned maps are there.
    """
    flown: dict[str, list[str]] = {}
    for f in flights:
        flown.setdefault(f.context.layout.name if f.context.layout else "", []).append(f.flight_id)
    by_id = {f.flight_id: f for f in flights}
    return follow_layouts(flown, by_id.__getitem__, aircraft)


def follow_layouts(
    flown: Mapping[str, Sequence[str]], read: Callable[[str], FlightRecord], aircraft: Aircraft, keep: Keep = anew
) -> LayoutsResult:
    """The same, reading only flights of layouts of which nothing is kept.

    Parameters
    ----------
    flown : mapping of str to sequence of str
        Flights under each layout, oldest first, '' for those under none; layouts in the order they were first flown.
    read : callable
        Gives a flight by its id; a brief will do.
    """
    last = {name or NO_LAYOUT: read(ids[-1]).context.layout for name, ids in flown.items()}
    described = {lay.name: lay for lay in aircraft.layouts} | {name: lay for name, lay in last.items() if lay}
    seen = [
        keep(f"layout {name}", ids, LayoutSeen, partial(_seen, name or NO_LAYOUT, ids, read))
        for name, ids in flown.items()
    ]
    zero = _reference(seen)
    nothing = np.zeros(LEVEL_EDGES_DB.size - 1)
    unflown = [LayoutSeen(name, (), (), nothing) for name in described if name not in last]
    maps = tuple(_maps(one, described.get(one.layout), zero) for one in (*seen, *unflown))
    comparisons = [
        c
        for before, after in pairwise(flown)
        if before and after
        for c in keep(
            _moved(before, after),
            [*flown[before], *flown[after]],
            Moved,
            partial(_compare_layouts, described[before], described[after], flown[before], flown[after], read),
        ).comparisons
    ]
    return LayoutsResult(maps, tuple(comparisons))


def kept_names(flown: Iterable[str]) -> set[str]:
    """Every name under which :func:`follow_layouts` keeps something of these layouts."""
    names = list(flown)
    return {f"layout {name}" for name in names} | {_moved(*pair) for pair in pairwise(names)}


def _moved(before: str, after: str) -> str:
    return f"moved {before}\n{after}"


def bins_of(flight: FlightRecord) -> dict[str, DirectionBins]:
    """The flight's binned samples, antenna by antenna."""
    return {a.name: a.bins for r in flight.result.link.receivers for a in r.antennas if a.bins is not None}


def _seen(name: str, flight_ids: Sequence[str], read: Callable[[str], FlightRecord]) -> LayoutSeen:
    flights = [read(i) for i in flight_ids]
    found: dict[str, list[DirectionBins]] = {}
    for f in flights:
        for key, bins in bins_of(f).items():
            found.setdefault(key, []).append(bins)
    antennas = []
    for key in sorted(found):
        bins_ = found[key]
        told = any(b.histogram.any() for b in bins_)
        counted = None if told else counter_map(key, name, [b for b in bins_ if b.counted])
        heard = levels_of(bins_)
        antennas.append(AntennaSeen(key, heard, counted, any(b.calibrated for b in bins_), *_fades_of(key, flights)))
    pooled = np.zeros((AZIMUTHS, ELEVATIONS, LEVEL_EDGES_DB.size - 1))
    for b in (b for own in found.values() for b in own if not b.calibrated):
        add_levels(pooled, b)
    return LayoutSeen(name, tuple(flight_ids), tuple(antennas), pooled.sum(axis=(0, 1)))


def _reference(seen: Sequence[LayoutSeen]) -> float | None:
    """One zero for all dBm maps of the aircraft, so that layouts and antennas can be laid side by side."""
    levels = np.sum([one.levels for one in seen], axis=0)
    return float(quantile_of_histogram(levels, LEVEL_EDGES_DB, np.asarray(0.5))) if np.any(levels) else None


def _maps(seen: LayoutSeen, described: AntennaLayout | None, zero: float | None) -> LayoutMaps:
    name = seen.layout
    measured = []
    for one in seen.antennas:
        made = map_of(one.antenna, name, one.heard, None if one.calibrated else zero) if one.heard else one.counted
        if made is not None:
            fades = one.fade_azimuth_deg, one.fade_elevation_deg
            measured.append(replace(made, fade_azimuth_deg=fades[0], fade_elevation_deg=fades[1]))
    planned = tuple(planned_map(described, a) for a in described.antennas) if described else ()
    return LayoutMaps(
        name,
        seen.flight_ids,
        tuple(measured),
        planned,
        planned_best(described) if described else None,
        coverage_sentence(described) if described else say(LayoutCode.NOT_DESCRIBED),
        tuple(_disagreements(measured, planned)),
        departures=tuple(d for m in measured if (d := _departure(m, planned)) is not None),
        best=_best_of(name, measured),
    )


def _fades_of(key: str, flights: Sequence[FlightRecord]) -> tuple[FloatArray, FloatArray]:
    """Body azimuth and elevation of every fade of one antenna that has a trusted direction."""
    pairs = [
        (a.fade_azimuth_deg, a.fade_elevation_deg)
        for f in flights
        for r in f.result.link.receivers
        for a in r.antennas
        if a.name == key and a.fade_azimuth_deg is not None and a.fade_elevation_deg is not None
    ]
    if not pairs:
        return np.empty(0), np.empty(0)
    azimuth, elevation = (np.concatenate(part).astype(float) for part in zip(*pairs, strict=True))
    known = np.isfinite(azimuth) & np.isfinite(elevation)
    return azimuth[known], elevation[known]


def _disagreements(measured: Sequence[AntennaMap], planned: Sequence[AntennaMap]) -> list[Finding]:
    """Where an antenna is much weaker than its placement should give: there something is in the way."""
    plans = {p.antenna: p for p in planned}
    sector = sector_of(*bin_centres())
    out = []
    for m in measured:
        p = plans.get(m.antenna)
        if p is None or m.unit != "dB":
            continue
        off = np.where(np.isfinite(m.gain_db), m.gain_db - p.gain_db, np.nan)
        off = off - np.nanmedian(off)
        for k, name in enumerate(SECTORS):
            inside = off[(sector == k) & np.isfinite(off)]
            if inside.size >= 2 and float(np.median(inside)) < -DISAGREE_DB:
                weaker = -float(np.median(inside))
                antenna = Part(f"link.{m.antenna}")
                out.append(say(LayoutCode.WEAKER_THAN_PLANNED, antenna=antenna, weaker=weaker, where=say(name)))
    return out


def _departure(measured: AntennaMap, planned: Sequence[AntennaMap]) -> AntennaMap | None:
    """One antenna's map less its plan, about its median; ``None`` without either or without levels in dB."""
    plan = next((p for p in planned if p.antenna == measured.antenna), None)
    if plan is None or measured.unit != "dB":
        return None
    off = measured.gain_db - plan.gain_db
    middle = float(np.nanmedian(off))
    off, low, high = off - middle, measured.low_db - plan.gain_db - middle, measured.high_db - plan.gain_db - middle
    nulls = find_nulls(off, measured.count, low_db=low, high_db=high)
    antenna = Part(f"link.{measured.antenna}")
    sentence = say(LayoutCode.DEPARTS, antenna=antenna, where=nulls) if nulls else ""
    return replace(measured, gain_db=off, low_db=low, high_db=high, nulls=nulls, sentence=sentence)


def _best_of(layout: str, measured: Sequence[AntennaMap]) -> AntennaMap | None:
    """The best of all antennas in each direction; ``None`` unless every one tells levels in dB."""
    if len(measured) < 2 or any(m.unit != "dB" for m in measured):
        return None
    gain, low, high = (
        np.where(np.isfinite(v).any(axis=0), np.nan_to_num(v, nan=-np.inf).max(axis=0), np.nan)
        for v in (np.stack([getattr(m, name) for m in measured]) for name in ("gain_db", "low_db", "high_db"))
    )
    count = np.max([m.count for m in measured], axis=0)
    nulls = find_nulls(gain, count, low_db=low, high_db=high)
    sentence = say(LayoutCode.NONE_COVERS, where=nulls) if nulls else ""
    return replace(
        measured[0], antenna=BEST, layout=layout, gain_db=gain, low_db=low, high_db=high, count=count, nulls=nulls,
        sentence=sentence, fade_azimuth_deg=None, fade_elevation_deg=None,
    )  # fmt: skip


def _changed(before: AntennaLayout, after: AntennaLayout) -> list[str]:
    """Antennas that sit elsewhere or point elsewhere; every antenna where one side is not described."""

    def placed(layout: AntennaLayout) -> dict[str, Antenna]:
        return {antenna_key(a.receiver, a.number): a for a in layout.antennas}

    old, new = placed(before), placed(after)
    return [
        key
        for key in dict.fromkeys([*old, *new])
        if key not in old
        or key not in new
        or (old[key].position_m, old[key].axis, old[key].kind) != (new[key].position_m, new[key].axis, new[key].kind)
    ]


def last_moved(aircraft: Aircraft) -> dict[str, date]:
    """By antenna, the day from which it stands where it stands now; only antennas that were ever moved."""
    dated = sorted((x for x in aircraft.layouts if x.since), key=lambda x: x.since or date.min)
    moved: dict[str, date] = {}
    for before, after in pairwise(dated):
        # Antennas that first appear are new, not moved.
        fitted = {antenna_key(a.receiver, a.number) for a in before.antennas}
        moved |= {key: after.since for key in _changed(before, after) if key in fitted and after.since}
    return moved


def _compare_layouts(
    before: AntennaLayout,
    after: AntennaLayout,
    old_ids: Sequence[str],
    new_ids: Sequence[str],
    read: Callable[[str], FlightRecord],
) -> Moved:
    keys = _changed(before, after)
    if not keys and before.antennas != after.antennas:
        return Moved(())
    old, new = ([read(i) for i in ids] for ids in (old_ids, new_ids))
    if not keys:
        keys = sorted({k for f in (*old, *new) for k in bins_of(f)})
    return Moved(
        tuple(
            compare_bins(
                key,
                before.name,
                after.name,
                [b for f in old if (b := bins_of(f).get(key)) is not None],
                [b for f in new if (b := bins_of(f).get(key)) is not None],
            )
            for key in keys
        )
    )
