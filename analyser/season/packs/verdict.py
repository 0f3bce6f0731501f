"""How much attention a pack deserves, why, and in what words."""

from __future__ import annotations

from collections.abc import Sequence

from msgspec import Struct

from analyser.core.figures import Figure
from analyser.core.findings import Text, say
from analyser.core.levels import COMMON_PRACTICE, Level
from analyser.core.statistics.trends import FEWEST
from analyser.season.packs.brown_outs import BrownOuts
from analyser.season.packs.codes import SeasonPackCode
from analyser.season.packs.retirement import Limit

WOULD_TELL = {
    SeasonPackCode.CAPACITY: SeasonPackCode.TELLS_CAPACITY,
    SeasonPackCode.RESISTANCE: SeasonPackCode.TELLS_RESISTANCE,
}

_Reason = tuple[Level, Text, Figure | None]
"""How grave, in what words, and the figure it rests on."""


class Verdict(Struct, frozen=True):
    """Level, reasons (gravest first) and whether the owner's retirement rule itself is met.

    ``figure`` is what the gravest reason rests on, where that is one figure. ``open`` is what is not settled where
    nothing else asks for attention, ``remedies`` what would settle it.
    """

    level: Level
    reasons: tuple[Text, ...]
    by_rule: bool
    open: tuple[Text, ...] = ()
    remedies: tuple[Text, ...] = ()
    figure: Figure | None = None

    def sentence(self, pack: str, flights: int) -> Text:
        """The verdict in one finding."""
        if self.level >= Level.ACT:
            code = SeasonPackCode.RETIRE if self.by_rule else SeasonPackCode.FIND_OUT
            return say(code, pack=pack, reasons=self.reasons)
        if self.level >= Level.WATCH:
            return say(SeasonPackCode.WATCH, pack=pack, reasons=self.reasons)
        if self.level is Level.CANT_TELL:
            return say(SeasonPackCode.CANT_TELL, pack=pack, open=self.open, remedies=self.remedies)
        if flights < FEWEST:
            return say(SeasonPackCode.TOO_FEW, pack=pack, flights=flights)
        return say(SeasonPackCode.NOTHING_BEYOND, pack=pack, flights=flights)


def judge(limits: Sequence[Limit], brown_outs: BrownOuts, alone: Figure | None, to_go: Figure) -> Verdict:
    """Weigh what is known of one pack.

    Parameters
    ----------
    limits : sequence of Limit
        The owner's rules; two limits of one name are two looks at one thing.
    brown_outs : BrownOuts
        In all its flights.
    alone : Figure or None
        Voltage it would have given alone in its latest flight, where that was surely too low.
    to_go : Figure
        Flights to the first limit.
    """
    rule_reasons = _beside_limits(limits)
    reasons: list[_Reason] = [*rule_reasons]
    if (browned := brown_outs.reason()) is not None:
        reasons.append((*browned, None))
    if alone is not None and alone.value is not None:
        reasons.append((COMMON_PRACTICE.matter("pack_not_alone"), say(SeasonPackCode.NOT_ALONE, volts=alone), alone))
    reasons.sort(key=lambda r: -r[0])
    level = max((x for x, *_ in reasons), default=Level.FINE)
    soon = COMMON_PRACTICE.matter("pack_flights_left", to_go.value)
    if soon > level:
        level = soon
        reasons.append((level, say(SeasonPackCode.SOON, flights=to_go), to_go))
    by_rule = any(x >= Level.ACT for x, *_ in rule_reasons)
    unsettled = _unsettled(limits) if level < Level.WATCH else ()
    if level >= Level.ACT:
        # Nothing more is asked of a pack that goes anyway; what is known of its other rules still stands there.
        told = {one.of for one in limits if one.reason() is not None}
        left = [one for one in _unsettled(limits) if one.of not in told and one.now.value is not None]
        reasons += [(Level.NOTE, one.unsettled(), one.now) for one in left]
    return Verdict(
        Level.CANT_TELL if unsettled else level,
        tuple(text for _, text, _ in reasons),
        by_rule,
        tuple(one.unsettled() for one in unsettled),
        tuple(say(code) for one in unsettled if (code := WOULD_TELL.get(one.of))),
        next((figure for x, _, figure in reasons if x == level), None),
    )


def _unsettled(limits: Sequence[Limit]) -> tuple[Limit, ...]:
    """Give the first look at every rule that no look settles.

    A rule without any reading, such as cells nobody logs, is left out; capacity never is.
    """
    by_rule: dict[SeasonPackCode, list[Limit]] = {}
    for one in limits:
        by_rule.setdefault(one.of, []).append(one)
    asked = [looks for of, looks in by_rule.items() if of is SeasonPackCode.CAPACITY or _known(looks)]
    return tuple(looks[0] for looks in asked if not any(one.settled for one in looks))


def _known(looks: Sequence[Limit]) -> bool:
    return any(one.now.value is not None for one in looks)


def _beside_limits(limits: Sequence[Limit]) -> list[_Reason]:
    """Where one look at a thing settles it, another look's "perhaps" adds nothing."""
    said = [(one.of, (*reason, one.now)) for one in limits if (reason := one.reason()) is not None]
    settled = {of for of, (level, *_) in said if level >= Level.ACT}
    return [reason for of, reason in said if of not in settled or reason[0] >= Level.ACT]
