"""What things of the aircraft and channels are called: ``link.rx2.antenna2`` is ``the fin antenna (rx2, antenna 2)``.

The owner's own names come from the aircraft's file and the packs fitted; the words around them from the catalogue.
"""

from __future__ import annotations

import functools
import re
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

from msgspec import Struct, field
from msgspec.structs import replace

from analyser.core.channels import EXTRA, parse
from analyser.core.findings import Finding, Text
from reports.words.reader import Reader, named_by, reader, reading
from reports.words.texts import add_filters, has, lower_first, message, named, text, upper_first
from reports.words.vocabulary import group_of, group_word

if TYPE_CHECKING:
    from analyser.core.aircraft import Aircraft, AntennaLayout, FlightContext

_ANTENNA = re.compile(r"(?:link\.)?([A-Za-z0-9_]+)\.antenna(\d+)")
_KINDS = ("pack", "bus", "engine", "fuel", "link")


class Names(Struct, frozen=True):
    """Given names: ``antennas`` by ``rx2.antenna2``, ``packs`` by the role they were fitted in.

    Examples
    --------
    >>> names = Names({"rx2.antenna2": "fin"}, {"rx2": "R2"})
    >>> names("link.rx2.antenna2"), names("pack.rx2"), names("fuel.left")
    ('the fin antenna (rx2, antenna 2)', 'pack R2 (rx2)', 'the left tank')
    >>> names.heading("fuel.left"), names.brief("link.rx2.antenna2")
    ('Left tank', 'fin antenna')
    """

    antennas: Mapping[str, str] = field(default_factory=dict)
    packs: Mapping[str, str] = field(default_factory=dict)

    def __hash__(self) -> int:
        return hash((frozenset(self.antennas.items()), frozenset(self.packs.items())))

    def __call__(self, part: str) -> str:
        """Name a part or a channel as it stands inside a sentence."""
        return self._written(part, "name")

    def heading(self, part: str) -> str:
        """Name a part or a channel as a heading or the first cell of a row does."""
        return self._written(part, "heading")

    def brief(self, part: str) -> str:
        """Name a part where its kind is plain from the context: ``left``, ``R2``, ``fin antenna``."""
        if found := _ANTENNA.fullmatch(part):
            given = self.antennas.get(f"{found[1]}.antenna{found[2]}", "")
            code = "brief.antenna_given" if given else "brief.antenna"
            return message(code, given=_bare(given), receiver=slug_words(found[1]), number=found[2])
        head, _, rest = part.partition(".")
        if head == "pack" and rest in self.packs:
            return self.packs[rest]
        return slug_words(rest or head)

    def _written(self, part: str, how: str) -> str:
        if found := _ANTENNA.fullmatch(part):
            given = self.antennas.get(f"{found[1]}.antenna{found[2]}", "")
            code = f"{how}.antenna_given" if given else f"{how}.antenna"
            return message(code, given=_bare(given), receiver=slug_words(found[1]), number=found[2])
        if parse(part) is not None or part.startswith(f"{EXTRA}."):
            return lower_first(channel_label(part)) if how == "name" else channel_label(part)
        head, _, rest = part.partition(".")
        if not rest and (group := group_of(head)) != "other":
            return group_word(group)
        if head == "pack" and rest and self.packs.get(rest, rest) != rest:
            return message(f"{how}.pack_given", given=self.packs[rest], role=slug_words(rest))
        if head in _KINDS and rest and "." not in rest:
            return message(f"{how}.{head}", which=slug_words(rest))
        words = slug_words(part.replace(".", " "))
        return words if how == "name" else upper_first(words)


def _bare(given: str) -> str:
    """A given name without the word antenna, which the texts add: ``fin antenna`` → ``fin``."""
    return re.sub(r"\s*\bantenn(?:a|e)\b\s*", " ", given, flags=re.IGNORECASE).strip() or given


