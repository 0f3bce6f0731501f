"""Numbers that only several headings together declare: Roman numerals, ``E1``, ``1.2``; and the sum of cells.

``TW I`` beside ``TW II`` are the first and the second engine, where ``I`` alone may be a current. ``E1`` and ``E2``
before what engines have are engines, before what receivers have receivers. ``Cell 1.2`` beside ``Cell 1.3`` and
``Cell 2.1`` is the first pack's second. ``Rx1 total`` beside ``Rx1 c1`` and ``Rx1 c2`` is the voltage of the pack.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence

from msgspec.structs import replace

from importers.meaning.heading import Heading
from importers.meaning.rules import implied
from importers.meaning.words import meanings

_ROMAN = {"i": "1", "ii": "2", "iii": "3", "iv": "4"}
_OF_ENGINES = frozenset({"rpm", "egt", "temperature", "fuel", "flow", "pump", "ecu", "throttle", "tank", "used"})
_OF_SIGNALS = frozenset({"antenna", "rssi", "rx", "link", "lost", "quality", "cell"})
_NUMBERS = frozenset("1234")
_ONLY_RECEIVERS = frozenset({"antenna", "quality", "failsafe"})
_ONLY_ENGINES = frozenset({"rpm", "egt", "pump", "engine", "fuel", "tank"})
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
    return _sums(_of_packs(_receivers(_turns(_turns(list(headings), _roman), _engines))))


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


def _receivers(headings: list[Heading]) -> list[Heading]:
    """Read "E1" and "R1" as receivers, where some have what these alone have, and none what engines have."""
    codes = [(n, i, w) for n, h in enumerate(headings) for i, w in enumerate(h.words[:-1])
             if w in "erl" and h.words[i + 1] in _NUMBERS and h.glued[i + 1] and "rx" not in h.ideas]  # fmt: skip
    said = {w: {m for n, _, x in codes if x == w for m in headings[n].ideas} for _, _, w in codes}
    numbers = {w: {headings[n].words[i + 1] for n, i, x in codes if x == w} for w in said}
    names = {w for w, ideas in said.items() if _ONLY_RECEIVERS & ideas and not _ONLY_ENGINES & ideas}
    names = {w for w in names - {"l"} if {"1", "2"} <= numbers[w] and not (w == "r" and "l" in said)}  # no sides
    out = list(headings)
    for n, i, w in codes:
        if w in names:
            out[n] = _turned(headings[n], [(i, "rx")])
    return out


def _of_packs(headings: list[Heading]) -> list[Heading]:
    """Read two numbers behind the word for a cell as its pack's and its own, where their set tells which is which.

    The cells of a pack count up from 1, two or more, and they stand together. Else they stay, and are doubted.
    """
    grids: dict[tuple[object, ...], list[tuple[int, int]]] = defaultdict(list)
    headings = _digits_apart(headings)
    for n, h in enumerate(headings):
        if (i := _two_numbers(h)) >= 0:
            grids[h.words[:i], h.words[i + 2 :], h.unit].append((n, i))
    out = list(headings)
    for grid in grids.values():
        first = [(headings[n].words[i], headings[n].words[i + 1]) for n, i in grid]
        second = [(pack, cell) for cell, pack in first]
        ways = [cells for cells in (first, second) if _packs(cells)]
        if len(ways) == 2:  # the packs stand one behind the other
            ways = [cells for cells in ways if cells == sorted(cells, key=lambda c: (int(c[0]), int(c[1])))]
            ways = [] if ways == [second] else ways  # and yet the first number of two is that of the whole
        for (n, i), (pack, cell) in zip(grid, ways[0] if ways else [], strict=bool(ways)):
            out[n] = _of_pack(out[n], i, pack, cell)
    return out


def _digits_apart(headings: list[Heading]) -> list[Heading]:
    """Read cells 11, 12, 21 and 22 as those of two packs, where there is none below."""
    rows: dict[tuple[object, ...], list[tuple[int, int]]] = defaultdict(list)
    for n, h in enumerate(headings):
        numbers = [i for i, w in enumerate(h.words) if w.isdigit()]
        if len(numbers) == 1 and (i := numbers[0]) and _of_cell(h, i):
            rows[h.words[:i], h.words[i + 1 :], h.unit].append((n, i))
    out = list(headings)
    for row in rows.values():
        written = [headings[n].words[i] for n, i in row]
        apart = all(len(number) == 2 for number in written) and len({number[0] for number in written}) > 1
        if not apart or not _packs([(number[0], number[1]) for number in written]):
            continue
        for n, i in row:
            h = headings[n]
            out[n] = replace(h, words=(*h.words[:i], *h.words[i], *h.words[i + 1 :]),
                             ideas=(*h.ideas[: i + 1], "", *h.ideas[i + 1 :]),
                             glued=(*h.glued[: i + 1], True, *h.glued[i + 1 :]))  # fmt: skip
    return out


def _of_cell(h: Heading, at: int) -> bool:
    """Whether a number stands behind the word for a cell, or for its voltage."""
    before = at - 1
    before -= before > 0 and h.ideas[before] == "voltage"
    return h.words[before] in _CELLS or h.ideas[before] == "cell"


def _two_numbers(h: Heading) -> int:
    """Where two numbers stand behind the word for a cell, or for its voltage, and no other in the heading; else -1."""
    numbers = [i for i, w in enumerate(h.words) if w.isdigit()]
    if len(numbers) != 2 or numbers[1] != numbers[0] + 1 or not numbers[0]:
        return -1
    return numbers[0] if _of_cell(h, numbers[0]) else -1


def _packs(cells: Sequence[tuple[str, str]]) -> bool:
    """Whether pairs of numbers are those of packs and of their cells, two or more of each pack."""
    packs: dict[str, set[int]] = defaultdict(set)
    for pack, cell in cells:
        packs[pack].add(int(cell))
    whole = all(found == set(range(1, len(found) + 1)) and len(found) > 1 for found in packs.values())
    return whole and len(set(cells)) == len(cells)


def _of_pack(h: Heading, at: int, pack: str, cell: str) -> Heading:
    """A heading with the number of the pack before the word for its cell, and that of the cell behind."""
    words, ideas = (*h.words[:at], cell, *h.words[at + 2 :]), (*h.ideas[:at], "", *h.ideas[at + 2 :])
    glued = (*h.glued[: at + 1], *h.glued[at + 2 :])
    of = ideas.index("pack") if "pack" in ideas[:at] else -1
    named = (pack,) if of >= 0 else ("pack", pack)
    of = of + 1 if of >= 0 else 0
    return replace(h, words=(*words[:of], *named, *words[of:]),
                   ideas=(*ideas[:of], *("pack", "")[-len(named) :], *ideas[of:]),
                   glued=(*glued[:of], *(False,) * len(named), *glued[of:]))  # fmt: skip


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
