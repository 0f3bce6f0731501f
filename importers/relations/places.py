"""Columns under one heading, told apart by where they stand and by what their values are.

A logger that writes ``V, A, mAh, V, A, mAh`` numbers nothing: the columns' order does. Each such column is read as if
its heading bore its number, so that names and doubts are those of a log that says ``V 1``. Where a heading names a part
and no quantity (``RX, RX``), the values tell which column is what. A column that repeats another is no second part.
"""

from __future__ import annotations

import itertools
from collections import Counter, defaultdict
from collections.abc import Callable, Collection, Mapping, Sequence

import numpy as np
import numpy.typing as npt
from msgspec import Struct, field
from msgspec.structs import replace

from analyser.core.aircraft import Aircraft
from analyser.core.channels import parse
from importers.layout import context
from importers.layout.codes import LayoutCode
from importers.layout.proposals import also
from importers.meaning import certainty, choices, columns, units, witness
from importers.meaning.columns import Heading, Known
from importers.meaning.rules import ANTENNA_PLACES
from importers.meaning.witness import Numbers, Verdict
from importers.meaning.words import fold, meanings
from importers.model import ColumnPlan
from importers.relations.courses import correlation
from importers.table import twins

FloatArray = npt.NDArray[np.float64]

_GENERIC = frozenset({"main", "rx", "ecu", "engine"})
"""Names that every part of a kind has: only these may have a number behind them."""
_PARTS = ("rx", "ecu", "engine", "pack", "tank", "fuel", "antenna", "cell", "bus")
"""Ideas behind which the number of a part stands."""
_WHOLES = {"cell": "pack", "antenna": "rx"}
"""What is counted within a part, and the part."""
_MAY_BE: dict[str, tuple[str, ...]] = {
    "rx": ("voltage", "current", "charge", "rssi", "quality", "lost", "temperature"),
    "pack": ("voltage", "current", "charge", "temperature"),
    "ecu": ("voltage", "current", "charge", "temperature", "rpm", "egt"),
    "engine": ("rpm", "egt", "pump"),
    "tank": ("remaining", "used", "flow"),
    "fuel": ("remaining", "used", "flow"),
}
"""What a column may be whose heading names a part alone, the likeliest first."""
_STEADY = 0.15
"""A voltage in use keeps within this share of its middle, a current does not: common practice, no source."""
_SAGS, _GROWS = -0.3, (0.7, 1.4)
"""Correlation of the steps of a voltage and its current at most; what a charge is of the current over time."""
_WHOLE = ("rssi", "quality", "lost")
"""Quantities that a receiver tells in whole numbers: common practice, no source."""
_KINDS = 5
"""A column of fewer values than these is at rest: that another is the same tells nothing."""


class _By(Struct, frozen=True):
    """What is known besides: what the file's headings say together, and whose flights they are."""

    known: Known
    aircraft: Aircraft | None


class Places(Struct, frozen=True):
    """What the columns of a file say that share a heading, by number from 0.

    ``headings`` are all of the file's, with numbers and quantities where these are told; ``nth`` the place of each part
    from 1; ``repeats`` which column one repeats, and whether in another unit; ``told`` and ``guessed`` those whose
    quantity is told by their values, surely or not; ``loose`` those that may be of another part; ``renamed``
    the names of parts that no number in the heading would give.
    """

    headings: list[Heading]
    nth: dict[int, int] = field(default_factory=dict)
    repeats: dict[int, tuple[int, bool]] = field(default_factory=dict)
    told: set[int] = field(default_factory=set)
    guessed: set[int] = field(default_factory=set)
    loose: set[int] = field(default_factory=set)
    renamed: dict[int, str] = field(default_factory=dict)


