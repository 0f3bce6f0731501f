"""How a hand's rules become a log: one line a column, options drawn once a log, truth per column.

A rule is `signal | unit | heading || other heading | marks`. In a signal `@e` stands for each engine, `@r` for each
receiver (and its pack), `@q` for each engine's pack, `@a` for each antenna of each receiver, `@c` for each cell of a
pack; the heading's `{e}`, `{r}`, `{q}`, `{a}`, `{c}` are that part's token, drawn from the hand's tokens. Several
signals with `/` between them are meanings of which each is right. Marks: `?` sometimes left out, `~` one who did not
build it would ask too, `x` or would leave it alone.
"""

import functools
import re

import numpy as np
import pint
from msgspec import Struct
from msgspec.structs import replace

from .flight import Values, fly

UREG = pint.UnitRegistry()
UREG.define("krpm = 1000 * rpm")

# signal: (channel, canonical unit). PART is replaced by the part's role.
MEANING = {
    "throttle": ("control.throttle_percent", "%"),
    "aileron": ("control.aileron_percent", "%"),
    "elevator": ("control.elevator_percent", "%"),
    "rudder": ("control.rudder_percent", "%"),
    "flap": ("control.flap_percent", "%"),
    "brake": ("control.brake_percent", "%"),
    "gear": ("control.gear", ""),
    "latitude": ("position.latitude_deg", "deg"),
    "longitude": ("position.longitude_deg", "deg"),
    "altitude": ("position.altitude_m", "m"),
    "height": ("position.height_m", "m"),
    "pressure_altitude": ("motion.pressure_altitude_m", "m"),
    "ground_speed": ("position.ground_speed_m_s", "m/s"),
    "track": ("position.track_deg", "deg"),
    "satellites": ("position.satellites", ""),
    "roll": ("attitude.roll_deg", "deg"),
    "pitch": ("attitude.pitch_deg", "deg"),
    "heading": ("attitude.heading_deg", "deg"),
    "airspeed": ("motion.airspeed_m_s", "m/s"),
    "vario": ("motion.vario_m_s", "m/s"),
    "accel_x": ("motion.accel_x_m_s2", "m/s^2"),
    "accel_y": ("motion.accel_y_m_s2", "m/s^2"),
    "accel_z": ("motion.accel_z_m_s2", "m/s^2"),
    "air_temperature": ("air.temperature_c", "degC"),
    "air_pressure": ("air.pressure_pa", "Pa"),
    "speed": ("engine.PART.speed_rpm", "rpm"),
    "egt": ("engine.PART.egt_c", "degC"),
    "pump_v": ("engine.PART.pump_v", "V"),
    "pump_percent": ("engine.PART.pump_percent", "%"),
    "engine_throttle": ("engine.PART.throttle_percent", "%"),
    "flow": ("fuel.PART.flow_ml_per_min", "mL/min"),
    "fuel_used": ("fuel.PART.used_ml", "mL"),
    "fuel_left": ("fuel.PART.remaining_ml", "mL"),
    "fuel_percent": ("fuel.PART.remaining_percent", "%"),
    "pack_v": ("pack.PART.voltage_v", "V"),
    "pack_a": ("pack.PART.current_a", "A"),
    "pack_mah": ("pack.PART.used_mah", "mAh"),
    "pack_t": ("pack.PART.temperature_c", "degC"),
    "cell": ("pack.PART.cellN_v", "V"),
    "bus_v": ("bus.PART.voltage_v", "V"),
    "ecu_v": ("pack.PART.voltage_v", "V"),
    "ecu_a": ("pack.PART.current_a", "A"),
    "ecu_mah": ("pack.PART.used_mah", "mAh"),
    "ecu_t": ("pack.PART.temperature_c", "degC"),
    "rssi": ("link.PART.rssi_dbm", "dBm"),
    "signal": ("link.PART.signal_percent", "%"),
    "quality": ("link.PART.link_quality_percent", "%"),
    "lost": ("link.PART.lost_frames", ""),
    "failsafe": ("link.PART.failsafe", ""),
    "antenna": ("link.PART.antennaN_rssi_dbm", "dBm"),
    "antenna_lost": ("link.PART.antennaN_lost", ""),
    "down": ("downlink.PART.rssi_dbm", "dBm"),
}
EXTRAS = {"servo_a", "board_t", "hdop", "vibration", "row", "fix", "state", "limit", "text", "kanal"}
SCALED = {"x10": 10.0, "x100": 100.0, "e7": 1e7, "frac": 0.01, "milli": 1000.0, "centi": 100.0}


@functools.cache
def scale(source: str, target: str) -> tuple[float, float]:
    """Factor and offset from one unit to another, by pint."""
    low = UREG.Quantity(0.0, source).to(target).magnitude
    return float(UREG.Quantity(1.0, source).to(target).magnitude - low), float(low)


