"""What a pack has been through: equivalent full cycles, days stored full, brown-outs."""

from __future__ import annotations

import numpy as np
from msgspec import Struct

from analyser.core.aircraft import Pack
from analyser.core.figures import Figure, Method
from analyser.core.findings import say
from analyser.season.packs.codes import SeasonPackCode
from analyser.season.packs.cycles import days_stored_full, equivalent_full_cycles
from analyser.season.packs.uses import Charges


class PackLife(Struct, frozen=True):
    """Cycles, storage and brown-outs of one pack, at its own terminals and on the bus beside them."""

    cycles: Figure
    days_stored_full: Figure
    brown_outs: Figure
    bus_brown_outs: Figure


def pack_life(pack: Pack, charges: Charges, brown_outs: tuple[Figure, Figure]) -> PackLife:
    """Sum up all flights of a pack; ``brown_outs`` are its own and those of its bus."""
    return PackLife(_cycles(pack, charges), _stored(pack, charges), *brown_outs)


def _stored(pack: Pack, charges: Charges) -> Figure:
    label = say(SeasonPackCode.STORED_FULL, pack=pack.name)
    told, least, most = (
        days_stored_full(charges.start_s, charges.before[:, end], charges.after[:, end]) for end in (1, 0, 2)
    )
    if told is None or least is None or most is None:
        return Figure.unavailable(label, "d", say(SeasonPackCode.NO_TWO_STATES))
    how = say(SeasonPackCode.BETWEEN_FLIGHTS, flights=told[2] + 1)
    return Figure(label, told[0], "d", Method.ESTIMATED, low=least[0], high=most[1], how=how, digits=0)


def _cycles(pack: Pack, charges: Charges) -> Figure:
    """Equivalent full cycles: before the log as stated, in the log by rainflow on the charge state."""
    good = np.isfinite(charges.before[:, 1]) & np.isfinite(charges.after[:, 1])
    low, path, high = np.stack([charges.before[good], charges.after[good]], axis=1).reshape(-1, 3).T
    counted = equivalent_full_cycles(path)
    before_log = pack.cycles_before_log
    how = say(SeasonPackCode.RAINFLOW, flights=int(good.sum()), before_log=before_log)
    label = say(SeasonPackCode.CYCLES, pack=pack.name)
    depth = float(np.abs(path[::2] - path[1::2]).sum())
    if depth <= 0.0:
        return Figure(
            label, before_log + counted, "", Method.ESTIMATED, low=before_log, high=before_log + counted, how=how
        )
    # A make's curve is off the mean by the same in every flight: the errors of all depths add.
    halves = (high - low) / 2.0
    half = counted * float(np.hypot(halves[::2], halves[1::2]).sum()) / depth
    return Figure(
        label, before_log + counted, "", Method.ESTIMATED, low=before_log + max(counted - half, 0.0),
        high=before_log + counted + half, how=how,
    )  # fmt: skip
