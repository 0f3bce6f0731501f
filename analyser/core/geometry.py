"""Where the aircraft is from the pilot, and where the pilot's transmitter is from the aircraft, in body axes.

Positions are WGS-84, turned into a local east-north-up frame at the pilot (``pymap3d``). Body axes: x forward,
y right, z down (ISO 1151-1); attitude is heading, pitch, roll in that order about z, y, x. Body azimuth 0° nose,
90° right wing; body elevation positive up.

Without logged attitude (each angle on its own: what is logged is used): heading is taken from the track, pitch from
the climb angle, and bank from the coordinated level turn, tan φ = V·ψ̇ / g. That relation can't hold in slow flight,
steep lines, pulls or rolls (told by stick or load where they are logged); such samples are left out and counted.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cached_property
from typing import Any, TypeVar

import numpy as np
import numpy.typing as npt
from msgspec import Struct
from scipy import ndimage
from scipy.constants import g

from analyser.core.aircraft import FlightContext
from analyser.core.codes import CoreCode
from analyser.core.figures import FloatArray
from analyser.core.findings import Text, say
from analyser.core.phases import Phases
from analyser.core.statistics.robust import median
from analyser.core.statistics.sampling import longest_pause_s
from analyser.core.telemetry import Telemetry

T = TypeVar("T")
STEP_S = 0.1
MAX_GAP_S = 2.5
EYE_HEIGHT_M = 1.3
"""Height of the transmitter above the ground the pilot stands on, assumed."""
LOGGED_UNCERTAINTY_DEG = 5.0
DERIVED_ANGLE_DEG = 10.0
DERIVED_UNCERTAINTY_DEG = float(np.sqrt(LOGGED_UNCERTAINTY_DEG**2 + 3 * DERIVED_ANGLE_DEG**2))
"""One-sigma-like radius of a wholly derived direction, 18°: crab, angle of attack and bank about 10° each."""
SLOW_M_S = 12.0
TAXI_M_S = 6.0
REST_M_S = 1.0
REST_S = 3.0
ENTERED_ERROR_M, BEFORE_ERROR_M, AFTER_ERROR_M = 5.0, 30.0, 100.0
"""How far the pilot may have stood from the place he is taken to stand at (common practice, no source)."""
STEEP_DEG = 40.0
MAX_BANK_DEG = 80.0
MAX_VERTICAL_G = 0.6
MAX_AILERON_PERCENT = 60.0
MAX_LOAD_OFF_G = 0.8


def body_direction(
    east_m: FloatArray,
    north_m: FloatArray,
    up_m: FloatArray,
    heading_deg: FloatArray,
    pitch_deg: FloatArray,
    roll_deg: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Direction of a target, given as an east-north-up offset from the aircraft, in the aircraft's body axes.

    Returns
    -------
    azimuth_deg, elevation_deg : ndarray, shape (n,)
        −180 … 180, 0° nose, 90° right wing; −90 … 90, positive up.
    """
    psi, theta, phi = (np.radians(np.asarray(a, float)) for a in (heading_deg, pitch_deg, roll_deg))
    n, e, d = north_m, east_m, -np.asarray(up_m, float)
    x1, y1 = n * np.cos(psi) + e * np.sin(psi), -n * np.sin(psi) + e * np.cos(psi)
    x, z2 = x1 * np.cos(theta) - d * np.sin(theta), x1 * np.sin(theta) + d * np.cos(theta)
    y, z = y1 * np.cos(phi) + z2 * np.sin(phi), -y1 * np.sin(phi) + z2 * np.cos(phi)
    return np.degrees(np.arctan2(y, x)), np.degrees(np.arctan2(-z, np.hypot(x, y)))


