"""What the headings of one file say together: shared names, letters, sequences, the logger's name."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence, Set
from functools import lru_cache

from msgspec.structs import replace

from analyser.core.aircraft import Aircraft
from importers.layout import numbering, tags
from importers.layout.reconcile import roles_of
from importers.meaning import units
from importers.meaning.heading import Heading
from importers.meaning.names import Known
from importers.meaning.rules import NOT_NOW, PARTS, implied
from importers.meaning.words import compound, meanings

_EVERYWHERE = 0.6
_NAMES = "bcdefgh"
COURSES = frozenset({"cap", "rumbo"})
"""Words for where the nose points, and for where the aircraft goes."""
_RUDDERS = {"qr": "aileron", "hr": "elevator", "sr": "rudder"}
"""German short forms, where two of them stand in one log."""
_SIDE_PAIRS = (("l", "r"), ("g", "d"), ("li", "re"), ("izq", "der"), ("s", "d"), ("i", "d"))
"""Short forms of left and right in the five languages, that only tell beside each other."""
_SIDE_LETTERS = frozenset(w for pair in _SIDE_PAIRS for w in pair)
_GLUED_SIDES: dict[frozenset[str], tuple[str, ...]] = {
    frozenset(pair): pair
    for pair in (("l", "r"), ("g", "d"), ("lh", "rh"), ("li", "re"), ("sx", "dx"), ("lt", "rt"), ("izq", "der"))
}
"""Sides that are run together with a word; left first."""
_GLUED_LETTERS = (frozenset("ab"), frozenset("abc"), frozenset("abcd"))
"""Names that are run together with a word: "anta" beside "antb"."""
_QUANTITIES = frozenset(
    {"voltage", "current", "charge", "used", "temperature", "cell", "rssi", "quality", "lost", "rpm", "egt"}
)
_GERMAN = frozenset(["drehzahl", "akku", "spannung", "strom", "hohe", "geschwindigkeit", "querruder", "hohenruder",
    "seitenruder", "fahrwerk", "abgas", "empfanger", "pumpe", "feldstarke", "temperatur", "klappen", "bremse",
    "zelle", "breite", "lange", "kurs"])  # fmt: skip


def known(headings: Sequence[Heading], aircraft: Aircraft | None = None) -> Known:
    """What is understood of a file's headings beyond their own words.

    Parameters
    ----------
    headings : sequence of Heading
        All but those of the clock.
    aircraft : Aircraft, optional
        Whose flights these are; the names of its parts are understood.
    """
    return _known(tuple(headings), frozenset(_parts(aircraft).items()))


@lru_cache(maxsize=64)
def _known(headings: Sequence[Heading], parts: Set[tuple[str, frozenset[str]]]) -> Known:
    everywhere = _everywhere(headings)
    shared = _shared(headings, everywhere) | _in_turn(headings)
    chosen = _chosen(headings)
    return Known(
        dict(parts), shared, everywhere, _firm(headings), chosen, _paired(headings),
        _named(headings, chosen, _of_receiver), _named(headings, chosen, _of_engine),
        _one_pack(headings), _sides(headings, chosen),
    )  # fmt: skip


def _sides(headings: Sequence[Heading], chosen: Mapping[str, str]) -> frozenset[str]:
    """The sides that some headings speak of."""
    said = {chosen.get(w) or (meanings(w) or ("",))[0] for h in headings for w in h.words}
    return frozenset(said & {"left", "right"})


def _of_receiver(h: Heading) -> bool:
    """Whether a heading's number or letter can be of nothing but a receiver: an antenna has no quality or failsafe."""
    ideas = set(h.ideas)
    linked = "rx" in ideas and ({"rssi", "lost"} & ideas or h.unit == "dBm") and "antenna" not in ideas
    return bool({"quality", "failsafe"} & ideas or linked) and "gps" not in ideas


