"""Which pack, tank, engine, receiver or antenna a heading speaks of: only from places that are understood."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence, Set

from msgspec import Struct, field
from msgspec.structs import replace

from importers.meaning.rules import ANTENNA_PLACES, CONFLICT, OWN, PARTS, Rule

SIDES = ("left", "right")
LITERAL, UNKNOWN = "#", "?"
"""Ideas of a number or single letter, and of a word that is not known."""
_SIGNAL = frozenset({"rssi", "lost", "quality"})


class Known(Struct, frozen=True, eq=False):
    """What is understood beyond the words; two are the same only if they are one.

    ``parts`` are the instance names of the aircraft's file, by subject; ``shared`` the unknown words that several
    columns use in one place; ``everywhere`` those in nearly all columns, which name the logger; ``firm`` short words
    whose likeliest meaning other columns bear out ("C1" to "C6"); ``chosen`` what words of several meanings mean in
    this file; ``paired`` the words of headings whose "left" is a side, for another says the same of the right;
    ``receivers`` and ``engines`` the numbers, letters and sides that stand beside the words for these; ``one_pack``
    whether the log speaks of a pack and never says which; ``sides`` those that the file speaks of.
    """

    parts: Mapping[str, frozenset[str]] = field(default_factory=dict)
    shared: frozenset[str] = frozenset()
    everywhere: frozenset[str] = frozenset()
    firm: frozenset[str] = frozenset()
    chosen: Mapping[str, str] = field(default_factory=dict)
    paired: frozenset[tuple[str, ...]] = frozenset()
    receivers: frozenset[str] = frozenset()
    engines: frozenset[str] = frozenset()
    one_pack: bool = False
    sides: frozenset[str] = frozenset()


NOTHING = Known()
"""Nothing beyond the words."""


class Named(Struct, frozen=True):
    """An instance and, for cells and antennas, the number or name.

    ``unknown`` and ``foreign`` are words not understood, and understood words that have no business here; ``source`` is
    ``none`` (one of its kind), ``declared``, ``file``, ``shared`` (a letter or code that several columns share) or
    ``word`` (a whole word that they share: a part of the aircraft, or another system); ``unsure`` says that a letter or
    number may mean two things.
    """

    instance: str
    number: int | None = None
    antenna: str = ""
    unknown: tuple[str, ...] = ()
    foreign: tuple[str, ...] = ()
    source: str = "none"
    unsure: bool = False


def name(
    rule: Rule, words: Sequence[str], ideas: Sequence[str], glued: Sequence[bool], known: Known,
    said: Set[str] = frozenset(),
) -> Named:  # fmt: skip
    """Find instance and number among the words that a rule does not use.

    Parameters
    ----------
    ideas : sequence of str
        One reading of each word: an idea, '' for a word that adds nothing, ``#`` or ``?``.
    said : set of str
        What the unit says of the quantity.
    """
    channel = rule.channel
    stations = {i for i in range(1, len(words)) if words[i].isdigit() and glued[i] and words[i - 1] == "t"}
    numbered = any(w.isdigit() and i not in stations for i, w in enumerate(words))
    aft = rule.key == "engine.egt_c" and not {words[i] for i in stations} & known.engines
    behind = {i for i in stations if numbered or (aft and words[i] in "45678")}  # "T5" of engine 1: where, not whose
    left = [i for i in range(len(words)) if i not in behind]
    number, antenna, unsure = None, "", False
    if "<n>" in channel.quantity:
        if channel.subject == "link":
            at, unsure = _antenna(words, ideas, glued, said)
            antenna = "".join(words[i] for i in at)
        else:
            at = _after(words, ideas, "cell")
            beside = "".join(words[at[0] + 1 : at[0] + 2]) if at else ""
            unsure = beside.isdigit() or (len(beside) == 1 and glued[at[0] + 1])  # "cell 2.1", "cell 1a"
        left = [i for i in left if i not in at]
        if at:
            number = _number("".join(words[i] for i in at))
    own, parts = OWN.get(channel.subject, frozenset()), PARTS.get(channel.subject, frozenset())
    conflict = CONFLICT.get(channel.quantity.rpartition("_")[0], frozenset()) - rule.speaks
    named: list[str] = []
    sides: list[str] = []
    unknown: list[str] = []
    foreign: list[str] = []
    source = "none"
    for i in left:
        word, idea = words[i], ideas[i]
        if _of_file(words, i, channel.subject, known):
            named, source = [_of_file(words, i, channel.subject, known)], "file"
        elif idea in SIDES and (channel.has_instance or "<n>" in channel.quantity):
            sides.append(idea)
            unsure |= _alone(word, idea, known)
        elif idea == "rx" and channel.subject == "bus" and not (i + 1 < len(words) and words[i + 1].isdigit()):
            continue  # the receivers' bus is the bus
        elif idea == "count" and channel.subject in ("pack", "fuel") and not numbered:
            foreign.append(word)  # how many there are, or which: "Rx battery number"
        elif (
            idea in ("", "value")
            or (idea in rule.speaks and idea not in ("rx", "ecu"))
            or (idea in own and idea not in conflict)
            or (idea == "state" and channel.unit == "bool")
            or (idea == "fuel" and "pump" in rule.speaks)
            or (idea == "link" and channel.subject == "pack" and "rx" in ideas)
            or (idea == "command" and {"pump", "throttle"} & rule.speaks)
        ):
            continue
        elif idea == LITERAL and channel.has_instance and _in_place(i, words, ideas, glued, known):
            if i and named and (word.isdigit() or glued[i] or ideas[i - 1] in parts) and not named[-1][-1].isdigit():
                named[-1] += word if word.isdigit() or glued[i] else f"_{word}"
            else:
                named.append(word)
        elif idea in parts:
            named.append(idea)
        elif idea in (UNKNOWN, LITERAL) and channel.has_instance:
            run = word + (words[i + 1] if i + 1 in left and glued[i + 1] and ideas[i + 1] == LITERAL else "")
            named.append(word)
            if run in known.shared:
                source = "shared" if _code(run) else "word"
            elif len(word) == 1 and run != word and _beside(i, ideas, own):
                source = "declared"  # "Pack R1": a letter and a number beside the word for what they name
            else:
                unknown.append(run)
        elif idea == UNKNOWN:
            unknown.append(word)
        elif not channel.has_instance and (idea in ("main", "rx") or idea in own):
            continue
        else:
            foreign.append(word)
    if "ecu" in named and "engine" in named:
        named.remove("engine")  # the engine's controller
    if len(named) > 1 and "main" in named:
        named.remove("main")
    if "rx" in named and any(n[:2] == "rx" and n != "rx" for n in named):
        named.remove("rx")  # "reception Rx1"
    if len(named) > 1 and named[0].isdigit() and named[1].isalpha():
        named[:2] = [named[1] + named[0]]  # "No. 1 receiver"
    instance = "_".join([*dict.fromkeys(named), *dict.fromkeys(sides)])
    if "<n>" in channel.quantity and number is None and not antenna:
        digits = instance[len(instance.rstrip("0123456789")) :]
        if digits and channel.subject != "link":
            number, instance = int(digits), instance[: -len(digits)].strip("_")
    if (
        channel.subject == "link"
        and not antenna
        and (named or sides)
        and not {"rx", "main", "backup", "primary"} & set(ideas)
        and channel.quantity not in ("link_quality_percent", "failsafe")  # no antenna has these
        and not {*named, *sides} <= known.receivers
    ):
        unsure = True  # "RSSI A": a receiver, or an antenna of the only one
    if len(sides) > 1:
        foreign += sides[1:]  # of two sides one means something else
    if sum(part[-1:].isdigit() for part in named) > 1 or any(len(n) > 2 for n in re.findall(r"\d+", instance)):
        unsure = True  # nothing on board is named by two numbers, or has a hundred of its kind
    if source == "none" and instance:
        source = "declared"
    if _of_instance(instance, channel.subject, known):
        source = "file"
    return Named(instance or "main", number, antenna, tuple(unknown), tuple(foreign), source, unsure)


def _alone(word: str, side: str, known: Known) -> bool:
    """Whether a short word may mean something else than a side, for no column is of the other: "Port." in Italian."""
    other = {"left": "right", "right": "left"}[side]
    return word != side and len(word) <= _SHORT and bool(known.sides) and other not in known.sides


_SHORT = 4
"""Letters of the longest abbreviation of a side."""


def may_be_antenna(words: Sequence[str], ideas: Sequence[str], glued: Sequence[bool], said: Set[str]) -> bool:
    """Whether a heading about signal speaks of an antenna without the word: by a receiver and one letter more."""
    return bool(_SIGNAL & {*ideas, *said}) and bool(_antenna(words, ideas, glued, said)[0])


def _antenna(
    words: Sequence[str], ideas: Sequence[str], glued: Sequence[bool], said: Set[str]
) -> tuple[list[int], bool]:
    """Places of the words that name an antenna, and whether they may as well name something else."""
    count = len(words)
    literal = [i for i in range(count) if ideas[i] in (LITERAL, UNKNOWN) or words[i] in ("a", "c")]
    rx = [i for i in range(count) if ideas[i] == "rx"]
    beside = [i + 1 for i in rx if i + 1 in literal]
    of_rx = [i for i in beside if words[i].isdigit() or glued[i]]
    here = [i for i in range(count) if ideas[i] == "antenna"]
    if here:
        coded = {
            k
            for i in range(1, count)
            if words[i].isdigit() and glued[i] and words[i - 1] in ("r", "e")
            for k in (i - 1, i)
        }
        free = [i for i in literal if i not in of_rx and i not in coded]  # "R1 left antenna" is of R1
        places = [i for i in range(count) if ideas[i] in ANTENNA_PLACES and i not in rx]
        start = here[0] + 1
        run = []
        while start in free or start in places:
            run.append(start)
            start += 1
        if run:
            return run, False
        start = here[0] - 1
        while start in free or (start in places and not run):
            run.insert(0, start)
            start -= 1
        return run or free[:1], False
    if not _SIGNAL & {*ideas, *said} or "downlink" in ideas:
        return [], False
    free = [i for i in literal if (i not in of_rx and ideas[i] != UNKNOWN) or words[i] == "a"]
    letter = [i for i in free if words[i] == "a" and i + 1 < count and glued[i + 1] and words[i + 1].isdigit()]
    if letter:
        return [letter[0], letter[0] + 1], not of_rx
    run = [i for i in free if i not in of_rx]
    if of_rx and run:
        return [i for n, i in enumerate(run) if n == 0 or (i == run[n - 1] + 1 and glued[i])], False
    if rx and run and not words[run[0]].isdigit() and run[0] not in beside:
        return run[:1], True
    return [], False


def _after(words: Sequence[str], ideas: Sequence[str], idea: str) -> list[int]:
    for i in range(len(words) - 1):
        if ideas[i] == idea and ideas[i + 1] == "voltage" and words[i + 2 : i + 3] and words[i + 2].isdigit():
            return [i + 2]  # "cell voltage 2"
        if ideas[i] == idea and (words[i + 1].isdigit() or (len(words[i + 1]) == 1 and ideas[i + 1] == LITERAL)):
            return [i + 1]
    return []


def _number(text: str) -> int | None:
    """A number from 1; a letter counts from a; other names count as 1 until all are known."""
    if text.isdigit():
        return int(text) if 0 < int(text) < 100 else None
    digits = text.lstrip("abcdefghijklmnopqrstuvwxyz")
    if text[:1] == "a" and digits.isdigit() and len(text) - len(digits) == 1 and 0 < int(digits) < 100:
        return int(digits)
    return "abcdefghijklmnopqrstuvwxyz".index(text) + 1 if len(text) == 1 else 1


def _in_place(
    at: int, words: Sequence[str], ideas: Sequence[str], glued: Sequence[bool], known: Known
) -> bool:  # fmt: skip
    """Whether a number or letter stands where names stand: any number; a letter beside what it names, or in turn."""
    if words[at].isdigit() or words[at] in known.shared or glued[at]:
        return True
    kinds = {"pack", "tank", "engine", "rx", "ecu", "bus", "antenna", "rssi", "lost", "quality", "fuel"}
    return (at > 0 and ideas[at - 1] in kinds) or (at + 1 < len(words) and ideas[at + 1] in kinds)


def _beside(at: int, ideas: Sequence[str], own: frozenset[str]) -> bool:
    """Whether the word before, or the one after its number, says what kind of part is named."""
    kinds = own & {"pack", "tank", "engine", "antenna", "bus"}
    return ideas[at - 1] in kinds if at else at + 2 < len(ideas) and ideas[at + 2] in kinds


def _code(run: str) -> bool:
    """Whether a name that columns share is a letter or a code, such as R1 or RXB, and no word."""
    return len(run) == 1 or run[-1].isdigit() or run[:-1] in ("rx", "ecu", "acc", "batt", "bat")


def _of_file(words: Sequence[str], at: int, subject: str, known: Known) -> str:
    """The aircraft's own name for a part, where a word is it."""
    return words[at] if words[at] in known.parts.get(subject, ()) and len(words[at]) > 1 else ""


def _of_instance(instance: str, subject: str, known: Known) -> bool:
    return bool(instance) and instance in known.parts.get(subject, ())


def replace_number(named: Named, number: int) -> Named:
    """The same, with a number."""
    return replace(named, number=number)
