"""Antenna layouts of one aircraft: planned maps, measured maps, and which antennas moved from one to the next."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from itertools import pairwise

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from analyser.core.aircraft import Aircraft, Antenna, AntennaLayout
from analyser.core.figures import FloatArray
from analyser.core.findings import Finding, Part, Text, say
from analyser.link.count_rate import seen_map
from analyser.link.directions import LEVEL_EDGES_DB, DirectionBins, add_levels
from analyser.link.maps import BEST, AntennaMap, antenna_key, find_nulls
from analyser.link.measured import quantile_of_histogram
from analyser.link.planned import coverage_sentence, planned_best, planned_map
from analyser.link.sides import SECTORS, sector_of
from analyser.link.sphere import AZIMUTHS, ELEVATIONS, bin_centres
from analyser.record import FlightRecord
from analyser.season.link.codes import LayoutCode
from analyser.season.link.comparison import LayoutComparison, compare_bins

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


def analyse_layouts(flights: Sequence[FlightRecord], aircraft: Aircraft) -> LayoutsResult:
    """Map every layout of one aircraft over its flights and compare successive ones.

    Works without any flight: then only the planned maps are there.
    """
    by_layout: dict[str, list[FlightRecord]] = {}
    for f in flights:
        by_layout.setdefault(f.context.layout.name if f.context.layout else NO_LAYOUT, []).append(f)
    described = {lay.name: lay for lay in aircraft.layouts}
    described |= {f.context.layout.name: f.context.layout for f in flights if f.context.layout}
    flown = list(by_layout)
    order = [*flown, *(n for n in described if n not in by_layout)]
    zero = _references(flights)
    maps = tuple(_maps(n, by_layout.get(n, []), described.get(n), zero) for n in order)
    comparisons = [
        c
        for before, after in pairwise(flown)
        if NO_LAYOUT not in (before, after)
        for c in _compare_layouts(described[before], described[after], by_layout[before], by_layout[after])
    ]
    return LayoutsResult(maps, tuple(comparisons))


def bins_of(flight: FlightRecord) -> dict[str, DirectionBins]:
    """The flight's binned samples, antenna by antenna."""
    return {a.name: a.bins for r in flight.result.link.receivers for a in r.antennas if a.bins is not None}


def _references(flights: Sequence[FlightRecord]) -> float | None:
    """One zero for all dBm maps of the aircraft, so that layouts and antennas can be laid side by side."""
    levels = [b for f in flights for b in bins_of(f).values() if b.histogram.any() and not b.calibrated]
    if not levels:
        return None
    pooled = np.zeros((AZIMUTHS, ELEVATIONS, LEVEL_EDGES_DB.size - 1))
    for b in levels:
        add_levels(pooled, b)
    return float(quantile_of_histogram(pooled.sum(axis=(0, 1)), LEVEL_EDGES_DB, np.asarray(0.5)))


def _maps(
    name: str, flights: Sequence[FlightRecord], described: AntennaLayout | None, zero: float | None
) -> LayoutMaps:
    found: dict[str, list[DirectionBins]] = {}
    for f in flights:
        for key, bins in bins_of(f).items():
            found.setdefault(key, []).append(bins)
    measured = []
    for key in sorted(found):
        scale = None if any(b.calibrated for b in found[key]) else zero
        made = seen_map(key, name, found[key], scale)
        if made is not None:
            azimuth, elevation = _fades_of(key, flights)
            measured.append(replace(made, fade_azimuth_deg=azimuth, fade_elevation_deg=elevation))
    planned = tuple(planned_map(described, a) for a in described.antennas) if described else ()
    return LayoutMaps(
        name,
        tuple(f.flight_id for f in flights),
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
    before: AntennaLayout, after: AntennaLayout, old: Sequence[FlightRecord], new: Sequence[FlightRecord]
) -> list[LayoutComparison]:
    keys = _changed(before, after)
    if not keys and before.antennas != after.antennas:
        return []
    if not keys:
        keys = sorted({k for f in (*old, *new) for k in bins_of(f)})
    return [
        compare_bins(
            key,
            before.name,
            after.name,
            [b for f in old if (b := bins_of(f).get(key)) is not None],
            [b for f in new if (b := bins_of(f).get(key)) is not None],
        )
        for key in keys
    ]