def _one_pack(headings: Sequence[Heading]) -> bool:
    """Whether headings speak of a pack or of cells, and none says of which."""
    of_packs = [h for h in headings if {"pack", "cell", "rx", "ecu", "bus"} & set(h.ideas)]
    said = {i for h in of_packs for i in h.ideas}
    numbers = [
        w
        for h in of_packs
        for i, w in enumerate(h.words)
        if (w.isdigit() or not meanings(w)) and h.ideas[i - 1 : i] not in (("cell",), ("voltage",))
    ]
    return bool({"pack", "cell"} & said) and not said & PARTS["pack"] - {"main"} and not numbers


def _of_engine(h: Heading) -> bool:
    return bool({"rpm", "egt"} & {*h.ideas, implied(h.unit or "")})


def _named(headings: Sequence[Heading], chosen: Mapping[str, str], of: Callable[[Heading], bool]) -> frozenset[str]:
    """The numbers, letters and sides in some headings, where there are two or more."""
    out = set()
    for h in filter(of, headings):
        for word in h.words:
            side = chosen.get(word) or (meanings(word) or ("",))[0]
            if side in ("left", "right"):
                out.add(side)
            elif word.isdigit() or (len(word) == 1 and word in "abcdef"):
                out.add(word)
    return frozenset(out) if len(out) > 1 else frozenset()


def letters(headings: Sequence[Heading]) -> list[Heading]:
    """Read a last "A" as a name or as amperes, as neighbours show: "Batt A" beside "Batt B", or beside "Batt V"."""
    return list(_lettered(tuple(headings)))


@lru_cache(maxsize=64)
def _lettered(headings: Sequence[Heading]) -> Sequence[Heading]:
    headings = tags.left_out(headings)
    stems: dict[tuple[str, ...], set[str]] = defaultdict(set)
    for h in headings:
        tail = h.unit_text if h.unit_by in ("tail", "suffix") else ""
        stems[h.words if tail else h.words[:-1]].add(tail.casefold() if tail else (h.words or ("",))[-1])
    parts = {h.words[i - 1] for h in headings for i in range(1, len(h.words)) if h.words[i] == "a"}
    out = []
    for h in headings:
        ends = stems[h.words]
        named = bool(ends & set(_NAMES)) or any(e.isdigit() for e in ends)
        named = named or (h.words[-1:] != () and h.words[-1] in parts)
        bare = h.unit_by in ("tail", "suffix") and h.unit_text == "A" and not re.search(r"(?:,| in| en) A$", h.text)
        if bare and named and not ends & {"v", "mah", "mv"}:
            words, ideas, glued = (*h.words, "a"), (*h.ideas, ""), (*h.glued, False)
            out.append(replace(h, unit=None, unit_text="", unit_by="", words=words, ideas=ideas, glued=glued))
        else:
            out.append(h)
    plain = _litres(_numbered_shafts(_over_units(_amperes(numbering.declared(out)))))
    once = _sided(plain)
    return _sided(once) if once != plain else once


def _sided(headings: Sequence[Heading]) -> list[Heading]:
    """Take a side off words that differ by it alone: "EGTL" beside "EGTR", "n TL" beside "n TR", "LE N" and "RE N"."""
    turns: dict[tuple[object, ...], set[str]] = defaultdict(set)
    parted = [[(i, *cut) for i, word in enumerate(h.words) for cut in _cuts(word)] for h in headings]
    for h, cuts in zip(headings, parted, strict=True):
        for i, letter, rest, last in cuts:
            turns[(h.words[:i], h.words[i + 1 :], rest, last)].add(letter)
    return [_with_side(h, cuts, turns) for h, cuts in zip(headings, parted, strict=True)]


def _with_side(
    h: Heading, cuts: Sequence[tuple[int, str, str, bool]], turns: Mapping[tuple[object, ...], set[str]]
) -> Heading:
    for i, letter, rest, last in cuts:
        others = frozenset(turns[(h.words[:i], h.words[i + 1 :], rest, last)])
        parts = compound(rest) or (rest,)
        if others in _GLUED_LETTERS and last and any(map(_is_word, parts)) and not _is_word(h.words[i]):
            return _with_words(h, i, (*parts, letter))
        pair = _GLUED_SIDES.get(others, ())
        whole_word = _is_word(h.words[i]) and last and not _is_word(rest)
        if letter in pair and not whole_word:
            side = ("left", "right")[pair.index(letter)]
            own = compound(rest) or (rest,)
            return _with_words(h, i, (*own, side) if len(rest) > 1 or len(h.words) == 1 else (side,))
    return h


