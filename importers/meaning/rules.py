"""Which ideas speak of which channel, and what may stand beside them: data, in the order of precedence."""

from __future__ import annotations

from functools import cached_property, lru_cache

from msgspec import Struct

from analyser.core.channels import VOCABULARY, Channel
from importers.meaning.codes import MeaningCode
from importers.meaning.units import conversion

BY_KEY: dict[str, Channel] = {f"{c.subject}.{c.quantity}": c for c in VOCABULARY}


class Rule(Struct, frozen=True, dict=True):
    """``needed``: ideas that must all be there, each with its alternatives; ``barred``: ideas that must not."""

    key: str
    needed: tuple[frozenset[str], ...]
    barred: frozenset[str]

    @cached_property
    def channel(self) -> Channel:
        """The channel it speaks of."""
        return BY_KEY[self.key]

    @cached_property
    def speaks(self) -> frozenset[str]:
        """Every idea it can use."""
        return frozenset[str]().union(*self.needed)


# channel: ideas that must all be there (bars are alternatives); ideas that must not; earlier ones win.
_TABLE: tuple[tuple[str, str, str], ...] = (
    ("link.failsafe", "failsafe", "quality lost"),
    ("engine.pump_v", "pump voltage", ""),
    ("engine.pump_v", "pump", "voltage rpm temperature current pressure flow"),
    ("engine.pump_percent", "pump", "voltage rpm temperature current pressure flow"),
    ("pack.cell<n>_v", "cell", "temperature current charge"),
    ("engine.egt_c", "egt", "pressure voltage"),
    ("engine.egt_c", "engine|ecu temperature", "pack air rx fuel"),
    ("engine.egt_c", "nozzle temperature", "air"),
    ("engine.egt_c", "temperature", "pack air rx fuel ecu engine egt nozzle pump"),
    ("pack.temperature_c", "pack temperature", "air"),
    ("air.temperature_c", "air temperature", "pack engine rx"),
    ("air.temperature_c", "oat", ""),
    ("fuel.flow_ml_per_min", "fuel flow|used", "temperature pressure"),
    ("fuel.flow_ml_per_min", "flow", "air temperature pressure"),
    ("fuel.used_ml", "fuel|tank used", "flow temperature pressure"),
    ("fuel.remaining_ml", "fuel|tank", "flow used pressure temperature pump voltage current charge"),
    ("fuel.remaining_percent", "fuel|tank", "flow used pressure temperature pump voltage current charge"),
    ("pack.used_mah", "charge", "fuel tank remaining"),
    ("pack.used_mah", "pack|rx|ecu used", "fuel tank remaining"),
    ("bus.voltage_v", "bus voltage", ""),
    ("bus.current_a", "bus current", ""),
    ("pack.voltage_v", "voltage", "pump fuel tank bus cell"),
    (
        "pack.voltage_v",
        "pack",
        "cell current charge used temperature rssi remaining quality rpm flow pressure lost frame",
    ),
    ("pack.current_a", "current", "pump fuel tank bus cell"),
    ("engine.speed_rpm", "rpm", "pump"),
    ("engine.speed_rpm", "engine speed", "air ground"),
    ("engine.throttle_percent", "engine|ecu throttle", ""),
    ("link.link_quality_percent", "quality", "gps antenna lost"),
    (
        "link.link_quality_percent",
        "link rx",
        "gps antenna lost rssi quality failsafe downlink down_signal charge voltage",
    ),
    ("link.antenna<n>_lost", "antenna lost", ""),
    ("link.lost_frames", "lost", "antenna"),
    ("downlink.rssi_dbm", "downlink", "lost quality"),
    ("downlink.signal_percent", "downlink", "lost quality"),
    ("downlink.rssi_dbm", "down_signal rssi", "lost quality"),
    ("downlink.signal_percent", "down_signal rssi", "lost quality"),
    ("link.antenna<n>_rssi_dbm", "antenna", "lost quality used"),
    ("link.antenna<n>_signal_percent", "antenna", "lost quality used"),
    ("link.antenna<n>_signal_counts", "antenna", "lost quality used"),
    ("link.rssi_dbm", "rssi", "lost quality antenna gps"),
    ("link.signal_percent", "rssi", "lost quality antenna gps"),
    ("link.signal_counts", "rssi", "lost quality antenna gps"),
    ("position.latitude_deg", "latitude", ""),
    ("position.longitude_deg", "longitude", ""),
    ("position.satellites", "satellites", "rssi quality lost voltage"),
    ("motion.airspeed_m_s", "airspeed", ""),
    ("motion.airspeed_m_s", "air speed", ""),
    ("motion.vario_m_s", "vario", ""),
    ("motion.vario_m_s", "sink", ""),
    ("motion.vario_m_s", "vertical speed", ""),
    ("position.ground_speed_m_s", "ground|gps speed", "air vertical"),
    ("position.ground_speed_m_s", "ground", "altitude height above agl pressure rssi voltage temperature"),
    ("position.ground_speed_m_s", "speed", "air vertical engine fuel pump"),
    ("position.track_deg", "track", "home"),
    ("position.track_deg", "gps heading", ""),
    ("attitude.heading_deg", "heading", "gps"),
    ("attitude.roll_deg", "roll", "accel"),
    ("attitude.pitch_deg", "pitch", "accel"),
    ("motion.accel_x_m_s2", "accel x", ""),
    ("motion.accel_y_m_s2", "accel y", ""),
    ("motion.accel_y_m_s2", "accel y right", ""),
    ("motion.accel_z_m_s2", "accel z", ""),
    ("motion.accel_z_m_s2", "accel vertical", "x y"),
    ("motion.pressure_altitude_m", "pressure altitude|height", "above agl"),
    ("position.height_m", "agl", ""),
    ("position.height_m", "height", "pressure altitude"),
    ("position.height_m", "above pressure altitude|height", ""),
    ("position.height_m", "altitude above|ground|home", "pressure"),
    ("position.altitude_m", "altitude", "pressure above agl ground home"),
    ("air.pressure_pa", "pressure", "fuel pump tank altitude engine brake gear"),
    ("control.throttle_percent", "throttle", "engine ecu"),
    ("control.aileron_percent", "aileron", "voltage current pressure temperature"),
    ("control.elevator_percent", "elevator", "voltage current pressure temperature"),
    ("control.rudder_percent", "rudder", "voltage current pressure temperature"),
    ("control.flap_percent", "flap", "voltage current pressure temperature"),
    ("control.brake_percent", "brake", "voltage current temperature"),
    ("control.gear", "gear", "voltage current pressure temperature"),
)
RULES: tuple[Rule, ...] = tuple(
    Rule(key, tuple(frozenset(n.split("|")) for n in needed.split()), frozenset(barred.split()))
    for key, needed, barred in _TABLE
)

