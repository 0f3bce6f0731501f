# ruff: noqa: E501
"""The fresh hands: a fourth set. Most are grown: words, units, marks and order are drawn, so that another number gives others.

Written before looking at how the importer decides, for its second measurement; ``logs("fresh", seed)`` with another seed
draws other hands altogether. Scores before and after stand in ``docs/import.md``.
"""

from __future__ import annotations

import re
import unicodedata
import zlib
from collections.abc import Sequence

import numpy as np

from tests.importers.hands.pages import Bundle, Hand, Item
from tests.importers.hands.phrases import AGAINST, CHANNELS, NO_CHANNELS, PLAIN, SIDES, UNITS

I = Item  # noqa: E741

STYLES = (
    "(unit)",
    "[unit]",
    ", unit",
    " unit",
    "snake",
    "camel",
    "UPPER (unit)",
    "lower [unit]",
    "none",
    "cells",
    "row",
)
ASCII = {
    "%": "pct", "pct": "pct", "°C": "c", "°F": "f", "C": "c", "degC": "degc", "ml/min": "ml_min", "l/h": "l_h", "ml/s": "ml_s",
    "km/h": "kmh", "m/s": "mps", "ft/min": "fpm", "°": "deg", "1/min": "rpm", "RPM": "rpm", "fl oz": "floz", "inHg": "inhg",
}  # fmt: skip
CLOCKS = {
    "en": (("s", "Time (s)"), ("ms", "Elapsed (ms)"), ("clock", "Time"), ("iso_z", "UTC"), ("iso", "Timestamp")),
    "de": (("s", "Zeit (s)"), ("ms", "Zeit [ms]"), ("clock", "Uhrzeit"), ("dots", "Zeitstempel"), ("date+clock", "Datum|Uhrzeit")),
    "fr": (("s", "Temps (s)"), ("ms", "Temps (ms)"), ("clock", "Heure"), ("slashes", "Date et heure"), ("date+clock", "Date|Heure")),
    "es": (("s", "Tiempo (s)"), ("ms", "Tiempo (ms)"), ("clock", "Hora"), ("slashes", "Fecha y hora"), ("date+clock", "Fecha|Hora")),
    "it": (("s", "Tempo (s)"), ("ms", "Tempo (ms)"), ("clock", "Ora"), ("slashes", "Data e ora"), ("date+clock", "Data|Ora")),
}  # fmt: skip
GROUPS: tuple[tuple[str, ...], ...] = (
    ("pack volts", "pack amps"), ("pack volts",), ("pack volts", "pack amps", "pack charge"), ("ecu volts",), ("shaft", "exhaust"),
    ("shaft", "exhaust", "pump"), ("fuel left",), ("fuel used", "flow"), ("fuel share",), ("rssi",), ("rssi", "quality"),
    ("lost",), ("aerial",), ("latitude", "longitude", "altitude"), ("latitude", "longitude", "ground speed", "satellites"),
    ("ground speed", "course"), ("airspeed", "climb"), ("roll", "pitch"), ("outside", "air"), ("throttle",),
    ("throttle", "elevator", "rudder"), ("side fuel",), ("side shaft", "side exhaust"),
)  # fmt: skip
TWICE = ("pack volts", "pack amps", "pack charge", "rssi", "quality", "lost")
CANONICAL = {
    "voltage": "V", "current": "A", "charge": "mAh", "speed": "rpm", "hot": "°C", "warm": "°C", "volume": "ml", "dbm": "dBm",
    "metre": "m", "climb": "m/s", "angle": "°/s", "pressure": "kPa",
}  # fmt: skip


def ascii_words(text: str) -> list[str]:
    """``Tensión RX1`` → tension, rx1."""
    text = text.replace("ß", "ss").replace("ä", "ae").replace("ö", "oe").replace("ü", "ue")
    bare = "".join(c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c))
    return re.findall(r"[a-z0-9]+", bare.casefold())


