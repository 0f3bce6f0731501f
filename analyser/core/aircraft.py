"""What the owner says of an aircraft and its parts: frozen, validated, everything but names optional.

Body axes: x forward, y right, z down (ISO 1151-1). Positions are metres from a datum the owner chooses.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import date
from typing import Literal

from msgspec import Struct, field

from analyser.core.burn_curve import LearnedCurve
from analyser.core.figures import Figure

Chemistry = Literal["lipo", "li_ion", "lifepo4", "nimh"]
AntennaKind = Literal["dipole", "monopole"]
PackUse = Literal["receiver", "engine", "ignition", "other"]


def _positive(owner: str, **values: float | None) -> None:
    for name, value in values.items():
        if value is not None and not (math.isfinite(value) and value > 0):
            raise ValueError(f"{owner}: {name} must be a positive number, got {value!r}")


def _not_negative(owner: str, **values: float | None) -> None:
    for name, value in values.items():
        if value is not None and not (math.isfinite(value) and value >= 0):
            raise ValueError(f"{owner}: {name} must be zero or more, got {value!r}")


class Reserve(Struct, frozen=True):
    """The owner's reserve rule: exactly one of the three, per tank or for the aircraft."""

    percent: float | None = None
    ml: float | None = None
    minutes: float | None = None

    def __post_init__(self) -> None:
        given = [n for n in ("percent", "ml", "minutes") if getattr(self, n) is not None]
        if len(given) != 1:
            raise ValueError(f"reserve: give exactly one of percent, ml, minutes; got {given or 'none'}")
        _not_negative("reserve", percent=self.percent, ml=self.ml, minutes=self.minutes)


class Tank(Struct, frozen=True):
    """One tank system feeding one engine. Volumes in mL; ``x_m`` is its centroid, forward positive.

    ``usual_fill_ml`` is what the owner usually fills where that is less than the tank holds; ``sensor_scale_percent``
    how far off the scale of its fuel sensor may be before any volume put in has checked it (95 %; 10 % until stated:
    common practice, no source).
    """

    name: str
    capacity_ml: float | None = None
    unusable_ml: float = 0.0
    engine: str = ""
    reserve: Reserve | None = None
    x_m: float | None = None
    usual_fill_ml: float | None = None
    sensor_scale_percent: float | None = None

    def __post_init__(self) -> None:
        _positive(f"tank {self.name!r}", capacity_ml=self.capacity_ml, usual_fill_ml=self.usual_fill_ml)
        _not_negative(f"tank {self.name!r}", unusable_ml=self.unusable_ml)
        _positive(f"tank {self.name!r}", sensor_scale_percent=self.sensor_scale_percent)
        if self.capacity_ml is not None and self.unusable_ml >= self.capacity_ml:
            raise ValueError(f"tank {self.name!r}: unusable_ml {self.unusable_ml} is not below capacity_ml")
        if self.usual_fill_ml is not None and self.capacity_ml is not None and self.usual_fill_ml > self.capacity_ml:
            raise ValueError(f"tank {self.name!r}: usual_fill_ml {self.usual_fill_ml} is more than capacity_ml")


class Engine(Struct, frozen=True):
    """One turbine. Limits come from its maker's manual; nothing is assumed where they are absent.

    ``pump_ml_per_min_at_full`` is the delivery at 100 % pump drive; ``service_interval_h`` the owner's or maker's
    interval, ``hours_before_log`` and ``starts_before_log`` what it had run when logging began or was last serviced.
    ``burn_floor_ml_per_min`` and ``burn_cubic_ml_per_min`` are a burn curve of the owner's own
    (floor + cubic · (speed / max_rpm)³), ``burn_spread_percent`` its spread over flights (5 % until
    stated: an assumption, no source); with ``max_rpm`` they give the burn of a flight that logged shaft speed alone,
    in place of the curve that the aircraft's other flights teach. ``type`` is the owner's word for its kind: engines of
    one type are compared with each other.
    """

    name: str
    tank: str = ""
    pack_role: str = ""
    idle_rpm: float | None = None
    max_rpm: float | None = None
    max_egt_c: float | None = None
    max_start_egt_c: float | None = None
    pump_ml_per_min_at_full: float | None = None
    service_interval_h: float | None = None
    hours_before_log: float = 0.0
    starts_before_log: int | None = None
    last_service: date | None = None
    burn_floor_ml_per_min: float | None = None
    burn_cubic_ml_per_min: float | None = None
    burn_spread_percent: float = 5.0
    type: str = ""

    def __post_init__(self) -> None:
        _positive(
            f"engine {self.name!r}",
            idle_rpm=self.idle_rpm,
            max_rpm=self.max_rpm,
            max_egt_c=self.max_egt_c,
            max_start_egt_c=self.max_start_egt_c,
            pump_ml_per_min_at_full=self.pump_ml_per_min_at_full,
            service_interval_h=self.service_interval_h,
        )
        _not_negative(
            f"engine {self.name!r}",
            hours_before_log=self.hours_before_log,
            burn_floor_ml_per_min=self.burn_floor_ml_per_min,
            burn_cubic_ml_per_min=self.burn_cubic_ml_per_min,
            burn_spread_percent=self.burn_spread_percent,
        )


