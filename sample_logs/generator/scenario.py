"""The invented scenario: two aircraft, their parts and nineteen flights, with the three things that are wrong.

Nothing here is real: field, aircraft, packs, people and flights are invented. The field lies in the open sea.
"""

from __future__ import annotations

from datetime import UTC, datetime

from msgspec import Struct

from sample_logs.generator.electric import CellState, PackState
from sample_logs.generator.path import Clock, Flyer
from sample_logs.generator.radio import Aerial, Link, ShadowCone
from sample_logs.generator.session import Interference, Loads, Plan
from sample_logs.generator.turbine import EngineState

FIELD = "Fenholt model flying field (invented)"
LATITUDE_DEG, LONGITUDE_DEG, GROUND_M = 56.4000, 3.2000, 18.0

BURN_CHANGE_FLIGHT = 5
BURN_CHANGE = 1.09
MOVED_AFTER_FLIGHT, MOVED_ON = 8, "2026-07-01"
HOT_START_FLIGHT = 6
CUT_COOL_DOWN_FLIGHT, CUT_COOL_DOWN_S = 11, 14.0
NULL_DEG = (180.0, -15.0)
"""Body azimuth and elevation of the fin antenna's null in layout A: along its axis, and shadowed."""
CAPACITY_ML = {"left": 3600.0, "right": 3600.0, "main": 3000.0}
SENSOR_SCALE = {"left": 0.97, "right": 1.03, "main": 0.99}
BROWN_OUT_V = 6.1
# R1 sits in the nose, behind a long lead and its diode; the other receiver packs beside their receiver.
R1_LEAD_OHM, R2_LEAD_OHM = 0.060, 0.010


class Sortie(Struct, frozen=True):
    """One flight: its plan, and how it was logged."""

    aircraft: str
    number: int
    start: datetime
    plan: Plan
    layout: str
    packs: dict[str, str]
    file: str
    part: int
    dialect: str
    attitude: bool = True
    signal: str = "dbm"
    remarks: str = ""


TERN_FLYER = Flyer(52.0, 30.0, 24.0, 88.0, 72.0, 420.0)
PLOVER_FLYER = Flyer(40.0, 22.0, 17.0, 70.0, 60.0, 330.0)

TERN_LINK = Link(installation_db=10.0)
TAILPIPES = ShadowCone("tail pipes and carbon tube", 180.0, -12.0, 30.0, 13.0)
TERN_FIXED = (
    Aerial("rx1", 1, "nose", (1.10, 0.0, -0.05), (0.0, 1.0, 0.0)),
    Aerial("rx1", 2, "left wing root", (0.10, -0.35, 0.0), (0.5, 0.2, 0.84)),
    Aerial("rx2", 1, "belly", (-0.30, 0.10, 0.12), (0.3, 0.95, 0.0)),
)
FIN_BEFORE = Aerial("rx2", 2, "fin", (-1.35, 0.0, -0.30), (0.966, 0.0, -0.259), (TAILPIPES,))
FIN_AFTER = Aerial("rx2", 2, "fin", (-1.30, 0.0, -0.55), (0.0, 0.1, 1.0))
TERN_LAYOUTS = {"A": (*TERN_FIXED, FIN_BEFORE), "B": (*TERN_FIXED, FIN_AFTER)}
PLOVER_LAYOUTS = {
    "P": (
        Aerial("rx1", 1, "left side", (0.2, -0.12, 0.0), (0.0, 0.0, 1.0)),
        Aerial("rx1", 2, "tail boom", (-0.7, 0.0, 0.0), (0.0, 1.0, 0.0)),
    )
}


def _cell(ohm: float, capacity: float, soc: float = 1.0) -> CellState:
    return CellState(ohm, 0.55 * ohm, capacity, soc)


