"""What came of looking at logs or importing them: each layout once, what is open or doubtful first."""

from __future__ import annotations

import shlex
import shutil
import sys
import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from analyser.core.findings import Finding
from importers.codes import PlanCode
from spooldown.terminal import headings, message, say, table, tell

if TYPE_CHECKING:
    from importers.model import ColumnPlan, Plan
    from spooldown.intake.adding import Outcome


def show(outcomes: Sequence[Outcome]) -> None:
    """Say what came of every file; files of one layout are shown together."""
    alike: dict[Any, list[Outcome]] = {}
    for outcome in outcomes:
        if outcome.state == "planned" and outcome.plan:
            alike.setdefault(_layout(outcome.plan), []).append(outcome)
        else:
            _say_done(outcome)
    for some in alike.values():
        _say_layout(some)


def as_json(outcome: Outcome) -> dict[str, Any]:
    """All that is known of one file, for a script; an extra has no certainty but a reason."""
    plan = outcome.plan
    return {
        "file": outcome.name,
        "state": outcome.state,
        "flights": list(outcome.flight_ids),
        "aircraft": outcome.aircraft,
        "aircraft_from": str(outcome.why_aircraft),
        "mapping": plan.mapping if plan else "",
        "unsettled": list(plan.unsettled) if plan else [],
        "notices": list(map(str, outcome.notices)),
        "notice_codes": [n.code if isinstance(n, Finding) else "" for n in outcome.notices],
        "columns": [
            {
                "heading": c.heading,
                "channel": c.channel,
                "unit": c.unit_found,
                "conversion": c.conversion,
                "samples": list(c.samples),
                "confidence": None if _is_extra(c) else c.confidence,
                "reason": str(c.reason),
                "antenna": c.antenna,
                "may_also_be": list(c.rivals),
            }
            for c in (plan.columns if plan else ())
        ],
        "questions": [
            {"key": q.key, "text": str(q.text), "answers": list(q.answers), "columns": list(q.columns)}
            for q in (plan.questions if plan else ())
        ],
    }


def _layout(plan: Plan) -> tuple[Any, ...]:
    return plan.fingerprint, plan.shape, plan.mapping, tuple((c.heading, c.channel, c.conversion) for c in plan.columns)


def _say_done(outcome: Outcome) -> None:
    if outcome.state == "known":
        tell("cli.known", file=outcome.name, flights=outcome.flight_ids, why=outcome.notices)
        return
    if outcome.state == "skipped":
        tell("cli.left_out", file=outcome.name, why=outcome.notices)
        return
    tell("cli.imported", file=outcome.name, flights=outcome.flight_ids, owner=_owner(outcome))
    for notice in outcome.notices:
        say(f"  {notice}")


def _owner(outcome: Outcome) -> str:
    why = str(outcome.why_aircraft)
    return f"{outcome.aircraft}, {why}" if outcome.aircraft else why


def _say_layout(some: Sequence[Outcome]) -> None:
    """One layout: questions, then what is doubtful and how to correct it, then the rest in few lines."""
    from importers.layout.doubts import is_doubtful
    from reports.words.catalogue import quoted

    plan = some[0].plan
    assert plan is not None
    if len(some) == 1:
        tell("cli.layout", file=some[0].name, shape=plan.shape, clock=plan.clock, owner=_owner(some[0]))
    else:
        tell("cli.layout_of_files", files=len(some), shape=plan.shape, clock=plan.clock)
        for outcome in some:
            _wrapped(f"{outcome.name}: {_owner(outcome)}")
    if plan.mapping:
        tell("cli.read_with_mapping", mapping=plan.mapping)
    doubtful = [c for c in plan.columns if is_doubtful(c)]
    open_ = {q.key: q for o in reversed(some) for q in (o.plan.questions if o.plan else ())}
    for question in open_.values():
        if not (doubtful and question.key == "doubtful"):  # the table below asks it
            _wrapped(message("cli.open", question=question.text))
            for answer in question.answers or ("…",):
                say(f"    --answer {shlex.quote(f'{question.key}={answer}')}")
    if doubtful:
        table(
            headings("doubtful_column", "channel", "unit", "samples", "sure", "because"),
            [(c.heading, c.channel, c.conversion or c.unit_found, ", ".join(c.samples[:3]), f"{c.confidence:.0%}",
              str(c.reason)) for c in doubtful],
            numeric=(4,),
        )  # fmt: skip
        tell("cli.right_then")
        for c in doubtful:
            say(f"    --column {shlex.quote(f'{c.heading}={(c.rivals or (c.channel,))[0]}')}")
    asked = {h for o in some for q in (o.plan.questions if o.plan else ()) for h in q.columns}
    kept = [c for c in plan.columns if c.channel and c not in doubtful and c.heading not in asked]
    _listed("clock", [quoted(c.heading) for c in kept if c.channel == "time_s"])
    _listed("sure", [_short(c) for c in kept if not _is_extra(c) and c.channel != "time_s"])
    extras: dict[str, list[str]] = {}
    for c in kept:
        if _is_extra(c):
            why = c.reason.values["why"] if isinstance(c.reason, Finding) and "why" in c.reason.values else c.reason
            extras.setdefault(str(why), []).append(quoted(c.heading))
    _listed("extras", [f"{', '.join(names)} ({why})" for why, names in extras.items()])
    _listed("left_out", [f"{quoted(c.heading)} ({c.reason})" for c in plan.columns if not c.channel and c.heading])
    for notice in dict.fromkeys(n for o in some for n in o.notices):
        if not (isinstance(notice, Finding) and notice.code in _LISTED_ABOVE):
            _wrapped(str(notice))


_LISTED_ABOVE = (PlanCode.DROPPED, PlanCode.KEPT_AS_EXTRA)


def _short(column: ColumnPlan) -> str:
    from reports.words.catalogue import quoted

    sure = "" if column.settled else f", {column.confidence:.0%}"
    return f"{quoted(column.heading)} → {column.channel}" + (f" ({column.conversion}{sure})" if column.conversion else
                                                      f" ({sure[2:]})" if sure else "")  # fmt: skip


def _is_extra(column: ColumnPlan) -> bool:
    return column.channel.startswith("extra.")


def _listed(what: str, items: Sequence[str]) -> None:
    if items:
        _wrapped(message(f"cli.columns.{what}", columns="; ".join(items)))


def _wrapped(text: str) -> None:
    """One line where output is piped, else as many as the terminal's width makes of it."""
    if not sys.stdout.isatty():
        say(f"  {text}")
        return
    width = max(40, shutil.get_terminal_size().columns)
    for line in textwrap.wrap(text, width, initial_indent="  ", subsequent_indent="    ", break_on_hyphens=False):
        say(line)