def _is_word(text: str) -> bool:
    """Whether a word says something by itself."""
    return meanings(text)[:1] not in ((), ("",))


_TWO_LETTERS = frozenset(side for pair in _GLUED_SIDES for side in pair if len(side) > 1)


def _cuts(word: str) -> list[tuple[str, str, bool]]:
    """The last letter of a word and the rest, and the first of a word of two; what may be a side."""
    if not word.isalpha() or len(word) < 2:
        return []
    ends = [
        (word[-n:], word[:-n], True) for n in (1, 2, 3) if n == 1 or (len(word) > n + 1 and word[-n:] in _TWO_LETTERS)
    ]
    return [*ends, *([(word[0], word[1], False)] if len(word) == 2 else [])]


def _with_words(heading: Heading, at: int, words: tuple[str, ...]) -> Heading:
    """A heading with one of its words replaced."""
    ideas = tuple((meanings(w) or ("",))[0] for w in words)
    return replace(
        heading,
        words=(*heading.words[:at], *words, *heading.words[at + 1 :]),
        ideas=(*heading.ideas[:at], *("" if i.startswith("#") else i for i in ideas), *heading.ideas[at + 1 :]),
        glued=(*heading.glued[:at], *heading.glued[at : at + 1], *[False] * (len(words) - 1), *heading.glued[at + 1 :]),
    )


def _over_units(headings: Sequence[Heading]) -> list[Heading]:
    """Keep the last "A" of "Rx pack A" as a name over a unit row, where "Rx pack B" stands beside it."""
    ends: dict[str, set[str]] = defaultdict(set)
    parted = [re.fullmatch(r"(.*\w)[\s_.-]+([A-Ha-h])", h.plain.strip()) for h in headings]
    for m in parted:
        if m:
            ends[m[1].casefold()].add(m[2].casefold())
    return [
        replace(h, words=(*h.words, "a"), ideas=(*h.ideas, ""), glued=(*h.glued, False))
        if m and m[2] in "Aa" and h.unit_by == "row" and len(ends[m[1].casefold()]) > 1 and h.words[-1:] != ("a",)
        else h
        for h, m in zip(headings, parted, strict=True)
    ]


def _amperes(headings: Sequence[Heading]) -> list[Heading]:
    """Read an "A" at either end as current: "A battery 1 (mA)", where no "B" stands in its place."""
    places = {(h.words[:i], h.words[i + 1 :]) for h in headings for i, w in enumerate(h.words) if w == "b"}
    out = []
    for h in headings:
        at = next((i for i in (0, len(h.words) - 1) if len(h.words) > 1 and h.words[i] == "a"), -1)
        if at < 0 or h.unit not in ("A", "mA") or "current" in h.ideas or (h.words[:at], h.words[at + 1 :]) in places:
            out.append(h)
        else:
            out.append(_with_words(h, at, ("amps",)))
    return out


def _litres(headings: Sequence[Heading]) -> list[Heading]:
    """Read a last "L" of fuel as litres where no heading of the log speaks of a right side."""
    if any(meanings(w)[:1] == ("right",) for h in headings for w in h.words):
        return list(headings)
    return [
        replace(h, unit="L", unit_text="L", unit_by="tail", words=h.words[:-1], ideas=h.ideas[:-1], glued=h.glued[:-1])
        if h.unit is None
        and h.words[-1:] == ("l",)
        and not h.glued[-1]
        and _FUEL & {i for w in h.words for i in meanings(w)}
        else h
        for h in headings
    ]


_FUEL = frozenset({"fuel", "tank", "used", "remaining"})


