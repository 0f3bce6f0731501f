"""All readings of a heading: each choice of meanings, each channel they may speak of, and what speaks against it."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from functools import lru_cache

from msgspec import Struct
from msgspec.structs import replace

from analyser.core.channels import Channel, parse
from importers.meaning import choices, names, units
from importers.meaning.heading import Heading
from importers.meaning.names import LITERAL, UNKNOWN, Known, Named
from importers.meaning.rules import NOT_NOW, OWN, RULES, Rule, holds, hurries, implied
from importers.meaning.witness import Numbers, Verdict
from importers.meaning.words import meanings

_AT_MOST = 48
"""Readings of the words that are tried."""
TURBINE_RPM = 50_000.0
"""No electric motor on a model jet turns as fast: common practice, no source."""
_LIMITS = 8
"""Values that no limit or size takes in turn."""
_IDLES = 20_000.0
"""Turbines of models turn faster even at idle: common practice, no source."""
EXHAUST_C = 350.0
"""Nothing else that is logged gets as hot: common practice, no source."""
_SYMBOLS = frozenset("uivtpnhq")
"""Letters that stand for quantities: ISO 80000, and I and U of current and voltage."""
_BEARERS = {
    "t": frozenset({"egt", "nozzle", "air", "pack"}), "u": frozenset({"pack", "rx", "ecu", "pump", "bus", "cell"}),
    "i": frozenset({"pack", "rx", "ecu", "bus"}), "p": frozenset({"air"}), "n": frozenset({"engine"}),
}  # fmt: skip
"""What such a letter may stand before, wherever both stand: "left engine T exhaust"."""
BORNE = {
    "t": ("degC", "degF", "K"), "u": ("V", "mV"), "v": ("V", "mV", "m/s", "km/h"), "i": ("A", "mA"), "h": ("m", "ft"),
    "p": ("Pa", "hPa", "kPa", "mbar", "dBm"), "n": ("rpm", "krpm"), "q": ("mL/min", "L/h", "mA*h", "A*h"),
    "a": ("g_0", "m/s**2"),
}  # fmt: skip
"""Units that bear such a letter out, wherever it stands."""
_WEATHER = frozenset({"Pa", "hPa", "kPa", "mbar", "inHg_0", "mmHg"})
"""Units that the pressure of the air around is given in; compressed air is in bar or psi."""
_NOW = frozenset({"current", "corrente", "courant", "corriente"})
"""Words for a current, and for what is so now."""
_NO_CURRENTS = frozenset({"rpm", "egt", "height", "altitude", "speed", "airspeed", "remaining", "flow"})
"""What is no current, so that the word for one says beside it that it is so now."""
_STATIC = frozenset({"static", "statisch", "statique", "statica", "estatica"})
_RELATIVE = frozenset({"relative", "relativ", "relativa", "relativo"})
_TRUE = frozenset({"true", "vraie", "vera", "verdadera", "wahre"})
_CHOICES, _NUMBERED = 4, 8
"""So few whole numbers, and none larger, number the antennas, and tell no signal."""
_CONTENT = frozenset(
    {
        "level",
        "fullstand",
        "niveau",
        "nivel",
        "livello",
        "inhalt",
        "quantity",
        "qty",
        "menge",
        "quantite",
        "cantidad",
        "contents",
        "content",
        "contenu",
        "contenuto",
        "contenido",
    }
)
"""Words for what a tank holds, which may as well be all that it can hold."""
_BY_UNIT: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "hohe": (("%",), ("elevator",)), "q": (("mA*h", "A*h"), ("charge",)), "sat": (("degC", "degF", "K"), ("oat",)),
    "ps": (("Pa", "hPa", "kPa", "mbar"), ("pressure",)), "vi": (("km/h", "m/s", "knot", "mi/h"), ("airspeed",)),
    "v": (("mL", "L"), ("used", "remaining")), "power": (("dBm",), ("rssi",)), "leistung": (("dBm",), ("rssi",)),
    **dict.fromkeys(("puissance", "potencia", "potenza"), (("%",), ("throttle", "rssi"))),
    "tempo": (("km/h", "m/s", "knot", "mi/h"), ("speed",)),
    "eff": (("rpm", "degC", "V", "A", "mL/min", "m/s", "m"), ("",)), "cap": (("deg",), ("track", "heading")),
    **dict.fromkeys(("reg", "regimen", "regime"), (("ft/min", "m/s", "m/min"), ("",))),
    "theta": (("degC", "degF", "K"), ("temperature",)),
    "load": (("A", "mA"), ("current",)), "last": (("A", "mA"), ("current",)),
    "qr": (("%",), ("aileron",)), "hr": (("%",), ("elevator",)), "sr": (("%",), ("rudder",)), "lk": (("%",), ("flap",)),
}  # fmt: skip
"""Words that mean another thing in some units: "H\u00f6he (%)" is the stick's, "SAT (\u00b0C)" the air's."""
_STICKS = frozenset({"stick", "sticks", "knuppel", "steuerknuppel", "manche", "joystick"})
_MOVED = {"roll": "aileron", "pitch": "elevator", "heading": "rudder"}
"""What a stick moves, by the axis that it is named after."""
_STATIONS = frozenset("45678")
"""Stations behind the combustor, where a temperature may be the exhaust's: SAE AS755, from memory."""
_COMMANDED = frozenset(
    {"vorgabe", "demand", "demanded", "setting", "commanded", "consigne", "setpoint", "set", "einstellung"}
)
"""Words for what is asked of a thing that does nothing but obey."""
_OBEYS = frozenset({"throttle", "flap", "aileron", "elevator", "rudder", "brake"})
_WHOLE = frozenset({"total", "gesamt", "totale", "full", "voll", "plein", "lleno", "pieno"})
_BEHIND_A = frozenset(
    {
        "gauche",
        "droite",
        "babord",
        "tribord",
        "destra",
        "sinistra",
        "izquierda",
        "derecha",
        "la",
        "carburant",
        "kerosene",
        "terra",
    }
)
"""Sides before which "a" is the word for "at": "reste \u00e0 gauche"."""
_COST = {Verdict.FITS: 0.0, Verdict.SILENT: 0.1, Verdict.ODD: 0.6, Verdict.RESTS: 0.6, Verdict.CONTRADICTS: 3.0}


