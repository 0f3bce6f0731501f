"""Where the aircraft is and which way up: one session's path from the pits round the sky and back to the pits.

Field frame: x east, y north, z up, metres, the pilot's feet at the origin, the runway along x at ``RUNWAY_Y_M``.
Every manoeuvre starts and ends at the same gate (in front of the pilot, heading along +x), so that they chain in
any order. A path flown in the other runway direction is the same path mirrored in x.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from msgspec import Struct
from scipy.ndimage import gaussian_filter1d

FloatArray = npt.NDArray[np.float64]

G_M_S2 = 9.80665
STEP_HZ = 50.0
RUNWAY_Y_M = 35.0
GATE_Y_M = 115.0
PITS_M = (6.0, 12.0)


class Flyer(Struct, frozen=True):
    """What the path needs to know of an aircraft: speeds in m/s, turn radius in m."""

    cruise_m_s: float
    approach_m_s: float
    touch_down_m_s: float
    turn_radius_m: float
    gate_height_m: float
    reach_m: float


class Clock(Struct, frozen=True):
    """When things happen on the ground, seconds: rest before start, start and idle, before shut-down, after it."""

    rest_s: float = 14.0
    start_and_idle_s: float = 78.0
    idle_after_s: float = 12.0
    cool_down_s: float = 85.0


class Motion(Struct, frozen=True):
    """The path on the model's 50 Hz grid; arrays of shape (n,) or (n, 3).

    ``body`` (n, 3, 3) holds the body axes (forward, right, down) as rows in the field frame. ``marks`` gives the
    instants of start, taxi, line-up, lift-off, gear up, gear down, touch-down, stop and shut-down.
    """

    time_s: FloatArray
    position_m: FloatArray
    velocity_m_s: FloatArray
    airspeed_m_s: FloatArray
    body: FloatArray
    load_factor: FloatArray
    roll_rate_deg_s: FloatArray
    throttle: FloatArray
    brake: FloatArray
    gear_down: npt.NDArray[np.bool_]
    flap: FloatArray
    marks: dict[str, float]


class Pen:
    """Draws the path as points a metre apart, each with its nominal up vector, speed, throttle and roll."""

    STEP_M = 1.0

    def __init__(self, x: float, y: float, z: float, forward: tuple[float, float, float]) -> None:
        self.position = np.array([x, y, z], float)
        self.forward = np.array(forward, float)
        self.up = np.array([0.0, 0.0, 1.0])
        self.parts: list[dict[str, FloatArray]] = []
        self.marks: list[tuple[str, int]] = []
        self.count = 0
        self._add(self.position[None, :], self.up[None, :], 1.0, 0.0, np.zeros(1), 0.0)

    def mark(self, name: str) -> None:
        """Remember this point by name."""
        self.marks.append((name, self.count - 1))

    def _add(
        self,
        points: FloatArray,
        up: FloatArray,
        speed: float | FloatArray,
        throttle: float | FloatArray,
        roll_deg: FloatArray,
        curvature: float,
        dwell_s: float = 0.0,
    ) -> None:
        n = len(points)
        dwell = np.zeros(n)
        dwell[-1] = dwell_s
        self.parts.append(
            {
                "points": points,
                "up": up,
                "speed": np.broadcast_to(np.asarray(speed, float), n),
                "throttle": np.broadcast_to(np.asarray(throttle, float), n),
                "roll": roll_deg,
                "curvature": np.full(n, curvature),
                "dwell": dwell,
            }
        )
        self.count += n
        self.position = points[-1]

    def wait(self, seconds: float, throttle: float = 0.0) -> None:
        """Stand still."""
        self._add(self.position[None, :], self.up[None, :], 1.0, throttle, np.zeros(1), 0.0, seconds)

    def straight(
        self,
        length: float,
        speed: float | tuple[float, float],
        throttle: float | tuple[float, float],
        climb: float = 0.0,
        rolls: float = 0.0,
    ) -> None:
        """Draw a line along the present direction; ``climb`` metres gained smoothly, ``rolls`` turns about the axis."""
        n = max(round(length / self.STEP_M), 2)
        u = np.arange(1, n + 1) / n
        smooth = u * u * (3 - 2 * u)
        points = self.position + np.outer(u * length, self.forward)
        points[:, 2] += climb * smooth
        v = np.interp(u, [0, 1], speed) if isinstance(speed, tuple) else speed
        t = np.interp(u, [0, 1], throttle) if isinstance(throttle, tuple) else throttle
        self._add(points, np.tile(self.up, (n, 1)), v, t, 360.0 * rolls * smooth, 0.0)

    def turn(self, radius: float, angle_deg: float, speed: float, throttle: float, climb: float = 0.0) -> None:
        """Draw a level (or gently climbing) turn; left is positive."""
        angle = np.radians(angle_deg)
        n = max(round(radius * abs(angle) / self.STEP_M), 4)
        a = angle * np.arange(1, n + 1) / n
        left = np.cross([0.0, 0.0, 1.0], self.forward)
        side = np.sign(angle) * left
        centre = self.position + radius * side
        b = np.abs(a)[:, None]
        points = centre - radius * side * np.cos(b) + radius * self.forward * np.sin(b)
        u = np.arange(1, n + 1) / n
        points[:, 2] += climb * u * u * (3 - 2 * u)
        self._add(points, np.tile(self.up, (n, 1)), speed, throttle, np.zeros(n), np.sign(angle) / radius)
        self.forward = self.forward * np.cos(angle) + left * np.sin(angle)

    def pull(self, radius: float, angle_deg: float, speed: float | tuple[float, float], throttle: float) -> None:
        """Pitch up through an arc in the plane of the present forward and up."""
        angle = np.radians(angle_deg)
        n = max(round(radius * angle / self.STEP_M), 4)
        u = np.arange(1, n + 1) / n
        a = (angle * u)[:, None]
        f, up = self.forward, self.up
        points = self.position + radius * (f * np.sin(a) + up * (1 - np.cos(a)))
        ups = up * np.cos(a) - f * np.sin(a)
        v = np.interp(u, [0, 1], speed) if isinstance(speed, tuple) else speed
        self._add(points, ups, v, throttle, np.zeros(n), 0.0)
        self.forward, self.up = f * np.cos(angle) + up * np.sin(angle), up * np.cos(angle) - f * np.sin(angle)

    def taxi(self, waypoints: list[tuple[float, float]], speed: float, throttle: float) -> None:
        """Drive through the waypoints."""
        for x, y in waypoints:
            leg = np.array([x, y, 0.0]) - self.position
            length = float(np.hypot(leg[0], leg[1]))
            self.forward = leg / length
            self.straight(length, speed, throttle)

    def seconds(self) -> float:
        """Time drawn so far."""
        return sum(float((self.STEP_M / np.maximum(p["speed"], 0.5)).sum() + p["dwell"].sum()) for p in self.parts)


def _circuit(pen: Pen, fly: Flyer, rng: np.random.Generator) -> None:
    leg, r, v = rng.uniform(60, 190), fly.turn_radius_m * rng.uniform(0.9, 1.25), fly.cruise_m_s
    high = rng.uniform(-15, 60)
    back = leg * 2
    pen.straight(leg, v, 0.55)
    pen.turn(r, 180, v * 0.95, 0.6, climb=high)
    pen.straight(back, v * 1.05, 0.5, rolls=float(rng.integers(0, 2)))
    pen.turn(r, 180, v * 0.95, 0.6, climb=-high)
    pen.straight(leg, v * 1.1, 0.6)


def _out_and_back(pen: Pen, fly: Flyer, rng: np.random.Generator) -> None:
    """Depart tail-on, come back nose-on."""
    r, v = fly.turn_radius_m * rng.uniform(0.8, 1.0), fly.cruise_m_s
    away, out = rng.uniform(58, 92), fly.reach_m * rng.uniform(0.55, 1.0)
    high = rng.uniform(5, 60)
    pen.turn(r, away, v * 0.9, 0.6)
    pen.straight(out, v, 0.6, climb=high)
    pen.turn(r, 180, v * 0.9, 0.6)
    pen.straight(out, v, 0.5, climb=-high)
    pen.turn(r, 180 - away, v * 0.9, 0.55)


def _orbit(pen: Pen, fly: Flyer, rng: np.random.Generator) -> None:
    high = rng.uniform(20, 70)
    r = fly.turn_radius_m * rng.uniform(1.0, 1.3)
    pen.turn(r, 360, fly.cruise_m_s * 0.9, 0.65, climb=high)
    pen.turn(r, 360, fly.cruise_m_s * 0.95, 0.45, climb=-high)


def _loop(pen: Pen, fly: Flyer, rng: np.random.Generator) -> None:
    v, r = fly.cruise_m_s, rng.uniform(50, 70)
    lead = rng.uniform(60, 120)
    pen.straight(lead, v * 1.1, 0.8)
    pen.pull(r, 180, (v * 1.1, v * 0.62), 0.95)
    pen.pull(r, 180, (v * 0.62, v * 1.1), 0.25)
    pen.straight(60, v, 0.5)
    pen.turn(fly.turn_radius_m, 180, v * 0.9, 0.6)
    pen.straight(2 * (lead + 60), v, 0.5)
    pen.turn(fly.turn_radius_m, 180, v * 0.9, 0.55)
    pen.straight(lead + 60, v, 0.55)


def _square_loop(pen: Pen, fly: Flyer, rng: np.random.Generator) -> None:
    """Fly two vertical lines, the way up with a full roll."""
    v, r, line = fly.cruise_m_s, 40.0, rng.uniform(70, 120)
    across = rng.uniform(90, 150)
    pen.straight(across / 2, v * 1.15, 0.9)
    pen.pull(r, 90, v * 1.05, 1.0)
    pen.straight(line, (v * 1.0, v * 0.65), 1.0, rolls=1.0)
    pen.pull(r, 90, v * 0.6, 0.8)
    pen.straight(across, (v * 0.62, v * 0.8), 0.5)
    pen.pull(r, 90, v * 0.75, 0.25)
    pen.straight(line, (v * 0.8, v * 1.1), 0.12)
    pen.pull(r, 90, v * 1.05, 0.4)
    pen.straight(across / 2, v, 0.55)


def _rolls(pen: Pen, fly: Flyer, rng: np.random.Generator) -> None:
    v = fly.cruise_m_s
    leg = rng.uniform(170, 230)
    pen.straight(leg * 0.4, v, 0.6)
    pen.straight(leg * 0.6, v, 0.6, rolls=1.0)
    pen.turn(fly.turn_radius_m, 180, v * 0.95, 0.6)
    pen.straight(leg, v, 0.55)
    pen.straight(leg, v, 0.55, rolls=float(rng.integers(1, 3)))
    pen.turn(fly.turn_radius_m, 180, v * 0.95, 0.6)
    pen.straight(leg, v, 0.55)


_PROGRAMME = (_circuit, _out_and_back, _loop, _out_and_back, _square_loop, _circuit, _rolls, _out_and_back, _orbit)


def _draw(fly: Flyer, clock: Clock, airborne_s: float, rng: np.random.Generator, gentle: bool) -> Pen:
    v = fly.cruise_m_s
    pen = Pen(*PITS_M, 0.0, (-1.0, 0.0, 0.0))
    pen.wait(clock.rest_s)
    pen.mark("engine_start")
    pen.wait(clock.start_and_idle_s)
    pen.mark("taxi")
    pen.taxi([(-15.0, 22.0), (-60.0, 29.0), (-125.0, 30.0), (-136.0, 35.0), (-130.0, RUNWAY_Y_M)], 3.6, 0.14)
    pen.forward = np.array([1.0, 0.0, 0.0])
    pen.wait(7.0, 0.1)
    pen.mark("line_up")
    roll = 150.0
    u = np.arange(1, int(roll) + 1) / roll
    lift = fly.touch_down_m_s * 1.15
    pen.straight(roll, (1.0, lift), 1.0)
    pen.parts[-1]["speed"] = np.maximum(lift * np.sqrt(u), 1.2)
    pen.mark("lift_off")
    pen.straight(150.0, (lift, v * 0.85), 1.0, climb=fly.gate_height_m * 0.45)
    pen.mark("gear_up")
    wide = fly.turn_radius_m + 40.0
    pen.turn(wide, 180, v * 0.9, 0.8, climb=fly.gate_height_m * 0.55)
    pen.straight(150.0 + 150.0 - 130.0, v, 0.6)
    pen.turn(fly.turn_radius_m, 180, v * 0.92, 0.6)
    programme = [f for f in _PROGRAMME if not (gentle and f in (_square_loop, _loop))]
    begun = pen.seconds()
    spin = int(rng.integers(0, len(programme)))
    while pen.seconds() - begun < airborne_s - 62.0:
        programme[spin % len(programme)](pen, fly, rng)
        spin += 1
    # Downwind, base and final with gear and flap.
    slow = fly.approach_m_s
    down = 240.0
    pen.straight(90.0, (v, v * 0.8), 0.25)
    pen.turn(fly.turn_radius_m, 180, v * 0.75, 0.35, climb=-fly.gate_height_m * 0.2)
    pen.mark("gear_down")
    pen.straight(down + 90.0 + 0.0, (v * 0.75, slow * 1.15), 0.25, climb=-fly.gate_height_m * 0.25)
    pen.turn(wide, 180, slow * 1.15, 0.32, climb=-fly.gate_height_m * 0.25)
    reach = -95.0 - float(pen.position[0])
    pen.straight(reach, (slow * 1.1, fly.touch_down_m_s), (0.3, 0.1), climb=-float(pen.position[2]))
    pen.mark("touch_down")
    u = np.arange(1, 221) / 220.0
    pen.straight(220.0, (fly.touch_down_m_s, 4.0), 0.0)
    pen.parts[-1]["speed"] = np.maximum(fly.touch_down_m_s * np.sqrt(1 - 0.98 * u), 3.6)
    pen.mark("taxi_back")
    pen.taxi([(132.0, 30.0), (60.0, 26.0), (20.0, 20.0), PITS_M], 3.6, 0.12)
    pen.mark("stop")
    pen.wait(clock.idle_after_s)
    pen.mark("shut_down")
    pen.wait(clock.cool_down_s)
    return pen


def _unit(v: FloatArray) -> FloatArray:
    return np.asarray(v / np.maximum(np.linalg.norm(v, axis=-1, keepdims=True), 1e-9))


def fly_session(
    fly: Flyer,
    clock: Clock,
    airborne_s: float,
    wind_m_s: tuple[float, float],
    mirrored: bool,
    rng: np.random.Generator,
    gentle: bool = False,
) -> Motion:
    """Fly one session and put it on the 50 Hz grid; ``wind_m_s`` (east, north) is where the air moves to.

    Take-off and landing go along +x, or along −x where ``mirrored``: mirror when the air moves along +x.
    """
    pen = _draw(fly, clock, airborne_s, rng, gentle)
    col = {k: np.concatenate([p[k] for p in pen.parts]) for k in pen.parts[0]}
    points = col["points"].copy()
    points[:, 2] = np.maximum(points[:, 2], 0.0)
    up, roll, curvature = col["up"].copy(), col["roll"].copy(), col["curvature"].copy()
    if mirrored:
        points[:, 0] *= -1
        up[:, 0] *= -1
        roll, curvature = -roll, -curvature
    ds = np.r_[0.0, np.linalg.norm(np.diff(points, axis=0), axis=1)]
    on_ground = points[:, 2] < 0.5
    speed = np.where(on_ground, col["speed"], gaussian_filter1d(np.asarray(col["speed"], float), 22.0))
    speed = gaussian_filter1d(np.maximum(speed, 0.8), 2.0)
    at = np.cumsum(ds / speed) + np.r_[0.0, np.cumsum(col["dwell"])[:-1]]
    at_after = at + col["dwell"]
    # Each point stands at its arrival and, after a wait, at its departure.
    t_key = np.c_[at, at_after].ravel()
    twice = np.repeat(np.arange(len(points)), 2)
    keep = np.r_[True, np.diff(t_key) > 1e-9]
    t_key, twice = t_key[keep], twice[keep]
    t = np.arange(0.0, t_key[-1], 1.0 / STEP_HZ)

    def on_grid(values: FloatArray, sigma_s: float) -> FloatArray:
        v = values[twice]
        flat = v[:, None] if v.ndim == 1 else v
        out = np.column_stack([np.interp(t, t_key, flat[:, i]) for i in range(flat.shape[1])])
        out = gaussian_filter1d(out, sigma_s * STEP_HZ, axis=0) if sigma_s else out
        return np.asarray(out[:, 0] if v.ndim == 1 else out)

    position = on_grid(points, 0.35)
    velocity = np.gradient(position, 1.0 / STEP_HZ, axis=0)
    acceleration = np.gradient(velocity, 1.0 / STEP_HZ, axis=0)
    ground_speed = np.linalg.norm(velocity, axis=1)
    wind = np.array([*wind_m_s, 0.0])
    airborne = gaussian_filter1d((position[:, 2] > 0.8).astype(float), 0.5 * STEP_HZ)
    air_velocity = velocity - wind * airborne[:, None]
    airspeed = np.linalg.norm(velocity - wind * np.clip(ground_speed / 20.0, 0, 1)[:, None], axis=1)

    tangent = _unit(on_grid(_unit(np.gradient(points, axis=0) + 1e-12), 0.5))
    blend = np.clip((ground_speed - 8.0) / 8.0, 0, 1)[:, None]
    forward = _unit(blend * _unit(air_velocity) + (1 - blend) * tangent)
    bank = np.degrees(np.arctan(speed**2 * curvature / G_M_S2)) * ~on_ground
    angle = np.radians(-bank + roll)  # positive turns right wing down
    nominal_forward = _unit(np.gradient(points, axis=0) + 1e-12)
    right = _unit(np.cross(nominal_forward, up))
    rolled_up = up * np.cos(angle)[:, None] + right * np.sin(angle)[:, None]
    upward = on_grid(rolled_up, 0.3)
    upward = _unit(upward - (upward * forward).sum(1, keepdims=True) * forward)
    # Angle of attack in proportion to load, inversely to speed squared.
    lift = acceleration + np.array([0.0, 0.0, G_M_S2])
    load = gaussian_filter1d((lift * upward).sum(1) / G_M_S2, 0.1 * STEP_HZ)
    alpha = np.radians(2.6) * load * (fly.cruise_m_s / np.maximum(airspeed, 12.0)) ** 2 * blend[:, 0]
    alpha = np.clip(alpha, -np.radians(6), np.radians(13))
    nose = forward * np.cos(alpha)[:, None] + upward * np.sin(alpha)[:, None]
    upward = upward * np.cos(alpha)[:, None] - forward * np.sin(alpha)[:, None]
    body = np.stack([nose, np.cross(nose, upward), -upward], axis=1)
    roll_now = np.unwrap(np.arctan2(-body[:, 1, 2], np.maximum(np.abs(upward[:, 2]), 1e-6) * np.sign(upward[:, 2])))
    roll_rate = np.clip(np.degrees(np.gradient(roll_now, 1.0 / STEP_HZ)), -400, 400)

    marks = {name: float(at[i] + (col["dwell"][i] if name != "stop" else 0.0)) for name, i in pen.marks}
    marks["end"] = float(t[-1])
    gear_down = (t < marks["gear_up"] + 0.8) | (t > marks["gear_down"] + 1.0)
    rolling = (t > marks["touch_down"] + 2.0) & (t < marks["taxi_back"])
    holding = (t > marks["line_up"] - 7.0) & (t < marks["line_up"])
    stopping = (t > marks["stop"] - 2.0) & (t < marks["shut_down"])
    brake = gaussian_filter1d(0.55 * rolling + 0.9 * holding + 0.5 * stopping, 0.15 * STEP_HZ)
    flap = np.where(t > marks["gear_down"], 0.8, np.where(t < marks["gear_up"], 0.35, 0.0))
    flap = gaussian_filter1d(np.where(t > marks["stop"] + 3, 0.0, flap), 0.6 * STEP_HZ)
    wander = gaussian_filter1d(rng.standard_normal(len(t)), 1.2 * STEP_HZ)
    wander *= 0.045 / wander.std()
    throttle = on_grid(np.asarray(col["throttle"], float), 0.35)
    flying = (t > marks["lift_off"] + 8) & (t < marks["touch_down"] - 8)
    throttle = np.clip(throttle + wander * flying, 0.0, 1.0)
    return Motion(t, position, velocity, airspeed, body, load, roll_rate, throttle, brake, gear_down, flap, marks)


def euler_deg(body: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Roll, pitch and heading (clockwise from north), degrees, of body axes given as rows in east-north-up."""
    forward, right, down = body[:, 0], body[:, 1], body[:, 2]
    heading = np.degrees(np.arctan2(forward[:, 0], forward[:, 1])) % 360.0
    pitch = np.degrees(np.arcsin(np.clip(forward[:, 2], -1, 1)))
    roll = np.degrees(np.arctan2(-right[:, 2], -down[:, 2]))
    return roll, pitch, heading
