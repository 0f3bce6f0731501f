"""Headings that may have changed places: each column's values would fit the laws better under the other's heading."""

from __future__ import annotations

from collections.abc import Mapping, Sequence, Set
from functools import cache, partial

import numpy as np

from importers.meaning.witness import Numbers, Verdict
from importers.relations import courses
from importers.relations.hearing import Hearing, Series
from importers.relations.opinion import FloatArray

_SUSPECTS = 3
"""Of more columns than these none is likely enough to be the one that changed places."""
_POOR, _GOOD = 0.5, 0.75
"""How well a law is followed by columns that may have changed places, and by those that stand where they belong."""
_GAIN = 0.5
"""Least that all laws together must gain."""
_ROUNDED = 1e-5
"""The correlations of all columns at once are as near to those of each pair."""
_POSSIBLE = (Verdict.FITS, Verdict.SILENT, Verdict.ODD)


def by_laws(every: Sequence[Series], hearings: Sequence[Hearing], seconds: FloatArray | None) -> dict[int, str]:
    """Columns that follow the laws better under another's heading, by place, and that heading."""
    poor = {s.at for h in hearings for s in h.series if _poor(h) and _fit(h) < _POOR * h.law.weight}
    if not poor:
        return {}
    of: dict[int, list[Hearing]] = {s.at: [] for s in every}
    for h in hearings:
        for s in h.series:
            of[s.at].append(h)
    hopeful = _hopeful(every, [h for h in hearings if _poor(h)])
    seen: dict[int, Numbers | None] = {}
    gains: dict[tuple[int, int], float] = {}
    tried: set[tuple[int, int]] = set()
    for one in every:
        for other in every if one.at in poor else ():
            pair = (min(one.at, other.at), max(one.at, other.at))
            if pair in tried:
                continue
            tried.add(pair)
            if pair in hopeful and _tradable(one, other, seen):
                gains[pair] = _gain(one, other, [*of[one.at], *of[other.at]], seconds)
    headings = {s.at: s.plan.heading for s in every}
    best: dict[int, float] = {}
    for pair, gain in gains.items():
        for at in pair:
            best[at] = max(best.get(at, 0.0), gain)
    out: dict[int, str] = {}
    for (a, b), gain in sorted(gains.items(), key=lambda p: p[1]):
        if gain >= _GAIN and gain == best[a] == best[b]:
            out |= {a: headings[b], b: headings[a]}
    return out


def _fit(hearing: Hearing) -> float:
    return min(o.fit for o in hearing.opinions)


def _poor(hearing: Hearing) -> bool:
    """Whether a law is followed badly, and bears no heading out."""
    return _fit(hearing) < _POOR and any(o.bears < 1 for o in hearing.opinions)


def _hopeful(every: Sequence[Series], hearings: Sequence[Hearing]) -> set[tuple[int, int]]:
    """Columns, by place, that some laws may be followed well by once the two have changed places."""
    alike = cache(partial(courses.alike, np.array([s.raw for s in every])))
    at = [s.at for s in every]
    out: set[tuple[int, int]] = set()
    for h in hearings:
        for n, s in enumerate(h.series):
            others = at
            if h.law.course is not None:
                partner = at.index(h.series[1 - n].at)
                # NaN, where it is open; beside its partner itself the column stands for it.
                good = ~(alike(h.law.course)[partner] <= _GOOD - _ROUNDED)
                good[partner] = good[at.index(s.at)]
                others = [a for a, may in zip(at, good, strict=True) if may]
            out |= {(min(s.at, other), max(s.at, other)) for other in others}
    return out


def _gain(one: Series, other: Series, hearings: Sequence[Hearing], seconds: FloatArray | None) -> float:
    """What the laws gain if two columns change places; 0 where none is followed well then that was followed badly."""

    def after(h: Hearing) -> float | None:
        values = [one.read(other.raw) if s is one else other.read(one.raw) if s is other else s.values
                  for s in h.series]  # fmt: skip
        return min((o.fit for o in h.law.hear(values, seconds)), default=None)

    every = {id(h): h for h in hearings}
    made = {key: after(h) for key, h in every.items() if _poor(h)}
    if not any(fit is not None and fit > _GOOD for fit in made.values()):
        return 0.0
    made |= {key: after(h) for key, h in every.items() if key not in made}
    changes = ((h, made[key]) for key, h in every.items())
    return sum(h.law.weight * (fit - _fit(h)) for h, fit in changes if fit is not None)


def _tradable(one: Series, other: Series, seen: dict[int, Numbers | None]) -> bool:
    """Whether two columns are of different quantities, and each could hold what the other's heading says."""
    if one.channel.quantity == other.channel.quantity or one.plan.settled or other.plan.settled:
        return False
    for s in (one, other):
        if s.at not in seen:
            seen[s.at] = s.numbers()
    return one.verdict(seen[other.at]) in _POSSIBLE and other.verdict(seen[one.at]) in _POSSIBLE


def by_values(every: Sequence[Series], scaled: Set[int], told: Set[int]) -> dict[int, str]:
    """Columns that may have changed places with one that cannot be what it is headed, and that one's heading.

    ``scaled`` are columns whose size others bear out, ``told`` those of which is known where they belong.
    """
    suspects = [
        s for s in every
        if (s.refuted or _off_the_globe(s)) and s.at not in told and not s.plan.evidence.get("turned")
    ]  # fmt: skip
    seen: Mapping[int, Numbers | None] = {s.at: s.numbers() for s in every} if suspects else {}
    refuted = [s for s in suspects if (n := seen[s.at]) and n.kinds > 1]
    out: dict[int, str] = {}
    for s in refuted:
        others = [o for o in every if not o.refuted and _exchangeable(s, o, seen[s.at], seen[o.at], scaled)]
        odd = [o for o in others if o.plan.evidence.get("odd")] or others
        out |= {o.at: s.plan.heading for o in (odd if len(odd) <= _SUSPECTS else ())}
    return out


def _off_the_globe(s: Series) -> bool:
    """Whether a latitude goes beyond a pole, as many a longitude does."""
    return s.channel.quantity == "latitude_deg" and bool((np.abs(s.values) > 90).any())


def _exchangeable(one: Series, other: Series, seen: Numbers | None, there: Numbers | None, scaled: Set[int]) -> bool:
    """Whether the values of two columns of different kinds fit each other's headings."""
    mine, theirs = one.channel, other.channel
    pair = {mine.quantity, theirs.quantity} == {"latitude_deg", "longitude_deg"}
    if other.plan.settled or (other.at in scaled and not pair):  # the way flown bears out the two as well when traded
        return False
    same = mine.quantity == theirs.quantity or mine.subject != theirs.subject
    if mine.unit == theirs.unit and same:
        return False
    if one.plan.evidence.get("still") and mine.subject != theirs.subject:
        return False  # it may as well be at rest
    if any(q in ("latitude_deg", "longitude_deg") and n and (n.whole or n.high - n.low > 1.0)
           for q, n in ((mine.quantity, there), (theirs.quantity, seen))):  # fmt: skip
        return False  # no place is in whole degrees, and no model flies over more than one of them
    return other.verdict(seen) is Verdict.FITS and one.verdict(there) is Verdict.FITS
