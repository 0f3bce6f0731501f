"""Motion of the stepwise simulator: a point mass with wind, drag and turbines, marched step by step under a pilot.

The equations are those of a point mass over flat ground (bank turns it, thrust less drag speeds it up), the turbine is
an inertia between fuel and load with an acceleration schedule, the liquid in the tank a damped pendulum. A pilot who
looks at waypoints closes the loop, so that every flight differs in course and power without any drawn curve.
"""

from __future__ import annotations

import math

import numpy as np
from msgspec import Struct

from tests.simulators.flight import FloatArray

DT = 0.05
G = 9.81
FIELDS = ("east", "north", "height", "speed", "heading", "bank", "pitch", "factor", "along", "shaft", "rising", "lit")


class Frame(Struct, frozen=True):
    """What the airframe and its turbine can do; the same for both engines of a twin.

    ``thrust_g`` is static thrust over weight, ``top`` the level speed at full power, m/s; ``spool_s`` the time
    constant of the shaft near full speed, ``idle`` its share there.
    """

    thrust_g: float
    top: float
    stall: float
    spool_s: float
    idle: float
    start_s: float


class Motion(Struct, frozen=True, eq=False):
    """The march's record on an even grid; ``lit`` is 0 before and after the run, 1 in it, between while it starts."""

    t: FloatArray
    of: dict[str, FloatArray]
    wind: FloatArray
    take_off_s: float
    touch_down_s: float
    light_s: float
    run_s: float
    shut_s: float


