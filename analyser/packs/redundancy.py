"""Two packs on one bus: who carried the load, and would either have carried it alone.

The question is put at every moment of the flight: had the other pack failed just then, this one would have given
its voltage less its own resistance times the load the other was carrying, one second later. The answer is that
voltage at its lowest, which need not be where the load was highest: an empty pack fails at a smaller one.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from scipy import linalg

from analyser.core.figures import Figure, FloatArray, Method
from analyser.core.smoothing import Z95
from analyser.core.telemetry import Series
from analyser.packs.circuit import Circuit

LEAST_BUS_SHARE = 0.25
"""A bus whose voltage moves less than this share of its packs' is held by a regulator."""


@dataclass(frozen=True, slots=True)
class BusResult:
    """Packs sharing one bus: who carried the load, and could either have carried it alone.

    ``alone_v`` is each pack's lowest voltage had the other failed, ``alone_at_s`` when; ``carries_alone`` judges it
    by the brown-out level and is ``None`` where no level is stated or the interval straddles it. ``path_drop_v`` is
    the drop from pack to bus that does not grow with current (a diode's), ``path_resistance_mohm`` the part that does.
    """

    name: str
    packs: tuple[str, ...]
    share_percent: dict[str, Figure]
    divergence_percent: Figure
    worst_load_a: Figure
    alone_v: dict[str, Figure]
    carries_alone: dict[str, bool | None]
    sentence: str
    alone_at_s: dict[str, float] = field(default_factory=dict)
    path_drop_v: dict[str, Figure] = field(default_factory=dict)
    path_resistance_mohm: dict[str, Figure] = field(default_factory=dict)


def share_bus(
    circuits: Mapping[str, tuple[Circuit, Series]],
    brown_out_v: float | None,
    voltages: Mapping[str, Series] | None = None,
    bus: Series | None = None,
) -> tuple[BusResult, ...]:
    """Judge the receiver packs of one flight as one bus.

    Parameters
    ----------
    circuits : mapping of role to (Circuit, current series)
        Fitted packs; roles beginning with ``rx`` are taken to feed one receiver bus.
    brown_out_v : float or None
        The owner's brown-out level; without it the voltages are still given, unjudged.
    voltages : mapping of role to Series, optional
        The packs' own voltages, and ``bus`` that of the bus they share: together they show what lies in between.

    Returns
    -------
    tuple of BusResult
        Empty where fewer than two receiver packs have current and resistance.
    """
    roles = tuple(r for r in circuits if r.startswith("rx"))
    if len(roles) < 2:
        return ()
    start = max(max(circuits[r][1].time_s[0], circuits[r][0].time_s[0]) for r in roles)
    stop = min(min(circuits[r][1].time_s[-1], circuits[r][0].time_s[-1]) for r in roles)
    grid = np.arange(start, stop, 0.1)
    if grid.size < 10:
        return ()
    currents = {r: np.interp(grid, *circuits[r][1]) for r in roles}
    total: FloatArray = np.sum(list(currents.values()), axis=0)
    worst = int(total.argmax())
    shares: dict[str, Figure] = {}
    alone: dict[str, Figure] = {}
    at_s: dict[str, float] = {}
    carries: dict[str, bool | None] = {}
    for role in roles:
        part = 100.0 * float(currents[role].sum() / max(float(total.sum()), 1e-9))
        shares[role] = Figure(
            f"Share of the load, {role}", part, "%", Method.INTEGRATED, how="its charge over all charge given"
        )
        alone[role], at_s[role] = _alone(role, circuits[role][0], grid, total - currents[role])
        carries[role] = _carries(alone[role], brown_out_v)
    parts = np.stack([currents[r] for r in roles]) / np.maximum(total, 1e-9)
    loaded = total > np.median(total)
    thirds = np.array_split(np.flatnonzero(loaded), 3)
    drift = 100.0 * float(parts[0, thirds[-1]].mean() - parts[0, thirds[0]].mean()) if thirds[0].size else 0.0
    divergence = Figure(
        f"Shift of the load towards {roles[0]} over the flight", drift, "%", Method.INTEGRATED,
        how="its share in the last third less the first",
    )  # fmt: skip
    how = f"sum of both packs at {grid[worst]:.0f} s"
    load = Figure("Worst load on the bus", float(total[worst]), "A", Method.MEASURED, how=how)
    paths = {r: _path(r, (voltages or {}).get(r), circuits[r][1], bus) for r in roles}
    return (
        BusResult(
            "receivers", roles, shares, divergence, load, alone, carries,
            _sentence(roles, alone, at_s, brown_out_v), at_s,
            {r: p[0] for r, p in paths.items()}, {r: p[1] for r, p in paths.items()},
        ),
    )  # fmt: skip


def _carries(alone: Figure, level: float | None) -> bool | None:
    """Whether the whole interval lies above the level, or below it; else nobody knows."""
    if level is None or alone.low is None or alone.high is None or alone.low <= level < alone.high:
        return None
    return alone.low > level