def _numbered_shafts(headings: Sequence[Heading]) -> list[Heading]:
    """Read "N1" beside "N2" as the shafts of two engines; alone it is the shaft."""
    elevens = {h.words[:i] + h.words[i + 2 :] for h in headings for i in range(len(h.words) - 1)
               if h.words[i : i + 2] == ("n", "12") and h.glued[i + 1]}  # fmt: skip
    if elevens:  # "N11" and "N12" are shaft N1 of engines 1 and 2
        return [_shaft_of(h, elevens) for h in headings]
    twos = {h.words[:i] + h.words[i + 2 :] for h in headings for i in range(len(h.words) - 1)
            if h.words[i : i + 2] == ("n", "2") and h.glued[i + 1]}  # fmt: skip
    out = []
    for h in headings:
        at = h.words.index("n1") if "n1" in h.words else -1
        if at >= 0 and h.words[:at] + h.words[at + 1 :] in twos:
            words = (*h.words[:at], "n", "1", *h.words[at + 1 :])
            ideas = (*h.ideas[:at], "rpm", "", *h.ideas[at + 1 :])
            glued = (*h.glued[: at + 1], True, *h.glued[at + 1 :])
            out.append(replace(h, words=words, ideas=ideas, glued=glued))
        else:
            out.append(h)
    return out


def _shaft_of(h: Heading, beside: Set[tuple[str, ...]]) -> Heading:
    at = h.words.index("n") if "n" in h.words[:-1] else -1
    rest = h.words[:at] + h.words[at + 2 :]
    if at < 0 or rest not in beside or h.words[at + 1] not in ("11", "12") or not h.glued[at + 1]:
        return h
    words = (*h.words[:at], "n1", h.words[at + 1][1], *h.words[at + 2 :])
    return replace(h, words=words, ideas=(*h.ideas[:at], "rpm", "", *h.ideas[at + 2 :]))


def _paired(headings: Sequence[Heading]) -> frozenset[tuple[str, ...]]:
    """Words of headings with one "left", beside which another says "right"."""
    every = {h.words for h in headings}
    lefts = (h.words for h in headings if h.words.count("left") == 1)
    return frozenset(w for w in lefts if tuple("right" if x == "left" else x for x in w) in every)


def _parts(aircraft: Aircraft | None) -> Mapping[str, frozenset[str]]:
    if aircraft is None:
        return {}
    names = {
        "fuel": {t.name for t in aircraft.tanks},
        "engine": {e.name for e in aircraft.engines},
        "link": {r.name for r in aircraft.receivers},
        "pack": {*roles_of(aircraft)},
    }
    return {subject: frozenset(n.casefold() for n in some) for subject, some in names.items() if some}


def _everywhere(headings: Sequence[Heading]) -> frozenset[str]:
    """Unknown words in most headings, of many quantities: the logger's or the model's name."""
    if len(headings) < 5:
        return frozenset()
    counts: dict[str, int] = defaultdict(int)
    for h in headings:
        for word in {w for w in h.words if not meanings(w) and not w.isdigit() and len(w) > 1}:
            counts[word] += 1
    return frozenset(w for w, n in counts.items() if n >= _EVERYWHERE * len(headings))


def _shared(headings: Sequence[Heading], everywhere: frozenset[str]) -> frozenset[str]:
    """Unknown words that stand in one place beside two quantities at least ("R1 V", "R1 A"): names of one part."""
    beside: dict[str, set[tuple[str, ...]]] = defaultdict(set)
    for h in headings:
        runs = _runs(h, everywhere)
        said = {i for i in h.ideas if i} | {implied(h.unit or "")}
        quantities = tuple(sorted(said & _QUANTITIES))
        for run in runs:
            if quantities and len(runs) == 1:
                beside[run].add(quantities)
    return frozenset(run for run, rests in beside.items() if len(rests) >= 2)


def _in_turn(headings: Sequence[Heading]) -> frozenset[str]:
    """Single letters that take turns in one place of one heading ("Rx volts A", "Rx volts B"): names."""
    places: dict[tuple[str, ...], set[str]] = defaultdict(set)
    for h in headings:
        for i, word in enumerate(h.words):
            if len(word) == 1 and word in "abcdef":
                places[(*h.words[:i], "", *h.words[i + 1 :])].add(word)
        if len(h.words) == 2 and h.words[0] in ("r", "b") and h.words[1].isdigit() and h.unit:
            places[("", h.unit)].add(h.words[0] + h.words[1])  # "R1 V" beside "R2 V"
    return frozenset(letter for letters in places.values() if len(letters) > 1 for letter in letters)


