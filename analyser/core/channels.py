"""The canonical channel vocabulary: what a column may be called, its unit and how it behaves between samples.

A channel name is dotted, ``subject.instance.quantity_unit`` (``pack.rx1.voltage_v``) or, for subjects of
which an aircraft has one, ``subject.quantity_unit`` (``position.latitude_deg``). Instances are free text
slugs (``rx1``, ``ecu_left``, ``main``). Columns that are no known channel are kept under ``extra.<slug>``.
"""

from __future__ import annotations

import re
from enum import StrEnum
from functools import lru_cache

from msgspec import Struct

TIME = "time_s"
EXTRA = "extra"


class Between(StrEnum):
    """How a channel behaves between two of its samples."""

    CONTINUOUS = "continuous"
    """A physical quantity: linear interpolation is fair over short gaps."""
    HOLD = "hold"
    """A state: the last value stands until the next one."""
    COUNTER = "counter"
    """A running count or total: never falls except at a reset."""


class Channel(Struct, frozen=True):
    """One quantity the analyser understands.

    Parameters
    ----------
    subject : str
        First part of the channel name (``pack``, ``fuel``, ``engine``, ``link`` …).
    quantity : str
        Last part, unit included (``voltage_v``); ``<n>`` stands for a number (``cell<n>_v``).
    unit : str
        The unit as printed (``V``, ``mAh``, ``1`` for counts, ``bool`` for states).
    between : Between
        How to read the channel between samples.
    low, high : float
        Plausible range, in ``unit``; a value outside is impossible, not merely bad (a sensor's own offset near
        nought or full is allowed for).
    label : str
        Plain words for pages.
    has_instance : bool
        Whether an instance stands between subject and quantity.
    """

    subject: str
    quantity: str
    unit: str
    between: Between
    low: float
    high: float
    label: str
    has_instance: bool = True


_C, _H, _N = Between.CONTINUOUS, Between.HOLD, Between.COUNTER

VOCABULARY: tuple[Channel, ...] = (
    # Packs and the buses they feed
    Channel("pack", "voltage_v", "V", _C, -0.5, 75.0, "Pack voltage"),
    Channel("pack", "current_a", "A", _C, -300.0, 300.0, "Pack current"),
    Channel("pack", "used_mah", "mAh", _N, 0.0, 100_000.0, "Charge used"),
    Channel("pack", "cell<n>_v", "V", _C, -0.5, 5.0, "Cell voltage"),
    Channel("pack", "temperature_c", "°C", _C, -40.0, 120.0, "Pack temperature"),
    Channel("bus", "voltage_v", "V", _C, -0.5, 75.0, "Bus voltage"),
    Channel("bus", "current_a", "A", _C, -300.0, 300.0, "Bus current"),
    # Fuel
    Channel("fuel", "remaining_ml", "mL", _C, -200.0, 100_000.0, "Fuel remaining"),
    Channel("fuel", "remaining_percent", "%", _C, -5.0, 105.0, "Fuel remaining"),
    Channel("fuel", "used_ml", "mL", _N, 0.0, 100_000.0, "Fuel used"),
    Channel("fuel", "flow_ml_per_min", "mL/min", _C, -50.0, 10_000.0, "Fuel flow"),
    # Turbines
    Channel("engine", "speed_rpm", "rpm", _C, -500.0, 350_000.0, "Shaft speed"),
    Channel("engine", "egt_c", "°C", _C, -40.0, 1_300.0, "Exhaust gas temperature"),
    Channel("engine", "pump_v", "V", _C, -1.0, 30.0, "Pump voltage"),
    Channel("engine", "pump_percent", "%", _C, -5.0, 105.0, "Pump drive"),
    Channel("engine", "throttle_percent", "%", _C, -25.0, 125.0, "Engine throttle"),
    # Radio link, per receiver and per antenna
    Channel("link", "rssi_dbm", "dBm", _C, -150.0, 30.0, "Signal strength"),
    Channel("link", "signal_percent", "%", _C, 0.0, 100.0, "Signal"),
    Channel("link", "signal_counts", "counts", _C, 0.0, 65_535.0, "Signal, maker's counts"),
    Channel("link", "link_quality_percent", "%", _C, 0.0, 100.0, "Link quality"),
    Channel("link", "lost_frames", "1", _N, 0.0, 1e9, "Missed frames"),
    Channel("link", "failsafe", "bool", _H, 0.0, 1.0, "Failsafe"),
    Channel("link", "antenna<n>_rssi_dbm", "dBm", _C, -150.0, 30.0, "Antenna signal strength"),
    Channel("link", "antenna<n>_signal_percent", "%", _C, 0.0, 100.0, "Antenna signal"),
    Channel("link", "antenna<n>_signal_counts", "counts", _C, 0.0, 65_535.0, "Antenna signal, maker's counts"),
    Channel("link", "antenna<n>_lost", "1", _N, 0.0, 1e9, "Antenna missed packets"),
    Channel("downlink", "rssi_dbm", "dBm", _C, -150.0, 30.0, "Telemetry downlink strength"),
    Channel("downlink", "signal_percent", "%", _C, 0.0, 100.0, "Telemetry downlink signal"),
    # Where, which way up, how fast
    Channel("position", "latitude_deg", "°", _C, -90.0, 90.0, "Latitude", False),
    Channel("position", "longitude_deg", "°", _C, -180.0, 180.0, "Longitude", False),
    Channel("position", "altitude_m", "m", _C, -500.0, 12_000.0, "Altitude", False),
    Channel("position", "height_m", "m", _C, -500.0, 12_000.0, "Height above take-off", False),
    Channel("position", "ground_speed_m_s", "m/s", _C, -5.0, 250.0, "Ground speed", False),
    Channel("position", "track_deg", "°", _C, 0.0, 360.0, "Track over ground", False),
    Channel("position", "satellites", "1", _H, 0.0, 100.0, "Satellites", False),
    Channel("attitude", "roll_deg", "°", _C, -180.0, 180.0, "Roll", False),
    Channel("attitude", "pitch_deg", "°", _C, -90.0, 90.0, "Pitch", False),
    Channel("attitude", "heading_deg", "°", _C, -180.0, 360.0, "Heading", False),
    Channel("motion", "airspeed_m_s", "m/s", _C, -5.0, 250.0, "Airspeed", False),
    Channel("motion", "vario_m_s", "m/s", _C, -200.0, 200.0, "Climb rate", False),
    Channel("motion", "accel_x_m_s2", "m/s²", _C, -400.0, 400.0, "Acceleration forward", False),
    Channel("motion", "accel_y_m_s2", "m/s²", _C, -400.0, 400.0, "Acceleration right", False),
    Channel("motion", "accel_z_m_s2", "m/s²", _C, -400.0, 400.0, "Acceleration down", False),
    Channel("motion", "pressure_altitude_m", "m", _C, -500.0, 12_000.0, "Pressure altitude", False),
    # Air
    Channel("air", "temperature_c", "°C", _C, -60.0, 70.0, "Air temperature", False),
    Channel("air", "pressure_pa", "Pa", _C, 20_000.0, 120_000.0, "Air pressure", False),
    # What the pilot commanded
    Channel("control", "throttle_percent", "%", _C, -25.0, 125.0, "Throttle", False),
    Channel("control", "aileron_percent", "%", _C, -150.0, 150.0, "Aileron", False),
    Channel("control", "elevator_percent", "%", _C, -150.0, 150.0, "Elevator", False),
    Channel("control", "rudder_percent", "%", _C, -150.0, 150.0, "Rudder", False),
    Channel("control", "flap_percent", "%", _C, -150.0, 150.0, "Flap", False),
    Channel("control", "brake_percent", "%", _C, -5.0, 150.0, "Brake", False),
    Channel("control", "gear", "bool", _H, 0.0, 1.0, "Gear down", False),
)
"""Every channel the analyser knows. ``control.gear`` is true when the gear is selected down."""