class Seen(Struct, frozen=True, eq=False, dict=True):
    """What the geometry was at given instants, arrays of shape (n,); NaN where unknown.

    ``ground_range_m`` and ``height_m`` are the horizontal and vertical parts of ``range_m``, ``elevation_deg`` the
    aircraft's elevation above the pilot's horizon, ``bearing_deg`` where it is from the pilot, clockwise from north.
    ``pilot_error_m`` is how far the pilot may have stood from where he is taken to stand.
    """

    range_m: FloatArray
    ground_range_m: FloatArray
    height_m: FloatArray
    elevation_deg: FloatArray
    body_azimuth_deg: FloatArray
    body_elevation_deg: FloatArray
    bearing_deg: FloatArray
    pilot_error_m: float

    @cached_property
    def _known(self) -> dict[str, Any]:
        """What was worked out of the directions before: several antennas are seen at the same instants."""
        return {}

    def once(self, what: str, make: Callable[[Seen], T]) -> T:
        """What a function makes of it, made when it is first asked for."""
        if what not in self._known:
            self._known[what] = make(self)
        found: T = self._known[what]
        return found

    def range_from(self, east_m: float, north_m: float, at: npt.NDArray[np.intp]) -> FloatArray:
        """Slant range at instants ``at`` had the pilot stood so far from where he is taken to stand, m."""
        bearing, ground = np.radians(self.bearing_deg[at]), self.ground_range_m[at]
        e, n = ground * np.sin(bearing) - east_m, ground * np.cos(bearing) - north_m
        return np.asarray(np.sqrt(e**2 + n**2 + self.height_m[at] ** 2))


class Geometry(Struct, frozen=True, eq=False):
    """One flight's path round the pilot on a regular grid, and how it was found.

    ``heading_deg`` is unwrapped; the angles are NaN where no attitude could be trusted. ``left_out`` counts airborne
    seconds without a trusted direction, by reason; one second may have several. ``pilot_error_m`` is how far the pilot
    may have stood from where the path is taken from, ``height_from`` the channel of the height, '' where there is none:
    then heights are 0 and no direction is trusted.
    """

    time_s: FloatArray
    east_m: FloatArray
    north_m: FloatArray
    up_m: FloatArray
    heading_deg: FloatArray
    pitch_deg: FloatArray
    roll_deg: FloatArray
    airborne: npt.NDArray[np.bool_]
    pilot_from: Text
    directions_from: Text
    uncertainty_deg: float
    airborne_s: float
    left_out: dict[str, float]
    pilot_error_m: float = ENTERED_ERROR_M
    height_from: str = "position.altitude_m"

    @property
    def unknown_s(self) -> float:
        """Airborne seconds without a trusted direction, whatever the reasons."""
        known = np.isfinite(self.heading_deg + self.pitch_deg + self.roll_deg + self.east_m + self.up_m)
        return float((self.airborne & ~known).sum() * STEP_S)

    def seen_at(self, time_s: FloatArray) -> Seen:
        """Interpolate to given instants; NaN outside the path and across holes in it."""
        e, n, u = (_at(self.time_s, a, time_s) for a in (self.east_m, self.north_m, self.up_m))
        psi, theta, phi = (_at(self.time_s, a, time_s) for a in (self.heading_deg, self.pitch_deg, self.roll_deg))
        ground = np.hypot(e, n)
        azimuth, elevation = body_direction(-e, -n, -u, psi, theta, phi)
        above, bearing = (np.degrees(np.arctan2(*pair)) for pair in ((u, ground), (e, n)))
        return Seen(np.hypot(ground, u), ground, u, above, azimuth, elevation, bearing, self.pilot_error_m)


def _at(grid: FloatArray, values: FloatArray, time_s: FloatArray) -> FloatArray:
    # NaN on either side of an instant stays NaN: a direction is not invented across a hole.
    return np.asarray(np.interp(time_s, grid, values, left=np.nan, right=np.nan))