class Fuel(Struct, frozen=True):
    """What is in the tanks: density at 15 °C (Jet A/A-1: 775–840 kg/m³, ASTM D1655) and oil share by volume."""

    density_15c_kg_m3: float = 800.0
    oil_percent: float = 0.0
    oil_density_kg_m3: float = 900.0
    density_is_assumed: bool = True


class RetirementRule(Struct, frozen=True):
    """When the owner retires a pack. Defaults: common practice, no source."""

    capacity_percent: float = 80.0
    resistance_ratio: float = 2.0
    cell_spread_v: float = 0.10


class Pack(Struct, frozen=True):
    """One battery pack. ``role`` is where it usually sits (``rx1``, ``ecu_left``); rated values are the label's.

    ``use`` is what it feeds: ``receiver``, ``engine``, ``ignition`` or ``other``; ``None`` until the owner declares it.
    ``type`` is the owner's word for its kind: packs of one type are compared with each other.
    """

    name: str
    chemistry: Chemistry = "lipo"
    cells: int = 2
    rated_mah: float | None = None
    role: str = ""
    in_service_since: date | None = None
    cycles_before_log: int = 0
    new_resistance_mohm: float | None = None
    brown_out_v: float | None = None
    reserve_percent: float = 30.0
    retire: RetirementRule = field(default_factory=RetirementRule)
    use: PackUse | None = None
    type: str = ""

    def __post_init__(self) -> None:
        if self.cells < 1:
            raise ValueError(f"pack {self.name!r}: cells must be 1 or more, got {self.cells}")
        _positive(
            f"pack {self.name!r}",
            rated_mah=self.rated_mah,
            new_resistance_mohm=self.new_resistance_mohm,
            brown_out_v=self.brown_out_v,
        )


class Receiver(Struct, frozen=True):
    """One receiver as the log names it; ``sensitivity_dbm`` and ``frame_rate_hz`` from its maker's data sheet."""

    name: str
    sensitivity_dbm: float | None = None
    frame_rate_hz: float | None = None

    def __post_init__(self) -> None:
        _positive(f"receiver {self.name!r}", frame_rate_hz=self.frame_rate_hz)


class Antenna(Struct, frozen=True):
    """One antenna: which receiver and antenna number, where on the airframe, which way its axis points.

    ``axis`` need not be a unit vector; ``position_m`` is (x forward, y right, z down).
    """

    receiver: str
    number: int
    position_m: tuple[float, float, float]
    axis: tuple[float, float, float]
    kind: AntennaKind = "dipole"
    name: str = ""

    def __post_init__(self) -> None:
        if not math.hypot(*self.axis) > 0:
            raise ValueError(f"antenna {self.receiver}/{self.number}: axis must not be the zero vector")


class Shadow(Struct, frozen=True):
    """Something in the way of one antenna (or all): seen from it, a cone of body directions loses ``loss_db``.

    Azimuth 0° nose, 90° right wing; elevation positive up; ``half_width_deg`` is the cone's half angle.
    """

    what: str
    azimuth_deg: float
    elevation_deg: float
    half_width_deg: float
    loss_db: float
    receiver: str = ""
    number: int | None = None

    def __post_init__(self) -> None:
        _positive(f"shadow {self.what!r}", half_width_deg=self.half_width_deg, loss_db=self.loss_db)