def receiver_pack(name: str, flight: int) -> PackState:
    """A receiver pack on the day of the n-th flight of its aircraft: R1 and P1 age as packs do, R2 fails."""
    if name == "R2":
        age = (flight - 1) / 13.0
        grown = 1.0 + 1.15 * age**1.3
        kept = 1.0 - 0.27 * age
        weak = 1.0 + 0.7 * age
        cells = (
            _cell(0.0216 * grown, 2600.0 * kept, 0.985),
            _cell(0.0221 * grown * weak, 2600.0 * kept * (1 - 0.06 * age), 0.985 - 0.05 * age),
        )
        return PackState(name, "li_ion", cells, R2_LEAD_OHM)
    slow = 1.0 + 0.004 * (flight - 1)
    kept = 1.0 - 0.003 * (flight - 1)
    cells = (_cell(0.0238 * slow, 2620.0 * kept, 0.99), _cell(0.0243 * slow, 2600.0 * kept, 0.987))
    return PackState(name, "li_ion", cells, R1_LEAD_OHM if name == "R1" else R2_LEAD_OHM)


def engine_pack(name: str, flight: int) -> PackState:
    """A three-cell engine pack; all of them age slowly."""
    slow = 1.0 + 0.005 * (flight - 1)
    kept = 1.0 - 0.003 * (flight - 1)
    cells = tuple(_cell(0.0065 * slow * f, 2400.0 * kept, 0.985 - 0.002 * k) for k, f in enumerate((1.0, 1.03, 0.98)))
    return PackState(name, "lipo", cells, 0.008, rc_s=15.0)


def _tern_engines(number: int) -> tuple[EngineState, ...]:
    more = BURN_CHANGE if number >= BURN_CHANGE_FLIGHT else 1.0
    hot = 755.0 if number == HOT_START_FLIGHT else 0.0
    left = EngineState("left", 33_000.0, 122_000.0, 68.0, 412.0, more, 604.0 + 3 * (number % 3), 2.0)
    right = EngineState("right", 33_000.0, 122_000.0, 69.0, 409.0, 1.0, hot or 611.0 + 2 * (number % 4), 24.0)
    return left, right


# number, start (UTC), file, part, dialect, airborne s, air °C, attitude, signal, remarks
_TERN = (
    (1, "2026-04-18T10:12:05", "tern-2026-04-18.csv", 1, "plain", 330, 12.0, True, "dbm", "First of the season."),
    (2, "2026-04-18T13:40:30", "tern-2026-04-18b.csv", 1, "german", 345, 14.5, False, "dbm", ""),
    (3, "2026-05-02T23:53:10", "tern-2026-05-02-late.csv", 1, "clock", 315, 11.0, True, "dbm", "Past midnight."),
    (4, "2026-05-10T09:30:00", "tern-2026-05-10.csv", 1, "ticks", 360, 15.5, True, "dbm", ""),
    (5, "2026-05-24T10:05:40", "tern-2026-05-24.csv", 1, "unit_row", 350, 17.0, False, "dbm", "Left pump changed."),
    (6, "2026-06-06T11:20:00", "tern-2026-06-06.csv", 1, "long", 330, 21.0, True, "dbm", "Right engine started hot."),
    (7, "2026-06-20T09:15:00", "tern-2026-06-20-two.csv", 1, "two", 340, 22.0, True, "dbm", ""),
    (8, "2026-06-20T11:05:00", "tern-2026-06-20-two.csv", 2, "two", 335, 24.0, True, "dbm", "Link thin flying away."),
    (9, "2026-07-04T10:00:00", "tern-2026-07-04.csv", 1, "plain", 345, 23.0, True, "dbm", "Fin antenna moved up."),
    (10, "2026-07-18T09:45:00", "tern-2026-07-18.csv", 1, "german", 340, 25.0, True, "dbm", ""),
    (11, "2026-08-01T14:10:00", "tern-2026-08-01.csv", 1, "epoch", 355, 26.0, False, "dbm", "Laptop battery empty."),
    (12, "2026-08-15T10:30:00", "tern-2026-08-15.csv", 1, "ticks", 345, 22.0, True, "dbm", ""),
    (13, "2026-09-05T10:20:00", "tern-2026-09-05.csv", 1, "truncated", 350, 18.0, True, "dbm", ""),
    (14, "2026-09-19T09:50:00", "tern-2026-09-19.csv", 1, "plain", 340, 15.0, True, "dbm", "Lights flickered."),
)  # fmt: skip
_PLOVER = (
    (1, "2026-05-03T09:20:00", "plover-2026-05-03.csv", 1, "plain", 300, 13.0, True, "percent", "First solo."),
    (2, "2026-05-31T10:40:00", "plover-2026-05-31.csv", 1, "german", 310, 18.0, False, "counter", ""),
    (3, "2026-06-28T10:15:00", "plover-2026-06-28.csv", 1, "fast", 240, 22.0, False, "none", "Fast recorder on trial."),
    (4, "2026-07-26T09:30:00", "plover-2026-07-26.csv", 1, "epoch", 320, 24.0, True, "percent", ""),
    (5, "2026-08-30T10:05:00", "plover-2026-08-30.csv", 1, "plain", 310, 19.0, True, "counter", ""),
)  # fmt: skip

