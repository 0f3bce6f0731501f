"""The words and shapes that pages use for levels, methods and events, and the glossary."""

from __future__ import annotations

import re

from analyser.core.channels import label, parse
from analyser.core.events import Level
from analyser.core.figures import Method

LEVEL_WORD: dict[Level, str] = {
    Level.FINE: "Fine",
    Level.NOTE: "Note",
    Level.WATCH: "Watch",
    Level.ACT: "Act",
}
LEVEL_MEANS: dict[Level, str] = {
    Level.FINE: "nothing in this log asks for attention",
    Level.NOTE: "worth knowing",
    Level.WATCH: "look at it before the next flights",
    Level.ACT: "deal with it before flying again",
}
METHOD_MEANS: dict[Method, str] = {
    Method.MEASURED: "read from a sensor as it stands",
    Method.INTEGRATED: "summed from a measured rate, or the difference of a measured total",
    Method.ESTIMATED: "inferred through a model or a fit; shown with an interval",
    Method.ASSUMED: "a default nobody confirmed for this aircraft",
    Method.ENTERED: "stated by the owner",
    Method.NONE: "the log cannot support it",
}
SUBJECT_WORD: dict[str, str] = {
    "fuel": "Fuel",
    "pack": "Packs",
    "bus": "Packs",
    "link": "Radio link",
    "downlink": "Radio link",
    "engine": "Engines",
    "turbine": "Engines",
    "quality": "Data",
}

GLOSSARY: dict[str, str] = {
    "airborne": "Between lift-off and touch-down, as told by speed, height or the engines.",
    "antenna map": "What one antenna receives from each side of the airframe, after allowing for distance.",
    "azimuth": "Direction around the airframe: 0° is the nose, 90° the right wing, 180° the tail.",
    "brown-out": "The voltage on the receiver bus falls so low that electronics may restart.",
    "burn": "Fuel used, in millilitres; burn rate in millilitres a minute.",
    "capacity": "The charge a pack can give from full to empty, in mAh.",
    "cell spread": "Voltage between the strongest and the weakest cell of one pack at the same moment.",
    "charge put back": "What the charger put into a pack after the flight, in mAh; it checks the logged current.",
    "cool-down": "The time after shutdown in which the turbine is spun to carry the heat out.",
    "dB, dBm, dBi": "Decibel: a ratio on a logarithmic scale; 6 dB more reaches twice as far. dBm counts from 1 mW,"
    " dBi from an antenna that radiates alike in all directions.",
    "doubtful sample": "A reading that can't be right (a spike, a sensor that is stuck); left out, and listed.",
    "EGT": "Exhaust gas temperature.",
    "elevation": "Direction above (+) or below (−) the airframe's own horizon.",
    "equivalent full cycles": "All charging and discharging so far, counted in whole charges from empty to full.",
    "evenness": "How well the antennas' axes cover all directions: 0 where one is left blind, 1 where all are alike.",
    "fade": "A span in which an antenna's signal falls well below what its distance explains.",
    "failsafe": "The receiver gave up waiting for frames and moved the controls to their stored positions.",
    "flame-out": "A turbine that stops burning while it was meant to run.",
    "hot start": "A start whose exhaust temperature passes the limit the owner entered from the maker's manual.",
    "imbalance": "How much more one side burns than the other, as a share of both.",
    "internal resistance": "What makes a pack's voltage fall under load; it rises as the pack ages. In milliohm (mΩ).",
    "interval": "The range that holds the true value with the confidence stated, usually 95 %.",
    "layout": "Where the antennas sit on the airframe and which way they point, with a date.",
    "link margin": "How far the signal was above the weakest the receiver can use.",
    "load-free voltage": "What a pack's voltage would be at that moment without load.",
    "lost frame": "A packet of control data that did not arrive.",
    "low margin": "A span in which the signal came near the weakest the receiver can use.",
    "median": "The middle value: half of the readings are above it, half below.",
    "null": "A direction from which an antenna receives next to nothing.",
    "odds": "Of a hundred flights of this length, how many would keep the reserve.",
    "phase": "A part of the flight: start, idle, taxi, take-off, flight, landing, cool-down.",
    "put in afterwards": "Fuel filled after the flight up to the same mark: what was truly burned.",
    "range check": "Walking away from the aircraft with the transmitter's power reduced, until the link fails.",
    "redundancy": "Two of a thing so that one can fail: receivers, antennas, packs.",
    "reserve": "Fuel the owner has decided not to use; the margin is what was left above it at landing.",
    "residual": "What remains after the expected part (such as loss with distance) has been taken away.",
    "retirement rule": "The owner's own limits for capacity, resistance or cell spread at which a pack is retired.",
    "sag": "A dip of pack voltage under load, such as gear or brakes, below its own steady level.",
    "sensitivity": "The weakest signal a receiver can use, from its data sheet.",
    "state of charge": "How full a pack is, in percent of what it can hold.",
    "unusable fuel": "What stays in the tank when the pump begins to draw air.",
}