def _runs(heading: Heading, everywhere: frozenset[str]) -> list[str]:
    words, glued = heading.words, heading.glued or (False,) * len(heading.words)
    out = []
    for i, word in enumerate(words):
        number = words[i + 1] if i + 1 < len(words) and glued[i + 1] and words[i + 1].isdigit() else ""
        unknown = not meanings(word) and not word.isdigit() and not (len(word) == 1 and word in "bdf")
        unknown = unknown and units.understand(word) is None
        if word not in everywhere and ((unknown and (len(word) > 1 or number)) or (word in "lrabcdefgkmsw" and number)):
            out.append(word + number)
    return out


def _chosen(headings: Sequence[Heading]) -> dict[str, str]:
    """Sides that only their counterparts tell: "der." beside "izq." is the right one, "D" beside "G" in French."""
    said = {w for h in headings for w in h.words}
    out = {}
    if said & {"izq", "izquierda", "izquierdo"}:
        out["der"] = "right"
    if "port" in said and "right" not in _sides(headings, {}):
        out["port"] = "flow"  # "Port. carb.", where no column is of the starboard side
    if {"br", "lg"} <= said:
        out |= {"br": "latitude", "lg": "longitude"}
    ideas = {i for h in headings for i in h.ideas}
    if ideas & {"latitude", "longitude", "gps", "ground", "track"}:
        counted = [h.unit in (None, "1") for h in headings if "sat" in h.words]
        out |= {"sat": "satellites"} if counted and all(counted) else {}  # else it may be the static air's temperature
    courses = [w for h in headings for w in h.words if w in COURSES and h.unit in (None, "deg")]
    if len(courses) == 1 and ideas & {"roll", "pitch"} and not ideas & {"latitude", "gps", "heading"}:
        out[courses[0]] = "heading"  # beside attitude and without a satellite receiver it is where the nose points
    if {"sin", "des"} <= said:
        out |= {"sin": "left", "des": "right"}
    sticks = any({"aileron", "elevator", "rudder"} & set(h.ideas) for h in headings)
    if len(said & _RUDDERS.keys()) > 1 or (sticks and said & _RUDDERS.keys()):
        out |= _RUDDERS
    if {"phi", "lambda"} <= said:
        out["phi"] = "latitude"
    if len(said & _GERMAN) > 1 or any({"aileron", "elevator", "rudder"} & set(h.ideas) for h in headings):
        out["gas"] = "throttle"
    if _left_remains(headings):
        out["left"] = "remaining"
    if "phi" in said and "lambda" not in said and any({"pitch", "latitude"} & set(h.ideas) for h in headings):
        out["phi"] = "roll"
    stems: dict[tuple[str, ...], set[str]] = defaultdict(set)
    for h in headings:
        for i, word in enumerate(h.words):
            if word in _SIDE_LETTERS and not (i + 1 < len(h.words) and h.glued[i + 1]):
                stems[h.words[:i] + h.words[i + 1 :]].add(word)
    out |= _counterparts(headings)
    heads = {h.words for h in headings if h.unit is None}
    for rest in {w[1:] for w in heads if w[:1] == ("v",)}:
        if {(beside, *rest) for beside in ("a", "amps", "mah")} & heads:
            out |= {"v": "voltage", "a": "current"}
    for pair in _SIDE_PAIRS:
        if any(letters == set(pair) for letters in stems.values()):
            out |= dict(zip(pair, ("left", "right"), strict=True))
    return out


def _counterparts(headings: Sequence[Heading]) -> dict[str, str]:
    """Unknown words that take turns with a side, and with nothing else, in several headings: the other side."""
    stems: dict[tuple[str, ...], set[str]] = defaultdict(set)
    for h in headings:
        for i, word in enumerate(h.words):
            if word.isalpha() and len(word) > 1:
                stems[(*h.words[:i], "", *h.words[i + 1 :])].add(word)
    sides: dict[tuple[str, str], int] = defaultdict(int)
    for some in stems.values():
        known = [w for w in some if meanings(w)[:1] in (("left",), ("right",))]
        strange = [w for w in some if not meanings(w) and units.understand(w) is None]
        if len(some) == 2 and len(known) == len(strange) == 1:
            sides[strange[0], meanings(known[0])[0]] += 1
    return {w: "left" if side == "right" else "right" for (w, side), count in sides.items() if count > 1}


