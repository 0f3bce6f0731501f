"""One session on the model's 50 Hz grid: the path, the engines, the packs and the radio played together."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from msgspec import Struct, field
from scipy.ndimage import gaussian_filter1d

from sample_logs.generator.electric import PackState, PackTrace, discharge, share
from sample_logs.generator.path import STEP_HZ, Clock, Flyer, Motion, fly_session
from sample_logs.generator.radio import Aerial, Heard, Link, hear
from sample_logs.generator.turbine import EngineState, EngineTrace, run

FloatArray = npt.NDArray[np.float64]

STEP_S = 1.0 / STEP_HZ
PILOT_HEIGHT_M = 1.7
FAILSAFE_AFTER_S = 0.9


class Loads(Struct, frozen=True):
    """What the receiver bus draws, A: always, per unit of surface work, and the gear's surges."""

    idle_a: float
    work_a: float
    gear_up_a: float
    gear_down_a: float
    brake_a: float
    gear_s: float = 0.9


class Interference(Struct, frozen=True):
    """Noise beside one receiver, for ``seconds``, while the aircraft is farthest away and tail-on."""

    receiver: str
    seconds: float
    rise_db: float


class Plan(Struct, frozen=True):
    """One flight as the scenario wants it."""

    seed: int
    flyer: Flyer
    clock: Clock
    airborne_s: float
    wind_m_s: tuple[float, float]
    mirrored: bool
    gentle: bool
    air_c: float
    engines: tuple[EngineState, ...]
    loads: Loads
    receiver_packs: tuple[PackState, ...]
    engine_packs: tuple[PackState, ...]
    aerials: tuple[Aerial, ...]
    link: Link = field(default_factory=Link)
    interference: Interference | None = None


class Session(Struct, frozen=True):
    """What really happened; every array has one value a grid instant unless said otherwise."""

    motion: Motion
    engines: dict[str, EngineTrace]
    packs: dict[str, PackTrace]
    bus_v: FloatArray
    load_a: FloatArray
    range_m: FloatArray
    seen: FloatArray
    heard: dict[tuple[str, int], Heard]
    frame_of: npt.NDArray[np.int64]
    lost: dict[str, FloatArray]
    failsafe: dict[str, npt.NDArray[np.bool_]]
    surfaces: dict[str, FloatArray]


def play(plan: Plan) -> Session:
    """Play one flight."""
    rng = np.random.default_rng(plan.seed)
    motion = fly_session(plan.flyer, plan.clock, plan.airborne_s, plan.wind_m_s, plan.mirrored, rng, gentle=plan.gentle)
    t = motion.time_s
    engines = {
        e.name: run(e, t, motion.throttle, motion.marks["engine_start"], motion.marks["shut_down"], plan.air_c, rng)
        for e in plan.engines
    }
    surfaces = _surfaces(motion, rng)
    load = _load(plan.loads, motion, surfaces, rng)
    packs: dict[str, PackTrace] = {}
    if len(plan.receiver_packs) == 2:
        both, bus = share((plan.receiver_packs[0], plan.receiver_packs[1]), load, STEP_S, plan.air_c)
        packs = {"rx1": both[0], "rx2": both[1]}
    else:
        only = discharge(plan.receiver_packs[0], load, STEP_S, plan.air_c)
        packs = {"rx1": only}
        bus = only.voltage_v - load * plan.receiver_packs[0].lead_ohm
    for engine, pack in zip(plan.engines, plan.engine_packs, strict=True):
        role = "ecu" if len(plan.engines) == 1 else f"ecu_{engine.name}"
        packs[role] = discharge(pack, engines[engine.name].pack_current_a, STEP_S, plan.air_c)
    to_pilot = np.array([0.0, 0.0, PILOT_HEIGHT_M]) - motion.position_m
    distance = np.linalg.norm(to_pilot, axis=1)
    seen = np.einsum("nij,nj->ni", motion.body, to_pilot / distance[:, None])
    heard, frame_of, lost, failsafe = _radio(plan, motion, seen, distance, rng)
    return Session(motion, engines, packs, bus, load, distance, seen, heard, frame_of, lost, failsafe, surfaces)


