"""Headings that differ by one letter or number only speak of one thing: what one is taken for, the other must be too.

"Fuel G" read as the left tank and "Fuel D" as a tank called d, or "Rx A" as the only pack and "Rx B" as pack b, cannot
both be right: one letter was misread. Both are doubted.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Sequence
from itertools import combinations

from msgspec.structs import replace

from analyser.core.channels import ChannelName, parse
from importers.layout.codes import LayoutCode
from importers.layout.proposals import also
from importers.meaning import certainty
from importers.meaning.heading import split
from importers.meaning.words import fold, meanings
from importers.model import ColumnPlan

_PAIRED = (("l", "r"), ("g", "d"), ("i", "d"), ("s", "d"), ("a", "b"), ("1", "2"))
"""Letters that stand for two of a kind, alone, at the end of a word or before one more letter, in five languages."""
_SIDES = ("left", "right")
_SMOKE = frozenset(["smoke", "rauch", "fumigene", "fumee", "humo", "fumo", "fumogeno", "fumogena", "smoker"])
_TOTAL = frozenset(
    ["total", "totale", "totales", "totals", "sum", "summe", "somme", "suma", "somma", "gesamt", "gesamter", "gesamte",
     "gesamtes", "insgesamt", "combined", "together", "zusammen", "all", "alle", "tous", "toutes", "todos", "todas",
     "tutti", "tutte", "overall", "both", "beide"]
)  # fmt: skip
"""Words that may speak of several parts at once, in five languages."""


def doubted(proposed: Sequence[ColumnPlan]) -> list[ColumnPlan]:
    """Doubt columns whose counterpart is read another way.

    Examples
    --------
    ``"Fuel G (ml)"`` as ``fuel.left.remaining_ml`` beside ``"Fuel D (ml)"`` as ``fuel.d.remaining_ml``: both are asked.
    """
    places: dict[tuple[str, ...], dict[str, int]] = defaultdict(dict)
    for i, column in enumerate(proposed):
        for stem, token in _stems(column):
            places[stem].setdefault(token, i)
    out = list(proposed)
    for tokens in places.values():
        for (one, i), (other, k) in combinations(tokens.items(), 2):
            if i != k and _differ(proposed[i], proposed[k], one, other):
                for at, beside in ((i, k), (k, i)):
                    out[at] = _doubt(out[at], LayoutCode.UNLIKE_ITS_COUNTERPART, heading=proposed[beside].heading)
    return _pumps(_sums(out))


def _pumps(proposed: list[ColumnPlan]) -> list[ColumnPlan]:
    """Doubt a pump that nobody calls the engine's, and no shaft bears out, in a log that speaks of smoke.

    Where the smoke's own pump is in the log by name, the other one is the engine's.
    """
    smoke = [words for c in proposed if _SMOKE & set(words := split(c.plain)[0])]
    if not smoke or any("pump" in meanings(w) for words in smoke for w in words):
        return proposed
    for i, column in enumerate(proposed):
        known = parse(column.channel)
        if known is None or not known.channel.quantity.startswith("pump_") or column.evidence.get("agrees"):
            continue
        if not {"fuel", "engine", "ecu"} & {m for w in split(column.plain)[0] for m in meanings(w)}:
            proposed[i] = _doubt(column, LayoutCode.OTHER_PUMP)
    return proposed


def _sums(proposed: list[ColumnPlan]) -> list[ColumnPlan]:
    """Doubt a total that names no part, beside two parts of its kind: it is likelier their sum than a third."""
    names: dict[str, set[str]] = defaultdict(set)
    for column in proposed:
        if (known := parse(column.channel)) and known.instance not in ("", "main"):
            names[known.channel.subject].add(known.instance)
    for i, column in enumerate(proposed):
        known = parse(column.channel)
        if known is None or known.instance != "main" or len(names[known.channel.subject]) < 2:
            continue
        if _TOTAL & set(re.findall(r"[a-z]+", fold(column.plain))):
            proposed[i] = _doubt(column, LayoutCode.SUM_OF_OTHERS)
    return proposed


def _stems(column: ColumnPlan) -> list[tuple[tuple[str, ...], str]]:
    """A heading with one token left out, or one letter of it, for each that may be a name, and what was left out."""
    plain = re.sub(r"[\[({<].*?[\])}>]", " ", column.plain)
    plain = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", plain)
    tokens = re.findall(r"[^\W\d_]+|\d+", fold(plain))
    out = []
    for i, token in enumerate(tokens):
        before, behind = tuple(tokens[:i]), tuple(tokens[i + 1 :])
        if token == column.unit_found.casefold() and i + 1 == len(tokens):
            continue
        if len(token) == 1 and (before or behind):
            out.append(((*before, "", *behind), token))
        elif token.isalpha():
            out.append(((*before, f"{token[:-1]}-", *behind), token[-1]))
        if len(token) == 2 and token.isalpha() and (before or behind):
            out.append(((*before, f"-{token[1]}", *behind), token[0]))
    return out


def _differ(one: ColumnPlan, other: ColumnPlan, first: str, second: str) -> bool:
    """Whether two counterparts are read as different things, or only one of them is read."""
    if not any({first, second} == set(pair) for pair in _PAIRED):
        return False
    mine, theirs = parse(one.channel), parse(other.channel)
    if (mine is None and theirs is None) or one.evidence.get("turned") or other.evidence.get("turned"):
        return False
    if mine is None or theirs is None:
        unread = one if mine is None else other
        return unread.kind == "number" and bool(unread.samples) and not unread.settled and bool(unread.channel)
    if mine.channel.unit != theirs.channel.unit and one.evidence.get("unit_said") and other.evidence.get("unit_said"):
        return False  # "Ch1 - Rx battery [V]", "Ch2 - Rx battery [A]": the units say that they differ
    if mine.channel != theirs.channel:
        return _unnumbered(mine.channel.quantity) != _unnumbered(theirs.channel.quantity)
    return _unlike(mine, theirs)


def _unlike(mine: ChannelName, theirs: ChannelName) -> bool:
    """Whether only one of two names is a side, or only one is a name at all."""
    one, other = mine.instance or "main", theirs.instance or "main"
    if one == other:
        return False
    sides = [any(side in name for side in _SIDES) for name in (one, other)]
    return sides[0] != sides[1] or "main" in (one, other) or one.startswith(f"{other}_") or other.startswith(f"{one}_")


def _unnumbered(quantity: str) -> str:
    return re.sub(r"\d+|<n>", "", quantity)


def _doubt(column: ColumnPlan, code: LayoutCode, **values: str) -> ColumnPlan:
    if column.settled or not column.evidence or parse(column.channel) is None or column.evidence.get("unsure_name"):
        return column
    evidence = {k: v for k, v in column.evidence.items() if k != "agrees"} | {"unsure_name": 1.0}
    sure = round(certainty.weights()(evidence), 3)
    return replace(
        column, evidence=evidence, confidence=sure,
        reason=also(column.reason, code, **values),
    )  # fmt: skip