CAUTIONS: tuple[str, ...] = (
    "Turbines burn people and start fires: keep clear of intake and exhaust, and keep an extinguisher for fuel and"
    " electrical fires at hand at every start.",
    "Lithium packs can catch fire, also hours after a hard landing or deep discharge: charge and store them where a"
    " fire does no harm, and never reuse a swollen or damaged one.",
    "Jet fuel and its vapour burn and harm skin and lungs: fuel outdoors, away from flames, and clean up spills.",
    "These pages describe what a log holds; they do not decide whether an aircraft may fly. The makers' manuals, your"
    " national association's safety code and local law come first. Inspect the aircraft itself before each flight.",
)


CHEMISTRY_WORD: dict[str, str] = {"lipo": "LiPo", "li_ion": "Li-ion", "lifepo4": "LiFePO4", "nimh": "NiMH"}


def told(label: str, owner: str) -> str:
    """Say whose a figure is, where its label does not: ``Lowest voltage`` of ``rx1`` → ``Lowest voltage, rx1``."""
    low = label.lower().replace("_", " ")
    missing = [
        part.replace("antenna", "antenna ") if re.fullmatch(r"antenna\d+", part) else part.replace("_", " ")
        for part in owner.split(".")
        if part
        and part.lower().replace("_", " ") not in low
        and re.sub(r"antenna(\d+)", r"antenna \1", part.lower()) not in low
    ]
    return ", ".join([label, *missing])


def plural(count: int, one: str, many: str = "") -> str:
    """``1 flight``, ``3 flights``."""
    return f"{count} {one}" if count == 1 else f"{count} {many or one + 's'}"


def kind_words(kind: str) -> str:
    """A snake-case event kind as words: ``brown_out`` → ``Brown-out``."""
    fixed = {"brown_out": "brown-out", "flame_out": "flame-out", "cool_down_cut": "cool-down cut short"}
    words = fixed.get(kind, kind.replace("_", " "))
    return words[:1].upper() + words[1:]


_CHANNEL = re.compile(r"\b[a-z]+\.[A-Za-z0-9_]+(?:\.[A-Za-z0-9_]+)*\b")


def channel_words(text: str, *, whose: bool = True) -> str:
    """Text with channel names in words: ``fuel.left.used_ml`` → ``fuel used, left``, without the owner at will."""

    def words(found: re.Match[str]) -> str:
        parsed = parse(found[0])
        if parsed is None:
            return found[0]
        return lower_first(label(found[0]) if whose else parsed.channel.label)

    return _CHANNEL.sub(words, text)


def lower_first(text: str) -> str:
    """The text as it stands inside a sentence."""
    return text[:1].lower() + text[1:]


def upper_first(text: str) -> str:
    """The text as a sentence begins."""
    return text[:1].upper() + text[1:]


def group_of(subject: str) -> str:
    """Which of the flight page's subjects a channel prefix belongs to."""
    return SUBJECT_WORD.get(subject.partition(".")[0], "Other")
