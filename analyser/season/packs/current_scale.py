"""What charges put back after flights teach of an aircraft's current sensors, laid on all of its flights.

A sensor stays in its aircraft while packs come and go, so it is known by its place there. One charge may have filled
up what several flights took: it is then set against all of them. Charges near a flight by count teach it, and none from
beyond a step in what they say: a sensor that was exchanged or has drifted is not judged by what it was long ago.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from typing import TypeAlias

import numpy as np
import numpy.typing as npt
from msgspec import Struct
from msgspec.structs import replace

from analyser.core.aircraft import FlightContext, Pack
from analyser.core.figures import Figure, FloatArray, values_of
from analyser.core.statistics.robust import robust_sd
from analyser.core.statistics.trends import find_step
from analyser.packs.analysis import PackResult, set_scales
from analyser.packs.charge import PutBack, lacked_percent
from analyser.packs.scale import CurrentScale, Learned, learn, scale_in_flight, unchecked_scale
from analyser.record import FlightRecord
from analyser.season.lineup import Lineup, Taught

NEAREST = 20
"""So many charges, nearest by count, teach one flight."""
ON_ONE_CHARGE = 4
"""Flights on one charge, at most."""
FEWEST_FOR_STEP, STEP_CHANCE, LEAST_STEP = 8, 0.01, 0.03
"""A step of the sensor's scale is looked for from so many charges on, and believed at this chance level and size."""
CLEAR_STEP = 3.0
"""Standard errors that the sides of a step lie apart at least."""
FEW = 3
"""Fewer charges than that do not speak against the prior where they lie far off it."""
FAR_OFF = 0.15

Sensor: TypeAlias = tuple[str, str]
"""Aircraft and place."""


class _Charge(Struct, frozen=True):
    """One charge that was noted, by the flight's position.

    ``earlier`` are flights of the pack just before it that it may have filled up as well, at most three, oldest first:
    on the same sensor, since the last charge that was noted.
    """

    at: int
    earlier: tuple[int, ...]


class _Use(Struct, frozen=True):
    at: int
    sensor: Sensor
    noted: bool


def _charges(contexts: Iterable[FlightContext]) -> dict[Sensor, list[_Charge]]:
    """Every charge that was noted, by the sensor that it may check, oldest first."""
    found: dict[Sensor, list[_Charge]] = {}
    recent: dict[str, list[_Use]] = {}
    for at, context in enumerate(contexts):
        if context.aircraft is None:
            continue
        for role in sorted({*context.packs, *context.pack_notes}):
            sensor = (context.aircraft.name, role)
            pack, note = context.packs.get(role), context.pack_notes.get(role)
            uses = recent.setdefault(pack.name, []) if pack else []
            noted = note is not None and note.charged_mah is not None
            if noted:
                found.setdefault(sensor, []).append(_Charge(at, _on_one_charge(uses, sensor)))
            uses.append(_Use(at, sensor, noted))
            del uses[: -ON_ONE_CHARGE + 1]
    return found


def _on_one_charge(uses: Sequence[_Use], sensor: Sensor) -> tuple[int, ...]:
    """The last of a pack's flights without a charge; none where one of them was on another sensor."""
    since = max((k + 1 for k, u in enumerate(uses) if u.noted), default=0)
    return tuple(u.at for u in uses[since:]) if all(u.sensor == sensor for u in uses[since:]) else ()


