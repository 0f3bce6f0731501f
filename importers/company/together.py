"""What the columns of one file say of each other: values that move together bear headings out, or contradict them.

Current and the sag of its pack, charge used and the integral of current, fuel and the integral of flow, place and
speed, height and climb, shaft and fuel. Whether an engine ran and the aircraft moved tells a level that stands still
from a sensor at rest. Two columns of which each holds what the other's heading says are both doubted.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from analyser.core.channels import Channel, parse
from importers.layout.codes import LayoutCode
from importers.layout.proposals import also
from importers.meaning import certainty, witness
from importers.meaning.columns import label
from importers.meaning.rules import BY_KEY
from importers.meaning.units import Conversion
from importers.meaning.witness import Numbers, Verdict
from importers.model import ColumnPlan

FloatArray = npt.NDArray[np.float64]

ROWS = 400
"""Rows that are enough to see whether two columns move together."""
_LEAST = 24
"""Fewer pairs than these say nothing."""
_EARTH_M = 6_371_008.8
"""Mean radius of the Earth (IUGG)."""
_RUNNING_RPM, _COLD_C, _MOVING_M_S = 3_000.0, 100.0, 3.0
"""A shaft below, an exhaust below and a speed below are at rest: common practice, no source."""
_FLYING_M_S = 15.0
"""No model jet is on the ground for long at this speed: common practice, no source."""
_STEADY = 0.15
"""A pack's voltage keeps within this share of its middle, its current does not: common practice, no source."""
_CROSSED = 0.08
"""Steps that lie within this share of the speed are right, all but noise: common practice, no source."""
_SPEEDS = np.log([3.6, 1.852, 3.6 / 1.852, 1.609344, 3.6 / 1.609344, 1.0 / 0.3048])
"""What one unit of speed is of another: km/h, knots, miles an hour and feet a second beside metres a second."""
_AHEAD = 30.0
"""Degrees between where an aircraft points and where it goes, as a rule: common practice, no source."""
_LOOSE = 0.35
"""Way and speed that differ by this share while after while are not of one flight: common practice, no source."""
_STILL_RPM, _WARM_C, _FEW = 200.0, 120.0, 5
"""No shaft turns below; an exhaust that cools from the flight before falls by more than a few degrees in as many rows:
common practice, no source."""
_ADDED = frozenset({"current_a", "used_mah", "used_ml", "remaining_ml", "flow_ml_per_min"})
"""Quantities of several parts that may be added up."""
_UNLIKE = 0.5
"""Least correlation of what is gained and what a climb rate makes of it: common practice, no source."""
_ALIVE = frozenset(
    {"rssi_dbm", "antenna<n>_rssi_dbm", "current_a", "roll_deg", "pitch_deg", "track_deg", "heading_deg"}
)  # fmt: skip
"""Quantities that keep one value only where nothing moves."""
_SUSPECTS = 3
"""Of more columns than these none is likely enough to be the one that changed places."""
_NAMELESS = ("unknown", "foreign", "unsure_name", "no_subject", "elsewhere", "contradicted")
"""What no company takes away: doubts about whose quantity it is."""


@dataclass(frozen=True, slots=True)
class Series:
    """One column's place among the proposals, its channel, and its values in canonical units, NaN where empty."""

    at: int
    channel: Channel
    instance: str
    values: FloatArray
    doubtful: bool = False
    """Whether its heading alone would have it asked about."""

    def odd(self) -> bool:
        """Whether the values alone are unusual for the channel, or its heading is doubtful."""
        seen = witness.numbers(self.values[np.isfinite(self.values)])
        return self.doubtful or witness.testify(self.channel, seen, Conversion()) not in (Verdict.FITS, Verdict.SILENT)


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
    some: dict[str, Series] = {}
    for i, raw in values.items():
        known = parse(proposed[i].channel)
        if known is not None and known.channel.unit != "bool" and np.isfinite(raw).any():
            factor = proposed[i].factor
            made = raw * (factor.num.numerator / factor.num.denominator) + float(factor.offset)
            doubtful = proposed[i].confidence < certainty.ASK_BELOW
            some.setdefault(proposed[i].channel, Series(i, known.channel, known.instance or "", _held(made), doubtful))
    court = _Court(some, {n: s for n, s in some.items() if not proposed[s.at].evidence.get("contradicted")}, seconds)
    court.hear()
    court.stands_on_its_gear({i: x for i, x in (states or {}).items() if proposed[i].channel == "control.gear"})
    out = list(proposed)
    for i, column in enumerate(proposed):
        raised = i in court.contra and column.channel == "control.gear" and not parse(column.plain)
        if parse(column.channel) is None or column.settled or not (column.evidence or raised):
            continue
        pro = court.pro.get(i) if i in court.scaled or not column.evidence.get("odd") else None
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
        elif pro and not any(column.evidence.get(k) for k in _NAMELESS):
            out[i] = _judged(column, {**column.evidence, "agrees": 1.0}, LayoutCode.AGREE, pro)
    return _swapped(out, values)