def locate(telemetry: Telemetry, phases: Phases, context: FlightContext) -> Geometry | None:
    """Work out the path round the pilot.

    Returns
    -------
    Geometry or None
        ``None`` where the log has no position, or where the pilot's place is neither entered nor to be found because
        the aircraft was never seen on the ground. Without attitude and without enough movement to derive it, the
        angles are NaN and ``directions_from`` is empty.
    """
    import pymap3d

    fixes = telemetry.series("position.latitude_deg").time_s
    if fixes.size < 2 or not telemetry.has("position.longitude_deg"):
        return None
    grid = np.arange(fixes[0], fixes[-1] + STEP_S / 2, STEP_S)
    latitude = telemetry.at("position.latitude_deg", grid, max_gap_s=MAX_GAP_S)
    longitude = telemetry.at("position.longitude_deg", grid, max_gap_s=MAX_GAP_S)
    altitude, datum = _altitude(telemetry, grid)
    still, where, error_m = _on_the_ground(telemetry, grid, latitude, longitude, phases)
    if context.pilot_latitude_deg is not None and context.pilot_longitude_deg is not None:
        lat0, lon0 = context.pilot_latitude_deg, context.pilot_longitude_deg
        where, error_m = say(CoreCode.PILOT_ENTERED), ENTERED_ERROR_M
    elif where:
        lat0, lon0 = float(np.nanmedian(latitude[still])), float(np.nanmedian(longitude[still]))
    else:
        return None
    # The aircraft's own height on the ground before an entered one: sensors differ in what they count from.
    if np.isfinite(altitude[still]).any():
        ground = float(np.nanmedian(altitude[still]))
    elif context.pilot_altitude_m is not None and datum == "position.altitude_m":
        ground = context.pilot_altitude_m
    else:
        ground = float(np.nanmin(altitude)) if np.isfinite(altitude).any() else 0.0
    eye = ground + EYE_HEIGHT_M
    east, north, up = (
        np.asarray(v, float) for v in pymap3d.geodetic2enu(latitude, longitude, altitude, lat0, lon0, eye)
    )
    airborne = np.zeros(grid.size, bool)
    if phases.airborne_span:
        airborne = (grid >= phases.airborne_span[0]) & (grid <= phases.airborne_span[1])
    else:
        airborne = np.hypot(np.gradient(_filled(east), STEP_S), np.gradient(_filled(north), STEP_S)) > SLOW_M_S
    attitude, told, spread, reasons = _attitude(telemetry, grid, east, north, up, airborne)
    if not datum:
        # A hundred metres up and as far out, the pilot is seen 45° lower than from the ground.
        attitude, told, reasons = [np.full(grid.size, np.nan)] * 3, "", {CoreCode.NO_HEIGHT: np.ones(grid.size, bool)}
    heading, pitch, roll = attitude
    left_out = {why: float((airborne & bad).sum() * STEP_S) for why, bad in reasons.items()}
    return Geometry(
        time_s=grid,
        east_m=east,
        north_m=north,
        up_m=up,
        heading_deg=heading,
        pitch_deg=pitch,
        roll_deg=roll,
        airborne=airborne,
        pilot_from=where,
        directions_from=told,
        uncertainty_deg=spread,
        airborne_s=float(airborne.sum() * STEP_S),
        left_out={why: seconds for why, seconds in left_out.items() if seconds > 0},
        pilot_error_m=error_m,
        height_from=datum,
    )


def _altitude(telemetry: Telemetry, grid: FloatArray) -> tuple[FloatArray, str]:
    for name in ("position.altitude_m", "position.height_m", "motion.pressure_altitude_m"):
        if telemetry.has(name):
            return telemetry.at(name, grid, max_gap_s=MAX_GAP_S), name
    return np.zeros(grid.size), ""