def slug_words(slug: str) -> str:
    """Write a free-text slug of an aircraft's file in words: ``ecu_left`` → ``ECU left``; known words translated."""
    return " ".join(message(f"word.{w}") if has(f"word.{w}") else w for w in slug.replace("_", " ").split(" "))


def channel_label(name: str, *, whose: bool = True) -> str:
    """Words for a channel name: ``pack.rx1.cell2_v`` → ``Cell voltage 2, rx1``; a column not understood by its slug."""
    parsed = parse(name)
    if parsed is None:
        return name.removeprefix(f"{EXTRA}.")
    words = message(f"channel.{parsed.channel.subject}.{parsed.channel.quantity}")
    if parsed.number:
        words += f" {parsed.number}"
    return words + (f", {slug_words(parsed.instance)}" if parsed.instance and whose else "")


def heading(part: str) -> str:
    """Name a part as a heading, as the reader's names have it."""
    return named("heading", part)


def brief(part: str) -> str:
    """Name a part briefly, as the reader's names have it."""
    return named("brief", part)


def naming(names: Names) -> reading:
    """Write for the present reader with these names, inside a ``with`` block."""
    return reading(_with(reader(), names))


@functools.lru_cache(16)  # flights of an aircraft say most things alike, and a reader knows what it was told before
def _with(who: Reader, names: Names) -> Reader:
    return replace(who, name=names)


def names_in_flight(context: FlightContext) -> Names:
    """Find the names that held in one flight."""
    layout = context.layout or (context.aircraft.layouts[-1] if context.aircraft and context.aircraft.layouts else None)
    return Names(_antennas((layout,) if layout else ()), {role: p.name for role, p in context.packs.items()})


def names_on(aircraft: Aircraft | None) -> Names:
    """Find the names an aircraft's antennas have; the newest layout that knows an antenna names it."""
    return Names(_antennas(aircraft.layouts if aircraft else ()))


def _antennas(layouts: tuple[AntennaLayout, ...]) -> dict[str, str]:
    return {f"{a.receiver}.antenna{a.number}": a.name for lay in layouts for a in lay.antennas if a.name}


def with_owner(label: Text, owner: str) -> str:
    """Say whose a figure is, where its label does not: ``Lowest voltage`` of ``rx1`` → ``Lowest voltage, rx1``."""
    words = said(label)
    if isinstance(label, Finding) and label.values:
        return words
    low = words.lower().replace("_", " ")
    missing = [
        part
        for piece in owner.split(".")
        if piece
        and (part := re.sub(r"^antenna(?=\d)", message("word.antenna") + " ", slug_words(piece))).lower() not in low
    ]
    return ", ".join([words, *missing])


_MINUS = re.compile(r"(?<![\w.)-])-(?=\d)")
_IN_TEXT = re.compile(
    r"\b(?:link\.)?[A-Za-z0-9_]+\.antenna\d+\b|\b(?:pack|bus|engine|fuel|link)\.[A-Za-z0-9_]+\b(?!\.\w)"
)
_PERCENT = re.compile(r"(?<=\d)%")


def said(words: Text) -> str:
    """Put what the analyser says in the reader's words.

    A plain string is a name or a remark of the import and stays, except that dotted parts in it are named.
    """
    if isinstance(words, Finding):
        return text(words)
    who, key = reader(), (type(words), words)
    known = who.written.get(key)  # flights of an aircraft label their figures alike
    return who.remember(key, _dotted(text(words), who.name)) if known is None else known


def _dotted(given: str, name: Callable[[str], str]) -> str:
    def put(found: re.Match[str]) -> str:
        before = found.string[: found.start()].rstrip()
        begins = not before or before.endswith((".", "!", "?", ":"))
        return upper_first(name(found[0])) if begins else name(found[0])

    given = _MINUS.sub("\N{MINUS SIGN}", _IN_TEXT.sub(put, given))
    return _PERCENT.sub("\N{NO-BREAK SPACE}%", given)


named_by(Names())
add_filters(heading=heading, brief=brief)