class Column(Struct, frozen=True):
    """One column with what it truly is."""

    heading: str
    unit: str
    channels: tuple[str, ...]  # with the role in braces: engine.{left}.egt_c; empty for none
    truth: Values | None  # in the first channel's unit
    cells: tuple[str, ...]
    fair_ask: bool = False
    clock: bool = False
    unknown_too: bool = False


class Log(Struct, frozen=True):
    """One export: its text and the truth of its columns."""

    name: str
    text: str
    columns: tuple[Column, ...]


class Hand(Struct, frozen=True):
    """One builder's habits."""

    name: str
    rules: str
    engines: tuple[tuple[str, ...], ...]
    receivers: tuple[tuple[str, ...], ...] = (("",),)
    packs: tuple[tuple[str, ...], ...] = (("",),)  # the engines' packs
    antennas: tuple[tuple[str, str], ...] = (("1", "2"),)
    unit_row: bool = False
    comma: bool = False  # decimal comma, semicolons
    tab: bool = False
    cells: int = 2
    yes: tuple[tuple[str, str], ...] = (("0", "1"),)
    logs: int = 6


def tidy(heading: str) -> str:
    """Take away what an empty token leaves behind."""
    heading = re.sub(r"\(\s*\)|\[\s*\]", "", heading)
    heading = re.sub(r"\s+([)\]])", r"\1", heading)
    heading = re.sub(r"([(\[])\s+", r"\1", heading)
    heading = re.sub(r"_{2,}", "_", heading)
    heading = re.sub(r"_(?=\s)", "", heading)
    heading = re.sub(r"_(?=[./])", "", heading)
    heading = re.sub(r"\.{2,}", ".", heading)
    heading = re.sub(r"\s{2,}", " ", heading)
    return heading.strip(" _.-")


def written(values: Values, unit: str, canonical: str, digits: int) -> tuple[tuple[str, ...], Values]:
    """The column in its unit as text, and what those texts mean in the canonical unit."""
    if unit in SCALED:
        factor, offset = SCALED[unit], 0.0
    elif unit and canonical and unit != canonical:
        factor, offset = scale(canonical, unit)
    else:
        factor, offset = 1.0, 0.0
    shown = np.round(values * factor + offset, digits) + 0.0
    return tuple(f"{v:.{digits}f}" for v in shown), (shown - offset) / factor


def digits_of(signal: str, unit: str) -> int:
    """As many digits as such a sensor usually gives."""
    if unit in {"x10", "x100", "e7", "milli", "mV", "mA", "ms", "rpm", "hectofeet", "mbar"}:
        return 0 if unit != "mbar" else 1
    if unit == "frac" or unit in {"inHg", "g_0", "rad", "g"}:
        return 3
    if unit in {"krpm", "hPa", "kPa", "L/hour", "floz/min"}:
        return 2
    if signal in {"latitude", "longitude"}:
        return 6
    if signal in {"pack_v", "ecu_v", "cell", "bus_v", "pack_a", "ecu_a", "accel_x", "accel_y", "accel_z", "pump_v"}:
        return 2
    if signal in {"height", "altitude", "ground_speed", "airspeed", "vario", "roll", "pitch", "servo_a", "hdop"}:
        return 1
    if signal in {"air_temperature", "board_t", "vibration", "pack_t", "ecu_t"}:
        return 1
    return 0


def parts(signal: str, hand: "Drawn") -> list[tuple[str, dict[str, str], str, str]]:
    """(signal's key, tokens, role, number) of each part that the rule stands for."""
    if "@" not in signal:
        return [(signal, {}, "", "")]
    base, kind = signal.split("@")
    if kind in {"e", "q"}:
        words = hand.engines if kind == "e" else hand.packs
        return [
            (f"{base}.{n}", {"e": hand.engines[n], "q": words[n]}, hand.engines[n] or "one", "")
            for n in range(len(hand.engines))
        ]
    out = []
    for n, token in enumerate(hand.receivers):
        role = token or "one"
        if kind == "r":
            out.append((f"{base}.{n}", {"r": token}, role, ""))
        elif kind == "a":
            out += [(f"{base}.{n}.{a}", {"r": token, "a": hand.antennas[a]}, role, hand.antennas[a]) for a in range(2)]
        else:
            out += [(f"{base}.{n}.{c}", {"r": token, "c": str(c + 1)}, role, str(c + 1)) for c in range(hand.cells)]
    return out


class Drawn(Struct, frozen=True):
    """What a hand chose for one log."""

    engines: tuple[str, ...]
    packs: tuple[str, ...]
    receivers: tuple[str, ...]
    antennas: tuple[str, str]
    cells: int


