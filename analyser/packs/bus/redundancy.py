"""Packs that share one bus: who carried the load, and would either have carried it alone."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from analyser.core.figures import Z95, Figure, FloatArray, Method
from analyser.core.findings import Part, Text, say
from analyser.core.statistics.robust import median
from analyser.core.telemetry import Series
from analyser.packs.bus.feed_path import feed_path
from analyser.packs.bus.load import GRID_S, bus_load
from analyser.packs.bus.member import BusPack, Load
from analyser.packs.bus.survivor import Survivor, judged, survivor_of
from analyser.packs.codes import PackCode
from analyser.packs.scale import CurrentScale, rescaled


class AsRead(Struct, frozen=True):
    """What every pack of a bus gave by its own sensor: mAh over the flight, A at the worst moment, and its feed, mΩ.

    ``ohm`` holds value and half width of those whose feed is known.
    """

    mah: dict[str, float]
    worst_a: dict[str, float]
    worst_at_s: float
    ohm: dict[str, tuple[float, float]]


class BusResult(Struct, frozen=True):
    """Packs sharing one bus: who carried the load, and could either have carried it alone.

    ``path_drop_v`` is the drop from pack to bus that does not grow with current (a diode's), ``path_resistance_mohm``
    the part that does.
    """

    name: str
    packs: tuple[str, ...]
    share_percent: dict[str, Figure]
    load_shift_percent: Figure
    worst_load_a: Figure
    alone: dict[str, Survivor]
    summary: Text
    path_drop_v: dict[str, Figure]
    path_resistance_mohm: dict[str, Figure]
    as_read: AsRead

    @property
    def carries_alone(self) -> dict[str, bool | None]:
        """Whether each pack would have carried the load alone."""
        return {role: one.carries for role, one in self.alone.items()}


def share_bus(
    packs: Mapping[str, BusPack], brown_out_v: float | None, scales: Mapping[str, CurrentScale],
    bus: Series | None = None, take_off_s: float | None = None,
) -> tuple[BusResult, ...]:  # fmt: skip
    """Judge the packs that feed the receivers in one flight as one bus.

    Parameters
    ----------
    packs : mapping of role to BusPack
        Those that feed the receivers and show their resistance.
    brown_out_v : float or None
        The owner's brown-out level; without it the voltages are still given, unjudged.
    scales : mapping of role to CurrentScale
        Of the packs' current sensors.
    bus : Series, optional
        Voltage of the bus they share: beside the packs' own it shows what lies in between.
    take_off_s : float, optional
        From when on a pack that failed before take-off is missing; the first sample where it is not known.

    Returns
    -------
    tuple of BusResult
        Empty with fewer than two packs.
    """
    roles = tuple(packs)
    if len(roles) < 2:
        return ()
    start = max(max(p.current.time_s[0], p.circuit.time_s[0]) for p in packs.values())
    stop = min(min(p.current.time_s[-1], p.circuit.time_s[-1]) for p in packs.values())
    drawn = bus_load({r: p.current for r, p in packs.items()}, start, stop)
    if drawn is None:
        return ()
    grid, currents, total = drawn.time_s, drawn.amps, drawn.total_a
    worst = int(total.argmax())
    paths = {r: feed_path(r, p.voltage, p.current, bus) for r, p in packs.items()}
    after = grid >= (grid[0] if take_off_s is None else take_off_s)
    alone = {
        r: survivor_of(r, p, Load(grid, currents[r], np.maximum(total - currents[r], 0.0), after, drawn.read & after),
                     paths[r])
        for r, p in packs.items()
    }  # fmt: skip
    label = say(PackCode.WORST_LOAD)
    load = Figure(label, float(total[worst]), "A", Method.INTEGRATED, how=say(PackCode.SUM_AT, at_s=float(grid[worst])))
    ohms = {r: p.resistance_mohm for r, p in paths.items()}
    shown = BusResult(
        name="receivers",
        packs=roles,
        share_percent={},
        load_shift_percent=_shift(roles, currents, total),
        worst_load_a=load,
        alone=alone,
        summary="",
        path_drop_v={r: p.drop_v for r, p in paths.items()},
        path_resistance_mohm=ohms,
        as_read=AsRead(
            mah={r: float(i.sum()) * GRID_S / 3.6 for r, i in currents.items()},
            worst_a={r: float(i[worst]) for r, i in currents.items()},
            worst_at_s=float(grid[worst]),
            ohm={r: (f.value, f.half_width) for r, f in ohms.items() if f.value is not None},
        ),
    )
    return (set_bus(shown, scales, brown_out_v),)


def set_bus(bus: BusResult, scales: Mapping[str, CurrentScale], brown_out_v: float | None) -> BusResult:
    """The same bus by other scales of its packs' current sensors; no telemetry is needed.

    Parameters
    ----------
    scales : mapping of role to CurrentScale
        One for every pack of the bus.
    brown_out_v : float or None
        The owner's brown-out level.
    """
    read = bus.as_read
    mah = {r: scales[r].value * q for r, q in read.mah.items()}
    alone = {r: judged(one, *_against(r, read.mah, scales), brown_out_v) for r, one in bus.alone.items()}
    return replace(
        bus,
        share_percent={r: _share(r, mah, scales) for r in bus.packs},
        worst_load_a=_worst(bus.worst_load_a, read, scales),
        alone=alone,
        summary=_summary(alone, brown_out_v),
        path_resistance_mohm={
            r: _feed(f, read.ohm[r], scales[r]) if r in read.ohm else f for r, f in bus.path_resistance_mohm.items()
        },
    )


def _against(role: str, mah: Mapping[str, float], scales: Mapping[str, CurrentScale]) -> tuple[float, float]:
    """The others' scale over a pack's own, and its relative standard error; what they share drops out."""
    others = {r: max(q, 0.0) for r, q in mah.items() if r != role}
    whole = max(sum(others.values()), 1e-9)
    ratio = sum(scales[r].value * q for r, q in others.items()) / whole / scales[role].value
    errors = [scales[r].own_se * q / whole for r, q in others.items()]
    return ratio, float(np.linalg.norm([*errors, scales[role].own_se]))


def _worst(figure: Figure, read: AsRead, scales: Mapping[str, CurrentScale]) -> Figure:
    given = {r: scales[r].value * a for r, a in read.worst_a.items()}
    # The charger's part is the same in every sensor, the rest is each one's own.
    shared = sum(a * scales[r].shared_se for r, a in given.items())
    half = Z95 * float(np.linalg.norm([shared, *(a * scales[r].own_se for r, a in given.items())]))
    value = sum(given.values())
    return figure.set_to(value, max(value - half, 0.0), value + half)


def _feed(figure: Figure, read: tuple[float, float], scale: CurrentScale) -> Figure:
    value, half = read
    shown = figure.set_to(value, max(value - half, 0.0), value + half)
    return rescaled(shown, None, scale, -1)


def _share(role: str, mah: Mapping[str, float], scales: Mapping[str, CurrentScale]) -> Figure:
    part = 100.0 * mah[role] / max(sum(mah.values()), 1e-9)
    # A ratio of two sensors is as unsure as both together, but for what they share.
    half = Z95 * _against(role, mah, scales)[1] * max(part * (100.0 - part), 0.0) / 100.0
    label = say(PackCode.SHARE, pack=Part(f"pack.{role}"))
    how = say(PackCode.CHARGE_OVER_ALL)
    return Figure(label, part, "%", Method.INTEGRATED, low=part - half, high=part + half, how=how)


def _shift(roles: tuple[str, ...], currents: Mapping[str, FloatArray], total: FloatArray) -> Figure:
    first = currents[roles[0]] / np.maximum(total, 1e-9)
    thirds = np.array_split(np.flatnonzero(total > median(total)), 3)
    drift = 100.0 * float(first[thirds[-1]].mean() - first[thirds[0]].mean()) if thirds[0].size else 0.0
    label = say(PackCode.LOAD_SHIFT, pack=Part(f"pack.{roles[0]}"))
    return Figure(label, drift, "%", Method.INTEGRATED, how=say(PackCode.LAST_LESS_FIRST))


def _summary(alone: Mapping[str, Survivor], level: float | None) -> Text:
    def each(those: list[str]) -> tuple[Text, ...]:
        return tuple(
            say(PackCode.ALONE_VOLTAGE, pack=Part(f"pack.{r}"), volts=alone[r].lowest_v, at_s=alone[r].lowest_at_s)
            for r in those
        )

    below = [r for r, one in alone.items() if one.carries is False]
    unsure = [r for r, one in alone.items() if one.carries is None]
    return say(
        PackCode.ALONE, below=each(below), unsure=each(unsure if level is not None else []),
        every=each(list(alone)), level_v=-1.0 if level is None else level,
    )  # fmt: skip
