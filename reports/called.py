"""What the owner calls things: ``link.rx2.antenna2`` on a page reads ``Fin antenna (rx2, antenna 2)``."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from analyser.core.aircraft import Aircraft, AntennaLayout, FlightContext
from analyser.core.figures import Figure
from analyser.core.findings import Text
from reports.words import SUBJECT_WORD, lower_first, upper_first
from reports.words.catalogue import text as worded

_ANTENNA = re.compile(r"\b(?:link\.)?([A-Za-z0-9_]+)\.antenna(\d+)\b")
_OTHER = re.compile(r"\b(pack|bus|engine|fuel|link)\.([A-Za-z0-9_]+)\b(?!\.)")
_MINUS = re.compile(r"(?<![\w.)-])-(?=\d)")
_ENDS = (".", "!", "?", ":")
_PERCENT = re.compile(r"(?<=\d)%")
_ZERO = re.compile(r"\N{MINUS SIGN}(?=0(?:\.0+)?(?![.\d]))")


@dataclass(frozen=True, slots=True)
class Called:
    """Given names: ``antennas`` by ``rx2.antenna2``, ``packs`` by the role they were fitted in."""

    antennas: Mapping[str, str] = field(default_factory=dict)
    packs: Mapping[str, str] = field(default_factory=dict)

    def antenna(self, key: str, *, begins: bool = True, brief: bool = False) -> str:
        """An antenna in words: ``Fin antenna (rx2, antenna 2)``; inside a sentence ``the fin antenna (rx2, …)``."""
        receiver, _, number = key.rpartition(".antenna")
        if not receiver:  # a log with one signal for the whole receiver
            return f"{'Receiver' if begins else 'the receiver'} {key.replace('_', ' ')}"
        where = f"{receiver}, antenna {number}"
        given = self.antennas.get(key, "")
        if not given:
            return where
        full = given if "antenna" in given.lower() else f"{given} antenna"
        full = full[:1].upper() + full[1:] if begins else f"the {full}"
        return full if brief else f"{full} ({where})"

    def subject(self, subject: str) -> str:
        """A channel prefix as a person names the thing; other text with the prefixes in it put in words."""
        if _ANTENNA.fullmatch(subject):
            return self.antenna(subject.removeprefix("link."))
        head, _, rest = subject.partition(".")
        whose = rest.replace("_", " ")
        if not rest and subject in SUBJECT_WORD:
            return SUBJECT_WORD[subject]
        if not rest or " " in subject:
            return self.sentence(upper_first(subject))
        if head == "pack":
            name = self.packs.get(rest, "")
            return f"Pack {name} ({whose})" if name and name != rest else f"Pack {whose}"
        if head == "link":
            return f"Receiver {whose}"
        if head == "fuel":
            return f"{whose} tank".capitalize()
        if head in ("bus", "engine"):
            return f"{whose} {head}".capitalize()
        return f"{head.capitalize()}: {', '.join(whose.split('.'))}"

    def figure(self, figure: Figure) -> Figure:
        """The figure with its label, and the reason for its absence, in words."""
        return replace(figure, label=self.sentence(figure.label), missing=self.sentence(figure.missing))

    def sentence(self, said: Text) -> str:
        """Text with prefixes in words, true minus signs and spaced percent signs.

        An antenna's receiver follows its first mention only.
        """
        text = worded(said)
        told: set[str] = set()

        def antenna(found: re.Match[str]) -> str:
            key = f"{found[1]}.antenna{found[2]}"
            before = text[: found.start()].rstrip()
            brief, begins = key in told, not before or before.endswith(_ENDS)
            told.add(key)
            return self.antenna(key, begins=begins, brief=brief)

        def other(found: re.Match[str]) -> str:
            words = self.subject(found[0])
            before = found.string[: found.start()].rstrip()
            return words if not before or before.endswith(_ENDS) else lower_first(words)

        text = _MINUS.sub("\N{MINUS SIGN}", _OTHER.sub(other, _ANTENNA.sub(antenna, text)))
        return _ZERO.sub("", _PERCENT.sub("\N{NO-BREAK SPACE}%", text))


def called(context: FlightContext) -> Called:
    """The names that held in one flight."""
    layout = context.layout or (context.aircraft.layouts[-1] if context.aircraft and context.aircraft.layouts else None)
    return Called(_antennas((layout,) if layout else ()), {role: p.name for role, p in context.packs.items()})


def called_on(aircraft: Aircraft | None) -> Called:
    """The names an aircraft's antennas have; the newest layout that knows an antenna names it."""
    return Called(_antennas(aircraft.layouts if aircraft else ()))


def _antennas(layouts: tuple[AntennaLayout, ...]) -> dict[str, str]:
    return {f"{a.receiver}.antenna{a.number}": a.name for lay in layouts for a in lay.antennas if a.name}