def head(phrase: str, unit: str, style: str) -> str:
    """A heading in somebody's style."""
    if style in ("snake", "camel"):
        words = [*ascii_words(phrase), *([ASCII.get(unit, unit.casefold())] if unit else [])]
        if len(words) > 1 and words[-1] in words[:-1]:  # rpm_turbina_rpm is nobody's habit
            words = words[:-1]
        return "_".join(words) if style == "snake" else words[0] + "".join(w.capitalize() for w in words[1:])
    plain = {"UPPER (unit)": phrase.upper(), "lower [unit]": phrase.casefold()}.get(style, phrase)
    if not unit or style in ("none", "cells", "row"):
        return plain
    if style == "UPPER (unit)":
        return f"{plain} ({unit})"
    return plain + {"(unit)": f" ({unit})", "[unit]": f" [{unit}]", "lower [unit]": f" [{unit}]"}.get(style, style.replace("unit", unit))  # fmt: skip


def item(concept: str, phrase: str, style: str, unit: tuple[str, str, int], slots: dict[str, str]) -> Item:
    """One column that is a channel."""
    target = CHANNELS[concept][0].format(**slots)
    mark = phrase[0] if phrase[0] in "?!~" else ""
    said = phrase.lstrip("?!~").format(**slots)
    said = said[0].upper() + said[1:]
    written, true, digits = unit
    if style == "none" and written not in ("", "V", "rpm", "%", "dBm", "°", "deg"):
        mark = mark or "?"  # without a unit a question is fair
    tail = f" {written}" if style == "cells" and written and true != "bool" else ""
    fair = mark if target[0] not in "?!~" else ""
    return Item(
        head(said, written, style),
        fair + target,
        true,
        digits,
        "antenna by letter" if concept == "aerial" else "",
        tail,
    )


def grown(language: str, number: int, seed: int) -> Hand:
    """A drawn hand."""
    rng = np.random.default_rng([seed, number, zlib.crc32(language.encode())])

    def pick(some: Sequence[str]) -> str:
        return some[int(rng.integers(len(some)))]

    style = STYLES[(number * 4 + len(language) + int(rng.integers(len(STYLES)))) % len(STYLES)]
    chosen = {kind: forms[int(rng.integers(len(forms)))] for kind, forms in UNITS.items()}
    words = {c: pick(CHANNELS[c][2][language]) for c in CHANNELS}
    letters = pick(("AB", "12", "LR"))
    bundles: list[Bundle] = []
    for group in GROUPS:
        out = []
        slots = [{"n": "1"}, {"n": "2"}] if group[0] in TWICE else [{"n": "1"}]
        if group[0] == "aerial":
            slots = [{"n": "1", "x": x} for x in letters]
        if group[0].startswith("side"):
            slots = [{"side": a, "s": b} for a, b in zip(("left", "right"), SIDES[language], strict=True)]
        out = [item(c, words[c], style, chosen[CHANNELS[c][1]], s) for s in slots for c in group]
        bundles.append(tuple(out))
    traps = [
        (I(head(pick(said[language]), CANONICAL.get(kind, ""), style), f"-{signal}", "", 1 if kind == "speed" else 2, trap),)
        for signal, kind, trap, said in NO_CHANNELS
    ]  # fmt: skip
    against = [
        (I(head(words[PLAIN[name]].format(n="1"), unit, "(unit)"), f"!{signal}", true, digits, name),)
        for name, signal, true, digits, unit in AGAINST
    ]
    keep = [int(i) for i in rng.permutation(len(traps))[:9]]
    mixed = [*bundles, *(traps[i] for i in keep), *(against[int(i)] for i in rng.permutation(len(against))[:3])]
    decimal = "." if language == "en" or style in ("snake", "camel") else ","
    return Hand(
        f"grown {language} {number}", "fresh", language, tuple(mixed), CLOCKS[language], always=0, least=6, most=11,
        delimiter="," if decimal == "." else ";", decimal=decimal, layout="units" if style == "row" else "wide",
        gaps=float(rng.choice([0.0, 0.0, 0.15])), steps=(0.1, 0.25, 0.5, 1.0), logs=4,
        faults=() if rng.random() < 0.75 else ("late",),
    )  # fmt: skip