def march(frame: Frame, minutes: float, hard: float, rng: np.random.Generator) -> Motion:
    """Start, taxi, fly for so long, land, cool down."""
    wait = float(rng.uniform(4.0, 14.0))
    taxi_at = wait + frame.start_s + float(rng.uniform(8.0, 25.0))
    runway = float(rng.uniform(-8.0, 8.0)), float(rng.uniform(22.0, 35.0))
    side = 1.0 if rng.random() < 0.5 else -1.0
    blow = float(rng.uniform(0.0, 6.0))
    towards = float(rng.uniform(0.0, 2.0 * np.pi))
    horizon = int((taxi_at + 120.0 + 60.0 * minutes * 1.6 + 150.0) / DT)
    gust = _gusts(horizon, 0.18 * blow + 0.3, rng)
    nerves = _gusts(horizon, 0.02, rng)
    draws = iter(rng.uniform(0.0, 1.0, 4_000).tolist())
    cool = float(rng.uniform(20.0, 50.0))
    rotate = frame.stall * float(rng.uniform(1.08, 1.3))

    x, y, h, v = -25.0 * side, 8.0, 0.0, 0.0
    chi, phi, gamma, n = (0.0 if side > 0 else math.pi), 0.0, 0.0, 0.0
    stage, stage_at, leg_at = "wait", 0.0, 0.0
    aim = (0.0, 0.0, 50.0, 0.6)
    take_off = touch_down = shut = light = run = math.nan
    steep, lit = 0.0, 0.0
    drag_0 = frame.thrust_g * G * (1.0 - frame.top / 350.0) / frame.top**2
    rows: list[tuple[float, ...]] = []
    winds: list[tuple[float, float]] = []
    for k in range(horizon):
        t = k * DT
        wx = blow * math.cos(towards) + gust[k][0]
        wy = blow * math.sin(towards) + gust[k][1]
        want, flying = 0.0, h > 0.0
        # What the pilot does.
        if stage == "wait" and t >= wait:
            stage, light = "start", t
        elif stage == "start" and lit >= 1.0:
            stage, run = "stand", t
        elif stage == "stand" and t >= taxi_at:
            stage = "taxi"
        elif stage == "taxi" and (x * side < -85.0 or t > taxi_at + 60.0):
            stage, stage_at = "line up", t
        elif stage == "line up" and t > stage_at + 3.0 + 8.0 * frame.idle:
            stage = "roll"
        elif stage == "roll" and v > rotate:
            stage, take_off, leg_at = "fly", t, t
            h, aim = 0.02, (260.0 * side, 90.0, 45.0, 0.95)
        elif stage == "fly":
            if t > take_off + 60.0 * minutes - 32.0:
                stage, aim = "downwind", (-330.0 * side, 190.0, 55.0, 0.45)
                leg_at = t
            elif math.hypot(aim[0] - x, aim[1] - y) < 55.0 or t > leg_at + 13.0:
                far = (1.0 if aim[0] < 0 else -1.0) * (90.0 + 190.0 * next(draws))
                power = 0.5 + 0.33 * next(draws) if next(draws) > 0.25 + hard else 0.85 + 0.15 * next(draws)
                aim = far, 50.0 + 190.0 * next(draws), 25.0 + 110.0 * next(draws), power
                leg_at, steep = t, 0.7 + 0.55 * next(draws)
        elif stage == "downwind" and (math.hypot(aim[0] - x, aim[1] - y) < 60.0 or t > leg_at + 25.0):
            stage, aim, leg_at = "final", (0.0, runway[1], 0.0, 0.4), t
        elif stage in ("final", "downwind") and h <= 0.0:
            stage, touch_down = "roll out", t
        elif stage == "roll out" and v < 1.0:
            stage, stage_at = "cool", t
        elif stage == "cool" and t > stage_at + cool:
            stage, shut, stage_at = "off", t, t
        elif stage == "off" and t > stage_at + 14.0:
            break
        # Power.
        if stage == "start":
            lit = min((t - light) / frame.start_s, 1.0)
            want = frame.idle * (0.35 * min(lit / 0.3, 1.0) + 0.65 * max(lit - 0.4, 0.0) / 0.6)
        elif stage in ("roll",):
            want = 1.0
        elif stage == "fly":
            want = min(max(aim[3], 0.55 + 0.05 * (1.35 * frame.stall - v)), 1.0)
        elif stage in ("downwind", "final"):
            want = min(max(0.42 + 0.05 * (1.22 * frame.stall - v), frame.idle), 1.0)
        elif stage == "taxi":
            want = min(max(0.42 + 0.2 * (3.0 - v), frame.idle), 0.55)
        elif stage == "off":
            want = 0.0
        else:
            want = frame.idle
        if stage in ("fly", "downwind", "final", "roll") and want > frame.idle:
            want = min(max(want + nerves[k][0], frame.idle), 1.0)
        tau = frame.spool_s * (0.6 + 1.6 * (1.0 - n)) if stage != "off" else 4.0
        rising = min(max((want - n) / tau, -0.35), 0.22)
        n = max(n + DT * rising, 0.0)
        # Forces along the path; a point mass over flat ground.
        mach_loss = max(1.0 - v / 350.0, 0.0)
        thrust = frame.thrust_g * G * n**2.5 * mach_loss if n > 0.02 else 0.0
        factor = math.cos(gamma) / math.cos(phi) if flying else 1.0
        dirty = 2.2 if stage in ("downwind", "final", "roll out") else 1.0
        lift_drag = 0.05 * G * (factor * frame.stall / max(v, 0.6 * frame.stall)) ** 2 if flying else 0.0
        along = thrust - drag_0 * dirty * v * v - lift_drag - G * math.sin(gamma)
        if not flying:
            along -= 0.35 if v > 0.0 else 0.0
            if stage == "roll out":
                along -= 2.2
            elif stage in ("stand", "line up", "cool", "off", "start", "wait"):
                along = -v / 0.5
        v = max(v + DT * along, 0.0)
        # Course and bank.
        if flying:
            over = 40.0 if stage == "final" else 0.0
            bear = math.atan2(aim[1] - y - wy * 1.5, aim[0] + over * side - x - wx * 1.5)
            err = math.remainder(bear - chi, 2.0 * math.pi)
            most = steep if stage == "fly" else 0.75
            want_bank = min(max(1.6 * err, -most), most) if h > 4.0 else 0.0
            phi += DT * min(max((want_bank - phi) / 0.3, -2.5), 2.5) + 0.01 * nerves[k][1]
            chi += DT * G * math.tan(phi) / max(v, 0.7 * frame.stall)
            if stage == "final":
                gone = math.hypot(aim[0] - x, aim[1] - y)
                climb = -math.radians(7.0) if h > 2.5 else -math.radians(1.6)
                climb = 0.0 if h > 4.0 and h < gone * 0.09 else climb
            else:
                climb = min(max(0.02 * (aim[2] - h), -0.3), 0.4)
            gamma += DT * (climb - gamma) / 0.7
            h = h + DT * v * math.sin(gamma)
            if stage == "fly" and t > take_off + 4.0:
                h = max(h, 3.0)
            h = max(h, 0.0) if stage in ("final", "downwind") else max(h, 0.02)
            vx, vy = v * math.cos(gamma) * math.cos(chi) + wx, v * math.cos(gamma) * math.sin(chi) + wy
        else:
            phi, gamma = 0.9 * phi, 0.0
            if stage == "taxi":
                chi = math.atan2(runway[1] - y, -95.0 * side - x)
            elif stage in ("line up", "roll"):
                chi += DT * math.remainder((0.0 if side > 0 else math.pi) - chi, 2.0 * math.pi)
            vx, vy = v * math.cos(chi), v * math.sin(chi)
        x, y = x + DT * vx, y + DT * vy
        alpha = math.radians(2.0) + 0.09 * factor * (frame.stall / max(v, frame.stall)) ** 2 if flying else 0.02
        rows.append(
            (
                x,
                y,
                h,
                math.hypot(vx, vy),
                chi,
                phi,
                gamma + alpha,
                factor,
                along,
                n,
                rising,
                lit if math.isnan(shut) else 0.0,
            )
        )
        winds.append((wx, wy))
    if math.isnan(shut):
        raise RuntimeError(f"the flight never ended: {stage} at {h:.0f} m")
    table = np.array(rows)
    return Motion(
        np.arange(len(rows)) * DT,
        dict(zip(FIELDS, table.T, strict=True)),
        np.array(winds),
        take_off,
        touch_down,
        light,
        run,
        shut,
    )


def slosh(angle: FloatArray, hertz: float, damping: float) -> FloatArray:
    """The liquid's surface follows an angle as a damped pendulum does (semi-implicit steps), rad."""
    w = 2.0 * math.pi * hertz
    at, rate = 0.0, 0.0
    out = []
    for want in angle.tolist():
        rate += DT * (w * w * (want - at) - 2.0 * damping * w * rate)
        at += DT * rate
        out.append(at)
    return np.array(out)


def _gusts(n: int, sd: float, rng: np.random.Generator) -> list[list[float]]:
    """Two gust components: squared-exponential in time, about two seconds long, by smoothing white noise."""
    wide = int(3.0 / DT)
    kernel = np.exp(-0.5 * (np.arange(-wide, wide + 1) * DT / 1.2) ** 2)
    kernel /= np.sqrt((kernel**2).sum())
    both = [np.convolve(rng.normal(0.0, sd, n + 2 * wide), kernel, "valid") for _ in range(2)]
    return [list(pair) for pair in zip(both[0].tolist(), both[1].tolist(), strict=True)]