_INSTANCE = r"[a-z0-9][a-z0-9_]*"
_PATTERNS: tuple[tuple[re.Pattern[str], Channel], ...] = tuple(
    (
        re.compile(
            rf"{c.subject}\."
            + (rf"(?P<instance>{_INSTANCE})\." if c.has_instance else "")
            + re.escape(c.quantity).replace(r"<n>", r"(?P<n>[1-9]\d?)")
        ),
        c,
    )
    for c in VOCABULARY
)


class ChannelName(Struct, frozen=True):
    """A channel name taken apart: its vocabulary entry, its instance and its number, where it has them."""

    channel: Channel
    instance: str
    number: int | None


@lru_cache(maxsize=4096)
def parse(name: str) -> ChannelName | None:
    """Take a canonical channel name apart.

    Returns
    -------
    ChannelName or None
        ``None`` where the name is no known channel (``time_s`` and ``extra.*`` included).
    """
    for pattern, channel in _PATTERNS:
        if match := pattern.fullmatch(name):
            groups = match.groupdict()
            number = groups.get("n")
            return ChannelName(channel, groups.get("instance") or "", int(number) if number else None)
    return None


_QUANTITIES = frozenset((c.subject, c.quantity) for c in VOCABULARY)


@lru_cache(maxsize=4096)
def names_a_quantity(name: str) -> bool:
    """Whether subject and quantity of a name are in the vocabulary, whatever the instance is called.

    Examples
    --------
    >>> names_a_quantity("pack.Front pack.voltage_v"), names_a_quantity("pack.rx1.voltag_v")
    (True, False)
    """
    subject, _, rest = name.partition(".")
    quantity = re.sub(r"^(cell|antenna)\d+", r"\1<n>", rest.rpartition(".")[2])
    return name == TIME or subject == EXTRA or (subject, quantity) in _QUANTITIES


def label(name: str) -> str:
    """Plain words for a channel name: ``pack.rx1.cell2_v`` → ``Cell voltage 2, rx1``."""
    parsed = parse(name)
    if parsed is None:
        return name.removeprefix(f"{EXTRA}.")
    words = parsed.channel.label + (f" {parsed.number}" if parsed.number else "")
    return words + (f", {parsed.instance}" if parsed.instance else "")
