"""Values as witnesses: whether a column's numbers look like the quantity its heading speaks of."""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum

import numpy as np
import numpy.typing as npt
from msgspec import Struct

from analyser.core.channels import Channel
from importers.meaning.units import Conversion

FloatArray = npt.NDArray[np.float64]


class Verdict(StrEnum):
    """What the values say of a reading."""

    FITS = "fits"
    SILENT = "silent"
    """They neither confirm nor contradict: nought throughout, one value, or none."""
    ODD = "odd"
    """Possible, but not as such a log usually is."""
    RESTS = "rests"
    """So small, or so still, as it never is in use: at rest, or a setting, or another unit. Other columns may tell."""
    CONTRADICTS = "contradicts"


FEW = 10
"""Fewer values than these are no witness, unless they are impossible."""
_GONE = 0.4
"""Largest share of readings that a sensor may have missed and still be believed."""


class Numbers(Struct, frozen=True):
    """What matters of a column's values, as written.

    ``low`` and ``high`` leave out the outermost fiftieths, so that one glitch does not speak for the rest, ``broad``
    the outermost tenths; ``rises`` is the share of upward steps among all steps, ``whole`` whether all are whole
    numbers, ``kinds`` how many differ.
    """

    low: float
    high: float
    middle: float
    first: float
    last: float
    rises: float
    steps: int
    whole: bool
    kinds: int
    count: int
    broad: tuple[float, float] | None = None


def numbers(values: Sequence[float] | npt.NDArray[np.float64]) -> Numbers | None:
    """Sum up a column's finite values; None without any."""
    array = np.asarray(values, float)
    if not array.size:
        return None
    array, ordered = _said(array)
    steps = array[1:] - array[:-1]
    moved, up = int(np.count_nonzero(steps)), int(np.count_nonzero(steps > 0))
    edge = 0.02 if array.size > 24 else 0.0
    nearest = [round((ordered.size - 1) * share) for share in (edge, 0.1, 0.5, 0.9, 1 - edge)]
    low, below, middle, above, high = ordered[nearest].tolist()
    return Numbers(
        low, high, middle, float(array[0]), float(array[-1]), up / moved if moved else 0.5, moved, _whole(array),
        _different(ordered), int(array.size), (below, above),
    )  # fmt: skip


def _whole(array: FloatArray) -> bool:
    """Whether all are whole numbers; most columns show with their first values that they are not."""
    return all(bool((some == np.rint(some)).all()) for some in (array[:16], array))