def _on_the_ground(
    telemetry: Telemetry, grid: FloatArray, latitude: FloatArray, longitude: FloatArray, phases: Phases
) -> tuple[npt.NDArray[np.bool_], Text, float]:
    """Where the aircraft stood, and how far the pilot may have been from it; no sample where it never did.

    Standing before lift-off is best, then standing after the last touch-down, then a log that begins at a walk.
    """
    import pymap3d

    good = np.isfinite(latitude) & np.isfinite(longitude)
    speed = telemetry.at("position.ground_speed_m_s", grid, max_gap_s=MAX_GAP_S)
    if not np.isfinite(speed).any():
        north, east = _filled(latitude), _filled(longitude)
        east_m, north_m, _ = pymap3d.geodetic2enu(north, east, 0.0, median(north), median(east), 0.0)
        speed = np.hypot(np.gradient(east_m), np.gradient(north_m)) / STEP_S
    # Without lift-off or touch-down, before or after anything fast.
    fast = np.nan_to_num(speed) > SLOW_M_S
    before = grid < phases.take_off_s if phases.take_off_s is not None else ~np.logical_or.accumulate(fast)
    after = (
        grid > phases.touch_down_s if phases.touch_down_s is not None else ~np.logical_or.accumulate(fast[::-1])[::-1]
    )
    rest = good & (speed < REST_M_S)
    least = REST_S / STEP_S
    if (rest & before).sum() >= least:
        first = grid[np.flatnonzero(rest & before)[0]]
        where = say(CoreCode.PILOT_FROM_BEFORE, within=BEFORE_ERROR_M)
        return rest & before & (grid <= first + 30.0), where, BEFORE_ERROR_M
    if (rest & after).sum() >= least:
        where = say(CoreCode.PILOT_FROM_AFTER, within=AFTER_ERROR_M)
        return rest & after, where, AFTER_ERROR_M
    begun = good & (grid <= grid[np.flatnonzero(good)[0]] + REST_S) if good.any() else good
    if begun.any() and float(np.nanmax(np.where(begun, np.nan_to_num(speed, nan=np.inf), 0.0))) < TAXI_M_S:
        where = say(CoreCode.PILOT_FROM_BEGIN, within=AFTER_ERROR_M)
        return begun, where, AFTER_ERROR_M
    return np.zeros(grid.size, bool), "", 0.0


def _angle(telemetry: Telemetry, name: str, grid: FloatArray) -> FloatArray | None:
    """A logged angle on the grid; None where there is none that can be believed."""
    if not telemetry.has(name):
        return None
    t, v = telemetry.series(name)
    if not t.size:
        return None
    turns = v.size > 1 and float(np.abs(np.diff(v)).max()) >= 180.0
    out = np.interp(grid, t, np.unwrap(v, period=360.0) if turns else v, left=np.nan, right=np.nan)
    if t.size > 1 and longest_pause_s(t) > MAX_GAP_S:
        right = np.clip(np.searchsorted(t, grid), 1, t.size - 1)
        out[(t[right] - t[right - 1]) > MAX_GAP_S] = np.nan
    return np.asarray(out)


def _filled(v: FloatArray) -> FloatArray:
    good = np.isfinite(v)
    if not good.any():
        return np.zeros(v.size)
    at = np.arange(v.size)
    return np.asarray(np.interp(at, at[good], v[good]))


ANGLE = {"heading": CoreCode.ANGLE_HEADING, "pitch": CoreCode.ANGLE_PITCH, "roll": CoreCode.ANGLE_ROLL}
ANGLE_FROM = {
    "heading": CoreCode.HEADING_FROM_TRACK, "pitch": CoreCode.PITCH_FROM_CLIMB, "roll": CoreCode.ROLL_FROM_TURNS,
}  # fmt: skip


def _attitude(
    telemetry: Telemetry,
    grid: FloatArray,
    east: FloatArray,
    north: FloatArray,
    up: FloatArray,
    airborne: npt.NDArray[np.bool_],
) -> tuple[list[FloatArray], Text, float, dict[CoreCode, npt.NDArray[np.bool_]]]:
    """Heading, pitch, roll: each logged where there is a log of it, else derived; how; how far off; what is left out.

    Every derived angle adds its own doubt: heading from the track the crab in wind, pitch from the climb angle the
    angle of attack, bank from the turn what slipping and slow rolls do to it; about 10° each.
    """
    names = ("heading", "pitch", "roll")
    # An angle that wraps is held, not interpolated, by whoever reads 179° then −179°; so unwrap before reading.
    logged = [_angle(telemetry, f"attitude.{n}_deg", grid) for n in names]
    known = [n for n, v in zip(names, logged, strict=True) if v is not None]
    spread = float(np.sqrt(LOGGED_UNCERTAINTY_DEG**2 + (3 - len(known)) * DERIVED_ANGLE_DEG**2))
    if len(known) == 3:
        attitude = [v for v in logged if v is not None]
        return attitude, say(CoreCode.ATTITUDE_LOGGED), spread, {CoreCode.NO_ATTITUDE: ~np.isfinite(sum(attitude))}
    derived, bad = _derive(telemetry, grid, east, north, up, set(known))
    wrong = np.zeros(grid.size, bool)
    for mask in bad.values():
        wrong |= mask
    # Half a second either side: the smoothed path carries an upset into its neighbours.
    wrong = ndimage.binary_dilation(wrong, iterations=5) | ~airborne
    attitude = [np.where(wrong, np.nan, d if v is None else v) for v, d in zip(logged, derived, strict=True)]
    if not np.isfinite(sum(attitude)).any():
        return attitude, "", spread, bad
    if not known:
        return attitude, say(CoreCode.ATTITUDE_DERIVED), spread, bad
    logged_angles = tuple(say(ANGLE[n]) for n in known)
    rest = tuple(say(ANGLE_FROM[n]) for n in names if n not in known)
    return attitude, say(CoreCode.ATTITUDE_PARTLY, logged=logged_angles, rest=rest), spread, bad


