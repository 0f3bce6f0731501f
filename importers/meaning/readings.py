"""All readings of a heading: each choice of meanings, each channel they may speak of, and what speaks against it."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

from analyser.core.channels import Channel, parse
from importers.meaning import choices, names
from importers.meaning.heading import Heading
from importers.meaning.names import LITERAL, UNKNOWN, Known, Named
from importers.meaning.rules import IMPLIED, NOT_NOW, RULES, Rule
from importers.meaning.witness import Numbers, Verdict
from importers.meaning.words import meanings

_AT_MOST = 48
"""Readings of the words that are tried."""
_COST = {Verdict.FITS: 0.0, Verdict.SILENT: 0.1, Verdict.ODD: 0.6, Verdict.CONTRADICTS: 3.0}


@dataclass(frozen=True, slots=True)
class Reading:
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

    @property
    def quantity_said(self) -> bool:
        """Whether words, not the unit alone, say the quantity."""
        return bool(self.rule.speaks & set(self.ideas))


def readings(
    heading: Heading, seen: Numbers | None, known: Known, *, flags: bool = False
) -> tuple[list[Reading], str]:
    """Every reading of a heading that its values allow, the best first, and why it may be none at all.

    Returns
    -------
    list of Reading
    str
        The idea of :data:`importers.meaning.rules.NOT_NOW` that a word speaks of, '' where there is none.
    """
    glued = heading.glued or (False,) * len(heading.words)
    options = [_options(w, i, heading, glued) for i, w in enumerate(heading.words)]
    found: dict[str, Reading] = {}
    not_now = ""
    firm = [o[0] for o in options if len(o) == 1]
    for combo in itertools.islice(itertools.product(*(range(len(o)) for o in options)), _AT_MOST):
        ideas = tuple(o[n] for o, n in zip(options, combo, strict=True))
        order = sum(combo)
        stop = next((i for i in ideas if i in NOT_NOW and not _excused(i, ideas)), "")
        if stop:
            not_now = not_now or (stop if stop in firm or order == 0 else "")
            continue
        for reading in _each(heading, ideas, glued, order, seen, known, flags):
            before = found.get(reading.name)
            if before is None or reading.cost < before.cost:
                found[reading.name] = reading
    if any(i in NOT_NOW and not _excused(i, tuple(firm)) for i in firm):
        return [], next(i for i in firm if i in NOT_NOW)
    return sorted(found.values(), key=lambda r: r.cost), not_now


def _options(word: str, at: int, heading: Heading, glued: tuple[bool, ...]) -> tuple[str, ...]:
    if word.isdigit():
        return (LITERAL,)
    said = meanings(word)
    if not said and len(word) == 1 and word in "abcdefgh":
        return (LITERAL,)
    if not said:
        return (UNKNOWN,)
    out = tuple(LITERAL if i.startswith("#") else i for i in said)
    if len(word) == 1 and LITERAL in out:
        number_next = at + 1 < len(heading.words) and glued[at + 1] and heading.words[at + 1].isdigit()
        if word != "c" and (heading.unit is not None or number_next):
            out = (LITERAL, *(i for i in out if i != LITERAL))
        if word == "c" and not number_next:
            out = (LITERAL,)
    if len(word) == 1 and LITERAL not in out and len(heading.words) > 1 and at not in (0, len(heading.words) - 1):
        return (UNKNOWN,)
    return out


def _excused(idea: str, ideas: tuple[str, ...]) -> bool:
    """Another system's own pack is a pack; a state may be of a switch."""
    if idea == "state":
        return bool({"gear", "failsafe"} & set(ideas))
    return False


def _each(
    heading: Heading, ideas: tuple[str, ...], glued: tuple[bool, ...], order: int, seen: Numbers | None, known: Known,
    flags: bool,
) -> list[Reading]:  # fmt: skip
    said = set(ideas) | _implied(heading, ideas)
    if names.may_be_antenna(heading.words, ideas, glued):
        said.add("antenna")
    out = []
    for place, rule in enumerate(RULES):
        if said & rule.barred or not all(said & n for n in rule.needed):
            continue
        channel = rule.channel
        if "<n>" in rule.key and heading.unit is None and channel.unit == "%":
            continue
        unit = choices.choose(rule.key, channel, heading, seen, flags=flags)
        if unit is None:
            continue
        named = names.name(rule, heading.words, ideas, glued, known)
        if "<n>" in channel.quantity and named.number is None:
            if not named.antenna:
                continue
            named = names.replace_number(named, 1)
        name = channel.subject + "." + (f"{named.instance}." if channel.has_instance else "")
        name += channel.quantity.replace("<n>", str(named.number))
        if parse(name) is None:
            continue
        cost = 1.0 * len(named.unknown) + 1.2 * len(named.foreign) + 0.2 * order + _COST[unit.verdict] + 0.002 * place
        cost += 0.05 * named.unsure + (0.3 if unit.how == "asked" else 0.0)
        out.append(Reading(name, channel, rule, ideas, named, unit, order, cost))
    return out


def _implied(heading: Heading, ideas: tuple[str, ...]) -> set[str]:
    """What the unit says of the quantity."""
    unit = (heading.unit or "").rpartition(" ")[2]
    out = {IMPLIED[unit]} if unit in IMPLIED else set()
    if unit in ("degC", "degF", "K") and "egt" not in ideas:
        out.add("temperature")
    if "fuel" in ideas or "tank" in ideas:
        out.discard("charge")
    return out
