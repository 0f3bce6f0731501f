"""A tank's burn shared out: by phase of the flight, and by band of power."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np
import numpy.typing as npt
from msgspec import Struct
from msgspec.structs import replace

from analyser.core.aircraft import Engine
from analyser.core.figures import Z95, Figure, FloatArray, Method, Missing
from analyser.core.findings import Finding, Text, say
from analyser.core.phases import Phase, PhaseName, Phases
from analyser.core.telemetry import Telemetry
from analyser.fuel.burn import TankBurn
from analyser.fuel.codes import FuelCode

EDGES_PERCENT = (0.0, 20.0, 40.0, 60.0, 80.0, 101.0)
SHORTEST_BAND_S = 5
EDGE = 1.0
"""How unsure a second's averaged power is against a band's edge, percent of full: what other weights of a quarter
minute's average make of it near a peak (common practice, no source)."""
LONGEST_HOLE_S = 15.0
"""Over longer holes no power is read: a quarter minute, over which it is averaged."""
SHORTEST_RATE_MIN = 0.05
RUNNING = tuple(p for p in PhaseName if p not in (PhaseName.BEFORE_START, PhaseName.COOL_DOWN, PhaseName.AFTER))


class PhaseBurn(Struct, frozen=True):
    """Burn of one tank in one phase, or in one band of power.

    ``name`` tells it from its neighbours, ``title`` says it; ``by_sensor`` is the volume by the sensor, half its 95 %
    interval (mL) and that of the rate (mL/min), which the figures set right by the sensor's scale come from.
    """

    name: str
    title: Text
    minutes: Figure
    burned: Figure
    rate: Figure
    by_sensor: tuple[float, float, float]

    @classmethod
    def of(cls, tank: str, title: tuple[str, Text], minutes: float, by_sensor: tuple[float, float, float]) -> PhaseBurn:
        """Make one whose burn :meth:`scaled` works out. ``title`` is the name and its words."""
        name, words = title
        time = Figure(
            say(FuelCode.PART_TIME, part=words), minutes, "min", Method.INTEGRATED, how=say(FuelCode.LOG_CLOCK),
            digits=2,
        )  # fmt: skip
        burned, rate = (
            Figure.unavailable(say(label, tank=tank, part=words), unit, say(FuelCode.NO_FUEL))
            for label, unit in ((FuelCode.PART_BURNED, "mL"), (FuelCode.PART_RATE, "mL/min"))
        )
        return cls(name, words, time, burned, rate, by_sensor=by_sensor)

    def scaled(self, factor: Figure, how: Text) -> PhaseBurn:
        """The same, set right by the sensor's scale; ``how`` that tells it. There is no rate of a few seconds."""
        minutes, (volume, half, rate_half) = self.minutes.value or 0.0, self.by_sensor

        def right(old: Figure, value: float, half: float, digits: int) -> Figure:
            low, high = max(value - half, 0.0), value + half
            read = Figure(old.label, value, old.unit, Method.ESTIMATED, low=low, high=high)
            made = read.times(factor, old.label, old.unit, how=how, digits=digits)
            # Nothing was burned backwards.
            return made.set_to(made.value, None if made.low is None else max(made.low, 0.0), made.high)

        burned = right(self.burned, volume, half, 0)
        if minutes > SHORTEST_RATE_MIN:
            rate = right(self.rate, volume / minutes, rate_half, 1)
        else:
            rate = Figure.unavailable(self.rate.label, self.rate.unit, say(FuelCode.TOO_SHORT))
        doubts = self.burned.doubts
        return replace(self, burned=burned.with_doubt(*doubts), rate=rate.with_doubt(*doubts))

    def marked(self, mark: Callable[[Figure], Figure]) -> PhaseBurn:
        """The same with every figure that rests on the fuel sensor passed through ``mark``."""
        return replace(self, burned=mark(self.burned), rate=mark(self.rate))


def phase_burns(burn: TankBurn, phases: Phases) -> Iterator[PhaseBurn]:
    """One tank's burn in every phase that the flight has, by the sensor."""
    if not phases.phases:
        return
    names, spans, which = phases.by_name()
    start_s, end_s = spans.T
    each = (end_s - start_s) / 60.0, burn.smooth.between(start_s, end_s), burn.halves(start_s, end_s) ** 2
    minutes, volumes, squares = (np.bincount(which, x) for x in each)
    by_sensor = np.stack((volumes, np.sqrt(squares), np.sqrt(squares) / np.maximum(minutes, 1e-9)), axis=1)
    for phase, long, told in zip(names, minutes.tolist(), by_sensor.tolist(), strict=True):
        title = phase.value, say(FuelCode.PHASE, phase=phase.value)
        yield PhaseBurn.of(burn.name, title, long, tuple(told))