class Reading(Struct, frozen=True):
    """One way to read a column. ``cost`` is what speaks against it; the cheapest wins."""

    name: str
    channel: Channel
    rule: Rule
    ideas: tuple[str, ...]
    named: Named
    unit: choices.Unit
    order: int
    """How far from the likeliest meanings of its words."""
    cost: float
    elsewhere: bool = False
    """Whether a word may mean another system, and nothing bears it out."""

    @property
    def quantity_said(self) -> bool:
        """Whether words, not the unit alone, say the quantity."""
        return bool(self.rule.speaks & set(self.ideas))

    @property
    def subject_said(self) -> bool:
        """Whether a word at least belongs to the subject."""
        return bool(OWN.get(self.channel.subject, frozenset()) & set(self.ideas))


def readings(heading: Heading, seen: Numbers | None, known: Known, *, flags: bool = False) -> tuple[list[Reading], str]:
    """Every reading of a heading that its values allow, the best first, and why it may be none at all.

    Returns
    -------
    list of Reading
    str
        The idea of :data:`importers.meaning.rules.NOT_NOW` that a word speaks of, '' where there is none.
    """
    found: dict[str, Reading] = {}
    not_now, not_now_cost = "", 9.0
    ways, firm = _ways(heading, known)
    moves = seen is not None and seen.kinds > _LIMITS
    for way in ways:
        if way.stop == "limit" and moves:
            continue  # "capacity" that changes is the charge
        if way.stop:
            if 0.2 * way.order < not_now_cost:
                not_now, not_now_cost = way.stop, 0.2 * way.order
            continue
        for reading in _allowed(way, heading, seen, flags=flags):
            before = found.get(reading.name)
            if before is None or reading.cost < before.cost:
                found[reading.name] = reading
    if any(i in NOT_NOW and not _excused(i, firm) for i in firm):
        return [], next(i for i in firm if i in NOT_NOW)
    ranked = sorted(found.values(), key=lambda r: r.cost)
    if ranked and not_now and (ranked[0].cost <= not_now_cost + 0.3 or _ground_speed(ranked[0])):
        ranked[0] = replace(ranked[0], elsewhere=not _firm(ranked[0], heading, seen))
        not_now = ""
    return ranked, not_now