# Ideas that belong to a subject and so name none of its instances.
OWN: dict[str, frozenset[str]] = {
    subject: frozenset(ideas.split())
    for subject, ideas in {
        "pack": "pack voltage current charge used temperature cell supply count",
        "bus": "bus voltage current",
        "fuel": "fuel tank flow used remaining engine ecu count",
        "engine": "engine nozzle ecu count voltage rpm speed egt temperature throttle gas supply",
        "link": "link rssi quality lost frame failsafe antenna count up_signal",
        "downlink": "downlink link rssi",
        "position": "vario magnetic count gps speed ground above agl altitude height pressure angle used home",
        "attitude": "angle magnetic",
        "motion": "air speed vertical pressure altitude height angle gps",
        "air": "air temperature pressure oat",
        "control": "control angle lowered gear command tail pressure sensor",
    }.items()
}
CONFLICT: dict[str, frozenset[str]] = {
    "voltage": frozenset({"current", "charge", "temperature"}),
    "current": frozenset({"voltage", "temperature"}),
    "temperature": frozenset({"voltage", "current", "charge"}),
    "egt": frozenset({"rpm", "voltage", "speed"}),
    "speed": frozenset({"egt", "temperature", "voltage"}),
    "lost_frames": frozenset({"rssi", "quality"}),
    "remaining": frozenset({"flow"}),
}
"""By quantity: ideas of the same subject that speak of another one, so that both cannot be meant."""
PARTS: dict[str, frozenset[str]] = {
    subject: frozenset(ideas.split())
    for subject, ideas in {
        "pack": "rx ecu engine gear main backup primary front rear centre fuselage wing pump nose tail",
        "bus": "rx ecu main backup primary",
        "fuel": "main header wing front rear centre backup fuselage nose tail",
        "engine": "main front rear centre",
        "link": "rx main backup primary front rear centre nose tail",
        "downlink": "rx main",
    }.items()
}
"""What names a pack, tank, engine or receiver besides a side, a number or a letter."""
ANTENNA_PLACES = frozenset(
    {
        "left",
        "right",
        "front",
        "rear",
        "centre",
        "wing",
        "fuselage",
        "main",
        "backup",
        "primary",
        "fin",
        "nose",
        "tail",
        "lowered",
        "raised",
    }
)

NOT_NOW: dict[str, MeaningCode] = {
    "limit": MeaningCode.LIMIT,
    "worked": MeaningCode.WORKED_OUT,
    "state": MeaningCode.STATE,
    "other": MeaningCode.OTHER_SYSTEM,
    "electric": MeaningCode.ELECTRIC,
    "watts": MeaningCode.POWER,
}
"""Ideas that make a column an extra, and why."""
IMPLIED: dict[str, str] = {
    "rpm": "rpm", "krpm": "rpm", "V": "voltage", "mV": "voltage", "cV": "voltage", "A": "current", "mA": "current",
    "cA": "current",
    "mA*h": "charge", "A*h": "charge", "dBm": "rssi", "mL/min": "flow", "L/h": "flow", "L/min": "flow", "mL/s": "flow",
    "US_fluid_ounce/min": "flow", "US_liquid_gallon/h": "flow", "mL/h": "flow",
}  # fmt: skip
"""What a unit alone says."""
_KINDS = (("V", "voltage"), ("A", "current"), ("mAh", "charge"), ("mL/min", "flow"))


@lru_cache(maxsize=256)
def implied(unit: str) -> str:
    """The idea that a unit alone speaks of, '' for one that many quantities are given in."""
    plain = unit.rpartition(" ")[2] if unit[:1].isdigit() else unit
    if plain in IMPLIED or not plain:
        return IMPLIED.get(plain, "")
    return next((idea for kind, idea in _KINDS if conversion(plain, kind) is not None), "")


@lru_cache(maxsize=256)
def holds(unit: str) -> bool:
    """Whether a unit is one of volume."""
    return bool(unit) and conversion(unit, "mL") is not None


@lru_cache(maxsize=256)
def hurries(unit: str) -> bool:
    """Whether a unit is one of speed."""
    return bool(unit) and conversion(unit, "m/s") is not None
