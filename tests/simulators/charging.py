"""Simulator C: packs charged and flown over a season by an owner with habits; nothing flies but the current.

Packs move between two aircraft whose current sensors read off, drift or are exchanged. A charger reads off by the same
share every time; cells return less than was put in; packs lose charge between days; the model draws current before and
after the log. The owner notes most charges: to full, after one flight or two, now and then only to storage.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
from msgspec import Struct, field
from msgspec.structs import replace

from tests.simulators.cells import CHEMISTRY, Cells, discharge, one_second_ohm, weighted_ohm
from tests.simulators.flight import Aircraft, FlightContext, FloatArray, Pack, PackNote, Telemetry, tabulate
from tests.simulators.flight import uneven_rows as uneven
from tests.simulators.noise import heavy, pink

DT = 0.1
AIRCRAFT = ("Alder", "Birch")
ROLES = ("rx1", "ecu1")


class Habits(Struct, frozen=True):
    """How a season goes.

    ``noted`` is the share of charges that are written down, ``twice`` of flights flown without charging in between,
    ``storage`` of charges to storage only. ``sensor_sd`` is how far off sensors read, ``drift`` what they gain a
    flight, ``exchanged`` whether each aircraft's first sensor is another from the middle of the season on.
    """

    flights: int = 16
    noted: float = 0.8
    twice: float = 0.0
    storage: float = 0.0
    sensor_sd: float = 0.05
    drift: float = 0.0
    exchanged: bool = False
    worn: float = 0.0


class Flown(Struct, frozen=True, eq=False):
    """One flight: log, notes and what really happened by place (``rx1.used_mah`` …)."""

    telemetry: Telemetry
    context: FlightContext
    start: datetime
    aircraft: str
    truth: dict[str, float] = field(default_factory=dict)


def _load(n: int, rng: np.random.Generator) -> FloatArray:
    """Switching loads over a standing one, in the air from a sixth of the flight on."""
    t = np.arange(n) * DT
    count = rng.poisson(n * DT * 0.4)
    at, size = rng.uniform(40.0, t[-1] - 45.0, count), rng.gamma(2.0, rng.uniform(1.5, 3.0), count)
    change = np.zeros(n + 1)
    np.add.at(change, np.searchsorted(t, at), size)
    np.add.at(change, np.minimum(np.searchsorted(t, at + rng.exponential(1.5, count) + 0.3), n), -size)
    standing = np.where((t > 35.0) & (t < t[-1] - 40.0), rng.uniform(1.5, 3.0), rng.uniform(0.2, 0.6))
    return np.maximum(standing + np.cumsum(change[:-1]) + 0.2 * np.abs(pink(n, 1.0, rng)), 0.05)


def _cells(rng: np.random.Generator) -> tuple[Cells, Pack]:
    make = str(rng.choice(["polymer", "pouch", "cylinder_a", "cylinder_b"]))
    rated = float(rng.choice([1_300.0, 1_800.0, 2_600.0]))
    ohm = float(rng.uniform(0.012, 0.03))
    pairs = ((float(rng.uniform(0.2, 0.4)), float(rng.uniform(1.5, 4.0))), (float(rng.uniform(0.2, 0.4)), 25.0))
    held = rated * float(rng.uniform(0.85, 1.0))
    cells = Cells(make, (held, held * float(rng.uniform(1.0, 1.03))), (ohm, ohm), pairs, 22_000.0)
    return cells, Pack("", CHEMISTRY[make], 2, rated)  # type: ignore[arg-type]


def fly_season(habits: Habits, rng: np.random.Generator) -> list[Flown]:
    """Fly a season of both aircraft, one after the other as the days come."""
    pool = {f"P{k}": _cells(rng) for k in range(4)}
    pool = {name: (cells, replace(pack, name=name)) for name, (cells, pack) in pool.items()}
    made = float(rng.normal(1.0, 0.6 * habits.sensor_sd))
    gain = {(a, r): made * float(rng.normal(1.0, 0.8 * habits.sensor_sd)) for a in AIRCRAFT for r in ROLES}
    other = {a: float(rng.normal(1.0, habits.sensor_sd)) for a in AIRCRAFT}
    charger = float(rng.normal(1.0, 0.0175))
    excess = {name: float(rng.normal(0.01, 0.005)) for name in pool}
    held = dict.fromkeys(pool, 1.0)
    owed = dict.fromkeys(pool, 0.0)
    day = datetime(2033, 4, 2, 9, 0, tzinfo=UTC)
    out = []
    for k in range(habits.flights):  # a loop over flights
        aircraft = AIRCRAFT[k % 2] if rng.random() < 0.8 else str(rng.choice(AIRCRAFT))
        names = (
            [str(x) for x in rng.permutation(list(pool))[:2]] if k % 5 == 4 else [f"P{k % 2 * 2}", f"P{k % 2 * 2 + 1}"]
        )
        begin = day + timedelta(days=5 * (k // 3), hours=k % 3)
        n = int(rng.uniform(260.0, 420.0) / DT)
        t = np.arange(n) * DT
        rows = uneven(float(t[-1]), float(rng.choice([2.0, 5.0])), rng)
        columns = {}
        height = np.interp(t, [0.0, 38.0, 45.0, t[-1] - 50.0, t[-1] - 42.0, t[-1]], [0.0, 0.0, 40.0, 40.0, 0.0, 0.0])
        every = np.arange(rows.size)
        columns["position.height_m"] = every, np.interp(rows, t, height) + rng.normal(0, 0.2, rows.size)
        columns["position.ground_speed_m_s"] = every, np.interp(rows, t, np.where(height > 0.5, 38.0, 0.0))
        truth: dict[str, float] = {}
        packs, notes = {}, {}
        celsius = float(rng.uniform(12.0, 30.0))
        for role, name in zip(ROLES, names, strict=True):
            cells, pack = pool[name]
            worn = 1.0 - habits.worn * k / habits.flights
            cells = replace(cells, capacity_mah=tuple(c * worn for c in cells.capacity_mah))
            load = _load(n, rng)
            flown = discharge(cells, load, DT, np.full(n, celsius), held[name])
            if flown.given_mah[-1] > 0.92 * held[name] * cells.usable_mah:
                load = load * 0.5
                flown = discharge(cells, load, DT, np.full(n, celsius), held[name])
            mine = gain[aircraft, role] * (1.0 + habits.drift * (k - habits.flights / 2))
            if habits.exchanged and role == ROLES[0] and k >= habits.flights // 2:
                mine = other[aircraft]
            zero, period = float(rng.normal(0.0, 0.01)), every[:: 2 if rows.size > 1_500 else 1]
            volts = np.interp(rows, t, flown.volts) + heavy(rows.size, 0.006, rng)
            amps = np.interp(rows, t, load * mine) + zero + heavy(rows.size, 0.04, rng)
            columns[f"pack.{role}.voltage_v"] = period, np.round(volts[period], 2)
            columns[f"pack.{role}.current_a"] = period, np.round(amps[period] / 0.05) * 0.05
            used, share = float(flown.given_mah[-1]), held[name]
            outside = float(rng.exponential(18.0) * load[0] + rng.exponential(18.0) * load[-1]) / 3.6
            lost = cells.usable_mah * float(rng.gamma(2.0, 0.001))
            held[name] = share - (used + outside) / cells.usable_mah
            owed[name] += used + outside + lost
            truth |= {
                f"{role}.used_mah": used,
                f"{role}.capacity_mah": cells.usable_mah,
                f"{role}.factor": 1.0 / mine,
                f"{role}.as_read_mohm": 1000.0 * weighted_ohm(one_second_ohm(cells, flown), load),
                f"{role}.after_percent": 100.0 * (share - used / cells.usable_mah),
            }
            packs[role] = pack
            again = habits.twice > 0.0 and share > 0.95 and held[name] > 0.65 and rng.random() < habits.twice
            if again:
                continue
            put = owed[name] * (1.0 + excess[name]) * charger * float(rng.normal(1.0, 0.01))
            written = rng.random() < habits.noted
            if rng.random() < habits.storage and held[name] < 0.5:
                put = (0.5 - held[name]) * cells.usable_mah * charger
            if written:
                notes[role] = PackNote(charged_mah=put)
            held[name], owed[name] = float(rng.uniform(0.99, 1.0)), 0.0
        context = FlightContext(
            flight_id=f"charging-{k:03d}", aircraft=Aircraft(aircraft), packs=packs, pack_notes=notes,
            air_temperature_c=celsius - 4.0,
        )  # fmt: skip
        out.append(Flown(tabulate(rows, columns), context, begin, aircraft, truth))
    return out
