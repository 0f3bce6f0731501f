"""Numbers that only several headings together declare: Roman numerals, ``E1`` beside ``E2``; and the sum of cells.

``TW I`` beside ``TW II`` are the first and the second engine, where ``I`` alone may be a current. ``E1`` and ``E2``
before what engines have are engines. ``Rx1 total`` beside ``Rx1 c1`` and ``Rx1 c2`` is the voltage of the pack.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from importers.meaning.heading import Heading
from importers.meaning.rules import implied
from importers.meaning.words import meanings

_ROMAN = {"i": "1", "ii": "2", "iii": "3", "iv": "4"}
_OF_ENGINES = frozenset({"rpm", "egt", "temperature", "fuel", "flow", "pump", "ecu", "throttle", "tank", "used"})
_OF_SIGNALS = frozenset({"antenna", "rssi", "rx", "link", "lost", "quality", "cell"})
_CELLS = frozenset({"c", "z", "cell"})
_SUMS = frozenset(
    ["total", "ges", "gesamt", "tot", "totale", "summe", "sum", "somme", "suma", "somma", "all", "whole", "full"]
)
Place = tuple[tuple[str, ...], tuple[str, ...]]


def declared(headings: Sequence[Heading]) -> list[Heading]:
    """Headings with the numbers that they declare together.

    >>> from importers.meaning.heading import dissect
    >>> [h.words for h in declared([dissect("Empf. I (V)"), dissect("Empf. II (V)")])]
    [('empf', '1'), ('empf', '2')]
    """
    return _sums(_turns(_turns(list(headings), _roman), _engines))


def _turns(headings: list[Heading], at: Callable[[Heading], Iterator[tuple[int, str, str]]]) -> list[Heading]:
    """Replace a word that takes turns with its fellows, where the first and the second stand in one place."""
    turns: dict[tuple[Place, str | None], set[str]] = defaultdict(set)
    for h in headings:
        for i, which, _ in at(h):
            turns[_place(h, i, which), h.unit].add(which)
    return [_turned(h, [(i, w) for i, n, w in at(h) if {"1", "2"} <= turns[_place(h, i, n), h.unit]]) for h in headings]


def _turned(h: Heading, words: Sequence[tuple[int, str]]) -> Heading:
    """A heading with other words in some places."""
    if not words:
        return h
    new = dict(words)
    ideas = {i: (meanings(w) or ("",))[0] for i, w in new.items()}
    return replace(h, words=tuple(new.get(i, w) for i, w in enumerate(h.words)),
                   ideas=tuple(ideas.get(i, idea) for i, idea in enumerate(h.ideas)))  # fmt: skip


def _place(h: Heading, i: int, which: str) -> Place:
    after = h.words[i + 1 :]
    return h.words[:i], after[1:] if after[:1] == (which,) else after


def _roman(h: Heading) -> Iterator[tuple[int, str, str]]:
    yield from ((i, _ROMAN[w], _ROMAN[w]) for i, w in enumerate(h.words) if w in _ROMAN and len(h.words) > 1)


def _engines(h: Heading) -> Iterator[tuple[int, str, str]]:
    """Codes such as "E1" beside what engines have."""
    if "e" not in h.words:
        return
    said = {m for w in h.words for m in meanings(w)[:1]} | {implied(h.unit or "")}
    if "engine" in said or not said & _OF_ENGINES or (said & _OF_SIGNALS and "ecu" not in said):
        return
    for i, (word, number) in enumerate(zip(h.words, h.words[1:], strict=False)):
        if word == "e" and number in ("1", "2", "3", "4") and h.glued[i + 1]:
            yield i, number, "engine"


def _sums(headings: list[Heading]) -> list[Heading]:
    """Read what a pack's cells make together as its voltage, where no other quantity is said."""
    stems: dict[tuple[str, ...], set[str]] = defaultdict(set)
    for h in headings:
        for i, (word, number) in enumerate(zip(h.words, h.words[1:], strict=False)):
            if number.isdigit() and (word in _CELLS or meanings(word)[:1] == ("cell",)):
                stems[h.words[:i]].add(number)
    cells = {stem for stem, numbers in stems.items() if {"1", "2"} <= numbers}
    return [
        replace(h, words=(*h.words[:-1], "voltage"), ideas=(*h.ideas[:-1], "voltage"))
        if h.words[-1:] and h.words[-1] in _SUMS and h.words[:-1] in cells and h.unit in (None, "V", "mV")
        else h
        for h in headings
    ]
