"""What a proposal does that a reader may not expect."""

from __future__ import annotations

from collections.abc import Sequence

from analyser.core.channels import EXTRA
from analyser.core.findings import Finding, Text, say
from importers.codes import PlanCode
from importers.layout.codes import LayoutCode
from importers.meaning import columns
from importers.meaning.codes import MeaningCode
from importers.model import ColumnPlan

_WHY_EXTRA = (
    LayoutCode.HOLDS_TEXT, LayoutCode.SAME_VALUES, LayoutCode.OTHER_UNIT_OF, LayoutCode.EXTREME_OF,
    LayoutCode.SETTING_OF, LayoutCode.SMOOTHED_FROM, LayoutCode.GOODNESS_OF, LayoutCode.COUNTS_OF,
    LayoutCode.CORRECTED_FROM,
)  # fmt: skip


def about(reason: Text, *codes: str) -> Finding | None:
    """What a reason says of this kind first; None where it says nothing of it."""
    return next((f for f in reason.findings() if f.code in codes), None) if isinstance(reason, Finding) else None


def notices_of(proposed: Sequence[ColumnPlan], headings: Sequence[str]) -> tuple[Text, ...]:
    """What the proposal does that a reader may not expect."""
    out: list[Text] = [
        say(PlanCode.DROPPED if c.empty else PlanCode.LEFT_OUT, column=c.heading)
        for c in proposed
        if not c.channel and c.heading
    ]
    for c in proposed:
        if c.channel.startswith(f"{EXTRA}."):
            why = next((w for code in _WHY_EXTRA if (w := about(c.reason, code))), "")
            out.append(
                say(PlanCode.KEPT_AS_EXTRA, column=c.heading, number=c.column + 1, why=why, channel=c.channel)
            )  # fmt: skip
        if c.sign >= 0:
            out.append(say(PlanCode.SIGNED_BY_LETTERS, column=c.heading, letters=headings[c.sign]))
    unsaid: dict[tuple[str, bool], list[str]] = {}
    for c in proposed:
        if of := about(c.reason, MeaningCode.UNIT_TAKEN, MeaningCode.UNIT_TAKEN_BY_VALUES):
            by_values = of.code == MeaningCode.UNIT_TAKEN_BY_VALUES
            unsaid.setdefault((of.values["unit"], by_values), []).append(c.heading)
    out += [
        say(PlanCode.UNIT_TAKEN, columns=tuple(some), unit=unit, by_values=by_values)
        for (unit, by_values), some in unsaid.items()
    ]
    out += [say(PlanCode.SIGN_AS_LOGGED, column=c.heading) for c in proposed
            if c.channel == "motion.accel_z_m_s2" and "z" not in columns.dissect(c.plain).words]  # fmt: skip
    return tuple(out)