def _said(array: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The values without one that stands for none: far from all others, again and again the same (-999, 255, 65535).

    Returns
    -------
    array, ordered : ndarray of float64
        The values as they come, and the same sorted.
    """
    ordered = np.sort(array)
    if array.size < 3 or (ordered[-3] != ordered[-1] and ordered[2] != ordered[0]):
        return array, ordered  # neither end comes again and again
    first = int(np.searchsorted(ordered, ordered[-1]))
    last = int(np.searchsorted(ordered, ordered[0], "right"))
    for end, rest, near in ((-1, ordered[:first], first - 1), (0, ordered[last:], last)):
        count = array.size - rest.size
        if not 3 <= count <= _GONE * array.size or _different(rest) < FEW:
            continue
        if abs(ordered[end] - ordered[near]) > 3.0 * float(rest[-1] - rest[0]):
            return array[array != ordered[end]], rest
    return array, ordered


def _different(ordered: FloatArray) -> int:
    """How many sorted values differ."""
    return 1 + int(np.count_nonzero(ordered[1:] != ordered[:-1])) if ordered.size else 0


# quantity: the middle value, and the largest in size, as logs of model jets have them. Common practice, no source: wide
# on purpose, they only have to tell one quantity or unit from another.
_USUAL: dict[str, tuple[float, float, float, float]] = {
    "pack.voltage_v": (2.5, 62.0, 3.0, 65.0),
    "pack.cell<n>_v": (2.4, 4.45, 2.8, 4.6),
    "pack.current_a": (-50.0, 200.0, 0.02, 280.0),
    "pack.used_mah": (0.0, 20_000.0, 3.0, 30_000.0),
    "pack.temperature_c": (-15.0, 75.0, 5.0, 100.0),
    "bus.voltage_v": (3.2, 14.0, 4.0, 15.0),
    "bus.current_a": (-5.0, 60.0, 0.02, 120.0),
    "fuel.remaining_ml": (0.0, 15_000.0, 60.0, 20_000.0),
    "fuel.remaining_percent": (0.0, 101.0, 15.0, 105.0),
    "fuel.used_ml": (0.0, 15_000.0, 3.0, 20_000.0),
    "fuel.flow_ml_per_min": (0.0, 2_500.0, 45.0, 4_000.0),
    "engine.speed_rpm": (0.0, 240_000.0, 15_000.0, 300_000.0),
    "engine.egt_c": (-10.0, 850.0, 120.0, 1_100.0),
    "engine.pump_v": (0.0, 13.0, 0.15, 20.0),
    "engine.pump_percent": (0.0, 100.0, 3.0, 102.0),
    "engine.throttle_percent": (-5.0, 105.0, 5.0, 110.0),
    "link.rssi_dbm": (-118.0, -12.0, 15.0, 130.0),
    "link.antenna<n>_rssi_dbm": (-118.0, -12.0, 15.0, 130.0),
    "downlink.rssi_dbm": (-118.0, -12.0, 15.0, 130.0),
    "link.signal_percent": (0.0, 100.0, 5.0, 100.0),
    "link.antenna<n>_signal_percent": (0.0, 100.0, 5.0, 100.0),
    "downlink.signal_percent": (0.0, 100.0, 5.0, 100.0),
    "link.link_quality_percent": (0.0, 100.0, 40.0, 100.0),
    "link.signal_counts": (0.0, 5_000.0, 5.0, 65_535.0),
    "link.antenna<n>_signal_counts": (0.0, 5_000.0, 5.0, 65_535.0),
    "link.lost_frames": (0.0, 1e6, 0.0, 1e7),
    "link.antenna<n>_lost": (0.0, 1e6, 0.0, 1e7),
    "position.latitude_deg": (-75.0, 75.0, 0.5, 85.0),
    "position.longitude_deg": (-180.0, 180.0, 0.0005, 180.0),
    "position.altitude_m": (-450.0, 3_500.0, 1.0, 6_000.0),
    "position.height_m": (-60.0, 600.0, 1.0, 2_000.0),
    "motion.pressure_altitude_m": (-450.0, 3_500.0, 1.0, 6_000.0),
    "position.ground_speed_m_s": (-1.0, 120.0, 1.0, 220.0),
    "motion.airspeed_m_s": (-3.0, 120.0, 2.0, 220.0),
    "position.track_deg": (0.0, 360.0, 10.0, 360.0),
    "position.satellites": (3.0, 40.0, 4.0, 60.0),
    "attitude.roll_deg": (-60.0, 60.0, 2.0, 180.0),
    "attitude.pitch_deg": (-45.0, 45.0, 1.0, 90.0),
    "attitude.heading_deg": (-180.0, 360.0, 10.0, 360.0),
    "motion.vario_m_s": (-15.0, 15.0, 0.2, 120.0),
    "motion.accel_x_m_s2": (-25.0, 25.0, 0.3, 200.0),
    "motion.accel_y_m_s2": (-25.0, 25.0, 0.3, 200.0),
    "motion.accel_z_m_s2": (-25.0, 25.0, 4.0, 250.0),
    "air.temperature_c": (-20.0, 45.0, 1.0, 55.0),
    "air.pressure_pa": (60_000.0, 105_000.0, 70_000.0, 108_000.0),
    "control.throttle_percent": (-101.0, 101.0, 5.0, 125.0),
    "control.aileron_percent": (-80.0, 80.0, 3.0, 150.0),
    "control.elevator_percent": (-80.0, 80.0, 3.0, 150.0),
    "control.rudder_percent": (-80.0, 80.0, 3.0, 150.0),
    "control.flap_percent": (-101.0, 101.0, 3.0, 150.0),
    "control.brake_percent": (-1.0, 101.0, 3.0, 110.0),
}  # fmt: skip
# The largest size below which a quantity is at rest, or is none of this kind. Common practice, no source.
_IN_USE: dict[str, float] = {
    "pack.voltage_v": 2.0, "bus.voltage_v": 2.5, "pack.cell<n>_v": 0.8, "pack.current_a": 0.01, "bus.current_a": 0.01,
    "fuel.remaining_ml": 25.0, "fuel.flow_ml_per_min": 5.0, "engine.speed_rpm": 10_000.0, "engine.egt_c": 200.0,
}  # fmt: skip
_AT_MOST: dict[str, float] = {
    "remaining_ml": 40_000.0, "used_ml": 60_000.0, "flow_ml_per_min": 8_000.0, "used_mah": 60_000.0,
}  # fmt: skip
"""More than any model jet holds or burns. Common practice, no source."""
_MOVES = frozenset(
    {"remaining_ml", "remaining_percent", "used_ml", "used_mah", "flow_ml_per_min", "speed_rpm", "egt_c", "altitude_m",
     "height_m", "pressure_altitude_m", "ground_speed_m_s", "airspeed_m_s", "vario_m_s", "latitude_deg",
     "longitude_deg"}
)  # fmt: skip
"""Quantities that never keep one value, other than nought, through a flight: a column of one value is a setting."""
_SAGS = 2.0
"""A pack under load keeps more than one part in this of its voltage: common practice, no source."""
_LOADS, _HELD = 1.5, 1.1
"""A current, A, or a pump's voltage above the first does not keep within a tenth for a whole flight: common practice,
no source."""
_RATES = frozenset(
    {"current_a", "flow_ml_per_min", "speed_rpm", "vario_m_s", "ground_speed_m_s", "airspeed_m_s", "roll_deg",
     "pitch_deg", "accel_x_m_s2", "accel_y_m_s2", "accel_z_m_s2", "rssi_dbm"}
)  # fmt: skip
"""Quantities that rise and fall."""
_SPOOLED = 240
"""A rate that rises at so many rows on end, or at nearly all, is none: common practice, no source."""
_DRIFTS_M = 3.0
"""A sensor of height drifts by no more in a flight, as a rule: common practice, no source."""
_HOTTEST_C = 57.0
_COUNTS = ("1", "counts")


def testify(channel: Channel, seen: Numbers | None, conversion: Conversion) -> Verdict:
    """Let the values say whether they can be this channel in this unit.

    Examples
    --------
    >>> from analyser.core.channels import parse
    >>> from importers.meaning.units import Conversion
    >>> testify(parse("pack.rx1.voltage_v").channel, numbers([819.0, 812.0, 803.0]), Conversion())
    <Verdict.CONTRADICTS: 'contradicts'>
    """
    if seen is None:
        return Verdict.SILENT
    one, middle, other = map(conversion.apply, (seen.low, seen.middle, seen.high))
    low, high = min(one, other), max(one, other)
    slack = 0.001 if channel.unit in ("°", "%", "bool") else 0.02 * (channel.high - channel.low)
    if not channel.low - slack <= middle <= channel.high + slack:
        return Verdict.CONTRADICTS
    if channel.unit in _COUNTS and not seen.whole:
        return Verdict.CONTRADICTS
    if channel.unit == "dBm" and middle >= 0.0:
        return Verdict.CONTRADICTS  # what is received is far below the milliwatt
    if seen.kinds == 1 and seen.count > 1:
        return Verdict.RESTS if channel.quantity in _MOVES and middle and seen.count > 20 else Verdict.SILENT
    span = channel.high - channel.low
    if low < channel.low - span or high > min(channel.high + span, _AT_MOST.get(channel.quantity, np.inf)):
        return Verdict.CONTRADICTS
    if seen.broad and seen.count >= FEW:
        ends = sorted(map(conversion.apply, seen.broad))
        if ends[0] < channel.low - slack or ends[1] > channel.high + slack:
            return Verdict.CONTRADICTS
    if seen.count > 2 * FEW and any(law(channel, seen, conversion) for law in _NEVER):
        return Verdict.CONTRADICTS
    if low < channel.low - slack or high > channel.high + slack:
        return Verdict.ODD if seen.count >= FEW else Verdict.SILENT
    usual = _USUAL.get(f"{channel.subject}.{channel.quantity}")
    total = _total(channel, seen)
    if total is not None:
        return total
    if usual is None or (seen.low == seen.high == 0.0):
        return Verdict.SILENT
    size = max(abs(low), abs(high))
    if size < _IN_USE.get(f"{channel.subject}.{channel.quantity}", 0.0) and seen.count >= FEW:
        return Verdict.RESTS
    if usual[0] <= middle <= usual[1] and usual[2] <= size <= usual[3]:
        return Verdict.FITS if seen.kinds > 1 else Verdict.SILENT
    if middle == 0.0 and size <= usual[3]:  # at rest most of the time
        return Verdict.FITS if size >= usual[2] else Verdict.ODD
    return Verdict.ODD if seen.count >= FEW else Verdict.SILENT


def _unsteady(channel: Channel, seen: Numbers, conversion: Conversion) -> bool:
    """Whether a voltage varies as no pack's or bus' does while it is in use."""
    if channel.quantity != "voltage_v" or seen.broad is None:
        return False
    below, above = sorted(map(conversion.apply, seen.broad))
    return below > 0.0 and above > _SAGS * below


def _steady(channel: Channel, seen: Numbers, conversion: Conversion) -> bool:
    """Whether a current or a pump's voltage stays as a pack's does: what is in use takes now more, now less."""
    if channel.quantity not in ("current_a", "pump_v") or seen.kinds < FEW:
        return False
    low, high = sorted(map(conversion.apply, (seen.low, seen.high)))
    return low > _LOADS and high < _HELD * low


def _counts_up(channel: Channel, seen: Numbers, _conversion: Conversion) -> bool:
    """Whether a rate only rises, or only falls, for longer than an engine takes to spool up, as totals do."""
    least = 2 * FEW if channel.quantity == "flow_ml_per_min" else _SPOOLED
    return channel.quantity in _RATES and seen.steps > least and not 0.02 < seen.rises < 0.98


def _under_the_ground(channel: Channel, seen: Numbers, conversion: Conversion) -> bool:
    """Whether a height lies below nought about as often as above it, or farther below where it began and ended."""
    if channel.quantity not in ("height_m", "altitude_m") or seen.broad is None:
        return False
    below, above = sorted(map(conversion.apply, seen.broad))
    low, high, first, last = map(conversion.apply, (seen.low, seen.high, seen.first, seen.last))
    back = abs(last - first) < 0.1 * (high - low)  # a flight begins and ends on the ground
    return (below < -_DRIFTS_M and above < 4.0 * -below) or (
        back and first - low > _DRIFTS_M and high - first < 2.0 * (first - low)
    )


def _hotter_than_air(channel: Channel, seen: Numbers, conversion: Conversion) -> bool:
    """Whether the air is hotter than it has ever been (56.7 °C; World Meteorological Organization's archive)."""
    return channel.subject == "air" and channel.unit == "°C" and conversion.apply(seen.middle) > _HOTTEST_C


def _runs_out(channel: Channel, seen: Numbers, _conversion: Conversion) -> bool:
    """Whether a flow falls evenly from its first value to its last, as totals do."""
    span = seen.high - seen.low
    if channel.quantity != "flow_ml_per_min" or not seen.low > 0.2 * seen.high:
        return False
    ends = seen.first > seen.high - 0.1 * span and seen.last < seen.low + 0.1 * span
    return ends and abs(seen.middle - (seen.low + seen.high) / 2) < 0.2 * span


_NEVER = (_unsteady, _steady, _counts_up, _under_the_ground, _hotter_than_air, _runs_out)
"""What the values of a channel in use never do."""


def _total(channel: Channel, seen: Numbers) -> Verdict | None:
    """Totals have a direction: used ones rise, what remains falls; None where there is too little to say."""
    if seen.steps < 8:
        return None
    if channel.quantity.startswith("used_"):
        if seen.rises < 0.7 and seen.last - seen.first < 0.5 * (seen.high - seen.low):
            return Verdict.CONTRADICTS
        if seen.rises < 0.7:
            return Verdict.ODD
    if channel.quantity in ("lost_frames", "antenna<n>_lost") and seen.rises < 0.6 and seen.last <= seen.first:
        return Verdict.ODD
    if channel.quantity.startswith("remaining_") and seen.rises > 0.85 and seen.last > seen.first:
        return Verdict.CONTRADICTS
    return None
