"""The laws that tie the columns of a log to each other, in one table: what bears headings out, what contradicts them.

Each is given the values of its columns, in canonical units and in the same rows, and says how well they follow it.
Laws of physics without a free constant speak of size (a total and its rate, place and speed, height and climb rate,
height and pressure, cells and their pack); the others of the course alone (a shaft and what drives it).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial

from msgspec import Struct

from importers.relations import motion, supply
from importers.relations.courses import Course, follows
from importers.relations.opinion import FloatArray, Opinions

Judge = Callable[[Sequence[FloatArray], "FloatArray | None"], Opinions]


class Law(Struct, frozen=True):
    """A law between channels: ``*`` in a role stands for one name of a part, ``cell<n>`` for all cells of a pack.

    ``weight`` tells how much it is worth beside the others when headings may have changed places. ``whatever_unit``
    are roles that speak even where they cannot be what their heading says; ``asks`` says that a unit which the values
    alone chose must be borne out by it; ``timed`` that it holds by one length of the time between rows alone.
    ``course`` names what of its two columns must rise and fall together: no fit is better than their correlation.
    """

    roles: tuple[str, ...]
    hear: Judge
    weight: float = 1.0
    whatever_unit: tuple[int, ...] = ()
    asks: bool = False
    timed: bool = False
    course: Course | None = None


_STEPS, _VALUES = Course.STEPS, Course.VALUES
_HEIGHT = ("position.altitude_m", "position.height_m", "motion.pressure_altitude_m")
_SPEED = ("position.ground_speed_m_s", "motion.airspeed_m_s")
_PLACE = ("position.latitude_deg", "position.longitude_deg")
_DIRECTION = ("position.track_deg", "attitude.heading_deg")
_SHAFT = "engine.*.speed_rpm"
_NORTH, _EAST = 1.25, 2.5
"""No way north and south is so many times that which the speed makes, nor one east and west as it would be at the
equator, where an aircraft flies within 60 degrees of it: common practice, no source."""

LAWS: tuple[Law, ...] = (
    Law(("pack.*.voltage_v", "pack.*.current_a"), supply.sag, 0.7, asks=True, course=_STEPS),
    Law(("bus.*.voltage_v", "bus.*.current_a"), supply.sag, 0.7, asks=True, course=_STEPS),
    Law(("pack.*.used_mah", "pack.*.current_a"), partial(supply.grows, factor=1000.0 / 3600.0), timed=True),
    Law(("pack.*.voltage_v", "pack.*.cell<n>_v"), supply.cells),
    Law(("fuel.*.used_ml", "fuel.*.flow_ml_per_min"), partial(supply.grows, factor=1.0 / 60.0), timed=True),
    Law(("fuel.*.remaining_ml", "fuel.*.flow_ml_per_min"), partial(supply.grows, factor=-1.0 / 60.0), timed=True),
    Law(("fuel.*.used_ml", "fuel.*.remaining_ml"), supply.one_total),
    Law(("fuel.*.flow_ml_per_min", _SHAFT), follows, 0.7, asks=True, course=_VALUES),
    Law(("fuel.*.flow_ml_per_min", _SHAFT), supply.sips),
    Law((_SHAFT, "engine.*.egt_c"), supply.cold),
    Law((_SHAFT, "engine.*.egt_c"), supply.burns),
    Law((_SHAFT, "engine.*.egt_c"), partial(follows, against=False), 0.7, asks=True, course=_VALUES),
    *(Law((f"engine.*.{pump}", _SHAFT), supply.pumps, 0.7, asks=True, course=_VALUES)
      for pump in ("pump_v", "pump_percent")),
    Law((_SHAFT, "engine.*.throttle_percent"), follows, 0.7, asks=True, course=_VALUES),
    Law(("control.throttle_percent", _SHAFT), partial(follows, against=False), 0.7, course=_VALUES),
    Law((*_PLACE, "position.ground_speed_m_s"), motion.way, timed=True),
    Law(_SPEED, motion.speeds, 0.7, asks=True, course=_VALUES),
    *(Law((*_PLACE, direction), motion.course) for direction in _DIRECTION),
    *(Law((direction,), motion.goes_round) for direction in _DIRECTION),
    Law((_PLACE[0], "position.ground_speed_m_s"), partial(motion.not_longer, times=_NORTH)),
    Law((_PLACE[1], "position.ground_speed_m_s"), partial(motion.not_longer, times=_EAST)),
    *(Law((height, "motion.vario_m_s"), motion.climb, timed=True) for height in _HEIGHT),
    *(Law((height, "air.pressure_pa"), motion.barometer, whatever_unit=(1,)) for height in _HEIGHT),
    Law((_HEIGHT[0], _HEIGHT[1]), motion.heights, asks=True, course=_VALUES),
    *(Law((other, _HEIGHT[2]), motion.heights, course=_VALUES) for other in _HEIGHT[:2]),
    *(Law((height, speed), motion.leaves_the_ground) for height in _HEIGHT for speed in _SPEED),
    *(Law(("attitude.roll_deg", speed, track), motion.banks, 0.7) for speed in _SPEED for track in _DIRECTION),
    Law(("attitude.pitch_deg", "motion.vario_m_s"), motion.noses_up, 0.7, course=_VALUES),
)  # fmt: skip
"""Every law that headings are held against."""