class _Way(Struct, frozen=True):
    """One choice of meanings of a heading's words, ``stop`` where one of them is no channel's, and what it may be."""

    ideas: tuple[str, ...]
    order: int
    stop: str
    may_be: tuple[tuple[int, Rule, str, Named], ...] = ()
    """Place of a rule, the rule, the channel's name by it, and whose it is."""


@lru_cache(maxsize=2048)  # all that the words alone say: the logs of a folder have few layouts
def _ways(heading: Heading, known: Known) -> tuple[tuple[_Way, ...], tuple[str, ...]]:
    """Every choice of meanings of a heading, and the meanings that are not open."""
    glued = heading.glued or (False,) * len(heading.words)
    options = [
        ("",) if w in known.everywhere else _options(w, i, heading, glued, known) for i, w in enumerate(heading.words)
    ]
    out = []
    for combo in itertools.islice(itertools.product(*(range(len(o)) for o in options)), _AT_MOST):
        ideas = tuple(o[n] for o, n in zip(options, combo, strict=True))
        stop = next((i for i in ideas if i in NOT_NOW and not _excused(i, ideas)), "")
        if stop == "watts" and heading.unit and units.conversion(heading.unit, "W") is None and heading.unit != "%":
            continue  # "Power, rx pack (V)" is no power
        out.append(_Way(ideas, sum(combo), stop, () if stop else tuple(_may_be(heading, ideas, glued, known))))
    return tuple(out), tuple(o[0] for o in options if len(o) == 1)


def _firm(reading: Reading, heading: Heading, seen: Numbers | None) -> bool:
    """Whether words that may mean another system are borne out: by a second word of the rule, or by the values."""
    doubtful = {i for w, i in zip(heading.words, reading.ideas, strict=True) if set(meanings(w)) & NOT_NOW.keys()}
    sure = {i for w, i in zip(heading.words, reading.ideas, strict=True) if not set(meanings(w)) & NOT_NOW.keys()}
    own = OWN.get(reading.channel.subject, frozenset()) | reading.rule.speaks
    if _ground_speed(reading):
        return True
    if reading.rule.key == "engine.speed_rpm" and seen and reading.unit.conversion.apply(seen.high) > TURBINE_RPM:
        return True
    return (
        doubtful <= own
        and (bool(sure & own) or heading.unit_by == "brackets")
        and (
            reading.unit.verdict is Verdict.FITS
            or (reading.unit.how == "asked" and all(sure & n for n in reading.rule.needed))
        )
    )


_TOTALS = frozenset(
    ["total", "totale", "totalised", "totalized", "gesamt", "summe", "sum", "somme", "suma", "somma", "cumul"]
)


def _ground_speed(reading: Reading) -> bool:
    """Whether "ground" is that of a ground speed, whatever its values: a ground station has none."""
    return reading.rule.key == "position.ground_speed_m_s" and {"ground", "speed"} <= set(reading.ideas)


def _volume(heading: Heading) -> tuple[str, ...]:
    """What "flow" means over a volume, which is no rate: a total, or nothing beside a counter; else it is in doubt."""
    if {"used", "tick", "remaining"} & set(heading.ideas):
        return ("",)
    return ("used",) if _TOTALS & set(heading.words) else (UNKNOWN,)