def find(
    headings: Sequence[Heading], values: Callable[[int], FloatArray], clocks: Collection[int],
    seconds: Callable[[], FloatArray | None], aircraft: Aircraft | None = None,
) -> Places:  # fmt: skip
    """Tell columns under one heading apart.

    Parameters
    ----------
    values : callable
        A column's values in the first rows by its number, NaN where it has none.
    clocks : collection of int
        Columns that tell the time.
    seconds : callable
        When these rows were taken, s, where that is known.
    """
    out = Places(list(headings))
    groups = [g for g in twins.together([h.plain for h in headings]) if not set(g) & set(clocks)]
    if not groups:
        return out
    of = {i: values(i) for g in groups for i in g}
    _repeated(out, groups, of)
    left = [[i for i in g if i not in out.repeats] for g in groups]
    for group in left:
        if len(group) > 1:
            _quantities(out, group, of, seconds)
    known = context.known([h for i, h in enumerate(out.headings) if i not in clocks], aircraft)
    _number(out, [g for g in left if len(g) > 1], of, clocks, _By(known, aircraft))
    return out


def remarked(proposed: Sequence[ColumnPlan], places: Places) -> list[ColumnPlan]:
    """Say of each column what its place and its values told, and doubt what they leave open."""
    if not (places.nth or places.told or places.guessed or places.loose or places.renamed):
        return list(proposed)
    quantities: dict[str, set[str]] = defaultdict(set)
    for c in proposed:
        if c.column in places.nth and c.column not in places.told | places.guessed:
            known = parse(c.channel)
            quantities[fold(c.plain)].add(known.channel.quantity if known else "")
    apart = {
        c.column
        for c in proposed
        if len(quantities[fold(c.plain)]) > 1 and c.column not in places.told | places.guessed
    }  # one exhaust and the air under one heading: whose exhaust it is no place tells
    return [
        c if c.settled or not c.evidence or parse(c.channel) is None else _remark(c, c.column, places, apart)
        for c in proposed
    ]


def _remark(column: ColumnPlan, at: int, places: Places, apart: Collection[int]) -> ColumnPlan:
    channel, reason, evidence = column.channel, column.reason, dict(column.evidence)
    if at in places.renamed and (known := parse(channel)) and known.instance in _GENERIC:
        channel = f"{known.channel.subject}.{places.renamed[at]}.{channel.rpartition('.')[2]}"
    if at in places.told:
        reason = also(reason, LayoutCode.QUANTITY_BY_VALUES)
    if at in places.nth:
        reason = also(reason, LayoutCode.NTH_OF_HEADING, nth=str(places.nth[at]))
    for code, some in (
        (LayoutCode.QUANTITY_GUESSED, places.guessed),
        (LayoutCode.MAY_BE_OF_ANOTHER, {*places.loose, *apart}),
    ):
        if at in some:
            reason, evidence = also(reason, code), {**evidence, "unsure_name": 1.0}
    sure = round(certainty.weights()(evidence), 3) if evidence != column.evidence else column.confidence
    return replace(column, channel=channel, reason=reason, evidence=evidence, confidence=sure)


def _repeated(out: Places, groups: Sequence[Sequence[int]], of: Mapping[int, FloatArray]) -> None:
    """Find columns that hold the same as one before under their heading, as it is or in another unit."""
    pairs: dict[tuple[int, int], list[tuple[int, int]]] = defaultdict(list)
    for group in groups:
        for n, i in enumerate(group):
            for m, k in enumerate(group[:n]):
                if k in out.repeats or of[i].size != of[k].size or not np.isfinite(of[i]).any():
                    continue
                if np.array_equal(of[i], of[k], equal_nan=True):
                    pairs[m, n].append((k, i))
                elif both := _in_units(out.headings[k], of[k], of[i]):
                    for at, unit in zip((k, i), both, strict=True):
                        plain = units.understand(unit)
                        out.headings[at] = replace(out.headings[at], unit=plain, unit_text=unit, unit_by="values")
                    out.repeats.setdefault(i, (k, True))
    for same in pairs.values():
        if any(len(np.unique(of[i][np.isfinite(of[i])])) >= _KINDS for _, i in same):
            for k, i in same:
                out.repeats.setdefault(i, (k, False))