def _derive(
    telemetry: Telemetry, grid: FloatArray, east: FloatArray, north: FloatArray, up: FloatArray, known: set[str]
) -> tuple[tuple[FloatArray, FloatArray, FloatArray], dict[CoreCode, npt.NDArray[np.bool_]]]:
    """Heading, pitch, bank from the path alone, and where, by reason, what is not ``known`` can't be had from it."""
    rate = telemetry.rate_hz("position.latitude_deg")
    sigma = max(0.4, 0.8 / rate) / STEP_S

    def slope(v: FloatArray) -> FloatArray:
        return np.asarray(ndimage.gaussian_filter1d(_filled(v), sigma, order=1) / STEP_S)

    ve, vn, vu = slope(east), slope(north), slope(up)
    ground = np.hypot(ve, vn)
    track = np.unwrap(np.degrees(np.arctan2(ve, vn)), period=360.0)
    logged = _angle(telemetry, "position.track_deg", grid)
    if logged is not None and np.isfinite(logged).all():
        track = logged
    turn = np.radians(slope(track))
    speed = np.hypot(ground, vu)
    climb = np.degrees(np.arctan2(vu, np.maximum(ground, 0.1)))
    bank = np.degrees(np.arctan(ground * turn / g))
    bad = {
        CoreCode.NO_POSITION: ~np.isfinite(east + north + up),
        CoreCode.SLOW_FLIGHT: speed < SLOW_M_S,
        CoreCode.STEEP: np.abs(climb) > STEEP_DEG,
    }
    if "roll" not in known:
        bad[CoreCode.PULLS] = np.abs(slope(vu)) / g > MAX_VERTICAL_G
        bad[CoreCode.TIGHT_TURN] = np.abs(bank) > MAX_BANK_DEG
        rolls = _rolls(telemetry, grid, bank)
        if rolls is not None:
            bad[CoreCode.ROLLS] = rolls
    return (track, climb, bank), bad


def _rolls(telemetry: Telemetry, grid: FloatArray, bank_deg: FloatArray) -> npt.NDArray[np.bool_] | None:
    """Where stick or load say that the wings don't stand as the turn lets expect; ``None`` where neither is logged.

    A coordinated turn loads the wings with 1/cos φ; a roll, a pull or inverted flight loads them otherwise.
    """
    told: list[npt.NDArray[np.bool_]] = []
    if telemetry.has("control.aileron_percent"):
        stick = np.abs(telemetry.at("control.aileron_percent", grid, max_gap_s=MAX_GAP_S))
        told.append(np.nan_to_num(stick) > MAX_AILERON_PERCENT)
    if telemetry.has("motion.accel_z_m_s2"):
        load = telemetry.at("motion.accel_z_m_s2", grid, max_gap_s=MAX_GAP_S) / g
        # Sensors differ in sign, and some have gravity taken off; only one that shows 1 g upright tells the load.
        usual = float(np.nanmedian(load)) if np.isfinite(load).any() else 0.0
        if 0.7 < abs(usual) < 1.6:
            load = ndimage.uniform_filter1d(_filled(load) * np.sign(usual), 5)
            told.append(np.abs(load - 1 / np.cos(np.radians(bank_deg))) > MAX_LOAD_OFF_G)
    return ndimage.binary_dilation(np.logical_or.reduce(told), iterations=10) if told else None
