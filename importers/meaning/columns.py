"""From a column heading, its unit and its values to a channel of the vocabulary, with the reason said aloud."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from analyser.core.channels import EXTRA, parse
from importers.meaning import certainty, units
from importers.meaning.heading import Heading, dissect, duplicates, slug
from importers.meaning.names import Known
from importers.meaning.readings import Reading, readings
from importers.meaning.rules import NOT_NOW
from importers.meaning.witness import Numbers, Verdict, numbers
from importers.meaning.words import WORDS, meanings

__all__ = ["Heading", "Known", "Match", "dissect", "duplicates", "match", "slug"]


@dataclass(frozen=True, slots=True)
class Match:
    """What a column is taken for.

    ``channel`` is canonical or ``extra.<slug>``; ``unit`` an expression of :func:`importers.meaning.units.understand`
    or None; ``ask`` the units to choose from where the column does not say; ``antenna`` an antenna's name as written;
    ``rivals`` other channels it may be; ``evidence`` what the certainty rests on; ``strange`` words that were not
    understood.
    """

    channel: str
    unit: str | None
    conversion: units.Conversion
    confidence: float
    reason: str
    ask: tuple[str, ...] = ()
    kind: str = "number"
    antenna: str = ""
    rivals: tuple[str, ...] = ()
    strange: tuple[str, ...] = ()
    evidence: Mapping[str, float] = field(default_factory=dict, compare=False)


def match(
    heading: Heading, low: float | None = None, high: float | None = None, *, flags: bool = False,
    seen: Numbers | None = None, known: Known | None = None,
) -> Match:  # fmt: skip
    """Find the channel a heading stands for.

    Parameters
    ----------
    low, high : float or None
        Range of the values, as written, where no more is known of them than that.
    flags : bool
        The sample holds nothing but states (0/1, on/off).
    seen : Numbers, optional
        What the values are like.
    known : Known, optional
        Names that are understood beyond the words.
    """
    if seen is None and low is not None and high is not None:
        seen = numbers([low, (low + high) / 2, high])
        flat = seen and (low == high)
        seen = None if flat and low == 0 else seen
    if exact := parse(heading.text):
        same = units.conversion(heading.unit, exact.channel.unit) if heading.unit else None
        return Match(heading.text, heading.unit, same or units.Conversion(), 0.99, "the name of a channel",
                     kind="bool" if exact.channel.unit == "bool" else "number")  # fmt: skip
    found, not_now = readings(heading, seen, known or Known(), flags=flags)
    if not found:
        return _extra(heading, not_now)
    best, rival = found[0], _rival(found)
    firm = bool(known and (known.firm | known.chosen.keys()) & set(heading.words))
    sure = certainty.weights()(evidence := certainty.evidence(heading, best, rival, firm=firm))
    hopeless = sure < certainty.GIVE_UP_BELOW and (best.named.unknown or best.named.foreign or "unit_only" in evidence)
    if not_now or hopeless:
        return _extra(heading, not_now, best)
    words = " + ".join(dict.fromkeys(i for i in best.ideas if i and i not in "#?")) or "unit"
    reason = f"{words}: {best.channel.label.lower()}{best.unit.reason}{_doubts(best, rival)}"
    return Match(
        best.name, best.unit.unit, best.unit.conversion, round(sure, 3), reason, best.unit.ask,
        "bool" if best.channel.unit == "bool" else "number", best.named.antenna,
        (rival.name,) if rival and rival.cost - best.cost < 0.5 else (), best.named.unknown, evidence,
    )  # fmt: skip


def _rival(found: list[Reading]) -> Reading | None:
    """The next reading that is another quantity or another part, not the same in other words."""
    best = found[0]
    return next((r for r in found[1:] if r.unit.unit != "?" and not _one_family(best, r)), None)


def _one_family(one: Reading, other: Reading) -> bool:
    """Whether two readings differ only in the unit a signal or a tank is given in."""
    family = ("rssi_dbm", "signal_percent", "signal_counts", "remaining_ml", "remaining_percent")
    first, second = (r.channel.quantity.replace("antenna<n>_", "") for r in (one, other))
    return first in family and second in family and one.named.instance == other.named.instance


def _doubts(best: Reading, rival: Reading | None) -> str:
    out = []
    if best.named.unknown:
        out.append(f"{', '.join(map(repr, best.named.unknown))} is not understood")
    if best.named.foreign:
        out.append(f"{', '.join(map(repr, best.named.foreign))} does not belong here")
    if best.unit.verdict is Verdict.ODD:
        out.append("its values are unusual for that")
    if best.unit.verdict is Verdict.CONTRADICTS:
        out.append("its values cannot be that")
    if best.elsewhere:
        out.append("a word of it may mean another system")
    if best.named.unsure:
        out.append("the name may be of something else")
    if rival and rival.cost - best.cost < 0.25:
        out.append(f"it may also be {rival.name}")
    return "".join(f"; {d}" for d in out)


def _no_channel(heading: Heading) -> str:
    ideas = " ".join(dict.fromkeys(i for i in heading.ideas if i))
    if not ideas:
        return "no known channel"
    return f"no known channel for {ideas}" + (f" in {heading.unit_text}" if heading.unit_text else "")


def _extra(heading: Heading, not_now: str, best: Reading | None = None) -> Match:
    """A column kept as it is, and why."""
    if not_now:
        words = [w for w in heading.words if not_now in meanings(w)] or [heading.text]
        why = f"{words[0]!r} {NOT_NOW[not_now]}"
    elif best is not None:
        why = (
            f"no known channel fits ({best.channel.label.lower()} would{_doubts(best, None).replace(';', ', but', 1)})"
        )
    else:
        strange = [w for w in heading.words if w not in WORDS and not w.isdigit()]
        why = (
            f"no known channel: {', '.join(map(repr, strange))} is not understood" if strange else _no_channel(heading)
        )
    return Match(f"{EXTRA}.{slug(heading.text)}", heading.unit, units.Conversion(), 1.0, f"{why}: kept as it is")