def _in_units(heading: Heading, one: FloatArray, other: FloatArray) -> tuple[str, str] | None:
    """The two units in which one sensor's readings stand in two columns; None where they do not, or none is sure."""
    good = np.isfinite(one) & np.isfinite(other)
    known = parse(columns.match(heading, 0.0, 1.0).channel)
    if heading.unit is not None or known is None or good.sum() < 4 * _KINDS:
        return None
    a, b = one[good], other[good]
    if min(np.unique(a).size, np.unique(b).size) < 2 * _KINDS:
        return None
    grain = max(_grain(a), _grain(b) * np.ptp(a) / np.ptp(b))
    found = []
    for first in choices.asked(known.channel.unit):
        for second in choices.asked(known.channel.unit):
            mine, theirs = (units.conversion(units.understand(u) or u, known.channel.unit) for u in (first, second))
            if first == second or mine is None or theirs is None:
                continue
            made = (b * float(theirs.num) + float(theirs.offset) - float(mine.offset)) / float(mine.num)
            if np.abs(made - a).max() <= 1.1 * grain:
                found.append((first, second))
    return found[0] if len(found) == 1 else None


def _grain(x: FloatArray) -> float:
    """The step in which values are written."""
    steps = np.diff(np.unique(x))
    return float(steps.min()) if steps.size else 0.0


def _quantities(
    out: Places, group: Sequence[int], of: Mapping[int, FloatArray], seconds: Callable[[], FloatArray | None]
) -> None:
    """Give a quantity to each column whose heading names a part alone, where its values are of several."""
    plain = out.headings[group[0]]
    ideas = [i for i in plain.ideas if i not in ("", "count", "name")]
    if plain.unit is not None or not ideas or any(i not in _MAY_BE for i in ideas):
        return
    if len(ideas) != sum(1 for w in plain.words if not w.isdigit()):
        return  # a word that is not known may say what it is
    may_be = _MAY_BE[next((i for i in ("rx", "ecu", "tank") if i in ideas), ideas[0])]
    fits = {i: _fitting(out.headings[i], of[i], may_be) for i in group}
    told: dict[int, str] = {}
    for i in group:
        near = sorted((k for k in group if k != i and k not in told), key=lambda k: (abs(k - i), k < i))
        if i not in told and "voltage" in fits[i]:
            amps = next((k for k in near if "current" in fits[k] and _sags(of[i], of[k])), None)
            told |= {} if amps is None else {i: "voltage", amps: "current"}
    rates = [i for i in group if told.get(i) == "current" or (i not in told and "current" in fits[i])]
    for i in group:
        if i not in told and "charge" in fits[i]:
            rate = next((k for k in rates if _grows(of[i], of[k], seconds())), None)
            if rate is not None:
                told |= {i: "charge", rate: "current"}
                rates.remove(rate)
    sure = {i: f[0] for i, f in fits.items() if i not in told and len(f) == 1}
    told |= sure
    guessed = {i: f[0] for i, f in fits.items() if i not in told and f}
    if len({*told.values(), *guessed.values()}) < 2 and _whose(plain, Known(), of[group[0]])[0]:
        return  # all are what the heading means by itself
    for i, idea in {**told, **guessed}.items():
        out.headings[i] = _with(out.headings[i], len(out.headings[i].words), idea, idea)
    out.told.update(told)
    out.guessed.update(guessed)


def _seen(values: FloatArray) -> Numbers | None:
    return witness.numbers(values[np.isfinite(values)])


def _fitting(heading: Heading, values: FloatArray, may_be: Sequence[str]) -> list[str]:
    """Quantities that a column's values fit, the likeliest first."""
    seen = _seen(values)
    if seen is None or seen.kinds < 2:
        return []
    out = []
    for idea in may_be:
        match = columns.match(_with(heading, len(heading.words), idea, idea), seen=seen)
        known = parse(match.channel)
        if known is None or {"foreign", "unknown", "turned"} & match.evidence.keys():
            continue
        factor = units.conversion(units.understand(match.ask[0]) or "", known.channel.unit) if match.ask else None
        if witness.testify(known.channel, seen, factor or match.conversion) is not Verdict.FITS:
            continue
        if idea in _WHOLE and not seen.whole:
            continue
        if (idea == "pump" and not match.conversion.identity) or (idea == "current" and _steady(values)):
            continue
        out.append(idea)
    return out


def _steady(x: FloatArray) -> bool:
    low, middle, high = np.nanquantile(x, [0.02, 0.5, 0.98])
    return bool(high - low < _STEADY * abs(middle))


