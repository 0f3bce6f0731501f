"""One flight of a twin-engined jet, by rules of its own, and what else such a log may carry.

All rules are common practice, no source: a turbine's speed follows the stick with a lag of about two seconds, exhaust
gas is hot at the start and follows the speed after it, a pack sags with its current, signal falls with 20 log of
distance. None of them is taken from the importer or from another pool.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from scipy.signal import lfilter

from tests.importers.hands.flight import Floats

STEP_S = 0.5
ROWS = 640


def lagged(x: Floats, tau_s: float, start: float | None = None) -> Floats:
    """A quantity that follows another with a lag."""
    a = float(np.exp(-STEP_S / tau_s))
    first = float(x[0]) if start is None else start
    return np.asarray(lfilter([1.0 - a], [1.0, -a], x, zi=[a * first])[0])


def total(rate_per_s: Floats) -> Floats:
    """A rising total of a rate."""
    return np.concatenate([[0.0], np.cumsum(rate_per_s[1:] * STEP_S)])


def const(value: float) -> Floats:
    """A column that never changes."""
    return np.full(ROWS, float(value))


def highest(x: Floats) -> Floats:
    """The highest so far."""
    return np.asarray(np.maximum.accumulate(x))


def lowest(x: Floats) -> Floats:
    """The lowest so far."""
    return np.asarray(np.minimum.accumulate(x))


def mean_so_far(x: Floats) -> Floats:
    """The mean of all rows so far."""
    return np.asarray(np.cumsum(x) / np.arange(1, x.size + 1))


def change(x: Floats, per_s: float = 1.0) -> Floats:
    """How fast a quantity changes."""
    return np.asarray(np.gradient(x, STEP_S) * per_s)


def flawed(x: Floats, value: float, every: int = 9) -> Floats:
    """Some cells replaced by a number that means nothing was read."""
    out = x.copy()
    out[::every] = value
    return out


def steps(*values: float) -> Floats:
    """A few levels, one after the other."""
    return np.asarray(np.repeat(values, -(-ROWS // len(values)))[:ROWS], dtype=float)


def _noise(rng: np.random.Generator, size: float, tau_s: float = 0.0) -> Floats:
    x = rng.normal(0.0, size, ROWS)
    return lagged(x, tau_s, 0.0) * float(np.sqrt(2 * tau_s / STEP_S)) if tau_s else x


@cache
def flight(seed: int) -> dict[str, Floats]:
    """Every signal of one flight, in canonical units, by its short name."""
    rng = np.random.default_rng([seed, 611])
    n = ROWS
    t = np.arange(n) * STEP_S
    w: dict[str, Floats] = {"t": t, "row": np.arange(n, dtype=float)}
    up, off = t > 62.0, t > 292.0  # airborne from 62 s, engine off at 292 s
    air = up & (t < 262.0)
    wander = np.clip(62.0 + _noise(rng, 20.0, 7.0), 18.0, 100.0)
    stick = np.where(air, wander, np.where((t > 52) & (t <= 62), 100.0, 0.0))
    stick = np.where((t > 244) & air, 12.0, stick)
    w["thr"] = np.round(np.where(off, 0.0, stick), 1)
    for k, (s, top) in {"": (1.0, 118e3), "_l": (1.0, 118e3), "_r": (0.985, 118e3)}.items():
        aim = np.where(
            t < 12, 0.0, np.where(t < 30, 34e3 * (t - 12) / 18, 34e3 + (top - 34e3) * (w["thr"] / 100) ** 0.6)
        )
        rpm = np.maximum(lagged(np.where(off, 0.0, aim * s), 1.9, 0.0) + _noise(rng, 130.0) * (t > 13), 0.0)
        w["rpm" + k] = np.round(rpm, -1)
        light = 260.0 * np.exp(-(((t - 22.0) / 5.0) ** 2))
        hot = np.where(t < 14, 19.0, np.where(off, 60.0, 455.0 + 215.0 * (rpm / top) ** 2)) * (1 if k != "_r" else 1.02)
        w["egt" + k] = np.round(lagged(hot + light * (t > 14), 4.0, 19.0) + _noise(rng, 2.0), 0)
        w["flow" + k] = np.round(
            np.where(rpm > 20e3, 55.0 + 520.0 * (rpm / top) ** 2.6, 0.0) + _noise(rng, 2.0) * (rpm > 20e3), 1
        )
        w["pump_pct" + k] = np.round(np.where(rpm > 15e3, 14.0 + 52.0 * (rpm / top) ** 2, 0.0), 1)
        w["pump_v" + k] = np.round(np.where(rpm > 15e3, 0.9 + 3.4 * (rpm / top) ** 2, 0.0) + _noise(rng, 0.02), 2)
    for k, size in {"": 3600.0, "_l": 2100.0, "_r": 2150.0}.items():
        used = total(w["flow" + k] / 60.0)
        w["used" + k] = np.round(used, 1)
        w["rem" + k] = np.round(size - used, 1)
        w["pct" + k] = np.round(100.0 * (size - used) / size, 1)
    for k, (full, cells, r, base, vary) in {
        "1": (8.30, 2, 0.055, 0.7, 1.6), "2": (8.26, 2, 0.060, 0.6, 1.4), "e": (12.45, 3, 0.05, 0.4, 0.3),
        "6": (25.0, 6, 0.02, 3.0, 30.0),
    }.items():  # fmt: skip
        load = np.abs(_noise(rng, vary, 0.6)) * (0.3 + 0.7 * air)
        i = np.round(base + load + (w["pump_v"] * 0.9 if k == "e" else 0.0), 2)
        mah = total(i / 3.6)
        rest = full - 0.10 * cells * mah / 400.0
        w["i" + k], w["mah" + k] = i, np.round(mah, 0)
        w["v" + k] = np.round(rest - r * i + _noise(rng, 0.004), 3)
        for c in range(cells):
            w[f"c{k}{c + 1}"] = np.round((rest - r * i) / cells + 0.012 * (c - 0.5) + _noise(rng, 0.002), 3)
    w["i"] = np.round(w["i1"] + w["i2"], 2)
    w["vb"] = np.round(6.02 - 0.012 * w["i"] + _noise(rng, 0.004), 3)
    w["tp"] = np.round(21.0 + 9.0 * (1 - np.exp(-t / 200.0)), 1)
    aim = np.where((t > 52) & (t <= 62), 24.0, np.where((t >= 262) & (t < 275), 9.0, 0.0))
    round_s = total(lagged(np.where(air, 32.0 + 0.45 * w["thr"], aim), 3.0, 0.0))
    turn = round_s / 250.0 + 0.25 * np.sin(round_s / 610.0)
    e, nn = 280.0 * np.sin(turn) + 25.0, 190.0 * (1.0 - np.cos(turn)) * (1.0 + 0.2 * np.sin(turn / 3.1)) - 12.0
    ve, vn = np.gradient(e, STEP_S), np.gradient(nn, STEP_S)
    v = np.hypot(ve, vn)
    w["gs"] = np.round(v, 2)
    w["trk"] = np.round(np.degrees(np.arctan2(ve, vn)) % 360.0, 1)
    w["hdg"] = np.round((w["trk"] + 3.0 + _noise(rng, 1.0)) % 360.0, 1)
    h = np.where(air, np.clip((t - 62.0) * 7.0, 0.0, 95.0) + _noise(rng, 22.0, 9.0), 0.0)
    h = np.where(air, np.clip(h * np.clip((262.0 - t) / 22.0, 0.0, 1.0), 0.0, 190.0), 0.0)
    h = lagged(h, 1.6, 0.0)
    w["h"] = np.round(h, 1)
    w["alt"] = np.round(h + 288.0, 1)
    w["palt"] = np.round(h + 301.0 + _noise(rng, 0.3), 1)
    w["lat"] = np.round(46.8123 + nn / 111_190.0, 7)
    w["lon"] = np.round(9.4431 + e / (111_190.0 * float(np.cos(np.radians(46.8123)))), 7)
    w["sats"] = np.clip(np.round(13 + _noise(rng, 1.2, 20.0)), 8, 20)
    w["vario"] = np.round(np.gradient(h, STEP_S), 2)
    w["asp"] = np.round(np.maximum(v + 2.0 * np.sin(turn) * air + _noise(rng, 0.3), 0.0), 2)
    w["roll"] = np.round(np.where(air, np.clip(_noise(rng, 26.0, 3.0), -85, 85), 0.4), 1)
    w["pitch"] = np.round(np.where(air, np.clip(4.0 + _noise(rng, 9.0, 3.0), -50, 60), 1.2), 1)
    w["ax"], w["ay"] = np.round(_noise(rng, 1.5, 1.0), 2), np.round(_noise(rng, 1.2, 1.0), 2)
    w["az"] = np.round(-9.81 / np.cos(np.radians(w["roll"] * 0.8)) + _noise(rng, 0.4), 2)
    w["tamb"] = np.round(18.6 - 0.0065 * h + _noise(rng, 0.05), 1)
    w["press"] = np.round(101325.0 * (1 - 2.25577e-5 * w["palt"]) ** 5.25588, 0)  # from memory: standard atmosphere
    far = np.hypot(np.hypot(e, nn), h) + 12.0
    for k, extra in {"a": 0.0, "b": -3.0, "c": -5.0, "d": -2.0}.items():
        w["r" + k] = np.round(-34.0 - 20.0 * np.log10(far / 12.0) + extra + _noise(rng, 3.0, 1.5), 0)
    w["lq"] = np.clip(np.round(100.0 - np.maximum(-72.0 - w["ra"], 0) * 1.5 - (rng.random(n) < 0.05) * 3), 0, 100)
    w["sig"] = np.clip(np.round(150.0 + 1.2 * w["ra"]), 0, 100)
    w["lost"] = np.cumsum(rng.poisson(np.where(w["ra"] < -66, 0.5, 0.02))).astype(float)
    w["lost_b"] = np.cumsum(rng.poisson(np.where(w["rb"] < -66, 0.6, 0.03))).astype(float)
    w["fs"] = ((t > 170) & (t < 171)).astype(float)
    w["down"], w["down_pct"] = np.round(w["ra"] - 9.0 + _noise(rng, 1.0)), np.clip(np.round(w["sig"] - 12.0), 0, 100)
    w["ail"] = np.round(np.clip(_noise(rng, 22.0, 0.8) * (t > 40), -100, 100), 0)
    w["ele"] = np.round(np.clip(_noise(rng, 17.0, 0.8) * (t > 40), -100, 100), 0)
    w["rud"] = np.round(np.clip(_noise(rng, 10.0, 0.8) * (t > 40), -100, 100), 0)
    w["flap"] = steps(0, 50, 0, 0, 0, 50, 100, 0)
    w["brake"] = np.round(np.where((t > 264) & (t < 276), 60.0 + _noise(rng, 10.0, 1.0), 0.0), 0)
    w["gear"] = ((t < 70) | (t > 235)).astype(float)
    # Other systems of the aircraft, the field and the computer: none of them is a channel.
    w["servo_a"] = np.round(np.abs(_noise(rng, 0.5, 0.4)) + 0.05, 2)
    w["servo_us"] = np.round(1500.0 + 4.0 * w["ail"])
    w["servo_t"] = np.round(24.0 + 14.0 * (1 - np.exp(-t / 120.0)) + _noise(rng, 0.2), 1)
    w["gain"] = np.round(np.clip(72.0 - 0.4 * v, 30.0, 72.0))
    w["rate"] = np.round(_noise(rng, 25.0, 0.6) * (1 + 0 * t), 1)
    w["glow_v"], w["glow_a"] = np.round(1.45 * ((t > 14) & (t < 24)), 2), np.round(3.1 * ((t > 14) & (t < 24)) + 0.0, 2)
    w["start_v"] = np.round(7.2 * ((t > 12) & (t < 26)) * np.clip((t - 11) / 8, 0, 1), 2)
    w["start_a"] = np.round(np.where((t > 12) & (t < 26), 14.0 - 0.4 * (t - 12), 0.0), 2)
    w["gnd_v"] = np.round(12.61 - t / 2400.0 + _noise(rng, 0.004), 2)
    w["tx_v"] = np.round(7.86 - t / 5200.0 + _noise(rng, 0.003), 2)
    w["cam_v"] = np.round(8.21 - t / 900.0 + _noise(rng, 0.004), 2)
    w["vtx_t"] = np.round(31.0 + 37.0 * (1 - np.exp(-t / 90.0)) + _noise(rng, 0.3), 1)
    w["vtx_r"] = np.round(-40.0 - 20.0 * np.log10(far / 12.0) + _noise(rng, 2.0, 1.5), 0)
    w["smoke_pct"] = np.where((t > 100) & (t < 160) | (t > 190) & (t < 220), 80.0, 0.0)
    w["smoke_ml"] = np.round(1200.0 - total(w["smoke_pct"] / 100.0 * 6.0), 0)
    w["smoke_flow"] = np.round(w["smoke_pct"] / 100.0 * 360.0, 0)
    w["bay_t"] = np.round(22.0 + lagged(0.035 * w["egt"], 40.0, 0.6) + _noise(rng, 0.1), 1)
    w["inlet_t"] = np.round(w["tamb"] + 1.4 + _noise(rng, 0.1), 1)
    w["oil_t"] = np.round(19.0 + lagged(np.where(w["rpm"] > 2e4, 62.0, 0.0), 60.0, 0.0), 1)
    w["esc_t"] = np.round(23.0 + lagged(w["i6"] * 0.8, 50.0, 0.0), 1)
    w["fan"] = np.round(np.where(w["thr"] > 2, 4000.0 + 380.0 * w["thr"], 0.0), -1)
    w["prop"] = np.round(np.where(w["thr"] > 2, 900.0 + 62.0 * w["thr"], 0.0), 0)
    w["cpu"] = np.clip(np.round(38.0 + _noise(rng, 6.0, 2.0)), 5, 99)
    w["box_p"] = np.round(98_400.0 + 140.0 * np.sin(t / 40.0), 0)
    w["tank_kpa"] = np.round(np.where(w["rpm"] > 2e4, 6.5, 0.0) + _noise(rng, 0.1), 2)
    w["vib"] = np.round(np.where(w["rpm"] > 1e4, 0.3 + 0.5 * w["rpm"] / 118e3, 0.02) + np.abs(_noise(rng, 0.04)), 3)
    w["thrust"] = np.round(160.0 * (w["rpm"] / 118e3) ** 3.3, 1)
    w["noise"] = np.round(rng.normal(0.0, 1.0, n), 3)
    return w