def band_burns(
    burn: TankBurn, engine: str, described: Engine | None, telemetry: Telemetry, phases: tuple[Phase, ...]
) -> tuple[tuple[PhaseBurn, ...], Missing | None]:
    """One tank's burn by band of power over the time in which its engine ran, by the sensor.

    Returns
    -------
    tuple of PhaseBurn
        Bands of shaft speed, throttle or pump drive in which the engine spent at least five seconds.
    Missing or None
        What would supply them.
    """
    smooth = burn.smooth
    share, what, blind = _power(engine, described, telemetry, burn)
    if share is None or what is None:
        return (), Missing(
            f"fuel.{burn.name}", say(FuelCode.POWER), say(FuelCode.BANDS, tank=burn.name), say(FuelCode.LOG_POWER)
        )
    runs = np.zeros(share.size, bool)
    for p in phases:
        if p.name in RUNNING:
            runs |= (smooth.time_s >= p.start_s) & (smooth.time_s <= p.end_s)

    def between(low: FloatArray, high: FloatArray) -> npt.NDArray[np.bool_]:
        """Seconds run between some powers, shape (..., n)."""
        return runs & (share >= low[..., None]) & (share < high[..., None])

    rate, lows, highs = smooth.rate_per_s, np.array(EDGES_PERCENT[:-1]), np.array(EDGES_PERCENT[1:])
    inside = between(lows, highs)
    seconds, volume = inside.sum(axis=1), inside @ rate
    some = np.flatnonzero(seconds >= SHORTEST_BAND_S)
    lows, highs, inside, seconds, volume = lows[some], highs[some], inside[some], seconds[some], volume[some]
    whole = max(burn.volume(smooth.time_s[0], smooth.time_s[-1]), 1e-9)
    common = Z95 * burn.common_se(smooth.time_s[0], smooth.time_s[-1]) / whole
    # What was burned while nobody read the power may belong to a band beside.
    unseen = 0.5 * ((between(lows - 20.0, highs + 20.0) & blind) @ rate)
    # A gauge that leans while the power changes is off wherever the band is entered and left.
    crossings = [np.unique(np.flatnonzero(np.diff(each)) // smooth.window).size for each in inside]
    leaning = Z95 * burn.lean_se * np.sqrt(crossings)
    # Rates within a window share their error: of so many seconds, one in a window's length is independent.
    scatter = Z95 * smooth.rate_se * np.sqrt(seconds * smooth.window)
    noise = np.linalg.norm([scatter, common * volume, unseen, leaning], axis=0)
    # Burn and power are averaged over seconds: near a band's edge it is not sure which band a second belongs to.
    # Its two edges may be off either way; moved together, what one takes the other would give back.
    one_way = np.array([-EDGE, EDGE])[:, None]
    moved = np.stack([between(lows + one_way, highs), between(lows, highs + one_way)])
    count, shifted = moved.sum(axis=-1), moved @ rate
    mean = volume / seconds
    off = np.linalg.norm(np.abs(shifted - volume).max(axis=1), axis=0)
    means = np.where(count > 0, shifted / np.maximum(count, 1), mean)
    off_rate = np.linalg.norm(np.abs(means - mean).max(axis=1), axis=0)
    by_sensor = np.stack((volume, np.hypot(noise, off), 60.0 * np.hypot(noise / seconds, off_rate)), axis=1)
    out = []
    for low, high, long, told in zip(lows.tolist(), highs.tolist(), seconds.tolist(), by_sensor.tolist(), strict=True):
        title = f"{low:.0f}-{min(high, 100.0):.0f}", say(FuelCode.BAND, low=low, high=min(high, 100.0), of=what)
        out.append(PhaseBurn.of(burn.name, title, long / 60.0, tuple(told)))
    return tuple(out), None


def _power(
    engine: str, described: Engine | None, telemetry: Telemetry, burn: TankBurn
) -> tuple[FloatArray | None, Finding | None, npt.NDArray[np.bool_]]:
    """Power as percent on the burn's grid, averaged as the burn is, what it is a percent of, and where it was not read.

    Across holes of up to :data:`LONGEST_HOLE_S` power is interpolated.
    """
    smooth = burn.smooth
    seen = np.zeros(smooth.time_s.size, bool)
    if speed := telemetry.series(f"engine.{engine}.speed_rpm"):
        top = (described.max_rpm if described else None) or float(speed.values.max())
        if top > 0:
            known = described is not None and described.max_rpm is not None
            what = say(FuelCode.OF_FULL_SPEED if known else FuelCode.OF_HIGHEST_SPEED)
            read = burn.speed(telemetry, engine, LONGEST_HOLE_S)
            return 100.0 * burn.averaged(read) / top, what, ~np.isfinite(burn.speed(telemetry, engine))
    for channel, code in (
        (f"engine.{engine}.throttle_percent", FuelCode.OF_THROTTLE),
        ("control.throttle_percent", FuelCode.OF_THROTTLE),
        (f"engine.{engine}.pump_percent", FuelCode.OF_PUMP),
    ):
        if telemetry.has(channel):
            share = smooth.alike(np.clip(telemetry.at(channel, smooth.time_s, max_gap_s=5.0), 0.0, 100.0))
            return np.clip(share, 0.0, 100.0), say(code), seen
    return None, None, seen