def _left_of_used(headings: Sequence[Heading]) -> bool:
    """Whether "left" stands where another heading has a word for what is used, or is said of time."""
    used = {
        tuple(w for w, i in zip(h.words, h.ideas, strict=True) if i != "used") for h in headings if "used" in h.ideas
    }
    lefts = [h for h in headings if h.words.count("left") == 1]
    return any("time" in h.ideas or tuple(w for w in h.words if w != "left") in used for h in lefts)


def _left_remains(headings: Sequence[Heading]) -> bool:
    """Whether "left" is what remains: beside the names of parts ("fuel left 1", "fuel left 2"), or of one engine."""
    headings = [h for h in headings if "antenna" not in h.ideas]
    lefts = list(dict.fromkeys(h.words for h in headings if "left" in h.words))  # once, in whatever units
    of_these = {i for h in headings if "left" in h.words for i in h.ideas} - {"", "left", "right", *NOT_NOW}
    akin = [h for h in headings if of_these & set(h.ideas) or not set(h.ideas) - {"", "left", "right"}]
    if "right" not in _sides(akin, {}) and _left_of_used(headings):
        return True  # the right rudder has nothing to do with the fuel that is left
    if len(lefts) == 1:
        fuel = {"fuel", "tank"} & {i for h in headings if h.words == lefts[0] for i in h.ideas}
        sides = {w for h in headings for w in h.words if meanings(w)[:1] in (("left",), ("right",))}
        engines = [h for h in headings if _of_engine(h)]
        one = bool(engines) and not any(w.isdigit() or w in "abcdlr" for h in engines for w in h.words)
        return bool(fuel) and sides == {"left"} and one  # of the only engine, in a log that speaks of no side
    if len(lefts) < 2 or any("right" in w for w in lefts) or len(set(map(len, lefts))) > 1:
        return False
    turns = [i for i, some in enumerate(zip(*lefts, strict=True)) if len(set(some)) == len(lefts)]
    names = {w[i] for w in lefts for i in turns}
    return len(turns) == 1 and (all(n.isdigit() for n in names) or names <= set("abcdefgh") or names == {"l", "r"})


def _firm(headings: Sequence[Heading]) -> frozenset[str]:
    """Short words that a sequence bears out: C1, C2, C3 are cells; U and I before the same names are V and A."""
    out = set()
    cells: dict[tuple[str, ...], set[str]] = defaultdict(set)
    for h in headings:
        if h.words[-2:-1] == ("c",) and h.glued[-1]:
            cells[h.words[:-2]].add(h.words[-1])
    if any({"1", "2"} <= numbers for numbers in cells.values()):
        out.add("c")
    pairs = {h.words[i : i + 2] for h in headings for i in range(len(h.words) - 1) if h.glued[i + 1]}
    said = {w for h in headings for w in h.words}
    if {"phi", "theta"} <= said and "lambda" not in said:
        out |= {"phi", "theta", "psi"}
    if {("n", "1"), ("n", "2")} <= pairs:
        out.add("n")
    by_letter: dict[str, set[tuple[str, ...]]] = defaultdict(set)
    for h in headings:
        if len(h.words) > 1 and h.words[0] in ("u", "i", "t") and not h.glued[1]:
            by_letter[h.words[0]].add(h.words[1:])
        for i, word in enumerate(h.words[1:], 1):
            before = i - 2 if h.words[i - 1].isdigit() and i > 1 else i - 1
            if word in ("u", "i") and h.ideas[before] in ("pack", "rx", "ecu"):
                by_letter[word].add((*h.words[:i], "", *h.words[i + 1 :]))
    if by_letter["u"] & by_letter["i"]:
        out |= {"u", "i"}
    return frozenset(out)