def _sags(volts: FloatArray, amps: FloatArray) -> bool:
    """Whether one column falls where the other rises, by a few in a hundred."""
    r = correlation(np.diff(volts), np.diff(amps))
    return r is not None and r < _SAGS and _steady(volts) and not _steady(amps)


def _grows(total: FloatArray, rate: FloatArray, seconds: FloatArray | None) -> bool:
    """Whether a charge, mAh, grows by a current, A."""
    if seconds is None:
        return False
    good = np.isfinite(total) & np.isfinite(rate) & np.isfinite(seconds)
    if good.sum() < 4 * _KINDS:
        return False
    made = float(np.trapezoid(rate[good], seconds[good])) / 3.6
    return bool(made > 1.0 and _GROWS[0] < (total[good][-1] - total[good][0]) / made < _GROWS[1])


def _with(heading: Heading, at: int, word: str, idea: str) -> Heading:
    """A heading with one more word."""
    glued = heading.glued or (False,) * len(heading.words)
    return replace(
        heading, words=(*heading.words[:at], word, *heading.words[at:]),
        ideas=(*heading.ideas[:at], idea, *heading.ideas[at:]), glued=(*glued[:at], False, *glued[at:]),
    )  # fmt: skip


def _number(
    out: Places, groups: Sequence[Sequence[int]], of: Mapping[int, FloatArray], clocks: Collection[int], by: _By
) -> None:
    """Number the columns of each part, with what stands between them."""
    keys = {i: (n, *_whose(out.headings[i], by.known, of[i])) for n, group in enumerate(groups) for i in group}
    counts = Counter(keys.values())
    engines = {counts[k] for k in keys.values() if k[1:3] == ("engine", "main")}
    for i, (n, subject, _, quantity) in list(keys.items()):
        if subject == "control" and quantity == "throttle_percent" and counts[keys[i]] in engines:
            keys[i] = (n, "engine", "main", quantity)  # of as many throttles as there are engines each is one's
    counts = Counter(keys.values())
    right = any("right" in h.ideas for h in out.headings)  # else what is left is no side: of what is it said twice?
    members: dict[tuple[str, str], dict[int, _Key]] = defaultdict(dict)
    for i in sorted(keys):
        if counts[keys[i]] > 1 and (keys[i][2] in _GENERIC or (keys[i][2] == "left" and not right)):
            members[keys[i][1:3]][i] = keys[i]
    others = [i for i in range(len(out.headings)) if i not in keys and i not in clocks and i not in out.repeats]
    alone = {i: (-1, *_whose(out.headings[i], by.known)) for i in others if members}
    for whose, own in members.items():
        said = {key[3] for key in own.values()}
        beside = {i: key for i, key in alone.items() if key[1:3] == whose and key[1] and key[3] not in said}
        nth, loose = _in_order(own, beside)
        loose |= _crossed({i: (key[3], nth[i]) for i, key in own.items()}, of)
        out.nth.update(nth)
        out.loose.update(loose)
        last = max(nth.values())
        for i, n in nth.items():
            _give(out, i, n, own.get(i, alone.get(i, _NOTHING)), _named_by(by.aircraft, whose[0], last))


_Key = tuple[int, str, str, str]
"""Number of the group, and a channel's subject, name and quantity."""
_NOTHING: _Key = (-1, "", "main", "")


def _whose(heading: Heading, names: Known, values: FloatArray | None = None) -> tuple[str, str, str]:
    """Subject, name and quantity of what a heading stands for by itself."""
    seen = _seen(values) if values is not None else None
    known = parse(columns.match(heading, seen=seen, known=names).channel)
    return (known.channel.subject, known.instance or "", known.channel.quantity) if known else _NOTHING[1:]


