"""Wrong usage told as one sentence in the reader's language, as any other problem, in the place of the framework's."""

from __future__ import annotations

import re
from typing import Any

import typer

from spooldown.problems import Problem, UsageProblem, nearest
from spooldown.terminal import complain

_BASE: Any = typer.BadParameter.__mro__[1]
"""What every complaint of the framework about usage is."""


def speak() -> None:
    """Let the framework's complaints be sentences of ours."""
    _BASE.show = _show


def _show(error: Any, file: Any = None) -> None:  # noqa: ARG001 - as the framework calls it
    complain(str(problem_of(error)))


def problem_of(error: Any) -> Problem:
    """Word one of the framework's complaints about usage."""
    command = error.ctx.command_path if error.ctx else "spooldown"
    what = str(error.message)
    quoted = next(iter(re.findall(r"'([^']*)'", what)), "")
    match type(error).__name__:
        case "MissingParameter":
            return UsageProblem("usage.missing", name=_name(error), command=command)
        case "NoSuchOption":
            near = nearest(error.option_name, [o for p in error.ctx.command.params for o in p.opts])
            return UsageProblem("usage.no_option", name=error.option_name, near=near, command=command)
        case "BadOptionUsage":
            code = "usage.option_wants_value" if "requires" in what else "usage.option_takes_none"
            return UsageProblem(code, name=error.option_name)
        case "BadParameter":
            return _value(error, command)
    known = getattr(error.ctx.command, "commands", {}) if error.ctx else {}
    if known and quoted:
        return UsageProblem("usage.no_command", name=quoted, near=nearest(quoted, known), command=command)
    if known:
        return UsageProblem("usage.no_command_named", command=command)
    more = re.search(r"\(s\) \((.*)\)\Z", what, re.DOTALL)
    return UsageProblem("usage.too_much", more=more[1] if more else what, command=command)


def _name(error: Any) -> str:
    """What the complaint is about, as one types or reads it: ``--baud``, ``AIRCRAFT``."""
    param = error.param
    if param is None:
        return str(error.param_hint or "")
    return " / ".join(param.opts) if param.param_type_name == "option" else str(param.metavar or param.name).upper()


def _value(error: Any, command: str) -> Problem:
    """What an option cannot be; the value and what was expected are told where the cause says them."""
    first: dict[str, Any] = next(iter(getattr(error.__cause__, "errors", list)()), {})
    kind, bounds = str(first.get("type", "")), first.get("ctx", {})
    low = next((bounds[k] for k in ("ge", "gt") if k in bounds), None)
    high = next((bounds[k] for k in ("le", "lt") if k in bounds), None)
    wanted = "whole" if kind.startswith("int") else "number" if kind.startswith("float") else ""
    found = str(first.get("input", ""))
    if not found or not (wanted or low is not None or high is not None):
        return UsageProblem("usage.value_refused", name=_name(error), why=str(error.message), command=command)
    return UsageProblem(
        "usage.value", name=_name(error), found=found, wanted=wanted, low=low, high=high, command=command
    )
