"""What lies between a pack and the bus it shares: leads, plugs, a switch, a diode, or a regulator."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from msgspec import Struct
from scipy import ndimage

from analyser.core.figures import Z95, Figure, FloatArray, Method
from analyser.core.findings import Part, Text, say
from analyser.core.statistics.distributions import student_quantile
from analyser.core.statistics.robust import median, quantiles
from analyser.core.statistics.sampling import usual_step_s
from analyser.core.telemetry import Series
from analyser.packs.charge import SENSOR_ZERO_SE_A
from analyser.packs.codes import PackCode
from analyser.packs.state_of_charge import VOLTAGE_SCALE

LEAST_BUS_SHARE = 0.25
"""A bus whose voltage moves less than this share of its packs' is held by a regulator."""
FEWEST = 30
FEEDING_A = 0.2
LEAST_SPAN_A = 0.5
STEADY_A = 0.2
BLOCK_S = 10.0
"""Samples within so long resemble each other."""


class FeedPath(Struct, frozen=True):
    """The drop that does not grow with current, V, and the part that does, mΩ."""

    drop_v: Figure
    resistance_mohm: Figure

    @property
    def known(self) -> bool:
        """Whether both were told, so that the voltage on the bus follows from the pack's."""
        return self.drop_v.value is not None and self.resistance_mohm.value is not None

    def drop(self, amps: FloatArray) -> FloatArray:
        """Volts lost on the way at some currents; nought where the path is not known."""
        if not self.known:
            return np.zeros_like(amps)
        return max(self.drop_v.value or 0.0, 0.0) + max(self.resistance_mohm.value or 0.0, 0.0) / 1000.0 * amps

    def se_v(self, amps: float) -> float:
        """Standard error of that at one current, V."""
        if not self.known:
            return 0.0
        return float(np.hypot(self.drop_v.half_width, amps * self.resistance_mohm.half_width / 1000.0)) / Z95


def _steadiness(t: FloatArray, amps: FloatArray, step_s: float) -> FloatArray:
    """Weigh every sample: less where the current moves within a sampling step, for the three are not read together."""
    span = 2 * max(round(step_s / max(usual_step_s(t), 1e-6)), 1) + 1 if t.size > 1 else 3
    moved = ndimage.maximum_filter1d(amps, span) - ndimage.minimum_filter1d(amps, span)
    return np.asarray(1.0 / (1.0 + moved / STEADY_A), float)


def _line(a: FloatArray, y: FloatArray, block: npt.NDArray[np.intp]) -> tuple[FloatArray, FloatArray]:
    """Least squares of ``y`` (m,) over ``a`` (m, c), and half the 95 % interval of each parameter, both of shape (c,).

    The interval by leaving out one block of time after the other (``block`` never falls): samples of a block resemble
    each other, and those err most at which the current moves most.
    """
    first = np.flatnonzero(np.concatenate(([True], block[1:] != block[:-1])))
    both = np.vstack((a.T, y))
    blocks = np.moveaxis(np.add.reduceat(both[:, None] * both, first, axis=2), 2, 0)
    whole, n = blocks.sum(axis=0), first.size
    fit = np.linalg.solve(whole[:-1, :-1], whole[:-1, -1])
    rest = whole - blocks
    told = np.abs(np.linalg.det(rest[:, :-1, :-1])) > 1e-9 * abs(float(np.linalg.det(whole[:-1, :-1])))
    if told.sum() < 3:
        return fit, np.full(fit.size, np.inf)
    fits = np.linalg.solve(rest[told, :-1, :-1], rest[told, :-1, -1:])[:, :, 0]
    spread = np.sqrt((n - 1) / n * ((fits - fit) ** 2).sum(axis=0))
    return fit, np.asarray(student_quantile(0.975, n - 1) * spread, float)


def feed_path(role: str, pack: Series, current: Series, bus: Series | None) -> FeedPath:
    """Pack less bus voltage as a straight line over the pack's current."""
    drop_label = say(PackCode.PATH_DROP, pack=Part(f"pack.{role}"))
    ohm_label = say(PackCode.PATH_RESISTANCE, pack=Part(f"pack.{role}"))

    def cannot(why: Text) -> FeedPath:
        return FeedPath(Figure.unavailable(drop_label, "V", why), Figure.unavailable(ohm_label, "mΩ", why))

    if not pack or bus is None or pack.time_s.size < FEWEST or bus.time_s.size < FEWEST:
        return cannot(say(PackCode.NO_SHARED_BUS))
    t = pack.time_s
    shared = (t >= max(bus.time_s[0], current.time_s[0])) & (t <= min(bus.time_s[-1], current.time_s[-1]))
    t = t if shared.all() else t[shared]
    v, u, i = (s.at(t) for s in (pack, bus, current))
    weight = _steadiness(t, i, max(usual_step_s(s.time_s) for s in (pack, bus, current)))
    feeding = i > FEEDING_A
    if feeding.sum() < FEWEST or np.diff(quantiles(i[feeding], 0.02, 0.98)) < LEAST_SPAN_A:
        return cannot(say(PackCode.STEADY_CURRENT))
    v, u, i, weight = v[feeding], u[feeding], i[feeding], weight[feeding]
    if np.std(u) < LEAST_BUS_SHARE * np.std(v):
        how = say(PackCode.HELD_BY_REGULATOR)
        return FeedPath(
            Figure(drop_label, median(v - u), "V", Method.INTEGRATED, how=how, digits=2),
            Figure.unavailable(ohm_label, "mΩ", say(PackCode.REGULATOR_NO_OHM)),
        )
    a = np.column_stack([np.ones_like(i), i])
    aw = a * weight[:, None]
    p, half = _line(aw, (v - u) * weight, np.asarray(t[feeding] // BLOCK_S, np.intp))
    # Two voltage sensors of unknown scale feign a drop; the current sensor's scale comes in where the slope is shown.
    sensors_v = VOLTAGE_SCALE * median(v) * np.sqrt(2.0)
    half[0] = np.linalg.norm([half[0], sensors_v, Z95 * SENSOR_ZERO_SE_A * p[1]])
    at_nought = say(PackCode.LINE_AT_NOUGHT, samples=int(i.size))
    slope = say(PackCode.LINE_SLOPE, samples=int(i.size))
    return FeedPath(
        Figure.within(drop_label, float(p[0]), float(half[0]), "V", how=at_nought, digits=2).at_least(0.0),
        Figure.within(ohm_label, 1000.0 * float(p[1]), 1000.0 * float(half[1]), "mΩ", how=slope).at_least(0.0),
    )