BEC: tuple[Bundle, ...] = (
    (
        I("Vin (V)", "?pack.any1.voltage_v", "V", 2, "word of two meanings"),
        I("Vout (V)", "?bus.any2.voltage_v|pack.any2.voltage_v", "V", 2, "word of two meanings"),
        I("Iout (A)", "?bus.any2.current_a|pack.any2.current_a", "A", 2, "word of two meanings"),
    ),
    (I("BEC temp (°C)", "-bay_c", "", 1, "other system"), I("Ripple (mV)", "-cell_mv", "", 0, "other system")),
    (I("Undervolt trips", "-error", "", 0, "limit"), I("Set voltage (V)", "-volt_alarm", "", 1, "limit")),
    (I("RX A in (V)", "?pack.rx_a.voltage_v|pack.a.voltage_v", "V", 2, "word of two meanings"),
     I("RX B in (V)", "?pack.rx_b.voltage_v|pack.b.voltage_v", "V", 2, "word of two meanings")),
    (I("Used A (mAh)", "?pack.a.used_mah|pack.rx_a.used_mah", "mAh", 0, "word of two meanings"),),
)  # fmt: skip

TRACKER: tuple[Bundle, ...] = (
    (
        I("lat", "position.latitude_deg", "deg", 6), I("lng", "position.longitude_deg", "deg", 6),
        I("ele_m", "position.altitude_m", "m", 1),
    ),
    (I("spd_kmh", "position.ground_speed_m_s", "km/h", 1), I("cog_deg", "?position.track_deg", "deg", 0)),
    (I("hdop", "-hdop", "", 2), I("nsat", "?position.satellites", "1", 0)),
    (I("vbat_mv", "?~-tx_v", "", 2, "other system"), I("acc_m", "-hdop", "", 1, "other system")),
    (I("max_spd_kmh", "-stall_kmh", "", 0, "extreme"), I("dist_home_m", "-distance_m", "", 0, "worked out")),
    (I("batt_pct", "-spare", "", 0, "other system"), I("fix", "-fix", "", 0)),
)  # fmt: skip

CONTROLLER: tuple[Bundle, ...] = (
    (I("N", "?engine.main.speed_rpm", "rpm", 0, "abbreviation"), I("T4", "?~engine.main.egt_c", "C", 0, "abbreviation")),
    (I("U-Pump", "?engine.main.pump_v", "V", 2), I("U-Bat", "?pack.ecu.voltage_v|pack.main.voltage_v|pack.any1.voltage_v", "V", 2)),
    (I("State", "-state", "", 0), I("Err", "-error", "", 0)),
    (I("N-Set", "-rpm_target", "", 0, "limit"), I("N-Max", "-rpm_limit", "", 0, "limit")),
    (I("T-Case", "-bay_c", "", 1, "other system"), I("Thr %", "control.throttle_percent|engine.main.throttle_percent", "%", 0)),
    (I("Runtime s", "-runtime_s", "", 0, "another clock"), I("Cycles", "-fix", "", 0)),
    (I("Flow ml/min", "fuel.main.flow_ml_per_min", "ml/min", 0), I("Fuel used ml", "fuel.main.used_ml", "ml", 0)),
    (I("I-Glow", "-glow_a", "", 2, "other system"), I("I-Start", "-starter_a", "", 1, "other system")),
)  # fmt: skip

