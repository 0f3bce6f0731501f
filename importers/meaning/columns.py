"""From a column heading and its unit to a channel of the vocabulary, with the reason said aloud."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from analyser.core.channels import EXTRA, VOCABULARY, Channel, parse
from importers.meaning import units
from importers.meaning.words import WORDS, compound, fold

_BY_KEY: dict[str, Channel] = {f"{c.subject}.{c.quantity}": c for c in VOCABULARY}

# channel: ideas that must all be there (bars are alternatives); ideas that must not; later rules lose to earlier ones.
_RULES: tuple[tuple[str, str, str], ...] = (
    ("link.failsafe", "failsafe", ""),
    ("engine.pump_v", "pump voltage", ""),
    ("engine.pump_v", "pump", "voltage rpm temperature current pressure"),
    ("engine.pump_percent", "pump", "voltage rpm temperature current pressure"),
    ("pack.cell<n>_v", "cell", "temperature current charge"),
    ("engine.egt_c", "egt", ""),
    ("engine.egt_c", "engine|ecu temperature", "pack air rx"),
    ("pack.temperature_c", "pack temperature", ""),
    ("air.temperature_c", "air temperature", "pack"),
    ("fuel.flow_ml_per_min", "fuel flow|used", ""),
    ("fuel.flow_ml_per_min", "flow", "air"),
    ("fuel.used_ml", "fuel|tank used", ""),
    ("fuel.remaining_ml", "fuel|tank", "flow used pressure temperature pump"),
    ("fuel.remaining_percent", "fuel|tank", "flow used pressure temperature pump"),
    ("pack.used_mah", "charge", "fuel remaining"),
    ("pack.used_mah", "pack|rx|ecu used", "fuel remaining"),
    ("bus.voltage_v", "bus voltage", ""),
    ("bus.current_a", "bus current", ""),
    ("pack.voltage_v", "voltage", "pump fuel"),
    ("pack.voltage_v", "pack", "current charge used temperature rssi"),
    ("pack.current_a", "current", "pump fuel"),
    ("engine.speed_rpm", "rpm", "pump"),
    ("engine.speed_rpm", "engine speed", "air ground"),
    ("engine.throttle_percent", "engine|ecu throttle", ""),
    ("link.link_quality_percent", "quality", "gps"),
    ("link.antenna<n>_lost", "antenna lost", ""),
    ("link.lost_frames", "lost", "antenna"),
    ("downlink.rssi_dbm", "downlink", "lost quality"),
    ("downlink.signal_percent", "downlink", "lost quality"),
    ("link.antenna<n>_rssi_dbm", "antenna", "lost quality"),
    ("link.antenna<n>_signal_percent", "antenna", "lost quality"),
    ("link.antenna<n>_signal_counts", "antenna", "lost quality"),
    ("link.rssi_dbm", "rssi", "lost quality antenna gps"),
    ("link.signal_percent", "rssi", "lost quality antenna gps"),
    ("link.signal_counts", "rssi", "lost quality antenna gps"),
    ("position.latitude_deg", "latitude", ""),
    ("position.longitude_deg", "longitude", ""),
    ("position.satellites", "satellites", ""),
    ("motion.airspeed_m_s", "airspeed", ""),
    ("motion.airspeed_m_s", "air speed", ""),
    ("motion.vario_m_s", "vario", ""),
    ("motion.vario_m_s", "vertical speed", ""),
    ("position.ground_speed_m_s", "ground|gps speed", "air vertical"),
    ("position.ground_speed_m_s", "ground", "altitude height above pressure"),
    ("position.ground_speed_m_s", "speed", "air vertical engine fuel pump"),
    ("position.track_deg", "track", ""),
    ("position.track_deg", "gps heading", ""),
    ("attitude.heading_deg", "heading", ""),
    ("attitude.roll_deg", "roll", ""),
    ("attitude.pitch_deg", "pitch", ""),
    ("motion.accel_x_m_s2", "accel x", ""),
    ("motion.accel_y_m_s2", "accel y", ""),
    ("motion.accel_z_m_s2", "accel z", ""),
    ("motion.accel_z_m_s2", "accel vertical", "x y"),
    ("motion.pressure_altitude_m", "pressure altitude|height", ""),
    ("position.height_m", "height", "pressure"),
    ("position.height_m", "altitude above", "pressure"),
    ("position.altitude_m", "altitude", "pressure above"),
    ("air.pressure_pa", "pressure", "fuel pump tank altitude"),
    ("control.throttle_percent", "throttle", "engine ecu"),
    ("control.aileron_percent", "aileron", ""),
    ("control.elevator_percent", "elevator", ""),
    ("control.rudder_percent", "rudder", ""),
    ("control.flap_percent", "flap", ""),
    ("control.brake_percent", "brake", ""),
    ("control.gear", "gear", "voltage current pressure temperature"),
)
# Ideas that belong to a subject and so do not name one of its instances.
_OWN: dict[str, str] = {
    "pack": "pack voltage current charge used temperature cell",
    "bus": "bus voltage current",
    "fuel": "fuel tank flow used remaining",
    "engine": "engine ecu pump voltage rpm speed egt temperature throttle",
    "link": "link rssi quality lost frame failsafe antenna",
    "downlink": "downlink link rssi",
}
_SUFFIXES = "mV|MV|mA|MA|mAh|MAh|MAH|Pct|Rpm|RPM|Hz|Ms|DegC|Ml|ML|Dbm|dBm|V|A|Percent"
_SIDES = ("left", "right")
# What a bare number may be without any unit; the others are asked for.
_UNSAID: dict[str, str] = {
    "pack.voltage_v": "V", "pack.cell<n>_v": "V", "bus.voltage_v": "V", "engine.pump_v": "V", "pack.current_a": "A",
    "bus.current_a": "A", "pack.used_mah": "mAh", "engine.speed_rpm": "rpm", "engine.egt_c": "°C",
    "pack.temperature_c": "°C", "air.temperature_c": "°C", "position.latitude_deg": "°", "position.longitude_deg": "°",
    "position.track_deg": "°", "attitude.roll_deg": "°", "attitude.pitch_deg": "°", "attitude.heading_deg": "°",
}  # fmt: skip
_CHOICES: dict[str, tuple[str, ...]] = {
    "V": ("V", "mV"), "A": ("A", "mA"), "m": ("m", "ft"), "m/s": ("m/s", "km/h", "kn", "mph"), "rpm": ("rpm", "krpm"),
    "m/s²": ("m/s²", "g"), "mL": ("mL", "%", "L"), "mL/min": ("mL/min", "L/h", "mL/s"), "Pa": ("Pa", "hPa"),
    "dBm": ("%", "counts", "dBm"), "°C": ("°C", "°F"), "mAh": ("mAh", "Ah"), "°": ("°", "rad"),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Heading:
    """A column heading taken apart."""

    text: str
    unit_text: str
    unit: str | None
    words: tuple[str, ...]
    ideas: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Match:
    """What a column is taken for.

    ``channel`` is canonical or ``extra.<slug>``; ``unit`` an expression of :func:`importers.meaning.units.understand`
    or None; ``ask`` the units to choose from where the column does not say.
    """

    channel: str
    unit: str | None
    conversion: units.Conversion
    confidence: float
    reason: str
    ask: tuple[str, ...] = ()
    kind: str = "number"
    words: tuple[str, ...] = field(default=())


def slug(text: str) -> str:
    """Plain lower-case name of letters, digits and underscores: ``"Flap pos. (%)"`` → ``flap_pos``."""
    plain = fold(text.replace("%", " percent "))
    return re.sub(r"[^a-z0-9]+", "_", plain).strip("_")[:60] or "unnamed"


def dissect(text: str, unit_row: str = "") -> Heading:
    """Take a heading apart into unit and words.

    The unit stands in brackets, after a comma, in a unit row, or as the last word ("rx_batt_mV", "Fuel %").
    """
    name, unit_text = text, ""
    unit: str | None = None
    for match in reversed(list(re.finditer(r"[\[({<]\s*([^\[\](){}<>]*?)\s*[\])}>]", text))):
        found = units.looks_up(match.group(1)) if match.group(1) else None
        if found is not None:
            unit, unit_text = found, match.group(1)
            name = text[: match.start()] + " " + text[match.end() :]
            break
    ending = re.fullmatch(r"(.+?)[_ ](ml_per_min|m_per_s|m_s2|m_s|km_h|v|c)", name.strip())
    if unit is None and ending:
        unit_text = ending.group(2)
        unit, name = ("degC" if unit_text == "c" else units.understand(unit_text)), ending.group(1)
    if unit is None:
        for pattern in (
            r"(.+?)[\s_,/:@-]+in[\s_]+(\S+)",
            r"(.+?)[\s_,:-]+(\S+[ _/]?\S*)",
            r"(.+[\s_,:-])(\S+)",
            r"(.*?)(%)",
        ):
            match2 = re.fullmatch(pattern, name.strip())
            if match2 and (found := units.understand(match2.group(2).replace("_per_", "/"))) is not None:
                tail = match2.group(2)
                letter = len(tail) == 1 and tail.isalpha()
                if (letter and tail not in "VAsmh") or fold(tail) in ("n", "g"):
                    continue
                if tail == "A" and re.search(r"(?i)rss|signal|ant|lost|fade", match2.group(1)):
                    continue
                unit, unit_text, name = found, tail, match2.group(1)
                break
    if unit is None:
        for grip in ("?", ""):  # "VoltagemV" ends in mV, "SystemV" in V: the shorter name wins if it is a word
            camel = re.fullmatch(rf"(.*{grip}[a-z])({_SUFFIXES})", name.strip())
            if camel and (found := units.understand(camel.group(2))) is not None:
                if grip and not set(_words(camel.group(1))[-1:]) & set(WORDS):
                    continue
                unit, unit_text, name = found, camel.group(2), camel.group(1)
                break
    if unit_row and (found := units.looks_up(unit_row.strip("[](){} "))) is not None:
        unit, unit_text = found, unit_row.strip("[](){} ")
    words = _words(name)
    ideas = tuple(WORDS.get(w, "") for w in words)
    return Heading(text, unit_text, unit, words, ideas)


def _words(name: str) -> tuple[str, ...]:
    spaced = re.sub(r"([a-z\u00e0-\u00ff])([A-Z])", r"\1 \2", name)
    spaced = re.sub(r"([A-Z]{2,})([A-Z][a-z]{2,})", r"\1 \2", spaced)
    out: list[str] = []
    for raw in re.findall(r"[a-z]+|\d+", fold(spaced)):
        parts = compound(raw)
        out.extend(parts if parts else (raw,))
    return tuple(out)


def match(heading: Heading, low: float | None = None, high: float | None = None, *, flags: bool = False) -> Match:
    """Find the channel a heading stands for.

    Parameters
    ----------
    low, high : float or None
        Range of the sample's values, as written; None without numbers.
    flags : bool
        The sample holds nothing but states (0/1, on/off).
    """
    ideas = set(heading.ideas)
    if heading.unit == "rpm":
        ideas.add("rpm")
    if heading.unit in {"V", "mV"}:
        ideas.add("voltage")
    if heading.unit in ("A", "mA"):
        ideas.add("current")
    if heading.unit in ("mA*h", "A*h"):
        ideas.add("charge")
    if heading.unit == "dBm":
        ideas.add("rssi")
    if heading.unit in ("degC", "degF") and "egt" not in ideas:
        ideas.add("temperature")
    if heading.unit in ("mL/min", "L/h", "L/min", "mL/s"):
        ideas.add("flow")
    numbered_antenna = _antenna(heading, ideas)
    if numbered_antenna:
        ideas.add("antenna")
    for key, needed, barred in _RULES:
        if not all(any(a in ideas for a in n.split("|")) for n in needed.split()) or ideas & set(barred.split()):
            continue
        channel = _BY_KEY[key]
        if "<n>" in key and (heading.unit is None) and channel.unit == "%":
            continue
        found = _fit(key, channel, heading, low, high, flags)
        if found is None:
            continue
        unit, conversion, confidence, reason, ask = found
        instance, number, strange = _instance(channel, heading, numbered_antenna)
        if strange > (1 if channel.has_instance else 0):
            continue
        if "<n>" in channel.quantity and number is None:
            continue
        name = channel.subject + "." + (f"{instance}." if channel.has_instance else "")
        name += channel.quantity.replace("<n>", str(number))
        if parse(name) is None:
            continue
        if strange:
            confidence -= 0.15
        said = " + ".join(dict.fromkeys(i for i in heading.ideas if i)) or "unit"
        return Match(name, unit, conversion, round(max(confidence, 0.1), 2), f"{said}: {channel.label.lower()}{reason}", ask,  # noqa: E501
                     "bool" if channel.unit == "bool" else "number")  # fmt: skip
    return Match(
        f"{EXTRA}.{slug(heading.text)}", heading.unit, units.Conversion(), 1.0, "no known channel: kept as it is"
    )


def _fit(
    key: str, channel: Channel, heading: Heading, low: float | None, high: float | None, flags: bool
) -> tuple[str | None, units.Conversion, float, str, tuple[str, ...]] | None:
    if channel.unit == "bool":
        return ("bool", units.Conversion(), 0.9, "", ()) if flags and heading.unit in (None, "bool", "1") else None
    if flags and low is None:
        return None
    if heading.unit is not None:
        conversion = units.conversion(heading.unit, channel.unit)
        if conversion is None:
            return None
        return heading.unit, conversion, 0.95, f", {heading.unit_text or 'unit'} said", ()
    same = units.Conversion()
    if channel.unit == "1":
        return "1", same, 0.85, ", a count", ()
    if channel.unit == "%":
        if not key.startswith(("control.", "engine.throttle")) and "quality" not in key:
            return None
        if low is None or high is None:
            return "%", same, 0.5, ", no unit: taken as %", ()
        if low < channel.low or high > channel.high:
            return None
        if low >= -1.0 and high <= 1.0 and not (float(low).is_integer() and float(high).is_integer()):
            return None, same, 0.4, ", the unit is not said", ("%", "fraction")
        return "%", same, 0.6, ", no unit: taken as %", ()
    if channel.unit == "dBm" and low is not None and high is not None and high <= 0 and low < 0:
        return "dBm", same, 0.75, ", no unit, negative: dBm", ()
    if channel.unit == "counts":
        return None
    unsaid = _UNSAID.get(key)
    plausible = low is None or high is None or (low >= channel.low and high <= channel.high)
    if unsaid and plausible:
        return units.understand(unsaid), same, 0.7, f", no unit: {unsaid}", ()
    if unsaid and channel.subject == "pack" and channel.quantity == "temperature_c":
        return None
    return None, same, 0.4, ", the unit is not said", _CHOICES.get(channel.unit, (channel.unit,))


def _antenna(heading: Heading, ideas: set[str]) -> bool:
    """Whether "A2" or "B" in a heading about signal means an antenna."""
    words = heading.words
    if "antenna" in ideas:
        return True
    if not ideas & {"rssi", "lost"}:
        return False
    pairs = zip(words, (*words[1:], ""), strict=False)
    return any(w == "a" and n.isdigit() for w, n in pairs) or ("rx" in ideas and words[-1] in ("a", "b", "c", "d"))


def _instance(channel: Channel, heading: Heading, antenna: bool) -> tuple[str, int | None, int]:
    """Instance, number and how many words were not understood."""
    own = set(_OWN.get(channel.subject, "").split())
    wants_number = "<n>" in channel.quantity
    number: int | None = None
    parts: list[str] = []
    sides: list[str] = []
    strange = 0
    words = list(heading.words)
    skip = -1
    rule_ideas = {i for k, needed, _ in _RULES if k == f"{channel.subject}.{channel.quantity}"
                  for n in needed.split() for i in n.split("|")}  # fmt: skip
    for i, word in enumerate(words):
        if i == skip:
            continue
        idea = WORDS.get(word, None)
        after = words[i + 1] if i + 1 < len(words) else ""
        number_word = (
            idea == "antenna" or word == "a" or idea == "cell" or (idea == "rssi" and antenna and "a" not in words)
        )
        if (
            wants_number
            and number is None
            and number_word
            and (after.isdigit() or (len(after) == 1 and after in "abcd"))
        ):
            number = int(after) if after.isdigit() else "abcd".index(after) + 1
            skip = i + 1
            continue
        if wants_number and number is None and i == len(words) - 1 and word in ("a", "b", "c", "d") and antenna:
            number = "abcd".index(word) + 1
            continue
        if idea == "rx" and channel.subject == "bus" and not after.isdigit():
            continue  # the receivers' bus is the bus
        if idea in _SIDES:
            sides.append(str(idea))
        elif idea is not None and (
            idea == ""
            or idea in own
            or (not channel.has_instance and idea != "")
            or (idea in rule_ideas and idea not in ("rx", "ecu"))
        ):
            if not channel.has_instance and idea not in rule_ideas and idea not in (
                "", "gps", "angle", "air", "x", "y", "z", "rx", "main", "pressure", "speed", "ground", "above",
                "altitude", "height", "temperature", "vertical", "remaining", "time",
            ):  # fmt: skip
                strange += 1
        elif word.isdigit():
            if parts and not parts[-1][-1].isdigit():
                parts[-1] += word
            else:
                parts.append(word)
        elif idea is not None:
            parts.append(idea)
        elif not channel.has_instance:
            strange += 1
        else:
            parts.append(word)
            strange += 0 if len(word) == 1 else 1
    instance = "_".join([*dict.fromkeys(parts), *dict.fromkeys(sides)])
    if number is None and wants_number:
        tail = re.search(r"(\d+)$", instance)
        if tail and (channel.subject != "link" or antenna):
            number, instance = int(tail.group(1)), instance[: tail.start()].strip("_")
    if number == 0:
        number = None
    return (instance or "main"), number, strange


def duplicates(headings: Sequence[str]) -> dict[str, list[int]]:
    """Headings that occur more than once, with their column numbers from 1."""
    seen: dict[str, list[int]] = {}
    for i, heading in enumerate(headings, 1):
        if heading:
            seen.setdefault(fold(heading), []).append(i)
    return {h: at for h, at in seen.items() if len(at) > 1}
