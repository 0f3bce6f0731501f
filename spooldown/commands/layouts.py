"""What came of looking at logs or importing them: each layout once, what is open or doubtful first."""

from __future__ import annotations

import shlex
import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from analyser.core.findings import Finding
from importers.codes import PlanCode
from spooldown.terminal import clean, columns_there, headings, message, say, table, tell

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
        "shape": plan.shape if plan else "",
        "clock": str(plan.clock) if plan else "",
        "clock_columns": [plan.dialect.headings[n] for n in plan.time.columns] if plan else [],
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
        _wrapped(str(notice))


def _owner(outcome: Outcome) -> str:
    why = str(outcome.why_aircraft)
    return f"{outcome.aircraft}, {why}" if outcome.aircraft else why


def _say_layout(some: Sequence[Outcome]) -> None:
    """One layout: questions, then what is doubtful and how to correct it, then the rest in few lines."""
    from importers.layout.doubts import is_doubtful
    from importers.meaning.columns import slug
    from reports.words.catalogue import quoted

    plan = some[0].plan
    assert plan is not None
    if len(some) == 1:
        owner = _owner(some[0])
        _wrapped(message("cli.layout", file=some[0].name, shape=plan.shape, clock=plan.clock, owner=owner), "")
    else:
        _wrapped(message("cli.layout_of_files", files=len(some), shape=plan.shape, clock=plan.clock), "")
        for outcome in some:
            _wrapped(f"{outcome.name}: {_owner(outcome)}")
    if plan.mapping:
        tell("cli.read_with_mapping", mapping=plan.mapping)
    doubtful, put_right = [c for c in plan.columns if is_doubtful(c)], ""
    open_ = {q.key: q for o in reversed(some) for q in (o.plan.questions if o.plan else ())}
    for question in open_.values():
        later = {f"unit.{slug(c.heading)}" for c in doubtful}  # its unit is asked once it is known what it is
        if not (doubtful and question.key == "doubtful") and question.key not in later:  # that is asked below
            _wrapped(message("cli.open", question=question.text))
            for answer in question.answers or ("…",):
                say(f"    --answer {shlex.quote(f'{question.key}={answer}')}")
    if doubtful:
        _say_doubtful(doubtful)
        _wrapped(message("cli.right_then").strip())
        for c in doubtful:
            say(f"    --column {shlex.quote(f'{c.heading}={(c.rivals or (c.channel,))[0]}')}")
    elif any(not _is_extra(c) and c.channel not in ("", "time_s") for c in plan.columns):
        put_right = message("cli.columns.put_right")
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
    if put_right:
        _wrapped(put_right)
    for notice in dict.fromkeys(n for o in some for n in o.notices):
        if not (isinstance(notice, Finding) and notice.code in _LISTED_ABOVE):
            _wrapped(str(notice))


_LISTED_ABOVE = (PlanCode.DROPPED, PlanCode.LEFT_OUT, PlanCode.KEPT_AS_EXTRA)


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


def _wrapped(text: str, indent: str = "  ") -> None:
    """One line where output is piped, else as many as the terminal's width makes of it."""
    width = columns_there()
    if width is None:
        say(f"{indent}{text}")
        return
    for line in textwrap.wrap(
        clean(text), max(NARROWEST, width), initial_indent=indent, subsequent_indent=f"{indent}  ",
        break_on_hyphens=False,
    ):  # fmt: skip
        say(line)


NARROWEST = 30
"""Columns of the narrowest terminal that lines are broken for."""
REASONS = 36
"""Columns that reasons need beside the rest of a table; with fewer they stand below what they are about."""


def _say_doubtful(doubtful: Sequence[ColumnPlan]) -> None:
    """Doubtful columns in a table where the terminal has room for it, else one below the other."""
    rows = [(c.heading, c.channel, c.conversion or c.unit_found, ", ".join(c.samples[:3]), f"{c.confidence:.0%}",
             str(c.reason)) for c in doubtful]  # fmt: skip
    heads = headings("doubtful_column", "channel", "unit", "samples", "sure", "because")
    beside = sum(max(map(len, column)) + 3 for column in list(zip(heads, *rows, strict=True))[:-1])
    width = columns_there()
    if width is None or width - beside >= REASONS:
        table(heads, rows, numeric=(4,))
        return
    for heading, channel, unit, samples, sure, why in rows:
        _wrapped(
            message("cli.doubtful", heading=heading, channel=channel, unit=unit, samples=samples, sure=sure, why=why)
        )