_WINDS = ((3.0, 1.0), (-4.0, 2.0), (2.0, -1.0), (5.0, 1.5), (-3.0, -1.5), (1.0, 0.5), (4.0, -2.0))


def tern() -> list[Sortie]:
    """Fly Tern: twin turbine, two receivers, two receiver packs on one bus; everything planted is here."""
    out = []
    for number, start, file, part, dialect, seconds, air, attitude, signal, remarks in _TERN:
        wind = _WINDS[number % len(_WINDS)]
        layout = "A" if number <= MOVED_AFTER_FLIGHT else "B"
        clock = Clock(
            rest_s=12.0, start_and_idle_s=76.0, cool_down_s=CUT_COOL_DOWN_S if number == CUT_COOL_DOWN_FLIGHT else 70.0
        )
        plan = Plan(
            seed=20_260_000 + number,
            flyer=TERN_FLYER,
            clock=clock,
            airborne_s=float(seconds),
            wind_m_s=wind,
            mirrored=wind[0] > 0,
            gentle=not attitude,
            air_c=air,
            engines=_tern_engines(number),
            loads=Loads(3.8, 5.0, 33.0, 14.0, 4.0, gear_s=1.8),
            receiver_packs=(receiver_pack("R1", number), receiver_pack("R2", number)),
            engine_packs=(engine_pack("E1", number), engine_pack("E2", number)),
            aerials=TERN_LAYOUTS[layout],
            link=TERN_LINK,
            interference=Interference("rx2", 1.7, 40.0) if number == MOVED_AFTER_FLIGHT else None,
        )
        packs = {"rx1": "R1", "rx2": "R2", "ecu_left": "E1", "ecu_right": "E2"}
        when = datetime.fromisoformat(start).replace(tzinfo=UTC)
        out.append(
            Sortie("Tern", number, when, plan, layout, packs, f"tern/{file}", part, dialect, attitude, signal, remarks)
        )
    return out


def plover() -> list[Sortie]:
    """Fly Plover: the single-turbine trainer with nothing wrong and poorer logs."""
    out = []
    for number, start, file, part, dialect, seconds, air, attitude, signal, remarks in _PLOVER:
        wind = _WINDS[(number + 3) % len(_WINDS)]
        plan = Plan(
            seed=20_261_000 + number,
            flyer=PLOVER_FLYER,
            clock=Clock(rest_s=12.0, start_and_idle_s=60.0, cool_down_s=70.0),
            airborne_s=float(seconds),
            wind_m_s=wind,
            mirrored=wind[0] > 0,
            gentle=True,
            air_c=air,
            engines=(EngineState("main", 36_000.0, 128_000.0, 60.0, 330.0, 1.0, 590.0 + 4 * number, 2.0),),
            loads=Loads(2.4, 2.6, 9.0, 6.0, 1.5),
            receiver_packs=(receiver_pack("P1", number),),
            engine_packs=(engine_pack("E3", number),),
            aerials=PLOVER_LAYOUTS["P"],
        )
        when = datetime.fromisoformat(start).replace(tzinfo=UTC)
        packs = {"rx1": "P1", "ecu": "E3"}
        out.append(
            Sortie("Plover", number, when, plan, "P", packs, f"plover/{file}", part, dialect, attitude, signal, remarks)
        )
    return out