def _in_order(own: Mapping[int, _Key], beside: Mapping[int, _Key]) -> tuple[dict[int, int], set[int]]:
    """The place of each column among its like, from 1, and the columns that may be of another part.

    Headings that come equally often are counted each for itself. Else a part begins where a heading comes again, and
    that is sure where each part begins with the same heading.
    """
    nth: dict[int, int] = {}
    parts: list[dict[_Key, int]] = [{}]
    for i, key in own.items():
        if key in parts[-1]:
            parts.append({})
        parts[-1][key] = i
    led = len({next(iter(part)) for part in parts}) == 1
    counts = Counter(own.values())
    if len(set(counts.values())) == 1:
        seen: Counter[_Key] = Counter()
        for i, key in own.items():
            seen[key] += 1
            nth[i] = seen[key]
    else:
        nth = {i: n for n, part in enumerate(parts, 1) for i in part.values()}
    loose = set() if len(set(counts.values())) == 1 or led else set(own)
    starts = [min(part.values()) for part in parts]
    for i in beside:  # behind the last one's first column it may as well be of all
        n = sum(start < i for start in starts) if led and len(parts) == max(nth.values()) else 0
        nth |= {i: n} if n else {}
        loose |= {i} if n in (0, len(parts)) else set()
        if n in (0, len(parts)) and len(counts) == 1:
            loose |= set(own)  # two exhausts beside one shaft may be of one engine
    return nth, loose


def _crossed(own: Mapping[int, tuple[str, int]], of: Mapping[int, FloatArray]) -> set[int]:
    """Voltages and currents of packs of which each sags with the other's, and not with its own by place."""
    volts, amps = ({n: i for i, (q, n) in own.items() if q == quantity} for quantity in ("voltage_v", "current_a"))
    steps = {i: np.diff(of[i]) for i in (*volts.values(), *amps.values())}
    sag = {(n, m): correlation(steps[v], steps[a]) or 0.0 for n, v in volts.items() for m, a in amps.items()}
    out = set()
    for n, m in itertools.combinations(sorted(volts.keys() & amps.keys()), 2):
        if max(sag[n, m], sag[m, n]) < _SAGS and min(sag[n, n], sag[m, m]) > _SAGS / 2:
            out |= {volts[n], volts[m], amps[n], amps[m]}
    return out


def _named_by(aircraft: Aircraft | None, subject: str, count: int) -> str:
    """The word that tells whether a signal is a receiver's or an antenna's, by the aircraft's file; '' where not."""
    if aircraft is None or subject != "link" or count < 2:
        return ""
    if len(aircraft.receivers) == count:
        return "rx"
    fitted = aircraft.layouts[-1].antennas if aircraft.layouts else ()
    return "antenna" if len(aircraft.receivers) == 1 and len(fitted) == count else ""


def _give(out: Places, at: int, n: int, key: _Key, word: str) -> None:
    """Read a column as if its heading bore a number; its name alone gets it where the heading would mean another."""
    heading, (_, subject, name, quantity) = out.headings[at], key
    if word and not {"rx", "antenna"} & set(heading.ideas):
        heading = _with(heading, 0, word, word)
    numbered = _numbered(heading, n, counts="<n>" in quantity or not quantity)
    known = parse(columns.match(numbered, known=Known(engines=frozenset([str(n)]))).channel)
    same = known is not None and known.channel.subject == subject
    given = same and known is not None and (known.number == n or (known.instance or "").endswith(str(n)))
    if subject and name != "left" and not given:
        out.renamed[at] = str(n) if name == "main" else f"{name}{n}"
        return
    out.headings[at] = numbered


def _numbered(heading: Heading, n: int, *, counts: bool) -> Heading:
    """A heading with a number behind the word for what is counted; ``counts`` whether that may be cells or antennas."""
    item = next((i for i, idea in enumerate(heading.ideas) if idea in _WHOLES), -1) if counts else -1
    behind = heading.words[item + 1 : item + 2] if item >= 0 else ()
    named = behind and (len(behind[0]) == 1 or heading.ideas[item + 1] in ANTENNA_PLACES or not meanings(behind[0]))
    if item >= 0 and named:  # of the second pack the first cell
        whole = _WHOLES[heading.ideas[item]]
        if whole not in heading.ideas:
            return _with(_with(heading, 0, str(n), ""), 0, whole, whole)
        return _with(heading, heading.ideas.index(whole) + 1, str(n), "")
    if item >= 0:
        return _with(heading, item + 1, str(n), "")
    parts = [i + 1 for i, idea in enumerate(heading.ideas) if idea in _PARTS]
    return _with(heading, parts[-1] if parts else len(heading.words), str(n), "")