LAB: tuple[Bundle, ...] = (
    (I("CH1 Bus voltage / V", "?bus.main.voltage_v", "V", 3), I("CH2 Bus current / A", "?bus.main.current_a", "A", 3)),
    (I("TC1 Exhaust / degC", "engine.main.egt_c", "C", 1), I("TC2 Bearing / degC", "-bay_c", "", 1, "other system")),
    (I("Tacho / rpm", "?engine.main.speed_rpm", "rpm", 0), I("Tacho setpoint / rpm", "-rpm_target", "", 0, "limit")),
    (I("Flow meter / ml/min", "?fuel.main.flow_ml_per_min", "ml/min", 1), I("Load cell / N", "-thrust_n", "", 1, "other system")),
    (I("Ambient / degC", "?air.temperature_c", "C", 2), I("Ambient / hPa", "?air.pressure_pa", "hPa", 2)),
    (I("Reservoir / ml", "?fuel.main.remaining_ml", "ml", 0), I("Reservoir nominal / ml", "-tank_ml", "", 0, "limit")),
    (I("Pump drive / %", "engine.main.pump_percent", "%", 1), I("Vib RMS / g", "-vibration_g", "", 3, "other system")),
    (I("Tension / V", "!pack.any1.voltage_v", "V", 2, "no name"),),
)  # fmt: skip

TWINS: tuple[Bundle, ...] = (
    (I("Engine L RPM", "engine.left.speed_rpm", "rpm", 0), I("Engine R RPM", "engine.right.speed_rpm", "rpm", 0)),
    (I("Engine L EGT", "engine.left.egt_c", "C", 0), I("Engine R EGT", "engine.right.egt_c", "C", 0)),
    (I("Fuel L", "?fuel.left.remaining_ml", "ml", 0), I("Fuel R", "?fuel.right.remaining_ml", "ml", 0)),
    (I("Fuel L left", "?fuel.left.remaining_ml", "ml", 0, "side or remaining"),
     I("Fuel R left", "?fuel.right.remaining_ml", "ml", 0, "side or remaining")),
    (I("RPM diff", "-derivative", "", 0, "worked out"), I("EGT L max", "-egt_max", "", 0, "extreme")),
    (I("Batt 1", "?pack.1.voltage_v|pack.rx1.voltage_v|pack.any1.voltage_v", "V", 2),
     I("Batt 2", "?pack.2.voltage_v|pack.rx2.voltage_v|pack.any2.voltage_v", "V", 2)),
    (I("Left aileron servo A", "-servo_a", "", 2, "other system"), I("Left gear bar", "-air_bar", "", 2, "other system")),
    (I("Sink", "?-wind_ms", "", 1, "word of two meanings"),),
)  # fmt: skip

TRADES: tuple[Hand, ...] = (
    Hand("supply logger", "fresh", "en", BEC, (("ms", "ms"), ("s", "Time (s)")), least=3, most=4, logs=3),
    Hand("dog tracker", "fresh", "en", TRACKER, (("iso_z", "time"), ("epoch", "unix")), least=3, most=5, logs=3, steps=(1.0,)),
    Hand("controller export", "fresh", "en", CONTROLLER, (("s", "t [s]"), ("clock", "Time")), least=4, most=6, logs=4),
    Hand("bench recorder", "fresh", "en", LAB, (("iso", "Date/Time"), ("s", "Elapsed / s")), least=3, most=5, logs=4),
    Hand("blocks of sensors", "fresh", "en", LAB, (("s", "t_s"), ("iso_z", "time")), least=3, most=4, logs=3, layout="blocks"),
    Hand("twin by letters", "fresh", "en", TWINS, (("s", "Time (s)"), ("iso", "Time")), least=3, most=5, logs=4),
    Hand("late tracker", "fresh", "en", TRACKER, (("iso_z", "time"), ("ms", "ms")), least=3, most=5, logs=3,
         faults=("late", "repeated"), steps=(0.2, 1.0)),
)  # fmt: skip


def fresh(seed: int = 0) -> tuple[Hand, ...]:
    """The fresh hands; another number draws other words, units and marks for the grown ones."""
    return TRADES + tuple(grown(language, n, seed) for language in SIDES for n in range(4))