def _alone(role: str, circuit: Circuit, grid: FloatArray, others_a: FloatArray) -> tuple[Figure, float]:
    """Lowest voltage over the flight had the others' load come onto this pack, and when."""
    # The fitted voltage, not the sample: the lowest of many noisy samples is lower than the truth.
    given = np.interp(grid, circuit.time_s, circuit.fitted_v) - np.maximum(others_a, 0.0) * circuit.one_second_ohm
    at = int(given.argmin())
    half = Z95 * float(np.hypot(others_a[at] * circuit.one_second_se, circuit.scatter_v))
    value = float(given[at])
    how = (
        f"its voltage less its resistance times the {others_a[at]:.1f} A the other carried, lowest of the flight, "
        f"at {grid[at]:.0f} s"
    )
    label = f"Lowest voltage of {role} had the other failed"
    figure = Figure(label, value, "V", Method.ESTIMATED, value - half, value + half, how=how, digits=2)
    return figure, float(grid[at])


def _path(role: str, pack: Series | None, current: Series, bus: Series | None) -> tuple[Figure, Figure]:
    """What lies between a pack and the shared bus: pack less bus voltage as a straight line over the pack's current."""
    drop_label = f"Diode or regulator drop, {role}"
    ohm_label = f"Lead and connector resistance to the bus, {role}"

    def cannot(why: str) -> tuple[Figure, Figure]:
        return Figure.unavailable(drop_label, "V", why), Figure.unavailable(ohm_label, "mΩ", why)

    if pack is None or bus is None or pack.time_s.size < 30 or bus.time_s.size < 30:
        return cannot("needs the voltage of the shared bus beside the pack's own")
    t = pack.time_s
    t = t[(t >= max(bus.time_s[0], current.time_s[0])) & (t <= min(bus.time_s[-1], current.time_s[-1]))]
    v, u, i = (np.interp(t, *s) for s in (pack, bus, current))
    feeding = i > 0.2
    if feeding.sum() < 30 or np.ptp(np.quantile(i[feeding], [0.02, 0.98])) < 0.5:
        return cannot("the pack's current hardly varies while it feeds the bus")
    v, u, i = v[feeding], u[feeding], i[feeding]
    if np.std(u) < LEAST_BUS_SHARE * np.std(v):
        gap = float(np.median(v - u))
        how = "median of pack less bus voltage; the bus is held by a regulator"
        why = "a regulator holds the bus; its drop is no resistance"
        return Figure(drop_label, gap, "V", Method.MEASURED, how=how, digits=2), Figure.unavailable(
            ohm_label, "mΩ", why
        )
    a = np.column_stack([np.ones_like(i), i])
    p = linalg.lstsq(a, v - u)[0]
    left = v - u - a @ p
    r = float(np.clip(np.dot(left[1:], left[:-1]) / max(float(np.dot(left, left)), 1e-12), 0.0, 0.98))
    covariance = linalg.pinvh(a.T @ a) * float(np.mean(left**2)) * (1 + r) / (1 - r)
    half = Z95 * np.sqrt(np.diag(covariance))
    how = f"straight line of pack less bus voltage over current, {i.size} samples"
    return (
        Figure(drop_label, float(p[0]), "V", Method.ESTIMATED, float(p[0] - half[0]), float(p[0] + half[0]),
               how=f"{how}: its value at no current", digits=2),
        Figure(ohm_label, 1000 * float(p[1]), "mΩ", Method.ESTIMATED, 1000 * float(p[1] - half[1]),
               1000 * float(p[1] + half[1]), how=f"{how}: its slope"),
    )  # fmt: skip


def _sentence(roles: tuple[str, ...], alone: dict[str, Figure], at_s: dict[str, float], level: float | None) -> str:
    had = "Had the other pack failed at the worst moment"
    each = ", ".join(f"{r} {alone[r].value:.2f} V at {at_s[r]:.0f} s" for r in roles)
    if level is None:
        return f"{had}, the packs alone would have given: {each}. No brown-out level is stated to judge that by."
    said = []
    bad = [r for r in roles if _carries(alone[r], level) is False]
    unsure = [r for r in roles if _carries(alone[r], level) is None]
    if bad:
        which = " and ".join(f"{r} ({alone[r].value:.2f} V at {at_s[r]:.0f} s)" for r in bad)
        said.append(f"{which} alone would have fallen below the {level:.2f} V brown-out level: no redundancy there")
    if unsure:
        which = " and ".join(f"{r} ({alone[r].value:.2f} V)" for r in unsure)
        said.append(f"{which} alone would have come within the uncertainty of the {level:.2f} V brown-out level")
    if said:
        return f"{had}, {'; '.join(said)}."
    return f"{had}, either alone would have stayed above the {level:.2f} V brown-out level ({each})."