def _judged(
    column: ColumnPlan, evidence: Mapping[str, float], code: LayoutCode, between: Sequence[Channel] = ()
) -> ColumnPlan:  # fmt: skip
    values = dict(zip(("first", "other"), map(label, between), strict=False))
    sure = round(certainty.weights()(evidence), 3)
    return replace(column, evidence=evidence, reason=also(column.reason, code, **values), confidence=sure)


def _held(x: FloatArray) -> FloatArray:
    """Values of a slow sensor held until the next one, so that columns can be laid side by side."""
    good = np.isfinite(x)
    last = np.maximum.accumulate(np.where(good, np.arange(x.size), -1))
    return np.where(last >= 0, x[np.maximum(last, 0)], np.nan)


@dataclass(frozen=True, slots=True)
class _Dispute:
    """Columns that cannot all be right; ``between`` whom, as it is told; ``scale``: by their size, not their course."""

    series: tuple[Series, ...]
    between: tuple[Channel, Channel]
    scale: bool


class _Court:
    """The columns heard against each other; ``pro`` and ``contra`` say why, by place among the proposals."""

    def __init__(
        self, every: Mapping[str, Series], some: Mapping[str, Series], seconds: FloatArray | None
    ) -> None:  # fmt: skip
        self.every, self.some = every, some  # what is refuted already refutes nothing else
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
        seen = []
        for name, s in self.every.items():
            limit = {"speed_rpm": _RUNNING_RPM, "egt_c": _COLD_C, "flow_ml_per_min": 5.0}.get(s.channel.quantity)
            if limit is not None and s.channel.subject in ("engine", "fuel") and name != but:
                seen.append(float(np.nanmax(s.values)) < limit)
        return bool(seen) and all(seen)

    def on_the_ground(self, but: str) -> bool:
        seen = []
        for name, s in self.every.items():
            if s.channel.quantity in ("ground_speed_m_s", "airspeed_m_s") and name != but:
                seen.append(float(np.nanmax(s.values)) < _MOVING_M_S)
        return (bool(seen) and all(seen)) or (not seen and self.engines_off(but))

    def hear(self) -> None:
        """All pairs that physics ties together."""
        by: dict[tuple[str, str], dict[str, Series]] = {}
        for s in self.some.values():
            by.setdefault((s.channel.subject, s.instance), {})[s.channel.quantity] = s
        for (subject, name), own in by.items():
            if subject in ("pack", "bus"):
                self._sag(own.get("voltage_v"), own.get("current_a"))
            if subject == "pack":
                self._sum(own.get("used_mah"), own.get("current_a"), 1000.0 / 3600.0)
                parts = [own.get(q) for q in ("used_mah", "current_a", "voltage_v")]
                if all(parts) and all(s and s.at in self.scaled for s in parts[:2]):
                    self.of_packs |= {s.at: tuple(s.channel for s in parts[:2] if s) for s in parts if s}
                self._cells(own, name)
            if subject == "fuel":
                self._sum(own.get("used_ml"), own.get("flow_ml_per_min"), 1.0 / 60.0)
                self._sum(own.get("remaining_ml"), own.get("flow_ml_per_min"), -1.0 / 60.0)
                self._one_total(own.get("used_ml"), own.get("remaining_ml"))
                self._together(own.get("flow_ml_per_min"), self._of("engine", name, "speed_rpm"))
            if subject == "engine":
                self._cold(own.get("speed_rpm"), own.get("egt_c"))
                self._together(own.get("speed_rpm"), own.get("egt_c"), against=False)
                for drive in ("pump_v", "pump_percent", "throttle_percent"):
                    self._together(own.get("speed_rpm"), own.get(drive))
        place = {q: s for (subject, _), own in by.items() if subject in ("position", "motion", "air")
                 for q, s in own.items()}  # fmt: skip
        self._way(place.get("latitude_deg"), place.get("longitude_deg"), place.get("ground_speed_m_s"))
        self._together(place.get("ground_speed_m_s"), place.get("airspeed_m_s"))
        for direction in (place.get("track_deg"), self.some.get("attitude.heading_deg")):
            self._course(place.get("latitude_deg"), place.get("longitude_deg"), direction)
        for height in ("altitude_m", "height_m", "pressure_altitude_m"):
            self._climb(place.get(height), place.get("vario_m_s"))
            # The law holds in any unit of pressure: one that cannot be what its heading says speaks as well.
            self._barometer(place.get(height), self.every.get("air.pressure_pa"))
        self._together(place.get("altitude_m"), place.get("height_m"))
        self._added()
        self._settle()
        self._still()

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
                enough = min(ground.size, air.size) > _LEAST // 2
                if enough and ground.mean() < 0.2 and air.mean() > 0.5:
                    self.contra.setdefault(at, (LayoutCode.DISAGREE, (BY_KEY["control.gear"], speed.channel)))

    def _of(self, subject: str, name: str, quantity: str) -> Series | None:
        return self.some.get(f"{subject}.{name}.{quantity}")

    def _hear(self, *series: Series) -> None:
        self.heard |= {s.at: (series[0].channel, series[-1].channel) for s in series if s.at not in self.heard}

    def _agree(self, *series: Series, scale: bool = False) -> None:
        self._agreed.append((frozenset(s.at for s in series), scale))
        for s in series:
            if scale or s.at not in self.pro:
                self.pro[s.at] = (series[0].channel, series[-1].channel)
            if scale:
                self.scaled.add(s.at)

    def _refute(self, *series: Series, between: Sequence[Series] = (), scale: bool = False) -> None:
        first, *_, last = between or series
        self._disputes.append(_Dispute(series, (first.channel, last.channel), scale))

    def _settle(self) -> None:
        """Find who is to blame in each dispute: not who agrees with a third; else who is odd by itself; else all."""
        disputed = {s.at for d in self._disputes for s in d.series}
        for dispute in sorted(self._disputes, key=lambda d: len(d.series)):
            if any(s.at in self.contra for s in dispute.series):
                continue  # another has told who it is
            suspects = [s for s in dispute.series if not self._vouched(s, dispute, disputed)] or list(dispute.series)
            odd = [s for s in suspects if s.odd()] if len(suspects) > 1 else []
            for s in odd or suspects:
                self.contra.setdefault(s.at, (LayoutCode.DISAGREE, dispute.between))

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
            if s.channel.quantity in _ALIVE and good.size > 2 * _LEAST and good[0] and np.ptp(good) == 0.0:
                self.contra.setdefault(s.at, (LayoutCode.STANDS_STILL, ()))

    def _sag(self, volts: Series | None, amps: Series | None) -> None:
        """A pack's voltage falls where its current rises."""
        r = correlation(np.diff(volts.values), np.diff(amps.values)) if volts and amps else None
        if r is None or volts is None or amps is None:
            return
        self._hear(volts, amps)
        if _steady(amps.values) and not _steady(volts.values, 4 * _STEADY):
            self._refute(volts, amps)  # what sags by a few in a hundred is the voltage
        elif r < -0.3:
            self._agree(volts, amps)
        elif r > 0.6:
            self._refute(volts, amps)

    def _sum(self, total: Series | None, rate: Series | None, factor: float) -> None:
        """A total grows by its rate over time."""
        if total is None or rate is None or self.seconds is None:
            return
        good = np.isfinite(total.values) & np.isfinite(rate.values)
        if good.sum() < _LEAST:
            return
        t, x = self.seconds[good], rate.values[good]
        made = float(np.trapezoid(x, t)) * factor
        grown = float(total.values[good][-1] - total.values[good][0])
        self._scaled(grown, made, float(np.abs(total.values[good]).max()) * 0.02, total, rate)

    def _scaled(self, one: float, other: float, floor: float, *series: Series) -> None:
        if max(abs(one), abs(other)) <= max(floor, 1.0):
            return
        ratio = one / other if other else np.inf
        if 0.7 < ratio < 1.4:
            self._agree(*series, scale=True)
        elif not 0.2 < ratio < 5.0:
            self._refute(*series, scale=True)

    def _cells(self, own: Mapping[str, Series], name: str) -> None:
        cells = [s for key, s in self.some.items() if key.startswith(f"pack.{name}.cell")]
        volts = own.get("voltage_v")
        if volts is None or len(cells) < 2:
            return
        whole = float(np.nanmedian(sum(s.values for s in cells)))
        ratio = float(np.nanmedian(volts.values)) / whole if whole else np.inf
        if 0.93 < ratio < 1.07:
            self._agree(volts, *cells, scale=True)
            self.of_packs |= {} if volts.doubtful else {c.at: (volts.channel, c.channel) for c in cells}
        elif not 0.45 < ratio < 8.0:
            self._refute(volts, between=(volts, cells[0]), scale=True)

    def _cold(self, shaft: Series | None, exhaust: Series | None) -> None:
        """An exhaust that keeps its temperature before the shaft has turned is as warm as the air."""
        if shaft is None or exhaust is None:
            return
        turns = np.flatnonzero(shaft.values > _STILL_RPM)
        before = exhaust.values[: turns[0] if turns.size else 0]
        before = before[np.isfinite(before)]
        if before.size > _FEW and np.ptp(before) < 8.0 and float(np.median(before)) > _WARM_C:
            self._refute(exhaust, between=(exhaust, shaft), scale=True)

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
                if np.isfinite(off).sum() > _LEAST and np.nanmedian(off) < 0.005 * np.nanmedian(np.abs(s.values)):
                    self.contra.setdefault(s.at, (LayoutCode.SUM_OF_OTHERS, ()))

    def _one_total(self, used: Series | None, left: Series | None) -> None:
        if used is None or left is None:
            return
        burnt, gone = float(np.nanmax(used.values) - np.nanmin(used.values)), left.values[np.isfinite(left.values)]
        self._scaled(float(gone[0] - gone[-1]), burnt, 0.02 * float(np.abs(gone).max()), used, left)

    def _together(
        self, one: Series | None, other: Series | None, *, sign: float = 1.0, against: bool = True
    ) -> None:  # fmt: skip
        r = correlation(one.values, other.values) if one and other else None
        if r is None or one is None or other is None:
            return
        self._hear(one, other)
        if sign * r > 0.6:
            self._agree(one, other)
        elif against and sign * r < -0.6:
            self._refute(one, other)

    def _way(self, lat: Series | None, lon: Series | None, speed: Series | None) -> None:
        """The way from place to place is that of the speed over time."""
        if lat is None or lon is None or speed is None or self.seconds is None:
            return
        good = np.isfinite(lat.values) & np.isfinite(lon.values) & np.isfinite(speed.values)
        if good.sum() < _LEAST:
            return
        steps = steps_m(lat.values[good], lon.values[good])
        run = (speed.values[good][1:] + speed.values[good][:-1]) / 2 * np.diff(self.seconds[good])
        way, said = float(steps.sum()), float(run.sum())
        if max(way, said) < 200.0:
            return
        ratio = way / said if said else np.inf
        narrow = np.cos(np.radians([np.median(lat.values[good]), np.median(lon.values[good])]))
        telling = narrow.min() > 0.0 and abs(np.log(narrow[0] / narrow[1])) > 2 * _CROSSED
        across = steps_m(lon.values[good], lat.values[good])
        crossed = _off(across, run) if telling else np.inf
        apart = _off(_in_whiles(steps), _in_whiles(run), 8)
        if crossed < min(2 * _CROSSED, 0.5 * _off(steps, run)):
            self._refute(lat, lon)  # the other way round each step is as long as the speed says
        elif telling and _ratios(across, run)[1] < min(0.5 * _CROSSED, 0.5 * _ratios(steps, run)[1]):
            self._refute(lat, lon)  # the other way round the speed is of one unit throughout
            self._refute(speed, between=(lat, speed), scale=True)
        elif self._other_unit(steps, run):
            self._refute(speed, between=(lat, speed), scale=True)
        elif 0.6 < ratio < 1.6 and apart < _LOOSE:
            self._agree(lat, lon, speed, scale=True)
        elif not 0.1 < ratio < 10.0:
            self._refute(lat, lon, speed, scale=True)
        elif not 0.35 < ratio < 2.8:
            self._refute(speed, between=(lat, speed), scale=True)  # as many times as another unit makes

    def _course(self, lat: Series | None, lon: Series | None, direction: Series | None) -> None:
        """An aircraft flies about where it points: the wind turns its course by less than half a right angle."""
        if lat is None or lon is None or direction is None:
            return
        good = np.isfinite(lat.values) & np.isfinite(lon.values) & np.isfinite(direction.values)
        north, east = np.diff(np.radians(lat.values[good])), np.diff(np.radians(lon.values[good]))
        east = east * np.cos(np.radians(np.median(lat.values[good]))) if good.any() else east
        steps = np.hypot(north, east) * _EARTH_M
        moving = steps > max(float(np.quantile(steps, 0.5)), 1.0) if steps.size else np.zeros(0, bool)
        if moving.sum() < _LEAST:
            return
        said = direction.values[good][1:][moving]
        off, crossed = _turned(east[moving], north[moving], said), _turned(north[moving], east[moving], said)
        if off < _AHEAD:
            self._agree(lat, lon, direction)
        elif off > 2.0 * _AHEAD and crossed < _AHEAD:
            self._refute(lat, lon)  # it flies where it points if the two change places
        elif off > 2.0 * _AHEAD:
            self._refute(direction, between=(direction, lat))

    @staticmethod
    def _other_unit(way: FloatArray, run: FloatArray) -> bool:
        """Whether, while after while, the way is so many times what the speed makes as one unit is of another."""
        middle, spread = _ratios(way, run)
        return bool(spread < 0.5 * _CROSSED and np.abs(np.abs(middle) - _SPEEDS).min() < _CROSSED / 2)

    def _barometer(self, height: Series | None, pressure: Series | None) -> None:
        """Height falls with the logarithm of pressure, whatever that is given in."""
        if height is None or pressure is None:
            return
        above = hypsometric_m(pressure.values)
        r = correlation(height.values, above)
        good = np.isfinite(height.values) & np.isfinite(above)
        if r is None or np.ptp(above[good]) < 5.0:
            return
        slope = float(np.std(height.values[good]) / np.std(above[good]))
        if r > 0.95 and not 0.6 < slope < 1.6:
            self._refute(height, between=(height, pressure), scale=True)
        elif r > 0.6:
            self._agree(height, pressure, scale=r > 0.95)
        elif r < -0.6:
            self._refute(height, pressure)

    def _climb(self, height: Series | None, climb: Series | None) -> None:
        """Height gained in a while is the climb rate over it."""
        if height is None or climb is None or self.seconds is None:
            return
        good = np.isfinite(height.values) & np.isfinite(climb.values)
        if good.sum() < 2 * _LEAST:
            return
        t, h, v = self.seconds[good], height.values[good], climb.values[good]
        made = np.concatenate([[0.0], np.cumsum((v[1:] + v[:-1]) / 2 * np.diff(t))])
        every = max(1, h.size // 40)
        gained, said = np.diff(h[::every]), np.diff(made[::every])
        r = correlation(gained, said)
        if r is None or np.ptp(h) < 5.0:
            return
        slope = float(np.std(gained) / max(float(np.std(said)), 1e-9))
        if r > 0.6 and 0.5 < slope < 2.0:
            self._agree(height, climb, scale=True)
        elif (r > 0.6 and not 0.4 < slope < 2.5) or r < -0.6:
            self._refute(height, climb, scale=True)
        elif r < _UNLIKE and np.ptp(h) > 8.0 and np.ptp(v) > 4.0:
            self._refute(height, climb)


def steps_m(lat: FloatArray, lon: FloatArray) -> FloatArray:
    """Length of each step between places in degrees, m."""
    east = np.diff(np.radians(lon)) * np.cos(np.radians(np.median(lat)))
    return np.asarray(np.hypot(np.diff(np.radians(lat)), east) * _EARTH_M)


def hypsometric_m(pressure: FloatArray) -> FloatArray:
    """Height over the first value by the hypsometric law at 288.15 K (ICAO Doc 7488: R = 287.053, g = 9.80665)."""
    good = pressure[np.isfinite(pressure) & (pressure > 0)]
    if not good.size:
        return np.full_like(pressure, np.nan)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(-287.053 * 288.15 / 9.80665 * np.log(pressure / good[0]))


def _off(steps: FloatArray, run: FloatArray, least: int = _LEAST) -> float:
    """How far, as a share, steps are as a rule from what the speed makes of them; infinite where there are few."""
    moving = (run > np.quantile(run, 0.5)) & (run > 0.0) & (steps > 0.0)
    return float(np.median(np.abs(np.log(steps[moving] / run[moving])))) if moving.sum() >= least else np.inf


def _ratios(way: FloatArray, run: FloatArray) -> tuple[float, float]:
    """Logarithm of what the way is of the run, while after while: its median and the span of its middle half."""
    way, run = _in_whiles(way), _in_whiles(run)
    moving = (run > max(float(np.quantile(run, 0.5)), 0.0)) & (way > 0.0)
    if moving.sum() < 8:
        return np.inf, np.inf
    low, middle, high = np.quantile(np.log(way[moving] / run[moving]), [0.25, 0.5, 0.75])
    return float(middle), float(high - low)


def _in_whiles(steps: FloatArray) -> FloatArray:
    """Steps added up over a fortieth of the time each: a slow receiver's place stands still, then jumps."""
    return np.asarray(np.add.reduceat(steps, np.arange(0, steps.size, max(1, steps.size // 40))))


def _turned(east: FloatArray, north: FloatArray, said: FloatArray) -> float:
    """How far, in degrees, the direction of steps is as a rule from what is said of it."""
    off = np.degrees(np.arctan2(east, north)) - said
    return float(np.median(np.abs((off + 180.0) % 360.0 - 180.0)))


def _steady(x: FloatArray, share: float = _STEADY) -> bool:
    """Whether values keep within a small share of their middle, all but the outermost."""
    low, middle, high = np.nanquantile(x, [0.02, 0.5, 0.98])
    return bool(high - low < share * abs(middle))


def correlation(one: FloatArray, other: FloatArray) -> float | None:
    """Pearson's, of the pairs that are whole; None where there are too few, or one of them hardly moves."""
    good = np.isfinite(one) & np.isfinite(other)
    if good.sum() < _LEAST:
        return None
    a, b = one[good], other[good]
    a, b = a - a.mean(), b - b.mean()
    size = float(np.sqrt((a @ a) * (b @ b)))
    moved = min(np.unique(a).size, np.unique(b).size) > 4
    return float(a @ b) / size if size > 0 and moved else None


def _swapped(proposed: Sequence[ColumnPlan], values: Mapping[int, FloatArray]) -> list[ColumnPlan]:
    """Doubt two columns where the values of each fit the heading of the other, and one cannot be what it is headed."""
    out = list(proposed)
    seen = {i: witness.numbers(x[np.isfinite(x)]) for i, x in values.items() if parse(proposed[i].channel) is not None}
    refuted = [i for i, n in seen.items() if proposed[i].evidence.get("contradicted") and n and n.kinds > 1
               and not proposed[i].evidence.get("turned")]  # fmt: skip
    for i in refuted:
        others = [k for k in seen if k not in refuted and _exchangeable(proposed[i], proposed[k], seen[i], seen[k])]
        odd = [k for k in others if proposed[k].evidence.get("odd")] or others
        for k in odd if len(odd) <= _SUSPECTS else ():
            evidence = {**out[k].evidence, "contradicted": 1.0}
            reason = also(out[k].reason, LayoutCode.CHANGED_PLACES, heading=proposed[i].heading)
            sure = round(certainty.weights()(evidence), 3)
            out[k] = replace(out[k], evidence=evidence, reason=reason, confidence=sure)
    return out


def _exchangeable(one: ColumnPlan, other: ColumnPlan, seen: Numbers | None, there: Numbers | None) -> bool:
    """Whether the values of two columns of different kinds fit each other's headings."""
    mine, theirs = parse(one.channel), parse(other.channel)
    if mine is None or theirs is None or other.settled or not other.evidence or other.evidence.get("agrees"):
        return False
    same = mine.channel.quantity == theirs.channel.quantity or mine.channel.subject != theirs.channel.subject
    if mine.channel.unit == theirs.channel.unit and same:
        return False
    if one.evidence.get("still") and mine.channel.subject != theirs.channel.subject:
        return False  # it may as well be at rest
    if any(q in ("latitude_deg", "longitude_deg") and n and (n.whole or n.high - n.low > 1.0)
           for q, n in ((mine.channel.quantity, there), (theirs.channel.quantity, seen))):  # fmt: skip
        return False  # no place is in whole degrees, and no model flies over more than one of them
    fits = witness.testify(theirs.channel, seen, other.factor), witness.testify(mine.channel, there, one.factor)
    return fits == (Verdict.FITS, Verdict.FITS)
