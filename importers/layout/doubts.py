"""What is not sure enough to take quietly: asked once for the whole layout, with what to say instead."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from msgspec.structs import replace

from analyser.core.channels import EXTRA, parse
from analyser.core.findings import say
from importers.layout.codes import LayoutCode
from importers.layout.proposals import also, kind_key
from importers.meaning import units
from importers.meaning.certainty import ASK_BELOW
from importers.meaning.columns import slug
from importers.model import ColumnPlan, Question

KEY = "doubtful"
AS_SHOWN, AS_EXTRAS = "as-shown", "as-extras"


def units_at_once(proposed: Sequence[ColumnPlan], questions: list[Question]) -> None:
    """Ask the unit of several columns of one kind in one question."""
    by: dict[tuple[str, tuple[str, ...]], list[Question]] = {}
    channels = {c.heading: c.channel for c in proposed}
    for q in questions:
        if q.key.startswith("unit.") and len(q.columns) == 1 and (key := kind_key(channels.get(q.columns[0], ""))):
            by.setdefault((key, q.answers), []).append(q)
    for (key, answers), some in by.items():
        if len(some) > 1:
            at = questions.index(some[0])
            headings = tuple(q.columns[0] for q in some)
            questions[:] = [q for q in questions if q not in some]
            questions.insert(at, Question(key, say(LayoutCode.ASK_UNITS, headings=headings), answers, headings))


def settle(
    proposed: Sequence[ColumnPlan], said: Mapping[str, str], questions: list[Question]
) -> list[ColumnPlan]:  # fmt: skip
    """Ask about columns below :data:`importers.meaning.certainty.ASK_BELOW` that no other question is about."""
    asked = {h for q in questions for h in q.columns}
    doubtful = [c for c in proposed if is_doubtful(c) and c.heading not in asked]
    if not doubtful or any(q.key == "decimal" for q in questions):  # first what the numbers are
        return list(proposed)
    answer = said.get(KEY, "")
    if answer not in (AS_SHOWN, AS_EXTRAS):
        each = tuple(
            say(LayoutCode.DOUBTFUL_COLUMN, heading=c.heading, channel=c.channel, percent=100 * c.confidence)
            for c in doubtful
        )
        questions.append(
            Question(
                KEY,
                say(LayoutCode.ASK_DOUBTFUL, columns=each),
                (AS_SHOWN, AS_EXTRAS),
                tuple(c.heading for c in doubtful),
            )
        )
        return list(proposed)
    out = list(proposed)
    taken = {c.channel for c in proposed}
    for i, c in enumerate(out):
        if c not in doubtful:
            continue
        if answer == AS_SHOWN:
            out[i] = replace(c, confidence=1.0, reason=also(c.reason, LayoutCode.AS_SAID), settled=True)
        else:
            name, n = f"{EXTRA}.{slug(c.heading)}", 2
            while name in taken:
                name, n = f"{EXTRA}.{slug(c.heading)}_{n}", n + 1
            taken.add(name)
            out[i] = replace(
                c, channel=name, factor=units.Conversion(), conversion="", reason=say(LayoutCode.AS_SAID), settled=True
            )
    return out


def is_doubtful(column: ColumnPlan) -> bool:
    """Whether a proposal needs a person's eye."""
    return parse(column.channel) is not None and not column.settled and column.confidence < ASK_BELOW
