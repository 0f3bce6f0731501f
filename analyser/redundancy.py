"""Two packs on one bus: who carried the load, and would either have carried it alone.

The question is put at the worst moment of the flight: had the other pack failed then, this one would have given
its load-free voltage less its own resistance times the *whole* load.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from analyser.figures import Figure, FloatArray, Method
from analyser.resistance import Circuit
from analyser.smoothing import Z95
from analyser.telemetry import Series


@dataclass(frozen=True, slots=True)
class BusResult:
    """Packs sharing one bus: who carried the load, and could either have carried it alone."""

    name: str
    packs: tuple[str, ...]
    share_percent: dict[str, Figure]
    divergence_percent: Figure
    worst_load_a: Figure
    alone_v: dict[str, Figure]
    carries_alone: dict[str, bool]
    sentence: str


def share_bus(circuits: Mapping[str, tuple[Circuit, Series]], brown_out_v: float | None) -> tuple[BusResult, ...]:
    """Judge the receiver packs of one flight as one bus.

    Parameters
    ----------
    circuits : mapping of role to (Circuit, current series)
        Fitted packs; roles beginning with ``rx`` are taken to feed one receiver bus.
    brown_out_v : float or None
        The owner's brown-out level; without it the voltages are still given, unjudged.

    Returns
    -------
    tuple of BusResult
        Empty where fewer than two receiver packs have current and resistance.
    """
    roles = tuple(r for r in circuits if r.startswith("rx"))
    if len(roles) < 2:
        return ()
    start = max(circuits[r][1].time_s[0] for r in roles)
    stop = min(circuits[r][1].time_s[-1] for r in roles)
    grid = np.arange(start, stop, 0.1)
    if grid.size < 10:
        return ()
    currents = {r: np.interp(grid, *circuits[r][1]) for r in roles}
    total: FloatArray = np.sum(list(currents.values()), axis=0)
    worst = int(total.argmax())
    shares, alone, carries = {}, {}, {}
    for role in roles:
        circuit = circuits[role][0]
        part = 100.0 * float(currents[role].sum() / max(float(total.sum()), 1e-9))
        shares[role] = Figure(
            f"Share of the load, {role}", part, "%", Method.INTEGRATED, how="its charge over all charge given"
        )
        free = float(np.interp(grid[worst], circuit.time_s, circuit.reference_v))
        value = free - float(total[worst]) * circuit.one_second_ohm
        half = Z95 * float(np.hypot(float(total[worst]) * circuit.one_second_se, circuit.scatter_v))
        alone[role] = Figure(
            f"Voltage of {role} alone at the worst load", value, "V", Method.ESTIMATED, value - half, value + half,
            how="load-free voltage less its resistance times the whole load", digits=2,
        )  # fmt: skip
        carries[role] = brown_out_v is None or value > brown_out_v
    parts = np.stack([currents[r] for r in roles]) / np.maximum(total, 1e-9)
    loaded = total > np.median(total)
    thirds = np.array_split(np.flatnonzero(loaded), 3)
    drift = 100.0 * float(parts[0, thirds[-1]].mean() - parts[0, thirds[0]].mean()) if thirds[0].size else 0.0
    divergence = Figure(
        f"Shift of the load towards {roles[0]} over the flight", drift, "%", Method.INTEGRATED,
        how="its share in the last third less the first",
    )  # fmt: skip
    load = Figure(
        "Worst load on the bus",
        float(total[worst]),
        "A",
        Method.MEASURED,
        how=f"sum of both packs at {grid[worst]:.0f} s",
    )
    return (
        BusResult(
            "receivers", roles, shares, divergence, load, alone, carries, _sentence(roles, load, alone, brown_out_v)
        ),
    )


def _sentence(roles: tuple[str, ...], load: Figure, alone: dict[str, Figure], level: float | None) -> str:
    at = f"At the worst load of {load.value:.1f} A"
    if level is None:
        each = ", ".join(f"{r} {alone[r].value:.2f} V" for r in roles)
        return f"{at}, alone the packs would have given: {each}. No brown-out level is stated to judge that by."
    bad = [r for r in roles if (alone[r].value or 0.0) <= level]
    near = [r for r in roles if r not in bad and (alone[r].low or 0.0) <= level]
    if bad:
        each = " and ".join(f"{r} ({alone[r].value:.2f} V)" for r in bad)
        return (
            f"{at}, {each} alone would have fallen below the {level:.2f} V brown-out level: redundancy was not there."
        )
    if near:
        each = " and ".join(near)
        return f"{at}, {each} alone would have come within the uncertainty of the {level:.2f} V brown-out level."
    each = ", ".join(f"{r} {alone[r].value:.2f} V" for r in roles)
    return f"{at}, either pack alone would have stayed above the {level:.2f} V brown-out level ({each})."