class AntennaLayout(Struct, frozen=True):
    """A dated set of antennas on one aircraft; ``type`` is the owner's word for sets that are built alike."""

    name: str
    antennas: tuple[Antenna, ...]
    since: date | None = None
    shadows: tuple[Shadow, ...] = ()
    note: str = ""
    type: str = ""


class Aircraft(Struct, frozen=True):
    """One aircraft with everything the owner told us about it.

    ``current_scale_percent`` is how far off the scale of its current sensors may be before any charge put back has
    checked them (95 %; 10 % until stated: common practice, no source).
    """

    name: str
    mass_kg: float | None = None
    engines: tuple[Engine, ...] = ()
    tanks: tuple[Tank, ...] = ()
    receivers: tuple[Receiver, ...] = ()
    layouts: tuple[AntennaLayout, ...] = ()
    reserve: Reserve | None = None
    fuel: Fuel = field(default_factory=Fuel)
    radio_mhz: float | None = None
    brown_out_v: float | None = None
    note: str = ""
    current_scale_percent: float | None = None

    def __post_init__(self) -> None:
        _positive(f"aircraft {self.name!r}", current_scale_percent=self.current_scale_percent)
        for kind in ("engines", "tanks", "receivers", "layouts"):
            names = [item.name for item in getattr(self, kind)]
            twice = {n for n in names if names.count(n) > 1}
            if twice:
                raise ValueError(f"aircraft {self.name!r}: {kind} named twice: {', '.join(sorted(twice))}")

    def tank(self, name: str) -> Tank | None:
        """The tank of that name, if the owner described it."""
        return next((t for t in self.tanks if t.name == name), None)

    def engine(self, name: str) -> Engine | None:
        """The engine of that name, if the owner described it."""
        return next((e for e in self.engines if e.name == name), None)

    def receiver(self, name: str) -> Receiver | None:
        """The receiver of that name, if the owner described it."""
        return next((r for r in self.receivers if r.name == name), None)


class FuelNote(Struct, frozen=True):
    """What the owner noted for one tank: volume on board before start and volume put in afterwards to refill, mL."""

    before_ml: float | None = None
    put_in_ml: float | None = None


class PackNote(Struct, frozen=True):
    """What the owner noted for one pack after a flight.

    Charge put back, resistance reading and temperature, and the capacity a charger's full discharge and charge gave.
    """

    charged_mah: float | None = None
    resistance_mohm: float | None = None
    cell_resistance_mohm: tuple[float, ...] = ()
    temperature_c: float | None = None
    capacity_mah: float | None = None


class FlightContext(Struct, frozen=True):
    """What the log cannot know about one flight. Everything is optional; each gap costs only what needs it.

    Parameters
    ----------
    flight_id : str
        The logbook's name for the flight.
    aircraft : Aircraft or None
        As registered.
    packs : mapping of str to Pack
        Role in the log (``rx1``) → the pack that was fitted.
    layout : AntennaLayout or None
        In use on that day.
    fuel_notes : mapping of str to FuelNote
        Tank → volumes.
    pack_notes : mapping of str to PackNote
        Role → readings after the flight.
    pilot_latitude_deg, pilot_longitude_deg, pilot_altitude_m : float or None
        Where the pilot stood, WGS-84; altitude in the log's own datum.
    learned_burn : mapping of str to LearnedCurve
        Tank → the burn curve that the aircraft's other flights taught, for a log that holds shaft speed but no fuel.
    sensor_scales : mapping of str to Figure
        Tank → true volume over what its fuel sensor says, ×, as calibrated on the bench by that day.
    pump_scales : mapping of str to Figure
        The same for a burn told by pump drive and the delivery of the aircraft's file.
    """

    flight_id: str = ""
    aircraft: Aircraft | None = None
    packs: Mapping[str, Pack] = field(default_factory=dict)
    layout: AntennaLayout | None = None
    fuel_notes: Mapping[str, FuelNote] = field(default_factory=dict)
    pack_notes: Mapping[str, PackNote] = field(default_factory=dict)
    air_temperature_c: float | None = None
    pilot_latitude_deg: float | None = None
    pilot_longitude_deg: float | None = None
    pilot_altitude_m: float | None = None
    remarks: str = ""
    learned_burn: Mapping[str, LearnedCurve] = field(default_factory=dict)
    sensor_scales: Mapping[str, Figure] = field(default_factory=dict)
    pump_scales: Mapping[str, Figure] = field(default_factory=dict)