def log_of(hand: Hand, number: int) -> Log:
    """Write the hand's log with this number."""
    seed = 7919 * number + sum(map(ord, hand.name))
    rng = np.random.default_rng(seed)
    which = int(rng.integers(len(hand.engines)))
    engines = hand.engines[which]
    packs = hand.packs[which] if len(hand.packs) == len(hand.engines) else hand.packs[0]
    drawn = Drawn(
        engines=engines,
        packs=packs if len(packs) >= len(engines) else engines,
        receivers=hand.receivers[int(rng.integers(len(hand.receivers)))],
        antennas=hand.antennas[int(rng.integers(len(hand.antennas)))],
        cells=hand.cells,
    )
    flown = fly(seed, len(drawn.engines), len(drawn.receivers), hand.cells)
    no, yes = hand.yes[int(rng.integers(len(hand.yes)))]
    columns: list[Column] = []
    for line in hand.rules.strip().splitlines():
        if not line.strip():
            continue
        signals, unit, headings, *rest = (part.strip() for part in re.split(r"(?<!\|)\|(?!\|)", line))
        marks = rest[0] if rest else ""
        if "?" in marks and rng.random() < 0.35:
            continue
        choices = [h.strip() for h in headings.split("||")]
        template = choices[int(rng.integers(len(choices)))]
        meanings = signals.split("/")
        for key, tokens, role, order in parts(meanings[0], drawn):
            heading = tidy(template.format(**tokens))
            made = _column(heading, unit, meanings, key, role, order, flown, (no, yes), "~" in marks)
            columns.append(replace(made, unknown_too="x" in marks))
    if hand.comma:
        columns = [replace(c, cells=tuple(x.replace(".", ",") for x in c.cells)) for c in columns]
    between = ";" if hand.comma else "\t" if hand.tab else ","
    lines = [between.join(f'"{c.heading}"' if between in c.heading else c.heading for c in columns)]
    if hand.unit_row:
        lines.append(between.join(c.unit for c in columns))
    lines += [between.join(row) for row in zip(*(c.cells for c in columns), strict=True)]
    return Log(f"{hand.name}-{number:02d}", "\n".join(lines) + "\n", tuple(columns))


CLOCKS = {"s": (1.0, 1), "ms": (1e3, 0), "min": (1 / 60, 4), "us": (1e6, 0)}
SAYS = {
    "degC": "°C", "degF": "°F", "m/s": "m/s", "m/s^2": "m/s²", "km/hour": "km/h", "foot": "ft", "deg": "°",
    "floz": "fl oz",
    "mL/min": "ml/min", "mL": "ml", "rpm": "1/min", "g_0": "g", "knot": "kt", "mile/hour": "mph", "L/hour": "l/h",
}  # fmt: skip


def _column(
    heading: str,
    unit: str,
    meanings: list[str],
    key: str,
    role: str,
    order: str,
    flown: dict[str, Values],
    words: tuple[str, str],
    fair: bool,
) -> Column:
    base = key.split(".")[0]
    size = len(flown["time"])
    if base == "time":
        if unit == "clock":
            base_s = 13 * 3600 + 20 * 60
            total = flown["time"] + base_s
            cells = tuple(f"{int(v // 3600):02d}:{int(v // 60) % 60:02d}:{v % 60:04.1f}" for v in total)
            return Column(heading, "hh:mm:ss", (), None, cells, clock=True)
        factor, digits = CLOCKS[unit]
        return Column(heading, unit, (), None, tuple(f"{v:.{digits}f}" for v in flown["time"] * factor), clock=True)
    if base in EXTRAS:
        if base == "text":
            cells = tuple(unit for _ in range(size))
            return Column(heading, "", (), None, cells, fair)
        if base == "limit":
            return Column(heading, "", (), None, tuple(unit for _ in range(size)), fair)
        if base == "kanal":
            source = flown[unit]
            return Column(heading, "us", (), None, tuple(f"{1500 + 4.8 * v:.0f}" for v in source), fair)
        if base == "state":
            names = ("off", "start", "idle", "run", "cool")
            cells = tuple(names[int(v)] if unit == "text" else f"{v:.0f}" for v in flown[key])
            return Column(heading, "", (), None, cells, fair)
        digits = digits_of(base, "")
        return Column(heading, unit, (), None, tuple(f"{v:.{digits}f}" for v in flown[key]), fair)
    channels = []
    for meaning in meanings:
        channel = MEANING[meaning.split("@")[0]][0]
        own = f"{{{role}}}" if role else "*"
        channels.append(
            channel.replace("PART", own).replace("N_", f"{order}_" if "antenna" not in channel else f"<{order}>_")
        )
    if base in {"gear", "failsafe"}:
        if unit == "%":
            return Column(heading, "%", tuple(channels), flown[key], tuple(f"{100 * v:.0f}" for v in flown[key]), fair)
        cells = tuple(words[int(v)] for v in flown[key])
        return Column(heading, "", tuple(channels), flown[key], cells, fair)
    canonical = MEANING[base][1]
    cells, truth = written(flown[key], unit, canonical, digits_of(base, unit or canonical))
    said = unit or canonical
    return Column(heading, SAYS.get(said, said), tuple(channels), truth, cells, fair)