def _nearest(charges: Sequence[_Charge], at: int) -> slice:
    """The charges that teach a flight: so many on either side, or more on one where the other has fewer."""
    middle = bisect_left(charges, at, key=lambda c: c.at)
    first = max(min(middle - NEAREST // 2, len(charges) - NEAREST), 0)
    return slice(first, first + NEAREST)


def currents_taught(lineup: Lineup) -> Iterator[Taught]:
    """Which flights' charges may teach the current sensors of which, for every place of every aircraft.

    With each charge go the flights of its pack just before it, which it may have filled up as well. As many charges as
    teach stand on either side: among these alone, the nearest are the same as among all.
    """
    flown = lineup.grouped(lambda f: dict.fromkeys(f.packs))
    charged = lineup.grouped(lambda f: (f"{entry}\n{f.aircraft}" for entry in f.charged if f.aircraft))
    by_sensor: dict[Sensor, list[npt.NDArray[np.intp]]] = {}
    for key, at in charged.items():
        role, pack, aircraft = key.split("\n")
        uses = flown.get(pack, np.empty(0, np.intp))
        back = np.searchsorted(uses, at)[:, None] - np.arange(ON_ONE_CHARGE - 1, 0, -1)
        before = np.where(back >= 0, uses[np.maximum(back, 0)], -1) if uses.size else np.full(back.shape, -1)
        by_sensor.setdefault((aircraft, role), []).append(np.column_stack([before, at]))
    for (aircraft, role), found in by_sensor.items():
        blocks = np.concatenate(found)
        blocks = blocks[np.argsort(blocks[:, -1], kind="stable")]
        start = np.r_[0, np.cumsum((blocks >= 0).sum(axis=1))]
        pupils = lineup.owned[aircraft]
        middle = np.searchsorted(blocks[:, -1], pupils)
        first, last = np.maximum(middle - NEAREST, 0), np.minimum(middle + NEAREST, len(blocks))
        yield Taught(f"current {role} {aircraft}", pupils, blocks[blocks >= 0], start[first], start[last])


class _Taught(Struct, frozen=True, eq=False):
    """What some charges teach: on either side of a step of the scale, if there is one.

    ``places`` are the flights' positions of the charges that tell a scale, for either side; ``step_at`` the position
    from which on the second of ``sides`` holds.
    """

    places: tuple[tuple[int, ...], ...]
    step_at: int | None
    sides: tuple[Learned, ...]

    def of(self, at: int) -> tuple[Learned, int | None]:
        """What holds at a flight's position, and where its own charge is among those that taught."""
        side = int(self.step_at is not None and at >= self.step_at)
        own = self.places[side]
        return self.sides[side].reached(_along(own, at)), own.index(at) if at in own else None


def _along(places: Sequence[int], at: int) -> float:
    """Where a position lies among some, counted: −1 at the first, 1 at the last, little more before and after them.

    Counted, since flights that teach nothing may be left out.
    """
    if len(places) < FEW:
        return 0.0
    rank = bisect_left(places, at) - (0.0 if at in places else 0.5)
    return 2.0 * rank / (len(places) - 1) - 1.0


def scales_by_flight(
    flights: Sequence[FlightRecord], only: Collection[str] | None = None
) -> list[dict[str, CurrentScale]]:
    """Scale of each current sensor in every flight, by the charges that were noted.

    Parameters
    ----------
    flights : sequence of FlightRecord
        Oldest first, of any aircraft: packs move.
    only : collection of str, optional
        Ids of the flights that are asked about; the others only teach.

    Returns
    -------
    list of dict
        Parallel to ``flights``: place → scale, for every pack whose charge a sensor told; nothing where not asked.
    """
    charges = _charges(f.context for f in flights)
    packs = [{p.name: p for p in f.result.packs.packs} for f in flights]
    ratios: dict[tuple[Sensor, int], tuple[Figure, float]] = {}
    for sensor, found in charges.items():
        for charge in found:
            if (told := _ratio(sensor[1], charge, flights, packs)) is not None:
                ratios[sensor, charge.at] = told
    taught: dict[tuple[Sensor, int], _Taught] = {}
    out = []
    for at, flight in enumerate(flights):
        scales = {}
        for role, pack in packs[at].items() if only is None or flight.flight_id in only else ():
            if pack.charge.integrated_mah.value is None:
                continue
            prior = unchecked_scale(role, flight.context.aircraft)
            sensor = (flight.aircraft, role)
            if not flight.aircraft or sensor not in charges:
                scales[role] = scale_in_flight(prior, pack.scale.own)
                continue
            window = _nearest(charges[sensor], at)
            if (sensor, window.start) not in taught:
                places = tuple(c.at for c in charges[sensor][window] if (sensor, c.at) in ratios)
                taught[sensor, window.start] = _teach(prior, places, [ratios[sensor, p] for p in places])
            learned, own_at = taught[sensor, window.start].of(at)
            own = ratios[sensor, at][0] if (sensor, at) in ratios else pack.scale.own
            scales[role] = scale_in_flight(prior, own, learned, own_at)
        out.append(scales)
    return out


def _teach(prior: CurrentScale, places: tuple[int, ...], ratios: Sequence[tuple[Figure, float]]) -> _Taught:
    logs = np.log(values_of(r for r, _ in ratios))
    if 0 < logs.size < FEW and float(np.abs(logs).max()) > FAR_OFF:
        # One or two charges far off the prior: rather a note that is wrong than the sensor.
        keep = np.abs(logs) <= FAR_OFF
        places = tuple(p for p, k in zip(places, keep, strict=True) if k)
        ratios, logs = [r for r, k in zip(ratios, keep, strict=True) if k], logs[keep]
    step = find_step(logs) if logs.size >= FEWEST_FOR_STEP and _may_step(logs) else None
    if step is None or step.p_value > STEP_CHANCE or abs(step.size) < LEAST_STEP:
        return _Taught((places,), None, (_learn(prior, places, ratios),))
    k = step.index
    halves = (places[:k], ratios[:k]), (places[k:], ratios[k:])
    return _Taught((places[:k], places[k:]), places[k], tuple(_learn(prior, p, r) for p, r in halves))


def _may_step(logs: FloatArray) -> bool:
    """Whether the sides of some split lie apart clearly enough to look closer."""
    k = np.arange(FEW, logs.size - FEW + 1)
    sums = np.cumsum(logs)
    apart = (sums[-1] - sums[k - 1]) / (logs.size - k) - sums[k - 1] / k
    scatter = robust_sd(np.diff(logs) - np.median(np.diff(logs))) / np.sqrt(2.0)
    clear = CLEAR_STEP * scatter * np.sqrt(1.0 / k + 1.0 / (logs.size - k))
    return bool((np.abs(apart) > np.maximum(clear, LEAST_STEP / 2.0)).any())


def _learn(prior: CurrentScale, places: Sequence[int], ratios: Sequence[tuple[Figure, float]]) -> Learned:
    along = np.array([_along(places, p) for p in places], float)
    return learn(prior, [r for r, _ in ratios], np.array([s for _, s in ratios], float), along)


def _ratio(
    role: str, charge: _Charge, flights: Sequence[FlightRecord], packs: Sequence[Mapping[str, PackResult]]
) -> tuple[Figure, float] | None:
    """Charge put back over charge by the sensor, of one flight or of all since the pack was full, and its shared error.

    ``None`` where it tells no scale.
    """
    last = packs[charge.at].get(role)
    pack = flights[charge.at].context.packs.get(role)
    if last is None:
        return None
    told = (last.scale.own, last.scale.shared_se)
    if charge.earlier and pack is not None and pack.rated_mah is not None and not _was_full(last):
        chain = [last]
        for k in reversed(charge.earlier):
            earlier = packs[k].get(role)
            if earlier is None:
                break
            chain.append(earlier)
            if _was_full(earlier):
                found = _over_chain(pack, chain)
                told = told if found is None else found
                break
    return told if told[0].value is not None else None


def _was_full(pack: PackResult) -> bool:
    return pack.state.before_percent.value is not None and lacked_percent(pack.state.before_percent) == 0.0


def _over_chain(pack: Pack, chain: Sequence[PackResult]) -> tuple[Figure, float] | None:
    """One charge over what the sensor told of several flights, the last of them first."""
    by_sensor = [p.charge.integrated_mah.value for p in chain]
    whole = sum(x or 0.0 for x in by_sensor)
    if chain[0].charge.put_back_mah.value is None or None in by_sensor or whole <= 0.0:
        return None
    one = PutBack(
        charged=chain[0].charge.put_back_mah,
        pack=pack,
        by_sensor_mah=whole,
        zero_se_mah=sum(p.scale.zero_se_mah for p in chain),
        outside_mah=sum(p.scale.outside_mah for p in chain),
        before=chain[-1].state.before_percent,
    )
    return one.over_sensor(chain[0].scale.own.label)


def correct_currents(flights: Sequence[FlightRecord], only: Collection[str] | None = None) -> tuple[FlightRecord, ...]:
    """The same flights with every figure of packs set right by what charges teach of the current sensors.

    Doing it twice changes nothing: each flight is set right from what its sensor said. With ``only``, the flights of
    these ids are set right and the others only teach.
    """
    return tuple(
        with_current_scales(flight, scales) if only is None or flight.flight_id in only else flight
        for flight, scales in zip(flights, scales_by_flight(flights, only), strict=True)
    )


def currents_settled(flights: Sequence[FlightRecord]) -> set[str]:
    """Ids of those flights, oldest first, that :func:`correct_currents` would leave as they are."""
    found = zip(flights, scales_by_flight(flights), strict=True)
    return {flight.flight_id for flight, scales in found if _shows(flight, scales)}


def _shows(flight: FlightRecord, scales: Mapping[str, CurrentScale]) -> bool:
    return all(p.scale.applied == scales.get(p.name, p.scale.applied) for p in flight.result.packs.packs)


def with_current_scales(flight: FlightRecord, scales: Mapping[str, CurrentScale]) -> FlightRecord:
    """One flight set right by the scales of its current sensors; itself where it has nothing to learn from them."""
    if _shows(flight, scales):
        return flight
    packs = set_scales(flight.result.packs, flight.context, scales)
    return replace(flight, result=replace(flight.result, packs=packs))