def _options(word: str, at: int, heading: Heading, glued: tuple[bool, ...], known: Known) -> tuple[str, ...]:
    if word.isdigit():
        return (LITERAL,)
    said = meanings(word)
    if word in _BY_UNIT and word not in known.chosen and heading.unit in _BY_UNIT[word][0]:
        return _BY_UNIT[word][1]
    if said[:1] and said[0] in _MOVED and heading.unit in (None, "%") and _STICKS & set(heading.words):
        return (_MOVED[said[0]],)
    if word in _NOW and (
        (heading.unit is not None and not _electric(heading.unit))
        or (heading.unit is None and _NO_CURRENTS & set(heading.ideas))
    ):
        return ("",)  # "EGT corrente (°C)": as it is now
    if said[:1] == ("flow",) and holds(heading.unit or ""):
        return said[1:] or _volume(heading)  # "Fuel burn (ml)"
    if said == ("pilot",) and _OBEYS & set(heading.ideas):
        return ("",)  # whose stick it is
    if said == ("limit",) and word in _COMMANDED and _OBEYS & set(heading.ideas):
        return ("",)  # what a throttle is set to is all there is of it
    if word in _RELATIVE and "speed" in heading.ideas:
        return ("",)  # "speed relative to the air": no height
    if word in _TRUE and "speed" in heading.ideas and not {"ground", "gps", "vertical"} & set(heading.ideas):
        return ("air",)  # "true speed" is that through the air
    number_next = at + 1 < len(heading.words) and glued[at + 1] and heading.words[at + 1].isdigit()
    if not said and len(word) == 1 and word in "bdf" and word not in known.chosen:
        return (LITERAL,)
    if len(word) == 1 and number_next and said[:1] == ("",):
        return (UNKNOWN,)  # "E1" is a code, not "and one"
    if word in "uv" and glued[at + 1 : at + 2] == (True,) and heading.words[at + 1] == "rx":
        return ("voltage",)  # "VRX": no other word is run together with a receiver
    if word in known.firm:
        return said[:1]
    if word == "left" and heading.words in known.paired:
        return ("left",)
    if word in ("n", "s") and ({"latitude", "longitude"} & set(heading.ideas)) and at == len(heading.words) - 1:
        return ("",)  # "Lat N"
    letter = word in ("a", "v") and heading.unit is not None
    if word == "t" and _station(word, at, heading.words, glued) and heading.unit in (None, *BORNE["t"]):
        return ("temperature",)
    if (
        word in known.chosen
        and not letter
        and not (known.chosen[word] == "throttle" and "temperature" in heading.ideas)
    ):
        return (known.chosen[word],)
    if word in ("gas", "gaz", "gases") and ("temperature" in heading.ideas or heading.unit in BORNE["t"]):
        return ("egt",)
    if letter_of := _suffix(word, at, heading, glued):
        return (letter_of,)
    if word in "lr" and number_next:
        return (UNKNOWN,)
    if word == "a" and at + 1 < len(heading.words) and heading.words[at + 1] in _BEHIND_A:
        return ("",)
    if not said:
        return (UNKNOWN,)
    out = tuple(LITERAL if i.startswith("#") else i for i in said)
    if len(word) == 1 and LITERAL in out:
        if word in known.shared:  # it takes turns with others
            if heading.unit not in (None, "A", "mA", *BORNE.get(word, ())):
                return (LITERAL,)
            return (LITERAL, *(i for i in out if i != LITERAL))
        if word != "c" and (heading.unit is not None or number_next):
            out = (LITERAL, *(i for i in out if i != LITERAL))
        if word == "c" and not number_next:
            out = (LITERAL,)
    if (
        word in _SYMBOLS
        and heading.unit not in BORNE.get(word, ())
        and LITERAL not in out
        and not _station(word, at, heading.words, glued)
        and not (at + 1 < len(heading.words) and _BEARERS.get(word, frozenset()) & set(meanings(heading.words[at + 1])))
        and (
            any(meanings(w) != ("",) for w in heading.words[:at])
            or number_next
            or (len(heading.words) == 1 and not heading.unit and word != "n")
        )
    ):
        return (UNKNOWN,)  # a letter stands for a quantity only before the name of what has it
    return out


