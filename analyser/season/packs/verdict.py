"""How much attention a pack deserves, why, and in what words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from analyser.core.events import Level
from analyser.core.figures import Figure
from analyser.core.trends import FEWEST
from analyser.season.packs.brown_outs import BrownOuts
from analyser.season.packs.retirement import Limit

SOON_FLIGHTS = 5
"""A limit this near by the trend is worth watching."""


@dataclass(frozen=True, slots=True)
class Verdict:
    """Level, reasons (gravest first) and whether the owner's retirement rule itself is met."""

    level: Level
    reasons: tuple[str, ...]
    by_rule: bool

    def sentence(self, pack: str, flights: int) -> str:
        """The verdict in one sentence."""
        why = "; ".join(self.reasons)
        if self.level >= Level.ACT:
            return f"Retire {pack} by your rule: {why}." if self.by_rule else _find_out(pack, why)
        if self.level >= Level.WATCH:
            return f"Watch {pack}: {why}."
        if flights < FEWEST:
            return f"{pack}: not enough flights for a trend ({flights})."
        return f"{pack}: nothing beyond its limits in {flights} flights."


def _find_out(pack: str, why: str) -> str:
    return f"Find out about {pack} before it flies again: {why}."


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
    reasons = [*rule_reasons]
    if (browned := brown_outs.reason()) is not None:
        reasons.append(browned)
    if alone is not None and alone.value is not None:
        text = (
            f"would not have carried the receivers alone in its latest flight ({alone.value:.1f} V at the worst moment)"
        )
        reasons.append((Level.WATCH, text))
    reasons.sort(key=lambda r: -r[0])
    level = max((x for x, _ in reasons), default=Level.FINE)
    if to_go.value is not None and to_go.value <= SOON_FLIGHTS and level < Level.WATCH:
        level = Level.WATCH
        reasons.append((level, f"about {to_go.value:.0f} flights to your retirement rule at this trend"))
    return Verdict(level, tuple(text for _, text in reasons), any(x >= Level.ACT for x, _ in rule_reasons))


def _beside_limits(limits: Sequence[Limit]) -> list[tuple[Level, str]]:
    """Where one look at a thing settles it, another look's "perhaps" adds nothing."""
    said = [(one.name, reason) for one in limits if (reason := one.reason()) is not None]
    settled = {name for name, (level, _) in said if level >= Level.ACT}
    return [reason for name, reason in said if name not in settled or reason[0] >= Level.ACT]
