"""From a column heading, its unit and its values to a channel of the vocabulary, with the reason said aloud."""

from __future__ import annotations

from collections.abc import Mapping

from msgspec import Struct, field

from analyser.core.channels import EXTRA, VOCABULARY, Channel, parse
from analyser.core.findings import Finding, Text, say
from importers.meaning import certainty, units
from importers.meaning.codes import MeaningCode
from importers.meaning.heading import Heading, dissect, slug
from importers.meaning.names import NOTHING, Known
from importers.meaning.readings import Reading, readings
from importers.meaning.rules import NOT_NOW
from importers.meaning.witness import Numbers, Verdict, numbers
from importers.meaning.words import WORDS, meanings

__all__ = ["Heading", "Known", "Match", "dissect", "match", "slug"]


_SUBJECTS = frozenset(c.subject for c in VOCABULARY)
"""What no part is called: "link.downlink.rssi_dbm" is no receiver named "downlink"."""


class Match(Struct, frozen=True):
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
    reason: Text
    ask: tuple[str, ...] = ()
    kind: str = "number"
    antenna: str = ""
    rivals: tuple[str, ...] = ()
    strange: tuple[str, ...] = ()
    evidence: Mapping[str, float] = field(default_factory=dict)


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
    if (exact := parse(heading.plain)) and exact.instance not in _SUBJECTS:
        same = units.conversion(heading.unit, exact.channel.unit) if heading.unit else None
        return Match(heading.plain, heading.unit, same or units.Conversion(), 0.99, say(MeaningCode.CHANNEL_NAME),
                     kind="bool" if exact.channel.unit == "bool" else "number")  # fmt: skip
    found, not_now = readings(heading, seen, known or NOTHING, flags=flags)
    if not found:
        return _extra(heading, not_now)
    best, rival = found[0], _rival(found)
    firm = bool(known and (known.firm | known.chosen.keys()) & set(heading.words))
    level = seen is not None and seen.kinds == 1 and seen.count > 20 and seen.low != 0.0
    owned = known is not None and (
        (best.channel.subject == "engine" and best.named.instance in known.engines)
        or (best.channel.subject == "pack" and best.named.source == "none" and known.one_pack)
    )
    evidence = certainty.evidence(heading, best, rival, firm=firm, level=level, owned=owned)
    sure = certainty.weights()(evidence)
    nameless = best.named.unknown or best.named.foreign or ("unit_only" in evidence and "contradicted" not in evidence)
    hopeless = certainty.weights().model(evidence) < certainty.GIVE_UP_BELOW and nameless
    if not_now or hopeless:
        return _extra(heading, not_now, best)
    pairs = zip(heading.words, best.ideas, strict=True)
    reason = say(
        MeaningCode.TAKEN, words=tuple(dict.fromkeys(w for w, i in pairs if i and i not in "#?")),
        channel=label(best.channel), unit=best.unit.reason, doubts=_doubts(best, rival),
    )  # fmt: skip
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
    if one.channel is other.channel and one.channel.subject == "link" and _same_receiver(one, other):
        return True
    first, second = (r.channel.quantity.replace("antenna<n>_", "") for r in (one, other))
    same = one.channel.subject == other.channel.subject and one.named.instance == other.named.instance
    return first in family and second in family and same


def _same_receiver(one: Reading, other: Reading) -> bool:
    """Whether two names are of one receiver, with the word and without: "a" and "rx_a", "main" and "rx"."""
    first, second = (
        "" if r.named.instance == "main" else r.named.instance.removeprefix("rx").strip("_") for r in (one, other)
    )
    return first == second


def _doubts(best: Reading, rival: Reading | None) -> tuple[Finding, ...]:
    out = []
    if best.named.unknown:
        out.append(say(MeaningCode.NOT_UNDERSTOOD, words=best.named.unknown))
    if best.named.foreign:
        out.append(say(MeaningCode.NOT_HERE, words=best.named.foreign))
    if best.unit.verdict is Verdict.ODD:
        out.append(say(MeaningCode.UNUSUAL_VALUES))
    if best.unit.verdict is Verdict.CONTRADICTS:
        out.append(say(MeaningCode.IMPOSSIBLE_VALUES))
    if best.unit.verdict is Verdict.RESTS:
        out.append(say(MeaningCode.NOT_IN_USE))
    if best.elsewhere:
        out.append(say(MeaningCode.OTHER_SYSTEM_PERHAPS))
    if best.named.unsure:
        out.append(say(MeaningCode.OTHER_NAME_PERHAPS))
    if rival and rival.cost - best.cost < 0.25:
        out.append(say(MeaningCode.OTHER_CHANNEL_PERHAPS, channel=rival.name))
    return tuple(out)


def label(channel: Channel) -> Finding:
    """What a channel is called."""
    return say(f"channel.{channel.subject}.{channel.quantity}")


def _extra(heading: Heading, not_now: str, best: Reading | None = None) -> Match:
    """A column kept as it is, and why."""
    if not_now:
        words = [w for w in heading.words if not_now in meanings(w)] or [heading.text]
        why = say(NOT_NOW[not_now], word=words[0])
    elif best is not None:
        why = say(MeaningCode.NO_CHANNEL_FITS, channel=label(best.channel), doubts=_doubts(best, None))
    else:
        strange = tuple(w for w in heading.words if w not in WORDS and not w.isdigit())
        known = tuple(dict.fromkeys(w for w, i in zip(heading.words, heading.ideas, strict=True) if i))
        why = say(MeaningCode.NO_CHANNEL, strange=strange, known=known, unit=heading.unit_text)
    reason = say(MeaningCode.KEPT, why=why)
    return Match(f"{EXTRA}.{slug(heading.text)}", heading.unit, units.Conversion(), 1.0, reason)