def _electric(unit: str) -> bool:
    """Whether a unit is one of what packs give."""
    return any(units.conversion(unit, u) is not None for u in ("V", "A", "mAh", "W"))


def _suffix(word: str, at: int, heading: Heading, glued: tuple[bool, ...]) -> str:
    """The quantity that a letter run together with a part's name stands for: "RXV1"; '' for none."""
    before = next((heading.ideas[i] for i in range(at - 1, -1, -1) if not heading.words[i].isdigit()), "")
    behind = {i for w in heading.words[at + 1 :] if not w.isdigit() for i in meanings(w)[:1] or ("?",)}
    last = not behind - {*names.SIDES, "#l", "#r", ""}  # "AkkuU1", "pump V left"
    if word == "n" and at and last and heading.unit is None and "engine" in heading.ideas:
        return "rpm"  # "turb_1_n", "eng.N_L"
    if word not in ("u", "v") or not at or not (glued[at] or last) or heading.unit is not None:
        return ""
    return "voltage" if before in ("pack", "rx", "ecu", "pump", "bus") else ""


def _excused(idea: str, ideas: tuple[str, ...]) -> bool:
    """Another system's own pack is a pack; a state may be of a switch."""
    if idea == "state":
        return bool({"gear", "failsafe"} & set(ideas))
    return False


def _may_be(
    heading: Heading, ideas: tuple[str, ...], glued: tuple[bool, ...], known: Known
) -> Iterator[tuple[int, Rule, str, Named]]:
    """The channels that one choice of meanings may speak of, whatever the values are."""
    implied_too = _implied(heading, ideas)
    said = set(ideas) | implied_too
    if names.may_be_antenna(heading.words, ideas, glued, implied_too):
        said.add("antenna")
    if "throttle" in said and _of_an_engine(heading, ideas, known):
        said.add("engine")
    for place, rule in enumerate(RULES):
        if said & rule.barred or not all(said & n for n in rule.needed):
            continue
        channel = rule.channel
        if "<n>" in rule.key and heading.unit is None and channel.unit == "%":
            continue
        if rule.key == "link.link_quality_percent" and "quality" not in said and heading.unit != "%":
            continue  # "Rx link %"
        if rule.key == "control.brake_percent" and "pressure" in said and heading.unit != "%":
            continue  # a share of the most is what is asked of it
        named = names.name(rule, heading.words, ideas, glued, known, implied_too)
        if _by_heat(rule) and named.instance not in known.engines and not _of_station(heading, glued, named.instance):
            continue  # the number is the sensor's
        if "<n>" in channel.quantity and named.number is None:
            if not named.antenna:
                continue
            named = names.replace_number(named, 1)
        name = channel.subject + "." + (f"{named.instance}." if channel.has_instance else "")
        name += channel.quantity.replace("<n>", str(named.number))
        if parse(name) is not None:
            yield place, rule, name, named


def _by_heat(rule: Rule) -> bool:
    """Whether a rule takes a temperature for the exhaust's by nothing but how hot it gets."""
    return rule.key == "engine.egt_c" and rule.speaks == {"temperature"}