def _surfaces(motion: Motion, rng: np.random.Generator) -> dict[str, FloatArray]:
    """Stick positions in percent, from what the airframe did."""
    n = len(motion.time_s)

    def jitter(size: float) -> FloatArray:
        w = gaussian_filter1d(rng.standard_normal(n), 0.12 * STEP_HZ)
        return np.asarray(size * w / w.std())

    moving = np.clip(motion.airspeed_m_s / 20.0, 0, 1)
    turn = np.gradient(np.unwrap(np.arctan2(motion.velocity_m_s[:, 0], motion.velocity_m_s[:, 1])), STEP_S)
    return {
        "aileron": np.clip(motion.roll_rate_deg_s / 3.2 + jitter(5.0) * moving, -100, 100),
        "elevator": np.clip((motion.load_factor - 1.0) * 14.0 * moving + jitter(4.0) * moving, -100, 100),
        "rudder": np.clip(np.degrees(turn) * 0.8 * (1 - moving) + jitter(3.0) * moving, -100, 100),
    }


def _load(loads: Loads, motion: Motion, surfaces: dict[str, FloatArray], rng: np.random.Generator) -> FloatArray:
    t = motion.time_s
    work = sum(np.abs(np.gradient(s, STEP_S)) / 400.0 + np.abs(s) / 90.0 for s in surfaces.values())
    air = np.clip(motion.airspeed_m_s / 45.0, 0, 1.4) ** 2
    bursts = gaussian_filter1d(rng.exponential(1.0, len(t)), 0.05 * STEP_HZ)
    # Servos together can't draw more than their regulators give.
    load = loads.idle_a + np.minimum(loads.work_a * work * (0.25 + air) * bursts, loads.work_a)
    for mark, size in (("gear_up", loads.gear_up_a), ("gear_down", loads.gear_down_a)):
        since = t - motion.marks[mark]
        inside = (since >= 0) & (since < loads.gear_s)
        load = load + np.where(inside, size * (0.85 + 0.15 * np.exp(-np.maximum(since, 0) / 0.15)), 0.0)
    return np.asarray(load + loads.brake_a * motion.brake)


def _radio(
    plan: Plan, motion: Motion, seen: FloatArray, distance: FloatArray, rng: np.random.Generator
) -> tuple[
    dict[tuple[str, int], Heard],
    npt.NDArray[np.int64],
    dict[str, FloatArray],
    dict[str, npt.NDArray[np.bool_]],
]:
    t = motion.time_s
    frames = np.arange(0.0, t[-1], 1.0 / plan.link.frame_rate_hz)
    at = np.minimum(np.round(frames * STEP_HZ).astype(int), len(t) - 1)
    # A shared noise rise now and then: another transmitter in the pits, felt by every antenna at once.
    rise = gaussian_filter1d(rng.exponential(1.0, len(frames)), 20) * 1.2
    noise = dict.fromkeys((a.receiver for a in plan.aerials), rise)
    if plan.interference is not None:
        tail_on = seen[at, 0] < -0.9
        begins = frames[np.where(tail_on, distance[at], 0.0).argmax()]
        local = (frames >= begins) & (frames < begins + plan.interference.seconds)
        noise[plan.interference.receiver] = rise + plan.interference.rise_db * local
    heard = {
        (a.receiver, a.number): hear(a, plan.link, seen[at], distance[at], noise[a.receiver], rng) for a in plan.aerials
    }
    lost: dict[str, FloatArray] = {}
    failsafe: dict[str, npt.NDArray[np.bool_]] = {}
    for receiver in dict.fromkeys(a.receiver for a in plan.aerials):
        all_lost = np.logical_and.reduce([h.lost for (r, _), h in heard.items() if r == receiver])
        lost[receiver] = np.cumsum(all_lost).astype(float)
        hold = round(FAILSAFE_AFTER_S * plan.link.frame_rate_hz)
        run_of = np.convolve(all_lost, np.ones(hold), "full")[: len(all_lost)]
        failsafe[receiver] = run_of >= hold
    frame_of = np.minimum((t * plan.link.frame_rate_hz).astype(np.int64), len(frames) - 1)
    return heard, frame_of, lost, failsafe
