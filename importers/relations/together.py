"""What the columns of one file say of each other: values that follow a law bear headings out, or contradict them.

The laws are in :mod:`importers.relations.laws`. Whether an engine ran and the aircraft moved tells a level that stands
still from a sensor at rest. Two columns that would follow the laws better under each other's headings are both doubted.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence, Set

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from analyser.core.channels import Channel, parse
from importers.layout.codes import LayoutCode
from importers.layout.proposals import also
from importers.meaning import certainty
from importers.meaning.columns import label
from importers.meaning.rules import BY_KEY
from importers.model import ColumnPlan
from importers.relations import trades
from importers.relations.hearing import Hearing, Series, heard
from importers.relations.opinion import LEAST, FloatArray

ROWS = 400
"""Rows that are enough to see whether two columns move together."""
_RUNNING_RPM, _MOVING_M_S = 3_000.0, 3.0
"""A shaft below and a speed below are at rest: common practice, no source."""
_OFF: dict[str, Callable[[FloatArray], bool]] = {
    "speed_rpm": lambda x: bool(np.nanmax(x) < _RUNNING_RPM and np.nanquantile(x, 0.3) < 10.0),
    "egt_c": lambda x: bool(np.nanmax(x) < 100.0),
    "flow_ml_per_min": lambda x: bool(np.nanmax(x) < 5.0),
    "used_ml": lambda x: bool(np.nanmax(x) - np.nanmin(x) < 5.0),
}
"""What an engine that is off shows: common practice, no source."""
_FLYING_M_S = 15.0
"""No model jet is on the ground for long at this speed: common practice, no source."""
_ADDED = frozenset({"current_a", "used_mah", "used_ml", "remaining_ml", "flow_ml_per_min"})
"""Quantities of several parts that may be added up."""
_ALIVE = frozenset(
    {"rssi_dbm", "antenna<n>_rssi_dbm", "current_a", "roll_deg", "pitch_deg", "track_deg", "heading_deg"}
)  # fmt: skip
"""Quantities that keep one value only where nothing moves."""
_DIRECTIONS = frozenset({"position.track_deg", "attitude.heading_deg"})
_SEVERAL, _MANY = 3, 0.4
"""Whoever mistook so many units, and so large a share of them, may have mistaken others: an assumption, no source."""
_NAMELESS = ("unknown", "foreign", "unsure_name", "no_subject", "elsewhere", "contradicted")
"""What no other column takes away: doubts about whose quantity it is."""


def some_rows(count: int) -> list[int]:
    """Numbers of some rows, in order, and not at equal distances: a column that repeats itself must not seem still."""
    step = 1 + count // ROWS
    chosen = np.arange(count // step) * step + np.random.default_rng(0).integers(step, size=count // step)
    return [int(i) for i in chosen]


def witnessed(
    proposed: Sequence[ColumnPlan], values: Mapping[int, FloatArray], seconds: FloatArray | None,
    states: Mapping[int, FloatArray] | None = None,
) -> list[ColumnPlan]:  # fmt: skip
    """Let columns speak for and against each other.

    Parameters
    ----------
    values : mapping of int to array
        By place among the proposals: what is written in some rows, the same rows for all, NaN where empty.
    seconds : array, s, or None
        When these rows were taken, where that is known.
    states : mapping of int to array, optional
        The same of columns of states: 1, 0, NaN where empty.
    """
    some = _series(proposed, values)
    court = _Court(some, seconds)
    court.hear()
    court.stands_on_its_gear({i: x for i, x in (states or {}).items() if proposed[i].channel == "control.gear"})
    out = list(proposed)
    for i, column in enumerate(proposed):
        if parse(column.channel) is None or column.settled or parse(column.heading):
            continue
        told = bool(column.evidence) and not column.evidence.get("odd")  # a course tells nothing of an open unit
        pro = court.pro.get(i) if i in court.scaled or told else None
        if column.evidence.get("still") and court.rest(column.channel):
            kept = {k: v for k, v in column.evidence.items() if k not in ("contradicted", "still")}
            out[i] = _judged(column, {**kept, "silent": 1.0}, LayoutCode.ALL_AT_REST)
        elif i in court.contra:
            code, between = court.contra[i]
            out[i] = _judged(column, {**column.evidence, "contradicted": 1.0}, code, between)
        elif i in court.heard and not pro and column.evidence.get("unit_by_values"):
            # The values that chose the unit are no witness: only another column could have borne them out.
            out[i] = _judged(column, {**column.evidence, "contradicted": 1.0}, LayoutCode.DISAGREE, court.heard[i])
        elif i in court.of_packs and column.evidence.get("no_subject"):
            kept = {k: v for k, v in column.evidence.items() if k != "no_subject"}
            more = {} if any(kept.get(k) for k in _NAMELESS) else {"agrees": 1.0}
            out[i] = _judged(column, {**kept, **more}, LayoutCode.AGREE, court.of_packs[i])
        elif pro and not any(column.evidence.get(k) for k in _NAMELESS) and not _borne_out_alike(column):
            out[i] = _judged(column, {**column.evidence, "agrees": 1.0}, LayoutCode.AGREE, pro)
    for i, heading in trades.by_values([*some.values()], court.scaled, court.traded.keys()).items():
        out[i] = _changed_places(out[i], heading)
    for i, heading in court.traded.items():
        out[i] = _changed_places(out[i], heading)
    return _distrusted(out, court.traded.keys())


def _series(proposed: Sequence[ColumnPlan], values: Mapping[int, FloatArray]) -> dict[str, Series]:
    """The columns that may be heard, the first of each channel."""
    some: dict[str, Series] = {}
    for i, raw in values.items():
        known = parse(proposed[i].channel)
        if known is not None and known.channel.unit != "bool" and np.isfinite(raw).any():
            some.setdefault(proposed[i].channel, Series(i, proposed[i], known, _held(raw)))
    return some


def bears_out_time(proposed: Sequence[ColumnPlan], values: Mapping[int, FloatArray], seconds: FloatArray) -> bool:
    """Whether a total and its rate, a height and its climb or a way and its speed bear out how time is read.

    Parameters
    ----------
    values : mapping of int to array
        As for :func:`witnessed`.
    seconds : array, s
        When the rows were taken, as the clock is read.
    """
    if seconds.size < 2 or not np.isfinite(seconds).all() or (np.diff(seconds) < 0).any():
        return False
    hearings = [h for h in heard([*_series(proposed, values).values()], seconds) if h.law.timed]
    said = [o.bears for h in hearings if not any(s.doubtful for s in h.series) for o in h.opinions if o.scale]
    return any(b > 0 for b in said) and not any(b < 0 for b in said)


def _borne_out_alike(column: ColumnPlan) -> bool:
    """Whether what bears a column out would as well bear out what else it may be: where it points, or where it goes."""
    return {column.channel, *column.rivals} >= _DIRECTIONS


def _distrusted(proposed: list[ColumnPlan], traded: Set[int]) -> list[ColumnPlan]:
    """Doubt the units that nothing bears out in a log of which several others are contradicted."""
    stated = [
        (i, c)
        for i, c in enumerate(proposed)
        if c.evidence.get("unit_said") and (known := parse(c.channel)) and known.channel.unit != "°"  # written one way
    ]
    wrong = [
        i for i, c in stated if c.evidence.get("contradicted") and not c.evidence.get("turned") and i not in traded
    ]
    if len(wrong) < _SEVERAL or len(wrong) < _MANY * len(stated):
        return proposed
    for i, c in stated:
        if not c.settled and not c.evidence.get("agrees") and not c.evidence.get("contradicted"):
            proposed[i] = _judged(c, {**c.evidence, "odd": 1.0}, LayoutCode.OTHERS_ARE_WRONG)
    return proposed


def _judged(
    column: ColumnPlan, evidence: Mapping[str, float], code: LayoutCode, between: Sequence[Channel] = ()
) -> ColumnPlan:
    values = dict(zip(("first", "other"), map(label, between), strict=False))
    sure = round(certainty.weights()(evidence), 3)
    return replace(column, evidence=evidence, reason=also(column.reason, code, **values), confidence=sure)


def _changed_places(column: ColumnPlan, heading: str) -> ColumnPlan:
    if column.settled or parse(column.heading):
        return column
    evidence = {**column.evidence, "contradicted": 1.0}
    reason = also(column.reason, LayoutCode.CHANGED_PLACES, heading=heading)
    return replace(column, evidence=evidence, reason=reason, confidence=round(certainty.weights()(evidence), 3))


def _held(x: FloatArray) -> FloatArray:
    """Values of a slow sensor held until the next one, so that columns can be laid side by side."""
    good = np.isfinite(x)
    last = np.maximum.accumulate(np.where(good, np.arange(x.size), -1))
    return np.where(last >= 0, x[np.maximum(last, 0)], np.nan)


class _Dispute(Struct, frozen=True):
    """Columns that cannot all be right; ``between`` whom, as it is told; ``scale``: by their size, not their course."""

    series: tuple[Series, ...]
    between: tuple[Channel, Channel]
    scale: bool


class _Court:
    """The columns heard against each other; ``pro`` and ``contra`` say why, by place among the proposals."""

    def __init__(self, every: Mapping[str, Series], seconds: FloatArray | None) -> None:
        self.every = every
        self.some = {n: s for n, s in every.items() if not s.refuted}  # what is refuted already refutes nothing else
        good = seconds is not None and seconds.size > 1 and bool(np.isfinite(seconds).all())
        self.seconds = seconds if good and seconds is not None and (np.diff(seconds) >= 0).all() else None
        self.pro: dict[int, tuple[Channel, ...]] = {}
        self.scaled: set[int] = set()
        """Columns whose size, not their course alone, is borne out."""
        self.heard: dict[int, tuple[Channel, ...]] = {}
        """Columns that a law could have borne out."""
        self.of_packs: dict[int, tuple[Channel, ...]] = {}
        """Columns named alike of which one is the other over time: with a voltage beside them they are a pack's; and
        the cells that make up a pack's voltage."""
        self.contra: dict[int, tuple[LayoutCode, tuple[Channel, ...]]] = {}
        self.traded: dict[int, str] = {}
        """Columns that would follow the laws better under another's heading, and that heading."""
        self._agreed: list[tuple[frozenset[int], bool]] = []
        self._disputes: list[_Dispute] = []

    def rest(self, channel: str) -> bool:
        """Whether other columns say that what this one measures was at rest."""
        known = parse(channel)
        subject = known.channel.subject if known else ""
        if subject in ("fuel", "engine"):
            return self.engines_off(channel)
        return subject in ("position", "motion", "attitude") and self.on_the_ground(channel)

    def engines_off(self, but: str) -> bool:
        """Whether all that other columns say of engines is that they are off."""
        seen = [_OFF[s.channel.quantity](s.values) for name, s in self.every.items()
                if s.channel.quantity in _OFF and s.channel.subject in ("engine", "fuel") and name != but]  # fmt: skip
        return bool(seen) and all(seen)

    def on_the_ground(self, but: str) -> bool:
        seen = []
        for name, s in self.every.items():
            if s.channel.quantity in ("ground_speed_m_s", "airspeed_m_s") and name != but:
                seen.append(float(np.nanmax(s.values)) < _MOVING_M_S)
        return (bool(seen) and all(seen)) or (not seen and self.engines_off(but))

    def hear(self) -> None:
        """All columns that a law ties together."""
        hearings = [h for h in heard([*self.every.values()], self.seconds) if h.opinions]
        for hearing in hearings:
            if not any(s.refuted for s in hearing.speaking):
                self._rule(hearing)
        self._packs()
        self._added()
        self._written_alike()
        self.traded = trades.by_laws([*self.every.values()], hearings, self.seconds)
        self._settle()
        self._one_place()
        self._still()

    def _rule(self, hearing: Hearing) -> None:
        """What the opinions of a law mean for its columns."""
        series = hearing.series
        between = (series[0].channel, series[-1].channel)
        if hearing.law.asks:
            self.heard |= {s.at: between for s in series if s.at not in self.heard}
        for opinion in hearing.opinions:
            if opinion.bears > 0:
                self._agreed.append((frozenset(s.at for s in series), opinion.scale))
                for s in series:
                    if opinion.scale or s.at not in self.pro:
                        self.pro[s.at] = between
                    if opinion.scale:
                        self.scaled.add(s.at)
            elif opinion.bears < 0:
                blamed = tuple(series[i] for i in opinion.blamed) or series
                told = (blamed[0].channel, blamed[-1].channel) if len(blamed) > 1 else between
                self._disputes.append(_Dispute(blamed, told, opinion.scale))

    def _packs(self) -> None:
        """Columns that are a pack's, whatever their headings leave open."""
        by: dict[str, dict[str, list[Series]]] = {}
        for s in self.some.values():
            if s.channel.subject == "pack":
                by.setdefault(s.instance, {}).setdefault(s.channel.quantity, []).append(s)
        for own in by.values():
            parts = [s for q in ("used_mah", "current_a", "voltage_v") for s in own.get(q, ())]
            if len(parts) == 3 and all(s.at in self.scaled for s in parts[:2]):
                self.of_packs |= {s.at: tuple(s.channel for s in parts[:2]) for s in parts}
            cells, volts = own.get("cell<n>_v", ()), own.get("voltage_v", ())
            if len(cells) > 1 and volts and volts[0].at in self.scaled and not volts[0].doubtful:
                self.of_packs |= {c.at: (volts[0].channel, c.channel) for c in cells if c.at in self.scaled}

    def stands_on_its_gear(self, gears: Mapping[int, FloatArray]) -> None:
        """A gear that is up on the ground and down in the air is told the other way round."""
        for quantity in ("ground_speed_m_s", "airspeed_m_s"):
            speed = next((s for s in self.some.values() if s.channel.quantity == quantity), None)
            if speed is None:
                continue
            slow, fast = speed.values < _MOVING_M_S, speed.values > _FLYING_M_S
            for at, down in gears.items():
                told = np.isfinite(down)
                ground, air = down[told & slow], down[told & fast]
                enough = min(ground.size, air.size) > LEAST // 2
                if enough and ground.mean() < 0.2 and air.mean() > 0.5:
                    self.contra.setdefault(at, (LayoutCode.DISAGREE, (BY_KEY["control.gear"], speed.channel)))

    def _written_alike(self) -> None:
        """A latitude and a longitude of one log are written in one way, both in degrees or both with minutes."""
        both = [self.some.get(f"position.{q}_deg") for q in ("latitude", "longitude")]
        ways = {"plain" if s.plan.degrees in ("", "decimal") else s.plan.degrees for s in both if s}
        if len(ways) > 1 and not ways & {"first", "second"}:
            for s in both:
                if s:
                    self.contra.setdefault(s.at, (LayoutCode.DISAGREE, tuple(b.channel for b in both if b)))

    def _one_place(self) -> None:
        """Half a place is worth nothing: a coordinate is in doubt with its other half."""
        both = [s for q in ("latitude", "longitude") if (s := self.every.get(f"position.{q}_deg"))]
        doubted = [s for s in both if s.doubtful or s.refuted or s.at in self.contra]
        if len(both) == 2 and len(doubted) == 1:
            between = tuple(s.channel for s in both)
            for s in both:
                self.contra.setdefault(s.at, (LayoutCode.DISAGREE, between))

    def _added(self) -> None:
        """What is, row by row, the sum of all others of its quantity is no part of its own."""
        by: dict[tuple[str, str], list[Series]] = {}
        for s in self.some.values():
            if s.instance and s.channel.quantity in _ADDED:
                by.setdefault((s.channel.subject, s.channel.quantity), []).append(s)
        for some in (some for some in by.values() if len(some) > 2):
            whole = np.sum([s.values for s in some], axis=0)
            for s in some:
                off = np.abs(2.0 * s.values - whole)
                if np.isfinite(off).sum() > LEAST and np.nanmedian(off) < 0.005 * np.nanmedian(np.abs(s.values)):
                    self.contra.setdefault(s.at, (LayoutCode.SUM_OF_OTHERS, ()))

    def _settle(self) -> None:
        """Find who is to blame in each dispute: not who agrees with a third; else who is odd by itself; else all."""
        disputed = {s.at for d in self._disputes for s in d.series}
        for dispute in sorted(self._disputes, key=lambda d: len(d.series)):
            if any(s.at in self.contra or s.at in self.traded for s in dispute.series):
                continue  # another has told who it is
            suspects = [s for s in dispute.series if not self._vouched(s, dispute, disputed)] or list(dispute.series)
            odd = [s for s in suspects if s.odd()] if len(suspects) > 1 else []
            for s in odd or suspects:
                one, other = dispute.between
                code = LayoutCode.DISAGREE if one is not other else LayoutCode.UNLIKE_IN_USE
                self.contra.setdefault(s.at, (code, dispute.between if one is not other else ()))

    def _vouched(self, s: Series, dispute: _Dispute, disputed: set[int]) -> bool:
        """Whether a column outside all disputes agrees with this one, in its size too where that is disputed."""
        return any(s.at in together and bool(together - disputed) and (scale or not dispute.scale)
                   for together, scale in self._agreed)  # fmt: skip

    def _still(self) -> None:
        """What keeps one value while the aircraft flies or its engines run is a setting or a dead sensor."""
        moving = any(
            (s.channel.quantity.endswith("speed_m_s") and float(np.nanmax(s.values)) > 3 * _MOVING_M_S)
            or (s.channel.quantity == "speed_rpm" and float(np.nanstd(s.values)) > _RUNNING_RPM)
            for s in self.some.values()
        )  # fmt: skip
        for s in self.some.values() if moving else ():
            good = s.values[np.isfinite(s.values)]
            if s.channel.quantity in _ALIVE and good.size > 2 * LEAST and good[0] and np.ptp(good) == 0.0:
                self.contra.setdefault(s.at, (LayoutCode.STANDS_STILL, ()))