def _allowed(way: _Way, heading: Heading, seen: Numbers | None, *, flags: bool) -> Iterator[Reading]:
    """What one choice of meanings may be, of that what the values allow."""
    for place, rule, name, plainly in way.may_be:
        channel = rule.channel
        if heading.words == ("n",) and heading.unit is None and not _spins(seen):
            continue  # a number of something
        says_antenna = channel.subject == "link" and "antenna" in way.ideas and "lost" not in way.ideas
        if heading.unit is None and says_antenna and _numbers_parts(seen):
            continue  # which antenna is in use
        unit = choices.choose(rule.key, channel, heading, seen, flags=flags)
        if unit is None:
            continue
        named = plainly
        if heading.slips and unit.verdict is not Verdict.FITS:  # nothing bears out what the word was meant to be
            named = replace(plainly, unknown=(*plainly.unknown, *heading.slips))
        odd = (Verdict.ODD, Verdict.RESTS, Verdict.CONTRADICTS)
        if _by_heat(rule) and not _glows(seen, unit):
            continue
        if rule.key == "engine.egt_c" and "egt" not in way.ideas and unit.verdict in odd:
            continue  # the electronics' own temperature, or the case's
        level = seen is not None and seen.kinds == 1 and channel.subject == "fuel"
        if level and unit.verdict is Verdict.RESTS and not _remaining_said(heading, way.ideas):
            unit = replace(unit, verdict=Verdict.CONTRADICTS)  # the tank's size
        cost = (
            1.0 * len(named.unknown) + 1.2 * len(named.foreign) + 0.2 * way.order + _COST[unit.verdict] + 0.002 * place
        )
        cost += 0.05 * named.unsure + (0.3 if unit.how == "asked" else 0.0)
        yield Reading(name, channel, rule, way.ideas, named, unit, way.order, cost)


def _numbers_parts(seen: Numbers | None) -> bool:
    """Whether values number the parts of something: a few small whole numbers that come again and again."""
    return (
        seen is not None
        and seen.whole
        and seen.kinds <= _CHOICES < seen.count
        and 0 <= seen.low <= seen.high <= _NUMBERED
    )


def _spins(seen: Numbers | None) -> bool:
    """Whether numbers may be of nothing but a turbine's shaft: large, and no count that only rises."""
    return seen is not None and seen.high > _IDLES and seen.rises < 0.9


def _glows(seen: Numbers | None, unit: choices.Unit) -> bool:
    """Whether a temperature is one that nothing on board but the exhaust has."""
    return seen is not None and unit.verdict is Verdict.FITS and unit.conversion.apply(seen.high) > EXHAUST_C


def _station(word: str, at: int, words: Sequence[str], glued: Sequence[bool]) -> bool:
    """Whether a letter and the digit run together with it name a place behind the combustor: "T5"."""
    return word == "t" and words[at + 1 : at + 2] != () and glued[at + 1] and words[at + 1] in _STATIONS


def _of_station(heading: Heading, glued: Sequence[bool], instance: str) -> bool:
    """Whether a heading names such a place of the only engine, or of one side."""
    here = any(_station(w, i, heading.words, glued) for i, w in enumerate(heading.words))
    return here and instance in ("main", *names.SIDES)


def _of_an_engine(heading: Heading, ideas: tuple[str, ...], known: Known) -> bool:
    """Whether a number, letter or side in a heading is one that the log's engines have: there is one throttle stick."""
    named = {
        i if i in names.SIDES else w for w, i in zip(heading.words, ideas, strict=True) if i in (*names.SIDES, LITERAL)
    }
    return bool(named) and named <= known.engines


def _remaining_said(heading: Heading, ideas: tuple[str, ...]) -> bool:
    """Whether a word that means nothing else speaks of what remains, and none of all that there is."""
    if _WHOLE & set(heading.words):
        return False
    said = (w for w, i in zip(heading.words, ideas, strict=True) if i == "remaining" and len(meanings(w)) == 1)
    return any(w not in _CONTENT for w in said)


def _implied(heading: Heading, ideas: tuple[str, ...]) -> set[str]:
    """What the unit says of the quantity."""
    unit = (heading.unit or "").rpartition(" ")[2]
    out = {implied(unit)} if implied(unit) else set()
    if unit in ("degC", "degF", "K") and "egt" not in ideas:
        out.add("temperature")
    if unit == "deg" and {"egt", "nozzle"} & set(ideas):
        out.add("temperature")
    if "fuel" in ideas or "tank" in ideas:
        out.discard("charge")
    if "gps" in ideas and hurries(heading.unit or ""):
        out.add("speed")
    if ("air" in ideas or _STATIC & set(heading.words)) and unit in _WEATHER:
        out.add("pressure")
    if {"used", "remaining"} & set(ideas) and holds(heading.unit or ""):
        out.add("fuel")  # nothing else on board is counted so without being named
    return out
